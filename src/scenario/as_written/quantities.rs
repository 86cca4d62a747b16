//! Quantities: products of a label, figures with words around them, decimal commas, ranges.

use super::Reading;
use crate::units::two_readings;

/// A quantity's text as a file has it, or what to ask.
///
/// * `name` — of the quantity: "energy"; `key` — the path of the key, which tells what the figure is for.
pub(in crate::scenario) fn quantity(name: &str, key: &str, written: &str) -> Option<Reading<String>> {
    let text = plain(written);
    let lower = text.to_lowercase();
    let last = key.rsplit('.').next().unwrap_or(key);
    if let Some(reading) = marked(&text) {
        // Behind the mark there may be more: "0,2 kWp".
        return match reading {
            Reading::As(plain, says) => quantity(name, key, &plain).or(Some(Reading::As(plain, says))),
            ask => Some(ask),
        };
    }
    let of_its_kind = match name {
        "energy" => energy(&lower, last),
        "power" => power(&lower, key, last),
        "duration" => duration(&lower),
        _ => None,
    };
    of_its_kind
        .or_else(|| range(&lower, name, key))
        .or_else(|| hedged(&text))
        .or_else(|| if text == written.trim() { None } else { taken(text.clone(), "") })
}

/// Without signs that look like others.
fn plain(text: &str) -> String {
    text.trim().replace(['º', '˚'], "°").replace(['\u{a0}', '\u{202f}'], " ")
}

/// A number as it is written into a file.
fn digits(number: f64) -> String {
    crate::units::one_reading((number * 1e6).round() / 1e6)
}

fn taken(value: String, why: &str) -> Option<Reading<String>> {
    let says = format!("is read as {value}{why}");
    Some(Reading::As(value, says))
}

/// Numbers, each with the unit behind it in small letters (empty where none stands there). Nothing where anything else stands
/// between them than `x`, `*`, `@` and the like.
pub(in crate::scenario) fn pairs(lower: &str) -> Option<Vec<(f64, String)>> {
    let mut rest = lower.trim();
    let mut found = Vec::new();
    while !rest.is_empty() {
        let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rest.len());
        let number: f64 = rest[..end].parse().ok()?;
        rest = rest[end..].trim_start();
        let end = rest.find(|c: char| !c.is_alphabetic()).unwrap_or(rest.len());
        let mut unit = &rest[..end];
        // "2 x 100 w", "12vx100ah".
        if unit == "x" {
            unit = "";
        } else if rest[end..].starts_with(|c: char| c.is_ascii_digit()) {
            unit = unit.strip_suffix('x').unwrap_or(unit);
        }
        found.push((number, unit.to_string()));
        rest = rest[end..].trim_start();
        for between in ["x ", "x", "×", "*", "·", "@", "at ", "and ", "⎓", ",", "/"] {
            let left = rest.strip_prefix(between).map(str::trim_start);
            if let Some(left) = left.filter(|left| left.starts_with(|c: char| c.is_ascii_digit())) {
                rest = left;
                break;
            }
        }
    }
    (!found.is_empty()).then_some(found)
}

/// Two figures of a product, in either order: those of the first and of the second kind of unit, made base units.
fn product(pairs: &[(f64, String)], first: &[(&str, f64)], second: &[(&str, f64)]) -> Option<(f64, f64)> {
    let [a, b] = pairs else { return None };
    let of = |(number, unit): &(f64, String), kind: &[(&str, f64)]| {
        kind.iter().find(|(name, _)| name == unit).map(|(_, factor)| number * factor)
    };
    of(a, first).zip(of(b, second)).or_else(|| of(b, first).zip(of(a, second)))
}

const VOLTS: &[(&str, f64)] = &[("v", 1.0), ("vdc", 1.0), ("volt", 1.0), ("volts", 1.0)];
const AMP_HOURS: &[(&str, f64)] = &[("ah", 1.0), ("mah", 0.001)];
const AMPS: &[(&str, f64)] = &[("a", 1.0), ("ma", 0.001), ("amp", 1.0), ("amps", 1.0)];

fn energy(lower: &str, last: &str) -> Option<Reading<String>> {
    let spelt = lower.replace("amp hours", "ah").replace("amp-hours", "ah").replace("amphours", "ah");
    let spelt = spelt.replace("watt-hours", "wh").replace("watt hours", "wh").replace("watthours", "wh");
    let spelt = spelt.replace("kilowh", "kwh").replace("kilo", "k");
    if let Some(day) =
        ["a day", "per day", "/day", "/ day", "/d", "daily"].iter().find_map(|end| spelt.strip_suffix(end))
        && last.ends_with("a_day")
    {
        let (number, unit) = one(&pairs(day)?)?;
        return taken(format!("{} {}", digits(number), cased(&unit)?), "");
    }
    let pairs = pairs(&spelt)?;
    if let Some((volts, amp_hours)) = product(&pairs, VOLTS, AMP_HOURS) {
        let nominal = if volts == 12.0 {
            "; four LFP cells in a row are 12.8 V: where the label gives watt-hours, write those"
        } else {
            ""
        };
        let why = format!(": {} V times {} Ah{nominal}", digits(volts), digits(amp_hours));
        return taken(format!("{} Wh", digits(volts * amp_hours)), &why);
    }
    // "2 x 12 V 100 Ah": whole batteries.
    if let [(count, none), battery @ ..] = &pairs[..]
        && none.is_empty()
        && count.fract() == 0.0
        && let Some((volts, amp_hours)) = product(battery, VOLTS, AMP_HOURS)
    {
        let why = format!(": {count} times {} V times {} Ah", digits(volts), digits(amp_hours));
        return taken(format!("{} Wh", digits(count * volts * amp_hours)), &why);
    }
    match one(&pairs)? {
        (number, unit) if spelt != lower && cased(&unit).is_some() => {
            taken(format!("{} {}", digits(number), cased(&unit)?), "")
        }
        (number, unit) if unit == "mah" => Some(Reading::ask(
            "gives no energy without volts",
            format!("write the volts too: a power bank counts at its cells' 3.7 V, \"3.7 V x {} mAh\"", number),
        )),
        (number, unit) if unit == "ah" => {
            let ah = digits(number);
            Some(Reading::ask(
                "gives no energy without volts",
                format!(
                    "write the nominal volts too: \"12 V x {ah} Ah\" for lead-acid, \"12.8 V x {ah} Ah\" for four LFP cells in \
                     a row, \"51.2 V x {ah} Ah\" for sixteen"
                ),
            ))
        }
        _ => None,
    }
}

fn one(pairs: &[(f64, String)]) -> Option<(f64, String)> {
    if let [(number, unit)] = pairs { Some((*number, unit.clone())) } else { None }
}

/// A unit of power or energy as it is written.
fn cased(lower: &str) -> Option<&'static str> {
    ["Wh", "kWh", "W", "kW"].into_iter().find(|unit| unit.eq_ignore_ascii_case(lower))
}

/// Words that mark the second of two powers as one for a moment.
const SURGE: [&str; 8] = ["surge", "peak", "starting", "start", "max", "burst", "momentary", "running"];

fn power(lower: &str, key: &str, last: &str) -> Option<Reading<String>> {
    // What gives power is believed to give little, what draws it to draw much.
    let draws = key.starts_with("load");
    let pairs = pairs(lower);
    if let Some((volts, amps)) = pairs.as_deref().and_then(|pairs| product(pairs, VOLTS, AMPS)) {
        let why = format!(": {} V times {} A", digits(volts), digits(amps));
        return taken(format!("{} W", digits(volts * amps)), &why);
    }
    // "1/2 hp".
    let half = |pairs: &[(f64, String)]| match pairs {
        [(a, none), (b, unit)] if none.is_empty() && unit == "hp" && lower.contains('/') => Some((a / b, unit.clone())),
        _ => None,
    };
    if let Some((number, unit)) = pairs.as_deref().and_then(|pairs| one(pairs).or_else(|| half(pairs))) {
        let factor = if unit.starts_with('k') { 1000.0 } else { 1.0 };
        match unit.as_str() {
            "wp" | "kwp" if key.starts_with("panel") => {
                return taken(format!("{} {}", digits(number), if unit == "wp" { "W" } else { "kW" }), "");
            }
            "wp" | "kwp" => {
                let help =
                    format!("Wp is what a panel gives in full sun: write \"{} W\" if that is meant", digits(number));
                return Some(Reading::ask("is in the unit of a panel", help));
            }
            "va" | "kva" => {
                let watts = number * factor * if draws { 1.0 } else { 0.6 };
                let why = if draws {
                    "draws no more watts than its VA"
                } else {
                    "often gives 0.6 W for each VA (common practice, no source)"
                };
                return Some(Reading::ask(
                    "is apparent power: volts times amps, of which only a part are watts",
                    format!("look for W on the label; where there is none, it {why}: write \"{} W\"", digits(watts)),
                ));
            }
            "hp" => {
                let help = format!(
                    "write the watts of its label; {} hp are {:.0} W at the shaft, and a motor draws about half as much again \
                     (common practice, no source): \"{:.0} W\"",
                    digits(number),
                    number * 745.7,
                    number * 745.7 * 1.5
                );
                return Some(Reading::ask("is the power of a motor's shaft", help));
            }
            _ => {}
        }
    }
    if let Some(watts) = lower.strip_suffix("w/h").or_else(|| lower.strip_suffix("watts per hour")) {
        let number = watts.trim();
        let help = format!("W says how fast: \"{number} W\"; what it takes in all is in Wh");
        return number.parse::<f64>().ok().map(|_| Reading::ask("is watts for each hour, which nothing is", help));
    }
    two_powers(lower, last)
}

/// The power for hours and the one for a moment of "1000 W (2000 W surge)", "1000/2000 W", in small letters.
pub(in crate::scenario) fn powers(lower: &str) -> Option<(String, String)> {
    if !lower.contains(['/', '(']) && !SURGE.iter().any(|word| lower.contains(word)) {
        return None;
    }
    let mut bare = lower.replace(['/', '(', ')', ',', ';', ':'], " ");
    SURGE.iter().for_each(|word| bare = bare.replace(word, " "));
    let pairs = pairs(&bare.split_whitespace().collect::<Vec<_>>().join(" "))?;
    let [(a, unit_a), (b, unit_b)] = &pairs[..] else { return None };
    let unit_a = if unit_a.is_empty() { unit_b } else { unit_a };
    let watts = |number: &f64, unit: &str| match unit {
        "w" | "watt" | "watts" => Some(*number),
        "kw" => Some(number * 1000.0),
        _ => None,
    };
    let (a, b) = (watts(a, unit_a)?, watts(b, unit_b)?);
    let shown = |watts: f64| format!("{} W", digits(watts));
    Some((shown(a.min(b)), shown(a.max(b))))
}

/// Asks for the two keys of two powers.
fn two_powers(lower: &str, last: &str) -> Option<Reading<String>> {
    let (lasting, moment) = powers(lower)?;
    let help = match last {
        "rated" | "surge" => format!("write two keys: rated = \"{lasting}\" and surge = \"{moment}\""),
        "watts" | "starting_watts" => {
            format!("write two keys: watts = \"{lasting}\" and starting_watts = \"{moment}\"")
        }
        _ => format!("write what it is for hours: \"{lasting}\""),
    };
    Some(Reading::ask("holds two powers", help))
}

const WORDS: [&str; 13] =
    ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];

/// A whole number in words, from one to twelve.
pub(in crate::scenario) fn number_word(lower: &str) -> Option<u32> {
    WORDS.iter().position(|known| *known == lower).filter(|n| *n > 0).and_then(|n| u32::try_from(n).ok())
}

fn duration(lower: &str) -> Option<Reading<String>> {
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

/// A decimal comma, or thousands apart.
fn marked(text: &str) -> Option<Reading<String>> {
    let digit = |c: char| c.is_ascii_digit();
    let start = text.len() - text.trim_start_matches(['-', '+', '\u{2212}']).len();
    let end =
        text[start..].find(|c: char| !digit(c) && !matches!(c, ',' | ' ' | '\'' | '’')).unwrap_or(text.len() - start);
    let (number, unit) = (text[start..start + end].trim_end(), text[start + end..].trim());
    // Another number behind it would be something else.
    if number.is_empty() || unit.is_empty() || unit.contains(digit) || unit.starts_with(['.', '/', '(', '-', ':']) {
        return None;
    }
    let sign = &text[..start];
    if let Some((whole, part)) = number.split_once(',') {
        let plain = !whole.is_empty() && !part.is_empty() && [whole, part].iter().all(|text| text.chars().all(digit));
        if !plain {
            return None;
        }
        if let Some([thousands, decimals]) = two_readings(number) {
            let help = format!("write \"{sign}{thousands} {unit}\" or \"{sign}{decimals} {unit}\"");
            return Some(Reading::ask("can be read in two ways", help));
        }
        return taken(format!("{sign}{whole}.{part} {unit}"), "");
    }
    let groups: Vec<&str> = number.split([' ', '\'', '’']).collect();
    let (first, others) = groups.split_first()?;
    let thousands = (1..=3).contains(&first.len()) && !others.is_empty() && others.iter().all(|group| group.len() == 3);
    if thousands { taken(format!("{sign}{} {unit}", groups.concat()), "") } else { None }
}

/// "60-100 W", "3 to 4 days", "11-60 V".
fn range(lower: &str, name: &str, key: &str) -> Option<Reading<String>> {
    let spaced = lower.replace(['–', '—'], "-").replace(" to ", "-").replace('~', "-");
    let (low, high) = spaced.split_once('-')?;
    let [(high, unit)] = &pairs(high)?[..] else { return None };
    let [(low, low_unit)] = &pairs(low)?[..] else { return None };
    if !low_unit.is_empty() && low_unit != unit || low >= high || unit.is_empty() {
        return None;
    }
    let unit = match (name, cased(unit), unit.as_str()) {
        (_, Some(unit), _) => unit.to_string(),
        ("voltage", None, _) => "V".to_string(),
        (_, None, "a") => "A".to_string(),
        (_, None, unit) => unit.to_string(),
    };
    let (shown_low, shown_high) = (digits(*low), digits(*high));
    let help = match name {
        "voltage" if key.contains("solar_input") => {
            format!("write two keys: volts_min = \"{shown_low} {unit}\" and volts_max = \"{shown_high} {unit}\"")
        }
        "duration" => format!(
            "write the longer one, \"{shown_high} {unit}\", or both: {{ median = \"{shown_low} {unit}\", p95 = \"{shown_high} \
             {unit}\" }}"
        ),
        _ => format!(
            "write the middle and how far off it may be, \"{} {unit} ± {} {unit}\", or the cautious end",
            digits((low + high) / 2.0),
            digits((high - low) / 2.0)
        ),
    };
    Some(Reading::ask("is a range", help))
}

/// "about 60 W", "60 W max".
fn hedged(text: &str) -> Option<Reading<String>> {
    let lower = text.to_lowercase();
    let about = ["~", "≈", "about ", "approx. ", "approx ", "approximately ", "ca. ", "ca ", "circa ", "around "];
    let most = ["max. ", "max ", "maximum ", "up to ", "nominal ", "nominally ", "rated "];
    let behind = [
        " max.",
        " max",
        " maximum",
        " approx.",
        " approx",
        " nominal",
        " rated",
        " typical",
        " total",
        " each",
        " continuous",
        " cont.",
        ".",
    ];
    let start = about.iter().chain(&most).find(|word| lower.starts_with(**word));
    let rest = &text[start.map_or(0, |word| word.len())..];
    let end = behind.iter().find(|word| rest.to_lowercase().ends_with(**word));
    let rest = rest[..rest.len() - end.map_or(0, |word| word.len())].trim();
    if (start.is_none() && end.is_none()) || !rest.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let unsure = start.is_some_and(|word| about.contains(word));
    let why = if unsure {
        format!(" exactly; how far off it may be is written \"{rest} ± 20 %\" where ± is allowed")
    } else {
        String::new()
    };
    taken(rest.to_string(), &why)
}
