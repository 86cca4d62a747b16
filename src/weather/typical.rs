//! Typical-year files: TMY3 and EPW.
//!
//! Both label an hour by its end and count hours from 1 to 24 in local standard time; the record read here labels it by
//! its start, as everywhere in this crate.
//!
//! References: Wilcox & Marion (2008), Users Manual for TMY3 Data Sets, NREL/TP-581-43156, tables 1-1 and 1-2; the EPW
//! data dictionary of the public weather-file format (fields counted from 1: 1 to 4 date and hour, 7 dry bulb, 14 global
//! horizontal, 15 direct normal, 16 diffuse horizontal; 9999 and 99.9 mean missing).
//!
//! Typical years are made of real months of different years: they under-represent extremes and say nothing about the
//! spread between years.

use crate::calendar::{day_number, days_from_date};
use csv::StringRecord;
use jiff::civil::Date;

use super::plain::{broken, plain};
use super::record::{HourlyRecord, Reading, RecordErrors, RecordProblem, SHOWN, whole};
use crate::visible::clipped;

/// A typical year and the place in its heading.
#[derive(Debug, Clone, PartialEq)]
pub struct TypicalYear {
    /// The hours.
    pub record: HourlyRecord,
    /// Name of the place.
    pub place: String,
    /// Latitude \[°\], north positive.
    pub latitude_deg: f64,
    /// Longitude \[°\], east positive.
    pub longitude_deg: f64,
    /// Height above the sea \[m\].
    pub height_m: f64,
    /// Local standard time minus UTC \[min\].
    pub utc_offset_minutes: i32,
}

/// Most lines of a file.
const MOST_LINES: usize = 200_000;

/// Where a format keeps its figures, fields counted from 0.
struct Format {
    heading_lines: usize,
    columns: [(usize, &'static str); 4],
}

impl TypicalYear {
    /// Reads a TMY3 file; `name` is what to call it in messages.
    ///
    /// # Errors
    /// Everything wrong with the file, by line and column (up to 20 problems).
    pub fn parse_tmy3(text: &[u8], name: &str) -> Result<TypicalYear, RecordErrors> {
        let rows = rows_of(text, name, true)?;
        let place = Heading { name, fields: rows.first().cloned().unwrap_or_default() };
        let find = |wanted: &'static str| {
            let at = rows.get(1).and_then(|names| names.iter().position(|n| n == wanted));
            at.map(|at| (at, wanted)).ok_or_else(|| {
                whole(name, format!("no column `{wanted}` in line 2"), "the TMY3 columns of NREL/TP-581-43156")
            })
        };
        let columns = [find("GHI (W/m^2)")?, find("DNI (W/m^2)")?, find("DHI (W/m^2)")?, find("Dry-bulb (C)")?];
        let offset = place.number(3, "time zone", -12.0, 14.0)?;
        let format = Format { heading_lines: 2, columns };
        let date = |fields: &StringRecord| -> Option<(i64, i64)> {
            let day = Date::strptime("%m/%d/%Y", fields.get(0)?).ok()?;
            Some((day_number(day), fields.get(1)?.split_once(':')?.0.parse().ok()?))
        };
        let record = read_rows(&rows, name, &format, offset, date)?;
        Ok(TypicalYear {
            record,
            place: place.text(1).to_owned(),
            latitude_deg: place.number(4, "latitude", -90.0, 90.0)?,
            longitude_deg: place.number(5, "longitude", -180.0, 180.0)?,
            height_m: place.number(6, "height", -500.0, 9000.0)?,
            utc_offset_minutes: (offset * 60.0).round() as i32,
        })
    }

    /// Reads an EPW file; `name` is what to call it in messages.
    ///
    /// # Errors
    /// Everything wrong with the file, by line and column (up to 20 problems).
    pub fn parse_epw(text: &[u8], name: &str) -> Result<TypicalYear, RecordErrors> {
        // Comments in the heading may hold single quotation marks of any kind.
        let rows = rows_of(text, name, false)?;
        let place = Heading { name, fields: rows.first().cloned().unwrap_or_default() };
        if place.text(0) != "LOCATION" {
            return Err(whole(name, "a first line without LOCATION".to_owned(), "an EPW file"));
        }
        let offset = place.number(8, "time zone", -12.0, 14.0)?;
        let columns = [(13, "global horizontal"), (14, "direct normal"), (15, "diffuse horizontal"), (6, "dry bulb")];
        let format = Format { heading_lines: 8, columns };
        let date = |fields: &StringRecord| -> Option<(i64, i64)> {
            let part = |at: usize| fields.get(at).and_then(|s| s.parse::<u32>().ok());
            Some((days_from_date(i64::from(part(0)?), part(1)?, part(2)?)?, i64::from(part(3)?)))
        };
        let record = read_rows(&rows, name, &format, offset, date)?;
        Ok(TypicalYear {
            record,
            place: place.text(1).to_owned(),
            latitude_deg: place.number(6, "latitude", -90.0, 90.0)?,
            longitude_deg: place.number(7, "longitude", -180.0, 180.0)?,
            height_m: place.number(9, "height", -500.0, 9000.0)?,
            utc_offset_minutes: (offset * 60.0).round() as i32,
        })
    }
}

/// The rows of a file, its headings too, in UTF-8 as far as they are.
fn rows_of(text: &[u8], name: &str, quoted: bool) -> Result<Vec<StringRecord>, RecordErrors> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .quoting(quoted)
        .trim(csv::Trim::All)
        .from_reader(plain(text));
    let mut rows = Vec::new();
    for row in reader.byte_records() {
        if rows.len() == MOST_LINES {
            return Err(whole(name, "more lines than that".to_owned(), "at most 200,000 lines, twenty years of hours"));
        }
        rows.push(StringRecord::from_byte_record_lossy(row.map_err(|error| broken(name, &error))?));
    }
    Ok(rows)
}

/// The first line.
struct Heading<'a> {
    name: &'a str,
    fields: StringRecord,
}

impl Heading<'_> {
    fn text(&self, at: usize) -> &str {
        self.fields.get(at).unwrap_or("")
    }

    fn number(&self, at: usize, what: &str, least: f64, most: f64) -> Result<f64, RecordErrors> {
        let found = self.text(at);
        match found.parse::<f64>() {
            Ok(value) if (least..=most).contains(&value) => Ok(value),
            _ => {
                let problem = RecordProblem {
                    line: 1,
                    column: Some(what.to_owned()),
                    found: format!("`{}`", clipped(found, SHOWN)),
                    allowed: format!("a number from {least} to {most}"),
                };
                Err(RecordErrors { name: self.name.to_owned(), problems: vec![problem] })
            }
        }
    }
}

/// Reads the rows below the heading; `date` finds day number and hour (1 to 24, the hour's end) in a row's fields.
fn read_rows(
    all: &[StringRecord],
    name: &str,
    format: &Format,
    offset_h: f64,
    date: impl Fn(&StringRecord) -> Option<(i64, i64)>,
) -> Result<HourlyRecord, RecordErrors> {
    let mut rows = Vec::with_capacity(8784);
    let mut problems: Vec<RecordProblem> = Vec::new();
    for fields in all.iter().skip(format.heading_lines) {
        if 20 <= problems.len() {
            break;
        }
        let line = fields.position().map_or(0, |place| place.line() as usize);
        let mut note = |column: &str, found: &str, allowed: &str| {
            let (column, found) = (Some(column.to_owned()), format!("`{}`", clipped(found, SHOWN)));
            problems.push(RecordProblem { line, column, found, allowed: allowed.to_owned() });
        };
        let Some((days, hour)) = date(fields).filter(|(_, hour)| (1..=24).contains(hour)) else {
            let label: String = fields.iter().collect::<Vec<_>>().join(",").chars().take(24).collect();
            note("date and hour", &label, "a date and an hour from 1 to 24");
            continue;
        };
        let mut value = |(at, column): (usize, &str), least: f64, most: f64, missing: f64| {
            let found = fields.get(at).unwrap_or("");
            match found.parse::<f64>() {
                Ok(value) if value >= missing => f64::NAN,
                Ok(value) if (least..=most).contains(&value) => value,
                // TMY3 writes −9900 for a missing value.
                Ok(value) if value <= -9900.0 => f64::NAN,
                _ => {
                    note(column, found, &format!("a number from {least} to {most}"));
                    f64::NAN
                }
            }
        };
        let [ghi, dni, dhi, air] = format.columns;
        let reading = Reading {
            ghi_w_m2: value(ghi, 0.0, 1600.0, 9999.0),
            dni_w_m2: value(dni, 0.0, 1600.0, 9999.0),
            dhi_w_m2: value(dhi, 0.0, 1600.0, 9999.0),
            air_c: value(air, -90.0, 60.0, 99.9),
        };
        // The label is the hour's end: its start is an hour earlier, and its middle half an hour earlier.
        let start = days * 1440 + (hour - 1) * 60 - (offset_h * 60.0).round() as i64;
        rows.push((start, line, reading));
    }
    if problems.is_empty() {
        HourlyRecord::from_rows(name, rows, Vec::new(), 0)
    } else {
        Err(RecordErrors { name: name.to_owned(), problems })
    }
}
