//! Outages placed in a history of weather that was drawn elsewhere.

use super::{ClimateZ, History, Luck, Workspace};
use crate::engine::plan::Plan;
use crate::weather::WeatherTrace;

impl Workspace {
    /// Sets up an outage in a longer history of weather that begins at some midnight; several plans can then be run through
    /// it, as after [`Workspace::begin`].
    ///
    /// * `weather`, `begins` — the history and the day of the year on which it begins, 0 for 1 January.
    /// * `start` — step of the history at which the outage begins; `steps` — its length, at least 1; the history must
    ///   reach the end of the outage's last day (what is missing is left out).
    /// * `climate_z` — standard normal numbers behind the climate of that weather.
    pub fn place(
        &mut self,
        (weather, begins): (&WeatherTrace, u32),
        steps_a_day: usize,
        start: usize,
        steps: usize,
        climate_z: ClimateZ,
    ) -> History {
        let (day, first_step) = (start / steps_a_day, start % steps_a_day);
        let days = (first_step + steps).div_ceil(steps_a_day);
        let copy = |from: &[f64], into: &mut Vec<f64>, a_day: usize| {
            into.clear();
            let range = day * a_day..(day + days) * a_day;
            into.extend_from_slice(&from[range.start.min(from.len())..range.end.min(from.len())]);
        };
        copy(&weather.ghi_w_m2, &mut self.weather.ghi_w_m2, steps_a_day);
        copy(&weather.air_c, &mut self.weather.air_c, steps_a_day);
        copy(&weather.daily_clearness, &mut self.weather.daily_clearness, 1);
        copy(&weather.dni_w_m2, &mut self.weather.dni_w_m2, steps_a_day);
        copy(&weather.dhi_w_m2, &mut self.weather.dhi_w_m2, steps_a_day);
        self.supplies.begin();
        let in_reach = (self.weather.ghi_w_m2.len().saturating_sub(first_step)).min(steps);
        let first_day = (begins + day as u32) % 365;
        History { first_day, first_step, steps: in_reach, days, weekday: day % 7, charge_z: 0.0, climate_z }
    }

    /// What a plan's solar input can take of all its panels in each step of the weather in place, but for the input's
    /// watts \[W\].
    pub fn solar_power_w(&mut self, plan: &Plan, luck: Luck, history: &History) -> impl Iterator<Item = f64> {
        self.supplies.fill(plan, luck, history, &self.weather, &mut self.unknowns);
        (0..self.weather.ghi_w_m2.len()).map(|step| self.supplies.at(step, 0.0).usable_w)
    }
}
