//! What the tests leave of a unit for a simulation, and whether it can be believed.

use super::TOO_GOOD;
use super::fit::{Fit, bench_load_w, quadratic_per_w};
use super::uncertainty::{Estimate, joint, propagate};
use super::unknowns::Unknown;
use crate::engine::kit_plan::UNPROVED_SHARE;
use crate::math;
use crate::scenario::model::OutletKind;
use crate::scenario::problem::Problem;
use crate::scenario::record::{Figure, FigureKind, ProvedKit, Record};
use crate::units::{Uncertain, WattHours, Watts};

/// Loads are alike within this share.
const NEAR: f64 = 0.05;

/// A function of the unknowns that is a sum of them: its value and its slopes.
#[derive(Debug, Clone)]
struct Sum {
    value: f64,
    slopes: Vec<f64>,
}

/// How a simulation takes the steps at all loads: `slope P + step min(P / from, 1)`.
#[derive(Debug, Clone)]
struct Steps {
    /// Taken for each watt of load \[–\].
    slope: Sum,
    /// Taken beside it from a load on \[W\], and that load \[W\]; none where the tests do not tell where one comes on.
    step: Option<(Sum, f64)>,
}

impl Fit {
    /// One unknown, times a factor.
    fn unknown(&self, place: usize, factor: f64) -> Sum {
        let mut slopes = vec![0.0; self.values.len()];
        slopes[place] = factor;
        Sum { value: factor * self.values[place], slopes }
    }

    fn less(&self, a: &Sum, b: &Sum, factor: f64) -> Sum {
        let slopes = a.slopes.iter().zip(&b.slopes).map(|(a, b)| a - factor * b).collect();
        Sum { value: a.value - factor * b.value, slopes }
    }

    /// The steps of the AC outlet for all loads: never less at a load that was tested, nor at the bench load, than the fit finds
    /// there. From nothing at no load it rises to the step at one of these loads, and from there by the steepest line to any larger
    /// one (which falls where the fit finds less there: of conversion and step together two runs tell the sum); of several such ways
    /// the one that rises least beyond. Where none is, a straight line from no load serves all.
    fn steps(&self) -> Option<Steps> {
        // The bench load stands for runs so near to it: what a step varies by from one run to the next is no rise with the load.
        let bench_w = self.bench_load_w();
        let counts = |load_w: f64| load_w > 0.0 && (load_w == bench_w || NEAR < (load_w / bench_w - 1.0).abs());
        let at = |(place, unknown): (usize, &Unknown)| match unknown {
            Unknown::Step(load_w) if counts(*load_w) => Some((*load_w, place)),
            _ => None,
        };
        let mut loads: Vec<(f64, usize)> = self.unknowns.iter().enumerate().filter_map(at).collect();
        loads.sort_by(|a, b| a.0.total_cmp(&b.0));
        let step = |k: usize| self.values[loads[k].1].max(0.0);
        let steepest = |from: usize| {
            let rise = |k: &usize| (step(*k) - step(from)) / (loads[*k].0 - loads[from].0);
            (from + 1..loads.len()).max_by(|a, b| rise(a).total_cmp(&rise(b))).map(|k| (k, rise(&k)))
        };
        let bends = (0..loads.len()).filter_map(|from| {
            let (to, rise) = steepest(from)?;
            let load_w = loads[from].0;
            let below = (0..from).all(|below| step(below) <= step(from) * loads[below].0 / load_w);
            let (low, high) = (self.unknown(loads[from].1, 1.0), self.unknown(loads[to].1, 1.0));
            let none = Sum { value: 0.0, slopes: vec![0.0; self.values.len()] };
            let over = loads[to].0 - load_w;
            let slope = self.less(&none, &self.less(&low, &high, 1.0), 1.0 / over);
            let step = self.less(&low, &slope, load_w);
            // Where nobody knows whether there is one, a straight line is as good.
            let told = joint(&step.slopes, &step.slopes, &self.covariance).max(0.0).sqrt() < step.value;
            let from_w = (10.0 * load_w).round().max(1.0) / 10.0;
            (below && told).then_some((rise, Steps { slope, step: Some((step, from_w)) }))
        });
        if let Some((_, steps)) = bends.min_by(|a, b| a.0.total_cmp(&b.0)) {
            return Some(steps);
        }
        let share = |k: &usize| step(*k) / loads[*k].0;
        let most = (0..loads.len()).max_by(|a, b| share(a).total_cmp(&share(b)))?;
        Some(Steps { slope: self.unknown(loads[most].1, 1.0 / loads[most].0), step: None })
    }

    /// The figures that a scenario takes in. Efficiencies above 1 cannot be; they are held at 1.
    #[must_use]
    pub fn kit(&self, record: &Record) -> ProvedKit {
        let place = |unknown: &Unknown| self.unknowns.iter().position(|other| other == unknown);
        let steps = self.steps();
        let mut figures = Vec::new();
        let mut slopes: Vec<Vec<f64>> = Vec::new();
        for kind in FigureKind::ALL {
            let sum = |unknown: &Unknown| Some(self.unknown(place(unknown)?, 1.0));
            let found = match kind {
                FigureKind::UsableEnergy => sum(&Unknown::Usable),
                FigureKind::DischargeEfficiency => sum(&Unknown::Discharge),
                FigureKind::ChargeEfficiency => sum(&Unknown::Charge),
                FigureKind::Draw(outlet) => sum(&Unknown::Draw(outlet)),
                FigureKind::Conversion(outlet) => sum(&Unknown::Factor(outlet)).map(|factor| {
                    // What steps take in proportion to the load counts as conversion.
                    let steps = steps.as_ref().filter(|_| outlet == OutletKind::Ac);
                    let factor = steps.map_or(factor.clone(), |steps| self.less(&factor, &steps.slope, -1.0));
                    let by = -1.0 / (factor.value * factor.value);
                    Sum { value: 1.0 / factor.value, slopes: factor.slopes.iter().map(|slope| by * slope).collect() }
                }),
                FigureKind::Step => steps.as_ref().and_then(|steps| steps.step.clone()).map(|(step, _)| step),
                FigureKind::RateLoss => sum(&Unknown::Fall),
            };
            let Some(found) = found else { continue };
            let share = matches!(
                kind,
                FigureKind::DischargeEfficiency | FigureKind::ChargeEfficiency | FigureKind::Conversion(_)
            );
            let value = if share { found.value.min(1.0) } else { found.value.max(0.0) };
            figures.push(Figure { kind, value });
            slopes.push(found.slopes);
        }
        let m = figures.len();
        let covariance = (0..m * m).map(|k| joint(&slopes[k / m], &slopes[k % m], &self.covariance)).collect();
        ProvedKit {
            title: record.title.clone(),
            rated_capacity: record.unit.rated_capacity,
            inverter: record.unit.inverter,
            defects: record.defects(),
            step_from: steps.and_then(|steps| steps.step).map(|(_, from_w)| Watts(from_w)),
            figures,
            covariance,
        }
    }
}

/// The most that cells hold of their label where nobody has tested them: the upper end of what is assumed of a station.
const MOST_OF_LABEL: f64 = UNPROVED_SHARE.0 + UNPROVED_SHARE.1;

/// Least that a station with its AC outlet on draws for itself \[W\] (common practice, no source: small ones take 2 W and more).
const LEAST_AC_DRAW_W: f64 = 0.5;

/// The most that the cells of a label can hold \[Wh\], where tests put more into them.
pub(super) fn more_than_the_label(cells: &Estimate, label: &Uncertain<WattHours>) -> Option<f64> {
    // The ± of the tests, as a share: one as large as the figure itself excuses nothing.
    let spread = math::hypot(cells.plus_minus() / cells.value, label.plus_minus / label.value.0);
    let most_wh = MOST_OF_LABEL * label.value.0 * (1.0 + spread);
    (cells.value > most_wh).then_some(most_wh)
}

/// Why the figures of a unit cannot be believed, whether a record or an edited file holds them: what was found and what can
/// be, as a problem of the scenario that names them. A simulation must not take them in.
///
/// * `label` — the label by the scenario.
#[must_use]
pub fn unbelievable(kit: &ProvedKit, label: &Uncertain<WattHours>) -> Option<Problem> {
    let refused = |what: &str| Problem::error("station.proved", what);
    let help = "check the meter, the clock and the label, test again, or leave `proved` out";
    let n = kit.figures.len();
    let place = |kind| kit.figures.iter().position(|figure| figure.kind == kind);
    let values: Vec<f64> = kit.figures.iter().map(|figure| figure.value).collect();
    let usable = place(FigureKind::UsableEnergy)?;
    let ac = (place(FigureKind::Draw(OutletKind::Ac)), place(FigureKind::Conversion(OutletKind::Ac)));
    let step = place(FigureKind::Step).zip(kit.step_from);
    if let (Some(draw), Some(conversion)) = ac {
        let drawn = Estimate { value: values[draw], standard: kit.covariance[draw * n + draw].max(0.0).sqrt() };
        if drawn.value <= 0.0 || drawn.high() < LEAST_AC_DRAW_W {
            let what = "leaves the inverter no draw of its own, which cannot be";
            let allowed = format!("above 0 W, {LEAST_AC_DRAW_W} W or more within the ±");
            return Some(
                refused(what).found(format!("{:.4} ± {:.4} W", drawn.value, drawn.plus_minus())).allowed(allowed).help(
                    "the tests most likely differ in how full the unit was: repeat one of them, or leave `proved` out",
                ),
            );
        }
        let inverter_w = kit.inverter.map(|rated| rated.0);
        let (load_w, quadratic) = (bench_load_w(kit.rated_capacity.0, inverter_w), quadratic_per_w(inverter_w));
        let share = propagate(
            |x| {
                let step_w = step.map_or(0.0, |(step, from)| x[step] * (load_w / from.0).min(1.0));
                let for_each = 1.0 / x[conversion] + quadratic * load_w + (x[draw] + step_w) / load_w;
                x[usable] / for_each / kit.rated_capacity.0
            },
            &values,
            &kit.covariance,
        );
        if TOO_GOOD < share.low() {
            return Some(
                refused("proves more than can be believed")
                    .found(format!(
                        "{:.0} ± {:.0} % of the label through the AC outlet",
                        100.0 * share.value,
                        100.0 * share.plus_minus()
                    ))
                    .allowed(format!("up to {:.0} %", 100.0 * TOO_GOOD))
                    .help(help),
            );
        }
    }
    let efficiency = place(FigureKind::DischargeEfficiency);
    let cells = propagate(
        |x| x[usable] / efficiency.map_or(1.0, |efficiency| x[efficiency]),
        &values,
        &kit.covariance[..n * n],
    );
    more_than_the_label(&cells, label).map(|most_wh| {
        refused("proves more cells than the label can hold")
            .found(format!("{:.0} Wh in the cells", cells.value))
            .allowed(format!("up to {most_wh:.0} Wh by the label and the ± of label and tests"))
            .against("station.rated_capacity", "the label")
            .help(help)
    })
}
