//! A kit whose hours are known by hand, and what the program says of it.

use serde_json::Value;

use crate::program::{answered, json, unbroken, written};

/// 100 Wh without any loss, and no sun: watt-hours over watts are hours.
pub fn kit(outage: &str, station: &str, more: &str) -> String {
    format!(
        "title = \"exact\"\n[site]\nlatitude = 44.2\nlongitude = -72.6\ntimezone = \"-05:00\"\n[outage]\nmonth = \"January\"\n{outage}\n\
         starts_charged = \"100 %\"\n[station]\nrated_capacity = \"100 Wh ± 0 %\"\nown_draw = \"0 W\"\nself_discharge = \"0 %\"\n\
         loses_by_rate = \"0 %\"\ncharge_efficiency = \"100 % ± 0 %\"\ndischarge_efficiency = \"100 % ± 0 %\"\n{station}\n\
         [station.dc_outlet]\nlimit = \"120 W\"\nefficiency = \"100 %\"\nidle = \"0 W\"\n{more}"
    )
}

pub fn load(name: &str, watts: u32, more: &str) -> String {
    format!("[[load]]\nname = \"{name}\"\noutlet = \"dc\"\nwatts = \"{watts} W\"\n{more}\n")
}

pub const VITAL: &str = "priority = \"vital\"";

/// What a command says of a scenario, as text and for programs.
#[track_caller]
pub fn both(of: &str, test: &str, text: &str, arguments: &[&str]) -> (String, Value) {
    let file = written(of, test, text);
    let quiet: &[&str] = if arguments[0] == "check" { &[] } else { &["--quiet"] };
    let line = [&[arguments[0], &file], quiet, &arguments[1..]].concat();
    let json = if arguments[0] == "card" { Value::Null } else { json(&line) };
    (unbroken(answered(&line)), json)
}
