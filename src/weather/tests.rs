//! What holds for every climate, calendar and record.

use super::climate::{Basis, Habits, LEVELS};
use super::*;
use crate::calendar::{MONTH_STARTS, month_of_day};
use crate::math;
use crate::random::Purpose;

/// A made-up northern climate: clearness uniform between a dark and a bright end that move with the season.
pub(super) fn northern() -> Climate {
    let months = std::array::from_fn(|m| {
        let summer = 0.5 - 0.5 * math::cos(std::f64::consts::TAU * (m as f64 + 0.5) / 12.0);
        MonthClimate {
            clearness: LEVELS.map(|p| 0.03 + 0.07 * summer + p * (0.55 + 0.12 * summer)),
            persistence: 0.35,
            habits: Habits::default(),
            air: MonthAir {
                mean_c: -2.0 + 20.0 * summer,
                swing_k: 5.0 + 6.0 * summer,
                day_sd_k: 4.0 - 1.5 * summer,
                day_persistence: 0.75,
                clearness_link: 0.5 * summer - 0.25,
                record_low_c: -22.0 + 25.0 * summer,
            },
        }
    });
    Climate {
        name: "northern".to_owned(),
        source: "made up for tests".to_owned(),
        latitude_deg: 52.0,
        longitude_deg: 5.0,
        height_m: None,
        basis: Basis::Told { level: 0.03 },
        seen: 0,
        doubt: Doubt::of_level(0.03),
        months,
    }
}

fn plan(step_minutes: u32) -> WeatherPlan {
    WeatherPlan::stochastic(&northern(), &Calendar::fixed(step_minutes, 60, 52.0, 5.0)).unwrap()
}

fn trace(plan: &WeatherPlan, first: u32, days: u32, trial: u64) -> WeatherTrace {
    let mut out = WeatherTrace::default();
    let mut rng = Stream::new(1, trial, Purpose::Weather);
    plan.generate(first, days, &Opening::Any, &mut rng, Climates::BEST, &mut out);
    out
}

/// Days and hours are drawn in single precision: some dozen roundings of 6e-8, and a millionth of a day that is not given
/// back.
const ROUNDING: f64 = 2e-6;

#[test]
fn the_hours_of_a_day_add_up_to_its_clearness_and_stay_below_the_sky() {
    for step in [60, 15, 1] {
        let plan = plan(step);
        let n = plan.steps_per_day();
        let out = trace(&plan, 0, 365, 3);
        assert_eq!((out.ghi_w_m2.len(), out.air_c.len(), out.daily_clearness.len()), (365 * n, 365 * n, 365));
        for day in 0..365 {
            let sky = plan.extraterrestrial_w_m2(day as u32);
            let ghi = &out.ghi_w_m2[day * n..(day + 1) * n];
            let (sum, outside): (f64, f64) = (ghi.iter().sum(), sky.iter().sum());
            assert!((sum / outside - out.daily_clearness[day]).abs() < ROUNDING, "step {step}, day {day}");
            assert!(
                ghi.iter().zip(sky).all(|(g, e)| 0.0 <= *g && *g <= (0.93 + ROUNDING) * e),
                "step {step}, day {day}"
            );
        }
    }
}

#[test]
fn finer_steps_keep_every_hour() {
    let hourly = trace(&plan(60), 100, 30, 9);
    let fine = trace(&plan(5), 100, 30, 9);
    for (hour, steps) in hourly.ghi_w_m2.iter().zip(fine.ghi_w_m2.chunks(12)) {
        assert!((hour - steps.iter().sum::<f64>() / 12.0).abs() <= ROUNDING * hour);
    }
    for (hour, steps) in hourly.air_c.iter().zip(fine.air_c.chunks(12)) {
        // A straight line and half a cosine wave over five hours bend by less than this within an hour.
        assert!((hour - steps.iter().sum::<f64>() / 12.0).abs() < 0.25);
    }
}

#[test]
fn the_same_stream_gives_the_same_weather() {
    let plan = plan(60);
    assert_eq!(trace(&plan, 350, 40, 5), trace(&plan, 350, 40, 5));
    assert_ne!(trace(&plan, 350, 40, 5).ghi_w_m2, trace(&plan, 350, 40, 6).ghi_w_m2);
}

#[test]
fn days_follow_the_months_quantiles_and_persistence() {
    let (plan, climate) = (plan(60), northern());
    let mut in_july = Vec::new();
    let (mut pairs, mut sum) = (0.0, 0.0);
    let middle = 0.5 * (climate.months[6].clearness[0] + climate.months[6].clearness[24]);
    for trial in 0..4000 {
        let out = trace(&plan, 196, 2, trial);
        in_july.push(out.daily_clearness[0]);
        sum += (out.daily_clearness[0] - middle) * (out.daily_clearness[1] - middle);
        pairs += 1.0;
    }
    in_july.sort_by(f64::total_cmp);
    // The greatest distance of 4000 values from their distribution exceeds 1.95/√4000 once in a thousand and
    // 2.69/√4000 once in a million (Kolmogorov).
    for (k, level) in LEVELS.iter().enumerate() {
        let at = climate.months[6].clearness[k];
        let share = in_july.partition_point(|&c| c <= at) as f64 / 4000.0;
        assert!((share - level).abs() < 2.69 / 4000_f64.sqrt() + 0.01, "level {level}: {share}");
    }
    // Uniform margins over a Gaussian copula: r = 6/π asin(ρ/2) (Pearson 1907).
    let width = climate.months[6].clearness[24] - climate.months[6].clearness[0];
    let found = sum / pairs * 12.0 / (width * width);
    let expected = 6.0 / std::f64::consts::PI * math::asin(0.35_f64 / 2.0);
    assert!((found - expected).abs() < 5.0 / 4000_f64.sqrt(), "{found} for {expected}");
}

#[test]
fn a_storm_begins_dark_and_hands_over() {
    let plan = plan(60);
    let mut out = WeatherTrace::default();
    let mut means = [0.0; 12];
    for trial in 0..500 {
        let mut rng = Stream::new(2, trial, Purpose::Weather);
        plan.generate(15, 12, &Opening::STORM, &mut rng, Climates::BEST, &mut out);
        let limit = northern().months[0].clearness[6] + 0.01;
        assert!(out.daily_clearness[..2].iter().all(|&c| c <= limit), "{:?}", &out.daily_clearness[..3]);
        for (mean, clearness) in means.iter_mut().zip(&out.daily_clearness) {
            *mean += clearness / 500.0;
        }
    }
    // The third day is still duller than the last one, which is ordinary again.
    assert!(means[1] < means[2] && means[2] < means[11] - 0.03, "{means:?}");
    assert!((means[11] - 0.31).abs() < 0.05, "{means:?}");
    // A request that can hardly be met is cut to the threshold and still ends.
    let rare = Opening::Storm { days: 5, darkest: 0.01 };
    plan.generate(15, 12, &rare, &mut Stream::new(2, 0, Purpose::Weather), Climates::BEST, &mut out);
    assert!(out.daily_clearness[..5].iter().all(|&c| c <= northern().months[0].clearness[1] + 0.01));
}

#[test]
fn a_factor_on_the_sun_is_bounded_by_the_sky() {
    let plan = plan(60);
    let mut out = WeatherTrace::default();
    let plain = trace(&plan, 170, 20, 8);
    for factor in [0.8, 1.25, 3.0] {
        plan.generate(
            170,
            20,
            &Opening::Any,
            &mut Stream::new(1, 8, Purpose::Weather),
            Climates::Steady(&[Drawn::scaled(factor)]),
            &mut out,
        );
        for (a, b) in plain.daily_clearness.iter().zip(&out.daily_clearness) {
            assert!(*b <= a * factor + ROUNDING && *b <= 0.93 + ROUNDING);
            assert!(1.0 < factor || (b - a * factor).abs() < ROUNDING);
        }
    }
}

#[test]
fn polar_night_is_dark_and_its_year_goes_on() {
    let mut climate = northern();
    climate.latitude_deg = 78.0;
    let plan = WeatherPlan::stochastic(&climate, &Calendar::fixed(60, 60, 78.0, 15.0)).unwrap();
    let out = trace(&plan, 0, 365, 1);
    assert!(out.ghi_w_m2[..24 * 20].iter().all(|&g| g == 0.0));
    assert!(out.ghi_w_m2[24 * 172..24 * 173].iter().all(|&g| g > 0.0));
    assert!(out.ghi_w_m2.iter().chain(&out.air_c).chain(&out.daily_clearness).all(|v| v.is_finite()));
}

#[test]
fn the_air_has_the_climates_mean_spread_and_swing() {
    let plan = plan(60);
    let climate = northern();
    let (mut sum, mut squares, mut swing, n) = (0.0, 0.0, 0.0, 3000.0);
    for trial in 0..3000 {
        let out = trace(&plan, 15, 1, trial);
        let mean = out.air_c.iter().sum::<f64>() / 24.0;
        sum += mean;
        squares += mean * mean;
        let most = out.air_c.iter().copied().fold(f64::MIN, f64::max);
        swing += most - out.air_c.iter().copied().fold(f64::MAX, f64::min);
    }
    let (mean, sd) = (sum / n, (squares / n - (sum / n) * (sum / n)).sqrt());
    let air = &climate.months[0].air;
    // Mid-January is colder than January's mean by what the straight lines between months cut off (below 0.8 K here).
    assert!((mean - air.mean_c).abs() < 0.8 + 5.0 * air.day_sd_k / n.sqrt(), "mean {mean}");
    assert!((sd - air.day_sd_k).abs() < 0.03 * air.day_sd_k + 5.0 * air.day_sd_k / (2.0 * n).sqrt(), "sd {sd}");
    // The day-to-day change of the mean adds to the swing of some days.
    assert!((swing / n - air.swing_k).abs() < 0.35 * air.swing_k, "swing {}", swing / n);
}

#[test]
fn out_of_range_figures_are_refused_by_name() {
    let calendar = Calendar::fixed(60, 0, 52.0, 5.0);
    let mut climate = northern();
    climate.months[2].persistence = f64::NAN;
    let error = WeatherPlan::stochastic(&climate, &calendar).unwrap_err();
    assert_eq!(error.to_string(), "climate `northern`, month 3: `persistence` is NaN; allowed: -0.5 to 0.95");
    let step = Calendar { step_minutes: 7, ..calendar.clone() };
    assert!(matches!(WeatherPlan::stochastic(&northern(), &step), Err(WeatherError::Step { found: 7 })));
    let place = Calendar { latitude_deg: f64::NAN, ..calendar };
    assert!(matches!(WeatherPlan::stochastic(&northern(), &place), Err(WeatherError::Place { .. })));
}

#[test]
fn a_climate_file_reads_back() {
    let climate = northern();
    let text = climate_file::write(&climate);
    let back = climate_file::read(&text, "northern.toml").unwrap();
    assert_eq!(back.name, climate.name);
    for (a, b) in climate.months.iter().zip(&back.months) {
        assert!(a.clearness.iter().zip(&b.clearness).all(|(x, y)| (x - y).abs() <= 0.5e-4 + 1e-12));
        assert!((a.air.mean_c - b.air.mean_c).abs() <= 0.05 + 1e-12);
    }
    assert_eq!(climate_file::write(&back), text, "writing again changes nothing");
    let newer = text.replace("version = 1", "version = 2");
    assert!(climate_file::read(&newer, "x").unwrap_err().to_string().contains("version 2 is not known; allowed: 1"));
    let misspelt = text.replacen("persistence =", "persistance =", 1);
    assert!(climate_file::read(&misspelt, "x").unwrap_err().to_string().contains("persistance"));
}

/// Two made-up years of hours: clearness 0.5 in every hour, except that day number k of the record has 0.3 + k/10000.
fn made_up_record(tweak: impl Fn(usize, &mut String)) -> String {
    let plan = WeatherPlan::stochastic(&northern(), &Calendar::fixed(60, 0, 52.0, 5.0)).unwrap();
    let mut text = String::from("time_utc,ghi_w_m2,dni_w_m2,dhi_w_m2,temp_c,wind\n");
    let mut row = 0;
    for year in [2021, 2022] {
        for day in 0..365_usize {
            let month = month_of_day(day);
            let sky = plan.extraterrestrial_w_m2(day as u32);
            for (hour, light) in sky.iter().enumerate() {
                let k = (year - 2021) as usize * 365 + day;
                let ghi = light * (0.3 + k as f64 / 10_000.0);
                let date = format!("{year}-{:02}-{:02}", month + 1, day - MONTH_STARTS[month] + 1);
                let mut line = format!("{date}T{hour:02}:00:00Z,{ghi:.6},,,{:.1},3", hour as f64 / 2.0);
                tweak(row, &mut line);
                if !line.is_empty() {
                    text.push_str(&line);
                    text.push('\n');
                }
                row += 1;
            }
        }
    }
    text
}

#[test]
fn replay_gives_back_the_record() {
    let record = HourlyRecord::parse(made_up_record(|_, _| {}).as_bytes(), "made-up.csv").unwrap();
    assert_eq!(record.ignored_columns(), ["wind"]);
    assert_eq!((record.step_minutes(), record.steps()), (60, 2 * 8760));
    let plan = WeatherPlan::replay(&record, &Calendar::fixed(60, 0, 52.0, 5.0)).unwrap();
    let mut out = WeatherTrace::default();
    for trial in 0..200 {
        plan.generate(40, 6, &Opening::Any, &mut Stream::new(3, trial, Purpose::Weather), Climates::BEST, &mut out);
        let first = ((out.daily_clearness[0] - 0.3) * 10_000.0).round() as i64;
        assert!((33..=47).contains(&(first % 365)), "began on day {first}");
        for (k, clearness) in out.daily_clearness.iter().enumerate() {
            let expected = 0.3 + (first + k as i64) as f64 / 10_000.0;
            assert!((clearness - expected).abs() < 1e-6, "{clearness} for {expected}");
        }
        assert!(out.air_c.chunks(24).all(|day| day[0] == 0.0 && day[23] == 11.5));
    }
}

#[test]
fn a_replayed_record_tells_how_many_years_it_has() {
    let record = HourlyRecord::parse(made_up_record(|_, _| {}).as_bytes(), "made-up.csv").unwrap();
    let calendar = Calendar::fixed(60, 0, 52.0, 5.0);
    let years = WeatherPlan::replay(&record, &calendar).unwrap().years_of_record();
    assert_eq!(years, Some(2.0));
    assert_eq!(WeatherPlan::stochastic(&northern(), &calendar).unwrap().years_of_record(), None);
}

#[test]
fn short_gaps_are_bridged_and_long_ones_drop_the_day() {
    let noon = |row: usize| row % 24 == 12;
    let text = made_up_record(|row, line| {
        let day = row / 24;
        if noon(row) && (day == 100 || day == 101) || (row % 24 == 13 && day == 101) {
            let mut fields: Vec<&str> = line.split(',').collect();
            fields[1] = "";
            *line = fields.join(",");
        }
        if day == 200 && (9..13).contains(&(row % 24)) {
            line.clear();
        }
    });
    let record = HourlyRecord::parse(text.as_bytes(), "gaps.csv").unwrap();
    let calendar = Calendar::fixed(60, 0, 52.0, 5.0);
    let days = replay::Days::cut(&record, &calendar, &sun::SkyTable::new(&calendar), true);
    assert_eq!(days.bridged, 3);
    assert!((days.days[100].clearness - 0.31).abs() < 1e-6 && (days.days[101].clearness - 0.3101).abs() < 1e-6);
    let unusable: Vec<usize> = (0..days.days.len()).filter(|&k| !days.days[k].usable).collect();
    assert_eq!(unusable, [200]);
}

#[test]
fn a_record_on_another_grid_keeps_its_energy() {
    let record = HourlyRecord::parse(made_up_record(|_, _| {}).as_bytes(), "made-up.csv").unwrap();
    let quarter = Calendar::fixed(15, 330, 52.0, 77.5);
    let days = replay::Days::cut(&record, &quarter, &sun::SkyTable::new(&quarter), true);
    // The record was made for 5° E and is read at 77.5° E, half an hour off the hours: its sun is up at night there,
    // and still no watt-hour is lost between the first and the last whole day.
    let sum: f64 = days.readings.iter().map(|r| r.ghi_w_m2).sum::<f64>() / 4.0;
    let whole: f64 = record.stretches()[0].readings.iter().map(|r| r.ghi_w_m2).sum();
    assert!((sum / whole - 1.0).abs() < 0.01, "{sum} of {whole}");
}

#[test]
fn a_bad_record_is_told_by_line_and_column() {
    let check = |text: &str, expected: &str| {
        assert_eq!(HourlyRecord::parse(text.as_bytes(), "bad.csv").unwrap_err().to_string(), expected);
    };
    check(
        "time_utc,temp_c\n2020-01-01T00:00Z,3\n",
        "bad.csv: line 1: `ghi_w_m2`: found the columns time_utc, temp_c; allowed: a first line with `time_utc` and \
         `ghi_w_m2`",
    );
    check(
        "time_utc,ghi_w_m2,GHI_W_m2,temp_c,temp_c\n2020-01-01T00:00Z,3,4,5,6\n",
        "bad.csv: line 1: `ghi_w_m2`: found 2 columns of this name; allowed: each column once\n\
         bad.csv: line 1: `temp_c`: found 2 columns of this name; allowed: each column once",
    );
    let doubled = crate::weather::DailyRecord::parse(
        b"date,ghi_kwh_m2_day,Date\n2020-01-01,1,2020-01-01\n",
        "bad.csv",
        50.0,
        8.0,
    );
    let told = doubled.unwrap_err().to_string();
    assert!(told.contains("2 columns `date`") && told.contains("each column once"), "{told}");
    check(
        "time,ghi\n2020-01-01T00:00,3\n2020-13-01T00:00Z,3\n2020-01-01T02:00Z,1800\n",
        "bad.csv: line 2: `time`: found `2020-01-01T00:00` without a time zone; allowed: a time with Z or an offset, \
         such as 2020-06-01T13:00-05:00, or a column `time_utc`\n\
         bad.csv: line 3: `time`: found `2020-13-01T00:00Z`; allowed: a time such as 2020-06-01T13:00:00Z\n\
         bad.csv: line 4: `ghi`: found `1800`; allowed: a number from -20 to 1600 W/m², or nothing (more than the sun gives: \
         another unit such as kJ/m² an hour, or a doubled column?)",
    );
    check(
        "time,ghi\n2020-01-01T00:00Z,3\n2020-01-01T01:00+01:00,3\n",
        "bad.csv: line 3: `time`: found the time of line 2 again; allowed: every time once",
    );
    check(
        "time,ghi\n2020-01-01T00:00Z,3\n2020-01-01T01:30Z,3\n",
        "bad.csv: found steps of 90 minutes; allowed: steps of an hour or of a divisor of 60 minutes",
    );
    let short =
        HourlyRecord::parse(&b"time,ghi,temp_c\n2020-01-01T00:00Z,3,1\n2020-01-01T01:00Z,3,1\n"[..], "short.csv");
    let error = WeatherPlan::replay(&short.unwrap(), &Calendar::fixed(60, 0, 52.0, 5.0)).unwrap_err();
    assert!(matches!(error, WeatherError::NoDays { usable: 0, .. }));
}
