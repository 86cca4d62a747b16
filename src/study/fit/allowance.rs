//! What vital loads may miss against what they ask for.

use crate::engine::{LoadPlan, Plan};
use crate::kit::{Judgement, Weight};
use crate::scenario::model::{Lasts, Scenario};
use crate::units::WattHours;

/// Vital loads that may miss at least as much as they ask for: whatever becomes of them, no outage fails by it.
#[derive(Debug, Clone, PartialEq)]
pub struct Unjudged {
    /// Their names.
    pub loads: Vec<String>,
    /// What they ask for together in an outage of the usual length \[Wh\].
    pub asked_wh: f64,
    /// What they may miss \[Wh\].
    pub allowed_wh: f64,
}

/// Whether missed energy of a load counts against what may be missed.
fn counts(load: &LoadPlan) -> bool {
    load.class == 0 && load.asks.as_ref().is_none_or(|asks| asks.counts_energy())
}

/// The vital loads that nothing judges; `None` where each can fail an outage.
#[must_use]
pub fn unjudged(scenario: &Scenario, plan: &Plan) -> Option<Unjudged> {
    let allowed_wh = scenario.outage.allow_unmet.0;
    let counted: Vec<&LoadPlan> = plan.loads.iter().filter(|load| counts(load)).collect();
    let days = plan.typical_length().0 / 24.0;
    let asked_wh = counted.iter().map(|load| load.day_wh()).sum::<f64>() * days;
    (allowed_wh > 0.0 && !counted.is_empty() && asked_wh <= allowed_wh).then(|| Unjudged {
        loads: counted.into_iter().map(|load| load.name.clone()).collect(),
        asked_wh,
        allowed_wh,
    })
}

/// Says so, and refuses where nothing else could fail.
pub(super) fn verdict(scenario: &Scenario, plan: &Plan) -> Option<Judgement> {
    let Unjudged { loads, asked_wh, allowed_wh } = unjudged(scenario, plan)?;
    let food = plan.loads.iter().any(|load| load.class == 0 && !counts(load));
    let fixed = matches!(scenario.outage.lasts, Lasts::Fixed(_));
    let (weight, what) = if food || !fixed {
        (Weight::Warns, "is no less than these vital loads ask for in a whole outage, so nothing judges them")
    } else {
        (Weight::Stops, "is no less than all vital loads ask for in a whole outage, so none could ever fail")
    };
    Some(
        Judgement::new(weight, "what may be missed", "outage.allow_unmet", what)
            .found(format!(
                "{} for {}, which ask for {}",
                WattHours(allowed_wh),
                loads.join(", "),
                WattHours(asked_wh.round())
            ))
            .allowed(format!("less than {}", WattHours(asked_wh.round())))
            .because("an outage fails once vital loads have missed more than is allowed")
            .remedy("write the few watt-hours that they can do without, or leave the key out"),
    )
}
