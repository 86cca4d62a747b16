//! Lengths of time in words and figures.

use super::Reading;
use super::numbers::{digits, number_word, pairs};
use super::quantities::taken;

pub(super) fn duration(lower: &str) -> Option<Reading<String>> {
    let hours = |unit: &str| match unit {
        "h" | "hr" | "hrs" | "hour" | "hours" => Some(1.0),
        "min" | "mins" | "minute" | "minutes" | "m" => Some(1.0 / 60.0),
        "d" | "day" | "days" => Some(24.0),
        "week" | "weeks" | "wk" | "wks" => Some(168.0),
        "fortnight" | "fortnights" => Some(336.0),
        _ => None,
    };
    if let Some(window) = super::times::hours_of_day(lower) {
        return Some(match window {
            Reading::As(window, _) => Reading::ask(
                "is hours of the day and no length",
                format!(
                    "where the power is cut in these hours day after day, write two keys: every_day = \"{window}\" and, for so \
                     many days, lasts = \"14 days\""
                ),
            ),
            ask => ask,
        });
    }
    match lower {
        "overnight" | "a night" | "one night" | "night" => {
            return Some(Reading::ask("is no length", "write how long the night is: \"12 h\""));
        }
        "a weekend" | "weekend" | "one weekend" | "the weekend" => {
            return Some(Reading::ask("may be two days or three", "write \"2 days\" or \"3 days\""));
        }
        _ if ["until", "till", "as long as"].iter().any(|word| lower.starts_with(word))
            || ["unknown", "forever", "indefinitely", "as long as possible"].contains(&lower) =>
        {
            return Some(Reading::ask(
                "has no end that can be reckoned with",
                "write for how long you want to hold out: \"3 days\"",
            ));
        }
        "a month" | "one month" | "1 month" => return Some(Reading::ask("is not one length", "write \"30 days\"")),
        "a day and a half" => return taken("1.5 days".into(), ""),
        _ => {}
    }
    if let Some((h, m)) = lower.split_once(':')
        && let (Ok(h), Ok(m)) = (h.trim().parse::<u32>(), m.trim().parse::<u32>())
        && m < 60
    {
        let help = format!(
            "write \"{} h\" or \"{} min\"",
            digits(f64::from(h) + f64::from(m) / 60.0),
            digits(f64::from(h * 60 + m))
        );
        return Some(Reading::ask("may be hours and minutes", help));
    }
    // "two weeks", "half a day", "one and a half days".
    let words: Vec<&str> = lower.split_whitespace().collect();
    let number = |word: &str| number_word(word).map(f64::from);
    let spelt = match words[..] {
        ["a" | "an" | "the" | "one", unit] => Some((1.0, unit)),
        ["half", "a" | "an", unit] | ["half", unit] => Some((0.5, unit)),
        ["a", "couple", "of", unit] => Some((2.0, unit)),
        [word, "and", "a", "half", unit] => number(word).map(|n| (n + 0.5, unit)),
        [word, unit] => number(word).map(|n| (n, unit)),
        _ => None,
    };
    let sum = match spelt {
        Some((n, unit)) => n * hours(unit)?,
        None => {
            let mut bare = lower.replace(',', " ");
            // "1h30".
            if let Some((_, minutes)) = bare.rsplit_once('h')
                && !minutes.trim().is_empty()
                && minutes.trim().bytes().all(|b| b.is_ascii_digit())
            {
                bare.push_str(" min");
            }
            let pairs = pairs(&bare).filter(|pairs| pairs.len() > 1 || lower.contains("night"))?;
            pairs.iter().try_fold(0.0, |sum, (n, unit)| Some(sum + n * hours(unit)?))?
        }
    };
    let days = sum / 24.0;
    taken(
        if sum >= 48.0 && days.fract() == 0.0 {
            format!("{} days", digits(days))
        } else {
            format!("{} h", digits(sum))
        },
        "",
    )
}
