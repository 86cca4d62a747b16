//! What the program works out, against what others have published or recorded.
//!
//! `tests/data/README.md` names the sources. Tests that need records say so aloud where none lie beside the project.

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
