//! What goes missing in a step, and with whom.

use super::asking::Settled;
use super::ledger::Ledger;
use super::load::LoadPlan;
use super::plan::Plan;
use super::trial::{LoadOutcome, Outcome};

/// Sums of what was missed, and the first failure.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Missed {
    /// By all loads \[Wh\].
    all_wh: f64,
    /// By vital loads \[Wh\].
    vital_wh: f64,
    /// Of that, what the allowance is for: not the energy of coolers whose food is judged \[Wh\].
    counted_wh: f64,
    /// In the present step: the most that a vital load missed \[Wh\], and which; of equals the first by the address of its
    /// luck, so that the order of the scenario does not matter.
    worst: (f64, u32),
    /// First step in which the allowance was used up or food was lost, and the load.
    pub failure: Option<(u32, u32)>,
}

impl Missed {
    /// Takes in what a load missed.
    ///
    /// * `counts` — whether it counts against the allowance.
    #[inline(always)]
    fn take(&mut self, plan: &Plan, k: usize, load: &LoadPlan, lost_wh: f64, counts: bool) {
        self.all_wh += lost_wh;
        if load.class == 0 {
            self.vital_wh += lost_wh;
            if counts {
                self.counted_wh += lost_wh;
                let (most_wh, with) = self.worst;
                if lost_wh > most_wh || (lost_wh == most_wh && load.stream < plan.loads[with as usize].stream) {
                    self.worst = (lost_wh, k as u32);
                }
            }
        }
    }

    /// Takes in what a step did to a load.
    ///
    /// * `counts` — whether energy counts against the allowance; `off` — whether its rule held it off.
    #[inline(always)]
    pub fn book(
        &mut self,
        plan: &Plan,
        (k, counts): (usize, bool),
        settled: &Settled,
        (index, off): (u32, bool),
        out: &mut LoadOutcome,
    ) {
        let load = &plan.loads[k];
        if settled.missed_wh > 0.0 {
            out.missed_wh += settled.missed_wh;
            out.off_h += settled.off_h;
            out.first_off_step.get_or_insert(index);
            if off {
                out.by_rule_wh += settled.missed_wh;
            }
        }
        self.take(plan, k, load, settled.missed_wh, counts);
        // Of food lost in one step, that of the first by the address of its luck.
        let before = |(at, other): (u32, u32)| at < index || plan.loads[other as usize].stream < load.stream;
        if load.class == 0 && settled.food_lost && !self.failure.is_some_and(before) {
            self.failure = Some((index, k as u32));
        }
    }

    /// Judges the step. Rounding in the shares is not a failure: a billionth of a watt-hour is forgiven.
    pub fn judge(&mut self, plan: &Plan, index: u32) {
        if self.failure.is_none() && self.counted_wh > plan.allow_unmet_wh + 1e-9 {
            self.failure = Some((index, self.worst.1));
        }
        self.worst = (0.0, 0);
    }

    /// What the trial came to.
    ///
    /// * `lowest_wh` — least energy in the cells after any step \[Wh\].
    pub fn outcome(&self, lowest_wh: f64, capacity_wh: f64, ledger: Ledger) -> Outcome {
        let survived = self.failure.is_none();
        Outcome {
            survived,
            failure: self.failure,
            vital_missed_wh: self.vital_wh,
            missed_wh: self.all_wh,
            lowest_charge: lowest_wh / capacity_wh,
            // Food can be lost without any energy missed.
            margin: if survived { lowest_wh } else { -self.vital_wh.max(1e-3) } / capacity_wh,
            ledger,
        }
    }
}
