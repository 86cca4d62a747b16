//! Will the kit ride through?

use super::changes::{Change, Costs, Effect, Together, Tried, free_together};
use super::compare::Pair;
use super::fit::{Overload, Unjudged, overloads, unjudged};
use super::fuel::FuelTaken;
use super::rare::Rarity;
use super::surer::{Surer, surer};
use super::verdict::{Stakes, Verdict};
use crate::engine::{Plan, Unknown};
use crate::scenario::model::{Load, Pattern, Priority, Scenario};
use crate::trials::run::Progress;
use crate::trials::tally::{LoadTally, Tally};
use crate::trials::unknowns::{Survival, survival, survivals};
use crate::trials::{Settings, run};

/// What the trials say about an outage.
#[derive(Debug, Clone)]
pub struct OutageAnswer {
    /// Survival of the vital loads.
    pub survival: Survival,
    /// For each load, in the order of the plan: in how many outages it got all that it asked for.
    pub kept_on: Vec<Survival>,
    /// What would make the range narrower.
    pub surer: Vec<Surer>,
    /// The quantities behind [`Survival::shares`].
    pub unknowns: Vec<Unknown>,
    /// Everything counted for the kit as it is.
    pub tally: Tally,
    /// What single changes would do: the free ones first, then those that cost; of each the most helpful first.
    pub effects: Vec<Effect>,
    /// What the free ones among them that surely help come to when all are made, where they are several.
    pub together: Option<Together>,
    /// Years of the record that the weather is replayed from or fitted to.
    pub record_years: Option<f64>,
    /// The length simulated \[h\], where the fixed one was no whole number of steps.
    pub lengthened_to_h: Option<f64>,
    /// Whether a person's health hangs on a load: the answer is then judged by the lower end of its interval.
    pub medical: bool,
    /// Vital loads that may miss more than they ask for, and are judged by nothing.
    pub unjudged: Option<Unjudged>,
    /// Outlets that switch off when what may run at once does, which the trials do not know.
    pub overloads: Vec<Overload>,
    /// What it takes of a generator's fuel.
    pub fuel: FuelTaken,
    /// The closer look at how rare a failure is, where it was taken ([`super::rare::rarity`]).
    pub rarity: Option<Rarity>,
    /// Whether the run was stopped before its time.
    pub stopped_early: bool,
    /// The settings it was run with.
    pub settings: Settings,
}

/// Runs a scenario's plan and the single changes worth trying through the same trials. `None` where the run was stopped
/// before a single trial was done.
pub fn outage(scenario: &Scenario, plan: &Plan, settings: &Settings, progress: &dyn Progress) -> Option<OutageAnswer> {
    let changes = Change::worth_telling(scenario, plan, settings, progress)?;
    with_changes(scenario, plan, changes, settings, progress)
}

/// The same without any change.
pub fn outage_alone(
    scenario: &Scenario,
    plan: &Plan,
    settings: &Settings,
    progress: &dyn Progress,
) -> Option<OutageAnswer> {
    with_changes(scenario, plan, Vec::new(), settings, progress)
}

fn with_changes(
    scenario: &Scenario,
    plan: &Plan,
    changes: Vec<(Change, Plan)>,
    settings: &Settings,
    progress: &dyn Progress,
) -> Option<OutageAnswer> {
    let Tried { tally, survival, mut effects } = Tried::of(plan, changes, settings, progress)?;
    let unknowns = plan.unknowns();
    effects.sort_by(|a, b| {
        let by_cost = a.change.costs().cmp(&b.change.costs());
        by_cost.then(b.pair.difference.total_cmp(&a.pair.difference))
    });
    let stopped_early = progress.stop() && tally.trials < settings.trials;
    let medical = scenario.medical();
    let overloads = overloads(scenario, plan);
    let fuel = FuelTaken::of(scenario, plan);
    let stakes = Stakes::of(medical, &overloads, fuel);
    // What does harm is no advice.
    let before = Verdict::by_range(&survival, stakes);
    effects.retain(|effect| {
        let helps = effect.pair.interval.low > 0.0 || effect.change.costs() != Costs::GivesUp;
        helps && effect.pair.difference >= 0.0 && Verdict::by_range(&effect.survival, stakes) <= before
    });
    let all = free_together(&effects);
    let together = if all.is_empty() || progress.stop() {
        None
    } else {
        let plans = [Change::apply_all(&all, scenario, plan)];
        let settings = Settings { trials: tally.trials, precision: None, ..*settings };
        let tallies = run(&plans, &settings, progress);
        let whole = tallies.first().filter(|with| with.trials == tally.trials);
        let with = whole.and_then(|with| Some((with, survivals(&plans, &tallies, &settings, progress).pop()?)));
        with.map(|(with, survival)| Together { changes: all, survival, pair: Pair::of(&tally, with) })
    };
    let lengthened_to_h = plan.season.outage.lengthened_to_h(plan.season.step_h);
    let kept_on = kept_on(plan, &tally, &survival);
    let surer = surer(scenario, plan, &survival, stakes);
    Some(OutageAnswer {
        survival,
        kept_on,
        surer,
        unknowns,
        tally,
        effects,
        together,
        record_years: plan.season.years_of_record,
        lengthened_to_h,
        medical,
        unjudged: unjudged(scenario, plan),
        overloads,
        fuel,
        rarity: None,
        stopped_early,
        settings: *settings,
    })
}

/// In how many outages each load got all that it asked for.
fn kept_on(plan: &Plan, tally: &Tally, vital: &Survival) -> Vec<Survival> {
    let width = plan.unknowns().len();
    let rows = tally.off.len().min(tally.survival.len());
    // Of trials that a load tells apart as the vital loads do, or as another does, one regression is enough.
    let mut known: Vec<(u64, Vec<bool>, Survival)> =
        vec![(tally.survived, tally.survival[..rows].to_vec(), vital.clone())];
    let mut of = |(k, load): (usize, &LoadTally)| {
        let kept = tally.trials - load.trials_off;
        let outcomes: Vec<bool> =
            if k < 64 { tally.off[..rows].iter().map(|bits| bits >> k & 1 == 0).collect() } else { Vec::new() };
        if let Some((.., twin)) = known.iter().find(|(n, same, _)| *n == kept && *same == outcomes) {
            return twin.clone();
        }
        // How clearly a load stayed on is not counted: where hardly any or nearly all trials went without, chance alone is left.
        let survival = survival(kept, tally.trials, &vec![f32::NAN; outcomes.len()], &outcomes, &tally.unknowns, width);
        known.push((kept, outcomes, survival.clone()));
        survival
    };
    tally.loads.iter().enumerate().map(&mut of).collect()
}

impl OutageAnswer {
    /// The verdict: on the vital loads, and on a medical load that is not vital where that is worse.
    #[must_use]
    pub fn verdict(&self, scenario: &Scenario) -> Verdict {
        let stakes = Stakes::of(self.medical, &self.overloads, self.fuel);
        let devices = scenario.loads.iter().zip(&self.kept_on);
        let devices = devices.filter(|(load, _)| load.medical).map(|(_, kept)| Verdict::on(kept, stakes));
        devices.fold(Verdict::on(&self.survival, stakes), Verdict::max)
    }

    /// The vital and medical loads by name where none of them is asked for anything in any trial, so that there is nothing to
    /// judge; none where one is, or keeps food.
    #[must_use]
    pub fn never_asked<'s>(&self, scenario: &'s Scenario) -> Vec<&'s str> {
        let judged = |load: &Load| load.medical || load.priority == Priority::Vital;
        let judged: Vec<_> = scenario.loads.iter().zip(&self.tally.loads).filter(|(load, _)| judged(load)).collect();
        let asks = |(load, tally): &(&Load, &LoadTally)| {
            tally.asked_wh > 0.0 || tally.trials_off > 0 || matches!(load.pattern, Pattern::Cooler(_))
        };
        if judged.iter().any(asks) { Vec::new() } else { judged.iter().map(|(load, _)| load.name.as_str()).collect() }
    }

    /// The vital loads by name that the station cannot run, where it runs others that are vital: [`Self::survival`] is of these.
    #[must_use]
    pub fn left_out<'s>(&self, scenario: &'s Scenario) -> Vec<&'s str> {
        let vital = || scenario.loads.iter().filter(|load| load.priority == Priority::Vital);
        let never = |load: &&Load| self.overloads.iter().any(|over| over.never && over.loads.contains(&load.name));
        if vital().all(|load| never(&load)) {
            return Vec::new();
        }
        vital().filter(never).map(|load| load.name.as_str()).collect()
    }

    /// What to judge by: survival itself; where a person's health hangs on a load, the lower end of its range, and that of
    /// the share of outages in which a medical load that is not vital got all it asked for; nothing where vital loads
    /// overload their outlet.
    #[must_use]
    pub fn judged(&self, scenario: &Scenario) -> f64 {
        if self.overloads.iter().any(Overload::stops) {
            return 0.0;
        }
        if !self.medical {
            return self.survival.probability;
        }
        let stayed = |(load, kept): (&Load, &Survival)| {
            (load.medical && load.priority != Priority::Vital).then_some(kept.interval.low)
        };
        let medical = scenario.loads.iter().zip(&self.kept_on).filter_map(stayed);
        medical.fold(self.survival.interval.low, f64::min)
    }
}
