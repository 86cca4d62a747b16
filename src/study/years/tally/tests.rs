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
