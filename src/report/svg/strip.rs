//! Shares along the hours, a row for each thing: how high a row stands says how often, so that no colour is needed.

use std::fmt::Write as _;

use super::{begun, line, share, text};
use crate::report::figure::{Figure, Strip, short};

/// A row: its name, and under it a full share.
const NAME: f64 = 26.0;
const FULL: f64 = 46.0;
const GAP: f64 = 12.0;
const LEFT: f64 = 4.0;
const WIDE: f64 = 646.0;

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
        let mut points = Vec::new();
        for (from, percent) in along.iter().zip(figure.numbers(column)).filter(|(_, percent)| percent.is_finite()) {
            let y = short(foot - FULL * percent.clamp(0.0, 100.0) / 100.0);
            points.extend([from, &(from + strip.each)].map(|at| format!("{},{y}", short(x(*at)))));
        }
        if let (Some(first), Some(last)) = (points.first(), points.last()) {
            let at = |point: &str| format!("{},{}", point.split(',').next().unwrap_or_default(), short(foot));
            let (first, last) = (at(first), at(last));
            let _ = writeln!(out, "<polygon class=\"dark\" points=\"{first} {} {last}\"/>", points.join(" "));
        }
        line(&mut out, "base", (LEFT, foot), (WIDE, foot));
        let most = figure.numbers(column).iter().copied().filter(|share| share.is_finite()).fold(0.0, f64::max);
        let told = match most {
            0.0 => "never".into(),
            most if most < 1.0 => "at most 1 %".into(),
            most => format!("at most {most:.0} %"),
        };
        text(&mut out, "name", (LEFT, top - 7.0), "start", &cut(&figure.data[column].name));
        text(&mut out, "mark", (WIDE, top - 7.0), "end", &told);
    }
    for (at, label) in &strip.x.marks {
        line(&mut out, "grid", (x(*at), base - GAP), (x(*at), base - GAP + 6.0));
        let anchor = if x(*at) < 30.0 {
            "start"
        } else if x(*at) > 620.0 {
            "end"
        } else {
            "middle"
        };
        text(&mut out, "mark", (x(*at), base + 16.0), anchor, label);
    }
    text(&mut out, "name", (325.0, base + 44.0), "middle", &strip.x.name);
    out + "</svg>\n"
}

/// A name that leaves room beside it on the smallest screen.
fn cut(name: &str) -> String {
    const MOST: usize = 32;
    if name.chars().count() <= MOST { name.into() } else { name.chars().take(MOST - 1).collect::<String>() + "…" }
}
