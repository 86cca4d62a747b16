//! What comes in on the left, what goes out on the right, as wide as it is much.

use std::fmt::Write as _;

use super::{begun, text};
use crate::report::figure::{Figure, Flows, short};

/// How high all of it is, the least room for a name and its figure, and the gap between two.
const ALL: f64 = 230.0;
const ROOM: f64 = 50.0;
const GAP: f64 = 8.0;
/// Where names end, bars stand and names begin again.
const BAR: f64 = 12.0;
const LEFT: f64 = 196.0;
const MIDDLE: f64 = 306.0;
const RIGHT: f64 = 416.0;

/// One side's rows: where each bar begins, how high it is, and where it joins the middle.
fn stacked(shares: &[f64]) -> (Vec<(f64, f64, f64)>, f64) {
    let (mut y, mut joins) = (0.0, 0.0);
    let rows = shares.iter().map(|share| {
        let high = share * ALL;
        let room = high.max(ROOM);
        let row = (y + (room - high) / 2.0, high, joins);
        y += room + GAP;
        joins += high;
        row
    });
    let rows = rows.collect();
    (rows, y - GAP)
}

pub(super) fn flows(figure: &Figure, flows: &Flows) -> String {
    let (sides, names, amounts) = (figure.names(0), figure.names(1), figure.numbers(2));
    let rows_of = |side: &str| (0..names.len()).filter(|&row| sides[row] == side).collect::<Vec<_>>();
    let (into, out_of) = (rows_of("in"), rows_of("out"));
    let total: f64 = into.iter().map(|&row| amounts[row]).sum::<f64>().max(1e-12);
    let shares = |rows: &[usize]| rows.iter().map(|&row| amounts[row] / total).collect::<Vec<_>>();
    let ((left, left_high), (right, right_high)) = (stacked(&shares(&into)), stacked(&shares(&out_of)));
    let high = left_high.max(right_high).max(ALL);
    let (left_top, right_top, trunk) = ((high - left_high) / 2.0, (high - right_high) / 2.0, (high - ALL) / 2.0);
    let mut out = begun(figure, 650.0, high + 8.0);
    let bar = |out: &mut String, class: &str, x: f64, y: f64, high: f64| {
        let (x, y, high) = (short(x), short(y + 4.0), short(high.max(1.0)));
        let _ = writeln!(out, "<rect class=\"{class}\" x=\"{x}\" y=\"{y}\" width=\"{BAR}\" height=\"{high}\"/>");
    };
    let ribbon = |out: &mut String, class: &str, (x1, y1): (f64, f64), (x2, y2): (f64, f64), high: f64| {
        let middle = short((x1 + x2) / 2.0);
        let [x1, x2] = [x1, x2].map(short);
        let [a, b, c, d] = [y1, y2, y2 + high, y1 + high].map(|y| short(y + 4.0));
        let _ = writeln!(
            out,
            "<path class=\"{class}\" d=\"M{x1},{a}C{middle},{a} {middle},{b} {x2},{b}V{c}C{middle},{c} {middle},{d} {x1},{d}Z\"/>"
        );
    };
    for (&row, &(y, thick, joins)) in into.iter().zip(&left) {
        let y = y + left_top;
        ribbon(&mut out, "flow used", (LEFT + BAR, y), (MIDDLE, trunk + joins), thick);
        bar(&mut out, "node", LEFT, y, thick);
        let middle = y + thick / 2.0;
        text(&mut out, "name", (LEFT - 8.0, middle + 1.0), "end", &names[row]);
        text(&mut out, "mark", (LEFT - 8.0, middle + 23.0), "end", &flows.told[row]);
    }
    bar(&mut out, "node", MIDDLE, trunk, ALL);
    for (&row, &(y, thick, joins)) in out_of.iter().zip(&right) {
        let y = y + right_top;
        let lost = flows.lost[row];
        let class = if lost { "flow lost" } else { "flow used" };
        ribbon(&mut out, class, (MIDDLE + BAR, trunk + joins), (RIGHT, y), thick);
        bar(&mut out, if lost { "node gone" } else { "node" }, RIGHT, y, thick);
        let middle = y + thick / 2.0;
        text(&mut out, "name", (RIGHT + BAR + 8.0, middle + 1.0), "start", &names[row]);
        text(&mut out, "mark", (RIGHT + BAR + 8.0, middle + 23.0), "start", &flows.told[row]);
    }
    out + "</svg>\n"
}
