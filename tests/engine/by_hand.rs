//! Steps and outages whose answer is worked out by hand.

use tideover::engine::plan::Sky;
use tideover::engine::{Demand, Flow, Ledger, Outcome, Plan, Rig, Silent, Supply, TrialSeed, step};

use tideover::trials::run::Quiet;
use tideover::trials::{Settings, run};

use crate::common::{climate_of, plan_of, scenario_of};
use crate::one_trial;

fn outcome_of(plan: &Plan, trial: u64) -> Outcome {
    one_trial(plan, TrialSeed { seed: 3, trial }, &mut Silent).0
}

/// Sun of 100 W, of which the input gives four fifths to the bus, feeds 80 of 90 W while the cells are empty, and 80 Wh are all that
/// there is to give. Nothing that the input loses may serve a load.
#[test]
fn what_the_solar_input_loses_serves_nobody() {
    let rig = Rig { solar_efficiency: 0.8, ..Rig::ideal(1_000.0, 0.0) };
    let mut demand = Demand::default();
    demand.watts[0][0] = 90.0;
    demand.plugged[0][0] = true;
    let supply = Supply { panel_w: 100.0, usable_w: 100.0, ..Supply::default() };
    let mut ledger = Ledger::starting_with(0.0);
    let balance = step(&rig, &rig.limits_at(25.0), 0.0, supply, &demand, 1.0, &mut ledger);
    assert!((balance.served[0][0] - 80.0 / 90.0).abs() < 1e-9, "{:?}", balance.served);
    assert!((ledger.delivered_wh() - 80.0).abs() < 1e-9 && balance.stored_wh.abs() < 1e-9, "{ledger:?}");
    assert!((ledger[Flow::SolarInputLoss] - 20.0).abs() < 1e-9);
}

/// From a Saturday's morning to the Sunday's evening a load of weekends is a load of every day: by the same draws the same outage,
/// with what an inverter loses by a load that comes and goes.
#[test]
fn on_a_weekend_a_load_of_weekends_is_one_of_every_day() {
    let outcome = |days: &str, trial: u64| {
        let plan = plan_of(
            &scenario_of(&format!(
                "[site]\nlatitude = 44.2\nlongitude = -72.6\n\n[outage]\nstart = \"2027-01-16T06:00\"\nlasts = \"36 h\"\n\n\
                 [station]\nrated_capacity = \"9 kWh\"\n\n[station.inverter]\nrated = \"600 W\"\nidle = \"6 W\"\n\
                 efficiency = [\n  {{ load = \"100 W\", efficiency = \"90 %\" }},\n  {{ load = \"300 W\", efficiency = \"88 %\" }},\n\
                 {{ load = \"600 W\", efficiency = \"80 %\" }},\n]\nswitches_off_below = \"0 W\"\n\n\
                 [[load]]\nname = \"pump\"\noutlet = \"ac\"\npriority = \"vital\"\nwatts = \"400 W\"\nduty = \"30 %\"\n\
                 varies = \"40 %\"\n{days}\n"
            )),
            60,
        );
        outcome_of(&plan, trial)
    };
    for trial in 0..8 {
        let (weekend, always) = (outcome("days = \"weekends\"", trial), outcome("", trial));
        for ((flow, a), (_, b)) in weekend.ledger.entries().zip(always.ledger.entries()) {
            assert!((a - b).abs() < 1e-6 * b.max(1.0), "trial {trial}, {flow:?}: {a} and {b} Wh");
        }
    }
}

/// A full battery of 100 Wh that loses nothing, under 10 W: a tenth less after each hour, in the middle outage as in all.
#[test]
fn the_fan_of_charges_shows_what_is_left() {
    let plan = plan_of(
        &scenario_of(
            "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nstart = \"2027-07-10T00:00\"\nlasts = \"8 h\"\n\
             starts_charged = \"100 %\"\n[station]\nrated_capacity = \"100 Wh ± 0 %\"\nown_draw = \"0 W\"\n\
             self_discharge = \"0 %\"\nloses_by_rate = \"0 %\"\ndischarge_efficiency = \"100 % ± 0 %\"\n\
             [station.dc_outlet]\nlimit = \"120 W\"\nefficiency = \"100 %\"\nidle = \"0 W\"\n\
             [[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"10 W\"\n",
        ),
        60,
    );
    let settings = Settings { seed: 1, trials: 100, precision: None };
    let fan = &run(std::slice::from_ref(&plan), &settings, &Quiet)[0].fan;
    assert_eq!((fan.steps(), fan.trials_at(7)), (8, 100));
    for step in 0..8 {
        let left = fan.quantile(step, 0.5).expect("a charge");
        assert!((left - (0.9 - 0.1 * step as f64)).abs() < 0.005 + 1e-12, "after {} h: {left}", step + 1);
    }
}

/// Watts times hours, whatever the step: 100 W for 72 h and 30 W from six to nine on three days.
#[test]
fn what_is_asked_for_is_watts_times_hours_at_any_step() {
    let scenario = scenario_of(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n\n[outage]\nstart = \"2027-07-10T00:00\"\nlasts = \"72 h\"\n\n\
         [station]\nrated_capacity = \"20 kWh\"\n\n[station.dc_outlet]\nlimit = \"200 W\"\n\n\
         [[load]]\nname = \"steady\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"100 W\"\n\n\
         [[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"30 W\"\nhours = \"18:00-21:00\"\n",
    );
    for step_minutes in [60, 30, 10] {
        let plan = plan_of(&scenario, step_minutes);
        let (outcome, loads) = one_trial(&plan, TrialSeed { seed: 3, trial: 0 }, &mut Silent);
        assert!(outcome.survived);
        let asked: Vec<f64> = loads.iter().map(|load| load.asked_wh).collect();
        assert!((asked[0] - 7_200.0).abs() < 1e-6 && (asked[1] - 270.0).abs() < 1e-6, "{step_minutes} min: {asked:?}");
    }
}

/// A variant that shares weather and light with the scenario it varies is what it is alone.
#[test]
fn a_plan_compiled_beside_another_is_the_same_as_alone() {
    let text = |battery: u32| {
        format!(
            "[site]\nlatitude = 44.2\nlongitude = -72.6\n\n[outage]\nmonth = \"March\"\nlasts = \"4 days\"\n\n\
             [station]\nrated_capacity = \"{battery} Wh\"\n\n[station.dc_outlet]\nlimit = \"200 W\"\n\n\
             [station.solar_input]\nlimit = \"500 W\"\n\n[[panel]]\nrated = \"200 W\"\ntilt = \"60°\"\nfacing = \"south\"\n\n\
             [[panel]]\nrated = \"100 W\"\ntilt = \"90°\"\nfacing = \"north\"\n\n\
             [[load]]\nname = \"radio\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"40 W\"\n"
        )
    };
    let (small, large) = (scenario_of(&text(500)), scenario_of(&text(900)));
    let base = plan_of(&small, 60);
    let beside = Plan::compile_beside(&large, &Sky::Climate(climate_of(&large)), 60, (&small, &base)).expect("a plan");
    for trial in 0..4 {
        assert_eq!(outcome_of(&beside, trial), outcome_of(&plan_of(&large, 60), trial));
    }
}

/// A load that varies from day to day asks on average for what it is said to take: 100 W over 72 h by a factor of standard deviation
/// 0.3 a day, 400 outages, so that the mean stands to 0.3 / sqrt(1,200), a hundredth, four times over.
#[test]
fn a_load_that_varies_takes_on_average_what_is_said() {
    let plan = plan_of(
        &scenario_of(
            "[site]\nlatitude = 44.2\nlongitude = -72.6\n\n[outage]\nstart = \"2027-07-10T00:00\"\nlasts = \"72 h\"\n\n\
             [station]\nrated_capacity = \"20 kWh\"\n\n[station.dc_outlet]\nlimit = \"500 W\"\n\n\
             [[load]]\nname = \"pump\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"100 W\"\nvaries = \"30 %\"\n",
        ),
        60,
    );
    let asked_wh: f64 =
        (0..400).map(|trial| one_trial(&plan, TrialSeed { seed: 3, trial }, &mut Silent).1[0].asked_wh).sum();
    let share = asked_wh / (400.0 * 7_200.0);
    assert!((share - 1.0).abs() < 4.0 * 0.3 / 1_200.0_f64.sqrt(), "{share} of what is said");
}

/// A load that is put away after three hours of an outage that begins at five in the morning: 20 W for three of eight hours, and
/// what it misses after that is by rule.
#[test]
fn a_load_put_away_after_some_hours_runs_until_then() {
    let mut plan = plan_of(
        &scenario_of(
            "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nstart = \"2027-07-10T05:00\"\nlasts = \"8 h\"\n\
             starts_charged = \"100 %\"\n[station]\nrated_capacity = \"1000 Wh ± 0 %\"\nown_draw = \"0 W\"\n\
             self_discharge = \"0 %\"\nloses_by_rate = \"0 %\"\ndischarge_efficiency = \"100 % ± 0 %\"\n\
             [station.dc_outlet]\nlimit = \"120 W\"\nefficiency = \"100 %\"\nidle = \"0 W\"\n\
             [[load]]\nname = \"radio\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"10 W\"\n\
             [[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"useful\"\nwatts = \"20 W\"\n",
        ),
        60,
    );
    plan.loads[1].off_from_step = 3;
    plan.mind_rules();
    let (outcome, loads) = one_trial(&plan, TrialSeed { seed: 3, trial: 0 }, &mut Silent);
    assert!(outcome.survived);
    assert!((outcome.ledger.delivered_wh() - 140.0).abs() < 1e-9, "{:?}", outcome.ledger);
    assert!((outcome.ledger[Flow::End] - 860.0).abs() < 1e-9);
    let lamp = &loads[1];
    assert_eq!((lamp.asked_wh, lamp.unserved_wh, lamp.by_rule_wh, lamp.off_h), (160.0, 100.0, 100.0, 5.0));
    assert_eq!((lamp.first_off_step, loads[0].first_off_step), (Some(3), None));
}

/// What rests from nine to five runs for sixteen of a day's hours, and so does what rests from ten at night to six in the morning.
#[test]
fn a_load_that_rests_runs_in_the_other_hours() {
    for (from_h, to_h) in [(9.0, 17.0), (22.0, 6.0)] {
        let mut plan = plan_of(
            &scenario_of(
                "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nstart = \"2027-07-10T00:00\"\nlasts = \"24 h\"\n\
                 [station]\nrated_capacity = \"1 kWh\"\n[station.dc_outlet]\nlimit = \"120 W\"\n\
                 [[load]]\nname = \"radio\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"10 W\"\n",
            ),
            60,
        );
        plan.loads[0].rest_between(from_h, to_h);
        let (_, loads) = one_trial(&plan, TrialSeed { seed: 3, trial: 0 }, &mut Silent);
        assert!((loads[0].asked_wh - 160.0).abs() < 1e-9, "{from_h} to {to_h}: {}", loads[0].asked_wh);
    }
}

/// Two panels of 100 W, each known to a tenth, are one of 200 W that is known to a tenth: panels of one make err alike.
#[test]
fn two_panels_are_one_of_twice_the_watts() {
    let plan = |panel: &str| {
        plan_of(
            &scenario_of(&format!(
                "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nmonth = \"March\"\nlasts = \"3 days\"\n\
                 [station]\nrated_capacity = \"1 kWh\"\n[station.dc_outlet]\nlimit = \"120 W\"\n[station.solar_input]\nlimit = \"400 W\"\n\
                 [[panel]]\n{panel}\ntilt = \"60°\"\nfacing = \"south\"\n\
                 [[load]]\nname = \"radio\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"40 W\"\n"
            )),
            60,
        )
    };
    let two = plan("rated = \"100 W ± 10 %\"\ncount = 2\nwiring = \"parallel\"");
    let one = plan("rated = \"200 W ± 10 %\"");
    for trial in 0..8 {
        let (two, one) = (outcome_of(&two, trial), outcome_of(&one, trial));
        for ((flow, a), (_, b)) in two.ledger.entries().zip(one.ledger.entries()) {
            assert!((a - b).abs() < 1e-6 * b.max(1.0), "trial {trial}, {flow:?}: {a} and {b} Wh");
        }
    }
}

/// What a load got is what it asked for but what it missed, whatever it drew on that day: at an outlet without losses the account of one
/// load alone.
#[test]
fn what_a_varying_load_gets_is_what_it_asks_for_but_what_it_misses() {
    let plan = plan_of(
        &scenario_of(
            "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nstart = \"2027-07-10T00:00\"\nlasts = \"3 days\"\n\
             [station]\nrated_capacity = \"1 kWh\"\n[station.dc_outlet]\nlimit = \"500 W\"\n[station.solar_input]\nlimit = \"200 W\"\n\
             [[panel]]\nrated = \"60 W\"\ntilt = \"40°\"\nfacing = \"south\"\n\
             [[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"60 W ± 30 %\"\nvaries = \"70 %\"\n",
        ),
        60,
    );
    let (mut some, mut all) = (0, 0);
    for trial in 0..24 {
        let (outcome, loads) = one_trial(&plan, TrialSeed { seed: 3, trial }, &mut Silent);
        let (asked_wh, missed_wh) = (loads[0].asked_wh, loads[0].unserved_wh);
        let got_wh = outcome.ledger.delivered_wh();
        assert!(
            (asked_wh - missed_wh - got_wh).abs() < 1e-9 * asked_wh.max(1.0),
            "{trial}: {asked_wh} - {missed_wh}, {got_wh}"
        );
        (some, all) = (some + u32::from(missed_wh > 0.05 * asked_wh), all + 1);
    }
    assert!(4 * some > all, "{some} of {all} miss something");
}
