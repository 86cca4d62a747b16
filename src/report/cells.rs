//! Cells of CSV (RFC 4180).

use std::borrow::Cow;

use crate::visible::visible;

/// A text for a cell that a spreadsheet shall show and not work out: one that begins like a formula gets an apostrophe before it,
/// unless it is a plain number (OWASP, "CSV Injection"). What would turn the direction of writing is written out.
#[must_use]
pub fn harmless(text: &str) -> Cow<'_, str> {
    let text = visible(text);
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) && text.parse::<f64>().is_err() {
        Cow::Owned(format!("'{text}"))
    } else {
        text
    }
}

/// A text as a cell, harmless, in quotation marks where it needs them.
#[must_use]
pub fn cell(text: &str) -> String {
    let text = harmless(text);
    if text.contains([',', '"', '\n', '\r']) { format!("\"{}\"", text.replace('"', "\"\"")) } else { text.into_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_shown_and_numbers_stay_numbers() {
        for (text, wanted) in [
            ("fridge", "fridge"),
            ("a, b", "\"a, b\""),
            ("say \"hi\"", "\"say \"\"hi\"\"\""),
            ("=1+1", "'=1+1"),
            ("@SUM(A1)", "'@SUM(A1)"),
            ("+1,cmd", "\"'+1,cmd\""),
            ("-2+3", "'-2+3"),
            ("\tx", "'\tx"),
            ("gnp\u{202e}.exe", "gnp\\u202E.exe"),
            ("=\u{2066}1", "'=\\u20661"),
            ("-2.5e-3", "-2.5e-3"),
            ("+7", "+7"),
            ("a=b", "a=b"),
            ("", ""),
        ] {
            assert_eq!(cell(text), wanted);
            let line = format!("{},end\n", cell(text));
            let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(line.as_bytes());
            let row = reader.records().next().expect("a row").expect("CSV");
            assert_eq!(row.len(), 2, "{text}");
            assert_eq!(row.get(0), Some(&*harmless(text)));
        }
    }
}
