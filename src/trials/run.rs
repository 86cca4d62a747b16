//! Running trials.

use std::ops::Range;
use std::sync::atomic::{AtomicBool, Ordering};

use super::interval::{Z_95, wilson};
use super::tally::{Clock, Tally};
use crate::engine::lanes::{self, Chunks, Ended, Manner, Sink, Waiting};
use crate::engine::{Plan, Season, TrialSeed};

/// Trials between two looks at the stopping rule.
const LOOK: u64 = 2000;

/// Stretches between looks that are worked on at once.
const LOOKS_AHEAD: u64 = 4;

/// Trials that are worked on at once where nothing can stop them early.
const STRETCH: u64 = 64_000;

/// Trials whose outages are drawn in one piece of work.
const PIECE: u64 = 1000;

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

/// Runs all plans through the same trials: the same outages, the same weather where they share a season, the same random numbers
/// with loads. The first plan's tally holds the fan of charge; the others leave it empty.
///
/// Returns one tally a plan, all with the same number of trials: `settings.trials`, or fewer where the precision was
/// reached or `progress` asked to stop. Bit-identical for any number of threads (short of an asked stop).
#[must_use]
pub fn run(plans: &[Plan], settings: &Settings, progress: &dyn Progress) -> Vec<Tally> {
    run_by(plans, settings, progress, STRETCH)
}

/// As [`run`], which looks whether to stop after each `stretch` of trials where no precision is asked for. The last digits of
/// sums hang on it, counts do not.
#[must_use]
pub fn run_by(plans: &[Plan], settings: &Settings, progress: &dyn Progress, stretch_of: u64) -> Vec<Tally> {
    let mut tallies = vec![Tally::default(); plans.len()];
    let (long, at_once) = if settings.precision.is_some() { (LOOK, LOOKS_AHEAD) } else { (stretch_of, 1) };
    let mut first = 0;
    'rounds: while first < settings.trials && !progress.stop() {
        let stretches: Vec<_> = (0..at_once)
            .map(|k| (first + k * long).min(settings.trials)..(first + (k + 1) * long).min(settings.trials))
            .filter(|stretch| !stretch.is_empty())
            .collect();
        first += at_once * long;
        for parts in each(&stretches, |trials| stretch(plans, settings.seed, trials.clone())) {
            for (sum, next) in tallies.iter_mut().zip(&parts) {
                sum.merge(next);
            }
            let Some(main) = tallies.first() else { break 'rounds };
            if let Some(precision) = settings.precision
                && main.trials % LOOK == 0
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

/// Runs all plans through some trials of a seed: parts that follow one another can be merged.
#[must_use]
pub fn run_part(plans: &[Plan], seed: u64, trials: Range<u64>) -> Vec<Tally> {
    stretch(plans, seed, trials)
}

#[cfg(feature = "cli")]
pub(crate) fn each<P: Sync, T: Send>(pieces: &[P], work: impl Fn(&P) -> T + Sync + Send) -> Vec<T> {
    use rayon::prelude::*;
    pieces.par_iter().map(work).collect()
}

#[cfg(not(feature = "cli"))]
pub(crate) fn each<P, T>(pieces: &[P], work: impl Fn(&P) -> T) -> Vec<T> {
    pieces.iter().map(work).collect()
}

/// A stretch of trials through all plans.
fn stretch(plans: &[Plan], seed: u64, trials: Range<u64>) -> Vec<Tally> {
    let mut tallies = vec![Tally::default(); plans.len()];
    let mut left: Vec<_> = plans.iter().enumerate().collect();
    while let Some((_, plan)) = left.first() {
        let season = &*plan.season;
        let (same, others): (Vec<_>, Vec<_>) =
            left.iter().copied().partition(|(_, plan)| std::ptr::eq(&*plan.season, season));
        let empty = || Adder { season, tallies: same.iter().map(|(index, _)| (*index, Tally::default())).collect() };
        let numbered: Vec<(usize, &Plan)> = same.iter().enumerate().map(|(k, (_, plan))| (k, *plan)).collect();
        let waiting = waiting(season, seed, trials.clone());
        let pieces = side_by_side(&numbered, &waiting, &Manner::default(), empty);
        let mut pieces: Vec<_> = pieces.into_iter().map(|adder| adder.tallies.into_iter()).collect();
        for (index, plan) in same {
            let parts = pieces.iter_mut().filter_map(Iterator::next).map(|(_, tally)| tally);
            tallies[index] = Tally::gather(parts, trials.clone(), plan.unknowns().len());
        }
        left = others;
    }
    tallies
}

/// The outages of some trials.
pub(crate) fn waiting(season: &Season, seed: u64, trials: Range<u64>) -> Vec<Waiting> {
    let firsts: Vec<u64> = trials.clone().step_by(PIECE as usize).collect();
    each(&firsts, |&first| {
        let trials = first..(first + PIECE).min(trials.end);
        trials.map(|trial| Waiting::new(season, TrialSeed { seed, trial })).collect::<Vec<_>>()
    })
    .concat()
}

/// Takes plans of one season through trials in pieces that depend on the trials alone; returns what each piece told a sink of
/// its own.
pub(crate) fn side_by_side<S: Sink + Send>(
    plans: &[(usize, &Plan)],
    waiting: &[Waiting],
    manner: &Manner,
    sink: impl Fn() -> S + Sync + Send,
) -> Vec<S> {
    let order = lanes::arrange(waiting);
    each(&lanes::batches(waiting, &order), |batch| {
        let mut sink = sink();
        let mut chunks: Chunks = Chunks::default();
        chunks.run(plans, waiting, batch, manner, &mut sink);
        sink
    })
}

/// Adds up what trials come to.
struct Adder<'a> {
    season: &'a Season,
    /// The first plan's place among all; plan 0 has its charge told.
    tallies: Vec<(usize, Tally)>,
}

impl Sink for Adder<'_> {
    fn wants_charge(&self, plan: usize) -> bool {
        self.tallies[plan].0 == 0
    }

    fn charges(&mut self, plan: usize, index: usize, rows: &[u32], (width, at): (usize, usize)) {
        self.tallies[plan].1.fan.add(index, rows.chunks_exact(width).map(|row| row[at]));
    }

    fn dark(&mut self, plan: usize, load: usize, counts: &[u32]) {
        self.tallies[plan].1.dark.add(load, counts);
    }

    fn outcome(&mut self, plan: usize, ended: &Ended<'_>) {
        let Ended { trial: Waiting { rng, history, .. }, outcome, loads, unknowns, .. } = *ended;
        let (first, steps) = (history.first_step, history.steps);
        let clock = Clock { first, steps, step_h: self.season.step_h, steps_a_day: self.season.steps_a_day };
        self.tallies[plan].1.add(rng.trial, outcome, clock, loads, unknowns);
    }
}
