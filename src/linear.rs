//! Symmetric systems of equations: the few dozen lines of linear algebra that climates and regressions need.

/// Lower triangle L with L Lᵀ = A, from the lower triangle of A; `None` where A is not positive definite.
pub fn cholesky(mut a: Vec<f64>, size: usize) -> Option<Vec<f64>> {
    for i in 0..size {
        for j in 0..=i {
            let sum: f64 = a[i * size + j] - (0..j).map(|k| a[i * size + k] * a[j * size + k]).sum::<f64>();
            if i == j {
                if sum.is_nan() || sum <= 0.0 {
                    return None;
                }
                a[i * size + i] = sum.sqrt();
            } else {
                a[i * size + j] = sum / a[j * size + j];
            }
        }
    }
    Some(a)
}

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
