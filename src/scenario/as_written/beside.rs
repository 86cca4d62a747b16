//! Words beside a figure, which belong under keys of their own or say nothing.

use super::condition::{Condition, condition};
use super::numbers::{digits, pairs};
use super::{Reading, electric};
use crate::scenario::age;
use crate::scenario::model::Chemistry;
use crate::scenario::station::names_cells;

/// More words than labels have beside a figure.
const MOST_WORDS: usize = 16;

/// "1000 W mains outlet", "1000 Wh, 5 years old", "12 V 100 Ah gel": the figure alone, and where the rest is to be written.
pub(super) fn beside(text: &str, name: &str, last: &str) -> Option<Reading<String>> {
    if !["energy", "power"].contains(&name) || text.split_whitespace().nth(MOST_WORDS).is_some() {
        return None;
    }
    let (rest, told) = if name == "energy" { condition(text) } else { (text.to_string(), Condition::default()) };
    let plain = |word: &str| word.trim_matches([',', ';', '(', ')', '.', ':']).to_string();
    let words: Vec<String> = rest.split_whitespace().map(plain).filter(|word| !word.is_empty()).collect();
    let (cells, words): (Vec<String>, Vec<String>) = words.into_iter().partition(|word| name == "energy" && names_cells(word));
    let (figure, others) = longest(&words, name, last)?;
    if others.is_empty() && cells.is_empty() && !told.any() {
        return None;
    }
    let mut say = vec![format!("write \"{figure}\" alone")];
    let count = others.first().and_then(|word| word.trim_end_matches(['x', '×']).parse::<u32>().ok());
    if let Some(count) = count.filter(|count| last == "rated" && name == "power" && *count > 1) {
        say.push(format!("how many there are: count = {count}"));
    }
    if name == "energy" && last == "rated_capacity" {
        if let Some(kind) = cells.first() {
            say.push(format!("its kind under [station]: chemistry = \"{kind}\""));
        }
        if let Some(years) = told.years {
            let of = |chemistry| age::left_written(chemistry, years);
            say.push(format!(
                "what {} years leave of it under [station]: state_of_health = \"{}\" for LFP cells, \"{}\" for NMC, \"{}\" for \
                 lead-acid (common practice, no source; a bench test tells more)",
                digits((years * 10.0).round() / 10.0),
                of(Chemistry::Lfp),
                of(Chemistry::Nmc),
                of(Chemistry::LeadAcid)
            ));
        } else if let Some(health) = told.health {
            say.push(format!("what is left of it under [station]: state_of_health = \"{:.0} %\"", 100.0 * health));
        } else if told.used || told.of_year.is_some() {
            say.push("what its years leave of it under [station]: state_of_health = \"85 %\" with your own figure".into());
        }
        if let Some(charged) = told.charged {
            say.push(format!("how full it is under [outage]: starts_charged = \"{:.0} %\"", 100.0 * charged));
        } else if let Some(share) = told.unclear {
            let share = digits(share);
            say.push(format!(
                "{share} % as starts_charged = \"{share} %\" under [outage] where it is so full, as state_of_health under [station] \
                 where so much is left of it"
            ));
        }
    }
    Some(Reading::Ask("has more beside the figure than it can hold".into(), say.join(", and ")))
}

/// The longest run of words that is one figure of its kind, and the words around it.
fn longest(words: &[String], name: &str, last: &str) -> Option<(String, Vec<String>)> {
    (1..=words.len()).rev().find_map(|of| {
        (0..=words.len() - of).find_map(|from| {
            let text = words[from..from + of].join(" ");
            let figure = figure(&text.to_lowercase(), name, last)?;
            let others = [&words[..from], &words[from + of..]].concat();
            Some((figure.unwrap_or(text), others))
        })
    })
}

/// Whether a text is one figure of its kind; with what it is read as, where that is something else.
fn figure(lower: &str, name: &str, last: &str) -> Option<Option<String>> {
    if let Some([(_, unit)]) = pairs(lower).as_deref()
        && electric::cased(unit).is_some_and(|unit| unit.ends_with("Wh") == (name == "energy"))
    {
        return Some(None);
    }
    match if name == "energy" { electric::energy(lower, last) } else { electric::power(lower, "", last) }? {
        Reading::As(value, _) => Some(Some(value)),
        Reading::Ask(..) => None,
    }
}
