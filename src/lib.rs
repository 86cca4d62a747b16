//! Will a small battery, some panels and this weather carry what must stay on through an outage?
//!
//! A scenario names a place, an outage, a station (battery, inverter, outlets, solar input), panels and loads. From it comes a
//! [`Plan`](engine::Plan), in which everything that no chance can change is worked out once; the plan is taken through thousands
//! of outages, each with its own weather and its own draw of what is not known; the share of them in which no vital load went
//! without is the answer, and it never comes without its interval.
//!
//! ```
//! use tideover::engine::Plan;
//! use tideover::engine::plan::Sky;
//! use tideover::scenario::{Source, read};
//! use tideover::trials::run::{Quiet, Settings, run};
//! use tideover::trials::unknowns::survivals;
//! use tideover::weather::world;
//!
//! let text = r#"
//!     title = "Two winter days"
//!     [site]
//!     latitude = 44.2
//!     longitude = -72.6
//!     [outage]
//!     month = "January"
//!     lasts = "2 days"
//!     [station]
//!     rated_capacity = "1000 Wh"
//!     [station.inverter]
//!     rated = "600 W"
//!     [station.solar_input]
//!     limit = "200 W"
//!     [[panel]]
//!     rated = "100 W"
//!     tilt = "60°"
//!     facing = "south"
//!     [[load]]
//!     name = "router"
//!     outlet = "ac"
//!     priority = "vital"
//!     watts = "10 W"
//! "#;
//! let (scenario, _places, _remarks) = read(&Source::new("mine.toml", text)).map_err(|problems| problems[0].title())?;
//! let climate = world::lookup(scenario.site.latitude_deg, scenario.site.longitude_deg, None)?;
//! let plans = [Plan::compile(&scenario, &Sky::Climate(climate), 60)?];
//!
//! let settings = Settings { seed: 1, trials: 1_000, precision: None };
//! let tallies = run(&plans, &settings, &Quiet);
//! let survival = &survivals(&plans, &tallies, &settings, &Quiet)[0];
//! println!(
//!     "on through {:.0} of 100 ({:.0}-{:.0}), {} outages simulated",
//!     100.0 * survival.probability, 100.0 * survival.interval.low, 100.0 * survival.interval.high, survival.trials
//! );
//! assert!(survival.interval.low <= survival.probability && survival.probability <= survival.interval.high);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! Data flows one way through the modules: [`units`], [`calendar`] and [`random`]; [`sky`], [`weather`], [`scenario`], [`kit`]
//! and [`loads`]; [`engine`], [`trials`] and [`ageing`]; [`study`] (the questions) and [`report`] (what is shown). Each equation
//! with its source and its limits: docs/model.md beside the source; more programs: `examples/`.
//!
//! Bare numbers wear their unit in their name (`stored_wh`, `ghi_w_m2`, `tilt_deg`); what a file says is read into the types of
//! [`units`]. Without the feature `cli` the library has no threads, files or clock.
//!
//! What it prints is a calculation, not advice: follow makers' manuals and local codes, leave what is wired into a house to a
//! licensed electrician, and settle a plan for a medical device with its maker and whoever prescribed it.

#[cfg(test)]
#[macro_use]
#[path = "../tests/common/kits.rs"]
mod kits;

pub mod ageing;
pub mod ask;
pub mod calendar;
pub mod engine;
pub mod kit;
pub mod linear;
pub mod loads;
mod math;
pub mod open;
mod packed;
#[cfg(feature = "page")]
pub mod page;
pub mod places;
pub mod random;
pub mod report;
pub mod scenario;
pub mod sky;
mod statistics;
pub mod study;
pub mod trials;
pub mod units;
pub mod visible;
pub mod weather;
