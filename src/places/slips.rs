//! What may be meant by a name that is none: slips of the finger, postal codes, parts of towns.

use std::collections::HashSet;

use super::search::{LARGE_TOWN, MOST_NEAR, MOST_WORDS, largest_first, lying_in, named, people, people_of};
use super::table::Table;
use super::{Place, countries};

/// Parts without the words that hold figures, and without those that held nothing else.
pub(super) fn without_figures(parts: &[String]) -> Vec<String> {
    let words = |part: &String| {
        let words: Vec<&str> = part.split(' ').filter(|word| !word.bytes().any(|b| b.is_ascii_digit())).collect();
        words.join(" ")
    };
    parts.iter().map(words).filter(|part| !part.is_empty()).collect()
}

/// A large town whose name stands in a text beside that of a part of it, which nothing is known of: "Kreuzberg, Berlin",
/// "Zürich Oerlikon".
pub(super) fn holding_town(table: &Table, parts: &[String]) -> Option<Place> {
    let mut names: Vec<String> = parts.iter().skip(1).cloned().collect();
    let words: Vec<&str> = parts.first()?.split(' ').take(MOST_WORDS).collect();
    for cut in 1..words.len() {
        names.push(words[..cut].join(" "));
        names.push(words[cut..].join(" "));
    }
    let large = |name: &String| {
        if name.chars().count() < 4 || countries::by_name(name).is_some() {
            return None;
        }
        let own = named(table, name).into_iter().filter(|place| table.letters.fold(table.place(*place).name) == *name);
        largest_first(table, own.collect()).into_iter().next().filter(|place| LARGE_TOWN < people_of(place))
    };
    names.iter().filter_map(large).max_by_key(people_of)
}

/// Places whose names take few slips of the finger, or begin alike.
pub(super) fn near(table: &Table, name: &str, qualifiers: &[String]) -> Vec<Place> {
    let letters = name.chars().count();
    if letters < 3 {
        return Vec::new();
    }
    let most = if letters < 5 { 1 } else { 2 };
    let bag = bag_of(name);
    let mut found: Vec<(usize, std::cmp::Reverse<u32>, usize)> = Vec::new();
    for (key, place) in table.keys() {
        // Every slip adds or takes at most one letter, or exchanges one for another.
        let possible =
            key.len().abs_diff(name.len()) <= 4 * most && (bag_of(key) ^ bag).count_ones() as usize <= 2 * most;
        let slips = if possible { strsim::damerau_levenshtein(key, name) } else { usize::MAX };
        if slips <= most {
            found.push((slips, std::cmp::Reverse(people(table, place)), place));
        } else if letters > 3 && key.starts_with(name) {
            found.push((most + 1, std::cmp::Reverse(people(table, place)), place));
        }
    }
    found.sort_unstable();
    let mut told = HashSet::new();
    let places: Vec<usize> = found.into_iter().map(|(_, _, place)| place).filter(|place| told.insert(*place)).collect();
    let there = lying_in(table, &places, qualifiers);
    let told = if there.is_empty() { places } else { there };
    told.into_iter().take(MOST_NEAR).map(|place| table.place(place)).collect()
}

/// Which letters a name holds, a bit each.
fn bag_of(name: &str) -> u32 {
    name.bytes().fold(0, |bag, byte| bag | 1 << (byte % 32))
}
