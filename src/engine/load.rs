//! One load, ready to be simulated.

use std::sync::Arc;

use super::asking::Asks;
use super::trial::TrialSeed;
use crate::loads::{DayProfile, week};
use crate::math;
use crate::random::{Purpose, Stream, address, polynomials};
use crate::scenario::model::{Load, Pattern, Room};
use crate::units::{Quantity, Uncertain};

/// A load that is switched off by charge comes back this much above that charge.
const RULE_HYSTERESIS: f64 = 0.05;

fn relative<Q: Quantity>(uncertain: &Uncertain<Q>) -> f64 {
    if uncertain.value.base() > 0.0 { uncertain.standard() / uncertain.value.base() } else { 0.0 }
}

/// One load.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadPlan {
    /// What to call it.
    pub name: String,
    /// Index of the priority that was told.
    pub priority: usize,
    /// Index of the priority by which it is served and judged: as told, but the last where the station cannot run it and runs
    /// other vital loads, of which the answer then is.
    pub class: usize,
    /// Index of its outlet.
    pub outlet: usize,
    /// Power while it runs \[W\].
    pub running_w: f64,
    /// Its nominal day: the only one, or the mean of the week.
    pub profile: DayProfile,
    /// Monday to Sunday, where they differ.
    pub week: Option<Box<[DayProfile; 7]>>,
    /// For loads that ask by their own state: how. Their `profile` is a nominal day.
    pub asks: Option<Arc<Asks>>,
    /// Relative standard uncertainty of its watts (of a cooler's label, of a device's use).
    pub watts_sd: f64,
    /// Standard deviation of the logarithm of its day-to-day factor.
    pub day_sigma: f64,
    /// Switched off below this state of charge.
    pub off_below: f64,
    /// And back on at or above this.
    pub on_above: f64,
    /// Switched off from this step of the outage on, whatever the charge; `usize::MAX` for never.
    pub off_from_step: usize,
    /// The address of its random stream: by its name, so that neither its place in the scenario nor what stands beside it matters.
    pub stream: u64,
}

impl LoadPlan {
    /// From the scenario's load.
    ///
    /// * `air_c` — mean temperature outdoors \[°C\], for the nominal day of a cooler.
    #[must_use]
    pub fn new(load: &Load, steps_a_day: usize, air_c: f64) -> LoadPlan {
        let watts = load.watts.value.0;
        let off_below = load.off_below.map_or(f64::NEG_INFINITY, |f| f.0);
        let asks = Asks::of(load, steps_a_day);
        let days = week(load, watts, steps_a_day, &[]);
        LoadPlan {
            name: load.name.clone(),
            priority: load.priority as usize,
            class: load.priority as usize,
            outlet: load.outlet as usize,
            running_w: watts,
            profile: asks.as_ref().map_or(days.mean, |asks| asks.nominal_day(watts, steps_a_day, air_c)),
            week: days.days,
            watts_sd: match &load.pattern {
                Pattern::Cooler(cooler) => relative(&cooler.label),
                Pattern::Charge(charge) => relative(&charge.energy_a_day),
                _ => relative(&load.watts),
            },
            asks: asks.map(Arc::new),
            // A log-normal factor with mean 1 and standard deviation v has sigma² = ln(1 + v²).
            day_sigma: math::ln_1p(load.varies.0 * load.varies.0).sqrt(),
            off_below,
            on_above: (off_below + RULE_HYSTERESIS).min(1.0),
            off_from_step: usize::MAX,
            stream: address(&load.name),
        }
    }

    /// Whether it draws the same on every day of every trial, but for days of the week.
    #[must_use]
    pub fn is_fixed(&self) -> bool {
        self.watts_sd == 0.0 && self.day_sigma == 0.0 && self.asks.is_none()
    }

    /// What it takes on a day of the week (0 for Monday).
    #[must_use]
    pub fn day(&self, weekday: usize) -> &DayProfile {
        self.week.as_ref().map_or(&self.profile, |days| &days[weekday])
    }

    /// Lets a cooler that stands indoors follow the rooms as they cool, or keeps it in a warm one.
    pub(super) fn let_the_room_cool(&mut self, cools: bool) {
        if let Some(asks) = &mut self.asks
            && let Asks::Cooler(cooler) = Arc::make_mut(asks)
        {
            cooler.room_cools = cools && cooler.room == Room::Indoors;
        }
    }

    /// Has the load switched off below a state of charge, or never.
    pub fn set_rule(&mut self, off_below: Option<f64>) {
        self.off_below = off_below.unwrap_or(f64::NEG_INFINITY);
        self.on_above = if self.off_below > 1.0 { f64::INFINITY } else { (self.off_below + RULE_HYSTERESIS).min(1.0) };
    }

    /// Lets the load rest from one hour of every day to another, past midnight where the first is the later one; whole steps
    /// alone.
    pub fn rest_between(&mut self, from_h: f64, to_h: f64) {
        let days = self.week.iter_mut().flat_map(|days| days.iter_mut());
        for day in days.chain([&mut self.profile]) {
            let steps = day.watts.len();
            for at in 0..steps {
                let (begins, ends) = (at as f64 * 24.0 / steps as f64, (at + 1) as f64 * 24.0 / steps as f64);
                let inside =
                    if from_h < to_h { from_h <= begins && ends <= to_h } else { from_h <= begins || ends <= to_h };
                if inside {
                    (day.watts[at], day.variance_w2[at], day.wants[at]) = (0.0, 0.0, 0.0);
                }
            }
        }
    }

    /// Gives the load other watts while it runs.
    pub fn scale_watts(&mut self, watts: f64) {
        let factor = if self.running_w > 0.0 { watts / self.running_w } else { 0.0 };
        let days = self.week.iter_mut().flat_map(|days| days.iter_mut());
        for day in days.chain([&mut self.profile]) {
            for w in &mut day.watts {
                *w *= factor;
            }
            for v in &mut day.variance_w2 {
                *v *= factor * factor;
            }
        }
        self.running_w = watts;
    }

    /// What it really draws in one trial over what it is said to: as the trials draw it, what differs from day to day left out.
    #[must_use]
    pub fn real_factor(&self, rng: TrialSeed) -> f64 {
        LoadDraws::new(self, rng, &mut Vec::new()).real
    }

    /// Whether it may draw its running watts in a step of the day. A compressor may at any hour, however cool the month's mean: it
    /// runs at full watts or not at all.
    #[must_use]
    pub fn may_run(&self, step: usize) -> bool {
        matches!(self.asks.as_deref(), Some(Asks::Cooler(_))) || self.profile.watts.get(step).is_some_and(|w| *w > 0.0)
    }

    /// The stretches of the day at which it is used, by first step and number of steps, where every day is alike and known; none where it
    /// is used all day.
    #[must_use]
    pub fn used(&self) -> Option<Vec<(usize, usize)>> {
        if self.week.is_some() || self.asks.is_some() {
            return None;
        }
        let (watts, steps) = (&self.profile.watts, self.profile.watts.len());
        let on = |step: usize| watts[step % steps] > 0.0;
        let begins = (0..steps).filter(|&step| on(step) && !on(step + steps - 1));
        Some(begins.map(|from| (from, (from..from + steps).take_while(|&step| on(step)).count())).collect())
    }

    /// Whether it is off from the first step on, because the station cannot run it.
    #[must_use]
    pub fn never_runs(&self) -> bool {
        self.off_from_step == 0
    }

    /// Mean energy a day at the outlet \[Wh\].
    #[must_use]
    pub fn day_wh(&self) -> f64 {
        self.profile.watts.iter().sum::<f64>() * 24.0 / self.profile.watts.len() as f64
    }
}

/// How one trial's load differs from its nominal profile.
#[derive(Debug, Clone)]
pub(super) struct LoadDraws {
    pub stream: Stream,
    /// What it really draws over what it is said to.
    pub real: f64,
    sigma: f64,
}

impl LoadDraws {
    /// Draws what it really draws; the normal number behind that is added to `unknowns` where it is not known.
    pub(super) fn new(load: &LoadPlan, rng: TrialSeed, unknowns: &mut Vec<f64>) -> LoadDraws {
        let mut stream = rng.stream(Purpose::Load(load.stream));
        let z = stream.normal();
        if load.watts_sd > 0.0 {
            unknowns.push(z);
        }
        LoadDraws { stream, real: (1.0 + load.watts_sd * z).max(0.0), sigma: load.day_sigma }
    }

    /// The factor of the next day: log-normal with mean 1 about what it really draws.
    pub(super) fn day(&mut self) -> f64 {
        if self.sigma == 0.0 {
            return self.real;
        }
        self.real * polynomials::exp(self.sigma * self.stream.normal() - 0.5 * self.sigma * self.sigma)
    }
}

#[cfg(test)]
mod tests;
