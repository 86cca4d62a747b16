//! Symmetric systems of equations and least squares: the linear algebra that climates, regressions and bench tests need.
//! Matrices are slices, row by row.
//!
//! References:
//! * Golub & Van Loan, Matrix Computations, chapter 4: Cholesky's factors; chapter 5: least squares by Householder reflections.

use thiserror::Error;

/// Lower triangle L with L Lᵀ = A, from the lower triangle of A.
///
/// * `size` — rows of A; `least` — what is left of a row's own variance once the rows before it are known counts as nothing up
///   to this share of it: such rows get zeros, as do rows without any variance.
#[must_use]
pub fn triangle(mut a: Vec<f64>, size: usize, least: f64) -> Vec<f64> {
    for i in 0..size {
        for j in 0..=i {
            let own = a[i * size + j];
            let left = own - (0..j).map(|k| a[i * size + k] * a[j * size + k]).sum::<f64>();
            let pivot = a[j * size + j];
            a[i * size + j] = match () {
                () if i == j && left > least * own => left.sqrt(),
                () if i != j && pivot > 0.0 => left / pivot,
                () => 0.0,
            };
        }
        a[i * size + i + 1..(i + 1) * size].fill(0.0);
    }
    a
}

/// Lower triangle L with L Lᵀ = A, from the lower triangle of A; `None` where A is not positive definite.
#[must_use]
pub fn cholesky(a: Vec<f64>, size: usize) -> Option<Vec<f64>> {
    let factor = triangle(a, size, 0.0);
    (0..size).all(|i| factor[i * size + i] > 0.0).then_some(factor)
}

/// Solves A x = b for A = L Lᵀ.
///
/// * `factor` — L of [`cholesky`]; `right` — b.
#[must_use]
pub fn solve(factor: &[f64], size: usize, right: &[f64]) -> Vec<f64> {
    let mut x = right.to_vec();
    for i in 0..size {
        let sum: f64 = (0..i).map(|k| factor[i * size + k] * x[k]).sum();
        x[i] = (x[i] - sum) / factor[i * size + i];
    }
    for i in (0..size).rev() {
        let sum: f64 = (i + 1..size).map(|k| factor[k * size + i] * x[k]).sum();
        x[i] = (x[i] - sum) / factor[i * size + i];
    }
    x
}

/// Why there is no solution.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum Unsolvable {
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
/// use tideover::linear::least_squares;
/// // A straight line 1 + 2 x through three points.
/// let line = least_squares(&[1.0, 0.0, 1.0, 1.0, 1.0, 2.0], 2, &[1.0, 3.0, 5.0])?;
/// assert!((line.values[0] - 1.0).abs() < 1e-12 && (line.values[1] - 2.0).abs() < 1e-12);
/// # Ok::<(), tideover::linear::Unsolvable>(())
/// ```
pub fn least_squares(rows: &[f64], width: usize, right: &[f64]) -> Result<Solution, Unsolvable> {
    let height = right.len();
    if width == 0 || height < width || rows.len() != height * width {
        return Err(Unsolvable::Undetermined);
    }
    if rows.iter().chain(right).any(|x| !x.is_finite()) {
        return Err(Unsolvable::NotFinite);
    }
    let scale: Vec<f64> = (0..width).map(|j| norm((0..height).map(|i| rows[i * width + j]))).collect();
    if scale.iter().any(|s| *s <= 0.0) {
        return Err(Unsolvable::Undetermined);
    }
    let mut a: Vec<f64> = rows.iter().enumerate().map(|(k, x)| x / scale[k % width]).collect();
    let mut b = right.to_vec();
    for j in 0..width {
        // v = x + sign(x₁) |x| e₁; R_jj = −sign(x₁) |x|
        let length = norm((j..height).map(|i| a[i * width + j]));
        if length < 1e-10 {
            return Err(Unsolvable::Undetermined);
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_triangle_gives_back_the_covariance() {
        let a = [4.0, 1.2, -0.6, 1.2, 1.0, 0.1, -0.6, 0.1, 0.5];
        let l = triangle(a.to_vec(), 3, 0.0);
        for i in 0..3 {
            for j in 0..3 {
                let product: f64 = (0..3).map(|k| l[i * 3 + k] * l[j * 3 + k]).sum();
                assert!((product - a[i * 3 + j]).abs() < 1e-12);
            }
        }
        // Two figures tied rigidly, one exact.
        let tied = vec![1.0, 2.0, 0.0, 2.0, 4.0, 0.0, 0.0, 0.0, 0.0];
        assert_eq!(triangle(tied.clone(), 3, 1e-9), [1.0, 0.0, 0.0, 2.0, 0.0, 0.0, 0.0, 0.0, 0.0]);
        assert_eq!(cholesky(tied, 3), None);
    }
}
