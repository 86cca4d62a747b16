//! How far the answer hangs on what is not known.
//!
//! Every trial draws the quantities that are not known (the size of an untested battery, the error of the climate
//! table, watts with a `±`) afresh, so that the share of survivors is an average over them and its binomial interval is
//! exact for that average. But the owner's battery has one size and the place one climate: if they knew, the answer
//! would move. How far is read off the trials: a probit regression of survival on the standard normal numbers z behind
//! those quantities, `P(survive | z) = Φ(a + b·z)`. Over all z the argument is normal with mean `a` and variance `|b|²`,
//! so 95 % of the possible answers lie within `Φ(a ± 1.96 |b|)`.

use super::interval::{Interval, Z_95, clopper_pearson, wilson};
use super::run::{Progress, Settings, run};
use super::tally::Tally;
use crate::engine::Plan;
use crate::linear::{cholesky, solve};
use crate::math;
use crate::statistics::{normal_cdf, normal_density, normal_quantile};

/// Survival with everything that makes it uncertain.
#[derive(Debug, Clone, PartialEq)]
pub struct Survival {
    /// Share of the trials that survived, 0 to 1.
    pub probability: f64,
    /// 95 % interval that counts chance and what is not known.
    pub interval: Interval,
    /// 95 % Wilson interval that counts chance alone.
    pub chance: Interval,
    /// Trials.
    pub trials: u64,
    /// Share of the doubt beyond chance that each unknown quantity carries, above 0 to 1, in the order of the plan's list;
    /// `None` for a quantity whose part cannot be told from noise. Empty where there is none, or where the range is hardly
    /// wider than chance makes it.
    pub shares: Vec<Option<f64>>,
    /// For each unknown quantity that has a share: what would be left if it were measured and came out as assumed.
    pub held: Vec<Option<Held>>,
}

/// Survival with one unknown quantity held at its best estimate, on the same trials.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// Share of the trials that would survive, 0 to 1.
    pub probability: f64,
    /// 95 % interval that counts chance and what else is not known.
    pub interval: Interval,
}

/// Trials that the part of a range which comes from what is not known is read off: with fewer, a regression says too little
/// and the range would lose that part.
pub const ENOUGH: u64 = 1_000;

/// A slope this many standard errors from 0 is told from noise; with a handful of quantities one in some hundred answers
/// names one by accident.
const TOLD_FROM_NOISE: f64 = 3.0;

/// A range at least this many times as wide as chance makes it has doubts worth sharing out.
const WORTH_SHARING: f64 = 1.2;

/// Fewest survivors and fewest failures that a regression of survival itself is trusted with. With fewer, the trials are
/// split at another margin: how clearly they survived is moved by the same quantities.
const FEWEST: u64 = 50;

/// Moves a probability as far on the probit scale as `to` lies from `from`.
#[must_use]
pub fn moved(p: f64, from: f64, to: f64) -> f64 {
    const END: f64 = 1e-12;
    let at = |p: f64| normal_quantile(p.clamp(END, 1.0 - END));
    normal_cdf(at(p) + at(to) - at(from))
}

/// Survival under each of some plans, whose trials are counted in `tallies`. Where fewer than [`ENOUGH`] were asked for, what
/// is not known is read off that many trials all the same, so that fewer trials never make a range narrower.
#[must_use]
pub fn survivals(plans: &[Plan], tallies: &[Tally], settings: &Settings, progress: &impl Progress) -> Vec<Survival> {
    let few = tallies.first().is_some_and(|tally| tally.trials < ENOUGH);
    let more = if few && plans.iter().any(|plan| !plan.unknowns().is_empty()) {
        run(plans, &Settings { trials: ENOUGH, precision: None, ..*settings }, progress)
    } else {
        Vec::new()
    };
    let of = |(k, plan): (usize, &Plan)| {
        let tally = &tallies[k];
        // A run that was stopped leaves what there is.
        let rows = more.get(k).filter(|more| more.trials > tally.trials).unwrap_or(tally);
        survival_under(plan, tally.survived, tally.trials, &rows.margin, &rows.survival, &rows.unknowns)
    };
    plans.iter().enumerate().take(tallies.len()).map(of).collect()
}

/// Survival under a plan from the counts and the numbers behind its unknown quantities (see [`survival`]).
#[must_use]
pub fn survival_under(
    plan: &Plan,
    survived: u64,
    trials: u64,
    margins: &[f32],
    outcomes: &[bool],
    unknowns: &[f32],
) -> Survival {
    survival(survived, trials, margins, outcomes, unknowns, plan.unknowns().len())
}

/// Survival from the counts and the numbers behind the unknown quantities.
///
/// * `survived`, `trials` — counted.
/// * `outcomes` — survival of each trial, in order; `margins` — how clearly each survived, in order; `unknowns` — their
///   standard normal numbers, row by row, for as many of the first trials as there are. They can come from other trials
///   than those counted.
/// * `width` — unknown quantities a row.
#[must_use]
pub fn survival(
    survived: u64,
    trials: u64,
    margins: &[f32],
    outcomes: &[bool],
    unknowns: &[f32],
    width: usize,
) -> Survival {
    let mut chance = wilson(survived, trials, Z_95);
    let probability = survived as f64 / trials as f64;
    if survived.min(trials - survived) < FEWEST {
        // Where hardly any or nearly all survived, the exact interval is never too narrow.
        let exact = clopper_pearson(survived, trials, 0.05);
        chance = Interval { low: exact.low.min(chance.low), high: exact.high.max(chance.high) };
    }
    let mut answer = Survival { probability, interval: chance, chance, trials, shares: Vec::new(), held: Vec::new() };
    let rows = unknowns.len().checked_div(width).unwrap_or(0).min(outcomes.len()).min(margins.len());
    let Some(split) = split(&outcomes[..rows], &margins[..rows]) else { return answer };
    let Some(fit) = probit(&split, unknowns, width) else { return answer };
    let spread_squared = fit.spread_squared();
    // The average over z is Φ(a / √(1 + |b|²)): solved for a, so that the interval surrounds the counted share.
    // No survivor or no failure at all: half a trial stands for the end that has no finite argument.
    let half = 0.5 / trials as f64;
    let a = |p: f64| normal_quantile(p.clamp(half, 1.0 - half)) * (1.0 + spread_squared).sqrt();
    let centre = a(probability);
    let reach = |chance_end: f64, spread_squared: f64| {
        let sampling = a(chance_end) - centre;
        sampling.signum() * math::hypot(sampling, Z_95 * spread_squared.sqrt())
    };
    let within = |spread_squared: f64| Interval {
        low: normal_cdf(centre + reach(chance.low, spread_squared)),
        high: normal_cdf(centre + reach(chance.high, spread_squared)),
    };
    let interval = within(spread_squared);
    answer.interval = Interval { low: interval.low.min(chance.low), high: interval.high.max(chance.high) };
    if answer.interval.width() >= WORTH_SHARING * chance.width() {
        answer.shares = fit.shares();
        // With one z at 0 the argument is normal about the same middle with that much less variance.
        let held = |(k, share): (usize, &Option<f64>)| {
            share.map(|_| {
                let rest = (spread_squared - fit.spread_squared_of(k)).max(0.0);
                Held { probability: normal_cdf(centre / (1.0 + rest).sqrt()), interval: within(rest) }
            })
        };
        answer.held = answer.shares.iter().enumerate().map(held).collect();
    }
    answer
}

/// Trials told apart by survival, or, where one side is too small, by a margin that leaves a twentieth on it; `None`
/// where the margins do not tell them apart either.
fn split(outcomes: &[bool], margins: &[f32]) -> Option<Vec<bool>> {
    let good = outcomes.iter().filter(|&&s| s).count() as u64;
    let bad = outcomes.len() as u64 - good;
    if good >= FEWEST && bad >= FEWEST {
        return Some(outcomes.to_vec());
    }
    let mut sorted = margins.to_vec();
    sorted.sort_by(f32::total_cmp);
    let twentieth = sorted.len() / 20;
    let last = sorted.len().checked_sub(1)?;
    let at = if bad < good { twentieth } else { last - twentieth };
    let limit = *sorted.get(at)?;
    let split: Vec<bool> = margins.iter().map(|&m| m > limit).collect();
    let above = split.iter().filter(|&&s| s).count() as u64;
    (above >= FEWEST.min(20) && split.len() as u64 - above >= FEWEST.min(20)).then_some(split)
}

/// What a probit regression tells.
enum Fit {
    /// Slopes and their variances.
    Settled { slopes: Vec<f64>, noise: Vec<f64> },
    /// What is not known decides every trial, so that slopes grow without end; those reached.
    Decided { slopes: Vec<f64> },
}

impl Fit {
    /// Sum of the squares of the slopes.
    fn spread_squared(&self) -> f64 {
        match self {
            Fit::Settled { slopes, .. } => (0..slopes.len()).map(|k| self.spread_squared_of(k)).sum(),
            Fit::Decided { .. } => DECIDED,
        }
    }

    /// What one quantity adds to that.
    fn spread_squared_of(&self, k: usize) -> f64 {
        match self {
            // The squares of estimated slopes are too large by their variances, on average.
            Fit::Settled { slopes, noise } => (slopes[k] * slopes[k] - noise[k]).max(0.0),
            Fit::Decided { slopes } => {
                DECIDED * slopes[k] * slopes[k] / slopes.iter().map(|b| b * b).sum::<f64>().max(f64::MIN_POSITIVE)
            }
        }
    }

    /// What each quantity carries of the doubt; nothing is said where none stands out. One that does not stand out still
    /// counts in the whole as much as it may carry, so that another's share is never all of it by accident.
    fn shares(&self) -> Vec<Option<f64>> {
        match self {
            Fit::Settled { slopes, noise } => {
                let told = |b: f64, v: f64| b * b > TOLD_FROM_NOISE * TOLD_FROM_NOISE * v;
                let of = || slopes.iter().zip(noise).map(|(&b, &v)| (b, v));
                let whole: f64 = of().map(|(b, v)| if told(b, v) { b * b - v } else { (b * b).max(v) }).sum();
                if !of().any(|(b, v)| told(b, v)) {
                    return Vec::new();
                }
                of().map(|(b, v)| told(b, v).then(|| (b * b - v) / whole)).collect()
            }
            Fit::Decided { slopes } => {
                let whole: f64 = slopes.iter().map(|b| b * b).sum();
                slopes.iter().map(|b| (*b != 0.0).then(|| b * b / whole)).collect()
            }
        }
    }
}

/// Sum of squared slopes where what is not known decides: the argument's doubt is a hundred times the chance of the weather.
const DECIDED: f64 = 1e4;
/// A slope beyond which a regression that does not settle is taken to grow without end. Of trials drawn from known slopes
/// (1,000 and 4,000 trials, one and three quantities) all of slopes up to 12 settled, and of those that did not some had as
/// few as 994 of 1,000 on their side of the line.
const STEEPEST: f64 = 8.0;

/// Trials on which a regression of many begins.
const FIRST: usize = 2_000;

/// The intercept without any slope.
fn intercept(outcomes: &[bool]) -> f64 {
    normal_quantile(outcomes.iter().filter(|&&s| s).count() as f64 / outcomes.len() as f64)
}

/// A probit regression (Fisher scoring); `None` where it does not settle and slopes stay small.
fn probit(outcomes: &[bool], rows: &[f32], width: usize) -> Option<Fit> {
    let mut coefficients = vec![0.0; width + 1];
    coefficients[0] = intercept(outcomes);
    if outcomes.len() >= 4 * FIRST {
        // Some of the trials bring it near, so that few rounds over all of them are left.
        let mut near = coefficients.clone();
        if settle(&outcomes[..FIRST], rows, &mut near).is_some() {
            coefficients = near;
        }
    }
    settle(outcomes, rows, &mut coefficients).or_else(|| {
        let slopes = coefficients[1..].to_vec();
        slopes.iter().any(|b| b.abs() > STEEPEST).then_some(Fit::Decided { slopes })
    })
}

/// The same from the coefficients given on, which are left where it got to.
fn settle(outcomes: &[bool], rows: &[f32], coefficients: &mut [f64]) -> Option<Fit> {
    let size = coefficients.len();
    // Rows of whole vectors.
    let padded = size.next_multiple_of(WIDTH);
    let (mut information, mut score) = (vec![0.0; size * padded], vec![0.0; padded]);
    for _ in 0..30 {
        add_rows(outcomes, rows, coefficients, (&mut information, &mut score));
        let square = information.chunks_exact(padded).flat_map(|row| &row[..size]).copied().collect();
        let factor = cholesky(square, size)?;
        let change = solve(&factor, size, &score[..size]);
        let largest = change.iter().fold(0.0_f64, |m, c| m.max(c.abs()));
        if !largest.is_finite() {
            return None;
        }
        for (c, d) in coefficients.iter_mut().zip(&change) {
            *c += d;
        }
        if largest < 1e-8 {
            let variances = (1..size)
                .map(|k| {
                    let mut unit = vec![0.0; size];
                    unit[k] = 1.0;
                    solve(&factor, size, &unit)[k]
                })
                .collect();
            return Some(Fit::Settled { slopes: coefficients[1..].to_vec(), noise: variances });
        }
    }
    None
}

/// Numbers of a row that are added at once.
const WIDTH: usize = 8;

/// The information of a probit regression's coefficients, in rows padded to whole vectors, and the score.
#[multiversion::multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn add_rows(
    outcomes: &[bool],
    rows: &[f32],
    coefficients: &[f64],
    (information, score): (&mut Vec<f64>, &mut Vec<f64>),
) {
    let (size, padded) = (coefficients.len(), score.len());
    information.fill(0.0);
    score.fill(0.0);
    let mut row = vec![0.0; padded];
    row[0] = 1.0;
    for (outcome, z) in outcomes.iter().zip(rows.chunks_exact(size - 1)) {
        for (x, &z) in row[1..].iter_mut().zip(z) {
            *x = f64::from(z);
        }
        let eta: f64 = row.iter().zip(coefficients).map(|(x, c)| x * c).sum::<f64>().clamp(-6.0, 6.0);
        let (p, f) = (normal_cdf(eta), normal_density(eta));
        let variance = p * (1.0 - p);
        let weight = f * f / variance;
        let residual = (f64::from(u8::from(*outcome)) - p) * f / variance;
        let (row, _) = row.as_chunks::<WIDTH>();
        for (sums, row) in score.as_chunks_mut::<WIDTH>().0.iter_mut().zip(row) {
            for k in 0..WIDTH {
                sums[k] += row[k] * residual;
            }
        }
        for (i, sums) in information.chunks_exact_mut(padded).enumerate() {
            let weighted = weight * row[i / WIDTH][i % WIDTH];
            // The lower triangle is enough.
            for (sums, row) in sums.as_chunks_mut::<WIDTH>().0.iter_mut().zip(row).take(i / WIDTH + 1) {
                for k in 0..WIDTH {
                    sums[k] += weighted * row[k];
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Purpose, Stream};

    /// Trials from a known model: survival has probability Φ(0.8 + 0.6 z1 + 0.0 z2).
    fn synthetic(seed: u64, n: u64) -> (u64, Vec<bool>, Vec<f32>) {
        let (mut outcomes, mut rows) = (Vec::new(), Vec::new());
        for trial in 0..n {
            let mut rng = Stream::new(seed, trial, Purpose::Station);
            let (z1, z2) = (rng.normal(), rng.normal());
            outcomes.push(rng.uniform() < normal_cdf(0.8 + 0.6 * z1));
            rows.extend([z1 as f32, z2 as f32]);
        }
        (outcomes.iter().filter(|&&s| s).count() as u64, outcomes, rows)
    }

    #[test]
    fn the_interval_covers_the_answers_that_better_knowledge_could_give() {
        let (survived, outcomes, rows) = synthetic(3, 20_000);
        let answer = survival(survived, 20_000, &vec![0.0; 20_000], &outcomes, &rows, 2);
        // By the model: 95 % of the possible answers lie within Φ(0.8 ± 1.96 × 0.6).
        let (low, high) = (normal_cdf(0.8 - 1.96 * 0.6), normal_cdf(0.8 + 1.96 * 0.6));
        assert!((answer.interval.low - low).abs() < 0.02, "{answer:?}, expected from {low}");
        assert!((answer.interval.high - high).abs() < 0.01, "{answer:?}, expected to {high}");
        assert!(answer.shares[0].is_some_and(|share| share > 0.95) && answer.shares[1].is_none(), "{answer:?}");
        // And the average over z is Φ(0.8 / √1.36).
        assert!((answer.probability - normal_cdf(0.8 / 1.36_f64.sqrt())).abs() < 5.0 * 0.003);
    }

    #[test]
    fn with_one_quantity_held_the_others_are_left() {
        // Survival has probability Φ(0.4 + 0.6 z1 + 0.3 z2). With z1 at 0 the average over z2 is Φ(0.4 / √1.09), and 95 % of
        // the possible answers lie within Φ(0.4 ± 1.96 × 0.3).
        let n = 20_000;
        let (mut outcomes, mut rows) = (Vec::new(), Vec::new());
        for trial in 0..n {
            let mut rng = Stream::new(8, trial, Purpose::Station);
            let (z1, z2) = (rng.normal(), rng.normal());
            outcomes.push(rng.uniform() < normal_cdf(0.4 + 0.6 * z1 + 0.3 * z2));
            rows.extend([z1 as f32, z2 as f32]);
        }
        let survived = outcomes.iter().filter(|&&s| s).count() as u64;
        let answer = survival(survived, n, &vec![0.0; n as usize], &outcomes, &rows, 2);
        let held = answer.held[0].expect("a share of its own");
        // Standard errors: 0.01 of the argument, 0.02 of a slope.
        assert!((held.probability - normal_cdf(0.4 / 1.09_f64.sqrt())).abs() < 0.016, "{held:?}");
        assert!((held.interval.low - normal_cdf(0.4 - 1.96 * 0.3)).abs() < 0.04, "{held:?}");
        assert!((held.interval.high - normal_cdf(0.4 + 1.96 * 0.3)).abs() < 0.04, "{held:?}");
        // The lesser doubt leaves more.
        let lesser = answer.held[1].expect("a share of its own");
        assert!(held.interval.width() < lesser.interval.width(), "{answer:?}");
        assert!(lesser.interval.width() < answer.interval.width(), "{answer:?}");
    }

    #[test]
    fn with_nothing_unknown_chance_alone_is_left() {
        let outcomes: Vec<bool> = (0..1000).map(|k| k % 4 != 0).collect();
        let answer = survival(750, 1000, &vec![0.0; 1000], &outcomes, &[], 0);
        assert_eq!(answer.chance, answer.interval);
        assert!(answer.shares.is_empty());
    }

    #[test]
    fn what_decides_every_trial_leaves_nothing_but_all_or_none() {
        // Survival is z > -1.7 and nothing else: 95.5 % of the possible answers are 1, the others 0.
        let of = |edge: f64| {
            let (mut outcomes, mut rows) = (Vec::new(), Vec::new());
            for trial in 0..4000 {
                let z = Stream::new(2, trial, Purpose::Station).normal();
                outcomes.push(z > edge);
                rows.push(z as f32);
            }
            let survived = outcomes.iter().filter(|&&s| s).count() as u64;
            let margins: Vec<f32> = rows.iter().map(|z| z - edge as f32).collect();
            survival(survived, 4000, &margins, &outcomes, &rows, 1)
        };
        let open = of(-1.7);
        assert!(open.interval.low < 0.01 && open.interval.high > 0.99 && open.shares == [Some(1.0)], "{open:?}");
        // Beyond what 95 % allow for it is as good as sure.
        assert!(of(-2.5).interval.low > 0.98, "{:?}", of(-2.5));
    }

    #[test]
    fn unknowns_that_do_not_matter_do_not_widen() {
        let (_, _, rows) = synthetic(5, 4000);
        let outcomes: Vec<bool> = (0..4000).map(|k| k % 5 != 0).collect();
        let answer = survival(3200, 4000, &vec![0.0; 4000], &outcomes, &rows, 2);
        assert!(answer.interval.width() < 2.5 * answer.chance.width(), "{answer:?}");
    }

    #[test]
    fn what_decides_alone_leaves_nothing_certain() {
        // No chance at all: a battery above its middle size less a standard deviation carries every outage, one below none. An
        // owner who does not know the size knows next to nothing, however many trials agree that it is 84 %.
        let (_, _, rows) = synthetic(4, 4000);
        let outcomes: Vec<bool> = rows.chunks(2).map(|z| z[0] > -1.0).collect();
        let survived = outcomes.iter().filter(|&&s| s).count() as u64;
        let answer = survival(survived, 4000, &vec![0.0; 4000], &outcomes, &rows, 2);
        assert!(answer.interval.low < 0.01 && answer.interval.high > 0.99, "{answer:?}");
        assert!(answer.shares[0].is_some_and(|share| share > 0.95), "{answer:?}");
    }

    #[test]
    fn a_slope_too_steep_to_settle_is_not_taken_for_none() {
        // Survival has probability Φ(80 (z + 1)): one in a hundred trials is not decided by z, and scoring often fails. 95 % of
        // the possible answers lie within Φ(80 ± 157).
        for seed in 0..40 {
            let (mut outcomes, mut rows) = (Vec::new(), Vec::new());
            for trial in 0..1000 {
                let mut rng = Stream::new(seed, trial, Purpose::Station);
                let z = rng.normal();
                outcomes.push(80.0 * (z + 1.0) + rng.normal() > 0.0);
                rows.push(z as f32);
            }
            let survived = outcomes.iter().filter(|&&s| s).count() as u64;
            let answer = survival(survived, 1000, &vec![0.0; 1000], &outcomes, &rows, 1);
            assert!(answer.interval.low < 0.01 && answer.interval.high > 0.99, "seed {seed}: {answer:?}");
        }
    }

    #[test]
    fn no_share_is_told_of_a_doubt_that_is_noise() {
        // Survival has nothing to do with either quantity: whatever the chance, neither is named, nor all of the doubt.
        for seed in 0..40 {
            let (_, _, rows) = synthetic(seed, 2000);
            let outcomes: Vec<bool> = (0..2000).map(|k| k % 7 != 0).collect();
            let survived = outcomes.iter().filter(|&&s| s).count() as u64;
            let answer = survival(survived, 2000, &vec![0.0; 2000], &outcomes, &rows, 2);
            assert!(answer.shares.is_empty(), "seed {seed}: {answer:?}");
        }
    }

    #[test]
    fn fewer_trials_never_lose_the_part_of_what_is_not_known() {
        // Ten survivors of twenty: what is not known is read off the trials beside them, and the range is no narrower than
        // that of all of them.
        let (survived, outcomes, rows) = synthetic(3, 2000);
        let margins = vec![0.0; 2000];
        let all = survival(survived, 2000, &margins, &outcomes, &rows, 2);
        for few in [10, 100, 400] {
            let survived = outcomes[..few].iter().filter(|&&s| s).count() as u64;
            let answer = survival(survived, few as u64, &margins, &outcomes, &rows, 2);
            assert!(answer.interval.width() > 0.97 * all.interval.width(), "{few}: {answer:?}, all: {all:?}");
        }
    }

    #[test]
    fn one_sided_counts_fall_back_on_the_exact_interval() {
        let outcomes = vec![true; 500];
        let answer = survival(500, 500, &vec![1.0; 500], &outcomes, &vec![0.5; 500], 1);
        assert_eq!(answer.interval.high, 1.0);
        // Wilson's n / (n + z²) lies below the exact 0.025^(1/n) here; the lower of the two is kept.
        assert!((answer.interval.low - 500.0 / (500.0 + Z_95 * Z_95)).abs() < 1e-12);
        assert!(answer.interval.low < math::pow(0.025, 1.0 / 500.0));
    }

    #[test]
    fn rare_failures_are_widened_by_what_moves_the_margin() {
        // The margin is 2.6 + 0.8 z + noise of 1: the unknown z moves it. Failures (margin below 0) are rare, about 2 %
        // averaged over z; if z were known to be -1.96 they would be Φ(-(2.6 - 1.57)) = 15 %.
        let n = 2000;
        let (mut margins, mut outcomes, mut rows) = (Vec::new(), Vec::new(), Vec::new());
        for trial in 0..n {
            let mut rng = Stream::new(9, trial, Purpose::Station);
            let z = rng.normal();
            let margin = 2.6 + 0.8 * z + rng.normal();
            margins.push(margin as f32);
            outcomes.push(margin > 0.0);
            rows.push(z as f32);
        }
        let survived = outcomes.iter().filter(|&&s| s).count() as u64;
        assert!(n - survived < FEWEST, "the case is meant to be rare: {survived}");
        let answer = survival(survived, n, &margins, &outcomes, &rows, 1);
        let known_bad = normal_cdf(2.6 - 0.8 * Z_95);
        assert!((answer.interval.low - known_bad).abs() < 0.05, "{answer:?}, expected from {known_bad}");
        assert!(answer.interval.low < answer.chance.low - 0.05);
    }
}
