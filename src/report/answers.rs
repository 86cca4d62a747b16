//! JSON Schema of the answers (draft 2020-12), made from one table: `answers/keys.txt`, one line a key.

use serde_json::{Map, Value, json};

use super::json::SCHEMA_VERSION;
use crate::engine::ledger::Flow;

const TABLE: &str = include_str!("answers/keys.txt");

/// A line of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Line {
    section: &'static str,
    path: &'static str,
    form: &'static str,
    words: &'static str,
}

fn lines() -> impl Iterator<Item = Line> {
    let mut section = "";
    TABLE.lines().filter_map(move |line| {
        if let Some(name) = line.strip_prefix('[').and_then(|rest| rest.strip_suffix(']')) {
            section = name;
            return None;
        }
        let (head, words) = line.split_once(" = ").filter(|_| !line.starts_with('#'))?;
        let (path, form) = head.split_once(' ')?;
        Some(Line { section, path, form, words })
    })
}

/// The answers that there is a schema of: what stands under `kind` in their JSON.
#[must_use]
pub fn kinds() -> Vec<&'static str> {
    let mut kinds: Vec<&str> = lines().map(|line| line.section).filter(|section| *section != "shapes").collect();
    kinds.dedup();
    kinds
}

/// The schema of an answer; `None` for a kind that there is not.
#[must_use]
pub fn json_schema(kind: &str) -> Option<Value> {
    let of: Vec<Line> = lines().filter(|line| line.section == kind && kind != "shapes").collect();
    if of.is_empty() {
        return None;
    }
    let mut schema = object("", &of);
    let head = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": format!("Answer of tideover {}, kind {kind}", env!("CARGO_PKG_VERSION")),
        "description": "More keys may be there. schema_version is raised when a key goes or changes its meaning.",
    });
    let known = [
        ("kind", json!({ "enum": [kind], "description": "which answer this is" })),
        ("schema_version", json!({ "enum": [SCHEMA_VERSION], "description": "version of this schema" })),
        ("version", json!({ "type": "string", "description": "version of the program" })),
    ];
    let (properties, required): (Vec<_>, Vec<_>) =
        known.map(|(key, value)| ((key.to_string(), value), json!(key))).into_iter().unzip();
    add(&mut schema, properties, required);
    let mut out = head;
    if let (Some(out), Value::Object(schema)) = (out.as_object_mut(), schema) {
        out.extend(schema);
    }
    Some(out)
}

fn add(schema: &mut Value, properties: Vec<(String, Value)>, required: Vec<Value>) {
    if let Some(all) = schema.get_mut("properties").and_then(Value::as_object_mut) {
        all.extend(properties);
    }
    if let Some(all) = schema.get_mut("required").and_then(Value::as_array_mut) {
        all.extend(required);
    }
}

/// The object at a path: its keys are the lines one level below, and those of a shape that stands at the path itself.
fn object(path: &str, lines: &[Line]) -> Value {
    let mut schema = json!({ "type": "object", "properties": {}, "required": [] });
    for line in lines {
        let Some(rest) = line.path.strip_prefix(path) else { continue };
        let key = if path.is_empty() { rest } else { rest.strip_prefix('.').unwrap_or(rest) };
        if rest.is_empty() && !path.is_empty() {
            // The keys of a shape stand among the object's own.
            if let Some(shape) = shape(line.form) {
                let of = |part: &str| shape.get(part).cloned().unwrap_or_default();
                if let (Value::Object(keys), Value::Array(needed)) = (of("properties"), of("required")) {
                    add(&mut schema, keys.into_iter().collect(), needed);
                }
            }
            continue;
        }
        let below = path.is_empty() || rest.starts_with('.');
        if !below || key.contains(['.', '[']) {
            continue;
        }
        let (name, always) = key.strip_suffix('~').map_or((key, true), |name| (name, false));
        let mut value = form(line, lines);
        if let Some(value) = value.as_object_mut() {
            value.insert("description".into(), json!(line.words));
        }
        let required = if always { vec![json!(name)] } else { Vec::new() };
        add(&mut schema, vec![(name.to_string(), value)], required);
    }
    schema
}

/// A shape by its name.
fn shape(name: &str) -> Option<Value> {
    let of: Vec<Line> = lines().filter(|line| line.section == "shapes").collect();
    of.iter().any(|line| line.path.split_once('.').is_some_and(|(shape, _)| shape == name)).then(|| object(name, &of))
}

/// What a line's value looks like.
fn form(line: &Line, lines: &[Line]) -> Value {
    let (form, null) = line.form.strip_suffix('?').map_or((line.form, false), |form| (form, true));
    let plain = form.trim_end_matches("[]");
    let deep = (form.len() - plain.len()) / 2;
    let path = line.path.trim_end_matches('~').to_string() + &"[]".repeat(deep);
    let mut value = match plain {
        "text" => json!({ "type": "string" }),
        "flag" => json!({ "type": "boolean" }),
        "whole" => json!({ "type": "integer", "minimum": 0 }),
        "number" => json!({ "type": "number" }),
        "part" => json!({ "type": "number", "minimum": 0, "maximum": 1 }),
        "object" if path == "energy" => account(),
        "object" => object(&path, lines),
        shaped => shape(shaped).unwrap_or(json!(false)),
    };
    for _ in 0..deep {
        value = json!({ "type": "array", "items": value });
    }
    if null { json!({ "anyOf": [value, { "type": "null" }] }) } else { value }
}

/// The account: every flow by its name.
fn account() -> Value {
    let flow = |flow: Flow| (flow.name().to_string(), json!({ "type": "number" }));
    let flows: Map<String, Value> = Flow::ALL.into_iter().map(flow).collect();
    let names: Vec<&String> = flows.keys().collect();
    json!({ "type": "object", "required": names, "properties": flows })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_of_the_table_has_a_form_that_is_known_and_words() {
        let plain = |form: &str| ["text", "flag", "whole", "number", "part", "object"].contains(&form);
        for line in lines() {
            let form = line.form.trim_end_matches('?').trim_end_matches("[]");
            assert!(plain(form) || shape(form).is_some(), "{line:?}");
            assert!(!line.words.is_empty(), "{line:?}");
        }
        // Nothing else than comments and heads is passed over.
        let told = TABLE.lines().filter(|line| !line.is_empty() && !line.starts_with(['#', '[']));
        assert_eq!(told.count(), lines().count());
    }

    #[test]
    fn a_shape_at_an_entry_lends_it_its_keys() {
        let schema = json_schema("comparison").expect("a schema");
        let variant = &schema["properties"]["variants"]["items"];
        assert_eq!(variant["properties"]["told_apart"]["type"], "boolean");
        assert_eq!(variant["properties"]["survival"]["properties"]["low"]["maximum"], 1);
        assert!(variant["required"].as_array().is_some_and(|keys| keys.contains(&json!("rescued"))));
        assert_eq!(json_schema("shapes"), None);
    }
}
