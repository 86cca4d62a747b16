//! Checks of the proof. Values of numpy, scipy and pvlib come from tests/reference/prove_reference.py.

use super::*;
use crate::scenario::Source;
use crate::scenario::record;

mod by_hand;
mod coverage;
mod estimates;
mod kits;
mod panels;
mod parts_and_steps;
mod plans;
mod published;
mod simulated;
mod verdicts;

/// A record from its text, without logs.
#[track_caller]
fn read(text: &str) -> Record {
    let source = Source::new("test.toml", text);
    match record::read(&source, &|_| Err("no logs here".into())) {
        Ok((record, _, _)) => record,
        Err(problems) => panic!("{}", problems.iter().map(|p| source.one_line(p)).collect::<Vec<_>>().join("\n")),
    }
}

#[track_caller]
fn proved(text: &str) -> Proof {
    prove(&read(text)).unwrap_or_else(|error| panic!("{error}"))
}

#[track_caller]
fn near(got: f64, expected: f64, tolerance: f64) {
    assert!((got - expected).abs() <= tolerance, "{got}, expected {expected} within {tolerance}");
}
