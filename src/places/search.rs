//! Places by name.

use super::fold::unmarked;
use super::slips::{holding_town, near, without_figures};
use super::table::Table;
use super::zones::no_place;
use super::{Place, countries};
use crate::sky::globe::distance_km;

/// A name is taken for its largest place where that has so many times the people of all others of the name together.
pub const TIMES_LARGER: u32 = 20;
/// People of a place of which they are not known, where places are weighed.
const PEOPLE_UNKNOWN: u32 = 1000;
/// Names told where there is none.
pub(super) const MOST_NEAR: usize = 5;
/// Longer texts are no names of places, nor those of more parts and words.
const LONGEST: usize = 200;
const MOST_PARTS: usize = 6;
pub(super) const MOST_WORDS: usize = 12;

/// What a name stands for.
#[derive(Debug, Clone, PartialEq)]
pub enum Found {
    /// One place.
    One {
        /// It.
        place: Place,
        /// Others of the name, much smaller all together ([`TIMES_LARGER`]), the largest first.
        passed_over: Vec<Place>,
    },
    /// Several, the largest first.
    Many(Vec<Place>),
    /// A country or a region, and no town that is likelier meant.
    Wider {
        /// What it is: "a country", "a region of Italy".
        is: String,
        /// Its largest town.
        town: Place,
    },
    /// None; places whose names are near, the nearest first. Empty where none is.
    None(Vec<Place>),
    /// None, and no slip of the pen: a clock, or letters that the table has few of.
    NoPlace {
        /// What is said of it; goes on behind the text.
        why: String,
        /// Places whose names are near all the same.
        near: Vec<Place>,
    },
}

/// A place that has a name beside its own is thought of only where no place is called so, or where this many of it would have
/// the people of the largest that is.
const TIMES_SMALLER: u32 = 20;

/// Places of a name: "Bergen", "Malmo", "Springfield, Illinois", "Paris, TX", "Barre, Vermont, USA".
///
/// Behind a comma stand the region, the country or both: names or codes (two or three letters of ISO 3166-1 for countries;
/// for regions where the code is of letters). Capitals, marks on letters, hyphens and apostrophes don't count; other names
/// ("Köln" for Cologne) are known for places of 3,000 people and more, without the feature `all-names` of 100,000 and more.
///
/// ```
/// use tideover::places::{Found, find};
/// assert!(matches!(find("malmo"), Found::One { place, .. } if place.name == "Malmö"));
/// assert!(matches!(find("Springfield"), Found::Many(places) if places.len() > 5));
/// ```
#[must_use]
pub fn find(text: &str) -> Found {
    let table = Table::get();
    if text.chars().count() > LONGEST {
        return Found::None(Vec::new());
    }
    let parts = split(table, text, &[',', ';']);
    let found = told_apart(table, (text, &parts), town(table, text, &parts));
    match wider(table, text, &found).or_else(|| of_its_country(table, text, &found)).unwrap_or(found) {
        Found::None(near) => match no_place(text) {
            Some(why) => Found::NoPlace { why, near },
            None => Found::None(near),
        },
        found => found,
    }
}

/// Nearer to each other than this, places of one title are one \[km\] (our choice).
const ONE_PLACE_KM: f64 = 50.0;

/// Of several places, those that are called so and not smaller ones that have the name beside their own; each once.
fn told_apart(table: &Table, (text, parts): (&str, &[String]), found: Found) -> Found {
    let Found::Many(mut places) = found else { return found };
    let own = |place: &Place| parts.first().is_some_and(|name| table.letters.fold(place.name) == *name);
    // Written with its marks a name is meant as it stands, unless another is a large town.
    let written = text.split([',', ';']).next().unwrap_or_default().trim().to_lowercase();
    let to_the_letter = |place: &Place| !written.is_ascii() && place.name.to_lowercase() == written;
    let exact = places.iter().any(to_the_letter);
    let largest = places.iter().filter(|place| own(place)).map(people_of).max().unwrap_or(0);
    let (mut left, mut passed_over): (Vec<Place>, Vec<Place>) = (Vec::new(), Vec::new());
    for place in places.drain(..) {
        let twin = |other: &Place| {
            let apart =
                distance_km((other.latitude_deg, other.longitude_deg), (place.latitude_deg, place.longitude_deg));
            other.full_title() == place.full_title() && apart < ONE_PLACE_KM
        };
        let folded = exact && !to_the_letter(&place) && people_of(&place) < LARGE_TOWN;
        let beside = folded || !own(&place) && people_of(&place) < largest;
        if beside || left.iter().any(twin) { passed_over.push(place) } else { left.push(place) }
    }
    match left[..] {
        [place] => Found::One { place, passed_over },
        _ => Found::Many(left),
    }
}

/// A town that is called like its country ("Luxembourg"), where it is the largest of the name.
fn of_its_country(table: &Table, text: &str, found: &Found) -> Option<Found> {
    let Found::Many(places) = found else { return None };
    let (first, others) = places.split_first()?;
    let named = table.letters.fold(text).chars().count() > 3 && countries::by_name(text) == Some(first.country);
    named.then(|| Found::One { place: *first, passed_over: others.to_vec() })
}

/// What some large towns are called for short (common practice, no source), and their names here.
const SHORT: [(&str, &str); 10] = [
    ("bsas", "buenos aires"),
    ("cdmx", "mexico city"),
    ("dc", "washington"),
    ("kl", "kuala lumpur"),
    ("la", "los angeles"),
    ("nyc", "new york city"),
    ("philly", "philadelphia"),
    ("rio", "rio de janeiro"),
    ("sf", "san francisco"),
    ("vegas", "las vegas"),
];

/// Larger than this a town is meant, whichever country is called like it [people].
pub(super) const LARGE_TOWN: u32 = 100_000;

/// A country or a region by its name, where no town of the name lies in it or is large.
fn wider(table: &Table, text: &str, found: &Found) -> Option<Found> {
    let name = table.letters.fold(text);
    // Two or three letters are codes, and short for many a town.
    if name.chars().count() < 4 && !["usa", "uk", "uae"].contains(&name.as_str()) {
        return None;
    }
    let likeliest = match found {
        Found::One { place, .. } => Some(*place),
        Found::Many(places) => places.first().copied(),
        _ => None,
    };
    let largest = |lies: &dyn Fn(usize) -> bool| {
        (0..table.len())
            .filter(|place| lies(*place))
            .max_by_key(|place| (people(table, *place), std::cmp::Reverse(*place)))
    };
    if let Some(country) = countries::by_name(text) {
        let towns = likeliest.is_some_and(|place| place.country == country || LARGE_TOWN < place.people.unwrap_or(0));
        let town = largest(&|place| table.regions[table.region_of(place)].country == country).filter(|_| !towns)?;
        return Some(Found::Wider { is: "a country".into(), town: table.place(town) });
    }
    let (at, region) = table.regions.iter().enumerate().find(|(_, region)| table.letters.fold(region.name) == name)?;
    let town = table.place(largest(&|place| table.region_of(place) == at)?);
    let far_smaller = |place: Place| people_of(&place).saturating_mul(TIMES_LARGER) < people_of(&town);
    let towns = likeliest.is_some_and(|place| place.region == Some(region.name) || !far_smaller(place));
    (!towns).then(|| Found::Wider { is: format!("a region of {}", region.country.name), town })
}

/// Towns of a name.
///
/// * `parts` — its parts by commas.
fn town(table: &Table, text: &str, parts: &[String]) -> Found {
    // Brackets and strokes may belong to the name, as in "Halle (Saale)", or not, as in "Bergen (Norway)".
    let mut parts = parts.to_vec();
    let mut found = as_written(table, &parts);
    // A name for short stands for the largest town of the long one.
    if let Some((short, behind)) = parts.split_first()
        && let Some((_, long)) = SHORT.iter().find(|(name, _)| *name == short.replace(' ', ""))
    {
        let long = [&[long.to_string()], behind].concat();
        let called = largest_first(table, as_written(table, &long)).into_iter().next();
        let larger = |place: &Place| found.iter().all(|other| people(table, *other) < place.people.unwrap_or(0));
        if let Some(place) = called.filter(larger) {
            return Found::One { place, passed_over: largest_first(table, found) };
        }
    }
    if found.is_empty() {
        parts = split(table, text, &[',', ';', '(', ')', '/']);
        found = as_written(table, &parts);
    }
    if found.is_empty() {
        found = differently_split(table, &parts).unwrap_or_default();
    }
    // "75011 Paris", "Barre, VT 05641": nothing is known of postal codes, and few names hold a digit.
    let plain = without_figures(&parts);
    if found.is_empty() && plain != parts && !plain.is_empty() {
        found = as_written(table, &plain);
        if found.is_empty() {
            found = differently_split(table, &plain).unwrap_or_default();
        }
    }
    if !found.is_empty() {
        return chosen(table, found);
    }
    let Some((name, behind)) = parts.split_first() else { return Found::None(Vec::new()) };
    let town = holding_town(table, &parts);
    let told = |mut near: Vec<Place>| {
        if let Some(town) = town {
            near.retain(|place| *place != town);
            near.insert(0, town);
        }
        near.truncate(MOST_NEAR);
        Found::None(near)
    };
    let same = named(table, name);
    if !same.is_empty() {
        // Of the name, but not there.
        return told(largest_first(table, same));
    }
    let spelt = lying_in(table, &spelt_otherwise(table, name), behind);
    if !spelt.is_empty() {
        return chosen(table, spelt);
    }
    told(near(table, name, behind))
}

/// Whether a text that was looked for holds the place's own name, and not another that it goes by. Marks, capitals and how a
/// name is written without its marks don't count.
#[must_use]
pub fn is_called(place: &Place, text: &str) -> bool {
    let fold = |name: &str| Table::get().letters.fold(name);
    let (text, name) = (fold(text), fold(place.name));
    let holds = |text: &str, name: &str| format!(" {text} ").contains(&format!(" {name} "));
    holds(&text, &name) || holds(&unmarked(&text), &unmarked(&name))
}

/// The parts of a text as they are looked for.
fn split(table: &Table, text: &str, at: &[char]) -> Vec<String> {
    let parts = text.split(at).map(|part| table.letters.fold(part));
    parts.filter(|part| !part.is_empty()).take(MOST_PARTS).collect()
}

/// Places called like the first part that lie in all others.
fn as_written(table: &Table, parts: &[String]) -> Vec<usize> {
    let Some((name, behind)) = parts.split_first() else { return Vec::new() };
    let mut found = lying_in(table, &named(table, name), behind);
    without_by_names(table, name, &mut found);
    let mut in_full = found.iter().copied().filter(|place| is_full_title(table, *place, parts));
    match (in_full.next(), in_full.next()) {
        (Some(place), None) => vec![place],
        _ => found,
    }
}

/// Places with this key.
pub(super) fn named(table: &Table, name: &str) -> Vec<usize> {
    let mut found: Vec<usize> = table.keys().filter(|(key, _)| *key == name).map(|(_, place)| place).collect();
    found.dedup();
    found
}

/// Whether the parts are a place's own name with its region and country in full.
fn is_full_title(table: &Table, place: usize, parts: &[String]) -> bool {
    let title = table.place(place).full_title();
    title.split(", ").map(|part| table.letters.fold(part)).eq(parts.iter().cloned())
}

/// Leaves out places that have the name beside their own where a far larger one is called so.
fn without_by_names(table: &Table, name: &str, places: &mut Vec<usize>) {
    let own = |place: usize| table.letters.fold(table.place(place).name) == name;
    let largest = places.iter().filter(|place| own(**place)).map(|place| people(table, *place)).max();
    if let Some(largest) = largest {
        places.retain(|place| own(*place) || people(table, *place).saturating_mul(TIMES_SMALLER) >= largest);
    }
}

/// Places whose names are the same without what is doubled for want of a mark.
fn spelt_otherwise(table: &Table, name: &str) -> Vec<usize> {
    let plain = unmarked(name);
    let mut found: Vec<usize> = table
        .keys()
        .filter(|(key, _)| key.as_bytes().first() == name.as_bytes().first() && key.len().abs_diff(plain.len()) <= 3)
        .filter(|(key, _)| unmarked(key) == plain)
        .map(|(_, place)| place)
        .collect();
    found.dedup();
    found
}

/// "Barre Vermont USA" without commas, and "Norway, Bergen".
fn differently_split(table: &Table, parts: &[String]) -> Option<Vec<usize>> {
    let (first, behind) = parts.split_first()?;
    let words: Vec<&str> = first.split(' ').collect();
    for (last, name) in parts.iter().enumerate().skip(1).rev() {
        let others: Vec<String> =
            parts.iter().enumerate().filter(|(at, _)| *at != last).map(|(_, part)| part.clone()).collect();
        let found = lying_in(table, &named(table, name), &others);
        if !found.is_empty() {
            return Some(found);
        }
    }
    for end in (1..words.len().min(MOST_WORDS)).rev() {
        let same = named(table, &words[..end].join(" "));
        if same.is_empty() {
            continue;
        }
        for middle in end..words.len() {
            let mut qualifiers: Vec<String> = [words[end..middle].join(" "), words[middle..].join(" ")]
                .into_iter()
                .filter(|q| !q.is_empty())
                .collect();
            qualifiers.extend_from_slice(behind);
            let found = lying_in(table, &same, &qualifiers);
            if !found.is_empty() {
                return Some(found);
            }
        }
    }
    None
}

/// Those of the places that lie in every one of the regions and countries.
pub(super) fn lying_in(table: &Table, places: &[usize], qualifiers: &[String]) -> Vec<usize> {
    if places.is_empty() {
        return Vec::new();
    }
    let mut left = places.to_vec();
    for qualifier in qualifiers {
        let country = countries::by_name(qualifier);
        // "D.C." is looked for as "d c".
        let joined = qualifier.replace(' ', "");
        left.retain(|place| {
            let region = &table.regions[table.region_of(*place)];
            let both = qualifier == "korea" && ["KR", "KP"].contains(&region.country.code);
            let short = countries::SUBDIVISIONS.iter().any(|(country, code, name)| {
                code.eq_ignore_ascii_case(&joined) && *country == region.country.code && *name == region.name
            });
            both || short || country == Some(region.country) || {
                let name = table.letters.fold(region.name);
                let code =
                    region.code.bytes().all(|b| b.is_ascii_alphabetic()) && region.code.eq_ignore_ascii_case(&joined);
                code || name == *qualifier || holds_words(&name, qualifier)
            }
        });
    }
    left
}

/// Whether a name holds others words: "Maidan Wardak Province" holds "maidan wardak".
fn holds_words(name: &str, words: &str) -> bool {
    words.len() > 3 && format!(" {name} ").contains(&format!(" {words} "))
}

pub(super) fn people(table: &Table, place: usize) -> u32 {
    people_of(&table.place(place))
}

pub(super) fn people_of(place: &Place) -> u32 {
    place.people.unwrap_or(PEOPLE_UNKNOWN)
}

pub(super) fn largest_first(table: &Table, mut places: Vec<usize>) -> Vec<Place> {
    places.sort_by_key(|place| (std::cmp::Reverse(people(table, *place)), *place));
    places.into_iter().map(|place| table.place(place)).collect()
}

/// One or several.
fn chosen(table: &Table, places: Vec<usize>) -> Found {
    let mut places = largest_first(table, places);
    let others: u32 = places.iter().skip(1).map(people_of).fold(0, u32::saturating_add);
    if people_of(&places[0]) >= others.saturating_mul(TIMES_LARGER) {
        let place = places.remove(0);
        return Found::One { place, passed_over: places };
    }
    Found::Many(places)
}
