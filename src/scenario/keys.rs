//! Every key of a scenario by section: for hints about keys in the wrong place, and for what setting a key means.

/// A section's header and its keys.
pub(super) type Section = (&'static str, &'static [&'static str]);

/// Sections as they stand in a file, each with its keys.
pub(super) const KEYS: &[Section] = &[
    (
        "",
        &[
            "title",
            "site",
            "outage",
            "station",
            "panel",
            "generator",
            "load",
            "seen",
            "variant",
            "size",
            "strategy",
            "outages",
            "tariff",
            "wear",
        ],
    ),
    (
        "[site]",
        &[
            "latitude",
            "longitude",
            "height",
            "timezone",
            "climate",
            "weather_from",
            "monthly_sun_kwh_m2_day",
            "ground_reflection",
        ],
    ),
    ("[[seen]]", &["from", "to", "sun_kwh_m2", "panel", "energy", "plus_minus"]),
    ("[outage]", &["month", "start", "lasts", "starts_charged", "begins_in_a_storm", "allow_unmet"]),
    (
        "[station]",
        &[
            "rated_capacity",
            "proved",
            "measured_capacity",
            "measured_at",
            "measured_load",
            "chemistry",
            "charge_to",
            "keep_above",
            "charge_efficiency",
            "discharge_efficiency",
            "charge_limit",
            "discharge_limit",
            "own_draw",
            "self_discharge",
            "state_of_health",
            "stands",
            "charges_between",
            "works_between",
            "self_heating",
            "heat_capacity",
            "heat_loss",
            "tapers_from",
            "inverter",
            "dc_outlet",
            "usb",
            "solar_input",
            "wall_charger",
        ],
    ),
    ("[[variant]]", &["name", "set", "without"]),
    ("[size]", &["target", "currency", "battery_steps", "panel_steps", "battery", "panels"]),
    ("[[size.battery]]", &["name", "capacity", "price", "weight"]),
    ("[[size.panels]]", &["name", "count", "price", "weight"]),
    ("[station.inverter]", &["rated", "surge", "idle", "efficiency", "sleeps"]),
    ("[station.dc_outlet]", &["limit", "efficiency", "idle", "cable"]),
    ("[station.usb]", &["limit", "efficiency", "idle"]),
    ("[station.solar_input]", &["limit", "volts_min", "volts_max", "amps_max", "efficiency"]),
    ("[station.wall_charger]", &["limit", "efficiency"]),
    ("[generator]", &["limit", "hours", "fuel_per_kwh"]),
    (
        "[[panel]]",
        &[
            "name",
            "count",
            "rated",
            "wiring",
            "tilt",
            "facing",
            "aim",
            "shade",
            "out",
            "open_circuit_voltage",
            "max_power_voltage",
            "voltage_coefficient",
            "power_coefficient",
            "soiling",
            "cable_loss",
            "cable",
        ],
    ),
    (
        "[[load]]",
        &[
            "like",
            "name",
            "outlet",
            "priority",
            "kind",
            "watts",
            "starting_watts",
            "count",
            "hours",
            "days",
            "duty",
            "profile",
            "energy_a_day",
            "holds",
            "charging_efficiency",
            "label",
            "label_room",
            "fridge_volume",
            "fridge_contents",
            "fridge_set",
            "freezer_volume",
            "freezer_contents",
            "freezer_set",
            "thermostat_band",
            "room",
            "door_openings",
            "food",
            "varies",
            "off_below",
            "could_use",
            "watts_there",
            "medical",
        ],
    ),
    (
        "[[strategy]]",
        &[
            "name",
            "charge_to",
            "rest_at",
            "top_up_every",
            "daily_use",
            "before_a_storm",
            "use_solar_daily",
            "stored_at",
            "charge_with",
        ],
    ),
    ("[outages]", &["frequency", "lasts", "history", "reliability", "season_weights", "in_bad_weather"]),
    ("[tariff]", &["price", "cheap", "cheap_hours", "station"]),
    ("[wear]", &["model", "resistance_grows"]),
];

/// The section that a key belongs to, if it is a key of exactly one; `path` is where it was found.
pub(super) fn section_with(sections: &'static [Section], key: &str, path: &str) -> Option<&'static str> {
    let mut homes = sections.iter().filter(|(_, keys)| keys.contains(&key)).map(|(section, _)| *section);
    let home = homes.next()?;
    match home {
        _ if homes.next().is_some() => None,
        "" if path.is_empty() => None,
        "" => Some("the top of the file"),
        _ => Some(home),
    }
}

/// What stands at a path of a scenario.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Standing {
    /// A section, or one entry of a list of sections: it holds keys, and what is set in it leaves its other keys alone.
    Section,
    /// A list of sections.
    List,
    /// A key: one value, however it is written.
    Value,
    /// Part of the value that the first so many segments of the path name.
    Within(usize),
    /// Nothing that a scenario has.
    Unknown,
}

/// What stands at a path: names of keys, and places or names of a list's entries.
pub(super) fn standing(path: &[&str]) -> Standing {
    let keys_of = |header: &str| KEYS.iter().find(|(section, _)| *section == header).map(|(_, keys)| *keys);
    // The section that the path has come to, and its keys.
    let (mut name, mut keys) = (String::new(), keys_of("").unwrap_or_default());
    let mut list: Option<&[&str]> = None;
    for (depth, segment) in path.iter().enumerate() {
        if let Some(of_each) = list.take() {
            keys = of_each;
            continue;
        }
        if !keys.contains(segment) {
            return Standing::Unknown;
        }
        let inner = super::source::join(&name, segment);
        if let Some(found) = keys_of(&format!("[{inner}]")) {
            keys = found;
        } else if let Some(of_each) = keys_of(&format!("[[{inner}]]")) {
            list = Some(of_each);
        } else if depth + 1 == path.len() {
            return Standing::Value;
        } else {
            return Standing::Within(depth + 1);
        }
        name = inner;
    }
    if list.is_some() { Standing::List } else { Standing::Section }
}
