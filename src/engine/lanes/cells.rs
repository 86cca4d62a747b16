//! Cells and solar input in lanes: one step in which everything asked for is served.

use crate::engine::rig::{Limits, Rig};
use crate::engine::step::has_room;
use crate::engine::warmth::FROM_ELECTRONICS;
use crate::engine::wiring::AtInput;
use crate::random::masks::{flag, masked};
use crate::random::polynomials::{less, more};
use crate::random::real::Real;

/// What the cells and the solar input of each lane can do.
#[derive(Debug, Clone)]
pub(super) struct Cells<const L: usize> {
    pub floor_wh: [f64; L],
    ceiling_wh: [f64; L],
    pub capacity_wh: [f64; L],
    /// Bus power out of a watt-hour above the floor, within a step \[W/Wh\].
    power_per_wh: [f64; L],
    pub discharge_w: [f64; L],
    /// Taken from the cells for a watt at the bus \[Wh/W\].
    out_wh_per_w: [f64; L],
    /// Arriving in the cells for a watt sent to them \[Wh/W\].
    into_wh_per_w: [f64; L],
    /// Power towards the cells for a watt-hour of room up to the ceiling, within a step \[W/Wh\].
    into_w_per_wh: [f64; L],
    pub charge_w: [f64; L],
    /// Power that the taper lets in for a watt-hour of room up to full \[W/Wh\]; huge where there is none.
    pub taper_w_per_wh: [f64; L],
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
    pub barred: Flags<L>,
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
            cells.floor_wh[l] = limits.floor_wh;
            cells.discharge_w[l] = limits.discharge_w;
            cells.charge_w[l] = limits.charge_w;
            cells.taper_w_per_wh[l] = cells.taper_w_per_wh(l, limits.taper_from_w, rig.taper_wh);
            cells.heater_w[l] = limits.heater_w;
            cells.lost_into[l] = 1.0 - rig.charge_efficiency;
            cells.lost_out[l] = 1.0 / rig.discharge_efficiency - 1.0;
            cells.works[l] = flag(limits.works);
            cells.barred[l] = flag(limits.charge_w == 0.0);
        }
    }

    /// Power that the taper lets in for a watt-hour of room up to full \[W/Wh\]; huge where there is none.
    ///
    /// * `taper_from_w` — the power that it begins with \[W\]; `taper_wh` — room over which it falls to nothing \[Wh\].
    #[inline(always)]
    pub(super) fn taper_w_per_wh(&self, l: usize, taper_from_w: f64, taper_wh: f64) -> f64 {
        let per_wh = taper_from_w / (taper_wh + taper_from_w * self.into_wh_per_w[l]);
        if taper_wh > 0.0 && per_wh.is_finite() { per_wh } else { 1e30 }
    }
}

/// State and sums of each lane. Sums are in the units of a step: watts are not yet multiplied by its length.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lane<const L: usize> {
    pub stored_wh: [f64; L],
    /// The least that was in the cells before or after a step with light.
    pub lowest_wh: [f64; L],
    pub panel_w: [f64; L],
    /// Taken from the panels.
    pub taken_w: [f64; L],
    /// Of what was taken, at the bus and not needed.
    pub unused_w: [f64; L],
    pub into_w: [f64; L],
    /// Bus power taken from the wall, drawn by the heater, and not needed while the cells could not be charged.
    pub wall_w: [f64; L],
    pub heater_w: [f64; L],
    pub barred_w: [f64; L],
    /// What warmed the cells in the last step, kept where there may be a heater \[W\].
    pub heat_w: [f64; L],
    /// What steps that a lane took by itself left in its cells over what they found \[Wh\], and the bus power that was asked
    /// for in them.
    pub alone_wh: [f64; L],
    pub alone_w: [f64; L],
}

/// A flag of each lane: all bits set, or none. As wide as a number, so that vectors need not change width.
pub(super) type Flags<const L: usize> = [u64; L];

impl<const L: usize> Default for Lane<L> {
    fn default() -> Lane<L> {
        let zero = [0.0; L];
        Lane {
            stored_wh: zero,
            lowest_wh: zero,
            panel_w: zero,
            taken_w: zero,
            unused_w: zero,
            into_w: zero,
            wall_w: zero,
            heater_w: zero,
            barred_w: zero,
            heat_w: zero,
            alone_wh: zero,
            alone_w: zero,
        }
    }
}

impl<const L: usize> Lane<L> {
    /// Begins with what is in the cells at first.
    #[inline(always)]
    pub(super) fn begin(&mut self, rigs: &[Rig]) {
        for (l, rig) in rigs.iter().enumerate().take(L) {
            (self.stored_wh[l], self.lowest_wh[l]) = (rig.start_wh, rig.start_wh);
        }
        let Lane { panel_w, taken_w, unused_w, into_w, wall_w, heater_w, barred_w, heat_w, alone_wh, alone_w, .. } =
            self;
        for sum in [panel_w, taken_w, unused_w, into_w, wall_w, heater_w, barred_w, heat_w, alone_wh, alone_w] {
            sum.fill(0.0);
        }
    }

    /// Takes a step; says whether any lane was short of something. Lanes that are short, and those that are to stand
    /// still, stay as they are.
    ///
    /// * `LIT` — whether there is light; `ALL` — whether no lane is to stand still; `MORE` — whether there may be power from
    ///   the wall, a heater, or cells that do not work.
    /// * `still` — the lanes that stand still; `short` — where to put the flags of those that are short; `wall_w` — what the
    ///   wall charger may draw from the plug \[W\].
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
        for l in 0..L {
            let stored = self.stored_wh[l];
            let left = stored * cells.keeps;
            let from_cells_w = less(more(left - cells.floor_wh[l], 0.0) * cells.power_per_wh[l], cells.discharge_w[l]);
            let (mut taken_w, mut solar_w) = (0.0, 0.0);
            if LIT {
                taken_w = less(at_input.usable_w[l].wide(), cells.solar_limit_w);
                solar_w = taken_w * cells.solar_efficiency;
            }
            let mut available_w = solar_w + from_cells_w;
            let mut wall = 0.0;
            if MORE {
                wall = wall_w * cells.wall_efficiency[l];
                available_w = masked(available_w + wall, cells.works[l]);
            }
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
            if !LIT && !MORE {
                // In the dark there is nothing to take in, and what is in the cells only falls.
                let gone_wh = of(stored - left + bus_w[l] * cells.out_wh_per_w[l]);
                self.stored_wh[l] = more(stored - gone_wh, 0.0);
                continue;
            }
            let (bus, lost_wh) = (of(bus_w[l]), of(stored - left));
            let left = stored - lost_wh;
            let (taken_w, net_w) = (of(taken_w), of(solar_w) - bus);
            let surplus_w = more(net_w, 0.0);
            let (mut missing_w, mut offered_w) = (surplus_w - net_w, surplus_w);
            let (mut serves_w, mut heater_w) = (0.0, 0.0);
            if MORE {
                let wall = of(wall);
                serves_w = less(missing_w, wall);
                missing_w -= serves_w;
                offered_w += wall - serves_w;
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
                self.wall_w[l] += serves_w + (into_w + heater_w - from_sun_w);
                self.heater_w[l] += heater_w;
                self.barred_w[l] += masked(surplus_w - from_sun_w, cells.barred[l]);
                let sun_used_w = taken_w * cells.solar_efficiency - (surplus_w - from_sun_w);
                let electronics_w = of(cells.electronics_w[l]) + sun_used_w * cells.solar_lost;
                let in_cells_w = into_w * cells.lost_into[l] + missing_w * cells.lost_out[l];
                self.heat_w[l] = FROM_ELECTRONICS * electronics_w + in_cells_w + heater_w;
            }
            if LIT {
                self.panel_w[l] += of(at_input.panel_w[l].wide());
                self.taken_w[l] += taken_w;
                self.unused_w[l] += surplus_w - from_sun_w;
            }
            self.into_w[l] += into_w;
            let then = more(left + into_w * cells.into_wh_per_w[l] - missing_w * cells.out_wh_per_w[l], 0.0);
            self.stored_wh[l] = then;
            // Without the needless bound this too would become a masked store.
            self.lowest_wh[l] = less(less(then, stored), more(self.lowest_wh[l], 0.0));
        }
        any != 0
    }
}
