//! Answers as JSON: our own stable schema, apart from the engine's types. Keys are snake_case with the unit at the end. Where
//! something is said in words, the words stand under `text`, beside a `kind` and its numbers.

use serde::Serialize;

use crate::study::compare::Pair;
use crate::trials::unknowns::Survival;

/// Version of the schema: raised when a key changes its meaning or goes.
pub const SCHEMA_VERSION: u32 = 2;

/// An answer with what it is.
#[derive(Debug, Serialize)]
struct Answer<'a, T> {
    kind: &'a str,
    schema_version: u32,
    /// Of the program.
    version: &'a str,
    #[serde(flatten)]
    body: &'a T,
}

/// Any answer as indented JSON with a line end.
///
/// * `kind` — which question it answers.
#[must_use]
pub fn text(kind: &str, body: &impl Serialize) -> String {
    let answer = Answer { kind, schema_version: SCHEMA_VERSION, version: env!("CARGO_PKG_VERSION"), body };
    serde_json::to_string_pretty(&answer).unwrap_or_default() + "\n"
}

/// A probability with its intervals.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Share {
    /// Share of the trials, 0 to 1.
    pub probability: f64,
    /// Lower end of the 95 % interval that counts chance and what is not known.
    pub low: f64,
    /// Upper end of the same.
    pub high: f64,
    /// Lower end of the 95 % Wilson interval for chance alone.
    pub chance_low: f64,
    /// Upper end of the same.
    pub chance_high: f64,
    /// Whether the first interval holds chance alone though something is not known.
    pub chance_alone: bool,
    /// Trials.
    pub trials: u64,
}

impl Share {
    /// For the schema.
    #[must_use]
    pub fn of(survival: &Survival) -> Share {
        Share {
            probability: survival.probability,
            low: survival.interval.low,
            high: survival.interval.high,
            chance_low: survival.chance.low,
            chance_high: survival.chance.high,
            chance_alone: survival.chance_alone,
            trials: survival.trials,
        }
    }
}

/// A difference of survival on the same weather and draws for loads.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Difference {
    /// Survival of the second less that of the first, -1 to 1.
    pub difference: f64,
    /// Lower end of its 95 % interval.
    pub difference_low: f64,
    /// Upper end of the same.
    pub difference_high: f64,
    /// Trials that only the second survived.
    pub rescued: u64,
    /// Trials that only the first survived.
    pub lost: u64,
    /// Whether the interval lies on one side of 0.
    pub told_apart: bool,
    /// Trials that were compared.
    pub trials: u64,
}

impl Difference {
    /// For the schema.
    #[must_use]
    pub fn of(pair: &Pair) -> Difference {
        Difference {
            difference: pair.difference,
            difference_low: pair.interval.low,
            difference_high: pair.interval.high,
            rescued: pair.only_second,
            lost: pair.only_first,
            told_apart: pair.resolved(),
            trials: pair.trials,
        }
    }
}
