//! Whole outages with loads that ask by their own state.

use tideover::engine::ledger::Flow;
use tideover::engine::trial::{History, LoadOutcome, Outcome};
use tideover::engine::{Asks, Plan, Silent, TrialSeed, Workspace};

use crate::common::{plan_of, scenario_of};

/// A station without sun and losses to speak of, and what is plugged in.
fn scenario(outage: &str, capacity: &str, loads: &str) -> String {
    format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n\n[outage]\nstarts_charged = \"100 %\"\n{outage}\n\n\
         [station]\nrated_capacity = \"{capacity}\"\nmeasured_capacity = \"{capacity}\"\nown_draw = \"0 W\"\n\
         charge_efficiency = \"100 %\"\ndischarge_efficiency = \"100 %\"\nself_discharge = \"0 %\"\n\
         [station.inverter]\nrated = \"1 kW\"\nidle = \"0 W\"\nefficiency = \"100 %\"\n\
         switches_off_below = \"0 W\"\n\n{loads}"
    )
}

fn plan(text: &str, step_minutes: u32) -> Plan {
    plan_of(&scenario_of(text), step_minutes)
}

fn trial(plan: &Plan, trial: u64) -> (Outcome, Vec<LoadOutcome>, History) {
    let rng = TrialSeed { seed: 1, trial };
    let mut workspace = Workspace::new();
    let history = workspace.begin(&plan.season, rng);
    let outcome = workspace.run(plan, rng, &history, &mut Silent);
    assert!(outcome.ledger.imbalance() < 1e-9, "{:?}", outcome.ledger);
    (outcome, workspace.loads().to_vec(), history)
}

const AT_MIDNIGHT: &str = "start = \"2027-01-11T00:00\"";

fn fridge(more: &str) -> String {
    format!(
        "[[load]]\nname = \"fridge\"\noutlet = \"ac\"\npriority = \"vital\"\nkind = \"cooler\"\nwatts = \"80 W\"\n\
         label = \"250 kWh a year\"\nlabel_room = \"90 °F\"\nfridge_volume = \"200 L\"\nroom = \"21 °C\"\n\
         door_openings = 0\nthermostat_band = \"0 K\"\n{more}\n"
    )
}

#[test]
fn with_power_all_the_time_a_year_takes_the_label() {
    // Under the conditions of the test: 90 °F, 39 °F inside, doors closed (10 CFR 430).
    let load = fridge("fridge_set = \"39 °F\"\nfood = \"not judged\"").replace("21 °C", "90 °F");
    let plan = plan(&scenario(&format!("{AT_MIDNIGHT}\nlasts = \"50 days\""), "100 kWh", &load), 60);
    let (outcome, loads, _) = trial(&plan, 0);
    let expected = 250_000.0 / 365.0 * 50.0;
    // 1,200 steps round.
    assert!((outcome.ledger[Flow::ServedAc] / expected - 1.0).abs() < 1e-10, "{:?}", outcome.ledger);
    assert!((loads[0].asked_wh / expected - 1.0).abs() < 1e-10 && outcome.survived && outcome.unserved_wh == 0.0);
    assert!((plan.loads[0].day_wh() / (250_000.0 / 365.0) - 1.0).abs() < 1e-10);
}

#[test]
fn a_vital_cooler_fails_by_its_food_and_not_by_its_energy() {
    let lasts = |hours: u32, more: &str, allow: &str| {
        let outage = format!("{AT_MIDNIGHT}\nlasts = \"{hours} h\"\nallow_unmet = \"{allow}\"");
        trial(&plan(&scenario(&outage, "300 Wh", &fridge(more)), 60), 0)
    };
    // How long the battery runs it.
    let (long, loads, _) = lasts(60, "", "0 Wh");
    let empty_h = loads[0].first_off_step.expect("the battery runs out");
    assert!(!long.survived && empty_h < 50);
    // An hour without power: energy missed, food cold.
    let (short, loads, _) = lasts(empty_h + 1, "", "0 Wh");
    assert!(short.survived && short.vital_missed_wh > 0.0, "{short:?}");
    let food = loads[0].food[0].expect("a fridge");
    assert_eq!(food.lost_step, [None, None]);
    // Hours without power: food lost, although the energy missed is allowed.
    let (lost, loads, _) = lasts(empty_h + 9, "", "1 kWh");
    assert!(!lost.survived && lost.vital_missed_wh < 1000.0, "{lost:?}");
    let food = loads[0].food[0].expect("a fridge");
    let by_thermometer = food.lost_step[0].expect("lost");
    assert_eq!(lost.failure, Some((by_thermometer, 0)));
    // In a 200-litre fridge some three hours after the power; four by the hours alone. Steps are counted from 0.
    assert!((empty_h + 2..empty_h + 5).contains(&by_thermometer), "{by_thermometer} after {empty_h}");
    let by_hours = food.lost_step[1].expect("lost");
    assert!((empty_h + 4..=empty_h + 5).contains(&by_hours), "{by_hours} after {empty_h}");
    // The other clock, when asked for.
    let (other, _, _) = lasts(empty_h + 9, "food = \"lost after 4 h without power\"", "1 kWh");
    assert_eq!(other.failure, Some((by_hours, 0)));
    // Where nobody minds the food, missed energy counts as with other loads.
    let (unjudged, _, _) = lasts(empty_h + 1, "food = \"not judged\"", "0 Wh");
    assert!(!unjudged.survived);
    let (allowed, _, _) = lasts(empty_h + 9, "food = \"not judged\"", "1 kWh");
    assert!(allowed.survived);
}

#[test]
fn a_compressor_too_small_for_the_heat_loses_the_food_without_any_energy_missed() {
    let hot = fridge("").replace("21 °C", "43 °C").replace("80 W", "40 W");
    let (outcome, loads, _) =
        trial(&plan(&scenario(&format!("{AT_MIDNIGHT}\nlasts = \"3 days\""), "20 kWh", &hot), 60), 0);
    assert!(!outcome.survived && outcome.unserved_wh == 0.0, "{outcome:?}");
    assert!(loads[0].food[0].expect("a fridge").warmest_c > 4.0);
}

#[test]
fn a_cooler_outdoors_follows_the_weather() {
    let wh = |room: &str| {
        let load = fridge("food = \"not judged\"").replace("21 °C", room);
        trial(&plan(&scenario(&format!("{AT_MIDNIGHT}\nlasts = \"3 days\""), "20 kWh", &load), 60), 0).0.ledger
            [Flow::ServedAc]
    };
    // January in Vermont: next to nothing outdoors; indoors it is 21 °C.
    assert!(wh("outdoors") < 0.2 * wh("21 °C"), "{} {}", wh("outdoors"), wh("21 °C"));
    assert_eq!(wh("indoors"), wh("21 °C"));
}

#[test]
fn halving_the_step_settles_the_answer() {
    let load = fridge("freezer_volume = \"60 L\"").replace("0 K", "2 K");
    let outage = "month = \"July\"\nlasts = \"40 h\"";
    let run = |minutes: u32| {
        let plan = plan(&scenario(outage, "400 Wh", &load), minutes);
        let mut sums = (0.0, 0.0, 0.0);
        for k in 0..40 {
            let (outcome, loads, _) = trial(&plan, k);
            let warmest = loads[0].food[0].expect("a fridge").warmest_c;
            sums = (sums.0 + outcome.ledger[Flow::ServedAc], sums.1 + outcome.unserved_wh, sums.2 + warmest);
        }
        [sums.0 / 40.0, sums.1 / 40.0, sums.2 / 40.0]
    };
    let [hour, half, tenth] = [60, 30, 6].map(run);
    // The error falls with the step: that of half an hour, less that of six minutes, is (30 − 6) / (60 − 6) = 0.44 of an hour's.
    // Thermostats that switch at other moments scatter 40 trials about it. 1e-3 Wh or K: where both errors are as good as none.
    for k in 0..3 {
        let (coarse, fine) = ((hour[k] - tenth[k]).abs(), (half[k] - tenth[k]).abs());
        assert!(coarse < 0.02 * tenth[k].abs() && fine < 0.75 * coarse + 1e-3, "{hour:?} {half:?} {tenth:?}");
    }
}

#[test]
fn a_device_lives_on_its_own_battery_for_a_while() {
    let phone = "[[load]]\nname = \"phone\"\noutlet = \"ac\"\npriority = \"vital\"\nwatts = \"10 W\"\n\
                 energy_a_day = \"24 Wh\"\nholds = \"36 Wh\"\ncharging_efficiency = \"100 %\"\n";
    // 10 Wh in the station at 1 W run it for ten hours, its own 36 Wh for 36 more.
    let outage = format!("{AT_MIDNIGHT}\nlasts = \"3 days\"");
    let plan = plan(&scenario(&outage, "10 Wh", phone), 60);
    assert!(matches!(plan.loads[0].asks.as_deref(), Some(Asks::Charge(_))));
    let (outcome, loads, _) = trial(&plan, 0);
    assert_eq!(outcome.failure, Some((46, 0)));
    assert!((loads[0].off_h - 26.0).abs() < 1e-9 && (loads[0].unserved_wh - 26.0).abs() < 1e-9, "{:?}", loads[0]);
}

#[test]
fn days_of_the_week_follow_the_calendar_or_are_drawn() {
    let lamp = "[[load]]\nname = \"lamp\"\noutlet = \"ac\"\npriority = \"vital\"\nwatts = \"100 W\"\n\
                hours = \"10:00-12:00\"\ndays = \"weekends\"\n";
    // 15 January 2027 is a Friday.
    let friday = plan(&scenario("start = \"2027-01-15T18:00\"\nlasts = \"3 days\"", "5 kWh", lamp), 60);
    assert!((trial(&friday, 0).1[0].asked_wh - 400.0).abs() < 1e-9);
    let any = plan(&scenario("month = \"January\"\nlasts = \"7 days\"", "5 kWh", lamp), 60);
    let mut seen = [0; 7];
    for k in 0..700 {
        let (_, loads, history) = trial(&any, k);
        // A week holds one weekend, whatever day it begins on; an hour may be cut at its ends.
        assert!((300.0..=500.0).contains(&loads[0].asked_wh), "{}", loads[0].asked_wh);
        seen[history.weekday] += 1;
    }
    // 100 each, standard deviation 9.3; five of them is a false alarm once in 250,000.
    assert!(seen.iter().all(|&n: &i32| (n - 100).abs() < 47), "{seen:?}");
}

fn well(more: &str) -> String {
    format!(
        "[[load]]\nname = \"well\"\noutlet = \"ac\"\npriority = \"spare\"\nwatts = \"200 W\"\nlift = \"36.7 m\"\n\
         water_a_day = \"1000 L\"\npump_efficiency = \"50 %\"\n{more}\n[[load]]\nname = \"lamp\"\noutlet = \"ac\"\n\
         priority = \"vital\"\nwatts = \"1 W\"\n"
    )
}

#[test]
fn a_pump_takes_the_energy_of_lifting_its_water() {
    // The trade's rule P [kW] = Q [m³/h] · H [m] / 367 (ρ g H Q; handbooks of pumps, from memory): a cubic metre a day up
    // 36.7 m is 100 Wh, from the outlet 200 Wh. 367 is rounded: 3600 / 9.80665 = 367.1.
    let outage = format!("{AT_MIDNIGHT}\nlasts = \"10 days\"");
    let plan = plan(&scenario(&outage, "100 kWh", &well("off_below = \"0 %\"")), 60);
    let (outcome, loads, _) = trial(&plan, 0);
    assert!((loads[0].asked_wh / 2000.0 - 1.0).abs() < 0.1 / 367.0, "{loads:?}");
    assert_eq!(loads[0].unserved_wh, 0.0);
    // The tank is as full at the end as at the start: what it was given is what was used.
    let lamp = 240.0;
    assert!((outcome.ledger[Flow::ServedAc] - lamp - loads[0].asked_wh).abs() < 1e-6 * 2000.0, "{:?}", outcome.ledger);
}

#[test]
fn a_pump_runs_on_what_is_left_over() {
    // From a battery that is never charged: down to nine tenths of it and no further, then on what is in the tank.
    let outage = format!("{AT_MIDNIGHT}\nlasts = \"10 days\"");
    let plan = plan(&scenario(&outage, "1 kWh", &well("tank = \"3000 L\"")), 60);
    let (outcome, loads, _) = trial(&plan, 0);
    let given = outcome.ledger[Flow::ServedAc] - 240.0;
    // An hour of the pump may begin just above the mark.
    assert!((0.0..=100.0 + 200.0).contains(&given) && given > 50.0, "{given} Wh");
    // Three days' water in the tank at first, and what came in: the rest of ten days is missed.
    let missed = loads[0].asked_wh - 3.0 * 200.0 - given;
    assert!((loads[0].unserved_wh / missed - 1.0).abs() < 1e-3, "{loads:?} {missed}");
    assert!(outcome.survived);
}
