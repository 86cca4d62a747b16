//! Loads on an AC outlet that is off, or asleep.

use super::{DaysOf, Wants};
use crate::engine::asking::Asking;
use crate::engine::awake::{AC, OnAc};
use crate::engine::cells::Flags;
use crate::engine::cuts::Part;
use crate::engine::lanes::Chunk;
use crate::engine::load::LoadPlan;
use crate::engine::outlets::Wanted;
use crate::engine::plan::Plan;
use crate::engine::rig::{CLASSES, OUTLETS};
use crate::random::masks::flag;

/// Rounding in shares of what is served.
const ROUNDING_SHARE: f64 = 1e-9;

impl<const L: usize> Wants<L> {
    /// Holds off what hangs on an AC outlet that is off, or that sleeps and does not wake for it, beside what rules hold off.
    ///
    /// * `now`, `at` — the step, and that of the day; `weekday`, `factors`, `asking` — see [`Wants::wanted`]; `lane_parts` — where
    ///   the mains is in the step, or a generator feeds loads, lane by lane, where that differs; `off` — the lanes that have any load off.
    #[inline(never)]
    pub(in crate::engine::lanes) fn darken(
        &mut self,
        plan: &Plan,
        (now, at): (usize, usize),
        chunk: &Chunk<'_, L>,
        ((weekday, factors), lane_parts): (DaysOf<'_, L>, Option<&Vec<Vec<Part>>>),
        asking: &[Asking<L>],
        off: &mut Flags<L>,
    ) {
        let Some(outlet) = plan.ac.as_ref() else { return };
        self.parts.iter_mut().for_each(Vec::clear);
        if plan.on_mains(at) {
            // The next cut finds the outlet as it was left: switched on, or waiting for somebody.
            self.ac.iter_mut().for_each(|ac| ac.begin_anew(outlet));
            self.dark.iter_mut().for_each(|dark| *dark = [0; L]);
            return;
        }
        let (fed, step_h) = (plan.fed(at), plan.season.step_h);
        let throughout = [Part { share: 1.0, on_mains: false, wall_w: plan.wall_w[at], ac_on: true, direct: None }];
        let of_step = if plan.parts(at).is_empty() { &throughout[..] } else { plan.parts(at) };
        for l in (0..self.ac.len()).filter(|&l| chunk.first[l] <= now && now < chunk.end[l]) {
            // What each load draws while it runs, and whether it comes and goes; nothing of those that ask for nothing.
            let asks = |place: usize, load: &LoadPlan, ruled: u64| -> Option<(f64, bool)> {
                if load.outlet != AC || ruled != 0 {
                    return None;
                }
                if let Some(run) = asking.get(place).and_then(Asking::run) {
                    return (run[l] > 0.0).then_some((load.running_w, true));
                }
                let (day, factor) = (load.day(weekday[l]), factors[place][l]);
                let watts = day.watts[at] * factor / fed;
                let goes = day.variance_w2[at] > 0.0;
                (watts > 0.0).then_some(if goes { (load.running_w * factor, true) } else { (watts, false) })
            };
            let mut asked = OnAc::default();
            let loads = || plan.loads.iter().enumerate();
            for (watts, goes) in loads().filter_map(|(place, load)| asks(place, load, self.off[place][l])) {
                if goes {
                    (asked.most_w, asked.comes) = (asked.most_w.max(watts), true);
                } else {
                    asked.steady_w += watts;
                }
            }
            let (parts, mut any_on, mut any_off) = (&mut self.parts[l], false, false);
            let of_lane = lane_parts.map(|parts| &parts[l][..]).filter(|parts| !parts.is_empty()).unwrap_or(of_step);
            for part in of_lane {
                if let Some(direct) = &part.direct {
                    let on = self.ac[l].rests(outlet, at, direct.through);
                    parts.push(Part { ac_on: on, ..*part });
                    (any_on, any_off) = (true, any_off | !on);
                    continue;
                }
                if part.on_mains {
                    self.ac[l].begin_anew(outlet);
                    parts.push(*part);
                    continue;
                }
                self.ac[l].take(outlet, &asked, (at, part.share * step_h), &mut |hours_h, on| {
                    parts.push(Part { share: hours_h / step_h, ac_on: on, ..*part });
                    (any_on, any_off) = (any_on | on, any_off | !on);
                });
            }
            let is_off = any_off && !any_on;
            if !(any_on && any_off) {
                parts.clear();
            }
            off[l] |= flag(!parts.is_empty());
            let sleeps = outlet.sleeps && !self.ac[l].stays_on(outlet, &asked);
            // What a generator feeds all through needs no inverter.
            let direct = of_lane[0].direct.filter(|_| of_lane.iter().all(|part| part.direct.is_some()));
            let carried = |load: &LoadPlan| direct.is_some_and(|direct| direct.carries[load.class]);
            for (place, load) in loads().filter(|(_, load)| load.outlet == AC) {
                let ruled = self.off[place][l];
                let wakes = match asks(place, load, ruled) {
                    Some((watts, true)) => self.ac[l].wakes_for(&asked, watts),
                    Some((_, false)) => false,
                    None => true,
                };
                self.dark[place][l] = flag((is_off || (sleeps && !wakes)) && !carried(load)) & !ruled;
                self.off[place][l] = ruled | self.dark[place][l];
                off[l] |= self.off[place][l];
            }
        }
    }

    /// Takes note where the AC outlet could not give even what matters most of what was asked of it, in the `k`th block of
    /// lanes: it switches itself off.
    ///
    /// * `takes` — the lanes that count; `share` — of the demand that is served.
    #[inline(always)]
    pub(in crate::engine::lanes) fn trip<const B: usize>(
        &mut self,
        k: usize,
        takes: &Flags<B>,
        wanted: &Wanted<B>,
        share: &[[[f64; B]; OUTLETS]; CLASSES],
    ) {
        if self.ac.is_empty() {
            return;
        }
        for b in (0..B).filter(|&b| takes[b] != 0) {
            let first = (0..CLASSES).find(|&class| wanted.watts[class][AC][b] > 0.0);
            self.ac[k * B + b].tripped = first.is_some_and(|class| share[class][AC][b] < 1.0 - ROUNDING_SHARE);
        }
    }
}
