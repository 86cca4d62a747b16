//! The forms of values that only `years` has: how often, warnings, money, plain weights.

use crate::scenario::forms::{Custom, Fault, Form, Item, Number, any_text};
use crate::units::{Fraction, Hours, Quantity, two_readings};

/// The number at the beginning of a text, and the rest.
fn number_and_rest(text: &str) -> Option<(f64, &str)> {
    let text = text.trim();
    let end = text.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '+' | '-'))).unwrap_or(text.len());
    let number: f64 = text[..end].parse().ok()?;
    number.is_finite().then_some((number, text[end..].trim()))
}

/// How often something happens: `"2.5 a year"`.
pub(in crate::scenario) struct Often;

/// Most outages in a year.
const MOST_A_YEAR: f64 = 400.0;

impl Form for Often {
    type Output = f64;
    fn allowed(&self) -> String {
        format!("how often in a year, above 0, up to {MOST_A_YEAR}, like \"2.5 a year\"")
    }
    fn example(&self) -> String {
        "\"2.5 a year\"".into()
    }
    fn read(&self, item: &Item) -> Result<f64, Fault> {
        if let Some(number) = item.number() {
            return Err(Fault::new("must say a year").help(format!("write \"{number} a year\"")));
        }
        let text = item.value.as_str().ok_or_else(|| Fault::new("cannot be read as how often"))?;
        let (number, rest) = number_and_rest(text).ok_or_else(|| Fault::new("cannot be read as how often"))?;
        if !["a year", "per year", "/year", "times a year"].contains(&rest) {
            return Err(Fault::new("must say a year").help(format!("write \"{number} a year\"")));
        }
        if 0.0 < number && number <= MOST_A_YEAR { Ok(number) } else { Err(Fault::new("is out of range")) }
    }
}

/// A number of years: `"6 years"`.
pub(in crate::scenario) const YEARS_LONG: Custom<f64> = Custom {
    allowed: "a number of years, 0.5 to 100, like \"6 years\"",
    example: "\"6 years\"",
    read: read_years_long,
    json: any_text,
};

fn read_years_long(item: &Item) -> Result<f64, Fault> {
    if let Some(number) = item.number() {
        return Err(Fault::new("must say years").help(format!("write \"{number} years\"")));
    }
    let text = item.value.as_str().ok_or_else(|| Fault::new("cannot be read as a number of years"))?;
    match number_and_rest(text) {
        Some((number, "years" | "year")) if (0.5..=100.0).contains(&number) => Ok(number),
        Some((_, "years" | "year")) => Err(Fault::new("is out of range")),
        _ => Err(Fault::new("cannot be read as a number of years")),
    }
}

/// How many outages are announced and how long before: `"70 % of outages, 24 h ahead"`.
pub(in crate::scenario) const WARNED: Custom<(Fraction, Hours)> = Custom {
    allowed: "share of the outages and time, like \"70 % of outages, 24 h ahead\"; up to 100 %, up to 7 days",
    example: "\"70 % of outages, 24 h ahead\"",
    read: read_warned,
    json: any_text,
};

fn read_warned(item: &Item) -> Result<(Fraction, Hours), Fault> {
    let wrong = || Fault::new("cannot be read as a warning").help(format!("write it like {}", WARNED.example));
    let text = item.value.as_str().ok_or_else(wrong)?;
    let (share, ahead) = text.split_once(',').ok_or_else(wrong)?;
    let share = share.trim().strip_suffix("of outages").ok_or_else(wrong)?;
    let ahead = ahead.trim().strip_suffix("ahead").ok_or_else(wrong)?;
    let share = Fraction::parse(share.trim()).map_err(|_| wrong())?;
    let ahead = Hours::parse(ahead.trim()).map_err(|_| wrong())?;
    if (0.0..=1.0).contains(&share.0) && 0.0 < ahead.0 && ahead.0 <= 168.0 {
        Ok((share, ahead))
    } else {
        Err(Fault::new("is out of range"))
    }
}

/// Money: an amount and its currency, for one kWh or for a thing.
pub(in crate::scenario) struct Money {
    pub per_kwh: bool,
}

pub(in crate::scenario) const KWH: Money = Money { per_kwh: true };
pub(in crate::scenario) const PRICE: Money = Money { per_kwh: false };

/// An amount with the name of its currency.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::scenario) struct Amount {
    pub amount: f64,
    pub currency: String,
}

impl Form for Money {
    type Output = Amount;
    fn allowed(&self) -> String {
        let unit = if self.per_kwh { "a price for a kWh" } else { "a price" };
        format!("{unit} with its currency, 0 or more, like {}", self.example())
    }
    fn example(&self) -> String {
        if self.per_kwh { "\"0.32 EUR/kWh\"".into() } else { "\"450 EUR\"".into() }
    }
    fn read(&self, item: &Item) -> Result<Amount, Fault> {
        let help = format!("write it like {}", self.example());
        let wrong = || Fault::new("cannot be read as a price").help(help.clone());
        let text = item.value.as_str().ok_or_else(wrong)?;
        let (amount, rest) = number_and_rest(text).ok_or_else(wrong)?;
        let whole = ["/kWh", "per kWh", "a kWh"].iter().find_map(|unit| rest.strip_suffix(unit));
        let currency = match (self.per_kwh, whole) {
            (true, Some(currency)) => currency.trim(),
            (true, None) => return Err(Fault::new("must say for a kWh").help(help)),
            (false, Some(_)) => return Err(Fault::new("is the price of a thing, not of a kWh").help(help)),
            (false, None) => rest,
        };
        let short = (1..=5).contains(&currency.chars().count());
        if !short || currency.chars().any(|c| c.is_whitespace() || c.is_control() || c.is_ascii_digit()) {
            return Err(Fault::new("needs a currency").help(help));
        }
        let digits = text.trim_start().split(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '+' | '-'))).next();
        if !self.per_kwh
            && let Some([thousands, decimals]) = digits.and_then(two_readings)
        {
            let both = format!("write \"{thousands} {currency}\" or \"{decimals} {currency}\"");
            return Err(Fault::new("can be read in two ways").help(both));
        }
        if (0.0..=1e7).contains(&amount) {
            Ok(Amount { amount, currency: currency.to_string() })
        } else {
            Err(Fault::new("is out of range"))
        }
    }
}

/// A plain number that weighs one thing against another.
pub(in crate::scenario) const WEIGHT: Number = Number {
    least: 0.0,
    greatest: 1000.0,
    above: false,
    allowed: "a plain number, 0 to 1000: how likely against the others",
    example: "3",
    help: "",
};
