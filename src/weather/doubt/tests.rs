//! The prior, what evidence makes of it, and draws.

use super::*;
use crate::random::Purpose;

#[test]
fn one_number_is_learned_as_the_textbook_says() {
    // A normal prior of variance P and one reading of error variance R: the estimate moves by P/(P + R) of the way and
    // the variance becomes P R/(P + R) (Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.5).
    let mut doubt = Doubt::of_level(0.1);
    let mut january = [None; 12];
    january[0] = Some(0.06);
    let moved = doubt.learn_means(&january, 0.05, 0.0);
    for month in 0..12 {
        assert!((moved[month][0] - 0.06 * 0.01 / 0.0125).abs() < 1e-9, "{moved:?}");
        // But for a trace that keeps readings apart from rounding.
        assert!((math::powi(doubt.level_sd()[month], 2) - 0.01 * 0.0025 / 0.0125).abs() < 1e-10);
    }
}

#[test]
fn evidence_only_narrows_and_neighbours_gain_more_than_far_months() {
    let prior = Doubt::of_table(50.0);
    let before = prior.level_sd();
    let mut one = prior.clone();
    let mut january = [None; 12];
    january[0] = Some(-0.1);
    let moved = one.learn_means(&january, 0.0, 0.02);
    let after = one.level_sd();
    for month in 0..12 {
        assert!(after[month] < before[month]);
        assert!(moved[month][0] < 0.0);
    }
    assert!(after[0] / before[0] < after[1] / before[1] && after[1] / before[1] < after[6] / before[6]);
    let mut record = prior.clone();
    record.learn_record(&[[0.0; FIGURES]; 12], &[8.0; 12], &[0.4; 12], 0.02);
    assert!(record.level_sd().iter().zip(before).all(|(a, b)| *a < b));
    // A single year of a poor instrument leaves no month less known than it was.
    let mut poor = prior.clone();
    poor.learn_record(&[[0.0; FIGURES]; 12], &[1.0; 12], &[0.6; 12], 0.05);
    assert!(poor.level_sd().iter().zip(before).all(|(a, b)| *a <= b * (1.0 + 1e-12)));
}

#[test]
fn winter_is_less_sure_than_summer_on_both_halves_of_the_earth() {
    for (latitude_deg, winter, summer) in [(50.0, 0, 6), (-50.0, 6, 0)] {
        let sd = Doubt::of_table(latitude_deg).level_sd();
        assert!((sd[winter] / sd[summer] - 1.2 / 0.8).abs() < 1e-9);
    }
}

#[test]
fn years_are_drawn_with_the_covariance_they_are_given() {
    let doubt = Doubt::of_table(45.0);
    let year = doubt.year();
    let (mut sums, mut squares, mut lagged) = ([0.0; 12], [0.0; 12], 0.0);
    let n = 20_000;
    for trial in 0..n {
        let mut rng = Stream::new(5, trial, Purpose::Climate);
        let z = std::array::from_fn(|_| rng.normal());
        let months = year.drawn(&z, &mut rng);
        let logs = months.map(|m| math::ln(m.factor));
        for month in 0..12 {
            sums[month] += logs[month];
            squares[month] += logs[month] * logs[month];
        }
        lagged += logs[0] * logs[1];
    }
    let n = n as f64;
    let sd = doubt.level_sd();
    for month in 0..12 {
        // The standard error of a standard deviation from n numbers is its 1/√(2n)th part.
        let found = (squares[month] / n - math::powi(sums[month] / n, 2)).sqrt();
        assert!((found / sd[month] - 1.0).abs() < 4.0 / (2.0 * n).sqrt() + 1e-3, "{month}: {found} {}", sd[month]);
    }
    let (g, h) = OUTSIDE_TROPICS.seasons[0];
    let correlation = lagged / n / (sd[0] * sd[1]);
    assert!((correlation - (g + (1.0 - g) * h)).abs() < 0.02, "{correlation}");
}

#[test]
fn a_short_stretch_is_drawn_like_its_month() {
    let doubt = Doubt::of_table(45.0);
    // Around the middle of a month its own figures alone count.
    let drawing = doubt.drawing(14..17);
    assert!((drawing.lower[0][0] / doubt.level_sd()[0] - 1.0).abs() < 0.02);
    assert_eq!(Doubt::none().drawing(0..30), Drawing::default());
    assert!(!Doubt::none().drawing(0..30).draws() && drawing.draws());
}

/// What is less known in winter grows from none at the end of the tropics to what it is outside of them, and the halves of the earth are
/// mirrors of each other, half a year apart.
#[test]
fn winters_are_less_known_the_further_from_the_tropics() {
    let winter = |latitude_deg: f64| {
        let sd = Doubt::of_table(latitude_deg).level_sd();
        sd[0] / sd[6]
    };
    let (from, to) = TROPICS_END;
    let ratios = [from, 0.75 * from + 0.25 * to, 0.5 * (from + to), 0.25 * from + 0.75 * to, to].map(winter);
    assert!(ratios.windows(2).all(|pair| pair[0] < pair[1]), "{ratios:?}");
    assert!(winter(0.0) == ratios[0] && winter(60.0) == ratios[4]);
    for latitude_deg in [10.0, 24.0, 50.0] {
        let [north, south] = [latitude_deg, -latitude_deg].map(|latitude_deg| Doubt::of_table(latitude_deg).level_sd());
        for month in 0..12 {
            assert!((north[month] / south[(month + 6) % 12] - 1.0).abs() < 1e-9, "{latitude_deg}°, month {month}");
        }
    }
}

/// A replayed record leaves the luck of its years: n unrelated stretches have a mean good to 1/√n, four of them a year; the air's mean of one
/// year, 0.8 K, goes down with the root of the years; and its instrument errs.
#[test]
fn a_replayed_record_leaves_the_luck_of_its_years() {
    let z = [0.3, -0.7, 1.1, 0.4, 1.3, -0.9, -1.6];
    for instrument in [0.0, 0.03] {
        let doubt = Doubt::of_replay(6.25, instrument);
        let year = doubt.year().drawn(&z, &mut Stream::new(5, 0, Purpose::Climate));
        for drawn in year.iter().chain([&doubt.drawing(100..104).drawn(&z)]) {
            assert!((drawn.tilt - -1.6 / 5.0).abs() < 1e-12, "{}", drawn.tilt);
            assert!((drawn.air_k - -0.9 * 0.8 / 2.5).abs() < 1e-12, "{}", drawn.air_k);
            assert!((drawn.unrest - 1.0).abs() < 1e-12);
            // But for a trace that keeps months apart from rounding.
            assert!(
                drawn.persistence.abs() < 1e-4 && (math::ln(drawn.factor) - 0.3 * instrument).abs() < 1e-4,
                "{}",
                drawn.factor
            );
        }
    }
    assert_eq!(Doubt::of_replay(0.0, 0.02), Doubt::of_replay(0.1, 0.02));
    let year = Doubt::of_table(50.0).year().drawn(&z, &mut Stream::new(5, 0, Purpose::Climate));
    for drawn in year {
        assert!((math::ln(drawn.unrest) - 0.2 * 1.3).abs() < 1e-6 && (drawn.air_k - -0.9 * 1.2).abs() < 1e-12);
        assert_eq!(drawn.tilt, 0.0);
    }
}

/// The same reading twice, once with its sign turned, moves the estimate once, all the way.
#[test]
fn readings_that_say_the_same_twice_count_once() {
    let mut doubt = Doubt::of_level(0.5);
    let row = unit(0);
    let shift = doubt.learn(&[row, row.map(|part| -part)], &[0.06, -0.06], &[0.0; 4]);
    for month in 0..12 {
        assert!((shift[month * FIGURES] - 0.06).abs() < 1e-6, "{shift:?}");
        assert!(doubt.level_sd()[month] < 1e-3);
    }
}

/// What two figures share they share either way.
#[test]
fn a_covariance_is_the_same_across_its_diagonal_after_all_that_is_learnt() {
    let mut doubt = Doubt::of_level(0.5);
    for figure in [0, 1, 7] {
        doubt.learn(&[unit(figure)], &[0.06], &[0.01]);
    }
    for i in 0..SIZE {
        for j in 0..i {
            assert_eq!(doubt.covariance[i * SIZE + j], doubt.covariance[j * SIZE + i], "{i}, {j}");
        }
    }
}

/// Covariance of a record's chance: of each month's figures as fitted, over the root of its years, the mean's by the days' spread.
fn chance(years: &[f64; 12], relative: &[f64; 12]) -> Vec<f64> {
    let scale = |month: usize, figure: usize| if figure == 0 { relative[month] } else { 1.0 } / years[month].sqrt();
    let mut chance = Vec::new();
    for i in 0..SIZE {
        for j in 0..SIZE {
            let (m, a, n, b) = (i / FIGURES, i % FIGURES, j / FIGURES, j % FIGURES);
            let months = (m + 12 - n) % 12;
            let lag = months.min(12 - months) as i32;
            let of_part = |k: usize| {
                let (g, h) = ONE_YEAR.seasons[k];
                let along = g + (1.0 - g) * if lag == 0 { 1.0 } else { math::powi(h, lag) };
                ONE_YEAR.lower[a][k] * ONE_YEAR.lower[b][k] * along
            };
            chance.push(scale(m, a) * scale(n, b) * (0..FIGURES).map(of_part).sum::<f64>());
        }
    }
    chance
}

/// Where the level alone is unknown, a record is twelve months' figures of one number: precisions add, and the estimate is the mean weighted
/// by them (Gelman et al., Bayesian Data Analysis, 3rd ed., section 3.5, in place of Kalman's form that the program has).
#[test]
fn a_record_is_learned_as_precisions_add() {
    let (sd, instrument) = (0.1, 0.02);
    let years: [f64; 12] = std::array::from_fn(|month| 3.0 + month as f64);
    let relative: [f64; 12] = std::array::from_fn(|month| 0.3 + 0.02 * month as f64);
    let told: Moves = std::array::from_fn(|month| {
        let month = month as f64;
        [0.06 - 0.01 * month, 0.02 * month - 0.1, 0.03, 0.05 - 0.02 * month]
    });
    let factor = cholesky(chance(&years, &relative), SIZE).expect("a covariance");
    let level: Vec<f64> = (0..SIZE).map(|i| f64::from(u8::from(i % FIGURES == 0))).collect();
    let weights = solve(&factor, SIZE, &level);
    let along = |of: &dyn Fn(usize) -> f64| weights.iter().enumerate().map(|(i, w)| w * of(i)).sum::<f64>();
    let variance = 1.0 / (1.0 / (sd * sd) + along(&|i| level[i]));
    let move_of_all = variance * along(&|i| told[i / FIGURES][i % FIGURES]);
    let mut doubt = Doubt::of_level(sd);
    let moved = doubt.learn_record(&told, &years, &relative, instrument);
    // Three years show less than their chance, by the tenth part; and what the instrument's readings share stays open.
    let left = (variance * 1.1 * 1.1 + instrument * instrument).sqrt();
    for month in 0..12 {
        assert!((moved[month][0] / move_of_all - 1.0).abs() < 1e-5, "{} for {move_of_all}", moved[month][0]);
        assert!(moved[month][1..].iter().all(|figure| figure.abs() < 1e-12));
        assert!((doubt.level_sd()[month] / left - 1.0).abs() < 1e-5, "{} for {left}", doubt.level_sd()[month]);
    }
    assert!(left < sd && doubt.unrest == 0.0 && doubt.air_k == 0.0);
    // An instrument worse than what was known leaves all as it was, months still in step.
    let mut held = Doubt::of_level(sd);
    held.learn_record(&told, &years, &relative, 0.5);
    for (m, n) in [(0, 0), (3, 3), (0, 7), (11, 4)] {
        assert!((held.covariance[m * FIGURES * SIZE + n * FIGURES] - sd * sd).abs() < 1e-12);
    }
    // Nothing is learned of no years.
    let mut none = Doubt::of_level(sd);
    assert_eq!(none.learn_record(&told, &[0.0; 12], &relative, 0.0), [[0.0; FIGURES]; 12]);
    assert!(none.level_sd().iter().all(|after| (after - sd).abs() < 1e-12));
    // The hours' unrest and the air are then a record's, the air's by the root of the fewest years, and no less known than they were.
    for (years, air_k) in [(4.0, 0.4), (0.25, 1.2)] {
        let mut doubt = Doubt::of_table(50.0);
        doubt.learn_record(&told, &[years; 12], &relative, instrument);
        assert!(doubt.unrest == 0.05 && (doubt.air_k - air_k).abs() < 1e-12, "{}", doubt.air_k);
    }
    // Where nothing else is known, the chance of the years and the instrument are all there is.
    let alone = Doubt::of_record(&years, &relative, instrument);
    for month in 0..12 {
        let chance = 0.308 * relative[month] / years[month].sqrt();
        assert!((alone.level_sd()[month] - math::hypot(chance, instrument)).abs() < 1e-12);
    }
    assert!((alone.air_k - 0.8 / 3.0_f64.sqrt()).abs() < 1e-12 && alone.unrest == 0.05 && alone.tilt == 0.0);
    let lasting = chance(&years, &relative);
    let between = |i: usize, j: usize| alone.covariance[i * SIZE + j] - lasting[i * SIZE + j];
    assert!((between(0, 8) - instrument * instrument).abs() < 1e-12 && between(1, 6).abs() < 1e-12);
}

/// Months pass into each other from middle to middle: the noon of 31 January is 15 of 29.5 days past January's middle, that of 1 February 16; the
/// last of December 15 of 31 days past December's, the first of January 16.
#[test]
fn a_stretch_counts_its_months_from_middle_to_middle() {
    let close = |found: [f64; 12], expected: &[(usize, f64)]| {
        for (month, found) in found.iter().enumerate() {
            let expected = expected.iter().find(|(at, _)| *at == month).map_or(0.0, |(_, share)| *share);
            assert!((found - expected).abs() < 1e-12, "month {month}: {found} for {expected}");
        }
    };
    close(shares(15..16), &[(0, 1.0)]);
    close(shares(30..32), &[(0, 14.0 / 29.5), (1, 15.5 / 29.5)]);
    close(shares(364..366), &[(11, 0.5), (0, 0.5)]);
    close(shares([364, 200].into_iter()), &[(11, 8.0 / 31.0), (0, 7.5 / 31.0), (6, 13.5 / 31.0), (7, 2.0 / 31.0)]);
    assert_eq!(shares(0..0), [1.0 / 12.0; 12]);
    // A day in the middle of a month is learned as that month's mean.
    let (mut day, mut month) = (Doubt::of_table(50.0), Doubt::of_table(50.0));
    let mut january = [None; 12];
    january[0] = Some(-0.08);
    let (of_day, of_month) = (day.learn_stretch(15..16, -0.08, 0.05), month.learn_means(&january, 0.03, 0.04));
    assert!(of_day.as_flattened().iter().zip(of_month.as_flattened()).all(|(a, b)| (a - b).abs() < 1e-12));
    assert!(day.level_sd().iter().zip(month.level_sd()).all(|(a, b)| (a - b).abs() < 1e-12));
}

/// In the middle of January the figures are drawn by the fitted triangle itself, which a covariance has but one of: widened for the few places,
/// its level by winter.
#[test]
fn midwinter_is_drawn_by_the_fitted_triangle() {
    for (latitude_deg, outside) in [(45.0, 1.0), (10.0, 0.0), (23.5, 0.5), (-22.0, 2.0 / 7.0)] {
        let day = if latitude_deg < 0.0 { 196 } else { 15 };
        let found = Doubt::of_table(latitude_deg).drawing(day..day + 1).lower;
        for (a, row) in found.iter().enumerate() {
            for (b, found) in row.iter().enumerate() {
                let fitted = outside * OUTSIDE_TROPICS.lower[a][b] + (1.0 - outside) * TROPICS.lower[a][b];
                let expected = 1.15 * fitted * if a == 0 { 1.0 + 0.2 * outside } else { 1.0 };
                assert!((found - expected).abs() < 1e-6, "{latitude_deg}°, {a}, {b}: {found} for {expected}");
            }
        }
    }
}

/// Months that have nothing in common are drawn so, whatever the figures of which nothing is unknown.
#[test]
fn months_with_nothing_in_common_are_drawn_apart() {
    let mut doubt = Doubt { covariance: vec![0.0; SIZE * SIZE], ..Doubt::none() };
    for month in 0..12 {
        doubt.covariance[month * FIGURES * (SIZE + 1)] = 0.01;
    }
    let year = doubt.year();
    let n = 3_000;
    let (mut square, mut together) = (0.0, 0.0);
    for trial in 0..n {
        let mut rng = Stream::new(5, trial, Purpose::Climate);
        let z = std::array::from_fn(|_| rng.normal());
        let logs = year.drawn(&z, &mut rng).map(|month| math::ln(month.factor));
        square += logs[3] * logs[3] / n as f64;
        together += logs[0] * logs[6] / n as f64;
    }
    // A variance of n numbers has the relative standard error √(2/n), a correlation of nothing 1/√n; five of them.
    let error = 5.0 / (n as f64).sqrt();
    assert!((square / 0.01 - 1.0).abs() < error * 2.0_f64.sqrt(), "{square}");
    assert!((together / 0.01).abs() < error, "{together}");
}
