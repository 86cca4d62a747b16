//! Watts of what may run at once, against cells and outlets.

use crate::engine::{Asks, LoadPlan, Plan};
use crate::kit::{Verdict, Weight};
use crate::scenario::model::{OutletKind, Pattern, Scenario};

/// Least load that an AC outlet can be counted on to stay awake for \[W\]. Many inverters that sleep wake up, and most stations
/// keep their AC outlet on, only above 5 to 10 W (common practice, no source).
const SURELY_AWAKE_W: f64 = 8.0;

/// The least that all AC loads which run by themselves draw together in a step in which any of them does \[W\], the step, and
/// those loads. Compressors and chargers come and go, and keep nothing awake: they count where nothing else runs.
fn least_on_ac(scenario: &Scenario, plan: &Plan) -> Option<(f64, usize, Vec<usize>)> {
    let ac = OutletKind::Ac as usize;
    let draws = |k: usize, step: usize| match scenario.loads[k].pattern {
        Pattern::Profile(_) => plan.loads[k].profile.watts.get(step).copied().unwrap_or(0.0),
        _ => plan.loads[k].running_w,
    };
    let mut least: Option<(f64, usize, Vec<usize>)> = None;
    for step in 0..plan.season.steps_a_day {
        let all = at_once(plan, ac, Of::ALL, step);
        let known = |k: &usize| {
            matches!(scenario.loads[*k].pattern, Pattern::Steady | Pattern::Schedule { .. } | Pattern::Profile(_))
        };
        let (steady, come_and_go): (Vec<usize>, Vec<usize>) = all.into_iter().partition(known);
        let alone = come_and_go.into_iter().map(|k| (draws(k, step), vec![k]));
        let together = (steady.iter().map(|k| draws(*k, step)).sum::<f64>(), steady);
        let here = if together.0 > 0.0 { Some(together) } else { alone.min_by(|a, b| a.0.total_cmp(&b.0)) };
        if let Some((watts, loads)) = here
            && least.as_ref().is_none_or(|(least_w, ..)| watts < *least_w)
        {
            least = Some((watts, step, loads));
        }
    }
    least
}

/// AC loads so small that the outlet may be asleep, or switch itself off, under them.
pub(super) fn small_ac(scenario: &Scenario, plan: &Plan) -> Option<Verdict> {
    let inverter = scenario.station.inverter.as_ref()?;
    let (watts, step, loads) = least_on_ac(scenario, plan)?;
    if watts >= SURELY_AWAKE_W {
        return None;
    }
    let (key, what) = if inverter.sleeps {
        ("station.inverter.sleeps", "may leave so small a load in the dark: it wakes for more")
    } else {
        ("station.inverter.rated", "belongs to an AC outlet that may switch itself off under so small a load")
    };
    Some(
        Verdict::new(Weight::Warns, "inverter: small loads", key, what)
            .found(format!("{watts:.1} W at the AC outlet from {}: {}", clock(plan, step), names(plan, &loads)))
            .allowed(format!("about {SURELY_AWAKE_W:.0} W or more to count on"))
            .because(
                "most stations switch the AC outlet off under a small load, some after hours (common practice, no source); the \
                 answer takes it to stay on",
            )
            .remedy(
                "try it for a night with this load alone, look for a setting that keeps AC on, or feed it from the 12 V or USB outlet",
            )
            .in_the_answer(),
    )
}

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

/// Power that the cells give at the bus, where the scenario limits it \[W\].
fn cells_give_w(scenario: &Scenario, plan: &Plan) -> Option<f64> {
    scenario.station.discharge_limit.map(|limit| plan.gives_w().min(limit.0))
}

/// The most watts at the bus of loads that may run at once in any step of the day, losses counted, and the step.
fn busiest_of_all(plan: &Plan, of: Of) -> (f64, usize, Vec<usize>) {
    let rig = plan.kit.best_estimate();
    (0..plan.season.steps_a_day)
        .map(|step| {
            let loads: Vec<usize> = (0..3).flat_map(|outlet| at_once(plan, outlet, of, step)).collect();
            (plan.running_bus_w(&rig, &loads), step, loads)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
        .unwrap_or_default()
}

/// All that may run at once against what the cells give.
pub(super) fn cells_watts(scenario: &Scenario, plan: &Plan) -> Option<Verdict> {
    let gives_w = cells_give_w(scenario, plan)?;
    let about = "cells: watts of all that may run at once";
    let key = "station.discharge_limit";
    let found = |(watts, step, loads): &(f64, usize, Vec<usize>)| {
        format!("{watts:.0} W with all losses from {}: {}", clock(plan, *step), names(plan, loads))
    };
    let (vital, all) = (busiest_of_all(plan, Of::VITAL), busiest_of_all(plan, Of::ALL));
    let verdict = if vital.0 > gives_w {
        Verdict::new(Weight::Warns, about, key, "is less than the vital loads draw when all of them run")
            .found(found(&vital))
            .because("the station switches off when they run together; the answer counts means of an hour, in which they take turns")
            .remedy("run them one after another, or use a station that gives more")
    } else if all.0 > gives_w {
        Verdict::new(Weight::Warns, about, key, "is less than all loads draw when all of them run")
            .found(found(&all))
            .because("the station switches off when they run together; the answer counts means of an hour, in which they take turns")
            .remedy("never run them together: use other hours")
    } else {
        Verdict::new(Weight::Fits, about, key, "carries all that may run at once").found(found(&all))
    };
    Some(verdict.allowed(format!("gives {gives_w:.0} W")))
}

/// An outlet, or the whole station, that switches off when loads on it run together.
#[derive(Debug, Clone, PartialEq)]
pub struct Overload {
    /// What the outlet is called.
    pub outlet: &'static str,
    /// What they draw together \[W\]; of the station's cells, with all losses.
    pub watts: f64,
    /// What it gives \[W\].
    pub limit_w: f64,
    /// The loads.
    pub loads: Vec<String>,
    /// Whether vital loads alone are too much for it.
    pub vital: bool,
}

/// Outlets, and cells, that loads overload when all that may run at once does, the vital ones first. The trials know nothing
/// of it: they spread what runs in turns over the hour, and hold an outlet to its limit instead of switching it off.
#[must_use]
pub fn overloads(scenario: &Scenario, plan: &Plan) -> Vec<Overload> {
    let rig = plan.kit.best_estimate();
    let named = |loads: &[usize]| loads.iter().map(|k| plan.loads[*k].name.clone()).collect();
    let mut all = Vec::new();
    for (kind, outlet) in
        [(OutletKind::Ac, "inverter"), (OutletKind::Dc, "12 V outlet"), (OutletKind::Usb, "USB outlet")]
    {
        let limit_w = rig.outlet_limit_w[kind as usize];
        if !scenario.loads.iter().any(|load| load.outlet == kind) {
            continue;
        }
        let worst = |classes: usize| {
            let (watts, _, loads) = busiest(plan, kind as usize, Of { classes, held_off: true });
            (watts > limit_w).then(|| Overload { outlet, watts, limit_w, loads: named(&loads), vital: classes == 1 })
        };
        all.extend(worst(1).or_else(|| worst(3)));
    }
    if let Some(limit_w) = cells_give_w(scenario, plan) {
        let worst = |classes: usize| {
            let (watts, _, loads) = busiest_of_all(plan, Of { classes, held_off: true });
            let outlet = "station";
            (watts > limit_w).then(|| Overload { outlet, watts, limit_w, loads: named(&loads), vital: classes == 1 })
        };
        all.extend(worst(1).or_else(|| worst(3)));
    }
    all.sort_by_key(|overload| !overload.vital);
    all
}

/// Whether a load may draw its running watts in a step of the day. A compressor may at any hour, however cool the month's
/// mean: it runs at full watts or not at all.
pub(super) fn may_run(load: &LoadPlan, step: usize) -> bool {
    matches!(load.asks.as_deref(), Some(Asks::Cooler(_))) || load.profile.watts.get(step).is_some_and(|w| *w > 0.0)
}

/// Which loads to add up.
#[derive(Debug, Clone, Copy)]
pub(super) struct Of {
    /// Classes of priority: 1 for the vital loads alone, 3 for all.
    pub classes: usize,
    /// Whether loads count too that the station cannot run by themselves: somebody may try.
    pub held_off: bool,
}

impl Of {
    /// The vital loads that run.
    pub const VITAL: Of = Of { classes: 1, held_off: false };
    /// All loads that run.
    pub const ALL: Of = Of { classes: 3, held_off: false };
}

/// The loads of an outlet that may run in a step of the day.
fn at_once(plan: &Plan, outlet: usize, of: Of, step: usize) -> Vec<usize> {
    let here = |k: &usize| {
        let load = &plan.loads[*k];
        let counts = of.held_off || !load.never_runs();
        load.outlet == outlet && load.class < of.classes && may_run(load, step) && counts
    };
    (0..plan.loads.len()).filter(here).collect()
}

/// The most watts of running loads at one outlet in any step of the day, and the step.
pub(super) fn busiest(plan: &Plan, outlet: usize, of: Of) -> (f64, usize, Vec<usize>) {
    let sum = |loads: &[usize]| loads.iter().map(|k| plan.loads[*k].running_w).sum::<f64>();
    let mut best = (0.0, 0, Vec::new());
    for step in 0..plan.season.steps_a_day {
        let loads = at_once(plan, outlet, of, step);
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
        let (watts, step, loads) = busiest(plan, outlet, Of::ALL);
        let (vital_w, vital_step, vital) = busiest(plan, outlet, Of::VITAL);
        let about = format!("{name}: watts of all that may run at once");
        let allowed = format!("gives {limit:.0} W");
        let verdict = if vital_w > limit {
            Verdict::new(Weight::Warns, about, key, "is less than the vital loads draw when all of them run")
                .found(format!("{vital_w:.0} W from {}: {}", clock(plan, vital_step), names(plan, &vital)))
                .because("an overloaded outlet switches off, and everything on it goes dark; the answer counts means of an hour, in which they take turns")
                .remedy("run them one after another, or move one to another outlet")
        } else if watts > limit {
            Verdict::new(Weight::Warns, about, key, "is less than all loads draw when all of them run")
                .found(format!("{watts:.0} W from {}: {}", clock(plan, step), names(plan, &loads)))
                .because("an overloaded outlet switches off, and everything on it goes dark, vital or not; the answer counts means of an hour, in which they take turns")
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
