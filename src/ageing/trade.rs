//! The trade's rule of thumb (common practice, no source): about 2000 full cycles to 80 % of the capacity, about 4000
//! between 80 % and 20 %, and half the depth gives about double the cycles. It says nothing about standing still.

use crate::math;

/// Share of the capacity that counts as worn out.
pub const WORN_OUT: f64 = 0.2;

/// Full cycles until then.
const FULL_CYCLES: f64 = 2000.0;
/// Depth and number of the other saying.
const GENTLE: (f64, f64) = (0.6, 4000.0);

/// Cycles of one depth until 20 % is lost.
///
/// * `depth` — above 0 to 1. From 1 to 0.6 a power law through both sayings; below, half the depth gives exactly double
///   the cycles.
#[must_use]
pub fn cycles_to_worn_out(depth: f64) -> f64 {
    let (depth_gentle, cycles_gentle) = GENTLE;
    if depth_gentle < depth {
        let power = math::ln(cycles_gentle / FULL_CYCLES) / math::ln(depth_gentle);
        FULL_CYCLES * math::pow(depth, power)
    } else {
        cycles_gentle * depth_gentle / depth
    }
}
