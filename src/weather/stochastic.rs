//! Stochastic weather of one trial at a time: a sequence of one lane, and air for a sun that is replayed.

use super::bend::Climates;
use super::lanes::{Ask, Sequence};
use super::seasons::{Day, Seasons};
use super::sun::SkyTable;
use super::{Request, WeatherTrace};
use crate::random::Stream;

pub(super) fn generate(
    seasons: &Seasons,
    sky: &SkyTable,
    request: &Request,
    luck: &mut Stream,
    out: &mut WeatherTrace,
) {
    let Request { first, days, opening, climate, lean } = *request;
    for values in [&mut out.ghi_w_m2, &mut out.air_c, &mut out.daily_clearness, &mut out.dni_w_m2, &mut out.dhi_w_m2] {
        values.clear();
    }
    let (told, _) = opening.told(days);
    let ask = Ask { first, days, opening, told, lean };
    let mut sequence: Sequence<'_, f32, 1> = Sequence::new(seasons, sky, &ask, &[luck.key()], climate);
    for k in 0..days {
        sequence.next_day(&mut out.day);
        out.ghi_w_m2.extend(out.day.ghi_w_m2.iter().map(|[ghi]| f64::from(*ghi)));
        out.daily_clearness.push(f64::from(out.day.clearness[0]));
        push_air(sky, (first + k) % 365, out);
    }
    out.leaned = sequence.leaned();
}

/// Adds the air of the day in hand, a day of the year.
fn push_air(sky: &SkyTable, day: usize, out: &mut WeatherTrace) {
    let steps = 0..sky.steps_per_day();
    out.air_c.extend(steps.map(|step| f64::from(out.day.air_c(sky.air_at(day, step))[0])));
}

/// How single hours differ from the course of the day.
#[derive(Debug, Clone, Copy)]
pub(super) struct Disturbance {
    /// Spread over Graham & Hollands' \[–\].
    pub spread: f64,
    /// Lag-1 autocorrelation.
    pub persistence: f64,
    /// Clearness of a cloudless day \[–\].
    pub cloudless: f64,
}

impl Disturbance {
    /// On a day of the year.
    pub(super) fn of(day: &Day) -> Disturbance {
        Disturbance { spread: day.hourly_spread, persistence: day.hourly_persistence, cloudless: day.cloudless }
    }
}

/// Air temperature alone, for sun that comes from elsewhere: `out.daily_clearness` is known already.
pub(super) fn air_for(
    seasons: &Seasons,
    sky: &SkyTable,
    (first, climate): (usize, Climates<'_, 1>),
    luck: &mut Stream,
    out: &mut WeatherTrace,
) {
    let day_of = |k: usize| seasons.day((first + k + 364) % 365);
    let mut score = luck.normal();
    let mut next = |k: usize| {
        let b = day_of(k).air_persistence;
        score = b * score + (1.0 - b * b).sqrt() * luck.normal();
        [score as f32]
    };
    let mut scores = [next(0), next(1), next(2)];
    out.air_c.clear();
    for k in 0..out.daily_clearness.len() {
        if k > 0 {
            scores = [scores[1], scores[2], next(k + 2)];
        }
        out.day.clearness = [out.daily_clearness[k] as f32];
        let warmer_k = [climate.on((first + k) % 365)[0].air_k as f32];
        out.day.set_air([k, k + 1, k + 2].map(day_of), scores.each_ref(), &warmer_k);
        push_air(sky, (first + k) % 365, out);
    }
}
