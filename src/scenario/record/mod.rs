//! The test record: what an owner measured on a unit, as a file.
//!
//! Read like a scenario, with every problem at its place. Logs beside the record come through a function that the
//! caller gives, so that nothing here touches files.

pub mod dates;
pub mod kit_file;
pub mod log;
pub mod model;

mod agree;
pub(super) mod arrival;
mod read;
pub(super) mod run;
pub(super) mod solar;
pub(super) mod times;

pub use kit_file::{Figure, FigureKind, ProvedKit};
pub use model::Record;
pub use read::read;

#[cfg(test)]
mod tests;
