//! What the benches share.

pub mod cpu;

use tideover::engine::Plan;
use tideover::engine::plan::Sky;
use tideover::scenario::model::Scenario;
use tideover::scenario::{Source, read};
use tideover::weather::{Climate, Doubt, world};

/// The kit that the goal is stated for: four steady or scheduled loads, 14 days.
pub const FOUR_LOADS: &str = include_str!("../four-loads.toml");

/// Reads and compiles a scenario on its climate of the built-in table.
pub fn compile(text: &str) -> (Scenario, Plan) {
    let (scenario, _, _) = read(&Source::new("bench.toml", text)).expect("a sound scenario");
    let plan = Plan::compile(&scenario, &Sky::Climate(climate(&scenario)), 60).expect("a plan");
    (scenario, plan)
}

fn climate(scenario: &Scenario) -> Climate {
    world::lookup(scenario.site.latitude_deg, scenario.site.longitude_deg, None).expect("land")
}

/// The same with a climate of which nothing is unknown but the level of its sun.
pub fn compile_level(text: &str, level_sd: f64) -> (Scenario, Plan) {
    let (scenario, _, _) = read(&Source::new("bench.toml", text)).expect("a sound scenario");
    let climate = Climate { doubt: Doubt::of_level(level_sd), ..climate(&scenario) };
    let plan = Plan::compile(&scenario, &Sky::Climate(climate), 60).expect("a plan");
    (scenario, plan)
}
