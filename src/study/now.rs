//! The power is out: how long does it last from here, and what should be switched off?

use std::sync::Arc;

use jiff::civil::Date;
use serde::Serialize;

use crate::engine::lanes::{Ended, Manner, Sink};
use crate::engine::plan::{LONGEST_OUTAGE_H, whole_steps};
use crate::engine::{LoadPlan, Plan, Season};
use crate::scenario::model::{Begins, Lasts, Outage, Scenario};
use crate::trials::Settings;
use crate::trials::interval::Interval;
use crate::trials::run::{Progress, run_by, side_by_side, waiting};
use crate::trials::tally::{Tally, count_quantile};
use crate::trials::unknowns::{ENOUGH, survival_under};
use crate::units::{Fraction, Hours, Uncertain, WattHours};
use crate::weather::{Bands, Opening, STORM_DARKEST, STORM_DAYS};

/// Horizons that are told \[h\].
pub const HORIZONS_H: [f64; 4] = [12.0, 24.0, 48.0, 72.0];

/// How far ahead is looked at least \[h\].
pub const AHEAD_H: f64 = 4.0 * 24.0;

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

/// The moment by which is judged whether things last.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Until {
    /// So many hours from now, as asked.
    Asked {
        /// Hours from now.
        hours_h: f64,
    },
    /// As long as the scenario's outage lasts.
    OwnLength {
        /// Hours from now.
        hours_h: f64,
    },
    /// What is left of the scenario's outage, which is under way.
    WhatIsLeft {
        /// Hours from now.
        hours_h: f64,
    },
    /// As long as nineteen of twenty of the scenario's outages last.
    OneInTwenty {
        /// Hours from now.
        hours_h: f64,
    },
}

impl Until {
    /// What a scenario's own outage makes of it.
    #[must_use]
    pub fn of(outage: &Outage, standing: &Situation) -> Until {
        match outage.lasts {
            Lasts::Fixed(Hours(length_h)) => match begun_h(outage, standing) {
                Some(gone_h) if gone_h < length_h => Until::WhatIsLeft { hours_h: length_h - gone_h },
                _ => Until::OwnLength { hours_h: length_h },
            },
            Lasts::LogNormal { p95, .. } => Until::OneInTwenty { hours_h: p95.0.min(LONGEST_OUTAGE_H) },
        }
    }

    /// Hours from now.
    #[must_use]
    pub fn hours(&self) -> f64 {
        match *self {
            Until::Asked { hours_h }
            | Until::OwnLength { hours_h }
            | Until::WhatIsLeft { hours_h }
            | Until::OneInTwenty { hours_h } => hours_h,
        }
    }

    /// The horizons that are told \[h\], in order: this one, and those of [`HORIZONS_H`] that are nearest before it, or behind.
    #[must_use]
    pub fn horizons_h(&self) -> [f64; 4] {
        let until_h = self.hours();
        let mut told = HORIZONS_H;
        let place = told.iter().position(|hours| (hours - until_h).abs() < 1e-9);
        if place.is_none() {
            told[if until_h > HORIZONS_H[3] { 0 } else { 3 }] = until_h;
            told.sort_by(f64::total_cmp);
        }
        told
    }
}

/// Hours since the scenario's outage began at a time that it names; `None` where the moment is no part of it, or it names none.
fn begun_h(outage: &Outage, standing: &Situation) -> Option<f64> {
    let Begins::At { year, month, day, minute_of_day } = outage.begins else { return None };
    let date = |year: i16, month: u8, day: u8| Date::new(year, month as i8, day as i8).ok();
    let (began, now) = date(year, month, day).zip(date(standing.year, standing.month, standing.day))?;
    let days = now.since(began).ok()?.get_days();
    let hours = f64::from(days) * 24.0 + (f64::from(standing.minute_of_day) - f64::from(minute_of_day)) / 60.0;
    let longest_h = match outage.lasts {
        Lasts::Fixed(hours) => hours.0,
        Lasts::LogNormal { .. } => LONGEST_OUTAGE_H,
    };
    (0.0..=longest_h).contains(&hours).then_some(hours)
}

/// What the sky is assumed to be from here on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AssumedSky {
    /// Any weather of the season.
    Any,
    /// So many dark days, today the first: what is left of those that the scenario's outage begins with.
    Storm {
        /// Dark days left, 1 or more.
        days: u32,
    },
    /// Any weather of the season: the dark days that the scenario's outage begins with are past.
    StormPast,
    /// As told, today first.
    Told(Bands),
}

impl AssumedSky {
    /// What a scenario's own outage makes of the sky at a time: as the scenario says; where its outage began some days ago at
    /// a time that it names, what is left of its dark days. A time that is no part of that outage begins one like it.
    #[must_use]
    pub fn of(outage: &Outage, standing: &Situation) -> AssumedSky {
        if !outage.begins_in_a_storm {
            return AssumedSky::Any;
        }
        let whole = AssumedSky::Storm { days: STORM_DAYS };
        let Begins::At { minute_of_day, .. } = outage.begins else { return whole };
        let Some(hours) = begun_h(outage, standing) else { return whole };
        // Midnights since the day on which it began.
        let days = ((hours + f64::from(minute_of_day) / 60.0) / 24.0 + 1e-9) as u32;
        match STORM_DAYS.saturating_sub(days) {
            0 => AssumedSky::StormPast,
            days => AssumedSky::Storm { days },
        }
    }

    /// How the weather begins.
    #[must_use]
    pub fn opening(&self) -> Opening {
        match *self {
            AssumedSky::Any | AssumedSky::StormPast => Opening::Any,
            AssumedSky::Storm { days } => Opening::Storm { days, darkest: STORM_DARKEST },
            AssumedSky::Told(bands) => Opening::Outlook(bands),
        }
    }
}

/// Where things stand.
#[derive(Debug, Clone, PartialEq)]
pub struct Situation {
    /// State of charge that the station shows, 0 to 1.
    pub charge: f64,
    /// What that may be off by, 95 % half-width.
    pub charge_plus_minus: f64,
    /// Calendar year, 1900 to 2100.
    pub year: i16,
    /// Month, 1 to 12.
    pub month: u8,
    /// Day of the month, 1 to 31.
    pub day: u8,
    /// Minutes after midnight.
    pub minute_of_day: u16,
}

impl Situation {
    /// A scenario's outage from here on: begun now, with what the station shows, as long as is looked ahead. What the vital
    /// loads may miss is used up: nobody knows how much of it is left.
    #[must_use]
    pub fn from_here(&self, scenario: &Scenario, until: &Until) -> Scenario {
        let &Situation { charge, charge_plus_minus, year, month, day, minute_of_day } = self;
        let outage = Outage {
            begins: Begins::At { year, month, day, minute_of_day },
            lasts: Lasts::Fixed(Hours(AHEAD_H.max(until.hours()))),
            starts_charged: Uncertain::new(Fraction(charge), charge_plus_minus),
            allow_unmet: WattHours(0.0),
            ..scenario.outage.clone()
        };
        Scenario { outage, ..scenario.clone() }
    }
}

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
    /// Vital loads alone, some of them four hours on and four off.
    ByTurns {
        /// Their names.
        loads: Vec<String>,
    },
    /// One vital load alone.
    Only {
        /// Its name.
        load: String,
    },
}

/// What to do, and how long the vital loads last with it.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// What to do.
    pub action: Action,
    /// Names of the loads that it counts on as vital.
    pub keeps: Vec<String>,
    /// Names of coolers among them that are judged by their food: they may stand still as long as it keeps.
    pub keeps_food: Vec<String>,
    /// Share of the trials in which they last at least as long as each of the horizons told, with the 95 % interval of chance and
    /// what is not known together.
    pub lasts: [(f64, Interval); 4],
    /// Hours that half of the trials last at least; `None` for longer than looked ahead.
    pub half_last_h: Option<f64>,
    /// Hours that nine of ten trials last at least; `None` for longer than looked ahead.
    pub nine_of_ten_last_h: Option<f64>,
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
    /// Courses: the present plan first, then ever less switched on.
    pub courses: Vec<Course>,
    /// For each course but the first: the latest time from now \[h\] at which it can begin and still be as good as now, to
    /// a point of survival at `judged_h`; `None` where even the first delay costs more.
    pub latest_h: Vec<Option<f64>>,
    /// The horizons that are told \[h\], [`Until::horizons_h`].
    pub horizons_h: [f64; 4],
    /// Which of them is judged by.
    pub judged: usize,
    /// How far ahead was looked \[h\].
    pub ahead_h: f64,
    /// Length of a step \[h\].
    pub step_h: f64,
    /// Index of the course that keeps all vital loads on longest, the one that gives up least where they are not told apart.
    pub best: usize,
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
}

/// The plan under an assumed sky.
fn under(plan: &Plan, sky: &AssumedSky) -> Plan {
    let mut plan = plan.clone();
    let opening = sky.opening();
    if opening != plan.season.opening {
        plan.season = Arc::new(Season { weather: plan.season.weather.clone(), opening, ..*plan.season });
    }
    plan
}

/// Whether a load runs in a pattern of its own, so that it can be run four hours on and four off. A load that asks by its
/// state would only ask for more in the hours that are left to it.
fn by_turns(plan: &Plan, load: usize) -> bool {
    let load = &plan.loads[load];
    load.asks.is_none() && load.profile.variance_w2.iter().all(|&v| v > 0.0)
}

/// The courses worth telling: what is off, and which loads still count as vital.
fn courses(plan: &Plan) -> Vec<(Action, Plan)> {
    let mut list = vec![(Action::AsPlanned, plan.clone())];
    let classes = |plan: &Plan, below: usize| {
        let mut plan = plan.clone();
        plan.loads.retain(|load| load.class < below);
        plan.mind_rules();
        plan
    };
    let has = |class: usize| plan.loads.iter().any(|load| load.class == class);
    if has(2) {
        list.push((Action::SpareOff, classes(plan, 2)));
    }
    if has(1) {
        list.push((if has(2) { Action::SpareAndUsefulOff } else { Action::UsefulOff }, classes(plan, 1)));
    }
    let vital = classes(plan, 1);
    let cycling: Vec<usize> = (0..vital.loads.len()).filter(|&k| by_turns(&vital, k)).collect();
    if !cycling.is_empty() {
        let mut turns = vital.clone();
        let steps = plan.season.steps_a_day;
        let loads: Vec<String> = cycling.iter().map(|&k| turns.loads[k].name.clone()).collect();
        for &k in &cycling {
            let load = &mut turns.loads[k];
            let days = load.week.iter_mut().flat_map(|days| days.iter_mut());
            for day in days.chain([&mut load.profile]) {
                // Four hours on, four off, from midnight.
                for at in (0..steps).filter(|at| (at * 24 / steps / 4) % 2 == 1) {
                    day.watts[at] = 0.0;
                    day.variance_w2[at] = 0.0;
                }
            }
        }
        turns.mind_rules();
        list.push((Action::ByTurns { loads }, turns));
    }
    if vital.loads.len() > 1 {
        for k in 0..vital.loads.len() {
            let mut only = vital.clone();
            only.loads = vec![vital.loads[k].clone()];
            only.mind_rules();
            list.push((Action::Only { load: vital.loads[k].name.clone() }, only));
        }
    }
    list
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

/// Trials of one plan, one by one: when each failed, how clearly it did not, and the numbers behind what is not known.
#[derive(Clone, Default)]
struct Histories {
    failed: Vec<Option<u32>>,
    lowest_charge: Vec<f32>,
    unknowns: Vec<f32>,
}

/// A trial of one of several plans, and of it what [`Histories`] keep.
struct Row {
    plan: usize,
    trial: usize,
    failed: Option<u32>,
    lowest_charge: f32,
    unknowns: Vec<f32>,
}

/// Trials as they come.
#[derive(Default)]
struct Heap(Vec<Row>);

impl Sink for Heap {
    fn outcome(&mut self, plan: usize, ended: &Ended<'_>) {
        self.0.push(Row {
            plan,
            trial: ended.trial.rng.trial as usize,
            failed: ended.outcome.failure.map(|(step, _)| step),
            lowest_charge: ended.outcome.lowest_charge as f32,
            unknowns: ended.unknowns.iter().map(|&z| z as f32).collect(),
        });
    }
}

/// The first trials of each plan, one by one.
fn histories(plans: &[Plan], seed: u64, trials: u64) -> Vec<Histories> {
    let count = trials as usize;
    let empty = Histories { failed: vec![None; count], lowest_charge: vec![0.0; count], unknowns: Vec::new() };
    let mut all = vec![empty; plans.len()];
    let Some(season) = plans.first().map(|plan| &plan.season) else { return all };
    let numbered: Vec<(usize, &Plan)> = plans.iter().enumerate().collect();
    let waiting = waiting(season, seed, 0..trials);
    for Heap(heap) in side_by_side(&numbered, &waiting, &Manner::default(), Heap::default) {
        for Row { plan, trial, failed, lowest_charge, unknowns } in heap {
            let kept = &mut all[plan];
            kept.unknowns.resize(count * unknowns.len(), 0.0);
            kept.unknowns[trial * unknowns.len()..][..unknowns.len()].copy_from_slice(&unknowns);
            (kept.failed[trial], kept.lowest_charge[trial]) = (failed, lowest_charge);
        }
    }
    all
}

impl Histories {
    /// Share of counted trials that last so long, with the interval of chance, what is not known, and how few
    /// the years of a record are.
    fn lasting(&self, plan: &Plan, lasted: u64, trials: u64, steps: u32) -> (f64, Interval) {
        let outcomes: Vec<bool> = self.failed.iter().map(|failed| failed.is_none_or(|step| step >= steps)).collect();
        // The later a trial failed, the more clearly it lasted; one that never failed, by its lowest charge.
        let margins: Vec<f32> = self
            .failed
            .iter()
            .zip(&self.lowest_charge)
            .map(|(failed, charge)| failed.map_or(1e6 + charge, |step| step as f32))
            .collect();
        let told = survival_under(plan, lasted, trials, &margins, &outcomes, &self.unknowns);
        (told.probability, told.interval)
    }
}

/// Looks ahead. `None` where the run was stopped before a single trial was done.
///
/// * `plan` — that of the scenario from here on, [`Situation::from_here`]; `sky` — what is assumed of the sky; `until` — by when it is judged.
pub fn now(
    plan: &Plan,
    (sky, until): (&AssumedSky, &Until),
    settings: &Settings,
    progress: &impl Progress,
) -> Option<Outlook> {
    let horizons_h = until.horizons_h();
    let here = under(plan, sky);
    let step_h = here.season.step_h;
    let list = courses(&here);
    // Courses that keep every vital load on as it is: the present one and those that only drop spare and useful loads.
    let full = 1 + [1, 2].into_iter().filter(|&class| here.loads.iter().any(|l| l.class == class)).count();
    let mut plans: Vec<Plan> = list.iter().map(|(_, plan)| plan.clone()).collect();
    for (_, course) in &list[1..full] {
        // What the course leaves off, left off from later on.
        let stays = |load: &LoadPlan| course.loads.iter().any(|kept| kept.stream == load.stream);
        for hours in LATER_H {
            let mut plan = here.clone();
            for load in plan.loads.iter_mut().filter(|load| !stays(load)) {
                load.off_from_step = load.off_from_step.min(whole_steps(hours, step_h));
            }
            plan.mind_rules();
            plans.push(plan);
        }
    }
    let tallies = run_by(&plans, settings, progress, LOOK);
    let trials = tallies.first().map(|tally| tally.trials).filter(|&n| n > 0)?;
    let stopped_early = progress.stop() && trials < settings.trials;
    // Whoever stopped it waits: no more than is needed.
    let read_off = if stopped_early { ENOUGH } else { READ_OFF };
    let one_by_one = histories(&plans[..list.len()], settings.seed, trials.clamp(ENOUGH, read_off));
    let courses: Vec<Course> = list
        .iter()
        .zip(tallies.iter().zip(&one_by_one))
        .map(|((action, plan), (tally, histories))| Course {
            action: action.clone(),
            keeps: plan.loads.iter().filter(|l| l.class == 0).map(|l| l.name.clone()).collect(),
            keeps_food: plan
                .loads
                .iter()
                .filter(|l| l.class == 0 && l.asks.as_ref().is_some_and(|asks| !asks.counts_energy()))
                .map(|l| l.name.clone())
                .collect(),
            lasts: horizons_h.map(|hours| {
                let steps = whole_steps(hours, step_h) as u32;
                histories.lasting(plan, lasting(tally, hours, step_h), trials, steps)
            }),
            half_last_h: last_at_least(tally, 0.5, step_h),
            nine_of_ten_last_h: last_at_least(tally, 0.9, step_h),
        })
        .collect();
    let until_at = horizons_h.iter().position(|hours| (hours - until.hours()).abs() < 1e-9).unwrap_or(3);
    // Where nobody asked for a moment, the horizon at which the present plan is neither sure to last nor sure to fail tells
    // most, up to the end of the scenario's outage.
    let unsure = |k: &usize| (lasting(&tallies[0], horizons_h[*k], step_h) as f64) < LASTS * trials as f64;
    let judged = match until {
        Until::Asked { .. } => until_at,
        _ => (0..until_at).find(unsure).unwrap_or(until_at),
    };
    let judged_h = horizons_h[judged];
    let kept: Vec<u64> = tallies[..full].iter().map(|tally| lasting(tally, judged_h, step_h)).collect();
    let most = kept.iter().copied().max().unwrap_or(0);
    let little = COSTS_LITTLE * trials as f64;
    let best = if most as f64 > little {
        kept.iter().position(|&k| k as f64 >= most as f64 - little).unwrap_or(0)
    } else {
        // Nothing lasts that long: what lasts longest, the one that gives up least where none does.
        let half = |k: usize| courses[k].half_last_h.unwrap_or(f64::INFINITY);
        (0..full).fold(0, |best, k| if half(k) > half(best) { k } else { best })
    };
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
    Some(Outlook {
        courses,
        latest_h,
        horizons_h,
        judged,
        ahead_h: here.longest() as f64 * step_h,
        step_h,
        best,
        trials,
        asked: settings.trials,
        stopped_early,
    })
}
