//! What widens or weakens a proof, and what contradicts itself in it.

use serde::Serialize;

use super::fit::{self, Fit};
use super::uncertainty::Estimate;
use super::unknowns::{self, Unknown};
use super::{Charged, Delivered, Proof, no_draw};
use crate::math;
use crate::scenario::model::OutletKind;
use crate::scenario::record::Record;
use crate::scenario::record::model::{CapacityTest, Metered};
use crate::units::{Celsius, Watts};

/// What weakens a proof. Shares go from 0 to 1.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[allow(missing_docs, reason = "units at the ends of the names")]
pub enum Weakness {
    /// A test in air that cells do not like.
    Ambient { ambient_c: f64, from_c: f64, to_c: f64 },
    /// A test of a small part of the charge.
    SmallPart { share: f64 },
    /// A night that found the unit empty: what it draws at least, and at most by the other tests where they contradict it.
    RanEmpty { within_h: f64, least_w: Option<f64>, most_w: Option<f64> },
    /// One reading for a whole run.
    OneReading { watts: f64, plus_minus_share: f64 },
    /// A gap in a log.
    Gap { gap_h: f64, plus_minus_share: f64 },
    /// A load that under-reads.
    SmallLoad { load_w: f64, least_w: f64, best_w: f64 },
    /// Tests that contradict each other, by how many times what the meters allow.
    Contradiction { factor: f64 },
    /// Tests that agree with each other and not with a typical unit.
    Untypical,
    /// An inverter that is left less than no draw.
    NoDraw { draw_w: f64 },
    /// More or less came out in a test than can have gone in.
    RoundTrip { test: String, share: f64, plus_minus_share: f64, least_share: f64, most_share: f64 },
}

/// A weakness and the test that it hangs on.
#[derive(Debug, Clone, PartialEq)]
pub struct Warning {
    /// Dotted path of the test's key.
    pub key: String,
    /// What it is.
    pub of: Weakness,
}

impl Warning {
    pub(super) fn new(key: impl Into<String>, of: Weakness) -> Warning {
        Warning { key: key.into(), of }
    }
}

/// Test temperatures outside of these read low or wear the unit (common practice).
const AMBIENT: (Celsius, Celsius) = (Celsius(10.0), Celsius(35.0));
/// A test over less than this share of the charge says little.
const SMALL_SHARE: f64 = 0.5;
/// A load of less than this share of the bench load, and no larger one beside it, under-reads.
const SMALL_LOAD: f64 = 0.5;
/// A load of more than so many times the bench load is another one too: an inverter loses more under it. No source.
const LARGE_LOAD: f64 = 2.0;

impl Proof {
    /// Whether a discharge can be held against what healthy units give: at the AC outlet, under about the bench load.
    #[must_use]
    pub fn like_the_bench_load(&self, test: &Delivered) -> bool {
        let bench_w = self.fit.as_ref().map_or(f64::INFINITY, Fit::bench_load_w);
        test.outlet == OutletKind::Ac && (SMALL_LOAD * bench_w..=LARGE_LOAD * bench_w).contains(&test.load_w)
    }
}

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
pub(super) fn round_trips(record: &Record, fit: &Fit, delivered: &[Delivered], charged: &[Charged]) -> Vec<Warning> {
    let large = |test: &&Delivered| test.outlet == OutletKind::Ac && SMALL_LOAD * fit.bench_load_w() <= test.load_w;
    let Some(out) = delivered.iter().find(large) else { return Vec::new() };
    let most = most_round_trip(record, fit.bench_load_w());
    let beyond = |(k, charge): (usize, &Charged)| {
        let value = out.full.value / charge.full.value;
        let relative = math::hypot(out.full.standard / out.full.value, charge.full.standard / charge.full.value);
        let trip = Estimate { value, standard: value * relative };
        (most < trip.low() || trip.high() < LEAST_ROUND_TRIP).then(|| {
            let trip = Weakness::RoundTrip {
                test: out.name.clone(),
                share: trip.value,
                plus_minus_share: trip.plus_minus(),
                least_share: LEAST_ROUND_TRIP,
                most_share: most,
            };
            Warning::new(format!("wall.{k}"), trip)
        })
    };
    charged.iter().enumerate().filter_map(beyond).collect()
}

/// Warnings with the keys of the tests that they hang on.
pub(super) fn warnings(record: &Record, fit: Option<&Fit>) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let runs = record.capacities.iter().map(|test| &test.run).chain(record.walls.iter().map(|test| &test.run));
    let keys = (0..record.capacities.len())
        .map(|k| format!("capacity.{k}"))
        .chain((0..record.walls.len()).map(|k| format!("wall.{k}")));
    for (key, run) in keys.zip(runs) {
        if let Some(ambient) = run.ambient.filter(|t| *t < AMBIENT.0 || AMBIENT.1 < *t) {
            let ambient = Weakness::Ambient { ambient_c: ambient.0, from_c: AMBIENT.0.0, to_c: AMBIENT.1.0 };
            warnings.push(Warning::new(format!("{key}.ambient"), ambient));
        }
        let share = (run.charge.0.value.0 - run.charge.1.value.0).abs();
        // A night with nothing plugged in is meant to be so, and so the plan has it.
        let idle = matches!(run.metered, Metered::Steady(Watts(watts)) if watts <= 0.0);
        if share < SMALL_SHARE && !idle {
            warnings.push(Warning::new(format!("{key}.to"), Weakness::SmallPart { share }));
        }
    }
    let Some(fit) = fit else {
        let left = |test: &CapacityTest| test.run.charge.1.value.0 <= 0.0;
        let empty = record.capacities.iter().enumerate().filter(|(_, test)| left(test));
        warnings.extend(empty.map(|(k, test)| {
            let empty = Weakness::RanEmpty { within_h: test.run.lasted.0, least_w: None, most_w: None };
            Warning::new(format!("capacity.{k}.to"), empty)
        }));
        return warnings;
    };
    warnings.extend(fit.ran_empty.iter().map(|night| {
        let least_w = night.least_w(fit);
        let others = fit.get(&Unknown::Draw(night.outlet)).filter(|draw| draw.high() < least_w);
        let most_w = others.map(|draw| draw.high());
        let empty = Weakness::RanEmpty { within_h: night.hours, least_w: Some(least_w), most_w };
        Warning::new(format!("capacity.{}.to", night.place), empty)
    }));
    warnings.extend(fit.used.iter().flat_map(|used| used.energy.warnings.iter().cloned()));
    // A small load beside a large one is what tells the inverter's draw.
    let small = SMALL_LOAD * fit.bench_load_w();
    let at_ac = |used: &fit::Used| used.outlet == Some(OutletKind::Ac);
    let large_too = fit.used.iter().any(|used| at_ac(used) && small <= used.energy.mean_w());
    for used in &fit.used {
        let (k, load) = (used.place, used.energy.mean_w());
        if !large_too && at_ac(used) && !used.idle(fit.bench_load_w()) && load < small {
            let small_load = Weakness::SmallLoad { load_w: load, least_w: small, best_w: fit.bench_load_w() };
            warnings.push(Warning::new(format!("capacity.{k}"), small_load));
        }
    }
    let of_all = [
        fit.widened.map(|factor| Weakness::Contradiction { factor }),
        fit.untypical.then_some(Weakness::Untypical),
        no_draw(fit).map(|draw_w| Weakness::NoDraw { draw_w }),
    ];
    warnings.extend(of_all.into_iter().flatten().map(|of| Warning::new("capacity", of)));
    warnings
}
