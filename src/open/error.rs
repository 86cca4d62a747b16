//! Why something cannot be opened or used.

use thiserror::Error;

use crate::kit::Judgement;
use crate::scenario::{Places, Problem, Source};

/// Why a scenario cannot be opened.
#[derive(Debug, Clone, Error)]
pub enum OpenError {
    /// A file is wrong: its text, and the problems with their places in it.
    #[error("{}: {}", .0.0.name, .0.1.iter().map(Problem::title).collect::<Vec<_>>().join("; "))]
    Refused(Box<(Source, Vec<Problem>)>),
    /// A kit whose parts must not be put together.
    #[error("{}: the parts do not fit: {}", .0.source.name, .0.judged.iter().map(|one| one.key.as_str()).collect::<Vec<_>>().join(", "))]
    Unfit(Box<Unfit>),
    /// A file cannot be read or used; in words that name it.
    #[error("{0}")]
    File(String),
}

impl OpenError {
    pub(crate) fn refused(source: &Source, problems: Vec<Problem>) -> OpenError {
        OpenError::Refused(Box::new((source.clone(), problems)))
    }

    pub(super) fn file(what: impl std::fmt::Display) -> OpenError {
        OpenError::File(format!("error: {what}"))
    }
}

/// A kit that cannot be used; [`crate::report::judged::refusal`] says why.
#[derive(Debug, Clone)]
pub struct Unfit {
    /// The scenario's text.
    pub source: Source,
    pub(super) places: Places,
    /// The judgements that stop it.
    pub judged: Vec<Judgement>,
    /// The variant whose kit it is.
    pub variant: Option<Varied>,
}

impl Unfit {
    /// A problem with its place in the text.
    #[must_use]
    pub fn locate(&self, problem: Problem) -> Problem {
        self.places.locate(problem)
    }
}

/// Which variant of a scenario is meant.
#[derive(Debug, Clone)]
pub struct Varied {
    pub(super) name: String,
    /// Where it stands in the file, empty for one from the command line.
    pub(super) key: String,
}

impl Varied {
    /// A refusal of the variant.
    #[must_use]
    pub fn refused(&self, what: String) -> Problem {
        if self.key.is_empty() {
            Problem::error("", format!("with {}: {what}", self.name))
        } else {
            Problem::error(format!("{}.set", self.key), what)
        }
    }
}
