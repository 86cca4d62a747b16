//! Latitude and longitude with the letters of the compass, minutes and seconds.

use super::Reading;

/// Which of the two.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::scenario) enum Axis {
    Latitude,
    Longitude,
}

/// Degrees, north and east positive, of `36°50'N`, `N 36.83`, `36° 50' 30" S`, `36,83`.
pub(in crate::scenario) fn degrees(axis: Axis, text: &str) -> Option<Reading<f64>> {
    let folded = folded(text);
    // Latitude and longitude in one text.
    if let Some((first, second)) = both(&folded) {
        let help = format!("write two keys: latitude = {first} and longitude = {second}");
        return Some(Reading::ask("holds latitude and longitude", help));
    }
    let (found, value) = one(&folded)?;
    let name = |axis| if axis == Axis::Latitude { "latitude" } else { "longitude" };
    match found {
        Some(other) if other != axis => {
            let help = format!("write it under the other key: {} = {value}", name(other));
            Some(Reading::ask(&format!("is a {}", name(other)), help))
        }
        _ => Some(Reading::As(value, format!("is read as {value}°"))),
    }
}

/// One spelling for marks and letters.
fn folded(text: &str) -> String {
    let text = text.trim().to_lowercase();
    let text = text.replace(['′', '’', '‘', '´'], "'").replace(['″', '”', '“'], "\"").replace("''", "\"");
    let text = text.replace(['º', '˚'], "°").replace("degrees", "°").replace("deg", "°").replace('\u{2212}', "-");
    let words = [("north", "n"), ("south", "s"), ("east", "e"), ("west", "w")];
    words.iter().fold(text, |text, (word, letter)| text.replace(word, letter))
}

/// The axis that a letter tells, and the degrees.
fn one(text: &str) -> Option<(Option<Axis>, f64)> {
    let letters: Vec<char> = text.chars().filter(|c| c.is_alphabetic()).collect();
    let (axis, sign) = match letters[..] {
        [] => (None, 1.0),
        ['n'] => (Some(Axis::Latitude), 1.0),
        ['s'] => (Some(Axis::Latitude), -1.0),
        ['e'] => (Some(Axis::Longitude), 1.0),
        ['w'] => (Some(Axis::Longitude), -1.0),
        _ => return None,
    };
    let bare: String = text.chars().filter(|c| !c.is_alphabetic()).collect();
    let bare = bare.trim();
    let (minus, bare) = bare.strip_prefix('-').map_or((1.0, bare), |rest| (-1.0, rest));
    // A sign and a letter say it twice, or against each other.
    if minus < 0.0 && axis.is_some() {
        return None;
    }
    let allowed = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | ' ' | '°' | '\'' | '"' | ':');
    if !bare.chars().all(allowed) {
        return None;
    }
    // A comma between digits is a decimal one: no latitude has thousands.
    let numbers: Option<Vec<f64>> = bare
        .replace(',', ".")
        .split(['°', '\'', '"', ' ', ':'])
        .filter(|part| !part.is_empty())
        .map(|part| part.parse().ok())
        .collect();
    let value = match numbers?[..] {
        [degrees] => degrees,
        [degrees, minutes] if minutes < 60.0 && degrees.fract() == 0.0 => degrees + minutes / 60.0,
        [degrees, minutes, seconds] if minutes < 60.0 && seconds < 60.0 && degrees.fract() == 0.0 => {
            degrees + minutes / 60.0 + seconds / 3600.0
        }
        _ => return None,
    };
    // A tenth of a second of arc is 3 m.
    Some((axis, (sign * minus * value * 1e5).round() / 1e5))
}

/// Latitude and longitude from "36.8 N, 10.2 E" or "36.8, 10.2".
fn both(text: &str) -> Option<(f64, f64)> {
    let (first, second) = text
        .split_once([',', ';'])
        .filter(|(_, second)| second.starts_with(' ') || second.contains('.'))
        .or_else(|| {
            text.split_once(['n', 's'])
                .map(|(first, second)| (&text[..=first.len()], second))
                .filter(|(_, second)| second.contains(['e', 'w']))
        })?;
    let (first, second) = (one(first.trim())?, one(second.trim())?);
    match (first.0, second.0) {
        (None, None) | (Some(Axis::Latitude), Some(Axis::Longitude)) => Some((first.1, second.1)),
        (Some(Axis::Longitude), Some(Axis::Latitude)) => Some((second.1, first.1)),
        _ => None,
    }
}
