//! A generator started from here on, and for how long.

use serde::Serialize;

use super::lasting;
use crate::engine::Plan;
use crate::scenario::model::{Begins, ClockWindow, Generator, Scenario};
use crate::trials::Settings;
use crate::trials::run::run_part;

/// Lengths of a run that are tried \[h\].
const RUNS_H: [f64; 7] = [1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0];

/// Trials on which the length is chosen, other ones than those it is judged by: the best of several looks better than it is.
const CHOSEN_ON: u64 = 1_000;

/// What a longer run must add, in shares of the trials, to be worth its fuel.
const WORTH_FUEL: f64 = 0.01;

/// A generator that is started from here on at one hour of every day, instead of at the hours of the scenario.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct GeneratorRun {
    /// When it starts, today and every day: the first hour from now in which somebody is there \[minutes after midnight\].
    pub from_min: u16,
    /// Length of a run \[h\].
    pub run_h: f64,
    /// The most that a run burns, the charger taking all that it can \[L\]; `None` where its thirst is not known.
    pub run_l: Option<f64>,
    /// Fuel on hand \[L\]; `None` where it never ends.
    pub on_hand_l: Option<f64>,
}

impl GeneratorRun {
    /// How many whole runs the fuel lasts for, at its most; `None` where that is not known.
    #[must_use]
    pub fn runs(&self) -> Option<f64> {
        let (run_l, on_hand_l) = (self.run_l.filter(|litres| *litres > 0.0)?, self.on_hand_l?);
        Some((on_hand_l / run_l + 1e-9).floor())
    }
}

/// The run worth telling, with the generator at those hours; `None` where there is none to start, nothing to burn, or where the
/// mains comes back every day.
///
/// * `scenario` — from here on; `plan` — what has to be kept on.
pub(super) fn run_from_here(
    scenario: &Scenario,
    plan: &Plan,
    horizons: (&[f64; 4], usize),
    settings: &Settings,
) -> Option<(GeneratorRun, Generator)> {
    let generator = scenario.generator.as_ref().filter(|_| plan.mains.is_empty() && plan.second.is_none())?;
    let charger = scenario.station.wall_charger?;
    let Begins::At { minute_of_day, .. } = scenario.outage.begins else { return None };
    if generator.fuel.is_some_and(|litres| litres.0 <= 0.0) {
        return None;
    }
    let steps = plan.wall_w.len().max(1) as u16;
    let step_min = 1440 / steps;
    let at = |from_min: u16, run_h: f64| {
        let to = from_min + (60.0 * run_h) as u16;
        let to_minute = if to > 1440 { to - 1440 } else { to };
        Generator { hours: vec![ClockWindow { from_minute: from_min, to_minute }], ..generator.clone() }
    };
    // The first step from now in which somebody is there to start it.
    let starts = |offset: u16| (minute_of_day / step_min + offset) % steps * step_min;
    let whole = |from_min: &u16| plan.generator_runs_h(&at(*from_min, RUNS_H[0])) > RUNS_H[0] - 1e-9;
    let from_min = (0..steps).map(starts).find(whole)?;
    let tried: Vec<Generator> = RUNS_H.iter().map(|&run_h| at(from_min, run_h)).collect();
    let plans: Vec<Plan> = tried.iter().map(|new| plan.with_generator(new, &scenario.station)).collect();
    let trials = CHOSEN_ON.min(settings.trials);
    let tallies = run_part(&plans, settings.seed.wrapping_add(3), 0..trials);
    let (horizons_h, judged) = horizons;
    let score = |k: usize| -> u64 {
        horizons_h[..=judged].iter().map(|&hours| lasting(&tallies[k], hours, plan.season.step_h)).sum()
    };
    let scores: Vec<u64> = (0..tallies.len()).map(score).collect();
    let most = scores.iter().copied().max()? as f64;
    let best = scores.iter().position(|&score| score as f64 >= most - WORTH_FUEL * trials as f64)?;
    let watts = plans[best].generator_most_w().unwrap_or(generator.feeds_w(&charger));
    let run_h = RUNS_H[best];
    let told = GeneratorRun {
        from_min,
        run_h,
        run_l: generator.burns_l(watts * run_h, run_h),
        on_hand_l: generator.fuel.map(|litres| litres.0),
    };
    Some((told, tried[best].clone()))
}
