//! What to test, and with what.

use super::fit::{BENCH_LOAD_PER_WH, bench_load_w};
use super::unknowns::OWN_DRAW_W;
use super::{HEALTHY, healthy};
use crate::scenario::model::Chemistry;
use crate::scenario::outlets::IDLE_SHARE;

/// Draw of a healthy unit's inverter and electronics that the examples reckon with \[W\]: 3 W and, as a scenario takes it where
/// nothing is said, 1.5 % of an inverter of as many watts as the label has watt-hours, 5 to 15 W. Typical, no source. It lies below the
/// middle of what is taken of a unit before its tests, which may be a wasteful one.
pub(super) fn draw_w(rated_wh: f64) -> f64 {
    (OWN_DRAW_W + IDLE_SHARE * rated_wh).clamp(5.0, 15.0)
}

/// Bus energy for each watt-hour at the outlet in the examples. Typical, no source.
const FACTOR: f64 = 1.07;
/// Energy at the bus over the label in the examples. Typical, no source.
const USABLE: f64 = 0.94;

/// A proposed test.
#[derive(Debug, Clone, PartialEq)]
pub struct TestPlan {
    /// Energy on the label \[Wh\].
    pub rated_wh: f64,
    /// Kind of cells.
    pub chemistry: Chemistry,
    /// The load to use \[W\].
    pub load_w: f64,
    /// What it could be made of.
    pub load_from: String,
    /// Hours that a healthy unit runs it.
    pub hours: (f64, f64),
    /// A second load, to tell the inverter's draw from the cells \[W\].
    pub second_load_w: f64,
    /// Hours that a healthy unit runs that.
    pub second_hours: (f64, f64),
    /// A load much too small, as an example \[W\].
    pub small_load_w: f64,
    /// What the small load would get out of a unit of which the proposed one gets `typical_share`, as shares of the label.
    pub small_share: f64,
    /// What the proposed load gets out of the same unit.
    pub typical_share: f64,
    /// What a healthy unit's inverter draws with nothing plugged in \[W\].
    pub draw_w: f64,
    /// How long to leave it with nothing plugged in, so that no healthy unit runs empty \[h\].
    pub night_h: f64,
    /// Whether the inverter is too small for a fifth of the label in watts.
    pub limited: bool,
    /// How often to note the watts without a logger \[min\].
    pub every_min: f64,
}

/// Proposes the tests for a label.
///
/// * `rated_wh` — above 0; `inverter_w` — its power for long, where it is known.
#[must_use]
pub fn plan(rated_wh: f64, chemistry: Chemistry, inverter_w: Option<f64>) -> TestPlan {
    let most_w = bench_load_w(rated_wh, inverter_w);
    let load_w = hand_below(most_w, inverter_w);
    let second_load_w = hand_below(0.4 * most_w, inverter_w);
    let small_load_w = hand_below(0.08 * most_w, inverter_w);
    let hours = |load: f64, share: (f64, f64)| (share.0 * rated_wh / load, share.1 * rated_wh / load);
    let band = healthy(rated_wh, chemistry);
    // The most that is typical must not empty it.
    let most_draw_w = 1.8 * (OWN_DRAW_W + (0.02 * inverter_w.unwrap_or(rated_wh)).max(5.0));
    let left_wh = 0.9 * rated_wh * if chemistry == Chemistry::LeadAcid { 0.8 } else { 1.0 };
    // A smaller load gets less out of the same unit.
    let less = share(rated_wh, second_load_w) / share(rated_wh, load_w);
    TestPlan {
        rated_wh,
        chemistry,
        load_w,
        load_from: load_from(load_w),
        hours: hours(load_w, band),
        second_load_w,
        second_hours: hours(second_load_w, (band.0 * less, band.1 * less)),
        small_load_w,
        small_share: share(rated_wh, small_load_w),
        typical_share: share(rated_wh, load_w),
        draw_w: draw_w(rated_wh),
        night_h: (left_wh / most_draw_w).floor().clamp(1.0, NIGHT_H),
        limited: inverter_w.is_some_and(|rated| 0.8 * rated < BENCH_LOAD_PER_WH * rated_wh),
        every_min: if HEALTHY.0 * rated_wh / load_w < 2.0 { 10.0 } else { 30.0 },
    }
}

/// A night \[h\].
const NIGHT_H: f64 = 12.0;

/// A load for a hand, within 80 % of the inverter's power.
fn hand_below(watts: f64, inverter_w: Option<f64>) -> f64 {
    let most_w = inverter_w.map_or(f64::INFINITY, |rated| 0.8 * rated);
    let load_w = round_to_hand(watts.min(most_w));
    if load_w <= most_w { load_w } else { most_w.floor().max(1.0) }
}

/// What a typical unit gives of its label to a load at the AC outlet \[W\].
fn share(rated_wh: f64, load_w: f64) -> f64 {
    USABLE / (FACTOR + draw_w(rated_wh) / load_w)
}

/// Label that the figures of [`HEALTHY`] were heard of \[Wh\]: units of about 500 Wh and more.
const HEARD_OF_WH: f64 = 537.0;

/// How much less the lower end of what is healthy is on a small label, above 0 to 1: an inverter's own draw does not shrink
/// with the cells.
pub(super) fn smaller(rated_wh: f64) -> f64 {
    let fifth = |rated_wh: f64| share(rated_wh, BENCH_LOAD_PER_WH * rated_wh);
    (fifth(rated_wh) / fifth(HEARD_OF_WH)).min(1.0)
}

/// A load that a hand can put together: two digits at most.
fn round_to_hand(watts: f64) -> f64 {
    let step = match watts {
        w if w < 20.0 => 1.0,
        w if w < 100.0 => 5.0,
        w if w < 500.0 => 20.0,
        _ => 100.0,
    };
    (watts / step).round().max(1.0) * step
}

fn load_from(watts: f64) -> String {
    match watts {
        w if w < 30.0 => "one or two filament or LED lamps, or a small fan".into(),
        w if w < 150.0 => {
            format!("filament lamps that add up to about {watts:.0} W, or a box fan (about 100 W on high)")
        }
        w if w < 700.0 => {
            "several filament lamps, an electric blanket on high, or a small heater on its lowest setting".into()
        }
        w if w < 1600.0 => "a heater without a thermostat that cycles, on a low setting".into(),
        _ => "a heater without a thermostat that cycles, on a high setting, within the inverter's rating".into(),
    }
}
