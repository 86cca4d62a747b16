//! Trials side by side come to what they come to one by one, whatever the width of the lanes and the processor's vectors.

use std::collections::BTreeMap;

use tideover::engine::lanes::{Chunks, Sink, Waiting, Width, arrange, covers};
use tideover::engine::plan::Sky;
use tideover::engine::{Ledger, LoadOutcome, Luck, Outcome, Plan, Silent, Workspace};
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

fn plan(text: &str) -> Option<Plan> {
    let (scenario, _, _) = read(&Source::new("test.toml", text)).ok()?;
    let climate = world::lookup(scenario.site.latitude_deg, scenario.site.longitude_deg, None).ok()?;
    Plan::compile(&scenario, &Sky::Climate(climate), 60).ok()
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
        if let Some(plan) = plan(&text).filter(covers) {
            plans.push((file.display().to_string(), plan));
        }
    }
    let storm = std::fs::read_to_string("scenarios/winter-storm.toml").unwrap();
    for (name, from, to) in [
        ("an inverter that sleeps", "sleeps = false", "sleeps = true"),
        ("an outlet too small", "limit = \"120 W\"", "limit = \"16 W\""),
        ("hardly any battery", "\"2.16 kWh ± 3 %\"", "\"0.3 kWh ± 3 %\""),
        ("a spread of lengths", "\"4 days\"", "{ median = \"30 h\", p95 = \"4 days\" }"),
        ("a few hours", "\"4 days\"", "\"5 h\""),
    ] {
        assert!(storm.contains(from), "{from}");
        let plan = plan(&storm.replace(from, to)).unwrap_or_else(|| panic!("{name}"));
        assert!(covers(&plan), "{name}");
        plans.push((name.into(), plan));
    }
    let food = std::fs::read_to_string("scenarios/food-and-little-unmet.toml").unwrap();
    for (name, from, to) in [
        ("a cooler switched off by a rule", "room = \"indoors\"", "room = \"indoors\"\noff_below = \"40 %\""),
        ("a cooler outdoors", "room = \"indoors\"", "room = \"outdoors\""),
        (
            "a cooler in a cold room, hours alone",
            "room = \"indoors\"",
            "room = \"2 °C\"\nfood = \"lost after 4 h without power\"",
        ),
        ("a cooler whose food nobody minds", "room = \"indoors\"", "food = \"not judged\""),
        ("a cooler with hardly any battery", "\"1.0 kWh\"", "\"0.2 kWh\""),
        ("half a day with a cooler", "\"3 days\"", "\"13 h\""),
        (
            "devices that are used more on some days",
            "count = 2\npriority = \"vital\"",
            "count = 2\npriority = \"vital\"\nvaries = \"40 %\"",
        ),
    ] {
        assert!(food.contains(from), "{from}");
        let plan = plan(&food.replace(from, to)).unwrap_or_else(|| panic!("{name}"));
        assert!(covers(&plan) && plan.any_asks, "{name}");
        plans.push((name.into(), plan));
    }
    plans
}

fn entries(ledger: &Ledger) -> Vec<f64> {
    let mut entries = vec![
        ledger.solar_wh,
        ledger.curtailed_wh,
        ledger.clipped_wh,
        ledger.barred_wh,
        ledger.wall_wh,
        ledger.wall_loss_wh,
        ledger.heater_wh,
        ledger.start_wh,
        ledger.end_wh,
        ledger.solar_input_loss_wh,
        ledger.charging_loss_wh,
        ledger.discharging_loss_wh,
        ledger.own_draw_wh,
        ledger.self_discharge_wh,
    ];
    entries.extend(ledger.served_wh);
    entries.extend(ledger.outlet_loss_wh);
    entries
}

#[test]
fn lanes_and_single_trials_agree() {
    let plans = covered();
    assert!(plans.len() >= 8, "{:?}", plans.iter().map(|(name, _)| name).collect::<Vec<_>>());
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
            let near = 1e-9 * (outcome.ledger.solar_wh + outcome.ledger.start_wh).max(1.0);
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
            for (k, (a, b)) in entries(&outcome.ledger).into_iter().zip(entries(&other.outcome.ledger)).enumerate() {
                same(a, b, &format!("entry {k} of the account"));
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
            let near = 3e-6 * (b.outcome.ledger.solar_wh + b.outcome.ledger.start_wh);
            for (x, y) in entries(&a.outcome.ledger).into_iter().zip(entries(&b.outcome.ledger)) {
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
