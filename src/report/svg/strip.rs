//! Shares along the hours, a row for each thing: how high a row stands says how often, so that no colour is needed. Each row
//! reaches its top at its own highest hour, which is told above it.

use std::fmt::Write as _;

use super::{begun, line, share, text};
use crate::report::figure::{Figure, Strip, short};
use crate::report::words::hundredths;

/// A row: its name, and under it the highest share of it.
const NAME: f64 = 26.0;
const FULL: f64 = 46.0;
const GAP: f64 = 12.0;
/// Where names begin and scales end, and where hours do: with room for half a label of the clock outside.
const EDGES: (f64, f64) = (4.0, 646.0);
const LEFT: f64 = 34.0;
const WIDE: f64 = 616.0;
/// Room that a label of the clock takes on the smallest screen.
const LABEL: f64 = 74.0;

pub(super) fn strip(figure: &Figure, strip: &Strip) -> String {
    let x = |value: f64| LEFT + share(&strip.x, value) * (WIDE - LEFT);
    let row = NAME + FULL + GAP;
    let base = row * strip.shown.len() as f64;
    let mut out = begun(figure, 650.0, base + 52.0);
    let along = figure.numbers(strip.over);
    for (k, &column) in strip.shown.iter().enumerate() {
        let (top, foot) = (row * k as f64 + NAME, row * k as f64 + NAME + FULL);
        let (wide, high) = (short(WIDE - LEFT), short(FULL));
        let _ =
            writeln!(out, "<rect class=\"day\" x=\"{LEFT}\" y=\"{}\" width=\"{wide}\" height=\"{high}\"/>", short(top));
        super::nights(&mut out, &strip.nights, x, (top, foot));
        let told = figure.numbers(column).iter().copied().filter(|share| share.is_finite());
        let most = told.fold(0.0, f64::max);
        let mut points = Vec::new();
        for (from, percent) in along.iter().zip(figure.numbers(column)).filter(|(_, percent)| percent.is_finite()) {
            let y = short(foot - FULL * (percent / most.max(1e-9)).clamp(0.0, 1.0));
            points.extend([from, &(from + strip.each)].map(|at| format!("{},{y}", short(x(*at)))));
        }
        if let (Some(first), Some(last)) = (points.first(), points.last()) {
            let at = |point: &str| format!("{},{}", point.split(',').next().unwrap_or_default(), short(foot));
            let (first, last) = (at(first), at(last));
            let _ = writeln!(out, "<polygon class=\"dark\" points=\"{first} {} {last}\"/>", points.join(" "));
        }
        line(&mut out, "base", (LEFT, foot), (WIDE, foot));
        let told = match most {
            0.0 => "never".into(),
            most => format!("highest hour: {} of 100", in_a_hundred(most)),
        };
        text(&mut out, "name", (EDGES.0, top - 7.0), "start", &cut(&figure.data[column].name));
        text(&mut out, "mark", (EDGES.1, top - 7.0), "end", &told);
    }
    // On a small screen, where letters are larger, every second label is left out where all would run into each other.
    let close = strip.x.marks.windows(2).any(|two| two[0].1.len() > 2 && x(two[1].0) - x(two[0].0) < LABEL);
    for (k, (at, label)) in strip.x.marks.iter().enumerate() {
        line(&mut out, "grid", (x(*at), base - GAP), (x(*at), base - GAP + 6.0));
        let class = if close && k % 2 == 1 { "mark between" } else { "mark" };
        text(&mut out, class, (x(*at), base + 16.0), "middle", label);
    }
    text(&mut out, "name", (325.0, base + 44.0), "middle", &strip.x.name);
    out + "</svg>\n"
}

/// A share in percent as a number of 100 outages.
pub fn in_a_hundred(percent: f64) -> String {
    hundredths(percent / 100.0, usize::from(percent < 0.95))
}

/// A name that leaves room beside it on the smallest screen.
fn cut(name: &str) -> String {
    const MOST: usize = 30;
    if name.chars().count() <= MOST { name.into() } else { name.chars().take(MOST - 1).collect::<String>() + "…" }
}
