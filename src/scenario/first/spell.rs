//! When the power is out: for how long, or day after day by the clock; in which month.

use super::Answered;
use crate::scenario::as_written::{self, Reading};
use crate::scenario::outage::season;
use crate::visible::begun;

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
    if text.trim().parse::<f64>().is_ok_and(|number| number > 0.0) {
        let number = text.trim();
        return Err(format!("`{number}` may be days or hours: write \"{number} days\" or \"{number} h\""));
    }
    let hours = colons(&hours);
    let often =
        ["everyday", "every day", "each day", "daily", "day after day", "a day", "every evening", "every night"];
    let hours = often.iter().fold(hours, |hours, word| hours.replace(word, " "));
    let parts: Vec<&str> = hours
        .split([',', ';', '&', '+'])
        .flat_map(|part| part.split(" and "))
        .map(str::trim)
        .filter(|part| !part.is_empty())
        .collect();
    let bare = |part: &str| on_whole_hours(&[part]).and_then(|_| as_written::window(part));
    // "6am-10am 6pm-11pm".
    let each = |part: &&'_ str| part.split_whitespace().all(|word| as_written::hours_of_day(word).is_some());
    let parts: Vec<&str> = parts
        .iter()
        .flat_map(|part| if each(part) { part.split_whitespace().collect() } else { vec![*part] })
        .collect();
    // Of several windows on whole hours one above noon tells the clock of the others: "6-10, 18-22".
    let told = on_whole_hours(&parts);
    let parts: Vec<&str> = told.as_ref().map_or(parts, |told| told.iter().map(String::as_str).collect());
    let windows: Option<Vec<Reading<String>>> =
        parts.iter().map(|part| as_written::hours_of_day(part).or_else(|| bare(part))).collect();
    let Some(windows) = windows.filter(|windows| !windows.is_empty()) else {
        let by_the_clock =
            ["everyday", "every day", "each day", "daily", "twice", "times a day", "hours a day", "h a day", "per day"];
        if by_the_clock.iter().any(|word| lower.contains(word)) {
            return Err(format!(
                "`{text}` does not say at which hours the power is cut: write from and to, like \"10:00-14:00 and 18:00-20:00\""
            ));
        }
        if let Some(days) = nights(&lower) {
            let many = if days == 1 { "" } else { "s" };
            return Err(format!(
                "`{text}` does not say how long it is: write \"12 h\" for a night, or \"{days} day{many}\" with the days between"
            ));
        }
        return Ok(Spell { lasts: whole_days(&lower).unwrap_or_else(|| text.into()), cuts: Vec::new() });
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
    let days = days.map(|days| whole_days(&days).unwrap_or(days));
    Ok(Spell { lasts: days.unwrap_or_else(|| DAYS_OF_CUTS.into()), cuts })
}

/// Windows on whole hours, "6-10" and "19h-22h", as "6:00-10:00" and "19:00-22:00" where one of all has an hour above 12, for then
/// the others are of the same clock; `None` where one is no such window.
fn on_whole_hours(parts: &[&str]) -> Option<Vec<String>> {
    let hour = |text: &str| {
        let text = text.trim();
        let text = text.strip_suffix('h').unwrap_or(text).trim_end();
        text.parse::<u32>().ok().filter(|hour| *hour <= 24 && text.len() <= 2)
    };
    let window = |part: &&str| {
        let (from, to) = part.split_once(['-', '–']).or_else(|| part.split_once(" to "))?;
        Some((hour(from)?, hour(to)?))
    };
    let windows: Vec<(u32, u32)> = parts.iter().map(window).collect::<Option<_>>()?;
    // Else the reader asks before or after noon.
    let told = windows.iter().any(|(from, to)| *from > 12 || *to > 12);
    Some(
        windows
            .iter()
            .map(|(from, to)| if told { format!("{from}:00-{to}:00") } else { format!("{from}-{to}") })
            .collect(),
    )
}

/// "5 days and nights", "5 days and 5 nights": so many days.
fn whole_days(lower: &str) -> Option<String> {
    let (days, nights) = lower.trim().split_once(" days and ")?;
    (nights == "nights" || nights.strip_suffix(" nights") == Some(days)).then(|| format!("{days} days"))
}

/// Hours and minutes parted by a point, "12.00-16.30", as "12:00-16:30".
fn colons(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let digit = |at: Option<usize>| at.and_then(|at| chars.get(at)).is_some_and(char::is_ascii_digit);
    let parts =
        |at: usize| digit(at.checked_sub(1)) && digit(Some(at + 1)) && digit(Some(at + 2)) && !digit(Some(at + 3));
    chars.iter().enumerate().map(|(at, c)| if *c == '.' && parts(at) { ':' } else { *c }).collect()
}

/// How many nights are meant by "a night", "2 nights".
fn nights(lower: &str) -> Option<u32> {
    let (count, night) = lower.trim().split_once(' ')?;
    let count = if count == "a" { Some(1) } else { as_written::number_word(count).or_else(|| count.parse().ok()) };
    count.filter(|_| ["night", "nights"].contains(&night.trim()))
}

/// Cuts that lie wholly outside the hours in which a thing runs.
pub(super) fn outside<'c>(cuts: &'c [String], hours: &[String]) -> Vec<&'c str> {
    let minutes = |window: &str| {
        let minute = |time: &str| {
            let (hours, minutes) = time.trim().split_once(':')?;
            Some(hours.parse::<u32>().ok()? * 60 + minutes.parse::<u32>().ok()?)
        };
        let (from, to) = window.split_once('-')?;
        let (from, to) = (minute(from)?, minute(to)?);
        Some((from, if to <= from { to + 1440 } else { to }))
    };
    let meet = |(a, b): (u32, u32), (c, d): (u32, u32)| {
        // A window over midnight goes on in the morning.
        [0, 1440].iter().any(|day| a < d + day && c + day < b || a + day < d && c < b + day)
    };
    let runs: Vec<_> = hours.iter().filter_map(|window| minutes(window)).collect();
    let misses = |cut: &&String| minutes(cut).is_some_and(|cut| !runs.iter().any(|window| meet(cut, *window)));
    cuts.iter().filter(misses).map(String::as_str).collect()
}

const MONTHS: [&str; 12] = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

/// The month of a date in figures, "15/01/2027", "2027-01-15", where only one of them can be the month.
fn date(lower: &str) -> Option<&'static str> {
    let word = lower.split([',', ' ']).find(|word| word.contains(['/', '-', '.']))?;
    let parts: Vec<u32> = word.split(['/', '-', '.']).map(|part| part.parse().ok()).collect::<Option<_>>()?;
    let [a, b, c] = parts[..] else { return None };
    let month = match (a, b, c) {
        (32.., month, _) => month,
        (13.., month, _) | (month, 13.., _) => month,
        (month, same, _) if month == same => month,
        _ => return None,
    };
    crate::calendar::MONTHS.get(usize::try_from(month).ok()?.checked_sub(1)?).copied()
}

/// "January, storm", "May, no", "in July, not in a storm".
///
/// * `latitude_deg` — of the place, by which seasons have their months.
pub(super) fn month_and_storm(text: &str, latitude_deg: f64) -> Result<(String, bool), String> {
    let like = "write one month and whether it begins in a storm, like \"January, storm\" or \"May, no storm\"";
    let lower = text.to_lowercase().replace("n't", " not");
    let words: Vec<&str> =
        lower.split([',', ' ', ';', '.', '(', ')', ':', '?', '!']).filter(|word| !word.is_empty()).collect();
    let said = |words_of: &[&str]| words.iter().any(|word| words_of.contains(word));
    const STORM: [&str; 3] = ["storm", "stormy", "storms"];
    const NO: [&str; 5] = ["no", "not", "without", "calm", "false"];
    const YES: [&str; 3] = ["yes", "y", "true"];
    let filler = [
        "in",
        "a",
        "an",
        "the",
        "it",
        "begins",
        "begin",
        "beginning",
        "starts",
        "with",
        "does",
        "do",
        "of",
        "and",
        "month",
        "is",
    ];
    let rest: Vec<&str> = words
        .iter()
        .copied()
        .filter(|word| !STORM.contains(word) && !NO.contains(word) && !YES.contains(word) && !filler.contains(word))
        .collect();
    let season = [rest.join(" "), lower.split([',', ';']).next().unwrap_or_default().trim().to_string()]
        .into_iter()
        .find_map(|words| Some((season(&words, Some(latitude_deg))?, words)));
    if let Some(((what, help), words)) = season {
        return Err(format!("`{words}` {what}: {help}"));
    }
    if let Some(month) = date(&lower) {
        let storm = if lower.contains("storm") { ", storm" } else { "" };
        return Err(format!(
            "`{text}` is a date: write its month, \"{month}{storm}\" (a day and an hour of its own stand in the file as start)"
        ));
    }
    let is_month = |word: &&&str| MONTHS.iter().any(|month| word.starts_with(month));
    let month = match rest[..] {
        [month] => month,
        [] => return Err(format!("`{text}` names no month: {like}")),
        _ if rest.iter().filter(is_month).count() > 1 => {
            return Err(format!(
                "`{text}` names several months: write the one that you fear most, like \"{}\"",
                begun(rest[0])
            ));
        }
        _ if !rest.iter().any(|word| is_month(&word)) => return Err(format!("`{text}` names no month: {like}")),
        _ => {
            let unread = rest.iter().find(|word| !is_month(word)).unwrap_or(&rest[0]);
            return Err(format!("`{unread}` in `{text}` is not understood: {like}"));
        }
    };
    if said(&NO) && said(&YES) {
        return Err(format!("`{text}` says yes and no: {like}"));
    }
    Ok((begun(month), !said(&NO) && (said(&STORM) || said(&YES))))
}
