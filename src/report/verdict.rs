//! The verdict of an answer in words.

use serde::Serialize;

use super::told::Words;
use crate::study::Verdict;

/// What is said wherever a person's health hangs on a load.
pub const MEDICAL_CAUTION: &str = "No number here replaces a plan made with the device's maker, its supplier and whoever \
                                   prescribed it, and a second way to power it.";

/// A verdict in a word or two, where it stands in a table.
#[must_use]
pub fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::CountOnIt => "count on it",
        Verdict::Likely => "likely",
        Verdict::TossUp => "a toss-up",
        Verdict::DoNotCount => "do not count on it",
    }
}

/// The mark of a verdict: told apart without colour.
#[must_use]
pub fn sign(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::CountOnIt => "++",
        Verdict::Likely => "+",
        Verdict::TossUp => "o",
        Verdict::DoNotCount => "-",
    }
}

/// What a verdict means, by its rule.
#[must_use]
pub fn rule(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::CountOnIt => "even the lower end of the range reaches 95 of 100",
        Verdict::Likely => "the best estimate reaches 66 of 100, and the lower end of the range 50",
        Verdict::TossUp => "the best estimate reaches 50 of 100, and no more is sure",
        Verdict::DoNotCount => "the best estimate lies below 50 of 100",
    }
}

impl Words for Verdict {
    fn words(&self) -> String {
        match self {
            Verdict::CountOnIt => "Count on it.",
            Verdict::Likely => "Likely, but not sure: keep a second way.",
            Verdict::TossUp => "A toss-up: keep a second way.",
            Verdict::DoNotCount => "Do not count on it.",
        }
        .into()
    }
}

/// A verdict for programs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Json {
    /// `count_on_it`, `likely`, `toss_up` or `do_not_count`.
    kind: Verdict,
    /// The same in a word or two.
    text: &'static str,
}

impl From<Verdict> for Json {
    fn from(verdict: Verdict) -> Json {
        Json { kind: verdict, text: word(verdict) }
    }
}
