//! Quantities within limits, with and without an uncertainty.

use super::as_written::{self, Reading};
use super::forms::{Fault, Form, Item, any_case, either, quoted};
use crate::units::{ParseError, Quantity, Uncertain, digits, two_readings};
use serde_json::{Value as Json, json};
use std::marker::PhantomData;

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

    /// The JSON Schema of its text. Limits of a number with a unit cannot be said there.
    fn pattern(&self, spreads: bool) -> Json {
        let units: Vec<String> = Q::UNITS.iter().map(|unit| any_case(unit.symbol, "")).collect();
        let spread = if spreads { r" *((±|\+/-|\+-).*)?" } else { "" };
        let sign = match () {
            () if 0.0 <= self.least => r"\+?",
            () if self.greatest <= 0.0 && Q::UNITS.iter().all(|unit| unit.offset == 0.0) => "[-−]",
            () => "[-+−]?",
        };
        let pattern = format!(r"^ *{sign}[0-9.]+([eE][-+]?[0-9]+)? *({}){spread} *$", units.join("|"));
        json!({ "type": "string", "pattern": pattern, "examples": [self.example().trim_matches('"')] })
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
            let as_written = item.value.as_float().map(|float| float.as_str());
            if matches!(Q::UNITS[0].symbol, "W" | "Wh")
                && let Some(readings) = as_written.and_then(two_readings)
            {
                let [thousands, decimals] = readings.map(|number| format!("{number} {}", Q::UNITS[0].symbol));
                return Err(Fault::new("needs a unit").help(format!("write \"{thousands}\" or \"{decimals}\"")));
            }
            return Err(Fault::new("needs a unit").help(format!("write \"{}\"", with_unit::<Q>(number))));
        }
        Err(Fault::new(format!("cannot be read as {}", with_article(Q::NAME)))
            .help(format!("write it like {}", self.example())))
    }

    /// A text that is no quantity as a file has it: what people mean by it, or the fault with what to write.
    fn as_written<T>(
        item: &Item,
        text: &str,
        error: ParseError,
        parse: impl Fn(&str) -> Result<T, ParseError>,
    ) -> Result<T, Fault> {
        let (value, spread) = match ["±", "+/-", "+-"].iter().find_map(|sign| text.find(sign)) {
            Some(at) => text.split_at(at),
            None => (text, ""),
        };
        let whole = |value: &str| if spread.is_empty() { value.to_string() } else { format!("{value} {spread}") };
        let odd = matches!(error, ParseError::NoNumber { .. } | ParseError::UnknownUnit { .. });
        match as_written::quantity(Q::NAME, &item.key, value).filter(|_| odd) {
            // What is read there must be a quantity of this kind.
            Some(Reading::As(value, says)) => match parse(&whole(&value)) {
                Ok(_) => {
                    let value = Reading::As(value, says).told(item)?;
                    parse(&whole(&value)).map_err(|error| Self::fault(error, text))
                }
                Err(ParseError::OutOfRange { .. }) => Err(Fault::new("is out of range").help(says)),
                Err(_) => Err(Self::fault(error, text)),
            },
            Some(ask) => ask.told(item).and_then(|_| Err(Self::fault(error, text))),
            None => Err(Self::fault(error, text)),
        }
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
                    ("power", "a" | "ma" | "amp" | "amps" | "ampere" | "amperes") => {
                        "multiply by the volts: 2 A at 5 V are \"10 W\"".to_string()
                    }
                    _ => return Fault::new(format!("is not in a unit of {}", Q::NAME)),
                };
                Fault { help: Some(help), ..Fault::new(format!("is not in a unit of {}", Q::NAME)) }
            }
            ParseError::TwoReadings { thousands, decimals, .. } => Fault::new("can be read in two ways").help(format!(
                "write \"{thousands}\" or \"{decimals}\": some mark thousands by a point, some decimals"
            )),
            ParseError::OutOfRange { name: "uncertainty", .. } => Fault {
                found: Some(quoted(text)),
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
        let quantity = match Q::parse(text) {
            Ok(quantity) => quantity,
            Err(error) => Self::as_written(item, text, error, |text| Q::parse(text))?,
        };
        self.check(quantity.base())?;
        Ok(quantity)
    }
    fn json(&self) -> Json {
        self.pattern(false)
    }
}

/// A quantity within limits, with or without an uncertainty.
#[derive(Clone, Copy)]
pub(super) struct Unsure<Q>(pub Amount<Q>);

/// As [`Unsure`], where the interval may reach below 0: an estimate of something small.
#[derive(Clone, Copy)]
pub(super) struct Estimated<Q>(pub Amount<Q>);

impl<Q: Quantity> Form for Estimated<Q> {
    type Output = Uncertain<Q>;

    fn allowed(&self) -> String {
        self.0.allowed()
    }
    fn example(&self) -> String {
        self.0.example()
    }
    fn read(&self, item: &Item) -> Result<Uncertain<Q>, Fault> {
        let text = self.0.text(item)?;
        let uncertain = match Uncertain::<Q>::parse(text) {
            Ok(uncertain) => uncertain,
            Err(error) => Amount::<Q>::as_written(item, text, error, |text| Uncertain::<Q>::parse(text))?,
        };
        self.0.check(uncertain.value.base())?;
        Ok(uncertain)
    }
    fn json(&self) -> Json {
        self.0.pattern(true)
    }
    fn spreads(&self) -> bool {
        true
    }
}

impl<Q: Quantity> Form for Unsure<Q> {
    type Output = Uncertain<Q>;

    fn allowed(&self) -> String {
        self.0.allowed()
    }
    fn example(&self) -> String {
        self.0.example()
    }
    fn read(&self, item: &Item) -> Result<Uncertain<Q>, Fault> {
        let uncertain = Estimated(self.0).read(item)?;
        // Where a quantity cannot be negative, an interval that reaches below 0 is a slip.
        if 0.0 <= self.0.least && uncertain.value.base() < uncertain.plus_minus {
            return Err(Fault::new("is less than its own uncertainty")
                .help("the value less what follows ± must not fall below 0"));
        }
        Ok(uncertain)
    }
    fn json(&self) -> Json {
        self.0.pattern(true)
    }
    fn spreads(&self) -> bool {
        true
    }
}

/// As [`Unsure`], and whether a ± stands there, even of 0.
#[derive(Clone, Copy)]
pub(super) struct Told<Q>(pub Unsure<Q>);

impl<Q: Quantity> Form for Told<Q> {
    type Output = (Uncertain<Q>, bool);

    fn allowed(&self) -> String {
        self.0.allowed()
    }
    fn example(&self) -> String {
        self.0.example()
    }
    fn read(&self, item: &Item) -> Result<(Uncertain<Q>, bool), Fault> {
        Ok((self.0.read(item)?, item.value.as_str().is_some_and(has_uncertainty)))
    }
    fn json(&self) -> Json {
        self.0.json()
    }
    fn spreads(&self) -> bool {
        true
    }
}

fn has_uncertainty(text: &str) -> bool {
    ["±", "+/-", "+-"].iter().any(|sign| text.contains(sign))
}

/// A value of the base unit as a person would write it, in the larger unit where that is shorter.
pub(super) fn shown<Q: Quantity>(base: f64) -> String {
    let unit = match Q::UNITS {
        [_, _, days, ..] if Q::NAME == "duration" && 48.0 <= base => days,
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
    let number = rounded(number);
    format!("{}{space}{symbol}", digits(number, symbol))
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

fn with_article(noun: &str) -> String {
    let article = if noun.starts_with(['a', 'e', 'i', 'o']) { "an" } else { "a" };
    format!("{article} {noun}")
}
