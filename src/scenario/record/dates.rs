//! Whether the days of a record can be.

use jiff::ToSpan;
use jiff::civil::Date;

use super::model::Record;
use crate::scenario::problem::Problem;

/// Portable stations of today's kind were hardly sold before. Common practice, no source.
const FIRST_YEAR: i16 = 2010;

/// Days of tests, and of the arrival, that lie after `today` or before such units were sold: a year or a clock is wrong.
///
/// A day's grace is given: at the place of a test it may be tomorrow already.
#[must_use]
pub fn implausible(record: &Record, today: Date) -> Vec<Problem> {
    let latest = today.checked_add(1.day()).unwrap_or(today);
    let capacities = record.capacities.iter().enumerate();
    let walls = record.walls.iter().enumerate();
    let solars = record.solars.iter().enumerate();
    let arrival = record.arrival.as_ref().and_then(|arrival| arrival.date);
    let days = capacities
        .filter_map(|(k, test)| Some((format!("capacity.{k}.start"), test.run.start?.date())))
        .chain(walls.filter_map(|(k, test)| Some((format!("wall.{k}.start"), test.run.start?.date()))))
        .chain(solars.map(|(k, test)| (format!("solar.{k}.at"), test.at.date())))
        .chain(arrival.map(|date| ("arrival.date".to_string(), date)));
    days.filter_map(|(key, date)| {
        let what = match () {
            () if latest < date => "lies in the future",
            () if date.year() < FIRST_YEAR => "lies before such units were sold",
            () => return None,
        };
        Some(
            Problem::warning(key, what)
                .found(date.to_string())
                .allowed(format!("{FIRST_YEAR}-01-01 to {today}, which is today"))
                .help("look at the year, and at the clock of the logger or computer: a wrong date takes a claim's worth away"),
        )
    })
    .collect()
}
