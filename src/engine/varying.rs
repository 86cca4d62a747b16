//! Cuts of which one day's differ from another's: by the day of the week, on a share of the days, at hours that wander, or by a
//! table. Each trial draws its own; what is not known beforehand of a step is settled trial by trial.

use super::cuts::Part;
use super::trial::{History, TrialSeed};
use crate::random::{Purpose, Stream};
use crate::scenario::model::{ClockWindow, CutTable, DailyCuts, Weekdays};

/// Minutes of a day.
const DAY: f64 = 1440.0;

/// What no chance changes of them.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct VaryingCuts {
    /// Days of the week on which it begins, minute of the day, and length \[min\].
    windows: Vec<(Weekdays, f64, f64)>,
    happens: f64,
    wanders_min: f64,
    table: Option<CutTable>,
    /// In which steps of a day the mains may be cut.
    pub open: Vec<bool>,
    /// What the mains gives the wall charger \[W\].
    wall_w: f64,
}

impl VaryingCuts {
    /// `None` where all days are alike.
    ///
    /// * `wall_w` — most watts that the mains gives the wall charger.
    pub(super) fn new(cuts: &DailyCuts, wall_w: f64, steps_a_day: usize) -> Option<VaryingCuts> {
        if !cuts.vary() {
            return None;
        }
        let wanders_min = (cuts.wanders.0 * 60.0).round();
        let windows: Vec<(Weekdays, f64, f64)> = cuts
            .windows
            .iter()
            .map(|cut| (cut.days, f64::from(cut.window.from_minute), (cut.window.hours().0 * 60.0).round()))
            .collect();
        let mut minutes = vec![cuts.table.is_some(); DAY as usize];
        for (_, from, length) in &windows {
            let first = (from - wanders_min).rem_euclid(DAY) as usize;
            let count = (length + 2.0 * wanders_min).min(DAY) as usize;
            (first..first + count).for_each(|minute| minutes[minute % DAY as usize] = true);
        }
        let open = minutes.chunks(DAY as usize / steps_a_day).map(|step| step.contains(&true)).collect();
        Some(VaryingCuts { windows, happens: cuts.happens.0, wanders_min, table: cuts.table.clone(), open, wall_w })
    }

    /// The steps in which the mains may be cut, as hours of the day.
    pub(super) fn hours(&self) -> Vec<ClockWindow> {
        let length = DAY as usize / self.open.len();
        let at = |step: usize| (step * length) as u16;
        let open = self.open.iter().enumerate().filter(|(_, open)| **open);
        open.map(|(step, _)| ClockWindow { from_minute: at(step), to_minute: at(step + 1) }).collect()
    }

    /// Draws a trial's cuts: from and to in minutes since the midnight at which its weather begins, none touching the next.
    fn draw(&self, rng: TrialSeed, history: &History, cuts: &mut Vec<(f64, f64)>) {
        cuts.clear();
        let mut stream = rng.stream(Purpose::Cuts(history.first_day));
        if let Some(table) = &self.table {
            follow(table, &mut stream, history, cuts);
        }
        // A cut of the day before may run over midnight, one of the day behind may come early.
        for day in 0..history.days + 2 {
            let weekday = (history.weekday + 6 + day) % 7;
            let comes = stream.uniform() < self.happens;
            for (days, from, length) in &self.windows {
                let later = self.wanders_min * (2.0 * stream.uniform() - 1.0);
                if comes && days.0[weekday] {
                    let from = (day as f64 - 1.0) * DAY + from + later;
                    cuts.push((from, from + length));
                }
            }
        }
        cuts.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let mut kept = 0;
        for k in 0..cuts.len() {
            let (from, to) = cuts[k];
            if kept > 0 && from <= cuts[kept - 1].1 {
                cuts[kept - 1].1 = cuts[kept - 1].1.max(to);
            } else {
                (cuts[kept], kept) = ((from, to), kept + 1);
            }
        }
        cuts.truncate(kept);
    }
}

/// A stretch of a table that begins on any day of it with the trial's day of the week; behind its last day comes its first.
fn follow(table: &CutTable, stream: &mut Stream, history: &History, cuts: &mut Vec<(f64, f64)>) {
    let first = (history.weekday as u32 + 7 - table.weekday) % 7;
    let choices = (table.days - first).div_ceil(7);
    let begins = first + 7 * ((stream.uniform() * f64::from(choices)) as u32).min(choices - 1);
    let mut day = -f64::from(begins);
    while day < (history.days + 1) as f64 {
        cuts.extend(table.cuts.iter().map(|(from, to)| (day * DAY + f64::from(*from), day * DAY + f64::from(*to))));
        day += f64::from(table.days);
    }
    cuts.retain(|(from, to)| *to > 0.0 && *from < (history.days + 1) as f64 * DAY);
}

/// The cuts of all lanes, and where in the present step the mains is.
#[derive(Debug)]
pub(super) struct LaneCuts<const L: usize> {
    cuts: Vec<Vec<(f64, f64)>>,
    next: [usize; L],
    /// The parts of the present step.
    pub parts: Vec<Vec<Part>>,
    /// Share of it in which the station feeds the loads.
    pub fed: [f64; L],
}

impl<const L: usize> Default for LaneCuts<L> {
    fn default() -> LaneCuts<L> {
        LaneCuts { cuts: Vec::new(), next: [0; L], parts: Vec::new(), fed: [1.0; L] }
    }
}

impl<const L: usize> LaneCuts<L> {
    /// Draws those of a chunk.
    pub(super) fn begin<'h>(
        &mut self,
        plan: &VaryingCuts,
        rng: &[TrialSeed; L],
        history: impl Fn(usize) -> &'h History,
    ) {
        self.cuts.resize_with(L, Vec::new);
        self.parts.resize_with(L, Vec::new);
        self.next = [0; L];
        for (l, cuts) in self.cuts.iter_mut().enumerate() {
            plan.draw(rng[l], history(l), cuts);
        }
    }

    /// Finds where the mains is in a step.
    ///
    /// * `now` — the step, counted from the midnight at which the weather begins, no sooner than the last one; `step_h` — its
    ///   length \[h\].
    pub(super) fn step(&mut self, plan: &VaryingCuts, now: usize, step_h: f64) {
        let minutes = (60.0 * step_h).round();
        let begins = now as f64 * minutes;
        for l in 0..L {
            let (cuts, next, parts) = (&self.cuts[l], &mut self.next[l], &mut self.parts[l]);
            while cuts.get(*next).is_some_and(|(_, to)| *to <= begins) {
                *next += 1;
            }
            parts.clear();
            let (mut at, mut fed) = (0.0, 0.0);
            let mut part = |until: f64, on_mains: bool, at: &mut f64| {
                let share = (until - *at) / minutes;
                if share > 0.0 {
                    let wall_w = if on_mains { plan.wall_w } else { 0.0 };
                    parts.push(Part { share, on_mains, wall_w, ac_on: true, direct: None });
                    fed += if on_mains { 0.0 } else { share };
                }
                *at = until.max(*at);
            };
            for (from, to) in cuts[*next..].iter().take_while(|(from, _)| *from < begins + minutes) {
                part((from - begins).clamp(0.0, minutes), true, &mut at);
                part((to - begins).min(minutes), false, &mut at);
            }
            part(minutes, true, &mut at);
            self.fed[l] = fed;
        }
    }
}

#[cfg(test)]
mod tests;
