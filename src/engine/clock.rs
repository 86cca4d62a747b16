//! The clock of the place: days of the year and offsets from UTC.

use jiff::civil::Date;
use jiff::tz::{AmbiguousOffset, TimeZone as Zone};
use thiserror::Error;

use crate::scenario::model::{Begins, Scenario, TimeZone};
use crate::weather::Calendar;

/// The year whose summer time is used where a scenario names none. It has 365 days.
const YEAR_WHERE_NONE_IS_GIVEN: i16 = 2027;

/// Days of the months in a year of 365 days.
pub const MONTH_LENGTHS: [u32; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/// English names of the months.
pub const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// Why there is no clock.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ClockError {
    /// A name that the time zone data base does not have.
    #[error(
        "`{0}` is not a time zone of the IANA data base; write a name like \"Europe/Dublin\" or an offset like \"-05:00\""
    )]
    Unknown(String),
    /// A date out of range.
    #[error("the year {0} is out of range; allowed: 1900 to 2100")]
    Year(i16),
}

/// First day of a month (0 for 1 January) and its number of days, in a year of 365 days.
///
/// * `month` — 1 to 12; anything else is taken into that range.
#[must_use]
pub fn month_days(month: u8) -> (u32, u32) {
    let index = usize::from(month.clamp(1, 12)) - 1;
    (MONTH_LENGTHS[..index].iter().sum(), MONTH_LENGTHS[index])
}

/// The month (0 to 11) of a day of the year (0 to 364).
#[must_use]
pub fn month_of_day(day: u32) -> usize {
    let mut left = day % 365;
    for (month, &length) in MONTH_LENGTHS.iter().enumerate() {
        if left < length {
            return month;
        }
        left -= length;
    }
    11
}

/// The day of the week on which a scenario's outages begin, 0 for Monday; `None` where it can be any.
#[must_use]
pub fn weekday(begins: &Begins) -> Option<usize> {
    match *begins {
        Begins::Month(_) => None,
        Begins::At { year, month, day, .. } => {
            Date::new(year, month as i8, day as i8).ok().map(|date| date.weekday().to_monday_zero_offset() as usize)
        }
    }
}

/// Whether the clock of the place skips the hour at which a scenario's outages begin, as summer time comes.
#[must_use]
pub fn skips_the_beginning(scenario: &Scenario) -> bool {
    let (Begins::At { year, month, day, minute_of_day }, TimeZone::Named(name)) =
        (scenario.outage.begins, &scenario.site.timezone)
    else {
        return false;
    };
    let Ok(zone) = Zone::get(name) else { return false };
    let (hour, minute) = ((minute_of_day / 60) as i8, (minute_of_day % 60) as i8);
    Date::new(year, month as i8, day as i8).is_ok_and(|date| {
        matches!(zone.to_ambiguous_timestamp(date.at(hour, minute, 0, 0)).offset(), AmbiguousOffset::Gap { .. })
    })
}

/// The calendar of a scenario. Summer time follows the rules of the scenario's year; its hours of change fall at
/// midnight of the day of change, which moves the sun by an hour for at most three hours of night.
///
/// # Errors
/// An unknown time zone name or a year out of range.
pub fn calendar(scenario: &Scenario, step_minutes: u32) -> Result<Calendar, ClockError> {
    let year = match scenario.outage.begins {
        Begins::At { year, .. } => year,
        Begins::Month(_) => YEAR_WHERE_NONE_IS_GIVEN,
    };
    if !(1900..=2100).contains(&year) {
        return Err(ClockError::Year(year));
    }
    let (latitude, longitude) = (scenario.site.latitude_deg, scenario.site.longitude_deg);
    let fixed = |minutes: i32| Calendar::fixed(step_minutes, minutes, latitude, longitude);
    match &scenario.site.timezone {
        TimeZone::FromLongitude => Ok(fixed((longitude / 15.0).round() as i32 * 60)),
        TimeZone::Fixed(minutes) => Ok(fixed(*minutes)),
        TimeZone::Named(name) => {
            let zone = Zone::get(name).map_err(|_| ClockError::Unknown(name.clone()))?;
            let mut calendar = fixed(0);
            let mut day = 0;
            for (month, &length) in MONTH_LENGTHS.iter().enumerate() {
                for date in 1..=length {
                    let noon = Date::new(year, month as i8 + 1, date as i8)
                        .map_err(|_| ClockError::Year(year))?
                        .at(12, 0, 0, 0);
                    let offset = zone.to_ambiguous_timestamp(noon).compatible().map_err(|_| ClockError::Year(year))?;
                    calendar.utc_offset_minutes[day] = zone.to_offset(offset).seconds() / 60;
                    day += 1;
                }
            }
            Ok(calendar)
        }
    }
}
