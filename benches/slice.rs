//! One slice of the model for comparison with other programs: its figures as JSON, and what this program makes of it.
//!
//! * `cargo bench --bench slice -- --tables` prints the tables behind `four-loads.toml`;
//! * `cargo bench --bench slice -- --trials 200000 --threads 1 --seed 1` prints processor time and answers; with `--plain`
//!   it uses no wider vectors than it was built for.
//!
//! `benches/reference/compare.py` runs both.

#[allow(dead_code, reason = "not every bench uses all of it")]
mod common;

use common::cpu::CpuTime;
use common::{FOUR_LOADS, compile_level};
use rayon::prelude::*;
use serde_json::{Value, json};
use tideover::engine::lanes::{Chunks, Ended, Manner, Sink, Waiting, arrange, batches};
use tideover::engine::ledger::Flow;
use tideover::engine::rig::{CLASSES, OUTLETS};
use tideover::engine::step::{Demand, Supply, step};
use tideover::engine::{Ledger, Onset, Plan, TrialSeed};
use tideover::trials::run::{Quiet, Settings, run};
use tideover::weather::bend::NAMES;

/// Standard deviation of the logarithm of the sun's level, which is all that the slice leaves unknown of the climate: the
/// others draw one factor as well.
const LEVEL_SD: f64 = 0.08;

/// Trials that are worked on at once: as many as a run takes.
const STRETCH: u64 = 64_000;

/// Everything about the slice that does not depend on chance.
fn tables(plan: &Plan) -> Value {
    let season = &plan.season;
    let [array] = &plan.arrays[..] else { panic!("one array") };
    assert!(season.step_h == 1.0 && array.cable_ohm == 0.0 && array.rated_w_sd == 0.0);
    assert!(plan.loads.iter().all(|load| load.watts_sd == 0.0 && load.day_sigma == 0.0) && !plan.any_rule);
    let Onset::AnyOf { first_day, days } = season.outage.onset else { panic!("a month") };
    let hours = plan.longest();
    // The days before a history settle the link between spells and air; one after it gives the last night's air.
    let listed = first_day + 365 - 5..first_day + 365 + days + (hours as u32).div_ceil(24) + 2;
    let weather: Vec<_> = listed.clone().map(|day| season.weather.day_tables(day).expect("hourly days")).collect();
    let geometry: Vec<_> = listed.map(|day| array.geometry.day_tables(day)).collect();
    let rig = plan.kit.best_estimate();
    let limits = rig.limits();
    let uncertain = uncertainties(plan);
    json!({
        "hours": hours,
        "first_day": 5,
        "start_days": days,
        "sun_uncertainty": LEVEL_SD,
        "allow_unmet_wh": plan.allow_unmet_wh,
        "weather": weather,
        "geometry": geometry,
        "panel": { "rated_w": array.rated_w * array.matched, "string_v": array.string_v, "volts_min": plan.inputs[0].volts_min },
        "solar": { "limit_w": rig.solar_limit_w, "efficiency": rig.solar_efficiency },
        "battery": {
            "capacity_wh": rig.capacity_wh,
            "capacity_sd": uncertain[0],
            "start": rig.start_wh / rig.capacity_wh,
            "start_sd": uncertain[3],
            "floor": limits.floor_wh / rig.capacity_wh,
            "ceiling": rig.ceiling_wh / rig.capacity_wh,
            "taper": rig.taper_wh / rig.capacity_wh,
            "charge_efficiency": rig.charge_efficiency,
            "charge_efficiency_sd": uncertain[1],
            "discharge_efficiency": rig.discharge_efficiency,
            "discharge_efficiency_sd": uncertain[2],
            "charge_per_h": limits.charge_w / rig.capacity_wh,
            "taper_from_per_h": limits.taper_from_w / rig.capacity_wh,
            "discharge_w": limits.discharge_w,
            "self_discharge_per_h": rig.self_discharge_per_h,
        },
        "demand": demand(plan),
    })
}

/// Standard uncertainties: of the energy that the cells give, relative; of charging and discharging efficiency; of the
/// charge at the start. Read off one drawn kit.
fn uncertainties(plan: &Plan) -> [f64; 4] {
    let known: Vec<&str> = plan.unknowns().iter().map(|one| one.quantity).filter(|code| *code != NAMES[0]).collect();
    assert_eq!(known, ["battery_capacity", "charge_efficiency", "discharge_efficiency"]);
    let best = plan.kit.best_estimate();
    let (mut z, rng) = (Vec::new(), TrialSeed { seed: 1, trial: 0 });
    let (drawn, fuller) = (plan.kit.draw(rng, 0.0, &mut z), plan.kit.draw(rng, -1.0, &mut Vec::new()));
    assert!(drawn.charge_efficiency < 1.0 && drawn.discharge_efficiency < 1.0);
    let gives = drawn.capacity_wh * drawn.discharge_efficiency / (best.capacity_wh * best.discharge_efficiency);
    [
        (gives - 1.0) / z[0],
        (drawn.charge_efficiency - best.charge_efficiency) / z[1],
        (drawn.discharge_efficiency - best.discharge_efficiency) / z[2],
        (drawn.start_wh - fuller.start_wh) / drawn.capacity_wh,
    ]
}

/// Of each hour of the day, what is asked for by class \[W\], and the bus power of the first one, two and three classes as
/// the ordinary step has it.
fn demand(plan: &Plan) -> Value {
    let rig = plan.kit.best_estimate();
    let (mut watts, mut bus_w) = (Vec::new(), Vec::new());
    for at in 0..24 {
        let mut demand = Demand::default();
        let mut buses = Vec::new();
        for class in 0..CLASSES {
            for load in plan.loads.iter().filter(|load| load.class == class) {
                demand.watts[class][load.outlet] += load.profile.watts[at];
                demand.plugged[class][load.outlet] = true;
                if load.outlet == 0 {
                    demand.variance_w2[class] += load.profile.variance_w2[at];
                }
            }
            let mut ledger = Ledger::default();
            let balance = step(&rig, &rig.limits(), rig.capacity_wh, Supply::sun(0.0), &demand, 1.0, &mut ledger);
            assert!(balance.all_served);
            let out = |of: [Flow; OUTLETS]| of.map(|flow| ledger[flow]).iter().sum::<f64>();
            buses.push(out(Flow::SERVED) + out(Flow::OUTLET_LOSS) + ledger[Flow::OwnDraw]);
        }
        watts.push((0..CLASSES).map(|class| demand.watts[class].iter().sum::<f64>()).collect::<Vec<_>>());
        bus_w.push(buses);
    }
    json!({ "watts": watts, "bus_w": bus_w })
}

/// Sums of trials and of their squares.
#[derive(Clone, Copy, Default)]
struct Sums {
    trials: u64,
    survived: u64,
    unserved_wh: [f64; 2],
    vital_missed_wh: [f64; 2],
    solar_wh: [f64; 2],
    curtailed_wh: [f64; 2],
}

impl Sums {
    fn merge(mut self, other: Sums) -> Sums {
        self.trials += other.trials;
        self.survived += other.survived;
        for k in 0..2 {
            self.unserved_wh[k] += other.unserved_wh[k];
            self.vital_missed_wh[k] += other.vital_missed_wh[k];
            self.solar_wh[k] += other.solar_wh[k];
            self.curtailed_wh[k] += other.curtailed_wh[k];
        }
        self
    }
}

impl Sink for Sums {
    fn outcome(&mut self, _: usize, ended: &Ended<'_>) {
        let outcome = ended.outcome;
        self.trials += 1;
        self.survived += u64::from(outcome.survived);
        for (sums, value) in [
            (&mut self.unserved_wh, outcome.unserved_wh),
            (&mut self.vital_missed_wh, outcome.vital_missed_wh),
            (&mut self.solar_wh, outcome.ledger[Flow::Solar]),
            (&mut self.curtailed_wh, outcome.ledger[Flow::Curtailed]),
        ] {
            sums[0] += value;
            sums[1] += value * value;
        }
    }
}

/// Weather and balance of a number of trials, without the tallies of a run.
fn slice(plan: &Plan, seed: u64, trials: u64, plain: bool) -> Sums {
    (0..trials.div_ceil(STRETCH))
        .map(|stretch| {
            let trials = stretch * STRETCH..((stretch + 1) * STRETCH).min(trials);
            let waiting: Vec<Waiting> =
                trials.into_par_iter().map(|trial| Waiting::new(&plan.season, TrialSeed { seed, trial })).collect();
            let order = arrange(&waiting);
            batches(&waiting, &order)
                .into_par_iter()
                .map(|batch| {
                    let mut sums = Sums::default();
                    let mut chunks: Chunks = Chunks::default();
                    let (plans, manner) = ([(0, plan)], Manner::default());
                    if plain {
                        chunks.run_plain(&plans, &waiting, batch, &manner, &mut sums);
                    } else {
                        chunks.run(&plans, &waiting, batch, &manner, &mut sums);
                    }
                    sums
                })
                .reduce(Sums::default, Sums::merge)
        })
        .fold(Sums::default(), Sums::merge)
}

/// Processor time a trial-hour \[ns\], summed over threads.
fn timed<T>(trial_hours: f64, work: impl FnOnce() -> T) -> (f64, T) {
    let before = CpuTime::now();
    let out = work();
    (CpuTime::since(&before).as_nanos() as f64 / trial_hours, out)
}

fn number(arguments: &[String], name: &str, otherwise: u64) -> u64 {
    let given = arguments.iter().position(|a| a == name).and_then(|at| arguments.get(at + 1));
    given.map_or(otherwise, |text| text.parse().unwrap_or_else(|_| panic!("{name} wants a number, found `{text}`")))
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let (_, plan) = compile_level(FOUR_LOADS, LEVEL_SD);
    if arguments.iter().any(|a| a == "--tables") {
        println!("{}", tables(&plan));
        return;
    }
    let (trials, threads) = (number(&arguments, "--trials", 200_000), number(&arguments, "--threads", 1));
    let seed = number(&arguments, "--seed", 1);
    let plain = arguments.iter().any(|a| a == "--plain");
    let trial_hours = (trials * plan.longest() as u64) as f64;
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads as usize).build().expect("threads");
    // As much as is worked on at once: the levels in Python keep their process, and with it their memory, from turn to turn.
    pool.install(|| slice(&plan, seed, STRETCH, plain));
    let (slice_ns, sums) = timed(trial_hours, || pool.install(|| slice(&plan, seed, trials, plain)));
    let settings = Settings { seed, trials, precision: None };
    let (run_ns, tallies) = timed(trial_hours, || pool.install(|| run(std::slice::from_ref(&plan), &settings, &Quiet)));
    assert_eq!(tallies[0].survived, sums.survived, "a run and its slice part ways");
    println!(
        "{}",
        json!({
            "slice_ns": slice_ns,
            "run_ns": run_ns,
            "trials": sums.trials,
            "survived": sums.survived,
            "missed_wh": sums.unserved_wh,
            "vital_missed_wh": sums.vital_missed_wh,
            "solar_wh": sums.solar_wh,
            "curtailed_wh": sums.curtailed_wh,
        })
    );
}
