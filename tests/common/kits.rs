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
