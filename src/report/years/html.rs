//! The answer of `years` as one page that needs nothing else.

use super::svg::{self, Dot, escaped};
use super::{against_first, disagreement, headline, of_hundred, years_words};
use crate::engine::clock::MONTHS;
use crate::study::years::YearsAnswer;
use crate::study::years::tally::Share;

const STYLE: &str = "body{font:16px/1.5 system-ui,sans-serif;max-width:46rem;margin:2rem auto;padding:0 1rem;color:#222;\
background:#fff}h1{font-size:1.5rem}h2{font-size:1.15rem;margin-top:2rem}.lead{font-size:1.15rem}table{border-collapse:\
collapse;width:100%;font-size:.9rem}td,th{padding:.3rem .5rem;text-align:right;border-bottom:1px solid #ddd}td:first-child,\
th:first-child{text-align:left}svg{width:100%;height:auto}svg text{font:12px system-ui,sans-serif;fill:#444}svg .grid{\
stroke:#ddd}svg polyline{fill:none;stroke-width:2}.legend{list-style:none;padding:0;font-size:.9rem}.legend li{display:\
inline-block;margin-right:1rem}.legend i{display:inline-block;width:.8rem;height:.8rem;margin-right:.35rem}small{color:#555}";

fn table(heads: &[String], rows: &[Vec<String>]) -> String {
    let cells = |tag: &str, cells: &[String]| -> String {
        cells.iter().map(|cell| format!("<{tag}>{}</{tag}>", escaped(cell))).collect()
    };
    let body: String = rows.iter().map(|row| format!("<tr>{}</tr>\n", cells("td", row))).collect();
    format!("<table>\n<tr>{}</tr>\n{body}</table>\n", cells("th", heads))
}

fn percent(share: &Share) -> f64 {
    100.0 * share.probability
}

/// The whole page.
#[must_use]
pub fn page(title: &str, answer: &YearsAnswer, notes: &[String]) -> String {
    let names: Vec<String> = answer.strategies.iter().map(|strategy| strategy.name.clone()).collect();
    let legend = svg::legend(&names);
    let mut body = format!("<h1>{}</h1>\n<p class=\"lead\">{}</p>\n", escaped(title), escaped(&headline(answer)));
    if answer.stopped_early() {
        body.push_str(&format!(
            "<p>Stopped before its time: {} of {} histories.</p>\n",
            answer.histories, answer.settings.histories
        ));
    }
    if let Some((first, others)) = answer.strategies.split_first().filter(|(_, others)| !others.is_empty()) {
        let items: String =
            others.iter().map(|other| format!("<li>{}</li>\n", escaped(&against_first(other)))).collect();
        body.push_str(&format!(
            "<h2>Against \"{}\", on the same outages</h2>\n<ul>{items}</ul>\n",
            escaped(&first.name)
        ));
    }
    body.push_str("<h2>Wear against readiness</h2>\n");
    let dots: Vec<Dot> = answer
        .strategies
        .iter()
        .map(|s| Dot {
            x: s.years.mean,
            y: (percent(&s.rode), 100.0 * s.rode.interval.low, 100.0 * s.rode.interval.high),
            filled: s.on_the_frontier,
        })
        .collect();
    body.push_str(&svg::scatter(
        "Outages ridden through against years of life",
        &dots,
        "years until a fifth of the capacity is gone",
        " %",
        100.0,
    ));
    body.push_str(&legend);
    body.push_str("<p><small>Filled: no other one both lasts as long and rides through as many. Bars: 95 % intervals.</small></p>\n");
    let heads: Vec<String> = [
        String::new(),
        "rides through".into(),
        format!("first {} years", answer.stretch),
        format!("last {} years", answer.stretch),
        "years to 80 %".into(),
    ]
    .into();
    let rows: Vec<Vec<String>> = answer
        .strategies
        .iter()
        .map(|s| {
            let shares = [&s.rode, &s.rode_first, &s.rode_last].map(of_hundred);
            [vec![s.name.clone()], shares.to_vec(), vec![years_words(s.years.mean)]].concat()
        })
        .collect();
    body.push_str(&table(&heads, &rows));

    body.push_str(
        "<h2>Readiness over the year</h2>\n<p>Share of the outages beginning in a month that are ridden through.</p>\n",
    );
    let months: Vec<String> = MONTHS.iter().map(|month| month.chars().take(3).collect()).collect();
    let by_month: Vec<Vec<f64>> = answer.strategies.iter().map(|s| s.by_month.iter().map(percent).collect()).collect();
    body.push_str(&svg::lines("Readiness by month", &months, &by_month, " %", 100.0));
    body.push_str("<p>Mean charge between outages.</p>\n");
    let charge: Vec<Vec<f64>> =
        answer.strategies.iter().map(|s| s.charge_by_month.iter().map(|charge| 100.0 * charge).collect()).collect();
    body.push_str(&svg::lines("Mean charge by month", &months, &charge, " %", 100.0));
    body.push_str(&legend);

    body.push_str("<h2>Readiness as the battery ages</h2>\n");
    let ages: Vec<String> = (1..=answer.settings.years).map(|year| year.to_string()).collect();
    let by_year: Vec<Vec<f64>> = answer.strategies.iter().map(|s| s.by_year.iter().map(percent).collect()).collect();
    body.push_str(&svg::lines("Readiness by year of life", &ages, &by_year, " %", 100.0));
    body.push_str(&legend);

    body.push_str("<h2>Years until a fifth of the capacity is gone, by law of wear</h2>\n");
    let laws: Vec<Vec<f64>> =
        answer.strategies.iter().map(|s| s.years_by_model.iter().map(|years| years.mean).collect()).collect();
    let numbers: Vec<String> = (1..=names.len()).map(|number| number.to_string()).collect();
    body.push_str(&svg::bars("Years by law of wear", &numbers, &laws, ""));
    let models: Vec<String> = answer.models.iter().map(|model| (*model).to_string()).collect();
    body.push_str(&svg::legend(&models));
    let items: String = names.iter().map(|name| format!("<li>{}</li>", escaped(name))).collect();
    body.push_str(&format!("<ol>{items}</ol>\n<p>{}</p>\n", escaped(&disagreement(answer))));

    body.push_str("<h2>Energy and money in a year</h2>\n");
    let money = super::money_rows(answer);
    body.push_str(&table(&money[0], &money[1..]));
    let items: String = notes.iter().map(|note| format!("<li>{}</li>\n", escaped(note))).collect();
    body.push_str(&format!("<h2>What this rests on</h2>\n<ul>{items}</ul>\n"));
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" \
         content=\"width=device-width\">\n<title>{}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n{body}</body>\n</html>\n",
        escaped(title)
    )
}
