//! What the parts of a kit do hour by hour, through the whole way from the file to the step.

use tideover::engine::ledger::Flow;
use tideover::engine::{Demand, Ledger, Observer, Plan, Rig, StepView, Supply, TrialSeed, Workspace, step};
use tideover::kit::FitnessTable;
use tideover::scenario::Scenario;
use tideover::scenario::model::Chemistry;
use tideover::study::endurance::endurance;
use tideover::units::Celsius;

use crate::common::{climate_of, plan_of, scenario_of};

const KIT: &str = concat!(
    section!("site", latitude: 44.2, longitude: "-72.6", timezone = "-05:00"),
    section!("outage", start = "2027-07-10T00:00", lasts = "5 days", starts_charged = "50 %"),
    section!("station", rated_capacity = "1 kWh", own_draw = "0 W"),
    section!("station.inverter", rated = "500 W"),
    section!("station.dc_outlet", limit = "120 W"),
    section!("station.solar_input", limit = "400 W"),
    entry!(
        "panel",
        count: 2,
        wiring = "parallel",
        rated = "100 W",
        tilt = "30°",
        facing = "south",
        open_circuit_voltage = "22.3 V",
        max_power_voltage = "18 V"
    ),
    load!("lamp", "dc", "vital", "10 W"),
);

fn scenario(changes: &[(&str, &str)]) -> Scenario {
    let mut text = KIT.to_string();
    for (old, new) in changes {
        assert!(text.contains(old), "{old} is not in the kit");
        text = text.replacen(old, new, 1);
    }
    scenario_of(&text)
}

fn plan(changes: &[(&str, &str)]) -> Plan {
    plan_of(&scenario(changes), 60)
}

/// Panel, usable and wall power of each step.
#[derive(Default)]
struct Hours {
    panel_w: Vec<f64>,
    usable_w: Vec<f64>,
    cell_c: Vec<f64>,
    clearness_known: usize,
}

impl Observer for Hours {
    fn step(&mut self, _: usize, view: &StepView<'_>) {
        self.panel_w.push(view.supply.panel_w);
        self.usable_w.push(view.supply.usable_w);
        self.cell_c.push(view.cell_c);
        self.clearness_known += 1;
    }
}

/// One trial of a kit, with the days' clearness beside it.
fn run(changes: &[(&str, &str)]) -> (Hours, Ledger, Vec<f64>) {
    let plan = plan(changes);
    let rng = TrialSeed { seed: 7, trial: 3 };
    let mut workspace = Workspace::new();
    let history = workspace.begin(&plan.season, rng);
    let clearness = workspace.weather().daily_clearness.clone();
    let mut hours = Hours::default();
    let outcome = workspace.run(&plan, rng, &history, &mut hours);
    assert_eq!(hours.clearness_known, 120);
    assert!(outcome.ledger.imbalance() < 1e-9);
    (hours, outcome.ledger, clearness)
}

fn total(values: &[f64]) -> f64 {
    values.iter().sum()
}

const PANEL: &str = "max_power_voltage = \"18 V\"\n";
const INPUT: &str = "limit = \"400 W\"\n";
const FIXED: &str = "tilt = \"30°\"\nfacing = \"south\"\n";
const STATION: &str = "own_draw = \"0 W\"\n";

#[test]
fn a_string_below_the_inputs_least_volts_gives_nothing() {
    let (hours, ledger, _) = run(&[(INPUT, "limit = \"400 W\"\nvolts_min = \"21 V\"\n")]);
    assert!(total(&hours.panel_w) > 1000.0);
    assert_eq!(total(&hours.usable_w), 0.0);
    assert!(
        (ledger[Flow::Clipped] - ledger[Flow::Solar]).abs() < 1e-9 && ledger[Flow::Curtailed] == ledger[Flow::Clipped]
    );
    // Just below the cold volts: dawn, when the cells are cool, gets in; noon does not.
    let (hours, _, _) = run(&[(INPUT, "limit = \"400 W\"\nvolts_min = \"17.5 V\"\n")]);
    let used = |hour: usize| (0..5).map(|day| hours.usable_w[24 * day + hour]).sum::<f64>();
    let made = |hour: usize| (0..5).map(|day| hours.panel_w[24 * day + hour]).sum::<f64>();
    assert!(used(6) > 0.5 * made(6) && used(12) < 0.5 * made(12), "{} {}", used(6) / made(6), used(12) / made(12));
}

#[test]
fn amps_above_the_inputs_are_cut_and_counted() {
    let (free, _, _) = run(&[]);
    let (hours, ledger, _) = run(&[(INPUT, "limit = \"400 W\"\namps_max = \"5 A\"\n")]);
    assert_eq!(hours.panel_w, free.panel_w);
    for (panel_w, usable_w) in hours.panel_w.iter().zip(&hours.usable_w) {
        // 200 W at 18 V are 11.1 A at full sun: beyond 5 A the voltage, between 14 and 20 V, sets the power.
        assert!(usable_w <= panel_w && *usable_w <= 5.0 * 20.0);
        assert!(*usable_w >= panel_w.min(5.0 * 14.0) - 1e-9);
    }
    assert!(ledger[Flow::Clipped] > 100.0);
}

#[test]
fn a_cable_loses_with_the_square_of_the_power_of_each_hour() {
    let (free, _, _) = run(&[(PANEL, "max_power_voltage = \"18 V\"\ncable_loss = \"0 %\"\n")]);
    let wire = "max_power_voltage = \"18 V\"\ncable = { length = \"30 ft\", gauge = \"12 AWG\" }\n";
    let (thin, _, _) = run(&[(PANEL, wire)]);
    let mut seen = 0;
    for (all, left) in free.panel_w.iter().zip(&thin.panel_w).filter(|(all, _)| **all > 20.0) {
        // 0.1188 ohm there and back (the worked example of electrical_examples.toml). Volts lie between 15 V (cells at
        // 66 °C) and 20 V (at -3 °C).
        let share = 1.0 - left / all;
        assert!((all * 0.1188 / (20.0 * 20.0)..all * 0.1188 / (15.0 * 15.0)).contains(&share), "{all} W: {share}");
        seen += 1;
    }
    assert!(seen > 20);
    // Half the volts and twice the amps cost four times as much. Panels are worked out in single precision: 6e-8 of a number.
    let series = [("wiring = \"parallel\"", "wiring = \"series\""), (PANEL, wire)];
    let (thick, _, _) = run(&series);
    let lost = |hours: &Hours| total(&free.panel_w) - total(&hours.panel_w);
    assert!((lost(&thin) / lost(&thick) - 4.0).abs() < 1e-6, "{}", lost(&thin) / lost(&thick));
}

#[test]
fn shade_takes_its_share_by_the_clock_and_by_the_sun() {
    let (open, _, _) = run(&[]);
    let (hours, _, _) = run(&[(FIXED, &format!("{FIXED}shade = [{{ hours = \"14:00-24:00\", loses = \"75 %\" }}]\n"))]);
    for hour in 0..120 {
        let left = if hour % 24 < 14 { 1.0 } else { 0.25 };
        // Up to 200 W in single precision, a rounding of which is 1e-5 W.
        assert!((hours.panel_w[hour] - left * open.panel_w[hour]).abs() < 1e-4, "hour {hour}");
    }
    // A hill in the west: the sun stands there only after solar noon, about 11:56 by this clock.
    let west = "shade = [{ sun_from = \"south\", sun_to = \"north\", loses = \"100 %\" }]\n";
    let (hours, _, _) = run(&[(FIXED, &format!("{FIXED}{west}"))]);
    for hour in 0..120 {
        match hour % 24 {
            0..=10 => assert_eq!(hours.panel_w[hour], open.panel_w[hour], "hour {hour}"),
            12.. => assert_eq!(hours.panel_w[hour], 0.0, "hour {hour}"),
            _ => {}
        }
    }
    // One that ends at 10° hides the sun only while it is low.
    let low = "shade = [{ sun_from = \"north\", sun_to = \"359°\", below = \"10°\", loses = \"100 %\" }]\n";
    let (hours, _, _) = run(&[(FIXED, &format!("{FIXED}{low}"))]);
    assert!(open.panel_w[4] > 0.0);
    assert_eq!((hours.panel_w[4], hours.panel_w[12]), (0.0, open.panel_w[12]));
}

#[test]
fn turning_a_panel_pays_more_the_more_often_and_never_beats_the_sun_itself() {
    let sum = |aim: &str| total(&run(&[(FIXED, aim)]).0.panel_w);
    let by_hand: Vec<f64> = [1, 2, 3, 6, 48].map(|n| sum(&format!("aim = {{ times_a_day = {n} }}\n"))).to_vec();
    let best = sum("aim = \"at the sun\"\n");
    assert!(by_hand.is_sorted(), "{by_hand:?}");
    assert!(by_hand[4] < best && by_hand[4] > 0.95 * best, "{by_hand:?} {best}");
    assert!(by_hand[2] > sum(FIXED), "{by_hand:?}");
}

#[test]
fn a_folding_panel_is_out_in_its_hours_and_on_its_days_only() {
    let (open, _, clearness) = run(&[]);
    let mut sorted = clearness.clone();
    sorted.sort_by(f64::total_cmp);
    let wanted = 0.5 * (sorted[2] + sorted[3]);
    let out = format!("out = {{ hours = \"09:00-16:00\", if_clearer_than = \"{:.6} %\" }}\n", 100.0 * wanted);
    let (hours, _, same) = run(&[(FIXED, &format!("{FIXED}{out}"))]);
    assert_eq!(clearness, same);
    for (hour, (made, free)) in hours.panel_w.iter().zip(&open.panel_w).enumerate() {
        let is_out = (9..16).contains(&(hour % 24)) && clearness[hour / 24] > wanted;
        assert_eq!(*made, if is_out { *free } else { 0.0 }, "hour {hour}");
    }
    assert!(total(&hours.panel_w) > 0.0);
}

#[test]
fn unequal_strings_work_at_the_volts_that_give_most() {
    let second = "max_power_voltage = \"18 V\"\n\n[[panel]]\nrated = \"100 W\"\ntilt = \"30°\"\nfacing = \"south\"\nmax_power_voltage = ";
    let (one, _, _) = run(&[]);
    let with = |volts: &str| total(&run(&[(PANEL, &format!("{second}\"{volts}\"\n"))]).0.panel_w) / total(&one.panel_w);
    // 200 W at 18 V beside 100 W: alike they add up; at 36 V the third panel gives half; at 12 V the
    // input holds that and the first two give two thirds; at 5 V it had better hold 18 V and lose the third.
    // Panels are worked out in single precision.
    assert!((with("18.5 V") - 1.5).abs() < 1e-6);
    assert!((with("36 V") - 1.25).abs() < 1e-6, "{}", with("36 V"));
    assert!((with("12 V") - (2.0 / 3.0 + 0.5)).abs() < 1e-6, "{}", with("12 V"));
    assert!((with("5 V") - 1.0).abs() < 1e-6, "{}", with("5 V"));
}

#[test]
fn frost_bars_lithium_from_the_sun_and_a_heater_lets_it_in() {
    let frost = |more: &str| run(&[(STATION, &format!("{STATION}stands = \"-8 °C\"\n{more}"))]).1;
    let barred = frost("");
    assert!(barred[Flow::ChargingLoss] == 0.0 && barred[Flow::Barred] > 1000.0, "{barred:?}");
    assert!((barred[Flow::Barred] - barred[Flow::Curtailed]).abs() < 1e-9);
    let heated = frost("self_heating = \"30 W\"\n");
    // In the mornings the cells are still too cold.
    let (most, least) = (0.5 * barred[Flow::Barred], 0.01 * barred[Flow::Barred]);
    assert!(heated[Flow::Barred] < most && heated[Flow::Barred] > least, "{heated:?}");
    assert!(heated[Flow::ChargingLoss] > 0.0 && heated[Flow::Heater] > 100.0, "{heated:?}");
    let lead = frost("chemistry = \"lead-acid\"\n");
    assert!(lead[Flow::Barred] == 0.0 && lead[Flow::ChargingLoss] > 0.0);
    assert_eq!(run(&[]).1[Flow::Barred], 0.0);
}

#[test]
fn a_station_outdoors_follows_the_air_and_one_in_the_sun_is_warmer_by_day() {
    let cells = |stands: &str| run(&[(STATION, &format!("{STATION}stands = \"{stands}\"\n"))]).0.cell_c;
    let (inside, outside, sun) = (cells("indoors"), cells("outdoors"), cells("in the sun"));
    // Indoors as warm as the month's mean outside, 20.3 °C there in July, where that is above a heated room's 20 °C.
    let july_c = climate_of(&scenario(&[])).months[6].air.mean_c;
    assert!((20.0..21.0).contains(&july_c), "{july_c}");
    assert!(inside.iter().all(|c| (c - july_c).abs() < 1e-9), "{inside:?}");
    assert!(outside.iter().zip(&sun).all(|(shade, sun)| shade <= sun));
    assert!(sun[14] > outside[14] + 5.0 && sun[14] < outside[14] + 26.0);
    let swing = |c: &[f64]| c.iter().copied().fold(f64::MIN, f64::max) - c.iter().copied().fold(f64::MAX, f64::min);
    assert!(swing(&outside) > 3.0);
}

#[test]
fn a_generator_gives_what_the_sun_does_not_in_its_hours_only() {
    let generator = "[station.wall_charger]\nlimit = \"200 W\"\nefficiency = \"80 %\"\n\n[generator]\nlimit = \"150 W\"\nhours = \"02:00-03:30\"\n\n[[load]]";
    let (_, ledger, _) = run(&[
        ("[[load]]", generator),
        ("starts_charged = \"50 %\"", "starts_charged = \"0 %\""),
        ("rated = \"100 W\"", "rated = \"0.001 W\""),
    ]);
    // 5 days of 1.5 h at 150 W, for the battery never gets full; sums of watts in steps, multiplied once, round to 1e-9 of it.
    assert!((ledger[Flow::Wall] - 5.0 * 1.5 * 150.0).abs() < 1e-6, "{ledger:?}");
    assert!((ledger[Flow::WallLoss] - 0.2 * ledger[Flow::Wall]).abs() < 1e-6);
    // A full battery and bright sun leave it little to do: two signs of that with room to spare, no source.
    let (_, full, _) = run(&[("[[load]]", generator), ("starts_charged = \"50 %\"", "starts_charged = \"100 %\"")]);
    assert!(full[Flow::Wall] < 0.7 * ledger[Flow::Wall] && full[Flow::Curtailed] > 0.5 * full[Flow::Solar], "{full:?}");
}

#[test]
fn near_full_a_long_step_charges_less_than_short_ones_and_both_converge() {
    let mut rig = Rig::ideal(1000.0, 0.0);
    (rig.charge_base_w, rig.taper_wh) = (1000.0, 100.0);
    let after = |step_h: f64| {
        let (mut stored, limits) = (850.0, rig.limits());
        for _ in 0..(1.0 / step_h).round() as usize {
            let mut ledger = Ledger::default();
            stored = step(&rig, &limits, stored, Supply::sun(500.0), &Demand::default(), step_h, &mut ledger).stored_wh;
        }
        stored
    };
    // In closed form: 500 W until the taper, 1000 W × (room / 100 Wh), falls to that at 950 Wh, after 0.2 h; then the
    // room of 50 Wh shrinks as exp(−t / 0.1 h) for 0.8 h.
    let exact = 1000.0 - 50.0 * (-8.0_f64).exp();
    let errors: Vec<f64> = [1.0, 0.25, 0.05, 0.01, 0.001].map(|h| exact - after(h)).to_vec();
    assert!(errors.iter().all(|e| *e > -1e-9), "{errors:?}");
    // One step of an hour takes the room of 150 Wh to 150 / (1 + 10) (implicit Euler by hand). Steps of 0.001 h shrink it by 1.01
    // each instead of exp(0.01), from the 50.5 Wh at which the taper begins to bind on: 50.5 × 1.01^-799 is 0.001 Wh too much.
    assert!(errors.is_sorted_by(|a, b| a >= b) && errors[4] < 0.001_1, "{errors:?}");
    assert!((errors[0] - (150.0 / 11.0 - 50.0 * (-8.0_f64).exp())).abs() < 1e-9, "{errors:?}");
}

#[test]
fn runtimes_agree_with_the_closed_form() {
    // Hours = cells × efficiency / (load + k1 load + k2 load² + idle + own draw), cells known exactly.
    let station = "own_draw = \"4 W\"\ndischarge_efficiency = \"95 %\"\nself_discharge = \"0 %\"\nloses_by_rate = \"0 %\"\nmeasured_capacity = \"760 Wh\"\nmeasured_load = \"200 W\"\n";
    let inverter = "rated = \"500 W\"\nswitches_off_below = \"0 W\"\nidle = \"12 W\"\nefficiency = [{ load = \"100 W\", efficiency = \"80 %\" }, { load = \"400 W\", efficiency = \"86 %\" }]";
    let load = |watts: &str| format!("outlet = \"ac\"\npriority = \"vital\"\nwatts = \"{watts} W\"");
    let lamp = "outlet = \"dc\"\npriority = \"vital\"\nwatts = \"10 W\"";
    // The curve by hand: losses beyond idle are 25 − 12 = 13 W at 100 W and 65.116 − 12 = 53.116 W at 400 W.
    let (y1, y2): (f64, f64) = (13.0, 400.0 / 0.86 - 400.0 - 12.0);
    let square = (y2 / 400.0 - y1 / 100.0) / 300.0;
    let linear = y1 / 100.0 - 100.0 * square;
    let drawn = |p: f64| p + linear * p + square * p * p + 12.0 + 4.0;
    let cells = drawn(200.0) * (760.0 / 200.0) / 0.95;
    for watts in [5.0, 50.0, 100.0, 200.0, 400.0] {
        let plan = plan(&[(STATION, station), ("rated = \"500 W\"", inverter), (lamp, &load(&watts.to_string()))]);
        let sums = endurance(&plan, 20.0);
        let expected = cells * 0.95 / drawn(watts);
        assert!(
            (sums.each[0].shortest_h / expected - 1.0).abs() < 1e-9,
            "{watts} W: {} {expected}",
            sums.each[0].shortest_h
        );
    }
}

#[test]
fn cold_locks_energy_in_and_warmth_gives_it_back() {
    let table = FitnessTable::new(Chemistry::Lfp, (Celsius(0.0), Celsius(45.0)), (Celsius(-20.0), Celsius(60.0)));
    let rig = Rig { fitness: std::sync::Arc::new(table), ..Rig::ideal(1000.0, 1000.0) };
    let mut demand = Demand::default();
    (demand.watts[0][1], demand.plugged[0][1]) = (2000.0, true);
    let mut ledger = Ledger::starting_with(1000.0);
    let cold = step(&rig, &rig.limits_at(0.0), 1000.0, Supply::default(), &demand, 1.0, &mut ledger);
    assert!((cold.stored_wh - 200.0).abs() < 1e-9, "{cold:?}");
    let warm = step(&rig, &rig.limits_at(25.0), cold.stored_wh, Supply::default(), &demand, 1.0, &mut ledger);
    assert!(warm.stored_wh.abs() < 1e-9);
    ledger[Flow::End] = warm.stored_wh;
    assert!(ledger.imbalance() < 1e-12 && (ledger.delivered_wh() - 1000.0).abs() < 1e-9);
}

#[test]
fn cold_takes_its_share_of_what_lies_above_the_floor() {
    // Sizing by IEEE 485 (from memory): the battery is the load over the allowed depth, times the temperature factor, 1.300 at
    // 40 °F. A lead-acid battery of 1 kWh that may be emptied by half then gives 500 Wh / 1.3 there.
    let table =
        FitnessTable::new(Chemistry::LeadAcid, (Celsius(-20.0), Celsius(50.0)), (Celsius(-20.0), Celsius(50.0)));
    let rig = Rig { fitness: std::sync::Arc::new(table), floor_wh: 500.0, ..Rig::ideal(1000.0, 1000.0) };
    let gives = 1000.0 - rig.limits_at((40.0 - 32.0) / 1.8).floor_wh;
    // A line of the table lies up to a quarter of a kelvin off, at 1.5 % a kelvin.
    assert!((gives - 500.0 / 1.3).abs() < 0.004 * 500.0, "{gives} Wh");
    assert_eq!(rig.limits_at(25.0).floor_wh, 500.0);
}

#[test]
fn outside_its_temperatures_a_station_serves_nothing_from_the_sun_or_a_generator() {
    // What works_between says: the station works at all between these.
    let generator = "[station.wall_charger]\nlimit = \"200 W\"\n\n[generator]\nlimit = \"200 W\"\nhours = \"00:00-24:00\"\n\n[[load]]";
    for more in ["[[load]]", generator] {
        let served = |stands: &str| {
            let station = format!("{STATION}stands = \"{stands}\"\n");
            let changes =
                [(STATION, &*station), ("[[load]]", more), ("starts_charged = \"50 %\"", "starts_charged = \"100 %\"")];
            run(&changes).1
        };
        let frozen = served("-40 °C");
        assert!(
            frozen.delivered_wh() == 0.0 && frozen[Flow::OwnDraw] == 0.0 && frozen[Flow::Wall] == 0.0,
            "{frozen:?}"
        );
        assert!(frozen[Flow::Solar] > 1000.0 && (frozen[Flow::Curtailed] - frozen[Flow::Solar]).abs() < 1e-9);
        // The other side of the limit, 20 °C below zero, works.
        assert!(served("-19.5 °C").delivered_wh() > 100.0);
    }
}
