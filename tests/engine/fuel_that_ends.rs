//! A generator whose fuel ends, by closed forms: litres over what an hour burns.

use tideover::engine::{Flow, Outcome, Silent, TrialSeed};

use crate::common::{plan_of, scenario_of};
use crate::{FIRST, one_trial};

/// A big battery without losses, a lamp that hardly counts, a generator from 08:00 to 12:00; ten days from a midnight on.
fn text(outage: &str, generator: &str, charged: &str) -> String {
    format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nstart = \"2027-07-10T00:00\"\nlasts = \"10 days\"\n\
         starts_charged = \"{charged}\"\n{outage}\n[station]\nrated_capacity = \"40 kWh ± 0 %\"\nown_draw = \"0 W\"\n\
         self_discharge = \"0 %\"\ntapers_from = \"100 %\"\n[station.dc_outlet]\nlimit = \"120 W\"\n[station.wall_charger]\n\
         limit = \"500 W\"\nefficiency = \"90 %\"\n[generator]\nlimit = \"1 kW\"\nhours = \"08:00-12:00\"\n{generator}\n\
         [[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"1 W\"\n"
    )
}

fn run(outage: &str, generator: &str, charged: &str) -> Outcome {
    let plan = plan_of(&scenario_of(&text(outage, generator, charged)), 60);
    one_trial(&plan, FIRST, &mut Silent).0
}

fn given(outcome: &Outcome) -> (f64, f64) {
    let round = |number: f64| (number * 1e6).round() / 1e6;
    (round(outcome.ledger[Flow::Wall]), round(outcome.burnt_l))
}

#[test]
fn litres_last_as_many_hours_as_an_hour_burns_of_them() {
    // Half a kilowatt for an hour at 0.5 L/kWh and 0.25 L an hour: 0.5 L. Four litres are eight hours, 4 kWh from the plug.
    let thirst = "fuel_per_kwh = \"0.5 L ± 0 %\"\nfuel_per_hour = \"0.25 L ± 0 %\"";
    let with = |litres: &str| given(&run("", &format!("{thirst}\nfuel = \"{litres}\""), "10 %"));
    assert_eq!(with("4 L"), (4000.0, 4.0));
    // A part of an hour's fuel runs it for that part.
    assert_eq!(with("4.25 L"), (4250.0, 4.25));
    // More than the ten days can burn is left.
    assert_eq!(with("30 L"), (20_000.0, 20.0));
    // Without an end it gives the same.
    assert_eq!(given(&run("", thirst, "10 %")).0, 20_000.0);
    // By the hour alone.
    assert_eq!(given(&run("", "fuel_per_hour = \"0.8 L ± 0 %\"\nfuel = \"4 L\"", "10 %")), (2500.0, 4.0));
}

#[test]
fn a_full_battery_takes_little_and_the_engine_runs_on() {
    // A watt and its converter's losses of forty kilowatt-hours are made good within a run: what burns is mostly the idling, a
    // litre a day of four.
    let outcome = run("", "fuel_per_kwh = \"0.5 L ± 0 %\"\nfuel_per_hour = \"0.25 L ± 0 %\"\nfuel = \"4 L\"", "100 %");
    let (wall_wh, burnt_l) = given(&outcome);
    assert_eq!(burnt_l, 4.0);
    assert!(wall_wh < 10.0 * 24.0 * 4.0, "{wall_wh}");
}

/// The litres that a kWh took, over trials, have the mean and the scatter of the ± told (95 % of a normal distribution: 1.96
/// standard deviations), and without a ± those of 15 %.
#[test]
fn what_is_burned_is_as_uncertain_as_told() {
    let litres_a_kwh = |thirst: &str| -> Vec<f64> {
        let plan = plan_of(&scenario_of(&text("", &format!("{thirst}\nfuel = \"4 L\""), "10 %")), 60);
        let trials = (0..400).map(|trial| one_trial(&plan, TrialSeed { seed: 1, trial }, &mut Silent).0);
        trials.map(|outcome| 1000.0 * outcome.burnt_l / outcome.ledger[Flow::Wall]).collect()
    };
    for (thirst, mean, plus_minus) in [
        ("fuel_per_kwh = \"0.5 L ± 0.1 L\"", 0.5, 0.1),
        ("fuel_per_kwh = \"0.5 L\"", 0.5, 0.075),
        // At half a kilowatt: half a litre of each kWh by the hour, and off the same way.
        ("fuel_per_kwh = \"0.5 L ± 20 %\"\nfuel_per_hour = \"0.25 L ± 20 %\"", 1.0, 0.2),
    ] {
        let drawn = litres_a_kwh(thirst);
        let n = drawn.len() as f64;
        let middle = drawn.iter().sum::<f64>() / n;
        let sd = (drawn.iter().map(|litres| (litres - middle).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        let expected = plus_minus / 1.959_964;
        // Four standard errors of a mean and of a standard deviation of 400.
        assert!((middle - mean).abs() < 4.0 * expected / n.sqrt(), "{thirst}: {middle}");
        assert!((sd / expected - 1.0).abs() < 4.0 / (2.0 * n).sqrt(), "{thirst}: {sd} for {expected}");
    }
}

#[test]
fn somebody_has_to_start_it() {
    let thirst = "fuel_per_kwh = \"0.5 L ± 0 %\"\nfuel_per_hour = \"0.25 L ± 0 %\"\nfuel = \"30 L\"";
    // From 10:00 on: two of four hours. Not there at all: never.
    assert_eq!(given(&run("somebody_home = \"10:00-22:00\"", thirst, "10 %")), (10_000.0, 10.0));
    assert_eq!(given(&run("somebody_home = \"18:00-07:00\"", thirst, "10 %")), (0.0, 0.0));
}

#[test]
fn fuel_of_unknown_thirst_is_refused() {
    let text = include_str!("../../scenarios/night-light.toml").replace("fuel_per_kwh = \"0.8 L\"", "fuel = \"5 L\"");
    let problems =
        tideover::scenario::read(&tideover::scenario::Source::new("test.toml", &text)).expect_err("a refusal");
    assert!(problems.iter().any(|problem| problem.key == "generator.fuel"), "{problems:?}");
}
