//! Dates and clock times of a record.

use jiff::civil::{Date, DateTime};
use toml::de::DeValue;
use toml::value::Datetime;

use crate::scenario::forms::{Fault, Form, Item};

fn written(item: &Item, what: &str) -> Result<Datetime, Fault> {
    match item.value {
        DeValue::Datetime(time) => Ok(*time),
        DeValue::String(text) => text.trim().parse().map_err(|_| Fault::new(format!("cannot be read as {what}"))),
        _ => Err(Fault::new(format!("cannot be read as {what}"))),
    }
}

fn date(date: toml::value::Date) -> Result<Date, Fault> {
    let year = i16::try_from(date.year).ok().filter(|year| (1990..=2100).contains(year));
    year.and_then(|year| Date::new(year, date.month as i8, date.day as i8).ok())
        .ok_or_else(|| Fault::new("is out of range"))
}

/// A day of the calendar.
pub(super) struct Day;

impl Form for Day {
    type Output = Date;
    fn allowed(&self) -> String {
        "a day of the years 1990 to 2100, like \"2027-03-14\"".into()
    }
    fn example(&self) -> String {
        "\"2027-03-14\"".into()
    }
    fn read(&self, item: &Item) -> Result<Date, Fault> {
        let time = written(item, "a date")?;
        match (time.date, time.time) {
            (Some(day), None) => date(day),
            (Some(_), Some(_)) => Err(Fault::new("must be a day without a time")),
            _ => Err(Fault::new("has no date")),
        }
    }
}

/// A clock time of the place on a day.
pub(super) struct Moment;

impl Form for Moment {
    type Output = DateTime;
    fn allowed(&self) -> String {
        "date and clock time of the place, years 1990 to 2100, like \"2027-03-14T10:05\"".into()
    }
    fn example(&self) -> String {
        "\"2027-03-14T10:05\"".into()
    }
    fn read(&self, item: &Item) -> Result<DateTime, Fault> {
        moment(written(item, "a date with a time")?)
    }
}

fn moment(time: Datetime) -> Result<DateTime, Fault> {
    let (Some(day), Some(clock)) = (time.date, time.time) else {
        return Err(Fault::new(if time.date.is_none() { "has no date" } else { "has no time of the day" }));
    };
    if time.offset.is_some() {
        return Err(Fault::new("must be the clock time of the place").help("leave out Z or the offset"));
    }
    let (hour, minute, second) = (clock.hour as i8, clock.minute as i8, clock.second.unwrap_or(0).min(59) as i8);
    Ok(date(day)?.at(hour, minute, second, 0))
}

/// A clock time with a date, from a text alone (logs).
pub(super) fn parse_moment(text: &str) -> Option<DateTime> {
    moment(text.trim().replacen(' ', "T", 1).parse().ok()?).ok()
}

/// Hours from one clock time to a later one; negative when it is earlier.
pub(super) fn hours_between(from: DateTime, to: DateTime) -> f64 {
    to.duration_since(from).as_secs_f64() / 3600.0
}
