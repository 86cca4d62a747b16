//! Pictures as inline SVG, drawn with CSS classes so that a page's colours, its dark form and its print form apply. They take
//! whatever width there is.

mod flows;
mod strip;

pub use strip::in_a_hundred;

use std::fmt::Write as _;

use super::document::escape;
use super::figure::{Axis, Chart, Figure, Picture, Ranges, short};

/// Inner size of a chart, in SVG units.
const WIDTH: f64 = 550.0;
const HEIGHT: f64 = 250.0;
const LEFT: f64 = 84.0;
const BOTTOM: f64 = 54.0;
const TOP: f64 = 14.0;
const RIGHT: f64 = 20.0;

/// Height of a row of ranges: a name, and its range under it.
const ROW: f64 = 52.0;

/// Classes of lines and points, one a series.
const CLASSES: [&str; 6] = ["a", "b", "c", "d", "e", "f"];

fn class(index: usize) -> &'static str {
    CLASSES[index % CLASSES.len()]
}

/// A figure as `<svg>`, with a key where it holds several lines; nothing for a grid or a matrix, which are tables.
#[must_use]
pub fn figure(figure: &Figure) -> String {
    match &figure.picture {
        Picture::Chart(parts) => chart(figure, parts) + &key(figure, parts),
        Picture::Ranges(parts) => ranges(figure, parts),
        Picture::Strip(parts) => strip::strip(figure, parts),
        Picture::Flows(parts) => flows::flows(figure, parts),
        Picture::Grid(_) | Picture::Matrix(_) => String::new(),
    }
}

fn begun(figure: &Figure, wide: f64, high: f64) -> String {
    let (title, told, high) = (escape(&figure.title), escape(&figure.told()), short(high));
    let told = if told.is_empty() { told } else { format!("<desc>{told}</desc>") };
    format!("<svg viewBox=\"0 0 {wide} {high}\" role=\"img\"><title>{title}</title>{told}\n")
}

/// Nights behind what is drawn: shaded, with a stroke at their foot, so that they show without colour.
fn nights(out: &mut String, nights: &[(f64, f64)], x: impl Fn(f64) -> f64, (top, foot): (f64, f64)) {
    for (from, to) in nights.iter().map(|(from, to)| (x(*from), x(*to))).filter(|(from, to)| from < to) {
        let [left, wide, y, high] = [from, to - from, top, foot - top].map(short);
        let _ = writeln!(out, "<rect class=\"night\" x=\"{left}\" y=\"{y}\" width=\"{wide}\" height=\"{high}\"/>");
        line(out, "nightfall", (from, foot + 2.0), (to, foot + 2.0));
    }
}

fn text(out: &mut String, class: &str, (x, y): (f64, f64), anchor: &str, words: &str) {
    let (x, y) = (short(x), short(y));
    let _ =
        writeln!(out, "<text class=\"{class}\" x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\">{}</text>", escape(words));
}

fn line(out: &mut String, class: &str, (x1, y1): (f64, f64), (x2, y2): (f64, f64)) {
    let [x1, y1, x2, y2] = [x1, y1, x2, y2].map(short);
    let _ = writeln!(out, "<line class=\"{class}\" x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\"/>");
}

/// Where a value lies on an axis, 0 to 1.
fn share(axis: &Axis, value: f64) -> f64 {
    (value.clamp(axis.from, axis.to) - axis.from) / (axis.to - axis.from).max(1e-12)
}

fn chart(figure: &Figure, chart: &Chart) -> String {
    let x = |value: f64| LEFT + share(&chart.x, value) * WIDTH;
    let y = |value: f64| TOP + HEIGHT - share(&chart.y, value) * HEIGHT;
    let base = TOP + HEIGHT;
    let mut out = begun(figure, LEFT + WIDTH + RIGHT, base + BOTTOM);
    nights(&mut out, &chart.nights, x, (TOP, base));
    for (at, label) in &chart.y.marks {
        line(&mut out, "grid", (LEFT, y(*at)), (LEFT + WIDTH, y(*at)));
        text(&mut out, "mark", (LEFT - 6.0, y(*at) + 5.0), "end", label);
    }
    for (at, label) in &chart.x.marks {
        line(&mut out, "grid", (x(*at), TOP), (x(*at), base + 4.0));
        text(&mut out, "mark", (x(*at), base + 22.0), "middle", label);
    }
    let along = figure.numbers(chart.over);
    let rows = || (0..chart.rows.min(along.len())).filter(|&row| along[row].is_finite());
    let points = |column: usize| -> Vec<String> {
        let values = figure.numbers(column);
        let told = rows().filter(|&row| values[row].is_finite());
        told.map(|row| format!("{},{}", short(x(along[row])), short(y(values[row])))).collect()
    };
    for (k, band) in chart.bands.iter().enumerate() {
        let back = points(band.low).into_iter().rev();
        let edge: Vec<String> = points(band.high).into_iter().chain(back).collect();
        let class = if k == 0 { "wide" } else { "narrow" };
        let _ = writeln!(out, "<polygon class=\"band {class}\" points=\"{}\"/>", edge.join(" "));
    }
    for (k, &column) in chart.lines.iter().enumerate() {
        let class = if chart.points.is_some() { "fitted" } else { class(k) };
        let _ = writeln!(out, "<polyline class=\"line {class}\" points=\"{}\"/>", points(column).join(" "));
    }
    if let Some(points) = chart.points {
        for row in rows() {
            let at = |column: usize| y(figure.numbers(column)[row]);
            let (x, class) = (x(along[row]), class(if points.names.is_some() { row } else { 0 }));
            line(&mut out, &format!("line {class}"), (x, at(points.low)), (x, at(points.high)));
            line(&mut out, &format!("line {class}"), (x - 7.0, at(points.value)), (x + 7.0, at(points.value)));
        }
    }
    text(&mut out, "name", (LEFT + WIDTH / 2.0, base + BOTTOM - 8.0), "middle", &chart.x.name);
    let middle = TOP + HEIGHT / 2.0;
    let _ = writeln!(
        out,
        "<text class=\"name\" x=\"21\" y=\"{middle}\" text-anchor=\"middle\" transform=\"rotate(-90 21 {middle})\">{}</text>",
        escape(&chart.y.name)
    );
    out + "</svg>\n"
}

/// Which stroke stands for what, where there are several.
fn key(figure: &Figure, chart: &Chart) -> String {
    let names: Vec<&str> = match chart.points.and_then(|points| points.names) {
        Some(column) => figure.names(column).iter().map(String::as_str).collect(),
        None => chart.lines.iter().map(|&column| figure.data[column].name.as_str()).collect(),
    };
    let first = |k: usize, name| if k == 0 && !chart.first_line.is_empty() { chart.first_line } else { name };
    let names: Vec<&str> = names.into_iter().enumerate().map(|(k, name)| first(k, name)).collect();
    if names.len() < 2 {
        return String::new();
    }
    let stroke = |(k, name): (usize, &&str)| {
        format!(
            "<li><svg class=\"stroke\" viewBox=\"0 0 60 12\" aria-hidden=\"true\"><line class=\"line {}\" x1=\"2\" x2=\"58\" \
             y1=\"6\" y2=\"6\"/></svg>{}</li>\n",
            class(k),
            escape(name)
        )
    };
    format!("<ul class=\"key\">\n{}</ul>\n", names.iter().enumerate().map(stroke).collect::<String>())
}

fn ranges(figure: &Figure, ranges: &Ranges) -> String {
    const EDGE: f64 = 40.0;
    const WIDE: f64 = 650.0;
    // Above the first name, for the larger letters of a phone.
    const ABOVE: f64 = 5.0;
    let names = figure.names(0);
    let x = |value: f64| EDGE + share(&ranges.axis, value) * (WIDE - 2.0 * EDGE);
    let base = ABOVE + ROW * names.len() as f64 + 4.0;
    let mut out = begun(figure, WIDE, base + if ranges.axis.name.is_empty() { 32.0 } else { 62.0 });
    // Names stand over their ranges: nothing runs through them, nor through what of a letter hangs below its line on a phone.
    let top_of = |row: usize| ABOVE + ROW * row as f64;
    let beside = |row: usize| (top_of(row) + 31.0, top_of(row + 1) - 4.0);
    if let Some((low, high)) = ranges.band {
        for (top, foot) in (0..names.len()).filter(|row| !ranges.unbanded.contains(row)).map(beside) {
            let _ = writeln!(
                out,
                "<rect class=\"stretch\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
                short(x(low)),
                short(top),
                short(x(high) - x(low)),
                short(foot - top)
            );
        }
    }
    for (at, label) in &ranges.axis.marks {
        text(&mut out, "mark", (x(*at), base + 22.0), "middle", label);
    }
    let between = |out: &mut String, class: &str, at: f64| {
        for (top, foot) in (0..names.len()).map(beside) {
            line(out, class, (x(at), top), (x(at), foot));
        }
    };
    for (at, _) in &ranges.axis.marks {
        between(&mut out, "grid", *at);
    }
    if let Some(zero) = ranges.zero {
        between(&mut out, "zero", zero);
    }
    for (row, name) in names.iter().enumerate() {
        let top = top_of(row);
        let y = top + 39.0;
        let value = |column: usize| figure.numbers(column).get(row).copied().filter(|value| value.is_finite());
        text(&mut out, "name", (2.0, top + 20.0), "start", name);
        for (low, high, class) in [(1, 3, "line a"), (4, 5, "line a thick")] {
            if let (Some(low), Some(high)) = (value(low), value(high)) {
                line(&mut out, class, (x(low), y), (x(high), y));
            }
        }
        if let Some(value) = value(2) {
            let _ = writeln!(out, "<circle class=\"dot a\" cx=\"{}\" cy=\"{y}\" r=\"6\"/>", short(x(value)));
        }
    }
    text(&mut out, "name", (WIDE / 2.0, base + 53.0), "middle", &ranges.axis.name);
    out + "</svg>\n"
}

/// A bar of a share of the longest one, for a cell of a table.
#[must_use]
pub fn bar(share: f64) -> String {
    format!(
        "<svg class=\"bar\" viewBox=\"0 0 200 16\" aria-hidden=\"true\"><rect class=\"dot a\" x=\"0\" y=\"3\" width=\"{}\" \
         height=\"10\"/></svg>",
        short(share.clamp(0.0, 1.0) * 200.0)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::figure::{Band, Data};

    #[test]
    fn a_chart_is_well_formed_and_escaped() {
        let chart = Chart {
            x: Axis::new("x", (0.0, 10.0), 5),
            y: Axis::new("y", (0.0, 1.0), 4),
            over: 0,
            rows: 2,
            lines: vec![1],
            bands: vec![Band { low: 1, high: 2, holds: "all" }],
            points: None,
            ..Chart::default()
        };
        let data = vec![
            Data::numbers("x", "", [0.0, 10.0]),
            Data::numbers("l", "", [0.0, 1.0]),
            Data::numbers("h", "", [0.5, 1.0]),
        ];
        let (name, legend) = ("t", String::new());
        let svg = figure(&Figure {
            name,
            title: "a < b & c".into(),
            data,
            picture: Picture::Chart(chart),
            legend,
            quiet: false,
        });
        assert!(svg.contains("a &lt; b &amp; c"));
        assert!(svg.contains("points=\"84,264 634,14\""), "{svg}");
        assert_eq!(svg.matches("<svg").count(), svg.matches("</svg>").count());
    }

    #[test]
    fn no_line_runs_through_the_name_of_a_range() {
        let data = vec![
            Data::names("what", ["a change whose name is long enough to reach across the zero line", "another"]),
            Data::numbers("low", "points", [1.0, -2.0]),
            Data::numbers("value", "points", [2.0, -1.0]),
            Data::numbers("high", "points", [3.0, 0.5]),
        ];
        let axis = Axis::new("points", (-3.0, 3.0), 6);
        let picture = Picture::Ranges(Ranges { axis, zero: Some(0.0), band: Some((-1.0, 1.0)), unbanded: Vec::new() });
        let (name, title, legend) = ("t", "t".to_string(), String::new());
        let svg = figure(&Figure { name, title, data, picture, legend, quiet: false });
        let number = |line: &str, key: &str| -> f64 {
            line.split(&format!(" {key}=\""))
                .nth(1)
                .and_then(|rest| rest.split('"').next()?.parse().ok())
                .expect("a number")
        };
        let of = |start: &str| svg.lines().filter(|line| line.starts_with(start)).collect::<Vec<_>>();
        let (names, zeros) = (of("<text class=\"name\" x=\"2\""), of("<line class=\"zero\""));
        assert_eq!((names.len(), zeros.len()), (2, 2), "{svg}");
        for name in names {
            // Letters 14 units high, 24 on a phone, stand on the line that y gives and reach a quarter below it.
            let foot = number(name, "y");
            let (top, foot) = (foot - 18.0, foot + 6.0);
            for line in zeros.iter().chain(&of("<line class=\"grid\"")) {
                let (from, to) = (number(line, "y1"), number(line, "y2"));
                assert!(to <= top || foot <= from, "{line} runs through {name}");
            }
            for part in &of("<rect class=\"stretch\"") {
                let from = number(part, "y");
                assert!(from + number(part, "height") <= top || foot <= from, "{part} lies under {name}");
            }
        }
    }
}
