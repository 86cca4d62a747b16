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

/// Where too few survived or failed to be asked, the trials are split at another margin: so that a twentieth lies on the rare side, and
/// twenty trials at least on either. Six hundred trials with margins of 0 to 599: of five survivors the best thirty are told from the
/// rest, of five failures the worst thirty-one.
#[test]
fn where_one_side_is_rare_a_twentieth_is_told_from_the_rest() {
    let trials = |n: usize, survived: usize| {
        // In no order.
        let margins: Vec<f32> = (0..n).map(|k| ((k * 7) % n) as f32).collect();
        let outcomes: Vec<bool> = margins.iter().map(|&m| m as usize + survived >= n).collect();
        (split(&outcomes, &margins), outcomes, margins)
    };
    let above = |n: usize, survived: usize| {
        let (split, _, margins) = trials(n, survived);
        split.map(|split| {
            let good: Vec<f32> = margins.iter().zip(&split).filter(|(_, good)| **good).map(|(m, _)| *m).collect();
            let least = good.iter().copied().fold(f32::INFINITY, f32::min);
            // All of the best and no other.
            assert_eq!(good.len(), n - least as usize);
            good.len()
        })
    };
    assert_eq!((above(600, 5), above(600, 595)), (Some(30), Some(600 - 31)));
    assert_eq!((above(401, 5), above(398, 5)), (Some(20), None));
    assert_eq!((above(381, 376), above(379, 374)), (Some(381 - 20), None));
    // Fifty on either side are asked themselves; with forty-nine on one they are not.
    for (survived, itself) in [(50, true), (49, false), (550, true), (551, false)] {
        let (split, outcomes, _) = trials(600, survived);
        assert_eq!(split == Some(outcomes), itself, "{survived} of 600");
    }
    // Margins that are all alike tell nothing apart, and no trials nothing at all.
    assert_eq!(split(&[true; 600], &[0.4; 600]), None);
    assert_eq!(split(&[], &[]), None);
}

/// Φ(Φ⁻¹(0.5) + Φ⁻¹(0.6) - Φ⁻¹(0.4)) = 0.69382 and Φ(Φ⁻¹(0.8) + Φ⁻¹(0.6) - Φ⁻¹(0.7)) = 0.71585 (tables of the normal distribution); there
/// and back is where one was, and what is sure stays so.
#[test]
fn a_probability_moves_by_normal_scores() {
    assert!((moved(0.5, 0.4, 0.6) - 0.693_82).abs() < 1e-4, "{}", moved(0.5, 0.4, 0.6));
    assert!((moved(0.8, 0.7, 0.6) - 0.715_85).abs() < 1e-4, "{}", moved(0.8, 0.7, 0.6));
    assert!((moved(moved(0.93, 0.2, 0.7), 0.7, 0.2) - 0.93).abs() < 1e-9);
    assert!(moved(1.0, 0.5, 0.4) > 1.0 - 1e-9 && moved(0.0, 0.4, 0.5) < 1e-9);
    assert!((moved(0.3, 1.0, 1.0) - 0.3).abs() < 1e-9);
}

/// Around a middle each end is away by the root of the squares of what chance and what is not known reach: 3 and 4 are 5, on the other side
/// 5 and 12 are 13 (in hundredths); chance is counted from its own centre.
#[test]
fn chance_and_what_is_not_known_owe_nothing_to_each_other() {
    let ends = around(0.5, [0.5 - 0.03, 0.5 + 0.05], 0.2, [0.04, 0.12]);
    assert!((ends.low - normal_cdf(0.2 - 0.05)).abs() < 1e-12, "{ends:?}");
    assert!((ends.high - normal_cdf(0.2 + 0.13)).abs() < 1e-12, "{ends:?}");
}

/// With fifty survivors and fifty failures the interval of chance is Wilson's; with fewer of either it is the wider of that and the exact
/// one of Clopper & Pearson (tests/data/intervals_95.csv holds both).
#[test]
fn the_interval_of_chance_is_the_exact_one_where_one_side_is_rare() {
    let of = |survived: u64| survival(survived, 1000, &[], &[], &[], 0).chance;
    for survived in [50, 51, 949, 950] {
        assert_eq!(of(survived), wilson(survived, 1000, Z_95));
    }
    for survived in [3, 49, 951, 990] {
        let (exact, plain) = (clopper_pearson(survived, 1000, 0.05), wilson(survived, 1000, Z_95));
        assert_eq!((of(survived).low, of(survived).high), (exact.low.min(plain.low), exact.high.max(plain.high)));
        assert!(of(survived) != plain, "{survived}");
    }
}

/// Chance alone is said where something is not known and moves the trials, and they cannot tell what it does; not where nothing is unknown,
/// nor where all trials end alike to the last bit.
#[test]
fn chance_alone_is_said_where_trials_cannot_tell() {
    let of = |margins: &[f32], width: usize| {
        let rows = vec![0.5; margins.len() * width];
        let outcomes = vec![true; margins.len()];
        let n = margins.len() as u64;
        survival(n, n, margins, &outcomes, &rows, width).chance_alone
    };
    let (alike, moving) = (vec![0.4; 30], (0..30).map(|k| 0.4 + 0.01 * k as f32).collect::<Vec<_>>());
    assert_eq!((of(&moving, 2), of(&moving, 0), of(&alike, 2)), (true, false, false));
    // Where they can tell, it is no longer chance alone.
    let (survived, outcomes, rows) = synthetic(3, 2_000);
    assert!(!survival(survived, 2_000, &vec![0.0; 2_000], &outcomes, &rows, 2).chance_alone);
}

/// Rows stand for as many of the first trials as there are: those beyond say nothing of what is not known.
#[test]
fn trials_without_their_numbers_say_nothing_of_what_is_not_known() {
    let (_, outcomes, rows) = synthetic(3, 3_000);
    let margins = vec![0.0; 3_000];
    let of = |outcomes: &[bool], rows: &[f32], margins: &[f32]| survival(2_000, 3_000, margins, outcomes, rows, 2);
    let short = of(&outcomes[..2_000], &rows[..4_000], &margins[..2_000]);
    assert!(short.interval.width() > 1.5 * short.chance.width());
    assert_eq!(of(&outcomes, &rows[..4_000], &margins), short);
    assert_eq!(of(&outcomes[..2_000], &rows, &margins), short);
    assert_eq!(of(&outcomes, &rows, &margins[..2_000]), short);
}
