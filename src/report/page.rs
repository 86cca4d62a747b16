//! One self-contained HTML page: no script, nothing fetched, readable in the dark, in print and without pictures.

use std::fmt::Write as _;

/// A page of sections.
#[derive(Debug, Clone, Default)]
pub struct Page {
    /// Title of the page.
    pub title: String,
    /// The sentence that matters, as plain text.
    pub lead: String,
    /// What explains it, as plain text.
    pub under: String,
    /// Headings (plain text) and bodies (HTML).
    pub sections: Vec<(String, String)>,
}

const STYLE: &str = include_str!("page.css");

/// Plain text made safe inside HTML.
#[must_use]
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            _ => out.push(c),
        }
    }
    out
}

/// A paragraph of plain text.
#[must_use]
pub fn paragraph(text: &str) -> String {
    format!("<p>{}</p>\n", escape(text))
}

/// A list of plain texts.
#[must_use]
pub fn list<S: AsRef<str>>(items: &[S]) -> String {
    let mut out = String::from("<ul>\n");
    for item in items {
        let _ = writeln!(out, "<li>{}</li>", escape(item.as_ref()));
    }
    out.push_str("</ul>\n");
    out
}

/// A cell of a table.
#[derive(Debug, Clone)]
pub enum Cell {
    /// Plain text, set left.
    Text(String),
    /// Plain text, set right: numbers.
    Number(String),
    /// HTML made by this program.
    Html(String),
}

/// A table with a head.
#[must_use]
pub fn table(head: &[&str], rows: &[Vec<Cell>]) -> String {
    let mut out = String::from("<div class=\"scrolls\"><table>\n<thead><tr>");
    for (column, name) in head.iter().enumerate() {
        // A head stands over its numbers.
        let numbers = rows.iter().any(|row| matches!(row.get(column), Some(Cell::Number(_))));
        let class = if numbers { " class=\"number\"" } else { "" };
        let _ = write!(out, "<th{class}>{}</th>", escape(name));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for row in rows {
        out.push_str("<tr>");
        for cell in row {
            let _ = match cell {
                Cell::Text(text) => write!(out, "<td>{}</td>", escape(text)),
                Cell::Number(text) => write!(out, "<td class=\"number\">{}</td>", escape(text)),
                Cell::Html(html) => write!(out, "<td>{html}</td>"),
            };
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody></table></div>\n");
    out
}

impl Page {
    /// The whole page.
    #[must_use]
    pub fn html(&self) -> String {
        let mut out = format!(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" \
             content=\"width=device-width, initial-scale=1\">\n<title>{}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n\
             <header>\n<h1>{}</h1>\n",
            escape(&self.title),
            escape(&self.title)
        );
        if !self.lead.is_empty() {
            let _ = writeln!(out, "<p class=\"lead\">{}</p>", escape(&self.lead));
        }
        if !self.under.is_empty() {
            let _ = writeln!(out, "<p class=\"under\">{}</p>", escape(&self.under));
        }
        out.push_str("</header>\n<main>\n");
        for (heading, body) in &self.sections {
            let _ = write!(out, "<section>\n<h2>{}</h2>\n{body}</section>\n", escape(heading));
        }
        let _ = write!(
            out,
            "</main>\n<footer>tideover {}. A calculation, not advice: makers' manuals, local code and licensed people have the \
             last word.</footer>\n</body>\n</html>\n",
            env!("CARGO_PKG_VERSION")
        );
        out
    }
}
