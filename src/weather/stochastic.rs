//! Stochastic days and hours.

use super::seasons::{Day, Seasons};
use super::sun::{SkyDay, SkyTable};
use super::{Opening, Request, WeatherTrace};
use crate::random::Stream;
use statrs::function::erf::erfc_inv;

/// Most dark days that an opening may ask for.
const MOST_STORM_DAYS: usize = 5;
/// Attempts at a dark opening before the scores are cut to the threshold instead.
const ATTEMPTS: usize = 2000;

/// Normal scores of one day: of clearness, and of air temperature.
#[derive(Debug, Clone, Copy)]
struct Scores {
    sky: f64,
    air: f64,
}

impl Scores {
    fn stationary(day: &Day, luck: &mut Stream) -> Scores {
        let sky = luck.normal();
        let (a, b) = (day.persistence, day.air_persistence);
        // The stationary correlation that the innovations' correlation leads to.
        let link = day.air_link * ((1.0 - a * a) * (1.0 - b * b)).sqrt() / (1.0 - a * b);
        Scores { sky, air: link * sky + (1.0 - link * link).sqrt() * luck.normal() }
    }

    fn next(self, day: &Day, luck: &mut Stream) -> Scores {
        let (a, b) = (day.persistence, day.air_persistence);
        let fresh = luck.normal();
        let own = luck.normal();
        let air_fresh = day.air_link * fresh + (1.0 - day.air_link * day.air_link).sqrt() * own;
        Scores {
            sky: a * self.sky + (1.0 - a * a).sqrt() * fresh,
            air: b * self.air + (1.0 - b * b).sqrt() * air_fresh,
        }
    }
}

/// Fills `out.daily_clearness` with normal scores of days 0 to n and `out.day_air_c` with those of −1 to n + 1.
fn draw_scores(seasons: &Seasons, request: &Request, luck: &mut Stream, out: &mut WeatherTrace) {
    let Request { first, days, opening, .. } = *request;
    let (storm_days, threshold) = match opening {
        Opening::Any => (0, f64::INFINITY),
        Opening::Storm { days: dark, darkest } => {
            let p = darkest.clamp(0.01, 1.0);
            let z = if p < 1.0 { -std::f64::consts::SQRT_2 * erfc_inv(2.0 * p) } else { f64::INFINITY };
            ((dark as usize).min(MOST_STORM_DAYS).min(days), z)
        }
    };
    let (sky, air) = (&mut out.daily_clearness, &mut out.day_air_c);
    let day_of = |k: usize| seasons.day((first + k + 364) % 365);
    let mut attempts = 0;
    loop {
        sky.clear();
        air.clear();
        let mut now = Scores::stationary(day_of(0), luck);
        air.push(now.air);
        let mut dark = true;
        for k in 1..=storm_days {
            now = now.next(day_of(k), luck);
            dark &= now.sky <= threshold;
            if !dark && attempts < ATTEMPTS {
                break;
            }
            now.sky = now.sky.min(threshold);
            sky.push(now.sky);
            air.push(now.air);
        }
        if dark || attempts >= ATTEMPTS {
            for k in storm_days + 1..=days + 1 {
                now = now.next(day_of(k), luck);
                if k <= days {
                    sky.push(now.sky);
                }
                air.push(now.air);
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
    draw_scores(seasons, request, luck, out);
    for k in 0..days {
        let day = (first + k) % 365;
        let (of_day, of_sky) = (seasons.day(day), sky.day(day));
        let wanted = of_day.clearness(out.daily_clearness[k]) * systematic;
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
    let begin = ghi_w_m2.len();
    ghi_w_m2.resize(begin + sky.steps.len(), 0.0);
    let (from, to) = sky.light;
    if to <= from {
        return wanted.clamp(0.0, 1.0);
    }
    let mut hours = [0.0; 24];
    let hours = &mut hours[from..to];
    let (light, profile, ceiling) = (&sky.hours[from..to], &sky.profile[from..to], &sky.ceiling[from..to]);
    // Graham & Hollands (1990): σ = 0.16 sin(π K / 0.90).
    let spread = 0.16 * (std::f64::consts::PI * wanted.clamp(0.0, 0.9) / 0.9).sin() * day.hourly_spread;
    let (memory, fresh) = (day.hourly_persistence, (1.0 - day.hourly_persistence * day.hourly_persistence).sqrt());
    let mut disturbance = luck.normal();
    let (mut sum, mut brightest) = (0.0, 0.0);
    for (((clearness, light), profile), ceiling) in hours.iter_mut().zip(light).zip(profile).zip(ceiling) {
        let ceiling = ceiling * day.ceiling_lift;
        let mean = (wanted * profile).min(ceiling);
        *clearness = (mean + spread * disturbance).clamp(0.2 * mean, ceiling);
        disturbance = memory * disturbance + fresh * luck.normal();
        sum += *clearness * light;
        brightest += ceiling * light;
    }
    let target = (wanted * sky.total_wh_m2).clamp(0.0, brightest);
    // Too dull a day moves towards the ceiling by the same share in every hour, too bright a one shrinks: the day's
    // sum is met exactly and no hour leaves its bounds.
    if target > sum {
        let share = (target - sum) / (brightest - sum);
        for (clearness, ceiling) in hours.iter_mut().zip(ceiling) {
            *clearness += share * (ceiling * day.ceiling_lift - *clearness);
        }
    } else if sum > 0.0 {
        let factor = target / sum;
        for clearness in hours.iter_mut() {
            *clearness *= factor;
        }
    }
    let of_hours = ghi_w_m2[begin..].chunks_exact_mut(steps_per_hour).zip(sky.steps.chunks_exact(steps_per_hour));
    for (clearness, (ghi, light)) in hours.iter().zip(of_hours.skip(from)) {
        for (ghi, light) in ghi.iter_mut().zip(light) {
            *ghi = clearness * light;
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
