//! Watts of what may run at once, against cells and outlets.

use crate::engine::{Asks, LoadPlan, OUTLETS, Plan};
use crate::kit::{Verdict, Weight};
use crate::scenario::model::{OutletKind, Scenario};

/// Loads that the station cannot run at all.
pub(super) fn never_run(plan: &Plan) -> Vec<Verdict> {
    let rig = plan.kit.best_estimate();
    let held = (0..plan.loads.len()).filter(|k| plan.loads[*k].never_runs());
    held.map(|k| {
        let load = &plan.loads[k];
        let about = format!("{}: watts while it runs", load.name);
        Verdict::new(
            Weight::Warns,
            about,
            format!("load.{k}.watts"),
            "is more than the station gives for long: it never runs",
        )
        .found(format!("{:.0} W, {:.0} W with all losses", load.running_w, plan.running_bus_w(&rig, &[k])))
        .allowed(format!(
            "up to {:.0} W out of the cells, {:.0} W at the outlet",
            plan.gives_w(),
            rig.outlet_limit_w[load.outlet]
        ))
        .because("the answer counts it as going without all the time; what the sun could add is not counted on")
        .remedy("use a station that gives more, or leave it out")
        .in_the_answer()
    })
    .collect()
}

/// All that may run at once against what the cells give.
pub(super) fn cells_watts(scenario: &Scenario, plan: &Plan) -> Option<Verdict> {
    let gives_w = cells_give_w(scenario, plan)?;
    let about = "cells: watts of all that may run at once";
    let key = "station.discharge_limit";
    let found = |(watts, step, loads): &(f64, usize, Vec<usize>)| {
        format!("{watts:.0} W with all losses from {}: {}", clock(plan, *step), names(plan, loads))
    };
    let (vital, all) = (busiest_in_all(plan, 1), busiest_in_all(plan, 3));
    let verdict = if vital.0 > gives_w {
        Verdict::new(Weight::Warns, about, key, "is less than the vital loads draw when all of them run")
            .found(found(&vital))
            .because("the station switches off when they run together")
            .remedy("run them one after another, or use a station that gives more")
    } else if all.0 > gives_w {
        Verdict::new(Weight::Warns, about, key, "is less than all loads draw when all of them run")
            .found(found(&all))
            .because("the station switches off when they run together")
            .remedy("never run them together: use other hours")
    } else {
        Verdict::new(Weight::Fits, about, key, "carries all that may run at once").found(found(&all))
    };
    Some(verdict.allowed(format!("gives {gives_w:.0} W")))
}

/// Whether a load may draw its running watts in a step of the day. A compressor may at any hour, however cool the month's
/// mean: it runs at full watts or not at all.
pub(super) fn may_run(load: &LoadPlan, step: usize) -> bool {
    matches!(load.asks.as_deref(), Some(Asks::Cooler(_))) || load.profile.watts.get(step).is_some_and(|w| *w > 0.0)
}

/// What the cells give for long where somebody has said it \[W\].
fn cells_give_w(scenario: &Scenario, plan: &Plan) -> Option<f64> {
    Some(plan.gives_w().min(scenario.station.discharge_limit?.0))
}

/// The most watts at the bus of all that may run at once, with losses, for all loads or the vital ones, and the step.
fn busiest_in_all(plan: &Plan, classes: usize) -> (f64, usize, Vec<usize>) {
    let rig = plan.kit.best_estimate();
    (0..plan.season.steps_a_day)
        .map(|step| {
            let loads: Vec<usize> = (0..OUTLETS).flat_map(|outlet| at_once(plan, outlet, classes, step)).collect();
            (plan.running_bus_w(&rig, &loads), step, loads)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
        .unwrap_or_default()
}

/// The loads of an outlet that may run in a step of the day, but for those that never do.
fn at_once(plan: &Plan, outlet: usize, classes: usize, step: usize) -> Vec<usize> {
    let here = |k: &usize| {
        let load = &plan.loads[*k];
        load.outlet == outlet && load.class < classes && may_run(load, step) && !load.never_runs()
    };
    (0..plan.loads.len()).filter(here).collect()
}

/// The most watts of running loads at one outlet in any step of the day, for all loads or the vital ones, and the step.
pub(super) fn busiest(plan: &Plan, outlet: usize, classes: usize) -> (f64, usize, Vec<usize>) {
    let sum = |loads: &[usize]| loads.iter().map(|k| plan.loads[*k].running_w).sum::<f64>();
    let mut best = (0.0, 0, Vec::new());
    for step in 0..plan.season.steps_a_day {
        let loads = at_once(plan, outlet, classes, step);
        let watts = sum(&loads);
        if watts > best.0 {
            best = (watts, step, loads);
        }
    }
    best
}

pub(super) fn clock(plan: &Plan, step: usize) -> String {
    let minutes = step * 1440 / plan.season.steps_a_day;
    format!("{:02}:{:02}", minutes / 60, minutes % 60)
}

fn names(plan: &Plan, loads: &[usize]) -> String {
    loads.iter().map(|k| plan.loads[*k].name.as_str()).collect::<Vec<_>>().join(" + ")
}

/// An outlet, or the battery, that switches off when loads on it run together.
#[derive(Debug, Clone, PartialEq)]
pub struct Overload {
    /// What it is called.
    pub outlet: &'static str,
    /// What they draw together, for the battery with all losses \[W\].
    pub watts: f64,
    /// What it gives \[W\].
    pub limit_w: f64,
    /// The loads.
    pub loads: Vec<String>,
    /// Whether vital loads alone are too much for it.
    pub vital: bool,
}

/// Outlets, and cells with a limit, that loads overload when all that may run at once does, the vital ones first. The trials know nothing of it: they
/// spread what runs in turns over the hour, and hold an outlet to its limit instead of switching it off.
#[must_use]
pub fn overloads(scenario: &Scenario, plan: &Plan) -> Vec<Overload> {
    let rig = plan.kit.best_estimate();
    let mut all = Vec::new();
    for (kind, outlet) in
        [(OutletKind::Ac, "inverter"), (OutletKind::Dc, "12 V outlet"), (OutletKind::Usb, "USB outlet")]
    {
        let limit_w = rig.outlet_limit_w[kind as usize];
        if !scenario.loads.iter().any(|load| load.outlet == kind) {
            continue;
        }
        let worst = |classes: usize| {
            let (watts, _, loads) = busiest(plan, kind as usize, classes);
            let loads: Vec<String> = loads.iter().map(|k| plan.loads[*k].name.clone()).collect();
            (watts > limit_w).then_some(Overload { outlet, watts, limit_w, loads, vital: classes == 1 })
        };
        all.extend(worst(1).or_else(|| worst(3)));
    }
    if let Some(limit_w) = cells_give_w(scenario, plan) {
        let worst = |classes: usize| {
            let (watts, _, loads) = busiest_in_all(plan, classes);
            let loads: Vec<String> = loads.iter().map(|k| plan.loads[*k].name.clone()).collect();
            (watts > limit_w).then_some(Overload { outlet: "battery", watts, limit_w, loads, vital: classes == 1 })
        };
        all.extend(worst(1).or_else(|| worst(3)));
    }
    all.sort_by_key(|overload| !overload.vital);
    all
}

pub(super) fn outlets(scenario: &Scenario, plan: &Plan) -> Vec<Verdict> {
    let rig = plan.kit.best_estimate();
    let kinds = [
        (OutletKind::Ac, "inverter", "station.inverter.rated"),
        (OutletKind::Dc, "12 V outlet", "station.dc_outlet.limit"),
        (OutletKind::Usb, "USB", "station.usb.limit"),
    ];
    let mut all = Vec::new();
    for (kind, name, key) in kinds {
        let outlet = kind as usize;
        if !scenario.loads.iter().any(|load| load.outlet == kind) {
            continue;
        }
        let limit = rig.outlet_limit_w[outlet];
        let (watts, step, loads) = busiest(plan, outlet, 3);
        let (vital_w, vital_step, vital) = busiest(plan, outlet, 1);
        let about = format!("{name}: watts of all that may run at once");
        let allowed = format!("gives {limit:.0} W");
        let verdict = if vital_w > limit {
            Verdict::new(Weight::Warns, about, key, "is less than the vital loads draw when all of them run")
                .found(format!("{vital_w:.0} W from {}: {}", clock(plan, vital_step), names(plan, &vital)))
                .because("an overloaded outlet switches off, and everything on it goes dark")
                .remedy("run them one after another, or move one to another outlet")
        } else if watts > limit {
            Verdict::new(Weight::Warns, about, key, "is less than all loads draw when all of them run")
                .found(format!("{watts:.0} W from {}: {}", clock(plan, step), names(plan, &loads)))
                .because("an overloaded outlet switches off, and everything on it goes dark, vital or not")
                .remedy("never run them together: use other hours or another outlet")
        } else {
            Verdict::new(Weight::Fits, about, key, "carries all that may run at once").found(format!(
                "{watts:.0} W from {}: {}",
                clock(plan, step),
                names(plan, &loads)
            ))
        };
        all.push(verdict.allowed(allowed));
    }
    all
}
