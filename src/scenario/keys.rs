//! Every key of a scenario by section, for hints about keys in the wrong place.

/// A section's header and its keys.
pub(super) type Section = (&'static str, &'static [&'static str]);

/// Sections as they stand in a file, each with its keys.
pub(super) const KEYS: &[Section] = &[
    (
        "",
        &[
            "title", "site", "outage", "station", "panel", "load", "variant", "size", "strategy", "outages", "tariff",
            "wear",
        ],
    ),
    (
        "[site]",
        &["latitude", "longitude", "height", "timezone", "climate", "monthly_sun_kwh_m2_day", "ground_reflection"],
    ),
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
            "inverter",
            "dc_outlet",
            "usb",
            "solar_input",
        ],
    ),
    ("[[variant]]", &["name", "set", "without"]),
    ("[size]", &["target", "currency", "battery_steps", "panel_steps", "battery", "panels"]),
    ("[[size.battery]]", &["name", "capacity", "price", "weight"]),
    ("[[size.panels]]", &["name", "count", "price", "weight"]),
    ("[station.inverter]", &["rated", "surge", "idle", "efficiency", "sleeps"]),
    ("[station.dc_outlet]", &["limit", "efficiency", "idle"]),
    ("[station.usb]", &["limit", "efficiency", "idle"]),
    ("[station.solar_input]", &["limit", "volts_min", "volts_max", "amps_max", "efficiency"]),
    (
        "[[panel]]",
        &[
            "name",
            "count",
            "rated",
            "wiring",
            "tilt",
            "facing",
            "open_circuit_voltage",
            "max_power_voltage",
            "voltage_coefficient",
            "power_coefficient",
            "soiling",
            "cable_loss",
        ],
    ),
    (
        "[[load]]",
        &[
            "name",
            "outlet",
            "priority",
            "kind",
            "watts",
            "count",
            "hours",
            "duty",
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
