//! The clock of the place: days of the year and offsets from UTC.

use jiff::civil::Date;
use jiff::tz::{AmbiguousOffset, TimeZone as Zone};
use thiserror::Error;

use crate::calendar::date_of_day;
use crate::scenario::model::{Begins, Scenario, TimeZone};
use crate::weather::Calendar;

/// The year whose summer time is used where a scenario names none. It has 365 days.
const YEAR_WHERE_NONE_IS_GIVEN: i16 = 2027;

/// Why there is no clock.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
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
            for (day, offset_minutes) in calendar.utc_offset_minutes.iter_mut().enumerate() {
                let (month, of_month) = date_of_day(day);
                let noon = Date::new(year, month, of_month).map_err(|_| ClockError::Year(year))?.at(12, 0, 0, 0);
                let at = zone.to_ambiguous_timestamp(noon).compatible().map_err(|_| ClockError::Year(year))?;
                *offset_minutes = zone.to_offset(at).seconds() / 60;
            }
            Ok(calendar)
        }
    }
}
