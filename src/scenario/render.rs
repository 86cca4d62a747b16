//! Drawing problems beside the lines they are about.

use super::problem::{Level as Weight, Problem};
use super::source::Source;
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};
use std::ops::Range;

/// Whether drawn problems carry colour codes for a terminal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paint {
    /// Letters only.
    Plain,
    /// ANSI colours.
    Coloured,
}

/// Draws problems one below the other: the sentence, file, line and column, the line itself with what was found and what
/// is allowed, and the advice. Ends with a line break unless there is nothing to draw.
#[must_use]
pub fn render(source: &Source, problems: &[Problem], paint: Paint) -> String {
    let renderer = match paint {
        Paint::Plain => Renderer::plain(),
        Paint::Coloured => Renderer::styled(),
    };
    let mut drawn = String::new();
    for problem in problems {
        if !drawn.is_empty() {
            drawn.push('\n');
        }
        drawn.push_str(&renderer.render(&[group(source, problem)]));
        drawn.push('\n');
    }
    drawn
}

fn group<'a>(source: &'a Source, problem: &'a Problem) -> Group<'a> {
    let level = match problem.level {
        Weight::Error => Level::ERROR,
        Weight::Warning => Level::WARNING,
        Weight::Note => Level::NOTE,
    };
    let title = level.primary_title(problem.title());
    let label = problem.label();
    let mut group = match inside(source, problem.span.as_ref()) {
        Some(span) => {
            let mut snippet = Snippet::source(source.text.as_str()).path(source.name.as_str());
            let primary = AnnotationKind::Primary.span(span);
            snippet = snippet.annotation(if label.is_empty() { primary } else { primary.label(label) });
            if let Some(mark) = &problem.second
                && let Some(span) = inside(source, mark.span.as_ref())
            {
                snippet = snippet.annotation(AnnotationKind::Context.span(span).label(mark.label.as_str()));
            }
            title.element(snippet)
        }
        None => {
            let group = title.element(Origin::path(source.name.as_str()));
            if label.is_empty() { group } else { group.element(Level::NOTE.message(label)) }
        }
    };
    if let Some(help) = &problem.help {
        group = group.element(Level::HELP.message(help.as_str()));
    }
    group
}

/// The span, if it lies inside the text and between characters.
fn inside(source: &Source, span: Option<&Range<usize>>) -> Option<Range<usize>> {
    span.filter(|span| source.text.get((*span).clone()).is_some()).cloned()
}
