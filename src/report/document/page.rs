//! A document as HTML: one self-contained page without script, nothing fetched, readable in the dark, in print, without
//! pictures and on a small screen; or its sections one by one.

use std::fmt::Write as _;

use super::text::{MARK, pieces};
use super::{Align, Block, Cell, Column, Document, List, Narrow, Sheet, Table};
use crate::report::figure::{Figure, Grid, Matrix, Picture};
use crate::report::svg;
use crate::visible::visible;

/// The look of a page.
pub const STYLE: &str = include_str!("page.css");

/// From so many columns on a table becomes stacks on middling screens too.
const MANY: usize = 5;

/// Columns of marks that fit beside each other from a middling screen on; with more of them no screen shows all.
const FIT: usize = 8;

/// A section of a page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fragment {
    /// Its heading, plain text; empty for what stands before the first.
    pub heading: String,
    /// Its body as HTML, without the heading.
    pub html: String,
}

/// Plain text made safe inside HTML.
#[must_use]
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in visible(text).chars() {
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

/// Sentences inside HTML, in which no line ends within a range ("43-83") or between a number and its unit.
fn prose(text: &str) -> String {
    let whole = |piece: &String| {
        let range = piece.as_bytes().windows(3).any(|w| w[0].is_ascii_digit() && w[1] == b'-' && w[2].is_ascii_digit());
        let shown = escape(piece);
        if range || piece.contains(' ') { format!("<span class=\"whole\">{shown}</span>") } else { shown }
    };
    pieces(text).iter().map(whole).collect::<Vec<_>>().join(" ")
}

impl Document {
    /// The document's sections, for a page that [`STYLE`] applies to.
    #[must_use]
    pub fn fragments(&self) -> Vec<Fragment> {
        self.sections(self.blocks.iter())
    }

    fn sections<'a>(&self, blocks: impl Iterator<Item = &'a Block>) -> Vec<Fragment> {
        let mut sections = vec![Fragment::default()];
        for block in blocks {
            if let Block::Heading(heading) = block {
                sections.push(Fragment { heading: heading.clone(), html: String::new() });
            } else if let Some(section) = sections.last_mut() {
                let html = html(block, &section.heading);
                section.html.push_str(&html);
            }
        }
        sections
    }

    /// The whole page.
    #[must_use]
    pub fn page(&self) -> String {
        let title = escape(&self.title);
        let sheet = match self.sheet {
            Sheet::Any => "",
            Sheet::Small => " class=\"small\"",
            Sheet::Large => " class=\"large\"",
            Sheet::Full => " class=\"large full\"",
        };
        let mut out = format!(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" \
             content=\"width=device-width, initial-scale=1\">\n<title>{title}</title>\n<style>\n{STYLE}</style>\n</head>\n\
             <body{sheet}>\n<header>\n<h1>{title}</h1>\n"
        );
        // What belongs to the foot of the page stands with what every page says there.
        let (feet, face): (Vec<&Block>, Vec<&Block>) =
            self.blocks.iter().partition(|block| matches!(block, Block::Foot(_)));
        let face = face.into_iter();
        for (at, Fragment { heading, html }) in self.sections(face).into_iter().enumerate() {
            let _ = match at {
                0 => write!(out, "{html}</header>\n<main>\n"),
                _ => write!(out, "<section>\n<h2>{}</h2>\n{html}</section>\n", escape(&heading)),
            };
        }
        let _ = write!(
            out,
            "</main>\n<footer>{}tideover {}. A calculation, not advice: makers' manuals, local code and licensed people have the \
             last word.</footer>\n</body>\n</html>\n",
            feet.into_iter().map(|block| html(block, "")).collect::<String>(),
            env!("CARGO_PKG_VERSION")
        );
        out
    }
}

/// * `heading` — of the section it stands in.
fn html(block: &Block, heading: &str) -> String {
    let paragraph = |class: &str, text: &str| format!("<p{class}>{}</p>\n", prose(text));
    match block {
        // Begins a section and is written there.
        Block::Heading(_) => String::new(),
        Block::Lead(text) => paragraph(" class=\"lead\"", text),
        Block::Under(text) => paragraph(" class=\"under\"", text),
        Block::Paragraph(text) => paragraph("", text),
        Block::Caution(text) => paragraph(" class=\"caution\"", text),
        Block::Foot(text) => paragraph(" class=\"foot\"", text),
        Block::List(list) => listed(list),
        Block::Entries(entries) => {
            let lines = |lines: &[String]| lines.iter().map(|line| prose(line)).collect::<Vec<_>>().join("<br>");
            let entry =
                |(mark, text): &(String, Vec<String>)| format!("<dt>{}</dt><dd>{}</dd>\n", escape(mark), lines(text));
            let short = entries.iter().all(|(mark, _)| mark.chars().count() <= MARK);
            let class = if short { " class=\"marks\"" } else { "" };
            format!("<dl{class}>\n{}</dl>\n", entries.iter().map(entry).collect::<String>())
        }
        Block::Table(table) => tabled(table, heading),
        Block::Figure(figure) => drawn(figure, heading),
        Block::Verbatim(text) => format!("<pre>{}</pre>\n", escape(text)),
        Block::Photograph(photograph) => {
            let name = escape(&photograph.name);
            let (media, data) = (photograph.media, &photograph.base64);
            format!(
                "<figure>\n<img alt=\"{name}\" src=\"data:{media};base64,{data}\" style=\"max-width: 100%; max-height: 60vh\">\n\
                 <figcaption>{name}</figcaption>\n</figure>\n"
            )
        }
    }
}

fn listed(list: &List) -> String {
    let tag = if list.numbered { "ol" } else { "ul" };
    let items: String = list.items.iter().map(|item| format!("<li>{}</li>\n", prose(item))).collect();
    format!("<{tag}>\n{items}</{tag}>\n")
}

fn drawn(figure: &Figure, heading: &str) -> String {
    let legend = match figure.legend.as_str() {
        "" => String::new(),
        legend => format!("<figcaption>{}</figcaption>\n", prose(legend)),
    };
    let picture = match &figure.picture {
        Picture::Grid(grid) => shaded(grid, heading),
        Picture::Matrix(matrix) => marked(matrix, heading),
        _ => svg::figure(figure),
    };
    format!("<figure class=\"{}\">\n{picture}{legend}</figure>\n", escape(figure.name))
}

/// A frame that scrolls by itself, and says so on small screens.
fn frame(class: &str, heading: &str, table: &str) -> String {
    // A reader without a mouse must be able to scroll it.
    format!(
        "<div class=\"frame {class}\" tabindex=\"0\" role=\"region\" aria-label=\"{}\"><table>\n{table}</table></div>\n",
        escape(if heading.is_empty() { "table" } else { heading })
    )
}

fn head_of(column: &Column) -> String {
    let name = if column.short.is_empty() { &column.name } else { &column.short };
    if column.unit.is_empty() {
        name.clone()
    } else {
        format!("{name}, {}", column.unit).trim_start_matches(", ").into()
    }
}

fn tabled(table: &Table, heading: &str) -> String {
    let right = |column: &Column| column.align == Align::Right;
    let class = |column: &Column| if right(column) { " class=\"number\"" } else { "" };
    let mut out = String::new();
    if table.columns.iter().any(|column| !head_of(column).is_empty()) {
        out.push_str("<thead><tr>");
        for column in &table.columns {
            let name = Column { short: String::new(), ..column.clone() };
            let name = if column.name.is_empty() { head_of(column) } else { head_of(&name) };
            let _ = write!(out, "<th scope=\"col\"{}>{}</th>", class(column), escape(&name));
        }
        out.push_str("</tr></thead>\n");
    }
    out.push_str("<tbody>\n");
    for (at, row) in table.rows.iter().enumerate() {
        let _ = match table.anchors.get(at) {
            Some(anchor) => write!(out, "<tr id=\"{}\">", escape(anchor)),
            None => write!(out, "<tr>"),
        };
        for (k, (column, cell)) in table.columns.iter().zip(row).enumerate() {
            let body = match cell {
                Cell::Text(text) => prose(text),
                Cell::Bar(share) => svg::bar(*share),
            };
            let _ = match k {
                0 => write!(out, "<th scope=\"row\"{}>{body}</th>", class(column)),
                // Where rows are stacks there is no need for a cell that says nothing.
                _ if body == "-" => {
                    write!(out, "<td class=\"{}none\">-</td>", if right(column) { "number " } else { "" })
                }
                _ => write!(out, "<td{} data-head=\"{}\">{body}</td>", class(column), escape(&head_of(column))),
            };
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>");
    let class = match table.narrow {
        Narrow::Scrolls => "scrolls",
        Narrow::Stacks if !table.anchors.is_empty() => "stacks many reasons",
        Narrow::Stacks if table.columns.len() >= MANY => "stacks many",
        Narrow::Stacks => "stacks",
    };
    frame(class, heading, &out)
}

/// A grid as a table whose cells are shaded by tenths; a thick line parts those within the contour from the others.
fn shaded(grid: &Grid, heading: &str) -> String {
    let heads: String = grid.heads.iter().map(|head| format!("<th scope=\"col\">{}</th>", escape(head))).collect();
    let mut out = format!(
        "<thead><tr><td></td><th scope=\"colgroup\" colspan=\"{}\" class=\"across\">{}</th></tr>\n<tr><th \
         scope=\"col\">{}</th>{heads}</tr></thead>\n<tbody>\n",
        grid.heads.len(),
        escape(&grid.across),
        escape(&grid.down)
    );
    let within = |row: Option<usize>, at: Option<usize>| {
        let cell = grid.rows.get(row?)?.1.get(at?)?;
        Some(grid.contour.is_some_and(|contour| contour <= cell.1))
    };
    let marks = grid.rows.iter().flat_map(|(_, cells)| cells).any(|(text, _)| text.ends_with(['*', '=']));
    for (row, (name, cells)) in grid.rows.iter().enumerate() {
        let _ = write!(out, "<tr><th scope=\"row\">{}</th>", escape(name));
        for (at, (text, share)) in cells.iter().enumerate() {
            let tenth = (share.clamp(0.0, 1.0) * 10.0).floor();
            let mut class = format!("t{tenth:.0}");
            if within(Some(row), Some(at)) == Some(true) {
                let sides = [
                    (within(row.checked_sub(1), Some(at)), " above"),
                    (within(Some(row + 1), Some(at)), " below"),
                    (within(Some(row), at.checked_sub(1)), " before"),
                    (within(Some(row), Some(at + 1)), " behind"),
                ];
                sides.iter().filter(|(other, _)| *other == Some(false)).for_each(|(_, side)| class.push_str(side));
            }
            // A mark behind a number has a place of its own, so that the numbers stand in line.
            let number = text.trim_end_matches([' ', '*', '=']);
            let mark = if marks { format!("<i>{}</i>", text[number.len()..].trim()) } else { String::new() };
            let _ = write!(out, "<td class=\"{class}\">{}{mark}</td>", escape(number.trim()));
        }
        out.push_str("</tr>\n");
    }
    frame("scrolls grid", heading, &(out + "</tbody>"))
}

/// Marks in a table: shaded, and each a link to its reason.
fn marked(matrix: &Matrix, heading: &str) -> String {
    let columns = matrix.table.columns.iter();
    let head = |(k, column): (usize, &Column)| match k.checked_sub(1).and_then(|k| matrix.heads.get(k)) {
        Some(whole) => format!("<th scope=\"col\"><b>{}</b> {}</th>", escape(&column.name), escape(whole)),
        None => format!("<th scope=\"col\">{}</th>", escape(&column.name)),
    };
    let mut out = format!("<thead><tr>{}</tr></thead>\n<tbody>\n", columns.enumerate().map(head).collect::<String>());
    let text = |cell: &Cell| match cell {
        Cell::Text(text) => escape(text.trim()),
        Cell::Bar(share) => svg::bar(*share),
    };
    for (row, cells) in matrix.table.rows.iter().zip(&matrix.cells) {
        let _ = write!(out, "<tr><th scope=\"row\">{}</th>", row.first().map(text).unwrap_or_default());
        for (cell, (shade, to)) in row.iter().skip(1).zip(cells) {
            let _ = write!(out, "<td class=\"m{shade}\"><a href=\"#{}\">{}</a></td>", escape(to), text(cell));
        }
        out.push_str("</tr>\n");
    }
    let class = if matrix.heads.len() > FIT { "scrolls matrix long" } else { "scrolls matrix" };
    frame(class, heading, &(out + "</tbody>"))
}
