//! Dates without a clock: days since 1 January 1970 and back, on the Gregorian calendar.

/// Days before each month of a year of 365 days.
pub(super) const MONTH_STARTS: [usize; 13] = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365];

/// Month (0 to 11) of a day of the year (0 to 364).
pub(super) fn month_of(day: usize) -> usize {
    MONTH_STARTS[1..].iter().position(|&start| day < start).unwrap_or(11)
}

pub(super) fn is_leap(year: i64) -> bool {
    year % 4 == 0 && (year % 100 != 0 || year % 400 == 0)
}

/// Days from 1 January 1970 to a date; `None` for a date that does not exist.
pub(super) fn days_from_date(year: i64, month: u32, day: u32) -> Option<i64> {
    if !(1600..=2600).contains(&year) || !(1..=12).contains(&month) || day == 0 {
        return None;
    }
    let m = month as usize - 1;
    let leap_day = u32::from(month == 2 && is_leap(year));
    if (MONTH_STARTS[m + 1] - MONTH_STARTS[m]) as u32 + leap_day < day {
        return None;
    }
    let before = year - 1;
    let leaps = before.div_euclid(4) - before.div_euclid(100) + before.div_euclid(400) - 477;
    let this_leap = i64::from(is_leap(year) && m >= 2);
    Some((year - 1970) * 365 + leaps + this_leap + MONTH_STARTS[m] as i64 + i64::from(day) - 1)
}

/// Year and day of the year (0 to 364) of a day number; 29 February shares the place of 28 February, so that later
/// days keep theirs.
pub(super) fn year_and_day(days: i64) -> (i64, usize) {
    let mut year = 1969 + (days * 400).div_euclid(146_097);
    while days_from_date(year + 1, 1, 1).is_some_and(|start| start <= days) {
        year += 1;
    }
    let start = days_from_date(year, 1, 1).unwrap_or(0);
    let day = (days - start).max(0) as usize;
    let after_leap_day = is_leap(year) && day >= MONTH_STARTS[2];
    (year, (day - usize::from(after_leap_day)).min(364))
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
        assert!(days_from_date(2024, 2, 29).is_some());
    }

    #[test]
    fn every_day_comes_back() {
        for days in -4018..25_000 {
            let (year, day) = year_and_day(days);
            let start = days_from_date(year, 1, 1).unwrap();
            let plain = (days - start) as usize;
            let leap = usize::from(is_leap(year) && plain >= 59);
            assert_eq!(day, plain - leap);
            assert!(day < 365);
        }
    }
}
