//! What can be done from here on: the plan as it stands, then ever less switched on.

use std::sync::Arc;

use super::generator::GeneratorRun;
use super::{Action, AssumedSky};
use crate::engine::{Plan, Season};
use crate::scenario::model::{Generator, Station};

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
/// * `devices` — streams of the loads that a person's health hangs on.
pub(super) fn courses(plan: &Plan, devices: &[u64], run: Option<(GeneratorRun, &Generator, &Station)>) -> Vec<Way> {
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
        run.map(|(told, generator, station)| Way {
            action: action.clone(),
            generator: Some(told),
            plan: plan.with_generator(generator, station),
            whole,
        })
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
