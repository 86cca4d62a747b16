//! Many trials side by side, and one trial alone.
//!
//! Trials that begin on the same day of the year form a chunk of `L` lanes. A chunk meets its weather day by day, and every plan
//! goes through the day. Steps in which a lane gets everything it asks for are taken by all lanes at once; where something goes
//! short, is over an outlet's limit or is held off by a rule, it is settled for that lane by itself what it can have, and the
//! step is taken with that. Nothing crosses from lane to lane, so that outcomes do not depend on the width. A chunk of one lane
//! is a trial alone, and somebody may look on.

mod arrange;
mod asking;
mod chunk;
mod course;
mod demand;
mod follow;
mod held;
mod panels;
mod sums;
mod wants;

use std::sync::Arc;

use super::geometry::ArrayGeometry;
use super::plan::Plan;
use super::trial::{History, LoadOutcome, Observer, Outcome, TrialSeed};
use super::wiring::AtInput;
use crate::random::Purpose;
use crate::random::real::Real;
use crate::weather::lanes::{DaySky, Days};
use crate::weather::{Drawn, Lean, Leaned, WeatherTrace};
pub use arrange::{arrange, batches};
use chunk::Chunk;
pub use chunk::Waiting;
use course::Course;

/// A trial at its end.
#[derive(Debug, Clone, Copy)]
pub struct Ended<'a> {
    /// Its lane in the chunk.
    lane: usize,
    /// Its chance and history.
    pub trial: &'a Waiting,
    /// What it came to.
    pub outcome: &'a Outcome,
    /// What became of the loads.
    pub loads: &'a [LoadOutcome],
    /// The standard normal numbers behind what is not known, in the order of [`Plan::unknowns`].
    pub unknowns: &'a [f64],
    /// What its days were made of, where they lean.
    pub leaned: Option<&'a Leaned>,
}

/// Receives what trials come to, in no particular order.
pub trait Sink {
    /// Whether the charge after every step of plan `plan` is wanted, and when its loads are dark.
    fn wants_charge(&self, _plan: usize) -> bool {
        false
    }

    /// The charge of one trial, in hundredths, after the steps of its outage from `index` on.
    ///
    /// * `rows` — step after step; of each row of so many numbers the one in so many'th place counts.
    fn charges(&mut self, _plan: usize, _index: usize, _rows: &[u32], _place: (usize, usize)) {}

    /// In how many of some trials, each counted once, load `load` went without in each step, counted from the midnight at
    /// which their weather begins; steps that are not told of have none.
    fn dark(&mut self, _plan: usize, _load: usize, _counts: &[u32]) {}

    /// Somebody who looks on, in chunks of one lane.
    fn observer(&mut self) -> Option<&mut dyn Observer> {
        None
    }

    /// One trial of plan `plan`.
    fn outcome(&mut self, plan: usize, ended: &Ended<'_>);
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
    /// Room for what comes in at one of several inputs.
    at_one: Vec<AtInput<R, L>>,
}

impl<R, const L: usize> Default for Yields<R, L> {
    fn default() -> Yields<R, L> {
        Yields { made: Vec::new(), in_use: 0, at_one: Vec::new() }
    }
}

/// Room for chunks of one width; grows and is then reused.
#[derive(Debug)]
pub(super) struct Room<R, const L: usize> {
    /// The present day, or all of them where plans are taken through them again and again.
    days: Vec<(DaySky<R, L>, Yields<R, L>)>,
    courses: Vec<Course<R, L>>,
}

impl<R: Real, const L: usize> Default for Room<R, L> {
    fn default() -> Room<R, L> {
        Room { days: Vec::new(), courses: Vec::new() }
    }
}

impl<R: Real, const L: usize> Room<R, L> {
    /// Forgets the plans before.
    fn forget(&mut self) {
        self.courses.iter_mut().for_each(Course::forget);
    }
}

/// Lanes of the widest chunks.
const MOST_LANES: usize = 64;
/// Room for chunks of every width in use. Weather and panels are worked out in the precision of `R`.
#[derive(Debug, Default)]
pub struct Chunks<R: Real = f32> {
    wide: Box<Room<R, MOST_LANES>>,
    narrow: Box<Room<R, 16>>,
}

/// How trials are taken side by side.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Manner {
    /// Sixteen lanes at most, for tests; results do not depend on it.
    pub narrow: bool,
    /// Means that the days' numbers are drawn with, for importance sampling; all trials must be [`Waiting::leaning`].
    pub lean: Option<Lean>,
}

/// Says which variation of a plan a trial goes through next, told what it came to in the last; `None` where it is done.
pub type Next<'n, 'p> = dyn FnMut(&Waiting, Option<&Outcome>) -> Option<&'p Plan> + 'n;

impl<R: Real> Chunks<R> {
    /// Takes plans of one season through trials.
    ///
    /// * `order` — which trials, in the order of [`arrange`].
    pub fn run(
        &mut self,
        plans: &[(usize, &Plan)],
        trials: &[Waiting],
        order: &[u32],
        manner: &Manner,
        sink: &mut dyn Sink,
    ) {
        self.each::<false>(plans, trials, order, manner, &mut Then::Tell(sink));
    }

    /// As [`Chunks::run`] by the vectors of the least processor, for tests; results do not depend on them.
    pub fn run_plain(
        &mut self,
        plans: &[(usize, &Plan)],
        trials: &[Waiting],
        order: &[u32],
        manner: &Manner,
        sink: &mut dyn Sink,
    ) {
        self.each::<true>(plans, trials, order, manner, &mut Then::Tell(sink));
    }

    /// Takes each trial through one variation of a plan after the other.
    ///
    /// * `plan` — the plan; its variations differ from it in the size of the battery and the power of the arrays alone.
    pub fn walk<'p>(&mut self, plan: &'p Plan, trials: &[Waiting], order: &[u32], next: &mut Next<'_, 'p>) {
        self.each::<false>(&[(0, plan)], trials, order, &Manner::default(), &mut Then::Walk(next));
    }

    fn each<'p, const PLAIN: bool>(
        &mut self,
        plans: &[(usize, &'p Plan)],
        trials: &[Waiting],
        order: &[u32],
        manner: &Manner,
        then: &mut Then<'_, '_, 'p>,
    ) {
        self.wide.forget();
        self.narrow.forget();
        let group = |k: u32| trials[k as usize].group;
        for same in order.chunk_by(|a, b| group(*a) == group(*b)) {
            let mut rest = same;
            while !rest.is_empty() {
                // A wide chunk with some lanes empty takes less than several narrow ones.
                let wide = !manner.narrow && rest.len() > 36;
                let now;
                (now, rest) = rest.split_at(rest.len().min(if wide { MOST_LANES } else { 16 }));
                if wide {
                    chunk::<R, MOST_LANES, PLAIN>(&mut self.wide, plans, (trials, now), manner.lean, then);
                } else {
                    chunk::<R, 16, PLAIN>(&mut self.narrow, plans, (trials, now), manner.lean, then);
                }
            }
        }
    }
}

/// What is done with trials at their end.
enum Then<'t, 'n, 'p> {
    Tell(&'t mut dyn Sink),
    Walk(&'t mut Next<'n, 'p>),
}

/// Runs one chunk, by the widest vectors the processor has or, `PLAIN`, by those of the least.
fn chunk<'p, R: Real, const L: usize, const PLAIN: bool>(
    room: &mut Room<R, L>,
    plans: &[(usize, &'p Plan)],
    (trials, which): (&[Waiting], &[u32]),
    lean: Option<Lean>,
    then: &mut Then<'_, '_, 'p>,
) {
    let chunk = Chunk::new(trials, which);
    if PLAIN { work(room, plans, &chunk, Sky::Drawn(lean), then) } else { dispatched(room, plans, &chunk, lean, then) }
}

#[multiversion::multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn dispatched<'p, R: Real, const L: usize>(
    room: &mut Room<R, L>,
    plans: &[(usize, &'p Plan)],
    chunk: &Chunk<'_, L>,
    lean: Option<Lean>,
    then: &mut Then<'_, '_, 'p>,
) {
    work(room, plans, chunk, Sky::Drawn(lean), then);
}

/// Takes plans through one trial, alone.
///
/// * `told` — its weather, where it is not the one that belongs to its chance.
pub(super) fn alone(
    room: &mut Room<f32, 1>,
    plan: &Plan,
    trial: &Waiting,
    told: Option<&WeatherTrace>,
    sink: &mut dyn Sink,
) {
    room.forget();
    let (trials, sky) = (std::slice::from_ref(trial), told.map_or(Sky::Drawn(None), Sky::Told));
    work(room, &[(0, plan)], &Chunk::new(trials, &[0]), sky, &mut Then::Tell(sink));
}

/// What a plan's solar input can take of all its panels in each step of some weather, but for the input's watts \[W\].
pub(super) fn usable_w(plan: &Plan, rng: TrialSeed, (history, weather): (&History, &WeatherTrace)) -> Vec<f64> {
    let (mut rated_w, mut watts) = (Vec::new(), Vec::new());
    panels::draw::<f32, 1>((plan, &[plan]), &[rng], &mut rated_w, &mut [Vec::new()]);
    let (mut sky, mut yields, n) = (DaySky::default(), Yields::default(), plan.season.steps_a_day);
    let (mut lit, mut at_input) = (Vec::new(), Vec::new());
    let mut days: Days<'_, f32, 1> = plan.season.weather.told(history.first_day, weather);
    for day in 0..history.days {
        days.next_day(&mut sky);
        yields.in_use = 0;
        let of_year = (history.first_day as usize + day) % 365;
        panels::fill(plan, (of_year, 0..n), &sky, &mut yields, &rated_w, (&mut lit, &mut at_input));
        watts.extend(lit.iter().zip(&at_input).map(|(lit, at)| if *lit { f64::from(at.usable_w[0]) } else { 0.0 }));
    }
    watts
}

/// Where a chunk's weather comes from.
#[derive(Clone, Copy)]
enum Sky<'a> {
    /// What belongs to the trials' chance, leaning or not.
    Drawn(Option<Lean>),
    /// It is known.
    Told(&'a WeatherTrace),
}

/// Keeps what the trials of a chunk came to, lane by lane.
struct Last<const L: usize>([Option<Outcome>; L]);

impl<const L: usize> Sink for Last<L> {
    fn outcome(&mut self, _: usize, ended: &Ended<'_>) {
        self.0[ended.lane] = Some(*ended.outcome);
    }
}

#[inline(always)]
fn work<'p, R: Real, const L: usize>(
    room: &mut Room<R, L>,
    plans: &[(usize, &'p Plan)],
    chunk: &Chunk<'_, L>,
    sky: Sky<'_>,
    then: &mut Then<'_, '_, 'p>,
) {
    let Some((_, plan)) = plans.first() else { return };
    let season = &plan.season;
    let lengths = chunk.lanes.map(|lane| lane.history.days);
    let (mut keys, mut climates) = ([0; L], [Drawn::BEST; L]);
    for l in 0..L {
        keys[l] = chunk.lanes[l].key;
        climates[l] = season.climate.drawn(&chunk.lanes[l].history.climate_z);
    }
    let first_day = chunk.first_day as u32;
    let rng = |l: usize| chunk.rng[l].stream(Purpose::Weather);
    let mut weather = match sky {
        Sky::Drawn(lean) => season.weather.days((first_day, &lengths), &season.opening, (&keys, rng), &climates, lean),
        Sky::Told(trace) => season.weather.told(first_day, trace),
    };
    let days = lengths.into_iter().max().unwrap_or(0);
    if room.courses.len() < plans.len() {
        room.courses.resize_with(plans.len(), Course::default);
    }
    let mut last = Last([None; L]);
    let mut kits: [Option<&Plan>; L] = [Some(*plan); L];
    if let Then::Walk(next) = then {
        for l in 0..chunk.count {
            kits[l] = next(chunk.lanes[l], None);
        }
    }
    // Walking, trials meet the same days again and again.
    let again = matches!(then, Then::Walk(_));
    let mut round = 0;
    while kits[..chunk.count].iter().any(Option::is_some) {
        for (course, (_, plan)) in room.courses.iter_mut().zip(plans) {
            let kits = if again { kits.map(|kit| kit.unwrap_or(plan)) } else { [*plan; L] };
            course.begin((plan, &kits), chunk);
        }
        for day in 0..days {
            let slot = if again { day } else { 0 };
            if room.days.len() <= slot {
                room.days.resize_with(slot + 1, Default::default);
            }
            let (sky, yields) = &mut room.days[slot];
            if round == 0 {
                weather.next_day(sky);
                yields.in_use = 0;
            }
            for (course, plan) in room.courses.iter_mut().zip(plans) {
                let sink: &mut dyn Sink = if let Then::Tell(sink) = then { *sink } else { &mut last };
                course.day(*plan, chunk, day, sky, yields, sink);
            }
        }
        for (course, plan) in room.courses.iter_mut().zip(plans) {
            let sink: &mut dyn Sink = if let Then::Tell(sink) = then { *sink } else { &mut last };
            course.end(*plan, chunk, weather.leaned(), sink);
        }
        let Then::Walk(next) = then else { return };
        for l in 0..chunk.count {
            kits[l] = kits[l].and_then(|_| next(chunk.lanes[l], last.0[l].as_ref()));
        }
        round += 1;
    }
}
