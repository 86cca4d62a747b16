//! Kits to pick from, each as lines of a scenario: those of a catalogue, or a unit as its bench tests left it.

use serde::Serialize;
use toml::Table;

use super::Trouble;
use crate::open::{Files, OpenError, proof};
use crate::scenario::Source;
use crate::scenario::catalogue;
use crate::units::one_reading;

#[derive(Serialize)]
struct Offer {
    /// Name of the money, empty where there is none.
    currency: String,
    kits: Vec<Kit>,
}

#[derive(Serialize)]
struct Kit {
    name: String,
    price: Option<f64>,
    weight_kg: Option<f64>,
    /// `[station]`, `[[panel]]` and what belongs to them.
    text: String,
}

/// Whether a text is a catalogue, a kit file or a record of bench tests: a file that kits can be picked from.
#[must_use]
pub fn offers_kits(text: &str) -> bool {
    text.parse::<Table>().is_ok_and(|table| {
        catalogue::is_catalogue(&table) || ["figures", "unit"].iter().any(|key| table.contains_key(*key))
    })
}

/// Names of files that the kits of a catalogue speak of, as they are written; none for other files.
#[must_use]
pub fn named_by_kits(text: &str) -> Vec<String> {
    let mut named = Vec::new();
    if let Ok(mut table) = text.parse::<Table>()
        && catalogue::is_catalogue(&table)
    {
        catalogue::file_names(&mut table, &mut |name| {
            named.push(name.to_string());
            None
        });
    }
    named
}

/// Kits of a file as JSON.
///
/// * `latitude_deg` — where they stand, north positive: panels that do not say how they stand look to the midday sun there.
///
/// # Errors
/// What is wrong with the file, or that it offers none.
pub fn kits(files: &dyn Files, name: &str, latitude_deg: f64) -> Result<String, Trouble> {
    let text = files.text(name).map_err(Trouble::Question)?;
    let offer = if text.parse::<Table>().is_ok_and(|table| catalogue::is_catalogue(&table)) {
        let source = Source::new(files.shown(name), text);
        let (catalogue, _) =
            catalogue::read(&source).map_err(|problems| Trouble::Open(OpenError::refused(&source, problems)))?;
        let kit = |kit: &catalogue::CatalogueKit| Kit {
            name: kit.name.clone(),
            price: kit.price,
            weight_kg: kit.weight_kg,
            text: catalogue::alone(kit, latitude_deg),
        };
        Offer { kits: catalogue.kits.iter().map(kit).collect(), currency: catalogue.currency }
    } else {
        let proved = proof::kit(files, name)?;
        let value = |text: &str| toml::Value::from(text).to_string();
        let mut text = format!("[station]\nrated_capacity = \"{} Wh\"\n", one_reading(proved.rated_capacity.0));
        text.push_str(&format!("proved = {}\n", value(name)));
        if let Some(inverter) = proved.inverter {
            text.push_str(&format!("\n[station.inverter]\nrated = \"{} W\"\n", one_reading(inverter.0)));
        }
        Offer { currency: String::new(), kits: vec![Kit { name: proved.title, price: None, weight_kg: None, text }] }
    };
    Ok(serde_json::to_string(&offer).unwrap_or_default())
}
