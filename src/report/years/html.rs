//! The answer of `years` as one page that needs nothing else.

use super::super::page::{Cell, Page, list, paragraph, table};
use super::super::svg::{LineChart, bar, round_marks, whisker};
use super::{against_first, disagreement, headline, main_rows, money_rows, of_hundred, years_words};
use crate::engine::clock::MONTHS;
use crate::study::years::tally::Share;
use crate::study::years::{StrategyAnswer, YearsAnswer};

/// Classes of lines, one a strategy.
const CLASSES: [&str; 6] = ["a", "b", "c", "d", "e", "f"];

fn class(index: usize) -> &'static str {
    CLASSES[index % CLASSES.len()]
}

/// The whole page.
#[must_use]
pub fn page(title: &str, answer: &YearsAnswer, notes: &[String]) -> String {
    let mut sections = Vec::new();
    if let Some((first, others)) = answer.strategies.split_first().filter(|(_, others)| !others.is_empty()) {
        let sentences: Vec<String> = others.iter().map(against_first).collect();
        sections.push((format!("Against \"{}\", on the same outages", first.name), list(&sentences)));
    }
    sections.push((
        "Wear against readiness".into(),
        frontier(answer)
            + &names(answer)
            + &paragraph(
                "Long strokes: 95 % intervals of readiness; short ones: the middle. Up and to the right is better.",
            )
            + &numbers(&main_rows(answer)),
    ));
    sections.push(("Readiness over the year".into(), over_the_year(answer)));
    sections.push(("Readiness as the battery ages".into(), as_it_ages(answer)));
    sections.push(("Years until a fifth of the capacity is gone, by law of wear".into(), laws(answer)));
    sections.push(("Energy and money in a year".into(), numbers(&money_rows(answer))));
    sections.push(("What this rests on".into(), list(notes)));
    let under = if answer.stopped_early() {
        format!("Stopped before its time: {} of {} histories.", answer.histories, answer.settings.histories)
    } else {
        String::new()
    };
    Page { title: title.into(), lead: headline(answer), under, sections }.html()
}

/// A table of the text report: names, then numbers.
fn numbers(rows: &[Vec<String>]) -> String {
    let Some((heads, rows)) = rows.split_first() else { return String::new() };
    let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
    let cell = |(index, text): (usize, &String)| {
        if index == 0 { Cell::Text(text.clone()) } else { Cell::Number(text.clone()) }
    };
    let rows: Vec<Vec<Cell>> = rows.iter().map(|row| row.iter().enumerate().map(cell).collect()).collect();
    table(&heads, &rows)
}

/// The strategies beside their strokes.
fn names(answer: &YearsAnswer) -> String {
    let row = |(index, strategy): (usize, &StrategyAnswer)| {
        let stroke = format!(
            "<svg class=\"whisker\" viewBox=\"0 0 200 16\" aria-hidden=\"true\"><line class=\"line {}\" x1=\"4\" x2=\"196\" \
             y1=\"8\" y2=\"8\"/></svg>",
            class(index)
        );
        vec![Cell::Html(stroke), Cell::Text(strategy.name.clone())]
    };
    let rows: Vec<Vec<Cell>> = answer.strategies.iter().enumerate().map(row).collect();
    table(&["", ""], &rows)
}

/// The range of some values with a little room, and marks at round numbers.
fn axis(values: impl Iterator<Item = f64>, at_most: f64) -> ((f64, f64), Vec<(f64, String)>) {
    let (low, high) = values
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
    let (low, high) = if low <= high { (low, high) } else { (0.0, 1.0) };
    let room = (0.08 * (high - low)).max(0.02 * high.abs()).max(1e-3);
    let range = ((low - room).max(0.0), (high + room).min(at_most));
    (range, round_marks(range.0, range.1, 5))
}

fn percent(share: &Share) -> f64 {
    100.0 * share.probability
}

fn frontier(answer: &YearsAnswer) -> String {
    let heights = answer.strategies.iter().flat_map(|s| [100.0 * s.rode.interval.low, 100.0 * s.rode.interval.high]);
    let (y_range, y_marks) = axis(heights, 100.0);
    let (x_range, x_marks) = axis(answer.strategies.iter().map(|s| s.years.mean), f64::INFINITY);
    let tick = 0.012 * (x_range.1 - x_range.0);
    let mut lines = Vec::new();
    for (index, s) in answer.strategies.iter().enumerate() {
        let (x, y) = (s.years.mean, percent(&s.rode));
        let (low, high) = (100.0 * s.rode.interval.low, 100.0 * s.rode.interval.high);
        lines.push((vec![(x, low), (x, high)], class(index), String::new()));
        lines.push((vec![(x - tick, y), (x + tick, y)], class(index), String::new()));
    }
    LineChart {
        title: "Outages ridden through against years of life".into(),
        x_name: "years until a fifth of the capacity is gone".into(),
        y_name: "of 100 outages".into(),
        x_range,
        y_range,
        x_marks,
        y_marks,
        bands: Vec::new(),
        lines,
    }
    .svg()
}

/// Lines of shares in percent, one a strategy, over named places.
fn lines(title: &str, y_name: &str, places: &[String], series: &[Vec<f64>]) -> String {
    let (y_range, y_marks) = axis(series.iter().flatten().copied(), 100.0);
    let line = |(index, values): (usize, &Vec<f64>)| {
        let points = values.iter().enumerate().filter(|(_, value)| value.is_finite());
        (points.map(|(k, &value)| (k as f64, value)).collect(), class(index), String::new())
    };
    LineChart {
        title: title.into(),
        x_name: String::new(),
        y_name: y_name.into(),
        x_range: (-0.5, places.len() as f64 - 0.5),
        y_range,
        x_marks: places.iter().enumerate().map(|(k, place)| (k as f64, place.clone())).collect(),
        y_marks,
        bands: Vec::new(),
        lines: series.iter().enumerate().map(line).collect(),
    }
    .svg()
}

fn over_the_year(answer: &YearsAnswer) -> String {
    let months: Vec<String> = MONTHS.iter().map(|month| month.chars().take(3).collect()).collect();
    let rode: Vec<Vec<f64>> = answer.strategies.iter().map(|s| s.by_month.iter().map(percent).collect()).collect();
    let charge: Vec<Vec<f64>> =
        answer.strategies.iter().map(|s| s.charge_by_month.iter().map(|charge| 100.0 * charge).collect()).collect();
    paragraph("Of the outages that begin in a month, those ridden through.")
        + &lines("Readiness by month", "of 100 outages", &months, &rode)
        + &paragraph("Mean charge between outages.")
        + &lines("Mean charge by month", "charge, %", &months, &charge)
        + &names(answer)
}

fn as_it_ages(answer: &YearsAnswer) -> String {
    let ages: Vec<String> = (1..=answer.settings.years).map(|year| year.to_string()).collect();
    let rode: Vec<Vec<f64>> = answer.strategies.iter().map(|s| s.by_year.iter().map(percent).collect()).collect();
    let differences = answer.strategies.iter().skip(1).map(|s| s.more_than_first.1);
    let widest = differences.clone().fold(0.005_f64, |most, i| most.max(i.low.abs()).max(i.high.abs()));
    let row = |s: &StrategyAnswer| {
        let (middle, interval) = s.more_than_first;
        vec![
            Cell::Text(s.name.clone()),
            Cell::Number(of_hundred(&s.rode_first)),
            Cell::Number(of_hundred(&s.rode_last)),
            Cell::Html(whisker(interval.low, middle, interval.high, (-widest, widest), Some(0.0))),
        ]
    };
    let rows: Vec<Vec<Cell>> = answer.strategies.iter().map(row).collect();
    let (first, last) = (format!("first {} years", answer.stretch), format!("last {} years", answer.stretch));
    lines("Readiness by year of life", "of 100 outages", &ages, &rode)
        + &names(answer)
        + &table(&["", &first, &last, "against the first way"], &rows)
}

fn laws(answer: &YearsAnswer) -> String {
    let most = answer.strategies.iter().flat_map(|s| &s.years_by_model).map(|years| years.mean).fold(1.0, f64::max);
    let mut rows = Vec::new();
    for strategy in &answer.strategies {
        for (k, (model, years)) in answer.models.iter().zip(&strategy.years_by_model).enumerate() {
            rows.push(vec![
                Cell::Text(if k == 0 { strategy.name.clone() } else { String::new() }),
                Cell::Text((*model).to_string()),
                Cell::Number(years_words(years.mean)),
                Cell::Html(bar(years.mean, most)),
            ]);
        }
    }
    table(&["", "law", "years", ""], &rows) + &paragraph(&disagreement(answer))
}
