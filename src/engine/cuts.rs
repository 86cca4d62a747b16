//! Power that is cut for some hours of every day: between the cuts the mains feeds the loads and charges the station.

use super::feeds::Direct;
use super::load::LoadPlan;
use super::varying::VaryingCuts;
use crate::loads::{DayProfile, coverage, week};
use crate::scenario::model::{ClockWindow, Load, Outage, Station};

/// A part of a step in which the mains is there or not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Share of the step.
    pub share: f64,
    /// Whether the mains feeds the loads and charges.
    pub on_mains: bool,
    /// What the wall charger may draw from the plug in it \[W\].
    pub wall_w: f64,
    /// Whether the AC outlet is on.
    pub ac_on: bool,
    /// What a generator gives straight to AC loads; `None` where it rests, or charges the station alone.
    pub direct: Option<Direct>,
}

/// A step of the day in which the mains goes or comes back.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Parted {
    /// In their order; none where the mains is there, or is not, throughout.
    pub parts: Vec<Part>,
    /// Share of the step in which the station feeds the loads.
    fed: f64,
}

/// Most watts that the mains gives the wall charger.
pub(super) fn mains_w(outage: &Outage, station: &Station) -> f64 {
    let charger_w = station.wall_charger.map_or(0.0, |charger| charger.limit.0);
    outage.mains_limit.map_or(charger_w, |limit| limit.0.min(charger_w))
}

/// In which steps of a day the mains is there throughout; empty where it never is.
///
/// * `varying` — the cuts, where one day's may differ from another's.
pub(super) fn mains(outage: &Outage, varying: Option<&VaryingCuts>, steps_a_day: usize) -> Vec<bool> {
    match (outage.cuts.alike(), varying) {
        (Some(cuts), _) => coverage(&cuts, steps_a_day).iter().map(|cut| *cut <= 0.0).collect(),
        (None, Some(varying)) => varying.open.iter().map(|open| !open).collect(),
        (None, None) => Vec::new(),
    }
}

/// Of each step of a day the stretches as shares of it, and whether some hours hold them.
pub(super) fn stretches(hours: &[ClockWindow], steps_a_day: usize) -> Vec<Vec<(f64, bool)>> {
    let within: Vec<bool> = coverage(hours, 1440).iter().map(|within| *within > 0.0).collect();
    let share = |stretch: &[bool], of: &[bool]| stretch.len() as f64 / of.len() as f64;
    let step = |minutes: &[bool]| minutes.chunk_by(|a, b| a == b).map(|s| (share(s, minutes), s[0])).collect();
    within.chunks(1440 / steps_a_day).map(step).collect()
}

/// The steps of a day in which the mains goes or comes back; empty where it does so between steps alone.
pub(super) fn parted(outage: &Outage, station: &Station, steps_a_day: usize) -> Vec<Parted> {
    let Some(cuts) = outage.cuts.alike() else { return Vec::new() };
    let watts = mains_w(outage, station);
    let part = |(share, cut): (f64, bool)| {
        let wall_w = if cut { 0.0 } else { watts };
        Part { share, on_mains: !cut, wall_w, ac_on: true, direct: None }
    };
    let step = |stretches: Vec<(f64, bool)>| {
        let parts: Vec<Part> = stretches.into_iter().map(part).collect();
        let fed = parts.iter().filter(|part| !part.on_mains).map(|part| part.share).sum();
        if parts.len() > 1 { Parted { parts, fed } } else { Parted { parts: Vec::new(), fed: 1.0 } }
    };
    let steps: Vec<Parted> = stretches(&cuts, steps_a_day).into_iter().map(step).collect();
    if steps.iter().any(|step| !step.parts.is_empty()) { steps } else { Vec::new() }
}

/// Lets a generator stand still in the steps that the mains is, or may be, there for any part of.
pub(super) fn rest_generator(mains: &[bool], parted: &[Parted], varying: Option<&VaryingCuts>, runs: &mut [f64]) {
    for (at, runs) in runs.iter_mut().enumerate() {
        let any = mains.get(at).is_some_and(|mains| *mains)
            || parted.get(at).is_some_and(|step| !step.parts.is_empty())
            || varying.is_some_and(|cuts| cuts.open[at]);
        *runs = if any { 0.0 } else { *runs };
    }
}

/// Lets the wall charger draw from the mains in the steps in which it is there \[W\]; as a mean over the step where it is for a part.
pub(super) fn charge_from_mains(
    outage: &Outage,
    station: &Station,
    (mains, parted): (&[bool], &[Parted]),
    wall_w: &mut [f64],
) {
    let watts = mains_w(outage, station);
    for (at, wall_w) in wall_w.iter_mut().enumerate() {
        if mains.get(at).is_some_and(|mains| *mains) {
            *wall_w = watts;
        }
        if let Some(step) = parted.get(at).filter(|step| !step.parts.is_empty()) {
            *wall_w = step.parts.iter().map(|part| part.share * part.wall_w).sum();
        }
    }
}

impl Parted {
    /// Share of the step in which the station feeds the loads; all of it where the mains does not come or go.
    pub(super) fn fed(&self) -> f64 {
        self.fed
    }
}

impl LoadPlan {
    /// Asks the station for something in the cuts alone.
    pub(super) fn spare_the_station(&mut self, load: &Load, cuts: &[ClockWindow]) {
        if cuts.is_empty() {
            return;
        }
        let steps = self.profile.watts.len();
        if self.asks.is_none() {
            let days = week(load, self.running_w, steps, cuts);
            (self.profile, self.week) = (days.mean, days.days);
            return;
        }
        let clear = |day: &mut DayProfile| {
            for (at, fed) in coverage(cuts, steps).into_iter().enumerate() {
                day.watts[at] *= fed;
                day.variance_w2[at] *= if fed > 0.0 { 1.0 } else { 0.0 };
            }
        };
        clear(&mut self.profile);
    }
}

/// What vital loads missed day by day and week by week, in lanes.
#[derive(Debug, Clone)]
pub(super) struct CutDays<const L: usize> {
    steps_a_day: u64,
    /// The last day with anything missed, and how many there were.
    last: [u64; L],
    days: [u32; L],
    /// The last week with anything missed, what was missed in it, and the most of the weeks before \[Wh\].
    week: [u64; L],
    week_wh: [f64; L],
    worst_wh: [f64; L],
}

impl<const L: usize> CutDays<L> {
    pub(super) fn new(steps_a_day: usize) -> CutDays<L> {
        CutDays {
            steps_a_day: steps_a_day as u64,
            last: [u64::MAX; L],
            days: [0; L],
            week: [0; L],
            week_wh: [0.0; L],
            worst_wh: [0.0; L],
        }
    }

    /// Takes in what a vital load missed in lane `l` \[Wh\].
    ///
    /// * `index` — step of the spell; days and weeks count from its beginning.
    pub(super) fn book(&mut self, l: usize, index: u64, missed_wh: f64) {
        let day = index / self.steps_a_day;
        if self.last[l] != day {
            (self.last[l], self.days[l]) = (day, self.days[l] + 1);
        }
        if self.week[l] != day / 7 {
            self.worst_wh[l] = self.worst_wh[l].max(self.week_wh[l]);
            (self.week[l], self.week_wh[l]) = (day / 7, 0.0);
        }
        self.week_wh[l] += missed_wh;
    }

    /// Days with anything missed, and what was missed in the worst week \[Wh\].
    pub(super) fn of(&self, l: usize) -> (u32, f64) {
        (self.days[l], self.worst_wh[l].max(self.week_wh[l]))
    }
}
