//! Energies and powers of labels: products of volts, two powers on one label, units that are none of watts.

use super::Reading;
use super::numbers::{decimal_points, digits, pairs};
use super::quantities::taken;

/// Two figures of a product, in either order: those of the first and of the second kind of unit, made base units.
fn product(pairs: &[(f64, String)], first: &[(&str, f64)], second: &[(&str, f64)]) -> Option<(f64, f64)> {
    let [a, b] = pairs else { return None };
    let of = |(number, unit): &(f64, String), kind: &[(&str, f64)]| {
        kind.iter().find(|(name, _)| name == unit).map(|(_, factor)| number * factor)
    };
    of(a, first).zip(of(b, second)).or_else(|| of(b, first).zip(of(a, second)))
}

fn one(pairs: &[(f64, String)]) -> Option<(f64, String)> {
    if let [(number, unit)] = pairs { Some((*number, unit.clone())) } else { None }
}

const VOLTS: &[(&str, f64)] = &[("v", 1.0), ("vdc", 1.0), ("volt", 1.0), ("volts", 1.0)];
const AMP_HOURS: &[(&str, f64)] = &[("ah", 1.0), ("mah", 0.001)];
const AMPS: &[(&str, f64)] = &[("a", 1.0), ("ma", 0.001), ("amp", 1.0), ("amps", 1.0)];

pub(super) fn energy(lower: &str, last: &str) -> Option<Reading<String>> {
    let spelt = lower.replace("amp hours", "ah").replace("amp-hours", "ah").replace("amphours", "ah");
    let spelt = spelt.replace("watt-hours", "wh").replace("watt hours", "wh").replace("watthours", "wh");
    let spelt = spelt.replace("kilowh", "kwh").replace("kilo", "k");
    // "12.8 V 100 Ah (1280 Wh)".
    let spelt = spelt.replace(['(', ')'], " ").trim().to_string();
    if let Some(day) =
        ["a day", "per day", "/day", "/ day", "/d", "daily"].iter().find_map(|end| spelt.strip_suffix(end))
        && last.ends_with("a_day")
    {
        let (number, unit) = one(&pairs(day)?)?;
        return taken(format!("{} {}", digits(number), cased(&unit)?), "");
    }
    let pairs = pairs(&spelt)?;
    if let Some((volts, amp_hours)) = product(&pairs, VOLTS, AMP_HOURS) {
        let why = format!(": {} V times {} Ah", digits(volts), digits(amp_hours));
        return taken(format!("{} Wh", digits(volts * amp_hours)), &why);
    }
    // "296 Wh / 80000 mAh", "12.8 V 100 Ah 1280 Wh": the label has the product.
    let of = |kinds: &[(&str, f64)], unit: &str| kinds.iter().any(|(name, _)| *name == unit);
    let (whole, others): (Vec<_>, Vec<_>) =
        pairs.iter().partition(|(_, unit)| cased(unit).is_some_and(|u| u.ends_with("Wh")));
    // "1000 Wh (1 kWh)": the same twice.
    if let [(a, unit), (b, other)] = whole[..]
        && others.is_empty()
    {
        let [a_wh, b_wh] = [(a, unit), (b, other)].map(|(n, unit)| n * if unit == "kwh" { 1000.0 } else { 1.0 });
        return match (a_wh / b_wh - 1.0).abs() < 0.05 {
            true => taken(format!("{} {}", digits(*a), cased(unit)?), ""),
            false => {
                let help = format!("write \"{} Wh\" or \"{} Wh\"", digits(a_wh), digits(b_wh));
                Some(Reading::ask("holds two energies", help))
            }
        };
    }
    if let [(number, unit)] = whole[..]
        && !others.is_empty()
        && others.iter().all(|(_, unit)| of(VOLTS, unit) || of(AMP_HOURS, unit))
    {
        let others: Vec<(f64, String)> = others.into_iter().cloned().collect();
        let told_wh = number * if unit == "kwh" { 1000.0 } else { 1.0 };
        if let Some((volts, amp_hours)) =
            product(&others, VOLTS, AMP_HOURS).filter(|(v, ah)| (v * ah / told_wh - 1.0).abs() > 0.05)
        {
            let help = format!("write \"{} Wh\" or \"{} Wh\"", digits(told_wh), digits(volts * amp_hours));
            return Some(Reading::ask("holds two energies", help));
        }
        return taken(format!("{} {}", digits(*number), cased(unit)?), "");
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
    let is_volts = |unit: &str| VOLTS.iter().any(|(name, _)| *name == unit);
    match &pairs[..] {
        [(volts, unit)] if is_volts(unit) => {
            let v = digits(*volts);
            return Some(Reading::ask(
                "is volts alone",
                format!(
                    "write the amp-hours of the label too, \"{v} V x 100 Ah\" with your own figure, or watt-hours, \"1000 Wh\""
                ),
            ));
        }
        [(volts, unit), (ah, none)] if is_volts(unit) && none.is_empty() => {
            let (v, ah) = (digits(*volts), digits(*ah));
            let help = format!("write \"{v} V x {ah} Ah\" if amp-hours are meant");
            return Some(Reading::ask("has a figure without a unit", help));
        }
        _ => {}
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

/// A unit of power or energy as it is written.
pub(super) fn cased(lower: &str) -> Option<&'static str> {
    ["Wh", "kWh", "W", "kW"].into_iter().find(|unit| unit.eq_ignore_ascii_case(lower))
}

/// Words that mark the second of two powers as one for a moment.
const SURGE: [&str; 10] =
    ["surge", "peak", "starting", "start", "max", "burst", "momentary", "running", "continuous", "cont"];

pub(super) fn power(lower: &str, key: &str, last: &str) -> Option<Reading<String>> {
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
    let mut bare = decimal_points(lower).ok()?.replace(['/', '(', ')', ',', ';', ':'], " ");
    SURGE.iter().for_each(|word| bare = bare.replace(&format!("{word}."), " ").replace(word, " "));
    let pairs = pairs(&bare.split_whitespace().collect::<Vec<_>>().join(" "))?;
    let [(a, unit_a), (b, unit_b)] = &pairs[..] else { return None };
    let unit_a = if unit_a.is_empty() { unit_b } else { unit_a };
    // "2000 W surge 4000"; "2000 W (4)" may say how many there are.
    let surges = SURGE.iter().any(|word| lower.contains(word));
    let unit_b = if unit_b.is_empty() && surges { unit_a } else { unit_b };
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
