//! Extraterrestrial irradiance, mean daily profile and clear-sky ceiling on every step of the year.

use super::Calendar;
use crate::math;
use crate::random::polynomials::{less, more};
use crate::random::real::Real;
use crate::sky::extraterrestrial::sunset_hour_angle_deg;
use crate::sky::profile::DayProfile;
use crate::sky::year::SunOfDay;
use std::f64::consts::PI;

/// Standard deviation of hourly clearness within a day of clearness K \[–\]: σ = 0.16 sin(π K / K_max).
///
/// * `of_brightest` — K / K_max, where K_max is the clearness of a cloudless day. Graham & Hollands put 0.90 everywhere; with the place's own
///   its clear days are as quiet as records have them, where 0.90 leaves them two to three times too restless.
///
/// Reference: Graham & Hollands (1990), Solar Energy 44(6), 333.
#[inline(always)]
pub(super) fn graham_hollands_spread<R: Real>(of_brightest: R) -> R {
    R::of(0.16) * less(more(of_brightest, R::default()), R::of(0.97)).sin_pi()
}

/// Clearness of a cloudless day, from the one that a hundredth of the days exceed.
pub(super) fn cloudless(exceeded_by_a_hundredth: f64) -> f64 {
    (1.04 * exceeded_by_a_hundredth).clamp(0.1, 0.95)
}

/// What is left of Collares-Pereira & Rabl's clearness next to the horizon \[–\].
///
/// Their ratio of global to extraterrestrial ends near 0.7 of the day's at sunrise. Hours with the sun below six degrees
/// have 0.3 to 0.75 of the day's in the records that the model is judged by (measured at De Bilt, modelled from
/// satellites elsewhere): this line ends at 0.7 × 0.5 and meets 1 at six degrees.
fn low_sun_factor(sin_height: f64) -> f64 {
    (0.5 + 5.0 * sin_height).min(1.0)
}

/// Highest believable clearness of an hour, by the sine of the sun's height \[–\].
///
/// The shape is Haurwitz's clear sky (1945), 0.807 exp(−0.059 / sin h) on our solar constant, a fifth above it for clean
/// air and bright cloud edges, and no lower than 0.55. A climate whose own days are brighter lifts it further.
fn ceiling_clearness(sin_height: f64) -> f64 {
    (1.2 * 0.807 * math::exp(-0.059 / sin_height.max(0.01))).clamp(0.55, 0.92)
}

/// Solar time minus clock time \[min\].
fn solar_shift_minutes(calendar: &Calendar, day: usize) -> f64 {
    let sun = SunOfDay::at(day, calendar.longitude_deg);
    4.0 * calendar.longitude_deg - f64::from(calendar.utc_offset_minutes[day]) + sun.equation_of_time_min
}

/// Cosine of the sun's zenith angle at the middle of every minute of a civil day, 0 below the horizon.
fn fill_minutes(calendar: &Calendar, day: usize, minutes: &mut Vec<f64>) {
    let declination = SunOfDay::at(day, calendar.longitude_deg).declination_deg.to_radians();
    let latitude = calendar.latitude_deg.to_radians();
    let shift = solar_shift_minutes(calendar, day);
    minutes.clear();
    minutes.extend((0..1440).map(|m| {
        let hour_angle = ((f64::from(m) + 0.5 + shift) / 720.0 - 1.0) * PI;
        // cos θz = sin φ sin δ + cos φ cos δ cos ω
        let cosine = math::sin(latitude) * math::sin(declination)
            + math::cos(latitude) * math::cos(declination) * math::cos(hour_angle);
        cosine.max(0.0)
    }));
}

/// One day of the year in an [`SkyTable`].
pub(super) struct SkyDay<'a> {
    /// Extraterrestrial horizontal irradiance of each step \[W/m²\].
    pub steps: &'a [f64],
    /// The same for each hour \[W/m²\].
    pub hours: &'a [f64],
    /// Mean clearness of each hour over that of the day (Collares-Pereira & Rabl 1979): energy-weighted mean is 1.
    pub profile: &'a [f64],
    /// Where each hour lies between sunrise (0) and sunset (1), the middle of its light.
    pub place: &'a [f64],
    /// Highest clearness of each hour \[–\].
    pub ceiling: &'a [f64],
    /// Extraterrestrial irradiation of the day \[Wh/m²\].
    pub total_wh_m2: f64,
    /// First hour with light, and one past the last.
    pub light: (usize, usize),
}

/// Tables for a place and calendar, 365 days.
#[derive(Debug, Clone)]
pub(super) struct SkyTable {
    steps_per_hour: usize,
    steps: Vec<f64>,
    hours: Vec<f64>,
    profile: Vec<f64>,
    place: Vec<f64>,
    ceiling: Vec<f64>,
    total_wh_m2: Vec<f64>,
    light: Vec<(usize, usize)>,
    /// Diurnal shape of air temperature, one value a step: mean 0, range 1.
    air_shape: Vec<f64>,
}

impl SkyTable {
    pub(super) fn new(calendar: &Calendar) -> SkyTable {
        let steps_per_hour = calendar.steps_per_hour();
        let minutes = 60 / steps_per_hour;
        let mut table = SkyTable {
            steps_per_hour,
            steps: Vec::with_capacity(365 * 24 * steps_per_hour),
            hours: Vec::with_capacity(365 * 24),
            profile: Vec::with_capacity(365 * 24),
            place: Vec::with_capacity(365 * 24),
            ceiling: Vec::with_capacity(365 * 24),
            total_wh_m2: Vec::with_capacity(365),
            light: Vec::with_capacity(365),
            air_shape: Vec::with_capacity(365 * 24 * steps_per_hour),
        };
        let mut minute = Vec::new();
        for day in 0..365 {
            let SunOfDay { declination_deg, normal_w_m2: normal, .. } = SunOfDay::at(day, calendar.longitude_deg);
            let sunset_deg = sunset_hour_angle_deg(calendar.latitude_deg, declination_deg);
            let shift = solar_shift_minutes(calendar, day);
            fill_minutes(calendar, day, &mut minute);
            let total = minute.iter().sum::<f64>();
            let course = DayProfile::new(sunset_deg).filter(|_| 0.0 < total);
            for (hour, minutes) in minute.chunks_exact(60).enumerate() {
                let light = minutes.iter().sum::<f64>();
                let squares = minutes.iter().map(|cosine| cosine * cosine).sum::<f64>();
                let middle = minutes.iter().enumerate().map(|(m, cosine)| (m as f64 + 0.5) * cosine).sum::<f64>();
                let begin_h = hour as f64 + shift / 60.0;
                let share = course.map_or(0.0, |course| course.share(begin_h, begin_h + 1.0));
                table.hours.push(light / 60.0 * normal);
                if light > 0.0 {
                    // The course and the minutes part ways by seconds at sunrise: hardly any light, but a wild ratio.
                    let ratio = (share * total / light).min(1.5);
                    table.profile.push(ratio * low_sun_factor(squares / light));
                    let from_noon = (begin_h + middle / light / 60.0 - 12.0 + 36.0).rem_euclid(24.0) - 12.0;
                    table.place.push((0.5 + 0.5 * from_noon * 15.0 / sunset_deg.max(1.0)).clamp(0.0, 1.0));
                    table.ceiling.push(ceiling_clearness(squares / light));
                } else {
                    table.profile.push(0.0);
                    table.place.push(0.0);
                    table.ceiling.push(0.0);
                }
            }
            let first = 24 * day;
            let of_day = first..first + 24;
            let weighted: f64 =
                table.profile[of_day.clone()].iter().zip(&table.hours[of_day.clone()]).map(|(p, h)| p * h).sum();
            let even = table.hours[of_day.clone()].iter().sum::<f64>() / weighted.max(1e-9);
            table.profile[of_day].iter_mut().for_each(|p| *p *= even);
            for step in minute.chunks(minutes) {
                table.steps.push(step.iter().sum::<f64>() / minutes as f64 * normal);
            }
            table.total_wh_m2.push(table.hours[first..].iter().sum());
            let lit = |hour: &usize| table.hours[first + hour] > 0.0;
            let begin = (0..24).find(lit).unwrap_or(0);
            let end = (0..24).rev().find(lit).map_or(0, |hour| hour + 1);
            table.light.push((begin, end));
            table.push_air_shape(sunset_deg.to_radians(), minutes, shift);
        }
        table
    }

    /// Appends a day's shape of air temperature: coldest at sunrise, warmest two and a half hours after noon, two
    /// half-cosines between (a common engineering shape, no single source); mean 0, range 1 over the continuous day.
    fn push_air_shape(&mut self, sunset: f64, minutes: usize, shift: f64) {
        let sunrise_hour = (12.0 - sunset / PI * 12.0).clamp(3.0, 9.0);
        let warmest_hour = 14.5;
        let rise = warmest_hour - sunrise_hour;
        let first = self.air_shape.len();
        for step in 0..24 * self.steps_per_hour {
            let middle = (step as f64 + 0.5) * minutes as f64;
            let since = ((middle + shift) / 60.0 - sunrise_hour).rem_euclid(24.0);
            self.air_shape.push(if since < rise {
                -0.5 * math::cos(PI * since / rise)
            } else {
                0.5 * math::cos(PI * (since - rise) / (24.0 - rise))
            });
        }
        let count = (24 * self.steps_per_hour) as f64;
        let mean = self.air_shape[first..].iter().sum::<f64>() / count;
        for value in &mut self.air_shape[first..] {
            *value -= mean;
        }
    }

    /// Light of every minute of a day: the cosine of the zenith angle, 0 below the horizon.
    pub(super) fn minutes(&self, calendar: &Calendar, day: usize, minutes: &mut Vec<f64>) {
        fill_minutes(calendar, day, minutes);
    }

    pub(super) fn steps_per_hour(&self) -> usize {
        self.steps_per_hour
    }

    pub(super) fn steps_per_day(&self) -> usize {
        24 * self.steps_per_hour
    }

    /// The middle of a day's step as a share of the day about noon (-0.5 to 0.5), and the shape of air temperature there.
    #[inline(always)]
    pub(super) fn air_at(&self, day: usize, step: usize) -> (f64, f64) {
        let n = self.steps_per_day();
        ((step as f64 + 0.5) / n as f64 - 0.5, self.air_shape[day * n + step])
    }

    pub(super) fn day(&self, day: usize) -> SkyDay<'_> {
        let (n, hours) = (self.steps_per_day(), 24 * day..24 * (day + 1));
        SkyDay {
            steps: &self.steps[day * n..(day + 1) * n],
            hours: &self.hours[hours.clone()],
            profile: &self.profile[hours.clone()],
            place: &self.place[hours.clone()],
            ceiling: &self.ceiling[hours],
            total_wh_m2: self.total_wh_m2[day],
            light: self.light[day],
        }
    }
}
