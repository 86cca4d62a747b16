//! State and sums of the cells, step after step, in lanes.

use super::{Cells, Flags};
use crate::engine::ledger::{Flow, Ledger};
use crate::engine::rig::{OUTLETS, Rig};
use crate::engine::sources::Plugged;
use crate::engine::warmth::FROM_ELECTRONICS;
use crate::engine::wiring::AtInput;
use crate::random::masks::{block, block_mut, either, flag, masked};
use crate::random::polynomials::{less, more};
use crate::random::real::Real;

/// Whether cells can take in anything: a heater does not warm full ones. More than rounding leaves.
#[inline(always)]
fn has_room(ceiling_wh: f64, stored_wh: f64) -> bool {
    stored_wh < ceiling_wh * (1.0 - 1e-9)
}

/// State and sums of each lane. Sums are in the units of a step: watts are not yet multiplied by its length.
#[derive(Debug, Clone, Copy)]
pub(in crate::engine) struct Lane<const L: usize> {
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
/// Which of them is of the wall, and which is energy.
const WALL: usize = 4;
const LOST: usize = 7;

impl<const L: usize> Default for Lane<L> {
    fn default() -> Lane<L> {
        let zero = [0.0; L];
        Lane { stored_wh: zero, lowest_wh: zero, heat_w: zero, sums: [zero; SUMS] }
    }
}

impl<const L: usize> Lane<L> {
    /// Begins with what is in the cells at first.
    #[inline(always)]
    pub(in crate::engine) fn begin(&mut self, rigs: &[Rig]) {
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
    pub(in crate::engine) fn step<R: Real, const LIT: bool, const ALL: bool, const MORE: bool>(
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
    pub(in crate::engine) fn wall_sum(&self) -> &[f64; L] {
        &self.sums[WALL]
    }

    /// The same, nothing summed up yet.
    #[inline(always)]
    pub(in crate::engine) fn without_sums(&self) -> Lane<L> {
        Lane { sums: [[0.0; L]; SUMS], ..*self }
    }

    /// Goes on from the end of a step that lasted a share of the usual one.
    #[inline(always)]
    pub(in crate::engine) fn add_part(&mut self, part: &Lane<L>, share: f64) {
        (self.stored_wh, self.lowest_wh, self.heat_w) = (part.stored_wh, part.lowest_wh, part.heat_w);
        for (k, (sum, of)) in self.sums.iter_mut().zip(&part.sums).enumerate() {
            let weight = if k == LOST { 1.0 } else { share };
            for l in 0..L {
                sum[l] += weight * of[l];
            }
        }
    }

    /// The `k`th block of lanes.
    #[inline(always)]
    pub(in crate::engine) fn block<const B: usize>(&self, k: usize) -> Lane<B> {
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
    pub(in crate::engine) fn put_block<const B: usize>(&mut self, k: usize, from: &Lane<B>) {
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
    pub(in crate::engine) fn sums(&self, l: usize, cells: &Cells<L>, more: bool) -> Sums {
        let [panel, taken, unused, into, wall, heater, barred, lost] = std::array::from_fn(|k| self.sums[k][l]);
        let barred = if more { barred } else { masked(unused, cells.barred[l]) };
        Sums([panel, taken, unused, into, wall, heater, barred, lost])
    }
}

/// What went through cells and inputs in some steps, see [`SUMS`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::engine) struct Sums([f64; SUMS]);

/// What the bus gave in the same steps \[W × steps\].
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(in crate::engine) struct FromBus {
    /// Delivered at each outlet.
    pub delivered_w: [f64; OUTLETS],
    /// Lost in each outlet's converter.
    pub lost_w: [f64; OUTLETS],
    /// Drawn by the electronics.
    pub own_w: f64,
}

impl FromBus {
    /// What the electronics and the converters took of it.
    pub(in crate::engine) fn electronics_w(&self) -> f64 {
        self.own_w + self.lost_w.iter().sum::<f64>()
    }

    /// What is delivered at each outlet, with what a generator gives straight to AC loads.
    pub(in crate::engine) fn with_direct(&self, direct_w: f64) -> [f64; OUTLETS] {
        let [ac_w, rest @ ..] = self.delivered_w;
        let [dc_w, usb_w] = rest;
        [ac_w + direct_w, dc_w, usb_w]
    }

    /// All of it.
    pub(in crate::engine) fn total_w(&self) -> f64 {
        self.own_w + self.delivered_w.iter().sum::<f64>() + self.lost_w.iter().sum::<f64>()
    }
}

impl Sums {
    /// What was added since.
    pub(in crate::engine) fn since(&self, before: &Sums) -> Sums {
        Sums(std::array::from_fn(|k| self.0[k] - before.0[k]))
    }

    /// The account of these steps, but for what is in the cells before and after.
    ///
    /// * `sources` — what came from other sources than sun and wall \[W × steps\].
    pub(in crate::engine) fn account(&self, rig: &Rig, bus: &FromBus, sources: &Plugged, step_h: f64) -> Ledger {
        let Sums([panel_w, taken_w, unused_w, into_w, wall_w, heater_w, barred_w, lost_wh]) = *self;
        let used_w = taken_w * rig.solar_efficiency - unused_w;
        // What the bus took that came from nowhere else came from the cells.
        let from_cells_w = (bus.total_w() + into_w + heater_w - used_w - wall_w).max(0.0);
        let only_wall_w = (wall_w - sources.bus_w).max(0.0);
        let mut ledger = Ledger::default();
        let mut put = |flow: Flow, watts: f64| ledger[flow] = watts * step_h;
        put(Flow::Solar, panel_w);
        put(Flow::Curtailed, panel_w - used_w / rig.solar_efficiency);
        put(Flow::Clipped, panel_w - taken_w);
        put(Flow::Barred, barred_w / rig.solar_efficiency);
        put(Flow::SolarInputLoss, used_w * (1.0 / rig.solar_efficiency - 1.0));
        put(Flow::Wall, only_wall_w / rig.wall_efficiency);
        put(Flow::WallLoss, only_wall_w * (1.0 / rig.wall_efficiency - 1.0));
        put(Flow::Source, sources.drawn_w);
        put(Flow::SourceLoss, sources.drawn_w - sources.bus_w);
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

#[cfg(test)]
mod tests;
