//! Correction of the reanalysis's sun, which sees too little cloud, for months without a mean of the table's own.

use crate::weather::climate::quantile_mean;

/// Coefficients of 1, x, x², mean − 0.5, T/30 and max(T − 20, 0)/30, where x = K − 0.5. Fitted to the records of several years,
/// by `weather/fit_correction.py`, and lowered by 0.0082, the standard error of its level.
const FITTED: [f64; 6] = [0.44280, 1.09897, 0.36216, -0.12280, -0.06715, 0.35359];
/// Range of monthly mean air temperature among the records \[°C]: no extrapolation beyond.
const AIR_RANGE_C: (f64, f64) = (-12.0, 34.0);
/// Range of monthly mean clearness of the table at the records' sites.
const MEAN_RANGE: (f64, f64) = (0.26, 0.77);
/// No day is made darker than this, the darkest days of the records; one that was already stays.
const DARKEST: f64 = 0.02;

/// One month's quantiles of daily clearness, corrected for the reanalysis's bias.
///
/// * `raw` — quantiles of the table, rising.
/// * `air_c` — the month's mean air temperature \[°C].
///
/// K′ = a + b x + c x² + d (mean − 0.5) + e T/30 + f max(T − 20, 0)/30, x = K − 0.5, fitted by least squares to the
/// quantiles of open records (`weather/README.md`): cloudy days lose most, warm wet months least. The correction never
/// brightens a day, even where the fit would.
pub(super) fn correct(raw: &[f64; 25], air_c: f64) -> [f64; 25] {
    let mean = quantile_mean(raw).clamp(MEAN_RANGE.0, MEAN_RANGE.1);
    let air_c = air_c.clamp(AIR_RANGE_C.0, AIR_RANGE_C.1);
    let [a, b, c, d, e, f] = FITTED;
    let month = a + d * (mean - 0.5) + e * air_c / 30.0 + f * (air_c - 20.0).max(0.0) / 30.0;
    let mut highest = DARKEST;
    raw.map(|clearness| {
        let x = clearness - 0.5;
        highest = highest.max(month + b * x + c * x * x);
        highest.min(clearness)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::weather::climate::LEVELS;

    #[test]
    fn corrected_days_rise_and_are_never_brighter() {
        for (low, high) in [(0.0, 0.3), (0.02, 0.6), (0.2, 0.8), (0.6, 0.9), (0.5, 0.5)] {
            let raw = LEVELS.map(|level| low + (high - low) * level);
            for air_c in [-60.0, -12.0, 0.0, 20.0, 30.0, 50.0] {
                let corrected = correct(&raw, air_c);
                assert!(corrected.windows(2).all(|pair| pair[0] <= pair[1]), "{air_c}: {corrected:?}");
                assert!(corrected.iter().zip(raw).all(|(new, old)| *new <= old && DARKEST.min(old) <= *new), "{air_c}");
            }
        }
    }

    /// Worked out by hand from the rule above. Days of 0.3 at 0 °C: x = -0.2, 0.44280 - 0.21979 + 0.01449 + 0.02456 = 0.26205; at
    /// 30 °C besides -0.06715 + 0.11786, which would make them brighter than they are. Days of 0.2 count as a month of 0.26:
    /// x = -0.3, 0.44280 - 0.32969 + 0.03259 + 0.02947 = 0.17517.
    #[test]
    fn dark_days_lose_what_the_rule_says() {
        for (day, air_c, expected) in [(0.3, 0.0, 0.26205), (0.3, 30.0, 0.3), (0.2, 0.0, 0.17517)] {
            for corrected in correct(&[day; 25], air_c) {
                assert!((corrected - expected).abs() < 1e-5, "{day} at {air_c} °C: {corrected}");
            }
        }
    }
}
