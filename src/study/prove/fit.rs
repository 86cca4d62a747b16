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

use thiserror::Error;

use super::energy::{Energy, energy};
use super::rows::{Model, Rows, Solved, contradicts};
use super::uncertainty::{Estimate, joint, propagate};
use super::unknowns::{Unknown, typical};
use crate::kit::inverter::TYPICAL_QUADRATIC;
use crate::linear::Unsolvable;
use crate::math;
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

/// How many times the typical figures' spread a unit may lie from them and be a unit still: beyond that the tests are
/// doubted, within it the typical figures. No source.
const FAR_FROM_TYPICAL: f64 = 3.0;

/// Why tests cannot be fitted.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ProveError {
    /// A test that cannot be used.
    #[error("{}", .0.title())]
    Test(Box<Problem>),
    /// The numbers do not allow it.
    #[error(transparent)]
    Fit(#[from] Unsolvable),
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
    /// Factor by which the measurements' uncertainties were widened because the tests contradict each other.
    pub widened: Option<f64>,
    /// Whether the tests contradict the typical figures and not each other; those were widened then.
    pub untypical: bool,
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
    Estimate { value: high.value.0 - low.value.0, standard: math::hypot(high.standard(), low.standard()) }
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
    let mut prior: Vec<Option<(f64, f64)>> = unknowns
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
    let problem = Rows { model: Model { unknowns: &unknowns, quadratic_per_w }, used: &used, rated_wh };
    let degrees = used.len() - 1;
    let mut solved = problem.solve(&prior, 1.0)?;
    let (mut widened, mut untypical) = (None, false);
    if contradicts(solved.residual_sum, degrees) {
        // Do the tests agree with each other, on a unit far from typical?
        let mut wide = prior.clone();
        for (unknown, prior) in unknowns.iter().zip(&mut wide) {
            if let (Some((_, half)), false) = (prior, matches!(unknown, Unknown::Gain(_))) {
                *half *= FAR_FROM_TYPICAL;
            }
        }
        let untied = problem.solve(&wide, 1.0)?;
        if contradicts(untied.residual_sum, degrees) {
            // Inflation belongs to the tests alone: it goes on until the misses are what they then allow.
            let mut factor = 1.0;
            for _ in 0..40 {
                let excess = (solved.residual_sum / degrees as f64).sqrt();
                if excess < 1.0 + 1e-6 {
                    break;
                }
                factor *= excess;
                solved = problem.solve(&prior, factor)?;
            }
            widened = Some(factor);
        } else {
            (solved, prior, untypical) = (untied, wide, true);
        }
    }
    let Solved { x, covariance, .. } = solved;
    let misses: Vec<f64> =
        used.iter().map(|test| problem.model.residual(&x, test) / problem.model.standard(&x, test)).collect();
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
        untypical,
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
