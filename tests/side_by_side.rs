//! Trials side by side come to what they come to one by one, whatever the width of the lanes and the processor's vectors.

use std::collections::BTreeMap;

use tideover::engine::lanes::{Chunks, Sink, Waiting, Width, arrange, covers};
use tideover::engine::ledger::Flow;
use tideover::engine::plan::Sky;
use tideover::engine::{LoadOutcome, Luck, Outcome, Plan, Silent, Workspace};
use tideover::loads::cooler::Food;
use tideover::random::real::Real;
use tideover::scenario::{Source, read};
use tideover::weather::world;

const TRIALS: u64 = 400;

/// Everything about a trial.
#[derive(Debug, Clone, PartialEq)]
struct Trial {
    outcome: Outcome,
    loads: Vec<LoadOutcome>,
    unknowns: Vec<f64>,
    charges: BTreeMap<usize, f64>,
}

#[derive(Default)]
struct Keeper {
    charges: Vec<(usize, u32)>,
    trials: BTreeMap<u64, Trial>,
}

impl Sink for Keeper {
    fn wants_charge(&self, _: usize) -> bool {
        true
    }

    fn charges<const L: usize>(&mut self, _: usize, index: usize, hundredths: &[[u32; L]], column: usize) {
        self.charges.extend(hundredths.iter().enumerate().map(|(k, row)| (index + k, row[column])));
    }

    fn outcome(&mut self, _: usize, trial: &Waiting, outcome: &Outcome, loads: &[LoadOutcome], unknowns: &[f64]) {
        let (outcome, loads, unknowns) = (*outcome, loads.to_vec(), unknowns.to_vec());
        self.trials.insert(trial.luck.trial, Trial { outcome, loads, unknowns, charges: BTreeMap::new() });
    }
}

fn plan(text: &str) -> Result<Plan, String> {
    let (scenario, _, _) = read(&Source::new("test.toml", text)).map_err(|error| format!("{error:?}"))?;
    let climate = world::lookup(scenario.site.latitude_deg, scenario.site.longitude_deg, None);
    let climate = climate.map_err(|error| format!("{error:?}"))?;
    Plan::compile(&scenario, &Sky::Climate(climate), 60).map_err(|error| format!("{error:?}"))
}

fn side_by_side(plan: &Plan, width: Width, plain: bool) -> (Vec<(usize, u32)>, BTreeMap<u64, Trial>) {
    in_precision::<f32>(plan, width, plain)
}

fn in_precision<R: Real>(plan: &Plan, width: Width, plain: bool) -> (Vec<(usize, u32)>, BTreeMap<u64, Trial>) {
    let mut keeper = Keeper::default();
    let waiting: Vec<Waiting> = (0..TRIALS).map(|trial| Waiting::new(&plan.season, Luck { seed: 3, trial })).collect();
    let order = arrange(&waiting);
    Chunks::<R>::default().run(&[(0, plan)], &waiting, &order, (width, plain), &mut keeper);
    keeper.charges.sort_unstable();
    (keeper.charges, keeper.trials)
}

/// Scenarios of every kind that lanes cover, and how many of their trials failed.
fn covered() -> Vec<(String, Plan)> {
    let mut plans = Vec::new();
    let mut files: Vec<_> = std::fs::read_dir("scenarios").unwrap().map(|entry| entry.unwrap().path()).collect();
    files.push("benches/four-loads.toml".into());
    files.sort();
    for file in files.into_iter().filter(|file| file.extension().is_some_and(|end| end == "toml")) {
        let text = std::fs::read_to_string(&file).unwrap();
        if let Some(plan) = plan(&text).ok().filter(covers) {
            plans.push((file.display().to_string(), plan));
        }
    }
    let charger = "efficiency = \"94 %\"\n\n[station.wall_charger]\nlimit = \"300 W\"\n\n[generator]\nlimit = \"250 W\"\n\
                   hours = [\"11:00-13:30\", \"19:00-20:00\"]\n";
    let changes = [
        ("winter-storm", "an inverter that sleeps", "sleeps = false", "sleeps = true"),
        ("winter-storm", "an outlet too small", "limit = \"120 W\"", "limit = \"16 W\""),
        ("winter-storm", "hardly any battery", "\"2.16 kWh ± 3 %\"", "\"0.3 kWh ± 3 %\""),
        ("winter-storm", "a spread of lengths", "\"4 days\"", "{ median = \"30 h\", p95 = \"4 days\" }"),
        ("winter-storm", "a few hours", "\"4 days\"", "\"5 h\""),
        (
            "winter-storm",
            "loads of some days",
            "hours = \"17:00-22:00\"",
            "hours = \"17:00-01:00\"\ndays = \"weekends\"",
        ),
        ("frost-in-the-shed", "a heater", "stands = \"outdoors\"", "stands = \"outdoors\"\nself_heating = \"60 W\""),
        ("frost-in-the-shed", "warmed by the sun", "stands = \"outdoors\"", "stands = \"in the sun\""),
        ("frost-in-the-shed", "a place a little too cold", "\"outdoors\"", "\"-1 °C\""),
        (
            "frost-in-the-shed",
            "a weak heater, light cells",
            "\"outdoors\"",
            "\"outdoors\"\nself_heating = \"15 W\"\nheat_capacity = \"3 Wh/K\"\nheat_loss = \"1.2 W/K\"",
        ),
        ("frost-in-the-shed", "a heater in a cold place", "\"outdoors\"", "\"-4 °C\"\nself_heating = \"60 W\""),
        (
            "frost-in-the-shed",
            "too cold to work at times",
            "\"outdoors\"",
            "\"outdoors\"\nworks_between = [\"-9 °C\", \"40 °C\"]",
        ),
        ("frost-in-the-shed", "never works", "\"outdoors\"", "\"-30 °C\""),
        ("frost-in-the-shed", "a generator in the frost", "efficiency = \"94 %\"\n", charger),
        ("food-and-little-unmet", "a cooler with a rule", "\"indoors\"", "\"indoors\"\noff_below = \"40 %\""),
        ("food-and-little-unmet", "a cooler outdoors", "room = \"indoors\"", "room = \"outdoors\""),
        (
            "food-and-little-unmet",
            "a cooler in a cold room, hours alone",
            "room = \"indoors\"",
            "room = \"2 °C\"\nfood = \"lost after 4 h without power\"",
        ),
        ("food-and-little-unmet", "food that nobody minds", "room = \"indoors\"", "food = \"not judged\""),
        ("food-and-little-unmet", "a cooler with hardly any battery", "\"1.0 kWh\"", "\"0.2 kWh\""),
        ("food-and-little-unmet", "half a day with a cooler", "\"3 days\"", "\"13 h\""),
        (
            "food-and-little-unmet",
            "devices used more on some days",
            "count = 2\npriority",
            "count = 2\nvaries = \"40 %\"\npriority",
        ),
    ];
    for (file, name, from, to) in changes {
        let text = std::fs::read_to_string(format!("scenarios/{file}.toml")).unwrap();
        assert!(text.contains(from), "{name}: {from}");
        let plan = plan(&text.replacen(from, to, 1)).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert!(covers(&plan), "{name}");
        plans.push((name.into(), plan));
    }
    plans
}

#[test]
fn lanes_and_single_trials_agree() {
    let plans = covered();
    assert!(plans.len() >= 28, "{:?}", plans.iter().map(|(name, _)| name).collect::<Vec<_>>());
    let (mut failed, mut survived, mut lost) = (0, 0, 0);
    for (name, plan) in &plans {
        let (_, lanes) = side_by_side(plan, Width::Any, false);
        assert_eq!(lanes.len(), TRIALS as usize);
        let mut workspace = Workspace::new();
        for (&trial, other) in &lanes {
            let luck = Luck { seed: 3, trial };
            let history = workspace.begin(&plan.season, luck);
            let outcome = workspace.run(plan, luck, &history, &mut Silent);
            // Energies to a billionth of what went in; what was missed to a billionth of a watt-hour beside.
            let near = 1e-9 * (outcome.ledger[Flow::Solar] + outcome.ledger[Flow::Start]).max(1.0);
            let same = |a: f64, b: f64, what: &str| {
                assert!((a - b).abs() <= near, "{name}, trial {trial}, {what}: {a} alone, {b} in lanes");
            };
            assert_eq!(workspace.unknowns(), other.unknowns, "{name}, trial {trial}");
            assert_eq!(outcome.survived, other.outcome.survived, "{name}, trial {trial}");
            assert_eq!(outcome.failure, other.outcome.failure, "{name}, trial {trial}");
            same(outcome.missed_wh, other.outcome.missed_wh, "missed");
            same(outcome.vital_missed_wh, other.outcome.vital_missed_wh, "missed by vital loads");
            same(outcome.lowest_charge, other.outcome.lowest_charge, "lowest charge");
            same(outcome.margin, other.outcome.margin, "margin");
            for (flow, wh) in outcome.ledger.entries() {
                same(wh, other.outcome.ledger[flow], flow.name());
            }
            assert!(other.outcome.ledger.imbalance() < 1e-9, "{name}, trial {trial}");
            for (a, b) in workspace.loads().iter().zip(&other.loads) {
                same(a.asked_wh, b.asked_wh, "asked by a load");
                same(a.missed_wh, b.missed_wh, "missed by a load");
                same(a.by_rule_wh, b.by_rule_wh, "missed by rule");
                same(a.off_h, b.off_h, "hours off");
                assert_eq!(a.first_off_step, b.first_off_step, "{name}, trial {trial}");
                for (a, b) in a.food.iter().zip(&b.food) {
                    assert_eq!(a.map(|food| food.lost_step), b.map(|food| food.lost_step), "{name}, trial {trial}");
                    let warmest = |food: &Option<Food>| food.map_or(0.0, |food| food.warmest_c);
                    assert!(
                        (warmest(a) - warmest(b)).abs() < 1e-9,
                        "{name}, trial {trial}: {a:?} alone, {b:?} in lanes"
                    );
                    lost += u32::from(a.is_some_and(|food| food.lost_step != [None; 2]));
                }
            }
            failed += u32::from(!outcome.survived);
            survived += u32::from(outcome.survived);
        }
    }
    // Both kinds of trials must have been met for this to mean anything.
    assert!(failed > 500 && survived > 500, "{failed} failed, {survived} survived");
    assert!(lost > 500, "food was lost {lost} times");
}

#[test]
fn bits_do_not_depend_on_width_or_vectors() {
    for (name, plan) in &covered() {
        let (charges, trials) = side_by_side(plan, Width::Any, false);
        for width in [Width::Any, Width::Middle, Width::Narrow] {
            for plain in [false, true] {
                let (other_charges, other) = side_by_side(plan, width, plain);
                assert!(charges == other_charges, "{name}: charges differ, {width:?}, plain: {plain}");
                assert!(trials == other, "{name}: trials differ, {width:?}, plain: {plain}");
            }
        }
    }
}

#[test]
fn a_trial_comes_to_the_same_beside_others() {
    for (name, plan) in &covered() {
        let (_, together) = side_by_side(plan, Width::Any, false);
        for trial in [0, 17, TRIALS - 1] {
            let mut keeper = Keeper::default();
            let alone = [Waiting::new(&plan.season, Luck { seed: 3, trial })];
            Chunks::<f32>::default().run(&[(0, plan)], &alone, &[0], (Width::Any, false), &mut keeper);
            assert_eq!(keeper.trials[&trial], together[&trial], "{name}");
        }
    }
}

#[test]
fn single_precision_of_weather_and_panels_moves_no_answer() {
    let (mut missed, mut off) = (0.0, 0.0_f64);
    for (name, plan) in &covered() {
        let (_, single) = in_precision::<f32>(plan, Width::Any, false);
        let (_, double) = in_precision::<f64>(plan, Width::Any, false);
        for (trial, a) in &single {
            let b = &double[trial];
            assert_eq!(a.outcome.survived, b.outcome.survived, "{name}, trial {trial}");
            assert_eq!(a.outcome.failure, b.outcome.failure, "{name}, trial {trial}");
            // A rounding is 6e-8 of a number, and an hour's light is worked out in some dozen steps.
            let near = 3e-6 * (b.outcome.ledger[Flow::Solar] + b.outcome.ledger[Flow::Start]);
            for ((_, x), (_, y)) in a.outcome.ledger.entries().zip(b.outcome.ledger.entries()) {
                assert!((x - y).abs() <= near, "{name}, trial {trial}: {x} in single, {y} in double precision");
            }
            assert!((a.outcome.missed_wh - b.outcome.missed_wh).abs() <= near, "{name}, trial {trial}");
            off = off.max((a.outcome.missed_wh - b.outcome.missed_wh).abs());
            missed += b.outcome.missed_wh;
        }
    }
    println!("missed energy differs by at most {off:.1e} Wh a trial");
    assert!(missed > 0.0);
}
