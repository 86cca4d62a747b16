//! Logs of a watt meter: comma-separated values with a header.
//!
//! A column of time (`time` as clock time with or without a date, or `hours`, `minutes`, `seconds` since the start), and
//! `watts`, or `volts` and `amps`. A column `charge` in percent is read too; others are ignored. A unit may follow a
//! name, as in `time_s` or `power (W)`.

use thiserror::Error;

use super::model::Reading;
use super::times::{hours_between, parse_moment, since_first};
use crate::units::{Fraction, Hours, Watts};
use jiff::SignedDuration;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;

/// Most rows of a log: a week of seconds.
const MOST_ROWS: usize = 700_000;

/// Why a log cannot be used.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum LogError {
    /// No column for the time or the power.
    #[error("has no column for {what} in its first line; found {found}")]
    NoColumn {
        /// What is missing.
        what: &'static str,
        /// The header as written.
        found: String,
    },
    /// A cell that is no number or time.
    #[error("line {line}: `{found}` is not {what}")]
    Cell {
        /// Line, counted from 1.
        line: usize,
        /// As written.
        found: String,
        /// What was expected.
        what: &'static str,
    },
    /// A time that is before the one above it.
    #[error("line {line}: the time goes back from the line above")]
    Backwards {
        /// Line, counted from 1.
        line: usize,
    },
    /// Fewer than two readings.
    #[error("holds {0} readings; at least 2 are needed")]
    TooShort(usize),
    /// More readings than make sense.
    #[error("holds more than {MOST_ROWS} readings; keep one every few seconds")]
    TooLong,
}

#[derive(Clone, Copy)]
enum Time {
    Clock,
    Elapsed { hours: f64 },
}

struct Columns {
    time: (usize, Time),
    watts: Option<usize>,
    volts_amps: Option<(usize, usize)>,
    charge: Option<usize>,
}

fn columns(header: &[&str]) -> Result<Columns, LogError> {
    let names: Vec<String> =
        header.iter().map(|name| name.trim().trim_matches('"').trim_start_matches('\u{feff}').to_lowercase()).collect();
    let find = |wanted: &[&str]| {
        names.iter().position(|name| {
            let stem = name.split(['(', '[', '_', ' ']).next().unwrap_or_default();
            wanted.contains(&stem) || wanted.contains(&name.as_str())
        })
    };
    let elapsed = [
        (&["hours", "h", "time_h"][..], 1.0),
        (&["minutes", "min", "time_min"], 1.0 / 60.0),
        (&["seconds", "s", "time_s"], 1.0 / 3600.0),
    ];
    let exact = |wanted: &[&str]| names.iter().position(|name| wanted.contains(&name.as_str()));
    let time = elapsed
        .iter()
        .find_map(|(wanted, hours)| Some((exact(wanted)?, Time::Elapsed { hours: *hours })))
        .or_else(|| Some((find(&["time", "date", "datetime", "timestamp"])?, Time::Clock)));
    let missing = |what| LogError::NoColumn { what, found: super::super::forms::tidy(&header.join(",")) };
    let watts = find(&["watts", "watt", "w", "power"]);
    let volts_amps =
        find(&["volts", "volt", "v", "voltage"]).zip(find(&["amps", "amp", "ampere", "amperes", "a", "current"]));
    if watts.is_none() && volts_amps.is_none() {
        return Err(missing("watts, or volts and amps"));
    }
    Ok(Columns {
        time: time.ok_or_else(|| missing("time"))?,
        watts,
        volts_amps,
        charge: find(&["charge", "soc", "battery"]),
    })
}

/// The clock that a log's times are read by.
#[derive(Debug, Clone, Default)]
pub struct Clock {
    /// Zone of the place, where it is known.
    pub zone: Option<TimeZone>,
    /// When the run began by the record: gives clock times without a date their day.
    pub start: Option<DateTime>,
}

/// A log: when it began, where it says so, and its readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Log {
    /// Clock time of the first reading, where the log has clock times and a day is known.
    pub start: Option<DateTime>,
    /// The readings, the first at 0 h.
    pub readings: Vec<Reading>,
}

/// Reads a log. Cells are separated by commas, semicolons or tabs; decimals take a point. Clock times without a date may
/// run over midnight. Times over a change to or from summer time count the hours that really went by.
///
/// # Errors
/// [`LogError`] with the line.
pub fn parse(text: &str, clock: &Clock) -> Result<Log, LogError> {
    let passed_over = |line: &&str| line.trim().is_empty() || line.starts_with('#');
    let Some(header) = text.lines().find(|line| !passed_over(line)) else { return Err(LogError::TooShort(0)) };
    let separator = b";\t,".iter().copied().find(|c| header.as_bytes().contains(c)).unwrap_or(b',');
    // A row's place is where the one before ended.
    let line_of = |place: usize| place + text.lines().skip(place - 1).take_while(passed_over).count();
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .delimiter(separator)
        .comment(Some(b'#'))
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    // A text is UTF-8, and rows may have any length: nothing is left that could be wrong with a row. One of blanks has one cell.
    let mut rows = reader.records().map_while(Result::ok).filter(|row| row.len() > 1 || row.get(0) != Some(""));
    let columns = columns(&rows.next().iter().flatten().collect::<Vec<_>>())?;
    let mut readings: Vec<Reading> = Vec::new();
    // Clock times and their places; for columns of hours, minutes or seconds there are none.
    let mut moments: Vec<DateTime> = Vec::new();
    let mut places: Vec<usize> = Vec::new();
    let mut dated = clock.start.is_some();
    let (mut first_h, mut before_h) = (None, f64::NEG_INFINITY);
    for row in rows {
        let place = row.position().map_or(1, |place| place.line() as usize);
        let wrong =
            |found: &str, what| LogError::Cell { line: line_of(place), found: super::super::forms::tidy(found), what };
        let cell = |column: usize| row.get(column).unwrap_or("");
        let number = |column: usize, what| {
            cell(column).parse().ok().filter(|x: &f64| x.is_finite()).ok_or_else(|| wrong(cell(column), what))
        };
        let written = cell(columns.time.0);
        let after_h = match columns.time.1 {
            Time::Elapsed { hours } => {
                let at_h = number(columns.time.0, "a number")? * hours;
                if at_h <= before_h {
                    return Err(LogError::Backwards { line: line_of(place) });
                }
                before_h = at_h;
                at_h - *first_h.get_or_insert(at_h)
            }
            Time::Clock => {
                let moment = match (parse_moment(written), clock_h(written)) {
                    (Some(moment), _) => {
                        dated = true;
                        moment
                    }
                    (None, Some(hour)) => {
                        let near = moments
                            .last()
                            .copied()
                            .or(clock.start)
                            .unwrap_or(DateTime::constant(2000, 1, 3, 0, 0, 0, 0));
                        on_the_day(near, hour, moments.is_empty() && clock.start.is_some())
                            .ok_or_else(|| wrong(written, "a time"))?
                    }
                    _ => return Err(wrong(written, "a time")),
                };
                moments.push(moment);
                places.push(place);
                0.0
            }
        };
        let watts = match (columns.watts, columns.volts_amps) {
            (Some(column), _) => number(column, "a power in watts")?,
            (None, Some((volts, amps))) => number(volts, "a voltage")? * number(amps, "a current")?,
            (None, None) => 0.0,
        };
        if !(0.0..=1e6).contains(&watts) {
            return Err(wrong(&watts.to_string(), "a power from 0 to 1,000,000 W"));
        }
        let charge = match columns.charge {
            Some(column) if !cell(column).is_empty() => {
                let percent: f64 = cell(column)
                    .trim_end_matches('%')
                    .trim()
                    .parse()
                    .ok()
                    .filter(|x| (0.0..=100.0).contains(x))
                    .ok_or_else(|| wrong(cell(column), "a charge from 0 to 100 percent"))?;
                Some(Fraction(percent / 100.0))
            }
            _ => None,
        };
        if readings.len() == MOST_ROWS {
            return Err(LogError::TooLong);
        }
        readings.push(Reading { after: Hours(after_h), watts: Watts(watts), charge });
    }
    if readings.len() < 2 {
        return Err(LogError::TooShort(readings.len()));
    }
    if !moments.is_empty() {
        let zone = clock.zone.as_ref().filter(|_| dated);
        let hours = since_first(&moments, zone).map_err(|row| LogError::Backwards { line: line_of(places[row]) })?;
        for (reading, hours) in readings.iter_mut().zip(hours) {
            reading.after = Hours(hours);
        }
    }
    Ok(Log { start: moments.first().copied().filter(|_| dated), readings })
}

/// A clock time without a date after another moment, or around it: one that would fall back by more than half a day has
/// passed midnight.
fn on_the_day(near: DateTime, hour: f64, around: bool) -> Option<DateTime> {
    let day = |days: i64| {
        let at = SignedDuration::from_millis((hour * 3.6e6).round() as i64 + days * 86_400_000);
        near.date().at(0, 0, 0, 0).checked_add(at).ok()
    };
    let same = day(0)?;
    match hours_between(near, same) {
        late if late < -12.0 => day(1),
        early if around && 12.0 < early => day(-1),
        _ => Some(same),
    }
}

/// Hours after midnight from `HH:MM` or `HH:MM:SS`.
fn clock_h(text: &str) -> Option<f64> {
    let mut parts = text.split(':');
    let (hours, minutes, seconds) = (parts.next()?, parts.next()?, parts.next().unwrap_or("0"));
    let number = |text: &str, most: f64| text.parse().ok().filter(|x: &f64| (0.0..most).contains(x));
    if parts.next().is_some() {
        return None;
    }
    Some(number(hours, 24.0)? + number(minutes, 60.0)? / 60.0 + number(seconds, 60.0)? / 3600.0)
}
