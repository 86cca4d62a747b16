//! The forms a value may have: texts, switches, numbers, names (quantities: [`super::amount`]). Each says what it
//! allows and reads itself.

use super::nearest::nearest;
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
}

impl Item<'_> {
    /// What was written, for messages.
    pub fn found(&self) -> String {
        match self.value {
            DeValue::String(text) => format!("\"{}\"", tidy(text)),
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
        number.is_finite().then_some(number)
    }
}

/// Text from the file made fit for a message: no control characters, at most 60 characters.
pub(super) fn tidy(text: &str) -> String {
    let mut shown: String =
        text.chars().take(60).map(|c| if c.is_control() { char::REPLACEMENT_CHARACTER } else { c }).collect();
    if text.chars().nth(60).is_some() {
        shown.push('…');
    }
    shown
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
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }
}

/// A form that a value may have.
pub(super) trait Form {
    /// What reading gives.
    type Output;
    /// What is allowed, for messages.
    fn allowed(&self) -> String;
    /// The value as it could stand in the file, for messages.
    fn example(&self) -> String;
    /// Reads a value.
    fn read(&self, item: &Item) -> Result<Self::Output, Fault>;
}

/// "a, b or c".
pub(super) fn either(words: &[&str]) -> String {
    match words.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        Some((only, _)) => (*only).to_string(),
        None => String::new(),
    }
}

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
            Some(text) => Ok(text.trim().to_string()),
            None => Err(Fault::new("cannot be read as a text").help("put it in quotes")),
        }
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

fn fold(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace() && !matches!(c, '-' | '_')).flat_map(char::to_lowercase).collect()
}

impl<T: Copy> Form for OneOf<T> {
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
}
