//! What many trials add up to. Counts are whole numbers and sums are folded in the order of the trials, so that the
//! number of threads cannot leak into the last digit.

mod fan;
mod food;

pub use fan::{CHARGE_LEVELS, ChargeFan};
pub use food::FoodTally;

use super::dark::Dark;
use crate::engine::{Ledger, LoadOutcome, Outcome};
use crate::loads::cooler::{FREEZER_OVER_FRIDGE, FRIDGE_HOURS, PARTS};
use crate::statistics::quantile;

/// Sums over trials in which cuts come back every day, fuel ends, or a generator feeds loads.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CutTally {
    /// Days, those counted whole that are begun.
    pub days: f64,
    /// Days on which a vital load missed anything, and the squares of a trial's.
    pub days_missed: f64,
    /// See [`CutTally::days_missed`].
    pub days_missed_squared: f64,
    /// What vital loads missed in each trial's worst week \[Wh\].
    pub worst_week_wh: f64,
    /// What generators burnt, where their fuel can end \[L\].
    pub burnt_l: f64,
    /// What they gave straight to AC loads \[Wh\].
    pub direct_wh: f64,
}

impl CutTally {
    fn add(&mut self, outcome: &Outcome, hours: f64) {
        let days = f64::from(outcome.days_missed);
        self.merge(&CutTally {
            days: (hours / 24.0 - 1e-9).ceil(),
            days_missed: days,
            days_missed_squared: days * days,
            worst_week_wh: outcome.worst_week_wh,
            burnt_l: outcome.burnt_l,
            direct_wh: outcome.direct_wh,
        });
    }

    fn merge(&mut self, next: &CutTally) {
        self.days += next.days;
        self.days_missed += next.days_missed;
        self.days_missed_squared += next.days_missed_squared;
        self.worst_week_wh += next.worst_week_wh;
        self.burnt_l += next.burnt_l;
        self.direct_wh += next.direct_wh;
    }
}

/// Hours without power that food in a closed fridge, a half-full and a full freezer keeps for \[h\] (USDA FSIS).
pub const KEEPS_H: [f64; 3] =
    [FRIDGE_HOURS, 0.5 * FREEZER_OVER_FRIDGE * FRIDGE_HOURS, FREEZER_OVER_FRIDGE * FRIDGE_HOURS];

/// Sums over trials for one load.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LoadTally {
    /// Energy asked for \[Wh\].
    pub asked_wh: f64,
    /// Energy missed \[Wh\].
    pub unserved_wh: f64,
    /// Of that, by its own rule \[Wh\].
    pub by_rule_wh: f64,
    /// Hours without \[h\].
    pub off_h: f64,
    /// Trials in which it went without at some time, for whatever reason.
    pub trials_off: u64,
    /// Trials in which it went without for longer than each of [`KEEPS_H`], all its gaps added up.
    pub off_over: [u64; 3],
    /// Trials in which it was the vital load that used up the allowance.
    pub failed_first: u64,
    /// Number of trials in which it first went without in each step of the outage.
    pub first_off: Vec<u32>,
    /// For a cooler: what became of the food in its fridge and freezer.
    pub food: [Option<FoodTally>; PARTS],
}

impl LoadTally {
    /// Step in which it first went without, a quarter, a half and three quarters of the trials in which it did; `None` where it
    /// never did.
    #[must_use]
    pub fn first_off_quarters(&self) -> Option<[usize; 3]> {
        let at = |p: f64| count_quantile(&self.first_off, p);
        Some([at(0.25)?, at(0.5)?, at(0.75)?])
    }
}

/// When an outage happens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clock {
    /// Its first step, counted from the midnight before.
    pub first: usize,
    /// Its length in steps.
    pub steps: usize,
    /// Length of a step \[h\].
    pub step_h: f64,
    /// Steps in a day.
    pub steps_a_day: usize,
}

impl Clock {
    /// Hour of the day (0 to 23) of a step of the outage.
    fn hour(&self, step: usize) -> usize {
        (((self.first + step) % self.steps_a_day) as f64 * self.step_h) as usize % 24
    }
}

/// Sums over trials for one plan.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tally {
    /// The trials in the order in which they were added, until they are put in order.
    pub order: Vec<u64>,
    /// Trials.
    pub trials: u64,
    /// Trials that survived.
    pub survived: u64,
    /// Sum of the accounts.
    pub ledger: Ledger,
    /// Sum of outage lengths \[h\].
    pub hours: f64,
    /// Missed energy of each trial \[Wh\], in order, for the first [`MOST_MISSED`] trials.
    pub unserved_wh: Vec<f32>,
    /// Missed energy of vital loads, summed \[Wh\].
    pub vital_missed_wh: f64,
    /// Where cuts come back every day: what they missed day by day.
    pub cuts: CutTally,
    /// Missed energy, summed \[Wh\].
    pub missed_sum_wh: f64,
    /// Lowest charge of each trial, counted in hundredths.
    pub lowest_charge: Vec<u32>,
    /// Charge by step.
    pub fan: ChargeFan,
    /// When loads are dark, by the clock.
    pub dark: Dark,
    /// Load by load.
    pub loads: Vec<LoadTally>,
    /// Failures by step of the outage.
    pub failure_step: Vec<u32>,
    /// Failures by hour of the day, 0 to 23.
    pub failure_hour: [u32; 24],
    /// Survival of each trial, in order.
    pub survival: Vec<bool>,
    /// How clearly each trial survived, in order: its lowest charge where it did (0 to 1), the vital energy missed as a
    /// share of the battery, negative, where it did not; for the first [`MOST_UNKNOWN_ROWS`] trials.
    pub margin: Vec<f32>,
    /// The step of the outage in which each trial failed, in order, [`NEVER`] where it did not; for the first
    /// [`MOST_UNKNOWN_ROWS`] trials.
    pub failed_at: Vec<u32>,
    /// Which loads went without at some time, a bit each for the first 64 loads, in order; for the first
    /// [`MOST_UNKNOWN_ROWS`] trials.
    pub off: Vec<u64>,
    /// The numbers behind what is not known, trial by trial, for the first [`MOST_UNKNOWN_ROWS`] trials.
    pub unknowns: Vec<f32>,
}

/// Trials for which the numbers behind the unknown quantities are kept, and how clearly each survived.
pub const MOST_UNKNOWN_ROWS: u64 = 20_000;
/// What stands for the step of a failure in a trial that did not fail.
pub const NEVER: u32 = u32::MAX;
/// Trials whose missed energy is kept one by one.
pub const MOST_MISSED: u64 = 1_000_000;

pub(super) fn bump(counts: &mut Vec<u32>, at: usize) {
    if counts.len() <= at {
        counts.resize(at + 1, 0);
    }
    counts[at] += 1;
}

pub(super) fn merge_counts(sum: &mut Vec<u32>, other: &[u32]) {
    if sum.len() < other.len() {
        sum.resize(other.len(), 0);
    }
    for (sum, count) in sum.iter_mut().zip(other) {
        *sum += count;
    }
}

impl Tally {
    /// What a stretch of trials comes to: parts hold its trials in any order, and are added up in the order given.
    ///
    /// * `unknowns` — how many numbers stand behind what is not known.
    #[must_use]
    pub fn gather(parts: impl Iterator<Item = Tally>, trials: std::ops::Range<u64>, unknowns: usize) -> Tally {
        let n = (trials.end - trials.start) as usize;
        let up_to = |most: u64| trials.end.min(most).saturating_sub(trials.start) as usize;
        let rows = up_to(MOST_UNKNOWN_ROWS);
        let mut sum = Tally::default();
        let (mut survival, mut margin, mut unserved_wh) =
            (vec![false; n], vec![0.0; rows], vec![0.0; up_to(MOST_MISSED)]);
        let mut failed_at = vec![NEVER; rows];
        let mut off = vec![0; rows];
        let mut numbers = vec![0.0; rows * unknowns];
        for mut part in parts {
            let mut row = part.unknowns.chunks_exact(unknowns.max(1));
            for (k, trial) in std::mem::take(&mut part.order).into_iter().enumerate() {
                let at = (trial - trials.start) as usize;
                survival[at] = part.survival[k];
                for (places, of_part) in [(&mut margin, &part.margin), (&mut unserved_wh, &part.unserved_wh)] {
                    if let Some(place) = places.get_mut(at) {
                        *place = of_part[k];
                    }
                }
                if let (Some(failed), Some(off)) = (failed_at.get_mut(at), off.get_mut(at)) {
                    (*failed, *off) = (part.failed_at[k], part.off[k]);
                }
                if let Some(place) = numbers.get_mut(at * unknowns..(at + 1) * unknowns).filter(|_| unknowns > 0) {
                    place.copy_from_slice(row.next().unwrap_or(&[]));
                }
            }
            sum.merge(&part);
        }
        Tally { survival, margin, failed_at, off, unserved_wh, unknowns: numbers, ..sum }
    }

    /// Adds one trial.
    pub fn add(&mut self, trial: u64, outcome: &Outcome, clock: Clock, loads: &[LoadOutcome], unknowns: &[f64]) {
        self.trials += 1;
        self.survived += u64::from(outcome.survived);
        self.order.push(trial);
        self.survival.push(outcome.survived);
        self.margin.push(outcome.margin as f32);
        self.failed_at.push(outcome.failure.map_or(NEVER, |(step, _)| step));
        let gaps = loads.iter().take(64).enumerate().filter(|(_, load)| load.first_off_step.is_some());
        self.off.push(gaps.fold(0, |bits, (k, _)| bits | 1 << k));
        self.ledger.add(&outcome.ledger);
        self.hours += clock.steps as f64 * clock.step_h;
        self.dark.outage(clock.first, clock.steps);
        self.unserved_wh.push(outcome.unserved_wh as f32);
        self.missed_sum_wh += outcome.unserved_wh;
        self.vital_missed_wh += outcome.vital_missed_wh;
        self.cuts.add(outcome, clock.steps as f64 * clock.step_h);
        bump(&mut self.lowest_charge, (outcome.lowest_charge * 100.0 + 0.5).clamp(0.0, 100.0) as usize);
        if trial < MOST_UNKNOWN_ROWS {
            self.unknowns.extend(unknowns.iter().map(|&z| z as f32));
        }
        self.loads.resize_with(loads.len(), LoadTally::default);
        for (sum, load) in self.loads.iter_mut().zip(loads) {
            sum.asked_wh += load.asked_wh;
            sum.unserved_wh += load.unserved_wh;
            sum.by_rule_wh += load.by_rule_wh;
            sum.off_h += load.off_h;
            for (sum, hours) in sum.off_over.iter_mut().zip(KEEPS_H) {
                *sum += u64::from(load.off_h > hours + 1e-9);
            }
            for (sum, food) in sum.food.iter_mut().zip(&load.food) {
                if let Some(food) = food {
                    sum.get_or_insert_default().add(food);
                }
            }
            if let Some(step) = load.first_off_step {
                sum.trials_off += 1;
                bump(&mut sum.first_off, step as usize);
            }
        }
        if let Some((step, load)) = outcome.failure {
            bump(&mut self.failure_step, step as usize);
            self.failure_hour[clock.hour(step as usize)] += 1;
            if let Some(load) = self.loads.get_mut(load as usize) {
                load.failed_first += 1;
            }
        }
    }

    /// Adds the trials that follow this tally's.
    pub fn merge(&mut self, next: &Tally) {
        self.trials += next.trials;
        self.survived += next.survived;
        self.survival.extend_from_slice(&next.survival);
        self.margin.extend_from_slice(&next.margin);
        self.off.extend_from_slice(&next.off);
        self.ledger.add(&next.ledger);
        self.hours += next.hours;
        self.unserved_wh.extend_from_slice(&next.unserved_wh);
        self.missed_sum_wh += next.missed_sum_wh;
        self.vital_missed_wh += next.vital_missed_wh;
        self.cuts.merge(&next.cuts);
        merge_counts(&mut self.lowest_charge, &next.lowest_charge);
        self.fan.merge(&next.fan);
        self.dark.merge(&next.dark);
        self.failed_at.extend_from_slice(&next.failed_at);
        self.unknowns.extend_from_slice(&next.unknowns);
        merge_counts(&mut self.failure_step, &next.failure_step);
        for (sum, count) in self.failure_hour.iter_mut().zip(next.failure_hour) {
            *sum += count;
        }
        self.loads.resize_with(next.loads.len().max(self.loads.len()), LoadTally::default);
        for (sum, load) in self.loads.iter_mut().zip(&next.loads) {
            sum.asked_wh += load.asked_wh;
            sum.unserved_wh += load.unserved_wh;
            sum.by_rule_wh += load.by_rule_wh;
            sum.off_h += load.off_h;
            sum.trials_off += load.trials_off;
            for (sum, count) in sum.off_over.iter_mut().zip(load.off_over) {
                *sum += count;
            }
            sum.failed_first += load.failed_first;
            merge_counts(&mut sum.first_off, &load.first_off);
            for (sum, food) in sum.food.iter_mut().zip(&load.food) {
                if let Some(food) = food {
                    sum.get_or_insert_default().merge(food);
                }
            }
        }
    }

    /// Share of trials that survived, 0 to 1; `NaN` with no trial.
    #[must_use]
    pub fn survival_share(&self) -> f64 {
        self.survived as f64 / self.trials as f64
    }

    /// The load that fails first in most failures, by its place among the plan's, of equals the first; `None` where no load
    /// ever did.
    #[must_use]
    pub fn fails_first(&self) -> Option<(usize, &LoadTally)> {
        let loads = self.loads.iter().enumerate();
        loads
            .max_by(|(i, a), (j, b)| a.failed_first.cmp(&b.failed_first).then(j.cmp(i)))
            .filter(|(_, load)| load.failed_first > 0)
    }

    /// Missed energy that a share `p` of the first [`MOST_MISSED`] trials stayed at or below \[Wh\].
    #[must_use]
    pub fn unserved_quantile_wh(&self, p: f64) -> f64 {
        let mut sorted = self.unserved_wh.clone();
        sorted.sort_by(f32::total_cmp);
        quantile(&sorted, p)
    }
}

/// Index that a share `p` of the counted stays at or below, in a list of counts.
#[must_use]
pub fn count_quantile(counts: &[u32], p: f64) -> Option<usize> {
    let total: u64 = counts.iter().map(|&c| u64::from(c)).sum();
    if total == 0 {
        return None;
    }
    let wanted = (p * total as f64).ceil().max(1.0) as u64;
    let mut seen = 0;
    counts.iter().position(|&count| {
        seen += u64::from(count);
        seen >= wanted
    })
}

#[cfg(test)]
mod tests;
