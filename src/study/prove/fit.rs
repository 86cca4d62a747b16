//! All tests of a unit at once: what its cells hold and what its converters take.
//!
//! Every discharge says `f U (1 − k (f/t − 0.2)) = E (c + q P) + (d + s) t`: the share f of the usable energy U \[Wh at the bus, at
//! a fifth of it an hour\], less what a rate of f/t costs, went into the energy E at the outlet, with the converter's factor
//! c + q P, and into the draw d and the step s (a fan) that belongs to the load P for the time t. Every charge from the
//! wall says `f U = η_d η_c (E η_w − own t)`. Meters with the same name share one unknown error, which a check
//! of the meter against a known load narrows. Unknowns of which people
//! know something beforehand carry it as a row of their own (a typical figure with its spread); what the tests add to it
//! is told by how much narrower it gets. Solved by Gauss-Newton steps, each a least-squares problem of its own.
//!
//! References: JCGM 100:2008 (GUM) for the uncertainties; Björck (1996), Numerical Methods for Least Squares Problems,
//! chapter 9, for the steps; Birge (1932), Physical Review 40, 207, for widening where the tests contradict each other.

use thiserror::Error;

use super::energy::{Energy, energy};
use super::rows::{Model, Prior, Rows, Solved, contradicts};
use super::uncertainty::{Estimate, propagate};
use super::unknowns::{NOT_TOLD, USABLE_RATE, Unknown};
use crate::kit::battery::usable_share;
use crate::kit::inverter::TYPICAL_QUADRATIC;
use crate::linear::Unsolvable;
use crate::math;
use crate::scenario::model::OutletKind;
use crate::scenario::problem::Problem;
use crate::scenario::record::Record;
use crate::scenario::record::model::Run;
use crate::trials::interval::Z_95;
use crate::units::{Celsius, Fraction, Uncertain};

/// What a full discharge of the same unit differs by from one time to the next, as a share, standard deviation: cell
/// temperature and rest. No source.
pub const REPEAT: f64 = 0.005;
/// The trade's bench load in watts for each watt-hour of the label: empty in about five hours. Common practice, no source.
pub const BENCH_LOAD_PER_WH: f64 = 0.2;

/// How many times the typical figures' spread a unit may lie from them and be a unit still: beyond that the tests are
/// doubted, within it the typical figures. No source.
const FAR_FROM_TYPICAL: f64 = 3.0;

/// A load of less than this share of the bench load is next to none.
const IDLE_LOAD: f64 = 0.02;
/// The air that a label is meant for (common practice).
const WARM: Celsius = Celsius(20.0);

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
    /// Its place among the discharges, or the charges, of the record.
    pub place: usize,
    /// Its outlet; `None` for a charge from the wall.
    pub outlet: Option<OutletKind>,
    /// Its energy.
    pub energy: Energy,
    /// Its meter.
    pub meter: String,
    /// Share of the charge that went out or in, with the standard uncertainty of the display.
    pub share: Estimate,
    /// Share of the energy that the model's cells keep back at the temperature of the test, 0 to 1; 0 where none was noted.
    pub cold: f64,
    /// By how much it misses the fit, in standard uncertainties.
    pub misses_by: f64,
}

impl Used {
    /// Whether next to nothing hung on the outlet.
    pub(super) fn idle(&self, bench_load_w: f64) -> bool {
        self.energy.mean_w() < IDLE_LOAD * bench_load_w
    }
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
    /// Nights with nothing plugged in that found the unit empty: they tell the least that it draws, and are in no row.
    pub ran_empty: Vec<RanEmpty>,
    pub(super) rated_wh: f64,
    inverter_w: Option<f64>,
}

/// A run with nothing plugged in after which the unit was empty: nobody knows since when.
#[derive(Debug, Clone, PartialEq)]
pub struct RanEmpty {
    /// Its place among the discharges of the record.
    pub place: usize,
    /// Its outlet.
    pub outlet: OutletKind,
    /// Share of the charge that it used.
    pub share: f64,
    /// How long it lasted \[h\].
    pub hours: f64,
}

impl RanEmpty {
    /// The least that the unit draws \[W\].
    #[must_use]
    pub fn least_w(&self, fit: &Fit) -> f64 {
        self.share * fit.get(&Unknown::Usable).map_or(0.0, |usable| usable.low().max(0.0)) / self.hours
    }
}

/// Fits a record. `None` where it holds no discharge.
///
/// # Errors
/// [`ProveError`] names the test that cannot be used.
pub fn fit(record: &Record) -> Result<Option<Fit>, ProveError> {
    if record.capacities.is_empty() {
        return Ok(None);
    }
    let (mut used, mut ran_empty) = (Vec::new(), Vec::new());
    let idle_w = IDLE_LOAD * bench_load_w(record.unit.rated_capacity.0, record.unit.inverter.map(|rated| rated.0));
    let noted = |run: &Run| {
        let warm = usable_share(record.unit.chemistry, WARM.0);
        run.ambient.map(|air| (1.0 - usable_share(record.unit.chemistry, air.0) / warm).max(0.0))
    };
    // A run of no noted temperature may have been as cold as the coldest, and a charge puts back only what came out in the cold.
    let coldest = record.capacities.iter().filter_map(|test| noted(&test.run)).fold(0.0, f64::max);
    let cold = |run: &Run| noted(run).unwrap_or(coldest);
    for (index, test) in record.capacities.iter().enumerate() {
        let run = &test.run;
        let energy = energy(run, &format!("capacity.{index}")).map_err(ProveError::Test)?;
        let share = share(&run.charge.0, &run.charge.1);
        if energy.mean_w() < idle_w && run.charge.1.value.0 <= 0.0 {
            ran_empty.push(RanEmpty { place: index, outlet: test.outlet, share: share.value, hours: energy.hours });
            continue;
        }
        let (name, meter) = (test.name.clone(), run.meter.name.clone());
        let (outlet, cold) = (Some(test.outlet), cold(run));
        used.push(Used { name, place: index, outlet, energy, meter, share, cold, misses_by: 0.0 });
    }
    for (index, test) in record.walls.iter().enumerate() {
        let run = &test.run;
        let energy = energy(run, &format!("wall.{index}")).map_err(ProveError::Test)?;
        let share = share(&run.charge.1, &run.charge.0);
        let (name, meter) = (test.name.clone(), run.meter.name.clone());
        let cold = cold(run).max(coldest);
        used.push(Used { name, place: index, outlet: None, energy, meter, share, cold, misses_by: 0.0 });
    }
    if used.iter().all(|test| test.outlet.is_none()) {
        return Ok(None);
    }
    solve_all(record, used).map(|fit| Some(Fit { ran_empty, ..fit }))
}

fn share(high: &Uncertain<Fraction>, low: &Uncertain<Fraction>) -> Estimate {
    Estimate { value: high.value.0 - low.value.0, standard: math::hypot(high.standard(), low.standard()) }
}

fn solve_all(record: &Record, mut used: Vec<Used>) -> Result<Fit, ProveError> {
    let rated_wh = record.unit.rated_capacity.0;
    let inverter_w = record.unit.inverter.map(|rated| rated.0);
    let mut unknowns = vec![Unknown::Usable, Unknown::Discharge, Unknown::Charge, Unknown::Fall];
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
                if outlet == OutletKind::Ac {
                    add(Unknown::Step(test.energy.mean_w()), &mut unknowns);
                    add(Unknown::Step(bench_load_w(rated_wh, inverter_w)), &mut unknowns);
                }
            }
            None => add(Unknown::Wall, &mut unknowns),
        }
        if test.cold > 0.0 {
            add(Unknown::Cold, &mut unknowns);
        }
        if test.energy.gain_standard > 0.0 {
            add(Unknown::Gain(test.meter.clone()), &mut unknowns);
        }
    }
    let only_idle = used.iter().all(|test| test.outlet.is_none() || test.idle(bench_load_w(rated_wh, inverter_w)));
    let mut prior = Prior::of(record, &unknowns, only_idle, |meter| {
        let with_it = used.iter().filter(|test| test.meter == meter);
        gain(record, meter, with_it.map(|test| test.energy.gain_standard).fold(0.0, f64::max))
    });
    let quadratic_per_w = quadratic_per_w(inverter_w);
    let problem = Rows { model: Model { unknowns: &unknowns, quadratic_per_w }, used: &used };
    let degrees = used.len() - 1;
    let mut solved = problem.solve(&prior, 1.0)?;
    let (mut widened, mut untypical) = (None, false);
    if contradicts(solved.residual_sum, degrees) {
        // Do the tests agree with each other, on a unit far from typical?
        let wide = prior.wider(&unknowns, FAR_FROM_TYPICAL);
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
        before: prior.standards.into_iter().map(|standard| standard.map(|standard| Z_95 * standard)).collect(),
        unknowns,
        values: x,
        covariance,
        used,
        quadratic_per_w,
        widened,
        untypical,
        ran_empty: Vec::new(),
        rated_wh,
        inverter_w,
    })
}

/// Error of a meter as a share of its reading: mean and standard uncertainty.
///
/// * `limits` — standard uncertainty by its limits.
///
/// Each check of the meter against a known load, `R (1 − g) = K`, is taken together with the limits by inverse variances. The last
/// digit is a constant density (JCGM 100:2008, 4.3.7).
fn gain(record: &Record, meter: &str, limits: f64) -> (f64, f64) {
    let (mut sum, mut weight) = (0.0, math::powi(limits, -2));
    for check in record.checks.iter().filter(|check| check.meter.name == meter) {
        let digit = 0.5 * check.meter.last_digit.0 / 3.0_f64.sqrt();
        let by_check = math::powi(check.read.0 / math::hypot(check.known.standard(), digit), 2);
        sum += by_check * (1.0 - check.known.value.0 / check.read.0);
        weight += by_check;
    }
    (sum / weight, weight.sqrt().recip())
}

/// Hours that energy for so many hours' rate lasts: t B = U (1 − k (1/t − [`USABLE_RATE`])), solved for t.
///
/// * `usable_wh` — U; `fall` — k; `bus_w` — B, above 0.
pub(super) fn lasts_h(usable_wh: f64, fall: f64, bus_w: f64) -> f64 {
    let slow = usable_wh * (1.0 + USABLE_RATE * fall);
    let root = (slow * slow - 4.0 * bus_w * usable_wh * fall).max(0.0).sqrt();
    (slow + root) / (2.0 * bus_w)
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
            left if left < NOT_TOLD => Told::Partly,
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

    /// Energy that a full unit gives at an outlet under a steady load \[Wh\]; `None` where the outlet was not tested. At AC the
    /// step of the inverter is that of the nearest load that is an unknown; the bench load is one.
    #[must_use]
    pub fn delivered(&self, outlet: OutletKind, load_w: f64) -> Option<Estimate> {
        self.get(&Unknown::Factor(outlet))?;
        Some(propagate(|x| self.delivered_by(x, outlet, load_w), &self.values, &self.covariance))
    }

    /// The same for other values of the unknowns.
    pub(super) fn delivered_by(&self, x: &[f64], outlet: OutletKind, load_w: f64) -> f64 {
        let at = |unknown: &Unknown| self.unknowns.iter().position(|other| other == unknown).map_or(0.0, |k| x[k]);
        let (mut factor, mut draw) = (at(&Unknown::Factor(outlet)), at(&Unknown::Draw(outlet)));
        if outlet == OutletKind::Ac {
            factor += self.quadratic_per_w * load_w;
            draw += self.nearest_step(load_w).map_or(0.0, |place| x[place]);
        }
        load_w * lasts_h(at(&Unknown::Usable), at(&Unknown::Fall), factor * load_w + draw)
    }

    /// Place of the step at the load nearest to this one.
    fn nearest_step(&self, load_w: f64) -> Option<usize> {
        let off = |unknown: &Unknown| {
            if let Unknown::Step(load) = unknown { Some((load - load_w).abs()) } else { None }
        };
        let steps = self.unknowns.iter().enumerate().filter_map(|(place, unknown)| Some((off(unknown)?, place)));
        steps.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, place)| place)
    }

    /// The load that the trade's figures are meant for \[W\].
    #[must_use]
    pub fn bench_load_w(&self) -> f64 {
        bench_load_w(self.rated_wh, self.inverter_w)
    }

    /// Bus energy for each watt-hour at the AC outlet beyond the draw, with what a step takes under the bench load.
    #[must_use]
    pub fn factor_with_step(&self) -> Option<Estimate> {
        let load_w = self.bench_load_w();
        self.get(&Unknown::Factor(OutletKind::Ac))?;
        let step = Unknown::Step(load_w);
        Some(self.propagated(|x| x(&Unknown::Factor(OutletKind::Ac)) + x(&step) / load_w))
    }

    /// Energy in the cells when full \[Wh\].
    #[must_use]
    pub fn cells(&self) -> Estimate {
        self.propagated(|x| x(&Unknown::Usable) / x(&Unknown::Discharge))
    }
}
