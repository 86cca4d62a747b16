//! Running trials.

use std::sync::atomic::{AtomicBool, Ordering};

use super::interval::{Z_95, wilson};
use super::tally::{FanWatcher, Tally};
use crate::engine::lanes::{self, Chunks, Sink, Waiting, Width};
use crate::engine::{LoadOutcome, Luck, Outcome, Plan, Season, Workspace};

/// Trials that one piece of work holds. Fixed, so that sums are folded the same way on any number of threads.
const GROUP: u64 = 1000;

/// Groups between two looks at the stopping rule.
const GROUPS_A_LOOK: u64 = 2;

/// Groups that are worked on at once, enough for many threads.
const GROUPS_A_ROUND: u64 = 64;

/// How many trials, and when to stop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// The run's seed.
    pub seed: u64,
    /// Most trials.
    pub trials: u64,
    /// Stop as soon as the 95 % Wilson interval of the first plan's survival is at most this wide on either side of its
    /// middle (0.01 for one point); `None` runs all trials. Looked at every 2,000 trials, on any number of threads.
    pub precision: Option<f64>,
}

/// Sees how far a run has come and may end it.
pub trait Progress: Sync {
    /// Called after each round with the number of trials done so far.
    fn done(&self, trials: u64);
    /// Whether to stop now with what there is.
    fn stop(&self) -> bool;
}

/// Says nothing and never stops.
#[derive(Debug, Clone, Copy, Default)]
pub struct Quiet;

impl Progress for Quiet {
    fn done(&self, _: u64) {}
    fn stop(&self) -> bool {
        false
    }
}

/// Progress by a flag that something else may raise.
impl Progress for AtomicBool {
    fn done(&self, _: u64) {}
    fn stop(&self) -> bool {
        self.load(Ordering::Relaxed)
    }
}

/// Runs all plans through the same trials: the same outages, the same weather where they share a season, the same luck
/// with loads. The first plan's tally holds the fan of charge; the others leave it empty.
///
/// Returns one tally a plan, all with the same number of trials: `settings.trials`, or fewer where the precision was
/// reached or `progress` asked to stop. Bit-identical for any number of threads (short of an asked stop).
#[must_use]
pub fn run(plans: &[Plan], settings: &Settings, progress: &impl Progress) -> Vec<Tally> {
    let mut tallies = vec![Tally::default(); plans.len()];
    let groups = settings.trials.div_ceil(GROUP);
    let in_lanes: Vec<bool> = plans.iter().map(lanes::covers).collect();
    // A run that may stop early works ahead of its next look by little, one that must not by much.
    let round = if settings.precision.is_some() { 4 * GROUPS_A_LOOK } else { GROUPS_A_ROUND };
    let mut first = 0;
    'rounds: while first < groups && !progress.stop() {
        let round: Vec<u64> = (first..groups.min(first + round)).collect();
        first += round.len() as u64;
        for (group, parts) in round.iter().zip(each(&round, |group| self::group(plans, &in_lanes, settings, group))) {
            for (sum, next) in tallies.iter_mut().zip(&parts) {
                sum.merge(next);
            }
            let Some(main) = tallies.first() else { break 'rounds };
            let look = (group + 1) % GROUPS_A_LOOK == 0;
            if let Some(precision) = settings.precision.filter(|_| look)
                && wilson(main.survived, main.trials, Z_95).width() <= 2.0 * precision
            {
                progress.done(main.trials);
                break 'rounds;
            }
        }
        progress.done(tallies.first().map_or(0, |main| main.trials));
    }
    tallies
}

#[cfg(feature = "cli")]
pub(crate) fn each<T: Send>(groups: &[u64], work: impl Fn(u64) -> T + Sync) -> Vec<T> {
    use rayon::prelude::*;
    groups.par_iter().map(|&group| work(group)).collect()
}

#[cfg(not(feature = "cli"))]
pub(crate) fn each<T>(groups: &[u64], work: impl Fn(u64) -> T) -> Vec<T> {
    groups.iter().map(|&group| work(group)).collect()
}

/// One group of trials through all plans.
fn group(plans: &[Plan], in_lanes: &[bool], settings: &Settings, group: u64) -> Vec<Tally> {
    let trials = group * GROUP..((group + 1) * GROUP).min(settings.trials);
    let mut tallies: Vec<Tally> =
        plans.iter().map(|plan| Tally::of_trials(trials.clone(), plan.unknowns().len())).collect();
    one_by_one(plans, in_lanes, settings.seed, trials.clone(), &mut tallies);
    let mut chunks: Chunks = Chunks::default();
    let mut left: Vec<(usize, &Plan)> = plans.iter().enumerate().filter(|(index, _)| in_lanes[*index]).collect();
    while let Some((_, plan)) = left.first() {
        let season = &plan.season;
        let (same, others): (Vec<_>, Vec<_>) =
            left.iter().copied().partition(|(_, plan)| std::sync::Arc::ptr_eq(&plan.season, season));
        side_by_side(&mut chunks, &same, settings.seed, trials.clone(), &mut tallies);
        left = others;
    }
    tallies
}

/// Step of the day and hour of the day (0 to 23) of a failure.
fn hour_of_failure(season: &Season, first_step: usize, outcome: &Outcome) -> Option<usize> {
    let (step, _) = outcome.failure?;
    Some((((first_step + step as usize) % season.steps_a_day) as f64 * season.step_h) as usize)
}

/// Plans that cannot be simulated in lanes.
fn one_by_one(plans: &[Plan], in_lanes: &[bool], seed: u64, trials: std::ops::Range<u64>, tallies: &mut [Tally]) {
    if in_lanes.iter().all(|&covered| covered) {
        return;
    }
    let mut workspace = Workspace::new();
    for trial in trials {
        let luck = Luck { seed, trial };
        let mut before = None;
        for (index, plan) in plans.iter().enumerate().filter(|(index, _)| !in_lanes[*index]) {
            let history = match before {
                Some((season, history)) if std::ptr::eq(season, &*plan.season) => history,
                _ => workspace.begin(&plan.season, luck),
            };
            before = Some((&*plan.season, history));
            let tally = &mut tallies[index];
            let mut watcher = FanWatcher((index == 0).then_some(&mut tally.fan));
            let outcome = workspace.run(plan, luck, &history, &mut watcher);
            let hours = history.steps as f64 * plan.season.step_h;
            let hour = hour_of_failure(&plan.season, history.first_step, &outcome);
            tally.add(trial, &outcome, hours, hour, workspace.loads(), workspace.unknowns());
        }
    }
}

/// Adds up what trials come to in the order they are told in, which does not depend on threads.
struct Adder<'a> {
    season: &'a Season,
    tallies: &'a mut [Tally],
}

impl Sink for Adder<'_> {
    fn wants_charge(&self, plan: usize) -> bool {
        plan == 0
    }

    #[inline(always)]
    fn charges<const L: usize>(&mut self, plan: usize, index: usize, hundredths: &[[u32; L]], column: usize) {
        self.tallies[plan].fan.add(index, hundredths.iter().map(|row| row[column]));
    }

    fn outcome(&mut self, plan: usize, trial: &Waiting, outcome: &Outcome, loads: &[LoadOutcome], unknowns: &[f64]) {
        let hours = trial.history.steps as f64 * self.season.step_h;
        let hour = hour_of_failure(self.season, trial.history.first_step, outcome);
        self.tallies[plan].add(trial.luck.trial, outcome, hours, hour, loads, unknowns);
    }
}

/// Plans of one season in lanes.
fn side_by_side(
    chunks: &mut Chunks<f32>,
    plans: &[(usize, &Plan)],
    seed: u64,
    trials: std::ops::Range<u64>,
    tallies: &mut [Tally],
) {
    let Some((_, plan)) = plans.first() else { return };
    let season = &plan.season;
    let waiting: Vec<Waiting> = trials.map(|trial| Waiting::new(season, Luck { seed, trial })).collect();
    chunks.run(plans, &waiting, Width::Any, false, &mut Adder { season, tallies });
}
