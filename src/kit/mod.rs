//! The kit as physics: cells, converters, panels and their electrical fit.
//!
//! Conventions: energy is counted in the cells (DC watt-hours); "the bus" is the point between cells, solar input and
//! outlets' converters; power is positive.

pub mod battery;
pub mod cable;
pub mod capacity;
pub mod electrical;
pub mod inverter;
pub mod judgement;
pub mod matter;

pub use battery::{Fitness, FitnessTable};
pub use capacity::cells_from_bench_test;
pub use inverter::{CurveError, LossCurve};
pub use judgement::{Judgement, Weight};
pub use matter::Matter;
