//! AC loads that run on a generator while it runs, and the wall charger on what they leave of it.

use super::awake::AC;
use super::cells::Flags;
use super::cuts::{Part, stretches};
use super::load::LoadPlan;
use super::plan::Plan;
use super::rig::CLASSES;
use crate::random::masks::block_mut;
use crate::scenario::model::{FeedsAc, Generator, Station, WallCharger};
use crate::units::NORMAL_95;

/// Rounding in shares of a step, and of watts.
const ROUNDING: f64 = 1e-9;

/// What a generator gives straight to AC loads in a part of a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Direct {
    /// The classes whose AC loads hang on it.
    pub carries: [bool; CLASSES],
    /// Most power for them \[W\].
    pub most_w: f64,
    /// Whether it comes through the station's own outlets; otherwise somebody plugs them over and back.
    pub through: bool,
}

/// Which AC loads a generator feeds, and when.
#[derive(Debug, Clone, PartialEq)]
pub struct FeedsPlan {
    through: bool,
    /// Most that it gives, that goes to AC loads, and that the wall charger draws \[W\].
    limit_w: f64,
    up_to_w: f64,
    charger_w: f64,
    /// Of each step of the day the stretches as shares of it, and whether it runs in them; none where it rests throughout.
    stretches: Vec<Vec<(f64, bool)>>,
    /// Share of each step of the day in which it runs.
    runs: Vec<f64>,
    /// The classes whose AC loads it carries.
    pub carries: [bool; CLASSES],
    /// The most that all AC loads of these, of these and the next class, and so on, draw at once while it runs \[W\].
    pub at_once_w: [f64; CLASSES],
    /// The most that those it carries draw at once in each step of the day \[W\].
    reserve_w: Vec<f64>,
    /// Whether it feeds any.
    feeds_any: bool,
}

/// Whether a generator runs in a step at all that has fuel for a share of its run.
pub(super) fn runs(fuel: f64) -> bool {
    fuel > ROUNDING
}

/// Whether a load is one for it: on AC, and not held off for good.
fn is_for_it(load: &LoadPlan) -> bool {
    load.outlet == AC && !load.never_runs()
}

/// Whether an AC load may run in a step of the day; one that asks by its own state may at any time.
fn may_hang_on_it(load: &LoadPlan, at: usize) -> bool {
    is_for_it(load) && (load.asks.is_some() || load.may_run(at))
}

impl FeedsPlan {
    /// `None` where it feeds the station alone.
    ///
    /// * `runs` — see [`super::fuel::runs`].
    pub(super) fn new(generator: &Generator, station: &Station, runs: &[f64]) -> Option<FeedsPlan> {
        let through = match generator.feeds_ac {
            FeedsAc::No => return None,
            FeedsAc::ByHand => false,
            FeedsAc::Through => true,
        };
        let mut stretches = stretches(&generator.hours, runs.len());
        for (stretches, _) in stretches.iter_mut().zip(runs).filter(|(_, runs)| **runs <= 0.0) {
            stretches.clear();
        }
        let runs_for = |step: &Vec<(f64, bool)>| step.iter().filter(|(_, on)| *on).map(|(share, _)| share).sum();
        Some(FeedsPlan {
            through,
            limit_w: generator.limit.0,
            up_to_w: generator.feeds_ac_up_to.map_or(generator.limit.0, |most| most.0.min(generator.limit.0)),
            charger_w: station.wall_charger.map_or(0.0, |charger| charger.limit.0),
            runs: stretches.iter().map(runs_for).collect(),
            stretches,
            carries: [false; CLASSES],
            at_once_w: [0.0; CLASSES],
            reserve_w: vec![0.0; runs.len()],
            feeds_any: false,
        })
    }

    /// The most that the AC loads of the first classes draw at once in a step \[W\]: each that may run at its running watts and, where
    /// these are not known, at the upper end of their 95 % interval.
    fn at_once(loads: &[LoadPlan], classes: usize, at: usize) -> f64 {
        let may = |load: &&LoadPlan| load.class < classes && may_hang_on_it(load, at);
        let most = |load: &LoadPlan| {
            let doubt = if load.asks.is_some() { 0.0 } else { NORMAL_95 * load.watts_sd };
            load.running_w * (1.0 + doubt)
        };
        loads.iter().filter(may).map(most).sum()
    }

    /// Finds which loads it can carry: a class and all that matter more, where they fit at once; through the station all or none.
    fn mind(&mut self, loads: &[LoadPlan]) {
        let steps = self.stretches.len();
        for class in 0..CLASSES {
            let at_once = (0..steps).filter(|at| !self.stretches[*at].is_empty());
            self.at_once_w[class] = at_once.map(|at| FeedsPlan::at_once(loads, class + 1, at)).fold(0.0, f64::max);
        }
        let fits = self.at_once_w.map(|watts| watts <= self.up_to_w * (1.0 + ROUNDING));
        let carried = if self.through {
            if fits[CLASSES - 1] { CLASSES } else { 0 }
        } else {
            fits.iter().filter(|fits| **fits).count()
        };
        self.carries = std::array::from_fn(|class| class < carried);
        for (at, reserve_w) in self.reserve_w.iter_mut().enumerate() {
            let runs = !self.stretches[at].is_empty();
            *reserve_w = if runs { FeedsPlan::at_once(loads, carried, at) } else { 0.0 };
        }
        self.feeds_any = self.reserve_w.iter().any(|watts| *watts > 0.0);
    }

    /// What the charger may draw while it runs in a step beside so much for AC loads \[W\].
    fn charger_beside_w(&self, ac_w: f64) -> f64 {
        self.charger_w.min((self.limit_w - ac_w).max(0.0))
    }

    /// Whether it feeds them through the station.
    #[must_use]
    pub fn through(&self) -> bool {
        self.through
    }

    /// Whether it carries a load, whenever that asks for something.
    #[must_use]
    pub fn carries_load(&self, load: &LoadPlan) -> bool {
        self.carries[load.class] && is_for_it(load)
    }

    /// Whether an AC load may run while it runs.
    #[must_use]
    pub fn asks_in_its_hours(&self, load: &LoadPlan) -> bool {
        let mut running = (0..self.stretches.len()).filter(|at| !self.stretches[*at].is_empty());
        running.any(|at| may_hang_on_it(load, at))
    }

    /// Whether it feeds loads in a step of the day, while there is fuel.
    pub(super) fn is_on(&self, at: usize) -> bool {
        self.feeds_any && !self.stretches[at].is_empty()
    }

    /// What AC loads and the charger can take of it in a day at the most \[Wh\], and at once \[W\].
    ///
    /// * `step_h` — length of a step \[h\].
    #[must_use]
    pub fn most(&self, step_h: f64) -> (f64, f64) {
        let most_w = |at: usize| self.reserve_w[at] + self.charger_beside_w(self.reserve_w[at]);
        let running = (0..self.stretches.len()).filter(|at| !self.stretches[*at].is_empty());
        let a_day_wh = running.clone().map(|at| self.runs[at] * most_w(at) * step_h).sum();
        (a_day_wh, running.map(most_w).fold(0.0, f64::max))
    }
}

impl Plan {
    /// The generator's feeding of AC loads, in a step of the day in which it does.
    #[inline(always)]
    pub(super) fn feeds_at(&self, at: usize) -> Option<&FeedsPlan> {
        self.feeds.as_ref().filter(|feeds| feeds.is_on(at))
    }

    /// The loads that it feeds while it runs.
    pub fn on_the_generator(&self) -> impl Iterator<Item = &LoadPlan> {
        let feeds = self.feeds.as_ref();
        let on_it = move |load: &&LoadPlan| {
            feeds.is_some_and(|feeds| feeds.carries_load(load) && feeds.asks_in_its_hours(load))
        };
        self.loads.iter().filter(on_it)
    }

    /// The feeding of AC loads by a generator that carries any.
    #[must_use]
    pub fn feeding(&self) -> Option<&FeedsPlan> {
        self.feeds.as_ref().filter(|feeds| feeds.feeds_any)
    }

    /// The most that a generator gives the wall charger, and AC loads where it feeds any, at once \[W\].
    #[must_use]
    pub fn generator_most_w(&self, generator: &Generator, charger: &WallCharger) -> f64 {
        self.feeding().map_or(generator.feeds_w(charger), |feeds| feeds.most(self.season.step_h).1)
    }

    /// Finds anew which loads the generator feeds, and what they leave of it to the wall charger: after every change of the loads.
    pub(super) fn mind_the_generator(&mut self) {
        let Some(feeds) = &mut self.feeds else { return };
        feeds.mind(&self.loads);
        for (at, wall_w) in self.wall_w.iter_mut().enumerate().filter(|(at, _)| !feeds.stretches[*at].is_empty()) {
            *wall_w = feeds.runs[at] * feeds.charger_beside_w(feeds.reserve_w[at]);
        }
    }
}

/// What generators feed in each lane.
#[derive(Debug)]
pub(super) struct Fed<const L: usize> {
    /// The parts of the present step; none in lanes in which it does not run.
    pub parts: Vec<Vec<Part>>,
    /// Given straight to loads in the present step, and so far \[W\], \[W × steps\].
    pub step_w: [f64; L],
    pub sum_w: [f64; L],
}

impl<const L: usize> Default for Fed<L> {
    fn default() -> Fed<L> {
        Fed { parts: Vec::new(), step_w: [0.0; L], sum_w: [0.0; L] }
    }
}

impl<const L: usize> Fed<L> {
    /// As the outages begin.
    pub(super) fn begin(&mut self) {
        self.parts.resize_with(L, Vec::new);
        (self.step_w, self.sum_w) = ([0.0; L], [0.0; L]);
    }

    /// Finds when it runs in a step.
    ///
    /// * `asked_w` — what the loads that it carries ask for; `fuel` — share of its run that there is fuel for.
    pub(super) fn step(&mut self, plan: &FeedsPlan, at: usize, asked_w: &[f64; L], fuel: &[f64; L]) {
        self.step_w = [0.0; L];
        for (l, parts) in self.parts.iter_mut().enumerate() {
            parts.clear();
            if !runs(fuel[l]) {
                continue;
            }
            let wall_w = plan.charger_beside_w(plan.reserve_w[at].max(asked_w[l]));
            let direct = Direct { carries: plan.carries, most_w: plan.up_to_w, through: plan.through };
            let mut left = fuel[l] * plan.runs[at];
            let mut part = |share: f64, runs: bool| {
                if share > 0.0 {
                    let (wall_w, direct) = if runs { (wall_w, Some(direct)) } else { (0.0, None) };
                    parts.push(Part { share, on_mains: false, wall_w, ac_on: true, direct });
                }
            };
            for &(share, on) in &plan.stretches[at] {
                let fed = match on {
                    true if left > share - ROUNDING => share,
                    true if left > ROUNDING => left,
                    _ => 0.0,
                };
                left -= fed;
                part(fed, true);
                part(share - fed, false);
            }
        }
    }

    /// Books what the `k`th block of lanes got in a part of a step.
    pub(super) fn book<const B: usize>(&mut self, k: usize, takes: &Flags<B>, share: f64, given_w: &[f64; B]) {
        let (step_w, sum_w) = (block_mut::<_, L, B>(&mut self.step_w, k), block_mut::<_, L, B>(&mut self.sum_w, k));
        for b in (0..B).filter(|&b| takes[b] != 0) {
            step_w[b] += share * given_w[b];
            sum_w[b] += share * given_w[b];
        }
    }
}

#[cfg(test)]
mod tests;
