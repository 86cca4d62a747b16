//! A catalogue of kits, and the use cases that they are held against.
//!
//! A kit is the part of a scenario that can be bought: `[station]` and `[[panel]]`. A case is the rest: `[site]`,
//! `[outage]` and `[[load]]`. Put together they are an ordinary scenario, read by the ordinary reader, so that whatever a
//! scenario may say, a kit and a case may say too.

mod case;
mod compose;
mod read;
mod table;

pub use case::Case;
pub use compose::{Spot, alone, compose, file_names};
pub(super) use read::ANYTHING;
pub use read::{is_catalogue, read};

use super::problem::Problem;
use super::source::{Places, Source};
use crate::units::{Quantity, Volts};
use toml::{Table, Value};

/// A catalogue that was read.
#[derive(Debug, Clone)]
pub struct Catalogue {
    /// Name of the money that prices are in, possibly empty.
    pub currency: String,
    /// The kits in the order of the file, at least one.
    pub kits: Vec<CatalogueKit>,
    places: Places,
}

impl Catalogue {
    /// Finds the place in the file of a problem with one of the kits, given by the key as a scenario has it
    /// (`station.inverter.rated`).
    #[must_use]
    pub fn locate(&self, kit: usize, problem: Problem) -> Problem {
        self.places.locate(of_kit(kit, problem))
    }
}

/// Something to buy: a station and its panels.
#[derive(Debug, Clone)]
pub struct CatalogueKit {
    /// What to call it; no two kits share a name.
    pub name: String,
    /// What it costs, panels included, where given.
    pub price: Option<f64>,
    /// What it weighs, panels included, where given \[kg\].
    pub weight_kg: Option<f64>,
    /// Capacity by the label \[Wh\].
    pub capacity_wh: f64,
    /// Rated power of all panels \[W\].
    pub panels_w: f64,
    /// Rated power of one string of the first array, if there is one \[W\].
    pub string_w: Option<f64>,
    /// Whether the station has a solar input.
    pub takes_sun: bool,
    /// `station` and `panel` as written.
    pub parts: Table,
}

/// Power of the panel that [`CatalogueKit::with_a_first_panel`] adds \[W\]: the usual folding panel. Common practice, no source.
pub const FIRST_PANEL_W: f64 = 100.0;

impl CatalogueKit {
    /// The kit with one 100 W panel, for a kit that has a solar input and no panel; `None` for others. The volts are those
    /// of a usual panel of 36 cells (common practice, no source).
    #[must_use]
    pub fn with_a_first_panel(&self) -> Option<CatalogueKit> {
        if !self.takes_sun || self.string_w.is_some() {
            return None;
        }
        let text = |text: &str| Value::String(text.to_string());
        let panel = Table::from_iter([
            ("rated".to_string(), text("100 W")),
            ("open_circuit_voltage".to_string(), text("22 V")),
            ("max_power_voltage".to_string(), text("18 V")),
        ]);
        let mut kit = self.clone();
        kit.parts.insert("panel".into(), Value::Array(vec![Value::Table(panel)]));
        (kit.panels_w, kit.string_w) = (FIRST_PANEL_W, Some(FIRST_PANEL_W));
        Some(kit)
    }

    /// The kit with one of its arrays wired like this, and of as many panels; `None` where it has no such array.
    ///
    /// * `array` — from 0; `series`, `parallel` — 1 or more.
    #[must_use]
    pub fn rewired(&self, array: usize, (series, parallel): (u32, u32)) -> Option<CatalogueKit> {
        let mut kit = self.clone();
        let panel = kit.parts.get_mut("panel")?.as_array_mut()?.get_mut(array)?.as_table_mut()?;
        let number = |n: u32| Value::Integer(n.into());
        let wiring = Table::from_iter([("series".into(), number(series)), ("parallel".into(), number(parallel))]);
        panel.insert("wiring".into(), Value::Table(wiring));
        panel.insert("count".into(), number(series * parallel));
        Some(kit)
    }

    /// The kit without the most volts that its solar input takes, and these: to look at panels that are beyond them.
    #[must_use]
    pub fn without_volts_max(&self) -> Option<(CatalogueKit, Volts)> {
        let mut kit = self.clone();
        // Of several inputs it is not known which stands in the way.
        let input = kit.parts.get_mut("station")?.get_mut("solar_input")?.as_table_mut()?;
        let most = Volts::parse(input.remove("volts_max")?.as_str()?).ok()?;
        Some((kit, most))
    }

    /// A kit that never stands in a case's way, to look at the case alone: everything is there and more than enough.
    ///
    /// # Panics
    /// Never: the text is a constant, and a test reads it.
    #[must_use]
    pub fn neutral() -> CatalogueKit {
        const TEXT: &str = "station = { rated_capacity = \"1000 kWh\", inverter = { rated = \"100 kW\", surge = \"200 kW\", idle = \"10 W\" }, \
             dc_outlet = { limit = \"100 kW\" }, usb = { limit = \"100 kW\" }, solar_input = { limit = \"100 kW\" }, \
             wall_charger = { limit = \"100 kW\" } }\n\
             panel = [{ rated = \"100 W\", open_circuit_voltage = \"22 V\" }]";
        CatalogueKit {
            name: "any kit".into(),
            price: None,
            weight_kg: None,
            capacity_wh: 1e6,
            panels_w: 100.0,
            string_w: Some(100.0),
            takes_sun: true,
            parts: TEXT.parse().unwrap_or_default(),
        }
    }
}

/// A problem of a scenario that stands in a catalogue's kit: its keys lie under that kit.
fn of_kit(kit: usize, mut problem: Problem) -> Problem {
    let under = |key: &str| {
        let own = ["station", "panel"]
            .iter()
            .any(|part| key.strip_prefix(part).is_some_and(|rest| rest.is_empty() || rest.starts_with('.')));
        if own { format!("kit.{kit}.{key}") } else { format!("kit.{kit}") }
    };
    problem.key = under(&problem.key);
    (problem.span, problem.whose) = (None, None);
    if let Some(mark) = &mut problem.second {
        (mark.key, mark.span) = (under(&mark.key), None);
    }
    problem.help = problem.help.map(|help| help.replace("[station", "[kit.station").replace("[[panel", "[[kit.panel"));
    problem
}

/// The mark of an unknown key belongs on the key, any other on its value.
fn place(places: &Places, source: &Source, mut problem: Problem) -> Problem {
    let last = problem.key.rsplit('.').next().unwrap_or_default();
    if let Some(found) = places.get(&problem.key)
        && source.text.get(found.key.clone()) == Some(last)
        && problem.what.starts_with("is not a known")
    {
        problem.span = Some(found.key.clone());
    }
    places.locate(problem)
}

#[cfg(test)]
mod tests;
