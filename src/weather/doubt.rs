//! What is not known of a climate: a normal distribution of its twelve months' figures about the best estimate.
//!
//! A hierarchical model, estimated by empirical Bayes: a place's figures θ (per month the four of [`FIGURES`]) are normal about
//! what the built-in table predicts, with the covariance P that leaving whole places out of the table leaves
//! (`weather/fit_doubt.py`); evidence y = H θ + error, the error with covariance R, turns P into the covariance of the
//! posterior (Kalman 1960, J. Basic Eng. 82, 35; the same as conditioning a multivariate normal). Every trial draws one
//! climate from it. Nothing else widens a range. The model on one page: `weather/README.md`.

mod field;

use super::bend::{Drawing, Drawn, FIGURES, NUMBERS, drawn};
use super::seasons::MidMonths;
use crate::linear::{cholesky, solve, triangle};
use crate::math;
use crate::random::Stream;
use field::{
    AIR_K, FEW_PLACES, Field, ONE_YEAR, OUTSIDE_TROPICS, STRETCHES_A_YEAR, TROPICS, TROPICS_END, UNREST,
    WIDER_THAN_CHANCE, WINTER,
};

/// Figures of a year.
const SIZE: usize = 12 * FIGURES;

/// What is not known of a climate.
#[derive(Debug, Clone, PartialEq)]
pub struct Doubt {
    /// Covariance of the figures, month by month; empty for none.
    covariance: Vec<f64>,
    unrest: f64,
    air_k: f64,
    /// Standard deviation of the tilt of a replayed record.
    tilt: f64,
}

impl Doubt {
    /// A climate that is known exactly.
    #[must_use]
    pub fn none() -> Doubt {
        Doubt { covariance: Vec::new(), unrest: 0.0, air_k: 0.0, tilt: 0.0 }
    }

    /// Nothing unknown but the level of the sun, all months alike.
    ///
    /// * `sd` — standard deviation of its logarithm \[–], 0 or more.
    #[must_use]
    pub fn of_level(sd: f64) -> Doubt {
        if sd <= 0.0 {
            return Doubt::none();
        }
        let mut doubt = Doubt { covariance: vec![0.0; SIZE * SIZE], ..Doubt::none() };
        doubt.add_level(sd);
        doubt
    }

    /// The prior: a place of which the built-in table alone is known.
    #[must_use]
    pub fn of_table(latitude_deg: f64) -> Doubt {
        let (from, to) = TROPICS_END;
        let outside = ((latitude_deg.abs() - from) / (to - from)).clamp(0.0, 1.0);
        let mix = |a: f64, b: f64| b + outside * (a - b);
        let field = Field {
            lower: std::array::from_fn(|a| {
                std::array::from_fn(|b| mix(OUTSIDE_TROPICS.lower[a][b], TROPICS.lower[a][b]))
            }),
            seasons: std::array::from_fn(|k| {
                let ((g, h), (tg, th)) = (OUTSIDE_TROPICS.seasons[k], TROPICS.seasons[k]);
                (mix(g, tg), mix(h, th))
            }),
        };
        let scale = |month: usize| {
            // 1 in the middle of January north of the equator, of July south of it.
            let from_winter = month as f64 - if latitude_deg < 0.0 { 6.0 } else { 0.0 };
            let winter = math::cos(std::f64::consts::TAU * from_winter / 12.0);
            [1.0 + WINTER * outside * winter, 1.0, 1.0, 1.0].map(|scale| FEW_PLACES * scale)
        };
        Doubt { covariance: field.covariance(scale), unrest: UNREST.0, air_k: AIR_K.0, tilt: 0.0 }
    }

    /// Adds an error of the sun's level that all months share, as of an instrument.
    fn add_level(&mut self, sd: f64) {
        for m in 0..12 {
            for n in 0..12 {
                self.covariance[m * FIGURES * SIZE + n * FIGURES] += sd * sd;
            }
        }
    }

    /// Lowers every figure's variance to what it was, where it is more: evidence leaves no figure less known than it was.
    fn hold_to(&mut self, before: &[f64]) {
        let scale: Vec<f64> = before
            .iter()
            .enumerate()
            .map(|(i, before)| (before / self.covariance[i * (SIZE + 1)].max(1e-300)).sqrt().min(1.0))
            .collect();
        for i in 0..SIZE {
            for j in 0..SIZE {
                self.covariance[i * SIZE + j] *= scale[i] * scale[j];
            }
        }
    }

    /// Standard deviation of the logarithm of each month's mean sun \[–].
    #[must_use]
    pub fn level_sd(&self) -> [f64; 12] {
        std::array::from_fn(|month| self.covariance.get(month * FIGURES * (SIZE + 1)).map_or(0.0, |v| v.sqrt()))
    }

    /// Learns from evidence: returns how far the best estimate of each figure moves.
    ///
    /// * `rows` — what was observed of the figures, one row a number; `apart` — the numbers found less the ones that the
    ///   best estimate gives; `noise` — covariance of their errors, row by row.
    fn learn(&mut self, rows: &[[f64; SIZE]], apart: &[f64], noise: &[f64]) -> [f64; SIZE] {
        let n = rows.len();
        if self.covariance.is_empty() || n == 0 {
            return [0.0; SIZE];
        }
        // G = P Hᵀ, S = H G + R.
        let gain: Vec<Vec<f64>> = rows
            .iter()
            .map(|row| {
                (0..SIZE)
                    .map(|i| {
                        let of = &self.covariance[i * SIZE..(i + 1) * SIZE];
                        of.iter().zip(row).map(|(p, h)| p * h).sum()
                    })
                    .collect()
            })
            .collect();
        let mut inner = noise.to_vec();
        for a in 0..n {
            for b in 0..n {
                inner[a * n + b] += rows[a].iter().zip(&gain[b]).map(|(h, g)| h * g).sum::<f64>();
            }
        }
        // Readings that say the same twice leave nothing on the diagonal but rounding.
        let trace = (0..n).map(|a| inner[a * n + a]).sum::<f64>() / n as f64;
        (0..n).for_each(|a| inner[a * n + a] += 1e-9 * trace);
        let Some(factor) = cholesky(inner, n) else { return [0.0; SIZE] };
        let weights = solve(&factor, n, apart);
        let shift = std::array::from_fn(|i| (0..n).map(|a| gain[a][i] * weights[a]).sum());
        let columns: Vec<Vec<f64>> =
            (0..SIZE).map(|i| solve(&factor, n, &(0..n).map(|a| gain[a][i]).collect::<Vec<_>>())).collect();
        for i in 0..SIZE {
            for j in 0..=i {
                let less: f64 = (0..n).map(|a| gain[a][j] * columns[i][a]).sum();
                let value = self.covariance[i * SIZE + j] - less;
                (self.covariance[i * SIZE + j], self.covariance[j * SIZE + i]) = (value, value);
            }
        }
        shift
    }

    /// Learns twelve monthly means. Returns the figures' moves, month by month.
    ///
    /// * `apart` — logarithm of the figures over the best estimate's means, `None` where there is none; `common`, `own` —
    ///   standard deviations of what all the figures share of their error, and of each one's own.
    pub(super) fn learn_means(&mut self, apart: &[Option<f64>; 12], common: f64, own: f64) -> Moves {
        let known: Vec<(usize, f64)> = apart.iter().enumerate().filter_map(|(m, a)| Some((m, (*a)?))).collect();
        let n = known.len();
        let rows: Vec<[f64; SIZE]> = known.iter().map(|(month, _)| unit(month * FIGURES)).collect();
        let mut noise = vec![common * common; n * n];
        (0..n).for_each(|k| noise[k * n + k] += own * own);
        let found: Vec<f64> = known.iter().map(|(_, apart)| *apart).collect();
        moves(self.learn(&rows, &found, &noise))
    }

    /// Learns a record. Returns the figures' moves, month by month.
    ///
    /// * `apart` — the record's figures less the best estimate's; `years` — of the record, by month, 0 for none;
    ///   `relative_sd` — standard deviation of a day's clearness over its mean, by month; `instrument` — standard deviation
    ///   of the logarithm of the error that all its readings share.
    pub(super) fn learn_record(
        &mut self,
        apart: &Moves,
        years: &[f64; 12],
        relative_sd: &[f64; 12],
        instrument: f64,
    ) -> Moves {
        let months: Vec<usize> = (0..12).filter(|&month| years[month] > 0.0).collect();
        let n = months.len() * FIGURES;
        let chance = chance_of(years, relative_sd);
        let places: Vec<usize> = months.iter().flat_map(|m| (0..FIGURES).map(move |k| m * FIGURES + k)).collect();
        let rows: Vec<[f64; SIZE]> = places.iter().map(|&place| unit(place)).collect();
        let found: Vec<f64> = places.iter().map(|&place| apart[place / FIGURES][place % FIGURES]).collect();
        let mut noise = vec![0.0; n * n];
        for (a, &i) in places.iter().enumerate() {
            for (b, &j) in places.iter().enumerate() {
                noise[a * n + b] = chance[i * SIZE + j];
            }
        }
        let least = months.iter().map(|&m| years[m]).fold(f64::INFINITY, f64::min);
        self.unrest = UNREST.1.min(self.unrest);
        self.air_k = self.air_k.min(AIR_K.1 / least.max(0.1).sqrt());
        let before: Vec<f64> = (0..SIZE).map(|i| self.covariance.get(i * (SIZE + 1)).copied().unwrap_or(0.0)).collect();
        let moved = moves(self.learn(&rows, &found, &noise));
        // What few years have in common, such as a decade's drift, they cannot show.
        if least.is_finite() {
            let wider = math::powi(1.0 + WIDER_THAN_CHANCE / least.max(0.5), 2);
            self.covariance.iter_mut().for_each(|value| *value *= wider);
        }
        // The record is believed as it stands: what its readings share of error is not held against the table, and stays open.
        if !self.covariance.is_empty() {
            self.add_level(instrument);
            self.hold_to(&before);
        }
        moved
    }

    /// What the chance of a record's years leaves open where nothing else is known of the place.
    pub(super) fn of_record(years: &[f64; 12], relative_sd: &[f64; 12], instrument: f64) -> Doubt {
        let covariance = chance_of(years, relative_sd);
        let least = years.iter().copied().fold(f64::INFINITY, f64::min).max(0.1);
        let mut doubt = Doubt { covariance, unrest: UNREST.1, air_k: AIR_K.1 / least.sqrt(), tilt: 0.0 };
        doubt.add_level(instrument);
        doubt
    }

    /// What a record that is replayed leaves open: its stretches are those of so many years, and its instrument errs.
    ///
    /// A sample of n unrelated stretches has a mean good to 1/√n of their standard deviation; by that the odds of brighter
    /// and darker ones are tilted.
    pub(super) fn of_replay(years: f64, instrument: f64) -> Doubt {
        let years = years.max(0.1);
        let tilt = 1.0 / (STRETCHES_A_YEAR * years).sqrt();
        Doubt { tilt, air_k: AIR_K.1 / years.sqrt(), ..Doubt::of_level(instrument) }
    }

    /// Learns one number about the mean sun of a stretch of days. Returns the figures' moves, month by month.
    ///
    /// * `days` — of the year; `apart` — logarithm of the sun found over the best estimate's; `sd` — standard deviation of its
    ///   error, chance of those days counted.
    pub(super) fn learn_stretch(&mut self, days: impl Iterator<Item = usize>, apart: f64, sd: f64) -> Moves {
        let share = shares(days);
        let mut row = [0.0; SIZE];
        (0..12).for_each(|month| row[month * FIGURES] = share[month]);
        moves(self.learn(&[row], &[apart], &[sd * sd]))
    }

    /// How climates are drawn for a stretch of the year: its figures are taken as one, the mean over its days.
    ///
    /// * `days` — of the year.
    #[must_use]
    pub fn drawing(&self, days: impl Iterator<Item = usize>) -> Drawing {
        let mut drawing = Drawing { unrest: self.unrest, air_k: self.air_k, tilt: self.tilt, ..Drawing::default() };
        if !self.covariance.is_empty() {
            let lower = triangle(self.over(&shares(days)), FIGURES, 1e-12);
            drawing.lower = std::array::from_fn(|a| std::array::from_fn(|b| lower[a * FIGURES + b]));
        }
        drawing
    }

    /// Covariance of the mean figures over a stretch.
    fn over(&self, share: &[f64; 12]) -> Vec<f64> {
        let pairs = || (0..12).flat_map(|m| (0..12).map(move |n| (m, n)));
        let of = |a: usize, b: usize| {
            pairs()
                .map(|(m, n)| share[m] * share[n] * self.covariance[(m * FIGURES + a) * SIZE + n * FIGURES + b])
                .sum()
        };
        (0..FIGURES * FIGURES).map(|k| of(k / FIGURES, k % FIGURES)).collect()
    }

    /// How climates of a whole year are drawn, month by month.
    #[must_use]
    pub fn year(&self) -> YearDrawing {
        let drawing = self.drawing(0..365);
        if self.covariance.is_empty() {
            return YearDrawing { drawing, by_mean: Vec::new(), rest: Vec::new() };
        }
        // The figures given their mean over the year, and what is left of them.
        let share = shares(0..365);
        let rows: Vec<[f64; SIZE]> = (0..FIGURES)
            .map(|k| std::array::from_fn(|i| if i % FIGURES == k { share[i / FIGURES] } else { 0.0 }))
            .collect();
        let mut left = self.clone();
        let mut by_mean = vec![0.0; SIZE * FIGURES];
        for k in 0..FIGURES {
            let mut mean = [0.0; FIGURES];
            mean[k] = 1.0;
            let shift = self.clone().learn(&rows, &mean, &[0.0; FIGURES * FIGURES]);
            (0..SIZE).for_each(|i| by_mean[i * FIGURES + k] = shift[i]);
        }
        left.learn(&rows, &[0.0; FIGURES], &[0.0; FIGURES * FIGURES]);
        // The rest has no part along the mean: a trace of it keeps the triangle's diagonal above rounding.
        let trace: f64 = (0..SIZE).map(|i| self.covariance[i * (SIZE + 1)]).sum::<f64>() / SIZE as f64;
        (0..SIZE).for_each(|i| left.covariance[i * (SIZE + 1)] += 1e-6 * trace + 1e-14);
        YearDrawing { drawing, by_mean, rest: cholesky(left.covariance, SIZE).unwrap_or_default() }
    }
}

/// How climates of a whole year are drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct YearDrawing {
    drawing: Drawing,
    by_mean: Vec<f64>,
    rest: Vec<f64>,
}

impl YearDrawing {
    /// Twelve months that belong to the numbers behind the year's mean, the rest by chance.
    #[must_use]
    pub fn drawn(&self, z: &[f64; NUMBERS], rng: &mut Stream) -> [Drawn; 12] {
        let (unrest, air_k) = (self.drawing.unrest * z[FIGURES], self.drawing.air_k * z[FIGURES + 1]);
        let tilt = self.drawing.tilt * z[FIGURES + 2];
        if self.by_mean.is_empty() {
            return [Drawn { tilt, ..drawn([0.0; FIGURES], unrest, air_k) }; 12];
        }
        let mean: [f64; FIGURES] =
            std::array::from_fn(|k| self.drawing.lower[k].iter().zip(z).map(|(lower, z)| lower * z).sum());
        let fresh: [f64; SIZE] = std::array::from_fn(|_| rng.normal());
        let at = |i: usize| {
            let along: f64 = (0..FIGURES).map(|k| self.by_mean[i * FIGURES + k] * mean[k]).sum();
            let of_rest = self.rest.get(i * SIZE..=i * SIZE + i);
            along + of_rest.map_or(0.0, |row| row.iter().zip(&fresh).map(|(r, z)| r * z).sum())
        };
        std::array::from_fn(|month| {
            let figures = std::array::from_fn(|k| at(month * FIGURES + k));
            Drawn { tilt, ..drawn(figures, unrest, air_k) }
        })
    }
}

/// Covariance of the chance in a record of so many years, by month.
fn chance_of(years: &[f64; 12], relative_sd: &[f64; 12]) -> Vec<f64> {
    ONE_YEAR.covariance(|month| {
        let root = years[month].max(0.1).sqrt();
        [relative_sd[month] / root, 1.0 / root, 1.0 / root, 1.0 / root]
    })
}

/// Standard deviation of the logarithm of one year's month about the climate's mean \[–].
///
/// * `relative_sd` — of a day's clearness over its mean.
pub(super) fn one_month_sd(relative_sd: f64) -> f64 {
    ONE_YEAR.lower[0][0] * relative_sd
}

/// The figures of twelve months.
pub(super) type Moves = [[f64; FIGURES]; 12];

fn moves(flat: [f64; SIZE]) -> Moves {
    std::array::from_fn(|month| std::array::from_fn(|k| flat[month * FIGURES + k]))
}

fn unit(place: usize) -> [f64; SIZE] {
    let mut row = [0.0; SIZE];
    row[place] = 1.0;
    row
}

/// What each month counts in the mean over some days of the year, months passing into each other from middle to middle.
fn shares(days: impl Iterator<Item = usize>) -> [f64; 12] {
    let mut share = [0.0; 12];
    let mut count = 0.0;
    for day in days {
        let (a, b, part) = MidMonths::surround(day % 365);
        share[a] += 1.0 - part;
        share[b] += part;
        count += 1.0;
    }
    if count > 0.0 { share.map(|s| s / count) } else { [1.0 / 12.0; 12] }
}

#[cfg(test)]
mod tests;
