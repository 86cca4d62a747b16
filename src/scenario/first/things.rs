//! Things that must stay on, as lines of their sections.

use super::super::appliances::{self, Appliance};
use super::Answered;
use crate::scenario::as_written::{self, Reading, number_word};

/// A thing's parts.
struct Thing<'t> {
    /// As written.
    whole: &'t str,
    name: String,
    count: u32,
    watts: Option<String>,
    hours: Option<String>,
}

/// The sections of a list like "fridge, wifi, 2 phones, 3 W lamp, fan 40 W 19:00-23:00".
///
/// * `outlet` — of what nobody told: "ac", or "dc" where there are no AC outlets.
pub(super) fn loads(text: &str, outlet: &str, said: &mut Answered) -> Result<Vec<String>, String> {
    let sections: Vec<String> =
        things(text).iter().map(|whole| section(&parts(whole)?, outlet, said)).collect::<Result<_, String>>()?;
    if sections.is_empty() { Err("write at least one thing, like \"fridge, wifi\"".into()) } else { Ok(sections) }
}

fn section(thing: &Thing, outlet: &str, said: &mut Answered) -> Result<String, String> {
    let Thing { whole, name, count, watts, hours } = thing;
    let found = appliances::by_word(name);
    let first = found.first().copied();
    let quoted = |text: &str| text.replace(['"', '\\'], "");
    let mut lines = String::new();
    let cooler = first.is_some_and(|like| like.says("kind") == Some("cooler"));
    if cooler && *count > 1 {
        return Err(format!("write each of several coolers by itself: `{whole}`"));
    }
    // Watts of one's own beside what the library knows of when it runs.
    let knows_when = first.filter(|like| {
        cooler
            || like.says("starting_watts").is_none()
                && (!like.hours().is_empty() || like.says("energy_a_day").is_some())
    });
    match (watts, first, knows_when) {
        (None, Some(like), _) | (Some(_), _, Some(like)) => {
            if !like.name.eq_ignore_ascii_case(name) {
                said.told.push(taken_for(name, &found, like));
            }
            lines += &format!("like = \"{}\"\npriority = \"vital\"\n", like.name);
            lines += &watts.as_ref().map_or(String::new(), |watts| format!("watts = \"{}\"\n", quoted(watts)));
        }
        (Some(watts), other, None) if !name.is_empty() => {
            let when = if hours.is_some() { "" } else { " It is taken to run all day and night." };
            let other = other.map_or(String::new(), |like| {
                format!(" The library has \"{}\": without watts behind the name its figures are taken.", like.name)
            });
            if !when.is_empty() || !other.is_empty() {
                said.told.push(format!("{name} {watts}: on the {} outlet.{when}{other}", outlet.to_uppercase()));
            }
            lines += &format!(
                "name = \"{}\"\n{:<38}# or \"ac\", \"dc\", \"usb\"\npriority = \"vital\"\nwatts = \"{}\"\n",
                quoted(name),
                format!("outlet = \"{outlet}\""),
                quoted(watts)
            );
        }
        _ => return Err(unknown(whole, name)),
    }
    if *count > 1 {
        lines += &format!("count = {count}\n");
    }
    lines += &hours.as_ref().map_or(String::new(), |hours| format!("hours = \"{hours}\"\n"));
    Ok(lines)
}

fn unknown(whole: &str, name: &str) -> String {
    let bare_number = name.rsplit_once(' ').filter(|(_, last)| last.parse::<f64>().is_ok());
    if let Some((name, watts)) = bare_number {
        return format!("`{whole}` needs a unit: write \"{name} {watts} W\"");
    }
    let near = appliances::near_word(name).map_or(String::new(), |near| format!("; did you mean \"{near}\"?"));
    format!(
        "`{whole}` is not a thing of the library: write its watts behind it, like \"{} 30 W\"{near}",
        if name.is_empty() { "aquarium" } else { name }
    )
}

/// The things of a list. Names of appliances hold commas themselves: "fridge, 300 litres".
fn things(text: &str) -> Vec<String> {
    let parts: Vec<&str> = text.split([',', ';', '+']).map(str::trim).filter(|part| !part.is_empty()).collect();
    let mut things: Vec<String> = Vec::new();
    let mut at = 0;
    while at < parts.len() {
        let both = parts.get(at + 1).map(|next| format!("{}, {next}", parts[at]));
        match both.filter(|both| appliances::all().iter().any(|one| one.name.eq_ignore_ascii_case(both))) {
            Some(both) => {
                things.push(both);
                at += 2;
            }
            None => {
                things.extend(parts[at].split(" and ").map(|thing| thing.trim().to_string()));
                at += 1;
            }
        }
    }
    things
}

/// How many of what, with which watts, when.
fn parts(whole: &str) -> Result<Thing<'_>, String> {
    let (mut words, mut watts, mut hours): (Vec<&str>, Option<String>, Option<String>) = (Vec::new(), None, None);
    let all: Vec<&str> = whole.split_whitespace().collect();
    let mut at = 0;
    while at < all.len() {
        let (word, next) = (all[at], all.get(at + 1).map_or("", |next| *next));
        let lower = word.to_lowercase();
        let number = |text: &str| text.parse::<f64>().is_ok();
        let is_watts = |text: &str| ["w", "watt", "watts", "kw"].contains(&text.to_lowercase().as_str());
        // "30W", "30 W".
        let digits = lower.trim_end_matches(char::is_alphabetic);
        if number(digits) && is_watts(&lower[digits.len()..]) {
            watts = Some(word.to_string());
        } else if number(word) && is_watts(next) {
            watts = Some(format!("{word} {next}"));
            at += 1;
        } else if let Some(window) = as_written::hours_of_day(word) {
            hours = Some(match window {
                Reading::As(window, _) => window,
                Reading::Ask(what, help) => return Err(format!("`{word}` {what}: {help}")),
            });
        } else {
            words.push(word);
        }
        at += 1;
    }
    let mut name = words.join(" ");
    for end in [" at", " from", " of", " with"] {
        name = name.strip_suffix(end).unwrap_or(&name).to_string();
    }
    let (count, name) = counted(&name);
    let name = name.to_string();
    Ok(Thing { whole, name, count, watts, hours })
}

/// "2 phones", "two phones", "phone x2": how many of what.
fn counted(thing: &str) -> (u32, &str) {
    // "12 V cooler, 30 litres" is one.
    if !appliances::by_word(thing).is_empty() {
        return (1, thing);
    }
    if let Some((count, name)) = thing.split_once(' ') {
        let count = count.trim_end_matches(['x', '×']);
        let count = number_word(&count.to_lowercase()).or_else(|| count.parse::<u32>().ok());
        if let Some(count) = count.filter(|count| *count > 0) {
            let name = name.trim();
            return (count, name.strip_prefix("x ").or_else(|| name.strip_prefix("× ")).unwrap_or(name));
        }
        if ["a", "an", "the", "my"].contains(&thing.split(' ').next().unwrap_or_default()) {
            return (1, name.trim());
        }
    }
    match thing.rsplit_once(['x', '×']).and_then(|(name, count)| Some((count.trim().parse().ok()?, name.trim()))) {
        Some((count, name)) if count > 0 => (count, name),
        _ => (1, thing),
    }
}

fn taken_for(name: &str, found: &[&Appliance], like: &Appliance) -> String {
    let others = found.iter().filter(|other| other.name != like.name).take(3);
    let others: Vec<String> = others.map(|other| format!("\"{}\"", other.name)).collect();
    let others = if others.is_empty() { String::new() } else { format!(" (or {})", others.join(", ")) };
    format!("{name}: taken for \"{}\"{others}", like.name)
}
