//! The kit of one trial: every uncertain quantity drawn, every figure a plain number.

use crate::kit::LossCurve;

/// Index of an outlet in arrays: AC, DC, USB (the order of [`crate::scenario::model::OutletKind`]).
pub const OUTLETS: usize = 3;
/// Index of a priority in arrays: vital, useful, spare (the order of [`crate::scenario::model::Priority`]).
pub const CLASSES: usize = 3;

/// A kit without uncertainty. Energies are in the cells \[Wh\], powers at the bus \[W\] unless said otherwise.
#[derive(Debug, Clone, PartialEq)]
pub struct Rig {
    /// From empty to full \[Wh\].
    pub capacity_wh: f64,
    /// Never discharged below \[Wh\].
    pub floor_wh: f64,
    /// Never charged above \[Wh\].
    pub ceiling_wh: f64,
    /// In the cells as the outage begins \[Wh\].
    pub start_wh: f64,
    /// Arriving in the cells over sent to them, above 0 to 1.
    pub charge_efficiency: f64,
    /// Arriving at the bus over taken from the cells, above 0 to 1.
    pub discharge_efficiency: f64,
    /// Most power towards the cells \[W\].
    pub charge_limit_w: f64,
    /// Most power at the bus out of the cells \[W\].
    pub discharge_limit_w: f64,
    /// Drawn by the electronics while the station is on \[W\].
    pub own_draw_w: f64,
    /// Share of the stored energy lost in an hour \[1/h\].
    pub self_discharge_per_h: f64,
    /// Losses of the inverter.
    pub inverter: LossCurve,
    /// Whether the inverter sleeps while nothing asks for AC.
    pub inverter_sleeps: bool,
    /// Most power at each outlet \[W\].
    pub outlet_limit_w: [f64; OUTLETS],
    /// Power out over power in at the DC and USB outlets (the AC entry is not used).
    pub outlet_efficiency: [f64; OUTLETS],
    /// Drawn by the DC and USB converters while switched on \[W\] (the AC entry is not used).
    pub outlet_idle_w: [f64; OUTLETS],
    /// Most power taken from the panels \[W\] at their terminals.
    pub solar_limit_w: f64,
    /// Bus power over power taken from the panels, above 0 to 1.
    pub solar_efficiency: f64,
}

impl Rig {
    /// A kit without losses or limits.
    ///
    /// * `capacity_wh` — size \[Wh\]; `start_wh` — what is in it at first \[Wh\].
    #[must_use]
    pub fn ideal(capacity_wh: f64, start_wh: f64) -> Rig {
        Rig {
            capacity_wh,
            floor_wh: 0.0,
            ceiling_wh: capacity_wh,
            start_wh,
            charge_efficiency: 1.0,
            discharge_efficiency: 1.0,
            charge_limit_w: f64::INFINITY,
            discharge_limit_w: f64::INFINITY,
            own_draw_w: 0.0,
            self_discharge_per_h: 0.0,
            inverter: LossCurve::IDEAL,
            inverter_sleeps: false,
            outlet_limit_w: [f64::INFINITY; OUTLETS],
            outlet_efficiency: [1.0; OUTLETS],
            outlet_idle_w: [0.0; OUTLETS],
            solar_limit_w: f64::INFINITY,
            solar_efficiency: 1.0,
        }
    }
}
