//! What became of the food in coolers.

use super::{bump, count_quantile, merge_counts};
use crate::loads::cooler::Food;

/// Food of one part of a cooler over trials.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FoodTally {
    /// Trials by the warmest it got, in half kelvins from [`COLDEST_C`].
    warmest: Vec<u32>,
    /// Trials by the step in which it was lost: by the thermometer, and by the hours without power.
    pub lost: [Vec<u32>; 2],
}

/// Lowest temperature told apart in [`FoodTally::warmest_c`] \[°C\].
const COLDEST_C: f64 = -60.0;

impl FoodTally {
    pub(super) fn add(&mut self, food: &Food) {
        bump(&mut self.warmest, ((food.warmest_c - COLDEST_C).clamp(0.0, 200.0) * 2.0).ceil() as usize);
        for (sum, step) in self.lost.iter_mut().zip(food.lost_step) {
            if let Some(step) = step {
                bump(sum, step as usize);
            }
        }
    }

    pub(super) fn merge(&mut self, next: &FoodTally) {
        merge_counts(&mut self.warmest, &next.warmest);
        for (sum, counts) in self.lost.iter_mut().zip(&next.lost) {
            merge_counts(sum, counts);
        }
    }

    /// Temperature that a share `p` of the trials never exceeded \[°C\], to the next half kelvin above.
    #[must_use]
    pub fn warmest_c(&self, p: f64) -> f64 {
        count_quantile(&self.warmest, p).map_or(f64::NAN, |at| COLDEST_C + 0.5 * at as f64)
    }

    /// Trials in which it was lost, by the thermometer (0) or by the hours without power (1).
    #[must_use]
    pub fn trials_lost(&self, clock: usize) -> u64 {
        self.lost[clock].iter().map(|&n| u64::from(n)).sum()
    }
}
