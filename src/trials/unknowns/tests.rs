//! Ranges against models that are known.

use super::*;
use crate::random::{Purpose, Stream};

/// Trials from a known model: survival has probability Φ(0.8 + 0.6 z1 + 0.0 z2).
fn synthetic(seed: u64, n: u64) -> (u64, Vec<bool>, Vec<f32>) {
    let (mut outcomes, mut rows) = (Vec::new(), Vec::new());
    for trial in 0..n {
        let mut rng = Stream::new(seed, trial, Purpose::Station);
        let (z1, z2) = (rng.normal(), rng.normal());
        outcomes.push(rng.uniform() < normal_cdf(0.8 + 0.6 * z1));
        rows.extend([z1 as f32, z2 as f32]);
    }
    (outcomes.iter().filter(|&&s| s).count() as u64, outcomes, rows)
}

#[test]
fn the_interval_covers_the_answers_that_better_knowledge_could_give() {
    let (survived, outcomes, rows) = synthetic(3, 20_000);
    let answer = survival(survived, 20_000, &vec![0.0; 20_000], &outcomes, &rows, 2);
    // By the model: 95 % of the possible answers lie within Φ(0.8 ± 1.96 × 0.6).
    let (low, high) = (normal_cdf(0.8 - 1.96 * 0.6), normal_cdf(0.8 + 1.96 * 0.6));
    assert!((answer.interval.low - low).abs() < 0.02, "{answer:?}, expected from {low}");
    assert!((answer.interval.high - high).abs() < 0.01, "{answer:?}, expected to {high}");
    assert!(answer.shares[0].is_some_and(|share| share > 0.95) && answer.shares[1].is_none(), "{answer:?}");
    // And the average over z is Φ(0.8 / √1.36).
    assert!((answer.probability - normal_cdf(0.8 / 1.36_f64.sqrt())).abs() < 5.0 * 0.003);
}

#[test]
fn with_one_quantity_held_the_others_are_left() {
    // Survival has probability Φ(0.4 + 0.6 z1 + 0.3 z2). With z1 at 0 the average over z2 is Φ(0.4 / √1.09), and 95 % of
    // the possible answers lie within Φ(0.4 ± 1.96 × 0.3).
    let n = 20_000;
    let (mut outcomes, mut rows) = (Vec::new(), Vec::new());
    for trial in 0..n {
        let mut rng = Stream::new(8, trial, Purpose::Station);
        let (z1, z2) = (rng.normal(), rng.normal());
        outcomes.push(rng.uniform() < normal_cdf(0.4 + 0.6 * z1 + 0.3 * z2));
        rows.extend([z1 as f32, z2 as f32]);
    }
    let survived = outcomes.iter().filter(|&&s| s).count() as u64;
    let answer = survival(survived, n, &vec![0.0; n as usize], &outcomes, &rows, 2);
    let held = answer.held[0].expect("a share of its own");
    // Standard errors: 0.01 of the argument, 0.02 of a slope.
    assert!((held.probability - normal_cdf(0.4 / 1.09_f64.sqrt())).abs() < 0.016, "{held:?}");
    assert!((held.interval.low - normal_cdf(0.4 - 1.96 * 0.3)).abs() < 0.04, "{held:?}");
    assert!((held.interval.high - normal_cdf(0.4 + 1.96 * 0.3)).abs() < 0.04, "{held:?}");
    // The lesser doubt leaves more.
    let lesser = answer.held[1].expect("a share of its own");
    assert!(held.interval.width() < lesser.interval.width(), "{answer:?}");
    assert!(lesser.interval.width() < answer.interval.width(), "{answer:?}");
}

#[test]
fn with_nothing_unknown_chance_alone_is_left() {
    let outcomes: Vec<bool> = (0..1000).map(|k| k % 4 != 0).collect();
    let answer = survival(750, 1000, &vec![0.0; 1000], &outcomes, &[], 0);
    assert_eq!(answer.chance, answer.interval);
    assert!(answer.shares.is_empty());
}

#[test]
fn what_decides_every_trial_leaves_nothing_but_all_or_none() {
    // Survival is z > -1.7 and nothing else: 95.5 % of the possible answers are 1, the others 0.
    let of = |edge: f64| {
        let (mut outcomes, mut rows) = (Vec::new(), Vec::new());
        for trial in 0..4000 {
            let z = Stream::new(2, trial, Purpose::Station).normal();
            outcomes.push(z > edge);
            rows.push(z as f32);
        }
        let survived = outcomes.iter().filter(|&&s| s).count() as u64;
        let margins: Vec<f32> = rows.iter().map(|z| z - edge as f32).collect();
        survival(survived, 4000, &margins, &outcomes, &rows, 1)
    };
    let open = of(-1.7);
    assert!(open.interval.low < 0.01 && open.interval.high > 0.99 && open.shares == [Some(1.0)], "{open:?}");
    // Beyond what 95 % allow for it is as good as sure.
    assert!(of(-2.5).interval.low > 0.98, "{:?}", of(-2.5));
}

#[test]
fn unknowns_that_do_not_matter_do_not_widen() {
    let (_, _, rows) = synthetic(5, 4000);
    let outcomes: Vec<bool> = (0..4000).map(|k| k % 5 != 0).collect();
    let answer = survival(3200, 4000, &vec![0.0; 4000], &outcomes, &rows, 2);
    assert!(answer.interval.width() < 2.5 * answer.chance.width(), "{answer:?}");
}

#[test]
fn what_decides_alone_leaves_nothing_certain() {
    // No chance at all: a battery above its middle size less a standard deviation carries every outage, one below none. An
    // owner who does not know the size knows next to nothing, however many trials agree that it is 84 %.
    let (_, _, rows) = synthetic(4, 4000);
    let outcomes: Vec<bool> = rows.chunks(2).map(|z| z[0] > -1.0).collect();
    let survived = outcomes.iter().filter(|&&s| s).count() as u64;
    let answer = survival(survived, 4000, &vec![0.0; 4000], &outcomes, &rows, 2);
    assert!(answer.interval.low < 0.01 && answer.interval.high > 0.99, "{answer:?}");
    assert!(answer.shares[0].is_some_and(|share| share > 0.95), "{answer:?}");
}

#[test]
fn a_slope_too_steep_to_settle_is_not_taken_for_none() {
    // Survival has probability Φ(80 (z + 1)): one in a hundred trials is not decided by z, and scoring often fails. 95 % of
    // the possible answers lie within Φ(80 ± 157).
    for seed in 0..40 {
        let (mut outcomes, mut rows) = (Vec::new(), Vec::new());
        for trial in 0..1000 {
            let mut rng = Stream::new(seed, trial, Purpose::Station);
            let z = rng.normal();
            outcomes.push(80.0 * (z + 1.0) + rng.normal() > 0.0);
            rows.push(z as f32);
        }
        let survived = outcomes.iter().filter(|&&s| s).count() as u64;
        let answer = survival(survived, 1000, &vec![0.0; 1000], &outcomes, &rows, 1);
        assert!(answer.interval.low < 0.01 && answer.interval.high > 0.99, "seed {seed}: {answer:?}");
    }
}

#[test]
fn no_share_is_told_of_a_doubt_that_is_noise() {
    // Survival has nothing to do with either quantity: whatever the chance, neither is named, nor all of the doubt.
    for seed in 0..40 {
        let (_, _, rows) = synthetic(seed, 2000);
        let outcomes: Vec<bool> = (0..2000).map(|k| k % 7 != 0).collect();
        let survived = outcomes.iter().filter(|&&s| s).count() as u64;
        let answer = survival(survived, 2000, &vec![0.0; 2000], &outcomes, &rows, 2);
        assert!(answer.shares.is_empty(), "seed {seed}: {answer:?}");
    }
}

#[test]
fn fewer_trials_never_lose_the_part_of_what_is_not_known() {
    // Ten survivors of twenty: what is not known is read off the trials beside them, and the range is no narrower than
    // that of all of them.
    let (survived, outcomes, rows) = synthetic(3, 2000);
    let margins = vec![0.0; 2000];
    let all = survival(survived, 2000, &margins, &outcomes, &rows, 2);
    for few in [10, 100, 400] {
        let survived = outcomes[..few].iter().filter(|&&s| s).count() as u64;
        let answer = survival(survived, few as u64, &margins, &outcomes, &rows, 2);
        assert!(answer.interval.width() > 0.97 * all.interval.width(), "{few}: {answer:?}, all: {all:?}");
    }
}

#[test]
fn one_sided_counts_fall_back_on_the_exact_interval() {
    let outcomes = vec![true; 500];
    let answer = survival(500, 500, &vec![1.0; 500], &outcomes, &vec![0.5; 500], 1);
    assert_eq!(answer.interval.high, 1.0);
    // Wilson's n / (n + z²) lies below the exact 0.025^(1/n) here; the lower of the two is kept.
    assert!((answer.interval.low - 500.0 / (500.0 + Z_95 * Z_95)).abs() < 1e-12);
    assert!(answer.interval.low < math::pow(0.025, 1.0 / 500.0));
}

#[test]
fn rare_failures_are_widened_by_what_moves_the_margin() {
    // The margin is 2.6 + 0.8 z + noise of 1: the unknown z moves it. Failures (margin below 0) are rare, about 2 %
    // averaged over z; if z were known to be -1.96 they would be Φ(-(2.6 - 1.57)) = 15 %.
    let n = 2000;
    let (mut margins, mut outcomes, mut rows) = (Vec::new(), Vec::new(), Vec::new());
    for trial in 0..n {
        let mut rng = Stream::new(9, trial, Purpose::Station);
        let z = rng.normal();
        let margin = 2.6 + 0.8 * z + rng.normal();
        margins.push(margin as f32);
        outcomes.push(margin > 0.0);
        rows.push(z as f32);
    }
    let survived = outcomes.iter().filter(|&&s| s).count() as u64;
    assert!(n - survived < FEWEST, "the case is meant to be rare: {survived}");
    let answer = survival(survived, n, &margins, &outcomes, &rows, 1);
    let known_bad = normal_cdf(2.6 - 0.8 * Z_95);
    assert!((answer.interval.low - known_bad).abs() < 0.05, "{answer:?}, expected from {known_bad}");
    assert!(answer.interval.low < answer.chance.low - 0.05);
}

/// Trials from a model that says with which probability a trial survives whose one unknown quantity came out at z.
fn by_a_model(seed: u64, n: u64, model: impl Fn(f64) -> f64) -> Survival {
    let (mut outcomes, mut rows) = (Vec::new(), Vec::new());
    for trial in 0..n {
        let mut rng = Stream::new(seed, trial, Purpose::Station);
        let (z, beside) = (rng.normal(), rng.normal());
        outcomes.push(rng.uniform() < model(z));
        rows.extend([z as f32, beside as f32]);
    }
    let survived = outcomes.iter().filter(|&&s| s).count() as u64;
    survival(survived, n, &vec![0.0; outcomes.len()], &outcomes, &rows, 2)
}

#[test]
fn where_no_line_fits_the_range_ends_where_the_trials_do() {
    // A battery whose z is below -1.2 fails in any weather; above it four outages of five are ridden through. 95 % of the
    // possible answers, from the 2.5 % to the 97.5 % point of z, lie within 0 and 80 %. And upside down.
    for seed in 0..20 {
        let answer = by_a_model(seed, 10_000, |z| if z < -1.2 { 0.0 } else { 0.8 });
        assert!(answer.interval.low < 0.01, "seed {seed}: {answer:?}");
        // 500 trials: a standard error of 1.8 %.
        assert!((answer.interval.high - 0.8).abs() < 0.06, "seed {seed}: {answer:?}");
        let answer = by_a_model(seed, 10_000, |z| if z < 1.2 { 0.2 } else { 1.0 });
        assert!((answer.interval.low - 0.2).abs() < 0.06 && answer.interval.high > 0.99, "seed {seed}: {answer:?}");
        // What is held at its middle leaves the weather alone.
        let held = answer.held[0].expect("a share");
        assert!((held.probability - 0.2).abs() < 0.06 && held.interval.width() < 0.15, "seed {seed}: {held:?}");
    }
}

#[test]
fn more_never_lowers_the_end_of_a_range() {
    // The same battery with more in it: what it carries at every z it carries more surely. With the lesser start a line has its
    // lower end above 0 where the trials have none, and with the greater one at 0, where the trials have it too.
    for seed in 0..20 {
        let less = by_a_model(seed, 10_000, |z| if z < -1.3 { 0.0 } else { 0.8 });
        let more = by_a_model(seed, 10_000, |z| if z < -1.3 { 0.0 } else { 1.0 });
        assert!(more.probability > less.probability, "seed {seed}");
        assert!(more.interval.low >= less.interval.low - 1e-3, "seed {seed}: {less:?}, with more {more:?}");
    }
}

#[test]
fn trials_that_a_line_holds_for_move_its_ends_little() {
    // Trials drawn from the line itself seem to contradict it now and then, and are believed a little.
    let end = |side: f64| normal_cdf(0.4 + side * Z_95 * 0.5);
    for seed in 0..100 {
        let answer = by_a_model(seed, 2_000, |z| normal_cdf(0.4 + 0.5 * z));
        assert!((answer.interval.low - end(-1.0)).abs() < 0.16, "seed {seed}: {answer:?}");
        assert!((answer.interval.high - end(1.0)).abs() < 0.10, "seed {seed}: {answer:?}");
    }
}
