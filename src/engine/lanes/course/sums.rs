//! What a chunk's trials came to: sums of what was asked for, and the account at the end.

use std::ops::Range;

use super::super::account::Steps;
use super::super::{Chunk, Sink};
use super::Course;
use crate::engine::ledger::Flow;
use crate::engine::plan::Plan;
use crate::engine::rig::OUTLETS;
use crate::random::polynomials::less;
use crate::random::real::Real;

impl<R: Real, const L: usize> Course<R, L> {
    /// Adds what is asked for, delivered and lost on a day to the lanes' sums.
    ///
    /// * `steps` — those of the day that lie within any lane's outage.
    #[inline(always)]
    pub(super) fn sum_up(&mut self, plan: &Plan, chunk: &Chunk<'_, L>, midnight: usize, steps: Range<usize>) {
        let n = plan.season.steps_a_day;
        // Whole days are summed by their totals, days cut by an end of the outage step by step: lane by lane, so that sums
        // do not depend on the neighbours.
        let whole = chunk.latest_first <= midnight && midnight + n <= chunk.earliest_end;
        let mut whole_lane = [false; L];
        for l in 0..L {
            whole_lane[l] = chunk.first[l] <= midnight && midnight + n <= chunk.end[l];
        }
        let sums = self.delivered.iter_mut().zip(&self.demand.delivered);
        for (sum, of_day) in sums.chain(self.lost.iter_mut().zip(&self.demand.lost)) {
            let mut now = *sum;
            for l in 0..L {
                now[l] += if whole_lane[l] { of_day[l] } else { 0.0 };
            }
            *sum = now;
        }
        let days = (&self.factors[..], &self.weekday);
        self.fixes.ask(plan, midnight, chunk, whole, days, &self.account);
        if !whole {
            self.count(chunk, midnight, steps, &whole_lane);
        }
    }

    /// Adds what is delivered and lost in some steps of a day to the sums of the lanes that do not have the whole of it.
    #[inline(always)]
    fn count(&mut self, chunk: &Chunk<'_, L>, midnight: usize, steps: Range<usize>, whole_lane: &[bool; L]) {
        for at in steps {
            let (now, asked) = (midnight + at, &self.demand.steps[at]);
            let mut counted = [0.0; L];
            for l in 0..L {
                let counts = (chunk.first[l] <= now) & (now < chunk.end[l]) & !whole_lane[l];
                counted[l] = if counts { 1.0 } else { 0.0 };
            }
            for outlet in (0..OUTLETS).filter(|&outlet| self.demand.on[outlet] && !self.demand.asked[outlet]) {
                add(&counted, &asked.delivered_w[outlet], &mut self.delivered[outlet]);
                add(&counted, &asked.lost_w[outlet], &mut self.lost[outlet]);
            }
        }
    }

    /// Tells what the lanes' trials came to.
    pub(in crate::engine::lanes) fn end<S: Sink>(
        &mut self,
        (index, plan): (usize, &Plan),
        chunk: &Chunk<'_, L>,
        sink: &mut S,
    ) {
        let step_h = plan.season.step_h;
        let lane = &self.lane;
        for l in 0..chunk.count {
            let rig = &self.rigs[l];
            if !self.varies && !plan.any_asks {
                let steps = Steps::new(chunk.first[l], chunk.end[l], plan.season.steps_a_day);
                self.account.over(steps);
                let (delivered, lost) = self.account.outlets(rig);
                for outlet in 0..OUTLETS {
                    (self.delivered[outlet][l], self.lost[outlet][l]) = (delivered[outlet], lost[outlet]);
                }
                for (asked_wh, asked) in self.fixes.asked_wh.iter_mut().zip(&self.account.asked) {
                    asked_wh[l] = asked * step_h;
                }
            }
            let mut ledger = self.fixes.extra[l];
            let steps = (chunk.end[l] - chunk.first[l]) as f64;
            let (panel_wh, taken_wh) = (lane.panel_w[l] * step_h, lane.taken_w[l] * step_h);
            let used_wh = taken_wh * rig.solar_efficiency - lane.unused_w[l] * step_h;
            let unused_wh = lane.unused_w[l] * step_h / rig.solar_efficiency;
            // What the bus took that came from nowhere else came from the cells; what is gone from the cells and went nowhere
            // else, they lost.
            let at_outlets = |outlet: usize| self.delivered[outlet][l] + self.lost[outlet][l];
            let asked_w = rig.own_draw_w * steps + (0..OUTLETS).map(at_outlets).sum::<f64>() - lane.alone_w[l];
            let from_cells_w = asked_w + lane.into_w[l] + lane.heater_w[l] - used_wh / step_h - lane.wall_w[l];
            let out_wh = from_cells_w.max(0.0) * step_h / rig.discharge_efficiency;
            let into_wh = lane.into_w[l] * step_h * rig.charge_efficiency;
            let gone_wh = rig.start_wh + lane.alone_wh[l] + into_wh - out_wh - lane.stored_wh[l];
            let lowest_wh = less(lane.stored_wh[l], lane.lowest_wh[l]);
            let mut add = |flow: Flow, wh: f64| ledger[flow] += wh;
            add(Flow::Solar, panel_wh);
            add(Flow::Curtailed, panel_wh - used_wh / rig.solar_efficiency);
            add(Flow::Clipped, panel_wh - taken_wh);
            let barred_wh = if self.more {
                lane.barred_w[l] * step_h / rig.solar_efficiency
            } else if self.limits[l].charge_w == 0.0 {
                unused_wh
            } else {
                0.0
            };
            add(Flow::Barred, barred_wh);
            add(Flow::Wall, lane.wall_w[l] * step_h / rig.wall_efficiency);
            add(Flow::WallLoss, lane.wall_w[l] * step_h * (1.0 / rig.wall_efficiency - 1.0));
            add(Flow::Heater, lane.heater_w[l] * step_h);
            add(Flow::Start, rig.start_wh);
            add(Flow::End, lane.stored_wh[l]);
            add(Flow::SolarInputLoss, used_wh * (1.0 / rig.solar_efficiency - 1.0));
            add(Flow::ChargingLoss, lane.into_w[l] * step_h * (1.0 - rig.charge_efficiency));
            add(Flow::DischargingLoss, out_wh * (1.0 - rig.discharge_efficiency));
            for outlet in 0..OUTLETS {
                add(Flow::SERVED[outlet], self.delivered[outlet][l] * step_h);
                add(Flow::OUTLET_LOSS[outlet], self.lost[outlet][l] * step_h);
            }
            add(Flow::OwnDraw, rig.own_draw_w * steps * step_h);
            add(Flow::SelfDischarge, gone_wh.max(0.0));
            debug_assert!(ledger.imbalance() < 1e-9, "the ledger does not close: {ledger:?}");
            let outcome = self.fixes.missed[l].outcome(lowest_wh, rig.capacity_wh, ledger);
            let loads = &mut self.loads[l * plan.loads.len()..(l + 1) * plan.loads.len()];
            for (load, asked_wh) in loads.iter_mut().zip(&self.fixes.asked_wh) {
                load.asked_wh = asked_wh[l];
            }
            for ((out, load), state) in loads.iter_mut().zip(&plan.loads).zip(&self.askers.states) {
                out.food = state.food(load, l);
            }
            sink.outcome(index, chunk.lanes[l], &outcome, loads, &self.unknowns[l]);
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
