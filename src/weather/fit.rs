//! A climate from a record.

use super::climate::{Basis, Climate, Habits, LEVELS, MonthAir, MonthClimate, level_of, quantile_mean};
use super::daily::{DailyReading, DailyRecord};
use super::doubt::Doubt;
use super::hours::hourly_habits;
use super::posterior;
use super::seasons::MidMonths;
use super::spells::{Spells, Wanted};
use super::world;
use crate::calendar::{DAYS_A_MONTH, DAYS_A_YEAR, days_of_month, month_of_day};
use crate::statistics::normal_quantile;

/// Fewest usable days of a record, and of each of its months.
const FEWEST_DAYS: usize = 350;
const FEWEST_DAYS_A_MONTH: usize = 25;
/// Below this many years the statistics are thin.
const FEW_YEARS: f64 = 5.0;
/// Scores are cut here, as in the day model's own statistics.
const MOST_SCORE: f64 = 2.88;
/// Pairs of days that count as much as the year's mean persistence does for a month's own.
const SHRINKING_PAIRS: f64 = 60.0;
/// Systematic standard uncertainty of a good record's sun \[–]: well kept pyranometers and satellite models differ by
/// 2 to 5 % over a year (common practice, no source).
pub(super) const INSTRUMENT_UNCERTAINTY: f64 = 0.02;

/// Why a record gives no climate.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// Less than a year of days.
    #[error("the record `{name}` has {found} usable days; allowed: at least {FEWEST_DAYS}, a year without longer gaps")]
    TooShort {
        /// Name of the record.
        name: String,
        /// Usable days.
        found: usize,
    },
    /// A month without enough days.
    #[error("the record `{name}` has {found} usable days in month {month}; allowed: at least {FEWEST_DAYS_A_MONTH}")]
    ThinMonth {
        /// Name of the record.
        name: String,
        /// Month, 1 to 12.
        month: usize,
        /// Usable days.
        found: usize,
    },
    /// No air temperature, and none supplied.
    #[error(
        "the record `{name}` lacks air temperature in month {month}: add it, or let another climate supply the air"
    )]
    NoTemperature {
        /// Name of the record.
        name: String,
        /// Month, 1 to 12.
        month: usize,
    },
}

/// How good a fit is.
#[derive(Debug, Clone, PartialEq)]
pub struct FitQuality {
    /// Years of usable days.
    pub years: f64,
    /// Usable days.
    pub days: usize,
    /// Days that could not be used.
    pub dropped: usize,
    /// Hours that were bridged.
    pub bridged: usize,
    /// Greatest distance between a month's distribution of daily clearness and its table, over the months \[–\].
    pub worst_distance: f64,
    /// Fewer than five years: the spread between years is hardly seen.
    pub few_years: bool,
}

/// A fitted climate, and how good it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// The climate.
    pub climate: Climate,
    /// How good it is.
    pub quality: FitQuality,
}

/// Fits a climate to a record of days, and to what the built-in table knows of the place where it reaches it.
///
/// * `air` — whose air temperatures to take for months that have none in the record.
///
/// # Errors
/// Less than a year, a month with fewer than 25 days, no temperature and no `air`.
pub fn fit(record: &DailyRecord, air: Option<&Climate>) -> Result<Fit, FitError> {
    let table = world::lookup(record.latitude_deg(), record.longitude_deg(), None).ok();
    fit_beside(record, air, table.as_ref())
}

/// As [`fit`], with another climate as what is known of the place without the record, or none.
///
/// # Errors
/// As [`fit`].
pub fn fit_beside(record: &DailyRecord, air: Option<&Climate>, prior: Option<&Climate>) -> Result<Fit, FitError> {
    let name = || record.name().to_owned();
    let usable: Vec<&DailyReading> = record.days().iter().filter(|day| day.clearness.is_finite()).collect();
    if usable.len() < FEWEST_DAYS {
        return Err(FitError::TooShort { name: name(), found: usable.len() });
    }
    let mut by_month: [Vec<f64>; 12] = Default::default();
    for day in &usable {
        by_month[month_of_day(day.day)].push(day.clearness.clamp(0.0, 1.0));
    }
    for (month, values) in by_month.iter_mut().enumerate() {
        if values.len() < FEWEST_DAYS_A_MONTH {
            return Err(FitError::ThinMonth { name: name(), month: month + 1, found: values.len() });
        }
        values.sort_by(f64::total_cmp);
    }
    let tables = by_month.each_ref().map(|values| quantile_table(values));
    let scores = Scores::new(record, &tables);
    let chain = scores.chain();
    let hours = hourly_habits(record);
    let mut months = Vec::with_capacity(12);
    for month in 0..12 {
        let habits = Habits {
            course: hours[month].course,
            hourly_spread: hours[month].spread,
            hourly_persistence: hours[month].persistence,
            memory: chain.memory,
            settled: chain.settled,
            slow_share: chain.slow,
        };
        let air = match (month_air(record, &scores, month), air) {
            (Some(air), _) => air,
            (None, Some(other)) => other.months[month].air.clone(),
            (None, None) => return Err(FitError::NoTemperature { name: name(), month: month + 1 }),
        };
        months.push(MonthClimate { clearness: tables[month], persistence: chain.persistence[month], habits, air });
    }
    let years = usable.len() as f64 / DAYS_A_YEAR;
    let distance = |month: usize| distance(&by_month[month], &tables[month]);
    let quality = FitQuality {
        years,
        days: usable.len(),
        dropped: record.dropped(),
        bridged: record.bridged(),
        worst_distance: (0..12).map(distance).fold(0.0, f64::max),
        few_years: years < FEW_YEARS,
    };
    let mut months: [MonthClimate; 12] =
        months.try_into().map_err(|_| FitError::TooShort { name: name(), found: usable.len() })?;
    let years_of_month = std::array::from_fn(|month| by_month[month].len() as f64 / DAYS_A_MONTH);
    let doubt = match prior {
        Some(prior) => posterior::with_record(prior, &mut months, &years_of_month, INSTRUMENT_UNCERTAINTY),
        None => Doubt::of_record(
            &years_of_month,
            &months.each_ref().map(|month| relative_sd(&month.clearness)),
            INSTRUMENT_UNCERTAINTY,
        ),
    };
    let climate = Climate {
        name: name(),
        source: format!("fitted to {years:.1} years ({} days) of {}", usable.len(), record.name()),
        latitude_deg: record.latitude_deg(),
        longitude_deg: record.longitude_deg(),
        height_m: None,
        basis: Basis::Record { years, instrument: INSTRUMENT_UNCERTAINTY, table: prior.is_some() },
        seen: 0,
        doubt,
        months,
    };
    Ok(Fit { climate, quality })
}

/// Quantiles at our levels of sorted values. The outermost values are set so that the mean of the darkest and of the
/// brightest hundredth is kept.
pub(super) fn quantile_table(sorted: &[f64]) -> [f64; LEVELS.len()] {
    let n = sorted.len() as f64;
    let mut table = LEVELS.map(|level| {
        let at = (level * n - 0.5).clamp(0.0, n - 1.0);
        let k = (at as usize).min(sorted.len() - 2);
        sorted[k] + (at - k as f64) * (sorted[k + 1] - sorted[k])
    });
    let outer_mean = |values: &mut dyn Iterator<Item = f64>| {
        let wanted = LEVELS[1] * n;
        let (mut taken, mut sum) = (0.0, 0.0);
        for value in values {
            let part = (wanted - taken).min(1.0);
            if part <= 0.0 {
                break;
            }
            sum += part * value;
            taken += part;
        }
        sum / taken
    };
    let last = LEVELS.len() - 1;
    let dark = outer_mean(&mut sorted.iter().copied());
    let bright = outer_mean(&mut sorted.iter().rev().copied());
    table[0] = (2.0 * dark - table[1]).clamp(sorted[0], table[1]);
    table[last] = (2.0 * bright - table[last - 1]).clamp(table[last - 1], sorted[sorted.len() - 1]);
    table
}

/// Kolmogorov's distance between sorted values and a quantile table.
fn distance(sorted: &[f64], table: &[f64; LEVELS.len()]) -> f64 {
    let n = sorted.len() as f64;
    sorted
        .iter()
        .enumerate()
        .map(|(k, &value)| {
            let p = level_of(table, value);
            (p - k as f64 / n).abs().max((p - (k + 1) as f64 / n).abs())
        })
        .fold(0.0, f64::max)
}

/// Normal scores of the days, by day number.
struct Scores {
    first: i64,
    z: Vec<f64>,
    day: Vec<usize>,
}

/// How the days hang together.
struct Chain {
    persistence: [f64; 12],
    memory: f64,
    settled: f64,
    slow: f64,
}

impl Scores {
    fn new(record: &DailyRecord, tables: &[[f64; LEVELS.len()]; 12]) -> Scores {
        // Scores are taken against the season's own level on that day, or the drift inside a month would pass for
        // persistence.
        let nodes = MidMonths::new();
        let mut sharp = [[0.0; LEVELS.len()]; 12];
        for level in 0..LEVELS.len() {
            for (row, value) in sharp.iter_mut().zip(nodes.sharpen(tables.each_ref().map(|table| table[level]))) {
                row[level] = value;
            }
        }
        let days = record.days();
        let first = days.first().map_or(0, |day| day.number);
        let count = days.last().map_or(0, |day| (day.number - first) as usize + 1);
        let mut scores = Scores { first, z: vec![f64::NAN; count], day: vec![0; count] };
        for reading in days {
            let (a, b, part) = nodes.around(reading.day);
            let mut least = 0.0_f64;
            let table: [f64; LEVELS.len()] = std::array::from_fn(|k| {
                least = least.max(sharp[a][k] + part * (sharp[b][k] - sharp[a][k]));
                least
            });
            let k = (reading.number - first) as usize;
            scores.day[k] = reading.day;
            if reading.clearness.is_finite() {
                let p = level_of(&table, reading.clearness);
                scores.z[k] = normal_quantile(p).clamp(-MOST_SCORE, MOST_SCORE);
            }
        }
        let (sum, squares) = scores.z.iter().filter(|z| z.is_finite()).fold((0.0, 0.0), |(s, q), z| (s + z, q + z * z));
        let n = scores.z.iter().filter(|z| z.is_finite()).count() as f64;
        let sd = (squares / n - (sum / n) * (sum / n)).sqrt();
        scores.z.iter_mut().for_each(|z| *z /= sd);
        scores
    }

    fn of_number(&self, number: i64) -> f64 {
        usize::try_from(number - self.first).ok().and_then(|k| self.z.get(k)).copied().unwrap_or(f64::NAN)
    }

    /// Pairs of scores `lag` days apart, with the month of the first.
    fn pairs(&self, lag: usize) -> impl Iterator<Item = (f64, f64, usize)> {
        let later = self.z.iter().skip(lag);
        self.z
            .iter()
            .zip(later)
            .zip(&self.day)
            .filter(|((a, b), _)| a.is_finite() && b.is_finite())
            .map(|((a, b), day)| (*a, *b, month_of_day(*day)))
    }

    fn correlation(&self, lag: usize) -> f64 {
        let (mut product, mut square) = (0.0, 0.0);
        for (a, b, _) in self.pairs(lag) {
            product += a * b;
            square += a * a;
        }
        if square > 0.0 { product / square } else { 0.0 }
    }

    fn chain(&self) -> Chain {
        let lags: Vec<f64> = (1..=25).map(|lag| self.correlation(lag)).collect();
        // What is left of the correlation after ten days and more is the mood of the month; the rest of it is chance
        // and drift of instruments, so that not all is believed.
        let late = lags[9..].iter().sum::<f64>() / (lags.len() - 9) as f64;
        let slow = (0.6 * late - 0.005).clamp(0.0, 0.03);
        // Decay of the correlation over the first lags, by least squares.
        let (mut top, mut bottom) = (0.0, 0.0);
        for k in 0..3 {
            top += (lags[k + 1] - slow) * (lags[k] - slow);
            bottom += (lags[k] - slow) * (lags[k] - slow);
        }
        let memory = if bottom > 0.0 { (top / bottom).clamp(0.05, 0.75) } else { Habits::default().memory };
        let overall = lags[0];
        let mut sums = [(0.0, 0.0, 0.0); 12];
        let (mut third, mut count) = (0.0, 0.0);
        for (a, b, month) in self.pairs(1) {
            sums[month].0 += a * b;
            sums[month].1 += a * a;
            sums[month].2 += 1.0;
            third += 0.5 * a * b * (a + b);
            count += 1.0;
        }
        let persistence = sums.map(|(product, square, pairs)| {
            let own = if square > 0.0 { product / square } else { overall };
            ((pairs * own + SHRINKING_PAIRS * overall) / (pairs + SHRINKING_PAIRS)).clamp(0.0, 0.85)
        });
        let lean = if count > 0.0 { third / count } else { 0.0 };
        Chain { persistence, memory, slow, settled: settled_for(lean, overall, memory, slow) }
    }
}

/// κ whose days lean as much as the record's do; 0 where they lean the other way.
fn settled_for(lean: f64, persistence: f64, memory: f64, slow: f64) -> f64 {
    let lean_of = |settled: f64| Spells::fit(Wanted { persistence, memory, settled, slow }).lean();
    let (mut low, mut high) = (0.0, 0.75);
    if lean <= lean_of(low) {
        return low;
    }
    if lean_of(high) <= lean {
        return high;
    }
    for _ in 0..12 {
        let middle = 0.5 * (low + high);
        if lean_of(middle) < lean { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Air temperature of a month; `None` with fewer than 25 days.
fn month_air(record: &DailyRecord, scores: &Scores, month: usize) -> Option<MonthAir> {
    let of_month = || record.days().iter().filter(move |d| month_of_day(d.day) == month && d.air_mean_c.is_finite());
    let count = of_month().count();
    if count < FEWEST_DAYS_A_MONTH {
        return None;
    }
    let n = count as f64;
    // The season drifts through the month: deviations are taken from a straight line.
    let days = days_of_month(month);
    let middle = 0.5 * (days.start + days.end) as f64 - 0.5;
    let mean_c = of_month().map(|d| d.air_mean_c).sum::<f64>() / n;
    let (mut xy, mut xx) = (0.0, 0.0);
    for d in of_month() {
        let x = d.day as f64 - middle;
        xy += x * (d.air_mean_c - mean_c);
        xx += x * x;
    }
    let slope = if xx > 0.0 { xy / xx } else { 0.0 };
    let off = |d: &DailyReading| d.air_mean_c - mean_c - slope * (d.day as f64 - middle);
    let variance = of_month().map(|d| off(d) * off(d)).sum::<f64>() / n;
    let (mut product, mut square, mut cross, mut zz, mut own) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let days: Vec<&DailyReading> = of_month().collect();
    for pair in days.windows(2).filter(|pair| pair[1].number == pair[0].number + 1) {
        product += off(pair[0]) * off(pair[1]);
        square += off(pair[0]) * off(pair[0]);
    }
    for d in &days {
        let z = scores.of_number(d.number);
        if z.is_finite() {
            cross += z * off(d);
            zz += z * z;
            own += off(d) * off(d);
        }
    }
    let ratio = |a: f64, b: f64| if b > 0.0 { a / b } else { 0.0 };
    Some(MonthAir {
        mean_c,
        swing_k: days.iter().map(|d| d.air_high_c - d.air_low_c).sum::<f64>() / n,
        day_sd_k: variance.sqrt(),
        day_persistence: ratio(product, square).clamp(0.0, 0.95),
        clearness_link: ratio(cross, (zz * own).sqrt()).clamp(-0.9, 0.9),
        record_low_c: days.iter().map(|d| d.air_low_c).fold(f64::MAX, f64::min),
    })
}

/// Standard deviation of a distribution over its mean \[–].
pub(super) fn relative_sd(quantiles: &[f64; LEVELS.len()]) -> f64 {
    let mean = quantile_mean(quantiles);
    let square = (1..LEVELS.len()).map(|k| {
        let (a, b) = (quantiles[k - 1] - mean, quantiles[k] - mean);
        (LEVELS[k] - LEVELS[k - 1]) * (a * a + a * b + b * b) / 3.0
    });
    (square.sum::<f64>().sqrt() / mean.max(1e-6)).clamp(0.0, 2.0)
}

#[cfg(test)]
mod tests;
