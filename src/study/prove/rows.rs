//! The rows of the fit: what each test misses the model by, and the steps to the least of their squares.

use super::fit::{REPEAT, Used};
use super::uncertainty::gradient;
use super::unknowns::{OWN_DRAW_W, Unknown};
use crate::linear::{Unsolvable, least_squares};
use crate::math;
use crate::scenario::model::OutletKind;
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
                test.share.value * usable - e * factor - self.at(x, &Unknown::Draw(outlet)) * t
            }
            None => {
                let into = self.at(x, &Unknown::Wall) * e - OWN_DRAW_W * t;
                self.at(x, &Unknown::Discharge) * self.at(x, &Unknown::Charge) * into - test.share.value * usable
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

/// The rows of the least-squares problem.
pub(super) struct Rows<'a> {
    /// What the tests say.
    pub model: Model<'a>,
    /// The tests.
    pub used: &'a [Used],
    /// Energy on the label \[Wh\]: where the search begins.
    pub rated_wh: f64,
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
    /// * `prior` — mean and 95 % half-width of each before the tests; `widened` — factor on the tests' own uncertainties, not on
    ///   what is typical nor on what a meter's error does to all tests alike.
    pub fn solve(&self, prior: &[Option<(f64, f64)>], widened: f64) -> Result<Solved, Unsolvable> {
        let Rows { model, used, rated_wh } = self;
        let mut x: Vec<f64> = prior.iter().map(|prior| prior.map_or(*rated_wh, |(mean, _)| mean)).collect();
        let width = x.len();
        // How far each unknown is moved for its partial derivatives.
        let mut reach = vec![0.0; width * width];
        for (k, prior) in prior.iter().enumerate() {
            let standard = prior.map_or(0.05 * *rated_wh, |(_, half)| half / Z_95);
            reach[k * width + k] = standard * standard;
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
            for (place, prior) in prior.iter().enumerate() {
                let Some((mean, half)) = prior else { continue };
                let standard = half / Z_95;
                rows.extend((0..width).map(|k| if k == place { 1.0 / standard } else { 0.0 }));
                right.push((mean - x[place]) / standard);
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
