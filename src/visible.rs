//! Text made fit to be shown: what would steer a terminal or turn the direction of writing is written out, and sentences begin with a
//! capital letter.

use std::borrow::Cow;
use std::fmt::Write as _;

/// Whether a character can change how what stands around it is shown: control characters (Unicode's category Cc, but for
/// line breaks and tabs), line and paragraph separators, and the controls of bidirectional text
/// ([UAX #9](https://www.unicode.org/reports/tr9/), section 2), whose misuse is known from source code (CVE-2021-42574).
fn steers(c: char) -> bool {
    let direction =
        matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    (c.is_control() && !matches!(c, '\n' | '\t')) || matches!(c, '\u{2028}' | '\u{2029}') || direction
}

/// The text with every character that steers written out as TOML writes it: `\u001B`, `\u202E`. Line breaks and tabs stay.
#[must_use]
pub fn visible(text: &str) -> Cow<'_, str> {
    if !text.contains(steers) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if steers(c) {
            let _ = write!(out, "\\u{:04X}", u32::from(c));
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// The text with what steers exchanged for a sign as long in bytes, so that places in it stay; single bytes stay too.
#[must_use]
pub fn as_long(text: &str) -> Cow<'_, str> {
    let exchanged = |c: char| match c.len_utf8() {
        2 if steers(c) => '\u{a4}',
        3 if steers(c) => char::REPLACEMENT_CHARACTER,
        _ => c,
    };
    if text.contains(|c| steers(c) && c.len_utf8() > 1) {
        Cow::Owned(text.chars().map(exchanged).collect())
    } else {
        Cow::Borrowed(text)
    }
}

/// At most so many characters of a text, on one line and visible; a text cut short ends in `…`.
#[must_use]
pub fn clipped(text: &str, most: usize) -> String {
    let mut out = String::new();
    for c in text.chars().take(most) {
        out.push(if matches!(c, '\n' | '\t') || steers(c) { char::REPLACEMENT_CHARACTER } else { c });
    }
    if text.chars().nth(most).is_some() {
        out.push('…');
    }
    out
}

/// The text begun with a capital letter.
#[must_use]
pub fn begun(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_is_written_out_and_all_else_stays() {
        for plain in ["", "Jökulsárlón, 12 Ω ± 5 %\n\tnext", "شمس", "a\u{200d}b"] {
            assert!(matches!(visible(plain), Cow::Borrowed(same) if same == plain));
        }
        assert_eq!(visible("\u{1b}[31mred\u{7}\r\n"), "\\u001B[31mred\\u0007\\u000D\n");
        // The nine explicit controls of UAX #9, its three implicit marks, and the separators that are not controls.
        for steering in "\u{61c}\u{200e}\u{200f}\u{202a}\u{202b}\u{202c}\u{202d}\u{202e}\u{2066}\u{2067}\u{2068}\u{2069}\u{2028}\u{2029}\u{9b}".chars() {
            assert_eq!(visible(&steering.to_string()), format!("\\u{:04X}", u32::from(steering)));
        }
    }

    #[test]
    fn places_stay_where_signs_are_exchanged() {
        for c in (0..=0x2fff).filter_map(char::from_u32) {
            let text = format!("a{c}b");
            let shown = as_long(&text);
            assert_eq!(shown.len(), text.len());
            assert!(!shown.contains(|c: char| steers(c) && c.len_utf8() > 1));
            assert!(steers(c) || *shown == text);
        }
    }

    #[test]
    fn a_long_text_is_cut_and_says_so() {
        assert_eq!(clipped("abc", 3), "abc");
        assert_eq!(clipped("abcd", 3), "abc…");
        assert_eq!(clipped("a\u{202e}\nb", 9), "a\u{fffd}\u{fffd}b");
    }
}
