//! `[unit]`, `[arrival]` and `[[outlet]]`: what the label, the box and the sockets say.

use super::model::{Arrival, OutletTest, Unit};
use crate::scenario::fields::Fields;
use crate::scenario::forms::{Custom, Fault, Item};
use serde_json::json;

pub(super) fn unit(fields: &Fields) -> Option<Unit> {
    Some(Unit {
        rated_capacity: fields.get("rated_capacity")?,
        chemistry: fields.get("chemistry")?,
        inverter: fields.get("inverter"),
        solar_limit: fields.get("solar_limit"),
        model: fields.get("model"),
        serial_number: fields.get("serial_number"),
        cycles: fields.get("cycles"),
    })
}

/// Words that say that there is no damage.
fn no_damage(text: &str) -> bool {
    let plain = text.trim().trim_end_matches(['.', '!']).to_lowercase();
    let none = ["", "-", "none", "no", "nothing", "nil", "undamaged", "intact", "not damaged", "without damage"];
    let (first, rest) = plain.split_once(' ').unwrap_or((&plain, ""));
    let seen = rest
        .strip_suffix(" seen")
        .or_else(|| rest.strip_suffix(" noted"))
        .or_else(|| rest.strip_suffix(" visible"))
        .unwrap_or(rest);
    none.contains(&plain.as_str())
        || (["no", "none", "nothing"].contains(&first)
            && ["damage", "damages", "seen", "noted", "visible damage"].contains(&seen))
}

pub(super) fn arrival(fields: &Fields) -> Arrival {
    Arrival {
        date: fields.get("date"),
        damage: fields.get("damage").filter(|text: &String| !no_damage(text)),
        packing_list: fields.get("packing_list").unwrap_or_default(),
        found: fields.get("found").unwrap_or_default(),
        packaging_kept: fields.get("packaging_kept"),
        return_by: fields.get("return_by"),
        warranty_until: fields.get("warranty_until"),
        charge: fields.get("charge"),
    }
}

/// A list of texts; empty ones are passed over.
pub(in crate::scenario) const TEXTS: Custom<Vec<String>> = Custom {
    allowed: "a list of texts, like [\"station\", \"wall cable\"]",
    example: "[\"station\", \"wall cable\"]",
    read: read_texts,
    json: || json!({ "type": "array", "items": { "type": "string" } }),
};

fn read_texts(item: &Item) -> Result<Vec<String>, Fault> {
    let texts = |list: Vec<Item>| list.iter().map(|entry| Some(entry.value.as_str()?.trim().to_string())).collect();
    let texts: Option<Vec<String>> = item.entries().and_then(texts);
    let texts = texts.ok_or_else(|| Fault::new("must be a list of texts"))?;
    Ok(texts.into_iter().filter(|text| !text.is_empty()).collect())
}

pub(super) fn outlet(fields: &Fields) -> Option<OutletTest> {
    let (load, remark) = (fields.get("load"), fields.get("remark"));
    Some(OutletTest { name: fields.get("name")?, load, passed: fields.get("passed")?, remark })
}
