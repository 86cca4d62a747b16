//! What charges the station beside the sun, by an answer.

use super::figures::{Kind, amps, figures, product};
use super::panels::is_none;
use super::{Answered, bare};

/// "100 W", "a charger of 100 W"; nothing where the panels alone charge it.
///
/// * `cuts` — whether the mains come back between cuts: else a charger has nothing to charge from.
pub(super) fn charger(text: &str, cuts: bool, said: &mut Answered) -> Result<Option<String>, String> {
    let lower = text.to_lowercase();
    if GENERATORS.iter().any(|word| lower.contains(word)) {
        return Err(generator(text));
    }
    if is_none(&lower)
        || lower.starts_with("nothing")
        || lower.contains("panel") && !lower.contains(|c: char| c.is_ascii_digit())
    {
        return Ok(None);
    }
    let all: Vec<&str> = text.split_whitespace().collect();
    let product = product(&all);
    if let Some(product) = &product {
        said.told.push(format!("{text}: {}", product.told));
    } else if let Some(why) = amps(text) {
        return Err(why);
    }
    let text = &product.map_or(text.to_string(), |product| {
        [&product.before[..], &[product.watts.as_str()], &product.behind[..]].concat().join(" ")
    });
    let words = text
        .split_whitespace()
        .map(|word| word.trim_matches([',', ';', '(', ')']))
        .filter(|word| !word.is_empty() && !AROUND.contains(&word.to_lowercase().as_str()));
    let watts = words.collect::<Vec<_>>().join(" ");
    if !watts.contains(|c: char| c.is_ascii_digit()) {
        return Err(format!(
            "`{text}` does not say how much it draws: write the watts of the charger, like \"100 W\", or none"
        ));
    }
    let watts = bare(&watts, "W", (10.0, 20_000.0), said)?;
    if !cuts {
        said.told.push(format!(
            "{text}: left out, for in one long outage a charger has no mains to charge from. It counts with cuts that come back, \
             --lasts \"18:00-22:00\", or with a generator: [generator] and [station.wall_charger] in the file"
        ));
        return Ok(None);
    }
    said.told.push(format!("{text}: between the cuts a wall charger draws up to {watts} (station.wall_charger.limit)"));
    Ok(Some(watts))
}

/// Words around the watts that say nothing more.
const AROUND: [&str; 26] = [
    "a",
    "an",
    "the",
    "of",
    "wall",
    "mains",
    "ac",
    "charger",
    "charge",
    "with",
    "that",
    "which",
    "came",
    "comes",
    "it",
    "its",
    "it's",
    "own",
    "my",
    "supplied",
    "included",
    "original",
    "box",
    "in",
    "station's",
    "brick",
];

/// Words for what burns fuel.
const GENERATORS: [&str; 4] = ["generator", "genset", "gen set", "gen-set"];

/// That a generator has a section of its own, with its lines as far as they are told.
fn generator(text: &str) -> String {
    let all = figures(text);
    let of = |kind: Kind| all.iter().find(|figure| figure.kind == kind).map(|figure| figure.value);
    let limit = of(Kind::Watts).unwrap_or(1000.0);
    let fuel = of(Kind::Litres).unwrap_or(10.0);
    format!(
        "`{text}` is a generator, which has a section of its own: answer none here, and write into the file [generator] with limit = \
         \"{limit} W\", hours = \"18:00-20:00\" (when it runs), fuel = \"{fuel} L\" (what is there), fuel_per_kwh = \"0.7 L\" (small \
         petrol sets commonly burn 0.4 to 0.7 L for each kWh), and [station.wall_charger] with limit = \"300 W\", the watts of the charger that \
         it feeds. A generator runs outdoors only, far from doors and windows"
    )
}
