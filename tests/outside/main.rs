//! What the program works out, against what others have published or recorded.
//!
//! `tests/data/README.md` names the sources. Tests that need records say so aloud where none lie beside the project.
//!
//! A tolerance of 1e-9 or less without a reason beside it is room for rounding: both sides are worked out in double precision,
//! where a rounding is 1e-16 of a number, from at most some thousand sums and products of numbers of up to some thousand.

// What tests work out beside the program need not have the same bits everywhere.
#![allow(clippy::disallowed_methods)]

#[macro_use]
#[path = "../common/mod.rs"]
mod common;
mod records;
mod values;

mod ageing;
mod coolers;
mod exact_chain;
mod physics;
mod published_kit;
mod published_sky;
mod published_weather;
mod sound_records;
mod through_run;
mod warmth;
mod weather_evidence;
mod world_table;
