//! A climate scaled to monthly sun from a local almanac.

use crate::calendar::{MONTHS, days_of_month};
use crate::math;
use thiserror::Error;

use crate::sky::year::SunOfDay;
use crate::weather::climate::{Basis, Climate, quantile_mean};
use crate::weather::doubt::Doubt;
use crate::weather::posterior;

/// A month's mean clearness has to lie between these; the records' months lie between 0.25 and 0.76.
const MEAN_RANGE: (f64, f64) = (0.08, 0.80);
/// A month with less extraterrestrial irradiation a day than this is left as it is \[Wh/m²]: polar night.
pub(super) const DARK_WH_M2: f64 = 200.0;
/// Uncertainty of published long-term monthly means (standard deviations of the logarithm): what all twelve share, and each
/// one's own, 5 % together; common practice, no source.
const ALMANAC_ERROR: (f64, f64) = (0.035, 0.035);
/// Monthly sun that cannot be.
#[derive(Debug, Clone, PartialEq, Error)]
#[error(
    "the sun of {} is given as {found_kwh_m2_day} kWh/m² a day; there, a level square metre gets {least_kwh_m2_day:.2} to \
     {most_kwh_m2_day:.2}{}",
    MONTHS[*month],
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
    /// This climate with the monthly means of sun of a local almanac as evidence.
    ///
    /// * `kwh_m2_day` — January to December, mean irradiation of a level plane \[kWh/m² a day].
    ///
    /// The figures are evidence with a standard error of 5 %, of which they share 3.5 %: the best estimate moves towards them as
    /// far as that is more certain than the climate was, and what is not known of it shrinks. Months of polar night (under
    /// 0.2 kWh/m² a day outside the atmosphere) have no figure.
    ///
    /// # Errors
    /// [`ImplausibleSun`] for the first month whose mean clearness would lie outside 0.08 to 0.80.
    pub fn with_monthly_sun(&self, kwh_m2_day: [f64; 12]) -> Result<Climate, ImplausibleSun> {
        let mut climate = self.clone();
        let mut apart = [None; 12];
        for (month, &found) in kwh_m2_day.iter().enumerate() {
            let outside_wh_m2 = outside_wh_m2(self.latitude_deg, self.longitude_deg, month);
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
            apart[month] = Some(math::ln(mean / quantile_mean(&self.months[month].clearness)));
        }
        let moved = climate.doubt.learn_means(&apart, ALMANAC_ERROR.0, ALMANAC_ERROR.1);
        posterior::move_by(&mut climate, &moved);
        climate.basis = Basis::Figures;
        climate.source = format!("{}; the given monthly means of sun taken in", self.source);
        Ok(climate)
    }
}

/// What twelve figures leave unknown of what was.
pub(in crate::weather) fn after_figures(mut doubt: Doubt) -> Doubt {
    doubt.learn_means(&[Some(0.0); 12], ALMANAC_ERROR.0, ALMANAC_ERROR.1);
    doubt
}

/// Mean of the month's daily extraterrestrial irradiation of a level plane \[Wh/m²].
///
/// * `of_day` — a day's, by day of the year from 0.
pub(super) fn month_mean_wh_m2(month: usize, of_day: impl Fn(usize) -> f64) -> f64 {
    let days = days_of_month(month);
    let count = days.len() as f64;
    days.map(of_day).sum::<f64>() / count
}

/// The same under the sun of our days.
pub(super) fn outside_wh_m2(latitude_deg: f64, longitude_deg: f64, month: usize) -> f64 {
    month_mean_wh_m2(month, |day| SunOfDay::at(day, longitude_deg).horizontal_wh_m2(latitude_deg))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::weather::world::lookup;

    fn sun(climate: &Climate) -> [f64; 12] {
        std::array::from_fn(|month| {
            quantile_mean(&climate.months[month].clearness)
                * outside_wh_m2(climate.latitude_deg, climate.longitude_deg, month)
                / 1000.0
        })
    }

    #[test]
    fn given_means_are_believed_as_far_as_they_are_surer() {
        let climate = lookup(52.0, 5.0, None).unwrap();
        let own = sun(&climate);
        for factor in [0.8, 0.9, 1.0, 1.1, 1.15] {
            let new = climate.with_monthly_sun(own.map(|kwh| kwh * factor)).unwrap();
            for (month, (got, own)) in sun(&new).iter().zip(own).enumerate() {
                let moved = math::ln(got / own) / if factor == 1.0 { 1.0 } else { math::ln(factor) };
                assert!(
                    factor == 1.0 && moved.abs() < 1e-9 || (0.4..0.95).contains(&moved),
                    "{factor}, {month}: {moved}"
                );
                let new = &new.months[month].clearness;
                assert!(new.windows(2).all(|pair| pair[0] <= pair[1]) && 0.0 <= new[0] && new[24] <= 0.86);
            }
            assert!(new.doubt.level_sd().iter().zip(climate.doubt.level_sd()).all(|(new, old)| *new < 0.8 * old));
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
        // 0.024 kWh a day are a watt.
        assert!(refused(1.3 / 0.024).to_string().contains("W/m²?"), "{}", refused(1.3 / 0.024));
        assert!(refused(1e6).to_string().ends_with(|last: char| last.is_ascii_digit()), "{}", refused(1e6));
        // Mean clearness from 0.08 to 0.80: 17 January, the month's average day (Klein 1977), has 15.23 MJ/m² outside the air at 40° N by
        // equation 1.10.3 of Duffie & Beckman with their 1367 W/m².
        let error = refused(3.6);
        let outside = 15.23 / 3.6 * 1361.0 / 1367.0;
        assert!((error.least_kwh_m2_day / (0.08 * outside) - 1.0).abs() < 0.02, "{error}");
        assert!((error.most_kwh_m2_day / (0.80 * outside) - 1.0).abs() < 0.02, "{error}");
        let january = |kwh: f64| climate.with_monthly_sun(std::array::from_fn(|m| if m == 0 { kwh } else { own[m] }));
        let (least, most) = (error.least_kwh_m2_day, error.most_kwh_m2_day);
        assert!(january(0.999 * most).is_ok() && january(1.001 * most).is_err());
        assert!(january(1.001 * least).is_ok() && january(0.999 * least).is_err());
    }

    #[test]
    fn polar_night_is_left_alone() {
        let climate = lookup(69.6, 19.0, None).unwrap();
        let mut given = sun(&climate);
        given[11] = 0.0;
        let new = climate.with_monthly_sun(given).unwrap();
        // It learns from its neighbours alone, whose figures are what was expected.
        for (new, old) in new.months[11].clearness.iter().zip(climate.months[11].clearness) {
            assert!((new - old).abs() < 1e-9);
        }
        given[11] = 0.5;
        let refused = climate.with_monthly_sun(given).unwrap_err();
        // Below 0.2 kWh/m² outside the air there is no figure, and none above that.
        assert_eq!((refused.month, refused.least_kwh_m2_day, refused.most_kwh_m2_day), (11, 0.0, 0.2));
        assert!(refused.to_string().contains("gets 0.00 to 0.20"), "{refused}");
        given[11] = 0.2;
        assert!(climate.with_monthly_sun(given).is_ok());
        given[11] = -0.01;
        assert_eq!(climate.with_monthly_sun(given).unwrap_err().month, 11);
    }
}
