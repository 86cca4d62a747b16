//! What is drawn of known statistics has them.

use super::*;
use crate::calendar::MONTH_STARTS;
use crate::math;
use crate::random::{Purpose, Stream};
use crate::statistics::mean;
use crate::weather::climate::COURSE;
use crate::weather::hours::course_at;
use crate::weather::tests::northern;
use crate::weather::{Calendar, Climates, HourlyRecord, Opening, WeatherPlan, WeatherTrace};

/// Numbers spread evenly from 0 to 1 have their levels for quantiles, the ends included.
#[test]
fn evenly_spread_days_have_their_levels_for_quantiles() {
    let sorted: Vec<f64> = (0..4_000).map(|k| (f64::from(k) + 0.5) / 4_000.0).collect();
    for (found, level) in quantile_table(&sorted).iter().zip(LEVELS) {
        // Half the distance of two neighbours.
        assert!((found - level).abs() <= 0.5 / 4_000.0 + 1e-12, "{found} at {level}");
    }
}

/// Eight years of hours drawn from a climate, written as a record.
fn record_of(climate: &Climate) -> DailyRecord {
    let calendar = Calendar::fixed(60, 0, climate.latitude_deg, climate.longitude_deg);
    let plan = WeatherPlan::stochastic(climate, &calendar).expect("a climate");
    let mut text = String::from("time_utc,ghi_w_m2,temp_c\n");
    let mut trace = WeatherTrace::default();
    let mut rng = Stream::new(11, 0, Purpose::Weather);
    plan.generate(0, 8 * 365, &Opening::Any, &mut rng, Climates::BEST, &mut trace);
    for (hour, (ghi, air_c)) in trace.ghi_w_m2.iter().zip(&trace.air_c).enumerate() {
        let (year, day) = (2001 + hour / 8760, hour / 24 % 365);
        let month = month_of_day(day);
        let date = day - MONTH_STARTS[month] + 1;
        text += &format!("{year}-{:02}-{date:02}T{:02}:00:00Z,{ghi:.3},{air_c:.3}\n", month + 1, hour % 24);
    }
    let record = HourlyRecord::parse(text.as_bytes(), "drawn").expect("a record");
    DailyRecord::from_hourly(&record, &calendar).expect("a place")
}

/// A course that climbs from morning to evening, and how far and how long hours differ from it.
#[test]
fn habits_come_back_from_what_was_drawn_with_them() {
    let course: [f64; COURSE] = std::array::from_fn(|k| 0.625 + 0.05 * k as f64);
    for (spread, persistence) in [(0.6, 0.2), (1.0, 0.6)] {
        let mut climate = northern();
        for MonthClimate { clearness, habits, .. } in &mut climate.months {
            // So dull that no evening meets the ceiling.
            *clearness = clearness.map(|clearness| 0.6 * clearness);
            *habits = Habits { course, hourly_spread: spread, hourly_persistence: persistence, ..*habits };
        }
        let found = hourly_habits(&record_of(&climate));
        // Some 2,000 hours a month, twelve months: a spread stands to 0.5 %, a persistence to 0.01; three rounds leave a little.
        let spreads = mean(&found.map(|habit| habit.spread));
        let persistences = mean(&found.map(|habit| habit.persistence));
        assert!((spreads / spread - 1.0).abs() < 0.03, "{spreads} for {spread}");
        assert!((persistences - persistence).abs() < 0.04, "{persistences} for {persistence}");
        // Evening over morning, from which what a ceiling takes from noon is gone. An hour lies off by two thirds of its light at the most (0.16
        // about a clearness of 0.24): of 2,920 days 1.2 % a part and 0.7 % over six ratios, three and a half of which are the room.
        let of_day: [f64; COURSE] = std::array::from_fn(|k| mean(&found.map(|habit| habit.course[k])));
        let over =
            |of: &[f64; COURSE]| (2..COURSE / 2).map(|k| math::ln(of[COURSE - 1 - k] / of[k])).sum::<f64>() / 6.0;
        assert!((over(&of_day) - over(&course)).abs() < 0.025, "{of_day:?}");
    }
}

/// A course goes straight between the middles of its parts: there it is the part, halfway to the next the mean of both, and before the
/// first and after the last it stays.
#[test]
fn a_course_is_straight_between_the_middles_of_its_parts() {
    let course: [f64; COURSE] = std::array::from_fn(|k| 1.0 + (k * k) as f64);
    for k in 0..COURSE {
        let middle = (k as f64 + 0.5) / COURSE as f64;
        assert!((course_at(&course, middle) - course[k]).abs() < 1e-9);
        if k + 1 < COURSE {
            let halfway = course_at(&course, middle + 0.5 / COURSE as f64);
            assert!((halfway - 0.5 * (course[k] + course[k + 1])).abs() < 1e-9);
        }
    }
    assert_eq!((course_at(&course, 0.0), course_at(&course, 1.0)), (course[0], course[COURSE - 1]));
}

/// Air that goes straight from the middle of a day to the next has the mean of a day of an eighth of its neighbours on either side and three
/// quarters of its own: of days whose air goes on by a share the spread of that is the root of the first sum below, which the drawing makes
/// up for, and the share that goes on is the ratio of the two. A sky that does not go on goes with its own day's air by the link, with the
/// next day's by that share of it, and not with the day's before.
#[test]
fn the_air_comes_back_from_what_was_drawn_with_it() {
    let mut climate = northern();
    for (k, month) in climate.months.iter_mut().enumerate() {
        let (mean_c, link) = (month.air.mean_c, if k < 6 { 0.5 } else { -0.5 });
        month.persistence = 0.0;
        month.air = MonthAir { mean_c, day_sd_k: 4.0, day_persistence: 0.6, clearness_link: link, ..month.air };
    }
    let found = fit_beside(&record_of(&climate), None, None).expect("eight years").climate.months;
    let weights = [0.125, 0.75, 0.125];
    let after = |lag: i32| -> f64 {
        let pairs = (0..3).flat_map(|i| (0..3).map(move |j| (i, j)));
        pairs.map(|(i, j)| weights[i] * weights[j] * math::powi(0.6, (lag + j as i32 - i as i32).abs())).sum()
    };
    let over = |of: &dyn Fn(&MonthAir) -> f64| mean(&found.each_ref().map(|month| of(&month.air)));
    // 2,920 days of which four count as one: 4 K stand to 0.15 K and 2 %, a persistence to 0.02; and a line through a month takes its part.
    let mean_c = mean(&climate.months.each_ref().map(|month| month.air.mean_c));
    assert!((over(&|air| air.mean_c) - mean_c).abs() < 0.5, "{} for {mean_c}", over(&|air| air.mean_c));
    assert!((over(&|air| air.day_sd_k) / 4.0 - 1.0).abs() < 0.06, "{}", over(&|air| air.day_sd_k));
    let lag = after(1) / after(0);
    assert!((over(&|air| air.day_persistence) - lag).abs() < 0.08, "{} for {lag}", over(&|air| air.day_persistence));
    let links =
        [1..5, 7..11].map(|months| mean(&found[months].iter().map(|m| m.air.clearness_link).collect::<Vec<_>>()));
    let link = 0.5 * (0.75 + 0.125 * 0.6) / after(0).sqrt();
    // 1,000 days each: 0.03.
    assert!((links[0] - link).abs() < 0.08 && (links[1] + link).abs() < 0.08, "{links:?} for {link}");
}
