//! Figures out of files of values.

/// A whole or a broken number.
#[track_caller]
pub fn number(value: &toml::Value) -> f64 {
    value.as_float().or_else(|| value.as_integer().map(|i| i as f64)).expect("a number")
}

/// The numbers of a list.
#[track_caller]
pub fn numbers(value: &toml::Value) -> Vec<f64> {
    value.as_array().expect("a list").iter().map(number).collect()
}
