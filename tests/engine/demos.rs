//! What the demonstration scenarios show: each has something to say about a kit.

use std::fs;
use std::path::Path;
use std::sync::atomic::AtomicBool;
use tideover::report::judged::{Sentence, problem, words};

use tideover::engine::Plan;
use tideover::engine::ledger::Flow;
use tideover::kit::{Judgement, Weight};
use tideover::scenario::{Scenario, Source, read};
use tideover::study::changes::Change;
use tideover::study::fit::{Air, verdicts};
use tideover::study::outage::{OutageAnswer, outage};
use tideover::trials::Settings;

use crate::common::{climate_of, plan_of, scenario_of};

fn load(name: &str) -> (Scenario, Plan, Vec<Judgement>) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios").join(name);
    let source = Source::new(name, fs::read_to_string(path).expect("a scenario"));
    let (scenario, _, problems) = read(&source).unwrap_or_else(|problems| panic!("{problems:?}"));
    assert_eq!(problems, [], "{name}");
    let air = Air::of(&climate_of(&scenario));
    let plan = plan_of(&scenario, 60);
    let judged = verdicts(&scenario, &plan, &air);
    (scenario, plan, judged)
}

fn answer(scenario: &Scenario, plan: &Plan) -> OutageAnswer {
    let settings = Settings { seed: 1, trials: 1000, precision: None };
    outage(scenario, plan, &settings, &AtomicBool::new(false)).expect("an answer")
}

#[track_caller]
fn one(verdicts: &[Judgement], weight: Weight, key: &str) -> Sentence {
    let found: Vec<&Judgement> = verdicts.iter().filter(|v| v.weight == weight && v.key == key).collect();
    assert_eq!(found.len(), 1, "{verdicts:#?}");
    let verdict = found[0];
    let told = words(verdict);
    assert!(!told.found.is_empty() && !told.reason.is_empty() && !told.remedy.is_empty(), "{verdict:?}");
    told
}

#[track_caller]
fn difference(answer: &OutageAnswer, wanted: impl Fn(&Change) -> bool) -> f64 {
    answer.effects.iter().find(|effect| wanted(&effect.change)).expect("the change was tried").pair.difference
}

#[test]
fn two_panels_in_a_row_are_stopped_by_the_cold() {
    let (_, _, verdicts) = load("wont-fit/two-in-series.toml");
    let stop = one(&verdicts, Weight::Stops, "panel.0.wiring");
    assert_eq!(words(&verdicts[0]), stop, "the gravest comes first");
    assert!(stop.found.contains("by the coefficient") && stop.found.contains("by the code's table"), "{}", stop.found);
    assert!(problem(&verdicts[0]).is_some());
}

#[test]
fn a_long_cable_is_warned_of_and_its_loss_felt() {
    let (scenario, plan, verdicts) = load("long-thin-cable.toml");
    assert!(verdicts.iter().all(|v| v.weight != Weight::Stops));
    // 100 ft of 10 AWG, 1.24 ohm per 1000 ft: 0.248 ohm there and back; 16.3 A of 18.4 V lose 4.04 V, 22 %.
    let warning = one(&verdicts, Weight::Warns, "panel.0.cable");
    assert!(warning.found.contains("22.0 %"), "{}", warning.found);
    // 15 ft of 16 AWG, 4.99 ohm per 1000 ft: 6 A lose 0.898 V of 12 V.
    let warning = one(&verdicts, Weight::Warns, "station.dc_outlet.cable");
    assert!(warning.found.contains("7.5 %") && warning.remedy.contains("12 AWG"), "{warning:?}");
    // The same panels in series carry a third of the amps.
    let mut series = scenario.clone();
    (series.panels[0].series, series.panels[0].parallel) = (3, 1);
    let rewired = plan_of(&series, 60);
    let solar = |plan: &Plan| answer(&scenario, plan).tally.ledger[Flow::Solar];
    assert!(solar(&rewired) > 1.05 * solar(&plan));
}

#[test]
fn frost_keeps_the_sun_out_and_a_warm_room_lets_it_in() {
    let (scenario, plan, verdicts) = load("frost-in-the-shed.toml");
    one(&verdicts, Weight::Warns, "station.stands");
    let answer = answer(&scenario, &plan);
    let ledger = &answer.tally.ledger;
    assert!(ledger[Flow::Barred] > 0.5 * ledger[Flow::Solar], "{ledger:?}");
    assert!(difference(&answer, |change| *change == Change::BringInside) > 0.5);
}

#[test]
fn a_heater_warms_the_shed_by_its_watts() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/frost-in-the-shed.toml");
    let text = fs::read_to_string(file).expect("the scenario");
    let survivors = |watts: u32| {
        let place = "stands = \"outdoors\"\n";
        let heater = if watts > 0 { format!("self_heating = \"{watts} W\"\n") } else { String::new() };
        let text = text.replacen(place, &format!("{place}{heater}"), 1);
        let scenario = scenario_of(&text);
        let plan = plan_of(&scenario, 60);
        answer(&scenario, &plan).tally.survived
    };
    // The same 1000 outages each time. A watt warms 2 kWh of cells by less than half a kelvin: hardly an outage more.
    let by_watts = [0, 1, 10, 30, 60, 100].map(survivors);
    assert!(by_watts.is_sorted(), "{by_watts:?}");
    assert!(by_watts[1] - by_watts[0] < 20, "{by_watts:?}");
    assert!(by_watts[2] < by_watts[0] + 200 && by_watts[4] > by_watts[0] + 400, "{by_watts:?}");
}

#[test]
fn an_inverter_eats_more_than_it_serves_and_the_other_outlet_helps() {
    let (scenario, plan, verdicts) = load("night-light.toml");
    let warning = one(&verdicts, Weight::Warns, "station.inverter.idle");
    assert!(warning.remedy.contains("night light"), "{}", warning.remedy);
    let answer = answer(&scenario, &plan);
    let ledger = &answer.tally.ledger;
    assert!(ledger[Flow::AcLoss] > 2.0 * ledger[Flow::ServedAc], "{ledger:?}");
    assert!(ledger[Flow::Wall] > 0.0);
    assert!(difference(&answer, |change| matches!(change, Change::MoveLoad { .. })) > 0.1);
}
