//! The scenario file: reading, validation, messages.
//!
//! ```
//! use tideover::scenario::{Paint, Source, read, render};
//! let source = Source::new("mine.toml", "[station]\nrated_capacity = 600\n");
//! let problems = read(&source).unwrap_err();
//! assert!(render(&source, &problems, Paint::Plain).contains("write \"600 Wh\""));
//! ```
//!
//! What a file may say and leave out, and what is assumed then, stands in [`schema`]: one table for the reader, the manual and
//! the JSON Schema.

pub mod appliances;
pub mod catalogue;
pub mod model;
pub mod problem;
pub mod record;
pub mod source;
pub mod years;

mod age;
mod amount;
mod as_written;
mod charger;
mod checks;
mod clock;
mod composed;
mod cooler;
mod cuts;
mod fields;
pub mod first;
mod forms;
mod kinds;
mod light;
mod load;
mod nearest;
pub(crate) mod outage;
pub(crate) mod outlets;
mod panel;
mod ports;
mod power_source;
mod read;
mod render;
pub mod schema;
mod seen;
mod site;
pub(crate) mod size;
mod station;
mod syntax;
mod taken;
pub mod variant;
mod whereabouts;
mod wire;

pub(crate) use as_written::{COUNT_WORDS, ORDINAL_WORDS};
pub use as_written::{Moment, length, litres, moment, position};
pub use model::Scenario;
pub use problem::{Level, Problem};
pub use read::read;
pub use render::{Paint, render};
pub use source::{Places, Source};
pub use whereabouts::site_lines;

#[cfg(test)]
mod tests;
