//! Will the kit ride through?

use super::changes::{Change, Effect};
use crate::engine::Plan;
use crate::scenario::model::Scenario;
use crate::trials::run::Progress;
use crate::trials::tally::Tally;
use crate::trials::unknowns::{Survival, survivals};
use crate::trials::{Settings, run};

/// What the trials say about an outage.
#[derive(Debug, Clone)]
pub struct OutageAnswer {
    /// Survival of the vital loads.
    pub survival: Survival,
    /// Names of the quantities behind [`Survival::shares`].
    pub unknowns: Vec<String>,
    /// Everything counted for the kit as it is.
    pub tally: Tally,
    /// What single changes would do, the most helpful first.
    pub effects: Vec<Effect>,
    /// Whether a person's health hangs on a load: the answer is then judged by the lower end of its interval.
    pub medical: bool,
    /// Whether the run was stopped before its time.
    pub stopped_early: bool,
    /// The settings it was run with.
    pub settings: Settings,
}

/// Runs a scenario's plan and the single changes worth trying through the same trials. `None` where the run was stopped
/// before a single trial was done.
pub fn outage(scenario: &Scenario, plan: &Plan, settings: &Settings, progress: &impl Progress) -> Option<OutageAnswer> {
    let changes = Change::worth_trying(scenario, plan);
    let plans: Vec<Plan> =
        std::iter::once(plan.clone()).chain(changes.iter().map(|change| change.apply(plan))).collect();
    let mut tallies = run(&plans, settings, progress);
    if tallies.first()?.trials == 0 {
        return None;
    }
    let mut survivals = survivals(&plans, &tallies, settings, progress).into_iter();
    let changed = tallies.split_off(1);
    let (tally, survival) = (tallies.pop()?, survivals.next()?);
    let unknowns = plan.unknowns();
    let mut effects: Vec<Effect> = changes
        .into_iter()
        .zip(changed.iter().zip(survivals))
        .map(|(change, (changed, survival))| Effect::of(change, survival, &tally, changed))
        .collect();
    effects.sort_by(|a, b| b.pair.difference.total_cmp(&a.pair.difference));
    let stopped_early = progress.stop() && tally.trials < settings.trials;
    let medical = scenario.loads.iter().any(|load| load.medical);
    Some(OutageAnswer { survival, unknowns, tally, effects, medical, stopped_early, settings: *settings })
}
