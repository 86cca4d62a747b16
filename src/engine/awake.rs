//! The AC outlet that is not always on: one that switches itself off under a small load or when it cannot give what is asked
//! for, and stays off until somebody switches it on again; an inverter that sleeps until enough asks for it.

use super::load::LoadPlan;
use super::plan::Plan;
use crate::loads::{DayProfile, coverage};
use crate::random::polynomials::exp;
use crate::scenario::model::{ClockWindow, Inverter};

/// Index of the AC outlet.
pub(super) const AC: usize = 0;

/// A compressor stands still for less than this between two runs \[h\]. Common practice, no source.
const LONGEST_PAUSE_H: f64 = 1.0;

/// Days further from the mean than so many standard deviations are not looked for when it is asked whether small loads can ever
/// be too small.
const FAR: f64 = 4.0;

/// When the AC outlet is on.
#[derive(Debug, Clone, PartialEq)]
pub struct AcOutlet {
    /// Least load that wakes it, or keeps it on \[W\].
    pub least_w: f64,
    /// Steps that it stays on under less; `None` where it sleeps and wakes by itself.
    pub(super) off_after: Option<usize>,
    /// Whether it outlasts the pauses of what comes and goes.
    pub(super) outlasts_pauses: bool,
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
        let step_h = 24.0 / home.len() as f64;
        let stays = &inverter.stays;
        AcOutlet {
            least_w: stays.least.0,
            // Part of a step is not counted on.
            off_after: (!inverter.sleeps).then_some((stays.off_after.0 / step_h + 1e-9) as usize),
            outlasts_pauses: stays.off_after.0 >= LONGEST_PAUSE_H,
            ups: stays.ups,
            comes_back: stays.comes_back,
            alone: home.iter().any(|home| !home),
            home: home.to_vec(),
            matters: false,
        }
    }

    /// Whether what is asked for keeps it on, or wakes it, for the whole step.
    pub(super) fn stays_on(&self, asked: &OnAc) -> bool {
        let runs = self.off_after.is_some() && self.outlasts_pauses && asked.comes;
        asked.steady_w >= self.least_w || (runs && asked.steady_w + asked.most_w >= self.least_w)
    }

    /// Whether one that sleeps wakes for a load that comes and goes, while it runs.
    pub(super) fn wakes_for(&self, asked: &OnAc, running_w: f64) -> bool {
        asked.steady_w + running_w >= self.least_w
    }
}

/// The state of the outlet in one lane.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct AcState {
    /// Whether it is off until somebody switches it on.
    off: bool,
    /// Steps that it has been on under too small a load.
    below: usize,
    /// Whether it could not give what was asked for in the last step.
    pub tripped: bool,
}

impl AcState {
    /// As the mains fails.
    pub(super) fn begin(outlet: &AcOutlet) -> AcState {
        AcState { off: outlet.alone && !outlet.ups, ..AcState::default() }
    }

    /// Takes a step in which so much is asked for; says whether the outlet is off in it.
    ///
    /// * `at` — step of the day.
    pub(super) fn step(&mut self, outlet: &AcOutlet, asked: &OnAc, at: usize) -> bool {
        let tripped = std::mem::take(&mut self.tripped);
        self.off |= tripped && outlet.alone && !outlet.comes_back;
        if self.off && outlet.home[at] && asked.asks() {
            // Somebody who misses something switches it on.
            (self.off, self.below) = (false, 0);
        }
        if self.off {
            return true;
        }
        let Some(off_after) = outlet.off_after else { return false };
        if outlet.stays_on(asked) {
            self.below = 0;
        } else if self.below < off_after {
            self.below += 1;
        } else {
            self.off = true;
        }
        self.off
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
    /// `None` where there is no such outlet.
    #[must_use]
    pub fn new(plan: &'a Plan) -> Option<AcWatch<'a>> {
        plan.ac.as_ref().map(|outlet| AcWatch { outlet, state: AcState::default() })
    }

    /// Takes a step; says whether something that asks is in the dark.
    ///
    /// * `at` — step of the day.
    pub fn leaves_dark(&mut self, asked: &AcAsked, at: usize) -> bool {
        let AcAsked { asked, least_w } = asked;
        let is_off = self.state.step(self.outlet, asked, at);
        let sleeps = self.outlet.off_after.is_none() && !self.outlet.stays_on(asked);
        let wakes_for_all = asked.steady_w <= 0.0 && (!asked.comes || self.outlet.wakes_for(asked, *least_w));
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
                let counts = outlet.off_after.is_some() && outlet.outlasts_pauses;
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
                        sure_w += if ruled { 0.0 } else { day.watts[step] * few };
                    }
                }
                if !steady.is_empty() {
                    take(sure_w + keeps_w, step, steady);
                }
                for (k, watts) in pass {
                    let alone_w = if counts || outlet.off_after.is_none() { watts } else { 0.0 };
                    take(sure_w + alone_w.max(keeps_w), step, vec![k]);
                }
            }
        }
        least
    }
}
