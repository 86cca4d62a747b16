//! The scenario file: reading, validation, messages.
//!
//! ```
//! use tideover::scenario::{Paint, Source, read, render};
//! let source = Source::new("mine.toml", "[station]\nrated_capacity = 600\n");
//! let problems = read(&source).unwrap_err();
//! assert!(render(&source, &problems, Paint::Plain).contains("write \"600 Wh\""));
//! ```
//!
//! # Defaults
//!
//! What a file may leave out, and what is assumed then. Unless a source is named the figures are typical and without a
//! source: a label, or a test of one's own, is better.
//!
//! | key | default | why |
//! | --- | --- | --- |
//! | `title` | "Untitled" | |
//! | `site.height` | not known | |
//! | `site.timezone` | whole hour nearest to the sun | from the longitude |
//! | `site.climate` | "world" | the built-in table |
//! | `site.weather_from` | "replay" | only with an hourly record |
//! | `site.monthly_sun_kwh_m2_day` | the climate's own | |
//! | `site.ground_reflection` | 20 % | grass and soil, the usual figure |
//! | `outage.starts_charged` | 80 %, or `charge_to` where that is less | cautious: few stations stand full |
//! | `outage.begins_in_a_storm` | false | |
//! | `outage.allow_unmet` | 0 Wh | |
//! | `station.measured_at` | "ac" | the usual bench test |
//! | `station.measured_load` | 0.2 W per Wh of `rated_capacity` | empty in five hours, common practice |
//! | `station.proved` | none | |
//! | `station.chemistry` | "LFP" | |
//! | `station.charge_to` | 100 % | |
//! | `station.keep_above` | 0 %, lead-acid 50 % | half-full rule of lead-acid, common practice |
//! | `station.charge_efficiency`, `discharge_efficiency` | 97 % ± 2 %, lead-acid 90 % ± 5 % | one way |
//! | `station.state_of_health` | 100 % | |
//! | `station.stands` | "indoors" | 20 °C |
//! | `station.charges_between` | 0 to 45 °C, lead-acid -20 to 50 °C | |
//! | `station.works_between` | -20 to 60 °C, lead-acid -20 to 50 °C | |
//! | `station.self_heating` | none | |
//! | `station.heat_capacity` | 4 Wh/K for each kWh of `rated_capacity`, lead-acid 8.3 Wh/K | |
//! | `station.heat_loss` | what makes a lag of 3 h | |
//! | `station.tapers_from` | 95 %, NMC 85 %, lead-acid 80 % | |
//! | `station.charge_limit` | 1 W for each Wh, lead-acid 0.2 W | |
//! | `station.discharge_limit` | none but the outlets' | |
//! | `station.own_draw` | 3 W | |
//! | `station.self_discharge` | 3 %, lead-acid 5 % in 30 days | |
//! | `station.inverter.surge` | not known | |
//! | `station.inverter.idle` | 1.5 % of `rated`, at least 5 W, at most the least loss of `efficiency` | on the high side |
//! | `station.inverter.efficiency` | 90 % at half load, less where `idle` and 4 % of the load lose more | |
//! | `station.inverter.sleeps` | false | |
//! | `station.dc_outlet.efficiency`, `idle` | 93 %, 1 W | |
//! | `station.dc_outlet.cable` | none | |
//! | `station.usb.efficiency`, `idle` | 90 %, 0.5 W | |
//! | `station.wall_charger.efficiency` | 90 % | |
//! | `station.solar_input.efficiency` | 97 % | |
//! | `station.solar_input.volts_min`, `volts_max`, `amps_max` | no limit known | |
//! | `panel.name` | "panel 1", "panel 2" ... | |
//! | `panel.count` | 1, or what `wiring` multiplies to | |
//! | `panel.wiring` | none for one panel, required for several | |
//! | `panel.aim` | "fixed" | |
//! | `panel.tilt`, `facing` | required where fixed, `facing` not for a panel that lies flat | |
//! | `panel.shade` | none | |
//! | `panel.out` | always | |
//! | `panel.open_circuit_voltage` | not known | |
//! | `panel.max_power_voltage` | 82 % of the open-circuit voltage | |
//! | `panel.voltage_coefficient` | the table of NEC 690.7(A), beside -0.3 %/K | |
//! | `panel.power_coefficient` | -0.4 %/K | |
//! | `panel.soiling`, `cable_loss` | 3 %, 2 % | |
//! | `panel.cable` | `cable_loss` | |
//! | `generator.fuel_per_kwh` | not known | |
//! | `load.like` | none; with it, everything that the library says of the appliance ([`appliances`]) | |
//! | `load.kind` | by what is given: "profile", "cooler" with `label`, "charge" with `energy_a_day`, "duty", "schedule" with `hours`, else "steady" | |
//! | `load.days` | every day | |
//! | `load.holds` | what a day takes | cautious: the device bridges one day |
//! | `load.charging_efficiency` | 80 % | charger and battery of small devices |
//! | `load.label_room` | 25 °C | cautious: labels tested warmer read high, never low |
//! | `load.fridge_contents` | 0.15 kg a litre | a household's fridge on an ordinary day |
//! | `load.freezer_contents` | 0.25 kg a litre | half full |
//! | `load.fridge_set`, `freezer_set` | 3 °C, -18 °C | usual advice |
//! | `load.thermostat_band` | 2 K | |
//! | `load.room` | "indoors": 21 °C, or as warm as outdoors where that is warmer | no air conditioning in an outage |
//! | `load.door_openings` | 10 a day | few: one knows that the power is out |
//! | `load.food` | "lost above 4 °C for 2 h" | USDA FSIS: 40 °F, two hours |
//! | `seen.plus_minus` | 5 %, with a panel 8 % | typical meters, and a panel's dirt |
//! | `size.target` | 95 % | |
//! | `size.battery`, `battery_steps` | eight sizes from half to four times the scenario's own | |
//! | `size.panels`, `panel_steps` | none to twice the scenario's own, and two more | |
//! | `load.count` | 1 | |
//! | `load.varies` | 0 % | |
//! | `load.off_below`, `could_use`, `starting_watts` | none | |
//! | `load.watts_there` | the same as `watts` | |
//! | `load.medical` | false | |
//! | `strategy.charge_to`, `rest_at` | the station's `charge_to`, the strategy's `charge_to` | |
//! | `strategy.top_up_every` | plugged in and held | |
//! | `strategy.stored_at` | 22 °C | a room |
//! | `strategy.charge_with` | a fifth of the capacity in an hour | |
//! | `outages.season_weights` | all months alike | |
//! | `outages.in_bad_weather` | 50 % | on the cautious side |
//! | `wear.model`, `resistance_grows` | "worst", false | cautious |

pub mod appliances;
pub mod catalogue;
pub mod model;
pub mod problem;
pub mod record;
pub mod source;
pub mod years;

mod amount;
mod charger;
mod checks;
mod clock;
mod cooler;
mod fields;
mod forms;
mod keys;
mod light;
mod load;
mod nearest;
mod outage;
mod outlets;
mod panel;
mod read;
mod render;
mod seen;
mod site;
mod size;
mod station;
mod syntax;
pub mod variant;
mod wire;

pub use model::Scenario;
pub use problem::{Level, Problem};
pub use read::read;
pub use render::{Paint, render};
pub use source::{Places, Source};

#[cfg(test)]
mod tests;
