//! The answer of `run` as one page.

use super::headline::{doubt, headline, stopped};
use super::outage::{LOAD_HEADS, account_rows, failures, load_rows};
use super::page::{Cell, Page, list, paragraph, table};
use super::rare;
use super::svg::{LineChart, bar, round_marks, whisker};
use super::words::{common_base, energy, percent, points, survival_of};
use crate::engine::Plan;
use crate::scenario::model::Scenario;
use crate::study::outage::OutageAnswer;
use crate::trials::tally::ChargeFan;

/// The whole page.
#[must_use]
pub fn html(scenario: &Scenario, plan: &Plan, answer: &OutageAnswer, notes: &[String]) -> String {
    let rows: Vec<Vec<Cell>> = load_rows(plan, answer)
        .into_iter()
        .map(|row| {
            row.into_iter().enumerate().map(|(c, t)| if c < 3 { Cell::Text(t) } else { Cell::Number(t) }).collect()
        })
        .collect();
    let mean = answer.tally.ledger.scaled(1.0 / answer.tally.trials as f64);
    let (account, total) = account_rows(&mean);
    let account: Vec<Vec<Cell>> = account
        .into_iter()
        .map(|(sign, what, wh)| {
            vec![
                Cell::Text(sign.to_string()),
                Cell::Text(what.to_string()),
                Cell::Number(energy(wh)),
                Cell::Number(percent(wh / total.max(1e-9))),
                Cell::Html(bar(wh, total)),
            ]
        })
        .collect();
    let mut sections = vec![
        ("What fails first".to_string(), paragraph(&failures(plan, answer))),
        ("What runs, and what goes without".to_string(), table(&LOAD_HEADS, &rows)),
        (
            "Charge of the battery through the outage".to_string(),
            format!(
                "{}{}",
                charge_chart(&answer.tally.fan, plan.season.step_h),
                paragraph("Line: the middle outage. Dark band: half of all outages. Light band: nine of ten.")
            ),
        ),
        (
            "Where the energy comes from and goes, in a mean outage".to_string(),
            table(&["", "", "energy", "share", ""], &account),
        ),
    ];
    if !answer.effects.is_empty() {
        let most = answer
            .effects
            .iter()
            .fold(0.05_f64, |m, e| m.max(e.pair.interval.high.abs()).max(e.pair.interval.low.abs()));
        let of = common_base(answer.effects.iter().map(|effect| effect.survival.interval));
        let rows: Vec<Vec<Cell>> = answer
            .effects
            .iter()
            .map(|effect| {
                vec![
                    Cell::Text(effect.change.words()),
                    Cell::Number(survival_of(&effect.survival, of)),
                    Cell::Number(if effect.pair.resolved() {
                        format!(
                            "{} ({} to {})",
                            points(effect.pair.difference),
                            points(effect.pair.interval.low),
                            points(effect.pair.interval.high)
                        )
                    } else {
                        "not told apart".into()
                    }),
                    Cell::Html(whisker(
                        effect.pair.interval.low,
                        effect.pair.difference,
                        effect.pair.interval.high,
                        (-most, most),
                        Some(0.0),
                    )),
                ]
            })
            .collect();
        sections.push((
            "What one change would do, on the same weather".to_string(),
            table(&["change", "survival", "difference in points", ""], &rows),
        ));
    }
    if let Some(rarity) = &answer.rarity {
        sections.push((rare::HEAD.to_string(), paragraph(&rare::sentences(rarity))));
    }
    sections.push(("What this rests on".to_string(), list(notes)));
    let lead = format!("{} {}", stopped(answer), headline(scenario, answer)).trim_start().to_string();
    Page { title: scenario.title.clone(), lead, under: doubt(answer), sections }.html()
}

/// The fan of charge.
fn charge_chart(fan: &ChargeFan, step_h: f64) -> String {
    let steps = fan.steps_with_a_twentieth();
    let hours = steps as f64 * step_h;
    let band = |low: f64, high: f64| -> Vec<(f64, f64, f64)> {
        (0..steps)
            .filter_map(|s| {
                Some(((s + 1) as f64 * step_h, 100.0 * fan.quantile(s, low)?, 100.0 * fan.quantile(s, high)?))
            })
            .collect()
    };
    let middle = (0..steps).filter_map(|s| Some(((s + 1) as f64 * step_h, 100.0 * fan.quantile(s, 0.5)?))).collect();
    let days = hours / 24.0;
    let x_marks = if days >= 2.0 {
        round_marks(0.0, days, 8)
            .into_iter()
            .filter(|(d, _)| (d - d.round()).abs() < 1e-9)
            .map(|(d, label)| (d * 24.0, label))
            .collect()
    } else {
        round_marks(0.0, hours, 8)
    };
    LineChart {
        title: "Charge of the battery, in percent of its capacity, through the outage".into(),
        x_name: if days >= 2.0 { "days since the lights went out" } else { "hours since the lights went out" }.into(),
        y_name: "charge, %".into(),
        x_range: (0.0, hours.max(step_h)),
        y_range: (0.0, 100.0),
        x_marks,
        y_marks: round_marks(0.0, 100.0, 5),
        bands: vec![(band(0.05, 0.95), "wide"), (band(0.25, 0.75), "narrow")],
        lines: vec![(middle, "a", String::new())],
    }
    .svg()
}

/// The fan as CSV: quantiles of charge by hour of the outage.
#[must_use]
pub fn csv(fan: &ChargeFan, step_h: f64) -> String {
    let mut out = String::from("after_h,outages_running,p05_percent,p25_percent,p50_percent,p75_percent,p95_percent\n");
    for step in 0..fan.steps() {
        let at = |p: f64| fan.quantile(step, p).map_or(String::new(), |c| format!("{:.0}", 100.0 * c));
        out.push_str(&format!(
            "{},{},{},{},{},{},{}\n",
            (step + 1) as f64 * step_h,
            fan.trials_at(step),
            at(0.05),
            at(0.25),
            at(0.5),
            at(0.75),
            at(0.95)
        ));
    }
    out
}
