//! Every key of a record by section, for hints about keys in the wrong place.

const RUN: [&str; 12] =
    ["name", "start", "stop", "lasted", "from", "to", "clock", "energy", "load", "readings", "log", "ambient"];

/// Sections as they stand in a file, each with its keys.
pub(super) const KEYS: &[(&str, &[&str])] = &[
    ("", &["title", "noise", "heat", "unit", "site", "arrival", "meter", "wall", "capacity", "solar", "outlet"]),
    ("[unit]", &["rated_capacity", "chemistry", "inverter", "solar_limit", "cycles"]),
    ("[site]", &["latitude", "longitude", "height", "timezone", "climate", "ground_reflection"]),
    (
        "[arrival]",
        &["date", "damage", "packing_list", "found", "packaging_kept", "return_by", "warranty_until", "charge"],
    ),
    ("[[meter]]", &["name", "accuracy", "last_digit"]),
    ("[[capacity]]", &RUN),
    ("[[wall]]", &RUN),
    ("[[solar]]", &["name", "at", "watts", "rated", "aim", "tilt", "facing", "sky", "air", "power_coefficient"]),
    ("[[outlet]]", &["name", "passed", "remark"]),
];
