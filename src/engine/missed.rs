//! What goes missing in a step, and with whom.

use super::asking::{Asking, Settled, StepOf};
use super::ledger::Ledger;
use super::load::LoadPlan;
use super::plan::Plan;
use super::step::{Balance, Demand};
use super::trial::{LoadOutcome, Outcome};
use crate::loads::Turn;

/// Per-load state within a trial.
#[derive(Debug, Clone, Default)]
pub(super) struct LoadState {
    /// Factor on its nominal watts on each day of the history.
    pub day_factor: Vec<f64>,
    /// Whether its rule holds it off.
    pub switched_off: bool,
}

/// Where in the outage a step is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moment {
    /// Step of the outage, from 0.
    pub index: u32,
    /// Day of the history.
    pub day: usize,
    /// Day of the week, 0 for Monday.
    pub weekday: usize,
    /// Step of the day.
    pub at: usize,
    /// Length of the step \[h\].
    pub step_h: f64,
}

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

fn share(load: &LoadPlan, state: &LoadState, balance: &Balance) -> f64 {
    if state.switched_off { 0.0 } else { balance.served[load.class][load.outlet] }
}

/// Books what loads with a known demand missed in a step that did not serve everything.
#[inline]
pub(super) fn known(
    plan: &Plan,
    states: &[LoadState],
    balance: &Balance,
    now: Moment,
    loads: &mut [LoadOutcome],
    missed: &mut Missed,
) {
    for (k, ((load, state), out)) in plan.loads.iter().zip(states).zip(loads).enumerate() {
        let share = share(load, state, balance);
        if share >= 1.0 || load.asks.is_some() {
            continue;
        }
        let asked_wh = load.day(now.weekday).watts[now.at] * state.day_factor[now.day] * now.step_h;
        let settled = Settled::with_power(asked_wh, share, now.step_h);
        missed.book(plan, (k, true), &settled, (now.index, state.switched_off), out);
    }
    missed.judge(plan, now.index);
}

/// Adds to a step's demand what the loads ask for that ask by their own state.
#[inline(never)]
pub(super) fn ask(
    plan: &Plan,
    states: &[LoadState],
    asking: &mut [Asking<1>],
    now: Moment,
    air_c: f64,
    demand: &mut Demand,
) {
    for ((asking, state), load) in asking.iter_mut().zip(states).zip(&plan.loads) {
        let day_factor = [state.day_factor[now.day]];
        asking.ask(load, &StepOf { at: now.at, step_h: now.step_h, air_c: &[air_c], day_factor: &day_factor });
        if let Some([run]) = asking.run()
            && !state.switched_off
        {
            demand.add_running(load, *run);
        }
    }
}

/// Lets those loads take the step and books what they missed.
#[inline(never)]
pub(super) fn settle(
    plan: &Plan,
    states: &[LoadState],
    asking: &mut [Asking<1>],
    balance: &Balance,
    now: Moment,
    loads: &mut [LoadOutcome],
    missed: &mut Missed,
) {
    let turn = Turn { takes: &[u64::MAX], now: now.index as usize, first: &[0], step_h: now.step_h };
    for (k, load) in plan.loads.iter().enumerate() {
        let Some(asks) = load.asks.as_deref() else { continue };
        let state = &states[k];
        let given = share(load, state, balance);
        let mut asked_wh = [loads[k].asked_wh];
        asking[k].settle(load, &[given], &turn, &mut asked_wh);
        loads[k].asked_wh = asked_wh[0];
        let settled = asking[k].settled(load, 0, given, now.step_h);
        missed.book(plan, (k, asks.counts_energy()), &settled, (now.index, state.switched_off), &mut loads[k]);
    }
    missed.judge(plan, now.index);
}
