//! A load's power hour by hour, from a CSV file.

use thiserror::Error;

use crate::visible::clipped;

/// Why a file is no profile.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum HourlyError {
    /// The column asked for is not there.
    #[error("has no column `{wanted}`; its columns: {there}")]
    NoColumn {
        /// What was asked for.
        wanted: String,
        /// What is there.
        there: String,
    },
    /// Several columns, none of them named in the scenario.
    #[error("has several columns ({there}); name one: profile = {{ file = \"…\", column = \"…\" }}")]
    WhichColumn {
        /// What is there.
        there: String,
    },
    /// A value that is no power.
    #[error("line {line}: found {found}; allowed: watts as a number, 0 to 100000")]
    Value {
        /// Line of the file, from 1.
        line: u64,
        /// What was read.
        found: String,
    },
    /// Not the hours of a day or of a week.
    #[error("has {rows} hours; allowed: 24 (every day alike) or 168 (a week that begins on Monday)")]
    Rows {
        /// How many values were read.
        rows: usize,
    },
    /// Nothing but zeros.
    #[error("has no hour above 0 W")]
    AllZero,
    /// Not CSV.
    #[error("cannot be read as CSV: {0}")]
    Csv(String),
}

/// Most power in an hour \[W\].
const MOST_W: f64 = 100_000.0;

fn shown(text: &str) -> String {
    let clean = clipped(text, 30);
    if clean.is_empty() { "nothing".into() } else { format!("\"{clean}\"") }
}

/// Reads a profile: a column of watts, 24 or 168 of them, with or without a header line; lines that begin with `#` are
/// comments.
///
/// * `column` — name of the column, where there are several.
///
/// # Errors
/// [`HourlyError`] says what was found and what is allowed.
pub fn parse(text: &str, column: Option<&str>) -> Result<Vec<f64>, HourlyError> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
    let mut at = None;
    let mut watts = Vec::new();
    for row in reader.records() {
        let row = row.map_err(|error| HourlyError::Csv(error.to_string()))?;
        let line = row.position().map_or(0, csv::Position::line);
        if at.is_none() {
            let header = row.iter().any(|cell| cell.parse::<f64>().is_err());
            let there = || row.iter().collect::<Vec<_>>().join(", ");
            let place = match (column, header) {
                (Some(wanted), _) => row
                    .iter()
                    .position(|cell| cell.eq_ignore_ascii_case(wanted))
                    .ok_or_else(|| HourlyError::NoColumn { wanted: wanted.into(), there: there() })?,
                (None, _) if row.len() > 1 => return Err(HourlyError::WhichColumn { there: there() }),
                (None, _) => 0,
            };
            at = Some(place);
            if header {
                continue;
            }
        }
        let cell = at.and_then(|at| row.get(at)).unwrap_or("");
        match cell.parse::<f64>() {
            Ok(value) if (0.0..=MOST_W).contains(&value) => watts.push(value),
            _ => return Err(HourlyError::Value { line, found: shown(cell) }),
        }
    }
    match watts.len() {
        24 | 168 if watts.iter().all(|&w| w == 0.0) => Err(HourlyError::AllZero),
        24 | 168 => Ok(watts),
        rows => Err(HourlyError::Rows { rows }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(values: impl Iterator<Item = f64>) -> String {
        values.map(|v| format!("{v}\n")).collect()
    }

    #[test]
    fn days_and_weeks_are_read() {
        let day = lines((0..24).map(f64::from));
        assert_eq!(parse(&day, None).unwrap(), (0..24).map(f64::from).collect::<Vec<_>>());
        assert_eq!(parse(&format!("# heater\nwatts\n{day}"), None).unwrap().len(), 24);
        let week: String = (0..168).map(|h| format!("{h},{}\n", h % 7)).collect();
        let week = format!("hour,Heater_W\n{week}");
        assert_eq!(parse(&week, Some("heater_w")).unwrap()[8], 1.0);
    }

    #[test]
    fn what_is_no_profile_is_refused_with_the_place() {
        let error = |text: &str, column| parse(text, column).unwrap_err().to_string();
        assert_eq!(
            error("1\n2\n", None),
            "has 2 hours; allowed: 24 (every day alike) or 168 (a week that begins on Monday)"
        );
        assert_eq!(error("watts\n1\n-2\n", None), "line 3: found \"-2\"; allowed: watts as a number, 0 to 100000");
        assert_eq!(error("watts\n1\nnan\n", None), "line 3: found \"nan\"; allowed: watts as a number, 0 to 100000");
        assert!(error("a,b\n1,2\n", None).starts_with("has several columns (a, b)"));
        assert_eq!(error("a,b\n1,2\n", Some("c")), "has no column `c`; its columns: a, b");
        assert_eq!(error(&lines((0..24).map(|_| 0.0)), None), "has no hour above 0 W");
        assert!(error("a,b\n1\n", Some("a")).starts_with("cannot be read as CSV"));
    }

    /// Between no power and a hundred kilowatts, both of which are allowed; a named column is found without its case, by its place; a
    /// line that lacks it is told by its number, comments counted.
    #[test]
    fn the_ends_of_what_is_allowed_are_allowed() {
        let day = |watts: &str| format!("{watts}\n{}", "0\n".repeat(23));
        assert_eq!(parse(&day("100000"), None).expect("a day")[0], 100_000.0);
        assert!(matches!(parse(&day("100000.5"), None), Err(HourlyError::Value { line: 1, .. })));
        assert_eq!(parse(&format!("a,B,c\n{}", "1,2,3\n".repeat(24)), Some("b")), Ok(vec![2.0; 24]));
        let marked = format!("\u{feff}# of a meter\nwatts\n{}", "5\n".repeat(24));
        assert_eq!(parse(&marked, None), Ok(vec![5.0; 24]));
        assert!(matches!(
            parse(&format!("# a\n{}x\n", "1\n".repeat(23)), None),
            Err(HourlyError::Value { line: 25, .. })
        ));
        assert_eq!(parse(&"1\n".repeat(25), None), Err(HourlyError::Rows { rows: 25 }));
        assert_eq!(parse(&"1\n".repeat(168), None), Ok(vec![1.0; 168]));
        assert_eq!(parse(&"0\n".repeat(168), None), Err(HourlyError::AllZero));
    }
}
