//! What tests are to tell, and what is known of it before any test.

use crate::scenario::model::{Chemistry, OutletKind};
use crate::scenario::record::Record;

/// What the electronics draw while charging \[W\]. Typical, no source.
pub(super) const OWN_DRAW_W: f64 = 3.0;

/// Something that the tests are to tell.
#[derive(Debug, Clone, PartialEq)]
pub enum Unknown {
    /// Energy at the bus from full to switched off \[Wh\].
    Usable,
    /// Bus energy over cell energy.
    Discharge,
    /// Cell energy over bus energy.
    Charge,
    /// Bus energy over wall energy: the charger.
    Wall,
    /// Draw with an outlet on and nothing plugged in \[W\].
    Draw(OutletKind),
    /// Bus energy for each watt-hour at the outlet, beyond that draw.
    Factor(OutletKind),
    /// Error of a meter as a share of its reading.
    Gain(String),
}

/// What is known of an unknown before any test: typical figures without a source, as mean and 95 % half-width.
#[must_use]
pub fn typical(unknown: &Unknown, record: &Record) -> Option<(f64, f64)> {
    let lead = record.unit.chemistry == Chemistry::LeadAcid;
    let one_way = if lead { (0.90, 0.05) } else { (0.97, 0.02) };
    let ac_draw = OWN_DRAW_W + record.unit.inverter.map_or(5.0, |rated| (0.02 * rated.0).max(5.0));
    match unknown {
        Unknown::Usable | Unknown::Gain(_) => None,
        Unknown::Discharge | Unknown::Charge => Some(one_way),
        Unknown::Wall => Some((0.91, 0.05)),
        Unknown::Draw(OutletKind::Ac) => Some((ac_draw, 0.8 * ac_draw)),
        Unknown::Factor(OutletKind::Ac) => Some((1.07, 0.06)),
        Unknown::Draw(_) => Some((OWN_DRAW_W + 1.0, 3.0)),
        Unknown::Factor(OutletKind::Dc) => Some((1.075, 0.07)),
        Unknown::Factor(OutletKind::Usb) => Some((1.11, 0.10)),
    }
}
