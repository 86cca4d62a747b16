//! What a cable costs.

use crate::scenario::model::{Cable, Gauge};

/// American gauges with the resistance of stranded uncoated copper at 75 °C \[ohm per 1000 ft\]: NEC chapter 9,
/// table 8 (18 to 4 AWG, seen second hand).
#[allow(clippy::approx_constant, reason = "14 AWG has 3.14 ohm, which has nothing to do with circles")]
pub const AWG_OHM_PER_KFT: [(u8, f64); 8] =
    [(18, 7.95), (16, 4.99), (14, 3.14), (12, 1.98), (10, 1.24), (8, 0.778), (6, 0.491), (4, 0.308)];

/// Metric cross-sections with the greatest resistance of flexible copper at 20 °C \[ohm/km\]: IEC 60228, class 5
/// (seen second hand).
pub const MM2_OHM_PER_KM: [(f64, f64); 9] = [
    (0.50, 39.0),
    (0.75, 26.0),
    (1.00, 19.5),
    (1.50, 13.3),
    (2.50, 7.98),
    (4.00, 4.95),
    (6.00, 3.30),
    (10.00, 1.91),
    (16.00, 1.21),
];

/// Resistance of copper times cross-section at 20 °C \[ohm mm²/km\] (IEC 60028: 1/58 ohm mm²/m).
const COPPER_OHM_MM2_PER_KM: f64 = 17.241;
/// Flexible wire between the standard sizes is taken to resist this much more than its cross-section says: the worst
/// ratio in IEC 60228's class 5.
const FLEXIBLE_OVER_IDEAL: f64 = 1.1571;
/// Change of copper's resistance with temperature from 20 °C \[1/K\] (IEC 60028).
const COPPER_PER_K: f64 = 0.003_93;
/// Feet in a kilometre.
const FT_PER_KM: f64 = 1000.0 / 0.3048;
/// Temperature of the wires \[°C\]: that of the code's table, on the warm and so on the cautious side.
pub const WIRE_C: f64 = 75.0;

/// Resistance of one wire of a gauge at [`WIRE_C`] \[ohm/km\].
///
/// American gauges by NEC chapter 9, table 8 (a number that is not in it counts as the thinnest). Metric sizes by IEC 60228
/// class 5, taken from 20 °C to 75 °C by `R (1 + 0.00393 (t − 20))`; other sizes by copper's resistivity and the worst
/// ratio of that table.
#[must_use]
pub fn ohm_per_km(gauge: Gauge) -> f64 {
    match gauge {
        Gauge::Awg(number) => {
            let line = AWG_OHM_PER_KFT.iter().find(|(awg, _)| *awg == number).unwrap_or(&AWG_OHM_PER_KFT[0]);
            line.1 * FT_PER_KM / 1000.0
        }
        Gauge::Metric(size) => {
            let at_20_c = MM2_OHM_PER_KM
                .iter()
                .find(|(mm2, _)| *mm2 == size.0)
                .map_or(COPPER_OHM_MM2_PER_KM / size.0 * FLEXIBLE_OVER_IDEAL, |(_, ohm)| *ohm);
            at_20_c * (1.0 + COPPER_PER_K * (WIRE_C - 20.0))
        }
    }
}

/// Resistance there and back \[ohm\].
#[must_use]
pub fn loop_ohm(cable: &Cable) -> f64 {
    2.0 * cable.length.0 / 1000.0 * ohm_per_km(cable.gauge)
}

/// Share of the power that the cable takes, 0 to 1: `I R / V`, the drop over the voltage at the source.
///
/// * `watts` — at the source \[W\]; `volts` — at the source \[V\], above 0.
#[must_use]
pub fn loss_share(cable: &Cable, watts: f64, volts: f64) -> f64 {
    (watts / volts * loop_ohm(cable) / volts).min(1.0)
}

/// The thickest gauges to choose from, thin to thick, in the same system as `like`.
#[must_use]
pub fn gauges_like(like: Gauge) -> Vec<Gauge> {
    match like {
        Gauge::Awg(_) => AWG_OHM_PER_KFT.iter().map(|(awg, _)| Gauge::Awg(*awg)).collect(),
        Gauge::Metric(_) => {
            MM2_OHM_PER_KM.iter().map(|(mm2, _)| Gauge::Metric(crate::units::SquareMillimetres(*mm2))).collect()
        }
    }
}

/// A gauge as people write it: `12 AWG`, `4 mm²`.
#[must_use]
pub fn gauge_name(gauge: Gauge) -> String {
    match gauge {
        Gauge::Awg(number) => format!("{number} AWG"),
        Gauge::Metric(size) => size.to_string(),
    }
}
