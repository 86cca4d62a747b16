//! The plan card: one page to hang beside the station.

use super::document::{Column, Document, Sheet, Table};
use super::headline::month_name;
use super::runtimes::{self, LONGEST_TOLD_H};
use super::words::duration;
use crate::engine::Plan;
use crate::scenario::model::{Load, Pattern, Scenario};
use crate::study::endurance::runtime;

/// Charges of the runtime table.
const CHARGES: [f64; 4] = [1.0, 0.8, 0.5, 0.2];

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

/// The rows of the runtime table, and what they reckon with.
struct Runtimes {
    /// The last column holds the hour at which a full battery lasts shortest, where any row hangs on it.
    table: Table,
    under: Vec<String>,
}

fn runtimes_of(scenario: &Scenario, plan: &Plan, cells_c: f64) -> Runtimes {
    let told = |hours: f64| {
        if hours > LONGEST_TOLD_H { "over 14 days".to_string() } else { duration(hours) }
    };
    let mut hangs = false;
    let mut row = |name: String, picked: &dyn Fn(usize) -> bool| {
        let all = CHARGES.map(|charge| runtime(plan, cells_c, charge, &|k| picked(k)));
        let full = &all[0];
        let from = if full.hangs_on_the_hour() { runtimes::clock(plan, full.shortest_from) } else { "any".into() };
        hangs |= full.hangs_on_the_hour();
        let cells = all.iter().map(|runtime| told(runtime.shortest_h));
        std::iter::once(name).chain(cells).chain([from]).collect::<Vec<_>>()
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
    let heads = CHARGES.map(|charge| Column::right(format!("{:.0} %", charge * 100.0)));
    let mut heads: Vec<Column> = std::iter::once(Column::left("")).chain(heads).collect();
    let chill = runtimes::cold(plan, cells_c, month_name(scenario));
    let cold = chill.as_ref().is_some_and(|chill| chill.cold);
    let mut under: Vec<String> = chill.map(|chill| chill.told).into_iter().collect();
    if hangs {
        heads.push(Column::right("begun at"));
        under.push(
            "Each from the hour of the day at which it is shortest (the last column, for a full battery): begun at another \
             hour it may last longer."
                .into(),
        );
    } else {
        for row in &mut rows {
            row.pop();
        }
    }
    under.push(if cold {
        "Sun adds to these hours; harder frost and age take from them.".into()
    } else {
        "Sun adds to these hours; cold and age take from them.".into()
    });
    Runtimes { table: Table::new(heads).rows(rows), under }
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

/// Whether a load keeps food cold, as far as its pattern or its name tells.
fn holds_food(load: &Load) -> bool {
    let name = load.name.to_lowercase();
    matches!(load.pattern, Pattern::Cooler(_))
        || ["fridge", "freezer", "cooler", "refrigerator"].iter().any(|w| name.contains(w))
}

/// The card.
///
/// * `headline` — the answer of a run, in a sentence; `cells_c` — temperature of the cells \[°C\].
#[must_use]
pub fn document(scenario: &Scenario, plan: &Plan, headline: &str, cells_c: f64) -> Document {
    let mut out = Document::new(format!("Plan for an outage: {}", scenario.title));
    out.sheet = Sheet::Large;
    out.placed(&scenario.site).lead(headline);
    out.head("What to switch off").steps(steps(plan));
    out.head("How long the battery lasts without sun, by the charge it shows");
    let Runtimes { table, under } = runtimes_of(scenario, plan, cells_c);
    out.table(table);
    for line in under {
        out.say(line);
    }
    if scenario.loads.iter().any(holds_food) {
        out.head("Food").list(FOOD);
    }
    let medical = scenario.loads.iter().any(|load| load.medical);
    out.head("Take care").list(CAUTIONS.into_iter().take(if medical { 4 } else { 3 }));
    out
}
