//! Climate statistics, stochastic weather and replay of records.

pub mod climate;
pub mod world;
