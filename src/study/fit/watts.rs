//! Watts of what may run at once, against cells and outlets.

use crate::engine::Plan;
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
    let limit = scenario.station.discharge_limit?;
    let rig = plan.kit.best_estimate();
    let gives_w = plan.gives_w().min(limit.0);
    let most = |classes: usize| {
        (0..plan.season.steps_a_day)
            .map(|step| {
                let loads: Vec<usize> = (0..3).flat_map(|outlet| at_once(plan, outlet, classes, step)).collect();
                (plan.running_bus_w(&rig, &loads), step, loads)
            })
            .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
            .unwrap_or_default()
    };
    let about = "cells: watts of all that may run at once";
    let key = "station.discharge_limit";
    let found = |(watts, step, loads): &(f64, usize, Vec<usize>)| {
        format!("{watts:.0} W with all losses from {}: {}", clock(plan, *step), names(plan, loads))
    };
    let (vital, all) = (most(1), most(3));
    let verdict = if vital.0 > gives_w {
        Verdict::new(Weight::Warns, about, key, "is less than the vital loads draw when all of them run")
            .found(found(&vital))
            .because("the station switches off when they run together; the answer counts means of an hour, in which they take turns")
            .remedy("run them one after another, or use a station that gives more")
            .in_the_answer()
    } else if all.0 > gives_w {
        Verdict::new(Weight::Warns, about, key, "is less than all loads draw when all of them run")
            .found(found(&all))
            .because("the station switches off when they run together; the answer counts means of an hour, in which they take turns")
            .remedy("never run them together: use other hours")
            .in_the_answer()
    } else {
        Verdict::new(Weight::Fits, about, key, "carries all that may run at once").found(found(&all))
    };
    Some(verdict.allowed(format!("gives {gives_w:.0} W")))
}

/// The loads of an outlet that may run in a step of the day, but for those that never do.
fn at_once(plan: &Plan, outlet: usize, classes: usize, step: usize) -> Vec<usize> {
    let here = |k: &usize| {
        let load = &plan.loads[*k];
        let asks = load.profile.watts.get(step).is_some_and(|w| *w > 0.0);
        load.outlet == outlet && load.class < classes && asks && !load.never_runs()
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
                .because("an overloaded outlet switches off, and everything on it goes dark; the answer counts means of an hour, in which they take turns")
                .remedy("run them one after another, or move one to another outlet")
                .in_the_answer()
        } else if watts > limit {
            Verdict::new(Weight::Warns, about, key, "is less than all loads draw when all of them run")
                .found(format!("{watts:.0} W from {}: {}", clock(plan, step), names(plan, &loads)))
                .because("an overloaded outlet switches off, and everything on it goes dark, vital or not; the answer counts means of an hour, in which they take turns")
                .remedy("never run them together: use other hours or another outlet")
                .in_the_answer()
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
