//! What loads ask for, which of them their rules hold off, and what they miss.

mod dark;

use std::ops::Range;

use super::Chunk;
use crate::engine::asking::{Asking, Settled};
use crate::engine::awake::AcState;
use crate::engine::cells::Flags;
use crate::engine::cuts::Part;
use crate::engine::load::LoadPlan;
use crate::engine::outlets::Wanted;
use crate::engine::plan::Plan;
use crate::engine::rig::{CLASSES, OUTLETS, Rig};
use crate::engine::unserved::Missed;
use crate::random::masks::{block, block_mut, flag, masked};

/// Lane by lane the day of the week, and each load's factor of the day.
pub(super) type DaysOf<'a, const L: usize> = (&'a [usize; L], &'a [[f64; L]]);

/// What the loads of each lane asked for and missed, and which of them its rules hold off.
#[derive(Debug)]
pub(super) struct Wants<const L: usize> {
    pub missed: Missed<L>,
    /// Energy asked for, load by load \[Wh\].
    pub asked_wh: Vec<[f64; L]>,
    /// The lanes in which each load is held off.
    pub off: Vec<Flags<L>>,
    /// Of that, the lanes in which not its rule but its outlet does; empty where outlets are always on.
    dark: Vec<Flags<L>>,
    /// The AC outlet, lane by lane; empty where it is always on.
    ac: Vec<AcState>,
    /// What each load draws there while it runs in one lane's step, and whether it comes and goes; none of those that ask for nothing.
    on_ac: Vec<Option<(f64, bool)>>,
    /// Parts of the present step, in lanes in which the AC outlet goes off or on within it; none in the others.
    pub parts: Vec<Vec<Part>>,
    /// The loads in the order of the addresses of their chance.
    pub order: Vec<usize>,
    /// Power of each load \[W × steps\] up to each step of its plain day, or of the days of the week where they differ, and
    /// past the last: one day after the other.
    until: Vec<Vec<f64>>,
}

impl<const L: usize> Default for Wants<L> {
    fn default() -> Wants<L> {
        Wants {
            missed: Missed::default(),
            asked_wh: Vec::new(),
            off: Vec::new(),
            dark: Vec::new(),
            ac: Vec::new(),
            on_ac: Vec::new(),
            parts: Vec::new(),
            order: Vec::new(),
            until: Vec::new(),
        }
    }
}

impl<const L: usize> Wants<L> {
    /// Forgets the plan before.
    pub(super) fn forget(&mut self) {
        self.until.clear();
    }

    /// Forgets the chunk before.
    ///
    /// * `rigs` — the kits of the lanes.
    pub(super) fn begin(&mut self, plan: &Plan, rigs: &[Rig]) {
        let count = plan.loads.len();
        self.missed.begin(plan);
        self.asked_wh.clear();
        self.asked_wh.resize(count, [0.0; L]);
        self.off.clear();
        self.off.resize(count, [0; L]);
        self.dark.clear();
        self.ac.clear();
        self.parts.iter_mut().for_each(Vec::clear);
        if let Some(ac) = plan.ac.as_ref().filter(|ac| ac.matters) {
            self.dark.resize(count, [0; L]);
            self.ac.extend(rigs.iter().take(L).map(|rig| AcState::begin(ac, rig)));
            self.parts.resize_with(L, Vec::new);
        }
        self.order.clear();
        self.order.extend(0..count);
        self.order.sort_unstable_by_key(|k| plan.loads[*k].stream);
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

    /// Adds what the loads with a known demand ask for on a whole day.
    ///
    /// * `times` — how many such days each lane has; `weekday` — the day of the week, lane by lane; `factors` — the loads' day
    ///   factors.
    #[inline(always)]
    pub(super) fn ask(&mut self, plan: &Plan, times: &[f64; L], (weekday, factors): DaysOf<'_, L>) {
        let (n, step_h) = (plan.season.steps_a_day, plan.season.step_h);
        let loads = plan.loads.iter().zip(&self.until);
        for ((asked_wh, factor), (load, until)) in self.asked_wh.iter_mut().zip(factors).zip(loads) {
            if load.asks.is_some() {
                continue;
            }
            let mut of_day = [until[n]; L];
            if load.week.is_some() {
                for l in 0..L {
                    of_day[l] = until[weekday[l] * (n + 1) + n];
                }
            }
            for l in 0..L {
                asked_wh[l] += times[l] * (of_day[l] * factor[l] * step_h);
            }
        }
    }

    /// Adds what they ask for in some steps of a day in lane `l`.
    #[inline(always)]
    pub(super) fn ask_part(&mut self, plan: &Plan, l: usize, steps: Range<usize>, (weekday, factors): DaysOf<'_, L>) {
        let (n, step_h) = (plan.season.steps_a_day, plan.season.step_h);
        for (k, load) in plan.loads.iter().enumerate().filter(|(_, load)| load.asks.is_none()) {
            let day = if load.week.is_some() { weekday[l] * (n + 1) } else { 0 };
            let until = &self.until[k][day..];
            self.asked_wh[k][l] += (until[steps.end] - until[steps.start]) * factors[k][l] * step_h;
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
    ) -> Flags<L> {
        for (off, dark) in self.off.iter_mut().zip(&self.dark) {
            for l in 0..L {
                off[l] &= !dark[l];
            }
        }
        let mut charge = [0.0; L];
        for l in 0..L {
            charge[l] = stored_wh[l] / capacity_wh[l];
        }
        let mut any = [0; L];
        for (off, load) in self.off.iter_mut().zip(&plan.loads) {
            if load.off_below == f64::NEG_INFINITY && load.off_from_step == usize::MAX {
                continue;
            }
            for l in 0..L {
                let first = chunk.first[l];
                let by_time = flag(first <= now && load.off_from_step <= now - first.min(now));
                let stays = off[l] & flag(charge[l] < load.on_above);
                off[l] = flag(charge[l] < load.off_below) | by_time | stays;
                any[l] |= off[l];
            }
        }
        any
    }

    /// Whether loads hang on an outlet that is not always on.
    pub(super) fn hangs_on_outlet(&self) -> bool {
        !self.ac.is_empty()
    }

    /// The lanes in which a load's own rule holds it off.
    pub(super) fn by_rule(&self, place: usize) -> Flags<L> {
        let mut ruled = self.off[place];
        if let Some(dark) = self.dark.get(place) {
            for l in 0..L {
                ruled[l] &= !dark[l];
            }
        }
        ruled
    }

    /// What a load with a known demand asks for in the `k`th block of lanes, in the part of a step in which the station feeds
    /// it: mean power \[W\] and its variance \[W²\].
    ///
    /// * `fed` — that part; `weekday` — the day of the week; `factor` — the load's day factor.
    #[inline(always)]
    pub(super) fn known<const B: usize>(
        load: &LoadPlan,
        (k, at, fed): (usize, usize, f64),
        (weekday, factor): (&[usize; L], &[f64; L]),
    ) -> ([f64; B], [f64; B]) {
        let factor = block::<_, L, B>(factor, k);
        let (mut mean_w, mut variance_w2) = ([load.profile.watts[at]; B], [load.profile.variance_w2[at]; B]);
        if load.week.is_some() {
            let weekday = block::<_, L, B>(weekday, k);
            for b in 0..B {
                let day = load.day(weekday[b]);
                (mean_w[b], variance_w2[b]) = (day.watts[at], day.variance_w2[at]);
            }
        }
        for b in 0..B {
            mean_w[b] = mean_w[b] * factor[b] / fed;
            variance_w2[b] = variance_w2[b] * factor[b] * factor[b];
        }
        (mean_w, variance_w2)
    }

    /// What the loads ask for that no rule holds off, in the `k`th block of lanes.
    ///
    /// * `weekday` — the day of the week; `factors` — the loads' day factors; `asking` — the loads that ask by their own state.
    #[inline(always)]
    pub(super) fn wanted<const B: usize>(
        &self,
        plan: &Plan,
        (k, at): (usize, usize),
        (weekday, factors): DaysOf<'_, L>,
        asking: &[Asking<L>],
    ) -> Wanted<B> {
        let mut wanted = Wanted::default();
        let idles = plan.ac_idles();
        for (place, load) in plan.loads.iter().enumerate() {
            let (mut mean_w, mut variance_w2) = ([0.0; B], [0.0; B]);
            if let Some(run) = asking.get(place).and_then(Asking::run) {
                let run = block::<_, L, B>(run, k);
                for b in 0..B {
                    (mean_w[b], variance_w2[b]) = load.while_running(run[b]);
                }
            } else {
                (mean_w, variance_w2) = Wants::known(load, (k, at, plan.fed(at)), (weekday, &factors[place]));
            }
            let off = block::<_, L, B>(&self.off[place], k);
            let watts = &mut wanted.watts[load.class][load.outlet];
            let plugged = &mut wanted.plugged[load.class][load.outlet];
            for b in 0..B {
                watts[b] += masked(mean_w[b], !off[b]);
                plugged[b] |= !off[b];
            }
            if let Some(dark) = self.dark.get(place).filter(|_| idles) {
                let dark = block::<_, L, B>(dark, k);
                for b in 0..B {
                    plugged[b] |= dark[b];
                }
            }
            if load.outlet == 0 {
                for b in 0..B {
                    wanted.variance_w2[load.class][b] += masked(variance_w2[b], !off[b]);
                }
            }
        }
        wanted
    }

    /// Books what loads with a known demand miss in a step in the `k`th block of lanes. Those that ask by their own state come
    /// once they have taken it.
    ///
    /// * `takes` — the lanes that count; `share` — of the demand that is served, by class and outlet, `None` where all is that no
    ///   rule holds off; `part` — share of the step's demand that is asked of the station at all, in cuts that differ from day to
    ///   day; `index` — the step of each outage.
    #[inline(always)]
    pub(super) fn miss<const B: usize>(
        &mut self,
        plan: &Plan,
        (k, at): (usize, usize),
        (takes, index): (&Flags<B>, &[u64; B]),
        (share, part): (Option<&[[[f64; B]; OUTLETS]; CLASSES]>, f64),
        (weekday, factors): DaysOf<'_, L>,
    ) {
        let (fed, step_h, mut booked) = (plan.fed(at), plan.season.step_h, false);
        for &place in &self.order {
            let load = &plan.loads[place];
            if load.asks.is_some() {
                continue;
            }
            let off = block::<_, L, B>(&self.off[place], k);
            let share = match share {
                Some(share) => &share[load.class][load.outlet],
                None if off.iter().all(|off| *off == 0) => continue,
                None => &[1.0; B],
            };
            let (watts, _) = Wants::known::<B>(load, (k, at, fed), (weekday, &factors[place]));
            if part < 1.0 {
                let asked_wh = block_mut::<_, L, B>(&mut self.asked_wh[place], k);
                for b in 0..B {
                    asked_wh[b] -= masked((1.0 - part) * (watts[b] * fed * step_h), takes[b]);
                }
            }
            let step_h = part * step_h;
            let mut wants_h = [load.profile.wants[at] * step_h; B];
            if load.week.is_some() {
                let weekday = block::<_, L, B>(weekday, k);
                for b in 0..B {
                    wants_h[b] = load.day(weekday[b]).wants[at] * step_h;
                }
            }
            let (mut unserved_wh, mut off_h) = ([0.0; B], [0.0; B]);
            for b in 0..B {
                let settled = Settled::with_power(watts[b] * fed * step_h, masked(share[b], !off[b]), wants_h[b]);
                (unserved_wh[b], off_h[b]) = (masked(settled.unserved_wh, takes[b]), settled.off_h);
            }
            // Most blocks that are settled for a load held off have all of the others.
            if unserved_wh.iter().any(|missed_wh| *missed_wh > 0.0) {
                let ruled = self.by_rule(place);
                let by_rule = block::<_, L, B>(&ruled, k);
                self.missed.book(plan, (place, true), k, (&unserved_wh, &off_h), (by_rule, index));
                booked = true;
            }
        }
        if booked {
            self.missed.judge(plan, k, index);
        }
    }
}

#[cfg(test)]
mod tests;
