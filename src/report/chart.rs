//! Pictures for the terminal: characters only, no colour needed.

use super::figure::{Chart, Figure, Grid, Picture, Ranges, Strip};

/// Rows of a chart between the ends of its axis.
const ROWS: usize = 11;
/// Most characters of a scale for ranges, and of the names before it.
const SCALE: usize = 51;
const NAME: usize = 24;

/// A figure as text at most `columns` wide, marks on the left not counted; nothing where its numbers stand beside it, or
/// where lines alone are to be drawn.
#[must_use]
pub fn text(figure: &Figure, columns: usize) -> String {
    let picture = match &figure.picture {
        _ if figure.quiet => return String::new(),
        Picture::Chart(chart) => fan(figure, chart, columns),
        Picture::Ranges(ranges) => scale(figure, ranges, columns),
        Picture::Grid(table) => grid(table),
        Picture::Strip(parts) => strip(figure, parts, columns),
        // The numbers stand beside the one; a document sets the other as a table.
        Picture::Flows(_) | Picture::Matrix(_) => return String::new(),
    };
    let legend = match &figure.picture {
        Picture::Chart(_) => String::new(),
        Picture::Strip(_) => super::document::wrap(STRIP, "  ", columns.max(NAME) + 9),
        _ => super::document::wrap(&figure.legend, "  ", columns.max(NAME) + 9),
    };
    picture + &legend
}

/// A line within its widest band over the hours of an outage: `#` where the line stands, `:` in the band, `_` the floor.
fn fan(figure: &Figure, chart: &Chart, columns: usize) -> String {
    let (Some(line), Some(band)) = (chart.lines.first(), chart.bands.first()) else { return String::new() };
    let steps = chart.rows;
    if steps == 0 || columns == 0 || chart.first_line.is_empty() {
        return String::new();
    }
    // A column stands for the last step it covers: charge at its end.
    let wide = steps.min(columns);
    let step_of = |column: usize| ((column + 1) * steps).div_ceil(wide) - 1;
    let row_of = |value: f64| (value.clamp(chart.y.from, chart.y.to) / chart.y.to * (ROWS - 1) as f64).round() as usize;
    let mut cells = vec![vec![' '; wide]; ROWS];
    if chart.floor > 0.0 {
        cells[row_of(chart.floor)].fill('_');
    }
    for column in 0..wide {
        let at = |column_of_data: usize| figure.numbers(column_of_data)[step_of(column)];
        let (low, middle, high) = (at(band.low), at(*line), at(band.high));
        if low.is_nan() || middle.is_nan() || high.is_nan() {
            continue;
        }
        for row in &mut cells[row_of(low)..=row_of(high)] {
            row[column] = ':';
        }
        cells[row_of(middle)][column] = '#';
    }
    let mut out = String::new();
    for (row, cells) in cells.iter().enumerate().rev() {
        let label = if row % 2 == 0 { format!("{:>4} %", row * 10) } else { String::new() };
        let line: String = cells.iter().collect();
        out.push_str(&format!("{label:>7} |{}\n", line.trim_end()));
    }
    let hours = figure.numbers(chart.over)[steps - 1];
    out.push_str(&format!("{:>7} +{}\n", "", axis(wide, hours)));
    out.push_str(&format!("{:>8} {}\n", "", day_labels(wide, hours)));
    let (line, band) = (format!("  # {}", chart.first_line), format!(": {}", band.holds));
    // On one line where there is room beside the chart's axis.
    let gap = if line.chars().count() + 3 + band.chars().count() <= columns + 9 { "   " } else { "\n  " };
    out + &line + gap + &band + "\n"
}

fn axis(wide: usize, hours: f64) -> String {
    let mut marks = vec!['-'; wide];
    for (column, _) in days(wide, hours) {
        marks[column] = '+';
    }
    marks.into_iter().collect()
}

/// Columns at which days of the outage end, with their number.
fn days(wide: usize, hours: f64) -> Vec<(usize, usize)> {
    let columns_a_day = wide as f64 * 24.0 / hours;
    let every = (6.0 / columns_a_day).ceil().max(1.0) as usize;
    (1..=(hours / 24.0).floor() as usize)
        .filter(|day| day % every == 0)
        .map(|day| (((day as f64 * columns_a_day).round() as usize).clamp(1, wide) - 1, day))
        .collect()
}

fn day_labels(wide: usize, hours: f64) -> String {
    let marks = days(wide, hours);
    if marks.is_empty() {
        return format!("{hours:.0} h");
    }
    let mut line = String::new();
    for (column, day) in marks {
        let label = if line.is_empty() { format!("{} h", 24 * day) } else { (24 * day).to_string() };
        let start = (column + 1).saturating_sub(label.len());
        while line.len() < start {
            line.push(' ');
        }
        line.push_str(&label);
    }
    line
}

/// How often a share is reached: none, below a tenth, a quarter, a half, and from there on.
const INK: [(f64, char); 5] = [(0.0, ' '), (10.0, '.'), (25.0, ':'), (50.0, '+'), (f64::INFINITY, '#')];

/// How to read a strip.
const STRIP: &str = "Of 100 outages running at that hour, dark in: . fewer than 10, : fewer than 25, + fewer than 50, # half or \
                     more; n night. Day 1 is the day on which it begins.";

/// Rows of shares over the hours: the mean of what each character covers, and where it is night.
fn strip(figure: &Figure, strip: &Strip, columns: usize) -> String {
    let along = figure.numbers(strip.over);
    let names: Vec<&str> = strip.shown.iter().map(|&column| figure.data[column].name.as_str()).collect();
    let name_width = names.iter().map(|name| name.chars().count()).max().unwrap_or(0).min(NAME);
    let room = (columns + 9).saturating_sub(name_width + 5).max(11);
    // A character stands for as many whole stretches as it takes.
    let each = along.len().div_ceil(room).max(1);
    let wide = along.len().div_ceil(each);
    let mut out = String::new();
    let mut row = |name: &str, marks: &dyn Fn(usize) -> char| {
        let name: String = name.chars().take(NAME).collect();
        out.push_str(&format!("  {name:<name_width$} |{}|\n", (0..wide).map(marks).collect::<String>()));
    };
    for (name, &column) in names.iter().zip(&strip.shown) {
        row(name, &|at| {
            let shares = figure.numbers(column).iter().skip(at * each).take(each).copied().filter(|s| s.is_finite());
            let (sum, n) = shares.fold((0.0, 0), |(sum, n), share| (sum + share, n + 1));
            let share = if n > 0 { sum / f64::from(n) } else { 0.0 };
            INK.iter().find(|(below, _)| share <= 0.0 || share < *below).map_or('#', |(_, ink)| *ink)
        });
    }
    row("", &|at| {
        let middle = along.get(at * each).map_or(f64::NAN, |from| from + 0.5 * each as f64 * strip.each);
        if strip.nights.iter().any(|(from, to)| (*from..*to).contains(&middle)) { 'n' } else { '-' }
    });
    let at = |hour: f64| (hour / (each as f64 * strip.each)).floor() as usize;
    out + &format!("  {:<name_width$} {}\n", "", labels(&strip.x.marks, wide, at))
}

/// Ranges on a scale: `o` the value, `-` its range, `=` the middle half of it, `:` what they are held against.
fn scale(figure: &Figure, ranges: &Ranges, columns: usize) -> String {
    let (from, to) = (ranges.axis.from, ranges.axis.to);
    let names = figure.names(0);
    let name_width = names.iter().map(|name| name.chars().count()).max().unwrap_or(0).min(NAME);
    let wide = (columns + 9).saturating_sub(name_width + 5).clamp(11, SCALE);
    let at = |value: f64| {
        let share = (value - from) / (to - from).max(1e-12);
        (share.clamp(0.0, 1.0) * (wide - 1) as f64).round() as usize
    };
    let mut out = String::new();
    for (row, name) in names.iter().enumerate() {
        let mut line = vec![' '; wide];
        if let Some(zero) = ranges.zero {
            line[at(zero)] = ':';
        }
        if let Some((low, high)) = ranges.band.filter(|_| !ranges.unbanded.contains(&row)) {
            line[at(low)..=at(high)].fill(':');
        }
        let value = |column: usize| figure.numbers(column).get(row).copied().unwrap_or(f64::NAN);
        for (low, high, sign) in [(1, 3, '-'), (4, 5, '=')] {
            if value(low) <= value(high) {
                line[at(value(low))..=at(value(high))].fill(sign);
            }
        }
        if value(2).is_finite() {
            line[at(value(2))] = 'o';
        }
        let name: String = name.chars().take(NAME).collect();
        out.push_str(&format!("  {name:<name_width$} |{}|\n", line.into_iter().collect::<String>()));
    }
    let marks = labels(&ranges.axis.marks, wide, at);
    out + &format!("  {:<name_width$} {marks}\n", "")
}

/// Labels under a scale, those left out that would run into the one before.
fn labels(marks: &[(f64, String)], wide: usize, at: impl Fn(f64) -> usize) -> String {
    let mut out = String::new();
    for (value, label) in marks {
        let middle = label.chars().count() / 2;
        let start = (at(*value) + 1).saturating_sub(middle).min((wide + 2).saturating_sub(label.chars().count()));
        if out.is_empty() || out.chars().count() < start {
            out.push_str(&" ".repeat(start - out.chars().count()));
            out.push_str(label);
        }
    }
    out
}

/// Cells as close as they go.
fn grid(grid: &Grid) -> String {
    let head = (String::new(), grid.heads.iter().map(|head| (format!("{head} "), 0.0)).collect::<Vec<_>>());
    let rows: Vec<&(String, Vec<(String, f64)>)> = std::iter::once(&head).chain(&grid.rows).collect();
    let names = rows.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0);
    let width =
        |c: usize| rows.iter().filter_map(|(_, cells)| Some(cells.get(c)?.0.chars().count())).max().unwrap_or(0);
    let widths: Vec<usize> = (0..grid.heads.len()).map(width).collect();
    let mut out = String::new();
    for (name, cells) in rows {
        let cells: Vec<String> =
            cells.iter().zip(&widths).map(|((text, _), &width)| format!("{text:>width$}")).collect();
        out.push_str(format!("  {name:>names$} | {}", cells.join(" ")).trim_end());
        out.push('\n');
    }
    out
}

/// A bar of `#` for a value on a scale that ends at `most`, `width` characters long at most.
#[must_use]
pub fn bar(value: f64, most: f64, width: usize) -> String {
    let n = if most > 0.0 { (value / most * width as f64).round().clamp(0.0, width as f64) as usize } else { 0 };
    "#".repeat(n)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::figure::{Axis, Band, Data};

    fn figure(picture: Picture, data: Vec<Data>) -> Figure {
        Figure { name: "t", title: String::new(), data, picture, legend: String::new(), quiet: false }
    }

    #[test]
    fn the_middle_and_the_band_stand_where_the_trials_are() {
        // Ten trials that lose a hundredth an hour from 100, 99 ... 91 on: the tenth, the middle and the nine tenths of them.
        let steps = || (0..48).map(f64::from);
        let chart = Chart {
            x: Axis::hours(48.0, "it began"),
            y: Axis::new("charge, %", (0.0, 100.0), 5),
            over: 0,
            rows: 48,
            lines: vec![2],
            bands: vec![Band { low: 1, high: 3, holds: "eight of ten outages lie here" }],
            points: None,
            first_line: "half hold more",
            ..Chart::default()
        };
        let data = vec![
            Data::numbers("after", "h", steps().map(|step| step + 1.0)),
            Data::numbers("p10", "percent", steps().map(|step| 91.0 - step)),
            Data::numbers("p50", "percent", steps().map(|step| 95.0 - step)),
            Data::numbers("p90", "percent", steps().map(|step| 99.0 - step)),
        ];
        let expected = "
  100 % |::
        |#####::
   80 % |   ::#####::
        |        ::#####::
   60 % |             ::#####::
        |                  ::####
   40 % |                       :
        |
   20 % |
        |
    0 % |
        +-----------+-----------+
                 24 h          48
  # half hold more
  : eight of ten outages lie here
";
        assert_eq!(text(&figure(Picture::Chart(chart), data), 24), &expected[1..]);
    }

    #[test]
    fn ranges_stand_on_their_scale_with_what_they_are_held_against() {
        let mut axis = Axis::new("", (0.0, 100.0), 2);
        axis.marks.iter_mut().for_each(|(_, label)| label.push_str(" %"));
        let data = vec![
            Data::names("kit", ["one", "another"]),
            Data::numbers("low", "percent", [0.0, 80.0]),
            Data::numbers("value", "percent", [10.0, 90.0]),
            Data::numbers("high", "percent", [20.0, 100.0]),
        ];
        let picture = Picture::Ranges(Ranges { axis, zero: Some(50.0), band: None, unbanded: Vec::new() });
        let told = text(&figure(picture, data), 30);
        let lines: Vec<&str> = told.lines().collect();
        // 27 places: 0, 10 and 20 % at 0, 3 and 5, the half at 13, 80, 90 and 100 % at 21, 23 and 26.
        assert_eq!(lines[0], "  one     |---o--       :             |");
        assert_eq!(lines[1], "  another |             :       --o---|");
        assert!(lines[2].contains("0 %") && lines[2].contains("50 %") && lines[2].ends_with("100 %"), "{told}");
    }
}
