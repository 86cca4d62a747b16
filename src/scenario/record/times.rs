//! Dates and clock times of a record, and the hours between them: by the clock of the place, so that a change to or from
//! summer time does not count.

use jiff::civil::{Date, DateTime};
use jiff::tz::{AmbiguousOffset, Offset, TimeZone};
use toml::de::DeValue;
use toml::value::Datetime;

use crate::scenario::forms::{Custom, Fault, Item, any_text};
use crate::statistics::median;

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
pub(in crate::scenario) const DAY: Custom<Date> = Custom {
    allowed: "a day of the years 1990 to 2100, like \"2027-03-14\"",
    example: "\"2027-03-14\"",
    read: read_day,
    json: any_text,
};

fn read_day(item: &Item) -> Result<Date, Fault> {
    let time = written(item, "a date")?;
    match (time.date, time.time) {
        (Some(day), None) => date(day),
        (Some(_), Some(_)) => Err(Fault::new("must be a day without a time")),
        _ => Err(Fault::new("has no date")),
    }
}

/// A clock time of the place on a day.
pub(in crate::scenario) const MOMENT: Custom<DateTime> = Custom {
    allowed: "date and clock time of the place, years 1990 to 2100, like \"2027-03-14T10:05\"",
    example: "\"2027-03-14T10:05\"",
    read: read_moment,
    json: any_text,
};

fn read_moment(item: &Item) -> Result<DateTime, Fault> {
    moment(written(item, "a date with a time")?)
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

/// Hours from one clock time to a later one as if clocks were never changed; negative when it is earlier.
pub(super) fn hours_between(from: DateTime, to: DateTime) -> f64 {
    to.duration_since(from).as_secs_f64() / 3600.0
}

/// Why a clock time is not one moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NoMoment {
    /// The clock skips it, as summer time comes.
    Skipped,
    /// The clock shows it twice, as summer time goes.
    Twice,
}

/// Hours that an offset is east of UTC.
fn east_h(offset: Offset) -> f64 {
    f64::from(offset.seconds()) / 3600.0
}

/// What is to be taken off a clock time to get to UTC \[h\]; without a zone nothing, as if clocks were never changed.
pub(super) fn offset_h(zone: Option<&TimeZone>, at: DateTime) -> Result<f64, NoMoment> {
    match zone.map(|zone| zone.to_ambiguous_timestamp(at).offset()) {
        None => Ok(0.0),
        Some(AmbiguousOffset::Unambiguous { offset }) => Ok(east_h(offset)),
        Some(AmbiguousOffset::Gap { .. }) => Err(NoMoment::Skipped),
        Some(AmbiguousOffset::Fold { .. }) => Err(NoMoment::Twice),
    }
}

/// Hours of a log's rows since its first; `Err` holds the place of a row that goes back.
///
/// Some loggers change to and from summer time with the place and some do not. Of the readings of their times that run
/// forwards, the one with the most even steps is taken: a logger that follows skips an hour in spring and writes one twice
/// in autumn.
pub(super) fn since_first(moments: &[DateTime], zone: Option<&TimeZone>) -> Result<Vec<f64>, usize> {
    let Some(first) = moments.first() else { return Ok(Vec::new()) };
    let unchanged: Vec<f64> = moments.iter().map(|at| hours_between(*first, *at)).collect();
    let back = unchanged.windows(2).position(|pair| pair[1] <= pair[0]);
    let mut readings: Vec<Vec<f64>> = Vec::new();
    if let Some(zone) = zone {
        readings.extend([false, true].into_iter().filter_map(|later| followed(&unchanged, moments, zone, later)));
    }
    if back.is_none() {
        readings.push(unchanged.clone());
    }
    let usual = median(unchanged.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect());
    let unevenness = |hours: &Vec<f64>| -> f64 { hours.windows(2).map(|pair| (pair[1] - pair[0] - usual).abs()).sum() };
    let best = readings.into_iter().min_by(|a, b| unevenness(a).total_cmp(&unevenness(b)));
    best.ok_or_else(|| back.map_or(0, |place| place + 1))
}

/// Hours since the first row by the clock of the place; of a time that comes twice the first that runs forwards is taken,
/// or always the later. `None` where that clock cannot have shown these times.
fn followed(unchanged: &[f64], moments: &[DateTime], zone: &TimeZone, later: bool) -> Option<Vec<f64>> {
    let mut hours: Vec<f64> = Vec::with_capacity(moments.len());
    for (at, unchanged) in moments.iter().zip(unchanged) {
        let before = hours.last().copied().unwrap_or(f64::NEG_INFINITY);
        let choice = match zone.to_ambiguous_timestamp(*at).offset() {
            AmbiguousOffset::Unambiguous { offset } => [offset, offset],
            AmbiguousOffset::Gap { .. } => return None,
            AmbiguousOffset::Fold { after, .. } if later => [after, after],
            AmbiguousOffset::Fold { before, after } => [before, after],
        };
        hours.push(choice.into_iter().map(|offset| unchanged - east_h(offset)).find(|hour| before < *hour)?);
    }
    let first = hours[0];
    Some(hours.into_iter().map(|hour| hour - first).collect())
}
