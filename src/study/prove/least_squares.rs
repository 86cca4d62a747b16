//! Small least squares with the covariance of the answer, and the propagation of uncertainty.
//!
//! References:
//! * Golub & Van Loan, Matrix Computations, chapter 5: least squares by Householder reflections.
//! * JCGM 100:2008 (GUM), equation 13: uncertainty of a function of correlated quantities.

use thiserror::Error;

/// Why there is no solution.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum FitError {
    /// The rows do not tell the unknowns apart.
    #[error("the measurements do not determine all unknowns")]
    Undetermined,
    /// A number that is not finite.
    #[error("a measurement is not a finite number")]
    NotFinite,
}

/// A least-squares answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// The unknowns.
    pub values: Vec<f64>,
    /// Their covariance for rows of unit variance, (AᵀA)⁻¹, row by row.
    pub covariance: Vec<f64>,
    /// Sum of the squared residuals.
    pub residual_sum: f64,
}

/// Finds x with the least |A x − b|², by Householder QR.
///
/// * `rows` — A, row by row; `width` — number of unknowns; `right` — b, one for each row. Rows are to be divided by their
///   standard uncertainty beforehand, then the covariance holds as it is.
///
/// Columns are scaled to unit length first, so that watts and watt-hours may stand beside shares. Within that scale a
/// column that lies closer than 1e-10 to the others is refused.
///
/// # Errors
/// Fewer rows than unknowns, columns that depend on each other, numbers that are not finite.
///
/// ```
/// use tideover::study::prove::least_squares::solve;
/// // A straight line 1 + 2 x through three points.
/// let line = solve(&[1.0, 0.0, 1.0, 1.0, 1.0, 2.0], 2, &[1.0, 3.0, 5.0])?;
/// assert!((line.values[0] - 1.0).abs() < 1e-12 && (line.values[1] - 2.0).abs() < 1e-12);
/// # Ok::<(), tideover::study::prove::least_squares::FitError>(())
/// ```
pub fn solve(rows: &[f64], width: usize, right: &[f64]) -> Result<Solution, FitError> {
    let height = right.len();
    if width == 0 || height < width || rows.len() != height * width {
        return Err(FitError::Undetermined);
    }
    if rows.iter().chain(right).any(|x| !x.is_finite()) {
        return Err(FitError::NotFinite);
    }
    let scale: Vec<f64> = (0..width).map(|j| norm((0..height).map(|i| rows[i * width + j]))).collect();
    if scale.iter().any(|s| *s <= 0.0) {
        return Err(FitError::Undetermined);
    }
    let mut a: Vec<f64> = rows.iter().enumerate().map(|(k, x)| x / scale[k % width]).collect();
    let mut b = right.to_vec();
    for j in 0..width {
        // v = x + sign(x₁) |x| e₁; R_jj = −sign(x₁) |x|
        let length = norm((j..height).map(|i| a[i * width + j]));
        if length < 1e-10 {
            return Err(FitError::Undetermined);
        }
        let head = a[j * width + j];
        let diagonal = if 0.0 < head { -length } else { length };
        let mut v: Vec<f64> = (j..height).map(|i| a[i * width + j]).collect();
        v[0] -= diagonal;
        let half = 0.5 * v.iter().map(|x| x * x).sum::<f64>();
        if half > 0.0 {
            for k in j + 1..width {
                let dot: f64 = v.iter().enumerate().map(|(i, v)| v * a[(j + i) * width + k]).sum::<f64>() / half;
                for (i, v) in v.iter().enumerate() {
                    a[(j + i) * width + k] -= dot * v;
                }
            }
            let dot: f64 = v.iter().enumerate().map(|(i, v)| v * b[j + i]).sum::<f64>() / half;
            for (i, v) in v.iter().enumerate() {
                b[j + i] -= dot * v;
            }
        }
        a[j * width + j] = diagonal;
    }
    // R⁻¹ column by column, then x = R⁻¹ Qᵀb and (AᵀA)⁻¹ = R⁻¹ R⁻ᵀ.
    let mut inverse = vec![0.0; width * width];
    for k in 0..width {
        for i in (0..=k).rev() {
            let unit = if i == k { 1.0 } else { 0.0 };
            let sum: f64 = (i + 1..=k).map(|m| a[i * width + m] * inverse[m * width + k]).sum();
            inverse[i * width + k] = (unit - sum) / a[i * width + i];
        }
    }
    let mut values = vec![0.0; width];
    let mut covariance = vec![0.0; width * width];
    for i in 0..width {
        // Back substitution is more exact than a product with the inverse.
        let at = width - 1 - i;
        let sum: f64 = (at + 1..width).map(|m| a[at * width + m] * values[m]).sum();
        values[at] = (b[at] - sum) / a[at * width + at];
    }
    for i in 0..width {
        for j in 0..width {
            let dot: f64 = (i.max(j)..width).map(|m| inverse[i * width + m] * inverse[j * width + m]).sum();
            covariance[i * width + j] = dot / (scale[i] * scale[j]);
        }
        values[i] /= scale[i];
    }
    Ok(Solution { values, covariance, residual_sum: b[width..].iter().map(|r| r * r).sum() })
}

fn norm(items: impl Iterator<Item = f64>) -> f64 {
    items.map(|x| x * x).sum::<f64>().sqrt()
}

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
    Estimate { value: f(at), standard: joint(&slope, &slope, covariance).max(0.0).sqrt() }
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
