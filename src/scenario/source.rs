//! The text of a scenario and the places of its keys.

use super::problem::Problem;
use std::collections::BTreeMap;
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// A scenario's text and what to call it in messages.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// File name as the person wrote it.
    pub name: String,
    /// The whole text.
    pub text: String,
}

impl Source {
    /// A text under a name. A byte-order mark at the front is taken off, so that it does not count as a column.
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Self {
        let mut text = text.into();
        if text.starts_with('\u{feff}') {
            text.remove(0);
        }
        Source { name: name.into(), text }
    }

    /// Line and column of a byte, both from 1; columns count characters, so that `°` is one.
    #[must_use]
    pub fn line_column(&self, byte: usize) -> (usize, usize) {
        let before = self.text.get(..byte).unwrap_or(&self.text);
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        (before.matches('\n').count() + 1, before[line_start..].chars().count() + 1)
    }

    /// A problem on one line: place, level, key, what, found, allowed.
    #[must_use]
    pub fn one_line(&self, problem: &Problem) -> String {
        let place = match &problem.span {
            Some(span) => {
                let (line, column) = self.line_column(span.start);
                format!("{line}:{column} ")
            }
            None => String::new(),
        };
        let key = if problem.key.is_empty() { String::new() } else { format!("{} ", problem.key) };
        let label = problem.label();
        let rest = if label.is_empty() { label } else { format!("; {label}") };
        format!("{place}{}: {key}{}{rest}", problem.level.word(), problem.what)
    }
}

/// Where a key and its value stand, in bytes of the source.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeySpan {
    /// The key; for entries of a list of tables their `[[header]]`, for other list entries the entry.
    pub key: Range<usize>,
    /// The value; for a `[table]` its header.
    pub value: Range<usize>,
}

/// The places of all keys of a scenario, by dotted path (`panel.0.wiring`, list entries from 0).
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Places {
    places: BTreeMap<String, KeySpan>,
    names: BTreeMap<String, String>,
}

impl Places {
    /// The places of all keys in a parsed document.
    pub(super) fn of(document: &DeTable) -> Self {
        let mut places = Places::default();
        places.add_table("", document);
        places
    }

    /// Places put together by hand, for files that are not TOML: by key path, with the names of list entries.
    pub(super) fn by_hand(places: BTreeMap<String, KeySpan>, names: BTreeMap<String, String>) -> Self {
        Places { places, names }
    }

    fn add_table(&mut self, path: &str, table: &DeTable) {
        for (key, value) in table {
            let path = join(path, key.get_ref());
            self.add_value(&path, key.span(), value.span(), value.get_ref());
        }
    }

    fn add_value(&mut self, path: &str, key: Range<usize>, span: Range<usize>, value: &DeValue) {
        match value {
            DeValue::Table(table) => self.add_table(path, table),
            DeValue::Array(list) => {
                for (index, entry) in list.iter().enumerate() {
                    let path = join(path, &index.to_string());
                    let name = ["name", "like"].iter().find_map(|key| entry.get_ref().get(*key)?.get_ref().as_str());
                    if let Some(name) = name {
                        self.names.insert(path.clone(), name.to_string());
                    }
                    self.add_value(&path, entry.span(), entry.span(), entry.get_ref());
                }
            }
            _ => {}
        }
        self.places.insert(path.to_string(), KeySpan { key, value: span });
    }

    /// Where exactly this key stands, if it does.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<&KeySpan> {
        self.places.get(key)
    }

    /// The value of this key, or the nearest table or list that it would belong to.
    #[must_use]
    pub fn nearest(&self, key: &str) -> Option<Range<usize>> {
        let mut path = key;
        loop {
            if let Some(place) = self.get(path) {
                return Some(place.value.clone());
            }
            path = &path[..path.rfind('.')?];
        }
    }

    /// Which entry of a list this key belongs to, counted from 1 and with its name: `load 3, "fridge"`.
    #[must_use]
    pub fn whose(&self, key: &str) -> Option<String> {
        let mut parts = key.split('.');
        let (list, index) = (parts.next()?, parts.next()?);
        let number = index.parse::<usize>().ok()?.checked_add(1)?;
        Some(match self.names.get(&format!("{list}.{index}")) {
            Some(name) => format!("{list} {number}, {}", super::forms::quoted(name)),
            None => format!("{list} {number}"),
        })
    }

    /// Fills in the spans that a problem does not have yet, from its key paths.
    #[must_use]
    pub fn locate(&self, mut problem: Problem) -> Problem {
        if problem.span.is_none() {
            problem.span = self.nearest(&problem.key);
        }
        if problem.whose.is_none() {
            problem.whose = self.whose(&problem.key);
        }
        if let Some(mark) = &mut problem.second
            && mark.span.is_none()
        {
            mark.span = self.nearest(&mark.key);
        }
        problem
    }
}

/// A dotted path one step deeper.
pub(super) fn join(path: &str, key: &str) -> String {
    if path.is_empty() { key.to_string() } else { format!("{path}.{key}") }
}
