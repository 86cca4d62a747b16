//! When the lights go out in a history of years, and for how long.

use super::record::OutageRecord;
use crate::calendar::{days_of_month, month_of_day};
use crate::engine::plan::{LONGEST_OUTAGE_H, whole_steps};
use crate::math;
use crate::random::Stream;
use crate::scenario::model::Lasts;
use crate::statistics::{NORMAL_P95, gamma_quantile, normal_cdf};

/// Share of a month's days that count as dark.
const DARKEST: f64 = 0.2;

/// An outage in a history.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arrival {
    /// Step at which it begins, counted from the start of the history.
    pub start: usize,
    /// Its length \[steps\], at least 1.
    pub steps: usize,
    /// It is announced to whoever is warned of this share of the outages or more, 0 to 1.
    pub warned_from: f64,
}

/// How often.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rate {
    /// So many a year.
    Known(f64),
    /// What so many outages in so many years allow.
    Counted {
        /// Outages on record.
        outages: f64,
        /// Years on record.
        years: f64,
    },
}

/// How long.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Length {
    /// Always the same \[h\].
    Fixed(f64),
    /// Log-normal.
    LogNormal {
        /// Mean of the logarithm of the hours.
        mu: f64,
        /// Standard deviation of the same.
        sigma: f64,
    },
    /// Log-normal, known from so many outages: the next one follows Student's distribution in the logarithm.
    Fitted {
        /// Mean of the logarithm of the hours.
        mu: f64,
        /// Standard deviation of the same.
        sigma: f64,
        /// Outages on record, 3 or more.
        outages: f64,
    },
}

/// Outages that come by chance.
#[derive(Debug, Clone, PartialEq)]
pub struct ArrivalPlan {
    /// How often.
    pub rate: Rate,
    /// How long.
    pub length: Length,
    /// Weights of the months, January first; their sum is above 0.
    pub month_weights: [f64; 12],
    /// Share that begins with the darkest days of the month.
    pub in_bad_weather: f64,
}

impl ArrivalPlan {
    /// From a frequency and a length.
    #[must_use]
    pub fn often(a_year: f64, lasts: Lasts, month_weights: [f64; 12], in_bad_weather: f64) -> ArrivalPlan {
        let length = match lasts {
            Lasts::Fixed(hours) => Length::Fixed(hours.0),
            Lasts::LogNormal { median, p95 } => {
                Length::LogNormal { mu: math::ln(median.0), sigma: math::ln(p95 / median) / NORMAL_P95 }
            }
        };
        ArrivalPlan { rate: Rate::Known(a_year), length, month_weights, in_bad_weather }
    }

    /// From a record of outages that covers so many years. Every month gets half an outage more than it had, so that
    /// one that was spared is not thought safe.
    #[must_use]
    pub fn recorded(record: &OutageRecord, years: f64, month_weights: [f64; 12], in_bad_weather: f64) -> ArrivalPlan {
        let mut weights = month_weights;
        for (month, weight) in weights.iter_mut().enumerate() {
            *weight *= 0.5 + record.months.iter().filter(|&&m| m == month).count() as f64;
        }
        let outages = record.hours.len() as f64;
        let (mu, sigma) = record.log_normal();
        ArrivalPlan {
            rate: Rate::Counted { outages, years },
            length: Length::Fitted { mu, sigma, outages },
            month_weights: weights,
            in_bad_weather,
        }
    }

    /// Mean number of outages a year.
    #[must_use]
    pub fn mean_a_year(&self) -> f64 {
        match self.rate {
            Rate::Known(a_year) => a_year,
            Rate::Counted { outages, years } => (outages + 0.5) / years,
        }
    }

    /// Draws the outages of some years into `out`, in order and apart from each other.
    ///
    /// * `clearness` — clearness of each day of the history, which begins on 1 January and is at least as long.
    pub fn draw(&self, years: usize, clock: &Clock, clearness: &[f64], rng: &mut Stream, out: &mut Vec<Arrival>) {
        out.clear();
        let a_year = match self.rate {
            Rate::Known(a_year) => a_year,
            // Jeffreys' posterior of a Poisson rate.
            Rate::Counted { outages, years } => gamma(outages + 0.5, rng.normal()) / years,
        };
        let dark = (self.in_bad_weather > 0.0).then(|| dark_limits(clearness));
        for year in 0..years {
            for _ in 0..rng.poisson(a_year) {
                let (of_month, of_day, of_step) = (rng.uniform(), rng.uniform(), rng.uniform());
                let (storm, warned_from) = (rng.uniform(), rng.uniform());
                let hours = self.length.draw(rng);
                let month = pick(&self.month_weights, of_month);
                let days = days_of_month(month);
                let (first, length) = (year * 365 + days.start, days.len());
                let day = match &dark {
                    Some(limits) if storm < self.in_bad_weather => {
                        first + dark_day(&clearness[first..=first + length], limits[month], of_day)
                    }
                    _ => first + (of_day * length as f64) as usize,
                };
                let start = day * clock.steps_a_day + (of_step * clock.steps_a_day as f64) as usize;
                let steps = whole_steps(hours.min(LONGEST_OUTAGE_H), clock.step_h);
                out.push(Arrival { start, steps, warned_from });
            }
        }
        out.sort_by_key(|arrival| arrival.start);
        // An outage that begins while another lasts prolongs it.
        let most = whole_steps(LONGEST_OUTAGE_H, clock.step_h);
        out.dedup_by(|next, kept| {
            let overlaps = next.start <= kept.start + kept.steps;
            if overlaps {
                kept.steps = (next.start + next.steps - kept.start).max(kept.steps).min(most);
            }
            overlaps
        });
    }
}

/// The weeks of some years, one after the other, where cuts come back all year.
pub(super) fn weeks(years: usize, clock: &Clock, out: &mut Vec<Arrival>) {
    let (week, end) = (7 * clock.steps_a_day, 365 * years * clock.steps_a_day);
    out.clear();
    let of = |start: usize| Arrival { start, steps: week.min(end - start), warned_from: 1.0 };
    out.extend((0..end).step_by(week).map(of));
}

/// Steps of the simulation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clock {
    /// Steps in a day.
    pub steps_a_day: usize,
    /// Length of a step \[h\].
    pub step_h: f64,
}

impl Length {
    /// One length \[h\]. Always takes two numbers.
    fn draw(&self, rng: &mut Stream) -> f64 {
        let (z, other) = (rng.normal(), rng.normal());
        match *self {
            Length::Fixed(hours) => hours,
            Length::LogNormal { mu, sigma } => math::exp(mu + sigma * z),
            Length::Fitted { mu, sigma, outages } => {
                let freedom = outages - 1.0;
                let chi_squared = 2.0 * gamma(0.5 * freedom, other);
                let t = z / (chi_squared / freedom).sqrt();
                math::exp((mu + sigma * (1.0 + 1.0 / outages).sqrt() * t).min(math::ln(LONGEST_OUTAGE_H)))
            }
        }
    }
}

/// The gamma variate of a shape, above 0, and scale 1 that stands where a standard normal number does among its like: one
/// number a draw, so that variants stay in step.
fn gamma(shape: f64, z: f64) -> f64 {
    gamma_quantile(shape, normal_cdf(z))
}

/// Index picked by weight.
fn pick(weights: &[f64; 12], u: f64) -> usize {
    let mut left = u * weights.iter().sum::<f64>();
    for (index, weight) in weights.iter().enumerate() {
        if left < *weight {
            return index;
        }
        left -= weight;
    }
    weights.iter().rposition(|weight| *weight > 0.0).unwrap_or(11)
}

/// Clearness that a fifth of each month's days stay at or below, over all years of the history.
fn dark_limits(clearness: &[f64]) -> [f64; 12] {
    let mut months: [Vec<f64>; 12] =
        std::array::from_fn(|month| Vec::with_capacity(days_of_month(month).len() * clearness.len().div_ceil(365)));
    for (day, &value) in clearness.iter().enumerate() {
        months[month_of_day(day)].push(value);
    }
    months.map(|mut days| {
        let at = (DARKEST * days.len() as f64) as usize;
        if days.is_empty() { 0.0 } else { *days.select_nth_unstable_by(at, f64::total_cmp).1 }
    })
}

/// A day of a month that begins two dark days, all such days equally likely; where there is none, the first of the
/// darkest two.
///
/// * `clearness` — the month's days and the one after.
fn dark_day(clearness: &[f64], limit: f64, u: f64) -> usize {
    let dark = |pair: &[f64]| pair.iter().all(|&value| value <= limit);
    let count = clearness.windows(2).filter(|pair| dark(pair)).count();
    if count == 0 {
        let sums = clearness.windows(2).map(|pair| pair[0].max(pair[1]));
        return sums.enumerate().min_by(|a, b| a.1.total_cmp(&b.1)).map_or(0, |(day, _)| day);
    }
    let wanted = (u * count as f64) as usize;
    let mut found = clearness.windows(2).enumerate().filter(|(_, pair)| dark(pair));
    found.nth(wanted.min(count - 1)).map_or(0, |(day, _)| day)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Purpose;

    const CLOCK: Clock = Clock { steps_a_day: 24, step_h: 1.0 };

    /// The next of a few log-normal lengths exceeds x̄ + t s √(1 + 1/n) once in forty: the prediction interval of textbooks (Hahn &
    /// Meeker, Statistical Intervals, 1991), t = 2.7764 for five.
    #[test]
    fn the_next_outage_lies_in_the_prediction_interval_of_those_before() {
        let length = Length::Fitted { mu: 1.0, sigma: 0.3, outages: 5.0 };
        let limit_h = math::exp(1.0 + 2.7764 * 0.3 * 1.2_f64.sqrt());
        let draws = 40_000;
        let mut rng = Stream::new(5, 0, Purpose::Outage);
        let longer = (0..draws).filter(|_| length.draw(&mut rng) > limit_h).count() as f64 / f64::from(draws);
        // Three and a half standard deviations of a share of so many draws.
        assert!((longer - 0.025).abs() < 3.5 * (0.025 * 0.975 / f64::from(draws)).sqrt(), "{longer}");
    }

    #[test]
    fn outages_come_as_often_as_long_and_when_they_should() {
        let lasts = Lasts::LogNormal { median: crate::units::Hours(3.0), p95: crate::units::Hours(30.0) };
        let mut weights = [1.0; 12];
        weights[0] = 5.0;
        let plan = ArrivalPlan::often(0.5, lasts, weights, 0.4);
        // Every second day's clearness is that of the day before, so that two dark days in a row are not rare.
        let mut sky = Stream::new(1, 0, Purpose::Weather);
        let mut clearness: Vec<f64> = (0..3711).map(|_| sky.uniform()).collect();
        for day in (1..3711).step_by(2) {
            clearness[day] = clearness[day - 1];
        }
        let limits = dark_limits(&clearness);
        let (mut out, mut count, mut january, mut short, mut dark) = (Vec::new(), 0, 0, 0, 0);
        let histories = 4000;
        for history in 0..histories {
            let mut rng = Stream::new(3, history, Purpose::Outage);
            plan.draw(10, &CLOCK, &clearness, &mut rng, &mut out);
            assert!(out.windows(2).all(|pair| pair[0].start + pair[0].steps < pair[1].start));
            count += out.len();
            for arrival in &out {
                let day = arrival.start / 24;
                let month = month_of_day(day);
                january += usize::from(month == 0);
                short += usize::from(arrival.steps <= 3);
                dark += usize::from(clearness[day] <= limits[month] && clearness[day + 1] <= limits[month]);
            }
        }
        // 20,000 outages expected; 5 standard errors are a false alarm once in 1.7 million. Outages that would meet are put together: of
        // 8 h on the mean at up to two a year that is one in a thousand or two, 40 at most, and moves shares by less than 0.003.
        let n = count as f64;
        assert!((n - 20_000.0).abs() < 5.0 * 20_000.0_f64.sqrt() + 40.0, "{n} outages");
        let share = |k: usize, p: f64| ((k as f64 / n) - p).abs() < 5.0 * (p * (1.0 - p) / n).sqrt() + 0.003;
        assert!(share(january, 5.0 / 16.0), "{january} of {n} in January");
        // A begun hour counts whole: up to the median of 3 h count as short.
        assert!(share(short, 0.5), "{short} of {n} short");
        // 40 % by rule but for months without such days (0.8^15); of the others 12 in 100, half of a fifth and half of
        // a fifth of a fifth.
        // Five standard errors are 0.018; the rest is the fifth itself, which is told from some 300 days a month.
        let expected = 0.4 * (1.0 - math::powi(0.8, 15)) + 0.6 * 0.12;
        assert!((dark as f64 / n - expected).abs() < 0.03, "{dark} of {n} dark, {expected} expected");
    }

    #[test]
    fn a_short_record_leaves_room_for_more_and_longer_outages() {
        let record = OutageRecord { months: vec![0, 1, 6], hours: vec![2.0, 8.0, 4.0] };
        let plan = ArrivalPlan::recorded(&record, 3.0, [1.0; 12], 0.0);
        let clearness = vec![0.5; 3711];
        let mut out = Vec::new();
        let (mut counts, mut longest) = (Vec::new(), 0);
        for history in 0..2000 {
            plan.draw(10, &CLOCK, &clearness, &mut Stream::new(5, history, Purpose::Outage), &mut out);
            counts.push(out.len() as f64);
            longest = longest.max(out.iter().map(|a| a.steps).max().unwrap_or(0));
        }
        let mean = counts.iter().sum::<f64>() / 2000.0;
        let variance = counts.iter().map(|c| math::powi(c - mean, 2)).sum::<f64>() / 1999.0;
        // Rate gamma(3.5)/3 a year over ten years: mean 11.7; variance mean + 100 × 3.5/9 = 50.6.
        assert!((mean - 11.67).abs() < 5.0 * (50.6_f64 / 2000.0).sqrt(), "{mean}");
        assert!((35.0..66.0).contains(&variance), "{variance}");
        assert!(longest > 100, "never longer than {longest} h");
    }

    /// By hand: of weights 0, 2, 0 and 3 the first two fifths are February's, the rest April's.
    #[test]
    fn months_are_picked_by_their_weights() {
        let mut weights = [0.0; 12];
        (weights[1], weights[3]) = (2.0, 3.0);
        let picked = [0.0, 0.39, 0.41, 0.99, 1.0].map(|u| pick(&weights, u));
        assert_eq!(picked, [1, 1, 3, 3, 3]);
        weights[3] = 0.0;
        assert_eq!(pick(&weights, 1.0), 1);
    }

    /// By hand: of 31 days the seventh darkest is the first above a fifth of them (6.2), of 28 the sixth; over two years of 62 the
    /// thirteenth.
    #[test]
    fn a_fifth_of_each_months_days_is_dark() {
        let of_month = |day: usize| day - days_of_month(month_of_day(day)).start;
        let year: Vec<f64> =
            (0..365).map(|day| 0.01 * ((of_month(day) * 5) % days_of_month(month_of_day(day)).len()) as f64).collect();
        let limits = dark_limits(&year);
        // 31 and 28 have no factor in common with 5: every hundredth once.
        assert_eq!((limits[0], limits[1], limits[11]), (0.06, 0.05, 0.06));
        let brighter: Vec<f64> = year.iter().map(|value| value + 0.001).collect();
        assert_eq!(dark_limits(&[year, brighter].concat())[0], 0.06);
        assert_eq!(dark_limits(&[0.3; 40])[5], 0.0);
    }

    /// By hand: three pairs of days are dark, from the second, the fifth and the sixth on, and are picked alike; where there is none it is
    /// the pair of which the brighter day is the darkest.
    #[test]
    fn a_storm_begins_with_two_dark_days() {
        let days = [0.5, 0.1, 0.2, 0.9, 0.1, 0.15, 0.1, 0.8];
        let begun = [0.0, 0.33, 0.34, 0.66, 0.67, 0.99, 1.0].map(|u| dark_day(&days, 0.2, u));
        assert_eq!(begun, [1, 1, 4, 4, 5, 5, 5]);
        // Of two alike the first.
        assert_eq!(dark_day(&days, 0.09, 0.7), 4);
        assert_eq!(dark_day(&[0.9, 0.3, 0.8, 0.5, 0.6, 0.7], 0.4, 0.5), 3);
    }

    /// A year is 52 weeks and a day.
    #[test]
    fn weeks_follow_each_other_to_the_end() {
        let mut out = vec![Arrival { start: 9, steps: 9, warned_from: 0.0 }];
        weeks(1, &CLOCK, &mut out);
        assert_eq!(out.len(), 53);
        assert!(out.windows(2).all(|pair| pair[0].start + pair[0].steps == pair[1].start && pair[0].steps == 168));
        assert_eq!((out[0].start, out[52].start + out[52].steps, out[52].steps), (0, 8760, 24));
        // Nobody is warned.
        assert!(out.iter().all(|week| week.warned_from == 1.0));
    }

    /// A log-normal length has its median and its 95 % point: the standard deviation of the logarithm is ln 10 / 1.644854. A record of
    /// three in four years has 3.5 / 4 a year (Jeffreys), and of each month's weight half an outage more than it had.
    #[test]
    fn plans_say_how_often_and_how_long() {
        let lasts = Lasts::LogNormal { median: crate::units::Hours(3.0), p95: crate::units::Hours(30.0) };
        let plan = ArrivalPlan::often(0.7, lasts, [1.0; 12], 0.4);
        let Length::LogNormal { mu, sigma } = plan.length else { panic!("log-normal") };
        assert!(
            (mu - 1.098_612_3).abs() < 1e-6 && (sigma - std::f64::consts::LN_10 / 1.644_853_6).abs() < 1e-6,
            "{mu} {sigma}"
        );
        assert_eq!((plan.mean_a_year(), plan.in_bad_weather), (0.7, 0.4));
        let record = OutageRecord { months: vec![0, 0, 6], hours: vec![2.0, 8.0, 4.0] };
        let mut weights = [1.0; 12];
        (weights[0], weights[6], weights[7]) = (2.0, 3.0, 4.0);
        let plan = ArrivalPlan::recorded(&record, 4.0, weights, 0.1);
        assert_eq!((plan.month_weights[0], plan.month_weights[6], plan.month_weights[7]), (5.0, 4.5, 2.0));
        assert_eq!((plan.month_weights[1], plan.mean_a_year(), plan.in_bad_weather), (0.5, 0.875, 0.1));
        let Length::Fitted { outages, .. } = plan.length else { panic!("fitted") };
        assert_eq!(outages, 3.0);
        // What is always the same is the same, rounded up to whole steps.
        let mut out = Vec::new();
        let plan = ArrivalPlan::often(3.0, Lasts::Fixed(crate::units::Hours(2.5)), [1.0; 12], 0.0);
        plan.draw(2, &CLOCK, &[], &mut Stream::new(1, 0, Purpose::Outage), &mut out);
        assert!(!out.is_empty() && out.iter().all(|arrival| arrival.steps == 3), "{out:?}");
    }

    /// Outages in so quick a row that all run into one another are one, which begins with the first and is cut at the longest there is.
    #[test]
    fn outages_that_meet_are_one() {
        let plan = ArrivalPlan::often(4_000.0, Lasts::Fixed(crate::units::Hours(48.0)), [1.0; 12], 0.0);
        let mut out = Vec::new();
        plan.draw(1, &CLOCK, &[], &mut Stream::new(1, 0, Purpose::Outage), &mut out);
        // Eleven begin on every day.
        let longest = whole_steps(LONGEST_OUTAGE_H, 1.0);
        assert!(out[0].start < 24 && out[0].steps == longest.min(365 * 24 + 48), "{:?}", out[0]);
        assert!(out.windows(2).all(|pair| pair[0].start + pair[0].steps < pair[1].start));
        // Two a year of a day each: none is lost but where they meet, and none is longer than both together.
        let plan = ArrivalPlan::often(30.0, Lasts::Fixed(crate::units::Hours(240.0)), [1.0; 12], 0.0);
        plan.draw(1, &CLOCK, &[], &mut Stream::new(4, 0, Purpose::Outage), &mut out);
        assert!(out.iter().any(|arrival| arrival.steps > 240), "{out:?}");
        assert!(out.iter().all(|arrival| arrival.steps >= 240));
    }
}
