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
    let comma = folded.split_once(',').is_some_and(|(_, rest)| rest.starts_with(' ') || rest.contains('.'));
    let sure = comma || folded.contains(';') || folded.chars().filter(|c| c.is_alphabetic()).count() == 2;
    if let Some((first, second)) = both(&folded).filter(|_| sure) {
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
    let bare = bare.strip_prefix('+').unwrap_or(bare);
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

/// Latitude and longitude from "36.8 N, 10.2 E", "36.8n10.2e", "N 36 50 E 10 11", "36.8, 10.2" or "36.8 10.2", in small letters.
fn both(text: &str) -> Option<(f64, f64)> {
    let letters: Vec<(usize, char)> = text.char_indices().filter(|(_, c)| c.is_alphabetic()).collect();
    let (first, second) = match letters[..] {
        // Letters stand before their figures or behind them.
        [(0, _), (second, _)] => text.split_at(second),
        [(first, _), (_, _)] => text.split_at(first + 1),
        [] => {
            let words: Vec<&str> = text.split_whitespace().collect();
            match (text.split_once(';'), text.split_once(", "), &words[..]) {
                (Some(both), ..) | (_, Some(both), _) => both,
                (.., [first, second]) => (*first, *second),
                (.., [one]) if one.matches(',').count() == 1 => one.split_once(',')?,
                _ => return None,
            }
        }
        _ => return None,
    };
    let bare = |part: &str| one(part.trim_matches([' ', ',', ';', '/']));
    let (first, second) = (bare(first)?, bare(second)?);
    match (first.0, second.0) {
        (None, None) | (Some(Axis::Latitude), Some(Axis::Longitude)) => Some((first.1, second.1)),
        (Some(Axis::Longitude), Some(Axis::Latitude)) => Some((second.1, first.1)),
        _ => None,
    }
}

/// Latitude and longitude \[°\], north and east positive, of a text in which a place may stand by its name: `36.8, 10.2`,
/// `36.8N 10.2E`, `36°50'N 10°11'E`, `-33.9 18.4`. Nothing for a name.
///
/// # Errors
/// Figures that are half a position, none that can be read, or none on earth: what is wrong, and what to write.
///
/// ```
/// use tideover::scenario::position;
/// assert_eq!(position("36°50'N 10°11'E"), Some(Ok((36.83333, 10.18333))));
/// assert_eq!(position("Bergen, Norway"), None);
/// assert!(position("36.8 N").unwrap().unwrap_err().contains("latitude alone"));
/// ```
#[must_use]
pub fn position(text: &str) -> Option<Result<(f64, f64), String>> {
    let folded = folded(text);
    let figures = |c: char| c.is_ascii_digit() || " .,;:/-+°'\"nsew".contains(c);
    if !folded.contains(|c: char| c.is_ascii_digit()) || !folded.chars().all(figures) {
        return None;
    }
    let like = "write both, like 36.8, 10.2 (south and west negative) or 36.8N 10.2E";
    Some(match (both(&folded), one(&folded)) {
        (Some((latitude, longitude)), _) if latitude.abs() <= 90.0 && longitude.abs() <= 180.0 => {
            Ok((latitude, longitude))
        }
        (Some(_), _) => Err("is no place on earth; allowed: latitude -90 to 90, longitude -180 to 180".into()),
        (None, Some((Some(Axis::Longitude), _))) => Err(format!("is a longitude alone: {like}")),
        (None, Some((Some(Axis::Latitude), _))) => Err(format!("is a latitude alone: {like}")),
        (None, Some((None, _))) => Err(format!("is one figure, where a place has latitude and longitude: {like}")),
        (None, None) => Err(format!("cannot be read as latitude and longitude: {like}")),
    })
}
