//! What the trials themselves say where a straight line on the probit scale misses them.
//!
//! Trials are put in order by `b·z`: how kindly what is not known came out. The slopes of a regression point the right way even
//! where its curve is not the true one, as long as the z are normal (Brillinger 1982, "A generalized linear model with
//! 'Gaussian' regressor variables"; Li & Duan 1989, "Regression analysis under link violation"), so that the order can be
//! trusted where the line cannot: where a battery that is too small fails whatever the weather, or where even the best leaves
//! much to the weather.

use super::probit::Fit;
use crate::statistics::{normal_cdf, normal_quantile};

/// Parts that the trials are told apart in: the 2.5 % points of `b·z` lie in the middle of the first and of the last.
const PARTS: usize = 20;

/// Fewest trials of a part that are asked.
const FEWEST: usize = 25;

/// What the squares of 20 standard errors stay below nine times of ten where the line holds: the 90 % point of χ² with 20 degrees of
/// freedom (Abramowitz & Stegun 1964, table 26.8).
const BY_CHANCE: f64 = 28.41;

/// Survival over `b·z`, never falling, as read off the trials.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Curve {
    /// Share of survivors of each part, from the unkindest.
    shares: Vec<f64>,
    /// How far the trials are believed against the line, above 0 to 1.
    pub(super) weight: f64,
}

impl Curve {
    /// The curve, with the weight that the trials give it: the part of the squares of what the parts are off the line, in standard
    /// errors, that chance does not make (as in the positive part of James & Stein 1961). `None` where chance may make all of them.
    ///
    /// * `rows` — the standard normal numbers behind the quantities that are not known, `width` a trial, in the order of
    ///   `outcomes`.
    pub(super) fn against(fit: &Fit, outcomes: &[bool], rows: &[f32], width: usize) -> Option<Curve> {
        let (intercept, slopes) = fit.line();
        let along = |row: &[f32]| intercept + row.iter().zip(slopes).map(|(&z, b)| f64::from(z) * b).sum::<f64>();
        let mut order: Vec<(f64, bool)> = rows.chunks_exact(width).map(along).zip(outcomes.iter().copied()).collect();
        let size = order.len() / PARTS;
        if size < FEWEST {
            return None;
        }
        order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        // What a division leaves over is the middle's.
        let spare = order.len() - PARTS * size;
        let start = |part: usize| part * size + if part > PARTS / 2 { spare } else { 0 };
        let parts: Vec<&[(f64, bool)]> = (0..PARTS).map(|part| &order[start(part)..start(part + 1)]).collect();
        let off: f64 = parts.iter().map(|part| standard_errors(part)).map(|errors| errors * errors).sum();
        let weight = 1.0 - BY_CHANCE / off.max(f64::MIN_POSITIVE);
        (weight > 0.0).then(|| Curve { shares: never_falling(&parts), weight })
    }

    /// Survival where `b·z` is this many of its standard deviations from its middle.
    fn at(&self, score: f64) -> f64 {
        let place = normal_cdf(score) * PARTS as f64 - 0.5;
        let last = (PARTS - 1) as f64;
        let below = place.clamp(0.0, last).floor();
        let part = below as usize;
        let above = self.shares[(part + 1).min(PARTS - 1)];
        self.shares[part] + (above - self.shares[part]) * (place.clamp(0.0, last) - below)
    }

    /// 95 % of the answers that knowing everything could give, where only so much of the standard deviation of `b·z` is left.
    ///
    /// * `left` — 0 to 1.
    pub(super) fn ends(&self, left: f64) -> [f64; 2] {
        [-left, left].map(|side| self.at(side * super::Z_95))
    }

    /// Survival over what is left of `b·z` around its middle.
    ///
    /// * `left` — 0 to 1.
    pub(super) fn mean(&self, left: f64) -> f64 {
        let middle = |part: usize| normal_quantile((part as f64 + 0.5) / PARTS as f64);
        (0..PARTS).map(|part| self.at(left * middle(part))).sum::<f64>() / PARTS as f64
    }
}

/// How many standard errors more of a part's trials survived than the line expects.
fn standard_errors(part: &[(f64, bool)]) -> f64 {
    let (mut off, mut variance) = (0.0, 0.0);
    for &(at, survived) in part {
        let p = normal_cdf(at);
        off += f64::from(u8::from(survived)) - p;
        variance += p * (1.0 - p);
    }
    // However sure the line was of a part, one trial alone contradicts nothing.
    off / variance.max(1.0).sqrt()
}

/// Shares of survivors that never fall (pool adjacent violators: Ayer et al. 1955).
fn never_falling(parts: &[&[(f64, bool)]]) -> Vec<f64> {
    // Survivors, trials and parts of each pool.
    let mut pools: Vec<(f64, f64, usize)> = Vec::new();
    for part in parts {
        let mut pool = (part.iter().filter(|(_, survived)| *survived).count() as f64, part.len() as f64, 1);
        while let Some(&(survived, trials, count)) = pools.last()
            && survived * pool.1 > pool.0 * trials
        {
            pool = (pool.0 + survived, pool.1 + trials, pool.2 + count);
            pools.pop();
        }
        pools.push(pool);
    }
    pools.into_iter().flat_map(|(survived, trials, count)| std::iter::repeat_n(survived / trials, count)).collect()
}
