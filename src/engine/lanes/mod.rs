//! Many trials side by side: the balance of [`super::step()`] for plans whose loads ask for what was known beforehand.
//!
//! Trials that begin on the same day of the year form a chunk of `L` lanes. A chunk draws its weather once and takes plan
//! after plan through it. Steps in which a lane gets everything it asks for are taken by all lanes at once; where
//! something goes short, is over an outlet's limit or is held off by a rule, that lane takes the ordinary step by itself.
//! Nothing crosses from lane to lane, so that outcomes do not depend on the width, and [`covers`] looks at the plan alone.

mod balance;
mod demand;
mod panels;
mod short;

use std::sync::Arc;

use super::geometry::ArrayGeometry;
use super::plan::{Plan, Season};
use super::rig::Rig;
use super::trial::{History, LoadOutcome, Luck, Outcome};
use crate::random::Purpose;
use crate::scenario::model::Stands;
use crate::weather::WeatherPlan;
use crate::weather::lanes::Block;
use demand::DayDemand;

/// Whether a plan can be simulated in lanes. The others go through [`super::Workspace`], with the same weather and luck.
#[must_use]
pub fn covers(plan: &Plan) -> bool {
    let limits = plan.kit.best_estimate().limits();
    plan.season.weather.draws_in_lanes()
        && matches!(plan.kit.stands, Stands::Indoors | Stands::At(_))
        && limits.heater_w == 0.0
        && limits.works
        && plan.wall_w.iter().all(|w| *w == 0.0)
        && !plan.any_asks
        && plan.loads.iter().all(|load| load.week.is_none())
}

/// A trial that waits for its chunk.
#[derive(Debug, Clone, Copy)]
pub struct Waiting {
    /// Its luck.
    pub luck: Luck,
    /// Its outage.
    pub history: History,
    /// The key of its weather.
    pub key: u64,
    /// Its factor on the sun.
    pub systematic: f64,
}

impl Waiting {
    /// Draws a trial's outage; the same numbers as [`super::Workspace::begin`].
    #[must_use]
    pub fn new(season: &Season, luck: Luck) -> Waiting {
        let climate_z = luck.stream(Purpose::Climate).normal();
        let history = season.draw(luck, climate_z);
        let systematic = (season.sun_uncertainty * climate_z).exp();
        Waiting { luck, history, key: luck.stream(Purpose::Weather).key(), systematic }
    }

    /// Trials with equal groups share a chunk.
    fn group(&self, season: &Season) -> (u32, usize) {
        (self.history.first_day, WeatherPlan::told_days(&season.opening, self.history.days))
    }
}

/// Receives what trials come to, in no particular order.
pub trait Sink {
    /// Whether the charge after every step of plan `plan` is wanted.
    fn wants_charge(&self, plan: usize) -> bool;
    /// The charge of one trial, 0 to 1, after step `index` of its outage.
    fn charge(&mut self, plan: usize, index: usize, charge: f64);
    /// One trial of plan `plan`: its luck, history, outcome, loads and the numbers behind what is not known.
    fn outcome(&mut self, plan: usize, trial: &Waiting, outcome: &Outcome, loads: &[LoadOutcome], unknowns: &[f64]);
}

/// What a geometry makes of a chunk's weather.
#[derive(Debug)]
struct Yield<const L: usize> {
    geometry: Arc<ArrayGeometry>,
    per_watt: Vec<[f64; L]>,
    warmth: Vec<[f64; L]>,
}

/// Room for chunks of one width; grows and is then reused.
#[derive(Debug, Default)]
struct Room<const L: usize> {
    weather: Block<L>,
    yields: Vec<Yield<L>>,
    yields_in_use: usize,
    /// Whether a step of the weather has any light.
    lit: Vec<bool>,
    panel_w: Vec<[f64; L]>,
    usable_w: Vec<[f64; L]>,
    amps: Vec<[f64; L]>,
    demand: DayDemand<L>,
    rigs: Vec<Rig>,
    /// Day factors of the loads that vary, load by load, day by day.
    factors: Vec<[f64; L]>,
    /// Loads of each lane, lane by lane.
    loads: Vec<LoadOutcome>,
    unknowns: Vec<Vec<f64>>,
}

/// Room for chunks of every width in use.
#[derive(Debug, Default)]
pub struct Chunks {
    wide: Room<16>,
    half: Room<8>,
    narrow: Room<4>,
    order: Vec<usize>,
}

/// How wide the lanes may be, for tests; results do not depend on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Width {
    /// As wide as there are trials for.
    #[default]
    Any,
    /// Four lanes at most.
    Narrow,
    /// Eight lanes at most.
    Half,
}

impl Chunks {
    /// Takes plans of one season through trials. All plans must be covered.
    pub fn run(
        &mut self,
        plans: &[(usize, &Plan)],
        trials: &[Waiting],
        width: Width,
        plain: bool,
        sink: &mut impl Sink,
    ) {
        let Some((_, first)) = plans.first() else { return };
        let season = &first.season;
        let mut order = std::mem::take(&mut self.order);
        order.clear();
        order.extend(0..trials.len());
        order.sort_by_key(|&k| (trials[k].group(season), k));
        let mut rest = &order[..];
        while let Some(&k) = rest.first() {
            let group = trials[k].group(season);
            let count = rest.iter().take_while(|&&k| trials[k].group(season) == group).count();
            let mut same;
            (same, rest) = rest.split_at(count);
            while !same.is_empty() {
                let most = match width {
                    Width::Narrow => 4,
                    Width::Half => 8,
                    Width::Any => 16,
                };
                let now;
                (now, same) = same.split_at(same.len().min(most));
                match now.len() {
                    0..=4 => chunk(&mut self.narrow, season, plans, trials, now, plain, sink),
                    5..=8 => chunk(&mut self.half, season, plans, trials, now, plain, sink),
                    _ => chunk(&mut self.wide, season, plans, trials, now, plain, sink),
                }
            }
        }
        self.order = order;
    }
}

/// Runs one chunk, by the widest vectors the processor has or, `plain`, by those of the least.
fn chunk<const L: usize, S: Sink>(
    room: &mut Room<L>,
    season: &Season,
    plans: &[(usize, &Plan)],
    trials: &[Waiting],
    which: &[usize],
    plain: bool,
    sink: &mut S,
) {
    let lanes: [Waiting; L] = std::array::from_fn(|l| trials[which[l.min(which.len() - 1)]]);
    if plain {
        work(room, season, plans, &lanes, which.len(), sink)
    } else {
        dispatched(room, season, plans, &lanes, which.len(), sink)
    }
}

#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl",
    "x86_64+avx2",
    "x86_64+avx"
))]
fn dispatched<const L: usize, S: Sink>(
    room: &mut Room<L>,
    season: &Season,
    plans: &[(usize, &Plan)],
    lanes: &[Waiting; L],
    count: usize,
    sink: &mut S,
) {
    work(room, season, plans, lanes, count, sink);
}

#[inline(always)]
fn work<const L: usize, S: Sink>(
    room: &mut Room<L>,
    season: &Season,
    plans: &[(usize, &Plan)],
    lanes: &[Waiting; L],
    count: usize,
    sink: &mut S,
) {
    let days = lanes.iter().map(|lane| lane.history.days).max().unwrap_or(0);
    let first_day = lanes[0].history.first_day;
    let keys = std::array::from_fn(|l| lanes[l].key);
    let systematic = std::array::from_fn(|l| lanes[l].systematic);
    let (_, told) = lanes[0].group(season);
    season.weather.fill(first_day, days, (&season.opening, told), &keys, &systematic, &mut room.weather);
    room.yields_in_use = 0;
    for &(index, plan) in plans {
        balance::run(room, plan, index, lanes, (count, days), sink);
    }
}
