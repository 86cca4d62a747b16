//! Several records of one unit: how its capacity changes.

use super::{share, wh, with};
use crate::report::document::{Cell, Column, Document, Table};
use crate::report::figure::{Axis, Chart, Data, Figure, Picture, Points};
use crate::study::prove::{Estimate, Fade, Point};

/// Several records of one unit.
pub(super) fn add_fade(out: &mut Document, fade: &Fade, rated_wh: f64) {
    let points = || fade.points.iter();
    let most = points().map(|point| point.bench.high()).fold(rated_wh, f64::max);
    let row = |point: &Point| {
        let cycles = point.cycles.map_or(String::new(), |cycles| format!("{cycles:.0} cycles"));
        [point.date.to_string().into(), wh(&point.bench).into(), Cell::Bar(point.bench.value / most), cycles.into()]
    };
    let columns = [Column::left("date"), Column::right("delivered"), Column::left(""), Column::left("cycles")];
    out.head("Capacity over the years, at the AC outlet under the bench load");
    out.table(Table::new(columns).bare().rows(points().map(row)));
    let column = |name: &str, of: fn(&Estimate) -> f64| Data::numbers(name, "wh", points().map(|p| of(&p.bench)));
    let fitted = points().map(|point| fade.by_years.start.value + fade.by_years.slope.value * point.years);
    let last = fade.points.last().map_or(1.0, |point| point.years.max(0.1));
    let chart = Chart {
        x: Axis::new("years since the first record", (-0.02 * last, 1.02 * last), 5),
        y: Axis::new("Wh from full to empty", (0.0, 1.05 * most), 5),
        over: 1,
        rows: fade.points.len(),
        lines: vec![5],
        bands: Vec::new(),
        points: Some(Points { value: 3, low: 2, high: 4, names: None }),
        ..Chart::default()
    };
    out.figure(Figure {
        name: "fade",
        title: "Capacity over the years".into(),
        data: vec![
            Data::names("date", points().map(|point| point.date.to_string())),
            Data::numbers("after", "years", points().map(|point| point.years)),
            column("low", Estimate::low),
            column("delivered", |estimate| estimate.value),
            column("high", Estimate::high),
            Data::numbers("fitted", "wh", fitted),
        ],
        picture: Picture::Chart(chart),
        legend: "Strokes: what each record says, with its 95 % interval. Dashes: the straight line through them."
            .into(),
        quiet: false,
    });
    out.say(fade_words(fade));
}

/// What a fade means, in words.
fn fade_words(fade: &Fade) -> String {
    let yearly = share(&fade.by_years.relative);
    let mut line = if fade.by_years.slope.high() < 0.0 {
        format!("It changes by {yearly} a year.")
    } else {
        format!("A fade cannot be told from none yet: {yearly} a year.")
    };
    if let Some(by_cycles) = &fade.by_cycles {
        line.push_str(&format!(" Against cycles: {} for every hundred.", share(&by_cycles.relative.scaled(100.0))));
    }
    if let Some(years) = &fade.years_to_four_fifths {
        line.push_str(&format!(
            " If it goes on so, four fifths of the first capacity are left {} after the first record; that is a straight \
             line, not a promise.",
            with(years, "years")
        ));
    }
    line
}
