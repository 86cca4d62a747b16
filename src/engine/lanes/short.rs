//! Lanes that do not get everything they ask for, one at a time, by the ordinary step.

use super::Chunk;
use super::account::Account;
use super::demand::StepDemand;
use crate::engine::asking::{Asking, Settled};
use crate::engine::ledger::{Flow, Ledger};
use crate::engine::missed::Missed;
use crate::engine::plan::Plan;
use crate::engine::rig::{Limits, OUTLETS, Rig};
use crate::engine::step::{Balance, Demand, Supply, step};
use crate::engine::trial::LoadOutcome;

/// Where in a chunk a step is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Where {
    /// Lane.
    pub l: usize,
    /// Step of the day.
    pub at: usize,
    /// Step of the outage.
    pub index: u32,
    /// Day of the week.
    pub weekday: usize,
}

/// What single steps add to each lane, what its loads asked for, and which of them its rules hold off.
#[derive(Debug)]
pub(super) struct Fixes<const L: usize> {
    /// Flows of the steps taken singly, less what the sums over whole days count for them.
    pub extra: [Ledger; L],
    pub missed: [Missed; L],
    /// Energy asked for, load by load \[Wh\].
    pub asked_wh: Vec<[f64; L]>,
    off: Vec<[bool; L]>,
    /// Lanes that took a step by themselves or missed anything.
    pub singly: [bool; L],
}

impl<const L: usize> Default for Fixes<L> {
    fn default() -> Fixes<L> {
        Fixes {
            extra: [Ledger::default(); L],
            missed: [Missed::default(); L],
            asked_wh: Vec::new(),
            off: Vec::new(),
            singly: [false; L],
        }
    }
}

impl<const L: usize> Fixes<L> {
    /// Forgets the chunk before, and what became of its loads.
    ///
    /// * `loads` — of each lane in turn, those of the plan.
    pub(super) fn begin(&mut self, plan: &Plan, loads: &mut [LoadOutcome]) {
        for l in 0..L {
            if std::mem::take(&mut self.singly[l]) {
                self.extra[l] = Ledger::default();
                self.missed[l] = Missed::default();
                loads[l * plan.loads.len()..(l + 1) * plan.loads.len()].fill(LoadOutcome::default());
            }
        }
        self.asked_wh.clear();
        self.asked_wh.resize(plan.loads.len(), [0.0; L]);
        self.off.clear();
        self.off.resize(plan.loads.len(), [false; L]);
    }

    /// Adds what the loads ask for on a day that begins at step `midnight`.
    ///
    /// * `whole` — whether all lanes have the whole of it; `factors` — the loads' day factors; `weekday` — the day of the
    ///   week, lane by lane.
    #[inline(always)]
    pub(super) fn ask(
        &mut self,
        plan: &Plan,
        midnight: usize,
        chunk: &Chunk<'_, L>,
        whole: bool,
        (factors, weekday): (&[[f64; L]], &[usize; L]),
        account: &Account,
    ) {
        let (n, step_h) = (plan.season.steps_a_day, plan.season.step_h);
        let (mut from, mut to) = ([0; L], [n; L]);
        if !whole {
            for l in 0..L {
                to[l] = chunk.end[l].clamp(midnight, midnight + n) - midnight;
                from[l] = (chunk.first[l].clamp(midnight, midnight + n) - midnight).min(to[l]);
            }
        }
        let loads = plan.loads.iter().zip(&account.loads);
        for ((asked_wh, factor), (load, days)) in self.asked_wh.iter_mut().zip(factors).zip(loads) {
            if load.asks.is_some() {
                continue;
            }
            if whole && load.week.is_none() {
                let asked = days[0].between(0, n);
                for l in 0..L {
                    asked_wh[l] += asked * factor[l] * step_h;
                }
                continue;
            }
            for l in 0..L {
                let day = if load.week.is_some() { weekday[l] } else { 0 };
                asked_wh[l] += days[day].between(from[l], to[l]) * factor[l] * step_h;
            }
        }
    }

    /// Switches loads off and on by their rules; says which lanes have any load off.
    #[inline(always)]
    pub(super) fn rule(
        &mut self,
        plan: &Plan,
        now: usize,
        chunk: &Chunk<'_, L>,
        (stored_wh, capacity_wh): (&[f64; L], &[f64; L]),
    ) -> [bool; L] {
        let mut charge = [0.0; L];
        for l in 0..L {
            charge[l] = stored_wh[l] / capacity_wh[l];
        }
        let mut any = [false; L];
        for (off, load) in self.off.iter_mut().zip(&plan.loads) {
            if load.off_below == f64::NEG_INFINITY && load.off_from_step == usize::MAX {
                continue;
            }
            for l in 0..L {
                let first = chunk.first[l];
                let by_time = first <= now && load.off_from_step <= now - first.min(now);
                let stays = off[l] & (charge[l] < load.on_above);
                off[l] = (charge[l] < load.off_below) | by_time | stays;
                any[l] |= off[l];
            }
        }
        any
    }

    /// Whether a lane's load is held off by its rule.
    pub(super) fn holds_off(&self, load: usize, l: usize) -> bool {
        self.off[load][l]
    }

    /// What the loads ask for that no rule holds off.
    ///
    /// * `factors` — the loads' day factors; `asking` — the loads that ask by their own state.
    pub(super) fn demand(&self, plan: &Plan, here: Where, factors: &[[f64; L]], asking: &[Asking<L>]) -> Demand {
        let (l, mut demand) = (here.l, Demand::default());
        for (k, load) in plan.loads.iter().enumerate().filter(|(k, _)| !self.off[*k][l]) {
            if let Some(run) = asking.get(k).and_then(Asking::run) {
                demand.plugged[load.class][load.outlet] = true;
                demand.add_running(load, run[l]);
            } else {
                demand.add(load, (here.weekday, here.at), factors[k][l]);
            }
        }
        demand
    }

    /// Takes one lane's step. The energy of loads that ask by their own state is booked once they have taken it.
    ///
    /// * `demand` — what is asked for; `asked` — what the chunk's sums count for this step; `factors` — the loads' day factors.
    pub(super) fn step(
        &mut self,
        plan: &Plan,
        (rig, limits): (&Rig, &Limits),
        (stored_wh, supply): (f64, Supply),
        here: Where,
        (demand, asked): (&Demand, &StepDemand<L>),
        (factors, loads): (&[[f64; L]], &mut [LoadOutcome]),
    ) -> Balance {
        let (l, step_h) = (here.l, plan.season.step_h);
        self.singly[l] = true;
        let extra = &mut self.extra[l];
        let balance = step(rig, limits, stored_wh, supply, demand, step_h, extra);
        for outlet in 0..OUTLETS {
            extra[Flow::SERVED[outlet]] -= asked.delivered_w[outlet][l] * step_h;
            extra[Flow::OUTLET_LOSS[outlet]] -= asked.lost_w[outlet][l] * step_h;
        }
        extra[Flow::OwnDraw] -= rig.own_draw_w * step_h;
        let missed = &mut self.missed[l];
        for (k, (load, out)) in plan.loads.iter().zip(loads).enumerate().filter(|(_, (load, _))| load.asks.is_none()) {
            let asked_wh = load.day(here.weekday).watts[here.at] * factors[k][l] * step_h;
            let off = self.off[k][l];
            let share = if off { 0.0 } else { balance.served[load.class][load.outlet] };
            missed.book(plan, (k, true), &Settled::with_power(asked_wh, share, step_h), (here.index, off), out);
        }
        missed.judge(plan, here.index);
        balance
    }
}
