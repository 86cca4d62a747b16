//! Sun that the owner measured narrows the climate.

use thiserror::Error;

use crate::engine::plan::{PlanError, Sky};
use crate::engine::{Plan, TrialSeed, Workspace};
use crate::math;
use crate::random::Purpose;
use crate::scenario::model::{Scenario, Seen, SeenSun};
use crate::statistics::mean;
use crate::units::NORMAL_95;
use crate::weather::{Climate, Climates, Drawn, Opening, WeatherTrace};

/// Histories that what was to be expected is read off.
const HISTORIES: u64 = 100;
/// How much more stretches of days differ between years than the days' own chance makes them (weather/README.md).
const YEARS_DIFFER: f64 = 1.33;
/// Change of the sun that the slope of a panel's yield is read off.
const CHANGE: f64 = 0.1;
/// A reading this many times above or below what was to be expected is a slip and no weather.
const BEYOND_BELIEF: f64 = 3.0;

/// Why a reading cannot be taken in.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum SeenError {
    /// No panel of that name.
    #[error("names a panel that is not there: {0}")]
    NoPanel(String),
    /// There is no sun in those days.
    #[error("falls into days without light")]
    Dark,
    /// Too far from what can be.
    #[error(
        "is {times:.1} times what these days give on the mean ({expected} {unit}); a slip of units, or days on which the battery was full?"
    )]
    Unlikely {
        /// Found over expected.
        times: f64,
        /// Expected sum.
        expected: String,
        /// Its unit.
        unit: &'static str,
    },
    /// The kit cannot be worked out.
    #[error(transparent)]
    Plan(#[from] PlanError),
}

/// The climate after what the owner measured, reading by reading.
///
/// A panel's yield is compared with what the same panel would have given in the days of the best estimate; its power's own ±
/// counts as the reading's.
///
/// # Errors
/// The place of the reading in the list, and [`SeenError`].
pub fn learn(scenario: &Scenario, climate: Climate) -> Result<Climate, (usize, SeenError)> {
    let mut climate = climate;
    for (k, seen) in scenario.seen.iter().enumerate() {
        climate = after(scenario, climate, seen).map_err(|error| (k, error))?;
    }
    Ok(climate)
}

fn after(scenario: &Scenario, climate: Climate, seen: &Seen) -> Result<Climate, SeenError> {
    let mut alone = scenario.clone();
    if let SeenSun::Panel { panel, .. } = &seen.sun {
        alone.panels.retain(|other| other.name == *panel);
        if alone.panels.is_empty() {
            return Err(SeenError::NoPanel(panel.clone()));
        }
    }
    let plan = Plan::compile(&alone, &Sky::Climate(climate.clone()), 60)?;
    let sums = |factor: f64| -> Vec<f64> { (0..HISTORIES).map(|trial| sum(&plan, seen, factor, trial)).collect() };
    let best = sums(1.0);
    let expected = mean(&best);
    let (found, unit) = match &seen.sun {
        SeenSun::Level { kwh_m2 } => (1000.0 * kwh_m2, "kWh/m²"),
        SeenSun::Panel { energy, .. } => (energy.0, "kWh"),
    };
    if expected <= 0.0 {
        return Err(SeenError::Dark);
    }
    let times = found / expected;
    if !(1.0 / BEYOND_BELIEF..=BEYOND_BELIEF).contains(&times) {
        return Err(SeenError::Unlikely { times, expected: format!("{:.1}", expected / 1000.0), unit });
    }
    let slope =
        math::ln(mean(&sums(1.0 + CHANGE)) / mean(&sums(1.0 - CHANGE))) / math::ln((1.0 + CHANGE) / (1.0 - CHANGE));
    let variance = best.iter().map(|sum| math::powi(sum / expected - 1.0, 2)).sum::<f64>() / (best.len() - 1) as f64;
    let panels: f64 = plan.arrays.iter().map(|array| math::powi(array.rated_w_sd / array.rated_w.max(1e-9), 2)).sum();
    let of_panel = if matches!(seen.sun, SeenSun::Panel { .. }) { panels } else { 0.0 };
    let reading = math::powi(seen.plus_minus.0 / NORMAL_95, 2);
    let sd = (reading + of_panel + YEARS_DIFFER * YEARS_DIFFER * variance).sqrt();
    let slope = slope.max(0.2);
    let (least, most) = possible(seen.days);
    if !(least..=most).contains(&(mean_clearness(&plan, seen) * math::exp(math::ln(times) / slope))) {
        return Err(SeenError::Unlikely { times, expected: format!("{:.1}", expected / 1000.0), unit });
    }
    Ok(climate.with_seen(seen.first_day, seen.days, math::ln(times) / slope, sd / slope))
}

/// Mean clearness that some days can have: that of a month as of an almanac's figure, single days up to a cloudless one.
fn possible(days: u32) -> (f64, f64) {
    if days < 20 { (0.01, 0.86) } else { (0.08, 0.80) }
}

/// Mean clearness of the best estimate over the days \[–\], by their light.
fn mean_clearness(plan: &Plan, seen: &Seen) -> f64 {
    let days = (0..seen.days).filter_map(|k| plan.season.weather.day_tables(seen.first_day + k));
    let (sum, light) = days
        .fold((0.0, 0.0), |(sum, light), day| (sum + day.mean_clearness * day.total_wh_m2, light + day.total_wh_m2));
    if light > 0.0 { sum / light } else { 0.0 }
}

/// What one history gives over the days \[Wh/m² or Wh\].
fn sum(plan: &Plan, seen: &Seen, factor: f64, trial: u64) -> f64 {
    let rng = TrialSeed { seed: 0, trial };
    let season = &plan.season;
    let mut weather = WeatherTrace::default();
    let drawn = [Drawn::scaled(factor)];
    let mut stream = rng.stream(Purpose::Weather);
    season.weather.generate(
        seen.first_day,
        seen.days,
        &Opening::Any,
        &mut stream,
        Climates::Steady(&drawn),
        &mut weather,
    );
    match seen.sun {
        SeenSun::Level { .. } => weather.ghi_w_m2.iter().sum::<f64>() * season.step_h,
        SeenSun::Panel { .. } => {
            let mut workspace = Workspace::new();
            let steps = seen.days as usize * season.steps_a_day;
            let numbers = [0.0; crate::weather::bend::NUMBERS];
            let whole = workspace.place((&weather, seen.first_day), season.steps_a_day, 0, steps, numbers);
            workspace.solar_power_w(plan, rng, &whole).iter().sum::<f64>() * season.step_h
        }
    }
}
