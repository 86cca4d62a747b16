//! What shades panels, and when, in words: "a tree in the morning", "shaded after 3 pm".

use super::Reading;
use super::times::{clock, window};
use crate::calendar;

/// What words tell of a panel's shade.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::scenario) struct Shaded {
    /// The words that tell nothing of it.
    pub rest: String,
    /// When it is in shade, as a file has hours; none where nothing shades it.
    pub hours: Vec<String>,
}

/// What shade takes of a panel's light: the cells in shade hold up the others of their row (common practice, no source).
pub(in crate::scenario) const LOSES: &str = "90 %";

/// Things that shade, and words that say so.
const SHADE: [&str; 15] = [
    "shade",
    "shaded",
    "shady",
    "shades",
    "shadow",
    "shadows",
    "unshaded",
    "tree",
    "trees",
    "chimney",
    "building",
    "buildings",
    "mountain",
    "mountains",
    "sun",
];
/// Of these, those that stand before what they say it of.
const OF_IT: [&str; 3] = ["shaded", "shady", "unshaded"];
/// Words beside them.
const BESIDE: [&str; 49] = [
    "half",
    "partly",
    "partially",
    "mostly",
    "some",
    "no",
    "not",
    "never",
    "without",
    "a",
    "in",
    "under",
    "behind",
    "full",
    "bit",
    "of",
    "the",
    "there",
    "is",
    "it",
    "gets",
    "by",
    "any",
    "only",
    "until",
    "till",
    "before",
    "after",
    "from",
    "since",
    "to",
    "on",
    "at",
    "between",
    "and",
    "every",
    "all",
    "day",
    "morning",
    "mornings",
    "afternoon",
    "afternoons",
    "evening",
    "evenings",
    "noon",
    "midday",
    "oclock",
    "throws",
    "early",
];

/// What a text tells of shade; nothing where it tells none.
///
/// # Errors
/// What is wrong with it, and what to write.
pub(in crate::scenario) fn shaded(text: &str) -> Option<Result<Shaded, (String, String)>> {
    let lower = text.to_lowercase().replace(" with ", ", ").replace(" but ", ", ").replace(['\'', '’'], "");
    let (mut rest, mut hours, mut any): (Vec<String>, Vec<String>, bool) = (Vec::new(), Vec::new(), false);
    for part in lower.split([',', ';', '(', ')']).map(str::trim).filter(|part| !part.is_empty()) {
        let words: Vec<&str> = part.split_whitespace().collect();
        let Some(at) = words.iter().position(|word| SHADE.contains(word)) else {
            rest.push(part.into());
            continue;
        };
        any = true;
        let counts = |word: &&str| {
            let first = word.chars().next().is_some_and(|c| c.is_ascii_digit()) && !word.ends_with(['°', 'º']);
            SHADE.contains(word) || BESIDE.contains(word) || first || ["am", "pm", "a.m.", "p.m."].contains(word)
        };
        let from = at - words[..at].iter().rev().take_while(|word| counts(word)).count();
        let to = at + words[at..].iter().take_while(|word| counts(word)).count();
        let others = [&words[..from], &words[to..]].concat();
        if to < words.len() && !OF_IT.contains(&words[at]) {
            return Some(Err(ask(part)));
        }
        if !others.is_empty() {
            rest.push(others.join(" "));
        }
        match when(&words[from..to]) {
            Ok(told) => hours.extend(told),
            Err(()) => return Some(Err(ask(part))),
        }
    }
    hours.sort();
    hours.dedup();
    any.then(|| Ok(Shaded { rest: rest.join(", "), hours }))
}

fn ask(part: &str) -> (String, String) {
    (
        format!("`{part}` does not say by the clock when the panels are in shade"),
        "write it like \"shade until 11:00\", \"shade 14:00-18:00\", \"shade in the afternoon\" or \"no shade\"; what is half in \
         shade all day stands in the file, in the panel's section: shade = [{ hours = \"00:00-24:00\", loses = \"50 %\" }]"
            .into(),
    )
}

/// The hours in shade that words tell.
fn when(words: &[&str]) -> Result<Vec<String>, ()> {
    let has = |word: &str| words.contains(&word);
    let denied = ["no", "not", "never", "without", "unshaded"].into_iter().any(has);
    let sun = !denied && has("sun") && !words.iter().any(|word| *word != "sun" && SHADE.contains(word));
    // The sun that is told of, or the shade: from a minute of the day to another.
    let mut told: Vec<(u16, u16)> = Vec::new();
    let minutes = |text: &str| {
        let (from, to) = text.split_once('-')?;
        Some((clock(from)?.0, clock(to)?.0))
    };
    for (k, word) in words.iter().enumerate() {
        let next = |of: usize| words.get(k + 1..k + 1 + of).map(|next| next.join(" "));
        // "3 pm" before "3".
        let time = || [2, 1].into_iter().find_map(|of| clock(&next(of)?));
        match *word {
            "morning" | "mornings" => told.push((0, 720)),
            "afternoon" | "afternoons" => told.push((720, 1440)),
            "evening" | "evenings" => told.push((960, 1440)),
            "noon" | "midday"
                if !k.checked_sub(1).is_some_and(|k| ENDS.contains(&words[k]) || STARTS.contains(&words[k])) =>
            {
                told.push((660, 840));
            }
            "all" if next(1).as_deref() == Some("day") => told.push((0, 1440)),
            word if ENDS.contains(&word) => match time() {
                Some((minute, unsure)) if !unsure || (360..=720).contains(&minute) => told.push((0, minute)),
                _ => return Err(()),
            },
            _ => {
                let whole = (1..=6).rev().find_map(|of| {
                    match window(&words.get(k..k + of)?.join(" ").replace(" and ", " to "))? {
                        Reading::As(window, _) => minutes(&window),
                        Reading::Ask(..) => None,
                    }
                });
                let between = |k: usize| words.get(k).is_some_and(|word| ["to", "and", "until", "till"].contains(word));
                match whole {
                    Some(window) => told.push(window),
                    // "from 14:00 to 17:00" was read above.
                    None if STARTS.contains(word) && !between(k + 2) && !between(k + 3) => match time() {
                        Some((minute, unsure)) if !unsure || minute == 720 => told.push((minute, 1440)),
                        _ => return Err(()),
                    },
                    None => {}
                }
            }
        }
    }
    // "from 14:00 until 17:00" tells its window, and its end for itself.
    if told.iter().any(|(from, to)| *from > 0 && *to < 1440) {
        told.retain(|(from, to)| (*from > 0 && *to < 1440) || (*from == 0 && *to == 720 && has("morning")));
    }
    if denied && !has("sun") {
        // Not at some hours: perhaps at others.
        return if told.is_empty() { Ok(Vec::new()) } else { Err(()) };
    }
    if sun {
        // In the sun, and nothing more: all day.
        let others = told.into_iter().next().map_or(Vec::new(), |(from, to)| vec![(0, from), (to, 1440)]);
        told = others;
    } else if told.is_empty() {
        return Err(());
    }
    Ok(told
        .into_iter()
        .filter(|(from, to)| from != to)
        .map(|(from, to)| format!("{}-{}", calendar::clock(from), calendar::clock(to)))
        .collect())
}

const ENDS: [&str; 3] = ["until", "till", "before"];
const STARTS: [&str; 3] = ["after", "from", "since"];
