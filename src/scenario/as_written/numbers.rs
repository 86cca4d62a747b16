//! Numbers with their units: how many, decimal commas, thousands apart.

use super::Reading;
use super::quantities::taken;
use crate::units::two_readings;

/// A number as it is written into a file.
pub(super) fn digits(number: f64) -> String {
    crate::units::one_reading((number * 1e6).round() / 1e6)
}

/// Commas between two digits made points: a comma without a blank parts decimals, and nothing else. Figures with several
/// commas or a point beside one stay as they are.
///
/// # Errors
/// The first number that may have its thousands parted, and its two readings.
pub(in crate::scenario) fn decimal_points(text: &str) -> Result<String, (String, [String; 2])> {
    let figure = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',');
    let (mut plain, mut rest) = (String::new(), text);
    while let Some(start) = rest.find(|c: char| c.is_ascii_digit()) {
        let (before, from) = rest.split_at(start);
        plain.push_str(before);
        let run = &from[..from.find(|c| !figure(c)).unwrap_or(from.len())];
        rest = &from[run.len()..];
        let number = run.trim_end_matches(['.', ',']);
        // The minutes of an hour are no whole part: "19:00,2 lamps".
        let parted = number
            .split_once(',')
            .filter(|(whole, part)| !before.ends_with(':') && !format!("{whole}{part}").contains([',', '.']));
        match parted {
            Some((whole, part)) => {
                if let Some(two) = two_readings(number) {
                    return Err((number.into(), two));
                }
                plain += &format!("{whole}.{part}");
            }
            None => plain.push_str(number),
        }
        plain.push_str(&run[number.len()..]);
    }
    plain.push_str(rest);
    Ok(plain)
}

/// Numbers, each with the unit behind it in small letters (empty where none stands there). Nothing where anything else stands
/// between them than `x`, `*`, `@` and the like.
pub(in crate::scenario) fn pairs(lower: &str) -> Option<Vec<(f64, String)>> {
    let mut rest = lower.trim();
    let mut found = Vec::new();
    while !rest.is_empty() {
        let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rest.len());
        let number: f64 = rest[..end].parse().ok()?;
        rest = rest[end..].trim_start();
        let end = rest.find(|c: char| !c.is_alphabetic()).unwrap_or(rest.len());
        let mut unit = &rest[..end];
        // "2 x 100 w", "12vx100ah".
        if unit == "x" {
            unit = "";
        } else if rest[end..].starts_with(|c: char| c.is_ascii_digit()) {
            unit = unit.strip_suffix('x').unwrap_or(unit);
        }
        found.push((number, unit.to_string()));
        rest = rest[end..].trim_start();
        for between in ["x ", "x", "×", "*", "·", "@", "at ", "and ", "⎓", ", ", ",", "/"] {
            // "12,8 V" is no product: a comma is one behind a unit or before a blank.
            if between == "," && found.last().is_some_and(|(_, unit)| unit.is_empty()) {
                continue;
            }
            let left = rest.strip_prefix(between).map(str::trim_start);
            if let Some(left) = left.filter(|left| left.starts_with(|c: char| c.is_ascii_digit())) {
                rest = left;
                break;
            }
        }
    }
    (!found.is_empty()).then_some(found)
}

/// Counts in words, from none on.
pub(crate) const COUNT_WORDS: [&str; 13] =
    ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];

/// Places in a row in words, from the first on.
pub(crate) const ORDINAL_WORDS: [&str; 10] =
    ["first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"];

/// A whole number in words, from one to twelve.
pub(in crate::scenario) fn number_word(lower: &str) -> Option<u32> {
    COUNT_WORDS.iter().position(|known| *known == lower).filter(|n| *n > 0).and_then(|n| u32::try_from(n).ok())
}

/// A decimal comma, or thousands apart.
pub(super) fn marked(text: &str) -> Option<Reading<String>> {
    let digit = |c: char| c.is_ascii_digit();
    let start = text.len() - text.trim_start_matches(['-', '+', '\u{2212}']).len();
    let end =
        text[start..].find(|c: char| !digit(c) && !matches!(c, ',' | ' ' | '\'' | '’')).unwrap_or(text.len() - start);
    let (number, unit) = (text[start..start + end].trim_end(), text[start + end..].trim());
    // Another number behind it would be something else.
    if number.is_empty() || unit.is_empty() || unit.contains(digit) || unit.starts_with(['.', '/', '(', '-', ':']) {
        return None;
    }
    let sign = &text[..start];
    if let Some((whole, part)) = number.split_once(',') {
        let plain = !whole.is_empty() && !part.is_empty() && [whole, part].iter().all(|text| text.chars().all(digit));
        if !plain {
            return None;
        }
        if let Some([thousands, decimals]) = two_readings(number) {
            let help = format!("write \"{sign}{thousands} {unit}\" or \"{sign}{decimals} {unit}\"");
            return Some(Reading::ask("can be read in two ways", help));
        }
        return taken(format!("{sign}{whole}.{part} {unit}"), "");
    }
    let groups: Vec<&str> = number.split([' ', '\'', '’']).collect();
    let (first, others) = groups.split_first()?;
    let thousands = (1..=3).contains(&first.len()) && !others.is_empty() && others.iter().all(|group| group.len() == 3);
    if thousands { taken(format!("{sign}{} {unit}", groups.concat()), "") } else { None }
}
