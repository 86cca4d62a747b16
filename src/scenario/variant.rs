//! Variants of a scenario: a name and the keys that differ.
//!
//! A key is one value and is replaced whole, whether that value is a number, a list or a table in braces. A section is merged
//! into: the keys that are set in it change, its others stay. Which is which, the table of keys tells, for a variant in the
//! file and one on the command line alike.

use serde_json::json;
use toml::de::DeValue;
use toml::{Table, Value};

use super::fields::Fields;
use super::forms::{Custom, Fault, Item};
use super::model::Variant;
use super::problem::{Level, Problem};
use super::schema::{PathKind, standing};
use super::source::{Source, join};
use super::{Scenario, read};

/// Reads one `[[variant]]`.
pub(super) fn read_one(fields: &Fields) -> Option<Variant> {
    Some(Variant {
        name: fields.get("name")?,
        set: fields.get("set").unwrap_or_default(),
        without: fields.get("without").unwrap_or_default(),
    })
}

/// Keys and what they are set to.
pub(super) const SETTINGS: Custom<Vec<(String, Value)>> = Custom {
    allowed: "a table of keys and values, like { \"panel.0.tilt\" = \"30°\" }",
    example: "{ \"panel.0.tilt\" = \"30°\" }",
    read: read_settings,
    json: || json!({ "type": "object" }),
};

fn read_settings(item: &Item) -> Result<Vec<(String, Value)>, Fault> {
    let table = item.value.as_table().ok_or_else(|| Fault::new("must name what differs"))?;
    Ok(table.iter().map(|(key, value)| (key.get_ref().to_string(), plain(value.get_ref()))).collect())
}

/// Entries to leave out.
pub(super) const REMOVALS: Custom<Vec<String>> = Custom {
    allowed: "a list of entries, like [\"load.radio\"]",
    example: "[\"load.radio\"]",
    read: read_removals,
    json: || json!({ "type": "array", "items": { "type": "string" } }),
};

fn read_removals(item: &Item) -> Result<Vec<String>, Fault> {
    let texts = |list: Vec<Item>| list.iter().map(|entry| Some(entry.value.as_str()?.to_string())).collect();
    item.entries().and_then(texts).ok_or_else(|| Fault::new("must name what is left out"))
}

/// A value of the file without its places.
pub(super) fn plain(value: &DeValue) -> Value {
    match value {
        DeValue::String(text) => Value::String(text.to_string()),
        DeValue::Integer(number) => i64::from_str_radix(number.as_str(), number.radix())
            .map_or_else(|_| Value::String(number.as_str().to_string()), Value::Integer),
        DeValue::Float(number) => {
            number.as_str().parse().map_or_else(|_| Value::String(number.as_str().to_string()), Value::Float)
        }
        DeValue::Boolean(yes) => Value::Boolean(*yes),
        DeValue::Datetime(time) => Value::Datetime(*time),
        DeValue::Array(list) => Value::Array(list.iter().map(|entry| plain(entry.get_ref())).collect()),
        DeValue::Table(table) => {
            Value::Table(table.iter().map(|(key, value)| (key.get_ref().to_string(), plain(value.get_ref()))).collect())
        }
    }
}

/// A variant written on a command line: `key=value`, several joined by `;`.
///
/// # Errors
/// What is wrong, in a sentence.
pub fn from_words(words: &str) -> Result<Variant, String> {
    let mut set = Vec::new();
    for part in words.split(';').map(str::trim).filter(|part| !part.is_empty()) {
        let (key, value) = part.split_once('=').ok_or_else(|| {
            format!("`{part}` sets nothing; write KEY=VALUE, like station.charge_to=90 % or \"load.fridge.watts=60 W\"")
        })?;
        let (key, value) = (key.trim(), value.trim());
        let value = format!("v = {value}")
            .parse::<Table>()
            .ok()
            .and_then(|mut table| table.remove("v"))
            .unwrap_or_else(|| Value::String(value.to_string()));
        set.push((key.to_string(), value));
    }
    if set.is_empty() {
        return Err("nothing is set; write KEY=VALUE, like station.charge_to=90 %".into());
    }
    Ok(Variant { name: words.trim().to_string(), set, without: Vec::new() })
}

/// What an entry of a list is called: its name, or the appliance that it is like, whose name it has then.
fn called(entry: &Value) -> Option<&str> {
    let table = entry.as_table()?;
    table.get("name").or_else(|| table.get("like"))?.as_str()
}

/// The entry of a list that a path segment means: its place from 0, or its name.
fn entry(list: &[Value], list_path: &str, segment: &str) -> Result<usize, String> {
    let named: Vec<Option<&str>> = list.iter().map(called).collect();
    let names: Vec<&str> = named.iter().flatten().copied().collect();
    if let Some(at) = named.iter().position(|name| *name == Some(segment)) {
        return Ok(at);
    }
    match segment.parse::<usize>() {
        Ok(at) if at < list.len() => Ok(at),
        _ => {
            let mut text =
                format!("`{list_path}` has no entry `{segment}`; allowed: 0 to {}", list.len().saturating_sub(1));
            if !names.is_empty() {
                text.push_str(&format!(", or a name: {}", names.join(", ")));
            }
            if let Some(near) = super::nearest::nearest(segment, names) {
                text.push_str(&format!("; did you mean `{near}`?"));
            }
            Err(text)
        }
    }
}

/// Sets a key, or the keys of a section.
fn set(root: &mut Table, path: &str, value: Value) -> Result<(), String> {
    let segments: Vec<&str> = path.split('.').map(str::trim).collect();
    if segments.iter().any(|segment| segment.is_empty()) {
        return Err(format!("`{path}` is not a key; write it like panel.0.tilt"));
    }
    match (standing(&segments), value) {
        (PathKind::Section | PathKind::List, Value::Table(keys)) if !keys.is_empty() => {
            // A new name comes last: the path may go by the old one.
            let (name, others): (Vec<_>, Vec<_>) = keys.into_iter().partition(|(key, _)| key == "name");
            others.into_iter().chain(name).try_for_each(|(key, value)| set(root, &join(path, &key), value))
        }
        (PathKind::Within(depth), _) => {
            let key = segments[..depth].join(".");
            let now = value_at(root, &segments[..depth]).map_or(String::new(), |now| format!(", now {key}={now}"));
            Err(format!("`{path}` is a part of `{key}`, which is one value: write it whole{now}"))
        }
        (_, value) => replace(root, &segments, value),
    }
}

/// What stands under a path.
fn value_at<'v>(root: &'v Table, segments: &[&str]) -> Option<&'v Value> {
    let (first, rest) = segments.split_first()?;
    let mut here = root.get(*first)?;
    for (depth, segment) in rest.iter().enumerate() {
        here = match here {
            Value::Array(list) => list.get(entry(list, &segments[..=depth].join("."), segment).ok()?)?,
            other => other.get(*segment)?,
        };
    }
    Some(here)
}

/// Puts a value in the place of what stands under a path, or adds it.
fn replace(root: &mut Table, segments: &[&str], value: Value) -> Result<(), String> {
    let (last, way) = segments.split_last().unwrap_or((&"", &[]));
    let mut here: Option<&mut Value> = None;
    for (depth, segment) in way.iter().enumerate() {
        let so_far = segments[..depth].join(".");
        here = Some(match here {
            None => root.entry((*segment).to_string()).or_insert_with(|| Value::Table(Table::new())),
            Some(Value::Table(table)) => {
                table.entry((*segment).to_string()).or_insert_with(|| Value::Table(Table::new()))
            }
            Some(Value::Array(list)) => {
                let at = entry(list, &so_far, segment)?;
                &mut list[at]
            }
            Some(_) => return Err(format!("`{so_far}` holds one value and has no key `{segment}`")),
        });
    }
    match here {
        None => {
            root.insert((*last).to_string(), value);
        }
        Some(Value::Table(table)) => {
            table.insert((*last).to_string(), value);
        }
        Some(Value::Array(list)) => {
            let at = entry(list, &way.join("."), last)?;
            list[at] = value;
        }
        Some(_) => return Err(format!("`{}` holds one value and has no key `{last}`", way.join("."))),
    }
    Ok(())
}

fn remove(root: &mut Table, path: &str) -> Result<(), String> {
    let Some((list_name, name)) = path.split_once('.') else {
        return root.remove(path).map(|_| ()).ok_or_else(|| format!("there is no `{path}` to leave out"));
    };
    match root.get_mut(list_name) {
        Some(Value::Array(list)) => {
            let at = entry(list, list_name, name)?;
            list.remove(at);
            if list.is_empty() {
                root.remove(list_name);
            }
            Ok(())
        }
        Some(Value::Table(table)) => {
            table.remove(name).map(|_| ()).ok_or_else(|| format!("there is no `{path}` to leave out"))
        }
        _ => Err(format!("there is no `{list_name}` to leave `{name}` out of")),
    }
}

/// A load that a variant moves to the outlet it `could_use` has made the move: the offer is over.
fn moved_loads(root: &mut Table) {
    let loads = root.get_mut("load").and_then(Value::as_array_mut);
    for load in loads.into_iter().flatten().filter_map(Value::as_table_mut) {
        if load.get("outlet").is_some() && load.get("outlet") == load.get("could_use") {
            load.remove("could_use");
            load.remove("watts_there");
        }
    }
}

/// The text that sets what is missing, where a variant sets a number of panels and not how they are wired.
///
/// * `wrong` — the key that was found wrong; `on_the_line` — whether the variant was written on a command line.
fn wiring_to_set(variant: &Variant, wrong: &str, on_the_line: bool) -> Option<String> {
    let set_too = |key: &str| variant.set.iter().any(|(path, _)| path == key);
    let count = |(path, count): &(String, Value)| {
        let panel = path.strip_suffix(".count").filter(|panel| panel.starts_with("panel."))?;
        let wiring = format!("{panel}.wiring");
        (wrong.starts_with("panel.") && wrong.ends_with(".wiring") && !set_too(&wiring))
            .then(|| (wiring, count.clone()))
    };
    let (wiring, count) = variant.set.iter().find_map(count)?;
    let both = |word: &str| {
        let panel = wiring.trim_end_matches(".wiring");
        if on_the_line {
            format!("\"{panel}.count={count}; {wiring}={word}\"")
        } else {
            format!("set = {{ \"{panel}.count\" = {count}, \"{wiring}\" = \"{word}\" }}")
        }
    };
    Some(format!(
        "say how they are wired too, {} or {}: in series their volts add up, in parallel their amps",
        both("parallel"),
        both("series")
    ))
}

/// The scenario with a variant's differences made.
///
/// * `key` — where the variant stands in the file (`variant.0`), for messages; empty for one from a command line.
///
/// # Errors
/// What cannot be set or left out, and whatever makes the changed scenario unusable, each marked at the variant.
pub fn vary(source: &Source, variant: &Variant, key: &str) -> Result<Scenario, Vec<Problem>> {
    let at = |part: &str| join(key, part);
    let told = |what: String| {
        let what = if key.is_empty() { format!("with {}: {what}", variant.name) } else { what };
        vec![Problem::error(if key.is_empty() { String::new() } else { at("set") }, what)]
    };
    let mut root: Table = source.text.parse().map_err(|_| told("cannot be set in a file that is not TOML".into()))?;
    for (path, value) in &variant.set {
        set(&mut root, path, value.clone()).map_err(|what| told(format!("cannot be set: {what}")))?;
    }
    for path in &variant.without {
        remove(&mut root, path).map_err(|what| told(format!("cannot leave out: {what}")))?;
    }
    root.remove("variant");
    moved_loads(&mut root);
    let text = toml::to_string(&root).map_err(|_| told("cannot be written as TOML".into()))?;
    let changed = Source::new(source.name.clone(), text);
    match read(&changed) {
        Ok((scenario, _, _)) => Ok(scenario),
        Err(problems) => Err(problems
            .into_iter()
            .filter(|problem| problem.level == Level::Error)
            .map(|problem| {
                let label = problem.label();
                let sentence = format!(
                    "makes a scenario that cannot be used: {}{}{label}",
                    problem.title(),
                    if label.is_empty() { "" } else { "; " }
                );
                let mut told = told(sentence).remove(0);
                told.help = wiring_to_set(variant, &problem.key, key.is_empty()).or(problem.help);
                told
            })
            .collect()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COMPLETE: &str = include_str!("../../tests/data/complete.toml");

    #[track_caller]
    fn varied(words: &str) -> Result<Scenario, String> {
        let source = Source::new("s.toml", COMPLETE);
        let variant = from_words(words)?;
        vary(&source, &variant, "").map_err(|problems| problems[0].title())
    }

    #[test]
    fn entries_are_found_by_place_and_by_name() {
        assert_eq!(varied("load.lamp.count=2").unwrap().loads[1].watts.value.0, 12.0);
        assert_eq!(varied("load.1.count = 2").unwrap().loads[1].watts.value.0, 12.0);
        let both = varied("station.charge_to=90 %; outage.month=July").unwrap();
        assert_eq!(both.station.charge_to.0, 0.9);
        assert_eq!(both.outage.begins, super::super::model::Begins::Month(7));
    }

    #[test]
    fn a_section_is_merged_into_and_a_part_of_a_value_is_no_key() {
        let lamp = varied("load.lamp={ name = \"bulb\", watts = \"5 W\" }").unwrap().loads.swap_remove(1);
        assert_eq!((lamp.name.as_str(), lamp.watts.value.0, lamp.off_below.map(|b| b.0)), ("bulb", 15.0, Some(0.3)));
        let part = varied("outage.lasts.p95=6 days").unwrap_err();
        let whole =
            "`outage.lasts.p95` is a part of `outage.lasts`, which is one value: write it whole, now outage.lasts={";
        assert!(part.contains(whole) && part.contains("median = \"18 h\""), "{part}");
        assert!(varied("panel.0.shade.0.loses=50 %").unwrap_err().contains("a part of `panel.0.shade`"));
        // A section that is not there yet.
        let flat = "load.phones={ name = \"x\" }";
        assert!(varied(flat).unwrap_err().contains("has no entry `phones`"));
    }

    #[test]
    fn what_cannot_be_set_is_told() {
        let lamb = varied("load.lamb.count=2").unwrap_err();
        assert!(lamb.contains("`load` has no entry `lamb`") && lamb.contains("did you mean `lamp`?"), "{lamb}");
        let unit = varied("load.lamp.watts=5").unwrap_err();
        assert!(unit.contains("load.1.watts") && unit.contains("needs a unit"), "{unit}");
        assert!(varied("load").unwrap_err().contains("KEY=VALUE"));
        // A number of panels without their wiring: the text to write is told, and can be read.
        let source = Source::new("s.toml", COMPLETE);
        for set in ["panel.0.count=2", "panel.folding panel.count=2"] {
            let alone = vary(&source, &from_words(set).unwrap(), "").unwrap_err().remove(0);
            let help = alone.help.expect("what to write");
            let both: Vec<&str> = help.split('"').filter(|part| part.contains("wiring=")).collect();
            assert_eq!(both.len(), 2, "{help}");
            // Two folding panels in series would be too many volts; in parallel either can be had.
            assert!(both[0].ends_with("wiring=parallel") && varied(both[0]).is_ok(), "{}", both[0]);
        }
        assert!(varied("title.x=1").unwrap_err().contains("is one value"));
        assert!(varied("pannel.0.count=1").unwrap_err().contains("is not a known section"));
    }

    #[test]
    fn entries_can_be_left_out() {
        let source = Source::new("s.toml", COMPLETE);
        let variant = Variant { name: "dark".into(), set: Vec::new(), without: vec!["load.pump".into()] };
        assert_eq!(vary(&source, &variant, "").unwrap().loads.len(), 8);
        let variant = Variant { name: "none".into(), set: Vec::new(), without: vec!["panel.0".into()] };
        let left: Vec<String> =
            vary(&source, &variant, "").unwrap().panels.into_iter().map(|panel| panel.name).collect();
        assert_eq!(left, ["folding panel"]);
    }
}
