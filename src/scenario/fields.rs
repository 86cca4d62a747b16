//! Reading a table key by key: what is read is struck off, and what is left over is unknown.

use super::forms::{Fault, Form, Item, tidy};
use super::keys::{Section, section_with};
use super::nearest::nearest;
use super::problem::{Level, Problem};
use super::source::{Places, join};
use std::cell::RefCell;
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// The problems found so far, and the places to mark.
pub(super) struct Findings {
    list: RefCell<Vec<Problem>>,
    places: Places,
    keys: &'static [Section],
}

impl Findings {
    pub fn new(places: Places) -> Self {
        Findings { list: RefCell::new(Vec::new()), places, keys: super::keys::KEYS }
    }

    /// For a file with other sections than a scenario's.
    pub fn with_keys(self, keys: &'static [Section]) -> Self {
        Findings { keys, ..self }
    }

    /// Takes in a problem and finds its places.
    pub fn push(&self, problem: Problem) {
        self.list.borrow_mut().push(self.places.locate(problem));
    }

    /// Whether no error was found at this key or inside it; checks that compare keys ask first, so that one cause is
    /// reported once.
    pub fn clean(&self, key: &str) -> bool {
        !self.list.borrow().iter().any(|problem| {
            problem.level == Level::Error
                && problem.key.strip_prefix(key).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
        })
    }

    /// Whether there is any error.
    pub fn any_error(&self) -> bool {
        self.list.borrow().iter().any(|problem| problem.level == Level::Error)
    }

    pub fn into_parts(self) -> (Vec<Problem>, Places) {
        (self.list.into_inner(), self.places)
    }
}

/// A table being read.
pub(super) struct Fields<'t> {
    path: String,
    table: &'t DeTable<'t>,
    header: Option<Range<usize>>,
    asked: Vec<&'static str>,
    missing: Vec<Problem>,
    findings: &'t Findings,
}

impl<'t> Fields<'t> {
    /// The document itself.
    pub fn root(table: &'t DeTable<'t>, findings: &'t Findings) -> Self {
        Fields { path: String::new(), table, header: None, asked: Vec::new(), missing: Vec::new(), findings }
    }

    /// The table that stands at an item, if it is one.
    pub fn of(item: &Item<'t>, findings: &'t Findings) -> Option<Self> {
        let table = item.value.as_table()?;
        let header = Some(item.span.clone());
        Some(Fields { path: item.key.clone(), table, header, asked: Vec::new(), missing: Vec::new(), findings })
    }

    /// Full path of one of this table's keys.
    pub fn key(&self, name: &str) -> String {
        join(&self.path, name)
    }

    /// Where problems go.
    pub fn findings(&self) -> &'t Findings {
        self.findings
    }

    /// Whether the key is there, right or wrong.
    pub fn has(&self, name: &str) -> bool {
        self.table.contains_key(name)
    }

    /// Strikes off a key and returns what stands there.
    pub fn item(&mut self, name: &'static str) -> Option<Item<'t>> {
        if !self.asked.contains(&name) {
            self.asked.push(name);
        }
        let value = self.table.get(name)?;
        Some(Item { key: self.key(name), span: value.span(), value: value.get_ref() })
    }

    /// As `item`; a missing key is an error. `example` is the value as it could stand in the file.
    pub fn required_item(&mut self, name: &'static str, allowed: &str, example: &str) -> Option<Item<'t>> {
        let item = self.item(name);
        if item.is_none() {
            let line = match example {
                "[" => format!("add a section [{}]", self.key(name)),
                "[[" => format!("add a section [[{}]]", self.key(name)),
                _ => format!("add a line like: {name} = {example}"),
            };
            self.missing
                .push(Problem::error(self.key(name), "is missing").at(self.header.clone()).allowed(allowed).help(line));
        }
        item
    }

    /// Reports that an item is not what the form allows.
    pub fn refuse(&self, item: &Item, fault: Fault, allowed: String) {
        self.findings.push(Problem {
            help: fault.help,
            ..Problem::error(item.key.clone(), fault.what)
                .at(Some(item.span.clone()))
                .found(fault.found.unwrap_or_else(|| item.found()))
                .allowed(fault.allowed.unwrap_or(allowed))
        });
    }

    /// Reads an item; a wrong one is reported and gives nothing.
    pub fn read<F: Form>(&self, item: &Item, form: &F) -> Option<F::Output> {
        form.read(item).map_err(|fault| self.refuse(item, fault, form.allowed())).ok()
    }

    /// Reads a key that may be absent.
    pub fn optional<F: Form>(&mut self, name: &'static str, form: &F) -> Option<F::Output> {
        let item = self.item(name)?;
        self.read(&item, form)
    }

    /// Reads a key that must be there.
    pub fn required<F: Form>(&mut self, name: &'static str, form: &F) -> Option<F::Output> {
        let item = self.required_item(name, &form.allowed(), &form.example())?;
        self.read(&item, form)
    }

    /// Reads a key that has a default.
    pub fn or<F: Form>(&mut self, name: &'static str, form: &F, default: F::Output) -> F::Output {
        self.optional(name, form).unwrap_or(default)
    }

    /// The `[section]` under a key that may be absent.
    pub fn table(&mut self, name: &'static str) -> Option<Fields<'t>> {
        let item = self.item(name)?;
        self.section(&item)
    }

    /// The `[section]` under a key that must be there.
    pub fn required_table(&mut self, name: &'static str) -> Option<Fields<'t>> {
        let item = self.required_item(name, "", "[")?;
        self.section(&item)
    }

    fn section(&self, item: &Item<'t>) -> Option<Fields<'t>> {
        let fields = Fields::of(item, self.findings);
        if fields.is_none() {
            let help = match item.value {
                DeValue::Array(_) => format!("write [{}] with single brackets, once", item.key),
                _ => format!("write a section [{}] with its keys below it", item.key),
            };
            self.refuse(item, Fault::new("must be a section of its own").help(help), "one section".into());
        }
        fields
    }

    /// The `[[sections]]` under a key, possibly none.
    pub fn tables(&mut self, name: &'static str) -> Vec<Fields<'t>> {
        let Some(item) = self.item(name) else { return Vec::new() };
        let help = || format!("write [[{name}]] with double brackets, one for each");
        let DeValue::Array(list) = item.value else {
            self.refuse(&item, Fault::new("must be a list of sections").help(help()), String::new());
            return Vec::new();
        };
        let entries = list.iter().enumerate().map(|(index, entry)| Item {
            key: join(&item.key, &index.to_string()),
            span: entry.span(),
            value: entry.get_ref(),
        });
        let mut sections = Vec::new();
        for entry in entries {
            match Fields::of(&entry, self.findings) {
                Some(fields) => sections.push(fields),
                None => self.refuse(&entry, Fault::new("must be a section").help(help()), String::new()),
            }
        }
        sections
    }

    /// Reports what was never asked for. A misspelt required key is one problem, not two.
    pub fn finish(mut self) {
        // In the order of the file, so that the first of two misspellings gets the name.
        let mut unknown: Vec<_> =
            self.table.iter().filter(|(key, _)| !self.asked.contains(&key.get_ref().as_ref())).collect();
        unknown.sort_by_key(|(key, _)| key.span().start);
        let mut free: Vec<&str> = self.asked.iter().copied().filter(|name| !self.has(name)).collect();
        for (key, value) in unknown {
            let word = key.get_ref().as_ref();
            let shown = tidy(word);
            let noun = match value.get_ref() {
                DeValue::Table(_) => "section",
                DeValue::Array(list) if list.iter().any(|entry| entry.get_ref().is_table()) => "section",
                _ => "key",
            };
            let what = format!("is not a known {noun}");
            let mut problem = Problem::error(self.key(&shown), what).at(Some(key.span())).found(format!("`{shown}`"));
            if let Some(near) = nearest(word, free.iter().copied()) {
                free.retain(|name| *name != near);
                let path = self.key(near);
                self.missing.retain(|missing| missing.key != path);
                problem = problem.allowed(format!("`{near}`")).help(format!("did you mean `{near}`?"));
            } else if let Some(section) = section_with(self.findings.keys, word, &self.path) {
                problem =
                    problem.help(format!("`{shown}` belongs under {section}: a section runs until the next [header]"));
            } else {
                problem = problem.allowed(self.asked.join(", "));
            }
            self.findings.push(problem);
        }
        for missing in self.missing.drain(..) {
            self.findings.push(missing);
        }
    }
}
