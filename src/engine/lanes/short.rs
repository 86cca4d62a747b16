//! Lanes that do not get everything they ask for, one at a time, by the ordinary step.

use super::demand::StepDemand;
use crate::engine::ledger::Ledger;
use crate::engine::plan::Plan;
use crate::engine::rig::{OUTLETS, Rig};
use crate::engine::step::{Demand, Supply, step};
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
}

/// What a lane missed so far.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Missed {
    pub all_wh: f64,
    pub vital_wh: f64,
    pub failure: Option<(u32, u32)>,
}

/// What single steps add to each lane, and which loads its rules hold off.
#[derive(Debug)]
pub(super) struct Fixes<const L: usize> {
    /// Flows of the steps taken singly, less what the sums over whole days count for them.
    pub extra: [Ledger; L],
    pub missed: [Missed; L],
    off: Vec<[bool; L]>,
    /// Energy that each load asks for from midnight to a step \[W × steps\], load by load.
    asked: Vec<f64>,
}

impl<const L: usize> Fixes<L> {
    pub(super) fn new(plan: &Plan) -> Fixes<L> {
        let mut asked = Vec::with_capacity(plan.loads.len() * (plan.season.steps_a_day + 1));
        for load in &plan.loads {
            let mut sum = 0.0;
            asked.push(0.0);
            asked.extend(load.profile.watts.iter().map(|watts| {
                sum += watts;
                sum
            }));
        }
        Fixes {
            extra: [Ledger::default(); L],
            missed: [Missed::default(); L],
            off: vec![[false; L]; plan.loads.len()],
            asked,
        }
    }

    /// Adds what the loads ask for on a day that begins at step `midnight`.
    #[inline(always)]
    pub(super) fn ask<'a>(
        &self,
        plan: &Plan,
        midnight: usize,
        first: &[usize; L],
        end: &[usize; L],
        factor: impl Fn(usize) -> &'a [f64; L],
        loads: &mut [LoadOutcome],
    ) {
        let n = plan.season.steps_a_day;
        for k in 0..plan.loads.len() {
            let (asked, factor) = (&self.asked[k * (n + 1)..(k + 1) * (n + 1)], factor(k));
            for l in 0..L {
                let (from, to) = (first[l].clamp(midnight, midnight + n), end[l].clamp(midnight, midnight + n));
                let sum = asked[to - midnight] - asked[from.min(to) - midnight];
                loads[l * plan.loads.len() + k].asked_wh += sum * factor[l] * plan.season.step_h;
            }
        }
    }

    /// Switches loads off and on by their rules; lanes with a load off are marked in `short`.
    #[inline(always)]
    pub(super) fn rule(
        &mut self,
        plan: &Plan,
        now: usize,
        first: &[usize; L],
        active: &[bool; L],
        (stored_wh, capacity_wh): (&[f64; L], &[f64; L]),
        short: &mut [bool; L],
    ) {
        let mut charge = [0.0; L];
        for l in 0..L {
            charge[l] = stored_wh[l] / capacity_wh[l];
        }
        for (off, load) in self.off.iter_mut().zip(&plan.loads) {
            if load.off_below == f64::NEG_INFINITY && load.off_from_step == usize::MAX {
                continue;
            }
            for l in 0..L {
                let by_time = first[l] <= now && load.off_from_step <= now - first[l].min(now);
                let stays = off[l] & (charge[l] < load.on_above);
                off[l] = (charge[l] < load.off_below) | by_time | stays;
                short[l] |= off[l] & active[l];
            }
        }
    }

    /// Takes one lane's step; returns what is left in its cells \[Wh\].
    ///
    /// * `asked` — what the chunk's sums count for this step; `factor` — the lane's day factor of a load.
    #[inline(never)]
    #[expect(
        clippy::too_many_arguments,
        reason = "one call from the hot loop; a struct for it would be built every step"
    )]
    pub(super) fn step(
        &mut self,
        plan: &Plan,
        rig: &Rig,
        (stored_wh, supply): (f64, Supply),
        here: Where,
        asked: &StepDemand<L>,
        factor: impl Fn(usize) -> f64,
        loads: &mut [LoadOutcome],
    ) -> f64 {
        let (l, step_h) = (here.l, plan.season.step_h);
        let mut demand = Demand::default();
        for (k, load) in plan.loads.iter().enumerate().filter(|(k, _)| !self.off[*k][l]) {
            let factor = factor(k);
            demand.watts[load.class][load.outlet] += load.profile.watts[here.at] * factor;
            demand.plugged[load.class][load.outlet] = true;
            if load.outlet == 0 {
                demand.variance_w2[load.class] += load.profile.variance_w2[here.at] * factor * factor;
            }
        }
        let extra = &mut self.extra[l];
        let balance = step(rig, &rig.limits(), stored_wh, supply, &demand, step_h, extra);
        for outlet in 0..OUTLETS {
            extra.served_wh[outlet] -= asked.delivered_w[outlet][l] * step_h;
            extra.outlet_loss_wh[outlet] -= asked.lost_w[outlet][l] * step_h;
        }
        extra.own_draw_wh -= rig.own_draw_w * step_h;
        let missed = &mut self.missed[l];
        let mut worst = (0.0, 0);
        for (k, (load, out)) in plan.loads.iter().zip(loads).enumerate() {
            let asked_wh = load.profile.watts[here.at] * factor(k) * step_h;
            let off = self.off[k][l];
            let share = if off { 0.0 } else { balance.served[load.class][load.outlet] };
            if asked_wh > 0.0 && share < 1.0 {
                let lost_wh = asked_wh * (1.0 - share);
                out.missed_wh += lost_wh;
                out.off_h += (1.0 - share) * step_h;
                if off {
                    out.by_rule_wh += lost_wh;
                }
                out.first_off_step.get_or_insert(here.index);
                missed.all_wh += lost_wh;
                if load.class == 0 {
                    missed.vital_wh += lost_wh;
                    if lost_wh > worst.0 {
                        worst = (lost_wh, k as u32);
                    }
                }
            }
        }
        // Rounding in the shares is not a failure: a billionth of a watt-hour is forgiven.
        if missed.failure.is_none() && missed.vital_wh > plan.allow_unmet_wh + 1e-9 {
            missed.failure = Some((here.index, worst.1));
        }
        balance.stored_wh
    }
}
