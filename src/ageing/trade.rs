//! The trade's rules of thumb (common practice, no source). LFP: about 2000 full cycles to 80 % of the capacity, about 4000 between
//! 80 % and 20 %. NMC: about 500 full cycles, as cells' sheets promise, and about 1000 of the gentle kind. Half the depth gives about
//! double the cycles. They say nothing about standing still.
//!
//! Beside them, from memory: Preger et al. 2020, J. Electrochem. Soc. 167:120532, found 2500 to 9000 equivalent full cycles to 80 % in
//! commercial LFP cells, 200 to 2500 in NMC.

use crate::math;

/// Share of the capacity that counts as worn out.
pub const WORN_OUT: f64 = 0.2;

/// What the trade says of one kind of cells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rule {
    /// Full cycles until worn out.
    pub full_cycles: f64,
    /// Depth, 0 to 1, and number of the other saying.
    pub gentle: (f64, f64),
}

/// Of LFP cells.
pub const LFP: Rule = Rule { full_cycles: 2000.0, gentle: (0.6, 4000.0) };
/// Of NMC cells.
pub const NMC: Rule = Rule { full_cycles: 500.0, gentle: (0.6, 1000.0) };

impl Rule {
    /// Cycles of one depth until 20 % is lost.
    ///
    /// * `depth` — above 0 to 1. From 1 to the gentle one a power law through both sayings; below, half the depth gives exactly
    ///   double the cycles.
    #[must_use]
    pub fn cycles_to_worn_out(&self, depth: f64) -> f64 {
        let (depth_gentle, cycles_gentle) = self.gentle;
        if depth_gentle < depth {
            let power = math::ln(cycles_gentle / self.full_cycles) / math::ln(depth_gentle);
            self.full_cycles * math::pow(depth, power)
        } else {
            cycles_gentle * depth_gentle / depth
        }
    }
}
