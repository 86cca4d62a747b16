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
