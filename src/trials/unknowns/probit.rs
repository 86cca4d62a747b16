//! A probit regression of survival on the numbers behind what is not known.

use crate::linear::{cholesky, solve};
use crate::statistics::{normal_cdf, normal_density, normal_quantile};

/// A slope this many standard errors from 0 is told from noise; with a handful of quantities one in some hundred answers
/// names one by accident.
const TOLD_FROM_NOISE: f64 = 3.0;

/// What a probit regression tells.
pub(super) enum Fit {
    /// Intercept, slopes and their variances.
    Settled { intercept: f64, slopes: Vec<f64>, noise: Vec<f64> },
    /// What is not known decides every trial, so that slopes grow without end; those reached.
    Decided { intercept: f64, slopes: Vec<f64> },
}

impl Fit {
    /// Intercept and slopes.
    pub(super) fn line(&self) -> (f64, &[f64]) {
        match self {
            Fit::Settled { intercept, slopes, .. } | Fit::Decided { intercept, slopes } => (*intercept, slopes),
        }
    }

    /// Sum of the squares of the slopes.
    pub(super) fn spread_squared(&self) -> f64 {
        match self {
            Fit::Settled { slopes, .. } => (0..slopes.len()).map(|k| self.spread_squared_of(k)).sum(),
            Fit::Decided { .. } => DECIDED,
        }
    }

    /// What one quantity adds to that.
    pub(super) fn spread_squared_of(&self, k: usize) -> f64 {
        match self {
            // The squares of estimated slopes are too large by their variances, on average.
            Fit::Settled { slopes, noise, .. } => (slopes[k] * slopes[k] - noise[k]).max(0.0),
            Fit::Decided { slopes, .. } => {
                DECIDED * slopes[k] * slopes[k] / slopes.iter().map(|b| b * b).sum::<f64>().max(f64::MIN_POSITIVE)
            }
        }
    }

    /// What each quantity carries of the doubt; nothing is said where none stands out. One that does not stand out still
    /// counts in the whole as much as it may carry, so that another's share is never all of it by accident.
    pub(super) fn shares(&self) -> Vec<Option<f64>> {
        match self {
            Fit::Settled { slopes, noise, .. } => {
                let told = |b: f64, v: f64| b * b > TOLD_FROM_NOISE * TOLD_FROM_NOISE * v;
                let of = || slopes.iter().zip(noise).map(|(&b, &v)| (b, v));
                let whole: f64 = of().map(|(b, v)| if told(b, v) { b * b - v } else { (b * b).max(v) }).sum();
                if !of().any(|(b, v)| told(b, v)) {
                    return Vec::new();
                }
                of().map(|(b, v)| told(b, v).then(|| (b * b - v) / whole)).collect()
            }
            Fit::Decided { slopes, .. } => {
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
pub(super) fn probit(outcomes: &[bool], rows: &[f32], width: usize) -> Option<Fit> {
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
        slopes.iter().any(|b| b.abs() > STEEPEST).then_some(Fit::Decided { intercept: coefficients[0], slopes })
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
            return Some(Fit::Settled {
                intercept: coefficients[0],
                slopes: coefficients[1..].to_vec(),
                noise: variances,
            });
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

    /// Groups of trials whose number is the same: the number, trials, survivors.
    fn groups(of: &[(f32, usize, usize)]) -> (Vec<bool>, Vec<f32>) {
        let outcomes = of.iter().flat_map(|&(_, n, survived)| (0..n).map(move |k| k < survived)).collect();
        (outcomes, of.iter().flat_map(|&(z, n, _)| std::iter::repeat_n(z, n)).collect())
    }

    /// Two groups and a line through both: their shares come out exactly. 90 % of 400 at z = 1 and 60 % of 200 at z = -1 have normal
    /// scores of 1.281552 and 0.253347 (tables), the slope is half their difference, and its variance a quarter of the sum of those of
    /// the scores, `p (1 - p) / (n φ²)` (delta method).
    #[test]
    fn a_line_through_two_groups_gives_their_shares() {
        let (outcomes, rows) = groups(&[(1.0, 400, 360), (-1.0, 200, 120)]);
        let fit = probit(&outcomes, &rows, 1).expect("it settles");
        let (intercept, slopes) = fit.line();
        assert!((intercept - 0.767_449).abs() < 1e-6, "{intercept}");
        assert!((slopes[0] - 0.514_102).abs() < 1e-6, "{}", slopes[0]);
        let variance = |p: f64, n: f64, density: f64| p * (1.0 - p) / (n * density * density);
        // φ(1.281552) = 0.175498, φ(0.253347) = 0.386343.
        let noise = 0.25 * (variance(0.9, 400.0, 0.175_498) + variance(0.6, 200.0, 0.386_343));
        let Fit::Settled { noise: found, .. } = &fit else { panic!("settled") };
        assert!((found[0] / noise - 1.0).abs() < 1e-4, "{} for {noise}", found[0]);
        assert!((fit.spread_squared() - (0.514_102_f64 * 0.514_102 - noise)).abs() < 1e-5);
        assert_eq!(fit.shares(), [Some(1.0)]);
    }

    /// The same from many trials, where some of them bring it near at first, in whatever order, with a second number that tells
    /// nothing: its slope is 0 where it is balanced within the groups.
    #[test]
    fn many_trials_come_to_the_same_line() {
        let (outcomes, first): (Vec<bool>, Vec<f32>) = groups(&[(1.0, 6_000, 5_400), (-1.0, 3_000, 1_800)]);
        // Survivors and failures both come in pairs of either sign; 7 and 9,000 have no factor in common.
        let order: Vec<usize> = (0..9_000).map(|k| (k * 7) % 9_000).collect();
        let outcomes: Vec<bool> = order.iter().map(|&k| outcomes[k]).collect::<Vec<_>>();
        let rows: Vec<f32> = order.iter().flat_map(|&k| [first[k], if k % 2 == 0 { 2.0 } else { -2.0 }]).collect();
        let fit = probit(&outcomes, &rows, 2).expect("it settles");
        let (intercept, slopes) = fit.line();
        assert!((intercept - 0.767_449).abs() < 1e-6 && (slopes[0] - 0.514_102).abs() < 1e-6, "{intercept} {slopes:?}");
        assert!(slopes[1].abs() < 1e-9, "{slopes:?}");
        let shares = fit.shares();
        assert!(shares[0].is_some_and(|share| share > 0.99) && shares[1].is_none(), "{shares:?}");
        assert_eq!(fit.spread_squared_of(1), 0.0);
    }

    /// A number that decides every trial has a slope without end; what there is besides it has no part.
    #[test]
    fn what_decides_is_said_to_decide() {
        let rows: Vec<f32> = (0..400).map(|k| (k as f32 - 199.5) / 100.0).collect();
        let outcomes: Vec<bool> = rows.iter().map(|&z| z > 0.3).collect();
        let fit = probit(&outcomes, &rows, 1).expect("it decides");
        assert!(matches!(fit, Fit::Decided { .. }));
        assert_eq!((fit.spread_squared(), fit.spread_squared_of(0)), (DECIDED, DECIDED));
        assert_eq!(fit.shares(), [Some(1.0)]);
    }

    /// By hand: slopes of 3, 4 and 0 carry 9 and 16 of 25. With variances of 1, 0.25 and 0.04 the slopes 4 and 2 are told from noise
    /// (16 > 9 and 4 > 2.25) and leave 15 and 3.75; one of 0.1 counts as 0.04, and one that is not told is not named.
    #[test]
    fn shares_are_of_the_squares_less_what_noise_makes_of_them() {
        let decided = Fit::Decided { intercept: 0.5, slopes: vec![3.0, -4.0, 0.0] };
        assert_eq!(decided.shares(), [Some(9.0 / 25.0), Some(16.0 / 25.0), None]);
        assert_eq!(decided.spread_squared_of(1), DECIDED * 16.0 / 25.0);
        assert_eq!(decided.line(), (0.5, &[3.0, -4.0, 0.0][..]));
        let settled =
            |slopes: [f64; 3]| Fit::Settled { intercept: 0.5, slopes: slopes.into(), noise: vec![1.0, 0.25, 0.04] };
        let fit = settled([4.0, -2.0, 0.1]);
        let whole = 15.0 + 3.75 + 0.04;
        assert_eq!(fit.shares(), [Some(15.0 / whole), Some(3.75 / whole), None]);
        assert_eq!((fit.spread_squared_of(0), fit.spread_squared_of(1), fit.spread_squared_of(2)), (15.0, 3.75, 0.0));
        assert_eq!(fit.spread_squared(), 18.75);
        // Not told, but greater than its noise: as much as it may carry.
        let whole = 15.0 + 1.44 + 0.04;
        assert_eq!(settled([4.0, -1.2, 0.1]).shares(), [Some(15.0 / whole), None, None]);
        assert_eq!(settled([2.9, 1.4, 0.5]).shares(), []);
    }
}
