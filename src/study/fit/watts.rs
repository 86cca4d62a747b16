//! Watts of what may run at once, against cells and outlets.

use serde::Serialize;

use super::starts;
use crate::calendar::clock_time;
use crate::engine::{LoadPlan, Plan};
use crate::kit::matter::Source;
use crate::kit::{Judgement, Matter, Weight};
use crate::scenario::model::{OutletKind, Scenario};

/// AC loads that wait for a hand as the lights go out, where it is told when somebody is there: the trials count the wait.
pub(super) fn switched_over(scenario: &Scenario) -> Option<Judgement> {
    let stays = &scenario.station.inverter.as_ref()?.stays;
    let waiting = scenario.loads.iter().filter(|load| load.outlet == OutletKind::Ac).map(|load| load.name.as_str());
    let waiting: Vec<&str> = waiting.collect();
    if stays.ups || scenario.outage.somebody_home.is_empty() || waiting.is_empty() {
        return None;
    }
    let loads = waiting.into_iter().map(String::from).collect();
    let dark = Matter::SwitchedOver { loads };
    Some(Judgement::new(Weight::Warns, "station.inverter.ups", dark).in_the_answer())
}

/// AC loads so small that the outlet is asleep, or switches itself off, under them: as the trials take it.
pub(super) fn small_ac(scenario: &Scenario, plan: &Plan) -> Option<Judgement> {
    let inverter = scenario.station.inverter.as_ref()?;
    let stays = &inverter.stays;
    let (surely_w, least_w, assumed) = (stays.least.0.0, stays.least.1.0, stays.assumed);
    let (watts, step, loads) = plan.least_on_ac(true)?;
    if watts >= least_w {
        return None;
    }
    let (from, loads) = (clock_time(step, plan.season.steps_a_day), names(plan, &loads));
    let (key, small) = if inverter.sleeps {
        let key = if assumed { "station.inverter.sleeps" } else { "station.inverter.wakes_above" };
        (key, Matter::Sleeps { watts, from, loads, surely_w, least_w, assumed })
    } else {
        let key = if assumed { "station.inverter.rated" } else { "station.inverter.switches_off_below" };
        let after_h = [stays.off_after.0.0, stays.off_after.1.0];
        let somebody_home_is_told = !scenario.outage.somebody_home.is_empty();
        let off =
            Matter::SwitchesOff { watts, from, loads, surely_w, least_w, assumed, after_h, somebody_home_is_told };
        (key, off)
    };
    Some(Judgement::new(Weight::Warns, key, small).in_the_answer())
}

/// Loads that the station cannot run at all.
pub(super) fn never_run(plan: &Plan) -> Vec<Judgement> {
    let rig = plan.kit.best_estimate();
    let held = (0..plan.loads.len()).filter(|k| plan.loads[*k].never_runs());
    held.map(|k| {
        let load = &plan.loads[k];
        let (at, outlet_w) = (OUTLETS[load.outlet], rig.outlet_limit_w[load.outlet]);
        let beyond_outlet = outlet_w < load.running_w;
        let never = Matter::NeverRuns {
            load: load.name.clone(),
            watts: load.running_w,
            bus_w: plan.running_bus_w(&rig, &[k]),
            gives_w: plan.gives_w(),
            outlet_w,
            beyond_outlet,
            at,
        };
        let judged = Judgement::new(Weight::Warns, format!("load.{k}.watts"), never).in_the_answer();
        if beyond_outlet { judged.against(at.limit_key()) } else { judged }
    })
    .collect()
}

/// Power that the cells give at the bus, where the scenario limits it \[W\].
fn cells_give_w(scenario: &Scenario, plan: &Plan) -> Option<f64> {
    scenario.station.discharge_limit.map(|limit| plan.gives_w().min(limit.0))
}

/// The most watts at the bus of loads that may run at once in any step of the day, losses counted, and the step.
fn busiest_of_all(plan: &Plan, classes: usize) -> (f64, usize, Vec<usize>) {
    let rig = plan.kit.best_estimate();
    (0..plan.season.steps_a_day)
        .map(|step| {
            let loads: Vec<usize> = (0..3).flat_map(|outlet| at_once(plan, outlet, classes, step)).collect();
            (plan.running_bus_w(&rig, &loads), step, loads)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
        .unwrap_or_default()
}

/// Classes of priority of all loads.
pub(super) const ALL: usize = 3;

/// The outlets, by index.
const OUTLETS: [Source; 3] = [Source::Inverter, Source::DcOutlet, Source::UsbOutlet];

/// An outlet, or the whole station, that switches off when loads on it run together, or when a single one is switched on.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename = "overload")]
pub struct Overload {
    /// What switches off.
    pub outlet: Source,
    /// What they draw together \[W\]; of the station's cells, with all losses.
    #[serde(rename = "watts_w")]
    pub watts: f64,
    /// What it gives \[W\].
    pub limit_w: f64,
    /// The loads.
    pub loads: Vec<String>,
    /// Whether vital loads alone are too much for it.
    pub vital: bool,
    /// Whether it is one load that is too much by itself: that never runs, and the answer is of the rest.
    #[serde(rename = "never_runs")]
    pub never: bool,
    /// The load that starts, where it is its start that is too much, beside what runs; none where they run for hours.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub starts: Option<String>,
    /// Whether it is known to switch off: not where it may give more for a moment, and nobody told how much.
    pub certain: bool,
    /// Whether the limit is all that it gives for a moment, as far as it is told.
    #[serde(skip)]
    pub limit_told: bool,
    /// The first step of the day in which they may run together.
    #[serde(skip)]
    pub(super) step: usize,
}

impl Overload {
    /// Of what runs for hours: what gives, the watts drawn and given, and by what.
    fn for_long((outlet, watts, limit_w): (Source, f64, f64), loads: Vec<String>, vital: bool) -> Overload {
        let (starts, certain, limit_told) = (None, true, true);
        Overload { outlet, watts, limit_w, loads, vital, never: false, starts, certain, limit_told, step: 0 }
    }

    /// Whether vital loads switch it off for sure, so that there is nothing to count on.
    #[must_use]
    pub fn stops(&self) -> bool {
        self.vital && self.certain
    }
}

/// All that may run at once at each outlet in use, and out of the cells where the scenario limits them: the overload, or else
/// what is drawn at most, which is within the limit. Loads that the station cannot run by themselves do not count.
fn at_most(scenario: &Scenario, plan: &Plan) -> Vec<Result<Overload, Overload>> {
    let rig = plan.kit.best_estimate();
    let used = |at: &usize| scenario.loads.iter().any(|load| load.outlet as usize == *at);
    let outlets = (0..OUTLETS.len()).filter(used).map(|at| (OUTLETS[at], Some(at), rig.outlet_limit_w[at]));
    let cells = cells_give_w(scenario, plan).map(|limit_w| (Source::Station, None, limit_w));
    let judged = outlets.chain(cells).map(|(outlet, at, limit_w)| {
        let most = |classes: usize| {
            let (watts, step, loads) =
                at.map_or_else(|| busiest_of_all(plan, classes), |at| busiest(plan, at, classes));
            let loads = names(plan, &loads);
            Overload { step, ..Overload::for_long((outlet, watts, limit_w), loads, classes == 1) }
        };
        let (vital, all) = (most(1), most(ALL));
        [vital, all.clone()].into_iter().find(|most| most.watts > limit_w).map_or(Ok(all), Err)
    });
    judged.collect()
}

/// Loads that overload their outlet, or the cells, by themselves, and then outlets, and cells, that loads overload when all else
/// that may run at once does, or one of them starts; of each the vital ones first. The trials know nothing of it: they leave the former unplugged, spread
/// what runs in turns over the hour, and hold an outlet to its limit instead of switching it off.
#[must_use]
pub fn overloads(scenario: &Scenario, plan: &Plan) -> Vec<Overload> {
    let rig = plan.kit.best_estimate();
    let alone = |(k, load): (usize, &LoadPlan)| {
        let outlet_w = rig.outlet_limit_w[load.outlet];
        let (outlet, watts, limit_w) = match outlet_w < load.running_w {
            true => (OUTLETS[load.outlet], load.running_w, outlet_w),
            false => (Source::Station, plan.running_bus_w(&rig, &[k]), plan.gives_w()),
        };
        let (loads, vital) = (vec![load.name.clone()], load.priority == 0);
        Overload { never: true, ..Overload::for_long((outlet, watts, limit_w), loads, vital) }
    };
    let never = plan.loads.iter().enumerate().filter(|(_, load)| load.never_runs()).map(alone);
    let mut all: Vec<Overload> = never.chain(at_most(scenario, plan).into_iter().filter_map(Result::err)).collect();
    let known = |all: &[Overload], start: &Overload| {
        let running = |over: &&Overload| !over.never && over.outlet == start.outlet;
        all.iter().filter(running).any(|running| running.vital || !start.vital)
    };
    all.extend(starts::overload(scenario, plan).filter(|start| !known(&all, start)));
    all.sort_by_key(|overload| (!overload.never, !overload.vital, !overload.certain));
    all
}

/// A judgement on each outlet in use, and on the cells.
pub(super) fn outlets(scenario: &Scenario, plan: &Plan) -> Vec<Judgement> {
    let verdict = |judged: Result<Overload, Overload>| {
        let weight = if judged.is_err() { Weight::Warns } else { Weight::Fits };
        let (Ok(most) | Err(most)) = judged;
        let Overload { outlet: at, watts, limit_w, loads, vital, step, .. } = most;
        Judgement::new(
            weight,
            at.limit_key(),
            Matter::AtOnce { at, watts, limit_w, loads, vital, from: clock_time(step, plan.season.steps_a_day) },
        )
    };
    // The cells are told first.
    let mut judged = at_most(scenario, plan);
    judged.sort_by_key(|(Ok(most) | Err(most))| most.outlet != Source::Station);
    // Where nothing can run there is nothing to carry.
    judged.into_iter().filter(|(Ok(most) | Err(most))| !most.loads.is_empty()).map(verdict).collect()
}

/// The loads of an outlet that may run in a step of the day, of the first classes of priority: 1 for the vital loads alone, [`ALL`]
/// for all. One that the station cannot run by itself does not.
fn at_once(plan: &Plan, outlet: usize, classes: usize, step: usize) -> Vec<usize> {
    let here = |k: &usize| {
        let load = &plan.loads[*k];
        load.outlet == outlet && load.class < classes && load.may_run(step) && !load.never_runs()
    };
    (0..plan.loads.len()).filter(here).collect()
}

/// The most watts of running loads at one outlet in any step of the day, and the step.
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

fn names(plan: &Plan, loads: &[usize]) -> Vec<String> {
    loads.iter().map(|k| plan.loads[*k].name.clone()).collect()
}
