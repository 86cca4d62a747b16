//! A generator whose fuel ends, by closed forms: litres over what an hour burns.

use tideover::engine::{Flow, Outcome, Silent};

use crate::common::{plan_of, scenario_of};
use crate::{FIRST, one_trial};

/// A big battery without losses, a lamp that hardly counts, a generator from 08:00 to 12:00; ten days from a midnight on.
fn run(outage: &str, generator: &str, charged: &str) -> Outcome {
    let text = format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nstart = \"2027-07-10T00:00\"\nlasts = \"10 days\"\n\
         starts_charged = \"{charged}\"\n{outage}\n[station]\nrated_capacity = \"40 kWh ± 0 %\"\nown_draw = \"0 W\"\n\
         self_discharge = \"0 %\"\ntapers_from = \"100 %\"\n[station.dc_outlet]\nlimit = \"120 W\"\n[station.wall_charger]\n\
         limit = \"500 W\"\nefficiency = \"90 %\"\n[generator]\nlimit = \"1 kW\"\nhours = \"08:00-12:00\"\n{generator}\n\
         [[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"1 W\"\n"
    );
    let plan = plan_of(&scenario_of(&text), 60);
    one_trial(&plan, FIRST, &mut Silent).0
}

fn given(outcome: &Outcome) -> (f64, f64) {
    let round = |number: f64| (number * 1e6).round() / 1e6;
    (round(outcome.ledger[Flow::Wall]), round(outcome.burnt_l))
}

#[test]
fn litres_last_as_many_hours_as_an_hour_burns_of_them() {
    // Half a kilowatt for an hour at 0.5 L/kWh and 0.25 L an hour: 0.5 L. Four litres are eight hours, 4 kWh from the plug.
    let thirst = "fuel_per_kwh = \"0.5 L\"\nfuel_per_hour = \"0.25 L\"";
    let with = |litres: &str| given(&run("", &format!("{thirst}\nfuel = \"{litres}\""), "10 %"));
    assert_eq!(with("4 L"), (4000.0, 4.0));
    // A part of an hour's fuel runs it for that part.
    assert_eq!(with("4.25 L"), (4250.0, 4.25));
    // More than the ten days can burn is left.
    assert_eq!(with("30 L"), (20_000.0, 20.0));
    // Without an end it gives the same.
    assert_eq!(given(&run("", thirst, "10 %")).0, 20_000.0);
    // By the hour alone.
    assert_eq!(given(&run("", "fuel_per_hour = \"0.8 L\"\nfuel = \"4 L\"", "10 %")), (2500.0, 4.0));
}

#[test]
fn a_full_battery_takes_little_and_the_engine_runs_on() {
    // A watt and its converter's losses of forty kilowatt-hours are made good within a run: what burns is mostly the idling, a
    // litre a day of four.
    let outcome = run("", "fuel_per_kwh = \"0.5 L\"\nfuel_per_hour = \"0.25 L\"\nfuel = \"4 L\"", "100 %");
    let (wall_wh, burnt_l) = given(&outcome);
    assert_eq!(burnt_l, 4.0);
    assert!(wall_wh < 10.0 * 24.0 * 4.0, "{wall_wh}");
}

#[test]
fn somebody_has_to_start_it() {
    let thirst = "fuel_per_kwh = \"0.5 L\"\nfuel_per_hour = \"0.25 L\"\nfuel = \"30 L\"";
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
