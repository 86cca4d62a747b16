//! Running trials.

use std::sync::atomic::{AtomicBool, Ordering};

use super::interval::{Z_95, wilson};
use super::tally::{FanWatcher, Tally};
use crate::engine::{Luck, Plan, Workspace};

/// Trials that one piece of work holds. Fixed, so that sums are folded the same way on any number of threads.
const GROUP: u64 = 125;

/// Groups between two looks at the stopping rule.
const GROUPS_A_ROUND: u64 = 16;

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
    let mut first = 0;
    while first < groups && !progress.stop() {
        let round: Vec<u64> = (first..groups.min(first + GROUPS_A_ROUND)).collect();
        first += round.len() as u64;
        for group in each(&round, |group| self::group(plans, settings, group)) {
            for (sum, next) in tallies.iter_mut().zip(&group) {
                sum.merge(next);
            }
        }
        let Some(main) = tallies.first() else { break };
        progress.done(main.trials);
        let interval = wilson(main.survived, main.trials, Z_95);
        if settings.precision.is_some_and(|precision| interval.width() <= 2.0 * precision) {
            break;
        }
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

fn group(plans: &[Plan], settings: &Settings, group: u64) -> Vec<Tally> {
    let mut workspace = Workspace::new();
    let mut tallies = vec![Tally::default(); plans.len()];
    for trial in group * GROUP..((group + 1) * GROUP).min(settings.trials) {
        let luck = Luck { seed: settings.seed, trial };
        let mut history = None;
        for (index, plan) in plans.iter().enumerate() {
            let shared = index > 0 && std::sync::Arc::ptr_eq(&plan.season, &plans[index - 1].season);
            let history = match history {
                Some(history) if shared => history,
                _ => *history.insert(workspace.begin(&plan.season, luck)),
            };
            let tally = &mut tallies[index];
            let mut watcher = FanWatcher((index == 0).then_some(&mut tally.fan));
            let outcome = workspace.run(plan, luck, &history, &mut watcher);
            let hours = history.steps as f64 * plan.season.step_h;
            let hour_of_failure = outcome.failure.map(|(step, _)| {
                (((history.first_step + step as usize) % plan.season.steps_a_day) as f64 * plan.season.step_h) as usize
            });
            tally.add(trial, &outcome, hours, hour_of_failure, workspace.loads(), workspace.unknowns());
        }
    }
    tallies
}
