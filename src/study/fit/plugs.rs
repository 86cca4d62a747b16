//! What a car's outlet gives, and what tolerates the moment of switching over.

use crate::kit::{Judgement, Weight};
use crate::scenario::model::{Gives, OutletKind, Scenario};
use crate::units::Watts;

/// What a car's 12 V outlet mostly gives: a fuse of 10 A. Common practice, no source.
const CAR_OUTLET: Watts = Watts(120.0);

pub(super) fn car(scenario: &Scenario) -> Vec<Judgement> {
    let judged = scenario.sources.iter().enumerate().filter_map(|(k, source)| {
        let Gives::Car { watts, .. } = source.gives else { return None };
        let about = format!("{}: the car's outlet", source.name);
        let key = format!("source.{k}.watts");
        let found = watts.value.to_string();
        let allowed = format!("{CAR_OUTLET} from a 12 V outlet");
        Some(if CAR_OUTLET < watts.value {
            Judgement::new(Weight::Warns, about, key, "is more than a car's 12 V outlet mostly gives")
                .found(found)
                .allowed(allowed)
                .because("its fuse is often one of 10 A, and a fuse that blows ends the charging")
                .remedy("read the fuse's label; more takes a charger wired to the car's battery, fused as its maker's manual says")
                .in_the_answer()
        } else {
            Judgement::new(Weight::Fits, about, key, "is what a car's 12 V outlet mostly gives").found(found).allowed(allowed)
        })
    });
    judged.collect()
}

/// Loads on AC of which it is told how long a gap they tolerate, against the station's switching over as the mains fails.
pub(super) fn switching_over(scenario: &Scenario) -> Option<Judgement> {
    let inverter = scenario.station.inverter.as_ref()?;
    let on_ac = scenario.loads.iter().enumerate().filter(|(_, load)| load.outlet == OutletKind::Ac);
    let told = on_ac.filter_map(|(k, load)| Some((load.tolerates?, k, load.name.as_str())));
    let (least, k, name) = told.min_by(|a, b| a.0.0.total_cmp(&b.0.0))?;
    let about = format!("{name}: as the mains fails");
    let judged = |weight, what: &str, found: String| {
        Judgement::new(weight, about, format!("load.{k}.tolerates"), what)
            .found(found)
            .allowed(format!("a gap of {least}"))
    };
    let because = "it goes off or starts anew as the mains fails, each time";
    let other = "a station that takes over faster, or a supply of its own with a battery";
    Some(match (inverter.stays.ups, inverter.switchover) {
        (false, _) => judged(
            Weight::Warns,
            "tolerates no gap, and the station does not take over by itself",
            "somebody switches it over".into(),
        )
        .because(because)
        .remedy(format!("write `ups = true` and `switchover` if the station takes over by itself; else {other}"))
        .against("station.inverter.ups", "not told, or false")
        .in_the_answer(),
        (true, None) => judged(
            Weight::Warns,
            "tolerates no gap, and nobody has told how fast the station takes over",
            "not known".into(),
        )
        .because(because)
        .remedy("write `switchover` from the station's manual, and try it by pulling the plug")
        .against("station.inverter.ups", "takes over by itself")
        .in_the_answer(),
        (true, Some(gap)) if least.0 < gap.0 => {
            judged(Weight::Warns, "tolerates less than the station's switching over takes", gap.to_string())
                .because(because)
                .remedy(other)
                .against("station.inverter.switchover", "takes so long")
                .in_the_answer()
        }
        (true, Some(gap)) => judged(Weight::Fits, "tolerates the station's switching over", gap.to_string()),
    })
}
