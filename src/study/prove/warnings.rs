//! What widens or weakens a proof, and what contradicts itself in it.

use super::fit::{self, Fit};
use super::uncertainty::Estimate;
use super::unknowns::{self, Unknown};
use super::{Charged, Delivered, no_draw};
use crate::math;
use crate::scenario::model::OutletKind;
use crate::scenario::problem::Problem;
use crate::scenario::record::Record;
use crate::scenario::record::model::{CapacityTest, Metered};
use crate::units::{Celsius, Watts};

/// Test temperatures outside of these read low or wear the unit (common practice).
const AMBIENT: (Celsius, Celsius) = (Celsius(10.0), Celsius(35.0));
/// A test over less than this share of the charge says little.
const SMALL_SHARE: f64 = 0.5;
/// A load of less than this share of the bench load, and no larger one beside it, under-reads.
const SMALL_LOAD: f64 = 0.5;
/// The least that comes out at the AC outlet of what goes in at the wall: no unit of lithium cells falls short of it under the bench load
/// (lead-acid neither by much). No source.
const LEAST_ROUND_TRIP: f64 = 0.5;

/// The most that comes out at the AC outlet of what goes in at the wall: charger, cells and converter at their typical best, and the least
/// typical draw beside the bench load.
fn most_round_trip(record: &Record, bench_load_w: f64) -> f64 {
    let ends = |unknown| {
        let (mean, half) = unknowns::typical(&unknown, record).unwrap_or((1.0, 0.0));
        (mean - half, mean + half)
    };
    let (factor, draw_w) = (ends(Unknown::Factor(OutletKind::Ac)).0, ends(Unknown::Draw(OutletKind::Ac)).0);
    let best = |unknown| ends(unknown).1.min(1.0);
    let cells = best(Unknown::Discharge) * best(Unknown::Charge);
    best(Unknown::Wall) * cells / (factor.max(1.0) + draw_w.max(0.0) / bench_load_w)
}

/// Holds what came out against what went in: counters at the wall and at the outlet say the same twice. By the runs' own figures, for
/// the fit gives way to a contradiction.
pub(super) fn round_trips(record: &Record, fit: &Fit, delivered: &[Delivered], charged: &[Charged]) -> Vec<Problem> {
    let large = |test: &&Delivered| test.outlet == OutletKind::Ac && SMALL_LOAD * fit.bench_load_w() <= test.load_w;
    let Some(out) = delivered.iter().find(large) else { return Vec::new() };
    let most = most_round_trip(record, fit.bench_load_w());
    let beyond = |(k, charge): (usize, &Charged)| {
        let value = out.full.value / charge.full.value;
        let relative = math::hypot(out.full.standard / out.full.value, charge.full.standard / charge.full.value);
        let trip = Estimate { value, standard: value * relative };
        (most < trip.low() || trip.high() < LEAST_ROUND_TRIP).then(|| {
            Problem::warning(format!("wall.{k}"), "and the discharges contradict each other")
                .found(format!(
                    "{:.0} ± {:.0} % of what went in at the wall came out at the AC outlet in {}",
                    100.0 * trip.value,
                    100.0 * trip.plus_minus(),
                    out.name
                ))
                .allowed(format!("{:.0} to {:.0} %", 100.0 * LEAST_ROUND_TRIP, 100.0 * most))
                .help(
                    "look at the wall meter and at the outlet's, at the units that they count in, and at the charge at start and \
                     stop of both runs",
                )
                .against("capacity", "what came out")
        })
    };
    charged.iter().enumerate().filter_map(beyond).collect()
}

const RAN_EMPTY: &str = "ran empty some time before anybody looked; it tells only the least that the unit draws";
const SHORTER_NIGHT: &str = "charge it and leave it for a shorter time, so that some charge is left";

/// Warnings with the keys of the tests that they hang on.
pub(super) fn warnings(record: &Record, fit: Option<&Fit>) -> Vec<Problem> {
    let mut warnings = Vec::new();
    let runs = record.capacities.iter().map(|test| &test.run).chain(record.walls.iter().map(|test| &test.run));
    let keys = (0..record.capacities.len())
        .map(|k| format!("capacity.{k}"))
        .chain((0..record.walls.len()).map(|k| format!("wall.{k}")));
    for (key, run) in keys.zip(runs) {
        if let Some(ambient) = run.ambient.filter(|t| *t < AMBIENT.0 || AMBIENT.1 < *t) {
            warnings.push(
                Problem::warning(format!("{key}.ambient"), "is outside of what cells like; they give less in the cold")
                    .found(ambient.to_string())
                    .allowed(format!("{} to {} for a fair test", AMBIENT.0, AMBIENT.1)),
            );
        }
        let share = (run.charge.0.value.0 - run.charge.1.value.0).abs();
        // A night with nothing plugged in is meant to be so, and so the plan has it.
        let idle = matches!(run.metered, Metered::Steady(Watts(watts)) if watts <= 0.0);
        if share < SMALL_SHARE && !idle {
            warnings.push(
                Problem::warning(
                    format!("{key}.to"),
                    "leaves a small part of the charge tested; the interval is wide for it",
                )
                .found(format!("{:.0} % of the charge", share * 100.0))
                .help("displays are rough in between: run from full until the unit switches itself off"),
            );
        }
    }
    let Some(fit) = fit else {
        let left = |test: &CapacityTest| test.run.charge.1.value.0 <= 0.0;
        let empty = record.capacities.iter().enumerate().filter(|(_, test)| left(test));
        warnings.extend(empty.map(|(k, test)| {
            Problem::warning(format!("capacity.{k}.to"), RAN_EMPTY)
                .found(format!("empty within {:.1} h", test.run.lasted.0))
                .help(SHORTER_NIGHT)
        }));
        return warnings;
    };
    warnings.extend(fit.ran_empty.iter().map(|night| {
        let (key, least_w) = (format!("capacity.{}.to", night.place), night.least_w(fit));
        let warning = Problem::warning(key, RAN_EMPTY)
            .found(format!("empty within {:.1} h, so {least_w:.0} W or more", night.hours))
            .help(SHORTER_NIGHT);
        match fit.get(&Unknown::Draw(night.outlet)).filter(|draw| draw.high() < least_w) {
            Some(draw) => {
                warning.allowed(format!("up to {:.0} W by the other tests, which contradict it", draw.high()))
            }
            None => warning,
        }
    }));
    warnings.extend(fit.used.iter().flat_map(|used| used.energy.warnings.iter().cloned()));
    // A small load beside a large one is what tells the inverter's draw.
    let small = SMALL_LOAD * fit.bench_load_w();
    let at_ac = |used: &fit::Used| used.outlet == Some(OutletKind::Ac);
    let large_too = fit.used.iter().any(|used| at_ac(used) && small <= used.energy.mean_w());
    for used in &fit.used {
        let (k, load) = (used.place, used.energy.mean_w());
        if !large_too && at_ac(used) && !used.idle(fit.bench_load_w()) && load < small {
            warnings.push(
                Problem::warning(format!("capacity.{k}"), "was run at a small load, which under-reads by itself")
                    .found(format!("{load:.0} W"))
                    .allowed(format!("from {small:.0} W, about {:.0} W at best", fit.bench_load_w()))
                    .help(
                        "over many hours the inverter's own draw eats much; the verdict allows for it, less surely. A second \
                         run at that load makes both worth more",
                    ),
            );
        }
    }
    if let Some(factor) = fit.widened {
        warnings.push(
            Problem::warning(
                "capacity",
                "holds tests that contradict each other; what they measured is widened for it",
            )
            .found(format!("{factor:.1} times what the meters allow"))
            .help("look for a wrong time, a wrong load or a unit that was not full"),
        );
    }
    if fit.untypical {
        warnings.push(
            Problem::warning("capacity", "holds tests that agree with each other and not with a typical unit")
                .found("draw, conversion or efficiency far from typical figures")
                .help(
                    "those figures count for less then; look whether a time, a load or a charge is wrong all the same",
                ),
        );
    }
    if let Some(draw_w) = no_draw(fit) {
        warnings.push(
            Problem::warning("capacity", "leaves the inverter less than no draw, which cannot be")
                .found(format!("{draw_w:.1} W"))
                .help("the tests most likely differ in how full the unit was"),
        );
    }
    warnings
}
