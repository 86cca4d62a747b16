//! Long runs of statistics and laws, left out of the ordinary run:
//!
//! `cargo test --release --test engine long -- --ignored --nocapture --test-threads 1`
//!
//! `LONG_SHARE` scales how much is run (1 by default; 0.1 is a tenth). What they print stands in DEVELOPERS.md.

use statrs::distribution::{Binomial, Discrete};
use tideover::engine::Plan;
use tideover::random::{Purpose, Stream};
use tideover::study::rare::rare_failure;
use tideover::trials::interval::{Z_95, wilson};
use tideover::trials::run::Quiet;
use tideover::trials::{Settings, Tally, run};

use crate::common::{plan_of, scenario_of};
use crate::found::targets;
use crate::laws;

/// So many, scaled.
fn many(full: u64) -> u64 {
    let share = std::env::var("LONG_SHARE").ok().and_then(|text| text.parse::<f64>().ok()).unwrap_or(1.0);
    ((full as f64 * share) as u64).max(10)
}

fn tally(plan: &Plan, seed: u64, trials: u64) -> Tally {
    run(std::slice::from_ref(plan), &Settings { seed, trials, precision: None }, &Quiet).pop().expect("one plan")
}

fn storm() -> Plan {
    plan_of(&scenario_of(include_str!("../../scenarios/winter-storm.toml")), 60)
}

/// The storm's kit with its battery and all that hangs on it so many times as large.
fn scaled(plan: &Plan, scale: f64) -> Plan {
    let mut plan = plan.clone();
    plan.kit.scale *= scale;
    plan
}

/// The storm with its battery between two scales, halved so many times towards the least that is large enough.
fn halved(plan: &Plan, (mut low, mut high): (f64, f64), times: u32, too_small: impl Fn(&Plan) -> bool) -> Plan {
    for _ in 0..times {
        let middle = (low * high).sqrt();
        if too_small(&scaled(plan, middle)) {
            low = middle;
        } else {
            high = middle;
        }
    }
    scaled(plan, (low * high).sqrt())
}

/// The storm with a battery that survives about so often.
fn surviving(plan: &Plan, share: f64) -> Plan {
    halved(plan, (0.02, 40.0), 14, |plan| {
        let found = tally(plan, 99, 4_000);
        (found.survived as f64) < share * found.trials as f64
    })
}

/// The interval of chance holds the truth as often as the binomial distribution says that Wilson's interval does (Wilson 1927),
/// and survivals of seeds scatter as binomial counts do, so that trials of one seed hang together with none of another's.
#[test]
#[ignore = "minutes; see the head of the file"]
fn the_interval_of_chance_holds_what_it_says() {
    let storm = storm();
    let (seeds, trials) = (many(1_000), 2_000_u64);
    for share in [0.005, 0.05, 0.5, 0.95, 0.995] {
        let plan = surviving(&storm, share);
        let counts: Vec<u64> = (0..seeds).map(|seed| tally(&plan, 1_000 + seed, trials).survived).collect();
        // All seeds together: a thousand times as many trials as each interval has.
        let truth = counts.iter().sum::<u64>() as f64 / (seeds * trials) as f64;
        let held = |count: u64| {
            let interval = wilson(count, trials, Z_95);
            interval.low <= truth && truth <= interval.high
        };
        let found = counts.iter().filter(|count| held(**count)).count() as f64 / seeds as f64;
        let binomial = Binomial::new(truth, trials).expect("a share");
        let wanted: f64 = (0..=trials).filter(|count| held(*count)).map(|count| binomial.pmf(count)).sum();
        let sd = (wanted * (1.0 - wanted) / seeds as f64).sqrt();
        // Variance of the counts over that of a binomial number: chi-squared over its degrees of freedom.
        let spread = counts.iter().map(|c| (*c as f64 - trials as f64 * truth).powi(2)).sum::<f64>()
            / ((seeds - 1) as f64 * trials as f64 * truth * (1.0 - truth));
        // Neighbouring seeds.
        let z: Vec<f64> = counts.iter().map(|c| *c as f64 - trials as f64 * truth).collect();
        let next = z.windows(2).map(|pair| pair[0] * pair[1]).sum::<f64>() / z.iter().map(|z| z * z).sum::<f64>();
        println!(
            "survival {truth:.5}: {:.1} % of {seeds} intervals hold it, {:.1} ± {:.1} % wanted; spread {spread:.3}; next seeds {next:+.3}",
            100.0 * found,
            100.0 * wanted,
            200.0 * sd
        );
        // Three and a half standard deviations, for five shares and three questions: one run in two hundred is wrong.
        let room = 3.5;
        assert!((found - wanted).abs() <= room * sd + 1e-9);
        assert!((spread - 1.0).abs() < room * (2.0 / seeds as f64).sqrt());
        assert!(next.abs() < room / (seeds as f64).sqrt());
    }
}

/// Trials that follow each other, and those ten and 64 apart (the width of the lanes), have nothing in common.
#[test]
#[ignore = "minutes; see the head of the file"]
fn trials_have_nothing_in_common() {
    let plan = surviving(&storm(), 0.5);
    let found = tally(&plan, 5, many(200_000));
    let mean = found.survived as f64 / found.trials as f64;
    for apart in [1, 10, 64, 2_000] {
        let z: Vec<f64> = found.survival.iter().map(|survived| f64::from(u8::from(*survived)) - mean).collect();
        let common = z.iter().zip(&z[apart.min(z.len() - 1)..]).map(|(a, b)| a * b).sum::<f64>()
            / z.iter().map(|z| z * z).sum::<f64>();
        println!("trials {apart} apart: correlation {common:+.5} of {}", z.len());
        assert!(common.abs() < 3.5 / (z.len() as f64).sqrt());
    }
}

/// What `--rare` says against plain trials of other seeds, at failures of one in a thousand to one in a million, on two demos with
/// batteries that fail so seldom.
#[test]
#[ignore = "minutes; see the head of the file"]
fn rare_failures_are_what_plain_trials_count() {
    let night = scenario_of(include_str!("../../scenarios/device-night.toml"));
    for (kit, plan) in [("storm", storm()), ("device", plan_of(&night, 60))] {
        for (failure, trials) in [(1e-3, 10_000_000), (1e-4, 10_000_000), (1e-5, 100_000_000), (1e-6, 100_000_000)] {
            let plan = failing(&plan, failure);
            let settings = Settings { seed: 1, trials: 10_000, precision: None };
            let rare = rare_failure(&plan, &settings, &Quiet).expect("an answer");
            let plain = tally(&plan, 77, many(trials));
            let failed = plain.trials - plain.survived;
            let counted = wilson(failed, plain.trials, Z_95);
            println!(
                "{kit}: failure by leaning {:.2e} ({:.2e} to {:.2e}), by {} plain trials {:.2e} ({:.2e} to {:.2e})",
                rare.failure,
                rare.interval.low,
                rare.interval.high,
                plain.trials,
                failed as f64 / plain.trials as f64,
                counted.low,
                counted.high
            );
            // Both are 95 % intervals: apart in one of 180 comparisons (twice 1.96 over the square root of two).
            assert!(rare.interval.low <= counted.high && counted.low <= rare.interval.high);
        }
    }
}

/// A plan's kit with a battery that fails about so seldom, by the leaning trials where plain ones see too few failures.
fn failing(plan: &Plan, failure: f64) -> Plan {
    let settings = Settings { seed: 98, trials: 20_000, precision: None };
    halved(plan, (0.3, 40.0), 8, |plan| rare_failure(plan, &settings, &Quiet).expect("an answer").failure > failure)
}

/// Shows the scenario that a panic came of.
struct ToldIfItFails<'b>(&'b [u8]);

impl Drop for ToldIfItFails<'_> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            println!("{:?}\n{}", self.0, targets::built(self.0));
        }
    }
}

/// Made scenarios by the ten thousand: every account closes, every probability lies in its interval, nothing panics
/// (`hostile::depth`).
#[test]
#[ignore = "minutes; see the head of the file"]
fn every_account_of_made_scenarios_closes() {
    let mut reached = [0_u64; 3];
    let cases = many(100_000);
    for case in 0..cases {
        let mut rng = Stream::new(17, case, Purpose::Outage);
        let bytes: Vec<u8> =
            (0..(2.0 + 30.0 * rng.uniform()) as usize).map(|_| (256.0 * rng.uniform()) as u8).collect();
        let _told = ToldIfItFails(&bytes);
        reached[targets::depth(&bytes) as usize] += 1;
    }
    println!("{cases} made scenarios: refused {}, opened {}, answered {}", reached[0], reached[1], reached[2]);
    assert!(reached[2] * 4 > cases);
}

/// More battery, more panels and less load lose no trial of any made kit.
#[test]
#[ignore = "minutes; see the head of the file"]
fn more_to_live_on_loses_no_trial_of_many_kits() {
    laws::hold(many(3_000), 64);
}

/// More battery never loses a trial that a smaller one survived: the storm at ever larger sizes, trial by trial.
#[test]
#[ignore = "minutes; see the head of the file"]
fn more_battery_never_loses_a_trial() {
    let storm = storm();
    let trials = many(50_000);
    let mut before: Option<Tally> = None;
    for step in 0..12 {
        let scale = 0.3 * 1.3_f64.powi(step);
        let now = tally(&scaled(&storm, scale), 3, trials);
        if let Some(before) = &before {
            let lost = before.survival.iter().zip(&now.survival).filter(|(before, now)| **before && !**now).count();
            println!("{scale:.2} of the battery: {} of {trials} survive, {lost} lost", now.survived);
            assert_eq!(lost, 0, "at {scale} of the battery");
        }
        before = Some(now);
    }
}
