//! The kit of one trial: every uncertain quantity drawn, every figure a plain number.

use std::sync::Arc;

use crate::kit::battery::Fitness;
use crate::kit::{FitnessTable, LossCurve};
use crate::random::polynomials::less;

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
    /// Most power towards the cells \[W\] when they are warm.
    pub charge_limit_w: f64,
    /// Most power at the bus out of the cells \[W\] when they are warm.
    pub discharge_limit_w: f64,
    /// What the shares of [`Rig::fitness`] are shares of, charging \[W\]: no less than `charge_limit_w` where that is finite.
    pub charge_base_w: f64,
    /// The same for discharging \[W\].
    pub discharge_base_w: f64,
    /// Share of the energy that the loads' rate of discharge lets out in a warm room, above 0 to 1.
    pub rate_share: f64,
    /// What the cells can do by temperature.
    pub fitness: Arc<FitnessTable>,
    /// Temperature of the cells where the station stands, for places that keep one \[°C\].
    pub home_c: f64,
    /// Coldest cells that may be charged \[°C\].
    pub charges_from_c: f64,
    /// Most power drawn by a heater that warms cold cells \[W\]; 0 for none.
    pub heater_w: f64,
    /// The heater stops at this temperature of the cells \[°C\].
    pub heats_to_c: f64,
    /// Heat that warms the station by a kelvin \[Wh/K\].
    pub heat_capacity_wh_per_k: f64,
    /// Heat that it loses for each kelvin above what is around it \[W/K\], above 0.
    pub heat_loss_w_per_k: f64,
    /// Room between where charging begins to slow down and full \[Wh\]; 0 where it never does.
    pub taper_wh: f64,
    /// Drawn by the electronics while the station is on \[W\].
    pub own_draw_w: f64,
    /// Share of the stored energy lost in an hour \[1/h\].
    pub self_discharge_per_h: f64,
    /// Least load that wakes the inverter, or keeps its outlet on \[W\].
    pub least_ac_w: f64,
    /// Time under less after which its outlet switches itself off \[h\].
    pub ac_off_after_h: f64,
    /// Losses of the inverter.
    pub inverter: LossCurve,
    /// Whether the inverter sleeps while nothing asks for AC.
    pub inverter_sleeps: bool,
    /// Most power at each outlet \[W\].
    pub outlet_limit_w: [f64; OUTLETS],
    /// Losses of the DC and USB converters (the AC entry is not used).
    pub converter: [LossCurve; OUTLETS],
    /// Most power taken from the panels \[W\] at their terminals.
    pub solar_limit_w: f64,
    /// Bus power over power taken from the panels, above 0 to 1.
    pub solar_efficiency: f64,
    /// Bus power over power taken from the wall, above 0 to 1.
    pub wall_efficiency: f64,
    /// What the outlet of a second station gives from full to empty \[Wh\].
    pub second_wh: f64,
    /// By how many standard uncertainties a generator burns more than told.
    pub thirst_z: f64,
}

/// What the cells of a rig allow at one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Not discharged below \[Wh\].
    pub floor_wh: f64,
    /// Most power towards the cells \[W\].
    pub charge_w: f64,
    /// The power that charging slows down from near full \[W\].
    pub taper_from_w: f64,
    /// Most power at the bus out of the cells \[W\].
    pub discharge_w: f64,
    /// Drawn by the heater, if there is as much, before anything is charged \[W\].
    pub heater_w: f64,
    /// Whether the station works: outside its temperatures it neither charges nor serves, from wherever the power comes.
    pub works: bool,
}

/// What the limits of a rig's cells follow from, see [`Rig`]: floor and what lies above it \[Wh\], share let out at the loads'
/// rate, limit and base of charging and of discharging \[W\].
#[derive(Debug, Clone, Copy)]
pub(super) struct Bounds(pub [f64; 7]);

impl Bounds {
    /// What cells in this shape allow, the heater off.
    #[inline(always)]
    pub(super) fn limits(&self, fitness: &Fitness) -> Limits {
        let Bounds([floor_wh, above_wh, rate_share, charge_limit_w, charge_base_w, limit_w, base_w]) = *self;
        // Without this, nothing of an unlimited power would not be a number.
        let of = |base_w: f64, share: f64| if share > 0.0 { base_w * share } else { 0.0 };
        let taper_from_w = of(charge_base_w, fitness.charge);
        Limits {
            floor_wh: floor_wh + (1.0 - fitness.usable * rate_share) * above_wh,
            charge_w: less(charge_limit_w, taper_from_w),
            taper_from_w,
            discharge_w: less(limit_w, of(base_w, fitness.discharge)),
            heater_w: 0.0,
            works: fitness.works,
        }
    }
}

impl Rig {
    /// What the cells allow at a temperature \[°C\], the heater off. Energy that the cold locks in stays in the account.
    ///
    /// The cold takes its share of what lies above the floor: sizing factors multiply the battery that the allowed depth
    /// of discharge calls for (IEEE 485, from memory; IEEE 1013, the same), so depth and cold count one on top of the other.
    #[must_use]
    pub fn limits_at(&self, cell_c: f64) -> Limits {
        self.bounds().limits(&self.fitness.at(cell_c))
    }

    /// State of charge of a battery as full as it is charged, 0 to 1.
    #[must_use]
    pub fn full(&self) -> f64 {
        self.ceiling_wh / self.capacity_wh
    }

    /// Losses of an outlet's converter.
    #[inline(always)]
    #[must_use]
    pub fn curve(&self, outlet: usize) -> &LossCurve {
        if outlet == 0 { &self.inverter } else { &self.converter[outlet] }
    }

    /// What its limits follow from.
    #[inline(always)]
    pub(super) fn bounds(&self) -> Bounds {
        Bounds([
            self.floor_wh,
            self.capacity_wh - self.floor_wh,
            self.rate_share,
            self.charge_limit_w,
            self.charge_base_w,
            self.discharge_limit_w,
            self.discharge_base_w,
        ])
    }

    /// Temperature of the cells in the long run where the station stands, its heater fed without end \[°C\]: that of the
    /// place and what the heater's power keeps up against the loss, no further than where it stops.
    #[must_use]
    pub fn heated_c(&self) -> f64 {
        (self.home_c + self.heater_w / self.heat_loss_w_per_k).min(self.heats_to_c.max(self.home_c))
    }

    /// What the cells allow where the station stands.
    #[must_use]
    pub fn limits(&self) -> Limits {
        self.limits_at(self.home_c)
    }
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
            charge_base_w: f64::INFINITY,
            discharge_base_w: f64::INFINITY,
            rate_share: 1.0,
            fitness: Arc::new(FitnessTable::indifferent()),
            home_c: 25.0,
            charges_from_c: f64::NEG_INFINITY,
            heater_w: 0.0,
            heats_to_c: f64::NEG_INFINITY,
            heat_capacity_wh_per_k: f64::INFINITY,
            heat_loss_w_per_k: 1.0,
            taper_wh: 0.0,
            own_draw_w: 0.0,
            self_discharge_per_h: 0.0,
            least_ac_w: 0.0,
            ac_off_after_h: f64::INFINITY,
            inverter: LossCurve::IDEAL,
            inverter_sleeps: false,
            outlet_limit_w: [f64::INFINITY; OUTLETS],
            converter: [LossCurve::IDEAL; OUTLETS],
            solar_limit_w: f64::INFINITY,
            solar_efficiency: 1.0,
            wall_efficiency: 1.0,
            second_wh: 0.0,
            thirst_z: 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: a heater of so many watts keeps a station that loses 0.5 W a kelvin two kelvins a watt above what is around it, up to
    /// where it stops, and never below what is around it.
    #[test]
    fn a_heater_warms_as_far_as_it_can_and_no_further() {
        let kept = |home_c: f64, heater_w: f64| {
            let ideal = Rig::ideal(1000.0, 1000.0);
            Rig { home_c, heater_w, heat_loss_w_per_k: 0.5, heats_to_c: 12.0, ..ideal }.heated_c()
        };
        assert_eq!([kept(5.0, 2.0), kept(5.0, 10.0), kept(-20.0, 10.0)], [9.0, 12.0, 0.0]);
        assert_eq!([kept(20.0, 10.0), kept(5.0, 0.0)], [20.0, 5.0]);
    }
}
