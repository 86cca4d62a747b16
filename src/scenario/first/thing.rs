//! How many of what, with which watts, when: "2 lamps 9 W each from 18 to 23".

use super::figures::{Kind, Product, figure, in_watts, product};
use super::plug::plugged;
use super::when::{self, ALWAYS, NIGHT, Runs, from_to};
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
    /// Whether these are the hours of the night, told in words alone.
    pub night: bool,
    /// How much of a day it runs, where that is told.
    pub runs: Option<Runs>,
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
    let plain = when::by_the_clock(whole);
    let mut all: Vec<&str> = plain.split_whitespace().map(|word| word.trim_matches(['(', ')'])).collect();
    let mut night = false;
    if let Some(rest) = when::without_night(&all) {
        (night, all) = (true, rest);
    }
    // "cool box 5 A at 12 V".
    let product = product(&all);
    let told = product.as_ref().map(|product| product.told.clone());
    if let Some(Product { before, watts, behind, .. }) = &product {
        all = [&before[..], &[watts.as_str()], &behind[..]].concat();
    }
    let mut runs = when::take_runs(&mut all);
    let mut always = runs.take_if(|(runs, _)| *runs == Runs::Minutes(1440.0)).is_some();
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
        } else {
            words.push(word);
        }
        at += 1;
    }
    // "breathing device on the 12V socket", where the library has no thing of that name.
    let known = |words: &[&str]| !appliances::by_word(counted(&words.join(" ")).1).is_empty();
    if !known(&words)
        && let Some((kind, rest)) = plugged(&words)
        && (kind == "dc" || !powers.is_empty())
    {
        (outlet, words) = (Some(kind), rest);
    }
    // "oxygen concentrator 5 litres", "led lights 12V": figures that are no part of a name that is known.
    if !known(&words)
        && let Some(at) = (0..words.len())
            .find(|at| figure(&words[*at..]).is_some_and(|figure| matches!(figure.kind, Kind::Litres | Kind::Volts)))
        && let Some(told) = figure(&words[at..])
    {
        let without = [&words[..at], &words[at + told.words..]].concat();
        if known(&without) {
            words = without;
            if told.kind == Kind::Volts && (10.0..16.0).contains(&told.value) {
                outlet = outlet.or(Some("dc"));
            }
        }
    }
    let mut name = words.join(" ");
    for end in [" at", " from", " of", " with"] {
        name = name.strip_suffix(end).unwrap_or(&name).to_string();
    }
    let (count, name) = counted(&name);
    let name = name.to_string();
    if let (Some((Runs::Minutes(minutes), at)), None, false) = (runs, &hours, night) {
        return Err(how_long(whole, &name, &all, at, minutes));
    }
    if !known(&words)
        && let Some(why) = when::left_over(whole, &name, &all)
    {
        return Err(why);
    }
    night = night && hours.is_none();
    if night {
        hours = Some(NIGHT.into());
    }
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
    let library = || {
        let duty = |like: &appliances::Appliance| like.says("duty").is_some() && !lasting.is_empty();
        appliances::by_word(&name).first().is_some_and(|like| !like.hours().is_empty() || duty(like))
    };
    if always && hours.is_none() && library() {
        hours = Some("00:00-24:00".into());
    }
    let runs = runs.map(|(runs, _)| runs);
    Ok(Thing { whole, name, count, watts: only(lasting), start: only(starts), hours, night, runs, outlet, told })
}

/// That a length of time tells no hours, with what to write.
///
/// * `all` and `at` — the other words, and where among them it stood.
fn how_long(whole: &str, name: &str, all: &[&str], at: usize, minutes: f64) -> String {
    let (before, behind) = all.split_at(at.min(all.len()));
    let (before, behind) = (when::without_time(before), when::without_time(behind));
    let like = |what: &str| [&before[..], &[what], &behind[..]].concat().join(" ");
    let window = when::window_for(name, all, minutes);
    let less = format!("06:00-22:00 {} minutes a day", minutes.round());
    format!(
        "`{whole}` does not say at which hours: write from and to, like \"{}\", or the hours in which it runs so long, like \"{}\"",
        like(&window),
        like(&less)
    )
}

/// Words beside the watts that a thing draws as it starts.
const STARTS: [&str; 8] = ["start", "starting", "starts", "startup", "start-up", "surge", "peak", "inrush"];

/// Words that say that the watts are those of one.
const EACH: [&str; 2] = ["each", "apiece"];

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
