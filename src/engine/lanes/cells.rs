//! Cells and solar input in lanes: one step in which everything asked for is served.

use crate::engine::rig::Rig;
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
    into_w_per_wh: [f64; L],
    most_into_wh: [f64; L],
    /// Share of the room up to full that the taper lets in within a step; huge where there is none.
    taper: [f64; L],
    /// Left after self-discharge within a step.
    pub keeps: f64,
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
            most_into_wh: zero,
            taper: zero,
            keeps: 1.0,
            solar_limit_w: 0.0,
            solar_efficiency: 1.0,
        }
    }
}

impl<const L: usize> Cells<L> {
    #[inline(always)]
    pub(super) fn new(rigs: &[Rig], step_h: f64) -> Cells<L> {
        let mut cells = Cells {
            keeps: 1.0 - (rigs[0].self_discharge_per_h * step_h).min(1.0),
            solar_limit_w: rigs[0].solar_limit_w,
            solar_efficiency: rigs[0].solar_efficiency,
            ..Cells::default()
        };
        for (l, rig) in rigs.iter().enumerate().take(L) {
            let limits = rig.limits();
            let into = rig.charge_efficiency * step_h;
            cells.floor_wh[l] = limits.floor_wh;
            cells.ceiling_wh[l] = rig.ceiling_wh;
            cells.capacity_wh[l] = rig.capacity_wh;
            cells.power_per_wh[l] = rig.discharge_efficiency / step_h;
            cells.discharge_w[l] = limits.discharge_w;
            cells.out_wh_per_w[l] = step_h / rig.discharge_efficiency;
            cells.into_wh_per_w[l] = into;
            cells.into_w_per_wh[l] = 1.0 / into;
            cells.most_into_wh[l] = limits.charge_w * into;
            let x = limits.taper_from_w * into;
            let share = x / (rig.taper_wh + x);
            cells.taper[l] = if rig.taper_wh > 0.0 && share.is_finite() { share } else { 1e30 };
        }
        cells
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
    pub self_discharge_wh: [f64; L],
}

/// What a lane's cells and input see of one step.
#[derive(Debug)]
pub(super) struct Flow<const L: usize> {
    pub panel_w: [f64; L],
    pub taken_w: [f64; L],
    pub solar_w: [f64; L],
}

impl<const L: usize> Flow<L> {
    pub(super) const NIGHT: Flow<L> = Flow { panel_w: [0.0; L], taken_w: [0.0; L], solar_w: [0.0; L] };

    /// Of a step with light.
    #[inline(always)]
    pub(super) fn of_sun<R: Real>(cells: &Cells<L>, at_input: &AtInput<R, L>) -> Flow<L> {
        let mut flow = Flow::NIGHT;
        for l in 0..L {
            flow.panel_w[l] = at_input.panel_w[l].wide();
            flow.taken_w[l] = less(at_input.usable_w[l].wide(), cells.solar_limit_w);
            flow.solar_w[l] = flow.taken_w[l] * cells.solar_efficiency;
        }
        flow
    }

    /// Nothing for those lanes.
    #[inline(always)]
    pub(super) fn stop(&mut self, which: &[bool; L]) {
        for l in 0..L {
            self.panel_w[l] = if which[l] { 0.0 } else { self.panel_w[l] };
            self.taken_w[l] = if which[l] { 0.0 } else { self.taken_w[l] };
            self.solar_w[l] = if which[l] { 0.0 } else { self.solar_w[l] };
        }
    }
}

impl<const L: usize> Lane<L> {
    #[inline(always)]
    pub(super) fn new(start_wh: [f64; L]) -> Lane<L> {
        let zero = [0.0; L];
        Lane {
            stored_wh: start_wh,
            lowest_wh: start_wh,
            panel_w: zero,
            taken_w: zero,
            unused_w: zero,
            into_w: zero,
            out_wh: zero,
            self_discharge_wh: zero,
        }
    }

    /// What is left after self-discharge, and which lanes cannot be served in full.
    ///
    /// * `keeps` — share of the stored energy that is left: [`Cells::keeps`], or 1 outside a lane's outage.
    #[inline(always)]
    pub(super) fn before(
        &self,
        cells: &Cells<L>,
        keeps: &[f64; L],
        solar_w: &[f64; L],
        bus_w: &[f64; L],
    ) -> ([f64; L], [bool; L]) {
        let (mut left_wh, mut short) = ([0.0; L], [false; L]);
        for l in 0..L {
            let left = self.stored_wh[l] * keeps[l];
            let from_cells_w = less(more(left - cells.floor_wh[l], 0.0) * cells.power_per_wh[l], cells.discharge_w[l]);
            left_wh[l] = left;
            short[l] = solar_w[l] + from_cells_w < bus_w[l];
        }
        (left_wh, short)
    }

    /// Takes a step without light.
    #[inline(always)]
    pub(super) fn night(&mut self, cells: &Cells<L>, left_wh: &[f64; L], bus_w: &[f64; L]) {
        for l in 0..L {
            let out_wh = bus_w[l] * cells.out_wh_per_w[l];
            let stored = more(left_wh[l] - out_wh, 0.0);
            self.self_discharge_wh[l] += self.stored_wh[l] - left_wh[l];
            self.stored_wh[l] = stored;
            self.lowest_wh[l] = less(stored, self.lowest_wh[l]);
            self.out_wh[l] += out_wh;
        }
    }

    /// Takes a step with light.
    #[inline(always)]
    pub(super) fn day(&mut self, cells: &Cells<L>, left_wh: &[f64; L], bus_w: &[f64; L], flow: &Flow<L>) {
        for l in 0..L {
            let left = left_wh[l];
            let net_w = flow.solar_w[l] - bus_w[l];
            let surplus_w = more(net_w, 0.0);
            let out_wh = (surplus_w - net_w) * cells.out_wh_per_w[l];
            let room_wh = less(more(cells.ceiling_wh[l] - left, 0.0), cells.most_into_wh[l]);
            let accepted_wh = less(room_wh, more(cells.capacity_wh[l] - left, 0.0) * cells.taper[l]);
            let into_w = less(surplus_w, accepted_wh * cells.into_w_per_wh[l]);
            let stored = more(left + into_w * cells.into_wh_per_w[l] - out_wh, 0.0);
            self.self_discharge_wh[l] += self.stored_wh[l] - left;
            self.stored_wh[l] = stored;
            self.lowest_wh[l] = less(stored, self.lowest_wh[l]);
            self.panel_w[l] += flow.panel_w[l];
            self.taken_w[l] += flow.taken_w[l];
            self.unused_w[l] += surplus_w - into_w;
            self.into_w[l] += into_w;
            self.out_wh[l] += out_wh;
        }
    }
}
