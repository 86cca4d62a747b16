//! Days of a small record, where what is made of them follows by hand.

use super::*;
use crate::math;
use crate::random::Purpose;
use crate::weather::bend::Climates;
use crate::weather::climate::Climate;
use crate::weather::tests::northern;
use crate::weather::{WeatherPlan, WeatherTrace};

/// 1 January 2021, days since 1970.
const NEW_YEAR: i64 = 18_628;

fn calendar() -> Calendar {
    Calendar::fixed(60, 0, 52.0, 5.0)
}

/// A year of hours: the same clearness in every hour of a day, two fifths of it diffuse, half a degree more from hour to hour.
fn record(clearness: impl Fn(usize) -> f64) -> HourlyRecord {
    let sky = SkyTable::new(&calendar());
    let mut rows = Vec::new();
    for day in 0..365 {
        for (hour, light) in sky.day(day).steps.iter().enumerate() {
            let minute = (NEW_YEAR + day as i64) * 1440 + 60 * hour as i64;
            let ghi_w_m2 = light * clearness(day);
            let (dhi_w_m2, air_c) = (0.4 * ghi_w_m2, hour as f64 / 2.0);
            rows.push((minute, rows.len() + 2, Reading { ghi_w_m2, dni_w_m2: f64::NAN, dhi_w_m2, air_c }));
        }
    }
    HourlyRecord::from_rows("made", rows, Vec::new(), 0).expect("a record")
}

fn days_of(clearness: impl Fn(usize) -> f64) -> Days {
    Days::new(&record(clearness), &calendar(), &SkyTable::new(&calendar()), true).expect("a year")
}

/// Global and diffuse sun, air and the day's clearness, of a record's day laid at a day of the year.
fn laid(days: &Days, (day, source): (usize, usize), drawn: &Drawn) -> (Vec<f64>, Vec<f64>, Vec<f64>, f64) {
    let mut out: DaySky<f64, 1> = DaySky::default();
    out.ghi_w_m2.resize(24, [f64::NAN]);
    out.dhi_w_m2.resize(24, [f64::NAN]);
    out.told_air_c.resize(24, [f64::NAN]);
    days.lay((day, source), &SkyTable::new(&calendar()), drawn, 0, &mut out);
    let plain = |of: &[[f64; 1]]| of.iter().map(|[value]| *value).collect::<Vec<_>>();
    (plain(&out.ghi_w_m2), plain(&out.dhi_w_m2), plain(&out.told_air_c), out.clearness[0])
}

/// On its own date a day is as it was, or brighter and warmer by what is drawn, as far as the clear sky goes; at night both lights are nothing.
#[test]
fn a_day_on_its_own_date_is_as_recorded_or_as_drawn() {
    let days = days_of(|day| 0.3 + 0.001 * day as f64);
    let (table, source) = (SkyTable::new(&calendar()), 100);
    let light = table.day(source);
    for (factor, air_k) in [(1.0, 0.0), (0.8, 1.5), (1.1, -0.7), (3.0, 0.0)] {
        let (ghi, dhi, air, clearness) = laid(&days, (source, source), &Drawn { factor, air_k, ..Drawn::BEST });
        let mut sum = 0.0;
        for hour in 0..24 {
            let expected = (0.4 * factor).min(light.ceiling[hour].max(0.4)) * light.steps[hour];
            assert!((ghi[hour] - expected).abs() < 1e-9, "{factor}, {hour} h: {} for {expected}", ghi[hour]);
            assert!((dhi[hour] - 0.4 * expected).abs() < 1e-9, "{factor}, {hour} h: diffuse {}", dhi[hour]);
            assert!((air[hour] - (hour as f64 / 2.0 + air_k)).abs() < 1e-12);
            sum += expected;
        }
        assert!((clearness - sum / light.total_wh_m2).abs() < 1e-12);
    }
}

/// On another date it has its own clearness, hour by hour where the sun stands about as high.
#[test]
fn a_day_on_another_date_keeps_its_clearness() {
    let days = days_of(|day| 0.3 + 0.001 * day as f64);
    let table = SkyTable::new(&calendar());
    for (day, source) in [(107, 100), (93, 100), (2, 360), (172, 160)] {
        let (ghi, dhi, _, clearness) = laid(&days, (day, source), &Drawn::BEST);
        let expected = 0.3 + 0.001 * source as f64;
        assert!((clearness - expected).abs() < 1e-9, "{clearness} for {expected}");
        let light = table.day(day);
        for hour in 0..24 {
            if light.steps[hour] > 50.0 {
                assert!((ghi[hour] / light.steps[hour] / expected - 1.0).abs() < 0.02, "{day}, {hour} h");
            }
            assert!((dhi[hour] - 0.4 * ghi[hour]).abs() < 1e-9);
        }
    }
}

/// Of days that grow brighter from date to date a season's 31 are ranked in their order, fifteen of them darker than the middle one; runs go on to the
/// next day that is not whole.
#[test]
fn days_are_ranked_in_their_season_and_run_to_the_next_gap() {
    let days = days_of(|day| if day == 200 { f64::NAN } else { 0.3 + 0.001 * day as f64 });
    let day = |k: usize| &days.days[k];
    assert!((day(100).rank - 15.0 / 31.0).abs() < 1e-12, "{}", day(100).rank);
    // About the turn of the year: day 7 has seven darker days, all of January; the last day has fifteen of December and fifteen of January.
    assert!((day(7).rank - 7.0 / 31.0).abs() < 1e-12 && (day(364).rank - 30.0 / 31.0).abs() < 1e-12);
    assert!((day(199).rank - 15.0 / 30.0).abs() < 1e-12);
    assert_eq!((day(100).run, day(199).run, day(200).run, day(201).run, day(364).run), (100, 1, 0, 164, 1));
    assert!(!day(200).usable && day(200).clearness.is_nan() && days.usable() == 364);
    assert_eq!((days.candidates(100, 7), days.candidates(203, 7), days.candidates(2, 15)), (15, 14, 31));
}

/// One day twice as bright lifts the four stretches of four days that hold it above the 27 others of a season: in standard deviations of a number that is
/// one thing four times of 31, by √(27/4), cut to 2.5, and the others by −√(4/27). Tilted, the brighter are taken e^tilt times as often a unit.
#[test]
fn brighter_stretches_are_taken_oftener_by_the_tilt() {
    let days = days_of(|day| if day == 100 { 0.6 } else { 0.3 });
    for k in 90..112 {
        let expected = if (97..=100).contains(&k) { 2.5 } else { -(4.0_f64 / 27.0).sqrt() };
        assert!((days.days[k].stretch - expected).abs() < 1e-6, "{k}: {}", days.days[k].stretch);
    }
    assert!(days.days[200].stretch.abs() < 1e-3);
    for tilt in [0.0, 0.5, -0.4] {
        let mut rng = Stream::new(4, 0, Purpose::Weather);
        let n = 4_000;
        let bright =
            (0..n).filter(|_| (97..=100).contains(&days.pick_tilted(100, tilt, &mut rng).expect("a day"))).count();
        let weigh = |count: f64, stretch: f64| count * math::exp(tilt * stretch);
        let (four, eleven) = (weigh(4.0, 2.5), weigh(11.0, -(4.0_f64 / 27.0).sqrt()));
        let expected = four / (four + eleven);
        // A share of n has the standard error √(p(1 − p)/n); five of them.
        let error = 5.0 * (expected * (1.0 - expected) / f64::from(n)).sqrt();
        assert!((bright as f64 / f64::from(n) - expected).abs() < error, "{tilt}: {bright} for {expected}");
    }
}

/// Of three kinds of stretches each is taken as often as e^tilt to the power of its brightness says.
#[test]
fn a_little_brighter_is_taken_a_little_oftener() {
    let days = days_of(|day| match day {
        100 => 0.6,
        106 => 0.36,
        _ => 0.3,
    });
    let (tilt, n) = (0.5, 4_000);
    let weight = |day: usize| math::exp(tilt * days.days[day].stretch);
    let all: f64 = (93..=107).map(weight).sum();
    let mut rng = Stream::new(4, 1, Purpose::Weather);
    let drawn: Vec<usize> = (0..n).map(|_| days.pick_tilted(100, tilt, &mut rng).expect("a day")).collect();
    for kind in [97..=100, 103..=106] {
        let expected = kind.clone().map(weight).sum::<f64>() / all;
        let share = drawn.iter().filter(|day| kind.contains(day)).count() as f64 / n as f64;
        let error = 5.0 * (expected * (1.0 - expected) / n as f64).sqrt();
        assert!((share - expected).abs() < error, "{kind:?}: {share} for {expected}");
    }
}

/// A start that fits is taken as soon as it is met: one number is drawn and no more. One that has to be dark is, and the longest is taken where none is long
/// enough.
#[test]
fn a_start_that_fits_is_taken_at_once() {
    let days = days_of(|day| 0.3 + 0.001 * day as f64);
    let mut rng = Stream::new(4, 1, Purpose::Weather);
    for _ in 0..20 {
        let mut other = rng.clone();
        assert!(days.find((100, 0.0), 5, &[], &mut rng).is_some());
        other.uniform();
        assert_eq!(rng.clone().uniform(), other.uniform());
    }
    // Every fifth day is dull: none is darker, and six of 31 or more are darker than any other.
    let dull = days_of(|day| if day % 5 == 2 { 0.2 } else { 0.4 + 0.001 * day as f64 });
    for _ in 0..50 {
        let start = dull.find((100, 0.0), 3, &[(0.0, 0.15)], &mut rng).expect("a start");
        assert_eq!(start % 5, 2);
        // Two days of which the second is dull.
        let start = dull.find((100, 0.0), 3, &[(0.3, 1.0), (0.0, 0.15)], &mut rng).expect("a start");
        assert_eq!(start % 5, 1);
    }
    let cut = days_of(|day| if day == 104 { f64::NAN } else { 0.4 });
    // Within a week of day 97 the longest run before the gap begins on day 90; nothing reaches 30 days.
    assert_eq!(cut.find((97, 0.0), 30, &[], &mut rng), Some(90));
}

/// The same clearness every day, so that the air's range is its mean; air that does not differ from day to day but by the season.
fn even(day_sd_k: f64) -> Climate {
    let mut climate = northern();
    for (k, month) in climate.months.iter_mut().enumerate() {
        month.clearness = [0.4; 25];
        (month.air.day_sd_k, month.air.clearness_link) = (day_sd_k, 0.0);
        month.air.day_persistence = if k < 6 { 0.9 } else { 0.0 };
    }
    climate
}

fn replayed(climate: &Climate, (first, days): (u32, u32), trial: u64, warmer: &[Drawn; 1]) -> WeatherTrace {
    let plan = WeatherPlan::replay_with_air_of(&record(|_| 0.4), climate, &calendar()).expect("a plan");
    let mut out = WeatherTrace::default();
    let mut rng = Stream::new(6, trial, Purpose::Weather);
    plan.generate(first, days, &Opening::Any, &mut rng, Climates::Steady(warmer), &mut out);
    out
}

/// Air that a climate lends to a record without its own is the climate's: where nothing is left to chance, hour by hour that of days drawn from it.
#[test]
fn lent_air_is_that_of_the_climate_from_day_to_day() {
    let climate = even(0.0);
    let warmer = [Drawn { air_k: 1.5, ..Drawn::BEST }];
    let plan = WeatherPlan::stochastic(&climate, &calendar()).expect("a plan");
    for first in [3, 340] {
        let found = replayed(&climate, (first, 40), 0, &warmer);
        let mut drawn = WeatherTrace::default();
        let mut rng = Stream::new(6, 0, Purpose::Weather);
        plan.generate(first, 40, &Opening::Any, &mut rng, Climates::Steady(&warmer), &mut drawn);
        assert_eq!(found.air_c.len(), 40 * 24);
        for (found, drawn) in found.air_c.iter().zip(&drawn.air_c) {
            // One is in single precision.
            assert!((found - drawn).abs() < 1e-3, "{found} for {drawn}");
        }
        assert!(found.daily_clearness.iter().all(|clearness| (clearness - 0.4).abs() < 1e-6));
    }
}

/// Its days differ by the climate's spread and go on by its persistence, which is that of their own dates: in January 0.9, in August none.
#[test]
fn lent_air_goes_on_as_long_as_the_climates() {
    let climate = even(3.0);
    let record = record(|_| 0.4);
    let plan = WeatherPlan::replay_with_air_of(&record, &climate, &calendar()).expect("a plan");
    let mut out = WeatherTrace::default();
    let n = 400;
    for (first, days, persistence) in [(15, 2, 0.9_f64), (196, 32, 0.0)] {
        let mut pairs = Vec::new();
        for trial in 0..n {
            let mut rng = Stream::new(6, trial, Purpose::Weather);
            plan.generate(first, days, &Opening::Any, &mut rng, Climates::BEST, &mut out);
            // About noon the air is the day's own, but for a hundredth of its neighbours'.
            let noon = |day: usize| 0.5 * (out.air_c[day * 24 + 11] + out.air_c[day * 24 + 12]);
            pairs.push((noon(days as usize - 2), noon(days as usize - 1)));
        }
        let count = n as f64;
        let mean = |of: &dyn Fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>() / count;
        let (a, b) = (mean(&|p| p.0), mean(&|p| p.1));
        let (sa, sb) = (mean(&|p| (p.0 - a) * (p.0 - a)).sqrt(), mean(&|p| (p.1 - b) * (p.1 - b)).sqrt());
        let together = mean(&|p| (p.0 - a) * (p.1 - b)) / (sa * sb);
        // Fisher's standard errors of a correlation, (1 − r²)/√n, and of a standard deviation, 1/√(2n) of it; five of them.
        let error = 5.0 * (1.0 - persistence * persistence) / count.sqrt();
        assert!((together - persistence).abs() < error + 0.01, "{together} for {persistence}");
        // Days weigh 1/8, 3/4 and 1/8 in a day's mean, which has the spread that was asked for.
        let kept = (38.0 + 24.0 * persistence + 2.0 * persistence * persistence) / 64.0;
        assert!((sa * kept.sqrt() / 3.0 - 1.0).abs() < 5.0 / (2.0 * count).sqrt() + 0.01, "{sa}");
    }
}
