//! The sun on the 365 days of a year that has no number.
//!
//! A trial's year is a string of dates, 1 January to 31 December without 29 February, and its weather is meant over many
//! years. So a date's sun is the mean over a whole leap cycle, 2025 to 2028, at the local noon of that date. A single year's
//! date lies within half a day of it: 0.2° of declination at the equinoxes, a quarter of a minute of time. The choice of
//! 2025-2028 is the cycle these years belong to; the next one differs by a thirtieth of a day.
//!
//! The positions are those of [`super::sun`]: Reda & Andreas (2004), NREL/TP-560-34302.

use super::extraterrestrial::{SOLAR_CONSTANT_W_M2, daily_horizontal_wh_m2};
use super::sun::{SunError, noon};
use crate::math;
use std::sync::OnceLock;

/// Days from 1970-01-01 to 2025-01-01, the first of the leap cycle.
const CYCLE_BEGINS: i64 = 20_089;
/// Days from 1 January to 1 March of a year of 365 days.
const FIRST_OF_MARCH: i64 = 59;

/// What the sun does on one date.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SunOfDay {
    /// Declination \[°\], north positive, -23.5..=23.5.
    pub declination_deg: f64,
    /// What a sundial is ahead of a steady clock \[min\], -14.3..=16.5.
    pub equation_of_time_min: f64,
    /// Irradiance on a plane that faces the sun, outside the atmosphere \[W/m²\], about 1316..=1408.
    pub normal_w_m2: f64,
}

impl SunOfDay {
    /// The sun at the local noon of a date.
    ///
    /// * `day` — 0 for 1 January to 364 for 31 December; taken modulo 365.
    /// * `longitude_deg` — east positive; noon comes earlier there. Held within -180..=180.
    ///
    /// Between the two sides of the date line the day is taken as straight, which is good to 0.001°.
    ///
    /// ```
    /// use tideover::sky::year::SunOfDay;
    /// let solstice = SunOfDay::at(171, 10.0); // 21 June
    /// assert!((solstice.declination_deg - 23.43).abs() < 0.01);
    /// assert!((solstice.normal_w_m2 - 1361.0 / 1.0162_f64.powi(2)).abs() < 1.0);
    /// ```
    #[must_use]
    pub fn at(day: usize, longitude_deg: f64) -> SunOfDay {
        static DATES: OnceLock<Vec<[SunOfDay; 2]>> = OnceLock::new();
        let dates =
            DATES.get_or_init(|| (0..365).map(|day| [leap_cycle(day, -180.0), leap_cycle(day, 180.0)]).collect());
        let [west, east] = dates[day % 365];
        let part = (longitude_deg / 360.0 + 0.5).clamp(0.0, 1.0);
        let between = |value: fn(&SunOfDay) -> f64| value(&west) + part * (value(&east) - value(&west));
        SunOfDay {
            declination_deg: between(|sun| sun.declination_deg),
            equation_of_time_min: between(|sun| sun.equation_of_time_min),
            normal_w_m2: between(|sun| sun.normal_w_m2),
        }
    }

    /// Horizontal extraterrestrial irradiation of the day \[Wh/m²\].
    ///
    /// * `latitude_deg` — -90..=90.
    #[must_use]
    pub fn horizontal_wh_m2(&self, latitude_deg: f64) -> f64 {
        daily_horizontal_wh_m2(latitude_deg, self.declination_deg, self.normal_w_m2)
    }
}

/// A date's mean over the leap cycle at its mean noon on a meridian.
fn leap_cycle(day: i64, longitude_deg: f64) -> SunOfDay {
    let of_year = |year: i64| -> Result<SunOfDay, SunError> {
        let leap_day = i64::from(year == 3 && FIRST_OF_MARCH <= day);
        let date = CYCLE_BEGINS + 365 * year + day + leap_day;
        let sun = noon(date as f64 * 86_400.0, longitude_deg)?;
        Ok(SunOfDay {
            declination_deg: sun.declination_deg,
            equation_of_time_min: sun.equation_of_time_min,
            normal_w_m2: SOLAR_CONSTANT_W_M2 / math::powi(sun.distance_au, 2),
        })
    };
    let unknown = SunOfDay { declination_deg: f64::NAN, equation_of_time_min: f64::NAN, normal_w_m2: f64::NAN };
    // Every one of these instants lies well within the algorithm's years.
    let years: [SunOfDay; 4] = std::array::from_fn(|year| of_year(year as i64).unwrap_or(unknown));
    let mean = |value: fn(&SunOfDay) -> f64| years.iter().map(value).sum::<f64>() / 4.0;
    SunOfDay {
        declination_deg: mean(|sun| sun.declination_deg),
        equation_of_time_min: mean(|sun| sun.equation_of_time_min),
        normal_w_m2: mean(|sun| sun.normal_w_m2),
    }
}
