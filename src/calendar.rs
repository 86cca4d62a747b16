//! Months and days of a year of 365 days, and dates without a clock on the Gregorian calendar.
//!
//! Months are counted from 0 (January) to 11, days of the year from 0 (1 January) to 364. 29 February shares the place of
//! 28 February, so that later days keep theirs.

use jiff::SignedDuration;
use jiff::civil::Date;

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

/// A month by its name.
///
/// * `month` — 1 to 12, as people write it; anything else is taken into that range.
#[must_use]
pub fn month_called(month: u8) -> &'static str {
    MONTHS[usize::from(month.clamp(1, 12)) - 1]
}

/// Days before each month, and of the whole year.
pub const MONTH_STARTS: [usize; 13] = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365];

/// Days of the mean year of the calendar's four-year cycle \[d\].
pub const DAYS_A_YEAR: f64 = 365.25;

/// Days of the mean month \[d\].
pub const DAYS_A_MONTH: f64 = DAYS_A_YEAR / 12.0;

const EPOCH: Date = Date::constant(1970, 1, 1);

/// Years of dates that are taken.
const YEARS: std::ops::RangeInclusive<i64> = 1600..=2600;

/// The month (0 to 11) of a day of the year; days beyond the year belong to later years.
#[must_use]
pub fn month_of_day(day: usize) -> usize {
    MONTH_STARTS[1..].iter().position(|&start| day % 365 < start).unwrap_or(11)
}

/// The days of the year that a month has.
///
/// * `month` — 0 to 11.
#[must_use]
pub fn days_of_month(month: usize) -> std::ops::Range<usize> {
    MONTH_STARTS[month]..MONTH_STARTS[month + 1]
}

/// First day of a month (0 for 1 January) and its number of days.
///
/// * `month` — 1 to 12, as people write it; anything else is taken into that range.
#[must_use]
pub fn month_days(month: u8) -> (u32, u32) {
    let days = days_of_month(usize::from(month.clamp(1, 12)) - 1);
    (days.start as u32, days.len() as u32)
}

/// Month and day of the month of a day of the year, as people write them: 1 to 12 and 1 to 31.
#[must_use]
pub fn date_of_day(day: usize) -> (i8, i8) {
    let month = month_of_day(day);
    (month as i8 + 1, (day % 365 - MONTH_STARTS[month]) as i8 + 1)
}

/// Days from 1 January 1970 to a date; `None` for a date that does not exist, or outside the years 1600 to 2600.
#[must_use]
pub fn days_from_date(year: i64, month: u32, day: u32) -> Option<i64> {
    let year = i16::try_from(year).ok().filter(|year| YEARS.contains(&i64::from(*year)))?;
    Date::new(year, i8::try_from(month).ok()?, i8::try_from(day).ok()?).ok().map(day_number)
}

/// Days from 1 January 1970 to a date.
#[must_use]
pub fn day_number(date: Date) -> i64 {
    date.duration_since(EPOCH).as_hours() / 24
}

/// Calendar year and day of the year (0 to 364) of a number of days since 1 January 1970.
#[must_use]
pub fn year_and_day(number: i64) -> (i64, usize) {
    let date = EPOCH.saturating_add(SignedDuration::from_hours(24 * number));
    (i64::from(date.year()), date.day_of_year_no_leap().map_or(58, |day| day as usize - 1))
}

/// Minutes after midnight as clock time: "06:30".
#[must_use]
pub fn clock(minutes: impl Into<u32>) -> String {
    let minutes = minutes.into();
    format!("{:02}:{:02}", minutes / 60, minutes % 60)
}

/// The time at which a step of the day begins: "06:30".
///
/// * `steps_a_day` — a divisor of 1440.
#[must_use]
pub fn clock_time(step: usize, steps_a_day: usize) -> String {
    clock((step * 1440 / steps_a_day) as u32)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_dates_have_known_numbers() {
        // Days of the POSIX epoch: 2000-01-01 is 10957, 2024-12-31 is 20088, 1959-01-01 is -4018 (any calendar tool).
        assert_eq!(days_from_date(1970, 1, 1), Some(0));
        assert_eq!(days_from_date(2000, 1, 1), Some(10957));
        assert_eq!(days_from_date(2024, 12, 31), Some(20088));
        assert_eq!(days_from_date(1959, 1, 1), Some(-4018));
        assert_eq!(days_from_date(2023, 2, 29), None);
        assert_eq!(days_from_date(1900, 2, 29), None);
        assert!(days_from_date(2024, 2, 29).is_some() && days_from_date(2000, 2, 29).is_some());
        assert_eq!(days_from_date(1599, 12, 31), None);
    }

    #[test]
    fn every_day_comes_back_and_leap_days_share_a_place() {
        let mut expected = (1959, 0);
        for number in -4018..25_000 {
            let leap_day = days_from_date(expected.0, 2, 29);
            if leap_day == Some(number) {
                assert_eq!(year_and_day(number), (expected.0, 58));
                continue;
            }
            assert_eq!(year_and_day(number), expected);
            let (month, day) = date_of_day(expected.1);
            assert_eq!(days_from_date(expected.0, month as u32, day as u32), Some(number));
            assert_eq!(month_of_day(expected.1) as i8 + 1, month);
            expected = if expected.1 == 364 { (expected.0 + 1, 0) } else { (expected.0, expected.1 + 1) };
        }
    }
}
