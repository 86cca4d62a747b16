//! One setting, one answer: a key set by a variant of the file, on the command line, or written out.

use std::collections::BTreeSet;
use toml::{Table, Value};

use super::{COMPLETE, Scenario, Source, read, wholes};
use crate::scenario::schema::{Holds, PathKind, SCENARIO, standing};
use crate::scenario::source::join;
use crate::scenario::variant::{from_words, vary};

/// The scenario without its variants.
#[track_caller]
fn scenario(text: String) -> Scenario {
    let (scenario, _, _) = read(&Source::new("test.toml", text)).expect("a sound scenario");
    Scenario { variants: Vec::new(), ..scenario }
}

/// Every key of a table by its path, in sections and lists of sections alike.
fn keys(path: &str, table: &Table, found: &mut Vec<String>) {
    for (key, value) in table.iter().filter(|(key, _)| *key != "variant") {
        let path = join(path, key);
        let segments: Vec<&str> = path.split('.').collect();
        match (standing(&segments), value) {
            (PathKind::Section, Value::Table(inner)) => keys(&path, inner, found),
            (PathKind::List, Value::Array(list)) => {
                for (number, entry) in list.iter().enumerate() {
                    keys(&join(&path, &number.to_string()), entry.as_table().expect("a section"), found);
                }
            }
            (PathKind::Value, _) => found.push(path),
            (other, _) => panic!("{path} is {other:?}"),
        }
    }
}

/// What stands under a path.
fn at<'v>(root: &'v mut Value, path: &str) -> &'v mut Value {
    path.split('.').fold(root, |here, segment| match here {
        Value::Array(list) => &mut list[segment.parse::<usize>().expect("a place")],
        other => other.get_mut(segment).expect("a key"),
    })
}

/// The scenario that `set`, as it stands in a file, makes of another.
#[track_caller]
fn by_a_variant(base: &Source, whole: &str, set: &str) -> Scenario {
    let text = format!("{whole}\n[[variant]]\nname = \"this\"\nset = {set}\n");
    let (scenario, _, _) = read(&Source::new("test.toml", text)).unwrap_or_else(|p| panic!("{set}: {p:?}"));
    let variant = scenario.variants.last().expect("a variant");
    vary(base, variant, "variant.1").unwrap_or_else(|p| panic!("{set}: {p:?}"))
}

/// The scenario that `words` on a command line make of another.
#[track_caller]
fn by_words(base: &Source, words: &str) -> Scenario {
    let variant = from_words(words).expect("a setting");
    vary(base, &variant, "").unwrap_or_else(|p| panic!("{words}: {p:?}"))
}

/// Sets a key of a scenario in every way; says whether its value is a table.
fn is_set_alike(text: &str, whole: &Table, written_out: &Scenario, path: &str) -> bool {
    let mut base = Value::Table(whole.clone());
    let value = at(&mut base, path);
    let wanted = value.to_string();
    let table = value.is_table();
    // Something else stood there before: of a table, one part more, which must not stay.
    *value = match value.clone() {
        Value::Table(mut table) => {
            table.insert("left over".into(), Value::Integer(1));
            Value::Table(table)
        }
        _ => Value::String("left over".into()),
    };
    let base = Source::new("base.toml", toml::to_string(&base).expect("TOML"));
    let (section, key) = path.rsplit_once('.').unwrap_or(("", path));
    let quoted = format!("{{ \"{path}\" = {wanted} }}");
    let nested = path.split('.').rev().fold(wanted.clone(), |inner, segment| format!("{{ \"{segment}\" = {inner} }}"));
    for set in [&quoted, &nested] {
        assert!(by_a_variant(&base, text, set) == *written_out, "{set}");
    }
    assert!(by_words(&base, &format!("{path} = {wanted}")) == *written_out, "{path} on the line");
    // Through its section, whose other keys stay.
    if !section.is_empty() {
        let inner = format!("{{ {key} = {wanted} }}");
        let through = format!("{{ \"{section}\" = {inner} }}");
        assert!(by_a_variant(&base, text, &through) == *written_out, "{section}: {inner}");
        assert!(by_words(&base, &format!("{section} = {inner}")) == *written_out, "{section} on the line: {inner}");
    }
    table
}

#[test]
fn every_key_of_the_schema_is_set_alike_by_a_variant_on_the_line_and_written_out() {
    let (mut done, mut tables) = (BTreeSet::new(), 0);
    for text in wholes() {
        let whole: Table = text.parse().expect("TOML");
        let written_out = scenario(text.clone());
        let mut paths = Vec::new();
        keys("", &whole, &mut paths);
        for path in paths {
            // Each entry of the complete scenario; of the others, what it does not have.
            let named = path.split('.').filter(|part| part.parse::<usize>().is_err()).collect::<Vec<_>>().join(".");
            if text == COMPLETE || !done.contains(&named) {
                tables += usize::from(is_set_alike(&text, &whole, &written_out, &path));
                done.insert(named);
            }
        }
    }
    assert!(tables > 10, "{tables} values are tables");
    for (path, section) in SCENARIO.all("").into_iter().filter(|(path, _)| path != "variant") {
        for key in section.keys.iter().filter(|key| matches!(key.holds, Holds::Value(_))) {
            let path = join(&path, key.name);
            assert!(done.contains(&path), "{path} is in none of the scenarios that set every key");
        }
    }
}

#[test]
fn the_sections_known_are_those_of_the_file() {
    // The scenarios that set every key write every section with a header of its own, and no value so.
    let all = wholes().join("\n");
    let mut headers: Vec<&str> = all.lines().filter(|line| line.starts_with('[')).map(str::trim).collect();
    headers.sort_unstable();
    headers.dedup();
    let mut known: Vec<String> = SCENARIO.all("").iter().skip(1).map(|(path, section)| section.header(path)).collect();
    known.sort_unstable();
    assert_eq!(headers, known);
}
