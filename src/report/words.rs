//! Numbers as people say them.

use crate::math;
use crate::scenario::{COUNT_WORDS, ORDINAL_WORDS};
use crate::trials::interval::Interval;
use crate::trials::unknowns::Survival;

/// A count of things in words up to twelve, in digits above.
#[must_use]
pub fn count_word(n: impl Into<u64>) -> String {
    let n = n.into();
    COUNT_WORDS.get(n as usize).map_or_else(|| thousands(n), |w| (*w).to_string())
}

/// A place in a row, in words up to the tenth, in digits above.
#[must_use]
pub fn ordinal(n: u32) -> String {
    let end = match (n % 10, n % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    let spelt = n.checked_sub(1).and_then(|at| ORDINAL_WORDS.get(at as usize));
    spelt.map_or_else(|| format!("{n}{end}"), |word| (*word).to_string())
}

/// How often something comes back, from the first day of an outage on: "every second day, first on the third".
#[must_use]
pub fn every(days: u32) -> String {
    match days {
        1 => "every day, first on the second".into(),
        days => format!("every {} day, first on the {}", ordinal(days), ordinal(days + 1)),
    }
}

/// A name as it stands in a sentence: what a comma parts off would read as one more thing, so that it stands in brackets:
/// "fridge-freezer (300 litres)".
#[must_use]
pub fn in_a_sentence(name: &str) -> String {
    match name.split_once(", ") {
        Some((thing, of)) if !name.contains('(') => format!("{thing} ({of})"),
        _ => name.to_string(),
    }
}

/// Digits in groups of three: 10,000.
#[must_use]
pub fn thousands(n: u64) -> String {
    let digits = n.to_string();
    let mut out = String::new();
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(c);
    }
    out
}

/// A count rounded to two digits: what an estimate is worth.
#[must_use]
pub fn about(n: f64) -> String {
    let unit = math::pow(10.0, math::log10(n.max(1.0)).floor() - 1.0).max(1.0);
    thousands(((n / unit).round() * unit) as u64)
}

/// Energy with a sensible number of digits: "0.4 Wh", "85 Wh", "1.24 kWh".
#[must_use]
pub fn energy(wh: f64) -> String {
    match wh.abs() {
        a if a < 9.95 => format!("{wh:.1} Wh"),
        a if a < 999.5 => format!("{:.0} Wh", wh.round()),
        a if a < 9_995.0 => format!("{:.2} kWh", wh / 1000.0),
        _ => format!("{:.1} kWh", wh / 1000.0),
    }
}

/// Energy as it stands on a label: to the watt-hour, like "1,024 Wh".
#[must_use]
pub fn label(wh: f64) -> String {
    format!("{} Wh", thousands(wh.round().max(0.0) as u64))
}

/// What to say of a run that was stopped with so many of the `things` asked for ("trials") done.
#[must_use]
pub fn stopped(done: u64, asked: u64, things: &str) -> String {
    format!("Stopped before its time: this is the answer of {} of {} {things}.", thousands(done), thousands(asked))
}

/// A duration: "45 min", "7.5 h", "3 days", "2.5 days".
#[must_use]
pub fn duration(hours: f64) -> String {
    if hours < 1.0 {
        format!("{:.0} min", hours * 60.0)
    } else if hours < 48.0 {
        if (hours - hours.round()).abs() < 0.05 { format!("{hours:.0} h") } else { format!("{hours:.1} h") }
    } else {
        let days = hours / 24.0;
        if (days - days.round()).abs() < 0.05 { format!("{days:.0} days") } else { format!("{days:.1} days") }
    }
}

/// With a small letter.
#[must_use]
pub fn lowered(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// Durations of one sentence, all in one unit: that of the longest, hours where it is below three days.
#[must_use]
pub fn durations(hours: &[f64]) -> Vec<String> {
    let longest = hours.iter().copied().fold(0.0, f64::max);
    let tidy = |n: f64| {
        let told = format!("{n:.1}");
        told.strip_suffix(".0").map_or(told.clone(), str::to_string)
    };
    let of = |h: &f64| match longest {
        longest if longest < 1.0 => format!("{:.0} min", h * 60.0),
        longest if longest < 72.0 => format!("{} h", tidy(*h)),
        _ => format!("{} days", tidy(h / 24.0)),
    };
    hours.iter().map(of).collect()
}

/// Durations of one column of a table, all in one unit: hours where the shortest that is any is below two days, else days; "none"
/// where nothing is left.
///
/// * `most_h` — what is longer is told as more \[h\].
#[must_use]
pub fn column_of_durations(hours: &[f64], most_h: f64) -> Vec<String> {
    let shortest = hours.iter().copied().filter(|h| *h > 0.0).fold(f64::INFINITY, f64::min);
    let in_hours = shortest < 48.0;
    let tidy = |n: f64| if (n - n.round()).abs() < 0.05 || n >= 100.0 { format!("{n:.0}") } else { format!("{n:.1}") };
    let told = |h: f64| match h {
        h if h <= 0.0 => "none".to_string(),
        h if h < 0.95 => "under 1 h".into(),
        h if in_hours => format!("{} h", tidy(h)),
        h => format!("{} days", tidy(h / 24.0)),
    };
    hours.iter().map(|h| if *h > most_h { format!("over {}", duration(most_h)) } else { told(*h) }).collect()
}

/// Longest time since the lights went out that is told in hours \[h\]; what is longer is told in days.
const HOURS_TOLD: f64 = 120.0;

/// When something came that is known to a step of an outage: "45-46", "0-15", "2.7-17.9"; its unit is that of [`unit_of_steps`].
///
/// * `from`, `to` — first and last step, counted from 0; `step_h` — their length \[h\].
#[must_use]
pub fn in_steps((from, to): (usize, usize), step_h: f64, unit: &str) -> String {
    let [from, to] = ends((from, to), step_h, unit);
    format!("{from}-{to}")
}

/// The unit of steps of which the last is this one: `min`, `h` or `days`.
#[must_use]
pub fn unit_of_steps(last: usize, step_h: f64) -> &'static str {
    match (last + 1) as f64 * step_h {
        hours if hours < 1.0 - 1e-9 => "min",
        hours if hours <= HOURS_TOLD => "h",
        _ => "days",
    }
}

/// The beginning of one step and the end of another; days are rounded outwards to a tenth.
#[must_use]
pub fn ends((from, to): (usize, usize), step_h: f64, unit: &str) -> [String; 2] {
    let (from_h, to_h) = (from as f64 * step_h, (to + 1) as f64 * step_h);
    let short = |n: f64| format!("{n:.2}").trim_end_matches('0').trim_end_matches('.').to_string();
    match unit {
        "min" => [from_h, to_h].map(|h| format!("{:.0}", 60.0 * h)),
        "h" => [from_h, to_h].map(short),
        _ => [(from_h / 2.4 + 1e-9).floor(), (to_h / 2.4 - 1e-9).ceil()].map(|tenths| short(tenths / 10.0)),
    }
}

/// A duration before a noun: "four-day", "18-hour".
#[must_use]
pub fn duration_adjective(hours: f64) -> String {
    let days = hours / 24.0;
    if hours >= 24.0 && (days - days.round()).abs() < 1e-9 {
        format!("{}-day", count_word(days.round() as u64))
    } else if (hours - hours.round()).abs() < 1e-9 {
        format!("{}-hour", count_word(hours.round() as u64))
    } else {
        format!("{hours:.1}-hour")
    }
}

/// "the fridge", "the fridge and the router", "the fridge, the router and the lamps"; names as [`in_a_sentence`] has them.
#[must_use]
pub fn the_list<S: AsRef<str>>(names: &[S]) -> String {
    let with_article: Vec<String> = names.iter().map(|name| format!("the {}", in_a_sentence(name.as_ref()))).collect();
    if with_article.is_empty() { "nothing".into() } else { and(&with_article) }
}

/// "a", "a and b", "a, b and c".
#[must_use]
pub fn and<S: AsRef<str>>(names: &[S]) -> String {
    let names: Vec<&str> = names.iter().map(AsRef::as_ref).collect();
    match names.split_last() {
        None => String::new(),
        Some((only, [])) => (*only).to_string(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

/// Decimals with which a share of outages is told, of 100: none, or more where it is close to none or all.
#[must_use]
pub fn decimals(interval: Interval) -> usize {
    match (1.0 - interval.low).min(interval.high) {
        edge if edge >= 0.02 => 0,
        edge if edge >= 0.002 => 1,
        _ => 2,
    }
}

/// Decimals for the shares of one table, so that they can be held together: the most that any takes.
#[must_use]
pub fn common_decimals(intervals: impl IntoIterator<Item = Interval>) -> usize {
    intervals.into_iter().map(decimals).max().unwrap_or(0)
}

/// Whole units of the last decimal as a number, with all its decimals: "0.9", "58.0", "99.97". None and all are plain: "0",
/// "100".
fn decimal(units: u64, decimals: usize) -> String {
    let of = 10_u64.pow(decimals as u32);
    match units / of {
        whole @ (0 | 100) if units.is_multiple_of(of) => whole.to_string(),
        _ => format!("{:.decimals$}", units as f64 / of as f64),
    }
}

/// A share as a number of 100: "64", "0.9". Only exactly none is told as 0, only exactly all as 100.
#[must_use]
pub fn hundredths(share: f64, decimals: usize) -> String {
    let of = 100 * 10_u64.pow(decimals as u32);
    let n = (share * of as f64).round() as u64;
    let n = match n {
        0 if share > 0.0 => 1,
        n if share < 1.0 && n >= of => of - 1,
        n => n,
    };
    decimal(n, decimals)
}

/// What a share as [`hundredths`] tells it leaves of 100: beside each other the two make 100.
#[must_use]
pub fn rest_of_hundred(share: f64, decimals: usize) -> String {
    let of = 10_u64.pow(decimals as u32) as f64;
    let told: f64 = hundredths(share, decimals).parse().unwrap_or(0.0);
    decimal((of * (100.0 - told)).round() as u64, decimals)
}

/// The lower end of an interval in numbers of 100, as [`range`] has it.
#[must_use]
pub fn lower_end(low: f64, decimals: usize) -> String {
    range(Interval { low, high: low }, decimals).split('-').next().unwrap_or_default().to_string()
}

/// An interval in numbers of 100, rounded outwards: "82-84".
#[must_use]
pub fn range(interval: Interval, decimals: usize) -> String {
    let of = 100 * 10_u64.pow(decimals as u32);
    let low = (interval.low * of as f64 + 1e-9).floor() as u64;
    let high = ((interval.high * of as f64 - 1e-9).ceil() as u64).min(of);
    let (low, high) = (decimal(low, decimals), decimal(high, decimals));
    if low == high { low } else { format!("{low}-{high}") }
}

/// A share with its whole range, what is not known counted: "64 of 100 (44-82)".
#[must_use]
pub fn share(share: f64, interval: Interval) -> String {
    share_with(share, interval, decimals(interval))
}

/// The same with so many decimals.
#[must_use]
pub fn share_with(share: f64, interval: Interval, decimals: usize) -> String {
    format!("{} of 100 ({})", hundredths(share, decimals), range(interval, decimals))
}

/// A share whose range holds chance alone, and says so: "36 of 100 (34-37 by chance)".
#[must_use]
pub fn share_by_chance(share: f64, interval: Interval) -> String {
    let decimals = decimals(interval);
    format!("{} of 100 ({} by chance)", hundredths(share, decimals), range(interval, decimals))
}

/// "83 of 100 (82-84)"; where the range holds chance alone it says so: "100 of 100 (99.6-100 by chance)".
#[must_use]
pub fn survival(survival: &Survival) -> String {
    let of = if survival.chance_alone { share_by_chance } else { share };
    of(survival.probability, survival.interval)
}

/// The same with so many decimals, for a table: a star stands for what a line below it says.
#[must_use]
pub fn survival_with(survival: &Survival, decimals: usize) -> String {
    let told = share_with(survival.probability, survival.interval, decimals);
    if survival.chance_alone { told.trim_end_matches(')').to_string() + "*)" } else { told }
}

/// A share of something that is not all where something lacks: "85 %", "99.6 %", "99.9 %"; "all" only where nothing does.
#[must_use]
pub fn part(share: f64) -> String {
    match share {
        all if all >= 1.0 => "all".into(),
        nearly if nearly >= 0.99 => format!("{:.1} %", (1000.0 * nearly + 1e-9).floor() / 10.0),
        share => percent(share),
    }
}

/// A share as percent: "83 %", "0.4 %".
#[must_use]
pub fn percent(share: f64) -> String {
    let p = share * 100.0;
    match p.abs() {
        0.0 => "0 %".into(),
        small if small < 0.05 => "under 0.1 %".into(),
        small if small < 9.95 => format!("{p:.1} %"),
        _ => format!("{p:.0} %"),
    }
}

/// A difference of shares told of 100 outages, with its range, which on the same trials holds chance alone: "+11.2 of 100
/// (+8.1 to +14.0 by chance)".
#[must_use]
pub fn difference(difference: f64, low: f64, high: f64) -> String {
    format!("{} of 100 ({} to {} by chance)", points(difference), points(low), points(high))
}

/// A difference of shares as a number of 100, to a tenth: "+11.2". One that is nearly none keeps two decimals.
#[must_use]
pub fn points(share: f64) -> String {
    let p = share * 100.0;
    if (0.005..0.095).contains(&p.abs()) { format!("{p:+.2}") } else { format!("{p:+.1}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn intervals_are_rounded_outwards_and_never_to_certainty() {
        assert_eq!(range(Interval { low: 0.8261, high: 0.8392 }, 0), "82-84");
        assert_eq!(range(Interval { low: 0.0, high: 0.0004 }, 0), "0-1");
        assert_eq!(hundredths(0.9999, 0), "99");
        assert_eq!(hundredths(0.00001, 0), "1");
        assert_eq!(hundredths(1.0, 0), "100");
        // 205 of 1,000 and the 795 others: what stands beside each other makes a hundred.
        assert_eq!((hundredths(0.795, 0), rest_of_hundred(0.795, 0)), ("80".into(), "20".into()));
        assert_eq!((rest_of_hundred(1.0, 0), rest_of_hundred(0.9998, 2)), ("0".into(), "0.02".into()));
        assert_eq!((rest_of_hundred(0.99999, 0), rest_of_hundred(0.0001, 0)), ("1".into(), "99".into()));
        assert_eq!([0.5, 0.9939, 0.9999999, 1.0].map(part), ["50 %", "99.3 %", "99.9 %", "all"]);
    }

    #[test]
    fn every_share_is_told_of_a_hundred() {
        let told = |p: f64, low: f64, high: f64| share(p, Interval { low, high });
        assert_eq!(told(0.644, 0.44, 0.82), "64 of 100 (44-82)");
        assert_eq!(told(0.009, 0.003, 0.014), "0.9 of 100 (0.3-1.4)");
        assert_eq!(told(0.9998, 0.9985, 1.0), "99.98 of 100 (99.85-100)");
        assert_eq!(told(0.0, 0.0, 0.0004), "0 of 100 (0-0.04)");
        // One number of decimals in one cell, as in one table.
        assert_eq!(share_with(0.795, Interval { low: 0.58, high: 0.938 }, 1), "79.5 of 100 (58.0-93.8)");
        assert_eq!(told(0.01, 0.004, 0.019), "1.0 of 100 (0.4-1.9)");
        assert_eq!(share_by_chance(0.36, Interval { low: 0.345, high: 0.37 }), "36 of 100 (34-37 by chance)");
    }

    #[test]
    fn names_with_a_comma_are_one_thing_and_places_in_a_row_have_their_ends() {
        assert_eq!(
            the_list(&["fridge-freezer, 300 litres", "router"]),
            "the fridge-freezer (300 litres) and the router"
        );
        assert_eq!([1, 3, 10].map(ordinal), ["first", "third", "tenth"]);
        assert_eq!([11, 12, 13, 21, 22, 30].map(ordinal), ["11th", "12th", "13th", "21st", "22nd", "30th"]);
    }

    #[test]
    fn lists_and_durations_read_well() {
        assert_eq!(the_list(&["fridge"]), "the fridge");
        assert_eq!(the_list(&["fridge", "router", "lamps"]), "the fridge, the router and the lamps");
        assert_eq!(duration_adjective(96.0), "four-day");
        assert_eq!(duration_adjective(18.0), "18-hour");
        assert_eq!(thousands(1234567), "1,234,567");
        assert_eq!(energy(1240.0), "1.24 kWh");
        // A half goes up, as on a label: 112.5 Wh are one number wherever they stand.
        assert_eq!((energy(112.5), label(112.5)), ("113 Wh".into(), "113 Wh".into()));
        assert_eq!(durations(&[55.2, 47.5]), ["55.2 h", "47.5 h"]);
        assert_eq!(durations(&[96.0, 70.0]), ["4 days", "2.9 days"]);
        assert_eq!(durations(&[0.5, 0.25]), ["30 min", "15 min"]);
        // Hours 66 to 428 of four weeks, and the hour before the ninth day's end.
        assert_eq!((unit_of_steps(427, 1.0), unit_of_steps(119, 1.0), unit_of_steps(2, 0.25)), ("days", "h", "min"));
        assert_eq!(
            (in_steps((66, 427), 1.0, "days"), in_steps((215, 215), 1.0, "days")),
            ("2.7-17.9".into(), "8.9-9".into())
        );
        assert_eq!((in_steps((63, 63), 1.0, "h"), in_steps((0, 0), 0.25, "min")), ("63-64".into(), "0-15".into()));
    }

    #[test]
    fn differences_have_one_decimal_however_large() {
        assert_eq!(difference(0.124, 0.11, 0.14), "+12.4 of 100 (+11.0 to +14.0 by chance)");
        assert_eq!(difference(-0.0116, -0.0171, -0.0076), "-1.2 of 100 (-1.7 to -0.8 by chance)");
        assert_eq!(points(0.0004), "+0.04");
    }
}
