//! A climate spread over the days of the year: what one day's weather is drawn from.

use super::bend::Bend;
use super::climate::{Climate, LEVELS, quantile_at, quantile_mean};
use super::hours::{ceiling_with, profile_with};
use super::spells::{EDGE, NODES, NODES_PER_UNIT, Shape, Spells, Wanted};
use super::sun::{SkyTable, cloudless};
use crate::calendar::{days_of_month, month_of_day};
use crate::linear::least_squares;
use crate::random::polynomials::{less, more};
use crate::random::real::Real;
use crate::statistics::normal_cdf;

/// How far the values at the middles of the months are moved from the months' means towards those that would keep
/// every month's mean: all the way follows the chance of single months, not at all flattens the seasons. Less is better on
/// years that were not used, more is better on those that were and less rosy (weather/EVIDENCE.md).
const SHARPENING: f64 = 0.8;

/// A persistence is changed in proportion only above this: below it, small changes would be many times what there is.
const LEAST_PERSISTENCE: f64 = 0.1;

/// Statistics of one day of the year.
#[derive(Debug, Clone)]
pub(super) struct Day {
    clearness: [f64; NODES],
    quantiles: [f64; LEVELS.len()],
    /// Highest clearness of each hour.
    pub ceiling: [f64; 24],
    /// Shape of the spells, their φ and √(1 − φ²), the weights of spells, slow part and the day's own in z, and the shares of
    /// spells and slow part in its variance.
    pub shape: Shape,
    pub phi: f64,
    pub fresh: f64,
    pub weights: [f64; 3],
    pub shares: [f64; 2],
    /// Clearness of a cloudless day.
    pub cloudless: f64,
    /// Mean clearness of each hour over the day's.
    pub profile: [f64; 24],
    /// Standard deviation of hourly clearness within the day, over Graham & Hollands' \[–\].
    pub hourly_spread: f64,
    /// Lag-1 autocorrelation of the hourly disturbance.
    pub hourly_persistence: f64,
    pub air_mean_c: f64,
    pub air_sd_k: f64,
    pub air_swing_k: f64,
    pub air_persistence: f64,
    /// Weights of the fresh parts of the spells and of the day, and of its own random numbers, in the fresh part of the air.
    pub air_weights: [f64; 3],
    /// Mean clearness, for the swing.
    pub mean_clearness: f64,
    /// How its distribution is bent by a drawn climate.
    pub bend: Bend,
    /// What a small change of the inverse hyperbolic tangent of the persistence does to the share of the spells, as a part
    /// of it.
    pub share_per_change: f64,
}

impl Day {
    /// The day's clearness at latent scores: the quantile function at F(z).
    #[inline(always)]
    pub fn clearness_lanes<R: Real, const L: usize>(&self, z: &[R; L]) -> [R; L] {
        let (edge, per_unit) = (R::of(EDGE), R::of(NODES_PER_UNIT));
        let last = R::of((NODES - 2) as f64 + 0.5);
        let (mut node, mut part) = ([0; L], [R::default(); L]);
        for l in 0..L {
            let x = (less(more(z[l], -edge), edge) + edge) * per_unit;
            let whole;
            (node[l], whole) = less(x, last).node();
            part[l] = x - whole;
        }
        let mut out = [R::default(); L];
        for l in 0..L {
            let (low, high) = (R::of(self.clearness[node[l]]), R::of(self.clearness[node[l] + 1]));
            out[l] = low + part[l] * (high - low);
        }
        out
    }
}

impl Day {
    /// The day's clearness at a normal score: the quantile function at Φ(score).
    pub fn clearness_at_score(&self, score: f64) -> f64 {
        quantile_at(&self.quantiles, normal_cdf(score))
    }
}

/// Day-by-day statistics of a climate.
#[derive(Debug, Clone)]
pub(super) struct Seasons {
    days: Vec<Day>,
}

impl Seasons {
    pub(super) fn new(climate: &Climate, sky: &SkyTable) -> Seasons {
        let nodes = MidMonths::new();
        let mut levels = [[0.0; LEVELS.len()]; 12];
        for level in 0..LEVELS.len() {
            let means = climate.months.each_ref().map(|month| month.clearness[level]);
            let sharp = nodes.sharpen(means);
            for (row, (mean, sharp)) in levels.iter_mut().zip(means.iter().zip(sharp)) {
                row[level] = (mean + SHARPENING * (sharp - mean)).max(0.0);
            }
        }
        let spells = climate.months.each_ref().map(|month| {
            Spells::fit(Wanted {
                persistence: month.persistence,
                memory: month.habits.memory,
                settled: month.habits.settled,
                slow: month.habits.slow_share,
            })
        });
        let air_mean = nodes.sharpen(climate.months.each_ref().map(|month| month.air.mean_c));
        let days = (0..365)
            .map(|day| {
                let (a, b, part) = nodes.around(day);
                let between = |x: f64, y: f64| x + part * (y - x);
                let mut quantiles = [0.0; LEVELS.len()];
                let mut least = 0.0_f64;
                for (level, quantile) in quantiles.iter_mut().enumerate() {
                    least = least.max(between(levels[a][level], levels[b][level]));
                    *quantile = least;
                }
                let plain =
                    |of: fn(&super::MonthClimate) -> f64| between(of(&climate.months[a]), of(&climate.months[b]));
                let air_persistence = plain(|m| m.air.day_persistence);
                let phi = between(spells[a].phi, spells[b].phi);
                let (share, slow) =
                    (between(spells[a].share, spells[b].share), between(spells[a].slow, spells[b].slow));
                let shape = Shape::new(plain(|m| m.habits.settled));
                let own = (1.0 - share - slow).max(0.0);
                let air_weights =
                    link_weights(plain(|m| m.air.clearness_link), air_persistence, phi, share, own, shape);
                // A day's temperature is drawn as a line between the middles of the days, whose means keep
                // (38 + 24 a + 2 a²) / 64 of the variance of the daily values.
                let kept = (38.0 + 24.0 * air_persistence + 2.0 * air_persistence * air_persistence) / 64.0;
                let clearness =
                    std::array::from_fn(|k| quantile_at(&quantiles, between(spells[a].cdf[k], spells[b].cdf[k])));
                let of_day = sky.day(day);
                let persistence = plain(|m| m.persistence);
                let profile = profile_with(
                    &of_day,
                    &std::array::from_fn(|k| {
                        between(climate.months[a].habits.course[k], climate.months[b].habits.course[k])
                    }),
                );
                Day {
                    clearness,
                    quantiles,
                    ceiling: ceiling_with(&of_day, &profile, quantiles[LEVELS.len() - 1]),
                    shape,
                    phi,
                    fresh: (1.0 - phi * phi).sqrt(),
                    weights: [share.sqrt(), slow.sqrt(), own.sqrt()],
                    shares: [share, slow],
                    profile,
                    cloudless: cloudless(quantiles[LEVELS.len() - 2]),
                    hourly_spread: plain(|m| m.habits.hourly_spread),
                    hourly_persistence: plain(|m| m.habits.hourly_persistence),
                    air_mean_c: between(air_mean[a], air_mean[b]),
                    air_sd_k: plain(|m| m.air.day_sd_k) / kept.sqrt(),
                    air_swing_k: plain(|m| m.air.swing_k),
                    air_persistence,
                    air_weights,
                    mean_clearness: quantile_mean(&quantiles),
                    bend: Bend::new(&quantiles),
                    share_per_change: (1.0 - persistence * persistence) / (persistence - slow).max(LEAST_PERSISTENCE),
                }
            })
            .collect();
        Seasons { days }
    }

    pub(super) fn day(&self, day: usize) -> &Day {
        &self.days[day]
    }
}

/// Weights of the fresh part of the spells, of the day's own sky and of the air's own chance in the fresh part of an AR(1)
/// of air temperature, such that air and sky have the correlation `link`.
///
/// With the sky's fresh part e = (√a √(1 − φ²) ε + √u w)/n of unit variance and the air's b y + √(1 − b²)(ρ e + …), the
/// correlation is ρ √(1 − b²) (a (1 − φ²)/(1 − b φ) + u)/n, where the spells count by their linear part.
fn link_weights(link: f64, air: f64, phi: f64, share: f64, own: f64, shape: Shape) -> [f64; 3] {
    let spells = share * (1.0 - phi * phi);
    let n = (spells + own).sqrt().max(1e-9);
    let unit = (1.0 - air * air).sqrt() * (shape.linear() * spells / (1.0 - air * phi) + own) / n;
    let rho = (link / unit.max(1e-6)).clamp(-0.95, 0.95);
    [rho * spells.sqrt() / n, rho * own.sqrt() / n, (1.0 - rho * rho).sqrt()]
}

/// Straight lines between values at the middles of the months, chosen so that the mean over each month is kept.
pub(super) struct MidMonths {
    /// A, row by row: A x are the months' means for values x at the middles.
    mean_of: Vec<f64>,
}

impl MidMonths {
    pub(super) fn new() -> MidMonths {
        let mut mean_of = vec![0.0; 12 * 12];
        for day in 0..365 {
            let (a, b, part) = Self::surround(day);
            let month = month_of_day(day);
            let share = 1.0 / days_of_month(month).len() as f64;
            mean_of[month * 12 + a] += share * (1.0 - part);
            mean_of[month * 12 + b] += share * part;
        }
        MidMonths { mean_of }
    }

    pub(super) fn surround(day: usize) -> (usize, usize, f64) {
        let middle = |month: usize| {
            let days = days_of_month(month);
            0.5 * (days.start + days.end) as f64
        };
        let x = day as f64 + 0.5;
        let month = month_of_day(day);
        let (a, b) = if x < middle(month) { ((month + 11) % 12, month) } else { (month, (month + 1) % 12) };
        let from = if middle(a) > x { middle(a) - 365.0 } else { middle(a) };
        let to = if middle(b) < x { middle(b) + 365.0 } else { middle(b) };
        (a, b, (x - from) / (to - from))
    }

    /// The two months whose middles surround a day, and how far the day is from the first to the second, 0..=1.
    pub(super) fn around(&self, day: usize) -> (usize, usize, f64) {
        Self::surround(day)
    }

    /// Values at the middles of the months whose straight connection has the given monthly means.
    pub(super) fn sharpen(&self, means: [f64; 12]) -> [f64; 12] {
        let middles = least_squares(&self.mean_of, 12, &means).ok().and_then(|found| found.values.try_into().ok());
        middles.unwrap_or(means)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lines_between_months_keep_every_monthly_mean() {
        let nodes = MidMonths::new();
        let means: [f64; 12] = [0.30, 0.37, 0.45, 0.49, 0.49, 0.47, 0.47, 0.48, 0.46, 0.40, 0.34, 0.27];
        let at = nodes.sharpen(means);
        for month in 0..12 {
            let range = days_of_month(month);
            let count = range.len() as f64;
            let mean = range
                .map(|day| {
                    let (a, b, part) = nodes.around(day);
                    assert!((0.0..=1.0).contains(&part));
                    at[a] + part * (at[b] - at[a])
                })
                .sum::<f64>()
                / count;
            assert!((mean - means[month]).abs() < 1e-12, "month {month}: {mean}");
        }
    }

    #[test]
    fn a_uniform_quantile_table_is_uniform() {
        let quantiles = LEVELS;
        assert!((quantile_mean(&quantiles) - 0.5).abs() < 1e-12);
        for k in 0..=1000 {
            let p = k as f64 / 1000.0;
            assert!((quantile_at(&quantiles, p) - p).abs() < 1e-12);
        }
    }

    /// Months pass into each other from middle to middle, by hand.
    #[test]
    fn days_lie_between_the_middles_of_months() {
        for (day, (a, b, part)) in [
            (14, (11, 0, 30.0 / 31.0)),
            (15, (0, 1, 0.0)),
            (30, (0, 1, 15.0 / 29.5)),
            (200, (6, 7, 4.0 / 31.0)),
            (349, (11, 0, 0.0)),
            (364, (11, 0, 15.0 / 31.0)),
            (0, (11, 0, 16.0 / 31.0)),
        ] {
            let found = MidMonths::surround(day);
            assert!((found.0, found.1) == (a, b) && (found.2 - part).abs() < 1e-12, "{day}: {found:?}");
        }
    }

    /// An air that goes on by b, a spell by φ, fresh numbers in common: their covariance is the sum over the days since, each b φ times the one after
    /// it, and the day's own sky beside it; the air's fresh part has a variance of 1.
    #[test]
    fn air_and_sky_go_together_as_told() {
        for settled in [0.0, 0.4] {
            let (link, b, phi, share, own) = (0.3, 0.7, 0.45, 0.5, 0.35);
            let shape = Shape::new(settled);
            let [spells, sky, rest] = link_weights(link, b, phi, share, own, shape);
            assert!((spells * spells + sky * sky + rest * rest - 1.0).abs() < 1e-12);
            // Of h(x) as much goes with x as the mean of x h(x) says (Simpson's rule).
            let density = |x: f64| crate::math::exp(-0.5 * x * x) / std::f64::consts::TAU.sqrt();
            let linear =
                (-800..800).map(|k| f64::from(k) * 0.01).map(|x| 0.01 * density(x) * x * shape.at(x)).sum::<f64>();
            let unit = (1.0 - b * b).sqrt();
            let of_spells: f64 = (0..60)
                .map(|ago| crate::math::powi(b * phi, ago) * unit * spells * (1.0 - phi * phi).sqrt())
                .sum::<f64>()
                * share.sqrt()
                * linear;
            let together = of_spells + unit * sky * own.sqrt();
            assert!((together - link).abs() < 1e-6, "{together} for {link}");
        }
        // More than there is in common is not to be had.
        assert!(
            (link_weights(0.9, 0.9, 0.45, 0.3, 0.1, Shape::new(0.0))[2] - (1.0_f64 - 0.95 * 0.95).sqrt()).abs() < 1e-9
        );
        assert_eq!(link_weights(0.0, 0.7, 0.45, 0.5, 0.35, Shape::new(0.0)), [0.0, 0.0, 1.0]);
    }

    /// With r = φ a + s a small change of atanh r changes a by (1 − r²)/(r − s) of itself; below a tenth as there.
    #[test]
    fn persistence_changes_the_share_of_the_spells() {
        let mut climate = crate::weather::tests::northern();
        climate.months[6].persistence = 0.05;
        let sky = SkyTable::new(&crate::weather::Calendar::fixed(60, 20, 52.0, 5.0));
        let seasons = Seasons::new(&climate, &sky);
        assert!((seasons.day(15).share_per_change - (1.0 - 0.35 * 0.35) / 0.34).abs() < 1e-9);
        assert!((seasons.day(196).share_per_change - (1.0 - 0.05 * 0.05) / 0.1).abs() < 1e-9);
        let day = seasons.day(15);
        assert!((day.fresh * day.fresh + day.phi * day.phi - 1.0).abs() < 1e-12);
        assert!((day.shares[0] - 0.34 / 0.45).abs() < 1e-9 && (day.shares[1] - 0.01).abs() < 1e-12);
        // 31 July is 15 of 31 days past July's middle.
        let july = seasons.day(211);
        let part = 15.0 / 31.0;
        assert!(
            (july.air_swing_k - ((1.0 - part) * climate.months[6].air.swing_k + part * climate.months[7].air.swing_k))
                .abs()
                < 1e-9
        );
        // The median, and what a tenth of the days do not reach (Abramowitz & Stegun, table 26.1).
        assert!((day.clearness_at_score(0.0) - day.quantiles[12]).abs() < 1e-12);
        assert!((day.clearness_at_score(-1.2815516) - day.quantiles[4]).abs() < 1e-6);
    }
}
