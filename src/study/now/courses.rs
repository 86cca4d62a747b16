//! What can be done from here on: the plan as it stands, then ever less switched on.

use std::sync::Arc;

use super::generator::{Driven, GeneratorRun};
use super::{Action, AssumedSky, LASTS, lasting};
use crate::engine::{Plan, Season};
use crate::study::changes::{CHOSEN_ON, choosing_seed};
use crate::trials::Settings;
use crate::trials::run::run_part;

/// Vital things that are looked at the others without.
const MOST_SPARED: usize = 3;

/// The plan under an assumed sky.
pub(super) fn under(plan: &Plan, sky: &AssumedSky) -> Plan {
    let mut plan = plan.clone();
    // The outage is under way.
    plan.cool_rooms();
    let opening = sky.opening();
    if opening != plan.season.opening {
        plan.season = Arc::new(Season { weather: plan.season.weather.clone(), opening, ..*plan.season });
    }
    plan
}

/// One thing that can be done.
pub(super) struct Way {
    pub action: Action,
    /// The generator's hours, where they are others than the scenario's.
    pub generator: Option<GeneratorRun>,
    pub plan: Plan,
    /// Whether every vital load stays on.
    pub whole: bool,
}

/// The courses worth telling: those that keep every vital load on, those among them with the generator run from here on, and
/// those that keep one thing alone. Where a person's health hangs on devices, these alone are what is kept alone: nothing is
/// ever told that turns them off. Hours off by turns are none of the courses: what runs by a thermostat makes up for them as
/// soon as it may, and what its own store did not lose meanwhile is all that is saved.
///
/// * `devices` — streams of the loads that a person's health hangs on; `spared` — places among the vital loads of those without
///   which the others are looked at.
pub(super) fn courses(plan: &Plan, (devices, spared): (&[u64], &[usize]), run: Option<&Driven>) -> Vec<Way> {
    let below = |class: usize| plan.keeping(|k| plan.loads[k].class < class);
    let has = |class: usize| plan.loads.iter().any(|load| load.class == class && !load.never_runs());
    let way = |action: Action, plan: Plan, whole: bool| Way { action, generator: None, plan, whole };
    let mut list = vec![way(Action::AsPlanned, plan.clone(), true)];
    if has(2) {
        list.push(way(Action::SpareOff, below(2), true));
    }
    if has(1) {
        let action = if has(2) { Action::SpareAndUsefulOff } else { Action::UsefulOff };
        list.push(way(action, below(1), true));
    }
    let vital = below(1);
    let mut alone = Vec::new();
    let other = |k: usize| !devices.contains(&vital.loads[k].stream);
    if devices.is_empty() {
        let but = |&k: &usize| (Action::AllBut { load: vital.loads[k].name.clone() }, vital.keeping(|of| of != k));
        alone.extend(spared.iter().map(but));
        let each = (0..vital.loads.len()).filter(|_| vital.loads.len() > 1);
        alone.extend(each.map(|k| (Action::Only { load: vital.loads[k].name.clone() }, vital.keeping(|of| of == k))));
    } else if (0..vital.loads.len()).any(other) {
        let plan = vital.keeping(|k| !other(k));
        let names: Vec<String> = plan.loads.iter().map(|load| load.name.clone()).collect();
        let action = match &names[..] {
            [load] => Action::Only { load: load.clone() },
            _ => Action::OnlyDevices { loads: names },
        };
        alone.push((action, plan));
    }
    let with = |action: &Action, plan: &Plan, whole: bool| {
        run.map(|run| Way { action: action.clone(), generator: Some(run.told), plan: run.on(plan), whole })
    };
    // As planned, and with as much off as there is.
    let ends = if list.len() > 1 { vec![0, list.len() - 1] } else { vec![0] };
    let driven: Vec<Way> = ends.iter().filter_map(|&k| with(&list[k].action, &list[k].plan, true)).collect();
    let driven_alone: Vec<Way> = alone.iter().filter_map(|(action, plan)| with(action, plan, false)).collect();
    list.extend(driven);
    list.extend(alone.into_iter().map(|(action, plan)| way(action, plan, false)));
    list.extend(driven_alone);
    list
}

/// Places among vital loads of those without which the others last, where all of them together do not; those first that help
/// most.
///
/// * `vital` — what has to be kept on; `hours` — how long.
pub(super) fn worth_sparing(vital: &Plan, hours: f64, settings: &Settings) -> Vec<usize> {
    // Of two, what is left alone is a course of its own.
    if vital.loads.len() < 3 {
        return Vec::new();
    }
    let trials = CHOSEN_ON.min(settings.trials);
    let without = |k: usize| vital.keeping(|of| of != k);
    let plans: Vec<Plan> = std::iter::once(vital.clone()).chain((0..vital.loads.len()).map(without)).collect();
    let tallies = run_part(&plans, choosing_seed(settings), 0..trials);
    let lasted: Vec<u64> = tallies.iter().map(|tally| lasting(tally, hours, vital.season.step_h)).collect();
    let enough = |lasted: u64| lasted as f64 >= LASTS * trials as f64;
    if enough(lasted[0]) {
        return Vec::new();
    }
    let mut spared: Vec<usize> = (0..vital.loads.len()).filter(|&k| enough(lasted[k + 1])).collect();
    spared.sort_by_key(|&k| std::cmp::Reverse(lasted[k + 1]));
    spared.truncate(MOST_SPARED);
    spared
}
