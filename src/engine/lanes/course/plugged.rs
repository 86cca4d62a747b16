//! What the plug of the wall charger and other sources give in a step, lane by lane.

use super::{Chunk, Course};
use crate::engine::plan::Plan;
use crate::random::real::Real;

impl<R: Real, const L: usize> Course<R, L> {
    /// Works out what each lane can have in a step.
    #[inline(never)]
    pub(super) fn plug_in(&mut self, plan: &Plan, chunk: &Chunk<'_, L>, (now, at): (usize, usize)) {
        if let Some(fuel) = &plan.fuel {
            self.tank.before(fuel, (at, plan.wall_w[at], plan.season.step_h), &self.lane);
            self.cells.share_wall(&self.rigs, &self.tank.share);
        }
        if let Some(second) = &plan.second {
            let when = (now, &chunk.first, plan.season.steps_a_day, plan.season.step_h);
            self.second.before(second, when, (&self.lane, &self.rigs));
            self.cells.share_wall(&self.rigs, &self.second.share);
        }
        if plan.sources.is_empty() {
            return;
        }
        self.sources.before(&self.lane);
        for l in 0..L {
            let wall_w = plan.wall_w[at] * self.wall_share(plan, l) * self.rigs[l].wall_efficiency;
            self.cells.plug_in(l, wall_w + self.sources.at(at, l).bus_w);
        }
    }

    /// Share of what the wall would give that there is in the step, in lane `l`.
    pub(super) fn wall_share(&self, plan: &Plan, l: usize) -> f64 {
        match (&plan.fuel, &plan.second) {
            (_, Some(_)) => self.second.share[l],
            (Some(_), None) => self.tank.share[l],
            (None, None) => 1.0,
        }
    }

    /// Books what the step took.
    #[inline(never)]
    pub(super) fn unplug(&mut self, plan: &Plan, at: usize, active: &[bool; L]) {
        if !plan.sources.is_empty() {
            self.sources.after(at, &self.lane);
        }
        let others_w = &self.sources.took_w;
        if let Some(fuel) = &plan.fuel {
            self.tank.after(fuel, (at, plan.season.step_h), active, (&self.lane, &self.rigs, others_w));
        }
        if plan.second.is_some() {
            self.second.after(plan.season.step_h, active, (&self.lane, &self.rigs, others_w));
        }
    }
}
