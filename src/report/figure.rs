//! Pictures, data first: named columns with units, what kind of picture they make, and what it shows in words. Characters
//! ([`super::chart`]) and SVG ([`super::svg`]) are drawn from the same columns.

mod words;

use std::fmt::Write as _;

use super::cells::cell;
use super::document::Table;
use crate::math;

/// A picture with its data.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// A short name, for files and anchors.
    pub name: &'static str,
    /// What it shows, for readers that cannot see it.
    pub title: String,
    /// The columns, all of the same length.
    pub data: Vec<Data>,
    /// What is drawn of them.
    pub picture: Picture,
    /// How to read it; may be empty.
    pub legend: String,
    /// Whether text leaves it out, where the numbers stand beside it.
    pub quiet: bool,
}

/// A column of data.
#[derive(Debug, Clone, PartialEq)]
pub struct Data {
    /// Its name: for a line or a band, what a key calls it.
    pub name: String,
    /// Its unit, as it stands at the end of a name: `h`, `percent`; empty for a plain number.
    pub unit: &'static str,
    /// Its values.
    pub values: Values,
}

/// The values of a column.
#[derive(Debug, Clone, PartialEq)]
pub enum Values {
    /// Numbers; NaN where there is none.
    Numbers(Vec<f64>),
    /// Names.
    Names(Vec<String>),
}

impl Data {
    /// Numbers.
    #[must_use]
    pub fn numbers(name: impl Into<String>, unit: &'static str, values: impl IntoIterator<Item = f64>) -> Data {
        Data { name: name.into(), unit, values: Values::Numbers(values.into_iter().collect()) }
    }

    /// Names.
    #[must_use]
    pub fn names<S: Into<String>>(name: impl Into<String>, values: impl IntoIterator<Item = S>) -> Data {
        Data { name: name.into(), unit: "", values: Values::Names(values.into_iter().map(Into::into).collect()) }
    }

    fn cell(&self, row: usize) -> String {
        match &self.values {
            Values::Numbers(numbers) => match numbers.get(row) {
                Some(number) if number.is_finite() => number.to_string(),
                _ => String::new(),
            },
            Values::Names(names) => names.get(row).cloned().unwrap_or_default(),
        }
    }

    fn rows(&self) -> usize {
        match &self.values {
            Values::Numbers(numbers) => numbers.len(),
            Values::Names(names) => names.len(),
        }
    }
}

/// An axis.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Axis {
    /// Its name and unit.
    pub name: String,
    /// Where it begins.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
    /// Places with labels.
    pub marks: Vec<(f64, String)>,
}

impl Axis {
    /// With about so many marks at round numbers.
    #[must_use]
    pub fn new(name: impl Into<String>, (from, to): (f64, f64), marks: usize) -> Axis {
        Axis { name: name.into(), from, to, marks: round_marks(from, to, marks) }
    }

    /// The same for things that are counted: no mark between two of them.
    #[must_use]
    pub fn counted(name: impl Into<String>, range: (f64, f64), marks: usize) -> Axis {
        let mut axis = Axis::new(name, range, marks);
        axis.marks.retain(|(at, _)| (at - at.round()).abs() < 1e-9);
        axis
    }

    /// The hours of an outage, from two days on marked by days.
    ///
    /// * `since` — from when they are counted.
    #[must_use]
    pub fn hours(hours: f64, since: &str) -> Axis {
        if hours < 48.0 {
            return Axis::new(format!("hours since {since}"), (0.0, hours), 8);
        }
        let days = Axis::counted(format!("days since {since}"), (0.0, hours / 24.0), 8);
        Axis {
            from: 0.0,
            to: hours,
            marks: days.marks.into_iter().map(|(d, label)| (d * 24.0, label)).collect(),
            ..days
        }
    }

    /// The clock from the midnight before the lights went out: by days, or by hours where there are but one or two.
    #[must_use]
    pub fn clock(hours: f64) -> Axis {
        let days = (hours / 24.0).ceil().max(1.0);
        if days <= 2.0 {
            let marks = (0..=(hours / 6.0).floor() as u32).map(|k| (f64::from(6 * k), format!("{:02}:00", 6 * k % 24)));
            return Axis { name: "clock".into(), from: 0.0, to: hours, marks: marks.collect() };
        }
        let every = (days / 8.0).ceil();
        let noon = |k: u32| (f64::from(k) * every * 24.0 + 12.0, format!("{}", f64::from(k) * every + 1.0));
        let marks = (0..(days / every).ceil() as u32).map(noon).filter(|(at, _)| *at < hours).collect();
        Axis { name: "calendar day of the outage, noon marked".into(), from: 0.0, to: hours, marks }
    }

    /// Named places, one after another from 0.
    #[must_use]
    pub fn places(names: &[String]) -> Axis {
        let marks = names.iter().enumerate().map(|(k, name)| (k as f64, name.clone())).collect();
        Axis { name: String::new(), from: -0.5, to: names.len() as f64 - 0.5, marks }
    }

    /// With a little room about some values.
    #[must_use]
    pub fn about(name: impl Into<String>, values: impl Iterator<Item = f64>, at_most: f64) -> Axis {
        let (low, high) = values
            .filter(|value| value.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
        let (low, high) = if low <= high { (low, high) } else { (0.0, 1.0) };
        let room = (0.08 * (high - low)).max(0.02 * high.abs()).max(1e-3);
        Axis::new(name, ((low - room).max(0.0), (high + room).min(at_most)), 5)
    }
}

/// A band between two columns of a chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Index of the column of its lower edge.
    pub low: usize,
    /// Index of the column of its upper edge.
    pub high: usize,
    /// What lies in it.
    pub holds: &'static str,
}

/// Values with their ranges in a chart, one a row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Points {
    /// Index of the column of values.
    pub value: usize,
    /// Index of the column of lower ends.
    pub low: usize,
    /// Index of the column of upper ends.
    pub high: usize,
    /// Index of the column of names, where each point stands for something else.
    pub names: Option<usize>,
}

/// Lines, bands and points over a common axis.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Chart {
    /// The horizontal axis.
    pub x: Axis,
    /// The vertical axis.
    pub y: Axis,
    /// Index of the column along the horizontal axis.
    pub over: usize,
    /// Rows that are drawn, from the first on.
    pub rows: usize,
    /// Indices of the columns drawn as lines.
    pub lines: Vec<usize>,
    /// Bands, the widest first, drawn under the lines.
    pub bands: Vec<Band>,
    /// Points, drawn over the lines.
    pub points: Option<Points>,
    /// A level that nothing goes below, 0 for none.
    pub floor: f64,
    /// Stretches of the horizontal axis that are night.
    pub nights: Vec<(f64, f64)>,
    /// What the first line is, where that is more than its column's name; characters draw no other.
    pub first_line: &'static str,
}

/// Shares along a common axis, one row a column of data \[percent\].
#[derive(Debug, Clone, PartialEq)]
pub struct Strip {
    /// The axis.
    pub x: Axis,
    /// Index of the column along it: where each stretch begins.
    pub over: usize,
    /// Length of a stretch.
    pub each: f64,
    /// Indices of the columns that are rows; their names are the rows'.
    pub shown: Vec<usize>,
    /// Stretches of the axis that are night.
    pub nights: Vec<(f64, f64)>,
}

/// What flows in and out, as much in as out: the columns are the side (`in` or `out`), what, and how much.
#[derive(Debug, Clone, PartialEq)]
pub struct Flows {
    /// What each row comes to, in words.
    pub told: Vec<String>,
    /// Whether each row is lost or left over, and not what it is all for.
    pub lost: Vec<bool>,
}

/// Ranges on a common scale, one a row: the columns are a name, lower end, value, upper end, and where there are six the
/// ends of the middle half.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranges {
    /// The scale.
    pub axis: Axis,
    /// A place to hold them against.
    pub zero: Option<f64>,
    /// A stretch to hold them against.
    pub band: Option<(f64, f64)>,
    /// Rows, from 0, that the stretch says nothing of.
    pub unbanded: Vec<usize>,
}

/// Shares of one thing against two others.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// What the rows are.
    pub down: String,
    /// What the columns are.
    pub across: String,
    /// Heads of the columns.
    pub heads: Vec<String>,
    /// Rows from the top: their name, and each cell's words and share, 0 to 1.
    pub rows: Vec<(String, Vec<(String, f64)>)>,
    /// The share from which on cells lie within the contour.
    pub contour: Option<f64>,
}

/// Marks in a table, each with its reason.
#[derive(Debug, Clone, PartialEq)]
pub struct Matrix {
    /// The same as a table for text; its first column names the rows.
    pub table: Table,
    /// Heads of the columns behind the first where there is room: the name that each letter stands for.
    pub heads: Vec<String>,
    /// Row by row: how strongly each cell is shaded, 0 (not), 2 to 4, or [`HATCHED`]; and where its reason stands on the page.
    pub cells: Vec<Vec<(u8, String)>>,
}

/// Shade of a cell that is struck out.
pub const HATCHED: u8 = 5;

/// What is drawn.
#[derive(Debug, Clone, PartialEq)]
pub enum Picture {
    /// See [`Chart`].
    Chart(Chart),
    /// See [`Ranges`].
    Ranges(Ranges),
    /// See [`Grid`].
    Grid(Grid),
    /// See [`Strip`].
    Strip(Strip),
    /// See [`Flows`].
    Flows(Flows),
    /// See [`Matrix`].
    Matrix(Matrix),
}

impl Figure {
    /// The numbers of a column; none where it holds names.
    #[must_use]
    pub fn numbers(&self, column: usize) -> &[f64] {
        match self.data.get(column).map(|data| &data.values) {
            Some(Values::Numbers(numbers)) => numbers,
            _ => &[],
        }
    }

    /// The names of a column; none where it holds numbers.
    #[must_use]
    pub fn names(&self, column: usize) -> &[String] {
        match self.data.get(column).map(|data| &data.values) {
            Some(Values::Names(names)) => names,
            _ => &[],
        }
    }

    /// The data as CSV, units at the ends of the names.
    #[must_use]
    pub fn csv(&self) -> String {
        let head = |data: &Data| match data.unit {
            "" => cell(&data.name),
            unit => cell(&format!("{}_{unit}", data.name)),
        };
        let mut out = self.data.iter().map(head).collect::<Vec<_>>().join(",") + "\n";
        for row in 0..self.data.first().map_or(0, Data::rows) {
            let cells: Vec<String> = self.data.iter().map(|data| cell(&data.cell(row))).collect();
            let _ = writeln!(out, "{}", cells.join(","));
        }
        out
    }
}

/// A number with at most two decimals and no trailing zeros.
#[must_use]
pub fn short(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.to_string() }
}

/// Marks at round numbers over a range: about `count` of them, with a unit on none.
#[must_use]
pub fn round_marks(from: f64, to: f64, count: usize) -> Vec<(f64, String)> {
    let rough = (to - from) / count.max(1) as f64;
    if !(rough.is_finite() && rough > 0.0) {
        return Vec::new();
    }
    let power = math::pow(10.0, math::log10(rough).floor());
    let step = [1.0, 2.0, 2.5, 5.0, 10.0].into_iter().map(|s| s * power).find(|s| *s >= rough).unwrap_or(10.0 * power);
    let first = (from / step).ceil() as i64;
    let last = ((to / step) + 1e-9).floor() as i64;
    (first..=last).map(|k| (k as f64 * step, short(k as f64 * step))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(marks: &[(f64, String)]) -> String {
        marks.iter().map(|(_, label)| label.as_str()).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn marks_stand_at_round_numbers() {
        let marks = |from, to, n| labels(&round_marks(from, to, n));
        assert_eq!(marks(0.0, 100.0, 5), "0 20 40 60 80 100");
        assert_eq!(marks(0.0, 1.0, 4), "0 0.25 0.5 0.75 1");
        assert_eq!(marks(-3.0, 3.0, 3), "-2 0 2");
        assert_eq!(marks(1.0, 1.0, 3), "");
    }

    #[test]
    fn nobody_counts_half_a_panel_and_an_outage_is_marked_by_whole_days() {
        assert_eq!(labels(&round_marks(0.0, 20.0, 8)), "0 2.5 5 7.5 10 12.5 15 17.5 20");
        assert_eq!(labels(&Axis::counted("panels", (0.0, 20.0), 8).marks), "0 5 10 15 20");
        let axis = Axis::hours(96.0, "it began");
        assert_eq!((labels(&axis.marks).as_str(), axis.marks[1].0, axis.to), ("0 1 2 3 4", 24.0, 96.0));
        assert_eq!(labels(&Axis::hours(10.0, "it began").marks), "0 2 4 6 8 10");
    }

    #[test]
    fn data_are_told_with_names_and_units_and_nothing_for_what_is_not_there() {
        let figure = Figure {
            name: "x",
            title: String::new(),
            data: vec![
                Data::names("kit", ["a, \"b\"", "c"]),
                Data::numbers("after", "h", [1.5, 2.0]),
                Data::numbers("p50", "percent", [f64::NAN, 43.0]),
            ],
            picture: Picture::Grid(Grid {
                down: String::new(),
                across: String::new(),
                heads: vec![],
                rows: vec![],
                contour: None,
            }),
            legend: String::new(),
            quiet: false,
        };
        assert_eq!(figure.csv(), "kit,after_h,p50_percent\n\"a, \"\"b\"\"\",1.5,\nc,2,43\n");
    }
}
