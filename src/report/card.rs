//! The plan card: one page to hang beside the station.

use super::outage::{WIDTH, table, wrap};
use super::page::{Cell, Page, list, paragraph, table as html_table};
use super::words::duration;
use crate::engine::Plan;
use crate::scenario::model::Scenario;
use crate::study::endurance::runtime_h;

/// Charges of the runtime table.
const CHARGES: [f64; 4] = [1.0, 0.8, 0.5, 0.2];

/// Hours worth telling apart; longer is told as more.
const LONGEST_TOLD_H: f64 = 14.0 * 24.0;

/// Food without power.
///
/// USDA FSIS and FDA leaflets (releases of 2007 and 2013): a closed fridge keeps food safe for about 4 hours, a full freezer
/// for about 48, a half-full one for about 24; what has been above 40 °F (4 °C) for two hours is thrown away.
const FOOD: [&str; 3] = [
    "Fridge without power, door closed: food keeps about 4 hours. Then use a thermometer.",
    "Freezer without power, door closed: about 48 hours when full, 24 when half full.",
    "Throw away what has been above 4 °C (40 °F) for more than 2 hours. Never taste to find out. (USDA, FDA)",
];

const CAUTIONS: [&str; 4] = [
    "Station: dry, ventilated, out of the sun, off soft surfaces, away from bedding. Smell, swelling or heat: unplug, leave, call for help.",
    "Generator: outdoors only, far from windows and doors. Never feed a house through a socket.",
    "House wiring: a licensed electrician only. Makers' manuals and local code have the last word.",
    "Medical device: settle this plan with its maker and whoever prescribed it, and keep a second way to power it.",
];

fn runtimes(plan: &Plan) -> Vec<Vec<String>> {
    let told = |hours: f64| {
        if hours > LONGEST_TOLD_H { "over 14 days".to_string() } else { duration(hours) }
    };
    let row = |name: String, picked: &dyn Fn(usize) -> bool| {
        let cells = CHARGES.iter().map(|&charge| told(runtime_h(plan, charge, &|k| picked(k))));
        std::iter::once(name).chain(cells).collect::<Vec<_>>()
    };
    let mut rows = vec![
        row("everything".into(), &|_| true),
        row("vital and useful".into(), &|k| plan.loads[k].class < 2),
        row("vital only".into(), &|k| plan.loads[k].class == 0),
    ];
    for (only, load) in plan.loads.iter().enumerate() {
        rows.push(row(format!("{} alone", load.name), &|k| k == only));
    }
    rows.dedup_by(|a, b| a[1..] == b[1..] && !a[0].ends_with("alone"));
    rows
}

/// What to switch off, and when, in the order of doing it.
fn steps(plan: &Plan) -> Vec<String> {
    let mut ruled: Vec<(f64, &str)> =
        plan.loads.iter().filter(|l| l.off_below > 0.0).map(|l| (l.off_below, l.name.as_str())).collect();
    ruled.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut steps: Vec<String> =
        ruled.iter().map(|(below, name)| format!("Below {:.0} %: switch off the {name}.", below * 100.0)).collect();
    for (class, word) in [(2, "spare"), (1, "useful")] {
        let names: Vec<&str> =
            plan.loads.iter().filter(|l| l.class == class && l.off_below <= 0.0).map(|l| l.name.as_str()).collect();
        if !names.is_empty() {
            steps.push(format!("When it runs short, {word} things go: {}.", names.join(", ")));
        }
    }
    let vital: Vec<&str> = plan.loads.iter().filter(|l| l.class == 0).map(|l| l.name.as_str()).collect();
    steps.push(format!("Stays on to the last: {}.", vital.join(", ")));
    if plan.loads.iter().all(|l| l.outlet != 0 || l.class > 0) && plan.loads.iter().any(|l| l.outlet == 0) {
        steps.push(
            "Nothing vital hangs on AC: switch the AC outlet off when you can, its idle draw never rests.".into(),
        );
    }
    steps
}

/// The card as text.
///
/// * `headline` — the answer of a run, in a sentence.
#[must_use]
pub fn text(scenario: &Scenario, plan: &Plan, headline: &str) -> String {
    let mut out = format!("PLAN FOR AN OUTAGE: {}\n\n", scenario.title);
    out.push_str(&wrap(headline, "", WIDTH));
    out.push_str("\nWhat to switch off\n");
    for (n, step) in steps(plan).iter().enumerate() {
        out.push_str(&wrap(&format!("{}. {step}", n + 1), "  ", WIDTH));
    }
    out.push_str("\nHow long the battery lasts without sun, by the charge it shows\n");
    let mut rows = vec![
        std::iter::once(String::new()).chain(CHARGES.iter().map(|c| format!("{:.0} %", c * 100.0))).collect::<Vec<_>>(),
    ];
    rows.extend(runtimes(plan));
    out.push_str(&table(&rows, 1));
    out.push_str("\nFood\n");
    for line in FOOD {
        out.push_str(&wrap(line, "  ", WIDTH));
    }
    out.push_str("\nTake care\n");
    for line in cautions(scenario) {
        out.push_str(&wrap(line, "  ", WIDTH));
    }
    out
}

fn cautions(scenario: &Scenario) -> Vec<&'static str> {
    let medical = scenario.loads.iter().any(|load| load.medical);
    CAUTIONS.into_iter().take(if medical { 4 } else { 3 }).collect()
}

/// The card as one page to print.
#[must_use]
pub fn html(scenario: &Scenario, plan: &Plan, headline: &str) -> String {
    let rows: Vec<Vec<Cell>> = runtimes(plan)
        .into_iter()
        .map(|row| {
            row.into_iter().enumerate().map(|(c, t)| if c == 0 { Cell::Text(t) } else { Cell::Number(t) }).collect()
        })
        .collect();
    Page {
        title: format!("Plan for an outage: {}", scenario.title),
        lead: headline.to_string(),
        under: String::new(),
        sections: vec![
            ("What to switch off".into(), list(&steps(plan))),
            (
                "How long the battery lasts without sun, by the charge it shows".into(),
                format!(
                    "{}{}",
                    html_table(&["", "100 %", "80 %", "50 %", "20 %"], &rows),
                    paragraph("Sun adds to these hours; cold and age take from them.")
                ),
            ),
            ("Food".into(), list(&FOOD)),
            ("Take care".into(), list(&cautions(scenario))),
        ],
    }
    .html()
}
