//! How batteries wear: counting cycles, cycle wear, calendar wear.
//!
//! Wear is kept as additive damage, so that any order of rests and cycles can be followed as it comes: a law
//! `loss = k tᵖ` under constant conditions becomes `loss = (Σ k^(1/p) Δt)ᵖ` under changing ones (each stretch goes on
//! from the loss reached so far at its own rate). With one kind of stress it is the published law exactly.
//!
//! Nothing here knows of outages, weather or files.

use crate::math;

pub mod lfp;
pub mod model;
pub mod nmc;
pub mod rainflow;
pub mod trade;
pub mod wear;

pub use model::Model;
pub use rainflow::{Cycle, Rainflow};
pub use wear::{Moved, Surroundings, Wear, WearTables};

/// Molar gas constant as the papers cited here use it \[J/(mol K)\].
pub const GAS_CONSTANT: f64 = 8.314;

/// Reference temperature of the calendar laws, 25 °C \[K\].
pub const REFERENCE_K: f64 = 298.15;

/// How much faster a thermally activated process runs than at 25 °C \[–\].
///
/// * `activation_j_mol` — activation energy E \[J/mol\]; `kelvin` — temperature T, above 0 \[K\].
///
/// Arrhenius: exp(−E/R (1/T − 1/298.15)).
///
/// ```
/// // 52.95 kJ/mol is the activation energy of "twice as fast every 10 °C" from 25 °C on.
/// assert!((tideover::ageing::arrhenius(52_950.0, 308.15) - 2.0).abs() < 2e-4);
/// ```
#[must_use]
pub fn arrhenius(activation_j_mol: f64, kelvin: f64) -> f64 {
    math::exp(-activation_j_mol / GAS_CONSTANT * (1.0 / kelvin - 1.0 / REFERENCE_K))
}
