//! A station's cells as a lump of heat: closed forms, how strong a heater must be, and how long a step may be.

use tideover::engine::ledger::Flow;
use tideover::engine::{Ledger, Observer, Plan, StepView, TrialSeed, Workspace};
use tideover::report::judged::words;
use tideover::study::fit::{Air, verdicts};

use crate::common::{climate_of, plan_of, scenario_of};

/// A station in a cold place, never lit, with a lamp; the wall may feed it all day.
const COLD: &str = r#"
[site]
latitude = 44.2
longitude = -72.6
timezone = "-05:00"

[outage]
start = "2027-01-10T00:00"
lasts = "2 days"
starts_charged = "60 %"

[station]
rated_capacity = "1 kWh"
own_draw = "2 W"
discharge_efficiency = "95 %"
stands = "-10 °C"
heat_capacity = "2.4 Wh/K"
heat_loss = "0.8 W/K"

[station.dc_outlet]
limit = "120 W"
efficiency = "90 %"
idle = "1 W"

[station.wall_charger]
limit = "300 W"

[[load]]
name = "lamp"
outlet = "dc"
priority = "vital"
watts = "3 W"
"#;

const WALL: &str = "\n[generator]\nlimit = \"1 kW\"\nhours = \"00:00-24:00\"\n";

/// What the outlets and the electronics lose of which half warms the cells \[W\]: by hand from the file above.
const ELECTRONICS_W: f64 = 2.0 + 1.0 + 3.0 / 0.9 - 3.0;

#[derive(Default)]
struct Steps {
    cell_c: Vec<f64>,
    charging_loss_wh: Vec<f64>,
}

impl Observer for Steps {
    fn step(&mut self, _: usize, view: &StepView<'_>) {
        self.cell_c.push(view.cell_c);
        self.charging_loss_wh.push(view.ledger[Flow::ChargingLoss]);
    }
}

fn plan(text: &str, minutes: u32) -> Plan {
    plan_of(&scenario_of(text), minutes)
}

/// One trial of it, in steps of so many minutes.
fn run(text: &str, minutes: u32) -> (Steps, Ledger) {
    let plan = plan(text, minutes);
    let rng = TrialSeed { seed: 5, trial: 1 };
    let mut workspace = Workspace::new();
    let history = workspace.begin(&plan.season, rng);
    let mut steps = Steps::default();
    let outcome = workspace.run(&plan, rng, &history, &mut steps);
    (steps, outcome.ledger)
}

/// `T = around + P/U + (T0 − around − P/U) exp(−U t / C)`: a lump that leaks, heated by a constant power (lumped capacitance,
/// Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, chapter 5; from memory). Here it begins as cold as its place.
fn lump_c(heat_w: f64, hours: f64) -> f64 {
    -10.0 + heat_w / 0.8 * (1.0 - (-0.8 * hours / 2.4_f64).exp())
}

#[test]
fn losses_warm_the_cells_as_in_the_closed_form_whatever_the_step() {
    for minutes in [60, 15, 5] {
        let (steps, ledger) = run(COLD, minutes);
        let bus_w = 3.0 + ELECTRONICS_W;
        let heat_w = 0.5 * ELECTRONICS_W + bus_w / 0.95 - bus_w;
        assert!((ledger[Flow::DischargingLoss] - 48.0 * (bus_w / 0.95 - bus_w)).abs() < 1e-6, "{ledger:?}");
        let step_h = f64::from(minutes) / 60.0;
        for (k, cell_c) in steps.cell_c.iter().enumerate() {
            // A step is told with the cells as the steps before left them; the first is spent cold.
            let expected = lump_c(heat_w, k as f64 * step_h);
            assert!((cell_c - expected).abs() < 1e-9, "{minutes} min, step {k}: {cell_c} for {expected}");
        }
        // Steady: the heat over the loss. 47 h are 16 time constants of 3 h, which leave 1.6e-7 of the rise.
        let last = steps.cell_c[steps.cell_c.len() - 1];
        assert!((last - (-10.0 + heat_w / 0.8)).abs() < 1e-6, "{last}");
    }
}

#[test]
fn a_heater_too_weak_for_the_place_never_lets_the_cells_be_charged() {
    // 4 W keep 5 K up against 0.8 W/K, and the electronics' half 2 K: -3 °C.
    let text = COLD.replace("stands", "self_heating = \"4 W\"\nstands") + WALL;
    let (steps, ledger) = run(&text, 60);
    let heat_w = 0.5 * ELECTRONICS_W + 4.0;
    for (k, cell_c) in steps.cell_c.iter().enumerate() {
        assert!((cell_c - lump_c(heat_w, k as f64)).abs() < 1e-9, "hour {k}: {cell_c}");
    }
    assert!((ledger[Flow::Heater] - 4.0 * 48.0).abs() < 1e-9 && ledger[Flow::ChargingLoss] == 0.0, "{ledger:?}");
    // One watt in hard frost, at a station that works there.
    let hard = text.replace("\"4 W\"", "\"1 W\"\nworks_between = [\"-40 °C\", \"60 °C\"]").replace("-10 °C", "-30 °C");
    let (steps, ledger) = run(&hard, 60);
    assert!(ledger[Flow::ChargingLoss] == 0.0 && (ledger[Flow::Heater] - 48.0).abs() < 1e-9, "{ledger:?}");
    assert!(steps.cell_c.iter().all(|c| *c < -25.0));
}

#[test]
fn cells_are_charged_once_they_are_warm_and_the_heater_stops_above_that() {
    let text = COLD.replace("stands", "self_heating = \"30 W\"\nstands") + WALL;
    // 0 °C is reached after −τ ln(1 − 10 / (P/U)), with τ = 3 h.
    let heat_w = 0.5 * ELECTRONICS_W + 30.0;
    let warm_h = -3.0 * (1.0 - 10.0 * 0.8 / heat_w).ln();
    for minutes in [60, 15, 5] {
        let (steps, _) = run(&text, minutes);
        let first = steps.charging_loss_wh.iter().position(|wh| *wh > 0.0).expect("a charge");
        let step_h = f64::from(minutes) / 60.0;
        assert_eq!(first, (warm_h / step_h).ceil() as usize, "{minutes} min: charged from step {first}");
        for (k, cell_c) in steps.cell_c.iter().enumerate() {
            let before = if k > 0 { steps.charging_loss_wh[k - 1] } else { 0.0 };
            assert!(*cell_c >= 0.0 || steps.charging_loss_wh[k] == before, "charged at {cell_c} °C");
        }
        // The heater stops 5 K above freezing; charging and electronics may take them a little further.
        let warmest = steps.cell_c.iter().copied().fold(f64::MIN, f64::max);
        assert!(warmest > 5.0 && warmest < 10.0, "{warmest}");
    }
}

#[test]
fn the_typical_station_follows_by_its_weight() {
    // 14.4 kg for each kWh, 1 kJ/(kg K), 3 h of lag: 4 Wh/K and 4/3 W/K (see kit::battery for what is typical and what not).
    let typical = plan(&COLD.replace("heat_capacity = \"2.4 Wh/K\"\nheat_loss = \"0.8 W/K\"\n", ""), 60);
    let rig = typical.kit.best_estimate();
    assert!((rig.heat_capacity_wh_per_k - 4.0).abs() < 1e-9 && (rig.heat_loss_w_per_k - 4.0 / 3.0).abs() < 1e-9);
    // A figure of its own: 7.2 kJ/K are 2 Wh/K.
    let own = plan(&COLD.replace("2.4 Wh/K", "7.2 kJ/K"), 60).kit.best_estimate();
    assert!((own.heat_capacity_wh_per_k - 2.0).abs() < 1e-9);
}

#[test]
fn a_heater_that_cannot_hold_the_cells_warm_is_told() {
    let found = |place: &str, watts: &str| {
        let text = COLD.replace("stands = \"-10 °C\"", &format!("self_heating = \"{watts}\"\nstands = \"{place}\""));
        let scenario = scenario_of(&text);
        let all = verdicts(&scenario, &plan_of(&scenario, 60), &Air::of(&climate_of(&scenario)));
        let verdict = all.into_iter().find(|verdict| verdict.key == "station.stands").expect("a verdict");
        let told = words(&verdict);
        format!("{:?} {} {}", verdict.weight, told.what, told.found)
    };
    // Up to 5 K and 25 K warmer.
    for (place, watts, told) in [
        ("-10 °C", "4 W", "Warns is a temperature at which the cells are not charged"),
        ("-10 °C", "20 W", "Fits lets the cells work"),
        ("outdoors", "2 W", "Warns leaves the cells too cold to be charged most of the time"),
        // The design cold there is far below the -20 °C at which a station stops working: no heater helps it then.
        ("outdoors", "200 W", "Warns leaves the station too cold to work at all on the coldest days"),
    ] {
        let said = found(place, watts);
        assert!(said.starts_with(told) && said.contains("K warmer at most"), "{place}, {watts}: {said}");
    }
}
