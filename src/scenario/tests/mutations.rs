//! Sound scenarios made unsound at random: the reader never panics.

use super::COMPLETE;
use crate::scenario::{Level, Paint, Source, read, render};
use proptest::prelude::*;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    /// Cuts, copies and inserts pieces of a sound scenario. Whatever comes of it is read or refused in good order.
    #[test]
    fn no_text_makes_the_reader_panic(
        edits in prop::collection::vec(
            (0..4000usize, 0..40usize, 0..3u8, "\\PC{0,6}|[\"\\[\\]{}=.,\\-\n±°%−0-9]{1,4}"),
            1..6,
        ),
    ) {
        let mut text: Vec<char> = COMPLETE.chars().collect();
        for (at, length, kind, put) in edits {
            let at = at.min(text.len());
            let end = (at + length).min(text.len());
            match kind {
                0 => drop(text.drain(at..end)),
                1 => {
                    let piece: Vec<char> = text[at..end].to_vec();
                    let to = (at * 7) % (text.len() + 1);
                    text.splice(to..to, piece);
                }
                _ => drop(text.splice(at..(at + length % 4).min(text.len()), put.chars())),
            }
        }
        read_in_good_order(text.into_iter().collect())?;
    }

    /// Gives keys the values of others, or values that suit nothing. The file stays well-formed, so all checks are met.
    #[test]
    fn no_value_makes_the_reader_panic(
        edits in prop::collection::vec((0..200usize, 0..3u8, 0..200usize, prop::sample::select(ODD.to_vec())), 1..8),
    ) {
        let mut lines: Vec<String> = COMPLETE.lines().map(str::to_string).collect();
        for (line, kind, other, odd) in edits {
            let (line, other) = (line % lines.len(), other % lines.len());
            let Some((key, value)) = lines[line].split_once(" = ").filter(|(_, value)| !value.ends_with('[')) else {
                continue;
            };
            let (key, value) = (key.to_string(), value.to_string());
            lines[line] = match (kind, lines[other].split_once(" = ")) {
                (0, Some((_, swapped))) if !swapped.ends_with('[') => format!("{key} = {swapped}"),
                (1, _) => format!("{}x = {value}", &key[..key.len() - 1]),
                _ => format!("{key} = {odd}"),
            };
        }
        read_in_good_order(lines.join("\n"))?;
    }
}

/// Values that suit few keys.
const ODD: [&str; 24] = [
    "0",
    "-1",
    "nan",
    "-inf",
    "1e308",
    "99999999999999999999",
    "true",
    "[]",
    "[[]]",
    "{}",
    "[{}]",
    "[\"a\", 1]",
    "{ series = 0, parallel = 4294967296 }",
    "2027-01-14T18:00:00Z",
    "07:32:00",
    "\"\"",
    "\" \"",
    "\"−5 W\"",
    "\"5 − W\"",
    "\"5− °\"",
    "\"1e-320 W\"",
    "\"1e300 kW ± 1e300 %\"",
    "\"±\"",
    "\"00:00-24:00\"",
];

fn read_in_good_order(text: String) -> Result<(), TestCaseError> {
    let source = Source::new("mutated.toml", text);
    let (usable, problems) = match read(&source) {
        Ok((_, _, problems)) => (true, problems),
        Err(problems) => (false, problems),
    };
    prop_assert_eq!(usable, problems.iter().all(|problem| problem.level != Level::Error));
    let starts: Vec<_> = problems.iter().map(|problem| problem.span.as_ref().map(|span| span.start)).collect();
    prop_assert!(starts.is_sorted());
    for problem in &problems {
        prop_assert!(problem.span.as_ref().is_none_or(|span| source.text.get(span.clone()).is_some()));
        prop_assert!(!source.one_line(problem).chars().any(char::is_control));
    }
    prop_assert_eq!(render(&source, &problems, Paint::Plain).is_empty(), problems.is_empty());
    Ok(())
}
