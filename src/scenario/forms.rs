//! The forms a value may have: quantities, texts, switches, numbers, names. Each says what it allows and reads itself.

use super::nearest::nearest;
use crate::units::{ParseError, Quantity, Uncertain};
use std::marker::PhantomData;
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

/// A quantity within limits.
#[derive(Clone, Copy)]
pub(super) struct Amount<Q> {
    least: f64,
    above: bool,
    greatest: f64,
    below: bool,
    quantity: PhantomData<Q>,
}

impl<Q: Quantity> Amount<Q> {
    /// From least to greatest, both allowed.
    pub fn between(least: Q, greatest: Q) -> Self {
        Amount { least: least.base(), above: false, greatest: greatest.base(), below: false, quantity: PhantomData }
    }
    /// Above 0.
    pub fn positive() -> Self {
        Amount::positive_to(Q::from_base(Q::GREATEST))
    }
    /// Above 0, up to this much.
    pub fn positive_to(greatest: Q) -> Self {
        Amount { above: true, ..Amount::between(Q::from_base(0.0), greatest) }
    }
    /// 0 or more.
    pub fn from_zero() -> Self {
        Amount::between(Q::from_base(0.0), Q::from_base(Q::GREATEST))
    }
    /// From least to just below greatest.
    pub fn to_below(least: Q, greatest: Q) -> Self {
        Amount { below: true, ..Amount::between(least, greatest) }
    }

    fn holds(&self, value: f64) -> bool {
        let least = if self.above { self.least < value } else { self.least <= value };
        least && if self.below { value < self.greatest } else { value <= self.greatest }
    }

    fn check(&self, value: f64) -> Result<(), Fault> {
        if self.holds(value) { Ok(()) } else { Err(Fault::new("is out of range")) }
    }

    /// The text of a quantity, or the fault that it is something else.
    fn text<'t>(&self, item: &'t Item) -> Result<&'t str, Fault> {
        if let Some(text) = item.value.as_str() {
            return Ok(text);
        }
        if let Some(number) = item.number() {
            return Err(Fault::new("needs a unit").help(format!("write \"{}\"", with_unit::<Q>(number))));
        }
        Err(Fault::new(format!("cannot be read as {}", with_article(Q::NAME)))
            .help(format!("write it like {}", self.example())))
    }

    fn fault(error: ParseError, text: &str) -> Fault {
        match error {
            ParseError::NoUnit { found, .. } => {
                let help = found.parse().map(|number| format!("write \"{}\"", with_unit::<Q>(number)));
                Fault { help: help.ok(), ..Fault::new("needs a unit") }
            }
            ParseError::NoNumber { .. } => Fault::new(format!("cannot be read as {}", with_article(Q::NAME))),
            ParseError::UnknownUnit { unit, .. } => {
                let help = match (Q::NAME, unit.to_lowercase().as_str()) {
                    _ if unit.starts_with(',') => "write a decimal point, and no mark between thousands".to_string(),
                    ("energy", "w" | "kw") => {
                        "W says how fast, Wh how much in all: 100 W for 3 h make \"300 Wh\"".to_string()
                    }
                    ("power", "wh" | "kwh") => {
                        "Wh says how much in all, W how fast: 300 Wh within 3 h are \"100 W\"".to_string()
                    }
                    ("energy", "ah" | "mah") => {
                        "multiply by the battery's volts: 50 Ah at 12.8 V are \"640 Wh\"".to_string()
                    }
                    ("power", "a" | "ma") => "multiply by the volts: 2 A at 5 V are \"10 W\"".to_string(),
                    _ => format!("units of {}: {}", Q::NAME, units::<Q>()),
                };
                Fault { help: Some(help), ..Fault::new(format!("has a unit that is none of {}", Q::NAME)) }
            }
            ParseError::OutOfRange { name: "uncertainty", .. } => Fault {
                found: Some(format!("\"{}\"", tidy(text))),
                help: Some("after ± write how far off the value may be, 0 or more, like \"± 3 %\"".into()),
                ..Fault::new("has an impossible uncertainty")
            },
            ParseError::OutOfRange { .. } => Fault::new("is out of range"),
        }
    }
}

impl<Q: Quantity> Form for Amount<Q> {
    type Output = Q;

    fn allowed(&self) -> String {
        let (least, greatest) = (shown::<Q>(self.least), shown::<Q>(self.greatest));
        let range = match (self.above, self.below) {
            (false, false) => format!("{least} to {greatest}"),
            (true, false) => format!("above {least}, up to {greatest}"),
            (false, true) => format!("from {least} to below {greatest}"),
            (true, true) => format!("above {least} and below {greatest}"),
        };
        let units = units::<Q>();
        let choice = if units.contains(" or ") { format!(" ({units})") } else { String::new() };
        format!("{} {range}{choice}", Q::NAME)
    }

    fn example(&self) -> String {
        let usual = match Q::NAME {
            "energy" => 600.0,
            "power" => 100.0,
            "duration" => 72.0,
            "angle" => 45.0,
            "voltage" => 22.0,
            "share" => 0.85,
            "length" => 1200.0,
            "temperature coefficient" => -0.003,
            _ => 5.0,
        };
        let fitting = if self.holds(usual) { usual } else { (self.least + self.greatest) / 2.0 };
        format!("\"{}\"", shown::<Q>(fitting))
    }

    fn read(&self, item: &Item) -> Result<Q, Fault> {
        let text = self.text(item)?;
        if has_uncertainty(text) {
            return Err(Fault::new("takes no uncertainty").help("write the value alone, without ±"));
        }
        let quantity = Q::parse(text).map_err(|error| Self::fault(error, text))?;
        self.check(quantity.base())?;
        Ok(quantity)
    }
}

/// A quantity within limits, with or without an uncertainty.
#[derive(Clone, Copy)]
pub(super) struct Unsure<Q>(pub Amount<Q>);

impl<Q: Quantity> Form for Unsure<Q> {
    type Output = Uncertain<Q>;

    fn allowed(&self) -> String {
        self.0.allowed()
    }
    fn example(&self) -> String {
        self.0.example()
    }
    fn read(&self, item: &Item) -> Result<Uncertain<Q>, Fault> {
        let text = self.0.text(item)?;
        let uncertain = Uncertain::<Q>::parse(text).map_err(|error| Amount::<Q>::fault(error, text))?;
        self.0.check(uncertain.value.base())?;
        // Where a quantity cannot be negative, an interval that reaches below 0 is a slip.
        if 0.0 <= self.0.least && uncertain.value.base() < uncertain.plus_minus {
            return Err(
                Fault::new("is less than its own uncertainty").help("the value less what follows ± must not fall below 0")
            );
        }
        Ok(uncertain)
    }
}

fn has_uncertainty(text: &str) -> bool {
    ["±", "+/-", "+-"].iter().any(|sign| text.contains(sign))
}

/// A value of the base unit as a person would write it, in the larger unit where that is shorter.
pub(super) fn shown<Q: Quantity>(base: f64) -> String {
    let unit = match Q::UNITS {
        [small, large, ..] if large.factor == 1000.0 * small.factor && 10_000.0 <= base.abs() => large,
        units => &units[0],
    };
    written(base / unit.factor - unit.offset, unit.symbol)
}

/// A bare number with the base unit; a share up to 1 is taken for a fraction of one.
fn with_unit<Q: Quantity>(number: f64) -> String {
    let symbol = Q::UNITS[0].symbol;
    written(if symbol == "%" && number.abs() <= 1.0 { number * 100.0 } else { number }, symbol)
}

fn written(number: f64, symbol: &str) -> String {
    let space = if symbol == "°" { "" } else { " " };
    format!("{}{space}{symbol}", rounded(number))
}

/// At most nine decimals, so that 29 % does not read 28.999999999999996 %.
fn rounded(number: f64) -> f64 {
    let coarse = (number * 1e9).round() / 1e9;
    if coarse.is_finite() { coarse + 0.0 } else { number }
}

/// The accepted units, one spelling each: "h, min or days".
fn units<Q: Quantity>() -> String {
    let mut symbols: Vec<&str> = Vec::new();
    for (index, unit) in Q::UNITS.iter().enumerate() {
        if !Q::UNITS[..index].iter().any(|other| other.factor == unit.factor && other.offset == unit.offset) {
            symbols.push(unit.symbol);
        }
    }
    either(&symbols)
}

/// "a, b or c".
pub(super) fn either(words: &[&str]) -> String {
    match words.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        Some((only, _)) => (*only).to_string(),
        None => String::new(),
    }
}

fn with_article(noun: &str) -> String {
    let article = if noun.starts_with(['a', 'e', 'i', 'o']) { "an" } else { "a" };
    format!("{article} {noun}")
}

/// A text that is not empty.
pub(super) struct Text;

impl Form for Text {
    type Output = String;
    fn allowed(&self) -> String {
        "a text in quotes, not empty".into()
    }
    fn example(&self) -> String {
        "\"…\"".into()
    }
    fn read(&self, item: &Item) -> Result<String, Fault> {
        match item.value.as_str() {
            Some(text) if !text.trim().is_empty() => Ok(text.trim().to_string()),
            Some(_) => Err(Fault::new("is empty")),
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
