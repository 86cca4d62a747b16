//! How many of what, with which watts, when: "2 lamps 9 W each from 18 to 23".

use super::figures::{Kind, Product, figure, in_watts, product};
use crate::scenario::appliances;
use crate::scenario::as_written::{self, Reading, number_word};

/// A thing's parts.
pub(super) struct Thing<'t> {
    /// As written.
    pub whole: &'t str,
    pub name: String,
    pub count: u32,
    pub watts: Option<String>,
    /// What it draws as it starts, where that is told beside.
    pub start: Option<String>,
    pub hours: Option<String>,
    /// "dc" or "usb" where the answer says so.
    pub outlet: Option<&'static str>,
    /// What volts and amps were read as.
    pub told: Option<String>,
}

/// How many of what, with which watts, when.
pub(super) fn parts(whole: &str) -> Result<Thing<'_>, String> {
    let (mut words, mut hours): (Vec<&str>, Option<String>) = (Vec::new(), None);
    // Each with whether it is that of the start.
    let mut powers: Vec<(String, bool)> = Vec::new();
    let mut of_start = false;
    let mut outlet = None;
    let mut all: Vec<&str> = whole.split_whitespace().map(|word| word.trim_matches(['(', ')'])).collect();
    let before_end = |all: &[&str], ends: &[&str]| {
        let from = all.len().saturating_sub(ends.len());
        (from > 0 && all[from..].iter().zip(ends).all(|(word, end)| word.eq_ignore_ascii_case(end))).then_some(from)
    };
    // "router 10 W on 12 V", "lamp 3 W usb".
    for (ends, kind) in
        [(&["on", "12", "v"][..], "dc"), (&["on", "12v"], "dc"), (&["on", "usb"], "usb"), (&["on", "dc"], "dc")]
    {
        if let Some(from) = before_end(&all, ends) {
            outlet = Some(kind);
            all.truncate(from);
        }
    }
    // "12 V lamp", where the library has no thing of that name.
    if appliances::by_word(whole).is_empty() {
        for start in [&["12", "v"][..], &["12v"]] {
            if all.len() > start.len() && all.iter().zip(start).all(|(word, begins)| word.eq_ignore_ascii_case(begins))
            {
                (outlet, all) = (Some("dc"), all[start.len()..].to_vec());
            }
        }
    }
    for ends in [&["at", "night"][..], &["every", "night"], &["overnight"], &["nights"]] {
        if let Some(from) = before_end(&all, ends) {
            hours = Some(NIGHT.to_string());
            all.truncate(from);
        }
    }
    // "cool box 5 A at 12 V".
    let product = product(&all);
    let told = product.as_ref().map(|product| product.told.clone());
    if let Some(Product { before, watts, behind, .. }) = &product {
        all = [&before[..], &[watts.as_str()], &behind[..]].concat();
    }
    let mut always = false;
    let mut at = 0;
    while at < all.len() {
        let (word, next) = (all[at], all.get(at + 1).map_or("", |next| *next));
        let lower = word.to_lowercase();
        // "30W", "30 W", and "60 W" of a product, which holds a blank.
        let split: Vec<&str> = all[at..].iter().take(2).flat_map(|word| word.split(' ')).collect();
        if let Some(power) = figure(&split).filter(|figure| figure.kind == Kind::Watts) {
            at += power.words - usize::from(power.words > 1 && word.contains(' ')) - 1;
            powers.push((power.text, std::mem::take(&mut of_start)));
        } else if ALWAYS.contains(&lower.as_str()) {
            always = true;
        } else if STARTS.contains(&lower.as_str()) && powers.last().is_some_and(|(_, start)| !start) {
            powers.last_mut().into_iter().for_each(|last| last.1 = true);
        } else if STARTS.contains(&lower.as_str()) && next.starts_with(|c: char| c.is_ascii_digit()) {
            of_start = true;
        } else if EACH.contains(&lower.as_str()) && !powers.is_empty() {
            // The watts are those of one in any case.
        } else if let Some((window, of)) = from_to(&all[at..]) {
            hours = Some(match window {
                Reading::As(window, _) => window,
                Reading::Ask(what, help) => return Err(format!("`{}` {what}: {help}", all[at..at + of].join(" "))),
            });
            at += of - 1;
        } else if let Some(window) = as_written::hours_of_day(word) {
            hours = Some(match window {
                Reading::As(window, _) => window,
                Reading::Ask(what, help) => return Err(format!("`{word}` {what}: {help}")),
            });
        } else if let Some((long_h, of)) = hours_long(word, next) {
            let rest: Vec<&str> =
                all[at + of..].iter().copied().filter(|word| !A_DAY.contains(&word.to_lowercase().as_str())).collect();
            if long_h == 24 {
                always = true;
            } else {
                let from = match (usual_start(&words.join(" ")), long_h) {
                    (Some(hour), _) => hour,
                    (None, ..=6) => 18,
                    (None, _) => 24 - long_h,
                };
                let to = if from + long_h > 24 { from + long_h - 24 } else { from + long_h };
                let window = format!("{from:02}:00-{to:02}:00");
                let like = [&all[..at], &[window.as_str()], &rest[..]].concat().join(" ");
                return Err(format!("`{whole}` does not say at which hours: write from and to, like \"{like}\""));
            }
            all.truncate(at);
            all.extend(rest);
            continue;
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
    let (starts, lasting): (Vec<_>, Vec<_>) = powers.into_iter().partition(|(_, start)| *start);
    if lasting.len() > 1 || starts.len() > 1 {
        let told: Vec<&str> = lasting.iter().chain(&starts).map(|(watts, _)| watts.as_str()).collect();
        let (one, other) = (told[0], told[1]);
        return Err(format!(
            "`{whole}` tells two powers: write the one it runs on, \"{name} {one}\", and where the other is that of its start \"{name} \
             {one} {other} start\""
        ));
    }
    // "80 W, starting 300 W" and "300 W start, 80 W": the start takes more.
    let more = |one: &[(String, bool)], other: &[(String, bool)]| {
        let watts = |powers: &[(String, bool)]| powers.first().and_then(|(watts, _)| in_watts(watts));
        watts(one) > watts(other) && watts(other).is_some()
    };
    let (starts, lasting) = if more(&lasting, &starts) { (lasting, starts) } else { (starts, lasting) };
    let only = |mut powers: Vec<(String, bool)>| powers.pop().map(|(watts, _)| watts);
    // Of the hours of the library, too.
    let library = || appliances::by_word(&name).first().is_some_and(|like| !like.hours().is_empty());
    if always && hours.is_none() && library() {
        hours = Some("00:00-24:00".into());
    }
    Ok(Thing { whole, name, count, watts: only(lasting), start: only(starts), hours, outlet, told })
}

/// Words beside the watts that a thing draws as it starts.
const STARTS: [&str; 8] = ["start", "starting", "starts", "startup", "start-up", "surge", "peak", "inrush"];

/// Words that say that a thing runs at all hours.
pub(super) const ALWAYS: [&str; 6] = ["24/7", "always", "constantly", "nonstop", "non-stop", "permanently"];

/// The hour at which the library's thing of a name begins, where that is in the night.
fn usual_start(name: &str) -> Option<u32> {
    let hours = appliances::by_word(name).first()?.hours();
    hours.split(':').next()?.parse().ok().filter(|hour| (20..24).contains(hour))
}

/// Words that say that the watts are those of one.
const EACH: [&str; 2] = ["each", "apiece"];

/// "from 12 to 18", "7 pm until 10 pm": the window with which the words begin, and how many they are.
fn from_to(words: &[&str]) -> Option<(Reading<String>, usize)> {
    let first = words.first()?.to_lowercase();
    if first != "from" && !first.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    (3..=6.min(words.len())).rev().find_map(|of| {
        let told = words[..of].join(" ").to_lowercase();
        let both = [" to ", " until ", " till "].iter().any(|between| told.contains(between));
        Some((as_written::window(&told).filter(|_| both)?, of))
    })
}

/// What "at night" is taken for: the hours of the library's device for the night.
pub(super) const NIGHT: &str = "22:00-07:00";

/// Words behind a number of hours that say nothing more.
const A_DAY: [&str; 5] = ["a", "per", "each", "every", "day"];

/// "4 hours", "4h": so many hours, and how many words say it.
fn hours_long(word: &str, next: &str) -> Option<(u32, usize)> {
    let told = figure(&[word, next]).filter(|figure| figure.kind == Kind::Hours)?;
    let whole = told.value.fract() == 0.0 && (1.0..=24.0).contains(&told.value);
    whole.then_some((told.value as u32, told.words))
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
