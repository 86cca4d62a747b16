//! Single changes to a kit, and what each would do.

use serde::{Serialize, Serializer};

use super::compare::Pair;
use crate::engine::{OUTLETS, Plan};
use crate::scenario::model::{OutletKind, Scenario};
use crate::trials::Tally;
use crate::trials::unknowns::Survival;

/// One change to a kit.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Change {
    /// One more string of the same panels side by side with those of an array, wired as they are; the input's limits stay.
    OneMoreString {
        /// Index of the array.
        #[serde(skip)]
        array: usize,
        /// Panels in series in a string, 1 or more.
        series: u32,
        /// Power of one panel \[W\].
        #[serde(rename = "panel_w")]
        watts: f64,
        /// The array's name, where there are several.
        beside: Option<String>,
    },
    /// A quarter more battery.
    BiggerBattery,
    /// A load plugged in elsewhere.
    MoveLoad {
        /// Index of the load.
        #[serde(skip)]
        load: usize,
        /// Its name.
        #[serde(rename = "load")]
        name: String,
        /// The outlet.
        #[serde(serialize_with = "outlet_code")]
        to: OutletKind,
        /// What it draws there \[W\].
        #[serde(rename = "watts_w")]
        watts: f64,
    },
    /// A load left off.
    LeaveOff {
        /// Index of the load.
        #[serde(skip)]
        load: usize,
        /// Its name.
        #[serde(rename = "load")]
        name: String,
    },
    /// The battery full as the outage begins.
    StartFull,
    /// The station in a heated room.
    BringInside,
}

fn outlet_code<S: Serializer>(outlet: &OutletKind, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(match outlet {
        OutletKind::Ac => "ac",
        OutletKind::Dc => "dc",
        OutletKind::Usb => "usb",
    })
}

impl Change {
    /// The plan with the change made.
    #[must_use]
    pub fn apply(&self, plan: &Plan) -> Plan {
        let mut plan = plan.clone();
        match *self {
            Change::OneMoreString { array, series, .. } => {
                if let Some(array) = plan.arrays.get_mut(array) {
                    let grown = (array.rated_w + f64::from(series) * array.panel_w) / array.rated_w;
                    array.rated_w *= grown;
                    array.rated_w_sd *= grown;
                }
            }
            Change::BiggerBattery => plan.kit.scale *= 1.25,
            Change::MoveLoad { load, to, watts, .. } => {
                if let Some(load) = plan.loads.get_mut(load) {
                    load.outlet = to as usize;
                    load.scale_watts(watts);
                }
                plan.hold_off_overloads();
            }
            Change::LeaveOff { load, .. } => {
                if load < plan.loads.len() {
                    plan.loads.remove(load);
                    plan.mind_rules();
                }
            }
            Change::StartFull => plan.kit.start_full(),
            Change::BringInside => plan.kit.bring_inside(),
        }
        plan
    }

    /// The changes worth trying on a scenario: one more string of each kind of panel (less than a whole string cannot be
    /// wired beside the others), a quarter more battery, the biggest load
    /// that could use another outlet moved there, the biggest of the least important loads left off, a full start, and a warm
    /// room for a station in the weather.
    #[must_use]
    pub fn worth_trying(scenario: &Scenario, plan: &Plan) -> Vec<Change> {
        let mut changes: Vec<Change> = plan
            .arrays
            .iter()
            .zip(&scenario.panels)
            .enumerate()
            .map(|(array, (a, panel))| Change::OneMoreString {
                array,
                series: panel.series,
                watts: a.panel_w,
                beside: (plan.arrays.len() > 1).then(|| a.name.clone()),
            })
            .collect();
        changes.push(Change::BiggerBattery);
        let energy = |k: usize| plan.loads[k].day_wh();
        let biggest = |picked: Vec<usize>| picked.into_iter().max_by(|&a, &b| energy(a).total_cmp(&energy(b)));
        let limits = plan.kit.best_estimate().outlet_limit_w;
        let movable = (0..scenario.loads.len())
            .filter(|&k| {
                scenario.loads[k].could_use.is_some_and(|(to, watts)| watts.0 <= limits[(to as usize).min(OUTLETS - 1)])
            })
            .collect();
        if let Some(load) = biggest(movable)
            && let Some((to, watts)) = scenario.loads[load].could_use
        {
            changes.push(Change::MoveLoad { load, name: plan.loads[load].name.clone(), to, watts: watts.0 });
        }
        let least = plan.loads.iter().map(|load| load.class).max().unwrap_or(0);
        if least > 0
            && let Some(load) = biggest((0..plan.loads.len()).filter(|&k| plan.loads[k].class == least).collect())
        {
            changes.push(Change::LeaveOff { load, name: plan.loads[load].name.clone() });
        }
        if plan.kit.best_estimate().start_wh < 0.99 * plan.kit.best_estimate().ceiling_wh {
            changes.push(Change::StartFull);
        }
        if plan.kit.stands_in_the_weather() {
            changes.push(Change::BringInside);
        }
        changes
    }
}

/// What a change does to survival, on the same weather and draws for loads.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// The change.
    pub change: Change,
    /// Survival with it.
    pub survival: Survival,
    /// The kit as it is and the changed one on the same trials.
    pub pair: Pair,
}

impl Effect {
    /// Compares two tallies of the same trials.
    #[must_use]
    pub fn of(change: Change, survival: Survival, base: &Tally, changed: &Tally) -> Effect {
        Effect { change, survival, pair: Pair::of(base, changed) }
    }
}
