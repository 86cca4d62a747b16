//! The engine's own step, with an ideal kit, against toy batteries whose answer is known exactly.
//!
//! Source of the figures: tests/data/exact_chain.toml and exact_chain_more.toml (exact rational arithmetic by forward
//! recursion; the closed `run` cases by the recursion of Feller, vol. 1, XIII.7). Two ways:
//! every history weighed by its chance (the engine must agree to 1e-12), and 200,000 drawn histories (the exact
//! survival must lie in the 99.9 % Wilson interval: a false alarm once in 1,000 cases by design, seeds are fixed).

use std::collections::BTreeMap;

use tideover::engine::{Demand, Ledger, Rig, Supply, step};
use tideover::random::{Purpose, Stream};
use tideover::trials::rare::{Effort, Leaning, Trial, rare};
use tideover::trials::wilson;

use crate::values::{number, numbers};

/// A sky whose state moves from day to day, and what each state brings.
struct Sky {
    start: Vec<f64>,
    moves: Vec<Vec<f64>>,
    income: Vec<Vec<(f64, f64)>>,
}

/// One toy battery: in each step of a day some multiple of the day's income comes in and some load is taken.
struct Case {
    name: String,
    kind: &'static str,
    capacity: f64,
    start: f64,
    days: usize,
    /// (income factor, load) by step.
    day: Vec<(f64, f64)>,
    sky: Sky,
    survival: f64,
    unmet: f64,
    after_each_day: Option<Vec<f64>>,
    final_level: Option<f64>,
}

fn pairs(table: &toml::Table, values: &str, chances: &str) -> Vec<(f64, f64)> {
    numbers(&table[values]).into_iter().zip(numbers(&table[chances])).collect()
}

fn cases() -> Vec<Case> {
    let mut cases = Vec::new();
    for text in [include_str!("../data/exact_chain.toml"), include_str!("../data/exact_chain_more.toml")] {
        let file: toml::Table = text.parse().expect("the data file is TOML");
        for (kind, list) in &file {
            for entry in list.as_array().expect("a list of tables") {
                let t = entry.as_table().expect("a table");
                let load = |key: &str| number(&t[key]);
                let (kind, day): (&'static str, Vec<(f64, f64)>) = match kind.as_str() {
                    "chain" => ("chain", vec![(1.0, load("load"))]),
                    "run" => ("run", vec![(1.0, load("load"))]),
                    "spells" => ("spells", vec![(1.0, load("load"))]),
                    // All income in one step, all load in a later one.
                    "ceiling_first" => ("ceiling_first", vec![(1.0, 0.0), (0.0, load("load"))]),
                    "hourly" => {
                        let sunny = numbers(&t["sunny_hours"]);
                        let hours = (0..24)
                            .map(|h| (f64::from(u8::from(sunny.contains(&f64::from(h)))), load("load_per_hour")));
                        ("hourly", hours.collect())
                    }
                    other => panic!("unknown kind {other}"),
                };
                let sky = match kind {
                    "spells" => Sky {
                        start: numbers(&t["start_shares"]),
                        moves: t["stay_or_move"]
                            .as_array()
                            .unwrap()
                            .iter()
                            .map(|row| row.as_array().unwrap().iter().map(number).collect())
                            .collect(),
                        income: vec![
                            pairs(t, "bright_income", "bright_chance"),
                            pairs(t, "dark_income", "dark_chance"),
                        ],
                    },
                    "hourly" => Sky {
                        start: vec![1.0],
                        moves: vec![vec![1.0]],
                        income: vec![pairs(t, "units_per_sunny_hour", "chance")],
                    },
                    _ => Sky { start: vec![1.0], moves: vec![vec![1.0]], income: vec![pairs(t, "income", "chance")] },
                };
                cases.push(Case {
                    name: t["name"].as_str().unwrap().to_string(),
                    kind,
                    capacity: number(&t["capacity"]),
                    start: number(&t["start"]),
                    days: number(&t["days"]) as usize,
                    day,
                    sky,
                    survival: number(&t["exact_survival"]),
                    unmet: number(&t["exact_expected_unmet"]),
                    after_each_day: t
                        .contains_key("survival_after_each_day")
                        .then(|| numbers(&t["survival_after_each_day"])),
                    final_level: t
                        .contains_key("exact_expected_final_level")
                        .then(|| number(&t["exact_expected_final_level"])),
                });
            }
        }
    }
    cases
}

/// One day through the engine: the new level and what was missed.
fn day(case: &Case, rig: &Rig, level: f64, income: f64) -> (f64, f64) {
    let (mut level, mut missed) = (level, 0.0);
    for &(factor, load) in &case.day {
        let mut demand = Demand::default();
        demand.watts[0][1] = load;
        demand.plugged[0][1] = load > 0.0;
        let mut ledger = Ledger::default();
        let balance = step(rig, &rig.limits(), level, Supply::sun(factor * income), &demand, 1.0, &mut ledger);
        level = balance.stored_wh;
        missed += load * (1.0 - balance.served[0][1]);
    }
    (level, missed)
}

/// Levels in whole units as keys: the toy batteries hold whole units, so rounding hides nothing.
fn key(level: f64) -> i64 {
    let whole = level.round();
    assert!((level - whole).abs() < 1e-9, "{level} is not a whole number of units");
    whole as i64
}

#[test]
fn every_history_weighed_by_its_chance_gives_the_exact_answer() {
    let cases = cases();
    assert_eq!(cases.len(), 37, "cases read");
    for case in &cases {
        let rig = Rig::ideal(case.capacity, case.start);
        // Probability of (sky state, level, no failure so far).
        let mut now: BTreeMap<(usize, i64, bool), f64> = BTreeMap::new();
        for (state, &p) in case.sky.start.iter().enumerate() {
            now.insert((state, key(case.start), true), p);
        }
        let mut unmet = 0.0;
        for today in 0..case.days {
            let mut next = BTreeMap::new();
            for (&(state, level, alive), &p) in &now {
                for &(income, chance) in &case.sky.income[state] {
                    let (level, missed) = day(case, &rig, level as f64, income);
                    unmet += p * chance * missed;
                    for (to, &moves) in case.sky.moves[state].iter().enumerate() {
                        *next.entry((to, key(level), alive && missed < 1e-9)).or_insert(0.0) += p * chance * moves;
                    }
                }
            }
            now = next;
            let survival: f64 = now.iter().filter(|((_, _, alive), _)| *alive).map(|(_, p)| p).sum();
            if let Some(expected) = &case.after_each_day {
                assert!(
                    (survival - expected[today]).abs() < 1e-11,
                    "{} {} day {today}: {survival}",
                    case.kind,
                    case.name
                );
            }
        }
        let survival: f64 = now.iter().filter(|((_, _, alive), _)| *alive).map(|(_, p)| p).sum();
        let level: f64 = now.iter().map(|((_, level, _), p)| *level as f64 * p).sum();
        // The tables print 12 digits or more; sums of up to some thousand terms round to about 1e-13.
        assert!(
            (survival - case.survival).abs() < 1e-12,
            "{} {}: {survival}, exact {}",
            case.kind,
            case.name,
            case.survival
        );
        assert!(
            (unmet - case.unmet).abs() < 1e-10 * case.unmet.max(1.0),
            "{} {}: {unmet}, exact {}",
            case.kind,
            case.name,
            case.unmet
        );
        if let Some(expected) = case.final_level {
            assert!((level - expected).abs() < 1e-9, "{} {}: level {level}, exact {expected}", case.kind, case.name);
        }
    }
}

fn pick(rng: &mut Stream, chances: impl Iterator<Item = f64>) -> usize {
    let (u, mut sum, mut last) = (rng.uniform(), 0.0, 0);
    for (k, chance) in chances.enumerate() {
        last = k;
        sum += chance;
        if u < sum {
            break;
        }
    }
    last
}

#[test]
fn drawn_histories_agree_within_their_interval() {
    const TRIALS: u64 = 200_000;
    /// 99.9 % two-sided point of the normal distribution.
    const Z: f64 = 3.290_526_731_491_7;
    for case in cases().iter().filter(|case| case.kind != "hourly") {
        let rig = Rig::ideal(case.capacity, case.start);
        let mut survived = 0;
        for trial in 0..TRIALS {
            let mut rng = Stream::new(20_260_101, trial, Purpose::Weather);
            let mut state = pick(&mut rng, case.sky.start.iter().copied());
            let (mut level, mut alive) = (case.start, true);
            for _ in 0..case.days {
                let income = case.sky.income[state][pick(&mut rng, case.sky.income[state].iter().map(|i| i.1))].0;
                let missed;
                (level, missed) = day(case, &rig, level, income);
                alive &= missed < 1e-9;
                if case.sky.moves.len() > 1 {
                    state = pick(&mut rng, case.sky.moves[state].iter().copied());
                }
            }
            survived += u64::from(alive);
        }
        let interval = wilson(survived, TRIALS, Z);
        assert!(
            (interval.low..=interval.high).contains(&case.survival),
            "{} {}: {survived} of {TRIALS} survived ({} to {}), exact {}",
            case.kind,
            case.name,
            interval.low,
            interval.high,
            case.survival
        );
    }
}

/// A toy battery whose income hangs on one standard normal number a day, so that it can lean.
struct LeaningChain<'c> {
    case: &'c Case,
    rig: Rig,
    /// Normal scores below which each income is drawn, in the order of the table.
    limits: Vec<f64>,
}

impl Leaning for LeaningChain<'_> {
    fn kinds(&self) -> usize {
        self.case.days
    }

    fn draw(&self, seed: u64, trials: &[u64], lean: &[f64]) -> Vec<Trial> {
        trials.iter().map(|trial| self.trial(seed, *trial, lean)).collect()
    }
}

impl LeaningChain<'_> {
    fn trial(&self, seed: u64, trial: u64, lean: &[f64]) -> Trial {
        let mut rng = Stream::new(seed, trial, Purpose::Weather);
        let (mut level, mut lowest, mut missed) = (self.case.start, self.case.start, 0.0);
        let mut sums = vec![0.0; self.case.days];
        for today in 0..self.case.days {
            let z = rng.normal() + lean[today];
            sums[today] = z;
            let k = self.limits.iter().position(|limit| z <= *limit).unwrap_or(self.limits.len());
            let lost;
            (level, lost) = day(self.case, &self.rig, level, self.case.sky.income[0][k].0);
            missed += lost;
            lowest = lowest.min(level);
        }
        // As the engine's margin: below 0 by what was missed, else the lowest level.
        let margin = if missed > 1e-9 { -missed } else { lowest };
        Trial { margin, sums, counts: vec![1.0; self.case.days] }
    }
}

#[test]
fn rare_failures_are_found_by_leaning_luck_in_far_fewer_trials() {
    use statrs::distribution::{ContinuousCDF, Normal};
    let normal = Normal::new(0.0, 1.0).expect("a distribution");
    const SEEDS: u64 = 24;
    let (mut tried, mut outside) = (0, 0);
    for case in cases().iter().filter(|c| ["chain", "run"].contains(&c.kind)) {
        let failure = 1.0 - case.survival;
        if !(1e-7..=0.05).contains(&failure) {
            continue;
        }
        let incomes = &case.sky.income[0];
        assert!(incomes.windows(2).all(|w| w[0].0 < w[1].0), "{}: incomes rise", case.name);
        let mut sum = 0.0;
        let limits = incomes[..incomes.len() - 1]
            .iter()
            .map(|(_, chance)| {
                sum += chance;
                normal.inverse_cdf(sum)
            })
            .collect();
        let chain = LeaningChain { case, rig: Rig::ideal(case.capacity, case.start), limits };
        // The spread over seeds, not what an estimate says of itself: dark runs anywhere in a month come in many ways, and
        // the estimates that miss most of them look the surest.
        let effort = Effort { plain: 4_000, leaning: 16_000, search: 2_000 };
        let answers: Vec<_> = (1..=SEEDS)
            .map(|seed| rare(&chain, 100 * seed, effort, &tideover::trials::run::Quiet).expect("nobody stops it"))
            .collect();
        let n = SEEDS as f64;
        let mean = answers.iter().map(|a| a.failure).sum::<f64>() / n;
        let variance = answers.iter().map(|a| (a.failure - mean).powi(2)).sum::<f64>() / (n - 1.0);
        let missed = answers.iter().filter(|a| !(a.interval.low..=a.interval.high).contains(&failure)).count();
        let trials = answers.iter().map(|a| a.trials() as f64).sum::<f64>() / n;
        let gain = failure * (1.0 - failure) / variance / trials;
        println!(
            "{:<24} exact {failure:.3e}  mean {mean:.3e} sd {:.1e}  outside {missed} of {SEEDS}  gain {gain:.1}",
            case.name,
            variance.sqrt()
        );
        // Unbiased: five standard errors of the mean are a false alarm once in 1.7 million.
        assert!((mean - failure).abs() < 5.0 * (variance / n).sqrt(), "{}: {mean:e}", case.name);
        // More than as many plain trials would tell where failures are rare, and twenty times as much where they are rarer.
        let least = if failure < 1e-5 { 20.0 } else { 1.0 };
        assert!(failure > 2e-4 || gain > least, "{}: gain {gain}", case.name);
        tried += SEEDS;
        outside += missed as u64;
    }
    assert!(tried >= 6 * SEEDS, "only {tried} estimates");
    // 95 % intervals, on the wide side where the plain trials are few: four standard errors above a twentieth at most.
    let most = 0.05 * tried as f64 + 4.0 * (0.05 * 0.95 * tried as f64).sqrt();
    assert!((outside as f64) < most, "{outside} of {tried} outside their interval");
}
