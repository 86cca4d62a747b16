//! The JSON Schema of a scenario against every scenario there is, by a small checker of its own.

use regex::Regex;
use serde_json::{Value as Json, json};
use std::fs;
use std::path::{Path, PathBuf};
use tideover::scenario::schema::json_schema;

/// What is wrong with a value by a schema: nothing, or where and what. Knows the words of JSON Schema (draft 2020-12) that
/// the schema uses, and no others: a new one fails the test.
pub(super) fn check(schema: &Json, value: &Json, at: &str) -> Result<(), String> {
    let wrong = |what: &str| Err(format!("{at} {what}: {value}"));
    if schema == &json!(false) {
        return wrong("must not be there");
    }
    let number = |word: &Json| word.as_f64().expect("a number in the schema");
    for (word, says) in schema.as_object().expect("a schema") {
        match word.as_str() {
            "$schema" | "title" | "description" | "default" | "examples" | "format" => {}
            "type" => {
                let fits = match says.as_str().expect("a type") {
                    "string" => value.is_string(),
                    "boolean" => value.is_boolean(),
                    "integer" => value.is_i64() || value.is_u64(),
                    "number" => value.is_number(),
                    "array" => value.is_array(),
                    "object" => value.is_object(),
                    "null" => value.is_null(),
                    other => panic!("type {other}"),
                };
                if !fits {
                    return wrong("is of another type");
                }
            }
            "enum" if !says.as_array().expect("words").contains(value) => return wrong("is none of the words"),
            "pattern" => {
                let pattern = Regex::new(says.as_str().expect("a pattern")).expect("a pattern that can be read");
                if value.as_str().is_some_and(|text| !pattern.is_match(text)) {
                    return wrong("does not fit the pattern");
                }
            }
            "minimum" if value.as_f64().is_some_and(|n| n < number(says)) => return wrong("is too small"),
            "exclusiveMinimum" if value.as_f64().is_some_and(|n| n <= number(says)) => return wrong("is too small"),
            "maximum" if value.as_f64().is_some_and(|n| number(says) < n) => return wrong("is too great"),
            "minItems" | "maxItems" => {
                let (length, limit) = (value.as_array().map(Vec::len), number(says) as usize);
                if length.is_some_and(|n| if word == "minItems" { n < limit } else { limit < n }) {
                    return wrong("has another number of entries");
                }
            }
            "items" => {
                for (place, entry) in value.as_array().into_iter().flatten().enumerate() {
                    check(says, entry, &format!("{at}.{place}"))?;
                }
            }
            "properties" => {
                for (key, inner) in value.as_object().into_iter().flatten() {
                    if let Some(property) = says.get(key) {
                        check(property, inner, &format!("{at}.{key}"))?;
                    }
                }
            }
            "additionalProperties" => {
                assert_eq!(says, &json!(false));
                let known = |key: &str| schema["properties"].get(key).is_some();
                if let Some(key) = value.as_object().into_iter().flatten().map(|(key, _)| key).find(|key| !known(key)) {
                    return wrong(&format!("has a key {key} that is not known"));
                }
            }
            "required" => {
                let lacks = |key: &&Json| value.is_object() && value.get(key.as_str().expect("a key")).is_none();
                if let Some(key) = says.as_array().expect("keys").iter().find(lacks) {
                    return wrong(&format!("lacks {key}"));
                }
            }
            "allOf" => {
                for all in says.as_array().expect("schemas") {
                    check(all, value, at)?;
                }
            }
            "if" => {
                if check(says, value, at).is_ok() {
                    check(&schema["then"], value, at)?;
                }
            }
            "then" => {}
            "anyOf" => {
                let ways: Vec<_> = says.as_array().expect("schemas").iter().map(|way| check(way, value, at)).collect();
                if ways.iter().all(Result::is_err) {
                    return ways.into_iter().next().expect("a way");
                }
            }
            "enum" | "minimum" | "exclusiveMinimum" | "maximum" => {}
            other => panic!("the checker does not know {other}"),
        }
    }
    Ok(())
}

/// TOML as JSON: dates become texts.
fn as_json(value: toml::Value) -> Json {
    match value {
        toml::Value::Datetime(time) => json!(time.to_string()),
        toml::Value::Array(list) => list.into_iter().map(as_json).collect(),
        toml::Value::Table(table) => table.into_iter().map(|(key, value)| (key, as_json(value))).collect(),
        other => serde_json::to_value(other).expect("a value"),
    }
}

fn files(folder: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut files: Vec<PathBuf> = fs::read_dir(folder)
        .expect("a folder")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|end| end == "toml"))
        .collect();
    files.sort();
    files
}

/// What the schema says of a file; nothing for one that is no TOML.
fn verdict(schema: &Json, path: &Path) -> Option<Result<(), String>> {
    let table: toml::Table = fs::read_to_string(path).expect("a file").parse().ok()?;
    Some(check(schema, &as_json(toml::Value::Table(table)), ""))
}

#[test]
fn every_sound_scenario_fits() {
    let schema = json_schema();
    let data = ["complete.toml", "smallest.toml"]
        .map(|name| Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(name));
    let starter = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/cli/starter.toml");
    let sound: Vec<PathBuf> = files("scenarios").into_iter().chain(data).chain([starter]).collect();
    assert!(12 < sound.len());
    for path in sound {
        assert_eq!(verdict(&schema, &path), Some(Ok(())), "{}", path.display());
    }
}

/// Refused by the reader for what JSON Schema cannot say: limits of quantities in texts (`lasts-too-long`), names that are
/// looked up (`like-misspelt`, `time-zone-unknown`), kinds of load that are not said (`steady-on-days`), and keys that clash
/// with or need each other.
const BEYOND_THE_SCHEMA: &[&str] = &[
    "cable-and-its-loss",
    "cable-without-volts",
    "capacity-zero",
    "charge-too-slow",
    "cooler-label-above-watts",
    "cooler-of-steel",
    "cooler-varies",
    "cooler-without-volume",
    "cuts-of-no-day",
    "efficiency-below-idle",
    "floor-above-ceiling",
    "fuel-of-unknown-thirst",
    "gauge-unknown",
    "generator-without-charger",
    "happens-without-cuts",
    "hours-overlap",
    "lasts-too-long",
    "like-another-kind",
    "like-misspelt",
    "mains-limit-without-cuts",
    "month-and-start",
    "name-with-escape",
    "no-vital-load",
    "only-solar-input-has-no-name",
    "outlet-lacking",
    "p95-below-median",
    "panel-without-input",
    "profile-with-watts",
    "proved-and-measured",
    "second-beside-a-generator",
    "second-that-stays",
    "second-without-charger",
    "shade-by-clock-and-sun",
    "shade-without-an-end",
    "solar-input-misspelt",
    "solar-inputs-without-names",
    "starts-on-less-than-it-runs",
    "steady-on-days",
    "surge-below-rated",
    "temperatures-reversed",
    "time-zone-unknown",
    "turned-panel-with-a-tilt",
    "two-loads-of-one-name",
    "uncertainty-above-value",
    "usb-port-too-weak",
    "volts-exceeded",
    "wakes-without-sleeping",
    "watts-there-alone",
    "which-solar-input",
    "wind-curve-falls",
    "wiring-against-count",
    "wiring-missing",
];

#[test]
fn wrong_keys_types_and_words_are_refused() {
    let schema = json_schema();
    let (mut refused, mut passed) = (0, Vec::new());
    for path in files("tests/wrong") {
        let told = fs::read_to_string(path.with_extension("txt")).expect("what the reader says");
        let name = path.file_stem().expect("a name").to_string_lossy().into_owned();
        // What is only doubted must pass; what is no TOML cannot be looked at.
        match (verdict(&schema, &path), told.starts_with("refused")) {
            (Some(Ok(())), true) => passed.push(name),
            (Some(Err(_)), true) => refused += 1,
            (Some(verdict), false) => assert_eq!(verdict, Ok(()), "{name} is only doubted"),
            (None, _) => {}
        }
    }
    assert_eq!(passed, BEYOND_THE_SCHEMA);
    assert!(30 < refused, "{refused}");
}

#[test]
fn every_key_says_what_it_means() {
    fn look(schema: &Json, at: &str) {
        for (key, inner) in schema["properties"].as_object().into_iter().flatten() {
            let told = inner["description"].as_str().unwrap_or_default();
            assert!(!told.is_empty(), "{at}.{key}");
            for below in [inner, &inner["items"]].into_iter().chain(inner["anyOf"].as_array().into_iter().flatten()) {
                look(below, &format!("{at}.{key}"));
            }
        }
    }
    look(&json_schema(), "");
    let watts = &json_schema()["properties"]["station"]["properties"]["own_draw"];
    assert_eq!(watts["default"], "3 W");
    assert!(
        watts["description"].as_str().is_some_and(|told| told.contains("power") && told.contains("when left out: 3 W"))
    );
}
