//! Time zones by name: what was meant by a name that is none, and other readings of a position.
//!
//! `zones.tsv` holds the principal places of the zones of the IANA data base with the countries that use them, other names
//! of zones, and names of countries; its head says where they come from.

use std::sync::LazyLock;

use super::{countries, near};
use crate::sky::globe::distance_km;

/// A zone's row.
struct Zone {
    name: &'static str,
    place: (f64, f64),
    countries: Vec<&'static str>,
}

/// The table.
struct Table {
    zones: Vec<Zone>,
    /// Other names and their zones; codes of countries and their names.
    names: Vec<(&'static str, &'static str)>,
}

static TABLE: LazyLock<Table> = LazyLock::new(|| {
    let mut table = Table { zones: Vec::new(), names: Vec::new() };
    for row in include_str!("zones.tsv").lines().filter(|row| !row.starts_with('#')) {
        let fields: Vec<&'static str> = row.split('\t').collect();
        match fields[..] {
            [name, latitude, longitude, countries] => {
                let degrees = |text: &str| text.parse().unwrap_or(f64::NAN);
                let countries = countries.split(',').collect();
                table.zones.push(Zone { name, place: (degrees(latitude), degrees(longitude)), countries });
            }
            [name, meaning] => table.names.push((name, meaning)),
            _ => {}
        }
    }
    table
});

/// What abbreviations of clocks usually mean (common practice, no source). Some have several meanings: the one most people
/// live by comes first.
const ABBREVIATIONS: [(&str, &[&str]); 33] = [
    ("acst", &["Australia/Darwin", "Australia/Adelaide"]),
    ("acdt", &["Australia/Adelaide"]),
    ("aedt", &["Australia/Sydney"]),
    ("aest", &["Australia/Brisbane", "Australia/Sydney"]),
    ("akdt", &["America/Anchorage"]),
    ("akst", &["America/Anchorage"]),
    ("art", &["America/Argentina/Buenos_Aires"]),
    ("ast", &["America/Halifax", "America/Puerto_Rico"]),
    ("awst", &["Australia/Perth"]),
    ("brt", &["America/Sao_Paulo"]),
    ("bst", &["Europe/London"]),
    ("cat", &["Africa/Maputo", "Africa/Harare"]),
    ("cdt", &["America/Chicago"]),
    ("cest", &["Europe/Berlin", "Europe/Paris"]),
    ("cst", &["America/Chicago", "Asia/Shanghai"]),
    ("eat", &["Africa/Nairobi"]),
    ("edt", &["America/New_York"]),
    ("eest", &["Europe/Athens", "Europe/Kyiv"]),
    ("hkt", &["Asia/Hong_Kong"]),
    ("ist", &["Asia/Kolkata", "Asia/Jerusalem", "Europe/Dublin"]),
    ("jst", &["Asia/Tokyo"]),
    ("kst", &["Asia/Seoul"]),
    ("mdt", &["America/Denver"]),
    ("msk", &["Europe/Moscow"]),
    ("ndt", &["America/St_Johns"]),
    ("nzdt", &["Pacific/Auckland"]),
    ("nzst", &["Pacific/Auckland"]),
    ("pdt", &["America/Los_Angeles"]),
    ("pkt", &["Asia/Karachi"]),
    ("pst", &["America/Los_Angeles", "Asia/Manila"]),
    ("sast", &["Africa/Johannesburg"]),
    ("wat", &["Africa/Lagos"]),
    ("wib", &["Asia/Jakarta"]),
];

/// Most zones that are named for one country.
const MOST_NAMED: usize = 3;

/// `"A"`, `"A" or "B"`, `"A", "B" or "C"`.
fn either(names: &[&str]) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("\"{name}\"")).collect();
    match quoted.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, others)) => format!("{} or {last}", others.join(", ")),
        None => String::new(),
    }
}

/// Hours and minutes of "GMT+1", "UTC-05:30" and the like: what stands before the sign, the sign, and the offset without it.
pub(crate) fn offset_behind_a_name(text: &str) -> Option<(&str, char, String)> {
    let at = text.find(['+', '-', '\u{2212}'])?;
    let (name, signed) = text.split_at(at);
    let known = ["gmt", "utc", "ut", "etc/gmt", "etc/utc"].contains(&name.trim().to_lowercase().as_str());
    let sign = if signed.starts_with('+') { '+' } else { '-' };
    let digits = signed.trim_start_matches(['+', '-', '\u{2212}']);
    let (hours, minutes) = match digits.split_once(':') {
        Some(parts) => parts,
        None if digits.len() == 4 => digits.split_at_checked(2)?,
        None => (digits, "00"),
    };
    let number = |part: &str| part.trim().parse::<u32>().ok();
    let (hours, minutes) = (number(hours)?, number(minutes)?);
    (known && hours <= 14 && minutes < 60).then(|| (name.trim(), sign, format!("{hours:02}:{minutes:02}")))
}

/// Code of the country that the table calls so (small letters); what it says in brackets may be left out where it is the only
/// one of the name.
pub(super) fn country_code(name: &str) -> Option<&'static str> {
    let rows = || TABLE.names.iter().filter(|(code, _)| code.len() == 2);
    let alike = || rows().filter(|(_, told)| told.split(" (").next().is_some_and(|bare| bare.to_lowercase() == name));
    let one = rows()
        .find(|(_, told)| told.to_lowercase() == name)
        .or_else(|| alike().next().filter(|_| alike().count() == 1));
    one.map(|(code, _)| *code)
}

/// Zones of a country by its code, the one with the most people first.
#[must_use]
pub fn of_country(code: &str) -> Vec<&'static str> {
    let mut zones: Vec<(u64, &str)> = (TABLE.zones.iter().filter(|zone| zone.countries[0] == code))
        .map(|zone| (near::people_in(zone.name), zone.name))
        .collect();
    zones.sort_by_key(|(people, _)| std::cmp::Reverse(*people));
    zones.into_iter().map(|(_, name)| name).collect()
}

/// The zone that a name stands for: another name of a zone leads to it.
pub(super) fn real(name: &str) -> &str {
    TABLE.names.iter().find(|(other, _)| *other == name).map_or(name, |(_, meaning)| meaning)
}

/// Countries that use a zone by its real name, its own first.
pub(super) fn countries_of(real: &str) -> Option<&'static [&'static str]> {
    TABLE.zones.iter().find(|row| row.name == real).map(|row| row.countries.as_slice())
}

/// Principal place of a zone by its real name, latitude and longitude \[°].
pub(super) fn principal_place(real: &str) -> Option<(f64, f64)> {
    TABLE.zones.iter().find(|row| row.name == real).map(|row| row.place)
}

/// Zones whose principal places lie within [`NEAR_KM`].
pub(super) fn principal_near(here: (f64, f64)) -> impl Iterator<Item = &'static str> {
    TABLE.zones.iter().filter(move |zone| distance_km(here, zone.place) <= NEAR_KM).map(|zone| zone.name)
}

/// Zones that a country's name or the abbreviation of a clock may mean, as the end of "did you mean …?".
pub(crate) fn meant(text: &str) -> Option<String> {
    let lower = text.trim().to_lowercase();
    if let Some((_, zones)) = ABBREVIATIONS.iter().find(|(short, _)| *short == lower) {
        return Some(either(zones));
    }
    let zones = of_country(countries::by_name(text)?.code);
    match zones.len() {
        0 => None,
        n if n <= MOST_NAMED => Some(either(&zones)),
        n => {
            let first: Vec<String> = zones[..MOST_NAMED].iter().map(|name| format!("\"{name}\"")).collect();
            Some(format!("one of its {n} zones, such as {}", first.join(", ")))
        }
    }
}

/// What is said of a text that is looked for as a place and is a clock, or is written in letters that the table has few of;
/// nothing where it is neither. Goes on behind the text.
pub(super) fn no_place(text: &str) -> Option<String> {
    let plain = text.trim();
    if let Some((_, sign, offset)) = offset_behind_a_name(plain) {
        let told = if sign == '+' { "ahead of" } else { "behind" };
        return Some(format!("is a clock, {offset} {told} UTC, and no place: name a town, whose clock is known"));
    }
    let lower = plain.to_lowercase();
    let short = ABBREVIATIONS.iter().find(|(short, _)| *short == lower).map(|(_, zones)| zones[0]);
    let also = ["utc", "gmt", "cet", "eet", "wet", "est", "mst"].contains(&lower.as_str());
    let zone = TABLE.zones.iter().find(|zone| zone.name.to_lowercase() == lower).map(|zone| zone.name).or(short);
    if zone.is_some() || also {
        let like = zone
            .and_then(|zone| zone.rsplit('/').next())
            .map_or(String::new(), |town| format!(", like \"{}\"", town.replace('_', " ")));
        return Some(format!("is a time zone and no place: name a town{like}, whose clock is known"));
    }
    let other =
        |c: char| c.is_alphabetic() && !('\0'..='\u{24f}').contains(&c) && !('\u{1e00}'..='\u{1eff}').contains(&c);
    plain.chars().any(other).then(|| {
        "is not a town that is known in these letters: write it in Latin letters, or give latitude and longitude".into()
    })
}

/// Another reading of a place's figures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Latitude and longitude \[°\].
    pub place: (f64, f64),
    /// Whether latitude and longitude are exchanged.
    pub exchanged: bool,
}

/// Other readings of latitude and longitude, the simplest slip first: signs, then an exchange.
pub(super) fn readings((latitude, longitude): (f64, f64)) -> impl Iterator<Item = Reading> {
    let readings = [
        ((-latitude, longitude), false),
        ((latitude, -longitude), false),
        ((-latitude, -longitude), false),
        ((longitude, latitude), true),
        ((longitude, -latitude), true),
        ((-longitude, latitude), true),
        ((-longitude, -latitude), true),
    ];
    let readings = readings.into_iter().map(|(place, exchanged)| Reading { place, exchanged });
    readings.filter(|reading| reading.place.0.abs() <= 90.0)
}

/// Nearer than this to a principal place of its zone's countries no place is doubted \[km\].
pub(super) const NEAR_KM: f64 = 300.0;
