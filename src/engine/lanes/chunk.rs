//! Trials that wait, and those of them that are taken side by side.

use std::ops::Range;

use crate::engine::plan::Season;
use crate::engine::trial::{ClimateZ, History, TrialSeed};
use crate::random::Purpose;
use crate::weather::WeatherPlan;

/// A trial that waits for its chunk.
#[derive(Debug, Clone, Copy)]
pub struct Waiting {
    /// Its chance.
    pub rng: TrialSeed,
    /// Its outage.
    pub history: History,
    /// The key of its weather.
    pub key: u64,
    /// The day on which its weather begins, how many days of it are told, and where its days lean how many there are: trials
    /// that share these can share a chunk.
    pub(super) group: (u32, u32, u32),
}

impl Waiting {
    /// Draws a trial's outage.
    #[must_use]
    pub fn new(season: &Season, rng: TrialSeed) -> Waiting {
        Waiting::of(season, rng, season.draw(rng, season.climate_z(rng)))
    }

    /// As [`Waiting::new`], with the numbers behind the climate drawn around other means than 0, for days that lean too.
    #[must_use]
    pub fn leaning(season: &Season, rng: TrialSeed, lean: &ClimateZ) -> Waiting {
        let mut climate_z = season.climate_z(rng);
        for (z, lean) in climate_z.iter_mut().zip(lean) {
            *z += lean;
        }
        let mut waiting = Waiting::of(season, rng, season.draw(rng, climate_z));
        waiting.group.2 = waiting.history.days as u32;
        waiting
    }

    /// A trial whose outage is known.
    pub(in crate::engine) fn of(season: &Season, rng: TrialSeed, history: History) -> Waiting {
        let group = (history.first_day, WeatherPlan::told_days(&season.opening, history.days) as u32, 0);
        Waiting { rng, history, key: rng.stream(Purpose::Weather).key(), group }
    }
}

/// Trials that begin on the same day of the year. Lanes beyond `count` repeat the last one and are not told of.
#[derive(Debug)]
pub(super) struct Chunk<'a, const L: usize> {
    pub(super) lanes: [&'a Waiting; L],
    /// Their chance, taken from memory in one go.
    pub(super) rng: [TrialSeed; L],
    pub(super) count: usize,
    /// Day of the year at whose midnight the weather begins.
    pub(super) first_day: usize,
    /// First step of each outage and one past its last, counted from there.
    pub(super) first: [usize; L],
    pub(super) end: [usize; L],
    pub(super) earliest_first: usize,
    pub(super) latest_first: usize,
    pub(super) earliest_end: usize,
    pub(super) latest_end: usize,
}

impl<'a, const L: usize> Chunk<'a, L> {
    /// Of some of the trials, at least one and at most as many as there are lanes.
    pub(super) fn new(trials: &'a [Waiting], which: &[u32]) -> Chunk<'a, L> {
        let lanes: [&Waiting; L] = std::array::from_fn(|l| &trials[which[l.min(which.len() - 1)] as usize]);
        let first = lanes.map(|lane| lane.history.first_step);
        let end = lanes.map(|lane| lane.history.first_step + lane.history.steps);
        Chunk {
            lanes,
            rng: lanes.map(|lane| lane.rng),
            count: which.len(),
            first_day: lanes[0].history.first_day as usize,
            first,
            end,
            earliest_first: first.into_iter().min().unwrap_or(0),
            latest_first: first.into_iter().max().unwrap_or(0),
            earliest_end: end.into_iter().min().unwrap_or(0),
            latest_end: end.into_iter().max().unwrap_or(0),
        }
    }

    /// The steps of a day of `n` steps beginning at step `midnight` that lie within any lane's outage, and those of them
    /// that lie within all lanes': counted from midnight.
    pub(super) fn steps(&self, midnight: usize, n: usize) -> (Range<usize>, Range<usize>) {
        let place = |step: usize| step.clamp(midnight, midnight + n) - midnight;
        let any = place(self.earliest_first)..place(self.latest_end);
        let (from, to) = (place(self.latest_first), place(self.earliest_end));
        // Where no step is common to all lanes, none is until the end.
        (any.clone(), if from < to { from..to } else { any.end..any.end })
    }
}

#[cfg(test)]
mod tests;
