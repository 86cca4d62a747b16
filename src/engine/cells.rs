//! Cells, heater, wall charger and solar input in lanes: one step once it is settled what the bus is asked for.
//!
//! In this order: the cells lose a little by themselves; the sun's power is cut to what the input takes; the sun serves the bus
//! directly, then the wall, and the cells give what is missing or take what is left, from the sun first; sun that does not fit
//! is curtailed.

use super::dawn::Dawn;
use super::ledger::{Flow, Ledger};
use super::rig::{Limits, OUTLETS, Rig};
use super::warmth::FROM_ELECTRONICS;
use super::wiring::AtInput;
use crate::random::masks::{block, block_mut, either, flag, masked};
use crate::random::polynomials::{less, more};
use crate::random::real::Real;

/// What the cells and the solar input of each lane can do.
#[derive(Debug, Clone)]
pub(super) struct Cells<const L: usize> {
    floor_wh: [f64; L],
    ceiling_wh: [f64; L],
    pub capacity_wh: [f64; L],
    /// Bus power out of a watt-hour above the floor, within a step \[W/Wh\].
    power_per_wh: [f64; L],
    discharge_w: [f64; L],
    /// Taken from the cells for a watt at the bus \[Wh/W\].
    out_wh_per_w: [f64; L],
    /// Arriving in the cells for a watt sent to them \[Wh/W\].
    into_wh_per_w: [f64; L],
    /// Power towards the cells for a watt-hour of room up to the ceiling, within a step \[W/Wh\].
    into_w_per_wh: [f64; L],
    charge_w: [f64; L],
    /// Power that the taper lets in for a watt-hour of room up to full \[W/Wh\]; huge where there is none.
    taper_w_per_wh: [f64; L],
    /// Bus power for a watt from the wall.
    wall_efficiency: [f64; L],
    pub heater_w: [f64; L],
    /// Lost by converters and own draw while everything asked for is served \[W\]; kept where it warms the cells.
    pub electronics_w: [f64; L],
    /// Lost in the cells over what is sent to them, and over what is missing at the bus.
    lost_into: [f64; L],
    lost_out: [f64; L],
    pub works: Flags<L>,
    /// Cells that cannot be charged at all.
    barred: Flags<L>,
    /// Left after self-discharge within a step.
    keeps: f64,
    solar_limit_w: f64,
    solar_efficiency: f64,
    /// Lost in the solar input over what it gives the bus.
    solar_lost: f64,
}

impl<const L: usize> Default for Cells<L> {
    fn default() -> Cells<L> {
        let zero = [0.0; L];
        Cells {
            floor_wh: zero,
            ceiling_wh: zero,
            capacity_wh: zero,
            power_per_wh: zero,
            discharge_w: zero,
            out_wh_per_w: zero,
            into_wh_per_w: zero,
            into_w_per_wh: zero,
            charge_w: zero,
            taper_w_per_wh: zero,
            wall_efficiency: zero,
            heater_w: zero,
            electronics_w: zero,
            lost_into: zero,
            lost_out: zero,
            works: [0; L],
            barred: [0; L],
            keeps: 1.0,
            solar_limit_w: 0.0,
            solar_efficiency: 1.0,
            solar_lost: 0.0,
        }
    }
}

impl<const L: usize> Cells<L> {
    /// Takes over the figures of all lanes.
    #[inline(always)]
    pub(super) fn set(&mut self, rigs: &[Rig], limits: &[Limits], step_h: f64) {
        let cells = self;
        cells.keeps = 1.0 - (rigs[0].self_discharge_per_h * step_h).min(1.0);
        cells.solar_limit_w = rigs[0].solar_limit_w;
        cells.solar_efficiency = rigs[0].solar_efficiency;
        cells.solar_lost = 1.0 / rigs[0].solar_efficiency - 1.0;
        for (l, (rig, limits)) in rigs.iter().zip(limits).enumerate().take(L) {
            let into = rig.charge_efficiency * step_h;
            cells.ceiling_wh[l] = rig.ceiling_wh;
            cells.capacity_wh[l] = rig.capacity_wh;
            cells.power_per_wh[l] = rig.discharge_efficiency / step_h;
            cells.out_wh_per_w[l] = step_h / rig.discharge_efficiency;
            cells.into_wh_per_w[l] = into;
            cells.into_w_per_wh[l] = 1.0 / into;
            cells.wall_efficiency[l] = rig.wall_efficiency;
            cells.heater_w[l] = limits.heater_w;
            cells.lost_into[l] = 1.0 - rig.charge_efficiency;
            cells.lost_out[l] = 1.0 / rig.discharge_efficiency - 1.0;
            cells.works[l] = flag(limits.works);
            cells.allow(l, limits, rig.taper_wh);
        }
    }

    /// Gives a lane's cells other limits, but for the heater and whether they work.
    ///
    /// Near full the power falls in proportion to the room that is left, as under constant voltage: from `taper_from_w` where
    /// the taper begins to nothing at full. Solved backwards (implicit Euler), so that a long step charges less than a short
    /// one, never more: with `x = power × step`, the room shrinks from `gap` to `gap × taper / (taper + x)`.
    ///
    /// * `taper_wh` — room over which it falls to nothing \[Wh\].
    #[inline(always)]
    pub(super) fn allow(&mut self, l: usize, limits: &Limits, taper_wh: f64) {
        self.floor_wh[l] = limits.floor_wh;
        self.discharge_w[l] = limits.discharge_w;
        self.charge_w[l] = limits.charge_w;
        let per_wh = limits.taper_from_w / (taper_wh + limits.taper_from_w * self.into_wh_per_w[l]);
        self.taper_w_per_wh[l] = if taper_wh > 0.0 && per_wh.is_finite() { per_wh } else { 1e30 };
        self.barred[l] = flag(limits.charge_w == 0.0);
    }

    /// Lets the wall give each lane a share of what it would.
    pub(super) fn share_wall(&mut self, rigs: &[Rig], share: &[f64; L]) {
        for (l, rig) in rigs.iter().enumerate().take(L) {
            self.wall_efficiency[l] = rig.wall_efficiency * share[l];
        }
    }

    /// The `k`th block of lanes.
    #[inline(always)]
    pub(super) fn block<const B: usize>(&self, k: usize) -> Cells<B> {
        Cells {
            floor_wh: *block(&self.floor_wh, k),
            ceiling_wh: *block(&self.ceiling_wh, k),
            capacity_wh: *block(&self.capacity_wh, k),
            power_per_wh: *block(&self.power_per_wh, k),
            discharge_w: *block(&self.discharge_w, k),
            out_wh_per_w: *block(&self.out_wh_per_w, k),
            into_wh_per_w: *block(&self.into_wh_per_w, k),
            into_w_per_wh: *block(&self.into_w_per_wh, k),
            charge_w: *block(&self.charge_w, k),
            taper_w_per_wh: *block(&self.taper_w_per_wh, k),
            wall_efficiency: *block(&self.wall_efficiency, k),
            heater_w: *block(&self.heater_w, k),
            electronics_w: *block(&self.electronics_w, k),
            lost_into: *block(&self.lost_into, k),
            lost_out: *block(&self.lost_out, k),
            works: *block(&self.works, k),
            barred: *block(&self.barred, k),
            keeps: self.keeps,
            solar_limit_w: self.solar_limit_w,
            solar_efficiency: self.solar_efficiency,
            solar_lost: self.solar_lost,
        }
    }

    /// Power that a lane's cells give with so much in them \[W\].
    #[inline(always)]
    fn of_cells_w(&self, l: usize, left_wh: f64) -> f64 {
        less(more(left_wh - self.floor_wh[l], 0.0) * self.power_per_wh[l], self.discharge_w[l])
    }

    /// What the bus can have of a lane's cells, of the sun and of the wall where the sun is followed within the step \[W\], and
    /// how it grows.
    ///
    /// * `usable_w` — of the step before, of this one and of the next; `wall_w` — see [`super::Supply`].
    pub(super) fn at_dawn(&self, l: usize, stored_wh: f64, usable_w: [f64; 3], wall_w: f64) -> (f64, f64, Dawn) {
        let [before_w, mean_w, after_w] = usable_w.map(|w| less(w, self.solar_limit_w) * self.solar_efficiency);
        let cells_w = self.of_cells_w(l, stored_wh * self.keeps);
        (cells_w, wall_w * self.wall_efficiency[l], Dawn::new(before_w, mean_w, after_w))
    }

    /// Whether a lane's cells could not carry a step without its sun.
    #[inline(always)]
    pub(super) fn is_low(&self, l: usize, stored_wh: f64, bus_w: f64) -> bool {
        self.of_cells_w(l, stored_wh * self.keeps) < bus_w
    }

    /// Whether the cells of any lane could not carry a step without its sun.
    #[inline(always)]
    pub(super) fn any_low(&self, stored_wh: &[f64; L], bus_w: &[f64; L]) -> bool {
        let mut any = 0;
        for l in 0..L {
            any |= flag(self.is_low(l, stored_wh[l], bus_w[l]));
        }
        any != 0
    }

    /// What is left in a lane's cells after they lost a little by themselves \[Wh\], what the input takes of the sun \[W\], and
    /// the most that the bus can have \[W\].
    ///
    /// * `usable_w`, `wall_w` — see [`super::Supply`].
    #[inline(always)]
    pub(super) fn available<const LIT: bool, const MORE: bool>(
        &self,
        l: usize,
        stored_wh: f64,
        (usable_w, wall_w): (f64, f64),
    ) -> (f64, f64, f64) {
        let left_wh = stored_wh * self.keeps;
        let mut available_w = self.of_cells_w(l, left_wh);
        let taken_w = if LIT { less(usable_w, self.solar_limit_w) } else { 0.0 };
        if LIT {
            available_w += taken_w * self.solar_efficiency;
        }
        if MORE {
            available_w = masked(available_w + wall_w * self.wall_efficiency[l], self.works[l]);
        }
        (left_wh, taken_w, available_w)
    }
}

/// Whether cells can take in anything: a heater does not warm full ones. More than rounding leaves.
#[inline(always)]
fn has_room(ceiling_wh: f64, stored_wh: f64) -> bool {
    stored_wh < ceiling_wh * (1.0 - 1e-9)
}

/// State and sums of each lane. Sums are in the units of a step: watts are not yet multiplied by its length.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lane<const L: usize> {
    pub stored_wh: [f64; L],
    /// The least that was in the cells before or after a step with light.
    pub lowest_wh: [f64; L],
    /// What warmed the cells in the last step, kept where there may be a heater \[W\].
    pub heat_w: [f64; L],
    sums: [[f64; L]; SUMS],
}

/// Sums over steps \[W × steps\]: what the panels could give; what was taken of it; of that, at the bus and not needed; sent to
/// the cells; bus power from the wall; drawn by the heater; not needed while the cells could not be charged. And what the cells
/// lost by themselves \[Wh\].
const SUMS: usize = 8;
/// Which of them is of the wall.
const WALL: usize = 4;

/// A flag of each lane: all bits set, or none. As wide as a number, so that vectors need not change width.
pub(super) type Flags<const L: usize> = [u64; L];

impl<const L: usize> Default for Lane<L> {
    fn default() -> Lane<L> {
        let zero = [0.0; L];
        Lane { stored_wh: zero, lowest_wh: zero, heat_w: zero, sums: [zero; SUMS] }
    }
}

impl<const L: usize> Lane<L> {
    /// Begins with what is in the cells at first.
    #[inline(always)]
    pub(super) fn begin(&mut self, rigs: &[Rig]) {
        *self = Lane::default();
        for (l, rig) in rigs.iter().enumerate().take(L) {
            (self.stored_wh[l], self.lowest_wh[l]) = (rig.start_wh, rig.start_wh);
        }
    }

    /// Takes a step; says whether any lane was short of something. Lanes that are short, and those that are to stand
    /// still, stay as they are. Whichever of the constants are set, what comes out has the same bits.
    ///
    /// * `LIT` — whether there is light; `ALL` — whether no lane is to stand still; `MORE` — whether there may be power from
    ///   the wall, a heater, or cells that do not work.
    /// * `bus_w` — what the bus is asked for \[W\]; `wall_w` — what the wall charger may draw from the plug \[W\];
    ///   `still` — the lanes that stand still; `short` — where to put the flags of those that are short.
    #[inline(always)]
    pub(super) fn step<R: Real, const LIT: bool, const ALL: bool, const MORE: bool>(
        &mut self,
        cells: &Cells<L>,
        (bus_w, wall_w): (&[f64; L], f64),
        at_input: &AtInput<R, L>,
        still: &Flags<L>,
        short: &mut Flags<L>,
    ) -> bool {
        let mut any = 0;
        let [panel, taken, unused, into, wall, heater, barred, lost] = &mut self.sums;
        for l in 0..L {
            let stored = self.stored_wh[l];
            let usable_w = if LIT { at_input.usable_w[l].wide() } else { 0.0 };
            let (left, taken_w, available_w) = cells.available::<LIT, MORE>(l, stored, (usable_w, wall_w));
            let mut lacks = flag(available_w < bus_w[l]);
            let mut stands = lacks;
            if !ALL {
                lacks &= !still[l];
                stands |= still[l];
            }
            short[l] = lacks;
            any |= lacks;
            // A lane that stands still loses nothing, gets nothing and is asked for nothing. Bits are masked, not chosen:
            // choices between numbers that are loaded become masked loads and stores, which are slow on many processors.
            let of = |value: f64| masked(value, !stands);
            let (bus, lost_wh) = (of(bus_w[l]), of(stored - left));
            let left = stored - lost_wh;
            lost[l] += lost_wh;
            if !LIT && !MORE {
                // In the dark there is nothing to take in, and what is in the cells only falls.
                self.stored_wh[l] = more(left - bus * cells.out_wh_per_w[l], 0.0);
                continue;
            }
            let taken_w = of(taken_w);
            let net_w = taken_w * cells.solar_efficiency - bus;
            let surplus_w = more(net_w, 0.0);
            let (mut missing_w, mut offered_w) = (surplus_w - net_w, surplus_w);
            let (mut serves_w, mut heater_w) = (0.0, 0.0);
            if MORE {
                let from_wall_w = of(wall_w * cells.wall_efficiency[l]);
                serves_w = less(missing_w, from_wall_w);
                missing_w -= serves_w;
                offered_w += from_wall_w - serves_w;
            }
            let room_w = less((cells.ceiling_wh[l] - left) * cells.into_w_per_wh[l], cells.charge_w[l]);
            let accepted_w = less((cells.capacity_wh[l] - left) * cells.taper_w_per_wh[l], room_w);
            if MORE {
                heater_w = masked(less(cells.heater_w[l], offered_w), flag(has_room(cells.ceiling_wh[l], left)));
            }
            let into_w = less(more(accepted_w, 0.0), offered_w - heater_w);
            let mut from_sun_w = into_w;
            if MORE {
                from_sun_w = less(into_w + heater_w, surplus_w);
                wall[l] += serves_w + (into_w + heater_w - from_sun_w);
                heater[l] += heater_w;
                barred[l] += masked(surplus_w - from_sun_w, cells.barred[l]);
                let sun_used_w = taken_w * cells.solar_efficiency - (surplus_w - from_sun_w);
                let electronics_w = cells.electronics_w[l] + sun_used_w * cells.solar_lost;
                let in_cells_w = into_w * cells.lost_into[l] + missing_w * cells.lost_out[l];
                let heat_w = FROM_ELECTRONICS * electronics_w + in_cells_w + heater_w;
                self.heat_w[l] = either(stands, self.heat_w[l], heat_w);
            }
            if LIT {
                panel[l] += of(at_input.panel_w[l].wide());
                taken[l] += taken_w;
                unused[l] += surplus_w - from_sun_w;
            }
            into[l] += into_w;
            let then = more(left + into_w * cells.into_wh_per_w[l] - missing_w * cells.out_wh_per_w[l], 0.0);
            self.stored_wh[l] = then;
            // Without the needless bound this too would become a masked store.
            self.lowest_wh[l] = less(less(then, stored), more(self.lowest_wh[l], 0.0));
        }
        any != 0
    }

    /// Bus power that came from the wall so far \[W × steps\].
    pub(super) fn wall_sum(&self) -> &[f64; L] {
        &self.sums[WALL]
    }

    /// The `k`th block of lanes.
    #[inline(always)]
    pub(super) fn block<const B: usize>(&self, k: usize) -> Lane<B> {
        let mut out = Lane {
            stored_wh: *block(&self.stored_wh, k),
            lowest_wh: *block(&self.lowest_wh, k),
            heat_w: *block(&self.heat_w, k),
            sums: [[0.0; B]; SUMS],
        };
        for (out, sum) in out.sums.iter_mut().zip(&self.sums) {
            *out = *block(sum, k);
        }
        out
    }

    /// Puts such a block back.
    #[inline(always)]
    pub(super) fn put_block<const B: usize>(&mut self, k: usize, from: &Lane<B>) {
        *block_mut(&mut self.stored_wh, k) = from.stored_wh;
        *block_mut(&mut self.lowest_wh, k) = from.lowest_wh;
        *block_mut(&mut self.heat_w, k) = from.heat_w;
        for (sum, from) in self.sums.iter_mut().zip(&from.sums) {
            *block_mut(sum, k) = *from;
        }
    }

    /// The sums of one lane.
    ///
    /// * `more` — whether its steps were taken as such in which there may be more than sun.
    pub(super) fn sums(&self, l: usize, cells: &Cells<L>, more: bool) -> Sums {
        let [panel, taken, unused, into, wall, heater, barred, lost] = std::array::from_fn(|k| self.sums[k][l]);
        let barred = if more { barred } else { masked(unused, cells.barred[l]) };
        Sums([panel, taken, unused, into, wall, heater, barred, lost])
    }
}

/// What went through cells and inputs in some steps, see [`SUMS`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sums([f64; SUMS]);

/// What the bus gave in the same steps \[W × steps\].
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct FromBus {
    /// Delivered at each outlet.
    pub delivered_w: [f64; OUTLETS],
    /// Lost in each outlet's converter.
    pub lost_w: [f64; OUTLETS],
    /// Drawn by the electronics.
    pub own_w: f64,
}

impl FromBus {
    /// What the electronics and the converters took of it.
    pub(super) fn electronics_w(&self) -> f64 {
        self.own_w + self.lost_w.iter().sum::<f64>()
    }

    /// All of it.
    pub(super) fn total_w(&self) -> f64 {
        self.own_w + self.delivered_w.iter().sum::<f64>() + self.lost_w.iter().sum::<f64>()
    }
}

impl Sums {
    /// What was added since.
    pub(super) fn since(&self, before: &Sums) -> Sums {
        Sums(std::array::from_fn(|k| self.0[k] - before.0[k]))
    }

    /// The account of these steps, but for what is in the cells before and after.
    pub(super) fn account(&self, rig: &Rig, bus: &FromBus, step_h: f64) -> Ledger {
        let Sums([panel_w, taken_w, unused_w, into_w, wall_w, heater_w, barred_w, lost_wh]) = *self;
        let used_w = taken_w * rig.solar_efficiency - unused_w;
        // What the bus took that came from nowhere else came from the cells.
        let from_cells_w = (bus.total_w() + into_w + heater_w - used_w - wall_w).max(0.0);
        let mut ledger = Ledger::default();
        let mut put = |flow: Flow, watts: f64| ledger[flow] = watts * step_h;
        put(Flow::Solar, panel_w);
        put(Flow::Curtailed, panel_w - used_w / rig.solar_efficiency);
        put(Flow::Clipped, panel_w - taken_w);
        put(Flow::Barred, barred_w / rig.solar_efficiency);
        put(Flow::SolarInputLoss, used_w * (1.0 / rig.solar_efficiency - 1.0));
        put(Flow::Wall, wall_w / rig.wall_efficiency);
        put(Flow::WallLoss, wall_w * (1.0 / rig.wall_efficiency - 1.0));
        put(Flow::Heater, heater_w);
        put(Flow::ChargingLoss, into_w * (1.0 - rig.charge_efficiency));
        put(Flow::DischargingLoss, from_cells_w * (1.0 / rig.discharge_efficiency - 1.0));
        for outlet in 0..OUTLETS {
            put(Flow::SERVED[outlet], bus.delivered_w[outlet]);
            put(Flow::OUTLET_LOSS[outlet], bus.lost_w[outlet]);
        }
        put(Flow::OwnDraw, bus.own_w);
        ledger[Flow::SelfDischarge] = lost_wh;
        ledger
    }
}
