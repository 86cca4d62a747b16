//! Will the kit ride through?

use super::changes::{Change, Effect};
use super::fit::{Overload, overloads};
use super::rare::Rarity;
use crate::engine::{Plan, Unknown};
use crate::scenario::model::{Load, Priority, Scenario};
use crate::trials::interval::{Z_95, wilson};
use crate::trials::run::Progress;
use crate::trials::tally::{LoadTally, Tally};
use crate::trials::unknowns::{Survival, survivals};
use crate::trials::{Settings, run};

/// What the trials say about an outage.
#[derive(Debug, Clone)]
pub struct OutageAnswer {
    /// Survival of the vital loads.
    pub survival: Survival,
    /// The quantities behind [`Survival::shares`].
    pub unknowns: Vec<Unknown>,
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
    /// Outlets that switch off when what may run at once does, which the trials do not know.
    pub overloads: Vec<Overload>,
    /// The closer look at how rare a failure is, where it was taken ([`super::rare::rarity`]).
    pub rarity: Option<Rarity>,
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
    let lengthened_to_h = plan.season.outage.lengthened_to_h(plan.season.step_h);
    Some(OutageAnswer {
        survival,
        unknowns,
        tally,
        effects,
        record_years: plan.season.years_of_record,
        lengthened_to_h,
        medical,
        overloads: overloads(scenario, plan),
        rarity: None,
        stopped_early,
        settings: *settings,
    })
}

impl OutageAnswer {
    /// What to judge by: survival itself; where a person's health hangs on a load, the lower end of its range, and that of
    /// the share of outages in which a medical load that is not vital got all it asked for; nothing where vital loads
    /// overload their outlet.
    #[must_use]
    pub fn judged(&self, scenario: &Scenario) -> f64 {
        if self.overloads.iter().any(|overload| overload.vital) {
            return 0.0;
        }
        if !self.medical {
            return self.survival.probability;
        }
        let stayed = |(load, tally): (&Load, &LoadTally)| {
            (load.medical && load.priority != Priority::Vital)
                .then(|| 1.0 - wilson(tally.trials_off, self.tally.trials, Z_95).high)
        };
        let medical = scenario.loads.iter().zip(&self.tally.loads).filter_map(stayed);
        medical.fold(self.survival.interval.low, f64::min)
    }
}
