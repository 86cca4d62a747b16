//! The AC outlet that is not always on: one that switches itself off under a small load or when it cannot give what is asked
//! for, and stays off until somebody switches it on again; an inverter that sleeps until enough asks for it.

use super::load::LoadPlan;
use super::plan::Plan;
use super::rig::Rig;
use crate::loads::{DayProfile, coverage};
use crate::random::polynomials::exp;
use crate::scenario::model::{ClockWindow, Inverter};

/// Index of the AC outlet.
pub(super) const AC: usize = 0;

/// A compressor stands still for less than this between two runs \[h\]. Common practice, no source.
const LONGEST_PAUSE_H: f64 = 1.0;

/// Somebody who is there misses what an outlet that switched itself off leaves in the dark within this, and switches it on again
/// \[h\]. Common practice, no source.
const NOTICED_AFTER_H: f64 = 1.0;

/// Rounding in hours.
const ROUNDING_H: f64 = 1e-9;

/// Days further from the mean than so many standard deviations are not looked for when it is asked whether small loads can ever
/// be too small.
const FAR: f64 = 4.0;

/// When the AC outlet is on.
#[derive(Debug, Clone, PartialEq)]
pub struct AcOutlet {
    /// The most that it may take to wake it, or to keep it on \[W\].
    pub least_w: f64,
    /// Whether it sleeps and wakes by itself.
    pub sleeps: bool,
    /// The shortest that it may stay on under less \[h\].
    pub off_after_h: f64,
    /// Whether nobody has told when it goes off: what it draws while it is on is then not counted as saved.
    pub assumed: bool,
    /// Whether it takes over as the mains fails.
    pub(super) ups: bool,
    /// Whether it comes on again by itself after it could not give what was asked for.
    pub(super) comes_back: bool,
    /// Whether somebody can switch it on in each step of the day.
    pub(super) home: Vec<bool>,
    /// Whether there are hours in which nobody can.
    pub(super) alone: bool,
    /// Whether any of this can leave a load in the dark: see [`Plan::mind_rules`].
    pub(super) matters: bool,
}

/// What the loads on the AC outlet ask for in a step of one lane.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct OnAc {
    /// Sum of those that draw the same throughout the step \[W\].
    pub steady_w: f64,
    /// The most that one that comes and goes draws while it runs \[W\].
    pub most_w: f64,
    /// Whether any of those wants to run.
    pub comes: bool,
}

impl OnAc {
    /// Whether anything asks.
    pub(super) fn asks(&self) -> bool {
        self.steady_w > 0.0 || self.comes
    }
}

/// In which steps of a day somebody is at home. A step of which somebody is there for a part only counts as one in which nobody is
/// (cautious).
///
/// * `hours` — when somebody is; empty: at all hours.
pub(super) fn somebody_home(hours: &[ClockWindow], steps_a_day: usize) -> Vec<bool> {
    coverage(hours, steps_a_day).iter().map(|share| *share >= 1.0 - 1e-9).collect()
}

impl AcOutlet {
    /// Of an inverter.
    ///
    /// * `home` — the steps of a day in which somebody can switch it on.
    #[must_use]
    pub fn new(inverter: &Inverter, home: &[bool]) -> AcOutlet {
        let stays = &inverter.stays;
        AcOutlet {
            least_w: stays.least.1.0,
            sleeps: inverter.sleeps,
            off_after_h: stays.off_after.0.0,
            assumed: stays.least.0 < stays.least.1 || stays.off_after.0 < stays.off_after.1,
            ups: stays.ups,
            comes_back: stays.comes_back,
            alone: home.iter().any(|home| !home),
            home: home.to_vec(),
            matters: false,
        }
    }

    /// Whether it outlasts the pauses of what comes and goes, if it stays on for so long under less \[h\].
    fn outlasts_pauses(&self, off_after_h: f64) -> bool {
        !self.sleeps && off_after_h >= LONGEST_PAUSE_H
    }
}

/// The state of the outlet in one lane.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct AcState {
    /// Least load that wakes it, or keeps it on \[W\], and how long it stays on under less \[h\].
    least_w: f64,
    off_after_h: f64,
    /// Whether it is off until somebody switches it on.
    off: bool,
    /// How long it has been on under too small a load \[h\].
    below_h: f64,
    /// How long it has been off by itself while somebody asks; infinite where whoever wants something switches it on himself \[h\].
    off_h: f64,
    /// Whether it could not give what was asked for in the last step.
    pub tripped: bool,
    /// Whether a generator fed loads until now, and what hung on that waits for a hand.
    left: bool,
}

impl AcState {
    /// Of one kit, as the mains fails.
    pub(super) fn begin(outlet: &AcOutlet, rig: &Rig) -> AcState {
        let (least_w, off_after_h) = (rig.least_ac_w, rig.ac_off_after_h);
        AcState { least_w, off_after_h, off: outlet.alone && !outlet.ups, off_h: f64::INFINITY, ..AcState::default() }
    }

    /// As the mains fails anew.
    pub(super) fn begin_anew(&mut self, outlet: &AcOutlet) {
        let off = outlet.alone && !outlet.ups;
        *self = AcState { off, below_h: 0.0, off_h: f64::INFINITY, tripped: false, left: false, ..*self };
    }

    /// While a generator feeds loads in its stead. Says whether it is on, for those that the generator does not carry.
    ///
    /// * `through` — whether the generator feeds them through the station: one with `ups` then goes on by itself as the generator
    ///   stops; loads that hang on the generator itself wait for somebody to plug them over.
    pub(super) fn rests(&mut self, outlet: &AcOutlet, at: usize, through: bool) -> bool {
        self.off &= !outlet.home[at];
        (self.below_h, self.off_h, self.tripped) = (0.0, f64::INFINITY, false);
        self.left = !(through && outlet.ups);
        !self.off
    }

    /// Whether what is asked for keeps it on, or wakes it, for the whole step.
    pub(super) fn stays_on(&self, outlet: &AcOutlet, asked: &OnAc) -> bool {
        let runs = outlet.outlasts_pauses(self.off_after_h) && asked.comes;
        asked.steady_w >= self.least_w || (runs && asked.steady_w + asked.most_w >= self.least_w)
    }

    /// Whether one that sleeps wakes for a load that comes and goes, while it runs.
    pub(super) fn wakes_for(&self, asked: &OnAc, running_w: f64) -> bool {
        asked.steady_w + running_w >= self.least_w
    }

    /// Takes a step, or a part of one, in which so much is asked for throughout.
    ///
    /// * `at` — step of the day; `hours_h` — how long the station feeds the loads \[h\]; `each` — is told for how long the outlet
    ///   stays on or off, stretch by stretch \[h\].
    pub(super) fn take(
        &mut self,
        outlet: &AcOutlet,
        asked: &OnAc,
        (at, hours_h): (usize, f64),
        each: &mut impl FnMut(f64, bool),
    ) {
        if std::mem::take(&mut self.tripped) && outlet.alone && !outlet.comes_back {
            (self.off, self.off_h) = (true, f64::INFINITY);
        }
        if std::mem::take(&mut self.left) && outlet.alone {
            (self.off, self.off_h) = (true, f64::INFINITY);
        }
        let missed = asked.asks();
        let keeps = outlet.sleeps || self.stays_on(outlet, asked);
        if keeps {
            self.below_h = 0.0;
        }
        if !missed {
            self.off_h = f64::INFINITY;
        }
        let mut left_h = hours_h;
        while left_h > ROUNDING_H {
            let stretch_h = match (self.off, outlet.home[at] && missed) {
                (true, false) => left_h,
                (true, true) => NOTICED_AFTER_H - self.off_h,
                (false, _) if keeps => left_h,
                (false, _) => self.off_after_h - self.below_h,
            };
            if stretch_h <= ROUNDING_H {
                // Somebody switches it on, or it has been on for long enough.
                (self.off, self.below_h, self.off_h) = (!self.off, 0.0, if missed { 0.0 } else { f64::INFINITY });
                continue;
            }
            let stretch_h = stretch_h.min(left_h);
            each(stretch_h, !self.off);
            if self.off {
                self.off_h += stretch_h;
            } else if !keeps {
                self.below_h += stretch_h;
            }
            left_h -= stretch_h;
        }
    }
}

/// What some loads ask of the AC outlet in a step.
#[derive(Debug, Clone, Copy, Default)]
pub struct AcAsked {
    asked: OnAc,
    /// The least that one which comes and goes draws while it runs \[W\].
    least_w: f64,
}

impl AcAsked {
    /// With a load more.
    ///
    /// * `day` — its day; `at` — step of it; `factor` — what it really draws over what it is said to.
    pub fn add(&mut self, load: &LoadPlan, day: &DayProfile, at: usize, factor: f64) {
        let watts = day.watts[at] * factor;
        if load.outlet != AC || watts <= 0.0 {
            return;
        }
        if load.asks.is_some() || day.variance_w2[at] > 0.0 {
            let running_w = load.running_w * factor;
            self.least_w = if self.asked.comes { self.least_w.min(running_w) } else { running_w };
            (self.asked.most_w, self.asked.comes) = (self.asked.most_w.max(running_w), true);
        } else {
            self.asked.steady_w += watts;
        }
    }
}

/// The AC outlet of a kit through a time in which some loads alone run, switched on at its beginning.
#[derive(Debug)]
pub struct AcWatch<'a> {
    outlet: &'a AcOutlet,
    state: AcState,
}

impl<'a> AcWatch<'a> {
    /// Of one kit; `None` where there is no such outlet.
    #[must_use]
    pub fn new(plan: &'a Plan, rig: &Rig) -> Option<AcWatch<'a>> {
        let on = |outlet| AcState { off: false, ..AcState::begin(outlet, rig) };
        plan.ac.as_ref().map(|outlet| AcWatch { outlet, state: on(outlet) })
    }

    /// Takes a step; says whether something that asks is in the dark.
    ///
    /// * `at` — step of the day.
    pub fn leaves_dark(&mut self, asked: &AcAsked, at: usize) -> bool {
        let AcAsked { asked, least_w } = asked;
        let step_h = 24.0 / self.outlet.home.len() as f64;
        let mut is_off = false;
        self.state.take(self.outlet, asked, (at, step_h), &mut |_, on| is_off |= !on);
        let sleeps = self.outlet.sleeps && !self.state.stays_on(self.outlet, asked);
        let wakes_for_all = asked.steady_w <= 0.0 && (!asked.comes || self.state.wakes_for(asked, *least_w));
        asked.asks() && (is_off || (sleeps && !wakes_for_all))
    }
}

impl Plan {
    /// Whether the AC outlet can ever be off while something asks for it.
    pub(super) fn ac_matters(&self) -> bool {
        let Some(outlet) = &self.ac else { return false };
        let on_ac = || self.loads.iter().filter(|load| load.outlet == AC && !load.never_runs());
        if outlet.alone {
            return on_ac().next().is_some();
        }
        if outlet.least_w <= 0.0 {
            return false;
        }
        self.least_on_ac(false).is_some_and(|(watts, ..)| watts < outlet.least_w)
    }

    /// Whether the AC outlet's draw counts while it is off: nobody has told when it goes off, so nothing is saved by it.
    #[inline(always)]
    pub(super) fn ac_idles(&self) -> bool {
        self.ac.as_ref().is_some_and(|ac| ac.assumed)
    }

    /// Whether the AC outlet may sleep, or switch itself off, under what asks for it.
    #[must_use]
    pub fn little_on_ac(&self) -> bool {
        let least_w = self.ac.as_ref().map_or(0.0, |outlet| outlet.least_w);
        self.least_on_ac(true).is_some_and(|(watts, ..)| watts < least_w)
    }

    /// The least that the AC outlet has to stay on for, or to wake for, in a step of any day in which a load asks for it \[W\],
    /// the step, and the loads. What comes and goes counts where it keeps the outlet on, and by itself beside the rest where
    /// it has to wake it.
    ///
    /// * `usually` — whether what asks by its own state counts as on its usual day; otherwise it may stand still for long.
    #[must_use]
    pub fn least_on_ac(&self, usually: bool) -> Option<(f64, usize, Vec<usize>)> {
        let outlet = self.ac.as_ref()?;
        let mut least: Option<(f64, usize, Vec<usize>)> = None;
        let mut take = |watts: f64, step: usize, loads: Vec<usize>| {
            if least.as_ref().is_none_or(|(least_w, ..)| watts < *least_w) {
                least = Some((watts, step, loads));
            }
        };
        for step in 0..self.season.steps_a_day {
            for weekday in 0..if self.loads.iter().any(|load| load.week.is_some()) { 7 } else { 1 } {
                let (mut steady, mut sure_w, mut pass, mut keeps_w) = (Vec::new(), 0.0, Vec::new(), 0.0_f64);
                let counts = outlet.outlasts_pauses(outlet.off_after_h);
                for (k, load) in
                    self.loads.iter().enumerate().filter(|(_, load)| load.outlet == AC && !load.never_runs())
                {
                    let day = load.day(weekday);
                    if load.asks.is_none() && day.watts[step] <= 0.0 {
                        continue;
                    }
                    // A cautious day of a load that is not known or varies; one that a rule switches off may be off.
                    let few = (1.0 - FAR * load.watts_sd).max(0.0)
                        * exp(-FAR * load.day_sigma - 0.5 * load.day_sigma * load.day_sigma);
                    let ruled = load.off_below > f64::NEG_INFINITY || load.off_from_step < usize::MAX;
                    if load.asks.is_some() || day.variance_w2[step] > 0.0 {
                        let watts = load.running_w * if load.asks.is_some() { 1.0 } else { few };
                        let stands = ruled || (load.asks.is_some() && !(usually && day.watts[step] > 0.0));
                        keeps_w = if counts && !stands { keeps_w.max(watts) } else { keeps_w };
                        pass.push((k, watts));
                    } else {
                        steady.push(k);
                        sure_w += if ruled { 0.0 } else { day.watts[step] / self.fed(step) * few };
                    }
                }
                if !steady.is_empty() {
                    take(sure_w + keeps_w, step, steady);
                }
                for (k, watts) in pass {
                    let alone_w = if counts || outlet.sleeps { watts } else { 0.0 };
                    take(sure_w + alone_w.max(keeps_w), step, vec![k]);
                }
            }
        }
        least
    }
}

#[cfg(test)]
mod tests;
