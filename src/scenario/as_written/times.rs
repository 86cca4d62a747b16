//! Clock times, windows of them, and moments.

use super::Reading;
use crate::calendar::{self, MONTHS};

/// A date with a clock time; year nothing where only the time is said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moment {
    /// Year, month 1 to 12 and day 1 to 31, where they are said.
    pub date: Option<(i16, u8, u8)>,
    /// Minutes after midnight, 0 to 1439.
    pub minute_of_day: u16,
}

/// A clock time: minutes after midnight, and whether an hour from 1 to 12 stands without am or pm.
pub(super) fn clock(text: &str) -> Option<(u16, bool)> {
    let text = text.trim().to_lowercase().replace("a.m.", "am").replace("p.m.", "pm");
    match text.as_str() {
        "noon" | "midday" => return Some((720, false)),
        "midnight" => return Some((0, false)),
        _ => {}
    }
    let (bare, half) = [("am", 0), ("pm", 720)]
        .into_iter()
        .find_map(|(end, minutes)| Some((text.strip_suffix(end)?.trim_end(), Some(minutes))))
        .unwrap_or((&text, None));
    let (bare, marked) = bare.strip_suffix('h').map_or((bare, false), |bare| (bare.trim_end(), true));
    let (hours, minutes) = match bare.split_once([':', '.', 'h']) {
        Some((hours, minutes)) if minutes.len() == 2 => (hours, Some(minutes)),
        Some(_) => return None,
        None => (bare, None),
    };
    let number = |text: &str| text.bytes().all(|b| b.is_ascii_digit()).then(|| text.parse::<u16>().ok()).flatten();
    let (hours, more) = (number(hours)?, minutes.map_or(Some(0), number)?);
    if more > 59 {
        return None;
    }
    match half {
        Some(half) if (1..=12).contains(&hours) => Some((hours % 12 * 60 + half + more, false)),
        None if hours <= 24 && 60 * hours + more <= 1440 => {
            let unsure = minutes.is_none() && !marked && (1..=12).contains(&hours);
            Some((60 * hours + more, unsure))
        }
        _ => None,
    }
}

/// A window as a file has it, `"19:00-22:00"`, or what to ask.
pub(in crate::scenario) fn window(text: &str) -> Option<Reading<String>> {
    let lower = text.trim().to_lowercase();
    match lower.as_str() {
        "all day" | "always" | "24 h" | "24h" | "24/7" => {
            return Some(Reading::ask("is all day", "leave it out, or write \"00:00-24:00\""));
        }
        "night" | "nights" | "overnight" | "at night" => {
            return Some(Reading::ask("is no time of the clock", "write from and to: \"22:00-06:00\""));
        }
        "evening" | "evenings" => {
            return Some(Reading::ask("is no time of the clock", "write from and to: \"18:00-23:00\""));
        }
        "morning" | "mornings" => {
            return Some(Reading::ask("is no time of the clock", "write from and to: \"06:00-09:00\""));
        }
        _ => {}
    }
    let lower = lower.strip_prefix("from ").unwrap_or(&lower);
    let (from, to) =
        [" until ", " till ", " to ", "–", "—", "-"].iter().find_map(|between| lower.split_once(between))?;
    let (to_minute, to_unsure) = clock(to)?;
    // "7-10pm": what stands behind the end holds for the beginning.
    let end = ["am", "pm"].into_iter().find(|half| to.replace('.', "").trim_end().ends_with(half));
    let (from_minute, from_unsure) = match (clock(from)?, end) {
        ((minute, true), Some(half)) => {
            let same = clock(&format!("{}{half}", from.trim()))?.0;
            // "11-2pm" begins before noon.
            (if same < to_minute { same } else { minute % 720 }, false)
        }
        (told, _) => told,
    };
    if from_unsure || to_unsure {
        // An hour above 12 tells which clock it is.
        if from_minute <= 720 && to_minute <= 720 {
            let later = |minute: u16| if minute == 720 { 720 } else { minute + 720 };
            let to_later = if to_minute == 720 { "24:00".to_string() } else { calendar::clock(later(to_minute)) };
            let help = format!(
                "write \"{}-{}\" for the morning or \"{}-{to_later}\" for the evening",
                calendar::clock(from_minute),
                calendar::clock(to_minute),
                calendar::clock(later(from_minute)),
            );
            return Some(Reading::ask("does not say whether it is before or after noon", help));
        }
    }
    let to = if to_minute == 0 { "24:00".to_string() } else { calendar::clock(to_minute) };
    let window = format!("{}-{to}", calendar::clock(from_minute % 1440));
    let says = format!("is read as {window}");
    Some(Reading::As(window, says))
}

/// As [`window`], of a text that could be something else: only what is plainly hours of the clock.
pub(in crate::scenario) fn hours_of_day(text: &str) -> Option<Reading<String>> {
    let lower = text.to_lowercase();
    let plain = [":", "am", "pm", "a.m", "p.m", "noon", "midday", "midnight"].iter().any(|mark| lower.contains(mark));
    let reading = window(text)?;
    let digits = |c: char| c.is_ascii_digit() || matches!(c, '-' | '–' | ' ');
    (plain || matches!(reading, Reading::As(..)) && lower.chars().all(digits)).then_some(reading)
}

/// A month by its name or its first three letters.
fn month_named(word: &str) -> Option<u8> {
    let word = word.trim_end_matches('.').to_lowercase();
    let is = |name: &str| name.to_lowercase() == word || word.len() >= 3 && name.to_lowercase().starts_with(&word);
    MONTHS.iter().position(|name| is(name)).and_then(|at| u8::try_from(at + 1).ok())
}

/// A date with a clock time, or a clock time alone: "14.01.2027 18:00", "14 Jan 2027 6pm", "01/14/2027 18:00", "20:30".
///
/// # Errors
/// What is wrong with it, and what to write: two readings of day and month, a time without morning or evening, or anything else.
pub fn moment(text: &str) -> Result<Moment, String> {
    let like = "write it like \"2027-01-14 18:00\"";
    let wrong = || format!("cannot be read as a date with a time: {like}");
    let spaced = text.trim().replace(',', " ");
    // The T between date and time.
    let spaced = match spaced.find(['T', 't']) {
        Some(at) if spaced[..at].ends_with(|c: char| c.is_ascii_digit()) => spaced.replacen(['T', 't'], " ", 1),
        _ => spaced,
    };
    let mut words: Vec<&str> = spaced.split_whitespace().filter(|word| !word.eq_ignore_ascii_case("at")).collect();
    // "6 pm" is one time.
    let last = words.pop().ok_or_else(wrong)?;
    let mut time = last.to_string();
    if ["am", "pm", "a.m.", "p.m."].contains(&last.to_lowercase().as_str()) {
        time = format!("{} {last}", words.pop().ok_or_else(wrong)?);
    }
    let seconds = time.matches(':').count() == 2;
    let told = if seconds { time.strip_suffix(":00").map_or_else(String::new, String::from) } else { time.clone() };
    let (minute, unsure) = clock(&told).filter(|(minute, _)| *minute < 1440).ok_or_else(wrong)?;
    if unsure {
        return Err(format!("does not say whether {time} is before or after noon: {like}"));
    }
    let date = match words[..] {
        [] => None,
        [date] => Some(date_of(date)?),
        [a, b, c] => {
            let day = |word: &str| {
                word.trim_end_matches(['.'])
                    .trim_end_matches("th")
                    .trim_end_matches("st")
                    .trim_end_matches("nd")
                    .trim_end_matches("rd")
                    .parse::<u8>()
                    .ok()
            };
            let (day, month) = match (month_named(a), month_named(b)) {
                (Some(month), None) => (day(b), month),
                (None, Some(month)) => (day(a), month),
                _ => return Err(wrong()),
            };
            Some((c.parse().map_err(|_| wrong())?, month, day.ok_or_else(wrong)?))
        }
        _ => return Err(wrong()),
    };
    if let Some((year, month, day)) = date
        && (!(1900..=2100).contains(&year)
            || jiff::civil::Date::new(year, i8::try_from(month).unwrap_or(0), i8::try_from(day).unwrap_or(0)).is_err())
    {
        return Err("is no day of the calendar from 1900 to 2100".into());
    }
    Ok(Moment { date, minute_of_day: minute })
}

/// "2027-01-14", "2027/01/14", "14.01.2027", "14/01/2027".
fn date_of(text: &str) -> Result<(i16, u8, u8), String> {
    let wrong = || "cannot be read as a date with a time: write it like \"2027-01-14 18:00\"".to_string();
    let parts: Vec<&str> = text.split(['-', '/', '.']).collect();
    let [a, b, c] = parts[..] else { return Err(wrong()) };
    let number = |part: &str| part.parse::<u16>().map_err(|_| wrong());
    let small = |part: &str| number(part).and_then(|n| u8::try_from(n).map_err(|_| wrong()));
    let year = |part: &str| number(part).and_then(|n| i16::try_from(n).map_err(|_| wrong()));
    if a.len() == 4 {
        return Ok((year(a)?, small(b)?, small(c)?));
    }
    if c.len() != 4 {
        return Err(wrong());
    }
    let (first, second, year) = (small(a)?, small(b)?, year(c)?);
    // Points stand behind the day, where anybody writes them; strokes stand behind either.
    match (text.contains('.'), first > 12, second > 12) {
        (true, ..) | (_, true, false) => Ok((year, second, first)),
        (_, false, true) => Ok((year, first, second)),
        _ if first == second => Ok((year, first, second)),
        _ => Err(format!(
            "can be read in two ways: write \"{year}-{second:02}-{first:02}\" or \"{year}-{first:02}-{second:02}\", year, month, \
             day, and the time behind it"
        )),
    }
}
