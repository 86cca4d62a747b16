//! From a day's clearness to that of its hours.

use crate::random::Stream;
use crate::random::polynomials::{less, more};
use crate::random::real::Real;
use crate::weather::seasons::Day;
use crate::weather::sun::{SkyDay, graham_hollands_spread};

/// What is lost of a day's sum by rounding, as a share of it, below which nothing is given back.
const ROUNDING: f64 = 1e-6;

/// How single hours differ from the course of the day.
#[derive(Debug, Clone, Copy)]
pub(in crate::weather) struct Disturbance {
    /// Spread over Graham & Hollands' \[–\].
    pub spread: f64,
    /// Lag-1 autocorrelation.
    pub persistence: f64,
    /// Clearness of a cloudless day \[–\].
    pub cloudless: f64,
}

impl Disturbance {
    /// On a day of the year.
    pub(in crate::weather) fn of(day: &Day) -> Disturbance {
        Disturbance { spread: day.hourly_spread, persistence: day.hourly_persistence, cloudless: day.cloudless }
    }
}

/// A source of standard normal numbers, one a lane. A closure would not be compiled for the vectors of its caller.
pub(in crate::weather) trait Draw<const L: usize> {
    /// The next.
    fn draw(&mut self) -> &[f32; L];
}

/// One lane from a stream.
pub(in crate::weather) struct Single(pub Stream, pub [f32; 1]);

impl Draw<1> for Single {
    fn draw(&mut self) -> &[f32; 1] {
        self.1 = [self.0.normal() as f32];
        &self.1
    }
}

/// Draws the clearness of a day's hours from the course of the day and below its ceiling; returns the day's, which is the
/// wanted one unless the clear sky allows less.
#[inline(always)]
pub(in crate::weather) fn hourly_clearness<R: Real, const L: usize>(
    (profile, ceiling): (&[f64; 24], &[f64; 24]),
    sky: &SkyDay<'_>,
    wanted: &[R; L],
    (how, unrest): (&Disturbance, &[R; L]),
    normals: &mut impl Draw<L>,
    hours: &mut [[R; L]; 24],
) -> [R; L] {
    let (from, to) = sky.light;
    let nothing = R::default();
    let mut day = [nothing; L];
    if to <= from {
        for l in 0..L {
            day[l] = less(more(wanted[l], nothing), R::ONE);
        }
        return day;
    }
    let mut spread = [nothing; L];
    let (per_cloudless, of_spread) = (R::of(1.0 / how.cloudless.max(0.1)), R::of(how.spread));
    for l in 0..L {
        spread[l] = graham_hollands_spread(wanted[l] * per_cloudless) * (of_spread * unrest[l]);
    }
    let (mut memory, mut fresh) = (nothing, R::ONE);
    let (after, renewed) = (R::of(how.persistence), R::of((1.0 - how.persistence * how.persistence).sqrt()));
    let (mut disturbance, mut sum) = ([nothing; L], [nothing; L]);
    let mut brightest = 0.0;
    let most = R::of(0.9);
    for hour in from..to {
        let z = normals.draw();
        brightest += ceiling[hour] * sky.hours[hour];
        let (light, profile, ceiling) = (R::of(sky.hours[hour]), R::of(profile[hour]), R::of(ceiling[hour]));
        let clearness = &mut hours[hour];
        for l in 0..L {
            disturbance[l] = memory * disturbance[l] + fresh * R::of_single(z[l]);
            let mean = less(wanted[l] * profile, ceiling);
            // Cut to both sides alike, so that the mean course stays what it is.
            let room = less(most * mean, ceiling - mean);
            let c = mean + less(more(spread[l] * disturbance[l], -room), room);
            clearness[l] = c;
            sum[l] += c * light;
        }
        (memory, fresh) = (after, renewed);
    }
    // Every hour is multiplied alike; what the ceiling cuts off comes back as the same share of the room that is left in
    // every hour. The day's sum is met exactly and no hour leaves its bounds.
    let (mut target, mut factor, mut reached) = ([nothing; L], [nothing; L], [nothing; L]);
    let (total, per_total) = (R::of(sky.total_wh_m2), R::of(1.0 / sky.total_wh_m2));
    let brightest = R::of(brightest);
    for l in 0..L {
        target[l] = less(more(wanted[l] * total, nothing), brightest);
        factor[l] = if nothing < sum[l] { target[l] / sum[l] } else { nothing };
        day[l] = target[l] * per_total;
    }
    for hour in from..to {
        let (light, ceiling, clearness) = (R::of(sky.hours[hour]), R::of(ceiling[hour]), &mut hours[hour]);
        for l in 0..L {
            let c = less(clearness[l] * factor[l], ceiling);
            clearness[l] = c;
            reached[l] += c * light;
        }
    }
    let mut share = [nothing; L];
    let rounding = R::of(ROUNDING);
    let mut any = false;
    for l in 0..L {
        let lacks = target[l] - reached[l];
        let gives = rounding * target[l] < lacks && nothing < sum[l];
        share[l] = if gives { lacks / (brightest - reached[l]) } else { nothing };
        any |= gives;
    }
    if any {
        for hour in from..to {
            let (ceiling, clearness) = (R::of(ceiling[hour]), &mut hours[hour]);
            for l in 0..L {
                clearness[l] += share[l] * (ceiling - clearness[l]);
            }
        }
    }
    day
}

#[cfg(test)]
mod tests;
