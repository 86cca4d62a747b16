//! Rare failures: importance sampling with luck that leans towards trouble.
//!
//! Plain trials need about `100 / p` of them to tell a failure probability `p` to a fifth. Here some of the standard normal
//! numbers behind a trial (the sky's spells, the slow part of the weather, the error of the climate) are drawn with a mean
//! that is not 0, so that failures are common, and every failure counts with its weight, the density it should have had over
//! the density it was drawn with. The estimate is unbiased whatever the lean; a good lean makes it sharp. The lean is found
//! by the cross-entropy method (Rubinstein 1999; de Boer et al. 2005, Annals of Operations Research 134:19): trials are
//! drawn, the worst tenth is kept, and the lean becomes their weighted mean, until failing is no longer rare. A fifth of the
//! final trials does not lean at all (defensive mixture, Hesterberg 1995), which keeps every weight below 5.

use super::interval::{Interval, Z_95};
use super::run::{Progress, each};

/// Something that can be drawn with leaning luck.
pub trait Leaning: Sync {
    /// Number of kinds of normal numbers that can lean.
    fn kinds(&self) -> usize;

    /// Draws trial `trial` of stream `seed`, the numbers of each kind with the mean that `lean` says.
    ///
    /// Writes the sum of the numbers drawn of each kind to `sums` and how many they were to `counts`; returns the margin:
    /// below 0 when the trial failed, and the lower the nearer to failing.
    fn draw(&self, seed: u64, trial: u64, lean: &[f64], sums: &mut [f64], counts: &mut [f64]) -> f64;
}

/// A rare probability.
#[derive(Debug, Clone, PartialEq)]
pub struct Rare {
    /// Estimated probability of failing.
    pub failure: f64,
    /// 95 % interval of chance.
    pub interval: Interval,
    /// Trials that went into it, those of the search counted.
    pub trials: u64,
    /// Failures among the final trials.
    pub failures: u64,
    /// How many plain trials would give as narrow an interval, over `trials`.
    pub gain: f64,
    /// The lean that was found.
    pub lean: Vec<f64>,
}

/// Share of the final trials that do not lean.
const PLAIN_SHARE: f64 = 0.2;
/// Share of the trials of a stage whose mean becomes the lean.
const WORST: f64 = 0.1;
/// Most stages of the search.
const STAGES: u64 = 8;
/// Greatest lean of any kind: beyond, weights spread too far.
const MOST_LEAN: f64 = 3.0;
/// Fewest failures that an interval is made of.
const FEWEST: u64 = 50;

struct Trial {
    margin: f64,
    /// log of true over leaning density.
    log_weight: f64,
    sums: Vec<f64>,
    counts: Vec<f64>,
}

fn draw_all(
    model: &impl Leaning,
    seed: u64,
    trials: u64,
    lean: &[f64],
    leaning: impl Fn(u64) -> bool + Sync,
) -> Vec<Trial> {
    const GROUP: u64 = 100;
    let plain = vec![0.0; lean.len()];
    let groups: Vec<u64> = (0..trials.div_ceil(GROUP)).collect();
    each(&groups, |&group| {
        (group * GROUP..((group + 1) * GROUP).min(trials))
            .map(|trial| {
                let (mut sums, mut counts) = (vec![0.0; lean.len()], vec![0.0; lean.len()]);
                let used = if leaning(trial) { lean } else { &plain };
                let margin = model.draw(seed, trial, used, &mut sums, &mut counts);
                // For a number x drawn around s the true over the leaning density is exp(-s x + s²/2).
                let log_weight = (0..lean.len()).map(|k| lean[k] * (0.5 * counts[k] * lean[k] - sums[k])).sum();
                Trial { margin, log_weight, sums, counts }
            })
            .collect::<Vec<_>>()
    })
    .into_iter()
    .flatten()
    .collect()
}

/// Estimates the probability of failing. `None` where fewer than 50 of the final trials failed, leaning or not, so that
/// nothing can be said, or where `progress` asked to stop.
pub fn rare(model: &impl Leaning, seed: u64, trials: u64, progress: &impl Progress) -> Option<Rare> {
    let kinds = model.kinds();
    let mut lean = vec![0.0; kinds];
    let search = (trials / 10).clamp(500, 5_000);
    let mut spent = 0;
    for stage in 1..=STAGES {
        if progress.stop() {
            return None;
        }
        let drawn = draw_all(model, seed.wrapping_add(stage), search, &lean, |_| true);
        spent += search;
        let mut margins: Vec<f64> = drawn.iter().map(|t| t.margin).collect();
        margins.sort_by(f64::total_cmp);
        let level = margins[((WORST * margins.len() as f64) as usize).min(margins.len() - 1)];
        let reached = level < 0.0;
        let level = if reached { 0.0 } else { level };
        let (mut total, mut means) = (0.0, vec![0.0; kinds]);
        for trial in drawn.iter().filter(|t| t.margin < level || (!reached && t.margin <= level)) {
            let weight = trial.log_weight.exp();
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
    // Every fifth trial is plain: fixed places, so that nothing depends on threads.
    let every = (1.0 / PLAIN_SHARE).round() as u64;
    let drawn = draw_all(model, seed, trials, &lean, |trial| trial % every != 0);
    spent += trials;
    progress.done(trials);
    let n = trials as f64;
    let (mut sum, mut squares, mut failures) = (0.0, 0.0, 0);
    for trial in drawn.iter().filter(|t| t.margin < 0.0) {
        // True density over that of the mixture.
        let weight = 1.0 / (PLAIN_SHARE + (1.0 - PLAIN_SHARE) * (-trial.log_weight).exp());
        sum += weight;
        squares += weight * weight;
        failures += 1;
    }
    if failures < FEWEST {
        return None;
    }
    let failure = sum / n;
    let variance = (squares / n - failure * failure).max(0.0) / n;
    // On the scale of the logarithm, so that the interval of a rare thing never reaches below 0.
    let spread = (Z_95 * variance.sqrt() / failure).exp();
    let plain_trials = failure * (1.0 - failure) / variance.max(1e-300);
    Some(Rare {
        failure,
        interval: Interval { low: failure / spread, high: (failure * spread).min(1.0) },
        trials: spent,
        failures,
        gain: plain_trials / spent as f64,
        lean,
    })
}
