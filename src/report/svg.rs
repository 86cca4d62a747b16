//! Charts as inline SVG: few kinds, drawn with CSS classes so that a page's colours, its dark form and its print form apply.

use std::fmt::Write as _;

use super::page::escape;

/// Inner size of a line chart, in SVG units.
const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 240.0;
const LEFT: f64 = 52.0;
const BOTTOM: f64 = 40.0;
const TOP: f64 = 12.0;
const RIGHT: f64 = 16.0;

/// A band: points (x, low, high) and a class (`wide`, `narrow`).
pub type Band = (Vec<(f64, f64, f64)>, &'static str);

/// A line: points (x, y), a class (`a` to `f`) and a label at its end.
pub type Line = (Vec<(f64, f64)>, &'static str, String);

/// A chart of lines and bands over a common axis.
#[derive(Debug, Clone, Default)]
pub struct LineChart {
    /// What it shows, for readers that cannot see it.
    pub title: String,
    /// Name and unit of the horizontal axis.
    pub x_name: String,
    /// Name and unit of the vertical axis.
    pub y_name: String,
    /// Range of the horizontal axis.
    pub x_range: (f64, f64),
    /// Range of the vertical axis.
    pub y_range: (f64, f64),
    /// Marks on the horizontal axis: place and label.
    pub x_marks: Vec<(f64, String)>,
    /// Marks on the vertical axis: place and label.
    pub y_marks: Vec<(f64, String)>,
    /// Bands, drawn first.
    pub bands: Vec<Band>,
    /// Lines, drawn over them.
    pub lines: Vec<Line>,
}

/// A number with at most two decimals and no trailing zeros.
fn short(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

impl LineChart {
    fn x(&self, value: f64) -> f64 {
        let (from, to) = self.x_range;
        LEFT + (value - from) / (to - from).max(1e-12) * WIDTH
    }

    fn y(&self, value: f64) -> f64 {
        let (from, to) = self.y_range;
        TOP + HEIGHT - (value.clamp(from, to) - from) / (to - from).max(1e-12) * HEIGHT
    }

    /// The chart as an `<svg>` element.
    #[must_use]
    pub fn svg(&self) -> String {
        let (wide, high) = (LEFT + WIDTH + RIGHT, TOP + HEIGHT + BOTTOM);
        let mut out =
            format!("<svg viewBox=\"0 0 {wide} {high}\" role=\"img\"><title>{}</title>\n", escape(&self.title));
        for (at, label) in &self.y_marks {
            let y = short(self.y(*at));
            let _ = writeln!(out, "<line class=\"grid\" x1=\"{LEFT}\" x2=\"{}\" y1=\"{y}\" y2=\"{y}\"/>", LEFT + WIDTH);
            let _ = writeln!(
                out,
                "<text class=\"mark\" x=\"{}\" y=\"{y}\" dy=\"4\" text-anchor=\"end\">{}</text>",
                LEFT - 6.0,
                escape(label)
            );
        }
        for (at, label) in &self.x_marks {
            let x = short(self.x(*at));
            let base = TOP + HEIGHT;
            let _ = writeln!(out, "<line class=\"grid\" x1=\"{x}\" x2=\"{x}\" y1=\"{TOP}\" y2=\"{}\"/>", base + 4.0);
            let _ = writeln!(
                out,
                "<text class=\"mark\" x=\"{x}\" y=\"{}\" text-anchor=\"middle\">{}</text>",
                base + 17.0,
                escape(label)
            );
        }
        for (points, class) in &self.bands {
            let mut path = String::new();
            for (x, _, high) in points {
                let _ = write!(path, "{},{} ", short(self.x(*x)), short(self.y(*high)));
            }
            for (x, low, _) in points.iter().rev() {
                let _ = write!(path, "{},{} ", short(self.x(*x)), short(self.y(*low)));
            }
            let _ = writeln!(out, "<polygon class=\"band {class}\" points=\"{}\"/>", path.trim_end());
        }
        for (points, class, label) in &self.lines {
            let mut path = String::new();
            for (x, y) in points {
                let _ = write!(path, "{},{} ", short(self.x(*x)), short(self.y(*y)));
            }
            let _ = writeln!(out, "<polyline class=\"line {class}\" points=\"{}\"/>", path.trim_end());
            if let (Some((x, y)), false) = (points.last(), label.is_empty()) {
                let _ = writeln!(
                    out,
                    "<text class=\"mark\" x=\"{}\" y=\"{}\" text-anchor=\"end\">{}</text>",
                    short(self.x(*x) - 4.0),
                    short(self.y(*y) - 6.0),
                    escape(label)
                );
            }
        }
        let _ = writeln!(
            out,
            "<text class=\"name\" x=\"{}\" y=\"{}\" text-anchor=\"middle\">{}</text>",
            LEFT + WIDTH / 2.0,
            high - 4.0,
            escape(&self.x_name)
        );
        let middle = TOP + HEIGHT / 2.0;
        let _ = writeln!(
            out,
            "<text class=\"name\" x=\"12\" y=\"{middle}\" text-anchor=\"middle\" transform=\"rotate(-90 12 {middle})\">{}</text>",
            escape(&self.y_name)
        );
        out.push_str("</svg>\n");
        out
    }
}

/// A value with an interval on a scale, for a row of a table: a whisker with a dot, and a line at `zero`.
///
/// * `range` — the scale's ends.
#[must_use]
pub fn whisker(low: f64, value: f64, high: f64, range: (f64, f64), zero: Option<f64>) -> String {
    let at = |v: f64| short(((v - range.0) / (range.1 - range.0).max(1e-12)).clamp(0.0, 1.0) * 192.0 + 4.0);
    let mut out = String::from("<svg class=\"whisker\" viewBox=\"0 0 200 16\" aria-hidden=\"true\">");
    if let Some(zero) = zero {
        let x = at(zero);
        let _ = write!(out, "<line class=\"grid\" x1=\"{x}\" x2=\"{x}\" y1=\"0\" y2=\"16\"/>");
    }
    let _ = write!(out, "<line class=\"line a\" x1=\"{}\" x2=\"{}\" y1=\"8\" y2=\"8\"/>", at(low), at(high));
    let _ = write!(out, "<circle class=\"dot a\" cx=\"{}\" cy=\"8\" r=\"4\"/></svg>", at(value));
    out
}

/// A bar from 0 to `value` on a scale that ends at `most`, for a row of a table.
#[must_use]
pub fn bar(value: f64, most: f64) -> String {
    let width = short((value / most.max(1e-12)).clamp(0.0, 1.0) * 200.0);
    format!(
        "<svg class=\"whisker\" viewBox=\"0 0 200 16\" aria-hidden=\"true\"><rect class=\"bar a\" x=\"0\" y=\"3\" width=\"{width}\" height=\"10\"/></svg>"
    )
}

/// Marks at round numbers over a range: about `count` of them, with a unit on none.
#[must_use]
pub fn round_marks(from: f64, to: f64, count: usize) -> Vec<(f64, String)> {
    let rough = (to - from) / count.max(1) as f64;
    if !(rough.is_finite() && rough > 0.0) {
        return Vec::new();
    }
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 2.5, 5.0, 10.0].into_iter().map(|s| s * power).find(|s| *s >= rough).unwrap_or(10.0 * power);
    let first = (from / step).ceil() as i64;
    let last = ((to / step) + 1e-9).floor() as i64;
    (first..=last).map(|k| (k as f64 * step, short(k as f64 * step))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_stand_at_round_numbers() {
        let labels = |from, to, n| round_marks(from, to, n).into_iter().map(|(_, l)| l).collect::<Vec<_>>().join(" ");
        assert_eq!(labels(0.0, 100.0, 5), "0 20 40 60 80 100");
        assert_eq!(labels(0.0, 1.0, 4), "0 0.25 0.5 0.75 1");
        assert_eq!(labels(-3.0, 3.0, 3), "-2 0 2");
        assert_eq!(labels(1.0, 1.0, 3), "");
    }

    #[test]
    fn a_chart_is_well_formed_and_escaped() {
        let chart = LineChart {
            title: "a < b & c".into(),
            x_range: (0.0, 10.0),
            y_range: (0.0, 1.0),
            x_marks: round_marks(0.0, 10.0, 5),
            lines: vec![(vec![(0.0, 0.0), (10.0, 1.0)], "a", "end".into())],
            bands: vec![(vec![(0.0, 0.0, 0.5), (10.0, 0.5, 1.0)], "wide")],
            ..LineChart::default()
        };
        let svg = chart.svg();
        assert!(svg.contains("a &lt; b &amp; c"));
        assert!(svg.contains("points=\"52,252 692,12\""), "{svg}");
        assert_eq!(svg.matches("<svg").count(), svg.matches("</svg>").count());
    }
}
