//! What the plug of the wall charger and other sources give in a step, lane by lane.

use super::{Chunk, Course, Wants};
use crate::engine::asking::Asking;
use crate::engine::cuts::Part;
use crate::engine::feeds::{Fed, FeedsPlan, runs};
use crate::engine::plan::Plan;
use crate::engine::varying::LaneCuts;
use crate::random::real::Real;

/// Each lane's own parts of a step, of cuts that differ from day to day or of a generator that feeds loads: it rests where the mains
/// may be. `None` where all lanes have those of the plan.
pub(super) fn lane_parts<'c, const L: usize>(
    plan: &Plan,
    at: usize,
    cuts: &'c LaneCuts<L>,
    fed: &'c Fed<L>,
) -> Option<&'c Vec<Vec<Part>>> {
    match plan.open(at) {
        Some(_) => Some(&cuts.parts),
        None => plan.feeds_at(at).map(|_| &fed.parts),
    }
}

impl<R: Real, const L: usize> Course<R, L> {
    /// Works out what each lane can have in a step.
    #[inline(never)]
    pub(super) fn plug_in(&mut self, plan: &Plan, chunk: &Chunk<'_, L>, (now, at): (usize, usize)) {
        let feeds = plan.feeds_at(at);
        let direct_w = feeds.map_or([0.0; L], |feeds| self.asked_directly_w(plan, at, feeds));
        if let Some(fuel) = &plan.fuel {
            self.tank.before(fuel, (at, plan.wall_w[at], plan.season.step_h), (&self.lane, &self.rigs, &direct_w));
        }
        self.fed.step_w = [0.0; L];
        if let Some(feeds) = feeds {
            let fuel = if plan.fuel.is_some() { self.tank.share } else { [1.0; L] };
            self.fed.step(feeds, at, &direct_w, &fuel);
        }
        if let Some(second) = &plan.second {
            let when = (now, &chunk.first, plan.season.steps_a_day, plan.season.step_h);
            self.second.before(second, when, (&self.lane, &self.rigs));
        }
        if plan.fuel.is_some() || plan.second.is_some() {
            let share = std::array::from_fn(|l| self.wall_share(plan, at, l));
            self.cells.share_wall(&self.rigs, &share);
        }
        if plan.sources.is_empty() {
            return;
        }
        self.sources.before(&self.lane);
        for l in 0..L {
            let bus_w = self.beside_the_sun_w(plan, at, l, plan.wall_w[at]);
            self.cells.plug_in(l, bus_w);
        }
    }

    /// Bus power that wall and other sources have together for lane `l` in a step \[W\].
    ///
    /// * `wall_w` — what the wall would give at the plug \[W\].
    pub(super) fn beside_the_sun_w(&self, plan: &Plan, at: usize, l: usize, wall_w: f64) -> f64 {
        wall_w * self.wall_share(plan, at, l) * self.rigs[l].wall_efficiency + self.sources.at(at, l).bus_w
    }

    /// What the loads ask for that a generator carries, rules left out \[W\].
    fn asked_directly_w(&self, plan: &Plan, at: usize, feeds: &FeedsPlan) -> [f64; L] {
        let mut asked_w = [0.0; L];
        for (place, load) in plan.loads.iter().enumerate().filter(|(_, load)| feeds.carries_load(load)) {
            let run = self.askers.states.get(place).and_then(Asking::run);
            let known = || Wants::known::<L>(load, (0, at, plan.fed(at)), (&self.weekday, &self.factors[place])).0;
            let watts = run.map_or_else(known, |run| run.map(|run| load.while_running(run).0));
            for l in 0..L {
                asked_w[l] += watts[l];
            }
        }
        asked_w
    }

    /// Share of what the wall would give that there is in the step, in lane `l`.
    ///
    /// * `at` — step of the day: with loads that hang on a generator this runs at its power, and its parts tell when.
    pub(super) fn wall_share(&self, plan: &Plan, at: usize, l: usize) -> f64 {
        match (&plan.fuel, &plan.second) {
            (_, Some(_)) => self.second.share[l],
            (Some(_), None) if plan.feeds_at(at).is_some() => {
                if runs(self.tank.share[l]) {
                    1.0
                } else {
                    0.0
                }
            }
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
            self.tank.after(
                fuel,
                (at, plan.season.step_h),
                active,
                (&self.lane, &self.rigs, others_w, &self.fed.step_w),
            );
        }
        if plan.second.is_some() {
            self.second.after(plan.season.step_h, active, (&self.lane, &self.rigs, others_w));
        }
    }
}
