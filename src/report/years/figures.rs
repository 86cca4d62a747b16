//! The pictures of `years`.

use super::short_months;
use crate::report::figure::{Axis, Band, Chart, Data, Figure, Picture, Points};
use crate::study::years::tally::Share;
use crate::study::years::{StrategyAnswer, YearsAnswer};
use crate::visible::begun;

fn percent(share: &Share) -> f64 {
    100.0 * share.probability
}

/// Readiness against years of life, a point for each way.
pub(super) fn frontier(answer: &YearsAnswer) -> Figure {
    let strategies = || answer.strategies.iter();
    let ends = |s: &StrategyAnswer| [100.0 * s.rode.interval.low, 100.0 * s.rode.interval.high];
    let column = |of: fn(&StrategyAnswer) -> f64| strategies().map(of);
    let chart = Chart {
        x: Axis::about(
            format!("years until a fifth is gone, by {}", super::law(answer)),
            column(|s| s.years.mean),
            f64::INFINITY,
        ),
        y: Axis::about(of_hundred(answer), strategies().flat_map(ends), 100.0),
        over: 1,
        rows: answer.strategies.len(),
        lines: Vec::new(),
        bands: Vec::new(),
        points: Some(Points { value: 3, low: 2, high: 4, names: Some(0) }),
        ..Chart::default()
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
        legend: format!(
            "Long strokes: 95 % intervals of readiness; short ones: the middle. Years are those by {}. Up and to the right is \
             better.",
            super::law(answer)
        ),
        quiet: false,
    }
}

/// Names of places that a phone has room for side by side.
const MOST_NAMES: usize = 10;

/// Lines in percent over named places, one for each way.
fn lines(
    answer: &YearsAnswer,
    (name, title, y_name): (&'static str, &str, &str),
    (over, places): (&str, &[String]),
    of: impl Fn(&StrategyAnswer) -> Vec<f64>,
) -> Figure {
    let series: Vec<Vec<f64>> = answer.strategies.iter().map(of).collect();
    let named = answer.strategies.iter().zip(&series);
    // No more names than stand side by side on a phone.
    let mut x = Axis::places(places);
    let step = places.len().div_ceil(MOST_NAMES);
    x.marks = x.marks.into_iter().step_by(step.max(1)).collect();
    let chart = Chart {
        x,
        y: Axis::about(y_name, series.iter().flatten().copied(), 100.0),
        over: 1,
        rows: places.len(),
        lines: (2..2 + series.len()).collect(),
        ..Chart::default()
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

/// What readiness is a share of.
fn of_hundred(answer: &YearsAnswer) -> &'static str {
    if answer.cuts { "of 100 weeks of cuts" } else { "of 100 outages" }
}

/// Readiness by the month in which an outage begins.
pub(super) fn by_month(answer: &YearsAnswer) -> Figure {
    let names = ("readiness-by-month", "Readiness by month", of_hundred(answer));
    let mut figure = lines(answer, names, ("month", &short_months()), |s| s.by_month.iter().map(percent).collect());
    figure.legend =
        format!("{} that begin in a month, ridden through: the table above in a picture.", begun(of_hundred(answer)));
    figure
}

/// Mean charge between outages by month.
pub(super) fn charge_by_month(answer: &YearsAnswer) -> Figure {
    let names = (
        "charge-by-month",
        if answer.cuts { "Mean charge by month" } else { "Mean charge between outages by month" },
        "mean charge, %",
    );
    let mut figure = lines(answer, names, ("month", &short_months()), |s| {
        s.charge_by_month.iter().map(|charge| 100.0 * charge).collect()
    });
    figure.legend = format!(
        "How full the battery is in each month, on average over all days{}: what it holds when the lights go out.",
        if answer.cuts { "" } else { " without an outage" }
    );
    figure
}

/// Readiness by the year of life, with the range of the way that is chosen.
pub(super) fn by_year(answer: &YearsAnswer) -> Figure {
    let years: Vec<String> = (1..=answer.settings.years).map(|year| year.to_string()).collect();
    let names = ("readiness-by-year", "Readiness by year of life", of_hundred(answer));
    let mut figure = lines(answer, names, ("year", &years), |s| s.by_year.iter().map(percent).collect());
    let chosen = &answer.strategies[answer.choice];
    let ends = || chosen.by_year.iter().map(|share| share.interval);
    let first = figure.data.len();
    let (low, high) = (ends().map(|range| 100.0 * range.low), ends().map(|range| 100.0 * range.high));
    let column = |end: &str, values: Vec<f64>| Data::numbers(format!("{}, {end}", chosen.name), "percent", values);
    figure.data.extend([column("low", low.collect()), column("high", high.collect())]);
    if let Picture::Chart(chart) = &mut figure.picture {
        let points = answer.strategies.iter().flat_map(|s| s.by_year.iter().map(percent));
        let ends = ends().flat_map(|range| [100.0 * range.low, 100.0 * range.high]);
        chart.y = Axis::about(chart.y.name.clone(), points.chain(ends), 100.0);
        chart.x.name = "year of life".into();
        chart.bands.push(Band { low: first, high: first + 1, holds: "its 95 % range" });
    }
    figure.legend = format!(
        "Band: 95 % range of \"{}\". Ups and downs from one year to the next that stay within it are chance, not the battery.",
        chosen.name
    );
    figure
}

/// Capacity left by the year of life under each law of wear: of the way that is chosen in the picture, of all in its data.
pub(super) fn capacity(answer: &YearsAnswer) -> Figure {
    let years = || (0..=answer.settings.years).map(|year| year as f64);
    // Year 0 is new.
    let left = |lost: &[f64]| -> Vec<f64> {
        std::iter::once(100.0).chain(lost.iter().map(|lost| 100.0 * (1.0 - lost))).collect()
    };
    let chosen = &answer.strategies[answer.choice];
    let laws: Vec<Vec<f64>> = chosen.lost_by_year.iter().map(|lost| left(lost)).collect();
    let end = |of: fn(f64, f64) -> f64| -> Vec<f64> {
        (0..=answer.settings.years)
            .map(|year| laws.iter().map(|law| law[year]).reduce(of).unwrap_or(f64::NAN))
            .collect()
    };
    let (least, most) = (end(f64::min), end(f64::max));
    let y = Axis::about("capacity left, %", least.iter().chain(&most).copied(), 100.0);
    let names = super::law_names(answer);
    let named = names.iter().zip(laws).map(|(law, left)| Data::numbers(law.clone(), "percent", left));
    let mut data = vec![Data::numbers("year", "", years())];
    data.extend(named);
    let first = data.len();
    data.push(Data::numbers("least of the laws", "percent", least));
    data.push(Data::numbers("most of the laws", "percent", most));
    for other in answer.strategies.iter().enumerate().filter(|(k, _)| *k != answer.choice).map(|(_, other)| other) {
        let of_law = names.iter().zip(&other.lost_by_year);
        data.extend(of_law.map(|(law, lost)| Data::numbers(format!("{}, {law}", other.name), "percent", left(lost))));
    }
    let chart = Chart {
        x: Axis::counted("year of life", (0.0, answer.settings.years as f64), 10),
        y,
        over: 0,
        rows: answer.settings.years + 1,
        lines: (1..first).collect(),
        bands: vec![Band { low: first, high: first + 1, holds: "between the laws of wear" }],
        ..Chart::default()
    };
    Figure {
        name: "capacity-by-year",
        title: format!("Capacity left by year of life, \"{}\", under each law of wear", chosen.name),
        data,
        picture: Picture::Chart(chart),
        legend: format!(
            "Capacity of \"{}\" at the end of each year, mean of the histories, under each law of wear; the band is what lies \
             between the laws, and nobody knows which of them holds. Outages are followed with {}. {}",
            chosen.name,
            super::law(answer),
            super::law_sources(answer)
        ),
        quiet: false,
    }
}
