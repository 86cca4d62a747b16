//! What many histories add up to. Counts are whole numbers, sums are folded in the order of the histories.

use super::life::LifeOutcome;
use super::plan::YearsPlan;
use crate::calendar::month_of_day;
use crate::math;
use crate::statistics::{normal_cdf, normal_density, normal_quantile};
use crate::study::years::arrivals::Arrival;
use crate::trials::interval::{Interval, Z_95, wilson};

/// Sums behind a share of outages, history by history.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ShareSums {
    histories: u64,
    outages: u64,
    rode: u64,
    outages_squared: u64,
    product: u64,
    rode_squared: u64,
}

/// A share of outages ridden through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// Of all outages, 0 to 1; `NaN` where there was none.
    pub probability: f64,
    /// 95 % interval of chance alone.
    pub chance: Interval,
    /// 95 % interval of chance and of what is not known of the kit and the climate.
    pub interval: Interval,
    /// Outages.
    pub outages: u64,
}

impl ShareSums {
    /// Adds one history.
    pub fn add(&mut self, outages: u64, rode: u64) {
        self.histories += 1;
        self.outages += outages;
        self.rode += rode;
        self.outages_squared += outages * outages;
        self.product += outages * rode;
        self.rode_squared += rode * rode;
    }

    /// Adds other histories.
    pub fn merge(&mut self, other: &ShareSums) {
        self.histories += other.histories;
        self.outages += other.outages;
        self.rode += other.rode;
        self.outages_squared += other.outages_squared;
        self.product += other.product;
        self.rode_squared += other.rode_squared;
    }

    /// The share and its intervals.
    ///
    /// * `between` — variance of the share that comes from what is not known (see [`Slopes`]), 0 or more.
    ///
    /// The outages of one history share a kit, so histories and not outages are the independent draws: the variance of
    /// chance is that of a ratio of sums over histories, turned into a Wilson interval by the number of independent
    /// outages that would have the same variance.
    #[must_use]
    pub fn share(&self, between: f64) -> Share {
        if self.outages == 0 {
            return Share { probability: f64::NAN, chance: Interval::ALL, interval: Interval::ALL, outages: 0 };
        }
        let (h, n) = (self.histories as f64, self.outages as f64);
        let p = self.rode as f64 / n;
        let binomial = p * (1.0 - p);
        // With none or all ridden through the histories alone are counted: outages of one history are no proof of each
        // other.
        let worth = if binomial > 0.0 { binomial / self.chance_variance() } else { h.min(n) };
        let worth = worth.floor().max(1.0);
        let chance = wilson((p * worth).round() as u64, worth as u64, Z_95);
        // Rounding to whole outages may push an interval off its own middle by less than one of them.
        let chance = Interval { low: chance.low.min(p), high: chance.high.max(p) };
        Share { probability: p, chance, interval: widened(p, chance, between.min(binomial)), outages: self.outages }
    }

    /// Variance of the share by chance; that of independent outages at least.
    fn chance_variance(&self) -> f64 {
        let (h, n) = (self.histories as f64, self.outages as f64);
        let p = self.rode as f64 / n;
        // Σ (s_i − p n_i)²
        let residual = self.rode_squared as f64 - 2.0 * p * self.product as f64 + p * p * self.outages_squared as f64;
        (residual.max(0.0) / (n * n) * h / (h - 1.0).max(1.0)).max(p * (1.0 - p) / n)
    }
}

/// How the share hangs on the standard normal numbers behind what is not known of kit and climate: sums of a regression
/// of each history's share on them. They are independent, so each has its own slope.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Slopes {
    /// Σ z s, Σ z n and Σ z² n for each number.
    sums: Vec<[f64; 3]>,
}

impl Slopes {
    /// Adds one history with outages.
    pub fn add(&mut self, unknowns: &[f64], outages: u64, rode: u64) {
        if self.sums.len() < unknowns.len() {
            self.sums.resize(unknowns.len(), [0.0; 3]);
        }
        for (sums, z) in self.sums.iter_mut().zip(unknowns) {
            sums[0] += z * rode as f64;
            sums[1] += z * outages as f64;
            sums[2] += z * z * outages as f64;
        }
    }

    /// Adds other histories.
    pub fn merge(&mut self, other: &Slopes) {
        if self.sums.len() < other.sums.len() {
            self.sums.resize(other.sums.len(), [0.0; 3]);
        }
        for (sums, other) in self.sums.iter_mut().zip(&other.sums) {
            for (sum, value) in sums.iter_mut().zip(other) {
                *sum += value;
            }
        }
    }

    /// Variance of the share over all that is not known: the squares of the slopes, each less what chance adds to it.
    #[must_use]
    pub fn variance(&self, all: &ShareSums) -> f64 {
        if all.outages == 0 {
            return 0.0;
        }
        let p = all.rode as f64 / all.outages as f64;
        let slope = |[rode, outages, squares]: &[f64; 3]| (rode - p * outages) / squares.max(1e-9);
        let chance = all.chance_variance();
        self.sums.iter().map(|sums| (math::powi(slope(sums), 2) - chance).max(0.0)).sum()
    }
}

/// An interval of chance widened by what is not known, on the scale of normal scores, where a share near 0 or 1 has more
/// room on its inner side: `Φ(Φ⁻¹(p) ± √(reach² + (1.96 σ)²))`, σ the standard deviation of the share over the density.
fn widened(p: f64, chance: Interval, between: f64) -> Interval {
    if between <= 0.0 {
        return chance;
    }
    let middle = normal_quantile(p);
    let unknown = Z_95 * between.sqrt() / normal_density(middle);
    let reach = |end: f64| math::hypot(normal_quantile(end) - middle, unknown);
    Interval {
        low: normal_cdf(middle - reach(chance.low)).min(chance.low),
        high: normal_cdf(middle + reach(chance.high)).max(chance.high),
    }
}

/// Sums behind the difference of two strategies on the same outages.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct DifferenceSums {
    histories: u64,
    outages: u64,
    difference: i64,
    squared: u64,
    product: i64,
    outages_squared: u64,
}

impl DifferenceSums {
    /// Adds one history: its outages, and how many more were ridden through than with the first strategy.
    pub fn add(&mut self, outages: u64, more: i64) {
        self.histories += 1;
        self.outages += outages;
        self.difference += more;
        self.squared += more.unsigned_abs() * more.unsigned_abs();
        self.product += outages as i64 * more;
        self.outages_squared += outages * outages;
    }

    /// Adds other histories.
    pub fn merge(&mut self, other: &DifferenceSums) {
        self.histories += other.histories;
        self.outages += other.outages;
        self.difference += other.difference;
        self.squared += other.squared;
        self.product += other.product;
        self.outages_squared += other.outages_squared;
    }

    /// The difference of the shares and its 95 % interval, which is never thought narrower than one outage either way.
    #[must_use]
    pub fn difference(&self) -> (f64, Interval) {
        if self.outages == 0 {
            return (0.0, Interval { low: -1.0, high: 1.0 });
        }
        let (h, n) = (self.histories as f64, self.outages as f64);
        let d = self.difference as f64 / n;
        let residual = self.squared as f64 - 2.0 * d * self.product as f64 + d * d * self.outages_squared as f64;
        let deviation = (residual.max(1.0) * h / (h - 1.0).max(1.0)).sqrt() / n;
        (d, Interval { low: (d - Z_95 * deviation).max(-1.0), high: (d + Z_95 * deviation).min(1.0) })
    }
}

/// Everything counted for one strategy.
#[derive(Debug, Clone, PartialEq)]
pub struct StrategyTally {
    /// All outages.
    pub all: ShareSums,
    /// How they hang on what is not known.
    pub slopes: Slopes,
    /// Those of the first third of the years.
    pub first_years: ShareSums,
    /// Those of the last third.
    pub last_years: ShareSums,
    /// By year.
    pub by_year: Vec<ShareSums>,
    /// By month in which the outage begins.
    pub by_month: [ShareSums; 12],
    /// Against the first strategy.
    pub against_first: DifferenceSums,
    /// Years until 20 % is lost as later outages feel it, history by history.
    pub years_felt: Vec<f32>,
    /// The same under each law in order.
    pub years_by_model: Vec<Vec<f32>>,
    /// Share lost at the end under each law, summed.
    pub lost: Vec<f64>,
    /// The same at the end of each year: year by year, law by law.
    pub lost_by_year: Vec<f64>,
    /// Sums of what [`LifeOutcome`] tells of each history.
    pub outage_wh: f64,
    /// See `outage_wh`.
    pub daily_wh: f64,
    /// See `outage_wh`.
    pub wall_wh: f64,
    /// See `outage_wh`.
    pub saved: f64,
    /// See `outage_wh`.
    pub paid: f64,
    /// See `outage_wh`.
    pub full_cycles: f64,
    /// See `outage_wh`.
    pub charge_h: [f64; 12],
    /// See `outage_wh`.
    pub calm_h: [f64; 12],
}

/// Years in the first and in the last stretch that are told apart.
#[must_use]
pub fn stretch(years: usize) -> usize {
    (years as f64 / 3.0).round().max(1.0) as usize
}

impl StrategyTally {
    /// Nothing yet.
    #[must_use]
    pub fn new(years: usize, models: usize) -> StrategyTally {
        StrategyTally {
            all: ShareSums::default(),
            slopes: Slopes::default(),
            first_years: ShareSums::default(),
            last_years: ShareSums::default(),
            by_year: vec![ShareSums::default(); years],
            by_month: [ShareSums::default(); 12],
            against_first: DifferenceSums::default(),
            years_felt: Vec::new(),
            years_by_model: vec![Vec::new(); models],
            lost: vec![0.0; models],
            lost_by_year: vec![0.0; years * models],
            outage_wh: 0.0,
            daily_wh: 0.0,
            wall_wh: 0.0,
            saved: 0.0,
            paid: 0.0,
            full_cycles: 0.0,
            charge_h: [0.0; 12],
            calm_h: [0.0; 12],
        }
    }

    /// Adds one history.
    ///
    /// * `first_rode` — outages that the first strategy rode through in it.
    pub fn add(&mut self, plan: &YearsPlan, life: &LifeOutcome, arrivals: &[Arrival], first_rode: u64) {
        let years = self.by_year.len();
        let mut by_year = vec![(0_u64, 0_u64); years];
        let mut by_month = [(0_u64, 0_u64); 12];
        for (arrival, &rode) in arrivals.iter().zip(&life.rode) {
            let day = arrival.start / plan.clock.steps_a_day;
            let month = month_of_day(day);
            for cell in [&mut by_year[(day / 365).min(years - 1)], &mut by_month[month]] {
                cell.0 += 1;
                cell.1 += u64::from(rode);
            }
        }
        let sum = |cells: &[(u64, u64)]| cells.iter().fold((0, 0), |sum, cell| (sum.0 + cell.0, sum.1 + cell.1));
        let (outages, rode) = sum(&by_year);
        self.all.add(outages, rode);
        if outages > 0 {
            self.slopes.add(&life.unknowns, outages, rode);
        }
        self.against_first.add(outages, rode as i64 - first_rode as i64);
        let stretch = stretch(years).min(years);
        let (first, last) = (sum(&by_year[..stretch]), sum(&by_year[years - stretch..]));
        self.first_years.add(first.0, first.1);
        self.last_years.add(last.0, last.1);
        for (sums, cell) in self.by_year.iter_mut().zip(&by_year).chain(self.by_month.iter_mut().zip(&by_month)) {
            sums.add(cell.0, cell.1);
        }
        self.years_felt.push(plan.felt_years(life.years_to_worn.iter().copied()) as f32);
        for (list, &years) in self.years_by_model.iter_mut().zip(&life.years_to_worn) {
            list.push(years as f32);
        }
        let by_year = self.lost_by_year.iter_mut().zip(&life.lost_by_year);
        for (sum, lost) in self.lost.iter_mut().zip(&life.lost).chain(by_year) {
            *sum += lost;
        }
        self.outage_wh += life.outage_wh;
        self.daily_wh += life.daily_wh;
        self.wall_wh += life.wall_wh;
        self.saved += life.saved;
        self.paid += life.paid;
        self.full_cycles += life.full_cycles;
        for month in 0..12 {
            self.charge_h[month] += life.charge_h[month];
            self.calm_h[month] += life.calm_h[month];
        }
    }

    /// Adds the histories that follow.
    pub fn merge(&mut self, next: &StrategyTally) {
        self.all.merge(&next.all);
        self.slopes.merge(&next.slopes);
        self.first_years.merge(&next.first_years);
        self.last_years.merge(&next.last_years);
        self.against_first.merge(&next.against_first);
        let cells = self.by_year.iter_mut().zip(&next.by_year).chain(self.by_month.iter_mut().zip(&next.by_month));
        for (sums, other) in cells {
            sums.merge(other);
        }
        self.years_felt.extend_from_slice(&next.years_felt);
        for (list, other) in self.years_by_model.iter_mut().zip(&next.years_by_model) {
            list.extend_from_slice(other);
        }
        let by_year = self.lost_by_year.iter_mut().zip(&next.lost_by_year);
        for (sum, other) in self.lost.iter_mut().zip(&next.lost).chain(by_year) {
            *sum += other;
        }
        self.outage_wh += next.outage_wh;
        self.daily_wh += next.daily_wh;
        self.wall_wh += next.wall_wh;
        self.saved += next.saved;
        self.paid += next.paid;
        self.full_cycles += next.full_cycles;
        for month in 0..12 {
            self.charge_h[month] += next.charge_h[month];
            self.calm_h[month] += next.calm_h[month];
        }
    }
}

#[cfg(test)]
mod tests;
