//! The pictures of `years`.

use super::short_months;
use crate::report::figure::{Axis, Chart, Data, Figure, Picture, Points};
use crate::study::years::tally::Share;
use crate::study::years::{StrategyAnswer, YearsAnswer};

fn percent(share: &Share) -> f64 {
    100.0 * share.probability
}

/// Readiness against years of life, a point for each way.
pub(super) fn frontier(answer: &YearsAnswer) -> Figure {
    let strategies = || answer.strategies.iter();
    let ends = |s: &StrategyAnswer| [100.0 * s.rode.interval.low, 100.0 * s.rode.interval.high];
    let column = |of: fn(&StrategyAnswer) -> f64| strategies().map(of);
    let chart = Chart {
        x: Axis::about("years until a fifth of the capacity is gone", column(|s| s.years.mean), f64::INFINITY),
        y: Axis::about("of 100 outages", strategies().flat_map(ends), 100.0),
        over: 1,
        rows: answer.strategies.len(),
        lines: Vec::new(),
        bands: Vec::new(),
        points: Some(Points { value: 3, low: 2, high: 4, names: Some(0) }),
        floor: 0.0,
    };
    Figure {
        name: "frontier",
        title: "Outages ridden through against years of life".into(),
        data: vec![
            Data::names("strategy", strategies().map(|s| s.name.clone())),
            Data::numbers("to_80_percent", "years", column(|s| s.years.mean)),
            Data::numbers("rode_low", "percent", column(|s| 100.0 * s.rode.interval.low)),
            Data::numbers("rode", "percent", column(|s| percent(&s.rode))),
            Data::numbers("rode_high", "percent", column(|s| 100.0 * s.rode.interval.high)),
        ],
        picture: Picture::Chart(chart),
        legend: "Long strokes: 95 % intervals of readiness; short ones: the middle. Up and to the right is better."
            .into(),
        quiet: false,
    }
}

/// Lines in percent over named places, one for each way.
fn lines(
    answer: &YearsAnswer,
    (name, title, y_name): (&'static str, &str, &str),
    (over, places): (&str, &[String]),
    of: impl Fn(&StrategyAnswer) -> Vec<f64>,
) -> Figure {
    let series: Vec<Vec<f64>> = answer.strategies.iter().map(of).collect();
    let named = answer.strategies.iter().zip(&series);
    let chart = Chart {
        x: Axis::places(places),
        y: Axis::about(y_name, series.iter().flatten().copied(), 100.0),
        over: 1,
        rows: places.len(),
        lines: (2..2 + series.len()).collect(),
        bands: Vec::new(),
        points: None,
        floor: 0.0,
    };
    let along = [Data::names(over, places), Data::numbers("number", "", (0..places.len()).map(|k| k as f64))];
    Figure {
        name,
        title: title.into(),
        data: along
            .into_iter()
            .chain(named.map(|(s, values)| Data::numbers(s.name.clone(), "percent", values.iter().copied())))
            .collect(),
        picture: Picture::Chart(chart),
        legend: String::new(),
        quiet: false,
    }
}

/// Readiness by the month in which an outage begins.
pub(super) fn by_month(answer: &YearsAnswer) -> Figure {
    let names = ("readiness-by-month", "Readiness by month", "of 100 outages");
    lines(answer, names, ("month", &short_months()), |s| s.by_month.iter().map(percent).collect())
}

/// Mean charge between outages by month.
pub(super) fn charge_by_month(answer: &YearsAnswer) -> Figure {
    let names = ("charge-by-month", "Mean charge between outages by month", "mean charge, %");
    lines(answer, names, ("month", &short_months()), |s| {
        s.charge_by_month.iter().map(|charge| 100.0 * charge).collect()
    })
}

/// Readiness by the year of life.
pub(super) fn by_year(answer: &YearsAnswer) -> Figure {
    let years: Vec<String> = (1..=answer.settings.years).map(|year| year.to_string()).collect();
    let names = ("readiness-by-year", "Readiness by year of life", "of 100 outages");
    let mut figure = lines(answer, names, ("year", &years), |s| s.by_year.iter().map(percent).collect());
    if let Picture::Chart(chart) = &mut figure.picture {
        chart.x.name = "year of life".into();
    }
    figure
}
