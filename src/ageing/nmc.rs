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

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand, between tenths: 3.60 + 0.7 (3.64 - 3.60) at 37 %, 4.06 + 0.4 (4.18 - 4.06) at 94 %. A cell of the kind stands at about
    /// 4.2 V when full and at 3.6 to 3.7 V half full (common practice, no source), and rises all the way.
    #[test]
    fn a_resting_voltage_lies_straight_between_tenths_of_charge() {
        for (charge, volts) in [(0.37, 3.628), (0.05, 3.39), (0.5, 3.69), (0.94, 4.108), (0.9, 4.06)] {
            assert!((resting_volts(charge) - volts).abs() < 1e-12, "{} at {charge}", resting_volts(charge));
        }
        assert!((resting_volts(1.0) - 4.2).abs() < 0.05 && (3.6..3.7).contains(&resting_volts(0.5)));
        assert_eq!((resting_volts(-0.3), resting_volts(1.3)), (resting_volts(0.0), resting_volts(1.0)));
        let points: Vec<f64> = (0..=200).map(|k| resting_volts(f64::from(k) / 200.0)).collect();
        assert!(points.windows(2).all(|pair| pair[0] < pair[1]));
    }

    /// The paper's equations (Schmalstieg et al. 2014, constants from memory), worked out beside the program: (7.543 · 3.69 - 23.75) 10⁶
    /// exp(-6976 / 298.15), the same at 4.06 V and 45 °C, and 7.348·10⁻³ · 0.233² + 7.600·10⁻⁴ + 4.081·10⁻³ · 0.6. Below
    /// 23.75 / 7.543 = 3.149 V nothing is lost at rest.
    #[test]
    fn the_laws_give_their_worked_values() {
        for (volts, kelvin, loss) in [(3.69, 298.15, 2.815_749e-4), (4.06, 318.15, 2.063_353e-3), (3.1, 298.15, 0.0)] {
            let found = calendar_loss_per_day(volts, kelvin);
            assert!((found - loss).abs() <= 1e-6 * loss, "{found} for {loss}");
        }
        for (volts, depth, loss) in [(3.9, 0.6, 3.607_516e-3), (3.5, 0.25, 1.985_178e-3)] {
            let found = cycle_loss_per_root_ah(volts, depth);
            assert!((found - loss).abs() < 1e-9, "{found} for {loss}");
        }
    }
}
