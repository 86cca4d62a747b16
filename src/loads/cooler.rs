//! Fridges, freezers and cool boxes: what their compressor asks for, and how warm the food gets without it.
//!
//! The label says how much energy a year keeps the box at its test temperatures in the test room, doors closed. With the
//! coefficient of performance in that room the heat that leaks in follows, and from it the leak per kelvin; the room of
//! the scenario then asks for its own energy.
//!
//! - A compressor moves `COP = η Tc / (Th − Tc)` joules of heat for each joule of electricity: a share η of the best that
//!   the two temperatures allow (Carnot 1824), with the evaporator colder than the box and the condenser warmer than the
//!   room. The share and the two differences are typical of small machines, without a source; the label takes them out of
//!   the energy, but not out of the hours that the box stays cold.
//! - One machine cools both parts of a fridge-freezer; its evaporator is that of the colder part. Heat leaks into both in
//!   proportion to volume and temperature difference, the reasoning of the adjusted volume of 10 CFR 430 (a litre of
//!   freezer counts 1.76 times: 90 °F over 51 °F).
//! - Within a step the compressor's running is spread evenly, so that the box ends the step where the thermostat wants
//!   it. Where in its band the thermostat stood as the power failed is drawn once per trial.

mod part;
mod state;

use super::contents::Contents;
use crate::random::polynomials::more;
use crate::scenario::model::{Compartment, Cooler, FoodRule, Room};
use crate::units::Celsius;

pub use part::Food;
pub use state::CoolerState;

/// Temperatures of the test behind a label: fresh food 39 °F, freezer 0 °F (10 CFR 430 subpart B, appendices A and B).
pub const TEST_INSIDE_C: [f64; PARTS] = [35.0 / 9.0, -160.0 / 9.0];
/// The parts of a cooler: for fresh food and for frozen food.
pub const PARTS: usize = 2;
/// Names of the parts.
pub const PART_NAMES: [&str; PARTS] = ["fridge", "freezer"];

/// η: share of the best possible coefficient of performance.
const CARNOT_SHARE: f64 = 0.4;
/// Evaporator colder than the box \[K\].
const EVAPORATOR_BELOW_K: f64 = 10.0;
/// Condenser warmer than the room \[K\].
const CONDENSER_ABOVE_K: f64 = 12.0;
/// In a colder room a machine gains no more than in one of this \[°C\]: the lower end of what class N is built for.
const LOWEST_ROOM_C: f64 = 16.0;
/// No lift is taken to be less \[K\].
const LEAST_LIFT_K: f64 = 5.0;
const KELVIN: f64 = 273.15;

/// Heat of an opened door for each kelvin and litre \[Wh/(K L)\]: the air inside changed once, doubled for the moisture
/// that comes with it (1.2 kJ/m³ K; half the air and as much moisture is a textbook's case, Çengel & Boles, problem 6-27).
const DOOR_WH_PER_K_LITRE: f64 = 2.0 * 1.2e-3 / 3.6;

/// Frozen food is judged by the packages that thaw first: those are taken to be soft when this share of all ice has
/// melted. Typical, cautious, no source.
pub const SOFT_AT: f64 = 0.25;

/// How full a full freezer is \[kg/L\]. Typical, no source.
pub const FULL_KG_PER_LITRE: f64 = 0.5;
/// A full freezer keeps its food this much longer without power than a fridge: 48 hours against 4 (USDA FSIS).
pub const FREEZER_OVER_FRIDGE: f64 = 12.0;
/// Safe hours of a closed fridge without power (USDA FSIS).
pub const FRIDGE_HOURS: f64 = 4.0;
/// In a room warmer than this \[°C\] warm food may stand half as long: 90 °F, one hour instead of two (USDA FSIS, in
/// tests/data/food_safety.toml from one secondary leaflet).
const HOT_ROOM_C: f64 = 290.0 / 9.0;

/// Temperature of a room that nobody has told \[°C\].
pub const INDOORS_C: f64 = 21.0;

/// One part of a cooler, ready to be simulated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartPlan {
    /// The food.
    pub contents: Contents,
    /// Leak of the walls \[W/K\].
    pub walls_w_per_k: f64,
    /// Leak by opening the door, spread over the day \[W/K\].
    pub door_w_per_k: f64,
    /// Middle of the thermostat's band \[°C\].
    pub set_c: f64,
    /// Hours without power that the food keeps, doors closed \[h\].
    pub keeps_h: f64,
}

/// A cooler, ready to be simulated.
#[derive(Debug, Clone, PartialEq)]
pub struct CoolerPlan {
    /// Fridge and freezer, where there are such.
    pub parts: [Option<PartPlan>; PARTS],
    /// Electricity that the compressor turns into cold while it runs \[W\]. Another outlet may ask for more beside.
    pub compressor_w: f64,
    /// Temperature of the room, where it is not the weather's.
    pub room: Room,
    /// Whether that is indoors where the heating is out and the room cools.
    pub room_cools: bool,
    /// Swing of the thermostat \[K\].
    pub band_k: f64,
    /// Food must not stay warmer than this \[°C\].
    pub limit_c: f64,
    /// For longer than this in all \[h\].
    pub warm_h: f64,
    /// Which clocks decide, the first to run out: the thermometer's, the hours without power; none where nobody minds.
    pub judged_by: [bool; 2],
    /// Temperature of the evaporator \[°C\].
    evaporator_c: f64,
    /// Over the heat that the running compressor takes out times its lift \[1/(W K)\].
    per_cooling_w_k: f64,
}

/// From an evaporator up to the condenser in a room \[K\]. A set point above the condenser's temperature needs no
/// compressor; the least lift stands for it.
#[inline(always)]
fn lift_k(evaporator_c: f64, room_c: f64) -> f64 {
    more(more(room_c, LOWEST_ROOM_C) + CONDENSER_ABOVE_K - evaporator_c, LEAST_LIFT_K)
}

/// Coefficient of performance between an evaporator and a room \[°C\], times the lift \[K\].
fn cop_k(evaporator_c: f64) -> f64 {
    CARNOT_SHARE * (evaporator_c + KELVIN)
}

impl CoolerPlan {
    /// From the scenario's cooler.
    ///
    /// * `watts` — what the compressor draws while it runs \[W\]; `count` is counted in both watts and label.
    #[must_use]
    pub fn new(cooler: &Cooler, watts: f64) -> CoolerPlan {
        let parts: [Option<Compartment>; PARTS] = [cooler.fridge, cooler.freezer];
        let coldest = |inside_c: &dyn Fn(usize) -> f64| {
            (0..PARTS).filter(|&k| parts[k].is_some()).map(inside_c).fold(f64::INFINITY, f64::min) - EVAPORATOR_BELOW_K
        };
        let test_room_c = cooler.label_room.0;
        let leak_w = {
            let evaporator_c = coldest(&|k| TEST_INSIDE_C[k]);
            cooler.label.value.0 / 8760.0 * cop_k(evaporator_c) / lift_k(evaporator_c, test_room_c)
        };
        // Litre-kelvins that share the leak.
        let litre_k: f64 =
            (0..PARTS).filter_map(|k| parts[k].map(|part| part.volume.0 * (test_room_c - TEST_INSIDE_C[k]))).sum();
        let part = |k: usize| {
            parts[k].map(|part| {
                let keeps_h = match cooler.food {
                    FoodRule::WithoutPower { hours } => hours.0,
                    _ => FRIDGE_HOURS,
                };
                let full = (part.contents.0 / (FULL_KG_PER_LITRE * part.volume.0)).min(1.0);
                PartPlan {
                    contents: Contents::food(part.contents.0),
                    walls_w_per_k: leak_w / litre_k * part.volume.0,
                    door_w_per_k: f64::from(cooler.door_openings) * DOOR_WH_PER_K_LITRE * part.volume.0 / 24.0,
                    set_c: part.set.0,
                    keeps_h: if k == 0 { keeps_h } else { keeps_h * FREEZER_OVER_FRIDGE * full },
                }
            })
        };
        let (limit, warm) = cooler.food.limit();
        let evaporator_c = coldest(&|k| parts[k].map_or(f64::INFINITY, |part| part.set.0));
        CoolerPlan {
            parts: [part(0), part(1)],
            compressor_w: watts,
            room: cooler.room,
            room_cools: false,
            band_k: cooler.band.0,
            limit_c: limit.0,
            warm_h: warm.0,
            judged_by: match cooler.food {
                FoodRule::Sooner => [true, true],
                FoodRule::Above { .. } => [true, false],
                FoodRule::WithoutPower { .. } => [false, true],
                FoodRule::NotJudged => [false, false],
            },
            evaporator_c,
            per_cooling_w_k: 1.0 / (watts * cop_k(evaporator_c)),
        }
    }

    /// Temperature around it \[°C\] with air outdoors of `air_c`.
    #[must_use]
    pub fn room_c(&self, air_c: f64) -> f64 {
        match self.room {
            Room::At(Celsius(room_c)) => room_c,
            Room::Indoors => air_c.max(INDOORS_C),
            Room::Outdoors => air_c,
        }
    }

    /// Heat that the running compressor takes out \[W\] in a room of `room_c` \[°C\].
    #[must_use]
    pub fn cooling_w(&self, room_c: f64) -> f64 {
        self.compressor_w * cop_k(self.evaporator_c) / lift_k(self.evaporator_c, room_c)
    }

    /// Share of the time that the compressor must run to hold its set points in a room; above 1 where it cannot.
    ///
    /// * `leak` — factor on the leak of the walls.
    #[must_use]
    pub fn holding_share(&self, room_c: f64, leak: f64) -> f64 {
        let heat_w: f64 = self
            .parts
            .iter()
            .flatten()
            .map(|part| ((part.walls_w_per_k * leak + part.door_w_per_k) * (room_c - part.set_c)).max(0.0))
            .sum();
        heat_w / self.cooling_w(room_c)
    }
}

#[cfg(test)]
mod tests;
