//! The built program as a person meets it, and what it promises of its words and files.
//!
//! A tolerance of 1e-9 or less without a reason beside it is room for rounding: both sides are worked out in double precision,
//! where a rounding is 1e-16 of a number, from at most some thousand sums and products of numbers of up to some thousand.

// What tests work out beside the program need not have the same bits everywhere.
#![allow(clippy::disallowed_methods)]

#[macro_use]
#[path = "../common/mod.rs"]
mod common;
mod exact;
mod program;

mod abuse;
mod alike;
mod answer_schema;
mod answers;
mod beyond;
mod cli;
mod decide;
mod figures;
mod first;
mod first_cautions;
mod first_times;
mod first_words;
mod lineup;
mod lineup_wiring;
mod lineup_words;
mod manual;
mod now;
mod now_ways;
mod outputs;
mod owed;
mod page;
mod pages;
mod place;
mod plain_meaning;
mod prove;
mod prove_bench;
mod prove_cautions;
mod prove_kit;
mod readme;
mod runs;
mod schema;
mod screens;
mod supply;
mod verdicts;
mod words;
mod wrong;
mod years;
