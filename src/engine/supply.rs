//! What could come in during each step of a trial: sun through panels, cables and the input's window, and the wall.

use std::sync::Arc;

use super::arrays::ArrayPlan;
use super::geometry::{ArrayGeometry, Yield};
use super::plan::Plan;
use super::step::Supply;
use super::trial::{History, Luck};
use super::wiring::AtInput;
use crate::random::Purpose;
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

/// Supplies of one trial, one value a step of its weather. Reused from trial to trial.
#[derive(Debug, Default)]
pub struct Supplies {
    at_input: Vec<AtInput<f32, 1>>,
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
}
