//! Quantities: figures with words around them, ranges.

use super::Reading;
use super::beside::beside;
use super::electric::{cased, energy, power};
use super::lengths::duration;
use super::numbers::{decimal_points, digits, marked, pairs};

/// A quantity's text as a file has it, or what to ask.
///
/// * `name` — of the quantity: "energy"; `key` — the path of the key, which tells what the figure is for.
pub(in crate::scenario) fn quantity(name: &str, key: &str, written: &str) -> Option<Reading<String>> {
    let text = plain(written);
    let lower = text.to_lowercase();
    let last = key.rsplit('.').next().unwrap_or(key);
    if let Some(reading) = marked(&text) {
        // Behind the mark there may be more: "0,2 kWp".
        return match reading {
            Reading::As(plain, says) => quantity(name, key, &plain).or(Some(Reading::As(plain, says))),
            ask => Some(ask),
        };
    }
    match decimal_points(&text) {
        Ok(points) if points != text => return quantity(name, key, &points).or_else(|| taken(points, "")),
        Err((number, [thousands, decimals])) if text.len() != number.len() => {
            let of = |reading: &str| text.replacen(&number, reading, 1);
            let help = format!("write \"{}\" or \"{}\"", of(&thousands), of(&decimals));
            return Some(Reading::ask("can be read in two ways", help));
        }
        _ => {}
    }
    let of_its_kind = match name {
        "energy" => energy(&lower, last),
        "power" => power(&lower, key, last),
        "duration" => duration(&lower),
        _ => None,
    };
    of_its_kind
        .or_else(|| range(&lower, name, key))
        .or_else(|| hedged(&text))
        .or_else(|| word(&lower, name, last))
        .or_else(|| beside(&text, name, last))
        .or_else(|| if text == written.trim() { None } else { taken(text.clone(), "") })
}

/// A word that is one value: "vertical", "full".
fn word(lower: &str, name: &str, last: &str) -> Option<Reading<String>> {
    let value = match (name, last, lower) {
        ("angle", "tilt", "vertical" | "upright" | "on a wall" | "wall") => "90°",
        ("angle", "tilt", "flat" | "horizontal" | "lying flat") => "0°",
        ("share", _, "full" | "all" | "fully charged") => "100 %",
        ("share", _, "half" | "half full" | "a half") => "50 %",
        ("share", _, "empty" | "nothing" | "none") => "0 %",
        ("angle", "tilt", _) if !lower.contains(|c: char| c.is_ascii_digit()) => {
            return Some(Reading::ask(
                "is no tilt in degrees",
                "write \"0°\" for a panel that lies flat, \"90°\" for an upright one, \"30°\" on many roofs, \"75°\" where it leans on a \
                 railing",
            ));
        }
        _ => return None,
    };
    taken(value.into(), "")
}

/// Without signs that look like others.
fn plain(text: &str) -> String {
    text.trim().replace(['º', '˚'], "°").replace(['\u{a0}', '\u{202f}'], " ")
}

pub(super) fn taken(value: String, why: &str) -> Option<Reading<String>> {
    let says = format!("is read as {value}{why}");
    Some(Reading::As(value, says))
}

/// "60-100 W", "3 to 4 days", "11-60 V".
fn range(lower: &str, name: &str, key: &str) -> Option<Reading<String>> {
    let spaced = lower.replace(['–', '—'], "-").replace(" to ", "-").replace('~', "-");
    let (low, high) = spaced.split_once('-')?;
    let [(high, unit)] = &pairs(high)?[..] else { return None };
    let [(low, low_unit)] = &pairs(low)?[..] else { return None };
    if !low_unit.is_empty() && low_unit != unit || low >= high || unit.is_empty() {
        return None;
    }
    let unit = match (name, cased(unit), unit.as_str()) {
        (_, Some(unit), _) => unit.to_string(),
        ("voltage", None, _) => "V".to_string(),
        (_, None, "a") => "A".to_string(),
        (_, None, unit) => unit.to_string(),
    };
    let (shown_low, shown_high) = (digits(*low), digits(*high));
    let help = match name {
        "voltage" if key.contains("solar_input") => {
            format!("write two keys: volts_min = \"{shown_low} {unit}\" and volts_max = \"{shown_high} {unit}\"")
        }
        "duration" => format!(
            "write the longer one, \"{shown_high} {unit}\", or both: {{ median = \"{shown_low} {unit}\", p95 = \"{shown_high} \
             {unit}\" }}"
        ),
        _ => format!(
            "write the middle and how far off it may be, \"{} {unit} ± {} {unit}\", or the cautious end",
            digits((low + high) / 2.0),
            digits((high - low) / 2.0)
        ),
    };
    Some(Reading::ask("is a range", help))
}

/// "about 60 W", "60 W max".
fn hedged(text: &str) -> Option<Reading<String>> {
    let lower = text.to_lowercase();
    let about = ["~", "≈", "about ", "approx. ", "approx ", "approximately ", "ca. ", "ca ", "circa ", "around "];
    let most = ["max. ", "max ", "maximum ", "up to ", "nominal ", "nominally ", "rated "];
    let behind = [
        " max.",
        " max",
        " maximum",
        " approx.",
        " approx",
        " nominal",
        " rated",
        " typical",
        " total",
        " each",
        " continuous",
        " cont.",
        ".",
    ];
    let start = about.iter().chain(&most).find(|word| lower.starts_with(**word));
    let rest = &text[start.map_or(0, |word| word.len())..];
    let end = behind.iter().find(|word| rest.to_lowercase().ends_with(**word));
    let rest = rest[..rest.len() - end.map_or(0, |word| word.len())].trim();
    if (start.is_none() && end.is_none()) || !rest.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let unsure = start.is_some_and(|word| about.contains(word));
    let why = if unsure {
        format!(" exactly; how far off it may be is written \"{rest} ± 20 %\" where ± is allowed")
    } else {
        String::new()
    };
    taken(rest.to_string(), &why)
}
