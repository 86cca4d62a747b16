//! Loads that ask by their own state, in lanes.

use super::wants::Wants;
use crate::engine::asking::{Asking, StepOf};
use crate::engine::cells::Flags;
use crate::engine::load::LoadDraws;
use crate::engine::plan::Plan;
use crate::engine::rig::{CLASSES, OUTLETS};
use crate::loads::Turn;
use crate::random::masks::{block, block_mut, either, masked};

/// The states of such loads, one for each load of the plan; none where there are no such loads.
#[derive(Debug)]
pub(super) struct Askers<const L: usize> {
    pub states: Vec<Asking<L>>,
    /// Share of the present step for which each load has power.
    given: Vec<[f64; L]>,
    /// Lanes that go short in the present step, and whether there are any.
    alone: Flags<L>,
    any_alone: bool,
}

impl<const L: usize> Default for Askers<L> {
    fn default() -> Askers<L> {
        Askers { states: Vec::new(), given: Vec::new(), alone: [0; L], any_alone: false }
    }
}

impl<const L: usize> Askers<L> {
    /// Share of the present step for which each load has power.
    #[cfg(test)]
    pub(super) fn given(&self) -> &[[f64; L]] {
        &self.given
    }

    /// As the outages begin.
    ///
    /// * `rng` — of each load that varies, lane by lane; `first` — steps at which the outages begin.
    pub(super) fn begin(&mut self, plan: &Plan, rng: &mut [Vec<LoadDraws>], first: &[usize; L]) {
        let count = if plan.any_asks { plan.loads.len() } else { 0 };
        self.states.resize_with(count, Asking::default);
        self.given.clear();
        self.given.resize(count, [1.0; L]);
        (self.alone, self.any_alone) = ([0; L], false);
        let (n, step_h) = (plan.season.steps_a_day, plan.season.step_h);
        for ((state, load), rng) in self.states.iter_mut().zip(&plan.loads).zip(rng) {
            state.prepare(load);
            if load.asks.is_some() {
                for (l, (rng, first)) in rng.iter_mut().zip(first).enumerate() {
                    state.begin(load, l, rng, first % n, step_h);
                }
            }
        }
    }

    /// Works out what they want of a step.
    ///
    /// * `at` — step of the day; `air_c`, `room_c` — temperature outdoors, and of rooms that cool \[°C\]; `factors` — the loads' day factors.
    #[inline(always)]
    pub(super) fn ask(
        &mut self,
        plan: &Plan,
        at: usize,
        (air_c, room_c): (&[f64; L], &[f64; L]),
        factors: &[[f64; L]],
    ) {
        for ((state, load), day_factor) in self.states.iter_mut().zip(&plan.loads).zip(factors) {
            state.ask(load, &StepOf { at, step_h: plan.season.step_h, air_c, room_c, day_factor });
        }
    }

    /// Tells what lanes of the `at`th block that go short could give them.
    ///
    /// * `fed` — share of the step in which the station is what gives; `takes` — the lanes that count; `share` — of the demand
    ///   that is served, by class and outlet.
    #[inline(always)]
    pub(super) fn give<const B: usize>(
        &mut self,
        plan: &Plan,
        (at, fed): (usize, f64),
        takes: &Flags<B>,
        share: &[[[f64; B]; OUTLETS]; CLASSES],
        wants: &Wants<L>,
    ) {
        if !plan.any_asks {
            return;
        }
        for ((given, load), off) in self.given.iter_mut().zip(&plan.loads).zip(&wants.off) {
            let (given, off) = (block_mut::<_, L, B>(given, at), block::<_, L, B>(off, at));
            let share = &share[load.class][load.outlet];
            for b in 0..B {
                let mut served = masked(share[b], !off[b]);
                if fed < 1.0 {
                    served = 1.0 - fed * (1.0 - served);
                }
                given[b] = either(takes[b], served, given[b]);
            }
        }
        let alone = block_mut::<_, L, B>(&mut self.alone, at);
        for b in 0..B {
            alone[b] |= takes[b];
        }
        self.any_alone = true;
    }

    /// Lets them take the step and books what they missed.
    ///
    /// * `takes` — the lanes whose outage the step is in; `fed` — share of it in which the station feeds the loads, where that
    ///   differs from lane to lane.
    #[inline(always)]
    pub(super) fn settle(
        &mut self,
        plan: &Plan,
        (now, at, first): (usize, usize, &[usize; L]),
        (takes, fed): (&Flags<L>, Option<&[f64; L]>),
        wants: &mut Wants<L>,
    ) {
        let turn = Turn { takes, now, first, step_h: plan.season.step_h };
        let mut tells = false;
        let states = self.states.iter_mut().zip(&self.given).zip(&mut wants.asked_wh);
        for (((state, given), asked_wh), load) in states.zip(&plan.loads) {
            let before = *asked_wh;
            tells |= state.settle(load, given, &turn, asked_wh);
            if plan.on_mains(at) {
                // Fed by the mains, they ask the station for nothing.
                *asked_wh = before;
            } else if let Some(fed) = fed {
                for l in 0..L {
                    asked_wh[l] = before[l] + fed[l] * (asked_wh[l] - before[l]);
                }
            } else if plan.fed(at) < 1.0 {
                for l in 0..L {
                    asked_wh[l] = before[l] + plan.fed(at) * (asked_wh[l] - before[l]);
                }
            }
        }
        if tells || self.any_alone {
            self.tell(plan, &turn, tells, wants);
        }
    }

    /// Books what loads missed in the lanes that have something to tell, and makes ready for the next step.
    ///
    /// * `tells` — whether lanes may have that did not take the step by themselves.
    #[inline(never)]
    fn tell(&mut self, plan: &Plan, turn: &Turn<'_, L>, tells: bool, wants: &mut Wants<L>) {
        for l in (0..L).filter(|&l| turn.takes[l] != 0) {
            if self.alone[l] != 0 || (tells && self.states.iter().any(|state| state.tells(l))) {
                self.book(plan, turn, l, wants);
            }
        }
        for given in &mut self.given {
            *given = [1.0; L];
        }
        (self.alone, self.any_alone) = ([0; L], false);
    }

    /// Books what one lane's loads missed.
    fn book(&self, plan: &Plan, turn: &Turn<'_, L>, l: usize, wants: &mut Wants<L>) {
        let index = (turn.now - turn.first[l]) as u32;
        for place in 0..wants.order.len() {
            let k = wants.order[place];
            let Some(asks) = plan.loads[k].asks.as_deref() else { continue };
            let settled = self.states[k].settled(&plan.loads[k], l, self.given[k][l], turn.step_h);
            wants.missed.book_one(plan, (k, asks.counts_energy()), l, &settled, (wants.by_rule(k)[l], index));
        }
        wants.missed.judge(plan, l, &[u64::from(index)]);
    }
}
