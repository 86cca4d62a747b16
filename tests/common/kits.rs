//! Scenarios written shortly: sections of a file as text that is known when compiled, to be put together by `concat!`.

/// The place of most tests.
macro_rules! here {
    () => {
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n"
    };
}

/// Lines of keys: `key = "text"` is written with quotes, `key: 3` without.
macro_rules! keys {
    () => { "" };
    ($key:ident = $value:literal $(, $($rest:tt)*)?) => {
        concat!(stringify!($key), " = \"", $value, "\"\n", keys!($($($rest)*)?))
    };
    ($key:ident : $value:literal $(, $($rest:tt)*)?) => {
        concat!(stringify!($key), " = ", $value, "\n", keys!($($($rest)*)?))
    };
}

/// A section: its name and its keys.
macro_rules! section {
    ($name:literal $(, $($keys:tt)*)?) => { concat!("[", $name, "]\n", keys!($($($keys)*)?)) };
}

/// An entry of a list: its name and its keys.
macro_rules! entry {
    ($name:literal $(, $($keys:tt)*)?) => { concat!("[[", $name, "]]\n", keys!($($($keys)*)?)) };
}

/// A load: name, outlet, priority, watts and other keys.
macro_rules! load {
    ($name:literal, $outlet:literal, $priority:literal, $watts:literal $(, $($keys:tt)*)?) => {
        concat!(
            "[[load]]\nname = \"", $name, "\"\noutlet = \"", $outlet, "\"\npriority = \"", $priority,
            "\"\nwatts = \"", $watts, "\"\n", keys!($($($keys)*)?)
        )
    };
}

/// A kit on the sun with figures that are all known: title, rated and measured capacity.
#[allow(unused_macros, reason = "asked by some programs of tests alone")]
macro_rules! known_kit {
    ($title:literal, $rated:literal, $measured:literal) => {
        concat!(
            keys!(title = $title),
            here!(),
            section!("outage", month = "January", lasts = "4 days", starts_charged = "90 %"),
            section!(
                "station",
                rated_capacity = $rated,
                measured_capacity = $measured,
                measured_at = "dc",
                measured_load = "100 W",
                charge_efficiency = "97 %",
                discharge_efficiency = "97 %"
            ),
            section!("station.dc_outlet", limit = "200 W"),
            section!("station.solar_input", limit = "600 W"),
            entry!("panel", rated = "100 W", count: 3, wiring = "parallel", tilt = "60°", facing = "south"),
            load!("pump", "dc", "vital", "20 W", varies = "20 %"),
        )
    };
}
