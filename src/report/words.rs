//! Numbers as people say them.

use crate::trials::interval::Interval;
use crate::trials::unknowns::Survival;

/// A count of things in words up to twelve, in digits above.
#[must_use]
pub fn count_word(n: u64) -> String {
    const WORDS: [&str; 13] =
        ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];
    WORDS.get(n as usize).map_or_else(|| thousands(n), |w| (*w).to_string())
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

/// Energy with a sensible number of digits: "0.4 Wh", "85 Wh", "1.24 kWh".
#[must_use]
pub fn energy(wh: f64) -> String {
    match wh.abs() {
        a if a < 9.95 => format!("{wh:.1} Wh"),
        a if a < 999.5 => format!("{wh:.0} Wh"),
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

/// "the fridge", "the fridge and the router", "the fridge, the router and the lamps".
#[must_use]
pub fn the_list<S: AsRef<str>>(names: &[S]) -> String {
    let with_article: Vec<String> = names.iter().map(|name| format!("the {}", name.as_ref())).collect();
    match with_article.split_last() {
        None => "nothing".into(),
        Some((only, [])) => only.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

/// Of how many a share is best told: 100, or more where the share is close to none or all.
#[must_use]
pub fn base(low: f64, high: f64) -> u64 {
    let edge = (1.0 - low).min(high);
    match edge {
        e if e >= 0.02 => 100,
        e if e >= 0.002 => 1_000,
        _ => 10_000,
    }
}

/// A share of `of` as whole things. Only exactly none is told as 0, only exactly all as all.
#[must_use]
pub fn whole(share: f64, of: u64) -> u64 {
    let n = (share * of as f64).round() as u64;
    if share > 0.0 && n == 0 {
        1
    } else if share < 1.0 && n >= of {
        of - 1
    } else {
        n
    }
}

/// An interval in whole things of `of`, rounded outwards: "82-84".
#[must_use]
pub fn range(interval: Interval, of: u64) -> String {
    let low = (interval.low * of as f64 + 1e-9).floor() as u64;
    let high = ((interval.high * of as f64 - 1e-9).ceil() as u64).min(of);
    if low == high { thousands(low) } else { format!("{}-{}", thousands(low), thousands(high)) }
}

/// Of how many the shares of one table are best told: the greatest base of any, so that they can be held together.
#[must_use]
pub fn common_base(intervals: impl IntoIterator<Item = Interval>) -> u64 {
    intervals.into_iter().map(|interval| base(interval.low, interval.high)).max().unwrap_or(100)
}

/// "83 of 100 (82-84)".
#[must_use]
pub fn survival(survival: &Survival) -> String {
    survival_of(survival, base(survival.interval.low, survival.interval.high))
}

/// The same out of so many.
#[must_use]
pub fn survival_of(survival: &Survival, of: u64) -> String {
    format!("{} of {} ({})", thousands(whole(survival.probability, of)), thousands(of), range(survival.interval, of))
}

/// A share as percent: "83 %", "0.4 %".
#[must_use]
pub fn percent(share: f64) -> String {
    let p = share * 100.0;
    if p != 0.0 && p.abs() < 9.95 { format!("{p:.1} %") } else { format!("{p:.0} %") }
}

/// A difference in points: "+11 points".
#[must_use]
pub fn points(share: f64) -> String {
    let p = share * 100.0;
    if p.abs() < 9.95 { format!("{p:+.1}") } else { format!("{p:+.0}") }
}

/// Hour of the outage as "day 3, hour 5": days counted from 1.
#[must_use]
pub fn day_of_outage(hours: f64) -> String {
    format!("day {}", (hours / 24.0).floor() as u64 + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn intervals_are_rounded_outwards_and_never_to_certainty() {
        assert_eq!(range(Interval { low: 0.8261, high: 0.8392 }, 100), "82-84");
        assert_eq!(range(Interval { low: 0.0, high: 0.0004 }, 100), "0-1");
        assert_eq!(whole(0.9999, 100), 99);
        assert_eq!(whole(0.00001, 100), 1);
        assert_eq!(whole(1.0, 100), 100);
    }

    #[test]
    fn lists_and_durations_read_well() {
        assert_eq!(the_list(&["fridge"]), "the fridge");
        assert_eq!(the_list(&["fridge", "router", "lamps"]), "the fridge, the router and the lamps");
        assert_eq!(duration_adjective(96.0), "four-day");
        assert_eq!(duration_adjective(18.0), "18-hour");
        assert_eq!(thousands(1234567), "1,234,567");
        assert_eq!(energy(1240.0), "1.24 kWh");
    }
}
