//! When the power is out: for how long, or day after day by the clock; in which month.

use super::Answered;
use crate::scenario::as_written::{self, Reading};

/// An outage from end to end, or cuts that come back.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Spell {
    /// How long, or for how many days.
    pub lasts: String,
    /// The hours of every day in which the mains is off; empty for one outage.
    pub cuts: Vec<String>,
}

/// For how many days cuts are looked at where nobody says.
const DAYS_OF_CUTS: &str = "2 weeks";

/// "2 days", "19:00-22:00", "7pm-10pm every day for 4 weeks", "10:00-14:00 and 18:00-22:00".
pub(super) fn spell(text: &str, said: &mut Answered) -> Result<Spell, String> {
    let lower = text.to_lowercase();
    let (hours, days) = match lower.rsplit_once(" for ") {
        Some((hours, days)) => (hours.to_string(), Some(days.trim().to_string())),
        None => (lower.clone(), None),
    };
    let often = ["every day", "each day", "daily", "day after day", "a day", "every evening", "every night"];
    let hours = often.iter().fold(hours, |hours, word| hours.replace(word, " "));
    let parts: Vec<&str> = hours
        .split([',', ';', '&', '+'])
        .flat_map(|part| part.split(" and "))
        .map(str::trim)
        .filter(|part| !part.is_empty())
        .collect();
    let windows: Option<Vec<Reading<String>>> = parts.iter().map(|part| as_written::hours_of_day(part)).collect();
    let Some(windows) = windows.filter(|windows| !windows.is_empty()) else {
        let by_the_clock =
            ["every day", "each day", "daily", "twice", "times a day", "hours a day", "h a day", "per day"];
        if by_the_clock.iter().any(|word| lower.contains(word)) {
            return Err(format!(
                "`{text}` does not say at which hours the power is cut: write from and to, like \"10:00-14:00 and 18:00-20:00\""
            ));
        }
        return Ok(Spell { lasts: text.into(), cuts: Vec::new() });
    };
    let mut cuts = Vec::new();
    for (part, window) in parts.iter().zip(windows) {
        match window {
            Reading::As(window, _) => cuts.push(window),
            Reading::Ask(what, help) => return Err(format!("`{part}` {what}: {help}")),
        }
    }
    said.told.push(format!("{text}: the power is cut every day from {}", cuts.join(" and from ").replace('-', " to ")));
    if days.is_none() {
        said.assumed.push(format!("The cuts are looked at for {DAYS_OF_CUTS} (outage.lasts)."));
    }
    Ok(Spell { lasts: days.unwrap_or_else(|| DAYS_OF_CUTS.into()), cuts })
}

/// "January, storm".
pub(super) fn month_and_storm(text: &str) -> (String, bool) {
    let storm = |word: &&str| word.eq_ignore_ascii_case("storm") || word.eq_ignore_ascii_case("stormy");
    let words: Vec<&str> = text.split([',', ' ']).filter(|word| !word.is_empty()).collect();
    let filler = |word: &str| ["in", "a", "begins", "with", "yes", "no"].contains(&word.to_lowercase().as_str());
    let no_storm = text.to_lowercase().contains("no storm");
    let month = words.iter().copied().find(|word| !storm(word) && !filler(word)).unwrap_or_default();
    (month.to_string(), !no_storm && words.iter().any(storm))
}
