//! Intervals for a share that was counted.

use crate::math;
use crate::statistics::{beta_quantile, gamma_quantile};

/// Half-width of a central 95 % interval of the normal distribution in standard deviations.
pub const Z_95: f64 = crate::units::NORMAL_95;

/// An interval for a probability.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end, 0 to 1.
    pub low: f64,
    /// Upper end, 0 to 1.
    pub high: f64,
}

impl Interval {
    /// Everything: what nothing counted leaves.
    pub const ALL: Interval = Interval { low: 0.0, high: 1.0 };

    /// That of the other outcome.
    #[must_use]
    pub fn complement(&self) -> Interval {
        Interval { low: 1.0 - self.high, high: 1.0 - self.low }
    }

    /// Its width.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.high - self.low
    }
}

/// Wilson's score interval (Wilson 1927) for `k` of `n`, at `z` standard deviations.
///
/// The ends are exactly 0 for `k = 0` and exactly 1 for `k = n`; nothing counted gives 0 to 1.
///
/// ```
/// use tideover::trials::interval::{wilson, Z_95};
/// let interval = wilson(1, 10, Z_95);
/// assert!((interval.low - 0.0178762130951).abs() < 1e-9 && (interval.high - 0.404150026795).abs() < 1e-9);
/// ```
#[must_use]
pub fn wilson(k: u64, n: u64, z: f64) -> Interval {
    if n == 0 {
        return Interval::ALL;
    }
    wilson_of_share(k as f64 / n as f64, n as f64, z)
}

/// The same for a share `p` of `n`, which need not be whole; above 0.
#[must_use]
fn wilson_of_share(p: f64, n: f64, z: f64) -> Interval {
    let z2 = z * z;
    let centre = (p + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = z / (1.0 + z2 / n) * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
    Interval {
        low: if p <= 0.0 { 0.0 } else { (centre - half).max(0.0) },
        high: if p >= 1.0 { 1.0 } else { (centre + half).min(1.0) },
    }
}

/// The exact interval of Clopper & Pearson (1934) for `k` of `n`, leaving `alpha / 2` on each side.
///
/// Never narrower than promised, so often wider than Wilson's. Closed forms at `k = 0` and `k = n`.
#[must_use]
pub fn clopper_pearson(k: u64, n: u64, alpha: f64) -> Interval {
    if n == 0 {
        return Interval::ALL;
    }
    let (k_f, n_f) = (k as f64, n as f64);
    let low = match k {
        0 => 0.0,
        _ if k == n => math::pow(alpha / 2.0, 1.0 / n_f),
        _ => beta_quantile(k_f, n_f - k_f + 1.0, alpha / 2.0),
    };
    let high = match k {
        _ if k == n => 1.0,
        0 => 1.0 - math::pow(alpha / 2.0, 1.0 / n_f),
        _ => beta_quantile(k_f + 1.0, n_f - k_f, 1.0 - alpha / 2.0),
    };
    Interval { low, high }
}

/// 95 % interval for a sum of weights that came by chance, each at its own rate.
///
/// * `sum`, `squares` — of the weights seen and of their squares; `most` — the greatest weight that could have come.
///
/// Fay & Feuer (1997), Statistics in Medicine 16:791: gamma distributions with the mean and the variance of the sum, for the
/// upper end with one more of the greatest weight. For equal weights it is the exact interval of a Poisson count; for unequal
/// ones it is wider rather than narrower than promised.
///
/// ```
/// use tideover::trials::interval::weighted_sum;
/// // Nothing seen: the exact upper end of a Poisson mean is -ln 0.025.
/// let nothing = weighted_sum(0.0, 0.0, 1.0);
/// assert!(nothing.low == 0.0 && (nothing.high + 0.025_f64.ln()).abs() < 1e-9);
/// ```
#[must_use]
pub fn weighted_sum(sum: f64, squares: f64, most: f64) -> Interval {
    let end = |sum: f64, squares: f64, p: f64| squares / sum * gamma_quantile(sum * sum / squares, p);
    Interval {
        low: if sum > 0.0 { end(sum, squares, 0.025) } else { 0.0 },
        high: end(sum + most, squares + most * most, 0.975),
    }
}

/// 95 % interval for the difference `p_b - p_a` of two shares counted on the same `n` trials.
///
/// * `only_a`, `only_b` — trials in which only the one, only the other survived.
///
/// Agresti & Min (2005), Statistics in Medicine 24:729: the Wald interval for paired shares after a half has been added
/// to each of the four cells of the table; it keeps its coverage where few pairs or none differ.
#[must_use]
pub fn paired_difference(only_a: u64, only_b: u64, n: u64) -> (f64, Interval) {
    if n == 0 {
        return (0.0, Interval { low: -1.0, high: 1.0 });
    }
    let n_f = n as f64;
    let (a, b) = (only_a as f64, only_b as f64);
    let difference = (b - a) / n_f;
    let (a, b, n_adjusted) = (a + 0.5, b + 0.5, n_f + 2.0);
    let centre = (b - a) / n_adjusted;
    let half = Z_95 * ((a + b) - (b - a) * (b - a) / n_adjusted).sqrt() / n_adjusted;
    (difference, Interval { low: (centre - half).max(-1.0), high: (centre + half).min(1.0) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn assert_near(found: f64, expected: f64, within: f64) {
        assert!((found - expected).abs() <= within, "{found} for {expected}");
    }

    /// By hand (Agresti & Min 2005): 3 and 8 of 50 become 3.5 and 8.5 of 52, 5 / 52 = 0.096154 ± 1.959964 √(12 - 25 / 52) / 52 = 0.127925.
    #[test]
    fn a_paired_difference_has_its_worked_interval() {
        let (difference, interval) = paired_difference(3, 8, 50);
        assert_near(difference, 0.1, 1e-12);
        assert_near(interval.low, 0.096_154 - 0.127_925, 2e-6);
        assert_near(interval.high, 0.096_154 + 0.127_925, 2e-6);
        let (back, turned) = paired_difference(8, 3, 50);
        assert_eq!((back, turned), (-difference, Interval { low: -interval.high, high: -interval.low }));
        // No difference goes beyond all or none.
        assert_eq!(paired_difference(0, 2, 2).1.high, 1.0);
        assert_eq!(paired_difference(2, 0, 2).1.low, -1.0);
        assert_eq!(paired_difference(0, 0, 0), (0.0, Interval { low: -1.0, high: 1.0 }));
    }

    /// Equal weights are a Poisson count: of five the exact ends are 1.6235 and 11.6683 (tables of Pearson & Hartley, from memory). Weights of 1
    /// and 3 have a mean of 4 and a variance of 10: below a gamma with those, above one with 7 and 19, which are wider than those of equal
    /// weights with the same sum.
    #[test]
    fn a_sum_of_weights_has_the_ends_of_its_counts() {
        for weight in [1.0, 0.01] {
            let interval = weighted_sum(5.0 * weight, 5.0 * weight * weight, weight);
            assert_near(interval.low, 1.6235 * weight, 1e-4 * weight);
            assert_near(interval.high, 11.6683 * weight, 1e-4 * weight);
        }
        let uneven = weighted_sum(4.0, 10.0, 3.0);
        assert_near(uneven.low, 2.5 * gamma_quantile(1.6, 0.025), 1e-12);
        assert_near(uneven.high, 19.0 / 7.0 * gamma_quantile(49.0 / 19.0, 0.975), 1e-12);
        let even = weighted_sum(4.0, 8.0, 2.0);
        assert!(uneven.low < even.low && even.high < uneven.high, "{uneven:?} {even:?}");
    }

    /// What fails is what does not survive.
    #[test]
    fn the_other_outcome_has_the_other_interval() {
        let interval = Interval { low: 0.2, high: 0.7 };
        assert_eq!((interval.complement().low, interval.complement().high), (1.0 - 0.7, 0.8));
        assert_near(interval.complement().width(), interval.width(), 1e-15);
        assert_near(interval.width(), 0.5, 1e-15);
    }
}
