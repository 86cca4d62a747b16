//! What could come in during each step of a trial: sun through panels, cables and the input's window, and the wall.

use std::sync::Arc;

use super::arrays::ArrayPlan;
use super::geometry::{ArrayGeometry, Yield};
use super::plan::Plan;
use super::step::Supply;
use super::trial::{History, Luck};
use super::wiring::AtInput;
use crate::random::Purpose;
use crate::scenario::model::Stands;
use crate::weather::WeatherTrace;

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

/// How the temperature of a station's cells follows the weather.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Follows {
    /// Warmer than the air over global irradiance \[K m²/W\].
    pub sun_k_per_w_m2: f64,
    /// Share of a difference that it makes up in a step.
    pub pace: f64,
}

impl Follows {
    /// `None` where the cells keep their temperature.
    pub fn of(plan: &Plan) -> Option<Follows> {
        let sun_k_per_w_m2 = match plan.kit.stands {
            Stands::Indoors | Stands::At(_) => return None,
            Stands::Outdoors => 0.0,
            Stands::InTheSun => SUN_ON_STATION_K_PER_W_M2,
        };
        Some(Follows { sun_k_per_w_m2, pace: 1.0 - (-plan.season.step_h / STATION_LAG_H).exp() })
    }
}

/// Supplies of one trial, one value a step of its weather. Reused from trial to trial.
#[derive(Debug, Default)]
pub struct Supplies {
    at_input: Vec<AtInput<f32, 1>>,
    /// Temperature of the cells \[°C\]; empty where it never changes.
    pub station_c: Vec<f64>,
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
        self.at_input.clear();
        self.at_input.resize(weather.ghi_w_m2.len(), AtInput::none());
        for array in plan.arrays_in_order() {
            let z = if array.rated_w_sd > 0.0 {
                let z = luck.stream(Purpose::Array(array.stream)).normal();
                unknowns.push(z);
                z
            } else {
                0.0
            };
            let rated_w = array.drawn_w(z);
            let slot = self.yield_of(array, history, weather);
            let made = &self.yields[slot].1;
            let steps = self.at_input.iter_mut().zip(made.per_watt.iter().zip(&made.warmth));
            for (at_input, (per_watt, warmth)) in steps {
                at_input.add::<false>(array, &plan.input, &[rated_w as f32], (per_watt, warmth));
            }
        }
        for at_input in &mut self.at_input {
            at_input.cut_to_amps(&plan.input);
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

    /// What comes in during a step of the weather.
    ///
    /// * `wall_w` — what the wall charger may draw then \[W\].
    pub fn at(&self, step: usize, wall_w: f64) -> Supply {
        let AtInput { panel_w: [panel_w], usable_w: [usable_w], .. } = self.at_input[step];
        Supply { panel_w: f64::from(panel_w), usable_w: f64::from(usable_w), wall_w }
    }

    /// Temperature of the cells of a station that stands outside.
    fn follow_the_air(&mut self, plan: &Plan, weather: &WeatherTrace) {
        self.station_c.clear();
        let Some(Follows { sun_k_per_w_m2, pace }) = Follows::of(plan) else { return };
        let Some(first) = weather.air_c.first() else { return };
        let mut cell_c = *first;
        self.station_c.extend(weather.air_c.iter().zip(&weather.ghi_w_m2).map(|(air, ghi)| {
            cell_c += pace * (air + sun_k_per_w_m2 * ghi - cell_c);
            cell_c
        }));
    }
}
