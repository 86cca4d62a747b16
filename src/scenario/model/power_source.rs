//! What charges a station beside sun and wall.

use super::ClockWindow;
use crate::units::{Fraction, MetresPerSecond, Uncertain, Watts};

/// A car, running water or the wind.
#[derive(Debug, Clone, PartialEq)]
pub struct PowerSource {
    /// What to call it; no two share a name.
    pub name: String,
    /// What it gives.
    pub gives: Gives,
    /// When, every day; empty: all day.
    pub hours: Vec<ClockWindow>,
    /// Power arriving in the station over what it gives.
    pub efficiency: Fraction,
}

/// What a source gives.
#[derive(Debug, Clone, PartialEq)]
pub enum Gives {
    /// A car while it is driven.
    Car {
        /// Its outlet, or a charger at its alternator.
        watts: Uncertain<Watts>,
        /// Share of the days on which it is driven.
        on_days: Fraction,
    },
    /// Running water.
    Water {
        /// The turbine's mean.
        watts: Uncertain<Watts>,
    },
    /// The wind.
    Wind {
        /// Mean at the height of the blades.
        mean: Uncertain<MetresPerSecond>,
        /// Whether somebody told how sure that is.
        told: bool,
        /// Winds \[m/s\], rising, and the watts there.
        curve: Vec<(f64, f64)>,
    },
}
