//! What a scenario may say: a table a section, one entry a key.
//!
//! From it are made the reader's checks and messages (`fields`), what setting a key means ([`super::variant`]), the
//! tables of docs/scenario.md and docs/prove.md, and the JSON Schema that `tideover schema` prints.

mod json;
// Tables: a key a line, its text below it.
#[rustfmt::skip]
pub(super) mod load;
#[rustfmt::skip]
pub(super) mod panel;
#[rustfmt::skip]
pub(super) mod power_source;
#[rustfmt::skip]
pub(super) mod record;
#[rustfmt::skip]
pub(super) mod site;
#[rustfmt::skip]
pub(super) mod size;
#[rustfmt::skip]
pub(super) mod station;
#[rustfmt::skip]
pub(super) mod years;

pub use json::json_schema;

use super::amount::Amount;
use super::fields;
use super::forms::{Form, Item, Text, YesNo, fold};
use super::source::join;
use crate::units::Fraction;
use serde_json::Value as Json;
use std::any::Any;
use std::sync::LazyLock;

/// A value that was read, whatever its type.
pub(super) type Held = Box<dyn Any + Send + Sync>;

/// A form whose type is not known.
pub(super) trait AnyForm: Send + Sync {
    fn allowed(&self) -> String;
    fn example(&self) -> String;
    fn json(&self) -> Json;
    fn spreads(&self) -> bool;
    /// Reads an item; what is wrong with it is told.
    fn take(&self, item: &Item) -> Option<Held>;
    /// Reads a default.
    fn told(&self, text: &str) -> Option<Held>;
}

impl<F: Form> AnyForm for F {
    fn allowed(&self) -> String {
        Form::allowed(self)
    }
    fn example(&self) -> String {
        Form::example(self)
    }
    fn json(&self) -> Json {
        Form::json(self)
    }
    fn spreads(&self) -> bool {
        Form::spreads(self)
    }
    fn take(&self, item: &Item) -> Option<Held> {
        item.read(self).map(|value| Box::new(value) as Held)
    }
    fn told(&self, text: &str) -> Option<Held> {
        fields::told(self, text).map(|value| Box::new(value) as Held)
    }
}

/// What stands at a key.
pub(super) enum Holds {
    /// One value, however it is written.
    Value(Box<dyn AnyForm>),
    /// A `[section]`.
    One(Section),
    /// `[[sections]]`.
    Many(Section),
    /// A `[section]`, or `[[sections]]` where there are several.
    Few(Section),
}

/// A key of a section.
pub(super) struct Key {
    pub name: &'static str,
    pub holds: Holds,
    /// What it means, for the manual and the JSON Schema.
    pub text: &'static str,
    otherwise: Otherwise,
    /// The defaults by what else is given, as they are read.
    defaults: Vec<(&'static str, Held)>,
    /// The kinds of load or source that have it; empty: all.
    pub only: &'static [&'static str],
    /// The kinds of load or source that cannot do without.
    needed_by: &'static [&'static str],
    /// A kind of load or source that does not have it, and what to do there.
    pub not_for: Option<(&'static str, &'static str)>,
}

/// What holds where a key is left out.
pub(super) struct Otherwise {
    required: bool,
    /// Defaults, each with what must be given for it ("" for anything).
    values: Vec<(&'static str, &'static str)>,
    /// For the manual, behind the values.
    words: &'static str,
}

/// It must be there.
pub(super) fn required() -> Otherwise {
    Otherwise { required: true, values: Vec::new(), words: "required" }
}

/// It must be there, but for some.
fn required_but(words: &'static str) -> Otherwise {
    Otherwise { words, ..required() }
}

/// This is taken.
fn or(value: &'static str) -> Otherwise {
    or_by(&[("", value)])
}

/// This is taken, a habit of the trade without a source.
fn or_typical(value: &'static str) -> Otherwise {
    or(value).words(" (*typical*)")
}

/// This is taken, by what else is given.
fn or_by(values: &[(&'static str, &'static str)]) -> Otherwise {
    Otherwise { required: false, values: values.to_vec(), words: "" }
}

/// Nothing, or what a reader works out.
fn or_none(words: &'static str) -> Otherwise {
    or_by(&[]).words(words)
}

impl Otherwise {
    fn words(self, words: &'static str) -> Otherwise {
        Otherwise { words, ..self }
    }
}

/// A key with one value.
pub(super) fn key(name: &'static str, form: impl Form, otherwise: Otherwise) -> Key {
    let read = |(of, value): &(&'static str, &'static str)| {
        let held = AnyForm::told(&form, value);
        debug_assert!(held.is_some(), "the default of {name}");
        Some((*of, held?))
    };
    let defaults = otherwise.values.iter().filter_map(read).collect();
    Key {
        name,
        holds: Holds::Value(Box::new(form)),
        text: "",
        otherwise,
        defaults,
        only: &[],
        needed_by: &[],
        not_for: None,
    }
}

/// A `[section]`.
fn one(name: &'static str, otherwise: Otherwise, text: &'static str, section: Section) -> Key {
    let holds = Holds::One(section);
    Key { name, holds, text, otherwise, defaults: Vec::new(), only: &[], needed_by: &[], not_for: None }
}

/// `[[sections]]`.
fn many(name: &'static str, otherwise: Otherwise, text: &'static str, section: Section) -> Key {
    Key { holds: Holds::Many(section.list()), ..one(name, otherwise, text, Section::default()) }
}

/// A `[section]`, or `[[sections]]` where there are several.
fn few(name: &'static str, otherwise: Otherwise, text: &'static str, section: Section) -> Key {
    Key { holds: Holds::Few(section), ..one(name, otherwise, text, Section::default()) }
}

fn share() -> Amount<Fraction> {
    Amount::between(Fraction::ZERO, Fraction::ONE)
}

/// Of whatever passes energy on: what loses nearly all of it is a slip, and no sum of such losses closes an account.
pub(super) fn passed_on() -> Amount<Fraction> {
    Amount::between(Fraction(0.01), Fraction::ONE)
}

fn share_above_zero() -> Amount<Fraction> {
    Amount::positive_to(Fraction::ONE)
}

fn share_below_one() -> Amount<Fraction> {
    Amount::to_below(Fraction::ZERO, Fraction::ONE)
}

fn name() -> Key {
    key("name", Text, required()).says("what to call it")
}

fn yes_no(name: &'static str, text: &'static str) -> Key {
    key(name, YesNo, or("false")).says(text)
}

impl Key {
    /// What it means.
    pub(super) fn says(self, text: &'static str) -> Key {
        Key { text, ..self }
    }

    /// Only these kinds of load have it.
    fn only(self, kinds: &'static [&'static str]) -> Key {
        Key { only: kinds, ..self }
    }

    /// These kinds of load cannot do without.
    fn needed_by(self, kinds: &'static [&'static str]) -> Key {
        Key { needed_by: kinds, ..self }
    }

    /// This kind of load does not have it; `help` says what to do.
    fn not_for(self, kind: &'static str, help: &'static str) -> Key {
        Key { not_for: Some((kind, help)), ..self }
    }

    /// A default whose text is a rounding beside it once it is read: 95 times 0.01 is not the number nearest to 0.95.
    fn exactly<T: Any + Send + Sync>(mut self, of: &str, value: T) -> Key {
        if let Some((_, held)) = self.defaults.iter_mut().find(|(given, _)| *given == of) {
            *held = Box::new(value);
        }
        self
    }

    /// Whether it belongs to some kinds of load.
    pub fn of_a_kind(&self) -> bool {
        !self.only.is_empty() || self.name == "kind"
    }

    /// Whether a load of this kind does not have it.
    pub fn foreign_to(&self, kind: &str) -> bool {
        let barred = self.not_for.is_some_and(|(other, _)| other == kind);
        barred || !self.only.is_empty() && !self.only.contains(&kind)
    }

    /// Whether it must be there in a load of this kind.
    pub fn required_of(&self, kind: Option<&str>) -> bool {
        let of_all = self.otherwise.required && self.not_for.is_none_or(|(other, _)| Some(other) != kind);
        of_all || kind.is_some_and(|kind| self.needed_by.contains(&kind))
    }

    /// Its default where this is given.
    pub fn default_of(&self, of: &str) -> Option<&Held> {
        self.defaults.iter().find(|(given, _)| *given == of).map(|(_, held)| held)
    }

    /// Its values, for people.
    pub fn values(&self) -> String {
        match &self.holds {
            Holds::Value(form) if form.spreads() => form.allowed() + "; ± allowed",
            Holds::Value(form) => form.allowed(),
            Holds::One(_) | Holds::Many(_) | Holds::Few(_) => String::new(),
        }
    }

    /// What holds where it is left out, for people.
    pub fn left_out(&self) -> String {
        let plain = |value: &str| value.starts_with(|c: char| c.is_ascii_digit() || c == '-');
        let value = |(of, value): &(&str, &str)| {
            let written = match *value {
                value if plain(value) => value.to_string(),
                "true" | "false" => format!("`{value}`"),
                value if value.starts_with('[') => format!("`{value}`"),
                value => format!("`\"{value}\"`"),
            };
            if of.is_empty() { written } else { format!("{of} {written}") }
        };
        let values: Vec<String> = self.otherwise.values.iter().map(value).collect();
        values.join(", ") + self.otherwise.words
    }

    /// What is allowed, and the line to add where it is missing.
    pub fn to_write(&self, path: &str) -> (String, String) {
        match &self.holds {
            Holds::Value(form) => (form.allowed(), format!("add a line like: {} = {}", self.name, form.example())),
            Holds::One(_) | Holds::Few(_) => (String::new(), format!("add a section [{}]", join(path, self.name))),
            Holds::Many(_) => (String::new(), format!("add a section [[{}]]", join(path, self.name))),
        }
    }
}

/// A section: its keys, in the order of the manual.
#[derive(Default)]
pub(super) struct Section {
    pub keys: Vec<Key>,
    /// Kinds of its entries, each with the key that tells it where `kind` is not given, the last one without.
    pub kinds: &'static [(&'static str, &'static str)],
    list: bool,
}

impl From<Vec<Key>> for Section {
    fn from(keys: Vec<Key>) -> Section {
        Section { keys, ..Section::default() }
    }
}

impl Section {
    fn list(self) -> Section {
        Section { list: true, ..self }
    }

    /// A key by its name.
    pub fn key(&self, name: &str) -> Option<&Key> {
        self.keys.iter().find(|key| key.name == name)
    }

    /// A kind as people may write it.
    pub fn kind_named(&self, text: &str) -> Option<&'static str> {
        self.kinds.iter().map(|(kind, _)| *kind).find(|kind| fold(kind) == fold(text))
    }

    /// Its header at a path.
    pub fn header(&self, path: &str) -> String {
        if self.list { format!("[[{path}]]") } else { format!("[{path}]") }
    }

    /// This section and all below it, each with its path.
    pub fn all<'s>(&'s self, path: &str) -> Vec<(String, &'s Section)> {
        let inner = self.keys.iter().filter_map(|key| match &key.holds {
            Holds::One(section) | Holds::Many(section) | Holds::Few(section) => {
                Some(section.all(&join(path, key.name)))
            }
            Holds::Value(_) => None,
        });
        let inner: Vec<_> = inner.flatten().collect();
        std::iter::once((path.to_string(), self)).chain(inner).collect()
    }

    /// The header of the section that a key belongs to, if it is a key of exactly one; `path` is where it was found.
    pub fn home_of(&self, key: &str, path: &str) -> Option<String> {
        let homes: Vec<_> = self.all("").into_iter().filter(|(_, section)| section.key(key).is_some()).collect();
        match &homes[..] {
            [(home, _)] if home.is_empty() => (!path.is_empty()).then(|| "the top of the file".to_string()),
            [(home, section)] => Some(section.header(home)),
            _ => None,
        }
    }
}

/// A scenario.
pub(super) static SCENARIO: LazyLock<Section> = LazyLock::new(|| {
    let keys = vec![
        key("title", Text, or("Untitled")).says("what to call it"),
        one("site", required(), "where you are", site::site()),
        many("seen", or_none("none"), "sun that you measured", site::seen()),
        one("outage", required(), "what you fear", site::outage()),
        one("station", required(), "what stores the energy", station::station()),
        one("generator", or_none("none"), "a generator that charges the station", station::generator()),
        one("second_station", or_none("none"), "a second station that refills the first", station::second_station()),
        many(
            "source",
            or_none("none"),
            "a car, running water or the wind that charges the station",
            power_source::source(),
        ),
        many("panel", or_none("no sun"), "arrays of equal panels that look the same way", panel::panel()),
        many("load", required(), "what is plugged in", load::load()),
        many("variant", or_none("none"), "what `compare` compares with", size::variant()),
        one("size", or_none("steps around the scenario's own kit"), "what `size` chooses from", size::size()),
        many("strategy", or_none("none"), "ways of keeping the battery over years", years::strategy()),
        one("outages", or_none("required for years"), "how often the lights go out", years::outages()),
        one("tariff", or_none("no prices"), "what a kWh costs", years::tariff()),
        one("wear", or_none("the worst law"), "which law of wear", years::wear()),
    ];
    keys.into()
});

/// A record of bench tests.
pub(super) static RECORD: LazyLock<Section> = LazyLock::new(record::record);

/// A kit file.
pub(super) static KIT_FILE: LazyLock<Section> = LazyLock::new(record::kit_file);

/// A catalogue of kits.
pub(super) static CATALOGUE: LazyLock<Section> = LazyLock::new(size::catalogue);

/// What stands at a path of a scenario.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum PathKind {
    /// A section, or one entry of a list of sections: it holds keys, and what is set in it leaves its other keys alone.
    Section,
    /// A list of sections.
    List,
    /// A key: one value, however it is written.
    Value,
    /// Part of the value that the first so many segments of the path name.
    Within(usize),
    /// Nothing that a scenario has.
    Unknown,
}

/// What stands at a path: names of keys, and places or names of a list's entries.
pub(super) fn standing(path: &[&str]) -> PathKind {
    let mut section: &Section = &SCENARIO;
    let (mut list, mut few) = (false, false);
    for (depth, segment) in path.iter().enumerate() {
        // Of a section that may be a list, what is no key of it is an entry.
        if std::mem::take(&mut list) | (std::mem::take(&mut few) && section.key(segment).is_none()) {
            continue;
        }
        let Some(key) = section.key(segment) else { return PathKind::Unknown };
        match &key.holds {
            Holds::One(inner) => section = inner,
            Holds::Many(inner) => (section, list) = (inner, true),
            Holds::Few(inner) => (section, few) = (inner, true),
            Holds::Value(_) if depth + 1 == path.len() => return PathKind::Value,
            Holds::Value(_) => return PathKind::Within(depth + 1),
        }
    }
    if list { PathKind::List } else { PathKind::Section }
}
