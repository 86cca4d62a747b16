//! Random kits through random weather: what must hold whatever the figures.

use std::collections::BTreeMap;

use proptest::prelude::*;
use tideover::engine::lanes::{Chunks, Ended, Manner, Sink, Waiting, arrange};
use tideover::engine::ledger::Flow;
use tideover::engine::plan::Sky;
use tideover::engine::{
    CLASSES, Demand, Ledger, Limits, LoadOutcome, OUTLETS, Observer, Outcome, Plan, Plugged, Rig, Silent, StepView,
    Supply, TrialSeed, Workspace, step,
};
use tideover::kit::{FitnessTable, LossCurve};
use tideover::random::{Purpose, Stream};
use tideover::scenario::model::Chemistry;
use tideover::scenario::{Source, read};
use tideover::units::Celsius;
use tideover::weather::world;

/// Room for rounding, as a share of the battery.
const ROUNDING: f64 = 1e-9;

/// Checks one step; the charge it began with is kept from step to step.
struct Judge {
    stored_wh: f64,
    faults: Vec<String>,
}

impl Judge {
    fn look(&mut self, rig: &Rig, demand: &Demand, stored_wh: f64, served: &[[f64; OUTLETS]; CLASSES]) {
        let room = ROUNDING * rig.capacity_wh;
        // Never above where charging stops, unless it began there; never below empty; never charged below the floor's
        // edge by more than it lost by itself.
        if stored_wh > self.stored_wh.max(rig.ceiling_wh) + room || stored_wh < -room {
            self.faults.push(format!("{stored_wh} Wh after {} Wh in {} Wh", self.stored_wh, rig.capacity_wh));
        }
        for outlet in 0..OUTLETS {
            for class in 0..CLASSES {
                let share = served[class][outlet];
                if !(-ROUNDING..=1.0 + ROUNDING).contains(&share) {
                    self.faults.push(format!("a share of {share}"));
                }
                // While the cells last everything runs; of what sun and wall feed after that, the more important loads have
                // more: none is served longer than one that matters more.
                for lower in class + 1..CLASSES {
                    let asks = |class: usize| demand.watts[class][outlet] > 0.0;
                    if asks(class) && asks(lower) && served[lower][outlet] > share + ROUNDING {
                        let lower_share = served[lower][outlet];
                        self.faults
                            .push(format!("class {class} has {share} at outlet {outlet}, {lower} {lower_share}"));
                    }
                }
            }
        }
        self.stored_wh = stored_wh;
    }

    fn verdict(&self, ledger: &Ledger) -> Result<(), TestCaseError> {
        prop_assert!(self.faults.is_empty(), "{:?}", self.faults);
        prop_assert!(ledger.imbalance() < 1e-9, "{} {:?}", ledger.imbalance(), ledger);
        let into = ledger[Flow::Solar] + ledger[Flow::Wall] + ledger[Flow::Source] + ledger[Flow::Start];
        let room = ROUNDING * into.max(1.0);
        prop_assert!(ledger.delivered_wh() + ledger[Flow::End] <= into + room, "{:?}", ledger);
        prop_assert!(ledger.entries().all(|(_, wh)| wh >= -room), "{:?}", ledger);
        prop_assert!(ledger[Flow::Clipped] + ledger[Flow::Barred] <= ledger[Flow::Curtailed] + room, "{:?}", ledger);
        Ok(())
    }
}

impl Observer for Judge {
    fn step(&mut self, _: usize, view: &StepView<'_>) {
        self.look(view.rig, view.demand, view.balance.stored_wh, &view.balance.served);
    }
}

fn shares() -> impl Strategy<Value = f64> {
    prop_oneof![Just(0.0), Just(1.0), 0.0..1.0_f64]
}

prop_compose! {
    fn rigs()(
        capacity_wh in 1.0..5000.0_f64,
        (ceiling, floor, start, taper) in (0.05..1.0_f64, shares(), shares(), shares()),
        (charge, discharge) in (0.5..1.0_f64, 0.5..1.0_f64),
        limits in prop::array::uniform4(prop_oneof![Just(f64::INFINITY), 0.0..2000.0_f64]),
        (idle_w, linear, square) in (0.0..60.0_f64, 0.0..0.3_f64, 0.0..0.001_f64),
        sleeps in any::<bool>(),
        converters in prop::array::uniform2((0.0..5.0_f64, 0.0..0.5_f64, 0.0..0.002_f64)),
        (own_draw_w, self_discharge) in (0.0..20.0_f64, 0.0..0.01_f64),
        (solar_efficiency, wall_efficiency) in (0.6..1.0_f64, 0.6..1.0_f64),
        heater_w in prop_oneof![Just(0.0), 1.0..100.0_f64],
        outlet_limit_w in prop::array::uniform3(prop_oneof![Just(f64::INFINITY), 1.0..800.0_f64]),
        chemistry in prop::sample::select(vec![Chemistry::Lfp, Chemistry::Nmc, Chemistry::LeadAcid]),
    ) -> Rig {
        let curve = |(idle_w, linear, quadratic_per_w)| LossCurve { idle_w, linear, quadratic_per_w, ..LossCurve::IDEAL };
        let span = |low, high| (Celsius(low), Celsius(high));
        Rig {
            floor_wh: floor * ceiling * capacity_wh,
            ceiling_wh: ceiling * capacity_wh,
            start_wh: start * capacity_wh,
            charge_efficiency: charge,
            discharge_efficiency: discharge,
            charge_limit_w: limits[0],
            discharge_limit_w: limits[1],
            charge_base_w: limits[2].max(if limits[0] < f64::INFINITY { limits[0] } else { 0.0 }),
            discharge_base_w: limits[3],
            fitness: std::sync::Arc::new(FitnessTable::new(chemistry, span(0.0, 45.0), span(-20.0, 60.0))),
            charges_from_c: 0.0,
            heater_w,
            // A taper needs a power to fall from.
            taper_wh: if limits[2] < f64::INFINITY { taper * capacity_wh } else { 0.0 },
            own_draw_w,
            self_discharge_per_h: self_discharge,
            inverter: curve((idle_w, linear, square)),
            inverter_sleeps: sleeps,
            converter: [LossCurve::IDEAL, curve(converters[0]), curve(converters[1])],
            outlet_limit_w,
            solar_limit_w: limits[0].max(50.0),
            solar_efficiency,
            wall_efficiency,
            ..Rig::ideal(capacity_wh, 0.0)
        }
    }
}

prop_compose! {
    fn demands()(
        watts in prop::array::uniform3(prop::array::uniform3(prop_oneof![Just(0.0), 0.0..600.0_f64])),
        plugged in prop::array::uniform3(prop::array::uniform3(any::<bool>())),
        swing in shares(),
    ) -> Demand {
        let mut demand = Demand { watts, plugged, ..Demand::default() };
        for class in 0..CLASSES {
            for outlet in 0..OUTLETS {
                demand.plugged[class][outlet] |= demand.watts[class][outlet] > 0.0;
            }
            demand.variance_w2[class] = swing * demand.watts[class][0] * demand.watts[class][0];
        }
        demand
    }
}

prop_compose! {
    fn hours()(
        panel_w in prop_oneof![Just(0.0), 0.0..1500.0_f64],
        usable in shares(),
        wall_w in prop_oneof![3 => Just(0.0), 1 => 0.0..800.0_f64],
        source_w in prop_oneof![2 => Just(0.0), 1 => 0.0..500.0_f64],
        around_w in prop::option::of(prop::array::uniform2(prop_oneof![Just(0.0), 0.0..1500.0_f64])),
        demand in demands(),
        cell_c in -30.0..70.0_f64,
    ) -> (Supply, Demand, f64) {
        (Supply { panel_w, usable_w: panel_w * usable, wall_w, sources: Plugged { bus_w: 0.8 * source_w, drawn_w: source_w }, around_w }, demand, cell_c)
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn any_rig_keeps_its_account_and_its_order(
        rig in rigs(),
        hours in prop::collection::vec(hours(), 1..60),
        step_h in prop::sample::select(vec![1.0, 0.5, 0.25, 1.0 / 60.0]),
    ) {
        let mut judge = Judge { stored_wh: rig.start_wh, faults: Vec::new() };
        let mut ledger = Ledger::starting_with(rig.start_wh);
        for (supply, demand, cell_c) in &hours {
            let cold = rig.fitness.at(*cell_c).works && *cell_c < 5.0;
            let limits = Limits { heater_w: if cold { rig.heater_w } else { 0.0 }, ..rig.limits_at(*cell_c) };
            let before = (judge.stored_wh, ledger);
            let balance = step(&rig, &limits, judge.stored_wh, *supply, demand, step_h, &mut ledger);
            judge.look(&rig, demand, balance.stored_wh, &balance.served);
            // Cells below what the cold and the owner leave give nothing more.
            if balance.stored_wh < before.0.min(limits.floor_wh) * (1.0 - rig.self_discharge_per_h * step_h) - 1e-9 * rig.capacity_wh {
                judge.faults.push(format!("{} Wh below the floor of {} Wh", balance.stored_wh, limits.floor_wh));
            }
            // What the ledger says was served is what the shares say.
            for outlet in 0..OUTLETS {
                let said: f64 = (0..CLASSES).map(|c| demand.watts[c][outlet] * balance.served[c][outlet] * step_h).sum();
                // The difference of two sums that may be a million times as large.
                let booked = ledger[Flow::SERVED[outlet]] - before.1[Flow::SERVED[outlet]];
                prop_assert!((said - booked).abs() < 1e-6 * said.max(1.0), "outlet {outlet}: {said} booked as {booked}");
            }
        }
        ledger[Flow::End] = judge.stored_wh;
        judge.verdict(&ledger)?;
    }
}

/// A random scenario as text.
pub fn scenarios() -> impl Strategy<Value = String> {
    let station = (
        100..4000_u32,
        prop::sample::select(vec!["LFP", "NMC", "lead-acid"]),
        prop::sample::select(vec!["indoors", "outdoors", "in the sun", "in a closed box", "-5 °C", "41 °C"]),
        prop::sample::select(vec![
            "",
            "self_heating = \"20 W\"\n",
            "self_heating = \"90 W\"\ncharge_to = \"70 %\"\nheat_loss = \"0.6 W/K\"\n",
            "charge_limit = \"90 W\"\n",
            "charge_to = \"80 %\"\n",
        ]),
        10..100_u32,
    );
    let input = (
        50..600_u32,
        prop::sample::select(vec![
            "",
            "volts_min = \"15 V\"\n",
            "volts_max = \"200 V\"\namps_max = \"6 A\"\n",
            "pwm_at = \"13 V\"\n",
            // A second input beside it, which takes every other array.
            "name = \"a\"\namps_max = \"9 A\"\n[[station.solar_input]]\nname = \"b\"\nlimit = \"130 W\"\npwm_at = \"13 V\"\n",
            "name = \"a\"\n[[station.solar_input]]\nname = \"b\"\nlimit = \"90 W\"\nvolts_min = \"17 V\"\n",
        ]),
        any::<bool>(),
    );
    let panel = (
        1..4_u32,
        prop::sample::select(vec!["series", "parallel"]),
        prop::sample::select(vec![
            "tilt = \"40°\"\nfacing = \"south\"\n",
            "tilt = \"90°\"\nfacing = \"west\"\n",
            "aim = { times_a_day = 3 }\n",
            "aim = \"at the sun\"\n",
        ]),
        prop::sample::select(vec![
            "",
            "cable = { length = \"20 m\", gauge = \"2.5 mm²\" }\n",
            "shade = [{ hours = \"12:00-15:00\", loses = \"80 %\" }]\n",
            "out = { hours = \"09:00-16:00\", if_clearer_than = \"30 %\" }\n",
        ]),
        prop::sample::select(vec![17.0, 18.0, 36.0]),
    );
    let load = (
        prop::sample::select(vec!["ac", "dc", "usb"]),
        prop::sample::select(vec!["vital", "useful", "spare"]),
        1..59_u32,
        prop::sample::select(vec![
            "",
            "duty = \"40 %\"\n",
            "hours = \"17:00-23:30\"\n",
            "varies = \"30 %\"\n",
            "off_below = \"35 %\"\n",
            "hours = \"17:00-01:30\"\ndays = \"weekends\"\n",
        ]),
    );
    let reacting = prop::sample::select(vec![
        "",
        "like = \"fridge, 200 litres\"\nroom = \"indoors\"\n",
        "like = \"fridge-freezer, 400 litres\"\nlabel = \"340 kWh a year ± 10 %\"\nroom = \"outdoors\"\n",
        "like = \"chest freezer, 200 litres\"\noff_below = \"30 %\"\n",
        "like = \"12 V cooler, 30 litres\"\nfood = \"lost above 4 °C for 2 h\"\n",
        "like = \"12 V freezer, 40 litres\"\nfood = \"not judged\"\n",
        "like = \"phone\"\ncount = 2\nvaries = \"30 %\"\n",
        "like = \"laptop\"\n",
    ]);
    let outlet = prop::sample::select(vec![
        "",
        "sleeps = true\n",
        "sleeps = true\nwakes_above = \"25 W\"\n",
        "switches_off_below = \"30 W\"\nswitches_off_after = \"3 h\"\n",
        "switches_off_below = \"30 W\"\nswitches_off_after = \"20 min\"\n",
        "switches_off_below = \"0 W\"\nups = true\n",
    ]);
    let home = prop::sample::select(vec![
        "",
        "",
        "somebody_home = [\"06:30-08:00\", \"17:00-22:00\"]\n",
        "every_day = [\"05:00-09:30\", \"16:00-21:00\"]\n",
        "every_day = [\"05:10-09:25\", \"09:40-09:50\", \"16:20-21:55\"]\nmains_limit = \"70 W\"\nsomebody_home = \"17:00-22:00\"\n",
        "every_day = [\"Mon-Fri 05:10-09:25\", \"weekends 07:40-07:50\", \"16:20-21:55\"]\nhappens = \"60 %\"\nwanders = \"2 h\"\n",
        "every_day = [\"Sat, Sun 22:10-09:25\"]\nsomebody_home = \"17:00-22:00\"\n",
    ]);
    let source = prop::sample::select(vec![
        "",
        "",
        "kind = \"car\"\nwatts = \"110 W ± 10 %\"\nhours = \"07:10-08:30\"\non_days = \"60 %\"\n",
        "kind = \"water\"\nwatts = \"12 W ± 20 %\"\n[[source]]\nname = \"bike\"\nkind = \"car\"\nwatts = \"60 W\"\nhours = \"17:00-18:00\"\n\
         on_days = \"30 %\"\nefficiency = \"70 %\"\n",
        "kind = \"wind\"\nmean_wind = \"4.5 m/s\"\nhours = \"06:00-23:00\"\n\
         curve = [{ wind = \"3 m/s\", gives = \"0 W\" }, { wind = \"12 m/s\", gives = \"250 W\" }]\n",
    ]);
    let place = (-34.0..69.0_f64, 1..13_usize, 1..8_u32, any::<bool>());
    let loads = (prop::collection::vec(load, 1..6), prop::collection::vec(reacting, 0..3), source);
    (place, station, input, prop::collection::vec(panel, 0..3), loads, (outlet, home)).prop_map(
        |(place, station, input, panels, (loads, reacting, source), (outlet, home))| {
            const MONTHS: [&str; 12] =
                ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
            let (latitude, month, days, storm) = place;
            let (capacity, chemistry, stands, more, start) = station;
            let (limit, window, generator) = input;
            let room = ["", "room = { falls_to = \"-3 °C\", in = \"9 h\" }\n", "room = { in = \"20 h\" }\n"][start as usize % 3];
            let mut text = format!(
                "[site]\nlatitude = {latitude:.2}\nlongitude = 22\n{room}\n[outage]\nmonth = \"{}\"\nlasts = \"{days} days\"\n\
                 starts_charged = \"{start} %\"\nbegins_in_a_storm = {storm}\n{home}\n[station]\nrated_capacity = \"{capacity} Wh ± 10 %\"\n\
                 chemistry = \"{chemistry}\"\nstands = \"{stands}\"\n{more}\n[station.inverter]\nrated = \"400 W\"\n{outlet}\n\
                 [station.dc_outlet]\nlimit = \"120 W\"\ncable = {{ length = \"3 m\", gauge = \"16 AWG\" }}\n\n\
                 [station.usb]\nlimit = \"60 W\"\n\n[[station.solar_input]]\nlimit = \"{limit} W\"\n{window}\n",
                MONTHS[month - 1]
            );
            let several = window.contains("solar_input");
            if several && limit % 2 == 0 {
                text = text.replacen("\nchemistry", &format!("\nsolar_limit = \"{} W\"\nchemistry", limit - 20), 1);
            }
            if generator {
                text.push_str("[station.wall_charger]\nlimit = \"200 W\"\n\n[generator]\nlimit = \"1 kW\"\nhours = \"18:00-20:30\"\n");
                if limit % 2 == 0 {
                    text.push_str("fuel = \"1.1 L\"\nfuel_per_kwh = \"0.7 L\"\nfuel_per_hour = \"0.2 L\"\n");
                }
                text.push_str(
                    ["", "feeds_ac = \"by hand\"\n", "feeds_ac = \"by hand\"\nfeeds_ac_up_to = \"110 W\"\n", "feeds_ac = \"through the station\"\n"]
                        [capacity as usize % 4],
                );
                text.push('\n');
            } else if home.is_empty() && limit % 3 == 0 {
                text.push_str(
                    "[station.wall_charger]\nlimit = \"200 W\"\n\n[second_station]\nrated_capacity = \"700 Wh\"\nlimit = \"150 W\"\n\
                     away = \"20:30-07:10\"\nevery_days = 2\nreturns_at = \"80 %\"\n\n",
                );
            }
            if !source.is_empty() {
                text.push_str(&format!("[[source]]\nname = \"first\"\n{source}\n"));
            }
            for (number, (count, wiring, aim, more, volts)) in panels.into_iter().enumerate() {
                let input = if several { ["input = \"b\"\n", "input = \"a\"\n"][number % 2] } else { "" };
                text.push_str(&format!(
                    "[[panel]]\n{input}count = {count}\nwiring = \"{wiring}\"\nrated = \"100 W ± 5 %\"\nmax_power_voltage = \"{volts} V\"\n{aim}{more}\n"
                ));
            }
            for (number, (outlet, priority, watts, more)) in loads.into_iter().enumerate() {
                // Something must be vital.
                let priority = if number == 0 { "vital" } else { priority };
                text.push_str(&format!(
                    "[[load]]\nname = \"load {number}\"\noutlet = \"{outlet}\"\npriority = \"{priority}\"\nwatts = \"{watts} W\"\n{more}\n"
                ));
            }
            for (number, reacting) in reacting.into_iter().enumerate().filter(|(_, reacting)| !reacting.is_empty()) {
                text.push_str(&format!("[[load]]\nname = \"reacts {number}\"\npriority = \"vital\"\n{reacting}\n"));
            }
            text
        },
    )
}

/// What trials side by side come to.
#[derive(Default)]
struct Keeper(BTreeMap<u64, (Outcome, Vec<LoadOutcome>)>);

impl Sink for Keeper {
    fn outcome(&mut self, _: usize, ended: &Ended<'_>) {
        self.0.insert(ended.trial.rng.trial, (*ended.outcome, ended.loads.to_vec()));
    }
}

/// Numbers of an outcome and what they may differ by: a billionth of the energy that went through, for rounding.
fn numbers(outcome: &Outcome, loads: &[LoadOutcome]) -> (Vec<f64>, f64) {
    let mut numbers: Vec<f64> = outcome.ledger.entries().map(|(_, wh)| wh).collect();
    numbers.extend([outcome.unserved_wh, outcome.vital_missed_wh, outcome.lowest_charge, outcome.margin]);
    for load in loads {
        numbers.extend([load.asked_wh, load.unserved_wh, load.by_rule_wh, load.off_h]);
        numbers.extend(load.food.iter().flatten().map(|food| food.warmest_c));
    }
    let into_wh: f64 =
        [Flow::Solar, Flow::Wall, Flow::Source, Flow::Start].map(|flow| outcome.ledger[flow]).iter().sum();
    (numbers, 1e-9 * into_wh.max(1.0))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn any_kit_keeps_its_account_and_its_order_through_an_outage(text in scenarios(), seed in any::<u64>()) {
        let source = Source::new("random.toml", text);
        let (scenario, _, _) = match read(&source) {
            Ok(read) => read,
            Err(problems) => return Err(TestCaseError::fail(format!("{problems:?}\n{}", source.text))),
        };
        // A few points of the meridian lie in the sea.
        let Ok(climate) = world::lookup(scenario.site.latitude_deg, scenario.site.longitude_deg, None) else { return Ok(()) };
        let plan = match Plan::compile(&scenario, &Sky::Climate(climate), 60) {
            Ok(plan) => plan,
            Err(error) => return Err(TestCaseError::fail(format!("{error}\n{}", source.text))),
        };
        let waiting: Vec<Waiting> = (0..4).map(|trial| Waiting::new(&plan.season, TrialSeed { seed, trial })).collect();
        let mut side_by_side = Keeper::default();
        Chunks::<f32>::default().run(&[(0, &plan)], &waiting, &arrange(&waiting), &Manner::default(), &mut side_by_side);
        let mut workspace = Workspace::new();
        for trial in 0..4 {
            let rng = TrialSeed { seed, trial };
            let history = workspace.begin(&plan.season, rng);
            let rig = plan.kit.draw(rng, history.charge_z, &mut Vec::new());
            let mut judge = Judge { stored_wh: rig.start_wh, faults: Vec::new() };
            let outcome = workspace.run(&plan, rng, &history, &mut judge);
            judge.verdict(&outcome.ledger)?;
            prop_assert_eq!(outcome.ledger[Flow::Start], rig.start_wh);
            // Once more from the same random numbers: the same to the last bit.
            let again = workspace.begin(&plan.season, rng);
            let mut judge = Judge { stored_wh: rig.start_wh, faults: Vec::new() };
            prop_assert_eq!(workspace.run(&plan, rng, &again, &mut judge), outcome);
            // Beside others: the same as well.
            let (beside, loads) = &side_by_side.0[&trial];
            prop_assert_eq!(beside, &outcome, "{}", source.text);
            prop_assert_eq!(&loads[..], workspace.loads(), "{}", source.text);
        }
    }

    #[test]
    fn the_order_of_panels_and_loads_changes_nothing(text in scenarios(), seed in any::<u64>()) {
        let (head, blocks) = text.split_at(text.find("[[panel").or(text.find("[[load")).expect("a load"));
        let mut blocks: Vec<String> = blocks.split("[[").skip(1).map(|block| format!("[[{block}")).collect();
        let compiled = |text: &str| -> Option<Plan> {
            let (scenario, _, _) = read(&Source::new("random.toml", text)).ok()?;
            let climate = world::lookup(scenario.site.latitude_deg, scenario.site.longitude_deg, None).ok()?;
            Plan::compile(&scenario, &Sky::Climate(climate), 60).ok()
        };
        let Some(plan) = compiled(&text) else { return Ok(()) };
        let mut rng = Stream::new(seed, 0, Purpose::Outage);
        for k in (1..blocks.len()).rev() {
            blocks.swap(k, ((rng.uniform() * (k + 1) as f64) as usize).min(k));
        }
        let shuffled = head.to_owned() + &blocks.concat();
        let other = compiled(&shuffled).expect("as sound as before");
        let place = |load: usize| other.loads.iter().position(|l| l.name == plan.loads[load].name).expect("its twin");
        let mut workspace = Workspace::new();
        for trial in 0..4 {
            let rng = TrialSeed { seed, trial };
            let history = workspace.begin(&plan.season, rng);
            let a = workspace.run(&plan, rng, &history, &mut Silent);
            let loads = workspace.loads().to_vec();
            let history = workspace.begin(&other.season, rng);
            let b = workspace.run(&other, rng, &history, &mut Silent);
            let twins: Vec<LoadOutcome> = (0..loads.len()).map(|k| workspace.loads()[place(k)]).collect();
            let failure = a.failure.map(|(at, load)| (at, place(load as usize) as u32));
            prop_assert_eq!((a.survived, failure), (b.survived, b.failure), "{}\n{}", text, shuffled);
            prop_assert_eq!(a.ledger[Flow::Solar].to_bits(), b.ledger[Flow::Solar].to_bits(), "{}\n{}", text, shuffled);
            let ((as_written, near), (turned, _)) = (numbers(&a, &loads), numbers(&b, &twins));
            for (k, (a, b)) in as_written.into_iter().zip(turned).enumerate() {
                prop_assert!((a - b).abs() <= near, "number {}: {} and {}\n{}\n{}", k, a, b, text, shuffled);
            }
        }
    }
}
