//! What tests of the engine's parts begin with.

use super::plan::{Plan, Sky};
use super::rig::Rig;
use crate::scenario::model::Scenario;
use crate::scenario::{Source, read};
use crate::weather::world;

/// A station of a kilowatt-hour and what else a text says, for a day in March.
pub(super) fn scenario(rest: &str) -> Scenario {
    let text = format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nmonth = \"March\"\nlasts = \"1 day\"\n\
         [station]\nrated_capacity = \"1 kWh\"\n[station.dc_outlet]\nlimit = \"200 W\"\n[station.inverter]\nrated = \"500 W\"\n{rest}\n"
    );
    read(&Source::new("test.toml", &text)).unwrap_or_else(|problems| panic!("{problems:?}\n{text}")).0
}

/// Its plan by the hour.
pub(super) fn plan(rest: &str) -> Plan {
    let climate = world::lookup(44.2, -72.6, None).expect("land");
    Plan::compile(&scenario(rest), &Sky::Climate(climate), 60).expect("a plan")
}

/// A load of some outlet and whatever else is said of it.
pub(super) fn load(name: &str, outlet: &str, more: &str) -> String {
    format!("[[load]]\nname = \"{name}\"\noutlet = \"{outlet}\"\npriority = \"vital\"\n{more}\n")
}

/// That two numbers are the same but for rounding.
#[track_caller]
pub(super) fn same(a: f64, b: f64) {
    assert!((a - b).abs() <= 1e-12 * b.abs().max(1.0), "{a} and not {b}");
}

/// A kit of which no two figures are alike, and that charges ever slower near full.
pub(super) fn uneven() -> Rig {
    Rig {
        floor_wh: 110.0,
        ceiling_wh: 930.0,
        charge_efficiency: 0.92,
        discharge_efficiency: 0.88,
        charge_limit_w: 260.0,
        charge_base_w: 310.0,
        discharge_limit_w: 420.0,
        taper_wh: 150.0,
        self_discharge_per_h: 0.04,
        solar_limit_w: 90.0,
        solar_efficiency: 0.8,
        wall_efficiency: 0.7,
        ..Rig::ideal(1_000.0, 470.0)
    }
}
