//! How old a battery is and how full, told beside what it holds: "1.2 kWh, 5 years old, 60% full".

use super::numbers::number_word;

/// What words tell of a battery's state.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(in crate::scenario) struct Condition {
    /// Its age in years.
    pub years: Option<f64>,
    /// That it is new.
    pub new: bool,
    /// That it is used or old, without saying how old.
    pub used: bool,
    /// The year it is of.
    pub of_year: Option<u32>,
    /// What is left of the label, 0 to 1.
    pub health: Option<f64>,
    /// How full it is, 0 to 1.
    pub charged: Option<f64>,
    /// A share that may be either \[%\].
    pub unclear: Option<f64>,
}

impl Condition {
    /// Whether anything is told.
    pub fn any(&self) -> bool {
        *self != Condition::default()
    }
}

const FULL: [&str; 5] = ["full", "charged", "charge", "soc", "loaded"];
const HEALTH: [&str; 4] = ["health", "soh", "healthy", "left"];
const YEARS: [&str; 6] = ["years", "year", "yrs", "yr", "years-old", "year-old"];
const USED: [&str; 8] = ["used", "old", "second-hand", "secondhand", "refurbished", "aged", "worn", "pre-owned"];
/// Words before an age or a share that say nothing more.
const BEFORE: [&str; 14] =
    ["about", "roughly", "almost", "nearly", "around", "over", "at", "to", "is", "from", "since", "in", "bought", "only"];

/// What is told of a battery's state, and the other words.
pub(in crate::scenario) fn condition(text: &str) -> (String, Condition) {
    let whole: Vec<&str> = text.split_whitespace().collect();
    let plain = |word: &str| word.trim_matches([',', ';', '(', ')', '.', '~']).to_lowercase();
    let words: Vec<String> = whole.iter().map(|word| plain(word)).collect();
    let at = |k: usize| words.get(k).map_or("", String::as_str);
    let (mut told, mut rest): (Condition, Vec<&str>) = (Condition::default(), Vec::new());
    let mut k = 0;
    while k < words.len() {
        let of = if let Some((years, of)) = years(&words[k..]) {
            told.years = Some(years);
            of + usize::from(["old", "of"].contains(&at(k + of)))
        } else if let Some((share, of)) = share(&words[k..]) {
            // "charged to 60 %", "health 80 %".
            let mut before = |known: &[&str]| {
                let many = rest.len();
                rest.retain(|word| !known.contains(&plain(word).as_str()));
                rest.len() < many
            };
            let (charged, left, next) = (before(&FULL), before(&HEALTH), at(k + of));
            if HEALTH.contains(&next) || left && !FULL.contains(&next) {
                told.health = Some(share);
            } else if FULL.contains(&next) || charged {
                told.charged = Some(share);
            } else {
                told.unclear = Some(100.0 * share);
            }
            of + usize::from(FULL.contains(&next) || HEALTH.contains(&next))
        } else {
            let charge = match (at(k), at(k + 1)) {
                ("half", next) if FULL.contains(&next) => Some((0.5, 2)),
                ("fully", next) if FULL.contains(&next) => Some((1.0, 2)),
                ("empty", _) => Some((0.0, 1)),
                ("full" | "charged", next) if !["to", "at"].contains(&next) => {
                    let more = words.get(k + 1..).is_some_and(|words| share(words).is_some());
                    (!more && (k == 0 || at(k - 1) != "not")).then_some((1.0, 1))
                }
                _ => None,
            };
            let of_year = || at(k).parse().ok().filter(|year| (1980..2100).contains(year));
            match (at(k), at(k + 1)) {
                _ if charge.is_some() => {
                    told.charged = charge.map(|(share, _)| share);
                    charge.map_or(0, |(_, of)| of)
                }
                ("brand", "new") | ("new", _) => {
                    told.new = true;
                    1 + usize::from(at(k) == "brand")
                }
                ("second", "hand") => {
                    told.used = true;
                    2
                }
                (word, _) if USED.contains(&word) => {
                    told.used = true;
                    1
                }
                _ if k > 0 && ["from", "since", "in", "bought"].contains(&at(k - 1)) && of_year().is_some() => {
                    told.of_year = of_year();
                    1
                }
                _ => 0,
            }
        };
        if of == 0 {
            rest.push(whole[k]);
            k += 1;
        } else {
            while rest.last().is_some_and(|word| BEFORE.contains(&plain(word).as_str())) {
                rest.pop();
            }
            k += of;
        }
    }
    let rest = rest.join(" ");
    (rest.trim_matches([',', ';', ' ']).to_string(), told)
}

/// "5 years", "five years", "5-year-old", "6 months": how many years, and how many words say it.
fn years(words: &[String]) -> Option<(f64, usize)> {
    let first = words.first()?;
    let number = |text: &str| match text {
        "a" | "an" => Some(1.0),
        _ => number_word(text).map(f64::from).or_else(|| text.parse().ok()),
    };
    let unit = |text: &str| match text {
        _ if YEARS.contains(&text) => Some(1.0),
        "months" | "month" => Some(1.0 / 12.0),
        _ => None,
    };
    let fits = |years: &f64| (0.0..=100.0).contains(years);
    let spelt = || Some((number(first)? * unit(words.get(1)?)?, 2));
    // "5-year-old", "5yrs".
    let joined = || {
        let end = first.find(|c: char| !c.is_ascii_digit() && c != '.')?;
        Some((number(&first[..end])? * unit(first[end..].trim_start_matches('-'))?, 1))
    };
    spelt().or_else(joined).filter(|(years, _)| fits(years))
}

/// "60%", "60 %", "3/4": a share, and how many words say it.
fn share(words: &[String]) -> Option<(f64, usize)> {
    let first = words.first()?;
    let (share, of) = match (first.strip_suffix('%'), first.split_once('/')) {
        (Some(number), _) => (number.parse::<f64>().ok()? / 100.0, 1),
        (None, Some((a, b))) if words.get(1).is_some_and(|next| FULL.contains(&next.as_str())) => {
            (a.parse::<f64>().ok()? / b.parse::<f64>().ok()?, 1)
        }
        _ if words.get(1).is_some_and(|next| ["%", "percent"].contains(&next.as_str())) => {
            (first.parse::<f64>().ok()? / 100.0, 2)
        }
        _ => return None,
    };
    (0.0..=1.0).contains(&share).then_some((share, of))
}
