//! Panels of an answer: how many, of which watts, on what, and how they stand.

use super::figures::{self, Kind};
use super::{Answered, bare};
use crate::scenario::as_written::{decimal_points, number_word, pairs};
use crate::units::two_readings;

/// Panels as they were told.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Panels {
    pub count: u32,
    /// Watts of one, as written.
    pub one: String,
    /// Whether a simple controller holds them at the battery's voltage.
    pub pwm: bool,
    /// What the solar input takes, where told.
    pub input: Option<String>,
}

/// Words around the figures that say nothing more.
const AROUND: [&str; 18] = [
    "panel",
    "panels",
    "module",
    "modules",
    "solar",
    "of",
    "each",
    "a",
    "an",
    "with",
    "on",
    "controller",
    "charge",
    "folding",
    "foldable",
    "mppt",
    "and",
    "the",
];

/// "2 x 100 W", "one 100 W panel", "2 x 100 W, PWM controller", "200 W, input 400 W"; nothing for none.
pub(super) fn panels(text: &str, said: &mut Answered) -> Result<Option<Panels>, String> {
    let lower = text.to_lowercase();
    if is_none(&lower) {
        return Ok(None);
    }
    let lower = decimal_points(&lower).map_err(|(number, readings)| {
        let [thousands, decimals] = readings.map(|reading| lower.replacen(&number, &reading, 1).replace('w', "W"));
        format!("`{text}` can be read in two ways: write \"{thousands}\" or \"{decimals}\"")
    })?;
    let (figures, input) = match lower.split_once("input") {
        Some((figures, input)) => {
            let input = input.trim_matches([' ', ':', ',', '.']).trim_start_matches("takes ").to_string();
            let input = bare(&input, "W", (10.0, 20_000.0), said)?;
            (figures.trim_end().trim_end_matches("solar").trim_end().trim_end_matches(',').to_string(), Some(input))
        }
        None => (lower.clone(), None),
    };
    let words: Vec<String> = figures
        .split([' ', ',', ';'])
        .filter(|word| !word.is_empty() && !AROUND.contains(word))
        .map(|word| number_word(word).map_or_else(|| word.to_string(), |number| number.to_string()))
        .collect();
    let pwm = words.iter().any(|word| word == "pwm");
    let words: Vec<&str> = words.iter().map(String::as_str).filter(|word| *word != "pwm").collect();
    let figures = words.join(" ");
    let made = |count: u32, one: String| Ok(Some(Panels { count, one, pwm, input: input.clone() }));
    // A number that can be read in two ways is the reader's to refuse.
    if words.iter().any(|word| two_readings(word.trim_end_matches(char::is_alphabetic)).is_some()) {
        return made(1, figures);
    }
    let one_kind = || {
        let watts: Vec<_> = figures::figures(text).into_iter().filter(|figure| figure.kind == Kind::Watts).collect();
        let other = words.iter().find(|word| !says_panels(word));
        if let ([watts], Some(word)) = (&watts[..], other) {
            return format!(
                "`{text}`: `{word}` is not understood here: write how many and the watts of one, like \"{} W\" or \"2 x {0} W\"; where \
                 they stand and which way they look is the next question, --stand",
                crate::units::one_reading(watts.value)
            );
        }
        format!(
            "`{text}` cannot be read as panels of one kind: write how many and the watts of one, like 2 x 100 W (others are added \
             in the file, a [[panel]] each)"
        )
    };
    let unit = |unit: &str| match unit {
        "" | "w" | "wp" | "watt" | "watts" => Some("W"),
        "kw" | "kwp" => Some("kW"),
        _ => None,
    };
    let (count, watts, named) = match pairs(&figures).as_deref() {
        Some([(watts, named)]) => (1.0, *watts, named.clone()),
        Some([(count, none), (watts, named)]) if none.is_empty() => (*count, *watts, named.clone()),
        Some([(watts, named), (count, none)]) if none.is_empty() => (*count, *watts, named.clone()),
        _ => return Err(one_kind()),
    };
    let unit = unit(&named).filter(|_| count.fract() == 0.0 && (1.0..=1000.0).contains(&count)).ok_or_else(one_kind)?;
    let one =
        if named.is_empty() { bare(&watts.to_string(), "W", (10.0, 1000.0), said)? } else { format!("{watts} {unit}") };
    if count > 1.0 {
        let (sum, each) = (crate::units::one_reading(count * watts), crate::units::one_reading(watts));
        said.told.push(format!("{text}: {count} panels of {each} {unit}, {sum} {unit} in all"));
    }
    made(count as u32, one)
}

/// Whether a word is a number, a unit of power, or both.
fn says_panels(word: &str) -> bool {
    let unit = word.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | ','));
    ["", "w", "wp", "watt", "watts", "kw", "kwp", "x", "×"].contains(&unit)
}

/// Whether an answer says that there is none: "no panels", "I don't have any panels".
pub(super) fn is_none(lower: &str) -> bool {
    let plain = lower.trim().trim_end_matches(['.', '!']).replace(['\'', '’'], "");
    let (denied, rest): (Vec<&str>, Vec<&str>) = plain.split_whitespace().partition(|word| DENIES.contains(word));
    plain == "-" || !denied.is_empty() && rest.iter().all(|word| OWNED.contains(word))
}

const DENIES: [&str; 10] = ["none", "no", "0", "without", "nothing", "not", "dont", "havent", "never", "zero"];
/// Words beside them.
const OWNED: [&str; 20] = [
    "i", "we", "have", "got", "any", "do", "yet", "there", "are", "is", "a", "at", "all", "of", "them", "solar",
    "panel", "panels", "own", "one",
];
