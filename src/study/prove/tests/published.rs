//! Least squares and propagation against published and library values.

use super::super::uncertainty::{gradient, joint, propagate};
use super::near;
use crate::linear::{Unsolvable, least_squares};
use crate::math;

/// NIST StRD, Longley (1967), level of difficulty: higher. Data and certified values from memory; an exact elimination in
/// fractions over the data gives the certified values to 13 digits, so both are remembered rightly.
#[test]
fn longley_comes_out_as_certified() {
    const DATA: [[f64; 7]; 16] = [
        [60323.0, 83.0, 234289.0, 2356.0, 1590.0, 107608.0, 1947.0],
        [61122.0, 88.5, 259426.0, 2325.0, 1456.0, 108632.0, 1948.0],
        [60171.0, 88.2, 258054.0, 3682.0, 1616.0, 109773.0, 1949.0],
        [61187.0, 89.5, 284599.0, 3351.0, 1650.0, 110929.0, 1950.0],
        [63221.0, 96.2, 328975.0, 2099.0, 3099.0, 112075.0, 1951.0],
        [63639.0, 98.1, 346999.0, 1932.0, 3594.0, 113270.0, 1952.0],
        [64989.0, 99.0, 365385.0, 1870.0, 3547.0, 115094.0, 1953.0],
        [63761.0, 100.0, 363112.0, 3578.0, 3350.0, 116219.0, 1954.0],
        [66019.0, 101.2, 397469.0, 2904.0, 3048.0, 117388.0, 1955.0],
        [67857.0, 104.6, 419180.0, 2822.0, 2857.0, 118734.0, 1956.0],
        [68169.0, 108.4, 442769.0, 2936.0, 2798.0, 120445.0, 1957.0],
        [66513.0, 110.8, 444546.0, 4681.0, 2637.0, 121950.0, 1958.0],
        [68655.0, 112.6, 482704.0, 3813.0, 2552.0, 123366.0, 1959.0],
        [69564.0, 114.2, 502601.0, 3931.0, 2514.0, 125368.0, 1960.0],
        [69331.0, 115.7, 518173.0, 4806.0, 2572.0, 127852.0, 1961.0],
        [70551.0, 116.9, 554894.0, 4007.0, 2827.0, 130081.0, 1962.0],
    ];
    const CERTIFIED: [f64; 7] = [
        -3482258.63459582,
        15.0618722713733,
        -0.0358191792925910,
        -2.02022980381683,
        -1.03322686717359,
        -0.0511041056535807,
        1829.15146461355,
    ];
    /// Certified standard deviation of the first estimate and of the residuals.
    const DEVIATIONS: (f64, f64) = (890420.383607373, 304.854073561965);
    let rows: Vec<f64> = DATA.iter().flat_map(|row| std::iter::once(1.0).chain(row[1..].iter().copied())).collect();
    let right: Vec<f64> = DATA.iter().map(|row| row[0]).collect();
    let solution = least_squares(&rows, 7, &right).unwrap();
    for (got, certified) in solution.values.iter().zip(CERTIFIED) {
        // Condition number about 5e9 with unscaled columns: 16 digits less those leave 7; scaling spares some.
        near(got / certified, 1.0, 1e-8);
    }
    let residual = (solution.residual_sum / 9.0).sqrt();
    near(residual / DEVIATIONS.1, 1.0, 1e-9);
    near(solution.covariance[0].sqrt() * residual / DEVIATIONS.0, 1.0, 1e-8);
}

/// NIST StRD, Wampler1: y = 1 + x + x² + x³ + x⁴ + x⁵ at x = 0 to 20; certified: all ones and no residual.
#[test]
fn wampler_comes_out_as_certified() {
    let power = |x: f64, k: usize| math::powi(x, k as i32);
    let rows: Vec<f64> = (0..=20).flat_map(|x| (0..6).map(move |k| power(f64::from(x), k))).collect();
    let right: Vec<f64> = rows.chunks(6).map(|row| row.iter().sum()).collect();
    let solution = least_squares(&rows, 6, &right).unwrap();
    for value in &solution.values {
        near(*value, 1.0, 1e-8);
    }
    assert!(solution.residual_sum.sqrt() < 1e-7, "{}", solution.residual_sum);
}

/// A parabola by numpy's lstsq and inv (prove_reference.py, part 2), twelve digits.
#[test]
fn a_parabola_agrees_with_numpy() {
    let rows =
        [[1.0, 0.2, 0.04], [1.0, 0.9, 0.81], [1.0, 1.7, 2.89], [1.0, 2.6, 6.76], [1.0, 3.1, 9.61], [1.0, 4.4, 19.36]]
            .concat();
    let solution = least_squares(&rows, 3, &[2.1, 2.9, 4.4, 7.2, 9.3, 16.1]).unwrap();
    for (got, expected) in solution.values.iter().zip([2.05246243636, 0.266249753143, 0.665077364233]) {
        near(*got, expected, 1e-11);
    }
    let covariance = [
        1.076762694249,
        -0.917733882388,
        0.161595918858,
        -0.917733882388,
        1.130416807111,
        -0.229946124079,
        0.161595918858,
        -0.229946124079,
        0.050588535279,
    ];
    for (got, expected) in solution.covariance.iter().zip(covariance) {
        near(*got, expected, 1e-11);
    }
    near(solution.residual_sum, 0.009168634348256826, 1e-12);
}

#[test]
fn what_cannot_be_solved_is_refused() {
    assert_eq!(least_squares(&[1.0, 2.0], 2, &[1.0]).unwrap_err(), Unsolvable::Undetermined);
    assert_eq!(
        least_squares(&[1.0, 2.0, 2.0, 4.0, 3.0, 6.0], 2, &[1.0, 2.0, 3.0]).unwrap_err(),
        Unsolvable::Undetermined
    );
    assert_eq!(least_squares(&[1.0, 0.0, 1.0, 0.0], 2, &[1.0, 2.0]).unwrap_err(), Unsolvable::Undetermined);
    assert_eq!(least_squares(&[1.0, f64::NAN], 1, &[1.0, 2.0]).unwrap_err(), Unsolvable::NotFinite);
}

/// GUM (JCGM 100:2008), example H.2: resistance R and reactance X of a circuit from voltage, current and phase measured
/// together five times. Data and results from memory; numpy gives the same from the data (prove_reference.py, part 4).
#[test]
fn the_guide_s_example_h2_comes_out() {
    let volts = [5.007, 4.994, 5.005, 4.990, 4.999];
    let amps = [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3];
    let phase = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];
    let series = [volts, amps, phase];
    let means: Vec<f64> = series.iter().map(|s| s.iter().sum::<f64>() / 5.0).collect();
    let mut covariance = vec![0.0; 9];
    for i in 0..3 {
        for j in 0..3 {
            let sum: f64 = (0..5).map(|k| (series[i][k] - means[i]) * (series[j][k] - means[j])).sum();
            covariance[3 * i + j] = sum / (5.0 * 4.0);
        }
    }
    let resistance = |x: &[f64]| x[0] / x[1] * math::cos(x[2]);
    let reactance = |x: &[f64]| x[0] / x[1] * math::sin(x[2]);
    let impedance = |x: &[f64]| x[0] / x[1];
    // Table H.4: 127.732 ± 0.071, 219.847 ± 0.295, 254.260 ± 0.236 ohm (0.2956 before it was cut to three digits).
    for (f, value, standard) in [
        (&resistance as &dyn Fn(&[f64]) -> f64, 127.732, 0.071),
        (&reactance, 219.847, 0.2956),
        (&impedance, 254.260, 0.236),
    ] {
        let estimate = propagate(f, &means, &covariance);
        near(estimate.value, value, 6e-4);
        near(estimate.standard, standard, 6e-4);
    }
    let slope = |f: &dyn Fn(&[f64]) -> f64| gradient(f, &means, &covariance);
    let correlation = |f: &dyn Fn(&[f64]) -> f64, g: &dyn Fn(&[f64]) -> f64| {
        let (f, g) = (slope(f), slope(g));
        joint(&f, &g, &covariance) / (joint(&f, &f, &covariance) * joint(&g, &g, &covariance)).sqrt()
    };
    // r(R, X) = -0.588, r(R, Z) = -0.485, r(X, Z) = 0.993.
    near(correlation(&resistance, &reactance), -0.588, 6e-4);
    near(correlation(&resistance, &impedance), -0.485, 6e-4);
    near(correlation(&reactance, &impedance), 0.993, 6e-4);
}

/// GUM, example H.1: an end gauge by comparison with a standard, l = l_s + d - l_s (δα θ + α_s δθ). Inputs and result (50.000838 mm, combined
/// standard uncertainty 32 nm) from JCGM 100:2008, H.1 and Table H.1; the inputs also as worked in the documentation of a public
/// library of metrology. Limits are constant densities, the room's cycle an arcsine one.
#[test]
fn the_guide_s_example_h1_comes_out() {
    let third = 3.0_f64.sqrt();
    // l_s, d by the comparator, its random and its systematic errors [nm], δα, mean θ, its cycle, α_s, δθ.
    let at = [50_000_623.0, 215.0, 0.0, 0.0, 0.0, -0.1, 0.0, 11.5e-6, 0.0];
    let standards = [25.0, 5.8, 3.9, 6.7, 1e-6 / third, 0.2, 0.5 / 2.0_f64.sqrt(), 2e-6 / third, 0.05 / third];
    let n = at.len();
    let covariance: Vec<f64> =
        (0..n * n).map(|k| if k / n == k % n { standards[k / n] * standards[k / n] } else { 0.0 }).collect();
    let length = |x: &[f64]| x[0] + x[1] + x[2] + x[3] - x[0] * (x[4] * (x[5] + x[6]) + x[7] * x[8]);
    let estimate = propagate(length, &at, &covariance);
    near(estimate.value, 50_000_838.0, 0.5);
    // Two digits are printed.
    near(estimate.standard, 32.0, 0.5);
}

/// GUM, example H.3: the calibration curve of a thermometer by least squares, its covariance, and the correction at 30 °C. Data and
/// results from JCGM 100:2008, H.3 and Table H.6 (data also in the examples of a public library of metrology).
#[test]
fn the_guide_s_example_h3_comes_out() {
    let celsius = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511];
    let correction = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160];
    let rows: Vec<f64> = celsius.iter().flat_map(|t| [1.0, t - 20.0]).collect();
    let line = least_squares(&rows, 2, &correction).unwrap();
    let variance = line.residual_sum / 9.0;
    let covariance: Vec<f64> = line.covariance.iter().map(|c| c * variance).collect();
    // y1 = -0.1712 (0.0029) °C, y2 = 0.00218 (0.00067), r = -0.930, s = 0.0035 °C: half of the last digit each.
    near(line.values[0], -0.1712, 5e-5);
    near(line.values[1], 0.00218, 5e-6);
    near(covariance[0].sqrt(), 0.0029, 5e-5);
    near(covariance[3].sqrt(), 0.00067, 5e-6);
    near(covariance[1] / (covariance[0] * covariance[3]).sqrt(), -0.930, 5e-4);
    near(variance.sqrt(), 0.0035, 5e-5);
    // b(30 °C) = -0.1494 °C, u = 0.0041 °C: the covariance counts.
    let at_30 = propagate(|y: &[f64]| y[0] + 10.0 * y[1], &line.values, &covariance);
    near(at_30.value, -0.1494, 5e-5);
    near(at_30.standard, 0.0041, 5e-5);
}
