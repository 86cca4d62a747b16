//! Leaning trials of toys whose every number is known.

use std::sync::atomic::{AtomicU64, Ordering};

use super::*;
use crate::statistics::{normal_cdf, normal_quantile};
use crate::trials::run::Quiet;

/// Of each trial one number of a first kind and two of a second; a third kind is never drawn.
struct Toy {
    /// The numbers of a trial of a stream, without any lean.
    numbers: fn(u64, u64) -> [f64; 3],
    margin: fn([f64; 3]) -> f64,
}

impl Toy {
    fn leaning(&self, seed: u64, trial: u64, lean: &[f64]) -> [f64; 3] {
        let [z, x, y] = (self.numbers)(seed, trial);
        [z + lean[0], x + lean[1], y + lean[1]]
    }
}

impl Leaning for Toy {
    fn kinds(&self) -> usize {
        3
    }

    fn draw(&self, seed: u64, trials: &[u64], lean: &[f64]) -> Vec<Trial> {
        let of = |&trial: &u64| {
            let [z, x, y] = self.leaning(seed, trial, lean);
            Trial { margin: (self.margin)([z, x, y]), sums: vec![z, x + y, 0.0], counts: vec![1.0, 2.0, 0.0] }
        };
        trials.iter().map(of).collect()
    }
}

/// Density of a trial's numbers over that of the same drawn with a lean, by the normal density itself.
fn density_ratio([z, x, y]: [f64; 3], lean: [f64; 2]) -> f64 {
    let density = |v: f64| math::exp(-0.5 * v * v);
    [(z, lean[0]), (x, lean[1]), (y, lean[1])].iter().map(|&(v, lean)| density(v) / density(v - lean)).product()
}

const FIRST: [f64; 10] = [-1.2, 0.3, -0.4, 1.1, 0.7, -0.9, 0.1, 1.6, -0.2, 0.5];
const SECOND: [f64; 10] = [-0.6, 0.4, -0.3, 0.9, -0.1, -0.8, 0.2, 0.6, 0.0, -0.5];

/// The same ten trials whatever the stream.
fn ten(_: u64, trial: u64) -> [f64; 3] {
    let k = (trial % 10) as usize;
    [FIRST[k], SECOND[k], SECOND[(k + 3) % 10]]
}

#[track_caller]
fn assert_near(found: f64, expected: f64, share: f64) {
    assert!((found - expected).abs() <= share * expected.abs(), "{found} for {expected}");
}

/// By hand, as the method says (de Boer et al. 2005): of ten trials that all survive the worst two (margins 0.7 and 0.95) become the
/// lean by their plain mean, -1.05 and -0.125; of ten that lean so three fail, and the lean becomes their mean, each weighed by its
/// density without the lean over that with it.
#[test]
fn the_lean_is_the_weighted_mean_of_the_worst_until_they_fail() {
    let toy = Toy { numbers: ten, margin: |[z, x, y]| 2.0 + z + 0.5 * (x + y) };
    let effort = Effort { plain: 1, leaning: 2, search: 10 };
    let answer = rare(&toy, 5, effort, &Quiet).expect("nobody stops it");
    let leant = [-1.05, -0.125];
    let (mut total, mut means) = (0.0, [0.0; 2]);
    for k in 0..10 {
        let [z, x, y] = toy.leaning(0, k, &leant);
        if 2.0 + z + 0.5 * (x + y) < 0.0 {
            let weight = density_ratio([z, x, y], leant);
            total += weight;
            means[0] += weight * z;
            means[1] += weight * 0.5 * (x + y);
        }
    }
    assert_eq!((answer.search, answer.lean[2]), (20, 0.0));
    for (found, mean) in answer.lean.iter().zip(means) {
        assert_near(*found, mean / total, 1e-12);
    }
}

/// A battery that ends empty and carries all the same has not failed: where the worst tenth are of that kind, the search goes on from
/// them. Four numbers lie below -0.15, by hand (-1.2 - 0.4 - 0.9 - 0.2) / 4 = -0.675 on the mean. Leaning so, the two lowest, -1.875
/// and -1.575, fail.
#[test]
fn trials_that_end_empty_and_survive_lead_on_to_those_that_fail() {
    let margin = |[z, ..]: [f64; 3]| if z < -1.25 { z } else { (z + 0.15).max(0.0) };
    let toy = Toy { numbers: |_, trial| [FIRST[(trial % 10) as usize], 0.0, 0.0], margin };
    let answer = rare(&toy, 5, Effort { plain: 1, leaning: 2, search: 10 }, &Quiet).expect("nobody stops it");
    let [a, b] = [-1.875, -1.575].map(|z| density_ratio([z, 0.0, 0.0], [-0.675, 0.0]));
    assert_eq!(answer.search, 20);
    assert_near(answer.lean[0], (-1.875 * a - 1.575 * b) / (a + b), 1e-12);
}

/// No lean goes beyond three standard deviations, either way, however far failing is.
#[test]
fn no_lean_goes_too_far() {
    for side in [-1.0, 1.0] {
        let margin = if side < 0.0 { |[z, ..]: [f64; 3]| 9.0 + z } else { |[z, ..]: [f64; 3]| 9.0 - z };
        let toy = Toy { numbers: ten, margin };
        let answer = rare(&toy, 5, Effort { plain: 3, leaning: 2, search: 10 }, &Quiet).expect("nobody stops it");
        assert_eq!((answer.lean[0], answer.search), (3.0 * side, 80), "{answer:?}");
        // Nothing failed: 0, up to what a count of none allows, -ln 0.025 of the three plain trials (Poisson), which is more than all.
        assert_eq!((answer.failure, answer.interval.low, answer.interval.high), (0.0, 0.0, 1.0));
        assert_eq!((answer.gain, answer.plain_failures, answer.leaning_failures), (0.0, 0, 0));
    }
}

/// Numbers that differ from stream to stream.
fn of_stream(seed: u64, trial: u64) -> [f64; 3] {
    ten(0, 3 * trial + 7 * seed)
}

/// By hand: every failure weighs one over the number like it that all trials expect together, `Σ n q(x) / p(x)` (balance heuristic,
/// Veach & Guibas 1995), the plain ones, half of the leaning ones with half the lean and half with the whole of it. The sum is the
/// estimate; plain trials that tell as much are `p (1 - p) / Σ w²`; the greatest weight is that of one plain trial.
#[test]
fn every_failure_weighs_one_over_those_that_all_trials_expect() {
    let toy = Toy { numbers: of_stream, margin: |[z, x, y]| 0.9 + z + 0.5 * (x + y) };
    let effort = Effort { plain: 20, leaning: 14, search: 10 };
    let answer = rare(&toy, 40, effort, &Quiet).expect("nobody stops it");
    let lean = [answer.lean[0], answer.lean[1]];
    assert!(lean[0] < -0.3, "{answer:?}");
    let half = lean.map(|lean| 0.5 * lean);
    let weight = |x: [f64; 3]| 1.0 / (20.0 + 7.0 / density_ratio(x, half) + 7.0 / density_ratio(x, lean));
    let mut seen = [Vec::new(), Vec::new()];
    for trial in 0..20 {
        let x = toy.leaning(40, trial, &[0.0; 3]);
        if (toy.margin)(x) < 0.0 {
            seen[0].push(weight(x));
        }
    }
    for trial in 0..14 {
        // Streams 41 to 48 are the search's.
        let x = toy.leaning(49, trial, if trial % 2 == 0 { &half } else { &lean });
        if (toy.margin)(x) < 0.0 {
            seen[1].push(weight(x));
        }
    }
    let counted = [answer.plain_failures, answer.leaning_failures];
    assert_eq!(counted, [seen[0].len() as u64, seen[1].len() as u64]);
    assert!(counted[0] > 0 && counted[1] > 1, "{answer:?}");
    let failure: f64 = seen.iter().flatten().sum();
    let squares: f64 = seen.iter().flatten().map(|w| w * w).sum();
    assert_near(answer.failure, failure, 1e-12);
    let interval = weighted_sum(failure, squares, 1.0 / 20.0);
    assert!(interval.high < 1.0, "{interval:?}");
    assert_near(answer.interval.low, interval.low, 1e-9);
    assert_near(answer.interval.high, interval.high, 1e-9);
    assert_eq!((answer.plain, answer.leaning, answer.trials()), (20, 14, 34 + answer.search));
    assert_near(answer.gain, failure * (1.0 - failure) / squares / answer.trials() as f64, 1e-12);
}

/// Without leaning trials the estimate is the share that failed: four of ten here, and nothing is searched. Where all of few failed a
/// count's upper end is above 1, which no probability is.
#[test]
fn plain_trials_alone_are_counted() {
    let toy = |margin| Toy { numbers: ten, margin };
    let effort = Effort { plain: 10, leaning: 0, search: 10 };
    let answer = rare(&toy(|[z, ..]| z), 5, effort, &Quiet).expect("nobody stops it");
    assert_near(answer.failure, 0.4, 1e-12);
    assert_eq!((answer.search, answer.trials(), answer.leaning_failures), (0, 10, 0));
    // As narrow as what it is.
    assert_near(answer.gain, 0.4 * 0.6 / (4.0 * 0.01) / 10.0, 1e-12);
    // Exact ends of a Poisson count of four: 1.0899 and 10.2416 (tables of Pearson & Hartley, from memory).
    assert_near(answer.interval.low, 0.108_99, 1e-4);
    assert_eq!(answer.interval.high, 1.0);
    let many = rare(&toy(|[z, ..]| z), 5, Effort { plain: 20, ..effort }, &Quiet).expect("nobody stops it");
    // Eight of twenty: 3.4538 and 15.7632.
    assert_near(many.interval.low, 3.4538 / 20.0, 1e-4);
    assert_near(many.interval.high, 15.7632 / 20.0, 1e-4);
}

/// Numbers spread evenly over the normal distribution by the golden section.
fn golden(seed: u64, trial: u64) -> [f64; 3] {
    let place = (trial as f64 + 0.5) * 0.618_033_988_749_894_9 + seed as f64 * 0.754_877_666_246_692_7;
    [normal_quantile((place - place.floor()).clamp(1e-12, 1.0 - 1e-12)), 0.0, 0.0]
}

/// A normal number lies below -3 once in 741 (Φ(-3) = 0.0013499, Abramowitz & Stegun 1964, table 26.1). Numbers spread evenly have
/// next to no chance in them: their share in any stretch is off by some log n over n, a part in a hundred of the failures here.
#[test]
fn a_probability_that_is_known_comes_out() {
    let toy = Toy { numbers: golden, margin: |[z, ..]| 3.0 + z };
    for seed in [1, 2, 3] {
        let effort = Effort { plain: 1_000, leaning: 2_000, search: 200 };
        let answer = rare(&toy, seed, effort, &Quiet).expect("nobody stops it");
        assert_near(normal_cdf(-3.0), 0.001_349_9, 1e-4);
        assert_near(answer.failure, 0.001_349_9, 0.02);
        assert!(answer.lean[0] <= -2.9 && [400, 600].contains(&answer.search), "{answer:?}");
    }
}

/// Every trial of a run is drawn, once.
#[test]
fn blocks_hold_every_trial_once() {
    let lengths = |trials: u64| blocks(trials).map(|block| block.len()).collect::<Vec<_>>();
    assert!(lengths(0).is_empty());
    assert_eq!(lengths(7), [7]);
    assert_eq!(lengths(16_000), [16_000]);
    assert_eq!(lengths(33_000), [16_000, 16_000, 1_000]);
    assert!(blocks(33_000).flatten().eq(0..33_000));
}

/// Says stop from one of its askings on.
struct Until {
    asked: AtomicU64,
    most: u64,
}

impl Progress for Until {
    fn done(&self, _: u64) {}
    fn stop(&self) -> bool {
        self.asked.fetch_add(1, Ordering::Relaxed) >= self.most
    }
}

/// Stopped anywhere on the way there is no answer, for half of one would be too low.
#[test]
fn what_was_stopped_has_no_answer() {
    let toy = Toy { numbers: ten, margin: |[z, x, y]| 2.0 + z + 0.5 * (x + y) };
    let effort = Effort { plain: 17_000, leaning: 17_000, search: 10 };
    let stopped_at = |most: u64| {
        let until = Until { asked: AtomicU64::new(0), most };
        let answer = rare(&toy, 5, effort, &until);
        (answer.is_some(), until.asked.load(Ordering::Relaxed))
    };
    let (done, asked) = stopped_at(u64::MAX);
    // After each of two blocks of plain trials, before each of two stages, after what failed is drawn anew, and after each of two
    // leaning blocks.
    assert!(done && asked == 7, "{asked}");
    for most in 0..asked {
        assert_eq!(stopped_at(most), (false, most + 1));
    }
}
