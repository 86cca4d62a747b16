//! Many trials side by side: the balance of [`super::step()`] for trials whose weather is drawn.
//!
//! Trials that begin on the same day of the year form a chunk of `L` lanes. A chunk draws its weather day by
//! day, and every plan goes through the day. Steps in which a lane gets everything it asks for are taken by all lanes at once; where
//! something goes short, is over an outlet's limit or is held off by a rule, that lane takes the ordinary step by itself.
//! Nothing crosses from lane to lane, so that outcomes do not depend on the width, and [`covers`] looks at the plan alone.

mod account;
mod asking;
mod cells;
mod course;
mod demand;
mod follow;
mod panels;
mod short;

use std::ops::Range;
use std::sync::Arc;

use super::geometry::ArrayGeometry;
use super::plan::{Plan, Season};
use super::trial::{History, LoadOutcome, Luck, Outcome};
use crate::random::Purpose;
use crate::random::real::Real;
use crate::weather::lanes::DaySky;
use crate::weather::{Drawn, WeatherPlan};
use course::Course;

/// Whether a plan can be simulated in lanes. The others go through [`super::Workspace`], with the same weather and luck.
#[must_use]
pub fn covers(plan: &Plan) -> bool {
    plan.season.weather.draws_in_lanes()
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
    /// The day on which its weather begins and how many days of it are told: trials that share both can share a chunk.
    group: (u32, u32),
}

impl Waiting {
    /// Draws a trial's outage; the same numbers as [`super::Workspace::begin`].
    #[must_use]
    pub fn new(season: &Season, luck: Luck) -> Waiting {
        let history = season.draw(luck, season.climate_z(luck));
        let group = (history.first_day, WeatherPlan::told_days(&season.opening, history.days) as u32);
        Waiting { luck, history, key: luck.stream(Purpose::Weather).key(), group }
    }
}

/// Receives what trials come to, in no particular order.
pub trait Sink {
    /// Whether the charge after every step of plan `plan` is wanted.
    fn wants_charge(&self, plan: usize) -> bool;
    /// The charge of one trial, in hundredths, after the steps of its outage from `index` on: a column of a table.
    fn charges<const L: usize>(&mut self, plan: usize, index: usize, hundredths: &[[u32; L]], column: usize);
    /// One trial of plan `plan`: its luck, history, outcome, loads and the numbers behind what is not known.
    fn outcome(&mut self, plan: usize, trial: &Waiting, outcome: &Outcome, loads: &[LoadOutcome], unknowns: &[f64]);
}

/// What a geometry makes of a day's weather.
#[derive(Debug)]
struct Yield<R, const L: usize> {
    geometry: Arc<ArrayGeometry>,
    per_watt: Vec<[R; L]>,
    warmth: Vec<[R; L]>,
}

/// What the geometries asked for make of the present day.
#[derive(Debug)]
struct Yields<R, const L: usize> {
    made: Vec<Yield<R, L>>,
    in_use: usize,
}

/// Room for chunks of one width; grows and is then reused.
#[derive(Debug)]
struct Room<R, const L: usize> {
    sky: DaySky<R, L>,
    yields: Yields<R, L>,
    courses: Vec<Course<R, L>>,
}

impl<R: Real, const L: usize> Default for Room<R, L> {
    fn default() -> Room<R, L> {
        Room { sky: DaySky::default(), yields: Yields { made: Vec::new(), in_use: 0 }, courses: Vec::new() }
    }
}

/// Trials that begin on the same day of the year. Lanes beyond `count` repeat the last one and are not told of.
#[derive(Debug)]
struct Chunk<'a, const L: usize> {
    lanes: [&'a Waiting; L],
    /// Their luck, taken from memory in one go.
    luck: [Luck; L],
    count: usize,
    /// Day of the year at whose midnight the weather begins.
    first_day: usize,
    /// First step of each outage and one past its last, counted from there.
    first: [usize; L],
    end: [usize; L],
    earliest_first: usize,
    latest_first: usize,
    earliest_end: usize,
    latest_end: usize,
}

impl<const L: usize> Chunk<'_, L> {
    /// The steps of a day of `n` steps beginning at step `midnight` that lie within any lane's outage, and those of them
    /// that lie within all lanes': counted from midnight.
    fn steps(&self, midnight: usize, n: usize) -> (Range<usize>, Range<usize>) {
        let place = |step: usize| step.clamp(midnight, midnight + n) - midnight;
        let any = place(self.earliest_first)..place(self.latest_end);
        let (from, to) = (place(self.latest_first), place(self.earliest_end));
        // Where no step is common to all lanes, none is until the end.
        (any.clone(), if from < to { from..to } else { any.end..any.end })
    }
}

/// Lanes of the widest chunks.
const MOST_LANES: usize = 64;
/// Trials that a batch holds at least, but for the last.
const BATCH: usize = 1000;

/// Trials in the order in which chunks take them: those of a group together, within a group by the length of their
/// outages and the step at which they begin, so that few lanes stand idle. Whole numbers are their places in `trials`.
#[must_use]
pub fn arrange(trials: &[Waiting]) -> Vec<u32> {
    let key = |trial: &Waiting| {
        let ((day, told), History { days, first_step, .. }) = (trial.group, trial.history);
        u64::from(day) << 48 | u64::from(told) << 40 | (days as u64) << 16 | first_step as u64
    };
    let mut sorted: Vec<(u64, u32)> = trials.iter().zip(0..).map(|(trial, place)| (key(trial), place)).collect();
    // By one byte of the key after the other, the last first. Most bytes are the same in all trials.
    let mut counts = [[0_usize; 256]; 8];
    for (key, _) in &sorted {
        for (count, byte) in counts.iter_mut().zip(key.to_le_bytes()) {
            count[usize::from(byte)] += 1;
        }
    }
    let mut before = sorted.clone();
    for (k, count) in counts.iter_mut().enumerate().filter(|(_, count)| !count.contains(&trials.len())) {
        let mut sum = 0;
        for count in count.iter_mut() {
            sum += std::mem::replace(count, sum);
        }
        std::mem::swap(&mut before, &mut sorted);
        for of in &before {
            let place = &mut count[usize::from(of.0.to_le_bytes()[k])];
            sorted[*place] = *of;
            *place += 1;
        }
    }
    sorted.into_iter().map(|(_, place)| place).collect()
}

/// Cuts trials in their order into batches that can be run apart and come to the same as together.
#[must_use]
pub fn batches<'a>(trials: &[Waiting], order: &'a [u32]) -> Vec<&'a [u32]> {
    let group = |k: u32| trials[k as usize].group;
    let (mut cuts, mut begin, mut at) = (Vec::new(), 0, 0);
    for same in order.chunk_by(|a, b| group(*a) == group(*b)) {
        for chunk in same.chunks(MOST_LANES) {
            at += chunk.len();
            if at - begin >= BATCH {
                cuts.push(&order[begin..at]);
                begin = at;
            }
        }
    }
    if begin < at {
        cuts.push(&order[begin..at]);
    }
    cuts
}

/// Room for chunks of every width in use. Weather and panels are worked out in the precision of `R`.
#[derive(Debug, Default)]
pub struct Chunks<R: Real = f32> {
    wide: Box<Room<R, MOST_LANES>>,
    middle: Box<Room<R, 16>>,
    narrow: Box<Room<R, 4>>,
}

/// How wide the lanes may be, for tests; results do not depend on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Width {
    /// As wide as there are trials for.
    #[default]
    Any,
    /// Four lanes at most.
    Narrow,
    /// Sixteen lanes at most.
    Middle,
}

impl<R: Real> Chunks<R> {
    /// Takes plans of one season through trials. All plans must be covered.
    ///
    /// * `order` — which trials, in the order of [`arrange`].
    pub fn run(
        &mut self,
        plans: &[(usize, &Plan)],
        trials: &[Waiting],
        order: &[u32],
        (width, plain): (Width, bool),
        sink: &mut impl Sink,
    ) {
        let Some((_, first)) = plans.first() else { return };
        let season = &first.season;
        // What a course keeps is its plan's.
        self.wide.courses.clear();
        self.middle.courses.clear();
        self.narrow.courses.clear();
        let group = |k: u32| trials[k as usize].group;
        for same in order.chunk_by(|a, b| group(*a) == group(*b)) {
            let mut rest = same;
            while !rest.is_empty() {
                // A wide chunk with some lanes empty takes less than several narrow ones.
                let most = match (width, rest.len()) {
                    (Width::Any, 37..) => MOST_LANES,
                    (Width::Any | Width::Middle, 5..) => 16,
                    _ => 4,
                };
                let now;
                (now, rest) = rest.split_at(most.min(rest.len()));
                match most {
                    4 => chunk(&mut *self.narrow, season, plans, trials, now, plain, sink),
                    16 => chunk(&mut *self.middle, season, plans, trials, now, plain, sink),
                    _ => chunk(&mut *self.wide, season, plans, trials, now, plain, sink),
                }
            }
        }
    }
}

/// Runs one chunk, by the widest vectors the processor has or, `plain`, by those of the least.
fn chunk<R: Real, const L: usize, S: Sink>(
    room: &mut Room<R, L>,
    season: &Season,
    plans: &[(usize, &Plan)],
    trials: &[Waiting],
    which: &[u32],
    plain: bool,
    sink: &mut S,
) {
    let mut lanes = [&trials[which[0] as usize]; L];
    let mut luck = [lanes[0].luck; L];
    let (mut first, mut end) = ([0; L], [0; L]);
    for l in 0..L {
        let lane = &trials[which[l.min(which.len() - 1)] as usize];
        lanes[l] = lane;
        luck[l] = lane.luck;
        first[l] = lane.history.first_step;
        end[l] = lane.history.first_step + lane.history.steps;
    }
    let chunk = Chunk {
        lanes,
        luck,
        count: which.len(),
        first_day: lanes[0].history.first_day as usize,
        first,
        end,
        earliest_first: first.into_iter().min().unwrap_or(0),
        latest_first: first.into_iter().max().unwrap_or(0),
        earliest_end: end.into_iter().min().unwrap_or(0),
        latest_end: end.into_iter().max().unwrap_or(0),
    };
    if plain { work(room, season, plans, &chunk, sink) } else { dispatched(room, season, plans, &chunk, sink) }
}

#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl",
    "x86_64+avx2",
    "x86_64+avx"
))]
fn dispatched<R: Real, const L: usize, S: Sink>(
    room: &mut Room<R, L>,
    season: &Season,
    plans: &[(usize, &Plan)],
    chunk: &Chunk<'_, L>,
    sink: &mut S,
) {
    work(room, season, plans, chunk, sink);
}

#[inline(always)]
fn work<R: Real, const L: usize, S: Sink>(
    room: &mut Room<R, L>,
    season: &Season,
    plans: &[(usize, &Plan)],
    chunk: &Chunk<'_, L>,
    sink: &mut S,
) {
    let days = chunk.lanes.iter().map(|lane| lane.history.days).max().unwrap_or(0);
    let (mut keys, mut climates) = ([0; L], [Drawn::BEST; L]);
    for (l, lane) in chunk.lanes.iter().enumerate() {
        keys[l] = lane.key;
    }
    for l in 0..L {
        climates[l] = season.climate.drawn(&chunk.lanes[l].history.climate_z);
    }
    let (first_day, told) = chunk.lanes[0].group;
    let Some(mut sequence) =
        season.weather.sequence(first_day, days, (&season.opening, told as usize), &keys, &climates)
    else {
        return;
    };
    if room.courses.len() < plans.len() {
        room.courses.resize_with(plans.len(), Course::default);
    }
    for (course, (_, plan)) in room.courses.iter_mut().zip(plans) {
        course.begin(plan, chunk);
    }
    for day in 0..days {
        sequence.next_day(&mut room.sky);
        room.yields.in_use = 0;
        for (course, plan) in room.courses.iter_mut().zip(plans) {
            course.day(*plan, chunk, day, &room.sky, &mut room.yields, sink);
        }
    }
    for (course, plan) in room.courses.iter_mut().zip(plans) {
        course.end(*plan, chunk, sink);
    }
}
