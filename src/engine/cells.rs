//! Cells, heater, wall charger and solar input in lanes: one step once it is settled what the bus is asked for.
//!
//! In this order: the cells lose a little by themselves; the sun's power is cut to what the input takes; the sun serves the bus
//! directly, then the wall, and the cells give what is missing or take what is left, from the sun first; sun that does not fit
//! is curtailed.

mod lane;

pub(super) use lane::{FromBus, Lane};

use super::dawn::{Available, Dawn};
use super::rig::{Limits, Rig};
use crate::random::masks::{block, flag, masked};
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
        self.taper_w_per_wh[l] = if taper_wh > 0.0 && per_wh.is_finite() { per_wh } else { NO_TAPER };
        self.barred[l] = flag(limits.charge_w == 0.0);
    }

    /// The same for a step that lasts a share of this one.
    #[inline(always)]
    pub(super) fn lasting(mut self, share: f64) -> Cells<L> {
        self.keeps = 1.0 - (1.0 - self.keeps) * share;
        for l in 0..L {
            let (into, shorter) = (self.into_wh_per_w[l], self.into_wh_per_w[l] * share);
            self.power_per_wh[l] /= share;
            self.out_wh_per_w[l] *= share;
            self.into_wh_per_w[l] = shorter;
            self.into_w_per_wh[l] = 1.0 / shorter;
            if self.taper_w_per_wh[l] < NO_TAPER {
                // Its reciprocal is the room over the power to fall from, and what arrives in a step.
                self.taper_w_per_wh[l] = 1.0 / (1.0 / self.taper_w_per_wh[l] - into + shorter);
            }
        }
        self
    }

    /// Lets the wall give each lane a share of what it would.
    pub(super) fn share_wall(&mut self, rigs: &[Rig], share: &[f64; L]) {
        for (l, rig) in rigs.iter().enumerate().take(L) {
            self.wall_efficiency[l] = rig.wall_efficiency * share[l];
        }
    }

    /// Lets a lane have so much bus power from wall and other sources together \[W\], for a watt at the plug.
    pub(super) fn plug_in(&mut self, l: usize, bus_w: f64) {
        self.wall_efficiency[l] = bus_w;
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

    /// What the bus can have in a step, lane by lane.
    ///
    /// * `usable_w`, `wall_w` — see [`super::Supply`]; `around_w` — what is usable in the steps before and after, where the sun is
    ///   followed within the step.
    #[inline(always)]
    pub(super) fn supplied<R: Real>(
        &self,
        stored_wh: &[f64; L],
        (usable_w, wall_w): (&[R; L], f64),
        around_w: Option<&[[f64; 2]; L]>,
    ) -> Available<L> {
        let mut available = Available::none();
        let mut dawn = around_w.map(|_| [Dawn::default(); L]);
        for l in 0..L {
            let usable_w = usable_w[l].wide();
            let (left_wh, taken_w, most_w) = self.available::<true, true>(l, stored_wh[l], (usable_w, wall_w));
            available.most_w[l] = most_w;
            available.energy_w[l] = masked(more(left_wh - self.floor_wh[l], 0.0) * self.power_per_wh[l], self.works[l]);
            available.gives_w[l] = masked(self.discharge_w[l], self.works[l]);
            available.wall_w[l] = masked(wall_w * self.wall_efficiency[l], self.works[l]);
            available.flow_w[l] = masked(taken_w * self.solar_efficiency, self.works[l]) + available.wall_w[l];
            if let (Some(dawn), Some(around_w)) = (&mut dawn, around_w) {
                let [before_w, after_w] = around_w[l];
                if self.works[l] != 0 {
                    dawn[l] = self.at_dawn(l, stored_wh[l], [before_w, usable_w, after_w], wall_w).2;
                }
            }
        }
        available.dawn = dawn;
        available
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

/// Stands for power without end \[W/Wh\].
const NO_TAPER: f64 = 1e30;

/// A flag of each lane: all bits set, or none. As wide as a number, so that vectors need not change width.
pub(super) type Flags<const L: usize> = [u64; L];

#[cfg(test)]
mod tests;
