//! Capacity over the years: a line through several records of one unit.

use jiff::civil::Date;

use super::uncertainty::{Estimate, propagate};
use super::{Fit, Proof, Unknown};
use crate::linear::{Unsolvable, least_squares};
use crate::math;
use crate::scenario::model::OutletKind;
use crate::scenario::record::Record;

/// The capacity of one record.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// When.
    pub date: Date,
    /// Years since the first record.
    pub years: f64,
    /// Full cycles so far, where known.
    pub cycles: Option<f64>,
    /// What came out at the AC outlet under the bench load \[Wh\].
    pub bench: Estimate,
    /// The meters' part of it: name, and what their error of one standard uncertainty does \[Wh\].
    meters: Vec<(String, f64)>,
}

/// A fitted line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// At the first record \[Wh\].
    pub start: Estimate,
    /// Change for each year or each cycle \[Wh\], negative where capacity goes.
    pub slope: Estimate,
    /// That as a share of the start.
    pub relative: Estimate,
}

/// What several records say.
#[derive(Debug, Clone, PartialEq)]
pub struct Fade {
    /// The records in order of time.
    pub points: Vec<Point>,
    /// Against years.
    pub by_years: Line,
    /// Against cycles, where all records tell them and they differ.
    pub by_cycles: Option<Line>,
    /// Years from the first record until four fifths of its capacity are left, if it goes on so; only where the fade is
    /// beyond doubt.
    pub years_to_four_fifths: Option<Estimate>,
}

/// Fits the fade. Errors of a meter that several records share cancel in the slope.
///
/// `None` for fewer than two records with a capacity and a date, or all of one day.
///
/// # Errors
/// [`Unsolvable`] where the numbers do not allow a line.
pub fn fade(records: &[(&Record, &Proof)]) -> Result<Option<Fade>, Unsolvable> {
    let mut points: Vec<Point> = records
        .iter()
        .filter_map(|(record, proof)| {
            let (bench, _) = proof.bench?;
            let fit = proof.fit.as_ref()?;
            Some(Point {
                date: record.date()?,
                years: 0.0,
                cycles: record.unit.cycles.map(f64::from),
                bench,
                meters: meters(fit, fit.bench_load_w()),
            })
        })
        .collect();
    points.sort_by_key(|point| point.date);
    let Some(first) = points.first().map(|point| point.date) else { return Ok(None) };
    for point in &mut points {
        point.years = point.date.duration_since(first).as_secs_f64() / (crate::calendar::DAYS_A_YEAR * 86_400.0);
    }
    if points.last().is_none_or(|last| last.years <= 0.0) {
        return Ok(None);
    }
    let years: Vec<f64> = points.iter().map(|point| point.years).collect();
    let (by_years, values, covariance) = line(&points, &years)?;
    let cycles: Option<Vec<f64>> = points.iter().map(|point| point.cycles).collect();
    let by_cycles = match cycles {
        Some(cycles) if cycles.windows(2).any(|pair| pair[0] != pair[1]) => {
            let from = cycles[0];
            Some(line(&points, &cycles.iter().map(|c| c - from).collect::<Vec<_>>())?.0)
        }
        _ => None,
    };
    let years_to_four_fifths =
        (by_years.slope.high() < 0.0).then(|| propagate(|x: &[f64]| -0.2 * x[0] / x[1], &values, &covariance));
    Ok(Some(Fade { points, by_years, by_cycles, years_to_four_fifths }))
}

/// What each meter's error does to the capacity under the bench load, for one standard uncertainty of that error \[Wh\]:
/// the regression of the one on the other.
fn meters(fit: &Fit, load_w: f64) -> Vec<(String, f64)> {
    let n = fit.values.len();
    if fit.get(&Unknown::Factor(OutletKind::Ac)).is_none() {
        return Vec::new();
    }
    let given = |x: &[f64]| fit.delivered_by(x, OutletKind::Ac, load_w);
    let slope = super::uncertainty::gradient(given, &fit.values, &fit.covariance);
    fit.unknowns
        .iter()
        .enumerate()
        .filter_map(|(k, unknown)| {
            let Unknown::Gain(name) = unknown else { return None };
            let with: f64 = (0..n).map(|i| slope[i] * fit.covariance[i * n + k]).sum();
            let standard = fit.covariance[k * n + k].sqrt();
            Some((name.clone(), if standard > 0.0 { with / standard } else { 0.0 }))
        })
        .collect()
}

/// A line through the points; the meters' errors are unknowns of their own.
fn line(points: &[Point], x: &[f64]) -> Result<(Line, [f64; 2], [f64; 4]), Unsolvable> {
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in points.iter().flat_map(|point| &point.meters) {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    let width = 2 + names.len();
    let (mut rows, mut right) = (Vec::new(), Vec::new());
    for (point, x) in points.iter().zip(x) {
        let shared: f64 = point.meters.iter().map(|(_, by)| by * by).sum();
        let own = (math::powi(point.bench.standard, 2) - shared).max(1e-6 * math::powi(point.bench.standard, 2)).sqrt();
        let mut row = vec![0.0; width];
        (row[0], row[1]) = (1.0 / own, x / own);
        for (name, by) in &point.meters {
            if let Some(place) = names.iter().position(|other| other == name) {
                row[2 + place] = by / own;
            }
        }
        rows.extend(row);
        right.push(point.bench.value / own);
    }
    for place in 0..names.len() {
        rows.extend((0..width).map(|k| f64::from(u8::from(k == 2 + place))));
        right.push(0.0);
    }
    let solution = least_squares(&rows, width, &right)?;
    let covariance =
        [solution.covariance[0], solution.covariance[1], solution.covariance[width], solution.covariance[width + 1]];
    let values = [solution.values[0], solution.values[1]];
    let line = Line {
        start: Estimate { value: values[0], standard: covariance[0].sqrt() },
        slope: Estimate { value: values[1], standard: covariance[3].sqrt() },
        relative: propagate(|x: &[f64]| x[1] / x[0], &values, &covariance),
    };
    Ok((line, values, covariance))
}
