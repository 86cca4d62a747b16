//! A generator started from here on, and for how long.

use serde::Serialize;

use super::lasting;
use crate::engine::Plan;
use crate::loads::coverage;
use crate::scenario::model::{Begins, ClockWindow, Generator, Scenario};
use crate::study::changes::{CHOSEN_ON, choosing_seed};
use crate::trials::Settings;
use crate::trials::run::run_part;

/// Lengths of a run that are tried \[h\].
const RUNS_H: [f64; 7] = [1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0];

/// When people are awake, where nobody has told when somebody is at home \[minutes after midnight\]; common practice, no source. A
/// generator is not left to itself while people sleep.
const AWAKE: ClockWindow = ClockWindow { from_minute: 7 * 60, to_minute: 22 * 60 };

/// What a longer run must add, in shares of the trials, to be worth its fuel.
const WORTH_FUEL: f64 = 0.01;

/// A generator that is started from here on at one hour of every day, instead of at the hours of the scenario.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct GeneratorRun {
    /// When it starts, today and every day: the first step from now in which somebody is there, awake, and for the whole run
    /// \[minutes after midnight\].
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
    // The first step from now on in which somebody is there to start it, and stays with it.
    let starts = |offset: u16| (minute_of_day.div_ceil(step_min) + offset) % steps * step_min;
    let whole = |from_min: u16, run_h: f64| {
        attended(&scenario.outage.somebody_home, from_min, (60.0 * run_h) as u16)
            && plan.generator_runs_h(&at(from_min, run_h)) > run_h - 1e-9
    };
    let from_min = (0..steps).map(starts).find(|&from_min| whole(from_min, RUNS_H[0]))?;
    let runs_h: Vec<f64> = RUNS_H.into_iter().filter(|&run_h| whole(from_min, run_h)).collect();
    let tried: Vec<Generator> = runs_h.iter().map(|&run_h| at(from_min, run_h)).collect();
    let plans: Vec<Plan> = tried.iter().map(|new| plan.with_generator(new, &scenario.station)).collect();
    let trials = CHOSEN_ON.min(settings.trials);
    let tallies = run_part(&plans, choosing_seed(settings), 0..trials);
    let (horizons_h, judged) = horizons;
    let score = |k: usize| -> u64 {
        horizons_h[..=judged].iter().map(|&hours| lasting(&tallies[k], hours, plan.season.step_h)).sum()
    };
    let scores: Vec<u64> = (0..tallies.len()).map(score).collect();
    let most = scores.iter().copied().max()? as f64;
    let best = scores.iter().position(|&score| score as f64 >= most - WORTH_FUEL * trials as f64)?;
    let watts = plans[best].generator_most_w(generator, &charger);
    let run_h = runs_h[best];
    let told = GeneratorRun {
        from_min,
        run_h,
        run_l: generator.burns_l(watts * run_h, run_h),
        on_hand_l: generator.fuel.map(|litres| litres.0),
    };
    Some((told, tried[best].clone()))
}

/// Whether somebody is at home, or awake where that is not told, from a minute of the day on for so long.
fn attended(home: &[ClockWindow], from_min: u16, minutes: u16) -> bool {
    let there = coverage(if home.is_empty() { std::slice::from_ref(&AWAKE) } else { home }, 1440);
    (from_min..from_min + minutes).all(|minute| there[usize::from(minute % 1440)] > 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_run_is_attended_from_its_first_minute_to_its_last() {
        let at = |hour: u16, hours: u16, home: &[ClockWindow]| attended(home, 60 * hour, 60 * hours);
        // Awake from 7 to 22.
        assert!(at(18, 4, &[]) && !at(19, 4, &[]) && !at(1, 1, &[]));
        let window = |from: u16, to: u16| ClockWindow { from_minute: 60 * from, to_minute: 60 * to };
        let home = [window(6, 8), window(16, 23)];
        assert!(at(6, 2, &home) && !at(6, 3, &home) && at(16, 6, &home) && !at(20, 4, &home));
        // Over midnight, where somebody says so.
        assert!(at(22, 4, &[window(20, 4)]) && !at(22, 8, &[window(20, 4)]));
    }
}
