//! A climate scaled to monthly sun from a local almanac.

use thiserror::Error;

use crate::sky::extraterrestrial::{daily_horizontal_wh_m2, declination_deg, normal_w_m2};
use crate::weather::climate::Climate;
use crate::weather::seasons::quantile_mean;

const MONTH_DAYS: [u16; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
const MONTH_NAMES: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];
/// A month's mean clearness has to lie between these; the records' months lie between 0.25 and 0.76.
const MEAN_RANGE: (f64, f64) = (0.08, 0.80);
/// A cloudless day's clearness, which no scaling passes unless the climate did before.
const CLEAR: f64 = 0.85;
/// A month with less extraterrestrial irradiation a day than this is left as it is \[Wh/m²]: polar night.
const DARK_WH_M2: f64 = 200.0;
/// Uncertainty of a published long-term monthly mean (standard deviation of the logarithm); common practice, no source.
const ALMANAC_ERROR: f64 = 0.05;
/// What the table leaves unknown where its means are right, as an error of the mean (standard deviation of the logarithm):
/// the shape of the distribution and the order of the days. Found as the table's own doubt was (weather/EVIDENCE.md).
const SHAPE_ERROR: f64 = 0.10;

/// Monthly sun that cannot be.
#[derive(Debug, Clone, PartialEq, Error)]
#[error(
    "the sun of {} is given as {found_kwh_m2_day} kWh/m² a day; there, a level square metre gets {least_kwh_m2_day:.2} to \
     {most_kwh_m2_day:.2}{}",
    MONTH_NAMES[*month],
    hint(*found_kwh_m2_day, *least_kwh_m2_day, *most_kwh_m2_day)
)]
pub struct ImplausibleSun {
    /// Month, 0 to 11.
    pub month: usize,
    /// As given \[kWh/m² a day].
    pub found_kwh_m2_day: f64,
    /// Least that is plausible \[kWh/m² a day].
    pub least_kwh_m2_day: f64,
    /// Most that is plausible \[kWh/m² a day].
    pub most_kwh_m2_day: f64,
}

/// What the figure may have been meant as.
fn hint(found: f64, least: f64, most: f64) -> &'static str {
    let fits = |value: f64| (least..=most).contains(&value);
    match () {
        () if fits(found / 30.4) => "; is it the month's total? Divide by the days of the month",
        () if fits(found / 1000.0) => "; is it in Wh? Divide by 1000",
        () if fits(found / 3.6) => "; is it in MJ? Divide by 3.6",
        () if fits(found * 24.0 / 1000.0) => "; is it in W/m²? Multiply by 0.024",
        () => "",
    }
}

impl Climate {
    /// This climate with its monthly means of sun replaced by those of a local almanac.
    ///
    /// * `kwh_m2_day` — January to December, mean irradiation of a level plane \[kWh/m² a day].
    ///
    /// Every day's clearness K becomes c (1 − (1 − K/c)^g) with one g for the month: dark days change in proportion,
    /// cloudless ones (c = 0.85, or the climate's brightest day if that is brighter) not at all, and their order is kept.
    /// The sun's systematic uncertainty (a standard deviation) shrinks to 11 % if it was more. Months of polar night (under 0.2 kWh/m² a day
    /// outside the atmosphere) stay as they are.
    ///
    /// # Errors
    /// [`ImplausibleSun`] for the first month whose mean clearness would lie outside 0.08 to 0.80.
    pub fn with_monthly_sun(&self, kwh_m2_day: [f64; 12]) -> Result<Climate, ImplausibleSun> {
        let mut climate = self.clone();
        for (month, (&found, out)) in kwh_m2_day.iter().zip(&mut climate.months).enumerate() {
            let outside_wh_m2 = outside_wh_m2(self.latitude_deg, month);
            let most_kwh_m2_day = MEAN_RANGE.1 * outside_wh_m2 / 1000.0;
            if outside_wh_m2 < DARK_WH_M2 {
                if !(0.0..=DARK_WH_M2 / 1000.0).contains(&found) {
                    let most_kwh_m2_day = DARK_WH_M2 / 1000.0;
                    return Err(ImplausibleSun {
                        month,
                        found_kwh_m2_day: found,
                        least_kwh_m2_day: 0.0,
                        most_kwh_m2_day,
                    });
                }
                continue;
            }
            let mean = 1000.0 * found / outside_wh_m2;
            if !(MEAN_RANGE.0..=MEAN_RANGE.1).contains(&mean) {
                let least_kwh_m2_day = MEAN_RANGE.0 * outside_wh_m2 / 1000.0;
                return Err(ImplausibleSun { month, found_kwh_m2_day: found, least_kwh_m2_day, most_kwh_m2_day });
            }
            out.clearness = scaled(&out.clearness, mean);
        }
        climate.sun_uncertainty = self.sun_uncertainty.min(ALMANAC_ERROR.hypot(SHAPE_ERROR));
        climate.source = format!("{}; its monthly means of sun replaced by given ones", self.source);
        Ok(climate)
    }
}

/// Mean of the month's daily extraterrestrial irradiation of a level plane \[Wh/m²].
fn outside_wh_m2(latitude_deg: f64, month: usize) -> f64 {
    let first = 1 + MONTH_DAYS[..month].iter().sum::<u16>();
    let days = first..first + MONTH_DAYS[month];
    let count = f64::from(MONTH_DAYS[month]);
    days.map(|day| {
        let day = f64::from(day);
        daily_horizontal_wh_m2(latitude_deg, declination_deg(day), normal_w_m2(day))
    })
    .sum::<f64>()
        / count
}

/// Quantiles bent to a mean within [`MEAN_RANGE`], as [`Climate::with_monthly_sun`] tells.
pub(super) fn scaled(quantiles: &[f64; 25], mean: f64) -> [f64; 25] {
    let top = quantiles[24].max(CLEAR);
    let bent = |power: f64| quantiles.map(|k| top * (1.0 - (1.0 - (k / top).clamp(0.0, 1.0)).powf(power)));
    // The mean rises with the power: bisection on its logarithm.
    let (mut low, mut high) = (-12.0_f64, 12.0_f64);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if quantile_mean(&bent(middle.exp())) < mean {
            low = middle;
        } else {
            high = middle;
        }
    }
    bent((0.5 * (low + high)).exp())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::weather::world::lookup;

    fn sun(climate: &Climate) -> [f64; 12] {
        std::array::from_fn(|month| {
            quantile_mean(&climate.months[month].clearness) * outside_wh_m2(climate.latitude_deg, month) / 1000.0
        })
    }

    #[test]
    fn given_means_are_met_and_days_stay_physical() {
        let climate = lookup(52.0, 5.0, None).unwrap();
        let own = sun(&climate);
        for factor in [0.6, 0.9, 1.0, 1.1, 1.3] {
            let wanted = own.map(|kwh| kwh * factor);
            let new = climate.with_monthly_sun(wanted).unwrap();
            for (month, (got, wanted)) in sun(&new).iter().zip(wanted).enumerate() {
                assert!((got - wanted).abs() < 1e-9, "{factor}, month {month}: {got} for {wanted}");
                let (old, new) = (&climate.months[month].clearness, &new.months[month].clearness);
                assert!(new.windows(2).all(|pair| pair[0] <= pair[1]) && 0.0 <= new[0] && new[24] <= 0.85);
                // Dark days change with the mean, and no less than the bright ones.
                assert!((factor - 1.0) * (new[1] / old[1] - factor) > -1e-9, "{factor} {} {}", new[1], old[1]);
            }
            assert!(
                (new.sun_uncertainty - 0.0125_f64.sqrt()).abs() < 1e-12
                    && new.sun_uncertainty < climate.sun_uncertainty
            );
        }
        // Its own means leave a climate as it was.
        let same = climate.with_monthly_sun(own).unwrap();
        for (a, b) in climate.months.iter().zip(&same.months) {
            assert!(a.clearness.iter().zip(b.clearness).all(|(a, b)| (a - b).abs() < 1e-9));
        }
    }

    #[test]
    fn impossible_sun_is_refused_with_what_it_may_mean() {
        let climate = lookup(40.0, -105.0, None).unwrap();
        let own = sun(&climate);
        let refused = |factor: f64| climate.with_monthly_sun(own.map(|kwh| kwh * factor)).unwrap_err();
        assert!(refused(30.0).to_string().contains("the month's total?"), "{}", refused(30.0));
        assert!(refused(3.6).to_string().contains("MJ?"));
        assert!(refused(1000.0).to_string().contains("Wh?"));
        assert!(refused(0.0).to_string().starts_with("the sun of January is given as 0 kWh/m² a day; there, "));
        assert_eq!(refused(f64::NAN).month, 0);
    }

    #[test]
    fn polar_night_is_left_alone() {
        let climate = lookup(69.6, 19.0, None).unwrap();
        let mut given = sun(&climate);
        given[11] = 0.0;
        let new = climate.with_monthly_sun(given).unwrap();
        assert_eq!(new.months[11].clearness, climate.months[11].clearness);
        given[11] = 0.5;
        assert_eq!(climate.with_monthly_sun(given).unwrap_err().month, 11);
    }
}
