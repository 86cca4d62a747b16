//! Judgements on a kit in words: what is judged, the numbers, what is allowed, why, and what to do.

mod loads;
mod panels;
mod station;

pub use panels::FUSES;

use serde::Serialize;

use crate::kit::{Judgement, Matter, Weight};
use crate::open::{Opened, Unfit};
use crate::report::named::subject;
use crate::scenario::{Level, Problem, Scenario};

/// A judgement in words. What is not to be said is empty.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Sentence {
    /// What is judged: "shed wall: volts on the coldest morning".
    pub about: String,
    /// The judgement, as the end of a sentence that begins with the key.
    pub what: String,
    /// The numbers.
    pub found: String,
    /// What is allowed.
    pub allowed: String,
    /// Why it matters.
    pub reason: String,
    /// What to do.
    pub remedy: String,
    /// What stands at the other key that it has to do with.
    #[serde(skip)]
    pub there: &'static str,
}

impl Sentence {
    fn new(about: impl Into<String>, what: impl Into<String>) -> Sentence {
        Sentence { about: about.into(), what: what.into(), ..Sentence::default() }
    }

    fn found(mut self, found: impl Into<String>) -> Sentence {
        self.found = found.into();
        self
    }

    fn allowed(mut self, allowed: impl Into<String>) -> Sentence {
        self.allowed = allowed.into();
        self
    }

    fn because(mut self, reason: impl Into<String>) -> Sentence {
        self.reason = reason.into();
        self
    }

    fn remedy(mut self, remedy: impl Into<String>) -> Sentence {
        self.remedy = remedy.into();
        self
    }

    fn there(mut self, there: &'static str) -> Sentence {
        self.there = there;
        self
    }
}

/// A judgement in words.
#[must_use]
pub fn words(judged: &Judgement) -> Sentence {
    let fits = judged.weight == Weight::Fits;
    match &judged.matter {
        Matter::InputLimitUnknown { .. }
        | Matter::PanelVoltsUnknown { .. }
        | Matter::ColdVolts { .. }
        | Matter::StartVolts { .. }
        | Matter::CableLoss { .. }
        | Matter::InputAmps { .. }
        | Matter::InputWatts { .. }
        | Matter::Fuses { .. }
        | Matter::UnequalArrays { .. }
        | Matter::Snow { .. }
        | Matter::HeldAt { .. } => panels::words(&judged.matter, fits),
        Matter::Temperature { .. }
        | Matter::AcidFreezes { .. }
        | Matter::TestImpossible { .. }
        | Matter::TestBeyondAssumed { .. }
        | Matter::TestBeyondWritten { .. }
        | Matter::RateTested { .. }
        | Matter::RateOfLithium { .. }
        | Matter::RateOfLead { .. }
        | Matter::InverterDraw { .. }
        | Matter::Generator { .. }
        | Matter::GeneratorFeeds { .. }
        | Matter::GeneratorStartsMotor { .. }
        | Matter::GeneratorStarts { .. } => station::words(&judged.matter, fits),
        Matter::NeverRuns { .. }
        | Matter::AtOnce { .. }
        | Matter::Start { .. }
        | Matter::Sleeps { .. }
        | Matter::SwitchesOff { .. }
        | Matter::SwitchedOver { .. }
        | Matter::SwitchOver { .. }
        | Matter::CarOutlet { .. }
        | Matter::AllowedUnmet { .. } => loads::words(&judged.matter, judged.weight),
    }
}

/// A judgement as a problem of the scenario; nothing where all is well or the reader told it.
#[must_use]
pub fn problem(judged: &Judgement) -> Option<Problem> {
    if !judged.is_a_problem() {
        return None;
    }
    let level = if judged.weight == Weight::Stops { Level::Error } else { Level::Warning };
    let Sentence { what, found, allowed, reason, remedy, there, .. } = words(judged);
    let problem = Problem::new(level, &*judged.key, what).found(found).allowed(allowed);
    let help: Vec<String> = [remedy, reason].into_iter().filter(|text| !text.is_empty()).collect();
    let problem = if help.is_empty() { problem } else { problem.help(help.join("; ")) };
    Some(match &judged.against {
        Some(key) => problem.against(&**key, there),
        None => problem,
    })
}

/// What the reader and the judgements have to say of a scenario that can be used.
#[must_use]
pub fn remarks(opened: &Opened) -> Vec<Problem> {
    let judged = opened.verdicts.iter().filter_map(problem).map(|problem| opened.locate(problem));
    opened.remarks.iter().cloned().chain(judged).collect()
}

/// Why a kit cannot be used.
#[must_use]
pub fn refusal(unfit: &Unfit) -> Vec<Problem> {
    let judged = unfit.judged.iter().filter_map(problem);
    let Some(variant) = &unfit.variant else { return judged.map(|problem| unfit.locate(problem)).collect() };
    let told = judged.map(|problem| {
        let what = format!("makes a kit that cannot be used: {}; {}", problem.title(), problem.label());
        unfit.locate(variant.refused(what))
    });
    told.collect()
}

/// A judgement for JSON: its kind with its numbers, and in words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judged {
    #[serde(flatten)]
    sentence: Sentence,
    key: String,
    /// What the key says, as its owner calls it: what the sentence is about.
    #[serde(skip)]
    subject: String,
    weight: Weight,
    against: Option<String>,
    pub(super) matter: Matter,
}

impl Judged {
    /// Of a judgement on a scenario's kit.
    #[must_use]
    pub fn of(judged: &Judgement, scenario: &Scenario) -> Judged {
        Judged {
            sentence: words(judged),
            key: judged.key.clone(),
            subject: subject(&judged.key, scenario),
            weight: judged.weight,
            against: judged.against.clone(),
            matter: judged.matter.clone(),
        }
    }

    /// The words, and what they begin with.
    #[must_use]
    pub fn told(&self) -> (&Sentence, &str) {
        (&self.sentence, &self.subject)
    }
}
