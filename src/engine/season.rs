//! When outages happen and how long they last, and the weather that all variants of a kit share.

use super::clock;
use super::plan::{PlanError, Sky};
use crate::calendar::month_days;
use crate::math;
use crate::random::Stream;
use crate::scenario::model::{Begins, Lasts, Scenario};
use crate::scenario::outage;
use crate::statistics::NORMAL_P95;
use crate::weather::bend::Drawing;
use crate::weather::{Calendar, Opening, WeatherPlan};

/// Longest outage that is simulated \[h\]: rare longer ones, drawn from a distribution, are cut to it.
pub const LONGEST_OUTAGE_H: f64 = outage::LONGEST.0;

/// Longest spell of cuts that come back \[h\].
pub const LONGEST_SPELL_H: f64 = outage::LONGEST_WITH_CUTS.0;

/// When an outage can begin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Onset {
    /// At any step of these days, all equally likely.
    AnyOf {
        /// Day of the year, 0 for 1 January.
        first_day: u32,
        /// How many days.
        days: u32,
    },
    /// At one step.
    At {
        /// Day of the year, 0 for 1 January.
        day: u32,
        /// Step of the day.
        step: usize,
    },
}

/// Outages shorter than this have the climates of one that is this long \[h\].
const LEAST_WINDOW_H: f64 = 96.0;

/// When and how long.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutagePlan {
    /// When it begins.
    pub onset: Onset,
    /// How long it lasts.
    pub lasts: Lasts,
}

impl OutagePlan {
    /// First day, first step and number of steps of one outage. Always takes two numbers from the stream.
    #[inline]
    pub fn draw(&self, rng: &mut Stream, steps_a_day: usize, step_h: f64) -> (u32, usize, usize) {
        let (u, z) = (rng.uniform(), rng.normal());
        let (day, step) = match self.onset {
            Onset::At { day, step } => (day, step),
            Onset::AnyOf { first_day, days } => {
                let (at, a_day) = ((u * f64::from(days) * steps_a_day as f64) as u32, steps_a_day as u32);
                (first_day + at / a_day, (at % a_day) as usize)
            }
        };
        let hours = match self.lasts {
            Lasts::Fixed(hours) => hours.0,
            Lasts::LogNormal { median, p95 } => {
                (median.0 * math::exp(math::ln(p95 / median) / NORMAL_P95 * z)).min(LONGEST_OUTAGE_H)
            }
        };
        (day % 365, step, whole_steps(hours, step_h))
    }

    /// The most steps that a drawn outage can have.
    #[must_use]
    pub fn longest_steps(&self, step_h: f64) -> usize {
        let hours = match self.lasts {
            Lasts::Fixed(hours) => hours.0,
            Lasts::LogNormal { .. } => LONGEST_OUTAGE_H,
        };
        whole_steps(hours, step_h)
    }

    /// The days of the year that outages of typical length touch, each as often as one does.
    pub(crate) fn days_of_year(&self, step_h: f64) -> impl Iterator<Item = usize> + use<> {
        let hours = match self.lasts {
            Lasts::Fixed(hours) => hours.0,
            Lasts::LogNormal { median, .. } => median.0,
        };
        let (first, count, hour) = match self.onset {
            Onset::AnyOf { first_day, days } => (first_day as usize, days as usize, 12.0),
            Onset::At { day, step } => (day as usize, 1, step as f64 * step_h),
        };
        // Shorter ones count as four days: what is not known of a season does not change from day to day, and an outage has the
        // same climates as a longer one that begins like it.
        let touched = ((hour + hours.clamp(LEAST_WINDOW_H, LONGEST_SPELL_H)) / 24.0).ceil().max(1.0) as usize;
        (0..count).flat_map(move |start| (0..touched).map(move |k| (first + start + k) % 365))
    }

    /// The length that is simulated where one was fixed that is no whole number of steps \[h\].
    #[must_use]
    pub fn lengthened_to_h(&self, step_h: f64) -> Option<f64> {
        let Lasts::Fixed(hours) = self.lasts else { return None };
        lengthened_to_h(hours.0, step_h)
    }
}

/// The length \[h\] that is simulated for one that is no whole number of steps; `None` where it is one.
#[must_use]
pub fn lengthened_to_h(hours: f64, step_h: f64) -> Option<f64> {
    let simulated_h = whole_steps(hours, step_h) as f64 * step_h;
    (hours + 1e-6 < simulated_h).then_some(simulated_h)
}

/// Steps of an outage of so many hours, at most [`LONGEST_SPELL_H`]: a step that is begun counts whole (cautious), but for
/// rounding; at least 1.
#[inline]
#[must_use]
pub fn whole_steps(hours: f64, step_h: f64) -> usize {
    let steps = hours.min(LONGEST_SPELL_H) / step_h - 1e-6;
    let whole = steps as u32;
    (whole + u32::from(f64::from(whole) < steps)).max(1) as usize
}

/// What all variants of a kit share: weather and outage.
#[derive(Debug)]
pub struct Season {
    /// The weather.
    pub weather: WeatherPlan,
    /// How it begins.
    pub opening: Opening,
    /// How the climates that the place may have are drawn in the season of the outage.
    pub climate: Drawing,
    /// Years of the record that the weather is replayed from or fitted to; `None` where it rests on more than that.
    pub years_of_record: Option<f64>,
    /// The outage.
    pub outage: OutagePlan,
    /// Length of a step \[h\].
    pub step_h: f64,
    /// Steps in a day.
    pub steps_a_day: usize,
    /// Day of the week on which every outage begins, 0 for Monday; `None` where it is drawn.
    pub weekday: Option<usize>,
}

impl Season {
    /// Of a scenario.
    pub(super) fn new(
        scenario: &Scenario,
        sky: &Sky,
        step_minutes: u32,
        calendar: &Calendar,
    ) -> Result<Season, PlanError> {
        let weather = match sky {
            Sky::Climate(climate) => WeatherPlan::stochastic(climate, calendar)?,
            Sky::Record(record, None) => WeatherPlan::replay(record, calendar)?,
            Sky::Record(record, Some(air)) => WeatherPlan::replay_with_air_of(record, air, calendar)?,
        };
        let weather_years = weather.years_of_record();
        let onset = match scenario.outage.begins {
            Begins::Month(month) => {
                let (first_day, days) = month_days(month);
                Onset::AnyOf { first_day, days }
            }
            Begins::At { month, day, minute_of_day, .. } => {
                let (first_day, days) = month_days(month);
                Onset::At {
                    day: first_day + u32::from(day).clamp(1, days) - 1,
                    step: usize::from(minute_of_day) / step_minutes as usize,
                }
            }
        };
        let outage = OutagePlan { onset, lasts: scenario.outage.lasts };
        let step_h = f64::from(step_minutes) / 60.0;
        Ok(Season {
            climate: weather.doubt().drawing(outage.days_of_year(step_h)),
            weather,
            opening: if scenario.outage.begins_in_a_storm { Opening::STORM } else { Opening::Any },
            years_of_record: match sky {
                Sky::Climate(climate) => climate.years_of_record(),
                Sky::Record(..) => weather_years,
            },
            outage,
            step_h,
            steps_a_day: calendar.steps_per_day(),
            weekday: clock::weekday(&scenario.outage.begins),
        })
    }
}
