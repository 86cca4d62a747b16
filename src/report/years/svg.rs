//! Small charts as inline SVG. Every text is escaped; nothing is fetched from elsewhere.

/// Colours that most people tell apart (Okabe & Ito 2008).
pub const COLOURS: [&str; 7] = ["#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9", "#000000"];

/// The colour of a series by its place.
#[must_use]
pub fn colour(index: usize) -> &'static str {
    COLOURS[index % COLOURS.len()]
}

/// Text that may stand in HTML and SVG.
#[must_use]
pub fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

const WIDE: f64 = 640.0;
const HIGH: f64 = 300.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 14.0;
const TOP: f64 = 14.0;
const BOTTOM: f64 = 40.0;

/// A range of values that begins and ends at round numbers, and its marks.
struct Axis {
    low: f64,
    high: f64,
    step: f64,
}

impl Axis {
    fn over(values: impl Iterator<Item = f64> + Clone, at_most: f64) -> Axis {
        let finite = values.filter(|value| value.is_finite());
        let low = finite.clone().fold(f64::INFINITY, f64::min);
        let high = finite.fold(f64::NEG_INFINITY, f64::max);
        let (low, high) = if low <= high { (low, high) } else { (0.0, 1.0) };
        let span = (high - low).max(0.02 * high.abs()).max(1e-9);
        let rough = span / 4.0;
        let magnitude = 10.0_f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0].map(|m| m * magnitude).into_iter().find(|s| *s >= rough).unwrap_or(rough);
        let low = ((low - 0.05 * span) / step).floor() * step;
        let high = (((high + 0.05 * span) / step).ceil() * step).min(at_most.max(low + step));
        Axis { low: if low < 0.0 && span > 0.0 { 0.0_f64.min(low) } else { low }, high, step }
    }

    fn share(&self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }

    fn marks(&self) -> Vec<f64> {
        let count = ((self.high - self.low) / self.step + 1e-6).floor() as usize;
        (0..=count.min(12)).map(|k| self.low + k as f64 * self.step).collect()
    }
}

fn x_of(share: f64) -> f64 {
    LEFT + share * (WIDE - LEFT - RIGHT)
}

fn y_of(share: f64) -> f64 {
    HIGH - BOTTOM - share * (HIGH - TOP - BOTTOM)
}

fn open(title: &str) -> String {
    format!("<svg viewBox=\"0 0 {WIDE} {HIGH}\" role=\"img\" aria-label=\"{0}\"><title>{0}</title>\n", escaped(title))
}

fn label(x: f64, y: f64, anchor: &str, text: &str) -> String {
    format!("<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\">{}</text>\n", escaped(text))
}

fn grid(axis: &Axis, unit: &str) -> String {
    let mut out = String::new();
    let digits = if axis.step < 1.0 { 1 } else { 0 };
    for mark in axis.marks() {
        let y = y_of(axis.share(mark));
        out.push_str(&format!(
            "<line class=\"grid\" x1=\"{LEFT}\" x2=\"{:.1}\" y1=\"{y:.1}\" y2=\"{y:.1}\"/>\n",
            WIDE - RIGHT
        ));
        out.push_str(&label(LEFT - 6.0, y + 4.0, "end", &format!("{mark:.digits$}{unit}")));
    }
    out
}

/// Lines over named places.
///
/// * `places` — names along the axis; `series` — one value a place, `NaN` for none; `unit` follows the numbers;
///   `at_most` — the axis goes no higher.
#[must_use]
pub fn lines(title: &str, places: &[String], series: &[Vec<f64>], unit: &str, at_most: f64) -> String {
    let axis = Axis::over(series.iter().flatten().copied(), at_most);
    let mut out = open(title);
    out.push_str(&grid(&axis, unit));
    let share = |k: usize| (k as f64 + 0.5) / places.len().max(1) as f64;
    for (k, place) in places.iter().enumerate() {
        out.push_str(&label(x_of(share(k)), HIGH - BOTTOM + 18.0, "middle", place));
    }
    for (index, values) in series.iter().enumerate() {
        let points: Vec<String> = values
            .iter()
            .enumerate()
            .filter(|(_, value)| value.is_finite())
            .map(|(k, &value)| format!("{:.1},{:.1}", x_of(share(k)), y_of(axis.share(value))))
            .collect();
        let stroke = colour(index);
        out.push_str(&format!("<polyline points=\"{}\" stroke=\"{stroke}\"/>\n", points.join(" ")));
        for point in &points {
            if let Some((x, y)) = point.split_once(',') {
                out.push_str(&format!("<circle cx=\"{x}\" cy=\"{y}\" r=\"3\" fill=\"{stroke}\"/>\n"));
            }
        }
    }
    out.push_str("</svg>\n");
    out
}

/// A point of a [`scatter`].
#[derive(Debug, Clone, PartialEq)]
pub struct Dot {
    /// Place along the axis.
    pub x: f64,
    /// Height, and the interval around it.
    pub y: (f64, f64, f64),
    /// Whether it is filled.
    pub filled: bool,
}

/// Dots with their intervals.
#[must_use]
pub fn scatter(title: &str, dots: &[Dot], x_name: &str, y_unit: &str, y_at_most: f64) -> String {
    let heights = dots.iter().flat_map(|dot| [dot.y.0, dot.y.1, dot.y.2]).collect::<Vec<_>>();
    let (down, across) =
        (Axis::over(heights.iter().copied(), y_at_most), Axis::over(dots.iter().map(|dot| dot.x), f64::INFINITY));
    let mut out = open(title);
    out.push_str(&grid(&down, y_unit));
    let digits = if across.step < 1.0 { 1 } else { 0 };
    for mark in across.marks() {
        let text = format!("{mark:.digits$}");
        out.push_str(&label(x_of(across.share(mark)), HIGH - BOTTOM + 18.0, "middle", &text));
    }
    out.push_str(&label(WIDE - RIGHT, HIGH - 6.0, "end", x_name));
    for (index, dot) in dots.iter().enumerate() {
        let (x, stroke) = (x_of(across.share(dot.x)), colour(index));
        let y = |value: f64| y_of(down.share(value));
        let fill = if dot.filled { stroke } else { "none" };
        out.push_str(&format!(
            "<line x1=\"{x:.1}\" x2=\"{x:.1}\" y1=\"{:.1}\" y2=\"{:.1}\" stroke=\"{stroke}\"/>\n\
             <circle cx=\"{x:.1}\" cy=\"{:.1}\" r=\"6\" fill=\"{fill}\" stroke=\"{stroke}\" stroke-width=\"2\"/>\n",
            y(dot.y.1),
            y(dot.y.2),
            y(dot.y.0)
        ));
    }
    out.push_str("</svg>\n");
    out
}

/// Bars in groups: one group a name, one bar a value.
#[must_use]
pub fn bars(title: &str, names: &[String], groups: &[Vec<f64>], unit: &str) -> String {
    let axis = Axis::over(groups.iter().flatten().copied().chain(std::iter::once(0.0)), f64::INFINITY);
    let mut out = open(title);
    out.push_str(&grid(&axis, unit));
    let wide = (WIDE - LEFT - RIGHT) / names.len().max(1) as f64;
    for (k, (name, values)) in names.iter().zip(groups).enumerate() {
        let each = 0.8 * wide / values.len().max(1) as f64;
        for (index, &value) in values.iter().enumerate().filter(|(_, value)| value.is_finite()) {
            let x = LEFT + wide * (k as f64 + 0.1) + each * index as f64;
            let (top, bottom) = (y_of(axis.share(value)), y_of(axis.share(0.0)));
            out.push_str(&format!(
                "<rect x=\"{x:.1}\" y=\"{top:.1}\" width=\"{:.1}\" height=\"{:.1}\" fill=\"{}\"/>\n",
                0.9 * each,
                (bottom - top).max(0.0),
                colour(index)
            ));
        }
        out.push_str(&label(LEFT + wide * (k as f64 + 0.5), HIGH - BOTTOM + 18.0, "middle", name));
    }
    out.push_str("</svg>\n");
    out
}

/// Names beside their colours.
#[must_use]
pub fn legend(names: &[String]) -> String {
    let entries: Vec<String> = names
        .iter()
        .enumerate()
        .map(|(index, name)| format!("<li><i style=\"background:{}\"></i>{}</li>", colour(index), escaped(name)))
        .collect();
    format!("<ul class=\"legend\">{}</ul>\n", entries.join(""))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_are_round_and_hold_all_values() {
        let axis = Axis::over([0.83, 0.91, 0.99].into_iter(), 1.0);
        assert!(axis.low <= 0.83 && 0.99 <= axis.high && axis.high <= 1.0 + 1e-12);
        for mark in axis.marks() {
            assert!((mark / axis.step - (mark / axis.step).round()).abs() < 1e-9, "{mark}");
        }
        // Nothing to draw, and all the same value, are no reason to fall over.
        assert!(Axis::over(std::iter::empty(), 1.0).high > 0.0);
        let one = Axis::over([5.0].into_iter(), f64::INFINITY);
        assert!(one.low < 5.0 && 5.0 < one.high);
    }

    #[test]
    fn names_from_a_file_cannot_break_out_of_the_page() {
        let chart = lines("<b>\"&", &["<i>".into()], &[vec![1.0]], " %", 100.0);
        assert!(!chart.contains("<b>") && !chart.contains("<i>") && chart.contains("&lt;i&gt;"));
        assert!(!legend(&["<script>".into()]).contains("<script>"));
    }
}
