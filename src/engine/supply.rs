//! What could come in during each step of a trial: sun through panels, cables and the input's window, and the wall.

use std::sync::Arc;

use super::arrays::ArrayPlan;
use super::geometry::{ArrayGeometry, Yield};
use super::plan::Plan;
use super::trial::{History, Luck};
use crate::random::Purpose;
use crate::scenario::model::Stands;
use crate::weather::WeatherTrace;

/// The most that a cable takes: beyond half of the power, sending more brings no more, `V² / 4 R` at most.
pub(super) const MOST_CABLE_LOSS: f64 = 0.5;

/// The window of a solar input; its watts are the step's business.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InputWindow {
    /// Takes nothing below this voltage \[V\].
    pub volts_min: f64,
    /// Takes no more than this current \[A\].
    pub amps_max: f64,
}

impl InputWindow {
    /// A window without limits.
    pub const OPEN: InputWindow = InputWindow { volts_min: 0.0, amps_max: f64::INFINITY };
}

/// Temperature of a station that follows the air \[°C\]: hours in which it makes up 63 % of a difference. Typical of some
/// ten kilograms in a plastic case; no source. Its own losses, which warm it, are left out: the cautious side in frost.
const STATION_LAG_H: f64 = 3.0;

/// How much a station in the sun is warmer than the air, over global irradiance \[K m²/W\]: 25 K in full sun. A case that
/// absorbs 80 % of what falls on the third of its surface that the sun sees, and gives off 10 W/m²K all round
/// (sol-air temperature; the figures are typical, no source).
const SUN_ON_STATION_K_PER_W_M2: f64 = 0.025;

/// Supplies of one trial, one value a step of its weather. Reused from trial to trial.
#[derive(Debug, Default)]
pub struct Supplies {
    /// What the panels could give at the input's terminals \[W\].
    pub panel_w: Vec<f64>,
    /// Of that, what lies within the input's volts and amps \[W\].
    pub usable_w: Vec<f64>,
    /// Temperature of the cells \[°C\]; empty where it never changes.
    pub station_c: Vec<f64>,
    amps: Vec<f64>,
    /// What each geometry asked for makes of the present weather.
    yields: Vec<(Arc<ArrayGeometry>, Yield)>,
    yields_in_use: usize,
}

impl Supplies {
    /// Forgets the weather of the trial before.
    pub fn begin(&mut self) {
        self.yields_in_use = 0;
    }

    /// Fills the trial's supplies; the normal numbers behind what is uncertain are added to `unknowns`.
    pub fn fill(
        &mut self,
        plan: &Plan,
        luck: Luck,
        history: &History,
        weather: &WeatherTrace,
        unknowns: &mut Vec<f64>,
    ) {
        let steps = weather.ghi_w_m2.len();
        for values in [&mut self.panel_w, &mut self.usable_w, &mut self.amps] {
            values.clear();
            values.resize(steps, 0.0);
        }
        for (index, array) in plan.arrays.iter().enumerate() {
            let z = if array.rated_w_sd > 0.0 {
                let z = luck.stream(Purpose::Array(index as u32)).normal();
                unknowns.push(z);
                z
            } else {
                0.0
            };
            let rated_w = (array.rated_w + array.rated_w_sd * z).max(0.0);
            let slot = self.yield_of(array, history, weather);
            self.add(array, rated_w, slot, plan.input.volts_min);
        }
        if plan.input.amps_max < f64::INFINITY {
            for (usable_w, amps) in self.usable_w.iter_mut().zip(&self.amps) {
                if *amps > plan.input.amps_max {
                    *usable_w *= plan.input.amps_max / amps;
                }
            }
        }
        self.follow_the_air(plan, weather);
    }

    /// Where the yields of an array's geometry under the present weather are.
    fn yield_of(&mut self, array: &ArrayPlan, history: &History, weather: &WeatherTrace) -> usize {
        let known = self.yields[..self.yields_in_use].iter().position(|(g, _)| Arc::ptr_eq(g, &array.geometry));
        known.unwrap_or_else(|| {
            let slot = self.yields_in_use;
            if slot == self.yields.len() {
                self.yields.push((Arc::clone(&array.geometry), Yield::default()));
            }
            let (geometry, out) = &mut self.yields[slot];
            *geometry = Arc::clone(&array.geometry);
            geometry.power_and_warmth(history.first_day, weather, out);
            self.yields_in_use += 1;
            slot
        })
    }

    /// Adds an array's power, cable loss and current.
    fn add(&mut self, array: &ArrayPlan, rated_w: f64, slot: usize, volts_min: f64) {
        let made = &self.yields[slot].1;
        let sums = self.panel_w.iter_mut().zip(&mut self.usable_w).zip(&mut self.amps);
        for (((panel_w, usable_w), amps), (per_watt, warmth)) in sums.zip(made.per_watt.iter().zip(&made.warmth)) {
            let at_panels_w = rated_w * per_watt * array.matched;
            if at_panels_w <= 0.0 {
                continue;
            }
            let volts = array.string_v * warmth;
            let current = at_panels_w / volts;
            // I R / V is the share of the voltage, and so of the power, that stays in the cable.
            let lost = current * array.cable_ohm / volts;
            let (lost, watts) = if lost < MOST_CABLE_LOSS {
                (lost, at_panels_w * (1.0 - lost))
            } else {
                (MOST_CABLE_LOSS, 0.25 * volts * volts / array.cable_ohm)
            };
            *panel_w += watts;
            if volts * (1.0 - lost) >= volts_min {
                *usable_w += watts;
                *amps += current;
            }
        }
    }

    /// Temperature of the cells of a station that stands outside.
    fn follow_the_air(&mut self, plan: &Plan, weather: &WeatherTrace) {
        self.station_c.clear();
        let sun = match plan.kit.stands {
            Stands::Indoors | Stands::At(_) => return,
            Stands::Outdoors => 0.0,
            Stands::InTheSun => SUN_ON_STATION_K_PER_W_M2,
        };
        let Some(first) = weather.air_c.first() else { return };
        let pace = 1.0 - (-plan.season.step_h / STATION_LAG_H).exp();
        let mut cell_c = *first;
        self.station_c.extend(weather.air_c.iter().zip(&weather.ghi_w_m2).map(|(air, ghi)| {
            cell_c += pace * (air + sun * ghi - cell_c);
            cell_c
        }));
    }
}
