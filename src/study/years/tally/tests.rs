//! Sums over histories and their ranges.

use super::*;
use crate::random::{Purpose, Stream};

/// Histories of 20 outages each, whose chance of success moves by `slope` for each unit of one of two numbers.
fn sums(seed: u64, histories: u64, slope: f64) -> (ShareSums, Slopes) {
    let (mut sums, mut slopes) = (ShareSums::default(), Slopes::default());
    for history in 0..histories {
        let mut rng = Stream::new(seed, history, Purpose::Outage);
        let unknowns = [rng.normal(), rng.normal()];
        let p = 0.7 + slope * unknowns[1];
        let rode = (0..20).filter(|_| rng.uniform() < p).count() as u64;
        sums.add(20, rode);
        slopes.add(&unknowns, 20, rode);
    }
    (sums, slopes)
}

#[test]
fn intervals_of_clustered_shares_cover_as_often_as_they_promise() {
    for slope in [0.0, 0.09] {
        let covered = (0..1000).filter(|&seed| {
            let share = sums(seed, 60, slope).0.share(0.0);
            share.chance.low <= 0.7 && 0.7 <= share.chance.high
        });
        // 95 % of 1000 with a standard error of 0.7 %, five of them either way; where histories are alike the
        // variance is held at that of independent outages or more, which covers a little too often.
        let covered = covered.count();
        assert!((915..=985).contains(&covered), "{covered} of 1000 at a slope of {slope}");
    }
}

#[test]
fn what_is_not_known_widens_the_interval_by_its_slope() {
    let share = |slope: f64| {
        let (sums, slopes) = sums(1, 2000, slope);
        sums.share(slopes.variance(&sums))
    };
    let alike = share(0.0);
    assert!(alike.interval.width() < 1.8 * alike.chance.width(), "{alike:?}");
    // 95 % of normal values with a standard deviation of 0.09 lie within a width of 0.353.
    let apart = share(0.09);
    assert!((apart.interval.width() - 0.353).abs() < 0.03, "{apart:?}");
    assert!(apart.chance.width() < 0.03);
}

#[test]
fn certainty_is_never_claimed() {
    let mut all = ShareSums::default();
    let mut same = DifferenceSums::default();
    for _ in 0..50 {
        all.add(10, 10);
        same.add(10, 0);
    }
    let share = all.share(0.0);
    assert_eq!((share.probability, share.interval.high), (1.0, 1.0));
    assert_eq!(share.interval.low, wilson(50, 50, Z_95).low);
    let (difference, interval) = same.difference();
    assert!(difference == 0.0 && interval.low < -0.002 && interval.high > 0.002);
    assert!(ShareSums::default().share(0.0).probability.is_nan());
}

#[track_caller]
fn assert_near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} for {expected}");
}

/// Outages, those ridden through and two numbers behind what is not known of three histories.
const THREE: [(u64, u64, [f64; 2]); 3] = [(10, 9, [1.5, 0.1]), (4, 1, [-2.0, 0.2]), (6, 5, [0.5, -0.1])];

fn three() -> (ShareSums, Slopes) {
    let (mut sums, mut slopes) = (ShareSums::default(), Slopes::default());
    for (outages, rode, unknowns) in THREE {
        sums.add(outages, rode);
        slopes.add(&unknowns, outages, rode);
    }
    (sums, slopes)
}

/// By hand (variance of a ratio, Cochran 1977, Sampling Techniques, 2.11): 15 of 20, and 1.5² + 2² + 0.5² = 6.5 off what three
/// quarters would be, so that the variance is 6.5 / 20² · 3/2 = 0.024375, as of 0.1875 / 0.024375 = 7.7 outages that owe nothing to
/// each other. Wilson's interval of five of seven is 0.35893 to 0.91778.
#[test]
fn outages_of_one_history_count_by_how_alike_they_are() {
    let share = three().0.share(0.0);
    assert_eq!((share.probability, share.outages, share.interval), (0.75, 20, share.chance));
    assert_near(share.chance.low, 0.358_934, 1e-6);
    assert_near(share.chance.high, 0.917_781, 1e-6);
    // Histories more alike than chance would make them are worth no more than their outages: 15 of 20, 0.53130 to 0.88814.
    let mut alike = ShareSums::default();
    for _ in 0..5 {
        alike.add(4, 3);
    }
    let share = alike.share(0.0);
    assert_near(share.chance.low, 0.531_299, 1e-6);
    assert_near(share.chance.high, 0.888_138, 1e-6);
    // None at all of two histories is none of two, and of one history with several outages none of one.
    for (histories, worth) in [(2, 2), (1, 1)] {
        let mut none = ShareSums::default();
        (0..histories).for_each(|_| none.add(3, 0));
        assert_eq!(none.share(0.0).chance, wilson(0, worth, Z_95));
    }
    // Of thirty histories with two outages in all, none of two.
    let mut seldom = ShareSums::default();
    (0..30).for_each(|history| seldom.add(u64::from(history < 2), 0));
    assert_eq!(seldom.share(0.0).chance, wilson(0, 2, Z_95));
}

/// By hand: the slope of the share on the first number is Σ z (s - 0.75 n) / Σ z² n = 6.5 / 40 and on the second -0.3 / 0.32; chance
/// adds 0.024375 to the square of each.
#[test]
fn the_variance_of_what_is_not_known_is_that_of_its_slopes() {
    let (sums, slopes) = three();
    let of = |slope: f64| slope * slope - 0.024_375;
    assert_near(slopes.variance(&sums), of(0.1625) + of(-0.9375), 1e-12);
    // A slope that chance explains adds nothing, nor does a number that never moved.
    let (mut sums, mut slopes) = (ShareSums::default(), Slopes::default());
    for (outages, rode, [z, _]) in THREE {
        sums.add(outages, rode);
        slopes.add(&[z, 0.01 * z * z * z, 0.0], outages, rode);
    }
    assert!(slopes.variance(&sums) > of(0.1625));
    let mut flat = Slopes::default();
    for (outages, rode, _) in THREE {
        flat.add(&[0.0, 2.0], outages, rode);
    }
    assert_eq!(flat.variance(&sums), 0.0);
    assert_eq!(Slopes::default().variance(&ShareSums::default()), 0.0);
}

/// Φ(Φ⁻¹(0.75) ± √(reach² + (1.96 · 0.05 / φ)²)) with Φ⁻¹(0.75) = 0.67449 and φ = 0.31778 (tables of the normal distribution): worked
/// out beside the program from the interval of chance above.
#[test]
fn a_doubt_widens_the_interval_on_the_scale_of_normal_scores() {
    let share = three().0.share(0.0025);
    assert_near(share.interval.low, 0.342_283, 1e-6);
    assert_near(share.interval.high, 0.927_014, 1e-6);
    // More doubt than a share of 75 % can have is no more than p (1 - p).
    assert_eq!(three().0.share(0.1875), three().0.share(40.0));
    assert!(three().0.share(0.1875).interval.width() > share.interval.width());
}

/// Histories added here and there, whichever side has seen more numbers, are those added in one place.
#[test]
fn sums_of_parts_are_sums_of_the_whole() {
    let (all, slopes) = three();
    for first in 0..=3 {
        let (mut parts, mut of_parts) = ([ShareSums::default(); 2], [Slopes::default(), Slopes::default()]);
        for (k, (outages, rode, unknowns)) in THREE.into_iter().enumerate() {
            parts[usize::from(k >= first)].add(outages, rode);
            of_parts[usize::from(k >= first)].add(&unknowns, outages, rode);
        }
        let [mut sums, next] = parts;
        sums.merge(&next);
        assert_eq!(sums, all);
        let [mut sums, next] = of_parts;
        sums.merge(&next);
        assert_near(sums.variance(&all), slopes.variance(&all), 1e-12);
    }
    // A history that knows of one number more.
    let mut longer = slopes.clone();
    longer.add(&[0.0, 0.0, 1.0], 1, 1);
    let (mut here, mut there) = (slopes.clone(), Slopes::default());
    there.add(&[0.0, 0.0, 1.0], 1, 1);
    here.merge(&there);
    there.merge(&slopes);
    assert_eq!((&here, &there), (&longer, &longer));
}

/// By hand: of 20 outages one more was ridden through, d = 0.05; (2 - 0.5)² + (-1 - 0.2)² + (0 - 0.3)² = 3.78 off that, so that its
/// standard deviation is √(3.78 · 3/2) / 20 = 0.119059, and 1.96 of those are 0.233351.
#[test]
fn the_difference_of_two_ways_is_held_against_its_scatter_over_histories() {
    let mut sums = DifferenceSums::default();
    [(10, 2), (4, -1), (6, 0)].into_iter().for_each(|(outages, more)| sums.add(outages, more));
    let (difference, interval) = sums.difference();
    assert_near(difference, 0.05, 1e-12);
    assert_near(interval.low, 0.05 - 0.233_351, 1e-6);
    assert_near(interval.high, 0.05 + 0.233_351, 1e-6);
    let (mut parts, mut next) = (DifferenceSums::default(), DifferenceSums::default());
    parts.add(10, 2);
    [(4, -1), (6, 0)].into_iter().for_each(|(outages, more)| next.add(outages, more));
    parts.merge(&next);
    assert_eq!(parts, sums);
    // No difference goes beyond all or none, nor does its interval.
    for more in [-2, 2] {
        let mut few = DifferenceSums::default();
        few.add(2, more);
        let (difference, interval) = few.difference();
        assert_eq!(difference, more.signum() as f64);
        assert!((-1.0..=1.0).contains(&interval.low) && (-1.0..=1.0).contains(&interval.high), "{interval:?}");
    }
    assert_eq!(DifferenceSums::default().difference(), (0.0, Interval { low: -1.0, high: 1.0 }));
}

/// A third of the years, to the nearest, and one at least.
#[test]
fn first_and_last_years_are_a_third_of_all() {
    let stretches = [(1, 1), (2, 1), (4, 1), (5, 2), (10, 3), (20, 7), (30, 10)];
    assert!(stretches.iter().all(|&(years, third)| stretch(years) == third));
}
