//! Will the kit ride through?

use super::changes::{Change, Effect};
use crate::engine::Plan;
use crate::scenario::model::Scenario;
use crate::trials::run::Progress;
use crate::trials::tally::Tally;
use crate::trials::unknowns::{Survival, few_years, survival};
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
    /// Years of the record that the weather is replayed from or fitted to.
    pub record_years: Option<f64>,
    /// The length simulated \[h\], where the fixed one was no whole number of steps.
    pub lengthened_to_h: Option<f64>,
    /// Whether a person's health hangs on a load: the answer is then judged by the lower end of its interval.
    pub medical: bool,
    /// Whether the run was stopped before its time.
    pub stopped_early: bool,
    /// The settings it was run with.
    pub settings: Settings,
}

/// Survival of a plan by its trials, with all that makes it uncertain.
pub(super) fn survival_of(plan: &Plan, tally: &Tally) -> Survival {
    let width = plan.unknowns().len();
    let mut answer = survival(tally.survived, tally.trials, &tally.margin, &tally.survival, &tally.unknowns, width);
    if let Some(years) = plan.season.years_of_record {
        few_years(&mut answer, years);
    }
    answer
}

/// Runs a scenario's plan and the single changes worth trying through the same trials. `None` where the run was stopped
/// before a single trial was done.
pub fn outage(scenario: &Scenario, plan: &Plan, settings: &Settings, progress: &impl Progress) -> Option<OutageAnswer> {
    let changes = Change::worth_trying(scenario, plan);
    let plans: Vec<Plan> =
        std::iter::once(plan.clone()).chain(changes.iter().map(|change| change.apply(plan))).collect();
    let mut tallies = run(&plans, settings, progress);
    let changed = tallies.split_off(1);
    let tally = tallies.pop()?;
    if tally.trials == 0 {
        return None;
    }
    let unknowns = plan.unknowns();
    let survival = survival_of(plan, &tally);
    let mut effects: Vec<Effect> =
        changes.into_iter().zip(&changed).map(|(change, changed)| Effect::of(change, &tally, changed)).collect();
    effects.sort_by(|a, b| b.pair.difference.total_cmp(&a.pair.difference));
    let stopped_early = progress.stop() && tally.trials < settings.trials;
    let medical = scenario.loads.iter().any(|load| load.medical);
    let lengthened_to_h = plan.season.outage.lengthened_to_h(plan.season.step_h);
    Some(OutageAnswer {
        survival,
        unknowns,
        tally,
        effects,
        record_years: plan.season.years_of_record,
        lengthened_to_h,
        medical,
        stopped_early,
        settings: *settings,
    })
}
