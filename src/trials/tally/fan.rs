//! How charged batteries were, step by step of the outage.

use super::count_quantile;

/// Levels of charge told apart in the fan: 0 to 100 % in steps of 1 %.
pub const CHARGE_LEVELS: usize = 101;

/// Places for levels of charge, a power of two.
const PLACES: usize = CHARGE_LEVELS.next_power_of_two();

/// How often each charge was seen after each step of the outage.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ChargeFan {
    /// Counts by step and level.
    counts: Vec<[u32; PLACES]>,
}

impl ChargeFan {
    /// Counts charges, in hundredths, after the steps from `first` on.
    #[inline(always)]
    pub fn add(&mut self, first: usize, hundredths: impl ExactSizeIterator<Item = u32>) {
        let end = first + hundredths.len();
        if self.counts.len() < end {
            self.counts.resize(end, [0; PLACES]);
        }
        for (counts, level) in self.counts[first..end].iter_mut().zip(hundredths) {
            counts[level as usize % PLACES] += 1;
        }
    }

    pub(super) fn merge(&mut self, other: &ChargeFan) {
        if self.counts.len() < other.counts.len() {
            self.counts.resize(other.counts.len(), [0; PLACES]);
        }
        for (sums, counts) in self.counts.iter_mut().zip(&other.counts) {
            for (sum, count) in sums.iter_mut().zip(counts) {
                *sum += count;
            }
        }
    }

    /// Number of steps seen.
    #[must_use]
    pub fn steps(&self) -> usize {
        self.counts.len()
    }

    /// Trials still running after a step.
    #[must_use]
    pub fn trials_at(&self, step: usize) -> u64 {
        self.counts.get(step).map_or(0, |counts| counts.iter().map(|&c| u64::from(c)).sum())
    }

    /// Steps that at least a twentieth of the trials reached: where outages vary in length, charts end there.
    #[must_use]
    pub fn steps_with_a_twentieth(&self) -> usize {
        let least = (self.trials_at(0) / 20).max(1);
        (0..self.steps()).take_while(|&step| self.trials_at(step) >= least).count()
    }

    /// Charge (0 to 1, to the nearest hundredth) that a share `p` of the trials still running stayed at or below after
    /// a step; `None` where no trial ran that long.
    #[must_use]
    pub fn quantile(&self, step: usize, p: f64) -> Option<f64> {
        count_quantile(self.counts.get(step)?, p).map(|level| level as f64 / 100.0)
    }
}
