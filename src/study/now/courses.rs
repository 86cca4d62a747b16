//! What can be done from here on: the plan as it stands, then ever less switched on.

use std::sync::Arc;

use super::{Action, AssumedSky};
use crate::engine::{Plan, Season};

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

/// The courses worth telling: what is off, and which loads still count as vital. Hours off by turns are none of them: what runs
/// by a thermostat makes up for them as soon as it may, and what its own store did not lose meanwhile is all that is saved.
pub(super) fn courses(plan: &Plan) -> Vec<(Action, Plan)> {
    let mut list = vec![(Action::AsPlanned, plan.clone())];
    let classes = |plan: &Plan, below: usize| {
        let mut plan = plan.clone();
        plan.loads.retain(|load| load.class < below);
        plan.mind_rules();
        plan
    };
    let has = |class: usize| plan.loads.iter().any(|load| load.class == class);
    if has(2) {
        list.push((Action::SpareOff, classes(plan, 2)));
    }
    if has(1) {
        list.push((if has(2) { Action::SpareAndUsefulOff } else { Action::UsefulOff }, classes(plan, 1)));
    }
    let vital = classes(plan, 1);
    if vital.loads.len() > 1 {
        for k in 0..vital.loads.len() {
            let mut only = vital.clone();
            only.loads = vec![vital.loads[k].clone()];
            only.mind_rules();
            list.push((Action::Only { load: vital.loads[k].name.clone() }, only));
        }
    }
    list
}
