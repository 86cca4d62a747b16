//! Which of these variants is better, and is the difference real?

use crate::engine::Plan;
use crate::trials::interval::{Interval, Z_95, paired_difference};
use crate::trials::run::Progress;
use crate::trials::tally::Tally;
use crate::trials::unknowns::{Survival, survivals};
use crate::trials::{Settings, run};

/// Most trials that are worth suggesting.
const MOST_WORTH_ASKING: f64 = 1e8;

/// One variant's part of the answer.
#[derive(Debug, Clone)]
pub struct Contender {
    /// Its name.
    pub name: String,
    /// Its survival.
    pub survival: Survival,
    /// Everything counted for it.
    pub tally: Tally,
    /// Difference to the first contender, on the same random numbers.
    pub against_first: Pair,
}

/// Two variants on the same trials.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// Survival of the second less that of the first, -1 to 1.
    pub difference: f64,
    /// 95 % interval of the difference.
    pub interval: Interval,
    /// Trials in which only the first survived.
    pub only_first: u64,
    /// Trials in which only the second survived.
    pub only_second: u64,
    /// Trials.
    pub trials: u64,
}

impl Pair {
    /// Compares two tallies of the same trials.
    #[must_use]
    pub fn of(first: &Tally, second: &Tally) -> Pair {
        let both = first.survival.iter().zip(&second.survival).map(|(a, b)| (*a, *b));
        Pair::of_each(both, first.trials.min(second.trials))
    }

    /// Of whether each of the two survived, trial by trial.
    ///
    /// * `trials` — how many there are.
    #[must_use]
    pub fn of_each(both: impl Iterator<Item = (bool, bool)>, trials: u64) -> Pair {
        let count = |(first, second): (u64, u64), both: (bool, bool)| match both {
            (true, false) => (first + 1, second),
            (false, true) => (first, second + 1),
            _ => (first, second),
        };
        let (only_first, only_second) = both.fold((0, 0), count);
        Pair::from_counts(only_first, only_second, trials)
    }

    /// Of how many trials only the one survived, and only the other.
    #[must_use]
    pub fn from_counts(only_first: u64, only_second: u64, trials: u64) -> Pair {
        let (difference, interval) = paired_difference(only_first, only_second, trials);
        Pair { difference, interval, only_first, only_second, trials }
    }

    /// Of a plan and itself: no difference, and no doubt about it.
    #[must_use]
    pub fn of_itself(trials: u64) -> Pair {
        Pair { difference: 0.0, interval: Interval { low: 0.0, high: 0.0 }, only_first: 0, only_second: 0, trials }
    }

    /// Whether the trials tell the two apart: the interval lies on one side of 0.
    #[must_use]
    pub fn resolved(&self) -> bool {
        self.interval.low > 0.0 || self.interval.high < 0.0
    }

    /// Whether both survived the same outages.
    #[must_use]
    pub fn same(&self) -> bool {
        self.only_first + self.only_second == 0
    }

    /// About how many trials would tell the two apart if the difference is what it seems; `None` where they are told
    /// apart already, or where no sensible number would do.
    ///
    /// The difference of a pair has variance `(b + c)/n − d²` a trial, and is told from 0 when `1.96 √(variance / N) < |d|`.
    #[must_use]
    pub fn trials_needed(&self) -> Option<u64> {
        if self.resolved() || self.same() {
            return None;
        }
        let n = self.trials as f64;
        let variance = (self.only_first + self.only_second) as f64 / n - self.difference * self.difference;
        let needed = Z_95 * Z_95 * variance / (self.difference * self.difference);
        // Half as much again, so that the answer is likely and not a toss of a coin.
        let needed = 1.5 * needed.max(n);
        (needed.is_finite() && needed < MOST_WORTH_ASKING).then_some(needed.ceil() as u64)
    }
}

/// The answer of `compare`.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// The contenders in the order given, the scenario as it is first.
    pub contenders: Vec<Contender>,
    /// Their places in the list, best first; ties keep the order given.
    pub ranking: Vec<usize>,
    /// For each place in the ranking but the last, the pair of it and the next.
    pub neighbours: Vec<Pair>,
    /// Whether the run was stopped before its time.
    pub stopped_early: bool,
    /// The settings it was run with.
    pub settings: Settings,
}

/// Runs all variants through the same outages, weather and draws for loads. `None` where the run was stopped before a single
/// trial was done, or where there is nothing to compare.
pub fn compare(plans: &[(String, Plan)], settings: &Settings, progress: &dyn Progress) -> Option<Comparison> {
    let bare: Vec<Plan> = plans.iter().map(|(_, plan)| plan.clone()).collect();
    let tallies = run(&bare, settings, progress);
    let first = tallies.first().filter(|tally| tally.trials > 0)?;
    let survivals = survivals(&bare, &tallies, settings, progress);
    let mut contenders: Vec<Contender> = plans
        .iter()
        .zip(survivals)
        .zip(&tallies)
        .map(|(((name, _), survival), tally)| Contender {
            name: name.clone(),
            survival,
            tally: tally.clone(),
            against_first: Pair::of(first, tally),
        })
        .collect();
    if let Some(first) = contenders.first_mut() {
        first.against_first = Pair::of_itself(first.tally.trials);
    }
    let mut ranking: Vec<usize> = (0..contenders.len()).collect();
    ranking.sort_by_key(|&k| std::cmp::Reverse(contenders[k].tally.survived));
    let neighbours = ranking.windows(2).map(|w| Pair::of(&tallies[w[1]], &tallies[w[0]])).collect();
    let stopped_early = progress.stop() && first.trials < settings.trials;
    Some(Comparison { contenders, ranking, neighbours, stopped_early, settings: *settings })
}
