//! One part of a cooler in several trials side by side.

use super::{CoolerPlan, PartPlan, SOFT_AT};
use crate::loads::contents::Contents;
use crate::random::polynomials::{exp, less, more};

/// A thermostat that holds the limit itself, to rounding, does not exceed it \[K or h\].
pub(super) const ROUNDING: f64 = 1e-9;

/// What became of the food in one part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Food {
    /// The warmest it was after any step \[°C\].
    pub warmest_c: f64,
    /// Step in which it was lost by the thermometer, and by the hours without power.
    pub lost_step: [Option<u32>; 2],
}

/// One part within a trial.
///
/// Heat taken up within a step is proportional to how far the inside is from where it would settle, `T∞ = room − removed / UA`
/// (Newton's law of cooling, exact for a steady room): `C (1 − exp(−t UA / C))` for each kelvin while nothing melts, `t UA`
/// while something does. See [`crate::loads::contents::Insulated::after_step`].
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PartState<const L: usize> {
    pub ua_w_per_k: [f64; L],
    pub per_ua: [f64; L],
    /// Heat taken up in a step for each kelvin while frozen, while melting and while thawed \[Wh/K\].
    pub takes_wh_per_k: [[f64; L]; 3],
    /// Power that moves the heat by a watt-hour within a step on this side of melting \[1/h\].
    pub per_h: [f64; L],
    /// The side of melting on which the target is: least and most heat \[Wh\].
    pub side_wh: [[f64; L]; 2],
    pub target_c: [f64; L],
    pub target_wh: [f64; L],
    pub heat_wh: [f64; L],
    /// The temperature for that heat \[°C\].
    pub inside_c: [f64; L],
    pub needs_w: [f64; L],
    pub warm_h: [f64; L],
    pub without_h: [f64; L],
    /// Hours beyond which the food is lost by each clock; infinite once it is.
    pub most_h: [[f64; L]; 2],
    pub warmest_c: [f64; L],
    pub lost_step: [[Option<u32>; 2]; L],
}

impl<const L: usize> Default for PartState<L> {
    fn default() -> PartState<L> {
        let zero = [0.0; L];
        PartState {
            ua_w_per_k: zero,
            per_ua: zero,
            takes_wh_per_k: [zero; 3],
            per_h: zero,
            side_wh: [zero; 2],
            target_c: zero,
            target_wh: zero,
            heat_wh: zero,
            inside_c: zero,
            needs_w: zero,
            warm_h: zero,
            without_h: zero,
            most_h: [zero; 2],
            warmest_c: zero,
            lost_step: [[None; 2]; L],
        }
    }
}

/// [`Contents::temperature_c`] without a division.
#[derive(Clone, Copy)]
pub(super) struct Thermometer {
    melts_c: f64,
    latent_wh: f64,
    per_frozen: f64,
    per_thawed: f64,
}

impl Thermometer {
    #[inline(always)]
    pub fn new(of: &Contents) -> Thermometer {
        let (per_frozen, per_thawed) = (1.0 / of.frozen_wh_per_k, 1.0 / of.thawed_wh_per_k);
        Thermometer { melts_c: of.melts_c, latent_wh: of.latent_wh, per_frozen, per_thawed }
    }

    #[inline(always)]
    pub fn temperature_c(&self, heat_wh: f64) -> f64 {
        self.melts_c + less(heat_wh, 0.0) * self.per_frozen + more(heat_wh - self.latent_wh, 0.0) * self.per_thawed
    }
}

/// Heat beyond which frozen food counts as warm \[Wh\].
pub(super) fn soft_wh(part: &PartPlan) -> f64 {
    let Contents { latent_wh, melts_c, .. } = part.contents;
    if part.set_c < melts_c { SOFT_AT * latent_wh } else { f64::INFINITY }
}

impl<const L: usize> PartState<L> {
    /// As the power fails, in one lane.
    pub fn begin(&mut self, plan: &CoolerPlan, part: &PartPlan, l: usize, (leak, phase): (f64, f64), step_h: f64) {
        let contents = part.contents;
        let ua_w_per_k = part.walls_w_per_k * leak + part.door_w_per_k;
        let takes = |wh_per_k: f64| wh_per_k * (1.0 - exp((-step_h * ua_w_per_k / wh_per_k).max(-700.0)));
        let target_c = part.set_c + (phase - 0.5) * plan.band_k;
        let target_wh = contents.heat_wh(target_c);
        let (frozen, thawed) = (takes(contents.frozen_wh_per_k), takes(contents.thawed_wh_per_k));
        self.ua_w_per_k[l] = ua_w_per_k;
        self.per_ua[l] = 1.0 / ua_w_per_k;
        for (takes, wh_per_k) in self.takes_wh_per_k.iter_mut().zip([frozen, ua_w_per_k * step_h, thawed]) {
            takes[l] = wh_per_k;
        }
        let (own, [least_wh, most_wh]) = if target_wh <= 0.0 {
            (frozen, [f64::NEG_INFINITY, 0.0])
        } else {
            (thawed, [contents.latent_wh, f64::INFINITY])
        };
        self.per_h[l] = ua_w_per_k / own;
        (self.side_wh[0][l], self.side_wh[1][l]) = (least_wh, most_wh);
        (self.target_c[l], self.target_wh[l]) = (target_c, target_wh);
        let inside_c = Thermometer::new(&contents).temperature_c(target_wh);
        (self.heat_wh[l], self.inside_c[l]) = (target_wh, inside_c);
        (self.needs_w[l], self.warm_h[l], self.without_h[l]) = (0.0, 0.0, 0.0);
        (self.most_h[0][l], self.most_h[1][l]) = (plan.warm_h + ROUNDING, part.keeps_h + ROUNDING);
        (self.warmest_c[l], self.lost_step[l]) = (inside_c, [None; 2]);
    }

    /// Notes a lane's food where it is lost by one of its clocks.
    pub fn lose(&mut self, plan: &CoolerPlan, l: usize, index: usize, lost_now: &mut bool) {
        for (clock, passed_h) in [self.warm_h[l], self.without_h[l]].into_iter().enumerate() {
            if passed_h > self.most_h[clock][l] {
                self.most_h[clock][l] = f64::INFINITY;
                self.lost_step[l][clock] = Some(index as u32);
                *lost_now |= plan.judged_by[clock];
            }
        }
    }
}

/// Share of a step spent above a limit by a temperature that moves evenly.
pub(super) fn share_above(before_c: f64, after_c: f64, limit_c: f64) -> f64 {
    match (before_c > limit_c, after_c > limit_c) {
        (true, true) => 1.0,
        (false, false) => 0.0,
        (false, true) => (after_c - limit_c) / (after_c - before_c),
        (true, false) => (before_c - limit_c) / (before_c - after_c),
    }
}
