//! Panels of an answer: how many, of which watts, on what, and how they stand.

use super::super::nearest;
use super::{Answered, bare};
use crate::scenario::as_written::{number_word, pairs};
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
    made(count as u32, one)
}

/// Whether an answer says that there is none.
pub(super) fn is_none(lower: &str) -> bool {
    ["none", "no", "0", "-", "no panels", "no panel", "without", "nothing"].contains(&lower.trim())
}

/// How panels stand.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stands {
    pub tilt: String,
    pub facing: Option<&'static str>,
    pub said: &'static str,
    /// What was not told of it.
    pub assumed: Option<String>,
}

const WAYS: [&str; 8] = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
const SHORT: [&str; 8] = ["n", "ne", "e", "se", "s", "sw", "w", "nw"];

/// Least and greatest slope for the sun of the whole year \[°\] (common practice, no source).
const SLOPE_DEG: (f64, f64) = (15.0, 65.0);

/// "roof south-west", "balcony south", "flat", "35° south".
pub(super) fn stands(text: &str, latitude_deg: f64) -> Result<Stands, String> {
    let lower = text.to_lowercase().replace(['_', ','], " ");
    let lower = ["north", "south"].iter().fold(lower, |text, way| {
        text.replace(&format!("{way} east"), &format!("{way}-east"))
            .replace(&format!("{way} west"), &format!("{way}-west"))
    });
    let mut facing = None;
    let mut tilt_deg = None;
    let mut told = false;
    let mut said = "on the ground";
    for word in lower.split_whitespace() {
        let plain = word.trim_end_matches("-facing").trim_end_matches('-');
        let joined = plain.replace('-', "");
        let way = WAYS
            .iter()
            .position(|way| way.replace('-', "") == joined)
            .or_else(|| SHORT.iter().position(|s| *s == joined));
        let degrees = word.trim_end_matches(['°', 'º']).trim_end_matches("deg").parse::<f64>().ok();
        match (way, degrees, plain) {
            (Some(way), ..) => facing = Some(WAYS[way]),
            (_, Some(degrees), _) if (0.0..=90.0).contains(&degrees) => (tilt_deg, told) = (Some(degrees), true),
            (.., "ground" | "yard" | "garden" | "lawn" | "field" | "terrace") => {}
            (.., "roof") => (said, tilt_deg) = ("on a roof", tilt_deg.or(Some(30.0))),
            (.., "balcony" | "railing" | "wall" | "fence" | "window") => {
                (said, tilt_deg) = ("on a balcony", tilt_deg.or(Some(75.0)))
            }
            (.., "flat") => (said, tilt_deg, told) = ("lying flat", Some(0.0), true),
            (
                ..,
                "on" | "the" | "a" | "in" | "facing" | "looking" | "looks" | "to" | "at" | "leaning" | "my" | "degrees"
                | "tilt" | "tilted" | "and" | "steep",
            ) => {}
            _ => {
                let known = ["ground", "roof", "balcony", "flat"].into_iter().chain(WAYS);
                let near =
                    nearest::nearest(plain, known).map_or(String::new(), |near| format!("; did you mean {near}?"));
                return Err(format!(
                    "`{word}` says nothing of panels: write ground, roof, balcony or flat, a direction like south-west, a tilt \
                     like 35°{near}"
                ));
            }
        }
    }
    let to_the_sun = if latitude_deg < 0.0 { "north" } else { "south" };
    let tilt_deg = tilt_deg.unwrap_or_else(|| latitude_deg.abs().round().clamp(SLOPE_DEG.0, SLOPE_DEG.1));
    let looks = if tilt_deg == 0.0 { None } else { Some(facing.unwrap_or(to_the_sun)) };
    let assumed = match (told, looks.filter(|_| facing.is_none())) {
        (true, None) => None,
        (true, Some(way)) => Some(format!("The panels look {way} (panel.0.facing).")),
        (false, None) => Some(format!("The panels stand {said} at a tilt of {tilt_deg}° (panel.0.tilt).")),
        (false, Some(way)) => Some(format!(
            "The panels stand {said} at a tilt of {tilt_deg}° and look {way} (panel.0.tilt, panel.0.facing)."
        )),
    };
    Ok(Stands { tilt: format!("{tilt_deg}°"), facing: looks, said, assumed })
}
