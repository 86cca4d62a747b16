//! Judgements on a kit, as facts.

use serde::Serialize;

use super::matter::Matter;

/// How much a judgement matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Weight {
    /// It must not be used like this.
    Stops,
    /// It can be used, but something is lost or close to a limit.
    Warns,
    /// It is in order.
    Fits,
}

impl Weight {
    /// The word shown to a person.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Weight::Stops => "stops",
            Weight::Warns => "warns",
            Weight::Fits => "fits",
        }
    }
}

/// One judgement.
#[derive(Debug, Clone, PartialEq)]
pub struct Judgement {
    /// How much it matters.
    pub weight: Weight,
    /// Dotted path of the key that it hangs on.
    pub key: String,
    /// What is judged, with its numbers.
    pub matter: Matter,
    /// The other key that it has to do with.
    pub against: Option<String>,
    /// Whether the reader of the scenario says so already.
    pub known_to_reader: bool,
    /// Whether the answer of a run says it too, for it bears on what the numbers mean.
    pub in_the_answer: bool,
}

impl Judgement {
    /// A judgement.
    #[must_use]
    pub fn new(weight: Weight, key: impl Into<String>, matter: Matter) -> Judgement {
        Judgement { weight, key: key.into(), matter, against: None, known_to_reader: false, in_the_answer: false }
    }

    /// With the other key.
    #[must_use]
    pub fn against(mut self, key: impl Into<String>) -> Judgement {
        self.against = Some(key.into());
        self
    }

    /// Told by the reader of the scenario too.
    #[must_use]
    pub fn known_to_reader(mut self) -> Judgement {
        self.known_to_reader = true;
        self
    }

    /// Told beside the answer of a run too.
    #[must_use]
    pub fn in_the_answer(mut self) -> Judgement {
        self.in_the_answer = true;
        self
    }

    /// Told by nobody else, and more than that all is well.
    #[must_use]
    pub fn is_a_problem(&self) -> bool {
        self.weight != Weight::Fits && !self.known_to_reader
    }
}
