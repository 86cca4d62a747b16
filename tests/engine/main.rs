//! The engine, its trials and the decisions made of them, from outside.
//!
//! A tolerance of 1e-9 or less without a reason beside it is room for rounding: both sides are worked out in double precision,
//! where a rounding is 1e-16 of a number, from at most some thousand sums and products of numbers of up to some thousand.

// What tests work out beside the program need not have the same bits everywhere.
#![allow(clippy::disallowed_methods)]

#[macro_use]
#[path = "../common/mod.rs"]
mod common;

mod by_hand;
mod cautious;
mod cuts_in_years;
mod cuts_that_vary;
mod daily_cuts;
mod demos;
mod fed_directly;
mod found;
mod fuel_that_ends;
mod golden;
mod house;
mod kit_rules;
mod laws;
mod long;
mod looked_on;
mod open;
mod outages_with_coolers;
mod outlets_that_go_off;
mod random_kits;
mod ranges;
mod rooms_that_cool;
mod second_station;
mod seen;
mod side_by_side;
mod simple_controller;
mod solar_inputs;
mod sources;
mod steps_agree;
mod study;
mod tables;
mod years_by_hand;

use tideover::engine::{LoadOutcome, Observer, Outcome, Plan, TrialSeed, Workspace};

/// What tests follow where any trial would do.
const FIRST: TrialSeed = TrialSeed { seed: 1, trial: 0 };

/// One trial of a plan, and what became of its loads.
fn one_trial(plan: &Plan, rng: TrialSeed, observer: &mut impl Observer) -> (Outcome, Vec<LoadOutcome>) {
    let mut workspace = Workspace::new();
    let history = workspace.begin(&plan.season, rng);
    let outcome = workspace.run(plan, rng, &history, observer);
    (outcome, workspace.loads().to_vec())
}
