//! Trials side by side come to what they come to alone, whatever the width of the lanes and the processor's vectors.

use std::collections::BTreeMap;

use tideover::calendar::month_days;
use tideover::engine::lanes::{Chunks, Ended, Manner, Sink, Waiting, arrange};
use tideover::engine::ledger::Flow;
use tideover::engine::plan::Sky;
use tideover::engine::{
    Balance, CLASSES, Ledger, LoadOutcome, OUTLETS, Observer, Outcome, Plan, Silent, StepView, Supply, TrialSeed,
    Workspace, step,
};
use tideover::random::real::Real;
use tideover::random::{Purpose, Stream};
use tideover::scenario::model::{Scenario, Stands};
use tideover::scenario::{Source, read};
use tideover::weather::{Calendar, Climate, Climates, HourlyRecord, Opening, WeatherPlan, WeatherTrace, world};

const TRIALS: u64 = 400;

/// Everything about a trial.
#[derive(Debug, Clone, PartialEq)]
struct Trial {
    outcome: Outcome,
    loads: Vec<LoadOutcome>,
    unknowns: Vec<f64>,
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

    fn charges(&mut self, _: usize, index: usize, rows: &[u32], (width, at): (usize, usize)) {
        self.charges.extend(rows.iter().skip(at).step_by(width).enumerate().map(|(k, level)| (index + k, *level)));
    }

    fn outcome(&mut self, _: usize, ended: &Ended<'_>) {
        let (loads, unknowns) = (ended.loads.to_vec(), ended.unknowns.to_vec());
        self.trials.insert(ended.trial.rng.trial, Trial { outcome: *ended.outcome, loads, unknowns });
    }
}

fn plan(text: &str) -> Result<Plan, String> {
    let (scenario, _, _) = read(&Source::new("test.toml", text)).map_err(|error| format!("{error:?}"))?;
    let climate = world::lookup(scenario.site.latitude_deg, scenario.site.longitude_deg, None);
    let climate = climate.map_err(|error| format!("{error:?}"))?;
    Plan::compile(&scenario, &Sky::Climate(climate), 60).map_err(|error| format!("{error:?}"))
}

fn side_by_side(plan: &Plan, narrow: bool, plain: bool) -> (Vec<(usize, u32)>, BTreeMap<u64, Trial>) {
    in_precision::<f32>(plan, narrow, plain)
}

fn in_precision<R: Real>(plan: &Plan, narrow: bool, plain: bool) -> (Vec<(usize, u32)>, BTreeMap<u64, Trial>) {
    let mut keeper = Keeper::default();
    let waiting: Vec<Waiting> =
        (0..TRIALS).map(|trial| Waiting::new(&plan.season, TrialSeed { seed: 3, trial })).collect();
    let (order, manner) = (arrange(&waiting), Manner { narrow, ..Manner::default() });
    let (mut chunks, plans) = (Chunks::<R>::default(), [(0, plan)]);
    if plain {
        chunks.run_plain(&plans, &waiting, &order, &manner, &mut keeper);
    } else {
        chunks.run(&plans, &waiting, &order, &manner, &mut keeper);
    }
    keeper.charges.sort_unstable();
    (keeper.charges, keeper.trials)
}

/// Three made-up years of hours at the place of a scenario, drawn from its climate; two fifths of the light is diffuse but for
/// every seventh hour, in which nobody measured it.
fn record(scenario: &Scenario, climate: &Climate, columns: &[&str]) -> HourlyRecord {
    let calendar = Calendar::fixed(60, 0, scenario.site.latitude_deg, scenario.site.longitude_deg);
    let weather = WeatherPlan::stochastic(climate, &calendar).expect("weather");
    let mut rng = Stream::new(5, 0, Purpose::Weather);
    let mut trace = WeatherTrace::default();
    weather.generate(0, 3 * 365, &Opening::Any, &mut rng, Climates::BEST, &mut trace);
    let mut text = format!("time_utc,{}\n", columns.join(","));
    for (hour, (ghi, air_c)) in trace.ghi_w_m2.iter().zip(&trace.air_c).enumerate() {
        let (year, day, clock) = (2001 + hour / 8760, hour / 24 % 365, hour % 24);
        let month = (0..12).rev().find(|&month| month_days(month as u8 + 1).0 as usize <= day).expect("a month");
        let date = day - month_days(month as u8 + 1).0 as usize;
        text.push_str(&format!("{year}-{:02}-{:02}T{clock:02}:00:00Z", month + 1, date + 1));
        for column in columns {
            match *column {
                "ghi_w_m2" => text.push_str(&format!(",{ghi:.2}")),
                "temp_c" => text.push_str(&format!(",{air_c:.2}")),
                _ if hour % 7 == 0 => text.push(','),
                _ => text.push_str(&format!(",{:.2}", 0.4 * ghi)),
            }
        }
        text.push('\n');
    }
    HourlyRecord::parse(text.as_bytes(), "made up").unwrap_or_else(|errors| panic!("{errors}"))
}

/// The winter storm with its weather replayed from a record.
fn replayed() -> Vec<(String, Plan)> {
    let text = std::fs::read_to_string("scenarios/winter-storm.toml").unwrap();
    let (scenario, _, _) = read(&Source::new("test.toml", &text)).unwrap_or_else(|error| panic!("{error:?}"));
    let climate = world::lookup(scenario.site.latitude_deg, scenario.site.longitude_deg, None).expect("land");
    let mut outdoors = scenario.clone();
    outdoors.station.stands = Stands::Outdoors;
    let whole = record(&scenario, &climate, &["ghi_w_m2", "dhi_w_m2", "temp_c"]);
    let global = record(&scenario, &climate, &["ghi_w_m2", "temp_c"]);
    let sun = record(&scenario, &climate, &["ghi_w_m2"]);
    [
        ("a record with diffuse light", &scenario, Sky::Record(Box::new(whole), None)),
        ("a record of global light, outdoors", &outdoors, Sky::Record(Box::new(global), None)),
        ("a record of sun alone, outdoors", &outdoors, Sky::Record(Box::new(sun), Some(climate.clone()))),
    ]
    .into_iter()
    .map(|(name, scenario, sky)| (name.into(), Plan::compile(scenario, &sky, 60).unwrap_or_else(|e| panic!("{e}"))))
    .collect()
}

/// Scenarios of every kind.
fn covered() -> Vec<(String, Plan)> {
    let mut plans = Vec::new();
    let mut files: Vec<_> = std::fs::read_dir("scenarios").unwrap().map(|entry| entry.unwrap().path()).collect();
    files.push("benches/four-loads.toml".into());
    files.sort();
    for file in files.into_iter().filter(|file| file.extension().is_some_and(|end| end == "toml")) {
        let text = std::fs::read_to_string(&file).unwrap();
        if let Ok(plan) = plan(&text) {
            plans.push((file.display().to_string(), plan));
        }
    }
    let charger = "efficiency = \"94 %\"\n\n[station.wall_charger]\nlimit = \"300 W\"\n\n[generator]\nlimit = \"250 W\"\n\
                   hours = [\"11:00-13:30\", \"19:00-20:00\"]\n";
    let changes = [
        ("winter-storm", "an inverter that sleeps", "sleeps = false", "sleeps = true"),
        ("winter-storm", "an outlet too small", "limit = \"120 W\"", "limit = \"16 W\""),
        ("winter-storm", "hardly any battery", "\"2.16 kWh ± 3 %\"", "\"0.3 kWh ± 3 %\""),
        ("winter-storm", "a spread of lengths", "\"4 days\"", "{ median = \"30 h\", p95 = \"4 days\" }"),
        ("night-light", "an outlet that goes off under a small load", "= \"0 W\"   #", "= \"8 W\"   #"),
        (
            "night-light",
            "an outlet that waits for somebody",
            "starts_charged = \"80 %\"",
            "starts_charged = \"30 %\"\nsomebody_home = \"17:00-21:00\"",
        ),
        (
            "summer-fridge",
            "an outlet beside a cooler that waits for somebody",
            "starts_charged",
            "somebody_home = \"17:00-21:00\"\nstarts_charged",
        ),
        (
            "night-light",
            "fuel that ends",
            "fuel_per_kwh = \"0.8 L\"",
            "fuel_per_kwh = \"0.8 L\"\nfuel_per_hour = \"0.1 L\"\nfuel = \"0.13 L\"",
        ),
        (
            "two-weeks-of-fuel",
            "a generator that feeds loads by hand",
            "fuel = \"20 L\"",
            "fuel = \"6 L\"\nfeeds_ac = \"by hand\"",
        ),
        (
            "two-weeks-of-fuel",
            "a generator that feeds a cooler and a doubtful load, under the sun of a morning",
            "hours = \"17:00-19:30\"          # outside, far from doors and windows\nfuel = \"20 L\"",
            "hours = \"06:20-09:10\"\nfuel = \"4 L\"\nfeeds_ac = \"by hand\"\nfeeds_ac_up_to = \"300 W\"",
        ),
        (
            "two-weeks-of-fuel",
            "a generator through a station that waits for somebody, beside water",
            "ups = true                     # a changeover switch of its own",
            "[generator.x]",
        ),
        ("night-light", "a simple controller", "volts_min = \"11 V\"", "volts_min = \"11 V\"\npwm_at = \"13 V\""),
        (
            "night-light",
            "cuts that come back",
            "starts_charged = \"80 %\"",
            "starts_charged = \"20 %\"\nevery_day = [\"06:00-10:00\", \"17:30-21:00\"]\nmains_limit = \"20 W\"",
        ),
        (
            "summer-fridge",
            "cuts that come back beside a cooler, and an outlet that waits for somebody",
            "starts_charged",
            "every_day = \"09:00-18:00\"\nsomebody_home = \"12:00-14:00\"\nstarts_charged",
        ),
        (
            "summer-fridge",
            "cuts that begin and end within hours, beside a cooler and under the sun",
            "starts_charged",
            "every_day = [\"05:20-09:45\", \"12:10-12:25\", \"17:05-21:35\"]\nsomebody_home = \"17:00-21:00\"\nstarts_charged",
        ),
        (
            "night-light",
            "cuts that begin and end within hours",
            "starts_charged = \"80 %\"",
            "starts_charged = \"20 %\"\nevery_day = [\"06:40-06:50\", \"07:10-10:50\", \"10:55-13:15\", \"17:30-21:00\"]",
        ),
        (
            "summer-fridge",
            "cuts that differ from day to day, beside a cooler and under the sun",
            "starts_charged",
            "every_day = [\"Mon-Fri 05:20-09:45\", \"weekends 10:10-12:25\", \"17:05-21:35\"]\nhappens = \"70 %\"\nwanders = \"90 min\"\n\
             somebody_home = \"17:00-21:00\"\nstarts_charged",
        ),
        (
            "weekend-camp",
            "cuts of some days, and an outlet that goes off within them",
            "starts_charged = \"100 %\"",
            "starts_charged = \"90 %\"\nevery_day = [\"Mon-Fri 16:20-21:50\", \"Sat 00:00-24:00\"]\nwanders = \"20 min\"",
        ),
        (
            "weekend-camp",
            "an outlet that goes off within minutes",
            "efficiency = \"87 %\"",
            "efficiency = \"87 %\"\nswitches_off_below = \"15 W\"\nswitches_off_after = \"25 min\"",
        ),
        ("night-light", "an outlet of which nobody has told", "switches_off_below = \"0 W\"", "# switches_off_below"),
        (
            "winter-storm",
            "a second station that is carried away",
            "[station.inverter]",
            "[station.wall_charger]\nlimit = \"200 W\"\n[second_station]\nrated_capacity = \"900 Wh\"\nlimit = \"300 W\"\n\
             away = \"08:20-16:00\"\n[station.inverter]",
        ),
        (
            "winter-storm",
            "several solar inputs",
            "[station.solar_input]\nlimit = \"600 W\"",
            "[[station.solar_input]]\nname = \"other\"\nlimit = \"60 W\"\n[[panel]]\ninput = \"other\"\nrated = \"90 W\"\n\
             tilt = \"90°\"\nfacing = \"south-west\"\n[[station.solar_input]]\nname = \"shed\"\nlimit = \"150 W\"",
        ),
        (
            "winter-storm",
            "running water beside a second station",
            "[station.inverter]",
            "[station.wall_charger]\nlimit = \"200 W\"\n[second_station]\nrated_capacity = \"900 Wh\"\nlimit = \"300 W\"\n\
             away = \"08:20-16:00\"\n[[source]]\nname = \"brook\"\nkind = \"water\"\nwatts = \"9 W ± 20 %\"\n[station.inverter]",
        ),
        (
            "night-light",
            "a car beside fuel that ends",
            "fuel_per_kwh = \"0.8 L\"",
            "fuel_per_kwh = \"0.8 L\"\nfuel_per_hour = \"0.1 L\"\nfuel = \"0.13 L\"\n[[source]]\nname = \"van\"\nkind = \"car\"\n\
             watts = \"60 W\"\nhours = \"06:30-07:10\"\non_days = \"50 %\"",
        ),
        (
            "night-light",
            "wind between cuts that come back within hours",
            "starts_charged = \"80 %\"",
            "starts_charged = \"20 %\"\nevery_day = [\"06:40-06:50\", \"07:10-10:50\", \"17:30-21:00\"]\n[[source]]\nname = \"mast\"\n\
             kind = \"wind\"\nmean_wind = \"3.5 m/s\"\n\
             curve = [{ wind = \"3 m/s\", gives = \"0 W\" }, { wind = \"11 m/s\", gives = \"40 W\" }]",
        ),
        ("winter-storm", "a few hours", "\"4 days\"", "\"5 h\""),
        (
            "winter-storm",
            "loads of some days",
            "hours = \"17:00-22:00\"",
            "hours = \"17:00-01:00\"\ndays = \"weekends\"",
        ),
        ("frost-in-the-shed", "a heater", "stands = \"outdoors\"", "stands = \"outdoors\"\nself_heating = \"60 W\""),
        ("frost-in-the-shed", "warmed by the sun", "stands = \"outdoors\"", "stands = \"in the sun\""),
        ("frost-in-the-shed", "in a closed box", "stands = \"outdoors\"", "stands = \"in a closed box\""),
        ("frost-in-the-shed", "a place a little too cold", "\"outdoors\"", "\"-1 °C\""),
        (
            "frost-in-the-shed",
            "a weak heater, light cells",
            "\"outdoors\"",
            "\"outdoors\"\nself_heating = \"15 W\"\nheat_capacity = \"3 Wh/K\"\nheat_loss = \"1.2 W/K\"",
        ),
        ("frost-in-the-shed", "a heater in a cold place", "\"outdoors\"", "\"-4 °C\"\nself_heating = \"60 W\""),
        (
            "frost-in-the-shed",
            "too cold to work at times",
            "\"outdoors\"",
            "\"outdoors\"\nworks_between = [\"-9 °C\", \"40 °C\"]",
        ),
        ("frost-in-the-shed", "never works", "\"outdoors\"", "\"-30 °C\""),
        ("frost-in-the-shed", "a generator in the frost", "efficiency = \"94 %\"\n", charger),
        (
            "food-and-little-unmet",
            "rooms that cool, with a cooler and a station in them",
            "[outage]",
            "room = { in = \"20 h\" }\n[outage]",
        ),
        ("food-and-little-unmet", "a cooler with a rule", "\"indoors\"", "\"indoors\"\noff_below = \"40 %\""),
        ("food-and-little-unmet", "a cooler outdoors", "room = \"indoors\"", "room = \"outdoors\""),
        (
            "food-and-little-unmet",
            "a cooler in a cold room, hours alone",
            "room = \"indoors\"",
            "room = \"2 °C\"\nfood = \"lost after 4 h without power\"",
        ),
        ("food-and-little-unmet", "food that nobody minds", "room = \"indoors\"", "food = \"not judged\""),
        ("food-and-little-unmet", "a cooler with hardly any battery", "\"1.0 kWh\"", "\"0.2 kWh\""),
        ("food-and-little-unmet", "half a day with a cooler", "\"3 days\"", "\"13 h\""),
        (
            "food-and-little-unmet",
            "devices used more on some days",
            "count = 2\npriority",
            "count = 2\nvaries = \"40 %\"\npriority",
        ),
    ];
    for (file, name, from, to) in changes {
        let text = std::fs::read_to_string(format!("scenarios/{file}.toml")).unwrap();
        assert!(text.contains(from), "{name}: {from}");
        let text = text.replacen(from, to, 1);
        let text = if name.starts_with("a generator that feeds a cooler") {
            text + "[[load]]\nname = \"box\"\nlike = \"fridge, 200 litres\"\npriority = \"vital\"\n[[load]]\nname = \"press\"\n\
                    outlet = \"ac\"\npriority = \"spare\"\nwatts = \"170 W\"\nhours = \"06:00-10:00\"\n[[load]]\nname = \"belt\"\n\
                    outlet = \"ac\"\npriority = \"useful\"\nwatts = \"20 W ± 30 %\"\nvaries = \"60 %\"\n"
        } else if name.starts_with("a generator through") {
            text.replace("[generator.x]", "").replace("fuel = \"20 L\"", "feeds_ac = \"through the station\"").replace(
                "[[panel]]",
                "[[source]]\nname = \"brook\"\nkind = \"water\"\nwatts = \"9 W ± 20 %\"\n[[panel]]",
            )
        } else {
            text
        };
        let text = if name == "several solar inputs" {
            text.replace("name = \"shed wall\"", "name = \"shed wall\"\ninput = \"shed\"")
        } else {
            text
        };
        let plan = plan(&text).unwrap_or_else(|error| panic!("{name}: {error}"));
        plans.push((name.into(), plan));
    }
    plans.extend(replayed());
    plans
}

/// Takes every step that it sees once more by the step of one kit alone.
struct Again<'p> {
    name: &'p str,
    step_h: f64,
    stored_wh: f64,
    ledger: Ledger,
    short: u32,
}

impl Observer for Again<'_> {
    fn step(&mut self, index: usize, view: &StepView<'_>) {
        let (rig, balance) = (view.rig, view.balance);
        let limits = rig.limits_at(view.cell_c);
        let mut ledger = Ledger::default();
        let once = match view.parts {
            [] => step(rig, &limits, self.stored_wh, view.supply, view.demand, self.step_h, &mut ledger),
            // Part after part, each a step of its own length; on the mains nothing is asked for, nor of an outlet that is off.
            parts => {
                let mut whole = Balance {
                    stored_wh: self.stored_wh,
                    served: [[0.0; OUTLETS]; CLASSES],
                    all_served: true,
                    delivered_w: [0.0; OUTLETS],
                    heat_w: 0.0,
                };
                for part in parts {
                    let supply = Supply { wall_w: part.wall_w, around_w: None, ..view.supply };
                    let demand = &view.demand_in(part);
                    let hours = self.step_h * part.share;
                    let once = step(rig, &limits, whole.stored_wh, supply, demand, hours, &mut ledger);
                    whole.stored_wh = once.stored_wh;
                    let (direct_w, of_direct) = view.given_directly(part);
                    ledger[Flow::Wall] += direct_w * hours;
                    ledger[Flow::ServedAc] += direct_w * hours;
                    whole.all_served &= once.all_served && part.ac_on && of_direct == [1.0; CLASSES];
                    whole.heat_w += part.share * once.heat_w;
                    for (class, (of_class, once)) in whole.served.iter_mut().zip(once.served).enumerate() {
                        for (outlet, (sum, share)) in of_class.iter_mut().zip(once).enumerate() {
                            let carried = outlet == 0 && part.direct.is_some_and(|direct| direct.carries[class]);
                            let has = carried || (!part.on_mains && (outlet > 0 || part.ac_on));
                            let share = if carried { of_direct[class] } else { share };
                            *sum += if has { part.share / view.fed() * share } else { 0.0 };
                        }
                    }
                }
                whole
            }
        };
        let near = 1e-9 * rig.capacity_wh;
        let told = view.ledger.since(&self.ledger);
        (self.ledger, self.stored_wh) = (*view.ledger, balance.stored_wh);
        // What a heater may draw is not told.
        if rig.heater_w == 0.0 {
            let name = self.name;
            assert!((once.stored_wh - balance.stored_wh).abs() < near, "{name}, step {index}: {once:?}, {balance:?}");
            assert!((once.heat_w - balance.heat_w).abs() < 1e-6, "{name}, step {index}: {once:?}, {balance:?}");
            assert_eq!(once.all_served, balance.all_served, "{name}, step {index}");
            for (a, b) in once.served.as_flattened().iter().zip(balance.served.as_flattened()) {
                assert!((a - b).abs() < 1e-9, "{name}, step {index}: {once:?}, {balance:?}");
            }
            for (flow, wh) in told.entries().filter(|(flow, _)| *flow != Flow::Start) {
                assert!(
                    (wh - ledger[flow]).abs() < near,
                    "{name}, step {index}, {}: {wh}, {}",
                    flow.name(),
                    ledger[flow]
                );
            }
        }
        self.short += u32::from(!balance.all_served);
    }
}

#[test]
fn a_trial_alone_is_the_same_and_its_steps_are_those_of_one_kit() {
    let plans = covered();
    assert!(plans.len() >= 31, "{:?}", plans.iter().map(|(name, _)| name).collect::<Vec<_>>());
    let (mut failed, mut survived, mut lost, mut short) = (0, 0, 0, 0);
    for (name, plan) in &plans {
        let (_, lanes) = side_by_side(plan, false, false);
        assert_eq!(lanes.len(), TRIALS as usize);
        let mut workspace = Workspace::new();
        for (&trial, beside) in lanes.iter().take(100) {
            let rng = TrialSeed { seed: 3, trial };
            let history = workspace.begin(&plan.season, rng);
            let stored_wh = plan.kit.draw(rng, history.charge_z, &mut Vec::new()).start_wh;
            let (step_h, ledger) = (plan.season.step_h, Ledger::starting_with(stored_wh));
            let mut again = Again { name, step_h, stored_wh, ledger, short: 0 };
            let outcome = workspace.run(plan, rng, &history, &mut again);
            let (loads, unknowns) = (workspace.loads().to_vec(), workspace.unknowns().to_vec());
            assert_eq!(&Trial { outcome, loads, unknowns }, beside, "{name}, trial {trial}");
            assert_eq!(outcome, workspace.run(plan, rng, &history, &mut Silent), "{name}, trial {trial}, unobserved");
            assert!(outcome.ledger.imbalance() < 1e-9, "{name}, trial {trial}");
            for (flow, wh) in outcome.ledger.entries().filter(|(flow, _)| *flow != Flow::End) {
                let seen = again.ledger[flow];
                assert!(
                    (wh - seen).abs() <= 1e-9 * wh.abs().max(1.0),
                    "{name}, {trial}, {}: {wh}, {seen}",
                    flow.name()
                );
            }
            let foods = beside.loads.iter().flat_map(|load| load.food.iter().flatten());
            lost += foods.filter(|food| food.lost_step != [None; 2]).count();
            failed += u32::from(!outcome.survived);
            survived += u32::from(outcome.survived);
            short += again.short;
        }
    }
    // Both kinds of trials must have been met for this to mean anything.
    assert!(failed > 125 && survived > 125, "{failed} failed, {survived} survived");
    assert!(lost > 125, "food was lost {lost} times");
    assert!(short > 1000, "{short} steps went short");
}

#[test]
fn bits_do_not_depend_on_width_or_vectors() {
    for (name, plan) in &covered() {
        let (charges, trials) = side_by_side(plan, false, false);
        for (narrow, plain) in [(true, false), (false, true)] {
            let (other_charges, other) = side_by_side(plan, narrow, plain);
            assert!(charges == other_charges, "{name}: charges differ, narrow: {narrow}, plain: {plain}");
            assert!(trials == other, "{name}: trials differ, narrow: {narrow}, plain: {plain}");
        }
    }
}

#[test]
fn a_trial_comes_to_the_same_beside_others() {
    for (name, plan) in &covered() {
        let (_, together) = side_by_side(plan, false, false);
        for trial in [0, 17, TRIALS - 1] {
            let mut keeper = Keeper::default();
            let alone = [Waiting::new(&plan.season, TrialSeed { seed: 3, trial })];
            Chunks::<f32>::default().run(&[(0, plan)], &alone, &[0], &Manner::default(), &mut keeper);
            assert_eq!(keeper.trials[&trial], together[&trial], "{name}");
        }
    }
}

#[test]
fn single_precision_of_weather_and_panels_moves_no_answer() {
    let (mut missed, mut off) = (0.0, 0.0_f64);
    for (name, plan) in &covered() {
        let (_, single) = in_precision::<f32>(plan, false, false);
        let (_, double) = in_precision::<f64>(plan, false, false);
        for (trial, a) in &single {
            let b = &double[trial];
            assert_eq!(a.outcome.survived, b.outcome.survived, "{name}, trial {trial}");
            assert_eq!(a.outcome.failure, b.outcome.failure, "{name}, trial {trial}");
            // A rounding is 6e-8 of a number, and an hour's light is worked out in some dozen steps.
            let near = 3e-6 * (b.outcome.ledger[Flow::Solar] + b.outcome.ledger[Flow::Start]);
            for ((_, x), (_, y)) in a.outcome.ledger.entries().zip(b.outcome.ledger.entries()) {
                assert!((x - y).abs() <= near, "{name}, trial {trial}: {x} in single, {y} in double precision");
            }
            assert!((a.outcome.unserved_wh - b.outcome.unserved_wh).abs() <= near, "{name}, trial {trial}");
            off = off.max((a.outcome.unserved_wh - b.outcome.unserved_wh).abs());
            missed += b.outcome.unserved_wh;
        }
    }
    println!("missed energy differs by at most {off:.1e} Wh a trial");
    assert!(missed > 0.0);
}
