//! The weather module against published shapes of clearness, persistence and the course of a day.
//!
//! `tests/data/README.md` names the source of each table and its standing.

use std::collections::HashMap;
use tideover::random::{Purpose, Stream};
use tideover::sky::extraterrestrial::{horizontal_wh_m2, sunset_hour_angle_deg};
use tideover::sky::profile::DayProfile;
use tideover::sky::year::SunOfDay;
use tideover::weather::climate::Basis;
use tideover::weather::climate::{Climate, Habits, LEVELS, MonthAir, MonthClimate};
use tideover::weather::fit::{FitError, fit, fit_beside};
use tideover::weather::{
    Calendar, Climates, DailyRecord, Doubt, Opening, TypicalYear, WeatherPlan, WeatherTrace, world,
};

use crate::records::records;

/// Rows of a table in tests/data, by column name.
fn table(name: &str) -> Vec<HashMap<String, String>> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(name);
    let mut csv = csv::Reader::from_path(path).expect("a table");
    let header = csv.headers().expect("column names").clone();
    let named = |row: csv::StringRecord| {
        header.iter().map(str::to_owned).zip(row.iter().map(str::to_owned)).collect::<HashMap<_, _>>()
    };
    csv.records().map(|row| named(row.expect("a row"))).collect()
}

fn number(row: &HashMap<String, String>, column: &str) -> f64 {
    row[column].parse().unwrap_or_else(|_| panic!("{column}: {}", row[column]))
}

/// A climate that is the same all year.
fn even(latitude_deg: f64, clearness: [f64; 25], persistence: f64) -> Climate {
    let air = MonthAir {
        mean_c: 10.0,
        swing_k: 8.0,
        day_sd_k: 3.0,
        day_persistence: 0.7,
        clearness_link: 0.0,
        record_low_c: -10.0,
    };
    let month = MonthClimate { clearness, persistence, habits: Habits::default(), air };
    Climate {
        name: "even".to_owned(),
        source: "made up for tests".to_owned(),
        latitude_deg,
        longitude_deg: 0.0,
        height_m: None,
        basis: Basis::Told { level: 0.0 },
        seen: 0,
        doubt: Doubt::none(),
        months: std::array::from_fn(|_| month.clone()),
    }
}

/// Distribution of Hollands & Huget (1983): density ∝ (1 − k/k_max) e^(λk), k_max = 0.864. Its quantile by bisection.
fn hollands_huget_quantile(lambda: f64, p: f64) -> f64 {
    let most = 0.864;
    let cumulative = |k: f64| {
        // ∫ (1 − k/m) e^(λk) dk = e^(λk) (1 − k/m)/λ + e^(λk)/(m λ²)
        let at = |k: f64| (lambda * k).exp() * ((1.0 - k / most) / lambda + 1.0 / (most * lambda * lambda));
        at(k) - at(0.0)
    };
    let (mut low, mut high) = (0.0, most);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if cumulative(middle) < p * cumulative(most) { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

#[test]
fn drawn_days_have_the_published_distribution() {
    let rows = table("clearness_distribution.csv");
    assert_eq!(rows.len(), 11);
    for row in &rows {
        let lambda = number(row, "hh_lambda_exact");
        let climate = even(40.0, LEVELS.map(|p| hollands_huget_quantile(lambda, p)), 0.3);
        let plan = WeatherPlan::stochastic(&climate, &Calendar::fixed(60, 0, 40.0, 0.0)).expect("a climate");
        let mut trace = WeatherTrace::default();
        let mut drawn = Vec::new();
        // Days thirty apart are independent but for the slow part, 1 % of the variance.
        for trial in 0..20_000 {
            plan.generate(
                80,
                1,
                &Opening::Any,
                &mut Stream::new(4, trial, Purpose::Weather),
                Climates::BEST,
                &mut trace,
            );
            drawn.push(trace.daily_clearness[0]);
        }
        drawn.sort_by(f64::total_cmp);
        for (column, p) in [("hh_q05", 0.05), ("hh_q25", 0.25), ("hh_q50", 0.5), ("hh_q75", 0.75), ("hh_q95", 0.95)] {
            let below = drawn.partition_point(|&k| k <= number(row, column)) as f64 / drawn.len() as f64;
            // Five standard errors of a share, and 0.002 for straight lines between the levels of the table.
            let error = 5.0 * (p * (1.0 - p) / drawn.len() as f64).sqrt() + 0.002;
            assert!((below - p).abs() < error, "mean {}: {column} has {below} of the days below", row["mean_kt"]);
        }
    }
}

/// Thirty years of days drawn from a Markov chain of Aguiar, Collares-Pereira & Conde (1988), as a daily record.
fn record_of_chain(rows: &[&HashMap<String, String>], latitude_deg: f64) -> DailyRecord {
    let cumulative: Vec<Vec<f64>> = rows
        .iter()
        .map(|row| {
            let mut sum = 0.0;
            (1..=10)
                .map(|to| {
                    sum += number(row, &format!("to_{to}"));
                    sum
                })
                .collect()
        })
        .collect();
    let (low, high) = (number(rows[0], "kt_from"), number(rows[0], "kt_to"));
    let width = (high - low) / 10.0;
    let mut rng = Stream::new(6, 0, Purpose::Weather);
    let mut state = 5;
    let mut text = String::from("date,ghi_kwh_m2_day,temp_max_c,temp_min_c\n");
    for year in 1981..2011 {
        let mut n = 0;
        for (month, days) in [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31].into_iter().enumerate() {
            for day in 1..=days {
                n += 1;
                let row = &cumulative[state];
                let u = rng.uniform() * row[9];
                state = row.iter().position(|&c| u < c).unwrap_or(9);
                let clearness = low + width * (state as f64 + rng.uniform());
                let light = SunOfDay::at(n - 1, 0.0).horizontal_wh_m2(latitude_deg);
                let kwh = clearness * light / 1000.0;
                text.push_str(&format!("{year}-{:02}-{day:02},{kwh:.4},15.0,5.0\n", month + 1));
            }
        }
    }
    DailyRecord::parse(text.as_bytes(), "chain", latitude_deg, 0.0).expect("a record")
}

#[test]
fn a_fit_to_a_published_chain_gives_back_its_mean_spread_and_persistence() {
    let matrices = table("aguiar_1988_matrices.csv");
    let summary = table("aguiar_1988_summary.csv");
    assert_eq!((matrices.len(), summary.len()), (100, 10));
    for row in &summary {
        let class = &row["month_mean_kt_class"];
        let of_class: Vec<&HashMap<String, String>> =
            matrices.iter().filter(|m| &m["month_mean_kt_class"] == class).collect();
        assert_eq!(of_class.len(), 10);
        let climate = fit_beside(&record_of_chain(&of_class, 40.0), None, None).expect("thirty years").climate;
        let plan = WeatherPlan::stochastic(&climate, &Calendar::fixed(60, 0, 40.0, 0.0)).expect("a climate");
        let mut trace = WeatherTrace::default();
        let [wanted_mean, wanted_sd, wanted_lag] =
            ["stationary_mean_kt", "stationary_sd_kt", "lag1_of_class_midpoints"].map(|c| number(row, c));
        // Moments about the published mean: the lag of a narrow distribution far from 0 would drown in rounding.
        let (mut sum, mut squares, mut products, mut count) = (0.0, 0.0, 0.0, 0.0);
        for trial in 0..20_000 {
            let first = (trial * 7 % 365) as u32;
            plan.generate(
                first,
                2,
                &Opening::Any,
                &mut Stream::new(7, trial, Purpose::Weather),
                Climates::BEST,
                &mut trace,
            );
            let [a, b] = [trace.daily_clearness[0] - wanted_mean, trace.daily_clearness[1] - wanted_mean];
            sum += a;
            squares += 0.5 * (a * a + b * b);
            products += a * b;
            count += 1.0;
        }
        let mean: f64 = sum / count;
        let variance: f64 = squares / count - mean * mean;
        let lag = (products / count - mean * mean) / variance;
        println!(
            "{class}: mean {mean:+.4}, sd {:.4} for {wanted_sd}, lag-1 {lag:.3} for {wanted_lag}",
            variance.sqrt()
        );
        // Thirty years of the chain have a mean good to 0.004 and a lag-1 good to 0.01; days inside a class are spread
        // evenly here, the summary takes its middles, which costs up to a twelfth of the class width squared.
        assert!(mean.abs() < 0.01, "{class}: mean off by {mean}");
        assert!((variance.sqrt() - wanted_sd).abs() < 0.012, "{class}: sd {} for {wanted_sd}", variance.sqrt());
        // The persistence is fitted to normal scores. The dullest class is so lopsided, and its rare bright days keep
        // together so well, that κ = 0.75 does not reach it: a known weakness of the day model. Elsewhere 0.05.
        let allowed = if class == "<=0.30" { 0.08 } else { 0.05 };
        assert!((lag - wanted_lag).abs() < allowed, "{class}: lag-1 {lag} for {wanted_lag}");
    }
}

#[test]
fn mean_days_follow_the_published_course() {
    let rows = table("hourly_ratio_cpr.csv");
    assert_eq!(rows.len(), 24);
    let mut judged = 0;
    for day in [81_usize, 172, 355] {
        for latitude in [0.0, 25.0, 40.0, 50.0] {
            // Noon at the middle of the hour that begins at 12:00 makes hours centred on 0°, 15°, 30° ...
            let longitude = 7.5 - SunOfDay::at(day, -7.5).equation_of_time_min / 4.0 - 15.0;
            let climate = even(latitude, LEVELS.map(|p| 0.3 + 0.3 * p), 0.3);
            let plan =
                WeatherPlan::stochastic(&climate, &Calendar::fixed(60, 0, latitude, longitude)).expect("a climate");
            let mut sums = [0.0; 24];
            let mut trace = WeatherTrace::default();
            for trial in 0..4000 {
                let mut rng = Stream::new(8, trial, Purpose::Weather);
                plan.generate(day as u32, 1, &Opening::Any, &mut rng, Climates::BEST, &mut trace);
                sums.iter_mut().zip(&trace.ghi_w_m2).for_each(|(sum, ghi)| *sum += ghi);
            }
            let total: f64 = sums.iter().sum();
            let sunset = sunset_hour_angle_deg(latitude, SunOfDay::at(day, longitude).declination_deg);
            for (hour, sum) in sums.iter().enumerate() {
                let angle = (hour as f64 - 12.0) * 15.0;
                if angle.abs() + 7.5 < sunset {
                    // The published ratio, meant over the hour and renormalised: at noon of a short day its middle value
                    // is a hundredth of the hour's light above its mean.
                    let course = DayProfile::new(sunset).expect("a day with sun");
                    let published = course.share(12.0 + (angle - 7.5) / 15.0, 12.0 + (angle + 7.5) / 15.0);
                    // The lowest hours lose some light to the others, and the ceiling takes some from noon.
                    assert!(
                        (sum / total - published).abs() < 0.004,
                        "day {day}, latitude {latitude}, hour angle {angle}: {} for {published}",
                        sum / total
                    );
                    judged += 1;
                }
            }
        }
    }
    assert!(100 < judged, "only {judged} hours were judged");
}

/// A clear day's hours in local standard time as a typical-year file has them: labelled by their end.
fn hour_of(latitude: f64, longitude: f64, zone_h: f64, day: usize, ends: usize) -> f64 {
    let sun = SunOfDay::at(day, longitude);
    let angle = |clock_h: f64| 15.0 * (clock_h - 12.0 - zone_h) + longitude + sun.equation_of_time_min / 4.0;
    0.7 * horizontal_wh_m2(latitude, sun.declination_deg, sun.normal_w_m2, angle(ends as f64 - 1.0), angle(ends as f64))
}

/// Middle of the sun's energy over a UTC-ordered stretch of whole days, less solar noon \[h\].
fn off_noon(year: &TypicalYear) -> f64 {
    let place = (year.latitude_deg, year.longitude_deg);
    let calendar = Calendar::fixed(60, year.utc_offset_minutes, place.0, place.1);
    let days = year.record.civil_days(&calendar).expect("a calendar");
    assert!(300 < days.len(), "{} days", days.len());
    let mut offs = 0.0;
    for day in &days {
        assert!(day.whole);
        let sum: f64 = day.ghi_w_m2.iter().sum();
        let middle: f64 = day.ghi_w_m2.iter().enumerate().map(|(h, ghi)| (h as f64 + 0.5) * ghi).sum::<f64>() / sum;
        let zone_h = f64::from(year.utc_offset_minutes) / 60.0;
        let noon = 12.0 + zone_h - place.1 / 15.0 - SunOfDay::at(day.day, place.1).equation_of_time_min / 60.0;
        offs += (middle - noon) / days.len() as f64;
    }
    offs
}

#[test]
fn typical_years_label_hours_by_their_end() {
    // Greensboro, North Carolina, in both formats' headings.
    let (latitude, longitude, zone_h) = (36.1, -79.95, -5.0);
    let mut tmy3 = String::from("723170,\"GREENSBORO\",NC,-5.0,36.100,-79.950,273\n");
    tmy3.push_str("Date (MM/DD/YYYY),Time (HH:MM),ETR (W/m^2),GHI (W/m^2),DNI (W/m^2),DHI (W/m^2),Dry-bulb (C)\n");
    let mut epw = String::from("LOCATION,Greensboro,NC,USA,TMY,723170,36.10,-79.95,-5.0,273.0\n");
    (0..7).for_each(|_| epw.push_str("A HEADING LINE\n"));
    let mut day = 0;
    for (month, days) in [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31].into_iter().enumerate() {
        let month = month + 1;
        for date in 1..=days {
            for ends in 1..=24 {
                let ghi = hour_of(latitude, longitude, zone_h, day, ends);
                tmy3.push_str(&format!("{month:02}/{date:02}/1999,{ends:02}:00,0,{ghi:.0},-9900,0,{}\n", ends % 10));
                epw.push_str(&format!(
                    "1999,{month},{date},{ends},60,flags,{}.0,1.0,50,101000,0,0,300,{ghi:.0},9999,0,0\n",
                    ends % 10
                ));
            }
            day += 1;
        }
    }
    let tmy3 = TypicalYear::parse_tmy3(tmy3.as_bytes(), "x.csv").unwrap_or_else(|e| panic!("{e}"));
    let epw = TypicalYear::parse_epw(epw.as_bytes(), "x.epw").unwrap_or_else(|e| panic!("{e}"));
    for year in [&tmy3, &epw] {
        assert_eq!((year.latitude_deg, year.longitude_deg, year.utc_offset_minutes), (36.1, -79.95, -300));
        // Read with labels as starts, the middle of the day would come an hour late; as middles, half an hour.
        let off = off_noon(year);
        assert!(off.abs() < 0.01, "the sun is {off} h late");
        assert!(year.record.has_temperature());
    }
    assert_eq!(tmy3.place, "GREENSBORO");
    assert_eq!(epw.height_m, 273.0);
    let bad = TypicalYear::parse_epw(b"LOCATION,x,y,z,t,1,36.1,-79.95,-5,273\n", "y.epw").unwrap_err();
    assert!(bad.to_string().contains("0 rows of readings"), "{bad}");
    let bad = TypicalYear::parse_tmy3(b"1,x,NC,-5,95,-79.95,273\nGHI (W/m^2)\n", "y.csv").unwrap_err();
    assert!(bad.to_string().contains("no column `DNI (W/m^2)`"), "{bad}");
}

#[test]
fn less_than_a_year_gives_no_climate() {
    let mut text = String::from("date,ghi_kwh_m2_day,temp_max_c,temp_min_c\n");
    (1..=28).for_each(|day| text.push_str(&format!("2020-02-{day:02},2.0,3,1\n")));
    let record = DailyRecord::parse(text.as_bytes(), "short", 40.0, 0.0).expect("a record");
    assert!(matches!(fit(&record, None), Err(FitError::TooShort { found: 28, .. })));
    let bad = DailyRecord::parse(b"date,ghi_kwh_m2_day\n2020-02-30,2\n2020-03-01,x\n", "bad", 40.0, 0.0).unwrap_err();
    assert_eq!(
        bad.to_string(),
        "bad: line 2: `date`: found `2020-02-30`; allowed: a date such as 2020-06-01\n\
         bad: line 3: `ghi_kwh_m2_day`: found `x`; allowed: a number from 0 to 20, or nothing"
    );
}

#[test]
fn fitted_persistence_is_that_of_the_measured_records() {
    let Some(folder) = records() else { return };
    let measured = table("daily_clearness_measured.csv");
    assert_eq!(measured.len(), 48);
    for (name, latitude) in
        [("carrington-nd", 47.51), ("gainesville-fl", 29.63), ("la-estanzuela-uy", -34.3), ("wageningen-nl", 52.0)]
    {
        let bytes = std::fs::read(folder.join(format!("daily-{name}.csv.gz"))).expect("a record");
        let record = DailyRecord::parse(&bytes, name, latitude, 0.0).unwrap_or_else(|e| panic!("{e}"));
        let climate = fit_beside(&record, None, None).unwrap_or_else(|e| panic!("{e}")).climate;
        let rows: Vec<_> = measured.iter().filter(|r| r["record"] == name).collect();
        assert_eq!(rows.len(), 12);
        let mut worst = 0.0_f64;
        let (mut ours, mut theirs) = (0.0, 0.0);
        let mean_of = |month: &MonthClimate| {
            let part = |k: usize| (LEVELS[k] - LEVELS[k - 1]) * 0.5 * (month.clearness[k] + month.clearness[k - 1]);
            (1..25).map(part).sum::<f64>()
        };
        // The figures are over the light of a day-number series, which runs almost a day behind the sun.
        let mut even = climate.clone();
        even.months.iter_mut().for_each(|month| month.clearness = [0.5; LEVELS.len()]);
        let turned = world::under_true_sun(even).months.each_ref().map(|month| mean_of(month) / 0.5);
        for ((row, month), turned) in rows.iter().zip(&climate.months).zip(turned) {
            let mean = mean_of(month);
            // 25 levels hold a distribution's mean to 0.002, and the series was another one's.
            assert!((mean - number(row, "mean_kt") * turned).abs() < 0.008, "{name} {}: mean {mean}", row["month"]);
            worst = worst.max((month.persistence - number(row, "lag1_of_normal_scores")).abs());
            ours += month.persistence / 12.0;
            theirs += number(row, "lag1_of_normal_scores") / 12.0;
        }
        // Months lean on the year's mean by 60 days in 900, and the drift inside a month is taken out here.
        assert!(worst < 0.08 && (ours - theirs).abs() < 0.03, "{name}: {ours} for {theirs}, worst month {worst}");
    }
}
