//! Published wear of graphite / lithium nickel manganese cobalt oxide cells.
//!
//! Schmalstieg, Käbitz, Ecker & Sauer 2014, J. Power Sources 257:325 (one kind of 2.05 Ah cell). The constants are from
//! memory of the paper; several public codes that carry the law have the same ones (one of them 7.542 for 7.543). The paper takes
//! the quadratic mean of a cycle's voltage, this code the voltage at its mean charge: a few millivolts less in shallow cycles. One
//! kind of cell in one laboratory: treat the result as the right order of magnitude.

use crate::math;

/// Charge that the cell of the tests holds \[Ah\].
pub const CELL_AH: f64 = 2.05;
/// Exponent of time in days of the calendar law.
pub const CALENDAR_EXPONENT: f64 = 0.75;
/// Activation temperature of the calendar law \[K\].
pub const ACTIVATION_K: f64 = 6976.0;

/// Resting voltage of a cell by state of charge, 0 to 1 in tenths \[V\]. Typical of the kind; no source.
const RESTING_VOLTS: [f64; 11] = [3.30, 3.48, 3.55, 3.60, 3.64, 3.69, 3.78, 3.88, 3.97, 4.06, 4.18];

/// Resting voltage of a cell \[V\], straight between tenths of charge.
///
/// * `charge` — 0 to 1; beyond that the end value.
#[must_use]
pub fn resting_volts(charge: f64) -> f64 {
    let x = charge.clamp(0.0, 1.0) * 10.0;
    let k = (x as usize).min(9);
    RESTING_VOLTS[k] + (x - k as f64) * (RESTING_VOLTS[k + 1] - RESTING_VOLTS[k])
}

/// α: loss over (days at rest)^0.75 \[–\], (7.543 V − 23.75) 10⁶ exp(−6976/T).
///
/// * `volts` — cell voltage; `kelvin` — temperature. The tests: 50 °C at all charges, 35 to 65 °C at half charge.
#[must_use]
pub fn calendar_loss_per_day(volts: f64, kelvin: f64) -> f64 {
    ((7.543 * volts - 23.75) * 1e6 * math::exp(-ACTIVATION_K / kelvin)).max(0.0)
}

/// β: loss over √(Ah moved by the 2.05 Ah cell, charge and discharge both) \[–\],
/// 7.348·10⁻³ (V − 3.667)² + 7.600·10⁻⁴ + 4.081·10⁻³ d.
///
/// * `mean_volts` — mean voltage of the cycle; `depth` — 0 to 1. The tests: 35 °C, 1 C; temperature and rate are not in
///   the law.
#[must_use]
pub fn cycle_loss_per_root_ah(mean_volts: f64, depth: f64) -> f64 {
    let x = mean_volts - 3.667;
    7.348e-3 * x * x + 7.600e-4 + 4.081e-3 * depth
}
