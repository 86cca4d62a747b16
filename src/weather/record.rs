//! Hourly records of sun and air: reading them from CSV.
//!
//! The first line names the columns. Needed are a time (`time_utc`, or `time` with `Z` or an offset such as `-05:00` in
//! every value) and `ghi_w_m2` (or `ghi`); `dni_w_m2`, `dhi_w_m2` and `temp_c` may be given, as may their short names
//! `dni`, `dhi`, `temperature`. Other columns are passed over and listed. Labels mark the start of the step, values are
//! means over it, an empty field or `nan` is a missing reading. Lines that begin with `#` are comments. A file packed
//! with gzip is unpacked on the way.

use super::plain::{MOST_ROWS, broken, plain, too_long};
use super::replay::{Days, RecordDay};
use super::sun::SkyTable;
use super::{Calendar, WeatherError};
use crate::calendar::{day_number, year_and_day};
use crate::visible::clipped;
use jiff::fmt::temporal::Pieces;
use std::borrow::Cow;
use std::io::Read;

/// Longest stretch of missing rows that is kept as missing readings \[min\]; beyond it a new stretch begins.
const LONGEST_HOLE_MINUTES: i64 = 3 * 24 * 60;
/// Problems kept before reading stops.
const MOST_PROBLEMS: usize = 20;
/// Most characters of what was found that a message shows.
pub(super) const SHOWN: usize = 60;

/// Units of the columns, and what may be meant by numbers too great for them.
const SUN: (&str, &str) =
    ("W/m²", " (more than the sun gives: another unit such as kJ/m² an hour, or a doubled column?)");
const AIR: (&str, &str) = ("°C", " (°F or kelvin?)");

/// One thing wrong with a record.
#[derive(Debug, Clone, PartialEq)]
pub struct RecordProblem {
    /// Line in the (unpacked) file, 1 for the first; 0 where the file as a whole is meant.
    pub line: usize,
    /// Column name, where one column is meant.
    pub column: Option<String>,
    /// What was read.
    pub found: String,
    /// What is allowed there.
    pub allowed: String,
}

impl std::fmt::Display for RecordProblem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.line > 0 {
            write!(f, "line {}: ", self.line)?;
        }
        if let Some(column) = &self.column {
            write!(f, "`{column}`: ")?;
        }
        write!(f, "found {}; allowed: {}", self.found, self.allowed)
    }
}

/// Everything wrong with a record, as far as reading got.
#[derive(Debug, Clone, PartialEq)]
pub struct RecordErrors {
    /// Name of the file.
    pub name: String,
    /// The problems, in the order of their lines; at least one.
    pub problems: Vec<RecordProblem>,
}

impl std::fmt::Display for RecordErrors {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (k, problem) in self.problems.iter().enumerate() {
            write!(f, "{}{}: {problem}", if k > 0 { "\n" } else { "" }, self.name)?;
        }
        Ok(())
    }
}

impl std::error::Error for RecordErrors {}

/// The readings of one step; NaN where missing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reading {
    pub ghi_w_m2: f64,
    pub dni_w_m2: f64,
    pub dhi_w_m2: f64,
    pub air_c: f64,
}

impl Reading {
    pub(super) const MISSING: Reading =
        Reading { ghi_w_m2: f64::NAN, dni_w_m2: f64::NAN, dhi_w_m2: f64::NAN, air_c: f64::NAN };
}

/// One civil day of a record.
#[derive(Debug, Clone, PartialEq)]
pub struct CivilDay {
    /// Days since 1 January 1970.
    pub number: i64,
    /// Day of the year, 0 to 364; 29 February counts as 28 February.
    pub day: usize,
    /// Calendar year.
    pub year: i64,
    /// Whether the sun is known in every step.
    pub whole: bool,
    /// Global horizontal irradiance \[W/m²\] of each step, NaN where unknown.
    pub ghi_w_m2: Vec<f64>,
}

/// A stretch of equal steps without a jump in time.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stretch {
    /// Start of the first step, minutes since 1 January 1970 UTC.
    pub start_minute: i64,
    pub readings: Vec<Reading>,
}

/// A record of sun and air in steps of an hour or less.
#[derive(Debug, Clone, PartialEq)]
pub struct HourlyRecord {
    name: String,
    step_minutes: u32,
    stretches: Vec<Stretch>,
    ignored_columns: Vec<String>,
    has_temperature: bool,
    has_split: bool,
    negative_readings: usize,
}

impl HourlyRecord {
    /// Reads a record from a CSV file's bytes, plain or packed with gzip, from front to back: its text is never held as a
    /// whole. `name` is what to call it in messages.
    ///
    /// # Errors
    /// Everything wrong with the file (up to 20 problems): a missing column, a time that cannot be read or comes twice,
    /// a value out of range (−20 to 1600 W/m² for the sun, −90 to 60 °C), uneven steps. Readings a little below zero
    /// count as zero.
    pub fn parse(text: impl Read, name: &str) -> Result<HourlyRecord, RecordErrors> {
        Reader::new(name).read(text)
    }

    /// What the record is called.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Length of a step \[min\]: a divisor of 60.
    pub fn step_minutes(&self) -> u32 {
        self.step_minutes
    }

    /// Columns that were passed over.
    pub fn ignored_columns(&self) -> &[String] {
        &self.ignored_columns
    }

    /// Whether any air temperature was read.
    pub fn has_temperature(&self) -> bool {
        self.has_temperature
    }

    /// Whether any diffuse or direct irradiance was read.
    pub fn has_split(&self) -> bool {
        self.has_split
    }

    /// Readings between −20 and 0 W/m² that were set to 0.
    pub fn negative_readings(&self) -> usize {
        self.negative_readings
    }

    /// Steps between the first and the last, missing ones included, jumps left out.
    pub fn steps(&self) -> usize {
        self.stretches.iter().map(|stretch| stretch.readings.len()).sum()
    }

    /// The record's whole civil days on the steps of a calendar, short gaps bridged.
    ///
    /// # Errors
    /// A calendar out of range.
    pub fn civil_days(&self, calendar: &Calendar) -> Result<Vec<CivilDay>, WeatherError> {
        calendar.check()?;
        let sky = SkyTable::new(calendar);
        let cut = Days::cut(self, calendar, &sky, false);
        let of_day = |(day, readings): (&RecordDay, &[Reading])| CivilDay {
            number: day.number,
            day: day.day,
            year: year_and_day(day.number).0,
            whole: day.usable,
            ghi_w_m2: readings.iter().map(|r| r.ghi_w_m2).collect(),
        };
        Ok(cut.days.iter().zip(cut.readings.chunks_exact(sky.steps_per_day())).map(of_day).collect())
    }

    pub(super) fn stretches(&self) -> &[Stretch] {
        &self.stretches
    }

    /// Puts rows (start of the step in minutes since 1970 UTC, with the line for messages) in order.
    pub(super) fn from_rows(
        name: &str,
        mut rows: Vec<(i64, usize, Reading)>,
        ignored_columns: Vec<String>,
        negative_readings: usize,
    ) -> Result<HourlyRecord, RecordErrors> {
        if rows.len() < 2 {
            return Err(whole(name, format!("{} rows of readings", rows.len()), "at least a day of rows"));
        }
        // In place: no two are equal.
        rows.sort_unstable_by_key(|&(minute, line, _)| (minute, line));
        let problem = |line: usize, found: String, allowed: &str| RecordProblem {
            line,
            column: Some("time".to_owned()),
            found,
            allowed: allowed.to_owned(),
        };
        let twice: Vec<_> = rows
            .windows(2)
            .filter(|pair| pair[0].0 == pair[1].0)
            .take(MOST_PROBLEMS)
            .map(|pair| problem(pair[1].1, format!("the time of line {} again", pair[0].1), "every time once"))
            .collect();
        if !twice.is_empty() {
            return Err(RecordErrors { name: name.to_owned(), problems: twice });
        }
        let step = rows.windows(2).map(|pair| pair[1].0 - pair[0].0).min().unwrap_or(60);
        if step > 60 || 60 % step != 0 {
            return Err(whole(
                name,
                format!("steps of {step} minutes"),
                "steps of an hour or of a divisor of 60 minutes",
            ));
        }
        let mut stretches: Vec<Stretch> = Vec::new();
        let mut uneven = Vec::new();
        for &(minute, line, reading) in &rows {
            let next = stretches.last().map(|s| s.start_minute + s.readings.len() as i64 * step);
            match (next, stretches.last_mut()) {
                (Some(next), Some(stretch)) if minute - next <= LONGEST_HOLE_MINUTES => {
                    if (minute - next) % step != 0 {
                        if uneven.len() < MOST_PROBLEMS {
                            let found = format!("a label {} minutes off the others", (minute - next).rem_euclid(step));
                            uneven.push(problem(line, found, &format!("equal steps of {step} minutes")));
                        }
                        continue;
                    }
                    let holes = ((minute - next) / step) as usize;
                    stretch.readings.extend(std::iter::repeat_n(Reading::MISSING, holes));
                    stretch.readings.push(reading);
                }
                _ => stretches.push(Stretch { start_minute: minute, readings: vec![reading] }),
            }
        }
        if !uneven.is_empty() {
            return Err(RecordErrors { name: name.to_owned(), problems: uneven });
        }
        let any = |of: fn(&Reading) -> f64| rows.iter().any(|(_, _, reading)| !of(reading).is_nan());
        if !any(|r| r.ghi_w_m2) {
            return Err(whole(name, "not one reading of the sun".to_owned(), "numbers in the column `ghi_w_m2`"));
        }
        Ok(HourlyRecord {
            name: name.to_owned(),
            step_minutes: step as u32,
            has_temperature: any(|r| r.air_c),
            has_split: any(|r| r.dni_w_m2) || any(|r| r.dhi_w_m2),
            stretches,
            ignored_columns,
            negative_readings,
        })
    }
}

pub(super) fn whole(name: &str, found: String, allowed: &str) -> RecordErrors {
    let problem = RecordProblem { line: 0, column: None, found, allowed: allowed.to_owned() };
    RecordErrors { name: name.to_owned(), problems: vec![problem] }
}

/// Minutes since 1970 UTC of a label such as `2007-01-01T00:00:00Z` or `2007-01-01 00:00-05:00`, and whether it says
/// its offset.
fn parse_time(text: &str) -> Option<(i64, bool)> {
    // Midnight at the end of a day is its 24:00.
    let (text, late) = match text.get(10..13) {
        Some("T24" | " 24") => (Cow::Owned(format!("{}00{}", &text[..11], &text[13..])), 1440),
        _ => (Cow::Borrowed(text), 0),
    };
    let pieces = Pieces::parse(&*text).ok()?;
    let at = pieces.date().to_datetime(pieces.time()?);
    if at.second() != 0 || at.subsec_nanosecond() != 0 || (late > 0 && at.minute() != 0) {
        return None;
    }
    let local = day_number(at.date()) * 1440 + i64::from(at.hour()) * 60 + i64::from(at.minute()) + late;
    let offset = pieces.to_numeric_offset();
    Some((local - offset.map_or(0, |offset| i64::from(offset.seconds() / 60)), offset.is_some()))
}

/// What is allowed of columns that are read.
pub(super) const ONCE: &str = "each column once";

/// Of the columns that are read those whose name stands there more than once, and how often.
pub(super) fn doubled(
    header: &csv::StringRecord,
    used: impl IntoIterator<Item = Option<usize>>,
) -> impl Iterator<Item = (usize, usize)> {
    let times = |at: usize| header.iter().filter(|name| name.trim().eq_ignore_ascii_case(header[at].trim())).count();
    used.into_iter().flatten().map(move |at| (at, times(at))).filter(|(_, times)| *times > 1)
}

/// Where the columns are, and what was noted on the way.
struct Reader<'a> {
    name: &'a str,
    problems: Vec<RecordProblem>,
    negative: usize,
}

impl<'a> Reader<'a> {
    fn new(name: &'a str) -> Reader<'a> {
        Reader { name, problems: Vec::new(), negative: 0 }
    }

    fn note(&mut self, line: usize, column: &str, found: String, allowed: &str) {
        let column = Some(clipped(column, SHOWN));
        self.problems.push(RecordProblem {
            line,
            column,
            found: clipped(&found, 2 * SHOWN),
            allowed: allowed.to_owned(),
        });
    }

    /// A number of a column; `unit` is its unit, and what may be meant by a number beyond `most`.
    fn value(
        &mut self,
        line: usize,
        column: &str,
        text: Option<&str>,
        (least, most): (f64, f64),
        (unit, beyond): (&str, &str),
    ) -> f64 {
        let Some(text) = text.map(str::trim).filter(|t| !t.is_empty() && !t.eq_ignore_ascii_case("nan")) else {
            return f64::NAN;
        };
        match text.parse::<f64>() {
            Ok(value) if (least..=most).contains(&value) => value,
            read => {
                let cause = if read.is_ok_and(|value| value > most) { beyond } else { "" };
                let allowed = format!("a number from {least} to {most} {unit}, or nothing{cause}");
                self.note(line, column, format!("`{text}`"), &allowed);
                f64::NAN
            }
        }
    }

    fn read(mut self, text: impl Read) -> Result<HourlyRecord, RecordErrors> {
        let mut csv = csv::ReaderBuilder::new().comment(Some(b'#')).flexible(true).from_reader(plain(text));
        let header = csv.headers().map_err(|error| broken(self.name, &error))?.clone();
        let names: Vec<String> = header.iter().map(|n| n.trim().to_lowercase()).collect();
        let find = |wanted: &[&str]| names.iter().position(|n| wanted.contains(&n.as_str()));
        let (time_utc, time) = (find(&["time_utc"]), find(&["time"]));
        let ghi = find(&["ghi_w_m2", "ghi"]);
        let dni = find(&["dni_w_m2", "dni"]);
        let dhi = find(&["dhi_w_m2", "dhi"]);
        let air = find(&["temp_c", "temperature", "temperature_c", "air_c"]);
        let (Some(time_at), Some(ghi_at)) = (time_utc.or(time), ghi) else {
            let lacking = if ghi.is_none() { "ghi_w_m2" } else { "time_utc" };
            self.note(
                1,
                lacking,
                format!("the columns {}", names.join(", ")),
                "a first line with `time_utc` and `ghi_w_m2`",
            );
            return Err(RecordErrors { name: self.name.to_owned(), problems: self.problems });
        };
        let used = [Some(time_at), Some(ghi_at), dni, dhi, air];
        for (at, times) in doubled(&header, used) {
            self.note(1, &names[at], format!("{times} columns of this name"), ONCE);
        }
        if !self.problems.is_empty() {
            return Err(RecordErrors { name: self.name.to_owned(), problems: self.problems });
        }
        let ignored = (0..names.len()).filter(|&k| !used.contains(&Some(k))).map(|k| names[k].clone()).collect();
        let mut rows = Vec::new();
        let mut row = csv::StringRecord::new();
        loop {
            if self.problems.len() >= MOST_PROBLEMS {
                break;
            }
            let line = csv.position().line() as usize;
            match csv.read_record(&mut row) {
                Ok(false) => break,
                Ok(true) => {}
                Err(error) if error.is_io_error() => return Err(broken(self.name, &error)),
                Err(error) => {
                    self.note(line, &names[time_at], error.to_string(), "a row of UTF-8 text");
                    continue;
                }
            }
            let line = row.position().map_or(line, |p| p.line() as usize);
            let label = row.get(time_at).unwrap_or("").trim();
            let minute = match parse_time(label) {
                Some((minute, says_offset)) if says_offset || time_utc.is_some() => minute,
                Some(_) => {
                    let allowed = "a time with Z or an offset, such as 2020-06-01T13:00-05:00, or a column `time_utc`";
                    self.note(line, &names[time_at], format!("`{label}` without a time zone"), allowed);
                    continue;
                }
                None => {
                    self.note(line, &names[time_at], format!("`{label}`"), "a time such as 2020-06-01T13:00:00Z");
                    continue;
                }
            };
            let mut sun = |at: Option<usize>| match at {
                Some(at) => {
                    let value = self.value(line, &names[at], row.get(at), (-20.0, 1600.0), SUN);
                    self.negative += usize::from(value < 0.0);
                    if value < 0.0 { 0.0 } else { value }
                }
                None => f64::NAN,
            };
            let (ghi_w_m2, dni_w_m2, dhi_w_m2) = (sun(Some(ghi_at)), sun(dni), sun(dhi));
            let air_c = air.map_or(f64::NAN, |at| self.value(line, &names[at], row.get(at), (-90.0, 60.0), AIR));
            if rows.len() == MOST_ROWS {
                return Err(too_long(self.name));
            }
            rows.push((minute, line, Reading { ghi_w_m2, dni_w_m2, dhi_w_m2, air_c }));
        }
        if self.problems.is_empty() {
            HourlyRecord::from_rows(self.name, rows, ignored, self.negative)
        } else {
            Err(RecordErrors { name: self.name.to_owned(), problems: self.problems })
        }
    }
}
