//! Days of weather wherever they come from: drawn, replayed or told.

use super::{DaySky, Sequence};
use crate::random::Stream;
use crate::random::real::Real;
use crate::weather::bend::Climates;
use crate::weather::replay;
use crate::weather::seasons::Seasons;
use crate::weather::sun::SkyTable;
use crate::weather::{Leaned, Opening, WeatherTrace};

/// Days of weather of `L` trials that begin on the same day of the year, one day after the other.
#[derive(Debug)]
#[allow(clippy::large_enum_variant, reason = "there is one a chunk")]
pub enum Days<'a, R, const L: usize> {
    /// From a climate's statistics.
    Drawn(Sequence<'a, R, L>),
    /// From a record.
    Replayed(Replayed<'a, R, L>),
    /// One history known beforehand, the same in all lanes.
    Told(Known<'a>),
}

impl<R: Real, const L: usize> Days<'_, R, L> {
    /// The next day; may be asked for as often as there are days.
    #[inline(always)]
    pub fn next_day(&mut self, out: &mut DaySky<R, L>) {
        match self {
            Days::Drawn(sequence) => sequence.next_day(out),
            Days::Replayed(replayed) => replayed.next_day(out),
            Days::Told(told) => told.next_day(out),
        }
    }

    /// What each lane's days were made of, where they lean.
    pub fn leaned(&self) -> &[Leaned] {
        if let Days::Drawn(sequence) = self { sequence.leaned() } else { &[] }
    }
}

/// What is asked of replayed days.
#[derive(Debug, Clone, Copy)]
pub(in crate::weather) struct Asked<const L: usize> {
    /// Day of the year at whose midnight the histories begin.
    pub first: usize,
    /// Days of each.
    pub lengths: [usize; L],
    /// How they begin.
    pub opening: Opening,
}

/// Real stretches of a record, other ones in each lane; beyond a lane's own days its last one goes on.
#[derive(Debug)]
pub struct Replayed<'a, R, const L: usize> {
    record: &'a replay::Days,
    sky: &'a SkyTable,
    first: usize,
    next: usize,
    climates: Climates<'a, L>,
    /// The record's days that each lane takes.
    sources: Vec<Vec<u32>>,
    rng: Vec<Stream>,
    air: Option<Air<'a, R, L>>,
}

/// Air temperature alone, for sun that comes from elsewhere.
#[derive(Debug)]
struct Air<'a, R, const L: usize> {
    seasons: &'a Seasons,
    last: [f64; L],
    /// Scores of the day before, the day and the day after.
    scores: [[R; L]; 3],
}

impl<R: Real, const L: usize> Air<'_, R, L> {
    fn draw(&mut self, day: usize, rng: &mut [Stream]) {
        let b = self.seasons.day(day).air_persistence;
        self.scores.rotate_left(1);
        for ((last, score), rng) in self.last.iter_mut().zip(&mut self.scores[2]).zip(rng) {
            *last = b * *last + (1.0 - b * b).sqrt() * rng.normal();
            *score = R::of(*last);
        }
    }
}

impl<'a, R: Real, const L: usize> Replayed<'a, R, L> {
    /// Chooses the stretches of all lanes.
    ///
    /// * `air` — whose air temperature is drawn, where the record has none; `rng` — of each lane.
    pub(in crate::weather) fn new(
        (record, air): (&'a replay::Days, Option<&'a Seasons>),
        sky: &'a SkyTable,
        asked: &Asked<L>,
        mut rng: Vec<Stream>,
        climates: Climates<'a, L>,
    ) -> Replayed<'a, R, L> {
        let Asked { first, lengths, opening } = asked;
        let of_lane = |(l, rng): (usize, &mut Stream)| {
            record.stretches((*first, lengths[l]), opening, |day| climates.on(day)[l].tilt, rng)
        };
        let sources = rng.iter_mut().enumerate().map(of_lane).collect();
        let air = air.map(|seasons| {
            let last = std::array::from_fn(|l| rng[l].normal());
            let mut air = Air { seasons, last, scores: [[R::default(); L]; 3] };
            for k in 0..2 {
                air.draw((first + k + 364) % 365, &mut rng);
            }
            air
        });
        Replayed { record, sky, first: *first, next: 0, climates, sources, rng, air }
    }

    /// See [`Days::next_day`].
    pub fn next_day(&mut self, out: &mut DaySky<R, L>) {
        let (k, steps, zero) = (self.next, self.sky.steps_per_day(), [R::default(); L]);
        let day = (self.first + k) % 365;
        self.next += 1;
        out.ghi_w_m2.resize(steps, zero);
        out.dhi_w_m2.resize(if self.record.has_split() { steps } else { 0 }, zero);
        out.told_air_c.resize(if self.air.is_some() { 0 } else { steps }, zero);
        out.lit.clear();
        out.lit.extend_from_slice(self.record.lit(day));
        let climates = self.climates.on(day);
        for (l, sources) in self.sources.iter().enumerate() {
            let Some(source) = sources.get(k).or(sources.last()) else { continue };
            self.record.lay((day, *source as usize), self.sky, &climates[l], l, out);
        }
        if let Some(air) = &mut self.air {
            air.draw((self.first + k + 1) % 365, &mut self.rng);
            let days = [364, 0, 1].map(|ahead| air.seasons.day((self.first + k + ahead) % 365));
            let warmer_k = climates.map(|climate| R::of(climate.air_k));
            out.set_air(days, air.scores.each_ref(), &warmer_k);
        }
    }
}

/// A history that is known beforehand.
#[derive(Debug)]
pub struct Known<'a> {
    trace: &'a WeatherTrace,
    sky: &'a SkyTable,
    first: usize,
    next: usize,
}

impl<'a> Known<'a> {
    /// One that begins on a day of the year.
    pub(in crate::weather) fn new(trace: &'a WeatherTrace, sky: &'a SkyTable, first: usize) -> Known<'a> {
        Known { trace, sky, first, next: 0 }
    }

    /// See [`Days::next_day`]; what is missing is dark.
    pub fn next_day<R: Real, const L: usize>(&mut self, out: &mut DaySky<R, L>) {
        let (k, n) = (self.next, self.sky.steps_per_day());
        self.next += 1;
        let steps = k * n..(k + 1) * n;
        let fill = |from: &[f64], into: &mut Vec<[R; L]>| {
            into.clear();
            into.extend(steps.clone().map(|step| [R::of(from.get(step).copied().unwrap_or(0.0)); L]));
        };
        fill(&self.trace.ghi_w_m2, &mut out.ghi_w_m2);
        fill(&self.trace.air_c, &mut out.told_air_c);
        out.dhi_w_m2.clear();
        if !self.trace.dhi_w_m2.is_empty() {
            fill(&self.trace.dhi_w_m2, &mut out.dhi_w_m2);
        }
        out.clearness = [R::of(self.trace.daily_clearness.get(k).copied().unwrap_or(0.0)); L];
        let light = self.sky.day((self.first + k) % 365).steps;
        out.lit.clear();
        out.lit.extend(light.iter().zip(&out.ghi_w_m2).map(|(light, ghi)| *light > 0.0 || ghi[0] > R::default()));
    }
}

/// Takes all days of one lane into a trace.
///
/// * `first` — day of the year on which they begin.
pub(in crate::weather) fn flatten<R: Real>(
    mut history: Days<'_, R, 1>,
    (first, days): (usize, usize),
    sky: &SkyTable,
    out: &mut WeatherTrace,
) {
    for values in [&mut out.ghi_w_m2, &mut out.air_c, &mut out.daily_clearness, &mut out.dhi_w_m2] {
        values.clear();
    }
    let mut day = DaySky::default();
    for k in 0..days {
        history.next_day(&mut day);
        out.ghi_w_m2.extend(day.ghi_w_m2.iter().map(|[ghi]| ghi.wide()));
        out.dhi_w_m2.extend(day.dhi_w_m2.iter().map(|[dhi]| dhi.wide()));
        out.daily_clearness.push(day.clearness[0].wide());
        let air = |step| day.air_c(step, sky.air_at((first + k) % 365, step))[0].wide();
        out.air_c.extend((0..sky.steps_per_day()).map(air));
    }
}
