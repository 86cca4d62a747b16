//! Every key of a record by section, for hints about keys in the wrong place.

/// Sections as they stand in a file, each with its keys.
pub(super) const KEYS: &[(&str, &[&str])] = &[
    ("", &["title", "noise", "heat", "unit", "site", "arrival", "meter", "wall", "capacity", "solar", "outlet"]),
    ("[unit]", &["rated_capacity", "chemistry", "inverter", "solar_limit", "serial_number", "cycles"]),
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
    (
        "[arrival]",
        &["date", "damage", "packing_list", "found", "packaging_kept", "return_by", "warranty_until", "charge"],
    ),
    ("[[meter]]", &["name", "accuracy", "last_digit"]),
    (
        "[[capacity]]",
        &[
            "name", "outlet", "meter", "start", "stop", "lasted", "clock", "ambient", "from", "to", "energy", "load",
            "readings", "log",
        ],
    ),
    (
        "[[wall]]",
        &[
            "name", "meter", "start", "stop", "lasted", "clock", "ambient", "from", "to", "energy", "load", "readings",
            "log",
        ],
    ),
    (
        "[[solar]]",
        &[
            "name",
            "meter",
            "at",
            "watts",
            "rated",
            "sky",
            "air",
            "charge",
            "power_coefficient",
            "aim",
            "tilt",
            "facing",
        ],
    ),
    ("[[outlet]]", &["name", "load", "passed", "remark"]),
];
