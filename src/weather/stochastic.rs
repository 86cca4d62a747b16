//! Stochastic weather of one trial at a time: a block of one lane, and air for a sun that is replayed.

use super::lanes::{self, Ask};
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
    let Request { first, days, opening, systematic, lean } = *request;
    out.dni_w_m2.clear();
    out.dhi_w_m2.clear();
    let (told, _) = opening.told(days);
    let ask = Ask { first, days, opening, told, lean };
    let block = &mut out.block;
    out.leaned = lanes::fill(seasons, sky, &ask, &[luck.key()], &[systematic], block);
    out.ghi_w_m2.clear();
    out.ghi_w_m2.extend_from_slice(block.ghi_w_m2.as_flattened());
    out.daily_clearness.clear();
    out.daily_clearness.extend_from_slice(block.daily_clearness.as_flattened());
    fill_air(sky, first, days, out);
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
pub(super) fn air_for(seasons: &Seasons, sky: &SkyTable, first: usize, luck: &mut Stream, out: &mut WeatherTrace) {
    let days = out.daily_clearness.len();
    out.block.begin();
    let mut air = luck.normal();
    for k in 0..days + 2 {
        let day = seasons.day((first + k + 364) % 365);
        air = day.air_persistence * air + (1.0 - day.air_persistence * day.air_persistence).sqrt() * luck.normal();
        out.block.push_air(day, &[air]);
    }
    for k in 0..days {
        out.block.push_swing(seasons.day((first + k) % 365), &[out.daily_clearness[k]]);
    }
    fill_air(sky, first, days, out);
}

/// Fills `out.air_c` from the days of its block.
fn fill_air(sky: &SkyTable, first: usize, days: usize, out: &mut WeatherTrace) {
    out.air_c.clear();
    for k in 0..days {
        for step in 0..sky.steps_per_day() {
            let (middle, shape) = sky.air_at((first + k) % 365, step);
            out.air_c.extend(out.block.air_c(k, middle, shape));
        }
    }
}
