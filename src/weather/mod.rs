//! Climate statistics, stochastic weather and replay of records.
//!
//! A [`WeatherPlan`] holds everything about a place's weather that does not depend on chance. It is made once, shared by
//! all threads, and [`WeatherPlan::generate`] then fills a [`WeatherTrace`] with one possible history without
//! allocating. Steps are labelled by their start; a day begins at civil midnight.

pub mod bend;
pub mod climate;
pub mod climate_file;
pub mod daily;
pub mod doubt;
pub mod fit;
mod hours;
pub mod lanes;
mod plain;
pub mod posterior;
pub mod record;
mod replay;
mod seasons;
pub mod soundness;
mod spells;
mod sun;
pub mod tables;
#[cfg(test)]
mod tests;
pub mod typical;
pub mod world;

pub use bend::{Climates, Drawn};
pub use climate::{Climate, MonthAir, MonthClimate};
pub use daily::DailyRecord;
pub use doubt::Doubt;
pub use fit::{Fit, FitError, FitQuality};
pub use record::{HourlyRecord, RecordErrors};
pub use typical::TypicalYear;

use crate::random::Stream;
use crate::random::real::Real;
use lanes::{Days, Replayed, Sequence};

/// The calendar a trial lives in: civil (clock) time at one place, in equal steps, on a year of 365 days.
#[derive(Debug, Clone, PartialEq)]
pub struct Calendar {
    /// Length of a step \[min\]: a divisor of 60.
    pub step_minutes: u32,
    /// Clock minus UTC \[min\] on each day of the year; summer time is inside. Holds for the whole of its civil day.
    pub utc_offset_minutes: [i32; 365],
    /// Latitude \[°\], north positive, -90..=90.
    pub latitude_deg: f64,
    /// Longitude \[°\], east positive, -180..=180.
    pub longitude_deg: f64,
}

impl Calendar {
    /// A calendar whose clock never changes: `utc_offset_minutes` ahead of UTC all year.
    pub fn fixed(step_minutes: u32, utc_offset_minutes: i32, latitude_deg: f64, longitude_deg: f64) -> Calendar {
        Calendar { step_minutes, utc_offset_minutes: [utc_offset_minutes; 365], latitude_deg, longitude_deg }
    }

    /// Steps in an hour.
    pub fn steps_per_hour(&self) -> usize {
        (60 / self.step_minutes.clamp(1, 60)) as usize
    }

    /// Steps in a day.
    pub fn steps_per_day(&self) -> usize {
        24 * self.steps_per_hour()
    }

    /// Says what is wrong with the calendar, if anything.
    fn check(&self) -> Result<(), WeatherError> {
        if self.step_minutes == 0 || 60 % self.step_minutes != 0 {
            return Err(WeatherError::Step { found: self.step_minutes });
        }
        if !(-90.0..=90.0).contains(&self.latitude_deg) || !(-180.0..=180.0).contains(&self.longitude_deg) {
            return Err(WeatherError::Place { latitude_deg: self.latitude_deg, longitude_deg: self.longitude_deg });
        }
        Ok(())
    }
}

/// Why no weather can be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum WeatherError {
    /// The step does not divide the hour.
    #[error(
        "a step of {found} minutes does not fit: allowed are the divisors of 60 (1, 2, 3, 4, 5, 6, 10, 12, 15, 20, 30, 60)"
    )]
    Step {
        /// Minutes asked for.
        found: u32,
    },
    /// The place is not on the globe.
    #[error("latitude {latitude_deg}, longitude {longitude_deg}: allowed are -90 to 90 and -180 to 180 degrees")]
    Place {
        /// Latitude asked for \[°\].
        latitude_deg: f64,
        /// Longitude asked for \[°\].
        longitude_deg: f64,
    },
    /// A climate with figures out of range.
    #[error("climate `{name}`, month {month}: {what}")]
    Climate {
        /// Name of the climate.
        name: String,
        /// Month, 1 to 12; 0 for the climate as a whole.
        month: usize,
        /// What was found and what is allowed.
        what: String,
    },
    /// A record that leaves a season without a usable day.
    #[error(
        "the record `{name}` has no whole day with sun readings within 15 days of day {day} of the year \
         ({usable} usable days in all): give a record that covers the season, or use a climate instead"
    )]
    NoDays {
        /// Name of the record.
        name: String,
        /// Day of the year (1 to 365) that lacks neighbours.
        day: u32,
        /// Usable days in the whole record.
        usable: usize,
    },
    /// A record without air temperature.
    #[error("the record `{name}` has no air temperature: add a column `temp_c`, or let a climate supply the air")]
    NoTemperature {
        /// Name of the record.
        name: String,
    },
}

/// How a history of weather begins.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Opening {
    /// Any weather of the season.
    #[default]
    Any,
    /// Each of the first `days` days is among the `darkest` share of its season's days; afterwards the weather goes on
    /// as weather does after such days.
    Storm {
        /// How many dark days to begin with, 0 to 5 (more are cut to 5).
        days: u32,
        /// The share of days that counts as dark, 0.01 to 1.
        darkest: f64,
    },
    /// Each of the first days lies in a band of its season's days.
    Outlook(Bands),
}

/// What the first days are told to be like: for each a band of the season's days, from the darkest (0) to the brightest (1).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bands {
    days: usize,
    bands: [(f64, f64); MOST_TOLD_DAYS],
}

/// Dark days with which an outage begins that begins in a storm.
pub const STORM_DAYS: u32 = 2;

/// The share of the season's days that counts as dark in a storm.
pub const STORM_DARKEST: f64 = 0.2;

/// Most days that an opening can tell.
pub const MOST_TOLD_DAYS: usize = 5;

impl Bands {
    /// Bands for the first days, at most [`MOST_TOLD_DAYS`] of them (more are cut). Each is `(low, high)`, shares of the
    /// season's days with `0 <= low < high <= 1`; narrower than a hundredth is widened to that.
    #[must_use]
    pub fn new(told: &[(f64, f64)]) -> Bands {
        let mut bands = [(0.0, 1.0); MOST_TOLD_DAYS];
        for (band, &(low, high)) in bands.iter_mut().zip(told) {
            let low = low.clamp(0.0, 0.99);
            *band = (low, high.clamp(low + 0.01, 1.0));
        }
        Bands { days: told.len().min(MOST_TOLD_DAYS), bands }
    }
}

impl Opening {
    /// Two days among the darkest fifth of the season: our meaning of "begins in a storm".
    pub const STORM: Opening = Opening::Storm { days: STORM_DAYS, darkest: STORM_DARKEST };

    /// How many of the first `days` days are told, and the band of each.
    fn told(&self, days: usize) -> (usize, [(f64, f64); MOST_TOLD_DAYS]) {
        match self {
            Opening::Any => (0, [(0.0, 1.0); MOST_TOLD_DAYS]),
            Opening::Storm { days: dark, darkest } => {
                ((*dark as usize).min(MOST_TOLD_DAYS).min(days), [(0.0, darkest.clamp(0.01, 1.0)); MOST_TOLD_DAYS])
            }
            Opening::Outlook(bands) => (bands.days.min(days), bands.bands),
        }
    }
}

/// One history of weather, one value a step. Reused from trial to trial, so that nothing is allocated once it has grown.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct WeatherTrace {
    /// Global horizontal irradiance \[W/m²\], mean over the step.
    pub ghi_w_m2: Vec<f64>,
    /// Air temperature \[°C\], mean over the step.
    pub air_c: Vec<f64>,
    /// Clearness of each day \[–\]: the day's global horizontal over its extraterrestrial irradiation.
    pub daily_clearness: Vec<f64>,
    /// Diffuse horizontal irradiance \[W/m²\] where a replayed record has it; empty otherwise, NaN in missing steps.
    pub dhi_w_m2: Vec<f64>,
}

/// Most days of a history that can lean; later ones keep plain random numbers.
pub const MOST_LEANING_DAYS: usize = 10;

/// Means that the standard normal numbers behind the days are drawn with, for importance sampling; 0 for plain random numbers.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Lean {
    /// For each of the first days: of the fresh number behind its spell, and of its own number.
    pub days: [(f64, f64); MOST_LEANING_DAYS],
    /// Of the slow part, one number a history. Not used where the opening is told: which histories are then dropped
    /// depends on it.
    pub slow: f64,
}

/// The numbers that a leaning history was made of.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Leaned {
    /// For each of the first days: the fresh number behind its spell, its own number, and whether they could lean.
    pub days: [(f64, f64, bool); MOST_LEANING_DAYS],
    /// The slow part's number and whether it could lean.
    pub slow: (f64, bool),
}

/// Everything about weather that does not depend on chance, precomputed. Cheap to share between threads.
#[derive(Debug, Clone)]
pub struct WeatherPlan {
    sky: sun::SkyTable,
    kind: Kind,
    doubt: Doubt,
}

#[derive(Debug, Clone)]
enum Kind {
    Stochastic(Box<seasons::Seasons>),
    Replay { days: Box<replay::Days>, air: Option<Box<seasons::Seasons>> },
}

impl WeatherPlan {
    /// Weather drawn from a climate's statistics.
    ///
    /// # Errors
    /// A calendar or a climate with figures out of range.
    pub fn stochastic(climate: &Climate, calendar: &Calendar) -> Result<WeatherPlan, WeatherError> {
        calendar.check()?;
        climate.check()?;
        let sky = sun::SkyTable::new(calendar);
        let seasons = seasons::Seasons::new(climate, &sky);
        Ok(WeatherPlan { sky, kind: Kind::Stochastic(Box::new(seasons)), doubt: climate.doubt.clone() })
    }

    /// Weather replayed from a record: real stretches of days from the same season (within 7 days of the date, or 15
    /// where that finds none), moved to the trial's date by their clearness and otherwise left as they were.
    ///
    /// # Errors
    /// A bad calendar; a record without temperature; a season without usable days.
    pub fn replay(record: &HourlyRecord, calendar: &Calendar) -> Result<WeatherPlan, WeatherError> {
        calendar.check()?;
        if !record.has_temperature() {
            return Err(WeatherError::NoTemperature { name: record.name().to_owned() });
        }
        let sky = sun::SkyTable::new(calendar);
        let days = replay::Days::new(record, calendar, &sky, true)?;
        let doubt = days.doubt();
        Ok(WeatherPlan { sky, kind: Kind::Replay { days: Box::new(days), air: None }, doubt })
    }

    /// What is not known of the climate.
    #[must_use]
    pub fn doubt(&self) -> &Doubt {
        &self.doubt
    }

    /// Whole days of the record that is replayed, in years; `None` for a climate.
    #[must_use]
    pub fn years_of_record(&self) -> Option<f64> {
        match &self.kind {
            Kind::Replay { days, .. } => Some(days.usable() as f64 / 365.0),
            _ => None,
        }
    }

    /// As [`WeatherPlan::replay`], with air temperature drawn from a climate: for records that have none.
    ///
    /// # Errors
    /// As [`WeatherPlan::replay`], and a climate with figures out of range.
    pub fn replay_with_air_of(
        record: &HourlyRecord,
        climate: &Climate,
        calendar: &Calendar,
    ) -> Result<WeatherPlan, WeatherError> {
        calendar.check()?;
        climate.check()?;
        let sky = sun::SkyTable::new(calendar);
        let days = replay::Days::new(record, calendar, &sky, false)?;
        let air = seasons::Seasons::new(climate, &sky);
        let doubt = days.doubt();
        Ok(WeatherPlan { sky, kind: Kind::Replay { days: Box::new(days), air: Some(Box::new(air)) }, doubt })
    }

    /// Fills `out` with `days` whole civil days that begin at midnight of `first_day`.
    ///
    /// * `first_day` — day of the year, 0 for 1 January; taken modulo 365, and the history wraps at the year's end.
    /// * `climate` — which of the climates that the place may have; its days are bounded by the clear sky, so that a factor
    ///   above 1 adds less than it says to days that are bright already.
    /// * Draws only from `rng`; the same stream gives the same history.
    pub fn generate(
        &self,
        first_day: u32,
        days: u32,
        opening: &Opening,
        rng: &mut Stream,
        climate: Climates<'_, 1>,
        out: &mut WeatherTrace,
    ) {
        let (first, days) = (first_day as usize % 365, days as usize);
        match &self.kind {
            Kind::Stochastic(seasons) => {
                let (told, _) = opening.told(days);
                let ask = lanes::Ask { first, days, opening: *opening, told, lean: None };
                let days_of: Days<'_, f32, 1> =
                    Days::Drawn(Sequence::new(seasons, &self.sky, &ask, &[rng.key()], climate));
                lanes::flatten(days_of, (first, days), &self.sky, out);
            }
            // In double precision, so that a record on its own dates is what it was.
            Kind::Replay { days: record, air } => {
                let asked = lanes::Asked { first, lengths: [days], opening: *opening };
                let of = (&**record, air.as_deref());
                let days_of: Days<'_, f64, 1> =
                    Days::Replayed(Replayed::new(of, &self.sky, &asked, vec![rng.clone()], climate));
                lanes::flatten(days_of, (first, days), &self.sky, out);
            }
        }
    }

    /// How many of a history's first days are told by an opening.
    pub(crate) fn told_days(opening: &Opening, days: usize) -> usize {
        opening.told(days).0
    }

    /// The weather of several trials that begin on one day and have the same number of days told: in each lane what
    /// [`WeatherPlan::generate`] draws for it alone.
    ///
    /// * `lengths` — days of each; all the same where they `lean`, which a replayed record does not; `keys` — the first number
    ///   of each lane's stream, `rng` — that stream; `climates` — of each lane.
    #[inline(always)]
    pub(crate) fn days<'a, R: Real, const L: usize>(
        &'a self,
        (first_day, lengths): (u32, &[usize; L]),
        opening: &Opening,
        (keys, rng): (&[u64; L], impl Fn(usize) -> Stream),
        climates: &'a [Drawn; L],
        lean: Option<Lean>,
    ) -> Days<'a, R, L> {
        let first = first_day as usize % 365;
        match &self.kind {
            Kind::Stochastic(seasons) => {
                let days = lengths.iter().copied().max().unwrap_or(0);
                let (told, _) = opening.told(lengths[0]);
                let ask = lanes::Ask { first, days, opening: *opening, told, lean };
                Days::Drawn(Sequence::new(seasons, &self.sky, &ask, keys, Climates::Steady(climates)))
            }
            Kind::Replay { days: record, air } => {
                let asked = lanes::Asked { first, lengths: *lengths, opening: *opening };
                let (of, rng) = ((&**record, air.as_deref()), (0..L).map(rng).collect());
                Days::Replayed(Replayed::new(of, &self.sky, &asked, rng, Climates::Steady(climates)))
            }
        }
    }

    /// A history that is known beforehand, from a day of the year on.
    pub(crate) fn told<'a, R: Real, const L: usize>(
        &'a self,
        first_day: u32,
        trace: &'a WeatherTrace,
    ) -> Days<'a, R, L> {
        Days::Told(lanes::Known::new(trace, &self.sky, first_day as usize % 365))
    }

    /// Whether days can lean.
    pub(crate) fn leans(&self) -> bool {
        matches!(self.kind, Kind::Stochastic(_))
    }

    /// Air temperature \[°C\] in a step of a day of the year.
    #[inline(always)]
    pub(crate) fn air_c<R: Real, const L: usize>(&self, sky: &lanes::DaySky<R, L>, day: usize, step: usize) -> [R; L] {
        sky.air_c(step, self.sky.air_at(day, step))
    }

    /// Extraterrestrial horizontal irradiance of a day's steps \[W/m²\], means over the steps.
    pub fn extraterrestrial_w_m2(&self, day: u32) -> &[f64] {
        self.sky.day(day as usize % 365).steps
    }

    /// Steps in a day.
    pub fn steps_per_day(&self) -> usize {
        self.sky.steps_per_day()
    }
}
