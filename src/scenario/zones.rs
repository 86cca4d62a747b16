//! Time zones by name: what was meant by a name that is none, and whether a place lies in its zone's own region.
//!
//! `zones.tsv` holds the principal places of the zones of the IANA data base with the countries that use them, other names
//! of zones, and names of countries; its head says where they come from.

use std::sync::LazyLock;

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

/// Common names of countries that the table calls otherwise, with their codes.
const COUNTRIES: [(&str, &str); 12] = [
    ("america", "US"),
    ("bolivia", "BO"),
    ("burma", "MM"),
    ("czech republic", "CZ"),
    ("great britain", "GB"),
    ("holland", "NL"),
    ("ivory coast", "CI"),
    ("south korea", "KR"),
    ("uk", "GB"),
    ("united kingdom", "GB"),
    ("usa", "US"),
    ("united states of america", "US"),
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
pub(super) fn offset_behind_a_name(text: &str) -> Option<(&str, char, String)> {
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

/// Zones that a country's name or the abbreviation of a clock may mean, as the end of "did you mean …?".
pub(super) fn meant(text: &str) -> Option<String> {
    let lower = text.trim().to_lowercase();
    if let Some((_, zones)) = ABBREVIATIONS.iter().find(|(short, _)| *short == lower) {
        return Some(either(zones));
    }
    let bare = |name: &str| name.split(" (").next().unwrap_or(name).to_lowercase();
    let common = COUNTRIES.iter().find(|(name, _)| *name == lower).map(|(_, code)| *code);
    let of_table =
        || TABLE.names.iter().find(|(code, name)| code.len() == 2 && bare(name) == lower).map(|(code, _)| *code);
    let code = common.or_else(of_table)?;
    let zones: Vec<&str> = TABLE.zones.iter().filter(|zone| zone.countries[0] == code).map(|zone| zone.name).collect();
    match zones.len() {
        0 => None,
        n if n <= MOST_NAMED => Some(either(&zones)),
        n => {
            let first: Vec<String> = zones[..MOST_NAMED].iter().map(|name| format!("\"{name}\"")).collect();
            Some(format!("one of its {n} zones, such as {}", first.join(", ")))
        }
    }
}

/// Where a place lies outside its zone's region, and another reading of its figures does not.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Elsewhere {
    /// From the nearest principal place of the zone's countries \[km\].
    pub away_km: f64,
    /// What may be meant, the simplest slip first.
    pub meant: Vec<Reading>,
}

/// Another reading of a place's figures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reading {
    /// Latitude and longitude \[°\].
    pub place: (f64, f64),
    /// Whether latitude and longitude are exchanged.
    pub exchanged: bool,
}

/// Nearer than this to a principal place of its zone's countries no place is doubted \[km\].
const NEAR_KM: f64 = 300.0;
/// A reading of the figures is believed instead where it lies this many times nearer …
const TIMES_NEARER: f64 = 4.0;
/// … or, of a place farther away than any is from the principal places of its countries, this many times \[km\].
const TOO_FAR_KM: f64 = 3000.0;
const TIMES_NEARER_FROM_FAR: f64 = 1.8;
/// Readings up to so many times as far away as the best one are named beside it.
const AS_GOOD: f64 = 2.0;

/// Doubts a place that lies in another country than its zone, where a wrong sign or an exchange explains it.
///
/// Zones have one principal place each, so that right places may lie thousands of kilometres away: distance alone says
/// nothing. What does is that a change of sign brings the place next door.
pub(super) fn elsewhere(zone: &str, (latitude, longitude): (f64, f64)) -> Option<Elsewhere> {
    let table = &*TABLE;
    let real = table.names.iter().find(|(name, _)| *name == zone).map_or(zone, |(_, meaning)| meaning);
    let countries = &table.zones.iter().find(|row| row.name == real)?.countries;
    let own = |row: &Zone| countries.contains(&row.countries[0]);
    let nearest = |place: (f64, f64), of: &dyn Fn(&Zone) -> bool| {
        table.zones.iter().filter(|row| of(row)).map(|row| distance_km(place, row.place)).fold(f64::INFINITY, f64::min)
    };
    let away_km = nearest((latitude, longitude), &own);
    if away_km < NEAR_KM || away_km <= nearest((latitude, longitude), &|row| !own(row)) {
        return None;
    }
    let readings = [
        ((-latitude, longitude), false),
        ((latitude, -longitude), false),
        ((-latitude, -longitude), false),
        ((longitude, latitude), true),
        ((longitude, -latitude), true),
        ((-longitude, latitude), true),
        ((-longitude, -latitude), true),
    ];
    let possible: Vec<(f64, Reading)> = readings
        .into_iter()
        .filter(|(place, _)| place.0.abs() <= 90.0)
        .map(|(place, exchanged)| (nearest(place, &own), Reading { place, exchanged }))
        .collect();
    let times = if away_km > TOO_FAR_KM { TIMES_NEARER_FROM_FAR } else { TIMES_NEARER };
    let best_km = possible.iter().map(|(km, _)| *km).fold(f64::INFINITY, f64::min);
    if best_km * times >= away_km {
        return None;
    }
    // Of two that lie much alike either may be meant.
    let alike = |km: f64| km * times < away_km && km <= (AS_GOOD * best_km).max(NEAR_KM);
    let meant = possible.into_iter().filter(|(km, _)| alike(*km)).map(|(_, reading)| reading).collect();
    Some(Elsewhere { away_km, meant })
}
