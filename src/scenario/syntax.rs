//! Syntax errors in plain words.

use super::forms::{quoted, tidy};
use super::problem::Problem;
use super::source::Source;
use std::ops::Range;
use toml::Spanned;
use toml::de::DeTable;

/// Largest file of TOML \[bytes\]: some thousand kits are below it.
const LARGEST: usize = 2_000_000;

/// The document that a text is.
///
/// * `kind` — what the file is called in messages: "scenario".
///
/// # Errors
/// That it is too large, or the first syntax error alone, because one forgotten bracket makes a parser see mistakes that are none.
pub(super) fn document<'t>(source: &'t Source, kind: &'static str) -> Result<Spanned<DeTable<'t>>, Vec<Problem>> {
    if source.text.len() > LARGEST {
        let found = format!("{:.1} MB", source.text.len() as f64 / 1e6);
        let problem =
            Problem::error("", "is too large").found(found).allowed(format!("at most {} MB", LARGEST / 1_000_000));
        return Err(vec![problem.help("long series belong into files of their own that it names").in_a(kind)]);
    }
    let (document, errors) = DeTable::parse_recoverable(&source.text);
    match errors.first() {
        Some(error) => Err(vec![explain(&source.text, error.message(), error.span()).in_a(kind)]),
        None => Ok(document),
    }
}

/// Whether a text, as far as it is TOML, has a key at its top.
pub(super) fn has_key(text: &str, key: &str) -> bool {
    text.len() <= LARGEST && DeTable::parse_recoverable(text).0.get_ref().contains_key(key)
}

/// A TOML syntax error as a problem, with advice for the usual slips.
fn explain(text: &str, message: &str, span: Option<Range<usize>>) -> Problem {
    let marked = span.as_ref().and_then(|span| text.get(span.clone())).unwrap_or("").trim();
    let after = span.as_ref().and_then(|span| text.get(span.start..)).unwrap_or("");
    let line = span.as_ref().map_or("", |span| line_of(text, span.start)).trim();
    let (what, help) = if marked.contains(['“', '”', '„', '‘', '’']) {
        ("has typographic quotes", Some("write straight quotes: \"…\"".to_string()))
    } else if message.starts_with("string values must be quoted") && marked.is_empty() {
        ("has a key without a value", Some("write a value after the =, or take the line out".to_string()))
    } else if message.starts_with("string values must be quoted") {
        ("has a text without quotes", Some(format!("write {}", quoted(marked))))
    } else if message.starts_with("duplicate key") {
        let header = line.starts_with('[');
        let list = matches!(marked, "panel" | "load");
        let help = match (header, list) {
            (true, true) => format!("write [[{marked}]] with double brackets, for each one"),
            (true, false) => "join the two sections into one".to_string(),
            (false, _) => "keep one of the two lines".to_string(),
        };
        ("says the same key twice", Some(help))
    } else if message.starts_with("unclosed table") || message.starts_with("unclosed array table") {
        let help = "close the section's header with as many brackets as it opens: [station] or [[load]]";
        ("has a header that is not closed", Some(help.to_string()))
    } else if message.starts_with("unclosed array") || message.starts_with("unclosed inline table") {
        ("has a bracket that is not closed", Some("close the list with ] or the table with }".to_string()))
    } else if message.contains("basic string") || message.contains("literal string") {
        ("has a text that is not closed", Some("close it with the same quote that opened it, on the same line".into()))
    } else if message.starts_with("key with no value") {
        ("has a line without =", Some("write key = value, or begin a remark with #".to_string()))
    } else if message.starts_with("invalid boolean") {
        ("has a true or false written otherwise", Some("write true or false, in small letters".to_string()))
    } else if message.starts_with("unexpected key or value") && after.starts_with(',') {
        ("has a comma inside a number", Some("write a decimal point, and no mark between thousands".to_string()))
    } else if message.starts_with("unexpected key or value") {
        let help = "one key = value a line; texts and quantities in quotes, decimals with a point: \"1.5 kWh\"";
        ("goes on where the value has ended", Some(help.to_string()))
    } else {
        ("is not well-formed", None)
    };
    let span = span.map(|span| span.start.min(text.len())..span.end.min(text.len()));
    let mut problem = Problem::error("", what).at(span).found(if marked.is_empty() {
        String::new()
    } else {
        format!("`{}`", tidy(marked))
    });
    problem.allowed = if help.is_none() { tidy(message) } else { String::new() };
    problem.help = help;
    problem
}

fn line_of(text: &str, byte: usize) -> &str {
    let start = text.get(..byte).and_then(|before| before.rfind('\n')).map_or(0, |at| at + 1);
    text.get(start..).and_then(|rest| rest.lines().next()).unwrap_or("")
}
