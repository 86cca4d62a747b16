//! Distributions and averages: what every part of the program counts with.

mod quantiles;

pub use quantiles::{beta_quantile, gamma_quantile, normal_quantile};

use crate::math;

/// 95 % point of the standard normal distribution, 1.645: one in twenty lies above it.
pub const NORMAL_P95: f64 = 1.644_853_626_951_472_2;

/// Φ(z): the probability that a standard normal number is at most `z`.
#[must_use]
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * math::erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

/// Density of the standard normal distribution.
#[must_use]
pub fn normal_density(z: f64) -> f64 {
    math::exp(-0.5 * z * z) / std::f64::consts::TAU.sqrt()
}

/// Mean; `NaN` of nothing.
#[must_use]
pub fn mean<T: Copy + Into<f64>>(values: &[T]) -> f64 {
    values.iter().map(|&value| value.into()).sum::<f64>() / values.len() as f64
}

/// The value that a share `p` (0 to 1) of sorted ones stays at or below: the smallest such; `NaN` of nothing.
#[must_use]
pub fn quantile<T: Copy + Into<f64>>(sorted: &[T], p: f64) -> f64 {
    let at = ((p * sorted.len() as f64).ceil() as usize).clamp(1, sorted.len().max(1)) - 1;
    sorted.get(at).map_or(f64::NAN, |&value| value.into())
}

/// The value that half stay at or below; 0 of nothing.
#[must_use]
pub fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    if values.is_empty() { 0.0 } else { quantile(&values, 0.5) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_those_of_the_tables() {
        // Normal and chi-squared tables (Abramowitz & Stegun 1964, tables 26.1 and 26.8): Φ(1.96) = 0.97500, 95 % point of
        // chi-squared with 1, 2 and 10 degrees of freedom 3.84146, 5.99146, 18.30704; a gamma variate of shape ν/2 is half of it.
        assert!((normal_cdf(1.96) - 0.975_002_1).abs() < 5e-8);
        assert!((normal_quantile(0.95) - NORMAL_P95).abs() < 1e-12);
        assert!((normal_density(1.0) - 0.241_970_725).abs() < 5e-10);
        for (freedom, point) in [(1.0, 3.84146), (2.0, 5.99146), (10.0, 18.30704)] {
            assert!((2.0 * gamma_quantile(0.5 * freedom, 0.95) - point).abs() < 1e-5, "{freedom}");
        }
    }

    #[test]
    fn half_stay_at_or_below_the_median() {
        assert_eq!(median(vec![3.0, 1.0, 2.0]), 2.0);
        assert_eq!(median(vec![4.0, 1.0, 2.0, 3.0]), 2.0);
        assert_eq!(median(Vec::new()), 0.0);
        assert_eq!(quantile(&[1.0_f32, 2.0, 3.0, 4.0, 5.0], 0.9), 5.0);
        assert!(quantile::<f64>(&[], 0.5).is_nan());
    }
}
