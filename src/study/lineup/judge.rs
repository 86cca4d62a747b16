//! The trials behind the cells of one case in one place.
//!
//! All kits meet the same outages, weather and draws for loads, drawn once. A first look at [`PROBE`] trials settles the clear
//! cells and what additions would do; only cells whose interval is not clear of every threshold go on to all trials, from
//! trial 0 again, so that a cell is exactly what a run of so many trials gives. Whether a cell goes on depends on that
//! cell alone, never on its neighbours or on the number of threads.

use std::sync::Arc;

use super::cell::{CellAnswer, FirstFailure, HALF, TWENTIETH};
use super::outcomes::Outcomes;
use crate::engine::Plan;
use crate::study::compare::Pair;
use crate::study::verdict::{LIKELY, SURE};
use crate::trials::interval::wilson;
use crate::trials::run::Progress;
use crate::trials::tally::count_quantile;
use crate::trials::unknowns::{ENOUGH, Survival, survivals};
use crate::trials::{Settings, Tally, run};

/// Trials of the first look, and those that additions are judged by.
pub const PROBE: u64 = 1_000;

/// Survivals that a cell should be told from whatever the target is.
const ALWAYS: [f64; 6] = [TWENTIETH, HALF, LIKELY, 0.8, 0.9, SURE];

/// Standard deviations that a cell must be clear of a threshold: one cell in a thousand is wrongly clear at each.
const CLEAR_Z: f64 = 3.29;

/// How cells are judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    /// The run's seed.
    pub seed: u64,
    /// Most trials.
    pub trials: u64,
    /// Survival that the lower end of the range should reach, 0 to 1.
    pub target: f64,
    /// Whether clear cells take all trials too.
    pub all_trials: bool,
}

impl Rule {
    /// What a cell must be clear of, in ascending order.
    #[must_use]
    pub fn thresholds(&self) -> Vec<f64> {
        let mut all: Vec<f64> = ALWAYS.into_iter().chain([self.target]).collect();
        all.sort_by(f64::total_cmp);
        all.dedup();
        all
    }
}

/// A kit ready for the trials.
#[derive(Debug, Clone)]
pub struct Contestant {
    /// The kit as it is.
    pub plan: Plan,
    /// Whether the start of a vital load may switch its outlet off.
    pub may_stop: bool,
    /// The kit with each of [`super::Addition::ALL`], where it can be made.
    pub additions: [Option<Plan>; 3],
}

/// Whether a cell's trials leave no doubt about any threshold: neither chance about the share of survivors, nor chance
/// about where the lower end of the whole range lies.
fn clear(verdict: &CellAnswer, rule: &Rule) -> bool {
    let s = &verdict.survival;
    let chance = wilson(verdict.outcomes.survived(), s.trials, CLEAR_Z);
    let reach = s.probability - chance.low;
    rule.thresholds().into_iter().all(|t| {
        let share_is_clear = chance.high < t || t < chance.low;
        let low_end_is_clear = chance.high < t || reach < (s.interval.low - t).abs();
        share_is_clear && low_end_is_clear
    })
}

/// Judges some kits on the same random numbers; `None` where `progress` asked to stop before all was done.
pub fn judge(contestants: &[Contestant], rule: &Rule, progress: &dyn Progress) -> Option<Vec<CellAnswer>> {
    let mut plans: Vec<Plan> = Vec::new();
    for contestant in contestants {
        plans.push(contestant.plan.clone());
        plans.extend(contestant.additions.iter().flatten().cloned());
    }
    share_geometry(&mut plans);
    let probe = rule.trials.min(PROBE);
    let tallies = all_of(&plans, rule.seed, probe, progress)?;
    let answers = survivals_of(&plans, &tallies, rule.seed, progress)?;
    let mut rest = tallies.iter().zip(&plans).zip(answers);
    let mut verdicts = Vec::with_capacity(contestants.len());
    let mut undecided = Vec::new();
    for (k, contestant) in contestants.iter().enumerate() {
        let ((own, plan), survival) = rest.next()?;
        let mut verdict = CellAnswer { may_stop: contestant.may_stop, ..verdict(plan, own, survival) };
        for (pair, addition) in verdict.additions.iter_mut().zip(&contestant.additions) {
            if addition.is_some() {
                *pair = Some(Pair::of(own, rest.next()?.0.0));
            }
        }
        if probe < rule.trials && (rule.all_trials || !clear(&verdict, rule)) {
            undecided.push((k, plan.clone()));
        }
        verdicts.push(verdict);
    }
    if !undecided.is_empty() {
        let (places, plans): (Vec<usize>, Vec<Plan>) = undecided.into_iter().unzip();
        let tallies = all_of(&plans, rule.seed, rule.trials, progress)?;
        let answers = survivals_of(&plans, &tallies, rule.seed, progress)?;
        for (((k, plan), tally), survival) in places.into_iter().zip(&plans).zip(&tallies).zip(answers) {
            let CellAnswer { additions, may_stop, .. } = verdicts[k];
            verdicts[k] = CellAnswer { additions, may_stop, ..verdict(plan, tally, survival) };
        }
    }
    Some(verdicts)
}

/// All trials of all plans, or nothing.
fn all_of(plans: &[Plan], seed: u64, trials: u64, progress: &dyn Progress) -> Option<Vec<Tally>> {
    let tallies = run(plans, &Settings { seed, trials, precision: None }, progress);
    (tallies.len() == plans.len() && tallies.iter().all(|tally| tally.trials == trials)).then_some(tallies)
}

/// Survival of all plans by their trials, or nothing where `progress` asked to stop: what a cell says must not hang on when.
fn survivals_of(plans: &[Plan], tallies: &[Tally], seed: u64, progress: &dyn Progress) -> Option<Vec<Survival>> {
    let trials = tallies.first().map_or(0, |tally| tally.trials);
    let answers = survivals(plans, tallies, &Settings { seed, trials, precision: None }, progress);
    (answers.len() == plans.len() && (trials >= ENOUGH || !progress.stop())).then_some(answers)
}

/// Arrays that look the same way share one table, so that a trial works out their sun once.
fn share_geometry(plans: &mut [Plan]) {
    let mut known: Vec<Arc<_>> = Vec::new();
    for array in plans.iter_mut().flat_map(|plan| &mut plan.arrays) {
        match known.iter().find(|twin| Arc::ptr_eq(twin, &array.geometry) || **twin == array.geometry) {
            Some(twin) => array.geometry = Arc::clone(twin),
            None => known.push(Arc::clone(&array.geometry)),
        }
    }
}

fn verdict(plan: &Plan, tally: &Tally, mut survival: Survival) -> CellAnswer {
    let failures = tally.trials - tally.survived;
    let first_failure = tally.fails_first().map(|(k, load)| FirstFailure {
        load: plan.loads[k].name.clone(),
        share: load.failed_first as f64 / failures as f64,
        after_h_p50: (count_quantile(&tally.failure_step, 0.5).unwrap_or(0) + 1) as f64 * plan.season.step_h,
    });
    // Which doubt is the largest is a question for `run`; it is not kept.
    survival.shares.clear();
    survival.held.clear();
    CellAnswer {
        survival,
        may_stop: false,
        unmet_wh_mean: tally.missed_sum_wh / tally.trials as f64,
        first_failure,
        outcomes: Outcomes::of(&tally.survival),
        additions: [None; 3],
    }
}
