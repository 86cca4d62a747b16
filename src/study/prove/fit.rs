//! All tests of a unit at once: what its cells hold and what its converters take.
//!
//! Every discharge says `f U = E (c + q P) + d t`: the share f of the usable energy U \[Wh at the bus\] went into the
//! energy E at the outlet, with the converter's factor c + q P, and into the draw d for the time t. Every charge from the
//! wall says `f U = η_d η_c (E η_w − own t)`. Meters with the same name share one unknown error. Unknowns of which people
//! know something beforehand carry it as a row of their own (a typical figure with its spread); what the tests add to it
//! is told by how much narrower it gets. Solved by Gauss-Newton steps, each a least-squares problem of its own.
//!
//! References: JCGM 100:2008 (GUM) for the uncertainties; Björck (1996), Numerical Methods for Least Squares Problems,
//! chapter 9, for the steps; Birge (1932), Physical Review 40, 207, for widening where the tests contradict each other.

use statrs::distribution::{ChiSquared, ContinuousCDF};
use thiserror::Error;

use super::energy::{Energy, energy};
use super::least_squares::{Estimate, FitError, gradient, joint, propagate, solve};
use super::unknowns::{OWN_DRAW_W, Unknown, typical};
use crate::kit::inverter::TYPICAL_QUADRATIC;
use crate::scenario::model::OutletKind;
use crate::scenario::problem::Problem;
use crate::scenario::record::{Figure, FigureKind, ProvedKit, Record};
use crate::trials::interval::Z_95;
use crate::units::{Fraction, Uncertain};

/// What a full discharge of the same unit differs by from one time to the next, as a share, standard deviation: cell
/// temperature and rest. No source.
pub const REPEAT: f64 = 0.005;
/// The trade's bench load in watts for each watt-hour of the label: empty in about five hours. Common practice, no source.
pub const BENCH_LOAD_PER_WH: f64 = 0.2;

/// Why tests cannot be fitted.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ProveError {
    /// A test that cannot be used.
    #[error("{}", .0.title())]
    Test(Box<Problem>),
    /// The numbers do not allow it.
    #[error(transparent)]
    Fit(#[from] FitError),
}

/// One discharge or charge as the fit sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct Used {
    /// Its name.
    pub name: String,
    /// Its outlet; `None` for a charge from the wall.
    pub outlet: Option<OutletKind>,
    /// Its energy.
    pub energy: Energy,
    /// Its meter.
    pub meter: String,
    /// Share of the charge that went out or in, with the standard uncertainty of the display.
    pub share: Estimate,
    /// By how much it misses the fit, in standard uncertainties.
    pub misses_by: f64,
}

/// How well the tests tell an unknown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Told {
    /// The tests leave less than half of what was open before.
    Well,
    /// They narrow it somewhat.
    Partly,
    /// They do not: it is the typical figure still.
    NotAtAll,
}

/// What all tests together say.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// The unknowns.
    pub unknowns: Vec<Unknown>,
    /// Their best estimates.
    pub values: Vec<f64>,
    /// Their covariance, row by row.
    pub covariance: Vec<f64>,
    /// 95 % half-width that each had before the tests; `None` for the usable energy.
    pub before: Vec<Option<f64>>,
    /// The tests.
    pub used: Vec<Used>,
    /// k2 / P_rated of the inverter, held \[1/W\].
    pub quadratic_per_w: f64,
    /// Factor by which the covariance's roots were widened because the tests contradict each other.
    pub widened: Option<f64>,
    rated_wh: f64,
    inverter_w: Option<f64>,
}

/// Fits a record. `None` where it holds no discharge.
///
/// # Errors
/// [`ProveError`] names the test that cannot be used.
pub fn fit(record: &Record) -> Result<Option<Fit>, ProveError> {
    if record.capacities.is_empty() {
        return Ok(None);
    }
    let mut used = Vec::new();
    for (index, test) in record.capacities.iter().enumerate() {
        let run = &test.run;
        let energy = energy(run, &format!("capacity.{index}")).map_err(ProveError::Test)?;
        let share = share(&run.charge.0, &run.charge.1);
        let (name, meter) = (test.name.clone(), run.meter.name.clone());
        used.push(Used { name, outlet: Some(test.outlet), energy, meter, share, misses_by: 0.0 });
    }
    for (index, test) in record.walls.iter().enumerate() {
        let run = &test.run;
        let energy = energy(run, &format!("wall.{index}")).map_err(ProveError::Test)?;
        let share = share(&run.charge.1, &run.charge.0);
        let (name, meter) = (test.name.clone(), run.meter.name.clone());
        used.push(Used { name, outlet: None, energy, meter, share, misses_by: 0.0 });
    }
    solve_all(record, used).map(Some)
}

fn share(high: &Uncertain<Fraction>, low: &Uncertain<Fraction>) -> Estimate {
    Estimate { value: high.value.0 - low.value.0, standard: high.standard().hypot(low.standard()) }
}

/// One row of the problem: its residual over its standard uncertainty.
struct Model<'a> {
    unknowns: &'a [Unknown],
    quadratic_per_w: f64,
}

impl Model<'_> {
    fn at(&self, x: &[f64], unknown: &Unknown) -> f64 {
        self.unknowns.iter().position(|other| other == unknown).map_or(0.0, |place| x[place])
    }

    /// What a test misses the model by \[Wh\].
    fn residual(&self, x: &[f64], test: &Used) -> f64 {
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
    fn standard(&self, x: &[f64], test: &Used) -> f64 {
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
        let rest = (test.energy.own_standard_wh().powi(2) - clock * clock).max(0.0).sqrt();
        let parts = [
            usable * test.share.standard,
            usable * test.share.value * REPEAT,
            per_wh * rest,
            per_wh * clock + per_hour * test.energy.hours_standard,
        ];
        parts.iter().map(|part| part * part).sum::<f64>().sqrt()
    }
}

fn solve_all(record: &Record, mut used: Vec<Used>) -> Result<Fit, ProveError> {
    let mut unknowns = vec![Unknown::Usable, Unknown::Discharge, Unknown::Charge];
    let add = |unknown: Unknown, unknowns: &mut Vec<Unknown>| {
        if !unknowns.contains(&unknown) {
            unknowns.push(unknown);
        }
    };
    for test in &used {
        match test.outlet {
            Some(outlet) => {
                add(Unknown::Draw(outlet), &mut unknowns);
                add(Unknown::Factor(outlet), &mut unknowns);
            }
            None => add(Unknown::Wall, &mut unknowns),
        }
        if test.energy.gain_standard > 0.0 {
            add(Unknown::Gain(test.meter.clone()), &mut unknowns);
        }
    }
    let prior: Vec<Option<(f64, f64)>> = unknowns
        .iter()
        .map(|unknown| match unknown {
            Unknown::Gain(name) => {
                let gains = used.iter().filter(|test| &test.meter == name).map(|test| test.energy.gain_standard);
                Some((0.0, Z_95 * gains.fold(0.0, f64::max)))
            }
            _ => typical(unknown, record),
        })
        .collect();
    let rated_wh = record.unit.rated_capacity.0;
    let inverter_w = record.unit.inverter.map(|rated| rated.0);
    let quadratic_per_w = quadratic_per_w(inverter_w);
    let mut x: Vec<f64> = prior.iter().map(|prior| prior.map_or(rated_wh, |(mean, _)| mean)).collect();
    let width = x.len();
    // How far each unknown is moved for its partial derivatives.
    let mut reach = vec![0.0; width * width];
    for (k, prior) in prior.iter().enumerate() {
        let standard = prior.map_or(0.05 * rated_wh, |(_, half)| half / Z_95);
        reach[k * width + k] = standard * standard;
    }
    let mut solution = None;
    for _ in 0..60 {
        let model = Model { unknowns: &unknowns, quadratic_per_w };
        let (mut rows, mut right) = (Vec::new(), Vec::new());
        for test in &used {
            let standard = model.standard(&x, test);
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
        let step = solve(&rows, width, &right)?;
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
    let Some(solution) = solution else { return Err(FitError::Undetermined.into()) };
    let model = Model { unknowns: &unknowns, quadratic_per_w };
    let misses: Vec<f64> = used.iter().map(|test| model.residual(&x, test) / model.standard(&x, test)).collect();
    let mut covariance = solution.covariance;
    let widened = contradiction(solution.residual_sum, used.len() - 1);
    if let Some(factor) = widened {
        for c in &mut covariance {
            *c *= factor * factor;
        }
    }
    for (test, misses_by) in used.iter_mut().zip(misses) {
        test.misses_by = misses_by;
    }
    Ok(Fit {
        before: prior.into_iter().map(|prior| prior.map(|(_, half)| half)).collect(),
        unknowns,
        values: x,
        covariance,
        used,
        quadratic_per_w,
        widened,
        rated_wh,
        inverter_w,
    })
}

/// The load that the trade's figures are meant for \[W\]: a fifth of the label \[Wh\], at most 80 % of the inverter \[W\].
pub(super) fn bench_load_w(rated_wh: f64, inverter_w: Option<f64>) -> f64 {
    let load = BENCH_LOAD_PER_WH * rated_wh;
    inverter_w.map_or(load, |rated| load.min(0.8 * rated))
}

/// k2 / P_rated of an inverter of so many watts, which the tests do not tell \[1/W\].
pub(super) fn quadratic_per_w(inverter_w: Option<f64>) -> f64 {
    inverter_w.map_or(0.0, |rated| TYPICAL_QUADRATIC / rated)
}

/// Birge's factor where the sum of squares is larger than 19 of 20 of its kind, else nothing.
fn contradiction(sum: f64, degrees: usize) -> Option<f64> {
    if degrees == 0 {
        return None;
    }
    let limit = ChiSquared::new(degrees as f64).ok()?.inverse_cdf(0.95);
    (limit < sum).then(|| (sum / degrees as f64).sqrt())
}

impl Fit {
    /// Best estimate and uncertainty of an unknown, where it is one.
    #[must_use]
    pub fn get(&self, unknown: &Unknown) -> Option<Estimate> {
        let place = self.unknowns.iter().position(|other| other == unknown)?;
        let variance = self.covariance[place * self.values.len() + place];
        Some(Estimate { value: self.values[place], standard: variance.max(0.0).sqrt() })
    }

    /// How well the tests tell an unknown.
    #[must_use]
    pub fn told(&self, unknown: &Unknown) -> Told {
        let place = self.unknowns.iter().position(|other| other == unknown);
        let (Some(now), Some(place)) = (self.get(unknown), place) else { return Told::NotAtAll };
        let left = match self.before[place] {
            Some(before) => now.plus_minus() / before,
            // Nothing was known of the energy: a tenth of it counts as told well, three tenths as partly.
            None => 5.0 * now.plus_minus() / now.value,
        };
        match left {
            left if left < 0.5 => Told::Well,
            left if left < 0.9 => Told::Partly,
            _ => Told::NotAtAll,
        }
    }

    /// Correlation of two unknowns, -1 to 1.
    #[must_use]
    pub fn correlation(&self, a: usize, b: usize) -> f64 {
        let n = self.values.len();
        let scale = (self.covariance[a * n + a] * self.covariance[b * n + b]).sqrt();
        if scale > 0.0 { self.covariance[a * n + b] / scale } else { 0.0 }
    }

    /// A function of the unknowns with its uncertainty.
    pub fn propagated(&self, f: impl Fn(&dyn Fn(&Unknown) -> f64) -> f64) -> Estimate {
        let read = |x: &[f64]| {
            f(&|unknown: &Unknown| self.unknowns.iter().position(|other| other == unknown).map_or(f64::NAN, |k| x[k]))
        };
        propagate(read, &self.values, &self.covariance)
    }

    /// Energy that a full unit gives at an outlet under a steady load \[Wh\]; `None` where the outlet was not tested.
    #[must_use]
    pub fn delivered(&self, outlet: OutletKind, load_w: f64) -> Option<Estimate> {
        self.get(&Unknown::Factor(outlet))?;
        let quadratic = if outlet == OutletKind::Ac { self.quadratic_per_w } else { 0.0 };
        Some(self.propagated(|x| {
            let factor = x(&Unknown::Factor(outlet)) + quadratic * load_w;
            x(&Unknown::Usable) / (factor + x(&Unknown::Draw(outlet)) / load_w)
        }))
    }

    /// The load that the trade's figures are meant for \[W\].
    #[must_use]
    pub fn bench_load_w(&self) -> f64 {
        bench_load_w(self.rated_wh, self.inverter_w)
    }

    /// Energy in the cells when full \[Wh\].
    #[must_use]
    pub fn cells(&self) -> Estimate {
        self.propagated(|x| x(&Unknown::Usable) / x(&Unknown::Discharge))
    }

    /// The figures that a scenario takes in. Efficiencies above 1 cannot be; they are held at 1.
    #[must_use]
    pub fn kit(&self, record: &Record) -> ProvedKit {
        let n = self.values.len();
        let place = |unknown: &Unknown| self.unknowns.iter().position(|other| other == unknown);
        let mut figures = Vec::new();
        let mut slopes: Vec<Vec<f64>> = Vec::new();
        for kind in FigureKind::ALL {
            let (unknown, inverse) = match kind {
                FigureKind::UsableEnergy => (Unknown::Usable, false),
                FigureKind::DischargeEfficiency => (Unknown::Discharge, false),
                FigureKind::ChargeEfficiency => (Unknown::Charge, false),
                FigureKind::Draw(outlet) => (Unknown::Draw(outlet), false),
                FigureKind::Conversion(outlet) => (Unknown::Factor(outlet), true),
            };
            let Some(place) = place(&unknown) else { continue };
            let x = self.values[place];
            let mut slope = vec![0.0; n];
            slope[place] = if inverse { -1.0 / (x * x) } else { 1.0 };
            let value = if inverse { 1.0 / x } else { x };
            let share = !matches!(kind, FigureKind::UsableEnergy | FigureKind::Draw(_));
            figures.push(Figure { kind, value: if share { value.min(1.0) } else { value.max(0.0) } });
            slopes.push(slope);
        }
        let m = figures.len();
        let covariance = (0..m * m).map(|k| joint(&slopes[k / m], &slopes[k % m], &self.covariance)).collect();
        ProvedKit {
            title: record.title.clone(),
            rated_capacity: record.unit.rated_capacity,
            inverter: record.unit.inverter,
            figures,
            covariance,
        }
    }
}
