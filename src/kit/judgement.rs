//! Judgements on a kit, each with its numbers, its reason and what to do.

use crate::scenario::problem::{Level, Problem};

/// How much a judgement matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
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
    /// What is judged: "shed wall on a cold morning".
    pub about: String,
    /// Dotted path of the key that it hangs on.
    pub key: String,
    /// The judgement, as the end of a sentence that begins with the key.
    pub what: String,
    /// The numbers.
    pub found: String,
    /// What is allowed; empty where there is no limit.
    pub allowed: String,
    /// Why it matters; empty where all is well.
    pub reason: String,
    /// What to do; empty where all is well.
    pub remedy: String,
    /// The other key that it has to do with, and what that is.
    pub against: Option<(String, String)>,
    /// Whether the reader of the scenario says so already.
    pub known_to_reader: bool,
    /// Whether the answer of a run says it too, for it bears on what the numbers mean.
    pub in_the_answer: bool,
}

impl Judgement {
    /// A judgement without allowance, reason or remedy.
    #[must_use]
    pub fn new(weight: Weight, about: impl Into<String>, key: impl Into<String>, what: impl Into<String>) -> Judgement {
        Judgement {
            weight,
            about: about.into(),
            key: key.into(),
            what: what.into(),
            found: String::new(),
            allowed: String::new(),
            reason: String::new(),
            remedy: String::new(),
            against: None,
            known_to_reader: false,
            in_the_answer: false,
        }
    }

    /// With the numbers.
    #[must_use]
    pub fn found(mut self, found: impl Into<String>) -> Judgement {
        self.found = found.into();
        self
    }

    /// With what is allowed.
    #[must_use]
    pub fn allowed(mut self, allowed: impl Into<String>) -> Judgement {
        self.allowed = allowed.into();
        self
    }

    /// With the reason.
    #[must_use]
    pub fn because(mut self, reason: impl Into<String>) -> Judgement {
        self.reason = reason.into();
        self
    }

    /// With what to do.
    #[must_use]
    pub fn remedy(mut self, remedy: impl Into<String>) -> Judgement {
        self.remedy = remedy.into();
        self
    }

    /// With the other key.
    #[must_use]
    pub fn against(mut self, key: impl Into<String>, label: impl Into<String>) -> Judgement {
        self.against = Some((key.into(), label.into()));
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

    /// As a problem of the scenario; nothing where all is well or the reader told it.
    #[must_use]
    pub fn problem(&self) -> Option<Problem> {
        let level = match self.weight {
            Weight::Stops => Level::Error,
            Weight::Warns => Level::Warning,
            Weight::Fits => return None,
        };
        if self.known_to_reader {
            return None;
        }
        let mut problem = Problem::new(level, &*self.key, &*self.what).found(&*self.found).allowed(&*self.allowed);
        let help: Vec<&str> =
            [self.remedy.as_str(), self.reason.as_str()].into_iter().filter(|text| !text.is_empty()).collect();
        if !help.is_empty() {
            problem = problem.help(help.join("; "));
        }
        Some(match &self.against {
            Some((key, label)) => problem.against(&**key, &**label),
            None => problem,
        })
    }
}
