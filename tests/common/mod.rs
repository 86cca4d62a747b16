//! What all tests from outside begin with.

#[macro_use]
#[allow(unused_macros, reason = "not every program of tests writes kits")]
mod kits;

use tideover::engine::Plan;
use tideover::engine::plan::Sky;
use tideover::scenario::{Scenario, Source, read};
use tideover::weather::{Climate, world};

/// The scenario that a text says; its problems end the test.
#[track_caller]
pub fn scenario_of(text: &str) -> Scenario {
    read(&Source::new("test.toml", text)).unwrap_or_else(|problems| panic!("{problems:?}\n{text}")).0
}

/// The built-in climate of its place.
#[track_caller]
pub fn climate_of(scenario: &Scenario) -> Climate {
    let site = &scenario.site;
    world::lookup(site.latitude_deg, site.longitude_deg, site.height.map(|h| h.0)).expect("a place on land")
}

/// The plan of a scenario under the built-in climate of its place, in steps of so many minutes.
#[track_caller]
pub fn plan_of(scenario: &Scenario, step_minutes: u32) -> Plan {
    Plan::compile(scenario, &Sky::Climate(climate_of(scenario)), step_minutes).expect("a sound scenario")
}
