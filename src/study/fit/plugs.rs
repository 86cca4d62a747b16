//! What a car's outlet gives, what a generator feeds, and what tolerates the moment of switching over.

use crate::engine::{LoadPlan, Plan};
use crate::kit::{Judgement, Matter, Weight};
use crate::scenario::model::{Gives, OutletKind, Scenario};

/// What a car's 12 V outlet mostly gives \[W\]: a fuse of 10 A. Common practice, no source.
const CAR_OUTLET_W: f64 = 120.0;

pub(super) fn car(scenario: &Scenario) -> Vec<Judgement> {
    let judged = scenario.sources.iter().enumerate().filter_map(|(k, source)| {
        let Gives::Car { watts, .. } = source.gives else { return None };
        let (source, watts) = (source.name.clone(), watts.value.0);
        let weight = if watts > CAR_OUTLET_W { Weight::Warns } else { Weight::Fits };
        let outlet = Matter::CarOutlet { source, watts, outlet_w: CAR_OUTLET_W };
        let judged = Judgement::new(weight, format!("source.{k}.watts"), outlet);
        Some(if weight == Weight::Fits { judged } else { judged.in_the_answer() })
    });
    judged.collect()
}

/// The load on AC that tolerates the shortest gap, of those of which that is told, against the station's switching over as the mains
/// fails.
pub(super) fn switching_over(scenario: &Scenario) -> Option<Judgement> {
    let inverter = scenario.station.inverter.as_ref()?;
    let on_ac = scenario.loads.iter().enumerate().filter(|(_, load)| load.outlet == OutletKind::Ac);
    let told = on_ac.filter_map(|(k, load)| Some((load.tolerates?.0, k, &load.name)));
    let (tolerates_ms, k, name) = told.min_by(|a, b| a.0.total_cmp(&b.0))?;
    let (ups, switchover_ms) = (inverter.stays.ups, inverter.switchover.map(|gap| gap.0));
    let (weight, against) = match switchover_ms {
        Some(gap_ms) if ups && gap_ms <= tolerates_ms => (Weight::Fits, "switchover"),
        Some(_) if ups => (Weight::Warns, "switchover"),
        _ => (Weight::Warns, "ups"),
    };
    let gap = Matter::SwitchOver { load: name.clone(), tolerates_ms, ups, switchover_ms };
    let judged =
        Judgement::new(weight, format!("load.{k}.tolerates"), gap).against(format!("station.inverter.{against}"));
    Some(if weight == Weight::Fits { judged } else { judged.in_the_answer() })
}

/// AC loads on a generator, and the motors among them.
pub(super) fn on_the_generator(scenario: &Scenario, plan: &Plan) -> Vec<Judgement> {
    let Some((feeds, generator)) = plan.feeds.as_ref().zip(scenario.generator.as_ref()) else { return Vec::new() };
    let names =
        |loads: &mut dyn Iterator<Item = &LoadPlan>| loads.map(|load| load.name.clone()).collect::<Vec<String>>();
    let carried = feeds.carries.iter().filter(|carries| **carries).count();
    let first_left = if feeds.through() { feeds.at_once_w.len() - 1 } else { carried.min(feeds.at_once_w.len() - 1) };
    let left = |load: &&LoadPlan| load.class <= first_left && load.class >= carried && feeds.asks_in_its_hours(load);
    let leaves = names(&mut plan.loads.iter().filter(left));
    let carries = names(&mut plan.on_the_generator());
    let carried_w = carried.checked_sub(1).map_or(0.0, |class| feeds.at_once_w[class]);
    let weight = if leaves.is_empty() && !carries.is_empty() { Weight::Fits } else { Weight::Warns };
    let (all_w, up_to_w) = (feeds.at_once_w[first_left], generator.feeds_ac_up_to.unwrap_or(generator.limit).0);
    let matter = Matter::GeneratorFeeds { carries, carried_w, leaves, all_w, up_to_w, through: feeds.through() };
    let judged = Judgement::new(weight, "generator.feeds_ac", matter);
    let mut all = vec![if weight == Weight::Fits { judged } else { judged.in_the_answer() }];
    let on_it = |load: &LoadPlan| feeds.carries_load(load) && feeds.asks_in_its_hours(load);
    for (k, (load, planned)) in scenario.loads.iter().zip(&plan.loads).enumerate() {
        let Some(starting) = load.starting.filter(|_| on_it(planned)) else { continue };
        // One of several starts while the others of its kind run.
        let total_w = carried_w - planned.running_w.min(starting.0) + starting.0;
        let fits = if total_w <= generator.limit.0 { Weight::Fits } else { Weight::Warns };
        let start = Matter::GeneratorStartsMotor {
            load: load.name.clone(),
            starting_w: starting.0,
            total_w,
            generator_w: generator.limit.0,
        };
        all.push(Judgement::new(fits, format!("load.{k}.starting_watts"), start).against("generator.limit"));
    }
    all
}
