//! Keys of a scenario as an owner calls them: by the thing that they belong to, in plain words.

use crate::scenario::model::Scenario;

/// What a key of the file belongs to: its own name where it has one, "the panels \"railing\"".
fn thing(key: &str, scenario: &Scenario) -> String {
    let mut parts = key.split('.');
    let (section, rest) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
    let place = rest.parse::<usize>().ok();
    // Places are counted from 0 in keys, from 1 by people.
    let numbered = |what: &str| place.map_or_else(|| format!("the {what}"), |place| format!("{what} {}", place + 1));
    match (section, rest) {
        ("station", "inverter") => "the inverter".into(),
        ("station", "dc_outlet") => "the 12 V outlet".into(),
        ("station", "usb") => "the USB outlet".into(),
        ("station", "solar_input") => match parts.next().and_then(|place| place.parse::<usize>().ok()) {
            Some(place) => format!("solar input {}", place + 1),
            None => "the solar input".into(),
        },
        ("station", "wall_charger") => "the wall charger".into(),
        ("panel", _) => match place.and_then(|place| scenario.panels.get(place)) {
            Some(panel) if panel.name != numbered("panel") => format!("the panels \"{}\"", panel.name),
            _ => numbered("panel"),
        },
        ("load", _) => match place.and_then(|place| scenario.loads.get(place)) {
            Some(load) => format!("the {}", load.name),
            None => numbered("load"),
        },
        ("source", _) => match place.and_then(|place| scenario.sources.get(place)) {
            Some(source) => format!("the {}", source.name),
            None => numbered("source"),
        },
        (section, _) => format!("the {section}"),
    }
}

/// What a key says: "the wiring of the panels \"railing\"", "the inverter's draw with nothing on it"; the thing itself where a sentence
/// about that reads as well.
pub fn subject(key: &str, scenario: &Scenario) -> String {
    let thing = thing(key, scenario);
    match key.rsplit('.').next().unwrap_or_default() {
        "idle" => format!("{thing}'s draw with nothing on it"),
        "wiring" => format!("the wiring of {thing}"),
        "cable" => format!("the cable of {thing}"),
        "open_circuit_voltage" => format!("the open-circuit voltage of {thing}"),
        "max_power_voltage" => format!("the voltage at best power of {thing}"),
        "rated_capacity" => "the capacity on the label".into(),
        "measured_capacity" => "the capacity that was measured".into(),
        "stands" => format!("where {thing} stands"),
        "chemistry" => "the frost where it stands".into(),
        "limit" | "amps_max" if key.contains("solar_input") => format!("what {thing} takes"),
        "limit" | "discharge_limit" => format!("what {thing} gives"),
        "allow_unmet" => "what may be missed".into(),
        "starting_watts" => format!("the start of {thing}"),
        "tolerates" => format!("the gap that {thing} bears"),
        "watts" => format!("the draw of {thing}"),
        _ => thing,
    }
}

/// Where a key stands in a file: "wiring under panel", "idle under station.inverter"; nothing for a section itself.
pub fn in_the_file(key: &str) -> Option<String> {
    // Which of several entries it is the name tells.
    let parts: Vec<&str> = key.split('.').filter(|part| part.parse::<usize>().is_err()).collect();
    let (last, sections) = parts.split_last()?;
    let a_section = matches!(*last, "inverter" | "dc_outlet" | "usb" | "solar_input" | "wall_charger");
    (!sections.is_empty() && !a_section).then(|| format!("{last} under {}", sections.join(".")))
}
