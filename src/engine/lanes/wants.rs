//! What loads ask for, which of them their rules hold off, and what they miss.

use super::Chunk;
use crate::engine::asking::{Asking, Settled};
use crate::engine::missed::Missed;
use crate::engine::plan::Plan;
use crate::engine::step::{Demand, Served};
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

/// What the loads of each lane asked for and missed, and which of them its rules hold off.
#[derive(Debug)]
pub(super) struct Wants<const L: usize> {
    pub missed: [Missed; L],
    /// Energy asked for, load by load \[Wh\].
    pub asked_wh: Vec<[f64; L]>,
    off: Vec<[bool; L]>,
    /// What became of the loads: of each lane in turn, those of the plan.
    pub loads: Vec<LoadOutcome>,
    /// Lanes that missed anything.
    pub touched: [bool; L],
    /// Power of each load \[W × steps\] up to each step of its plain day, or of the days of the week where they differ, and
    /// past the last: one day after the other.
    until: Vec<Vec<f64>>,
}

impl<const L: usize> Default for Wants<L> {
    fn default() -> Wants<L> {
        Wants {
            missed: [Missed::default(); L],
            asked_wh: Vec::new(),
            off: Vec::new(),
            loads: Vec::new(),
            touched: [false; L],
            until: Vec::new(),
        }
    }
}

impl<const L: usize> Wants<L> {
    /// Forgets the plan before.
    pub(super) fn forget(&mut self) {
        self.loads.clear();
        self.missed = [Missed::default(); L];
        self.touched = [false; L];
        self.until.clear();
    }

    /// Forgets the chunk before, and what became of its loads.
    pub(super) fn begin(&mut self, plan: &Plan) {
        let count = plan.loads.len();
        self.loads.resize(L * count, LoadOutcome::default());
        for l in 0..L {
            if std::mem::take(&mut self.touched[l]) {
                self.missed[l] = Missed::default();
                self.loads[l * count..(l + 1) * count].fill(LoadOutcome::default());
            }
        }
        self.asked_wh.clear();
        self.asked_wh.resize(count, [0.0; L]);
        self.off.clear();
        self.off.resize(count, [false; L]);
        if self.until.is_empty() {
            self.until.extend(plan.loads.iter().map(|load| {
                let days = 0..if load.week.is_some() { 7 } else { 1 };
                days.flat_map(|weekday| {
                    let watts = load.day(weekday).watts.iter();
                    [0.0].into_iter().chain(watts.scan(0.0, |sum, watts| {
                        *sum += watts;
                        Some(*sum)
                    }))
                })
                .collect()
            }));
        }
    }

    /// Adds what the loads with a known demand ask for on a day that begins at step `midnight`.
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
    ) {
        let (n, step_h) = (plan.season.steps_a_day, plan.season.step_h);
        let (mut from, mut to) = ([0; L], [n; L]);
        if !whole {
            for l in 0..L {
                to[l] = chunk.end[l].clamp(midnight, midnight + n) - midnight;
                from[l] = (chunk.first[l].clamp(midnight, midnight + n) - midnight).min(to[l]);
            }
        }
        let loads = plan.loads.iter().zip(&self.until);
        for ((asked_wh, factor), (load, until)) in self.asked_wh.iter_mut().zip(factors).zip(loads) {
            if load.asks.is_some() {
                continue;
            }
            if whole && load.week.is_none() {
                let asked = until[n];
                for l in 0..L {
                    asked_wh[l] += asked * factor[l] * step_h;
                }
                continue;
            }
            for l in 0..L {
                let day = if load.week.is_some() { weekday[l] * (n + 1) } else { 0 };
                asked_wh[l] += (until[day + to[l]] - until[day + from[l]]) * factor[l] * step_h;
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

    /// Books what a lane's loads with a known demand miss in a step. Those that ask by their own state come once they have
    /// taken it.
    pub(super) fn miss(&mut self, plan: &Plan, served: &Served, here: Where, factors: &[[f64; L]]) {
        let (l, step_h, count) = (here.l, plan.season.step_h, plan.loads.len());
        self.touched[l] = true;
        let (missed, loads) = (&mut self.missed[l], &mut self.loads[l * count..(l + 1) * count]);
        for (k, (load, out)) in plan.loads.iter().zip(loads).enumerate() {
            let off = self.off[k][l];
            let share = if off { 0.0 } else { served.share[load.class][load.outlet] };
            if load.asks.is_none() && share < 1.0 {
                let asked_wh = load.day(here.weekday).watts[here.at] * factors[k][l] * step_h;
                missed.book(plan, (k, true), &Settled::with_power(asked_wh, share, step_h), (here.index, off), out);
            }
        }
        missed.judge(plan, here.index);
    }
}
