//! Rare failures: importance sampling with random numbers that lean towards trouble.
//!
//! Plain trials need about `100 / p` of them to tell a failure probability `p` to a fifth. Here some of the standard normal
//! numbers behind a trial (the sky's spells, the slow part of the weather, the error of the climate) are drawn with a mean
//! that is not 0, so that failures are common, and every failure counts with its weight, the density it should have had over
//! the density it was drawn with. The estimate is unbiased whatever the lean; a good lean makes it sharp. The lean is found
//! by the cross-entropy method (Rubinstein 1999; de Boer et al. 2005, Annals of Operations Research 134:19): trials are
//! drawn, the worst tenth is kept, and the lean becomes their weighted mean, until failing is no longer rare.
//!
//! Failures that come in another way than the lean's (a later dark week, a long outage) are seldom among leaning trials and
//! then weigh much: an estimate from those alone is too low most of the time, far too high now and then, and looks surer than
//! it is. So plain trials, and others that lean half as far, go into the same estimate: every failure, whichever way it was
//! drawn, weighs one over the number of failures like it that all the trials together expect (a mixture of known shares,
//! Hesterberg 1995, weighed by the balance heuristic of Veach & Guibas 1995). None weighs more than one plain trial, and the
//! interval counts one such failure more than was seen.

use super::interval::{Interval, weighted_sum};
use super::run::Progress;
use crate::math;

/// Something that can be drawn with leaning random numbers.
pub trait Leaning: Sync {
    /// Number of kinds of normal numbers that can lean.
    fn kinds(&self) -> usize;

    /// Draws trials of stream `seed` by their numbers, the normal numbers of each kind with the mean that `lean` says; in
    /// their order.
    fn draw(&self, seed: u64, trials: &[u64], lean: &[f64]) -> Vec<Trial>;

    /// Which of the first trials of stream `seed` fail without any lean; `None` where `progress` asked to stop.
    fn plain_failures(&self, seed: u64, trials: u64, progress: &dyn Progress) -> Option<Vec<u64>> {
        let mut failed = Vec::new();
        for block in blocks(trials) {
            let drawn = self.draw(seed, &block, &vec![0.0; self.kinds()]);
            failed.extend(block.iter().zip(drawn).filter(|(_, drawn)| drawn.margin < 0.0).map(|(trial, _)| *trial));
            if progress.stop() {
                return None;
            }
        }
        Some(failed)
    }
}

/// A trial that leaned.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// Below 0 when the trial failed, and the lower the nearer to failing.
    pub margin: f64,
    /// Sum of the numbers drawn of each kind.
    pub sums: Vec<f64>,
    /// How many they were.
    pub counts: Vec<f64>,
}

/// The first trials in blocks that are held in memory at once.
fn blocks(trials: u64) -> impl Iterator<Item = Vec<u64>> {
    const BLOCK: u64 = 16_000;
    (0..trials).step_by(BLOCK as usize).map(move |first| (first..trials.min(first + BLOCK)).collect())
}

/// How many trials to spend.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// Plain trials, the first of the stream; 1 or more.
    pub plain: u64,
    /// Leaning trials that the estimate is made of; 0 for plain ones alone.
    pub leaning: u64,
    /// Trials of each stage of the search for the lean.
    pub search: u64,
}

/// A rare probability.
#[derive(Debug, Clone, PartialEq)]
pub struct Rare {
    /// Estimated probability of failing; 0 where nothing failed.
    pub failure: f64,
    /// 95 % interval of chance.
    pub interval: Interval,
    /// Plain trials.
    pub plain: u64,
    /// Failures among them.
    pub plain_failures: u64,
    /// Leaning trials.
    pub leaning: u64,
    /// Failures among them.
    pub leaning_failures: u64,
    /// Trials that the search took.
    pub search: u64,
    /// How many plain trials would give as narrow an interval, over [`Rare::trials`]; 0 where nothing failed.
    pub gain: f64,
    /// The lean that was found.
    pub lean: Vec<f64>,
}

impl Rare {
    /// All trials that went into it, those of the search counted.
    #[must_use]
    pub fn trials(&self) -> u64 {
        self.plain + self.leaning + self.search
    }
}

/// How far the leaning trials lean, as shares of the lean that was found; equally many each.
const SHARES: [f64; 2] = [0.5, 1.0];
/// Share of the trials of a stage whose mean becomes the lean.
const WORST: f64 = 0.1;
/// Most stages of the search.
const STAGES: u64 = 8;
/// Greatest lean of any kind: beyond, weights spread too far.
const MOST_LEAN: f64 = 3.0;

impl Trial {
    /// Log of the density of its numbers drawn with a share of the lean over that without: for a number x around s it is
    /// `s x - s² / 2`.
    fn log_density(&self, lean: &[f64], share: f64) -> f64 {
        (0..lean.len()).map(|k| share * lean[k] * (self.sums[k] - 0.5 * self.counts[k] * share * lean[k])).sum()
    }
}

/// Finds a lean that makes failing common; with it how many trials that took. `None` where `progress` asked to stop.
fn search(model: &impl Leaning, seed: u64, trials: u64, progress: &dyn Progress) -> Option<(Vec<f64>, u64)> {
    let mut lean = vec![0.0; model.kinds()];
    let mut spent = 0;
    for stage in 1..=STAGES {
        if progress.stop() {
            return None;
        }
        let drawn = model.draw(seed.wrapping_add(stage), &(0..trials).collect::<Vec<_>>(), &lean);
        spent += trials;
        let mut margins: Vec<f64> = drawn.iter().map(|t| t.margin).collect();
        margins.sort_by(f64::total_cmp);
        let level = margins[((WORST * margins.len() as f64) as usize).min(margins.len() - 1)];
        let reached = level < 0.0;
        let level = if reached { 0.0 } else { level };
        let (mut total, mut means) = (0.0, vec![0.0; lean.len()]);
        for trial in drawn.iter().filter(|t| t.margin < level || (!reached && t.margin <= level)) {
            let weight = math::exp(-trial.log_density(&lean, 1.0));
            total += weight;
            for (mean, (sum, count)) in means.iter_mut().zip(trial.sums.iter().zip(&trial.counts)) {
                *mean += weight * if *count > 0.0 { sum / count } else { 0.0 };
            }
        }
        if total > 0.0 {
            for (lean, mean) in lean.iter_mut().zip(&means) {
                *lean = (mean / total).clamp(-MOST_LEAN, MOST_LEAN);
            }
        }
        if reached {
            break;
        }
    }
    Some((lean, spent))
}

/// Estimates the probability of failing. `None` where `progress` asked to stop.
pub fn rare<M: Leaning>(model: &M, seed: u64, effort: Effort, progress: &dyn Progress) -> Option<Rare> {
    let failed = model.plain_failures(seed, effort.plain, progress)?;
    let plain_failures = failed.len() as u64;
    let (lean, search) = match effort.leaning {
        0 => (vec![0.0; model.kinds()], 0),
        _ => search(model, seed, effort.search, progress)?,
    };
    let shared = effort.leaning as f64 / SHARES.len() as f64;
    // One over the number of failures like this that all trials together expect for each one of probability 1.
    let weight = |trial: &Trial| {
        let leaning: f64 = SHARES.iter().map(|&share| shared * math::exp(trial.log_density(&lean, share))).sum();
        1.0 / (effort.plain as f64 + leaning)
    };
    // The plain ones that failed are drawn once more, for the numbers that they are made of.
    let mut weights: Vec<f64> = model.draw(seed, &failed, &vec![0.0; lean.len()]).iter().map(weight).collect();
    if progress.stop() {
        return None;
    }
    let leans = SHARES.map(|share| lean.iter().map(|l| share * l).collect::<Vec<f64>>());
    for block in blocks(effort.leaning) {
        let mut of_block = vec![None; block.len()];
        for (which, lean) in leans.iter().enumerate() {
            let mine = |number: &u64| (*number % SHARES.len() as u64) as usize == which;
            let numbers: Vec<u64> = block.iter().copied().filter(mine).collect();
            // TrialSeed of their own: not that of the plain trials, nor that of the search.
            let drawn = model.draw(seed.wrapping_add(STAGES + 1), &numbers, lean);
            for (number, drawn) in numbers.iter().zip(&drawn).filter(|(_, drawn)| drawn.margin < 0.0) {
                of_block[(number - block[0]) as usize] = Some(weight(drawn));
            }
        }
        weights.extend(of_block.into_iter().flatten());
        if progress.stop() {
            return None;
        }
    }
    let failure: f64 = weights.iter().sum();
    let squares: f64 = weights.iter().map(|w| w * w).sum();
    let interval = weighted_sum(failure, squares, 1.0 / effort.plain as f64);
    let mut answer = Rare {
        failure,
        interval: Interval { low: interval.low, high: interval.high.min(1.0) },
        plain: effort.plain,
        plain_failures,
        leaning: effort.leaning,
        leaning_failures: weights.len() as u64 - plain_failures,
        search,
        gain: 0.0,
        lean,
    };
    if failure > 0.0 {
        answer.gain = failure * (1.0 - failure) / squares / answer.trials() as f64;
    }
    Some(answer)
}

#[cfg(test)]
mod tests;
