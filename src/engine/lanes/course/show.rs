//! What somebody sees who looks on at a trial alone.

use super::plugged::lane_parts;
use super::{Chunk, Course, Lane, Sink};
use crate::engine::plan::Plan;
use crate::engine::rig::{CLASSES, OUTLETS};
use crate::engine::sources::Plugged;
use crate::engine::step::{Balance, Supply};
use crate::engine::trial::StepView;
use crate::engine::wiring::AtInput;
use crate::random::real::Real;

impl<R: Real, const L: usize> Course<R, L> {
    /// Energy that each load has asked for so far \[Wh\], in the only lane.
    pub(super) fn asked_wh(&self) -> Vec<f64> {
        self.wants.asked_wh.iter().map(|of| of[0]).collect()
    }

    /// Shows the step just taken in the only lane.
    ///
    /// * `asked_wh` — what each load that asks by its own state had asked for before it.
    #[inline(never)]
    pub(super) fn show(
        &mut self,
        plan: &Plan,
        chunk: &Chunk<'_, L>,
        (now, at): (usize, usize),
        before: Option<Lane<L>>,
        asked_wh: &[f64],
        sink: &mut dyn Sink,
    ) {
        let (Some(observer), Some(before)) = (sink.observer(), before) else { return };
        let (rig, step_h, days) = (&self.rigs[0], plan.season.step_h, (&self.weekday, &self.factors[..]));
        let bus = self.served.map_or_else(|| self.demand.step(at).bus(rig.own_draw_w), |served| served.bus());
        let sums = self.lane.sums(0, &self.cells, true).since(&before.sums(0, &self.cells, true));
        let plugged = if plan.sources.is_empty() { Plugged::default() } else { self.sources.at(at, 0) };
        let taken = plugged.of(self.sources.took_w[0]);
        self.seen.add(&sums.account(rig, &bus, &taken, step_h));
        self.seen.add_direct(self.fed.step_w[0] * step_h);
        let part = if plan.open(at).is_some() { self.cuts.fed[0] } else { 1.0 };
        let of_outlet = self.wants.parts.first().filter(|parts| !parts.is_empty());
        let own = lane_parts(plan, at, &self.cuts, &self.fed).map(|own| &own[0]);
        let mut parts = of_outlet.or(own).map_or(plan.parts(at), |parts| parts).to_vec();
        parts.iter_mut().for_each(|part| part.wall_w *= self.wall_share(plan, at, 0));
        let mut by_class = [0.0; CLASSES];
        for (k, load) in plan.loads.iter().enumerate() {
            by_class[load.class] += match asked_wh.get(k).filter(|_| load.asks.is_some()) {
                Some(before) => self.wants.asked_wh[k][0] - before,
                None => load.day(self.weekday[0]).watts[at] * self.factors[k][0] * (part * step_h),
            };
        }
        let balance = Balance {
            stored_wh: self.lane.stored_wh[0],
            served: self.served.map_or([[1.0; OUTLETS]; CLASSES], |served| served.shares()),
            all_served: self.served.is_none_or(|served| served.all[0] != 0),
            delivered_w: bus.with_direct(self.fed.step_w[0]),
            heat_w: self.lane.heat_w[0],
        };
        let asking = if plan.on_mains(at) { &[][..] } else { &self.askers.states };
        let of_sun = |watts: &[R; L]| if self.lit[at] { watts[0].wide() } else { 0.0 };
        let AtInput { panel_w, usable_w, .. } = &self.at_input[at];
        let view = StepView {
            weather_step: now,
            rig,
            supply: Supply {
                panel_w: of_sun(panel_w),
                usable_w: of_sun(usable_w),
                wall_w: if own.is_some() {
                    parts.iter().map(|part| part.share * part.wall_w).sum()
                } else {
                    plan.wall_w[at] * self.wall_share(plan, at, 0)
                },
                sources: plugged,
                around_w: self.around_w(plan, at, 0),
            },
            cell_c: self.following.cell_c[0],
            demand: &self.wants.wanted::<1>(plan, (0, at), days, asking).demand(),
            asked_wh: by_class,
            parts: &parts,
            idles: plan.ac_idles(),
            balance: &balance,
            ledger: &self.seen,
        };
        observer.step(now - chunk.first[0], &view);
    }
}
