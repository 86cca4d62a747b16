//! What a record shows of itself, where it follows by hand.

use super::*;
use crate::weather::record::Reading;

/// 1 March 2023, days since 1970, and its day of the year.
const MARCH: (i64, usize) = (19_417, 59);
const DAYS: usize = 100;

/// A hundred days of hours from 1 March on; sun and air by day and hour.
fn record(first_minute: i64, of: impl Fn(usize, i64) -> (f64, f64)) -> HourlyRecord {
    let mut rows = Vec::new();
    for day in 0..DAYS {
        for hour in 0..24 {
            let minute = (MARCH.0 + day as i64) * 1440 + 60 * hour + first_minute;
            let (ghi_w_m2, air_c) = of(day, hour);
            rows.push((minute, rows.len() + 2, Reading { ghi_w_m2, air_c, ..Reading::MISSING }));
        }
    }
    HourlyRecord::from_rows("made", rows, Vec::new(), 0).expect("a record")
}

fn sun(day: usize, longitude_deg: f64) -> SunOfDay {
    SunOfDay::at(MARCH.1 + day, longitude_deg)
}

/// Two hundred watts by day and night are 4800 Wh/m² a day, over what falls outside the air (Duffie & Beckman, equation 1.10.3).
#[test]
fn clearness_is_sun_over_the_light_outside_the_air() {
    for (latitude_deg, longitude_deg) in [(20.0, 3.75), (-35.0, 3.75), (52.0, 3.75)] {
        let air = |day: usize| 5.0 + 0.1 * day as f64;
        let found =
            Soundness::of(&record(0, |day, hour| (200.0, air(day) + hour as f64 / 24.0)), latitude_deg, longitude_deg);
        let light: Vec<f64> = (0..DAYS).map(|day| sun(day, longitude_deg).horizontal_wh_m2(latitude_deg)).collect();
        let expected = 4800.0 * DAYS as f64 / light.iter().sum::<f64>();
        // Points five minutes apart meet the ends of the day to a thousandth.
        assert!((found.clearness / expected - 1.0).abs() < 1e-3, "{} for {expected}", found.clearness);
        let mut days: Vec<f64> = light.iter().map(|light| 4800.0 / light).collect();
        days.sort_by(f64::total_cmp);
        assert_eq!(found.days, DAYS);
        // Ninety-five of a hundred days are no brighter than the next.
        assert!((found.bright / days[95] - 1.0).abs() < 1e-3, "{} for {}", found.bright, days[95]);
        assert!(!found.half_past);
        // March's 31 days, April's 30.
        let of_hours = 11.5 / 24.0;
        assert!((found.air_c[2] - (5.0 + 1.5 + of_hours)).abs() < 1e-9, "{}", found.air_c[2]);
        assert!((found.air_c[3] - (5.0 + 3.1 + 1.45 + of_hours)).abs() < 1e-9, "{}", found.air_c[3]);
        assert!(found.air_c[1].is_nan() && found.air_c[6].is_nan());
    }
}

/// At the equator the sun is up from six to six. Hours that begin a quarter past and end half an hour or more before it rises, or begin half an hour after
/// it set, are night: five of the morning's, five of the evening's. Days without a reading count for nothing.
#[test]
fn night_is_what_lies_half_an_hour_off_the_day() {
    let even = Soundness::of(&record(0, |_, _| (200.0, 10.0)), 0.0, 3.75);
    assert!((even.night_share - 10.0 / 24.0).abs() < 1e-9, "{}", even.night_share);
    let by_day = record(0, |_, hour| (if (5..=18).contains(&hour) { 300.0 } else { 0.0 }, 10.0));
    assert_eq!(Soundness::of(&by_day, 0.0, 3.75).night_share, 0.0);
    let gaps = record(0, |day, hour| (if day % 7 == 3 || hour == 2 { f64::NAN } else { 200.0 }, f64::NAN));
    let found = Soundness::of(&gaps, 0.0, 3.75);
    assert!((found.night_share - 9.0 / 23.0).abs() < 1e-9, "{}", found.night_share);
    assert_eq!(found.days, DAYS - (0..DAYS).filter(|day| day % 7 == 3).count());
    assert!(found.air_c.iter().all(|air| air.is_nan()));
    let dark = Soundness::of(&record(30, |_, _| (0.0, 10.0)), 0.0, 3.75);
    assert!(dark.night_share == 0.0 && dark.clearness == 0.0 && dark.half_past && dark.centre_min.is_nan());
}

/// Sun of one hour a day has that hour's middle for its centre: a fifth of the days at half past two, twice as bright as the others at half past
/// ten, their clock a quarter of an hour behind the meridian's and ahead or behind by the equation of time.
#[test]
fn the_centre_is_the_hours_middle_in_the_suns_time() {
    let one = record(0, |day, hour| {
        let (at, sun) = if day % 5 == 2 { (14, 600.0) } else { (10, 300.0) };
        (if hour == at { sun } else { 0.0 }, 10.0)
    });
    let found = Soundness::of(&one, 20.0, 3.75);
    let shift = |of: &dyn Fn(usize) -> bool| {
        let of: Vec<f64> =
            (0..DAYS).filter(|&day| of(day)).map(|day| 15.0 + sun(day, 3.75).equation_of_time_min).collect();
        of.iter().sum::<f64>() / of.len() as f64
    };
    let bright = 150.0 + shift(&|day| day % 5 == 2);
    assert!((found.bright_centre_min - bright).abs() < 0.5, "{} for {bright}", found.bright_centre_min);
    // Eighty arrows of 300 at -90 minutes and twenty of 600 at 150, as angles.
    let angle = |minutes: f64| math::sin_cos(TAU * minutes / 1440.0);
    let ((sa, ca), (sb, cb)) = (angle(-90.0), angle(150.0));
    let all = math::atan2(80.0 * sa + 40.0 * sb, 80.0 * ca + 40.0 * cb) / TAU * 1440.0 + shift(&|_| true);
    assert!((found.centre_min - all).abs() < 1.0, "{} for {all}", found.centre_min);
}

/// Days too dim or too bright for any sky, by how much, in a season and in a year.
#[test]
fn units_are_told_by_how_much_they_are_off() {
    let told =
        |bright: f64, days: usize| units(bright, days).map(|(_, (allowed, cause))| format!("{allowed}; {cause}"));
    for fine in [(0.9, 300), (0.35, 200), (0.05, 199), (0.73, 10)] {
        assert_eq!(told(fine.0, fine.1), None);
    }
    for (bright, days, expected) in [
        (0.34, 200, "0.35 or more, less than any season of clouds leaves; about 2.8 times too small: J/cm²"),
        (0.73 / 280.0, 100, "0.05 or more, less than any season of clouds leaves; about 280 times too small: MJ/m²"),
        (0.73 / 1000.0, 300, "about 1000 times too small: kW/m²"),
        (0.73 / 11.6, 300, "about 12 times too small: calories"),
        (0.73 / 5.0, 300, "about 5 times too small: another unit"),
        (0.73 / 100.0, 300, "about 100 times too small: another unit"),
        (0.73 * 3.6, 300, "0.9 or less, more than any clear sky lets through; about 3.6 times too much: kJ/m²"),
        (0.73 * 2.0, 300, "about twice too much"),
        (0.73 * 10.0, 300, "about 10.0 times too much"),
        (0.73 * 1.3, 300, "about 1.3 times too much"),
    ] {
        let found = told(bright, days).unwrap_or_default();
        assert!(found.contains(expected), "{bright}: {found}");
    }
    // Nineteen of twenty days, and ten at least.
    let days = |count: usize, of_last: f64| {
        let mut days = vec![0.5; count];
        (1..=5).for_each(|k| days[count - k] = of_last);
        check_days("days", days)
    };
    assert!(days(100, 1.2).is_err() && days(101, 1.2).is_ok());
    assert!(check_days("days", vec![5.0; 9]).is_ok() && check_days("days", vec![5.0; 10]).is_err());
    assert!(check_days("days", vec![0.0; 10]).unwrap_err().to_string().contains("every day has 0"));
}

/// Minutes in words, rounded to five where they are many.
#[test]
fn minutes_are_told_in_words() {
    for (minutes, told) in [
        (28.4, "28 min"),
        (40.0, "40 min"),
        (41.0, "about 40 min"),
        (58.0, "about 1 h"),
        (722.0, "about 12 h"),
        (723.0, "about 12 h 5 min"),
    ] {
        assert_eq!(hours(minutes), told);
    }
}

/// A clock is off by a zone's whole hours, by twelve, by one to either side, by the sign of a longitude (eight minutes a degree), or by a longitude of
/// its own (four minutes a degree).
#[test]
fn a_wrong_clock_has_its_likely_cause() {
    for (off_min, longitude_deg, half_past, expected) in [
        (
            -300.0,
            -72.6,
            false,
            "the clock of the place in a column of UTC? Name the column `time` and add the offset, -05:00",
        ),
        (
            324.0,
            77.0,
            false,
            "the clock of the place in a column of UTC? Name the column `time` and add the offset, +05:00",
        ),
        (690.0, 2.0, false, "12 h off"),
        (-690.0, 2.0, false, "12 h off"),
        (578.0, 72.6, false, "sign of the longitude?"),
        (-100.0, -10.0, false, "sign of the longitude?"),
        (60.0, 4.0, false, "an hour late"),
        (84.0, 4.0, false, "an hour late"),
        (-60.0, 4.0, false, "an hour early"),
        (32.0, 4.0, true, "labels at half past the hour that mean its middle"),
        (120.0, 4.0, true, "about 2 h off: time zone of the labels, or a longitude of about -26°?"),
        (-35.0, 100.0, false, "35 min off: time zone of the labels, or a longitude of about 109°?"),
        (-340.0, 176.0, false, "about 5 h 40 min off: time zone of the labels, or a longitude of about -99°?"),
    ] {
        let found = clock_cause(off_min, longitude_deg, half_past);
        assert!(found.contains(expected), "{off_min} at {longitude_deg}: {found}");
    }
}
