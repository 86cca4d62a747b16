//! The propagation of uncertainty through functions of correlated quantities.
//!
//! Reference: JCGM 100:2008 (GUM), equation 13.

/// Partial derivatives of a function by central differences, each step a thousandth of the quantity's standard
/// uncertainty (or a millionth of its size where that is 0).
pub fn gradient(f: impl Fn(&[f64]) -> f64, at: &[f64], covariance: &[f64]) -> Vec<f64> {
    let n = at.len();
    (0..n)
        .map(|k| {
            let sd = covariance[k * n + k].max(0.0).sqrt();
            let step = if sd > 0.0 { 1e-3 * sd } else { 1e-6 * at[k].abs().max(1e-6) };
            let moved = |by: f64| {
                let mut x = at.to_vec();
                x[k] += by;
                f(&x)
            };
            (moved(step) - moved(-step)) / (2.0 * step)
        })
        .collect()
}

/// Covariance of two functions with these gradients: Σᵢ Σⱼ (∂f/∂xᵢ)(∂g/∂xⱼ) u(xᵢ, xⱼ).
///
/// Reference: JCGM 100:2008, equation 13 for f = g, and F.1.2.3, equation F.2, for two.
#[must_use]
pub fn joint(f: &[f64], g: &[f64], covariance: &[f64]) -> f64 {
    let n = f.len();
    (0..n).map(|i| (0..n).map(|j| f[i] * g[j] * covariance[i * n + j]).sum::<f64>()).sum()
}

/// Value and standard uncertainty of a function of correlated quantities (JCGM 100:2008, equation 13).
pub fn propagate(f: impl Fn(&[f64]) -> f64, at: &[f64], covariance: &[f64]) -> Estimate {
    let slope = gradient(&f, at, covariance);
    // No negative nothing.
    Estimate { value: f(at), standard: joint(&slope, &slope, covariance).max(0.0).sqrt() + 0.0 }
}

/// A best estimate with its standard uncertainty, in the same unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The estimate.
    pub value: f64,
    /// One standard deviation.
    pub standard: f64,
}

impl Estimate {
    /// Half-width of the 95 % interval (JCGM 100:2008, clause 6, coverage factor 1.96 of the normal distribution).
    #[must_use]
    pub fn plus_minus(&self) -> f64 {
        crate::trials::interval::Z_95 * self.standard
    }
    /// Lower end of the 95 % interval.
    #[must_use]
    pub fn low(&self) -> f64 {
        self.value - self.plus_minus()
    }
    /// Upper end of the 95 % interval.
    #[must_use]
    pub fn high(&self) -> f64 {
        self.value + self.plus_minus()
    }
    /// The same in another unit.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Estimate {
        Estimate { value: self.value * factor, standard: self.standard * factor.abs() }
    }
}
