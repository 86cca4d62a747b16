//! Reading a number with its unit.

use super::Unit;
use thiserror::Error;

/// Why a text is not a quantity. `found` is what was written; the message says what is allowed.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum ParseError {
    /// A number without a unit.
    #[error("`{found}` needs a unit: write it as \"{example}\"")]
    NoUnit {
        /// What was written.
        found: String,
        /// The same number with the base unit.
        example: String,
    },
    /// Nothing that reads as a number at the front.
    #[error("`{found}` is not a number with a unit; {name} is written like \"{example}\"")]
    NoNumber {
        /// What was written.
        found: String,
        /// What was asked for: "energy".
        name: &'static str,
        /// A well-formed example.
        example: String,
    },
    /// A number with a unit that this quantity does not have.
    #[error("`{unit}` is not a unit of {name}; allowed: {allowed}")]
    UnknownUnit {
        /// The unit as written.
        unit: String,
        /// What was asked for: "energy".
        name: &'static str,
        /// The units allowed.
        allowed: String,
    },
    /// A mark before three digits, which may stand between thousands or before decimals: "1.500 W".
    #[error("`{found}` can be read in two ways: write \"{thousands}\" or \"{decimals}\"")]
    TwoReadings {
        /// What was written.
        found: String,
        /// The one reading, as it can be written: "1500 W".
        thousands: String,
        /// The other: "1.5 W".
        decimals: String,
    },
    /// A value outside the range that makes sense.
    #[error("{name} of {found} is out of range; allowed: {least} to {greatest} {unit}")]
    OutOfRange {
        /// What was found, in the base unit.
        found: String,
        /// What was asked for.
        name: &'static str,
        /// Least value in the base unit.
        least: f64,
        /// Greatest value in the base unit.
        greatest: f64,
        /// The base unit.
        unit: &'static str,
    },
}

/// The two readings of a number whose mark may stand between thousands or before decimals, as it does in half of the world:
/// one to three digits, a point or a comma, and exactly three digits. Nothing for any other number; what begins with 0 has no
/// thousands.
///
/// ```
/// use tideover::units::two_readings;
/// assert_eq!(two_readings("1.500"), Some(["1500".to_string(), "1.5".to_string()]));
/// assert_eq!(two_readings("1,024"), Some(["1024".to_string(), "1.0240".to_string()]));
/// assert_eq!(two_readings("0.500"), None);
/// ```
#[must_use]
pub fn two_readings(number: &str) -> Option<[String; 2]> {
    let number = number.trim();
    let (sign, digits) = number.split_at(number.len() - number.trim_start_matches(['+', '-', '\u{2212}']).len());
    let (whole, part) = digits.split_once(['.', ','])?;
    let all_digits = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    let groups = (1..=3).contains(&whole.len()) && part.len() == 3 && all_digits(whole) && all_digits(part);
    if !groups || whole.starts_with('0') {
        return None;
    }
    let decimals = match part.trim_end_matches('0') {
        "" => whole.to_string(),
        // Four decimals leave no doubt.
        left if left.len() == 3 => format!("{whole}.{left}0"),
        left => format!("{whole}.{left}"),
    };
    Some([format!("{sign}{whole}{part}"), format!("{sign}{decimals}")])
}

/// A number's shortest digits that can be read in one way only.
#[must_use]
pub fn one_reading(number: f64) -> String {
    let shortest = number.to_string();
    two_readings(&shortest).map_or(shortest, |[_, decimals]| decimals)
}

/// Splits a text into its leading number and the rest. A decimal comma and digit grouping are refused (the number then
/// ends there and the rest is no unit), so that "1,200 Wh" cannot pass for 1 or for 1200.
fn split_number(text: &str) -> Option<(f64, &str)> {
    let text = text.trim();
    let (minus, unsigned) = match text.strip_prefix('\u{2212}') {
        Some(rest) => ("-", rest),
        None => ("", text),
    };
    let bytes = unsigned.as_bytes();
    let mut end = 0;
    while end < bytes.len() {
        let sign_allowed = if end == 0 { minus.is_empty() } else { matches!(bytes[end - 1], b'e' | b'E') };
        let ok = match bytes[end] {
            b'0'..=b'9' | b'.' => true,
            b'+' | b'-' => sign_allowed,
            // An exponent must be followed by a digit or a sign and a digit, or it belongs to a unit.
            b'e' | b'E' => {
                end > 0
                    && bytes.get(end + 1).is_some_and(|b| {
                        b.is_ascii_digit()
                            || (matches!(b, b'+' | b'-') && bytes.get(end + 2).is_some_and(u8::is_ascii_digit))
                    })
            }
            _ => false,
        };
        if !ok {
            break;
        }
        end += 1;
    }
    let number: f64 = format!("{minus}{}", &unsigned[..end]).parse().ok()?;
    // Minus zero is zero: it would be shown as -0.
    number.is_finite().then(|| (number + 0.0, unsigned[end..].trim()))
}

/// Reads `text` as a number with one of `units` and returns it in the base unit.
///
/// # Errors
/// As [`ParseError`]; the range is not checked here.
pub fn parse_with_units(text: &str, name: &'static str, units: &'static [Unit]) -> Result<f64, ParseError> {
    let base = units[0].symbol;
    let spaced = if base == "°" { "" } else { " " };
    let Some((number, rest)) = split_number(text) else {
        return Err(ParseError::NoNumber { found: text.trim().into(), name, example: format!("5{spaced}{base}") });
    };
    if rest.is_empty() {
        // A bare share up to 1 is most likely meant as a fraction: 0.85 for 85 %.
        let meant = if base == "%" && number.abs() <= 1.0 { number * 100.0 } else { number };
        return Err(ParseError::NoUnit { found: text.trim().into(), example: format!("{meant}{spaced}{base}") });
    }
    let unit = units
        .iter()
        .find(|unit| unit.symbol == rest)
        .or_else(|| units.iter().find(|unit| unit.symbol.eq_ignore_ascii_case(rest)));
    // "1,024 Wh" comes here as 1 and ",024 Wh".
    let marked = unit.filter(|unit| unit.factor == 1.0).or_else(|| rest.starts_with(',').then_some(&units[0]));
    if matches!(base, "W" | "Wh")
        && let Some(error) = marked.and_then(|unit| readings(text, unit))
    {
        return Err(error);
    }
    match unit {
        Some(unit) => Ok((number + unit.offset) * unit.factor),
        None => {
            let known: Vec<&str> = units.iter().map(|unit| unit.symbol).take(4).collect();
            Err(ParseError::UnknownUnit { unit: rest.into(), name, allowed: known.join(", ") })
        }
    }
}

/// The error of watts or watt-hours whose number can be read in two ways. With a prefix nobody writes thousands.
fn readings(text: &str, unit: &Unit) -> Option<ParseError> {
    let text = text.trim();
    let number = text.trim_end_matches(|c: char| !c.is_ascii_digit());
    if text[number.len()..].trim().eq_ignore_ascii_case(unit.symbol) {
        let [thousands, decimals] = two_readings(number)?.map(|number| format!("{number} {}", unit.symbol));
        return Some(ParseError::TwoReadings { found: text.into(), thousands, decimals });
    }
    None
}

/// Checks that a value in base units lies in `least..=greatest`.
pub(super) fn within(
    value: f64,
    name: &'static str,
    least: f64,
    greatest: f64,
    unit: &'static str,
) -> Result<f64, ParseError> {
    if (least..=greatest).contains(&value) {
        return Ok(value);
    }
    let scale = if unit == "%" { 100.0 } else { 1.0 };
    Err(ParseError::OutOfRange {
        found: format!("{} {unit}", value * scale),
        name,
        least: least * scale,
        greatest: greatest * scale,
        unit,
    })
}

/// Splits "505 Wh ± 3 %" (or `+/-`, `+-`) into the value and what follows the sign.
pub(super) fn split_plus_minus(text: &str) -> (&str, Option<&str>) {
    for sign in ["±", "+/-", "+-"] {
        if let Some(at) = text.find(sign) {
            return (text[..at].trim(), Some(text[at + sign.len()..].trim()));
        }
    }
    (text.trim(), None)
}
