//! "Did you mean": the nearest known word to a misspelt one.

/// The nearest of some words, or `None` when nothing is near. Very short words (two letters) have no near ones.
///
/// A word is near when it takes at most two slips of the finger (one for words of three letters), when its letters run
/// much alike, or when one contains the other. Among equals the first wins.
pub(super) fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word = word.to_lowercase();
    let letters = word.chars().count();
    if !(3..=40).contains(&letters) {
        return None;
    }
    let mut best: Option<(f64, &str)> = None;
    for candidate in known {
        let lower = candidate.to_lowercase();
        let slips = strsim::damerau_levenshtein(&word, &lower);
        let alike = strsim::jaro_winkler(&word, &lower);
        let contained = lower.chars().count() >= 3 && (lower.contains(&word) || word.contains(&lower));
        let few = slips <= if letters == 3 { 1 } else { 2 };
        if !(few || alike > 0.85 || contained) {
            continue;
        }
        let score = alike
            + if contained { 0.15 } else { 0.0 }
            + match slips {
                0..=2 if few => 0.3 - 0.1 * slips as f64,
                _ => 0.0,
            };
        if best.is_none_or(|(highest, _)| highest < score) {
            best = Some((score, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn slips_of_the_finger_are_found_and_strangers_are_not() {
        let keys = ["rated_capacity", "measured_capacity", "chemistry", "keep_above", "charge_to", "watts", "may"];
        let check = |word, expected| assert_eq!(nearest(word, keys), expected, "for {word}");
        check("rated_capcity", Some("rated_capacity"));
        check("RATED_CAPACITY", Some("rated_capacity"));
        check("capacity", Some("rated_capacity"));
        check("chemstry", Some("chemistry"));
        check("wats", Some("watts"));
        check("charge_ot", Some("charge_to"));
        check("colour", None);
        check("w", None);
        check("", None);
        check("mya", Some("may"));
        check("may_be_something_else_altogether_which_is_long", None);
    }
}
