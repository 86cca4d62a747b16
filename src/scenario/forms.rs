//! The forms a value may have: texts, switches, numbers, names (quantities: [`super::amount`]). Each says what it
//! allows, in words and in JSON Schema, and reads itself.

pub(super) use super::composed::{Braces, Custom, Map, OrBraces};
use super::fields::Findings;
use super::nearest::nearest;
use super::problem::Problem;
use super::source::join;
use crate::visible::clipped;
use serde_json::{Value as Json, json};
use std::ops::Range;
use toml::de::DeValue;

/// A value of the file with its full key and place.
#[derive(Clone)]
pub(super) struct Item<'t> {
    /// Dotted path.
    pub key: String,
    /// Bytes of the value.
    pub span: Range<usize>,
    /// What stands there.
    pub value: &'t DeValue<'t>,
    /// Where problems with it go.
    pub findings: &'t Findings,
}

impl<'t> Item<'t> {
    /// The entries of a list.
    pub fn entries(&self) -> Option<Vec<Item<'t>>> {
        let DeValue::Array(list) = self.value else { return None };
        let entry = |(index, entry): (usize, &'t toml::Spanned<DeValue<'t>>)| Item {
            key: join(&self.key, &index.to_string()),
            span: entry.span(),
            value: entry.get_ref(),
            findings: self.findings,
        };
        Some(list.iter().enumerate().map(entry).collect())
    }

    /// Reads it; what is wrong with it is told.
    pub fn read<F: Form>(&self, form: &F) -> Option<F::Output> {
        form.read(self).map_err(|fault| self.refuse(fault.or_like(&form.example()), form.allowed())).ok()
    }

    /// Tells that it is not what is allowed.
    pub fn refuse(&self, fault: Fault, allowed: String) {
        if fault.what.is_empty() {
            return;
        }
        self.findings.push(Problem {
            help: fault.help,
            ..Problem::error(self.key.clone(), fault.what)
                .at(Some(self.span.clone()))
                .found(fault.found.unwrap_or_else(|| self.found()))
                .allowed(fault.allowed.unwrap_or(allowed))
        });
    }

    /// What was written, for messages.
    pub fn found(&self) -> String {
        match self.value {
            DeValue::String(text) => quoted(text),
            DeValue::Integer(number) => tidy(&number.to_string()),
            DeValue::Float(number) => tidy(number.as_str()),
            DeValue::Boolean(yes) => yes.to_string(),
            DeValue::Datetime(time) => time.to_string(),
            DeValue::Array(list) if list.is_empty() => "an empty list".into(),
            DeValue::Array(_) => "a list".into(),
            DeValue::Table(_) => "a table".into(),
        }
    }

    /// The value as a finite number.
    pub fn number(&self) -> Option<f64> {
        let number = match self.value {
            DeValue::Integer(number) => i64::from_str_radix(number.as_str(), number.radix()).ok()? as f64,
            DeValue::Float(number) => number.as_str().parse().ok()?,
            _ => return None,
        };
        // Minus zero is zero.
        number.is_finite().then_some(number + 0.0)
    }
}

/// Text from the file made fit for a message: no control characters, at most 60 characters.
pub(super) fn tidy(text: &str) -> String {
    clipped(text, 60)
}

/// The same between quotation marks.
pub(super) fn quoted(text: &str) -> String {
    format!("\"{}\"", tidy(text))
}

/// Why a value was refused.
pub(super) struct Fault {
    /// End of a sentence that begins with the key.
    pub what: String,
    /// What was found, where it is not simply the value as written.
    pub found: Option<String>,
    /// What is allowed, where it is not simply what the form allows.
    pub allowed: Option<String>,
    /// What to write.
    pub help: Option<String>,
}

impl Fault {
    pub fn new(what: impl Into<String>) -> Self {
        Fault { what: what.into(), found: None, allowed: None, help: None }
    }
    /// What is wrong stands among the findings already.
    pub fn told() -> Self {
        Fault::new("")
    }
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }
    pub fn found(mut self, found: impl Into<String>) -> Self {
        self.found = Some(found.into());
        self
    }
    /// With an example of what to write, where nothing better is said. Of a range, its ends say it.
    fn or_like(self, example: &str) -> Self {
        let told =
            self.help.is_some() || self.what.is_empty() || self.what == "is out of range" || example.contains('…');
        if told { self } else { self.help(format!("write it like {example}")) }
    }
}

/// A form that a value may have.
pub(super) trait Form: Send + Sync + 'static {
    /// What reading gives.
    type Output: Clone + Send + Sync + 'static;
    /// What is allowed, for messages and the manual.
    fn allowed(&self) -> String;
    /// The value as it could stand in the file, for messages.
    fn example(&self) -> String;
    /// Reads a value.
    fn read(&self, item: &Item) -> Result<Self::Output, Fault>;
    /// Its JSON Schema.
    fn json(&self) -> Json {
        json!({ "type": "string", "examples": [self.example().trim_matches('"')] })
    }
    /// Whether a ± may follow.
    fn spreads(&self) -> bool {
        false
    }
}

/// "a, b or c".
pub(crate) fn either(words: &[&str]) -> String {
    match words.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        Some((only, _)) => (*only).to_string(),
        None => String::new(),
    }
}

/// Most characters of a text: names and remarks stand in tables and sentences.
const LONGEST_TEXT: usize = 500;

/// A text that is not empty.
pub(super) struct Text;

impl Form for Text {
    type Output = String;
    fn allowed(&self) -> String {
        "a text in quotes, not empty, on one line".into()
    }
    fn example(&self) -> String {
        "\"…\"".into()
    }
    fn read(&self, item: &Item) -> Result<String, Fault> {
        match item.value.as_str() {
            Some(text) if text.trim().is_empty() => Err(Fault::new("is empty")),
            // They would break the tables of an answer and could steer the terminal that shows it.
            Some(text) if text.trim().contains(char::is_control) => {
                Err(Fault::new("holds a line break or another control character").help("write it on one line"))
            }
            Some(text) if text.trim().chars().nth(LONGEST_TEXT).is_some() => {
                Err(Fault::new(format!("is longer than {LONGEST_TEXT} characters")).help("write it shorter"))
            }
            Some(text) => Ok(text.trim().to_string()),
            None => Err(Fault::new("cannot be read as a text").help("put it in quotes")),
        }
    }
    fn json(&self) -> Json {
        json!({ "type": "string", "pattern": "\\S" })
    }
}

/// `true` or `false`.
pub(super) struct YesNo;

impl Form for YesNo {
    type Output = bool;
    fn allowed(&self) -> String {
        "true or false".into()
    }
    fn example(&self) -> String {
        "true".into()
    }
    fn read(&self, item: &Item) -> Result<bool, Fault> {
        item.value.as_bool().ok_or_else(|| {
            let fault = Fault::new("must be true or false");
            match item.value.as_str().map(str::to_lowercase).as_deref() {
                Some("true" | "yes" | "on") => fault.help("write true, without quotes"),
                Some("false" | "no" | "off") => fault.help("write false, without quotes"),
                _ => fault,
            }
        })
    }
    fn json(&self) -> Json {
        json!({ "type": "boolean" })
    }
}

/// A whole number within limits.
pub(super) struct Whole {
    pub least: u32,
    pub greatest: u32,
}

impl Form for Whole {
    type Output = u32;
    fn allowed(&self) -> String {
        format!("a whole number from {} to {}", self.least, self.greatest)
    }
    fn example(&self) -> String {
        "2".into()
    }
    fn read(&self, item: &Item) -> Result<u32, Fault> {
        let DeValue::Integer(number) = item.value else {
            let fault = Fault::new("must be a whole number");
            return Err(match item.value.as_str().and_then(|text| text.trim().parse::<u32>().ok()) {
                Some(number) => fault.help(format!("write {number}, without quotes")),
                None => fault,
            });
        };
        u32::from_str_radix(number.as_str(), number.radix())
            .ok()
            .filter(|number| (self.least..=self.greatest).contains(number))
            .ok_or_else(|| Fault::new("is out of range"))
    }
    fn json(&self) -> Json {
        json!({ "type": "integer", "minimum": self.least, "maximum": self.greatest })
    }
}

/// A plain number within limits.
pub(super) struct Number {
    pub least: f64,
    pub greatest: f64,
    /// Whether the least is not allowed itself.
    pub above: bool,
    pub allowed: &'static str,
    pub example: &'static str,
    /// What to write instead of anything that is no number.
    pub help: &'static str,
}

impl Form for Number {
    type Output = f64;
    fn allowed(&self) -> String {
        self.allowed.into()
    }
    fn example(&self) -> String {
        self.example.into()
    }
    fn read(&self, item: &Item) -> Result<f64, Fault> {
        match item.number() {
            Some(number)
                if self.least <= number && number <= self.greatest && !(self.above && number == self.least) =>
            {
                Ok(number)
            }
            Some(_) => Err(Fault::new("is out of range")),
            None if self.help.is_empty() => Err(Fault::new("must be a plain number")),
            None => Err(Fault::new("must be a plain number").help(self.help)),
        }
    }
    fn json(&self) -> Json {
        let least = if self.above { "exclusiveMinimum" } else { "minimum" };
        json!({ "type": "number", least: self.least, "maximum": self.greatest })
    }
}

/// One of some names; upper and lower case, spaces, `-` and `_` make no difference.
pub(super) struct OneOf<T: 'static> {
    /// The names to show.
    pub names: &'static [(&'static str, T)],
    /// Other spellings that are understood.
    pub also: &'static [(&'static str, T)],
}

impl<T: Copy> OneOf<T> {
    pub fn find(&self, text: &str) -> Option<T> {
        let folded = fold(text);
        self.names.iter().chain(self.also).find(|(name, _)| fold(name) == folded).map(|(_, value)| *value)
    }
    fn shown(&self) -> impl Iterator<Item = &'static str> {
        self.names.iter().map(|(name, _)| *name)
    }
    pub fn near(&self, text: &str) -> Option<&'static str> {
        nearest(text, self.shown())
    }
}

/// The JSON Schema of any text.
pub(super) fn any_text() -> Json {
    json!({ "type": "string" })
}

/// The JSON Schema of a text like this, blanks around it aside.
pub(super) fn text_like(pattern: &str) -> Json {
    json!({ "type": "string", "pattern": format!("^ *({pattern}) *$") })
}

/// A regular expression for a word in capitals and small letters alike, with marks between its letters passed over.
pub(super) fn any_case(word: &str, between: &str) -> String {
    let letter = |c: char| match (c.to_lowercase().next(), c.to_uppercase().next()) {
        (Some(small), Some(large)) if small != large => format!("[{large}{small}]"),
        _ if c.is_alphanumeric() || matches!(c, ' ' | '°' | '²' | '³' | '%' | '/' | '-') => c.to_string(),
        _ => format!("\\{c}"),
    };
    word.chars().map(letter).collect::<Vec<_>>().join(between)
}

pub(super) fn fold(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace() && !matches!(c, '-' | '_')).flat_map(char::to_lowercase).collect()
}

impl<T: Copy + Send + Sync> Form for OneOf<T> {
    type Output = T;
    fn allowed(&self) -> String {
        either(&self.shown().collect::<Vec<_>>())
    }
    fn example(&self) -> String {
        format!("\"{}\"", self.shown().next().unwrap_or_default())
    }
    fn read(&self, item: &Item) -> Result<T, Fault> {
        let Some(text) = item.value.as_str() else {
            return Err(Fault::new("must be one of the names allowed, in quotes"));
        };
        self.find(text).ok_or_else(|| {
            let fault = Fault::new("is not one of the names allowed");
            match self.near(text) {
                Some(near) => fault.help(format!("did you mean \"{near}\"?")),
                None => fault,
            }
        })
    }
    fn json(&self) -> Json {
        let words = self.names.iter().chain(self.also).map(|(name, _)| any_case(&fold(name), "[ _-]*"));
        let pattern = words.collect::<Vec<_>>().join("|");
        json!({ "anyOf": [{ "enum": self.shown().collect::<Vec<_>>() }, text_like(&pattern)] })
    }
}
