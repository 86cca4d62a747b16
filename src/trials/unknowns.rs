//! How far the answer hangs on what is not known.
//!
//! Every trial draws the quantities that are not known (the size of an untested battery, the error of the climate
//! table, watts with a `±`) afresh, so that the share of survivors is an average over them and its binomial interval is
//! exact for that average. But the owner's battery has one size and the place one climate: if they knew, the answer
//! would move. How far is read off the trials: a probit regression of survival on the standard normal numbers z behind
//! those quantities, `P(survive | z) = Φ(a + b·z)`. Over all z the argument is normal with mean `a` and variance `|b|²`,
//! so 95 % of the possible answers lie within `Φ(a ± 1.96 |b|)`.

mod curve;
mod probit;

use super::interval::{Interval, Z_95, clopper_pearson, wilson};
use super::run::{Progress, Settings, run};
use super::tally::Tally;
use crate::engine::Plan;
use crate::math;
use crate::statistics::{normal_cdf, normal_quantile};
use curve::Curve;
use probit::probit;

/// Survival with everything that makes it uncertain.
#[derive(Debug, Clone, PartialEq)]
pub struct Survival {
    /// Share of the trials that survived, 0 to 1.
    pub probability: f64,
    /// 95 % interval that counts chance and what is not known.
    pub interval: Interval,
    /// 95 % Wilson interval that counts chance alone.
    pub chance: Interval,
    /// Whether the first is no more than the second though something is not known that moves the trials: too few went the other way to
    /// say what that does.
    pub chance_alone: bool,
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
pub fn survivals(plans: &[Plan], tallies: &[Tally], settings: &Settings, progress: &dyn Progress) -> Vec<Survival> {
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
/// * `outcomes` — survival of each trial, in order; `margins` — how clearly each survived, in order, NaN where nobody counted it; `unknowns` — their
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
    let (shares, held) = (Vec::new(), Vec::new());
    // Trials that end alike to the last bit are moved by nothing.
    let moved = margins.first().is_none_or(|first| margins.iter().any(|margin| margin != first));
    let chance_alone = width > 0 && moved;
    let mut answer = Survival { probability, interval: chance, chance, chance_alone, trials, shares, held };
    let rows = unknowns.len().checked_div(width).unwrap_or(0).min(outcomes.len()).min(margins.len());
    let Some(split) = split(&outcomes[..rows], &margins[..rows]) else { return answer };
    let Some(fit) = probit(&split, unknowns, width) else { return answer };
    let whole = fit.spread_squared();
    let shares = fit.shares();
    // Where survival itself was too one-sided to be asked, another margin says nothing of where its ends lie; and trials are
    // in no order where nothing is told from noise.
    let asked = split == outcomes[..rows] && !shares.is_empty();
    let curve = asked.then(|| Curve::against(&fit, &split, unknowns, width)).flatten();
    // No survivor or no failure at all: half a trial stands for the end that has no finite argument.
    let half = 0.5 / trials as f64;
    let argument = |p: f64| normal_quantile(p.clamp(half, 1.0 - half));
    // By a line whose argument is normal with so much variance. The average over z is Φ(a / √(1 + |b|²)): solved for a, so that the
    // interval surrounds the counted share.
    let a = |p: f64| argument(p) * (1.0 + whole).sqrt();
    let by_line = |variance: f64| {
        let reach = [Z_95 * variance.sqrt(); 2];
        Held {
            probability: normal_cdf(a(probability) / (1.0 + variance).sqrt()),
            interval: around(a(probability), [chance.low, chance.high].map(a), a(probability), reach),
        }
    };
    // By the trials, with that part of their order left.
    let by_trials = |curve: &Curve, variance: f64| {
        let left = (variance / whole).sqrt();
        let mean = curve.mean(left);
        let middle = argument(if left < 1.0 { mean } else { probability });
        let reach = curve.ends(left).map(|end| (argument(end) - middle).abs());
        let interval = around(argument(probability), [chance.low, chance.high].map(argument), middle, reach);
        Held { probability: mean, interval }
    };
    let with = |variance: f64| {
        let line = by_line(variance);
        let Some(curve) = &curve else { return line };
        let trials = by_trials(curve, variance);
        let between =
            |line: f64, trials: f64| normal_cdf(argument(line) + curve.weight * (argument(trials) - argument(line)));
        Held {
            probability: between(line.probability, trials.probability),
            interval: Interval {
                low: between(line.interval.low, trials.interval.low),
                high: between(line.interval.high, trials.interval.high),
            },
        }
    };
    let interval = with(whole).interval;
    answer.interval = Interval { low: interval.low.min(chance.low), high: interval.high.max(chance.high) };
    answer.chance_alone = answer.interval == chance;
    if answer.interval.width() >= WORTH_SHARING * chance.width() {
        answer.shares = shares;
        // With one z at 0 the argument is normal about the same middle with that much less variance.
        let held = |(k, share): (usize, &Option<f64>)| share.map(|_| with((whole - fit.spread_squared_of(k)).max(0.0)));
        answer.held = answer.shares.iter().enumerate().map(held).collect();
    }
    answer
}

/// An interval on the probit scale about `middle`: what chance moves `centre` by, and what is not known reaches on either side, owe
/// nothing to each other.
fn around(centre: f64, chance: [f64; 2], middle: f64, reach: [f64; 2]) -> Interval {
    let end = |side: usize| {
        let sampling = chance[side] - centre;
        normal_cdf(middle + sampling.signum() * math::hypot(sampling, reach[side]))
    };
    Interval { low: end(0), high: end(1) }
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

#[cfg(test)]
mod tests;
