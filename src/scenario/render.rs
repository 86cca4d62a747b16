//! Drawing problems beside the lines they are about.

use super::problem::{Level as Weight, Problem};
use super::source::Source;
use crate::visible::{as_long, visible};
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

/// Most problems that are drawn of a file.
const MOST_DRAWN: usize = 20;

/// Draws problems one below the other: the sentence, file, line and column, the line itself with what was found and what
/// is allowed, and the advice. Of more than twenty the first errors are drawn, then what else there is room for, and the
/// others counted. Ends with a line break unless there is nothing to draw.
#[must_use]
pub fn render(source: &Source, problems: &[Problem], paint: Paint) -> String {
    let renderer = match paint {
        Paint::Plain => Renderer::plain(),
        Paint::Coloured => Renderer::styled(),
    };
    let mut drawn = String::new();
    let picked = picked(problems);
    // The renderer shows single bytes that steer as pictures, and lets others through.
    let shown = as_long(&source.text);
    for problem in &picked {
        if !drawn.is_empty() {
            drawn.push('\n');
        }
        drawn.push_str(&renderer.render(&[group(source, &shown, problem)]));
        drawn.push('\n');
    }
    if picked.len() < problems.len() {
        let count = |level| problems.iter().filter(|problem| problem.level == level).count();
        let all = [Weight::Error, Weight::Warning, Weight::Note].map(|level| (count(level), level.word()));
        let all = all.iter().filter(|(n, _)| *n > 0);
        let all: Vec<String> =
            all.map(|(n, word)| format!("{} {word}{}", thousands(*n), if *n == 1 { "" } else { "s" })).collect();
        drawn.push_str(&format!(
            "\n... and {} more: {} in all\n",
            thousands(problems.len() - picked.len()),
            all.join(", ")
        ));
    }
    drawn
}

/// The problems to draw, in their order: errors before others where there is no room for all.
fn picked(problems: &[Problem]) -> Vec<&Problem> {
    let mut room = MOST_DRAWN;
    let mut drawn = vec![false; problems.len()];
    for level in [Weight::Error, Weight::Note, Weight::Warning] {
        for (drawn, _) in drawn.iter_mut().zip(problems).filter(|(_, problem)| problem.level == level).take(room) {
            *drawn = true;
            room -= 1;
        }
    }
    problems.iter().zip(drawn).filter(|(_, drawn)| *drawn).map(|(problem, _)| problem).collect()
}

/// A count with commas between thousands.
fn thousands(count: usize) -> String {
    let digits = count.to_string();
    let comma = |k: usize| if k > 0 && (digits.len() - k).is_multiple_of(3) { "," } else { "" };
    digits.char_indices().map(|(k, digit)| format!("{}{digit}", comma(k))).collect()
}

/// * `shown` — the text of the source with nothing in it that steers.
fn group<'a>(source: &'a Source, shown: &'a str, problem: &'a Problem) -> Group<'a> {
    let level = match problem.level {
        Weight::Error => Level::ERROR,
        Weight::Warning => Level::WARNING,
        Weight::Note => Level::NOTE,
    };
    let title = level.primary_title(seen(&problem.title()));
    let label = seen(&problem.label());
    let mut group = match inside(source, problem.span.as_ref()) {
        Some(span) => {
            let mut snippet = Snippet::source(shown).path(visible(&source.name));
            let primary = AnnotationKind::Primary.span(span);
            snippet = snippet.annotation(if label.is_empty() { primary } else { primary.label(label) });
            if let Some(mark) = &problem.second
                && let Some(span) = inside(source, mark.span.as_ref())
            {
                snippet = snippet.annotation(AnnotationKind::Context.span(span).label(seen(&mark.label)));
            }
            title.element(snippet)
        }
        None => {
            let group = title.element(Origin::path(visible(&source.name)));
            if label.is_empty() { group } else { group.element(Level::NOTE.message(label)) }
        }
    };
    if let Some(help) = &problem.help {
        group = group.element(Level::HELP.message(visible(help)));
    }
    group
}

fn seen(text: &str) -> String {
    visible(text).into_owned()
}

/// The span, if it lies inside the text and between characters.
fn inside(source: &Source, span: Option<&Range<usize>>) -> Option<Range<usize>> {
    span.filter(|span| source.text.get((*span).clone()).is_some()).cloned()
}
