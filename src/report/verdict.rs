//! The verdict of an answer in words.

use serde::Serialize;

use super::fuel::litres;
use super::told::Words;
use crate::study::Verdict;
use crate::study::fuel::FuelTaken;

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

/// A verdict in a word or two, with the generator that it rests on and what it takes of fuel that nobody told.
#[must_use]
pub fn word_with_fuel(verdict: Verdict, fuel: FuelTaken) -> String {
    match (verdict, fuel) {
        (Verdict::CountOnIt, FuelTaken::UpTo { most_l }) => {
            format!("{} with the generator and {} of fuel", word(verdict), litres(most_l))
        }
        (Verdict::CountOnIt | Verdict::Likely, fuel) if fuel.rests_on_generator() => {
            format!("{} with the generator", word(verdict))
        }
        _ => word(verdict).to_string(),
    }
}

/// A verdict in words with what it takes of a generator: that it starts, and its fuel.
#[must_use]
pub fn with_fuel(verdict: Verdict, fuel: FuelTaken) -> String {
    let told = verdict.words();
    let starts = match fuel {
        FuelTaken::NoGenerator => return told,
        FuelTaken::Told | FuelTaken::Unmeasured => "if the generator starts and the fuel is at hand".to_string(),
        FuelTaken::UpTo { most_l } => {
            format!("if the generator starts and {} of fuel are at hand for it", litres(most_l))
        }
    };
    let unmeasured = match fuel {
        FuelTaken::Unmeasured => {
            " Nothing better can be said of a generator as long as nobody has said what it burns and how much fuel there is."
        }
        _ => "",
    };
    match verdict {
        Verdict::CountOnIt => format!("Count on it, {starts}.{unmeasured}"),
        Verdict::Likely => format!("Likely, {starts}, but not sure: keep a second way.{unmeasured}"),
        Verdict::TossUp | Verdict::DoNotCount => told,
    }
}

/// A verdict for programs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Json {
    /// `count_on_it`, `likely`, `toss_up` or `do_not_count`.
    kind: Verdict,
    /// The same in a word or two.
    text: &'static str,
    /// Fuel that it takes and that nobody told of \[L\]; left out where it takes none, or nobody knows how much.
    #[serde(skip_serializing_if = "Option::is_none")]
    if_fuel_l: Option<f64>,
    /// That the generator starts and its fuel is at hand, where the verdict is good and rests on that; else left out.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    if_generator_starts: bool,
}

impl From<Verdict> for Json {
    fn from(verdict: Verdict) -> Json {
        Json { kind: verdict, text: word(verdict), if_fuel_l: None, if_generator_starts: false }
    }
}

impl Json {
    /// The same with what it takes of fuel.
    #[must_use]
    pub fn taking(self, fuel: FuelTaken) -> Json {
        let if_fuel_l = match fuel {
            FuelTaken::UpTo { most_l } => Some(most_l),
            FuelTaken::NoGenerator | FuelTaken::Told | FuelTaken::Unmeasured => None,
        };
        let good = matches!(self.kind, Verdict::CountOnIt | Verdict::Likely);
        Json { if_fuel_l, if_generator_starts: good && fuel.rests_on_generator(), ..self }
    }
}
