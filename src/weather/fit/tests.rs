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

/// The ends lie where a straight line to the next level has the mean of the outermost hundredth, which of 450 days is four and a half, but
/// not beyond what was seen.
#[test]
fn the_ends_keep_the_mean_of_the_outermost_hundredths() {
    let table_of = |dark: [f64; 5], bright: [f64; 5]| {
        let mut sorted = dark.to_vec();
        sorted.extend((1..=440).map(|k| dark[4] + (bright[0] - dark[4]) * f64::from(k) / 441.0));
        sorted.extend(bright);
        quantile_table(&sorted)
    };
    let table = table_of([0.01, 0.06, 0.06, 0.08, 0.10], [0.85, 0.87, 0.90, 0.90, 0.95]);
    let dark = (0.01 + 0.06 + 0.06 + 0.08 + 0.5 * 0.10) / 4.5;
    let bright = (0.95 + 0.90 + 0.90 + 0.87 + 0.5 * 0.85) / 4.5;
    // The middle of the fifth of 450 days is a hundredth of them.
    assert!((table[1] - 0.10).abs() < 1e-9 && (table[23] - 0.85).abs() < 1e-9, "{table:?}");
    assert!((0.5 * (table[0] + table[1]) - dark).abs() < 1e-9, "{} for {dark}", table[0]);
    assert!((0.5 * (table[24] + table[23]) - bright).abs() < 1e-9, "{} for {bright}", table[24]);
    let table = table_of([0.08, 0.08, 0.08, 0.08, 0.12], [0.80, 0.88, 0.88, 0.88, 0.88]);
    assert_eq!((table[0], table[24]), (0.08, 0.88));
}

/// The greatest distance of the steps from the line, before a step or after it (Kolmogorov 1933): by hand, of four numbers against an even
/// distribution.
#[test]
fn a_fit_is_as_far_off_as_kolmogorov_says() {
    for (sorted, greatest) in
        [([0.1, 0.2, 0.6, 0.65], 0.35), ([0.42, 0.5, 0.7, 0.95], 0.42), ([0.1, 0.4, 0.45, 0.9], 0.3)]
    {
        assert!((distance(&sorted, &LEVELS) - greatest).abs() < 1e-9, "{sorted:?}: {}", distance(&sorted, &LEVELS));
    }
}

/// An even distribution from a to b has the mean (a + b)/2 and the standard deviation (b − a)/√12.
#[test]
fn an_even_distribution_has_its_relative_standard_deviation() {
    for (a, b) in [(0.0, 1.0), (0.2, 0.8), (0.05, 0.15)] {
        let found = relative_sd(&LEVELS.map(|p| a + p * (b - a)));
        let expected = (b - a) / 12.0_f64.sqrt() / (0.5 * (a + b));
        assert!((found - expected).abs() < 1e-12, "{found} for {expected}");
    }
    // A line from 0 to 1 over the last hundredth alone: mean 1/200, mean square 1/300, and twice the mean is the most.
    assert_eq!(relative_sd(&LEVELS.map(|p| if p < 1.0 { 0.0 } else { 1.0 })), 2.0);
    // With half of the days at nothing and an even rise to 1: mean 1/4, mean square 1/6.
    let half = relative_sd(&LEVELS.map(|p| (2.0 * p - 1.0).max(0.0)));
    assert!((half - (1.0 / 6.0 - 1.0 / 16.0_f64).sqrt() * 4.0).abs() < 1e-12, "{half}");
}

/// Scores of lone pairs of days: as many as said `lag` days apart, the first `a` and the second `b`, in a month.
fn lone_pairs(pairs: &[(usize, usize, f64, f64, usize)]) -> Scores {
    let mut scores = Scores { first: 700, z: Vec::new(), day: Vec::new() };
    for &(count, lag, a, b, month) in pairs {
        for _ in 0..count {
            let mut z = [f64::NAN; 60];
            (z[0], z[lag]) = (a, b);
            scores.z.extend(z);
            scores.day.extend([MONTH_STARTS[month]; 60]);
        }
    }
    scores
}

/// Pairs of days as far apart as said and no others have the correlation of their numbers; from those of one to twenty-five days apart the
/// chain follows by hand.
#[test]
fn a_chain_is_what_its_correlations_make_of_it() {
    let near = [0.2, 0.12, 0.07, 0.05, 0.05, 0.05, 0.05, 0.3];
    let mut pairs = vec![(50, 1, -1.0, -0.5, 0), (10, 1, 1.0, 0.5, 0), (20, 1, 2.0, 0.4, 6)];
    pairs.extend(near.iter().enumerate().map(|(k, &r)| (1, k + 2, 1.0, r, 3)));
    pairs.extend((10..=25).map(|lag| (1, lag, 1.0, 0.02 + 0.04 * f64::from(u32::from(lag % 2 == 0)), 3)));
    let scores = lone_pairs(&pairs);
    let overall = (60.0 * 0.5 + 20.0 * 2.0 * 0.4) / (60.0 + 20.0 * 4.0);
    assert!((scores.correlation(1) - overall).abs() < 1e-12);
    for (k, r) in near.iter().enumerate() {
        assert!((scores.correlation(k + 2) - r).abs() < 1e-12);
    }
    assert_eq!(scores.correlation(28), 0.0);
    let chain = scores.chain();
    // From ten to twenty-five days 0.04 on average, of which three fifths less 0.005 are believed.
    let slow = 0.6 * 0.04 - 0.005;
    assert!((chain.slow - slow).abs() < 1e-12, "{}", chain.slow);
    // A line through nothing from each of the first three lags to the next.
    let [a, b, c, d] = [overall, near[0], near[1], near[2]].map(|r| r - slow);
    let memory = (a * b + b * c + c * d) / (a * a + b * b + c * c);
    assert!((chain.memory - memory).abs() < 1e-12, "{} for {memory}", chain.memory);
    // A month's own pairs beside sixty of the year's.
    let january = 0.5 * (0.5 + overall);
    let july = (20.0 * 0.2 + 60.0 * overall) / 80.0;
    for (month, persistence) in chain.persistence.iter().enumerate() {
        let expected = [january, july, overall][if month == 0 { 0 } else { 1 + usize::from(month != 6) }];
        assert!((persistence - expected).abs() < 1e-12, "month {month}: {persistence} for {expected}");
    }
    // Bright days that follow bright ones, less dark ones that follow dark ones: half a b (a + b) on average.
    let lean = ((10.0 - 50.0) * 0.5 * 0.5 * 1.5 + 20.0 * 0.5 * 0.8 * 2.4) / 80.0;
    assert!(0.0 < chain.settled && chain.settled < 0.75, "{}", chain.settled);
    assert!((chain.settled - settled_for(lean, overall, memory, slow)).abs() < 1e-9);
    // The days are known by their numbers.
    assert_eq!((scores.of_number(700), scores.of_number(701)), (-1.0, -0.5));
    assert!(scores.of_number(699).is_nan() && scores.of_number(700 + 60 * 200).is_nan());
    let nothing = lone_pairs(&[(1, 30, 1.0, 1.0, 0)]).chain();
    assert_eq!((nothing.memory, nothing.slow), (Habits::default().memory, 0.0));
    assert_eq!(nothing.persistence, [0.0; 12]);
}

/// Whoever lets days lean by so much finds it again from how they lean, and nothing beyond what is allowed.
#[test]
fn days_lean_as_they_were_made_to() {
    let (persistence, memory, slow) = (0.38, 0.5, 0.02);
    let lean = |settled: f64| Spells::fit(Wanted { persistence, memory, settled, slow }).lean();
    for settled in [0.2, 0.4, 0.62] {
        let found = settled_for(lean(settled), persistence, memory, slow);
        // Twelve halvings of 0.75; and spells are fitted to 5e-4 of the persistence, an eight-hundredth.
        assert!((found - settled).abs() < 0.005, "{found} for {settled}");
    }
    assert_eq!(settled_for(-0.1, persistence, memory, slow), 0.0);
    assert_eq!(settled_for(1.0, persistence, memory, slow), 0.75);
}

/// January's air by hand: 4 °C and 0.3 K more from day to day, and about that three waves of 2 K, which over 31 days add up to nothing, have no
/// slope and a mean square of 2 K².
#[test]
fn a_months_air_is_that_of_its_days() {
    let wave = |x: f64, waves: f64| 2.0 * math::cos(std::f64::consts::TAU * waves * x / 31.0);
    let text = |days: i32| {
        let mut text = String::from("date,ghi_kwh_m2_day,temp_max_c,temp_min_c\n");
        for day in 0..days {
            let x = f64::from(day - 15);
            let (mean, swing) = (4.0 + 0.3 * x + wave(x, 3.0), 8.0 + 0.1 * x);
            text += &format!("2021-01-{:02},2.0,{:.7},{:.7}\n", day + 1, mean + 0.5 * swing, mean - 0.5 * swing);
        }
        text
    };
    let record = |days: i32| DailyRecord::parse(text(days).as_bytes(), "january", 40.0, 0.0).expect("a record");
    // Scores that go with the waves by 0.3, and with others by 0.7.
    let z = (0..31).map(|day| f64::from(day - 15)).map(|x| 0.3 * wave(x, 3.0) + 0.7 * wave(x, 5.0)).collect();
    let scores = Scores { first: record(31).days()[0].number, z, day: (0..31).collect() };
    let air = month_air(&record(31), &scores, 0).expect("a month");
    let close = |found: f64, expected: f64| assert!((found - expected).abs() < 1e-5, "{found} for {expected}");
    close(air.mean_c, 4.0);
    close(air.swing_k, 8.0);
    close(air.day_sd_k, 2.0_f64.sqrt());
    // Thirty pairs: those of a ring of 31 days but for the one that closes it.
    let last = math::powi(wave(15.0, 3.0), 2);
    let ring = 62.0 * math::cos(std::f64::consts::TAU * 3.0 / 31.0);
    close(air.day_persistence, (ring - last) / (62.0 - last));
    close(air.clearness_link, 0.3 / (0.3_f64 * 0.3 + 0.7 * 0.7).sqrt());
    let lowest = (0..31).map(|day| f64::from(day - 15)).map(|x| 0.25 * x + wave(x, 3.0)).fold(0.0, f64::min);
    close(air.record_low_c, lowest);
    assert!(month_air(&record(25), &scores, 0).is_some() && month_air(&record(24), &scores, 0).is_none());
}
