//! The engine, its trials and the decisions made of them, from outside.

#[path = "../common/mod.rs"]
mod common;

mod cautious;
mod demos;
mod kit_rules;
mod open;
mod outages_with_coolers;
mod random_kits;
mod side_by_side;
mod study;
mod tables;
