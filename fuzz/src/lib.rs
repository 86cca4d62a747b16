//! What the targets drive.

#[path = "../../tests/hostile/mod.rs"]
mod hostile;

pub use hostile::*;
