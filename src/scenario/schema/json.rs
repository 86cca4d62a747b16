//! The JSON Schema of a scenario, for editors.

use super::{Holds, Key, SCENARIO, Section};
use crate::scenario::forms::{any_case, text_like};
use serde_json::{Map, Value as Json, json};

/// The JSON Schema (draft 2020-12) of a scenario, as it stands once its TOML is turned into JSON. Editors complete and check
/// keys by it. What it cannot say, the reader checks: limits of quantities with units, and keys that clash or need each other.
#[must_use]
pub fn json_schema() -> Json {
    let mut schema = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "tideover scenario",
        "description": "a place, an outage, a kit and what must stay on",
    });
    if let (Some(schema), Json::Object(root)) = (schema.as_object_mut(), SCENARIO.json()) {
        schema.extend(root);
    }
    schema
}

impl Section {
    /// The JSON Schema of a section's table.
    pub fn json(&self) -> Json {
        let properties: Map<String, Json> = self.keys.iter().map(|key| (key.name.to_string(), key.json())).collect();
        let like = self.key("like").is_some();
        let required = self.keys.iter().filter(|key| key.required_of(None) && key.not_for.is_none() && !like);
        let required: Vec<&str> = required.map(|key| key.name).collect();
        let kinds: Vec<Json> = self.kinds.iter().map(|(kind, _)| self.json_of(kind)).collect();
        let mut schema =
            json!({ "type": "object", "properties": properties, "required": required, "additionalProperties": false });
        if let (Some(schema), false) = (schema.as_object_mut(), kinds.is_empty()) {
            schema.insert("allOf".into(), kinds.into());
        }
        schema
    }

    /// What holds where this kind is said: keys that it lacks, and keys that it needs where nothing stands in for them.
    fn json_of(&self, kind: &str) -> Json {
        let foreign = self.keys.iter().filter(|key| key.foreign_to(kind));
        let foreign: Map<String, Json> = foreign.map(|key| (key.name.to_string(), json!(false))).collect();
        let needed = self.keys.iter().filter(|key| key.needed_by.contains(&kind));
        let needed: Vec<&str> = needed.map(|key| key.name).collect();
        json!({
            "if": { "properties": { "kind": text_like(&any_case(kind, "")) }, "required": ["kind"] },
            "then": { "properties": foreign, "anyOf": [{ "required": ["like"] }, { "required": needed }] },
        })
    }
}

impl Key {
    fn json(&self) -> Json {
        let mut schema = match &self.holds {
            Holds::Value(form) => form.json(),
            Holds::One(section) => section.json(),
            Holds::Many(section) => json!({ "type": "array", "items": section.json() }),
            Holds::Few(section) => {
                json!({ "anyOf": [section.json(), { "type": "array", "items": section.json() }] })
            }
        };
        let mut told = vec![self.text.to_string(), self.values()];
        if !self.only.is_empty() {
            told.push(format!("for kind {}", self.only.join(", ")));
        }
        let left_out = self.left_out();
        told.push(match left_out.as_str() {
            words if words.is_empty() || words.starts_with("required") => left_out,
            words => format!("when left out: {words}"),
        });
        told.retain(|part| !part.is_empty());
        if let Some(schema) = schema.as_object_mut() {
            schema.insert("description".into(), told.join("; ").replace(['`', '*'], "").into());
            if let [("", value)] = self.otherwise.values[..] {
                let written =
                    format!("v = {value}").parse::<toml::Table>().ok().and_then(|mut table| table.remove("v"));
                let value = written.map_or(json!(value), |value| serde_json::to_value(value).unwrap_or_default());
                schema.insert("default".into(), value);
            }
        }
        schema
    }
}
