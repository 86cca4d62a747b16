//! The scenario file: reading, validation, messages.

pub mod model;
