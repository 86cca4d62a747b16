//! What a record, figures and readings make of a climate, worked out by hand where little is unknown.

use super::*;
use crate::weather::climate::{COURSE, LEVELS};
use crate::weather::tests::northern;

const N: usize = LEVELS.len();

/// A third-order wave along a distribution, of no mean and without a part that two figures would tell: the cube of the distance from the mean less
/// its parts along 1, u and u² (Gram and Schmidt), with the weights of straight lines between levels. Its greatest is 1.
fn left_over(own: &[f64; N]) -> [f64; N] {
    let weight = |k: usize| 0.5 * (LEVELS[(k + 1).min(N - 1)] - LEVELS[k.saturating_sub(1)]);
    let dot = |a: &[f64; N], b: &[f64; N]| (0..N).map(|k| weight(k) * a[k] * b[k]).sum::<f64>();
    let mean = dot(own, &[1.0; N]);
    let mut basis: Vec<[f64; N]> = Vec::new();
    for power in 0..=3 {
        let mut part = own.map(|q| math::powi(q - mean, power));
        for _ in 0..2 {
            for known in &basis {
                let along = dot(&part, known) / dot(known, known);
                part = std::array::from_fn(|k| part[k] - along * known[k]);
            }
        }
        basis.push(part);
    }
    let most = basis[3].iter().fold(0.0_f64, |most, value| most.max(value.abs()));
    basis[3].map(|value| value / most)
}

fn close(found: f64, expected: f64, within: f64, what: &str) {
    assert!((found - expected).abs() < within, "{what}: {found} for {expected}");
}

/// Of a place that is known exactly the figures stay, and of what they leave over of the shape, and of the habits of the sky, y years of
/// record have y/(y + 4).
#[test]
fn shapes_and_habits_are_believed_by_their_years_over_those_and_four() {
    let mut prior = northern();
    prior.doubt = Doubt::none();
    let mut found = prior.months.clone();
    let years: [f64; 12] = std::array::from_fn(|month| 0.5 + 3.0 * month as f64);
    let own = Habits {
        course: std::array::from_fn(|k| 0.7 + 0.03 * k as f64),
        hourly_spread: 0.8,
        hourly_persistence: 0.3,
        memory: 0.6,
        settled: 0.2,
        slow_share: 0.03,
    };
    for month in &mut found {
        let wave = left_over(&month.clearness);
        month.clearness = std::array::from_fn(|k| month.clearness[k] + 0.01 * wave[k]);
        (month.persistence, month.habits) = (0.5, own);
    }
    let doubt = with_record(&prior, &mut found, &years, 0.02);
    assert_eq!(doubt.level_sd(), [0.0; 12]);
    for (month, (found, prior)) in found.iter().zip(&prior.months).enumerate() {
        let share = years[month] / (years[month] + 4.0);
        let wave = left_over(&prior.clearness);
        for k in 0..N {
            close(found.clearness[k], prior.clearness[k] + share * 0.01 * wave[k], 1e-9, "clearness");
        }
        close(found.persistence, 0.35, 1e-12, "persistence");
        for k in 0..COURSE {
            close(found.habits.course[k], 1.0 + share * (own.course[k] - 1.0), 1e-12, "course");
        }
        close(found.habits.hourly_spread, 1.4 - share * 0.6, 1e-12, "spread of hours");
        close(found.habits.hourly_persistence, 0.54 - share * 0.24, 1e-12, "persistence of hours");
        close(found.habits.memory, 0.45 + share * 0.15, 1e-12, "memory");
        close(found.habits.settled, share * 0.2, 1e-12, "settled");
        close(found.habits.slow_share, 0.01 + share * 0.02, 1e-12, "slow share");
    }
}

/// Where the level alone is unknown, alike in all months, a January of six years moves the whole year as one number with error moves another:
/// precisions add, and that of four figures of which the first errs with the others follows from their triangle.
#[test]
fn a_record_of_one_month_moves_the_level_of_all() {
    let mut prior = northern();
    prior.doubt = Doubt::of_level(0.1);
    let mut found = prior.months.clone();
    let wave = left_over(&prior.months[0].clearness);
    found[0].clearness = std::array::from_fn(|k| 1.06 * prior.months[0].clearness[k] + 0.01 * wave[k]);
    let relative = relative_sd(&found[0].clearness);
    let mut years = [0.0; 12];
    years[0] = 6.0;
    let doubt = with_record(&prior, &mut found, &years, 0.03);
    // The fitted triangle of a year's chance (weather/README.md), solved for an error of the first figure alone.
    let (a, b, c, d) = (0.308, [-0.194, 0.162], [-0.114, -0.010, 0.124], [-0.001, 0.070, 0.039, 0.224]);
    let first = 1.0 / (a * relative);
    let second = -b[0] * first / b[1];
    let third = -(c[0] * first + c[1] * second) / c[2];
    let fourth = -(d[0] * first + d[1] * second + d[2] * third) / d[3];
    let precision = 6.0 * (first * first + second * second + third * third + fourth * fourth);
    let variance = 1.0 / (1.0 / 0.01 + precision);
    let log = variance * precision * math::ln(1.06);
    let wider = 1.0 + 0.3 / 6.0;
    for month in 0..12 {
        close(doubt.level_sd()[month], math::hypot(variance.sqrt() * wider, 0.03), 1e-6, "left unknown");
        for k in 0..N {
            let own = prior.months[month].clearness[k] * math::exp(log);
            // The wave is the record's share of it, at the level that is believed.
            let of_wave = if month == 0 { 0.6 * math::exp(log) / 1.06 * 0.01 * wave[k] } else { 0.0 };
            close(found[month].clearness[k], own + of_wave, 1e-6, "clearness");
        }
        close(found[month].persistence, 0.35, 1e-9, "persistence");
    }
}

/// A record without end is believed as it stands: a million years, whose months no neighbours pull any more.
#[test]
fn a_record_without_end_is_believed_as_it_stands() {
    let mut prior = northern();
    prior.doubt = Doubt::of_table(52.0);
    let mut record = prior.months.clone();
    for (month, of_month) in record.iter_mut().enumerate() {
        let factor = 0.95 + 0.01 * month as f64;
        of_month.clearness = of_month.clearness.map(|q| 0.02 + factor * q * (0.9 + 0.1 * q));
        of_month.persistence = 0.25 + 0.03 * month as f64;
    }
    let mut found = record.clone();
    let doubt = with_record(&prior, &mut found, &[1e6; 12], 0.02);
    for (found, record) in found.iter().zip(&record) {
        assert!(found.clearness.iter().zip(record.clearness).all(|(a, b)| (a - b).abs() < 0.001), "{found:?}");
        close(found.persistence, record.persistence, 0.001, "persistence");
    }
    assert!(doubt.level_sd().iter().all(|sd| (sd - 0.02).abs() < 1e-4), "{:?}", doubt.level_sd());
}

/// Figures that move: the mean's factor; and tanh(a + b) = (tanh a + tanh b)/(1 + tanh a tanh b), from nothing to 0.85.
#[test]
fn moved_figures_move_mean_and_persistence() {
    let mut climate = northern();
    let mut moves: Moves = Default::default();
    moves[0] = [math::ln(1.05), 0.0, 0.0, math::atanh(0.2)];
    (moves[1][3], moves[2][3]) = (3.0, -3.0);
    move_by(&mut climate, &moves);
    for (moved, own) in climate.months[0].clearness.iter().zip(northern().months[0].clearness) {
        close(*moved, 1.05 * own, 1e-9, "clearness");
    }
    close(climate.months[0].persistence, 0.55 / 1.07, 1e-9, "persistence");
    assert_eq!((climate.months[1].persistence, climate.months[2].persistence), (0.85, 0.0));
    close(climate.months[3].persistence, 0.35, 1e-12, "persistence");
}

/// One number of a stretch, where the level alone is unknown: P/(P + R) of the way, in every month.
#[test]
fn sun_that_was_seen_moves_a_climate_as_the_textbook_says() {
    let mut climate = northern();
    climate.doubt = Doubt::of_level(0.06);
    let seen = climate.with_seen(350, 30, 0.09, 0.03);
    let factor = math::exp(0.09 * 0.0036 / 0.0045);
    for (seen, own) in seen.months.iter().zip(&climate.months) {
        for (seen, own) in seen.clearness.iter().zip(own.clearness) {
            close(*seen, factor * own, 1e-6, "clearness");
        }
    }
    assert!(seen.doubt.level_sd().iter().all(|sd| (sd - (0.0036_f64 * 0.0009 / 0.0045).sqrt()).abs() < 1e-6));
    assert_eq!((climate.seen, seen.seen, seen.with_seen(0, 1, 0.0, 1.0).seen), (0, 1, 2));
    // A day of the next year is that of this one, and months near it move more than those far off.
    climate.doubt = Doubt::of_table(52.0);
    let [now, later] = [15, 380].map(|first| climate.with_seen(first, 1, -0.1, 0.05));
    assert_eq!(now, later);
    let moved =
        |month: usize| quantile_mean(&now.months[month].clearness) / quantile_mean(&climate.months[month].clearness);
    assert!(moved(0) < moved(1) && moved(1) < moved(3) && moved(3) < 1.0);
}

/// What is to be hoped for of more evidence, where the level alone is unknown: precisions add. Figures of twelve months err by 3.5 % that they share
/// and by 3.5 % each; a counter read to 8 % at 95 %, on a panel known to 5 % at 95 %, sees one year's month.
#[test]
fn prospects_are_what_precisions_leave() {
    let mut climate = northern();
    climate.doubt = Doubt::of_level(0.08);
    let prospects = climate.prospects();
    let left = |variance: f64| 1.0 / (1.0 / 0.0064 + 1.0 / variance).sqrt();
    for month in 0..12 {
        let clearness = &climate.months[month].clearness;
        // An even distribution.
        let relative = (clearness[24] - clearness[0]) / 12.0_f64.sqrt() / (0.5 * (clearness[24] + clearness[0]));
        let reading = (0.08 * 0.08 + 0.05 * 0.05) / (1.96 * 1.96);
        let month_sd = 0.308 * relative;
        close(prospects.own_month[month], left(reading + month_sd * month_sd), 1e-4, "a month");
        close(prospects.figures[month], left(0.035 * 0.035 * (1.0 + 1.0 / 12.0)), 1e-6, "figures");
        // A year that has its own instrument's error, 2 %, and is believed 0.3 less than its chance.
        let year = prospects.year_of_days[month];
        assert!(0.02 < year && year < prospects.own_month[month], "{year}");
    }
}
