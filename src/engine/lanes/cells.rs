//! Cells and solar input in lanes: one step in which everything asked for is served.

use crate::engine::rig::{Limits, Rig};
use crate::engine::wiring::AtInput;
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
    /// Left after self-discharge within a step.
    keeps: f64,
    solar_limit_w: f64,
    solar_efficiency: f64,
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
            keeps: 1.0,
            solar_limit_w: 0.0,
            solar_efficiency: 1.0,
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
        for (l, (rig, limits)) in rigs.iter().zip(limits).enumerate().take(L) {
            let into = rig.charge_efficiency * step_h;
            cells.floor_wh[l] = limits.floor_wh;
            cells.ceiling_wh[l] = rig.ceiling_wh;
            cells.capacity_wh[l] = rig.capacity_wh;
            cells.power_per_wh[l] = rig.discharge_efficiency / step_h;
            cells.discharge_w[l] = limits.discharge_w;
            cells.out_wh_per_w[l] = step_h / rig.discharge_efficiency;
            cells.into_wh_per_w[l] = into;
            cells.into_w_per_wh[l] = 1.0 / into;
            cells.charge_w[l] = limits.charge_w;
            let per_wh = limits.taper_from_w / (rig.taper_wh + limits.taper_from_w * into);
            cells.taper_w_per_wh[l] = if rig.taper_wh > 0.0 && per_wh.is_finite() { per_wh } else { 1e30 };
        }
    }
}

/// State and sums of each lane. Sums are in the units of a step: watts are not yet multiplied by its length.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lane<const L: usize> {
    pub stored_wh: [f64; L],
    pub lowest_wh: [f64; L],
    pub panel_w: [f64; L],
    /// Taken from the panels.
    pub taken_w: [f64; L],
    /// Of what was taken, at the bus and not needed.
    pub unused_w: [f64; L],
    pub into_w: [f64; L],
    pub out_wh: [f64; L],
    /// What steps that a lane took by itself left in its cells over what they found \[Wh\].
    pub alone_wh: [f64; L],
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
            out_wh: zero,
            alone_wh: zero,
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
        let Lane { panel_w, taken_w, unused_w, into_w, out_wh, alone_wh, .. } = self;
        for sum in [panel_w, taken_w, unused_w, into_w, out_wh, alone_wh] {
            sum.fill(0.0);
        }
    }

    /// Takes a step; says whether any lane was short of something. Lanes that are short, and those that are to stand
    /// still, stay as they are.
    ///
    /// * `LIT` — whether there is light; `ALL` — whether no lane is to stand still.
    /// * `still` — the lanes that are; `short` — where to put the flags of those that are short.
    #[inline(always)]
    pub(super) fn step<R: Real, const LIT: bool, const ALL: bool>(
        &mut self,
        cells: &Cells<L>,
        bus_w: &[f64; L],
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
            let mut flag = if solar_w + from_cells_w < bus_w[l] { u64::MAX } else { 0 };
            let mut stands = flag;
            if !ALL {
                flag &= !still[l];
                stands |= still[l];
            }
            short[l] = flag;
            any |= flag;
            // A lane that stands still loses nothing, gets nothing and is asked for nothing. Bits are masked, not chosen:
            // choices between numbers that are loaded become masked loads and stores, which are slow on many processors.
            let of = |value: f64| f64::from_bits(value.to_bits() & !stands);
            let (bus, lost_wh) = (of(bus_w[l]), of(stored - left));
            let left = stored - lost_wh;
            let (mut into_w, mut out_wh) = (0.0, bus * cells.out_wh_per_w[l]);
            if LIT {
                let (taken_w, net_w) = (of(taken_w), of(solar_w) - bus);
                let surplus_w = more(net_w, 0.0);
                out_wh = (surplus_w - net_w) * cells.out_wh_per_w[l];
                let room_w = less((cells.ceiling_wh[l] - left) * cells.into_w_per_wh[l], cells.charge_w[l]);
                let accepted_w = less((cells.capacity_wh[l] - left) * cells.taper_w_per_wh[l], room_w);
                into_w = less(more(accepted_w, 0.0), surplus_w);
                self.panel_w[l] += of(at_input.panel_w[l].wide());
                self.taken_w[l] += taken_w;
                self.unused_w[l] += surplus_w - into_w;
                self.into_w[l] += into_w;
            }
            let then = more(if LIT { left + into_w * cells.into_wh_per_w[l] } else { left } - out_wh, 0.0);
            self.stored_wh[l] = then;
            self.lowest_wh[l] = less(then, self.lowest_wh[l]);
            self.out_wh[l] += out_wh;
        }
        any != 0
    }
}
