//! The temperature of a station's cells where it follows the weather, or where a cold place and a heater pull at it.
//!
//! The station is one lump with a heat capacity that leaks to what is around it: `C dT/dt = P − U (T − around)`. Over a step
//! of constant power the closed form holds, `T → around + P/U + (T − around − P/U) exp(−U t / C)` (lumped capacitance,
//! Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, chapter 5; from memory), so that a step's length hardly
//! matters.

use super::kit_plan::INDOORS_C;
use super::plan::Plan;
use super::rig::Rig;
use crate::math;
use crate::scenario::model::{CoolingRoom, Stands};

/// How much a station in the sun is warmer than the air, over global irradiance \[K m²/W\]: 25 K in full sun. A case that
/// absorbs 80 % of what falls on the third of its surface that the sun sees, and gives off 10 W/m²K all round
/// (sol-air temperature; the figures are typical, no source).
const SUN_ON_STATION_K_PER_W_M2: f64 = 0.025;

/// How much warmer than the air it is in a closed box or car in full sun (1000 W/m²) \[K\]: what counts where it is cool, and where it
/// is warm. Cars parked in the sun came to 22 K on average within an hour (McLaren, Null and Quinn 2005, Pediatrics 116, e109: 40 °F) and
/// to some 40 K at the most (Grundstein et al. 2009, Int. J. Biometeorology 53; both from memory). Boxes are taken to be no better;
/// common practice, no source.
pub const CLOSED_BOX_K: [f64; 2] = [22.0, 40.0];

/// Between these temperatures inside \[°C\], by the lesser rise, the greater one comes to count: neither harms cells there. Common
/// practice, no source.
const COOL_TO_WARM_C: [f64; 2] = [10.0, 25.0];

/// Temperature inside a closed box \[°C\]: cautious on both sides, for warmth helps cold cells and harms hot ones.
#[inline(always)]
fn in_a_closed_box_c(air_c: f64, ghi_w_m2: f64) -> f64 {
    let [low, high] = CLOSED_BOX_K.map(|rise_k| air_c + rise_k * 0.001 * ghi_w_m2);
    let [cool, warm] = COOL_TO_WARM_C;
    low + (high - low) * ((low - cool) / (warm - cool)).clamp(0.0, 1.0)
}

/// Of what electronics lose (converters, solar input, own draw), what warms the cells; the rest leaves through the case or by a fan.
/// Typical, no source. What cells lose within themselves, and a heater, warms them alone.
pub(super) const FROM_ELECTRONICS: f64 = 0.5;

/// A room without heating, by Newton's law of cooling: a difference to what is around dies away as exp(−t / τ), and 95 % of it is
/// gone after the time told, τ = t / ln 20.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct RoomPlan {
    to_c: Option<f64>,
    /// Share of a difference that it makes up in a step.
    pace: f64,
    /// Whether it has cooled already as the outage begins.
    pub fallen: bool,
}

impl RoomPlan {
    pub(super) fn new(room: &CoolingRoom, step_h: f64) -> RoomPlan {
        let pace = -math::exp_m1(-step_h * math::ln(20.0) / room.within.0);
        RoomPlan { to_c: room.falls_to.map(|c| c.0), pace, fallen: false }
    }

    /// What it comes to \[°C\] with such air outdoors.
    pub(super) fn ends_c(&self, air_c: f64) -> f64 {
        self.to_c.unwrap_or(air_c)
    }

    /// Its temperature after a step \[°C\].
    ///
    /// * `room_c` — before it; `heated` — whether the mains is there still; `air_c` — temperature outdoors.
    #[inline(always)]
    pub(super) fn after_c(&self, room_c: f64, heated: bool, air_c: f64) -> f64 {
        let to_c = self.ends_c(air_c);
        match (heated, self.fallen) {
            (true, false) => INDOORS_C,
            (true, true) => to_c,
            (false, _) => room_c + self.pace * (to_c - room_c),
        }
    }
}

impl Plan {
    /// Lets the rooms have cooled already as the outage begins, for the battery; coolers have them as warm as ever (cautious).
    pub fn cool_rooms(&mut self) {
        if let Some(room) = &mut self.room {
            room.fallen = true;
            self.loads.iter_mut().for_each(|load| load.let_the_room_cool(false));
        }
    }
}

/// What is around a station.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Around {
    /// Air, and sun on the case \[K m²/W\].
    Weather { sun_k_per_w_m2: f64 },
    /// A closed box under the sun.
    ClosedBox,
    /// A place that keeps its temperature \[°C\].
    Place(f64),
    /// A room that cools.
    Room,
}

/// How the temperature of a station's cells changes in a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lump {
    around: Around,
    /// Share of a difference that it makes up in a step.
    pace: f64,
}

impl Lump {
    /// `None` where the cells keep their temperature: in a room, and in any place warm enough to charge them.
    pub(super) fn of(plan: &Plan, rig: &Rig) -> Option<Lump> {
        let around = match plan.kit.stands {
            Stands::Outdoors => Around::Weather { sun_k_per_w_m2: 0.0 },
            Stands::InTheSun => Around::Weather { sun_k_per_w_m2: SUN_ON_STATION_K_PER_W_M2 },
            Stands::InAClosedBox => Around::ClosedBox,
            Stands::Indoors if plan.room.is_some() => Around::Room,
            Stands::At(_) if rig.home_c < rig.charges_from_c => Around::Place(rig.home_c),
            Stands::Indoors | Stands::At(_) => return None,
        };
        let pace = -math::exp_m1(-plan.season.step_h * rig.heat_loss_w_per_k / rig.heat_capacity_wh_per_k);
        Some(Lump { around, pace })
    }

    /// Whether it stands in a room that cools.
    pub(super) fn is_in_a_room(&self) -> bool {
        self.around == Around::Room
    }

    /// Temperature of the cells as the weather begins \[°C\].
    #[inline(always)]
    pub(super) fn begins_c(&self, air_c: f64) -> f64 {
        self.around_c(air_c, 0.0)
    }

    /// Temperature that the cells would come to without heat of their own \[°C\].
    ///
    /// * `air_c` — of the air around it: of the room for a station in one that cools, see [`Lump::is_in_a_room`].
    #[inline(always)]
    pub(super) fn around_c(&self, air_c: f64, ghi_w_m2: f64) -> f64 {
        match self.around {
            Around::Room => air_c,
            Around::Weather { sun_k_per_w_m2 } => air_c + sun_k_per_w_m2 * ghi_w_m2,
            Around::ClosedBox => in_a_closed_box_c(air_c, ghi_w_m2),
            Around::Place(c) => c,
        }
    }

    /// Temperature of the cells after a step \[°C\].
    ///
    /// * `heat_w` — what warmed them in it \[W\]; `loss_w_per_k` — heat lost to what is around them \[W/K\].
    #[inline(always)]
    pub(super) fn after_c(&self, cell_c: f64, around_c: f64, (heat_w, loss_w_per_k): (f64, f64)) -> f64 {
        cell_c + self.pace * (around_c + heat_w / loss_w_per_k - cell_c)
    }

    /// What the heater draws in a step if it is fed \[W\]: no more than brings the cells to where it stops.
    ///
    /// * `rig` — whose heater it is; `loss_w_per_k` — see [`Lump::after_c`].
    #[inline(always)]
    pub(super) fn heater_w(&self, rig: &Rig, loss_w_per_k: f64, cell_c: f64, around_c: f64) -> f64 {
        let needed_w = loss_w_per_k * ((rig.heats_to_c - cell_c) / self.pace + cell_c - around_c);
        if cell_c < rig.heats_to_c { needed_w.clamp(0.0, rig.heater_w) } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_closed_box_is_cautious_in_cold_and_heat() {
        let near = |a: f64, b: f64| (a - b).abs() < 1e-12;
        // The figures of the papers in full sun, half of them in half the sun, none at night.
        assert!(near(in_a_closed_box_c(-15.0, 1000.0), 7.0) && near(in_a_closed_box_c(-15.0, 500.0), -4.0));
        assert!(near(in_a_closed_box_c(30.0, 1000.0), 70.0) && near(in_a_closed_box_c(30.0, 500.0), 50.0));
        assert!([-15.0, 18.0, 30.0].iter().all(|air_c| near(in_a_closed_box_c(*air_c, 0.0), *air_c)));
        // No jump, and never colder for more sun or warmer air.
        for k in 0..700 {
            let (air_c, more) = (-30.0 + 0.1 * f64::from(k), in_a_closed_box_c(-30.0 + 0.1 * f64::from(k + 1), 800.0));
            let now = in_a_closed_box_c(air_c, 800.0);
            assert!((0.0..0.3).contains(&(more - now)), "{air_c}: {now}, {more}");
            assert!(in_a_closed_box_c(air_c, 810.0) > now);
            assert!((air_c + 17.6 - 1e-9..=air_c + 32.0 + 1e-9).contains(&now));
        }
    }
}
