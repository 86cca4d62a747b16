//! What the benches share.

pub mod cpu;

use tideover::engine::Plan;
use tideover::engine::plan::Sky;
use tideover::scenario::model::Scenario;
use tideover::scenario::{Source, read};
use tideover::weather::world;

/// The kit that the goal is stated for: four steady or scheduled loads, 14 days.
pub const FOUR_LOADS: &str = include_str!("../four-loads.toml");

/// Reads and compiles a scenario on its climate of the built-in table.
pub fn compile(text: &str) -> (Scenario, Plan) {
    let (scenario, _, _) = read(&Source::new("bench.toml", text)).expect("a sound scenario");
    let climate = world::lookup(scenario.site.latitude_deg, scenario.site.longitude_deg, None).expect("land");
    let plan = Plan::compile(&scenario, &Sky::Climate(climate), 60).expect("a plan");
    (scenario, plan)
}
