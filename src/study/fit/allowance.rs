//! What vital loads may miss against what they ask for.

use crate::engine::{LoadPlan, Plan};
use crate::kit::{Judgement, Matter, Weight};
use crate::scenario::model::{Lasts, Scenario};

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
    let weight = if food || !fixed { Weight::Warns } else { Weight::Stops };
    Some(Judgement::new(weight, "outage.allow_unmet", Matter::AllowedUnmet { loads, asked_wh, allowed_wh }))
}
