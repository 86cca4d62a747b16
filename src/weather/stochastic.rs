//! Stochastic days and hours.

use super::seasons::{Day, Seasons};
use super::spells::normal_quantile;
use super::sun::{SkyDay, SkyTable, graham_hollands_spread};
use super::{Request, WeatherTrace};
use crate::random::Stream;

/// Attempts at an opening as told before the days are cut to their bands instead.
const ATTEMPTS: usize = 2000;

/// Days that the weather runs before a history begins, so that air and sky have found each other.
const WARM_UP: usize = 4;

/// The latent state of the weather: spells, slow part and air temperature.
#[derive(Debug, Clone, Copy)]
struct State {
    spell: f64,
    slow: f64,
    air: f64,
}

impl State {
    fn start(luck: &mut Stream) -> State {
        State { spell: luck.normal(), slow: luck.normal(), air: luck.normal() }
    }

    /// Steps to the next day, whose statistics are `day`; returns its latent score.
    fn step(&mut self, day: &Day, luck: &mut Stream) -> f64 {
        let (fresh, own, air) = (luck.normal(), luck.normal(), luck.normal());
        self.spell = day.phi * self.spell + day.fresh * fresh;
        let b = day.air_persistence;
        let [spells, sky, luck_of_air] = day.air_weights;
        self.air = b * self.air + (1.0 - b * b).sqrt() * (spells * fresh + sky * own + luck_of_air * air);
        let [share, slow, rest] = day.weights;
        share * day.shape.at(self.spell) + slow * self.slow + rest * own
    }
}

/// Fills `out.daily_clearness` with the clearness of days 0 to n and `out.day_air_c` with scores of −1 to n + 1.
fn draw_days(seasons: &Seasons, request: &Request, luck: &mut Stream, out: &mut WeatherTrace) {
    let Request { first, days, opening, .. } = *request;
    let (told, bands) = opening.told(days);
    let scores = bands.map(|(low, high)| (normal_quantile(low.max(1e-9)), normal_quantile(high.min(1.0 - 1e-9))));
    let (sky, air) = (&mut out.daily_clearness, &mut out.day_air_c);
    let day_of = |k: usize| seasons.day((first + 365 * 2 + k - WARM_UP - 1) % 365);
    let mut attempts = 0;
    loop {
        sky.clear();
        air.clear();
        let mut state = State::start(luck);
        for k in 0..=WARM_UP {
            state.step(day_of(k), luck);
        }
        air.push(state.air);
        let mut as_told = true;
        for (k, &(low, high)) in scores.iter().enumerate().take(told) {
            let day = day_of(WARM_UP + 1 + k);
            let least = if bands[k].0 > 0.0 { day.clearness_at_score(low) } else { 0.0 };
            let most = day.clearness_at_score(high);
            let clearness = day.clearness(state.step(day, luck));
            as_told &= least <= clearness && clearness <= most;
            if !as_told && attempts < ATTEMPTS {
                break;
            }
            sky.push(clearness.clamp(least, most));
            air.push(state.air);
        }
        if as_told || attempts >= ATTEMPTS {
            for k in told..=days {
                let day = day_of(WARM_UP + 1 + k);
                let z = state.step(day, luck);
                if k < days {
                    sky.push(day.clearness(z));
                }
                air.push(state.air);
            }
            return;
        }
        attempts += 1;
    }
}

pub(super) fn generate(
    seasons: &Seasons,
    sky: &SkyTable,
    request: &Request,
    luck: &mut Stream,
    out: &mut WeatherTrace,
) {
    let Request { first, days, systematic, .. } = *request;
    out.ghi_w_m2.clear();
    out.dni_w_m2.clear();
    out.dhi_w_m2.clear();
    draw_days(seasons, request, luck, out);
    for k in 0..days {
        let day = (first + k) % 365;
        let (of_day, of_sky) = (seasons.day(day), sky.day(day));
        let wanted = out.daily_clearness[k] * systematic;
        out.daily_clearness[k] = push_hours(of_day, &of_sky, sky.steps_per_hour(), wanted, luck, &mut out.ghi_w_m2);
    }
    push_air(seasons, sky, first, out);
}

/// Appends a day's steps; returns the clearness reached, which is the wanted one unless the clear sky allows less.
fn push_hours(
    day: &Day,
    sky: &SkyDay<'_>,
    steps_per_hour: usize,
    wanted: f64,
    luck: &mut Stream,
    ghi_w_m2: &mut Vec<f64>,
) -> f64 {
    let how = Disturbance { spread: day.hourly_spread, persistence: day.hourly_persistence, cloudless: day.cloudless };
    let mut hours = [0.0; 24];
    let reached = hourly_clearness((&day.profile, &day.ceiling), sky, wanted, &how, luck, &mut hours);
    let begin = ghi_w_m2.len();
    ghi_w_m2.resize(begin + sky.steps.len(), 0.0);
    let of_hours = ghi_w_m2[begin..].chunks_exact_mut(steps_per_hour).zip(sky.steps.chunks_exact(steps_per_hour));
    for (clearness, (ghi, light)) in hours.iter().zip(of_hours) {
        for (ghi, light) in ghi.iter_mut().zip(light) {
            *ghi = clearness * light;
        }
    }
    reached
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

/// Draws the clearness of a day's hours from the course of the day and below its ceiling; returns the day's, which is the wanted one unless the clear sky allows less.
pub(super) fn hourly_clearness(
    (profile, ceiling): (&[f64; 24], &[f64; 24]),
    sky: &SkyDay<'_>,
    wanted: f64,
    how: &Disturbance,
    luck: &mut Stream,
    hours: &mut [f64; 24],
) -> f64 {
    let (from, to) = sky.light;
    if to <= from {
        return wanted.clamp(0.0, 1.0);
    }
    let hours = &mut hours[from..to];
    let (light, profile, ceiling) = (&sky.hours[from..to], &profile[from..to], &ceiling[from..to]);
    let spread = graham_hollands_spread(wanted, how.cloudless) * how.spread;
    let (memory, fresh) = (how.persistence, (1.0 - how.persistence * how.persistence).sqrt());
    let mut disturbance = luck.normal();
    let (mut sum, mut brightest) = (0.0, 0.0);
    for (((clearness, light), profile), ceiling) in hours.iter_mut().zip(light).zip(profile).zip(ceiling) {
        let mean = (wanted * profile).min(*ceiling);
        // Cut to both sides alike, so that the mean course stays what it is.
        let room = (0.9 * mean).min(ceiling - mean);
        *clearness = mean + (spread * disturbance).clamp(-room, room);
        disturbance = memory * disturbance + fresh * luck.normal();
        sum += *clearness * light;
        brightest += ceiling * light;
    }
    let target = (wanted * sky.total_wh_m2).clamp(0.0, brightest);
    // Every hour is multiplied alike; what the ceiling cuts off comes back as the same share of the room that is left in
    // every hour. The day's sum is met exactly and no hour leaves its bounds.
    if sum > 0.0 {
        let factor = target / sum;
        let mut reached = 0.0;
        for ((clearness, ceiling), light) in hours.iter_mut().zip(ceiling).zip(light) {
            *clearness = (*clearness * factor).min(*ceiling);
            reached += *clearness * light;
        }
        if reached < target {
            let share = (target - reached) / (brightest - reached);
            for (clearness, ceiling) in hours.iter_mut().zip(ceiling) {
                *clearness += share * (ceiling - *clearness);
            }
        }
    }
    target / sky.total_wh_m2
}

/// Air temperature alone, for sun that comes from elsewhere: `out.daily_clearness` is known already.
pub(super) fn air_for(seasons: &Seasons, sky: &SkyTable, first: usize, luck: &mut Stream, out: &mut WeatherTrace) {
    let days = out.daily_clearness.len();
    out.day_air_c.clear();
    let mut air = luck.normal();
    for k in 0..days + 2 {
        let day = seasons.day((first + k + 364) % 365);
        air = day.air_persistence * air + (1.0 - day.air_persistence * day.air_persistence).sqrt() * luck.normal();
        out.day_air_c.push(air);
    }
    push_air(seasons, sky, first, out);
}

/// Turns the scores in `out.day_air_c` into temperatures and fills `out.air_c`.
fn push_air(seasons: &Seasons, sky: &SkyTable, first: usize, out: &mut WeatherTrace) {
    let n = sky.steps_per_day();
    let days = out.daily_clearness.len();
    for (k, air) in out.day_air_c.iter_mut().enumerate() {
        let day = seasons.day((first + k + 364) % 365);
        *air = day.air_mean_c + day.air_sd_k * *air;
    }
    out.air_c.clear();
    for k in 0..days {
        let day = (first + k) % 365;
        let of_day = seasons.day(day);
        // A clear day swings more than a dull one, in proportion between half and half again the month's mean.
        let relative = out.daily_clearness[k] / of_day.mean_clearness.max(0.05);
        let swing = of_day.air_swing_k * (0.3 + 0.7 * relative).clamp(0.4, 1.6);
        let [before, now, after] = [out.day_air_c[k], out.day_air_c[k + 1], out.day_air_c[k + 2]];
        for (step, shape) in sky.air_shape(day).iter().enumerate() {
            let x = (step as f64 + 0.5) / n as f64 - 0.5;
            let mean = if x < 0.0 { now + x * (now - before) } else { now + x * (after - now) };
            out.air_c.push(mean + swing * shape);
        }
    }
}
