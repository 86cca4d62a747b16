//! A document as text for a terminal or a file.

use std::borrow::Cow;

use super::{Align, Block, Cell, Column, Document, List, Narrow, Table};
use crate::report::chart;
use crate::report::figure::Picture;
use crate::visible::visible;

/// Width of text where nobody says how wide the terminal is.
pub const COLUMNS: usize = 132;

/// Sentences are broken at this width even where there is more room.
const SENTENCES: usize = 84;
/// Most columns of a picture, its marks on the left not counted.
const PICTURE: usize = 72;
/// Tables whose columns stay side by side are broken at this width.
const PIECES: usize = 96;
/// Longest bar in a table.
const BAR: usize = 24;
/// Least width that anything is made for.
const LEAST: usize = 30;

/// Breaks text into lines of at most `width` characters, each begun with `indent`.
#[must_use]
pub fn wrap(text: &str, indent: &str, width: usize) -> String {
    hung(text, indent, indent, width)
}

/// Units that stand behind a number.
const UNITS: [&str; 19] =
    ["%", "h", "min", "days", "day", "years", "Wh", "kWh", "W", "kW", "V", "A", "Ah", "L", "°C", "°F", "m", "K", "mm²"];

/// The words of a text; a number, its unit and its ± in one piece: no line ends between them.
pub(super) fn pieces(text: &str) -> Vec<String> {
    let number = |word: &str| {
        let word = word.rsplit(' ').next().unwrap_or_default().trim_start_matches(['(', '+', '-', '±']);
        word.starts_with(|c: char| c.is_ascii_digit()) && word.ends_with(|c: char| c.is_ascii_digit())
    };
    let unit = |word: &str| UNITS.contains(&word.trim_end_matches(['.', ',', ';', ':', ')', '?', '!', '"']));
    let mut out: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match out.last_mut() {
            Some(last) if (unit(word) && number(last)) || word == "±" || last.ends_with('±') => {
                last.push(' ');
                last.push_str(word);
            }
            _ => out.push(word.to_string()),
        }
    }
    out
}

/// The same with another beginning of the first line, as long as the others'.
fn hung(text: &str, first: &str, rest: &str, width: usize) -> String {
    let mut out = String::new();
    let mut line = String::new();
    let begin = |out: &String| if out.is_empty() { first } else { rest }.to_string();
    for word in &pieces(text) {
        let longer = line.chars().count() + usize::from(!line.is_empty()) + word.chars().count();
        if !line.is_empty() && rest.chars().count() + longer > width {
            let indent = begin(&out);
            out.push_str(&format!("{indent}{line}\n"));
            line.clear();
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    if !line.is_empty() {
        let indent = begin(&out);
        out.push_str(&format!("{indent}{line}\n"));
    }
    out
}

impl Document {
    /// The document as text at most `columns` wide, but for words and names that are longer.
    #[must_use]
    pub fn text(&self, columns: usize) -> String {
        let columns = columns.max(LEAST);
        let sentences = columns.min(SENTENCES);
        let mut out = wrap(&self.title, "", sentences);
        let mut headed = false;
        let mut head = String::new();
        for (at, block) in self.blocks.iter().enumerate() {
            let indent = if headed || matches!(block, Block::Under(_)) { "  " } else { "" };
            // Before the first head the parts stand apart; sentences may follow the title at once.
            let apart = match block {
                Block::Under(_) | Block::Heading(_) => false,
                Block::Paragraph(_) => at > 0,
                _ => at > 0 || !self.title.is_empty(),
            };
            if !headed && apart {
                out.push('\n');
            }
            let body = match block {
                Block::Heading(text) => {
                    headed = true;
                    head = format!("{}{text}\n", if out.is_empty() { "" } else { "\n" });
                    continue;
                }
                Block::Lead(text)
                | Block::Under(text)
                | Block::Paragraph(text)
                | Block::Caution(text)
                | Block::Foot(text) => wrap(text, indent, sentences),
                Block::List(list) => listed(list, sentences),
                Block::Entries(entries) => marked(entries, sentences),
                Block::Table(table) => tabled(table, columns),
                Block::Figure(figure) => match &figure.picture {
                    Picture::Matrix(matrix) => tabled(&matrix.table, columns),
                    _ => chart::text(figure, PICTURE.min(columns - 9)),
                },
                Block::Photograph(photograph) => wrap(&format!("Photograph: {}", photograph.name), indent, sentences),
                Block::Verbatim(text) => {
                    text.lines().map(|line| format!("  {line}").trim_end().to_string() + "\n").collect()
                }
            };
            // A head stands over something, or not at all.
            if !body.is_empty() {
                out.push_str(&std::mem::take(&mut head));
                out.push_str(&body);
            }
        }
        match visible(&out) {
            Cow::Borrowed(_) => out,
            Cow::Owned(shown) => shown,
        }
    }
}

fn listed(list: &List, width: usize) -> String {
    let digits = list.items.len().to_string().len();
    let item = |(at, text): (usize, &String)| {
        let mark = if list.numbered { format!("  {:>digits$}. ", at + 1) } else { "  - ".into() };
        hung(text, &mark, &" ".repeat(mark.len()), width)
    };
    list.items.iter().enumerate().map(item).collect()
}

/// Longest mark that sentences stand beside; longer ones have a line of their own.
pub(super) const MARK: usize = 12;

fn marked(entries: &[(String, Vec<String>)], width: usize) -> String {
    let longest = entries.iter().map(|(mark, _)| wide(mark)).max().unwrap_or(0);
    let beside = longest <= MARK;
    let rest = " ".repeat(if beside { longest + 4 } else { 6 });
    let mut out = String::new();
    for (mark, lines) in entries {
        if !beside {
            out.push_str(&hung(mark, "  ", "    ", width));
        }
        for (at, line) in lines.iter().enumerate() {
            let first = if beside && at == 0 { format!("  {mark:<longest$}  ") } else { rest.clone() };
            out.push_str(&hung(line, &first, &rest, width));
        }
    }
    out
}

fn shown(cell: &Cell) -> String {
    match cell {
        Cell::Text(text) => text.clone(),
        Cell::Bar(share) => chart::bar(*share, 1.0, BAR),
    }
}

fn wide(text: &str) -> usize {
    text.chars().count()
}

/// The heads and rows of some columns as text, heads first: one line of names, and one of units where there are any.
fn lines(table: &Table, picked: &[usize], heads: bool) -> Vec<Vec<String>> {
    let of = |get: fn(&Column) -> String| picked.iter().map(|&c| get(&table.columns[c])).collect::<Vec<String>>();
    let (names, units) = (of(|column| column.name.clone()), of(|column| column.unit.to_string()));
    let any = |cells: &[String]| heads && cells.iter().any(|cell| !cell.is_empty());
    let head = [any(&names).then(|| names.clone()), any(&units).then(|| units.clone())];
    let rows = table.rows.iter().map(|row| picked.iter().map(|&c| shown(&row[c])).collect());
    head.into_iter().flatten().chain(rows).collect()
}

/// How wide the columns of some lines are.
fn widths(lines: &[Vec<String>]) -> Vec<usize> {
    let columns = lines.first().map_or(0, Vec::len);
    (0..columns).map(|c| lines.iter().map(|line| wide(&line[c])).max().unwrap_or(0)).collect()
}

/// Lines of cells set side by side.
fn set(table: &Table, picked: &[usize], lines: &[Vec<String>], widths: &[usize], gap: usize) -> String {
    let gap = " ".repeat(gap);
    let mut out = String::new();
    for cells in lines {
        let mut line = String::new();
        for ((cell, &width), &column) in cells.iter().zip(widths).zip(picked) {
            let pad = " ".repeat(width - wide(cell));
            // A bar begins where its column does.
            let bar = table.rows.first().is_some_and(|row| matches!(row[column], Cell::Bar(_)));
            match table.columns[column].align {
                Align::Right if !bar => line.push_str(&format!("{gap}{pad}{cell}")),
                _ => line.push_str(&format!("{gap}{cell}{pad}")),
            }
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

fn tabled(table: &Table, columns: usize) -> String {
    let all: Vec<usize> = (0..table.columns.len()).collect();
    let whole = lines(table, &all, !table.bare);
    let all_widths = widths(&whole);
    let room = |widths: &[usize], gap: usize| gap * widths.len() + widths.iter().sum::<usize>();
    let scrolls = table.narrow == Narrow::Scrolls;
    let columns = if scrolls { columns.min(PIECES) } else { columns };
    if room(&all_widths, 2) <= columns || all.len() < 2 {
        return set(table, &all, &whole, &all_widths, 2);
    }
    if scrolls {
        return in_pieces(table, &all_widths, columns);
    }
    // The rows' names on lines of their own, the rest under them.
    let rest = lines(table, &all[1..], !table.bare);
    let rest_widths = widths(&rest);
    let heads = rest.len() - table.rows.len();
    if let Some(gap) = [2, 1].into_iter().find(|gap| room(&rest_widths, *gap) <= columns) {
        let mut out = set(table, &all[1..], &rest[..heads], &rest_widths, gap);
        for (row, line) in table.rows.iter().zip(&rest[heads..]) {
            out.push_str(&hung(&shown(&row[0]), "  ", "    ", columns));
            out.push_str(&set(table, &all[1..], std::slice::from_ref(line), &rest_widths, gap));
        }
        return out;
    }
    table.rows.iter().map(|row| stacked(table, row, columns.min(SENTENCES))).collect()
}

/// A row as a stack of its cells.
fn stacked(table: &Table, row: &[Cell], width: usize) -> String {
    let mut out = hung(&shown(&row[0]), "  ", "    ", width);
    for (column, cell) in table.columns.iter().zip(row).skip(1) {
        let text = shown(cell);
        if !text.is_empty() && text != "-" {
            let head = [column.name.as_str(), column.unit].into_iter().filter(|part| !part.is_empty());
            let head = head.collect::<Vec<_>>().join(", ");
            let named = if head.is_empty() { text } else { format!("{head}: {text}") };
            out.push_str(&hung(&named, "    ", "      ", width));
        }
    }
    out
}

/// The columns in several tables, each as wide as there is room for and all about as wide, the first column in each.
fn in_pieces(table: &Table, all_widths: &[usize], columns: usize) -> String {
    let each = all_widths[1..].iter().max().map_or(1, |width| width + 2);
    let room = columns.saturating_sub(all_widths[0] + 2);
    let (most, rest) = ((room / each).max(1), all_widths.len() - 1);
    let a_piece = rest.div_ceil(rest.div_ceil(most)).max(1);
    let rest: Vec<usize> = (1..all_widths.len()).collect();
    let piece = |some: &[usize]| {
        let picked: Vec<usize> = std::iter::once(0).chain(some.iter().copied()).collect();
        let lines = lines(table, &picked, !table.bare);
        let widths = widths(&lines);
        set(table, &picked, &lines, &widths, 2)
    };
    rest.chunks(a_piece).map(piece).collect()
}
