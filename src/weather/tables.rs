//! The figures that one day's stochastic weather is drawn from, as plain numbers: for showing them, and for other programs
//! that draw the same weather and are compared with this one.

use serde::Serialize;

use super::spells::{EDGE, NODES, NODES_PER_UNIT};
use super::{Kind, WeatherPlan};
use crate::math;

/// One day of the year. Hours are those of the civil day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DayTables {
    /// The day's clearness \[–\] at latent scores from −6 to 6, eight a unit; straight between.
    pub clearness: Vec<f64>,
    /// κ of the spells: how much longer bright ones last.
    pub settled: f64,
    /// φ of the spells, from one day to the next.
    pub spell_persistence: f64,
    /// Weights of spells, slow part and the day's own number in the latent score.
    pub weights: [f64; 3],
    /// Mean clearness of each hour over the day's \[–\].
    pub profile: [f64; 24],
    /// Highest clearness of each hour \[–\].
    pub ceiling: [f64; 24],
    /// Extraterrestrial horizontal irradiance of each hour \[W/m²\].
    pub light_w_m2: Vec<f64>,
    /// The day's sum of it \[Wh/m²\].
    pub total_wh_m2: f64,
    /// First hour with light, and one past the last.
    pub lit: (usize, usize),
    /// Clearness of a cloudless day \[–\].
    pub cloudless: f64,
    /// Mean clearness \[–\].
    pub mean_clearness: f64,
    /// Spread of hourly clearness over Graham & Hollands' \[–\].
    pub hourly_spread: f64,
    /// Lag-1 autocorrelation of the hourly disturbance.
    pub hourly_persistence: f64,
    /// Mean of the daily mean air temperature \[°C\].
    pub air_mean_c: f64,
    /// Its standard deviation \[K\].
    pub air_sd_k: f64,
    /// Mean range of a day's air temperature \[K\].
    pub air_swing_k: f64,
    /// Lag-1 autocorrelation of daily means.
    pub air_persistence: f64,
    /// Weights of the spells' fresh number, of the day's own and of the air's own in the fresh part of the air.
    pub air_weights: [f64; 3],
    /// Course of the air temperature over the hours: mean 0, range 1.
    pub air_shape: Vec<f64>,
}

impl WeatherPlan {
    /// What a day of the year (0 for 1 January, taken modulo 365) is drawn from; `None` for replayed records and for
    /// steps other than an hour.
    #[must_use]
    pub fn day_tables(&self, day: u32) -> Option<DayTables> {
        let at = day as usize % 365;
        let Kind::Stochastic(seasons) = &self.kind else { return None };
        if self.sky.steps_per_hour() != 1 {
            return None;
        }
        let (day, sky) = (seasons.day(at), self.sky.day(at));
        // h grows by e^κ from one unit to the next.
        let h = |x: f64| day.shape.at(x);
        Some(DayTables {
            clearness: day
                .clearness_lanes(&std::array::from_fn::<f64, NODES, _>(|k| k as f64 / NODES_PER_UNIT - EDGE))
                .to_vec(),
            settled: math::ln((h(2.0) - h(1.0)) / (h(1.0) - h(0.0))),
            spell_persistence: day.phi,
            weights: day.weights,
            profile: day.profile,
            ceiling: day.ceiling,
            light_w_m2: sky.hours.to_vec(),
            total_wh_m2: sky.total_wh_m2,
            lit: sky.light,
            cloudless: day.cloudless,
            mean_clearness: day.mean_clearness,
            hourly_spread: day.hourly_spread,
            hourly_persistence: day.hourly_persistence,
            air_mean_c: day.air_mean_c,
            air_sd_k: day.air_sd_k,
            air_swing_k: day.air_swing_k,
            air_persistence: day.air_persistence,
            air_weights: day.air_weights,
            air_shape: (0..24).map(|hour| self.sky.air_at(at, hour).1).collect(),
        })
    }
}

#[cfg(test)]
mod tests;
