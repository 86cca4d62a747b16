//! What a chunk's trials came to: sums of what was asked for, and the account at the end.

use super::course::Course;
use super::demand::StepDemand;
use super::held::HeldOff;
use super::{Chunk, Ended, Sink};
use crate::engine::cells::{Flags, FromBus};
use crate::engine::ledger::{Flow, Ledger};
use crate::engine::outlets::Served;
use crate::engine::plan::Plan;
use crate::engine::rig::{OUTLETS, Rig};
use crate::engine::trial::LoadOutcome;
use crate::loads::cooler::PARTS;
use crate::random::masks::{block, block_mut, masked};
use crate::random::polynomials::less;
use crate::random::real::Real;
use crate::weather::Leaned;

/// What the bus gave in each lane \[W × steps\].
#[derive(Debug)]
pub(super) struct Given<const L: usize> {
    pub delivered: [[f64; L]; OUTLETS],
    pub lost: [[f64; L]; OUTLETS],
    /// Drawn by the electronics, less what they draw where everything is served.
    own: [f64; L],
}

impl<const L: usize> Default for Given<L> {
    fn default() -> Given<L> {
        let zero = [[0.0; L]; OUTLETS];
        Given { delivered: zero, lost: zero, own: [0.0; L] }
    }
}

impl<const L: usize> Given<L> {
    /// Puts what the `at`th block of lanes got in a step in the place of what their sums count for it.
    ///
    /// * `takes` — the lanes that count; `own_w` — what the electronics draw where everything is served.
    #[inline(always)]
    pub(super) fn correct<const B: usize>(
        &mut self,
        at: usize,
        takes: &Flags<B>,
        got: &Served<B>,
        (counted, own_w): (&StepDemand<L>, &[f64; L]),
    ) {
        for outlet in 0..OUTLETS {
            put(takes, &got.delivered_w[outlet], &counted.delivered_w[outlet], &mut self.delivered[outlet], at);
            put(takes, &got.lost_w[outlet], &counted.lost_w[outlet], &mut self.lost[outlet], at);
        }
        put(takes, &got.own_w, own_w, &mut self.own, at);
    }

    /// The same where rules hold loads off and all of the rest is served.
    #[inline(always)]
    pub(super) fn correct_held(&mut self, takes: &Flags<L>, got: &HeldOff<L>, counted: &StepDemand<L>) {
        for outlet in 0..OUTLETS {
            put(takes, &got.delivered_w[outlet], &counted.delivered_w[outlet], &mut self.delivered[outlet], 0);
            put(takes, &got.lost_w[outlet], &counted.lost_w[outlet], &mut self.lost[outlet], 0);
        }
    }

    /// What a lane got in so many steps.
    fn of(&self, l: usize, rig: &Rig, steps: f64) -> FromBus {
        FromBus {
            delivered_w: std::array::from_fn(|outlet| self.delivered[outlet][l]),
            lost_w: std::array::from_fn(|outlet| self.lost[outlet][l]),
            own_w: rig.own_draw_w * steps + self.own[l],
        }
    }
}

impl<R: Real, const L: usize> Course<R, L> {
    /// Adds what is asked for, delivered and lost on a day to the lanes' sums; where all days are alike, with the first of them
    /// what all whole ones come to.
    #[inline(always)]
    pub(super) fn sum_up(&mut self, plan: &Plan, chunk: &Chunk<'_, L>, midnight: usize) {
        let n = plan.season.steps_a_day;
        // Whole days are summed by their totals, days cut by an end of the outage by the steps that are left: lane by lane, so
        // that sums do not depend on the neighbours.
        let days = (&self.weekday, &self.factors[..]);
        if self.varies || midnight == 0 {
            let mut times = [0.0; L];
            for l in 0..L {
                times[l] = if !self.varies {
                    (chunk.end[l] / n).saturating_sub(chunk.first[l].div_ceil(n)) as f64
                } else if chunk.first[l] <= midnight && midnight + n <= chunk.end[l] {
                    1.0
                } else {
                    0.0
                };
            }
            for outlet in (0..OUTLETS).filter(|&outlet| self.demand.on[outlet] && !self.demand.asked[outlet]) {
                add(&times, &self.demand.delivered[outlet], &mut self.given.delivered[outlet]);
                add(&times, &self.demand.lost[outlet], &mut self.given.lost[outlet]);
            }
            self.wants.ask(plan, &times, days);
        }
        if chunk.latest_first <= midnight && midnight + n <= chunk.earliest_end {
            return;
        }
        self.demand.add_up();
        for l in 0..L {
            let [from, to] = [chunk.first[l], chunk.end[l]].map(|step| step.clamp(midnight, midnight + n) - midnight);
            if from == to || to - from == n {
                continue;
            }
            for (outlet, until) in &self.demand.until {
                self.given.delivered[*outlet][l] += until[to].0[l] - until[from].0[l];
                self.given.lost[*outlet][l] += until[to].1[l] - until[from].1[l];
            }
            self.wants.ask_part(plan, l, from..to, days);
        }
    }

    /// Tells what the lanes' trials came to.
    ///
    /// * `leaned` — what their days were made of, where they lean.
    pub(super) fn end(
        &mut self,
        (index, plan): (usize, &Plan),
        chunk: &Chunk<'_, L>,
        leaned: &[Leaned],
        sink: &mut dyn Sink,
    ) {
        if sink.wants_charge(index) {
            for k in 0..plan.loads.len() {
                sink.dark(index, k, self.wants.missed.dark(k));
            }
        }
        for l in 0..chunk.count {
            let rig = &self.rigs[l];
            let bus = self.given.of(l, rig, (chunk.end[l] - chunk.first[l]) as f64);
            let mut ledger = self.lane.sums(l, &self.cells, self.more).account(
                rig,
                &bus,
                &self.sources.taken(l),
                plan.season.step_h,
            );
            let direct_wh = self.fed.sum_w[l] * plan.season.step_h;
            ledger.add_direct(direct_wh);
            ledger.add(&Ledger::starting_with(rig.start_wh));
            ledger[Flow::End] = self.lane.stored_wh[l];
            debug_assert!(ledger.imbalance() < 1e-9, "the ledger does not close: {ledger:?}");
            let lowest_wh = less(self.lane.stored_wh[l], self.lane.lowest_wh[l]);
            let mut outcome = self.wants.missed.outcome(l, lowest_wh, rig.capacity_wh, ledger);
            outcome.direct_wh = direct_wh;
            if let Some(fuel) = &plan.fuel {
                outcome.burnt_l = fuel.litres - self.tank.left_l[l];
            }
            self.loads.clear();
            for (k, (load, asked_wh)) in plan.loads.iter().zip(&self.wants.asked_wh).enumerate() {
                let food = self.askers.states.get(k).map_or([None; PARTS], |state| state.food(load, l));
                self.loads.push(LoadOutcome { asked_wh: asked_wh[l], food, ..self.wants.missed.load(k, l) });
            }
            let (trial, unknowns, leaned) = (chunk.lanes[l], &self.unknowns[l], leaned.get(l));
            sink.outcome(index, &Ended { lane: l, trial, outcome: &outcome, loads: &self.loads, unknowns, leaned });
        }
    }
}

/// Adds what counts.
#[inline(always)]
pub(super) fn add<const L: usize>(counted: &[f64; L], of: &[f64; L], sum: &mut [f64; L]) {
    for l in 0..L {
        sum[l] += counted[l] * of[l];
    }
}

/// Puts one number in the place of another that is counted, in the lanes that it is for.
#[inline(always)]
fn put<const L: usize, const B: usize>(
    takes: &Flags<B>,
    got: &[f64; B],
    counted: &[f64; L],
    sum: &mut [f64; L],
    at: usize,
) {
    let (counted, sum) = (block::<_, L, B>(counted, at), block_mut::<_, L, B>(sum, at));
    for b in 0..B {
        sum[b] += masked(got[b] - counted[b], takes[b]);
    }
}
