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

#[cfg(test)]
mod tests {
    use super::*;

    /// A line that is flat but for the order in which it puts trials.
    fn flat() -> Fit {
        Fit::Settled { intercept: 0.0, slopes: vec![1e-9], noise: vec![0.0] }
    }

    /// Trials in the order of their number, of which those from the `from`th on survived.
    fn stepped(trials: usize, from: usize) -> Option<Curve> {
        let rows: Vec<f32> = (0..trials).map(|k| k as f32 - 250.0).collect();
        let outcomes: Vec<bool> = (0..trials).map(|k| k >= from).collect();
        Curve::against(&flat(), &outcomes, &rows, 1)
    }

    /// By hand: 500 trials are twenty parts of 25, of each of which a flat line expects 12.5 survivors with a standard deviation of
    /// 2.5: none and all are five of those off, Σ is 20 · 25 = 500, and 28.41 of them are left to chance (χ² with 20 degrees of freedom,
    /// 90 %). 519 trials leave 19 over, which are the middle part's: its 44 are 22 off √11, and Σ is 19 · 25 + 44.
    #[test]
    fn twenty_parts_hold_all_trials_and_are_held_against_the_line() {
        let curve = stepped(500, 275).expect("no line");
        let mut shares = [vec![0.0; 11], vec![1.0; 9]].concat();
        assert_eq!(curve.shares, shares);
        assert!((curve.weight - (1.0 - 28.41 / 500.0)).abs() < 1e-6, "{}", curve.weight);
        let curve = stepped(519, 294).expect("no line");
        assert_eq!(curve.shares, shares);
        assert!((curve.weight - (1.0 - 28.41 / 519.0)).abs() < 1e-6, "{}", curve.weight);
        // Half of the middle part.
        shares[10] = 0.5;
        assert_eq!(stepped(519, 272).expect("no line").shares, shares);
        // Parts of 24 are too few.
        assert_eq!(stepped(499, 250), None);
        // Where every part is as the line says, nothing speaks against it.
        let rows: Vec<f32> = (0..500).map(|k| k as f32 - 250.0).collect();
        let even: Vec<bool> = (0..500).map(|k| k % 2 == 0).collect();
        assert_eq!(Curve::against(&flat(), &even, &rows, 1), None);
    }

    /// Trials are put in order by what all numbers come to, whatever order they come in.
    #[test]
    fn trials_are_put_in_order_by_the_line() {
        let fit = Fit::Settled { intercept: 0.0, slopes: vec![1e-9, -3e-9], noise: vec![0.0; 2] };
        let (mut rows, mut outcomes) = (Vec::new(), Vec::new());
        for k in 0..500_u32 {
            // A permutation of 0 to 499, of which the first number has a part and the second the rest with its sign.
            let place = (k * 7) % 500;
            let first = (k % 11) as f32;
            rows.extend([first, (first - place as f32) / 3.0]);
            outcomes.push(place >= 275);
        }
        let curve = Curve::against(&fit, &outcomes, &rows, 2).expect("no line");
        assert_eq!(curve.shares, [vec![0.0; 11], vec![1.0; 9]].concat());
    }

    /// Shares that rise as the places of their parts do are the normal distribution itself, straight between middles: the 2.5 and 97.5 %
    /// points lie in the middles of the first and the last, beyond which it is flat.
    #[test]
    fn between_the_middles_of_parts_survival_is_straight() {
        let even = |part: usize| (part as f64 + 0.5) / 20.0;
        let curve = Curve { shares: (0..20).map(even).collect(), weight: 1.0 };
        for (score, share) in [(-0.5, 0.308_537_5), (0.0, 0.5), (1.0, 0.841_344_7), (1.9, 0.971_283_4)] {
            assert!((curve.at(score) - share).abs() < 1e-7, "{} at {score}", curve.at(score));
        }
        assert!((curve.at(-4.0) - 0.025).abs() < 1e-12 && (curve.at(4.0) - 0.975).abs() < 1e-12);
        let ends = |left: f64| curve.ends(left).map(|end| (end * 1e5).round() / 1e5);
        // Φ(±1.959964 left): at a half ±0.979982, 0.163548 and 0.836452.
        assert_eq!((ends(1.0), ends(0.5), ends(0.0)), ([0.025, 0.975], [0.163_55, 0.836_45], [0.5, 0.5]));
        // The mean over all is that of the shares, and over nothing left the middle's.
        let steep = Curve { shares: (0..20).map(|part| even(part) * even(part)).collect(), weight: 1.0 };
        let squares = (0..20).map(|part| even(part) * even(part)).sum::<f64>() / 20.0;
        assert!((steep.mean(1.0) - squares).abs() < 1e-9, "{}", steep.mean(1.0));
        assert!((steep.mean(0.0) - 0.5 * (0.475 * 0.475 + 0.525 * 0.525)).abs() < 1e-12);
        assert!(steep.mean(0.0) < steep.mean(0.5) && steep.mean(0.5) < steep.mean(1.0));
    }

    /// By hand: three of four where two are expected is one of the standard deviation √(4 · ½ · ½); twelve of sixteen are four off two. A
    /// single failure where Φ(3) = 0.99865 survive counts as less than one.
    #[test]
    fn a_part_is_off_the_line_by_its_survivors_over_their_standard_deviation() {
        let part = |at: f64, survived: usize, of: usize| (0..of).map(|k| (at, k < survived)).collect::<Vec<_>>();
        assert!((standard_errors(&part(0.0, 3, 4)) - 1.0).abs() < 1e-12);
        assert!((standard_errors(&part(0.0, 12, 16)) - 2.0).abs() < 1e-12);
        assert!((standard_errors(&part(0.0, 4, 16)) + 2.0).abs() < 1e-12);
        assert!((standard_errors(&part(3.0, 0, 1)) + 0.998_650_1).abs() < 1e-6);
    }

    /// By hand, pooled until nothing falls (Ayer et al. 1955): 5 and 3 of ten become 8 of 20, 8, 6 and 7 become 21 of 30; of parts of other
    /// sizes one of two and one of four become two of six, and a third drags both.
    #[test]
    fn shares_that_fall_are_pooled() {
        let of = |counts: &[(usize, usize)]| {
            let parts: Vec<Vec<(f64, bool)>> =
                counts.iter().map(|&(survived, of)| (0..of).map(|k| (0.0, k < survived)).collect()).collect();
            never_falling(&parts.iter().map(Vec::as_slice).collect::<Vec<_>>())
        };
        let ten = |survived: &[usize]| of(&survived.iter().map(|&s| (s, 10)).collect::<Vec<_>>());
        assert_eq!(ten(&[2, 5, 3, 8, 6, 7]), [0.2, 0.4, 0.4, 0.7, 0.7, 0.7]);
        assert_eq!(ten(&[1, 1, 4]), [0.1, 0.1, 0.4]);
        assert_eq!(of(&[(1, 2), (1, 4), (3, 4)]), [1.0 / 3.0, 1.0 / 3.0, 0.75]);
        assert_eq!(of(&[(1, 2), (2, 3), (0, 1)]), [0.5, 0.5, 0.5]);
    }
}
