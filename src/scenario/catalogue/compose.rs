//! A kit, a case and a place put together to an ordinary scenario.

use toml::{Table, Value};

use super::{Case, CatalogueKit};
use crate::scenario::outage::MONTHS;

/// A place on the globe.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Latitude \[°\], north positive.
    pub latitude_deg: f64,
    /// Longitude \[°\], east positive.
    pub longitude_deg: f64,
}

/// Least and greatest slope of a panel whose kit does not say one \[°\]: rain should still clean it, and in the far north
/// a wall is as steep as it gets. Common practice, no source.
const TILT: (f64, f64) = (15.0, 65.0);

/// The text of the scenario that a cell of the line-up is.
///
/// * `at` — another place than the case's own. Everything that belongs to a place (height, time zone, climate, ground)
///   then falls back on the defaults, and where it lies in the other half of the globe than the case's own, a month is
///   moved by six: a winter storm stays one.
///
/// A panel that does not say how it stands looks to the midday sun, tilted by the latitude (within 15° to 65°): common
/// practice, no source.
#[must_use]
pub fn compose(kit: &CatalogueKit, case: &Case, at: Option<Spot>) -> String {
    let mut root = case.table.clone();
    if let Some(spot) = at {
        let site = Table::from_iter([
            ("latitude".to_string(), Value::Float(spot.latitude_deg)),
            ("longitude".to_string(), Value::Float(spot.longitude_deg)),
        ]);
        root.insert("site".into(), Value::Table(site));
        if let (Some(own), Some(month)) = (case.own, case.month)
            && (own.latitude_deg < 0.0) != (spot.latitude_deg < 0.0)
            && let Some(outage) = root.get_mut("outage").and_then(Value::as_table_mut)
        {
            let month = MONTHS.names[usize::from((month + 5) % 12)].0;
            outage.insert("month".into(), Value::String(month.into()));
        }
    }
    root.insert("title".into(), Value::String(format!("{}: {}", case.title, kit.name)));
    let mut parts = kit.parts.clone();
    let latitude_deg = at.or(case.own).map_or(0.0, |spot| spot.latitude_deg);
    panels_stand(&mut parts, latitude_deg);
    if let Some(station) = parts.get_mut("station").and_then(Value::as_table_mut) {
        station.extend(case.life.clone());
    }
    root.extend(parts);
    // A table of strings, numbers and tables can always be written.
    toml::to_string(&root).unwrap_or_default()
}

/// The kit's own part of a scenario: `[station]` and `[[panel]]`, its panels as in [`compose`].
///
/// * `latitude_deg` — where they stand, north positive.
#[must_use]
pub fn alone(kit: &CatalogueKit, latitude_deg: f64) -> String {
    let mut parts = kit.parts.clone();
    panels_stand(&mut parts, latitude_deg);
    toml::to_string(&parts).unwrap_or_default()
}

fn panels_stand(parts: &mut Table, latitude_deg: f64) {
    for panel in parts.get_mut("panel").and_then(Value::as_array_mut).into_iter().flatten() {
        if let Some(panel) = panel.as_table_mut() {
            stand(panel, latitude_deg);
        }
    }
}

/// Fills in how a panel stands.
fn stand(panel: &mut Table, latitude_deg: f64) {
    let fixed = |aim: &Value| aim.as_str().is_some_and(|aim| aim.trim().eq_ignore_ascii_case("fixed"));
    if panel.get("aim").is_some_and(|aim| !fixed(aim)) {
        return;
    }
    if !panel.contains_key("tilt") {
        let tilt = latitude_deg.abs().round().clamp(TILT.0, TILT.1);
        panel.insert("tilt".into(), Value::String(format!("{tilt:.0}°")));
    }
    if !panel.contains_key("facing") {
        let facing = if latitude_deg < 0.0 { "north" } else { "south" };
        panel.insert("facing".into(), Value::String(facing.into()));
    }
}

/// Texts in a table that may be names of files: every text with a dot in it but titles and names. `change` sees each and
/// may put another in its place.
pub fn file_names(table: &mut Table, change: &mut impl FnMut(&str) -> Option<String>) {
    for (key, value) in table.iter_mut() {
        if key != "name" && key != "title" {
            file_names_in(value, change);
        }
    }
}

fn file_names_in(value: &mut Value, change: &mut impl FnMut(&str) -> Option<String>) {
    match value {
        Value::String(text) if text.contains('.') => {
            if let Some(other) = change(text) {
                *text = other;
            }
        }
        Value::Array(list) => list.iter_mut().for_each(|entry| file_names_in(entry, change)),
        Value::Table(table) => file_names(table, change),
        _ => {}
    }
}
