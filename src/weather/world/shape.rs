//! The distribution of a month's days about its mean, where no record tells it.

use crate::weather::bend::{BRIGHTEST, DARKEST, settled};
use crate::weather::climate::{LEVELS, quantile_at, quantile_mean};

/// Clearness at the [`LEVELS`] by 1, x, x², T/30, max(T − 20, 0)/30 and d − 0.15: x the mean clearness less a half, T the month's
/// air \[°C], d how far the darkest fifth of days lies below the mean in the reanalysis. Least squares over the months of
/// thirty open records (`weather/fit_doubt.py`).
const FITTED: [[f64; LEVELS.len()]; 6] = [
    [
        0.1307, 0.1504, 0.1887, 0.2316, 0.2855, 0.3281, 0.3636, 0.3933, 0.4207, 0.4443, 0.4698, 0.4929, 0.5139, 0.5389,
        0.5628, 0.5861, 0.6096, 0.6290, 0.6453, 0.6633, 0.6805, 0.7027, 0.7177, 0.7342, 0.7480,
    ],
    [
        0.3049, 0.4579, 0.6123, 0.7806, 1.0061, 1.1391, 1.2221, 1.2680, 1.2961, 1.3012, 1.2901, 1.2657, 1.2279, 1.1823,
        1.1227, 1.0573, 0.9708, 0.8843, 0.7941, 0.7045, 0.6158, 0.5111, 0.4403, 0.3622, 0.2646,
    ],
    [
        0.0746, 0.6466, 1.0789, 1.2262, 1.3079, 1.1567, 0.9596, 0.6408, 0.3281, 0.0521, -0.2509, -0.4437, -0.5974,
        -0.7542, -0.8475, -0.9021, -0.8031, -0.7022, -0.5138, -0.3256, -0.1656, 0.0561, 0.2415, 0.4644, 0.8573,
    ],
    [
        0.0232, 0.0221, 0.0148, 0.0095, 0.0033, -0.0024, -0.0017, 0.0071, 0.0135, 0.0170, 0.0202, 0.0193, 0.0197,
        0.0129, 0.0051, -0.0004, -0.0097, -0.0146, -0.0173, -0.0223, -0.0239, -0.0283, -0.0321, -0.0364, -0.0353,
    ],
    [
        0.0042, 0.0880, 0.1546, 0.2032, 0.2243, 0.2073, 0.1698, 0.1071, 0.0594, 0.0264, -0.0154, -0.0446, -0.0731,
        -0.0868, -0.0905, -0.1035, -0.1018, -0.1028, -0.1038, -0.1003, -0.0933, -0.0821, -0.0712, -0.0675, -0.0805,
    ],
    [
        -0.6097, -0.5773, -0.6693, -0.7226, -0.6486, -0.5454, -0.4528, -0.3366, -0.2072, -0.0866, 0.0180, 0.1104,
        0.1968, 0.2552, 0.3048, 0.3223, 0.3292, 0.3421, 0.3507, 0.3401, 0.3190, 0.2816, 0.2625, 0.2449, 0.2610,
    ],
];
/// Ranges of mean clearness, air \[°C] and d among the records: no extrapolation beyond.
const MEANS: (f64, f64) = (0.25, 0.76);
const AIR_C: (f64, f64) = (-12.0, 33.0);
const DARK_FIFTH: (f64, f64) = (0.04, 0.33);

/// Quantiles of daily clearness with a given mean.
///
/// * `mean` — of the month's clearness, 0 to 1; `air_c` — its mean air temperature \[°C]; `reanalysis` — the reanalysis's own
///   quantiles, whose level is not used.
///
/// At places left out of the fit and with their true means, the share of days below 0.3 comes out within 3.6 points (root
/// mean square; the reanalysis's own shape: 4.1) and the logarithm of the standard deviation within 0.15 (0.17).
pub(super) fn of_mean(mean: f64, air_c: f64, reanalysis: &[f64; LEVELS.len()]) -> [f64; LEVELS.len()] {
    let fifth = (0..20).map(|k| quantile_at(reanalysis, 0.005 + 0.01 * f64::from(k))).sum::<f64>() / 20.0;
    let dark = (quantile_mean(reanalysis) - fifth).clamp(DARK_FIFTH.0, DARK_FIFTH.1);
    let within = mean.clamp(MEANS.0, MEANS.1);
    let (x, t) = (within - 0.5, air_c.clamp(AIR_C.0, AIR_C.1));
    let features = [1.0, x, x * x, t / 30.0, (t - 20.0).max(0.0) / 30.0, dark - 0.15];
    let levels = std::array::from_fn(|level| {
        let sum: f64 = features.iter().zip(&FITTED).map(|(feature, by)| feature * by[level]).sum();
        sum.clamp(DARKEST, BRIGHTEST)
    });
    settled(levels, mean)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn means_are_met_and_days_rise_everywhere() {
        for mean in [0.05, 0.15, 0.3, 0.45, 0.6, 0.75, 0.8] {
            for air_c in [-50.0, -12.0, 0.0, 20.0, 33.0, 45.0] {
                for spread in [0.05, 0.3, 0.8] {
                    let reanalysis = LEVELS.map(|level| (0.5 + spread * (level - 0.5)).clamp(0.0, 0.9));
                    let levels = of_mean(mean, air_c, &reanalysis);
                    assert!(levels.windows(2).all(|pair| pair[0] <= pair[1]), "{mean} {air_c} {spread}: {levels:?}");
                    assert!((quantile_mean(&levels) / mean - 1.0).abs() < 1e-3, "{mean} {air_c} {spread}");
                    assert!(0.0 <= levels[0] && levels[LEVELS.len() - 1] <= BRIGHTEST);
                }
            }
        }
    }

    #[test]
    fn dim_months_have_many_dark_days() {
        // Records: in months of a mean clearness of 0.3 to 0.4 some 38 of 100 days lie below 0.3 (seventeen long records).
        let reanalysis = LEVELS.map(|level| 0.1 + 0.6 * level);
        let levels = of_mean(0.35, 3.0, &reanalysis);
        let below = LEVELS.iter().zip(levels).filter(|(_, k)| *k < 0.3).map(|(level, _)| *level).fold(0.0, f64::max);
        assert!((0.33..=0.48).contains(&below), "{below}");
    }
}
