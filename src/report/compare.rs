//! The answer of `compare`: text, page, JSON.

use serde::Serialize;

use super::json::{SCHEMA_VERSION, Share};
use super::outage::{WIDTH, table, wrap};
use super::page::{Cell, Page, list, paragraph, table as html_table};
use super::svg::whisker;
use super::words::{common_base, points, stopped, survival_of, thousands};
use crate::study::compare::{Comparison, Pair};

fn difference(pair: &Pair, is_first: bool) -> String {
    if is_first {
        return "-".into();
    }
    if pair.resolved() {
        format!("{} ({} to {})", points(pair.difference), points(pair.interval.low), points(pair.interval.high))
    } else {
        "not told apart".into()
    }
}

/// What to say of a run that was stopped; nothing of one that was not.
fn told_stopped(answer: &Comparison) -> String {
    let done = answer.contenders.first().map_or(0, |c| c.tally.trials);
    if answer.stopped_early { stopped(done, answer.settings.trials, "trials") } else { String::new() }
}

/// The verdict in sentences: the best, and what these trials cannot tell apart.
#[must_use]
pub fn verdict(answer: &Comparison) -> String {
    let name = |place: usize| answer.contenders[answer.ranking[place]].name.as_str();
    let tied = answer.neighbours.iter().take_while(|pair| !pair.resolved()).count();
    let mut out = if tied == 0 {
        match answer.neighbours.first() {
            Some(pair) => format!(
                "Best is \"{}\": it rides through {} points more than \"{}\" ({} to {}).",
                name(0),
                points(pair.difference).trim_start_matches('+'),
                name(1),
                points(pair.interval.low),
                points(pair.interval.high)
            ),
            None => format!("There is only \"{}\".", name(0)),
        }
    } else {
        let names: Vec<String> = (0..=tied).map(|place| format!("\"{}\"", name(place))).collect();
        format!("At the top, {} cannot be told apart with these trials.", names.join(" and "))
    };
    for (place, pair) in answer.neighbours.iter().enumerate().filter(|(_, pair)| !pair.resolved()) {
        let advice = match pair.trials_needed() {
            _ if pair.only_first + pair.only_second == 0 => {
                "in no outage did one survive where the other failed".to_string()
            }
            Some(trials) => {
                format!("about {} trials would tell, if the difference is what it seems", thousands(trials))
            }
            None => "no sensible number of trials would tell".into(),
        };
        out.push_str(&format!(" \"{}\" and \"{}\": {advice}.", name(place), name(place + 1)));
    }
    out
}

fn rows(answer: &Comparison) -> Vec<[String; 5]> {
    let of = common_base(answer.contenders.iter().map(|c| c.survival.interval));
    answer
        .ranking
        .iter()
        .map(|&k| {
            let c = &answer.contenders[k];
            let pair = &c.against_first;
            [
                c.name.clone(),
                survival_of(&c.survival, of),
                difference(pair, k == 0),
                if k == 0 { "-".into() } else { thousands(pair.only_second) },
                if k == 0 { "-".into() } else { thousands(pair.only_first) },
            ]
        })
        .collect()
}

const HEADS: [&str; 5] = ["variant", "rides through", "points against the first", "only it survives", "only the first"];

/// The answer as text.
#[must_use]
pub fn text(title: &str, answer: &Comparison) -> String {
    let trials = answer.contenders.first().map_or(0, |c| c.tally.trials);
    let mut out = format!("{title}\n\n");
    out.push_str(&wrap(&told_stopped(answer), "", WIDTH));
    out.push_str(&wrap(&verdict(answer), "", WIDTH));
    out.push('\n');
    let mut all = vec![HEADS.map(String::from).to_vec()];
    all.extend(rows(answer).into_iter().map(|row| row.to_vec()));
    out.push_str(&table(&all, 2));
    out.push('\n');
    for &k in &answer.ranking {
        let c = &answer.contenders[k];
        let (low, high) = (c.survival.interval.low, c.survival.interval.high);
        let at = |share: f64| (share * 50.0).round() as usize;
        let mut line: Vec<char> = " ".repeat(51).chars().collect();
        for cell in &mut line[at(low)..=at(high)] {
            *cell = '-';
        }
        line[at(c.survival.probability)] = 'o';
        let line: String = line.into_iter().collect();
        let name: String = c.name.chars().take(24).collect();
        out.push_str(&format!("  {name:<24} |{line}|\n"));
    }
    out.push_str(&format!("  {:<24}  0 %{:>22}{:>26}\n", "", "50 %", "100 %"));
    out.push('\n');
    out.push_str(&wrap(&footing(trials), "", WIDTH));
    out
}

fn footing(trials: u64) -> String {
    format!(
        "All variants met the same {} outages, weather and load luck. Ranges of survival are 95 % and count what is not \
         known; differences are paired, so they are much surer than the ranges suggest.",
        thousands(trials)
    )
}

/// The answer as one page.
#[must_use]
pub fn html(title: &str, answer: &Comparison) -> String {
    let most = answer
        .contenders
        .iter()
        .map(|c| c.against_first.interval)
        .fold(0.05_f64, |m, i| m.max(i.low.abs()).max(i.high.abs()));
    let body = answer
        .ranking
        .iter()
        .zip(rows(answer))
        .map(|(&k, [name, share, difference, only_it, only_first])| {
            let c = &answer.contenders[k];
            let survival =
                whisker(c.survival.interval.low, c.survival.probability, c.survival.interval.high, (0.0, 1.0), None);
            let pair = &c.against_first;
            let against = if k == 0 {
                String::new()
            } else {
                whisker(pair.interval.low, pair.difference, pair.interval.high, (-most, most), Some(0.0))
            };
            vec![
                Cell::Text(name),
                Cell::Number(share),
                Cell::Html(survival),
                Cell::Number(difference),
                Cell::Html(against),
                Cell::Number(only_it),
                Cell::Number(only_first),
            ]
        })
        .collect::<Vec<_>>();
    let trials = answer.contenders.first().map_or(0, |c| c.tally.trials);
    Page {
        title: title.to_string(),
        lead: format!("{} {}", told_stopped(answer), verdict(answer)).trim_start().to_string(),
        under: String::new(),
        sections: vec![
            (
                "Variants, best first".into(),
                html_table(
                    &["variant", "rides through", "", "points against the first", "", HEADS[3], HEADS[4]],
                    &body,
                ),
            ),
            ("What this rests on".into(), format!("{}{}", paragraph(&footing(trials)), list::<&str>(&[]))),
        ],
    }
    .html()
}

/// The answer of `compare` as JSON.
#[derive(Debug, Serialize)]
pub struct Json {
    kind: &'static str,
    schema_version: u32,
    version: &'static str,
    title: String,
    seed: u64,
    /// Whether the run was stopped before the trials asked for were done.
    stopped_early: bool,
    verdict: String,
    variants: Vec<JsonVariant>,
}

#[derive(Debug, Serialize)]
struct JsonVariant {
    name: String,
    rank: usize,
    survival: Share,
    unmet_wh_mean: f64,
    difference: f64,
    difference_low: f64,
    difference_high: f64,
    only_this_survives: u64,
    only_the_first_survives: u64,
    told_apart_from_first: bool,
}

/// The answer for the schema, in the order given.
#[must_use]
pub fn json(title: &str, answer: &Comparison) -> Json {
    let variants = answer
        .contenders
        .iter()
        .enumerate()
        .map(|(k, c)| JsonVariant {
            name: c.name.clone(),
            rank: answer.ranking.iter().position(|&r| r == k).map_or(0, |place| place + 1),
            survival: Share::of(&c.survival),
            unmet_wh_mean: c.tally.missed_sum_wh / c.tally.trials as f64,
            difference: c.against_first.difference,
            difference_low: c.against_first.interval.low,
            difference_high: c.against_first.interval.high,
            only_this_survives: c.against_first.only_second,
            only_the_first_survives: c.against_first.only_first,
            told_apart_from_first: k != 0 && c.against_first.resolved(),
        })
        .collect();
    Json {
        kind: "comparison",
        schema_version: SCHEMA_VERSION,
        version: env!("CARGO_PKG_VERSION"),
        title: title.to_string(),
        seed: answer.settings.seed,
        stopped_early: answer.stopped_early,
        verdict: verdict(answer),
        variants,
    }
}
