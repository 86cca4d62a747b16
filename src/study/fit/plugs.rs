//! What a car's outlet gives, and what tolerates the moment of switching over.

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
