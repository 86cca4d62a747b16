//! AC outlets that switch themselves off or sleep, by closed forms: nothing here depends on the weather, so that hours and
//! watt-hours missed are whole numbers worked out by hand. The habits of outlets are common practice, no source.

use tideover::engine::{Flow, LoadOutcome, Plan, Silent, TrialSeed};
use tideover::kit::Matter;

use crate::common::{plan_of, scenario_of};
use crate::{FIRST, one_trial};

/// A battery that outlasts everything, from midnight on for three days; no panels.
fn scenario(home: &str, station: &str, inverter: &str, loads: &str) -> String {
    format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n\n[outage]\nstart = \"2027-07-10T00:00\"\nlasts = \"72 h\"\n{home}\n\n\
         [station]\n{station}\n\n[station.inverter]\nrated = \"500 W\"\n{inverter}\n\n{loads}"
    )
}

const BIG: &str = "rated_capacity = \"20 kWh ± 0 %\"";

fn ac(name: &str, more: &str) -> String {
    format!("[[load]]\nname = \"{name}\"\noutlet = \"ac\"\npriority = \"vital\"\n{more}\n\n")
}

fn outcome(plan: &Plan) -> (bool, Vec<LoadOutcome>) {
    in_trial(plan, 0)
}

fn in_trial(plan: &Plan, trial: u64) -> (bool, Vec<LoadOutcome>) {
    let (outcome, loads) = one_trial(plan, TrialSeed { seed: 1, trial }, &mut Silent);
    (outcome.survived, loads)
}

fn run(home: &str, station: &str, inverter: &str, loads: &str) -> (bool, Vec<LoadOutcome>) {
    outcome(&plan_of(&scenario_of(&scenario(home, station, inverter, loads)), 60))
}

/// Hours missed by each load.
fn missed_h(home: &str, inverter: &str, loads: &str) -> Vec<f64> {
    run(home, BIG, inverter, loads).1.iter().map(|load| (load.off_h * 1e6).round() / 1e6).collect()
}

fn small() -> String {
    ac("router", "watts = \"3 W\"")
}

fn fridge() -> String {
    ac("fridge", "watts = \"80 W\"\nduty = \"40 %\"")
}

#[test]
fn three_watts_do_not_wake_an_inverter_that_sleeps() {
    let (survived, loads) = run("", BIG, "sleeps = true", &small());
    assert!(!survived);
    assert_eq!(loads[0].first_off_step, Some(0));
    assert!((loads[0].unserved_wh - 3.0 * 72.0).abs() < 1e-9 && loads[0].by_rule_wh == 0.0, "{loads:?}");
    // What is told of the unit decides, and two loads wake it together.
    assert!(run("", BIG, "sleeps = true\nwakes_above = \"3 W\"", &small()).0);
    assert!(!run("", BIG, "sleeps = true\nwakes_above = \"3.1 W\"", &small()).0);
    assert!(run("", BIG, "sleeps = true\nwakes_above = \"8 W\"", &(small() + &ac("lamp", "watts = \"5 W\""))).0);
    // A fridge wakes it for itself.
    assert_eq!(missed_h("", "sleeps = true", &(small() + &fridge())), [72.0, 0.0]);
    // A lamp beside it wakes it for four hours a day.
    let evening = ac("lamp", "watts = \"20 W\"\nhours = \"18:00-22:00\"");
    assert_eq!(missed_h("", "sleeps = true", &(small() + &evening)), [60.0, 0.0]);
}

#[test]
fn an_outlet_that_sleeps_draws_nothing_for_what_it_leaves_in_the_dark() {
    let text = scenario("", BIG, "idle = \"6 W\"\nsleeps = true", &small());
    let plan = plan_of(&scenario_of(&text), 60);
    let ledger = one_trial(&plan, FIRST, &mut Silent).0.ledger;
    // What is counted beforehand is taken back step by step: rounding may be left.
    assert!(ledger[Flow::OUTLET_LOSS[0]].abs() < 1e-9 && ledger[Flow::SERVED[0]].abs() < 1e-9, "{ledger:?}");
}

#[test]
fn an_outlet_under_a_small_load_is_off_until_somebody_switches_it_on() {
    // Two hours on, an hour until somebody notices: a third of the time.
    let after = "switches_off_after = \"2 h\"";
    assert_eq!(missed_h("", after, &small()), [24.0]);
    // Somebody is there from 17:00 to 22:00. The first day: on at 0 and 1, off to 16, on at 17 and 18, off at 19, on at 20
    // and 21, off at 22 and 23; on the others off to 16.
    let home = "somebody_home = \"17:00-22:00\"";
    let taken_over = format!("{after}\nups = true");
    assert_eq!(missed_h(home, &taken_over, &small()), [18.0 + 20.0 + 20.0]);
    // An hour of two.
    assert_eq!(missed_h("", "switches_off_after = \"1 h\"", &small()), [36.0]);
    // Twenty minutes on, an hour off, 54 times over; the same by steps of any length.
    let short = "switches_off_after = \"20 min\"";
    assert_eq!(missed_h("", short, &small()), [54.0]);
    for step in [30, 5, 1] {
        let by = |home: &str, inverter: &str| {
            let text = scenario(home, BIG, inverter, &small());
            let loads = outcome(&plan_of(&scenario_of(&text), step)).1;
            ((loads[0].off_h * 1e6).round() / 1e6, (loads[0].unserved_wh * 1e6).round() / 1e6)
        };
        assert_eq!(by("", short), (54.0, 162.0), "{step}");
        assert_eq!(by("", after), (24.0, 72.0), "{step}");
        assert_eq!(by(home, &taken_over), (58.0, 174.0), "{step}");
    }
    // In daily cuts from 10:20 to 13:45 somebody finds it on each time: 20 minutes on, an hour off, 20, an hour, 20, and 25 off.
    let cuts = "every_day = \"10:20-13:45\"";
    for step in [60, 5] {
        let charger = format!("{BIG}\n[station.wall_charger]\nlimit = \"100 W\"");
        let text = scenario(cuts, &charger, short, &small());
        let loads = outcome(&plan_of(&scenario_of(&text), step)).1;
        assert!((loads[0].off_h - 3.0 * 145.0 / 60.0).abs() < 1e-9, "{step}: {loads:?}");
    }
    // One that stays on; one that the load is enough for.
    assert_eq!(missed_h("", "switches_off_below = \"0 W\"", &small()), [0.0]);
    assert_eq!(missed_h("", "switches_off_below = \"3 W\"", &small()), [0.0]);
    // A compressor's pauses are shorter than an hour, and not than a quarter of one: that and an hour off, again and again.
    assert_eq!(missed_h("", after, &(small() + &fridge())), [0.0, 0.0]);
    assert_eq!(missed_h("", "switches_off_after = \"15 min\"", &fridge()), [57.5]);
    // What somebody switches on himself begins at once.
    let evening = ac("lamp", "watts = \"20 W\"\nhours = \"18:00-22:00\"");
    assert_eq!(missed_h("", "", &evening), [0.0]);
    // A pump on a timer, at an hour at which nobody is up, does not; at 18:00 it is on again.
    let pump = ac("pump", "watts = \"20 W\"\nhours = [\"03:00-04:00\", \"18:00-19:00\"]");
    assert_eq!(missed_h(home, "ups = true\nswitches_off_after = \"1 h\"", &pump), [3.0]);
}

#[test]
fn an_outlet_waits_for_somebody_as_the_mains_fails() {
    let home = "somebody_home = \"07:00-22:00\"";
    assert_eq!(missed_h(home, "ups = true", &fridge()), [0.0]);
    // 40 % of seven hours of 80 W.
    let (survived, loads) = run(home, BIG, "", &fridge());
    assert!(!survived && (loads[0].unserved_wh - 0.4 * 80.0 * 7.0).abs() < 1e-9, "{loads:?}");
}

#[test]
fn an_outlet_that_ran_the_cells_empty_waits_for_somebody() {
    // 100 Wh last a lamp of 50 W for less than two hours; in July 200 W of panels feed it from the morning on, and nobody is
    // there until 18:00.
    let station = "rated_capacity = \"100 Wh ± 0 %\"\nown_draw = \"0 W\"\n[station.solar_input]\nlimit = \"300 W\"\n[[panel]]\n\
                   rated = \"200 W\"\ntilt = \"30°\"\nfacing = \"south\"";
    let home = "somebody_home = \"18:00-22:00\"";
    let lamp = ac("lamp", "watts = \"50 W\"");
    let off = |inverter: &str| run(home, station, inverter, &lamp).1[0].off_h;
    let (by_itself, by_hand) = (off("ups = true\ncomes_back = true"), off("ups = true"));
    // By hand it is off from the first night on until every evening.
    assert!(by_itself < 72.0 - 3.0 * 6.0, "{by_itself}");
    assert!(by_hand > by_itself + 3.0 * 4.0 && by_hand > 3.0 * 15.0, "{by_itself} {by_hand}");
    // With somebody there at all hours it is the same.
    let always = |inverter: &str| run("", station, inverter, &lamp).1[0].off_h;
    assert_eq!(always("ups = true\ncomes_back = true"), always(""));
    assert_eq!(always(""), by_itself);
}

#[test]
fn what_is_said_of_a_small_load_is_what_the_trials_do() {
    use tideover::study::fit;
    // Where nobody has told what the outlet does, any of some trials may draw what leaves the load in the dark.
    let said = |inverter: &str, loads: &str| {
        let scenario = scenario_of(&scenario("", BIG, inverter, loads));
        let plan = plan_of(&scenario, 60);
        let verdicts = fit::verdicts(&scenario, &plan, &fit::Air::of(&crate::common::climate_of(&scenario)));
        let all = (0..100).all(|trial| in_trial(&plan, trial).0);
        (verdicts.iter().any(|v| matches!(v.matter, Matter::Sleeps { .. } | Matter::SwitchesOff { .. })), all)
    };
    for inverter in [
        "",
        "sleeps = true",
        "sleeps = true\nwakes_above = \"2 W\"",
        "switches_off_below = \"0 W\"",
        "switches_off_below = \"90 W\"",
        // What comes and goes keeps it on for what is small.
        "switches_off_below = \"30 W\"\nswitches_off_after = \"3 h\"",
    ] {
        for loads in [
            small(),
            small() + &fridge(),
            fridge(),
            small() + &ac("lamp", "watts = \"5 W\""),
            ac("lamp", "watts = \"7 W\"\nhours = \"18:00-22:00\""),
        ] {
            let (warned, survived) = said(inverter, &loads);
            assert_eq!(warned, !survived, "{inverter} {loads}");
        }
    }
}

#[test]
fn what_nobody_has_told_of_an_outlet_is_drawn_and_shows() {
    // Even in ratios between 4 and 16 W: a load of P is too small for a share ln(16/P)/ln(4) of the outlets.
    let survived = |inverter: &str, watts: &str| {
        let load = ac("router", &format!("watts = \"{watts}\""));
        let plan = plan_of(&scenario_of(&scenario("", BIG, inverter, &load)), 60);
        let trials = 2_000;
        let count = (0..trials).filter(|trial| in_trial(&plan, *trial).0).count();
        (count as f64 / trials as f64, plan.unknowns().iter().map(|unknown| unknown.quantity).collect::<Vec<_>>())
    };
    for (inverter, key) in [("", "switches_off_below"), ("sleeps = true", "wakes_above")] {
        for watts in [5.0_f64, 8.0, 12.0] {
            let (share, unknowns) = survived(inverter, &format!("{watts} W"));
            let expected = (watts / 4.0).ln() / 4.0_f64.ln();
            // Three and a half standard deviations of 2,000 trials: one false alarm in 2,000.
            let near = 3.5 * (expected * (1.0 - expected) / 2_000.0).sqrt();
            assert!((share - expected).abs() < near, "{watts} W: {share}, {expected}");
            assert!(unknowns.contains(&key), "{unknowns:?}");
        }
        for sure in [("16 W", 1.0), ("3.9 W", 0.0)] {
            assert_eq!(survived(inverter, sure.0).0, sure.1, "{inverter} {}", sure.0);
        }
        // Under a load that is enough for every outlet nothing is drawn.
        assert!(!survived(inverter, "16 W").1.contains(&key));
    }
    let (share, unknowns) = survived("switches_off_below = \"5 W\"", "8 W");
    assert!(share == 1.0 && !unknowns.contains(&"switches_off_below"), "{share} {unknowns:?}");
    // How soon: a lamp that is on for four hours a day is on throughout where the outlet waits so long: even in ratios between
    // an hour and eight, a third of the outlets.
    let lamp = ac("lamp", "watts = \"3 W\"\nhours = \"18:00-22:00\"");
    let plan = plan_of(&scenario_of(&scenario("", BIG, "", &lamp)), 60);
    let count = (0..2_000).filter(|trial| in_trial(&plan, *trial).0).count();
    let (share, expected) = (count as f64 / 2_000.0, 1.0 / 3.0);
    assert!((share - expected).abs() < 3.5 * (2.0 / 9.0 / 2_000.0_f64).sqrt(), "{share}");
}

#[test]
fn an_outlet_that_is_only_assumed_to_go_off_saves_nothing_by_it() {
    let lost_wh = |inverter: &str| {
        let load = ac("lamp", "watts = \"20 W\"\nhours = \"18:00-22:00\"") + &small();
        let plan = plan_of(&scenario_of(&scenario("", BIG, &format!("idle = \"6 W\"\n{inverter}"), &load)), 60);
        one_trial(&plan, FIRST, &mut Silent).0.ledger[Flow::OUTLET_LOSS[0]]
    };
    let told = lost_wh("switches_off_below = \"8 W\"\nswitches_off_after = \"2 h\"");
    let assumed = lost_wh("");
    assert!(assumed >= 6.0 * 72.0, "{assumed}");
    // Off for an hour of three but for the evenings: at least eighteen hours.
    assert!(told < assumed - 18.0 * 6.0, "{told}, {assumed}");
}

#[test]
fn a_load_left_alone_on_the_outlet_is_minded_anew() {
    // Without the fridge the outlet goes off; so it does in the course of `now` that leaves it off.
    let two = scenario_of(&scenario("", BIG, "", &(small() + &fridge().replace("vital", "spare"))));
    let mut plan = plan_of(&two, 60);
    assert!(outcome(&plan).0);
    plan.loads.remove(1);
    plan.mind_rules();
    assert!(!outcome(&plan).0);
}

/// Sixteen watts that come and go by a factor of the day wake an inverter that needs ten where that factor is ten sixteenths or more: what
/// the load asked for in its one day tells the factor.
#[test]
fn what_a_load_draws_on_the_day_wakes_an_inverter_or_does_not() {
    let text = scenario(
        "",
        BIG,
        "sleeps = true\nwakes_above = \"10 W\"",
        &ac("pump", "watts = \"16 W ± 0 W\"\nduty = \"50 %\"\nvaries = \"60 %\""),
    );
    let plan = plan_of(&scenario_of(&text.replace("72 h", "24 h")), 60);
    let mut dark = 0;
    for trial in 0..60 {
        let pump = in_trial(&plan, trial).1[0];
        let factor = pump.asked_wh / (16.0 * 0.5 * 24.0);
        let missed = if factor < 10.0 / 16.0 { pump.asked_wh } else { 0.0 };
        assert!((pump.unserved_wh - missed).abs() < 1e-9, "{trial}: {factor}, {pump:?}");
        dark += u32::from(missed > 0.0);
    }
    assert!((5..45).contains(&dark), "{dark}");
}

/// The least that keeps an outlet on, or wakes it, in a step in which a load asks, and the loads: 40 W that draw the same throughout beside
/// 80 W that come and go.
#[test]
fn the_least_on_the_outlet_is_found_by_hand() {
    let least = |home: &str, inverter: &str, loads: &str| {
        let plan = plan_of(&scenario_of(&scenario(home, BIG, inverter, loads)), 60);
        plan.least_on_ac(false).map(|(watts, step, loads)| ((watts * 1e6).round() / 1e6, step, loads))
    };
    let lamp = |more: &str| ac("lamp", &format!("watts = \"40 W ± 0 W\"\n{more}"));
    let pump = ac("pump", "watts = \"80 W ± 0 W\"\nduty = \"40 %\"");
    let both = lamp("") + &pump;
    // Where pauses do not count the lamp has the pump beside it; otherwise it stands alone for as long as the pump does. One that sleeps is
    // woken by the lamp alone or not at all, and by the pump beside it.
    assert_eq!(least("", "switches_off_after = \"2 h\"", &both), Some((120.0, 0, vec![0])));
    assert_eq!(least("", "switches_off_after = \"30 min\"", &both), Some((40.0, 0, vec![0])));
    assert_eq!(least("", "sleeps = true", &both), Some((40.0, 0, vec![0])));
    assert_eq!(least("", "sleeps = true", &pump), Some((80.0, 0, vec![0])));
    assert_eq!(least("", "switches_off_after = \"30 min\"", &pump), Some((0.0, 0, vec![0])));
    // The lamp from nine to ten alone; by the charge it may be off while the pump runs.
    assert_eq!(least("", "switches_off_after = \"2 h\"", &lamp("hours = \"09:00-10:00\"")), Some((40.0, 9, vec![0])));
    let ruled = lamp("off_below = \"30 %\"") + &pump;
    assert_eq!(least("", "switches_off_after = \"2 h\"", &ruled), Some((80.0, 0, vec![0])));
    // On weekends alone; of 40 W known to 20 % (95 %) four standard uncertainties less count, 23.67 W.
    assert_eq!(
        least("", "switches_off_after = \"2 h\"", &lamp("hours = \"00:00-24:00\"\ndays = \"weekends\"")),
        Some((40.0, 0, vec![0]))
    );
    let doubtful = ac("lamp", "watts = \"40 W ± 20 %\"");
    let (watts, ..) = least("", "switches_off_after = \"2 h\"", &doubtful).expect("a load");
    assert!((watts - 40.0 * (1.0 - 0.8 / 1.959_964)).abs() < 1e-5, "{watts}");
    // A cut that begins at half past six has 40 W for half an hour, and not 20 W for an hour.
    assert_eq!(
        least("every_day = \"18:30-21:00\"", "switches_off_after = \"2 h\"", &lamp("")),
        Some((40.0, 18, vec![0]))
    );
}
