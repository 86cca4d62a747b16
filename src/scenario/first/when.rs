//! When a thing runs, by the words beside it: "7-9 am", "from 18 to 23", "30 minutes a day".

use crate::calendar::clock;
use crate::scenario::appliances;
use crate::scenario::as_written::{self, Reading, number_word};

/// Words that say that a thing runs at all hours.
pub(super) const ALWAYS: [&str; 6] = ["24/7", "always", "constantly", "nonstop", "non-stop", "permanently"];

/// What "at night" is taken for: the hours of the library's device for the night.
pub(super) const NIGHT: &str = "22:00-07:00";

const NIGHTLY: [&[&str]; 9] = [
    &["at", "night"],
    &["all", "night"],
    &["every", "night"],
    &["by", "night"],
    &["through", "the", "night"],
    &["during", "the", "night"],
    &["in", "the", "night"],
    &["overnight"],
    &["nights"],
];

/// How much of a day a thing runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Runs {
    /// Minutes of a day.
    Minutes(f64),
    /// Watt-hours of a day.
    WattHours(f64),
}

/// "between 18 and 22" as "18 to 22", so that its "and" parts no things.
pub(super) fn without_between(text: &str) -> String {
    let words: Vec<&str> = text.split_whitespace().collect();
    let (mut plain, mut at): (Vec<&str>, usize) = (Vec::new(), 0);
    while at < words.len() {
        let and = (2..=3).find(|of| words.get(at + of).is_some_and(|word| word.eq_ignore_ascii_case("and")));
        match and.filter(|_| words[at].eq_ignore_ascii_case("between") && begins_with_digit(words[at + 1])) {
            Some(of) => {
                plain.extend(&words[at + 1..at + of]);
                plain.push("to");
                at += of + 1;
            }
            None => {
                plain.push(words[at]);
                at += 1;
            }
        }
    }
    plain.join(" ")
}

fn begins_with_digit(word: &str) -> bool {
    word.starts_with(|c: char| c.is_ascii_digit())
}

/// "7-9 in the morning" as "7-9 am"; behind hours of the whole day's clock the words are left out.
pub(super) fn by_the_clock(text: &str) -> String {
    let words: Vec<&str> = text.split_whitespace().collect();
    let mut plain: Vec<String> = Vec::new();
    let mut at = 0;
    while at < words.len() {
        let part = words[at..].get(..3).and_then(|three| {
            let lower = three.iter().map(|word| word.to_lowercase()).collect::<Vec<_>>();
            let half = match lower[2].trim_matches([',', ';', '(', ')']) {
                "morning" | "mornings" => "am",
                "afternoon" | "afternoons" | "evening" | "evenings" => "pm",
                _ => return None,
            };
            (lower[0] == "in" && lower[1] == "the").then_some(half)
        });
        let before = plain.last().map_or("", String::as_str);
        let end = before.rsplit(['-', '–']).next().unwrap_or_default();
        let of_two = plain.len().checked_sub(2).is_some_and(|k| ["to", "until", "till"].contains(&plain[k].as_str()));
        let window = end.len() < before.len() || of_two;
        let hour: Option<u32> = end.split([':', 'h']).next().and_then(|hour| hour.parse().ok());
        match (part, hour) {
            (Some(half), Some(hour)) if window => {
                if (1..=12).contains(&hour) && !before.starts_with('0') {
                    plain.push(half.into());
                }
                at += 3;
            }
            _ => {
                plain.push(words[at].into());
                at += 1;
            }
        }
    }
    plain.join(" ")
}

/// The words without those for the night; `None` where there are none.
pub(super) fn without_night<'w>(all: &[&'w str]) -> Option<Vec<&'w str>> {
    NIGHTLY.iter().find_map(|night| {
        let at = (1..all.len()).find(|at| {
            all.get(*at..at + night.len())
                .is_some_and(|words| words.iter().zip(*night).all(|(word, of)| word.eq_ignore_ascii_case(of)))
        })?;
        // "all night lamp" is a lamp.
        Some([&all[..at], &all[at + night.len()..]].concat())
    })
}

/// "from 12 to 18", "7 pm until 10 pm", "7-9 am": the window with which the words begin, and how many they are.
pub(super) fn from_to(words: &[&str]) -> Option<(Reading<String>, usize)> {
    let first = words.first()?.to_lowercase();
    if first != "from" && !begins_with_digit(&first) {
        return None;
    }
    (2..=6.min(words.len())).rev().find_map(|of| {
        let told = words[..of].join(" ").to_lowercase();
        let both = [" to ", " until ", " till ", "-", "–"].iter().any(|between| told.contains(between));
        Some((as_written::window(&told).filter(|_| both)?, of))
    })
}

/// Takes how much of a day a thing runs out of its words: that, and where it stood.
pub(super) fn take_runs(all: &mut Vec<&str>) -> Option<(Runs, usize)> {
    let mut at = 1;
    while at < all.len() {
        if let Some((_, of)) = from_to(&all[at..]) {
            at += of;
            continue;
        }
        let Some((runs, of)) = runs(&all[at..]) else {
            at += 1;
            continue;
        };
        let is = |k: usize, known: &[&str]| {
            all.get(k).is_some_and(|word| known.contains(&word.to_lowercase().trim_matches([',', ';'])))
        };
        let mut to = at + of;
        while is(to, &A_DAY) {
            to += 1;
        }
        while at > 1 && is(at - 1, &BEFORE) {
            at -= 1;
        }
        all.drain(at..to);
        return Some((runs, at));
    }
    None
}

/// Words behind a length of time that say nothing more.
const A_DAY: [&str; 8] = ["a", "per", "each", "every", "day", "daily", "/", "/day"];
/// Words before it.
const BEFORE: [&str; 5] = ["for", "about", "only", "runs", "some"];

/// "4 hours", "4h", "half an hour", "30 min", "200 Wh": how much it is, and how many words say it.
fn runs(words: &[&str]) -> Option<(Runs, usize)> {
    let lower: Vec<String> = words.iter().take(3).map(|word| word.to_lowercase()).collect();
    let at = |k: usize| lower.get(k).map_or("", |word| word.trim_matches([',', ';', '(', ')']));
    let of = |number: f64, unit: &str| {
        let unit = unit.strip_suffix("/day").or(unit.strip_suffix("/d")).unwrap_or(unit);
        Some(match unit {
            "h" | "hr" | "hrs" | "hour" | "hours" => Runs::Minutes(60.0 * number),
            "min" | "mins" | "minute" | "minutes" => Runs::Minutes(number),
            "wh" => Runs::WattHours(number),
            "kwh" => Runs::WattHours(1000.0 * number),
            _ => return None,
        })
    };
    let sound = |(runs, _): &(Runs, usize)| match runs {
        Runs::Minutes(minutes) => *minutes > 0.0 && *minutes <= 1440.0,
        Runs::WattHours(wh) => *wh > 0.0,
    };
    if at(0) == "half" {
        return match (at(1), at(2)) {
            ("an" | "a", "hour") => Some((Runs::Minutes(30.0), 3)),
            ("hour", _) => Some((Runs::Minutes(30.0), 2)),
            _ => None,
        };
    }
    let number = |text: &str| number_word(text).map(f64::from).or_else(|| text.parse::<f64>().ok());
    let digits = at(0).trim_end_matches(|c: char| c.is_alphabetic() || c == '/');
    if !digits.is_empty() && digits.len() < at(0).len() {
        return Some((of(digits.parse().ok()?, &at(0)[digits.len()..])?, 1)).filter(sound);
    }
    let count = if at(0) == "an" { 1.0 } else { number(at(0))? };
    Some((of(count, at(1))?, 2)).filter(sound)
}

/// A window to write for so long a time: in the part of the day that is told, else from when such things usually begin.
pub(super) fn window_for(name: &str, words: &[&str], minutes: f64) -> String {
    let usual = || {
        let hours = appliances::by_word(name).first()?.hours();
        hours.split(':').next()?.parse::<u32>().ok().filter(|hour| (20..24).contains(hour))
    };
    let minutes = minutes.round() as u32;
    let from = match part_of_day(words).map(|(from, _)| from).or_else(usual) {
        Some(hour) => 60 * hour,
        None if minutes <= 360 => 18 * 60,
        None => 1440_u32.saturating_sub(minutes),
    };
    let to = from + minutes;
    format!("{}-{}", clock(from), clock(if to > 1440 { to - 1440 } else { to }))
}

/// The part of the day that words tell: its usual hours.
fn part_of_day(words: &[&str]) -> Option<(u32, u32)> {
    words.iter().find_map(|word| match word.to_lowercase().as_str() {
        "morning" | "mornings" => Some((6, 9)),
        "afternoon" | "afternoons" => Some((12, 18)),
        "evening" | "evenings" => Some((18, 22)),
        "night" | "nights" => Some((22, 7)),
        _ => None,
    })
}

/// Words that tell of time.
const OF_TIME: [&str; 40] = [
    "am",
    "pm",
    "a.m.",
    "p.m.",
    "a.m",
    "p.m",
    "morning",
    "mornings",
    "afternoon",
    "afternoons",
    "evening",
    "evenings",
    "nights",
    "overnight",
    "night",
    "h",
    "hr",
    "hrs",
    "hour",
    "hours",
    "min",
    "mins",
    "minute",
    "minutes",
    "noon",
    "midday",
    "midnight",
    "day",
    "days",
    "daily",
    "weekend",
    "weekends",
    "until",
    "till",
    "between",
    "during",
    "sometimes",
    "once",
    "twice",
    "o'clock",
];
/// Words around them.
const AROUND: [&str; 15] =
    ["in", "the", "for", "from", "to", "at", "by", "a", "an", "per", "each", "every", "only", "about", "on"];

/// Whether a word of a name tells of time; a "night light" is a thing.
fn tells_time(words: &[&str], at: usize) -> bool {
    let lower = words[at].to_lowercase();
    let word = lower.trim_matches([',', ';']);
    let window = word.contains(['-', '–', ':']) && begins_with_digit(word) && as_written::window(word).is_some();
    window || OF_TIME.contains(&word) && (word != "night" || at + 1 == words.len())
}

/// What to write for a thing in whose name words of time are left over.
///
/// * `all` — the words of the thing with its watts.
pub(super) fn left_over(whole: &str, name: &str, all: &[&str]) -> Option<String> {
    let words: Vec<&str> = name.split_whitespace().collect();
    let at = (0..words.len()).find(|at| tells_time(&words, *at))?;
    if let Some(Reading::Ask(what, help)) = as_written::window(words[at]).filter(|_| begins_with_digit(words[at])) {
        return Some(format!("`{}` {what}: {help}", words[at]));
    }
    // "7 am" begins an hour.
    let begins =
        words.windows(2).find_map(|two| as_written::moment(&two.join(" ")).ok()).map(|at| at.minute_of_day / 60);
    let begins = begins.map(|hour| (u32::from(hour), u32::from(hour) + 1));
    let (from, to) = begins.or_else(|| part_of_day(&words)).unwrap_or((18, 22));
    let like = format!("{} {from:02}:00-{to:02}:00", without_time(all).join(" "));
    Some(format!(
        "`{whole}` does not say by the clock when it is on (`{}` is no hour of it): write from and to, like \"{}\", with your own \
         hours",
        words[at],
        like.trim()
    ))
}

/// Words without those that tell of time.
pub(super) fn without_time<'w>(all: &[&'w str]) -> Vec<&'w str> {
    let is_time = |at: usize| at < all.len() && tells_time(all, at);
    let is_around = |at: usize| all.get(at).is_some_and(|word| AROUND.contains(&word.to_lowercase().as_str()));
    let bare = |at: usize| {
        all.get(at).is_some_and(|word| word.parse::<f64>().is_ok() || number_word(&word.to_lowercase()).is_some())
    };
    let drops = |at: usize| {
        let next = (at..all.len()).find(|k| !is_around(*k)).unwrap_or(all.len());
        is_time(at)
            || is_around(at) && (is_time(next) || bare(next) && is_time(next + 1))
            || bare(at) && is_time(at + 1)
    };
    (0..all.len()).filter(|at| !drops(*at)).map(|at| all[at]).collect()
}

/// How long a window of a file is \[min\].
pub(super) fn minutes_of(window: &str) -> Option<f64> {
    let minute = |time: &str| {
        let (hours, minutes) = time.trim().split_once(':')?;
        Some(hours.parse::<f64>().ok()? * 60.0 + minutes.parse::<f64>().ok()?)
    };
    let (from, to) = window.split_once('-')?;
    let long = minute(to)? - minute(from)?;
    Some(if long > 0.0 { long } else { long + 1440.0 })
}
