//! Climate files: a [`Climate`] as TOML, version 1.
//!
//! ```toml
//! version = 1
//! name = "Northern plain"
//! source = "fitted to 15 years of hourly readings"
//! latitude_deg = 52.1
//! longitude_deg = 5.18
//! height_m = 2.0            # may be left out
//! sun_uncertainty = 0.02    # standard deviation of the logarithm of the error that all months share
//! years_of_record = 15.0    # where it is fitted to a record: what so many years leave open is not known either
//! rests_on = "record-alone" # or "table", "figures"; left out: a record beside the built-in table, or figures from elsewhere
//! levels = [0.0, 0.01, ...] # probabilities at which clearness is given; written for the reader's benefit
//!
//! [[month]]                 # twelve of them, January first
//! clearness = [0.02, 0.03, ...]
//! persistence = 0.22
//! course = [1.0, 1.0, ...]  # sixteen; this and the next five may be left out
//! hourly_spread = 1.4
//! hourly_persistence = 0.54
//! memory = 0.45
//! settled = 0.0
//! slow_share = 0.01
//! air = { mean_c = 3.5, swing_k = 4.6, day_sd_k = 4.4, day_persistence = 0.8, clearness_link = -0.3, record_low_c = -21.0 }
//! ```

use super::WeatherError;
use super::climate::{Basis, COURSE, Climate, Habits, LEVELS, MonthAir, MonthClimate};
use super::doubt::Doubt;
use super::fit::relative_sd;
use super::world;
use crate::math;
use serde::{Deserialize, Serialize};

/// The version of the format that this crate writes.
pub const VERSION: u32 = 1;

/// Why a climate file was not understood.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ClimateFileError {
    /// Not the TOML that is expected; `message` points at the place.
    #[error("{name}: {message}")]
    Syntax {
        /// Name of the file.
        name: String,
        /// What was found where, with the line.
        message: String,
    },
    /// A version from the future, or none.
    #[error("{name}: version {found} is not known; allowed: {VERSION}")]
    Version {
        /// Name of the file.
        name: String,
        /// Version found.
        found: u32,
    },
    /// Too few or too many figures.
    #[error("{name}: {what} has {found} entries; allowed: {allowed}")]
    Count {
        /// Name of the file.
        name: String,
        /// Which list.
        what: String,
        /// Entries found.
        found: usize,
        /// Entries allowed.
        allowed: usize,
    },
    /// Levels other than ours.
    #[error("{name}: `levels` differ from the ones that version {VERSION} is written at; allowed: {LEVELS:?}")]
    Levels {
        /// Name of the file.
        name: String,
    },
    /// Figures out of range.
    #[error("{name}: {error}")]
    Figures {
        /// Name of the file.
        name: String,
        /// What is wrong.
        error: WeatherError,
    },
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    version: u32,
    name: String,
    source: String,
    latitude_deg: f64,
    longitude_deg: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    height_m: Option<f64>,
    sun_uncertainty: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    years_of_record: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    rests_on: Option<RestsOn>,
    levels: Vec<f64>,
    month: Vec<Month>,
}

/// What the figures rest on, where that is more than they say themselves.
#[derive(Serialize, Deserialize, Clone, Copy, PartialEq, Eq)]
#[serde(rename_all = "kebab-case")]
enum RestsOn {
    /// The built-in table.
    Table,
    /// The built-in table and twelve monthly figures.
    Figures,
    /// A record alone.
    RecordAlone,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Month {
    clearness: Vec<f64>,
    persistence: f64,
    #[serde(default = "default_course")]
    course: Vec<f64>,
    #[serde(default = "default_spread")]
    hourly_spread: f64,
    #[serde(default = "default_persistence")]
    hourly_persistence: f64,
    #[serde(default = "default_memory")]
    memory: f64,
    #[serde(default = "default_settled")]
    settled: f64,
    #[serde(default = "default_slow")]
    slow_share: f64,
    air: Air,
}

fn default_course() -> Vec<f64> {
    Habits::default().course.to_vec()
}

fn default_spread() -> f64 {
    Habits::default().hourly_spread
}

fn default_persistence() -> f64 {
    Habits::default().hourly_persistence
}

fn default_memory() -> f64 {
    Habits::default().memory
}

fn default_settled() -> f64 {
    Habits::default().settled
}

fn default_slow() -> f64 {
    Habits::default().slow_share
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Air {
    mean_c: f64,
    swing_k: f64,
    day_sd_k: f64,
    day_persistence: f64,
    clearness_link: f64,
    record_low_c: f64,
}

/// Largest file \[bytes\].
const LARGEST: usize = 1_000_000;

/// Rounds to so many decimals, so that files are read by people too.
fn round(value: f64, decimals: i32) -> f64 {
    let scale = math::powi(10.0, decimals);
    (value * scale).round() / scale
}

/// Writes a climate as TOML. Clearness is rounded to 0.0001, other shares to 0.001, temperatures to 0.1.
pub fn write(climate: &Climate) -> String {
    let month = |m: &MonthClimate| Month {
        clearness: m.clearness.iter().map(|&k| round(k, 4)).collect(),
        persistence: round(m.persistence, 3),
        course: m.habits.course.iter().map(|&part| round(part, 3)).collect(),
        hourly_spread: round(m.habits.hourly_spread, 3),
        hourly_persistence: round(m.habits.hourly_persistence, 3),
        memory: round(m.habits.memory, 3),
        settled: round(m.habits.settled, 3),
        slow_share: round(m.habits.slow_share, 4),
        air: Air {
            mean_c: round(m.air.mean_c, 1),
            swing_k: round(m.air.swing_k, 1),
            day_sd_k: round(m.air.day_sd_k, 2),
            day_persistence: round(m.air.day_persistence, 3),
            clearness_link: round(m.air.clearness_link, 3),
            record_low_c: round(m.air.record_low_c, 1),
        },
    };
    let (level, rests_on) = match climate.basis {
        Basis::Table => (0.0, Some(RestsOn::Table)),
        Basis::Figures => (0.0, Some(RestsOn::Figures)),
        Basis::Record { instrument, table, .. } => (instrument, (!table).then_some(RestsOn::RecordAlone)),
        Basis::Told { level } => (level, None),
    };
    let file = File {
        version: VERSION,
        name: climate.name.clone(),
        source: climate.source.clone(),
        latitude_deg: climate.latitude_deg,
        longitude_deg: climate.longitude_deg,
        height_m: climate.height_m,
        sun_uncertainty: round(level, 4),
        years_of_record: climate.years_of_record().map(|years| round(years, 2)),
        rests_on,
        levels: LEVELS.to_vec(),
        month: climate.months.iter().map(month).collect(),
    };
    // A plain tree of strings and finite numbers always has a TOML form.
    toml::to_string(&file).unwrap_or_default()
}

/// What a file's figures rest on, and what that leaves unknown.
fn basis(file: &File, months: &[MonthClimate; 12]) -> (Basis, Doubt) {
    let table = || Doubt::of_table(file.latitude_deg);
    match (file.rests_on, file.years_of_record) {
        (Some(RestsOn::Table), _) => (Basis::Table, table()),
        (Some(RestsOn::Figures), _) => (Basis::Figures, world::almanac::after_figures(table())),
        (rests_on, Some(years)) => {
            let relative = months.each_ref().map(|month| relative_sd(&month.clearness));
            let instrument = file.sun_uncertainty;
            let with_table = rests_on != Some(RestsOn::RecordAlone);
            let doubt = if with_table {
                let mut doubt = table();
                doubt.learn_record(&Default::default(), &[years; 12], &relative, instrument);
                doubt
            } else {
                Doubt::of_record(&[years; 12], &relative, instrument)
            };
            (Basis::Record { years, instrument, table: with_table }, doubt)
        }
        (_, None) => (Basis::Told { level: file.sun_uncertainty }, Doubt::of_level(file.sun_uncertainty)),
    }
}

/// Reads a climate file; `name` is what to call it in messages.
///
/// # Errors
/// What is wrong with it, and what is allowed there.
pub fn read(text: &str, name: &str) -> Result<Climate, ClimateFileError> {
    let named = || name.to_owned();
    let syntax = |error: toml::de::Error| ClimateFileError::Syntax { name: named(), message: error.to_string() };
    if text.len() > LARGEST {
        let message = format!("the file has {:.1} MB; allowed: at most 1 MB", text.len() as f64 / 1e6);
        return Err(ClimateFileError::Syntax { name: named(), message });
    }
    let file: File = toml::from_str(text).map_err(syntax)?;
    if file.version != VERSION {
        return Err(ClimateFileError::Version { name: named(), found: file.version });
    }
    if file.levels != LEVELS {
        return Err(ClimateFileError::Levels { name: named() });
    }
    let count = |what: &str, found: usize, allowed: usize| ClimateFileError::Count {
        name: named(),
        what: what.to_owned(),
        found,
        allowed,
    };
    let months =
        file.month
            .iter()
            .enumerate()
            .map(|(k, m)| {
                let clearness: [f64; LEVELS.len()] =
                    m.clearness.as_slice().try_into().map_err(|_| {
                        count(&format!("`clearness` of month {}", k + 1), m.clearness.len(), LEVELS.len())
                    })?;
                let course: [f64; COURSE] = m
                    .course
                    .as_slice()
                    .try_into()
                    .map_err(|_| count(&format!("`course` of month {}", k + 1), m.course.len(), COURSE))?;
                Ok(MonthClimate {
                    clearness,
                    persistence: m.persistence,
                    habits: Habits {
                        course,
                        hourly_spread: m.hourly_spread,
                        hourly_persistence: m.hourly_persistence,
                        memory: m.memory,
                        settled: m.settled,
                        slow_share: m.slow_share,
                    },
                    air: MonthAir {
                        mean_c: m.air.mean_c,
                        swing_k: m.air.swing_k,
                        day_sd_k: m.air.day_sd_k,
                        day_persistence: m.air.day_persistence,
                        clearness_link: m.air.clearness_link,
                        record_low_c: m.air.record_low_c,
                    },
                })
            })
            .collect::<Result<Vec<_>, ClimateFileError>>()?;
    let months = months.try_into().map_err(|found: Vec<MonthClimate>| count("`[[month]]`", found.len(), 12))?;
    let months: [MonthClimate; 12] = months;
    let (basis, doubt) = basis(&file, &months);
    let climate = Climate {
        name: file.name,
        source: file.source,
        latitude_deg: file.latitude_deg,
        longitude_deg: file.longitude_deg,
        height_m: file.height_m,
        basis,
        seen: 0,
        doubt,
        months,
    };
    climate.check().map_err(|error| ClimateFileError::Figures { name: named(), error })?;
    Ok(climate)
}
