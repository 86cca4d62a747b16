//! What is wrong with a scenario, as data; drawing it is the renderer's job.

use std::ops::Range;

/// How much a problem matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Level {
    /// The scenario cannot be used.
    Error,
    /// The scenario can be used, but most likely it does not say what was meant.
    Warning,
    /// Good to know, or a caution for safety; never left out of a report.
    Note,
}

impl Level {
    /// The word shown to a person.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Level::Error => "error",
            Level::Warning => "warning",
            Level::Note => "note",
        }
    }
}

/// A second place that a problem has to do with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// Dotted path of the key.
    pub key: String,
    /// Bytes of the source, where the key stands in it.
    pub span: Option<Range<usize>>,
    /// What stands there: "the input's limit".
    pub label: String,
}

/// One thing that is wrong, or worth a warning, in a scenario.
///
/// Layers that know nothing of files make one by key path; [`super::source::Places::locate`] finds the places.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// How much it matters.
    pub level: Level,
    /// Dotted path of the key, list entries counted from 0: `panel.0.wiring`. Empty for the file as a whole.
    pub key: String,
    /// Whose key it is, for list entries: `load 3, "fridge"`. Filled in by `locate`.
    pub whose: Option<String>,
    /// Bytes of the source to mark, where there are any.
    pub span: Option<Range<usize>>,
    /// What is wrong, as the end of a sentence that begins with the key: "needs a unit".
    pub what: String,
    /// What was found, as written; empty when `what` says it all.
    pub found: String,
    /// What is allowed; empty when `what` says it all.
    pub allowed: String,
    /// What to write or do.
    pub help: Option<String>,
    /// Where it clashes with something else.
    pub second: Option<Mark>,
    /// What the file is called where the whole of it is meant: "scenario", "record".
    pub document: &'static str,
}

impl Problem {
    /// A problem at a key: `key` is the dotted path, `what` ends the sentence that begins with it.
    #[must_use]
    pub fn new(level: Level, key: impl Into<String>, what: impl Into<String>) -> Self {
        Problem {
            level,
            key: key.into(),
            whose: None,
            span: None,
            what: what.into(),
            found: String::new(),
            allowed: String::new(),
            help: None,
            second: None,
            document: "scenario",
        }
    }

    /// An error at a key.
    #[must_use]
    pub fn error(key: impl Into<String>, what: impl Into<String>) -> Self {
        Problem::new(Level::Error, key, what)
    }

    /// A warning at a key.
    #[must_use]
    pub fn warning(key: impl Into<String>, what: impl Into<String>) -> Self {
        Problem::new(Level::Warning, key, what)
    }

    /// A note at a key.
    #[must_use]
    pub fn note(key: impl Into<String>, what: impl Into<String>) -> Self {
        Problem::new(Level::Note, key, what)
    }

    /// With what was found.
    #[must_use]
    pub fn found(mut self, found: impl Into<String>) -> Self {
        self.found = found.into();
        self
    }

    /// With what is allowed.
    #[must_use]
    pub fn allowed(mut self, allowed: impl Into<String>) -> Self {
        self.allowed = allowed.into();
        self
    }

    /// With advice.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// With the other key that it clashes with.
    #[must_use]
    pub fn against(mut self, key: impl Into<String>, label: impl Into<String>) -> Self {
        self.second = Some(Mark { key: key.into(), span: None, label: label.into() });
        self
    }

    /// In a file of another kind than a scenario.
    #[must_use]
    pub fn in_a(mut self, document: &'static str) -> Self {
        self.document = document;
        self
    }

    /// With the bytes to mark, where they are known already.
    #[must_use]
    pub fn at(mut self, span: Option<Range<usize>>) -> Self {
        self.span = span;
        self
    }

    /// The sentence: the key, whose it is, and what is wrong with it.
    #[must_use]
    pub fn title(&self) -> String {
        match (self.key.as_str(), &self.whose) {
            ("", _) => format!("the {} {}", self.document, self.what),
            (key, Some(whose)) => format!("`{key}` ({whose}) {}", self.what),
            (key, None) => format!("`{key}` {}", self.what),
        }
    }

    /// What was found and what is allowed, on one line; empty when the title says it all.
    #[must_use]
    pub fn label(&self) -> String {
        let found = (!self.found.is_empty()).then(|| format!("found {}", self.found));
        let allowed = (!self.allowed.is_empty()).then(|| format!("allowed: {}", self.allowed));
        found.into_iter().chain(allowed).collect::<Vec<_>>().join("; ")
    }
}

/// Sorts problems by place, those without one first; at the same place errors come first.
pub fn sort(problems: &mut [Problem]) {
    problems.sort_by_key(place);
}

/// What problems are sorted by: place, then level.
#[must_use]
pub fn place(problem: &Problem) -> (Option<usize>, Level) {
    (problem.span.as_ref().map(|span| span.start), problem.level)
}
