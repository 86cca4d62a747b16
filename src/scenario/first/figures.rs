//! Figures with their units among the words of an answer: "30W", "30 W", "20 A at 12 V".

use crate::scenario::as_written::decimal_points;

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Watts,
    Volts,
    Amps,
    Litres,
    Hours,
}

/// What a unit measures, and how many base units it is.
pub(super) fn unit(text: &str) -> Option<(Kind, f64)> {
    Some(match text.to_lowercase().as_str() {
        "w" | "watt" | "watts" => (Kind::Watts, 1.0),
        "kw" => (Kind::Watts, 1000.0),
        "v" | "volt" | "volts" | "vdc" => (Kind::Volts, 1.0),
        "a" | "amp" | "amps" | "ampere" | "amperes" => (Kind::Amps, 1.0),
        "l" | "litre" | "litres" | "liter" | "liters" => (Kind::Litres, 1.0),
        "h" | "hr" | "hrs" | "hour" | "hours" => (Kind::Hours, 1.0),
        _ => return None,
    })
}

/// Whether a text is a unit of power.
pub(super) fn is_watts(text: &str) -> bool {
    unit(text).is_some_and(|(kind, _)| kind == Kind::Watts)
}

/// A figure with its unit.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Figure {
    /// In base units.
    pub value: f64,
    pub kind: Kind,
    /// As written.
    pub text: String,
    /// How many words say it.
    pub words: usize,
}

/// The figure with which words begin.
pub(super) fn figure(words: &[&str]) -> Option<Figure> {
    let plain = |word: &'_ str| word.trim_matches(['(', ')', ',', ';']).to_string();
    let first = plain(words.first()?);
    let digits = first.trim_end_matches(char::is_alphabetic);
    let number: f64 = decimal_points(digits).ok()?.parse().ok()?;
    if digits.len() < first.len() {
        let (kind, factor) = unit(&first[digits.len()..])?;
        return Some(Figure { value: number * factor, kind, text: first, words: 1 });
    }
    let next = plain(words.get(1)?);
    // "4 a" may begin another word.
    if next == "a" && words.len() > 2 && !BETWEEN.contains(&words[2]) && figure(&words[2..]).is_none() {
        return None;
    }
    let (kind, factor) = unit(&next)?;
    Some(Figure { value: number * factor, kind, text: format!("{first} {next}"), words: 2 })
}

/// All figures of a text.
pub(super) fn figures(text: &str) -> Vec<Figure> {
    // A comma between digits parts decimals.
    let plain = decimal_points(text).unwrap_or_else(|_| text.into()).replace([',', ';', '(', ')'], " ");
    let words: Vec<&str> = plain.split_whitespace().collect();
    (0..words.len()).filter_map(|at| figure(&words[at..])).collect()
}

/// "1.2 kW" \[W\].
pub(super) fn in_watts(text: &str) -> Option<f64> {
    let words: Vec<&str> = text.split_whitespace().collect();
    match figure(&words) {
        Some(figure) => (figure.kind == Kind::Watts && figure.words == words.len()).then_some(figure.value),
        None => text.trim().parse().ok(),
    }
}

/// Words between volts and amps that belong together.
const BETWEEN: [&str; 7] = ["at", "x", "×", "*", "and", "@", "/"];

/// Volts and amps that stand together, made watts: the words before, the product, and those behind.
///
/// * `told` — what it was read as.
pub(super) struct Product<'w> {
    pub before: Vec<&'w str>,
    pub watts: String,
    pub behind: Vec<&'w str>,
    pub told: String,
}

/// The first volts and amps that stand together, where no watts are told.
pub(super) fn product<'w>(words: &[&'w str]) -> Option<Product<'w>> {
    if (0..words.len()).any(|at| figure(&words[at..]).is_some_and(|figure| figure.kind == Kind::Watts)) {
        return None;
    }
    (0..words.len()).find_map(|at| {
        let one = figure(&words[at..])?;
        let mut next = at + one.words;
        next += usize::from(words.get(next).is_some_and(|word| BETWEEN.contains(&word.to_lowercase().as_str())));
        let other = figure(words.get(next..)?)?;
        let (volts, amps) = match (one.kind, other.kind) {
            (Kind::Volts, Kind::Amps) => (one.value, other.value),
            (Kind::Amps, Kind::Volts) => (other.value, one.value),
            _ => return None,
        };
        let watts = format!("{} W", (amps * volts * 10.0).round() / 10.0);
        let told = format!("read as {watts}: {volts} V times {amps} A");
        let behind = words[next + other.words..].to_vec();
        Some(Product { before: words[..at].to_vec(), watts, behind, told })
    })
}

/// What is wrong with amps where watts are wanted, with what to write; `None` where no amps are told, or watts beside them.
pub(super) fn amps(text: &str) -> Option<String> {
    let all = figures(text);
    let of = |kind: Kind| all.iter().rev().find(|figure| figure.kind == kind).map(|figure| figure.value);
    let amps = of(Kind::Amps).filter(|_| of(Kind::Watts).is_none())?;
    let watts = |volts: f64| (amps * volts * 10.0).round() / 10.0;
    Some(match of(Kind::Volts) {
        Some(volts) => format!("`{text}` tells volts and amps: write their product, \"{} W\"", watts(volts)),
        None => format!(
            "`{text}` is a current: multiply by the volts that stand beside it on the label: {amps} A at 12 V are \"{} W\", {amps} A \
             at 230 V are \"{} W\"",
            watts(12.0),
            watts(230.0)
        ),
    })
}
