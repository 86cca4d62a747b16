//! The rows of the fit: what each test misses the model by, and the steps to the least of their squares.

use super::fit::{REPEAT, Used};
use super::uncertainty::gradient;
use super::unknowns::{OWN_DRAW_W, USABLE_RATE, Unknown, steps, typical};
use crate::engine::kit_plan::UNPROVED_SHARE;
use crate::linear::{Unsolvable, cholesky, least_squares};
use crate::math;
use crate::scenario::model::OutletKind;
use crate::scenario::record::Record;
use crate::statistics::gamma_quantile;
use crate::trials::interval::Z_95;

/// What a test says, given the unknowns.
pub(super) struct Model<'a> {
    /// The unknowns, in the order of their values.
    pub unknowns: &'a [Unknown],
    /// k2 / P_rated of the inverter \[1/W\].
    pub quadratic_per_w: f64,
}

impl Model<'_> {
    fn at(&self, x: &[f64], unknown: &Unknown) -> f64 {
        self.unknowns.iter().position(|other| other == unknown).map_or(0.0, |place| x[place])
    }

    /// What a test misses the model by \[Wh\].
    pub fn residual(&self, x: &[f64], test: &Used) -> f64 {
        let usable = x[0];
        let e = test.energy.wh * (1.0 - self.at(x, &Unknown::Gain(test.meter.clone())));
        let t = test.energy.hours;
        match test.outlet {
            Some(outlet) => {
                let factor = self.at(x, &Unknown::Factor(outlet)) + self.quadratic(outlet) * e / t;
                let step =
                    if outlet == OutletKind::Ac { self.at(x, &Unknown::Step(test.energy.mean_w())) } else { 0.0 };
                let rate = test.share.value / t;
                let warm = 1.0 - self.at(x, &Unknown::Cold) * test.cold;
                let held = usable * warm * (1.0 - self.at(x, &Unknown::Fall) * (rate - USABLE_RATE));
                test.share.value * held - e * factor - (self.at(x, &Unknown::Draw(outlet)) + step) * t
            }
            None => {
                let into = self.at(x, &Unknown::Wall) * e - OWN_DRAW_W * t;
                self.at(x, &Unknown::Discharge) * self.at(x, &Unknown::Charge) * into
                    - test.share.value * usable * (1.0 - self.at(x, &Unknown::Cold) * test.cold)
            }
        }
    }

    fn quadratic(&self, outlet: OutletKind) -> f64 {
        if outlet == OutletKind::Ac { self.quadratic_per_w } else { 0.0 }
    }

    /// Standard uncertainty of a residual \[Wh\] by what belongs to the test alone.
    pub fn standard(&self, x: &[f64], test: &Used) -> f64 {
        let usable = x[0];
        let (per_wh, per_hour) = match test.outlet {
            Some(outlet) => (
                self.at(x, &Unknown::Factor(outlet)) + 2.0 * self.quadratic(outlet) * test.energy.mean_w(),
                self.at(x, &Unknown::Draw(outlet)),
            ),
            None => (
                self.at(x, &Unknown::Wall) * self.at(x, &Unknown::Discharge) * self.at(x, &Unknown::Charge),
                OWN_DRAW_W,
            ),
        };
        // The clock moves the energy of a steady load and the draw together.
        let clock =
            test.energy.causes.iter().find(|cause| cause.name == "clock").map_or(0.0, |cause| cause.standard_wh);
        let rest = (math::powi(test.energy.own_standard_wh(), 2) - clock * clock).max(0.0).sqrt();
        let parts = [
            usable * test.share.standard,
            usable * test.share.value * REPEAT,
            per_wh * rest,
            per_wh * clock + per_hour * test.energy.hours_standard,
        ];
        parts.iter().map(|part| part * part).sum::<f64>().sqrt()
    }
}

/// Energy at the bus of a unit nobody has tested: mean and standard uncertainty \[Wh\].
fn untested(record: &Record) -> (f64, f64) {
    let (one_way, half) = typical(&Unknown::Discharge, record).unwrap_or((1.0, 0.0));
    let mean = record.unit.rated_capacity.0 * UNPROVED_SHARE.0 * one_way;
    (mean, mean * math::hypot(UNPROVED_SHARE.1 / UNPROVED_SHARE.0, half / one_way) / Z_95)
}

/// What is known of the unknowns before the tests.
#[derive(Clone)]
pub(super) struct Prior {
    /// Mean of each; where nothing is known, where the search begins.
    pub means: Vec<f64>,
    /// Standard deviation of each; `None` where nothing is known.
    pub standards: Vec<Option<f64>>,
    /// Rows r with r (x - mean) of unit variance and independent, each as long as there are unknowns.
    rows: Vec<Vec<f64>>,
}

impl Prior {
    /// Typical figures, limits of meters, and steps of the inverter, which hang together.
    ///
    /// * `gain` — mean and standard uncertainty of a meter's error by its name.
    /// * `only_idle` — no run tells the energy: it is taken as that of a unit nobody has tested.
    pub fn of(record: &Record, unknowns: &[Unknown], only_idle: bool, gain: impl Fn(&str) -> (f64, f64)) -> Prior {
        let n = unknowns.len();
        let mut prior =
            Prior { means: vec![record.unit.rated_capacity.0; n], standards: vec![None; n], rows: Vec::new() };
        for (place, unknown) in unknowns.iter().enumerate() {
            let known = match unknown {
                Unknown::Gain(name) => Some(gain(name)),
                Unknown::Usable if only_idle => Some(untested(record)),
                _ => typical(unknown, record).map(|(mean, half)| (mean, half / Z_95)),
            };
            let Some((mean, standard)) = known else { continue };
            (prior.means[place], prior.standards[place]) = (mean, Some(standard));
            prior.rows.push((0..n).map(|k| if k == place { 1.0 / standard } else { 0.0 }).collect());
        }
        let (places, loads): (Vec<usize>, Vec<f64>) = unknowns
            .iter()
            .enumerate()
            .filter_map(|(place, unknown)| if let Unknown::Step(load) = unknown { Some((place, *load)) } else { None })
            .unzip();
        let (means, covariance) = steps(record.unit.inverter.map_or(0.0, |rated| rated.0), &loads);
        let m = loads.len();
        for (k, place) in places.iter().enumerate() {
            (prior.means[*place], prior.standards[*place]) = (means[k], Some(covariance[k * m + k].sqrt()));
        }
        // L⁻¹ makes what hangs together independent: its rows by going forward through L.
        let factor = cholesky(covariance, m).unwrap_or_default();
        let mut inverse: Vec<Vec<f64>> = Vec::new();
        for i in 0..factor.len().min(m) {
            let mut row: Vec<f64> = (0..m).map(|k| f64::from(u8::from(k == i))).collect();
            for (j, before) in inverse.iter().enumerate() {
                row.iter_mut().zip(before).for_each(|(x, before)| *x -= factor[i * m + j] * before);
            }
            row.iter_mut().for_each(|x| *x /= factor[i * m + i]);
            inverse.push(row);
        }
        for short in inverse {
            let mut row = vec![0.0; n];
            places.iter().zip(short).for_each(|(place, x)| row[*place] = x);
            prior.rows.push(row);
        }
        prior
    }

    /// The same, less sure of everything but the meters' errors and the steps: two loads do not tell a step from the draw.
    pub fn wider(&self, unknowns: &[Unknown], factor: f64) -> Prior {
        let held = |place: usize| matches!(unknowns[place], Unknown::Gain(_) | Unknown::Step(_) | Unknown::Cold);
        let mut wide = self.clone();
        for (_, standard) in wide.standards.iter_mut().enumerate().filter(|(place, _)| !held(*place)) {
            *standard = standard.map(|standard| standard * factor);
        }
        for row in &mut wide.rows {
            if row.iter().enumerate().all(|(place, x)| *x == 0.0 || !held(place)) {
                row.iter_mut().for_each(|x| *x /= factor);
            }
        }
        wide
    }
}

/// The rows of the least-squares problem.
pub(super) struct Rows<'a> {
    /// What the tests say.
    pub model: Model<'a>,
    /// The tests.
    pub used: &'a [Used],
}

/// Its answer.
pub(super) struct Solved {
    /// The unknowns.
    pub x: Vec<f64>,
    /// Their covariance, row by row.
    pub covariance: Vec<f64>,
    /// Sum of the squared misses over their standard uncertainties, those of what is known beforehand too.
    pub residual_sum: f64,
}

impl Rows<'_> {
    /// Solves for the unknowns.
    ///
    /// * `widened` — factor on the tests' own uncertainties, not on what is typical nor on what a meter's error does to all
    ///   tests alike.
    pub fn solve(&self, prior: &Prior, widened: f64) -> Result<Solved, Unsolvable> {
        let Rows { model, used } = self;
        let mut x = prior.means.clone();
        let width = x.len();
        // How far each unknown is moved for its partial derivatives.
        let mut reach = vec![0.0; width * width];
        for (k, standard) in prior.standards.iter().enumerate() {
            reach[k * width + k] = math::powi(standard.unwrap_or(0.05 * x[k]), 2);
        }
        let mut solution = None;
        for _ in 0..60 {
            let (mut rows, mut right) = (Vec::new(), Vec::new());
            for test in *used {
                let standard = widened * model.standard(&x, test);
                let slope = gradient(|x| model.residual(x, test), &x, &reach);
                rows.extend(slope.iter().map(|slope| slope / standard));
                right.push(-model.residual(&x, test) / standard);
            }
            for row in &prior.rows {
                rows.extend(row);
                right.push(row.iter().zip(&x).zip(&prior.means).map(|((r, x), mean)| r * (mean - x)).sum());
            }
            let step = least_squares(&rows, width, &right)?;
            let mut largest = 0.0_f64;
            for (k, by) in step.values.iter().enumerate() {
                x[k] += by;
                largest = largest.max(by.abs() / step.covariance[k * width + k].sqrt());
            }
            solution = Some(step);
            if largest < 1e-9 {
                break;
            }
        }
        let Some(solution) = solution else { return Err(Unsolvable::Undetermined) };
        Ok(Solved { x, covariance: solution.covariance, residual_sum: solution.residual_sum })
    }
}

/// Whether a sum of squares is larger than 19 of 20 of its kind.
pub(super) fn contradicts(sum: f64, degrees: usize) -> bool {
    // A chi-squared number is twice a gamma variate of half its degrees of freedom.
    degrees > 0 && 2.0 * gamma_quantile(0.5 * degrees as f64, 0.95) < sum
}
