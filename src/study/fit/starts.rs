//! Motors that start while everything else runs, against what the inverter gives for a moment.

use super::watts::Overload;
use crate::calendar::clock_time;
use crate::engine::Plan;
use crate::kit::matter::Source;
use crate::kit::{Judgement, Matter, Weight};
use crate::scenario::model::{Inverter, Scenario};

/// Times its rated power that an inverter gives for a moment at most, where nobody told its surge. Common practice, no source.
const MOST_SURGE: f64 = 2.0;

/// The start that takes the most.
struct Start {
    load: usize,
    starting_w: f64,
    /// With what else may run \[W\].
    total_w: f64,
    step: usize,
    /// What may run beside it.
    beside: Vec<usize>,
}

/// The start on AC that takes the most with what else may run.
///
/// * `classes` — of priority: 1 for the vital loads alone, 3 for all.
fn worst(scenario: &Scenario, plan: &Plan, classes: usize) -> Option<Start> {
    let mut worst: Option<Start> = None;
    for step in 0..plan.season.steps_a_day {
        let on = |k: &usize| {
            let load = &plan.loads[*k];
            load.outlet == 0 && load.class < classes && load.may_run(step) && !load.never_runs()
        };
        let running: Vec<usize> = (0..plan.loads.len()).filter(on).collect();
        let running_w: f64 = running.iter().map(|k| plan.loads[*k].running_w).sum();
        for k in &running {
            let Some(starting) = scenario.loads.get(*k).and_then(|load| load.starting) else { continue };
            // One of several starts while the others of its kind run.
            let total_w = running_w - plan.loads[*k].running_w.min(starting.0) + starting.0;
            if worst.as_ref().is_none_or(|worst| total_w > worst.total_w) {
                let others = |other: &&usize| *other != k && plan.loads[**other].running_w > 0.0;
                let beside = running.iter().filter(others).copied().collect();
                worst = Some(Start { load: *k, starting_w: starting.0, total_w, step, beside });
            }
        }
    }
    worst
}

/// What the inverter gives for a moment as far as that is told, and what it surely does not give \[W\].
fn bears(inverter: &Inverter) -> (f64, f64) {
    match inverter.surge {
        Some(surge) => (surge.0, surge.0),
        None => (inverter.rated.0, MOST_SURGE * inverter.rated.0),
    }
}

/// A start that switches the inverter off, or may: of the vital loads, or else of all.
pub(super) fn overload(scenario: &Scenario, plan: &Plan) -> Option<Overload> {
    let inverter = scenario.station.inverter.as_ref()?;
    let (told_w, most_w) = bears(inverter);
    [1, 3].into_iter().find_map(|classes| {
        let start = worst(scenario, plan, classes).filter(|start| start.total_w > told_w)?;
        let name = |k: &usize| plan.loads[*k].name.clone();
        // By itself it is too much whatever else runs.
        let alone = start.starting_w > told_w;
        let beside = if alone { Vec::new() } else { start.beside };
        Some(Overload {
            outlet: Source::Inverter,
            watts: if alone { start.starting_w } else { start.total_w },
            limit_w: told_w,
            loads: std::iter::once(&start.load).chain(&beside).map(name).collect(),
            vital: classes == 1,
            never: false,
            starts: Some(name(&start.load)),
            certain: start.total_w > most_w,
            limit_told: inverter.surge.is_some(),
            step: start.step,
        })
    })
}

/// The judgement on the start that takes the most.
pub(super) fn starts(scenario: &Scenario, plan: &Plan) -> Option<Judgement> {
    let inverter = scenario.station.inverter.as_ref()?;
    let start = worst(scenario, plan, 3)?;
    let (weight, against) = match inverter.surge {
        Some(surge) if surge.0 < start.starting_w => (Weight::Stops, "station.inverter.surge"),
        Some(surge) if surge.0 < start.total_w => (Weight::Warns, "station.inverter.surge"),
        None if inverter.rated.0 < start.total_w => (Weight::Warns, "station.inverter.rated"),
        Some(_) | None => (Weight::Fits, ""),
    };
    let k = start.load;
    let matter = Matter::Start {
        load: scenario.loads[k].name.clone(),
        starting_w: start.starting_w,
        total_w: start.total_w,
        from: clock_time(start.step, plan.season.steps_a_day),
        surge_w: inverter.surge.map(|surge| surge.0),
        rated_w: inverter.rated.0,
    };
    let judged = Judgement::new(weight, format!("load.{k}.starting_watts"), matter);
    Some(if against.is_empty() { judged } else { judged.against(against) })
}
