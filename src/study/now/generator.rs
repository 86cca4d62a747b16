//! A generator started from here on, and for how long.

use serde::Serialize;

use super::{COSTS_LITTLE, lasting};
use crate::engine::Plan;
use crate::loads::coverage;
use crate::scenario::model::{Begins, ClockWindow, Generator, Scenario, Station};
use crate::study::changes::{CHOSEN_ON, choosing_seed};
use crate::trials::Settings;
use crate::trials::run::run_part;
use crate::trials::tally::Tally;

/// Lengths of a run that are tried \[h\].
const RUNS_H: [f64; 7] = [1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0];

/// When people are awake, where nobody has told when somebody is at home \[minutes after midnight\]; common practice, no source. A
/// generator is not left to itself while people sleep.
const AWAKE: ClockWindow = ClockWindow { from_minute: 7 * 60, to_minute: 22 * 60 };

/// What a longer run must add, in shares of the trials, to be worth its fuel.
const WORTH_FUEL: f64 = 0.01;

/// A generator that is started from here on at one hour of every day, instead of at the hours of the scenario or besides.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct GeneratorRun {
    /// When it starts, today and every day: the first step from now in which somebody is there, awake, and for the whole run, or
    /// the first step from now where `kept_awake` \[minutes after midnight\].
    pub from_min: u16,
    /// Length of a run \[h\].
    pub run_h: f64,
    /// Whether it runs at the scenario's hours too.
    pub and_planned: bool,
    /// Whether somebody has to stay up or be there for it, outside the hours in which somebody is: a device that a person's health
    /// hangs on would stop before the next run within them.
    pub kept_awake: bool,
    /// The most that the runs of a day burn, the charger taking all that it can \[L\]; `None` where its thirst is not known.
    pub run_l: Option<f64>,
    /// Fuel on hand \[L\]; `None` where it never ends.
    pub on_hand_l: Option<f64>,
}

impl GeneratorRun {
    /// For how many whole days the fuel lasts, at its most; `None` where that is not known.
    #[must_use]
    pub fn runs(&self) -> Option<f64> {
        let (run_l, on_hand_l) = (self.run_l.filter(|litres| *litres > 0.0)?, self.on_hand_l?);
        Some((on_hand_l / run_l + 1e-9).floor())
    }
}

/// A run, and the generator at its hours.
pub(super) struct Driven<'a> {
    pub told: GeneratorRun,
    generator: Generator,
    station: &'a Station,
}

impl Driven<'_> {
    /// A plan with the generator run so.
    pub(super) fn on(&self, plan: &Plan) -> Plan {
        let there = self.told.kept_awake.then(|| plan.with_a_hand_at(self.told.from_min));
        there.as_ref().unwrap_or(plan).with_generator(&self.generator, self.station)
    }
}

/// The run worth telling; `None` where there is none to start, nothing to burn, or where the mains comes back every day.
///
/// * `scenario` — from here on; `plan` — what has to be kept on; `devices` — streams of the loads among it that a person's health
///   hangs on.
pub(super) fn run_from_here<'a>(
    scenario: &'a Scenario,
    (plan, devices): (&Plan, &[u64]),
    (horizons_h, judged): (&[f64; 4], usize),
    settings: &Settings,
) -> Option<Driven<'a>> {
    let generator = scenario.generator.as_ref().filter(|_| plan.mains.is_empty() && plan.second.is_none())?;
    let station = &scenario.station;
    let charger = station.wall_charger?;
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
    let trials = CHOSEN_ON.min(settings.trials);
    let seed = choosing_seed(settings);
    let allowed = (0..steps).map(starts).find(|&from_min| whole(from_min, RUNS_H[0]));
    let alone = plan.keeping(|k| devices.contains(&plan.loads[k].stream));
    // A device that a person's health hangs on comes before quiet hours.
    let kept_awake = !devices.is_empty() && allowed != Some(starts(0)) && {
        let running = generator.hours.iter().any(|window| window.contains(f64::from(minute_of_day)));
        let planned = generator.hours.iter().map(|window| window.from_minute);
        let ahead = |minute: u16| (minute % 1440 + 1440 - minute_of_day % 1440) % 1440;
        let next_min = allowed.into_iter().chain(planned).map(ahead).min().unwrap_or(1440);
        !running && {
            let tally = run_part(std::slice::from_ref(&alone), seed, 0..trials).pop()?;
            let lasted = lasting(&tally, f64::from(next_min) / 60.0, plan.season.step_h);
            (lasted as f64) < (1.0 - COSTS_LITTLE) * trials as f64
        }
    };
    let from_min = if kept_awake { starts(0) } else { allowed? };
    let planned_h = plan.generator_runs_h(generator);
    let there = if kept_awake { plan.with_a_hand_at(from_min) } else { plan.clone() };
    let hours_h = |driven: &Driven| there.generator_runs_h(&driven.generator);
    let lengths = RUNS_H.into_iter().filter(|&run_h| kept_awake || whole(from_min, run_h));
    let mut tried: Vec<Driven> = lengths
        .flat_map(|run_h| [(run_h, false), (run_h, true)])
        .map(|(run_h, and_planned)| {
            let mut run = at(from_min, run_h);
            if and_planned {
                run.hours.extend(generator.hours.iter().copied());
            }
            let on_hand_l = generator.fuel.map(|litres| litres.0);
            let told = GeneratorRun { from_min, run_h, and_planned, kept_awake, run_l: None, on_hand_l };
            Driven { told, generator: run, station }
        })
        .filter(|driven| !driven.told.and_planned || (planned_h > 0.0 && hours_h(driven) > planned_h + 1e-9))
        .collect();
    // What burns less first; where somebody has to stay up, so much of it as may be at the planned hours.
    let apart = |driven: &Driven| kept_awake && planned_h > 0.0 && !driven.told.and_planned;
    tried.sort_by(|a, b| apart(a).cmp(&apart(b)).then(hours_h(a).total_cmp(&hours_h(b))));
    let scores_of = |plan: &Plan| -> Vec<u64> {
        let plans: Vec<Plan> = tried.iter().map(|driven| driven.on(plan)).collect();
        let score = |tally: &Tally| -> u64 {
            horizons_h[..=judged].iter().map(|&hours| lasting(tally, hours, plan.season.step_h)).sum()
        };
        run_part(&plans, seed, 0..trials).iter().map(score).collect()
    };
    let mut scores = scores_of(plan);
    if kept_awake {
        scores.iter_mut().zip(scores_of(&alone)).for_each(|(score, alone)| *score += alone);
    }
    let most = scores.iter().copied().max()? as f64;
    let best = scores.iter().position(|&score| score as f64 >= most - WORTH_FUEL * trials as f64)?;
    let mut driven = tried.swap_remove(best);
    let (watts, run_h) = (driven.on(plan).generator_most_w(generator, &charger), hours_h(&driven));
    driven.told.run_l = generator.burns_l(watts * run_h, run_h);
    Some(driven)
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
