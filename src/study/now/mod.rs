//! The power is out: how long does it last from here, and what should be switched off?

mod courses;
mod generator;
mod histories;
mod moves;
mod standing;

use serde::Serialize;

use crate::engine::plan::whole_steps;
use crate::engine::{LoadPlan, Plan, TrialSeed};
use crate::scenario::Scenario;
use crate::study::device;
use crate::study::verdict::EVEN;
use crate::trials::Settings;
use crate::trials::interval::Interval;
use crate::trials::run::{Progress, run_by};
use crate::trials::tally::{Tally, count_quantile};
use crate::trials::unknowns::ENOUGH;
use courses::{Way, courses, under, worth_sparing};
pub use generator::GeneratorRun;
use generator::run_from_here;
use histories::{Histories, histories};
pub use moves::{AllMoves, Move};
use moves::{Best, moves};
pub use standing::{AssumedSky, Situation, Until};

/// Horizons that are told \[h\].
pub const HORIZONS_H: [f64; 4] = [12.0, 24.0, 48.0, 72.0];

/// Survival that shedding later may cost before it is too late.
pub const COSTS_LITTLE: f64 = 0.01;

/// Most trials that what is not known is read off.
const READ_OFF: u64 = 4_000;

/// Survival at the judged horizon from which a course is said to last.
pub const LASTS: f64 = 0.95;

/// Hours from now at which shedding later is tried.
const LATER_H: [f64; 8] = [1.0, 2.0, 4.0, 6.0, 9.0, 12.0, 18.0, 24.0];

/// Trials between two looks at whether to stop: all courses and delays go through each of them.
const LOOK: u64 = 2_000;

/// What to do from here on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Action {
    /// Nothing else than the plan says.
    AsPlanned,
    /// Spare loads off.
    SpareOff,
    /// Useful loads off, where none is spare.
    UsefulOff,
    /// Spare and useful loads off.
    SpareAndUsefulOff,
    /// One vital load alone.
    Only {
        /// Its name.
        load: String,
    },
    /// Every vital load but one.
    AllBut {
        /// The name of that one.
        load: String,
    },
    /// The devices alone that a person's health hangs on.
    OnlyDevices {
        /// Their names.
        loads: Vec<String>,
    },
}

/// What to do, and how long the vital loads last with it.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// What to do.
    pub action: Action,
    /// When the generator runs instead of at the scenario's hours; `None` for these.
    pub generator: Option<GeneratorRun>,
    /// Whether it keeps every vital load on.
    pub whole: bool,
    /// Names of the loads that it counts on as vital.
    pub keeps: Vec<String>,
    /// Names of coolers among them that are judged by their food: they may stand still as long as it keeps.
    pub keeps_food: Vec<String>,
    /// Share of the trials in which they last at least as long as each of the horizons told, with the 95 % interval of chance and
    /// what is not known together.
    pub lasts: [(f64, Interval); 4],
    /// The same of the devices that a person's health hangs on, whatever else goes without; `None` where there are none. Read
    /// off as many trials as what is not known is.
    pub device_lasts: Option<[(f64, Interval); 4]>,
    /// Hours that half of the trials last at least, to the step in which something is missed (see [`InUse::until_h`]); `None` for longer than looked ahead.
    pub half_last_h: Option<f64>,
    /// Hours that nine of ten trials last at least, to the step in which something is missed; `None` for longer than looked ahead.
    pub nine_of_ten_last_h: Option<f64>,
    /// Whether the AC outlet may go off by itself under so little as it leaves on: the trials count that.
    pub little_on_ac: bool,
    /// When what it keeps is asked for.
    pub in_use: InUse,
}

/// When some loads are asked for, step by step from now on.
#[derive(Debug, Clone, PartialEq)]
pub struct InUse {
    /// Whether any is, in each step.
    pub steps: Vec<bool>,
    /// Length of a step \[h\].
    pub step_h: f64,
}

impl InUse {
    /// Of the vital loads of a plan that begins now.
    fn of(plan: &Plan, seed: u64) -> InUse {
        let kept = || plan.loads.iter().filter(|load| load.class == 0);
        let always = kept().next().is_none() || kept().any(|load| load.asks.is_some());
        let begins = plan.season.begins(TrialSeed { seed, trial: 0 });
        let a_day = plan.season.steps_a_day;
        let asked = |step: usize| {
            let (day, at) = ((begins.weekday + step / a_day) % 7, step % a_day);
            always || kept().any(|load| load.day(day).watts[at] > 0.0)
        };
        let ahead = begins.first_step..begins.first_step + plan.longest();
        InUse { steps: ahead.map(asked).collect(), step_h: plan.season.step_h }
    }

    /// Hours from now until the last use before a time ends: what fails as it is next asked for may have been empty since.
    #[must_use]
    pub fn until_h(&self, hours: f64) -> f64 {
        let before = whole_steps(hours, self.step_h).min(self.steps.len());
        let last = self.steps[..before].iter().rposition(|asked| *asked);
        if last.map(|at| at + 1) == Some(before) { hours } else { last.map_or(0.0, |at| (at + 1) as f64 * self.step_h) }
    }

    /// Hours from now until something is asked for, from a time on; that time where nothing more is.
    #[must_use]
    pub fn next_h(&self, hours: f64) -> f64 {
        let from = whole_steps(hours, self.step_h).min(self.steps.len());
        let next = self.steps[from..].iter().position(|asked| *asked);
        next.map_or(hours, |later| (from + later) as f64 * self.step_h)
    }
}

impl Course {
    /// Hours to count on: those that nine of ten trials last at least; where a person's health hangs on it, no longer than the
    /// last horizon that nine of ten still reach by the lower end of its range. `None` for longer than looked ahead.
    #[must_use]
    pub fn count_on_h(&self, horizons_h: &[f64; 4], health: bool) -> Option<f64> {
        let reached = |at: usize| self.nine_of_ten_last_h.is_none_or(|hours| hours >= horizons_h[at]);
        let short = (0..4).find(|&at| health && self.lasts[at].1.low < 0.9 && reached(at));
        short.map_or(self.nine_of_ten_last_h, |at| Some(at.checked_sub(1).map_or(0.0, |before| horizons_h[before])))
    }
}

/// The answer of `now`.
#[derive(Debug, Clone)]
pub struct Outlook {
    /// What can be done: the present plan first, then with spare and then with useful loads off too, the first and the last of
    /// these with the generator run from here on, and behind them what keeps one thing, or the devices, alone.
    pub courses: Vec<Course>,
    /// For each course but the first, as far as they keep every vital load on at the scenario's hours of the generator: the latest time from now \[h\] at which it can begin and still be as good as now, to
    /// a point of survival at `judged_h`; `None` where even the first delay costs more.
    pub latest_h: Vec<Option<f64>>,
    /// The horizons that are told \[h\], [`Until::horizons_h`].
    pub horizons_h: [f64; 4],
    /// Which of them is judged by.
    pub judged: usize,
    /// How far ahead was looked \[h\]: as far as the last horizon.
    pub ahead_h: f64,
    /// Length of a step \[h\].
    pub step_h: f64,
    /// Index of the course that keeps all vital loads on longest, the one that gives up least where they are not told apart.
    pub best: usize,
    /// Index of the course that keeps only devices on, where a person's health hangs on them and it lets them last clearly more
    /// often than the best of those that keep everything vital on: it comes first.
    pub first: Option<usize>,
    /// Names of the loads that a person's health hangs on.
    pub devices: Vec<String>,
    /// Free changes beside what is on or off that help the best course, those that leave nothing vital dark first, of them the most helpful; none where the run was stopped.
    pub moves: Vec<Move>,
    /// What they come to when all are made, where they are several.
    pub moves_together: Option<AllMoves>,
    /// The plan of that course.
    pub best_plan: Plan,
    /// Names of the loads that it switches off.
    pub off: Vec<String>,
    /// What its trials came to, as far as was looked.
    pub best_tally: Tally,
    /// Trials.
    pub trials: u64,
    /// Trials asked for.
    pub asked: u64,
    /// Whether the run was stopped before its time.
    pub stopped_early: bool,
}

impl Outlook {
    /// The horizon that is judged by \[h\].
    #[must_use]
    pub fn judged_h(&self) -> f64 {
        self.horizons_h[self.judged]
    }

    /// The course to take: devices before everything else.
    #[must_use]
    pub fn advised(&self) -> &Course {
        &self.courses[self.first.unwrap_or(self.best)]
    }

    /// Whether something vital stands beside the devices that a person's health hangs on.
    #[must_use]
    pub fn devices_and_more(&self) -> bool {
        !self.devices.is_empty() && self.courses.iter().any(|course| !course.whole)
    }
}

/// Trials that had not failed by a time.
fn lasting(tally: &Tally, hours: f64, step_h: f64) -> u64 {
    let steps = whole_steps(hours, step_h);
    let failed: u64 = tally.failure_step.iter().take(steps).map(|&c| u64::from(c)).sum();
    tally.trials - failed
}

/// Hours that a share `p` of the trials last at least; `None` for longer than looked ahead.
fn last_at_least(tally: &Tally, p: f64, step_h: f64) -> Option<f64> {
    let failed = tally.trials - tally.survived;
    let share = (1.0 - p) * tally.trials as f64 / failed.max(1) as f64;
    (failed > 0 && share <= 1.0)
        .then(|| count_quantile(&tally.failure_step, share).map(|step| step as f64 * step_h))
        .flatten()
}

/// Looks ahead. `None` where the run was stopped before a single trial was done. A device that a person's health hangs on counts
/// as vital here, whatever its priority.
///
/// * `scenario`, `plan` — from here on, [`Situation::from_here`]; `sky` — what is assumed of the sky; `until` — by when it is judged.
pub fn now(
    (scenario, plan): (&Scenario, &Plan),
    (sky, until): (&AssumedSky, &Until),
    settings: &Settings,
    progress: &dyn Progress,
) -> Option<Outlook> {
    let horizons_h = until.horizons_h();
    let judged = horizons_h.iter().position(|hours| (hours - until.hours()).abs() < 1e-9).unwrap_or(3);
    let mut here = under(plan, sky);
    let step_h = here.season.step_h;
    let medical = |k: usize| device::medical(scenario, k);
    here.count_as_vital(medical);
    let device_names = device::names(&here, &medical);
    let devices = here.loads.iter().enumerate().filter(|(k, _)| medical(*k));
    let devices: Vec<u64> = devices.map(|(_, load)| load.stream).collect();
    let vital = here.keeping(|k| here.loads[k].class == 0);
    let run = run_from_here(scenario, (&vital, &devices), (&horizons_h, judged), settings);
    let spared = if devices.is_empty() {
        let plan = run.as_ref().map(|run| run.on(&vital));
        worth_sparing(plan.as_ref().unwrap_or(&vital), horizons_h[judged], settings)
    } else {
        Vec::new()
    };
    let list = courses(&here, (&devices, &spared), run.as_ref());
    // Courses that keep every vital load on as it is: the present one and those that only drop spare and useful loads.
    let full = list.iter().filter(|way| way.whole && way.generator.is_none()).count();
    let mut plans: Vec<Plan> = list.iter().map(|way| way.plan.clone()).collect();
    for course in &list[1..full] {
        // What the course leaves off, left off from later on.
        let stays = |load: &LoadPlan| course.plan.loads.iter().any(|kept| kept.stream == load.stream);
        for hours in LATER_H {
            let mut plan = here.clone();
            for load in plan.loads.iter_mut().filter(|load| !stays(load)) {
                load.off_from_step = load.off_from_step.min(whole_steps(hours, step_h));
            }
            plan.mind_rules();
            plans.push(plan);
        }
    }
    let mut tallies = run_by(&plans, settings, progress, LOOK);
    let trials = tallies.first().map(|tally| tally.trials).filter(|&n| n > 0)?;
    let stopped_early = progress.stop() && trials < settings.trials;
    // Whoever stopped it waits: no more than is needed.
    let read_off = if stopped_early { ENOUGH } else { READ_OFF };
    let one_by_one = histories(&plans[..list.len()], &devices, settings.seed, trials.clamp(ENOUGH, read_off));
    let steps = |hours: f64| whole_steps(hours, step_h) as u32;
    let course = |(way, (tally, histories)): (&Way, (&Tally, &Histories))| Course {
        action: way.action.clone(),
        generator: way.generator,
        whole: way.whole,
        keeps: way.plan.loads.iter().filter(|l| l.class == 0).map(|l| l.name.clone()).collect(),
        keeps_food: way
            .plan
            .loads
            .iter()
            .filter(|l| l.class == 0 && l.asks.as_ref().is_some_and(|asks| !asks.counts_energy()))
            .map(|l| l.name.clone())
            .collect(),
        lasts: horizons_h
            .map(|hours| histories.lasting(&way.plan, lasting(tally, hours, step_h), trials, steps(hours))),
        device_lasts: (!devices.is_empty())
            .then(|| horizons_h.map(|hours| histories.device_lasting(&way.plan, steps(hours)))),
        half_last_h: last_at_least(tally, 0.5, step_h),
        nine_of_ten_last_h: last_at_least(tally, 0.9, step_h),
        little_on_ac: way.plan.little_on_ac(),
        in_use: InUse::of(&way.plan, settings.seed),
    };
    let mut courses: Vec<Course> = list.iter().zip(tallies.iter().zip(&one_by_one)).map(course).collect();
    let judged_h = horizons_h[judged];
    let little = COSTS_LITTLE * trials as f64;
    // Of some courses the first that lasts as often as the best of them; where none lasts that long in half of the trials, as
    // often over all horizons up to that one, and where none lasts as long as the first of these, what lasts longest in half.
    let best_of = |of: &dyn Fn(&Course) -> bool| {
        let at: Vec<usize> = (0..courses.len()).filter(|&k| of(&courses[k])).collect();
        let kept = |k: usize, hours: f64| lasting(&tallies[k], hours, step_h) as f64;
        let half = |k: usize| courses[k].half_last_h.unwrap_or(f64::INFINITY);
        let best_by = |score: &dyn Fn(usize) -> f64, least: f64| {
            let most = at.iter().map(|&k| score(k)).fold(0.0, f64::max);
            let good = at.iter().copied().find(|&k| score(k) >= most - little);
            good.filter(|_| most > least)
        };
        let in_time = |k: usize| kept(k, judged_h);
        let so_far = |k: usize| horizons_h[..=judged].iter().map(|&hours| kept(k, hours)).sum();
        best_by(&in_time, EVEN * trials as f64)
            .or_else(|| best_by(&so_far, little))
            .or_else(|| at.iter().copied().reduce(|best, k| if half(k) > half(best) { k } else { best }))
    };
    let best = best_of(&|course| course.whole).unwrap_or(0);
    let alone = best_of(&|course| !course.whole).filter(|_| !devices.is_empty());
    // On the same trials, by the horizon that is judged by or an earlier one.
    let first = alone.filter(|&alone| {
        let lasted = |k: usize, at: usize| one_by_one[k].device_lasted(steps(horizons_h[at])) as f64;
        let clearly = COSTS_LITTLE * trials.clamp(ENOUGH, read_off) as f64;
        (0..=judged).any(|at| lasted(alone, at) > lasted(best, at) + clearly)
    });
    let mut latest_h = vec![None; full.saturating_sub(1)];
    for (course, latest) in latest_h.iter_mut().enumerate() {
        let at_once = lasting(&tallies[course + 1], judged_h, step_h) as f64;
        let delayed = &tallies[list.len() + course * LATER_H.len()..];
        *latest = LATER_H
            .iter()
            .zip(delayed)
            .take_while(|(_, tally)| lasting(tally, judged_h, step_h) as f64 >= at_once - little)
            .last()
            .map(|(hours, _)| *hours);
    }
    let beside = Best {
        plan: &plans[best],
        generator: courses[best].generator.and(run.as_ref()),
        histories: &one_by_one[best],
        tally: &tallies[best],
    };
    let free =
        if stopped_early { None } else { moves((scenario, &here), &beside, (&horizons_h, judged), settings, progress) };
    let (moves, moves_together) = free.unwrap_or_default();
    // One thing alone with the generator as it runs in the best of them: other hours would tell of another plan.
    let driven = courses[best].generator;
    courses.retain(|course| course.whole || !devices.is_empty() || course.generator == driven);
    let (best_plan, best_tally) = (plans.swap_remove(best), tallies.swap_remove(best));
    let kept = |stream: u64| best_plan.loads.iter().any(|load| load.stream == stream);
    let off = here
        .loads
        .iter()
        .filter(|load| !kept(load.stream) && !load.never_runs())
        .map(|load| load.name.clone())
        .collect();
    Some(Outlook {
        courses,
        latest_h,
        horizons_h,
        judged,
        ahead_h: here.longest() as f64 * step_h,
        step_h,
        best,
        first,
        devices: device_names,
        moves,
        moves_together,
        best_plan,
        off,
        best_tally,
        trials,
        asked: settings.trials,
        stopped_early,
    })
}
