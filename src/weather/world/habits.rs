//! What the table does not hold, by rules in what it does hold: persistence, and all of the air but its mean.
//!
//! Fitted by `weather/fit_habits.py` to open records; errors at sites left out of the fit stand beside each rule.

use super::cold;
use crate::statistics::mean;
use crate::weather::climate::{COURSE, Habits, MonthAir, MonthClimate, quantile_mean};

/// Course of the day (see [`Habits::course`]): the middle of those fitted to the months of fourteen hourly records, mornings
/// and afternoons taken together, as the evidence run prints it. Next to the horizon places lie below the published course.
const COURSE_OF_RECORDS: [f64; COURSE] =
    [0.83, 0.94, 1.0, 1.02, 1.02, 1.01, 1.0, 0.99, 0.99, 1.0, 1.01, 1.02, 1.02, 1.0, 0.94, 0.83];

/// Twelve months from corrected clearness and mean temperatures.
///
/// * `here` — latitude and longitude \[°], north and east positive, longitude -180 to 180.
/// * `share_of_land` — of what lies around, 0 to 1 ([`cold::share_of_land`]).
/// * `around_c` — monthly means at the mean height of the land around \[°C], which the rules know.
/// * `here_c` — monthly means at the site's own height \[°C].
pub(super) fn months(
    here: (f64, f64),
    share_of_land: f64,
    clearness: &[[f64; 25]; 12],
    around_c: &[f64; 12],
    here_c: &[f64; 12],
) -> [MonthClimate; 12] {
    let latitude_deg = here.0;
    let year_c = mean(around_c);
    let warmest = around_c.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let coldest = around_c.iter().copied().fold(f64::INFINITY, f64::min);
    // R: warmest less coldest month [20 K], the measure of a continent.
    let range = (warmest - coldest).min(36.0) / 20.0;
    let mut months: [MonthClimate; 12] = std::array::from_fn(|month| {
        let clearness = clearness[month];
        // K, T, W as in the fit: clearness over 0.5, the month's air [30 °C], the month less the year [10 K].
        let k = quantile_mean(&clearness) - 0.5;
        let t = around_c[month].clamp(-12.0, 34.0) / 30.0;
        let w = (around_c[month] - year_c).clamp(-18.0, 18.0) / 10.0;
        // Swing of the day: root mean square error 1.7 K (3.2 K for one figure everywhere).
        let swing_k = (5.683 + 20.326 * k + 3.172 * t + 3.482 * range).clamp(2.0, 22.0);
        // Spread of daily means: 0.85 K (1.4 K).
        let day_sd_k = (1.339 + 2.263 * range - 0.984 * w).clamp(0.8, 9.0);
        // Bright winter days are cold, bright summer days warm, near the equator all bright days: 0.26 (0.31).
        let link = 0.480 + 0.220 * w - 0.449 * latitude_deg.abs().min(60.0) / 45.0;
        MonthClimate {
            clearness,
            // 0.134 (0.135), of which the records' own scatter is the most.
            persistence: 0.277 + 0.131 * t,
            habits: Habits { course: COURSE_OF_RECORDS, ..Habits::default() },
            air: MonthAir {
                mean_c: here_c[month],
                swing_k,
                day_sd_k,
                // 0.10.
                day_persistence: 0.74,
                clearness_link: link.clamp(-0.6, 0.7),
                record_low_c: 0.0,
            },
        }
    });
    let (swings_k, spreads_k) =
        (std::array::from_fn(|m| months[m].air.swing_k), std::array::from_fn(|m| months[m].air.day_sd_k));
    let lows_c = cold::design_c(here, share_of_land, warmest - coldest, here_c, &swings_k, &spreads_k);
    months.iter_mut().zip(lows_c).for_each(|(month, low_c)| month.air.record_low_c = low_c);
    months
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math;
    use crate::weather::climate::LEVELS;

    fn of(latitude_deg: f64, clearness: f64, coldest: f64, warmest: f64) -> [MonthClimate; 12] {
        let air: [f64; 12] = std::array::from_fn(|month| {
            let season = math::cos(std::f64::consts::TAU * (month as f64 - 6.5) / 12.0);
            0.5 * (coldest + warmest) + 0.5 * (warmest - coldest) * season
        });
        months((latitude_deg, 20.0), 0.9, &[LEVELS.map(|level| clearness * (0.5 + level)); 12], &air, &air)
    }

    #[test]
    fn rules_stay_in_range_everywhere() {
        for latitude_deg in [-55.0, 0.0, 30.0, 72.0] {
            for clearness in [0.05, 0.4, 0.8] {
                for (coldest, warmest) in [(-45.0, 18.0), (-5.0, 20.0), (26.0, 27.0), (15.0, 40.0)] {
                    for month in of(latitude_deg, clearness, coldest, warmest) {
                        let air = &month.air;
                        assert!((0.2..0.5).contains(&month.persistence));
                        assert!((2.0..=22.0).contains(&air.swing_k) && (0.8..=9.0).contains(&air.day_sd_k));
                        assert!((-0.6..=0.7).contains(&air.clearness_link));
                        assert!((-90.0..air.mean_c - 3.0).contains(&air.record_low_c), "{air:?}");
                    }
                }
            }
        }
    }

    /// Clear days swing more. K. L. Bristow, G. S. Campbell, Agricultural and Forest Meteorology 31 (1984) 159-166: transmittance
    /// = 0.7 (1 - exp(-B swing^2.4)), B from 0.004 to 0.010 by place and month (figures from memory): between 0.35 and 0.60 the
    /// swing grows by 3.2 to 4.6 K. The root mean square error of the rule is 1.7 K.
    #[test]
    fn clear_places_swing_more_by_as_much_as_published() {
        let swing_k = |b: f64, t: f64| math::pow(-math::ln(1.0 - t / 0.7) / b, 1.0 / 2.4);
        let [least, most] = [0.010, 0.004].map(|b| swing_k(b, 0.60) - swing_k(b, 0.35));
        assert!((3.0..5.0).contains(&least) && least < most, "{least} {most}");
        let (dull, clear) = (of(35.0, 0.35, 5.0, 25.0), of(35.0, 0.60, 5.0, 25.0));
        for (dull, clear) in dull.iter().zip(&clear) {
            let more_k = clear.air.swing_k - dull.air.swing_k;
            assert!((least - 1.7..most + 1.7).contains(&more_k), "{more_k} K, published {least} to {most} K");
        }
    }

    /// Warm days and bright ones. Over the year, in the United States (25 to 48° N), neither goes with the other: C. W. Richardson, D. A.
    /// Wright, WGEN, USDA ARS-8 (1984): radiation goes with the highest temperature of the day by 0.19 and with the lowest by -0.19
    /// (figures from memory), by none with their mean. The root mean square error of the rule is 0.26. Near the equator
    /// bright days are warm, and further from it cold in winter, when clear nights cool, and warm in summer (common
    /// practice, no source).
    #[test]
    fn bright_days_are_warm_where_and_when_they_are() {
        let link = |latitude_deg: f64, coldest: f64, warmest: f64| {
            of(latitude_deg, 0.5, coldest, warmest).map(|month| month.air.clearness_link)
        };
        for latitude_deg in [30.0, 38.0, 45.0, -38.0] {
            let of_year = mean(&link(latitude_deg, 0.0, 24.0));
            assert!(of_year.abs() < 0.26, "{latitude_deg}°: {of_year}");
        }
        assert!(link(0.0, 25.0, 27.0).iter().all(|link| *link > 0.26));
        let north = link(52.0, -8.0, 18.0);
        assert!(north[0] < -0.1 && 0.1 < north[6], "{north:?}");
    }

    #[test]
    fn continents_swing_more_than_islands() {
        let (island, continent) = (of(50.0, 0.45, 5.0, 16.0), of(50.0, 0.45, -15.0, 20.0));
        assert!(island.iter().zip(&continent).all(|(a, b)| a.air.day_sd_k < b.air.day_sd_k));
        // How far the coldest month falls below its mean.
        let gap = |months: &[MonthClimate; 12]| months[0].air.mean_c - months[0].air.record_low_c;
        assert!(gap(&island) < gap(&continent), "{} {}", gap(&island), gap(&continent));
    }
}
