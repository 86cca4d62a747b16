//! The plan card: one page to hang beside the station.

mod holds;
mod steps;

use super::cautions;
use super::device::{self, Device};
use super::document::{Column, Document, Sheet, Table};
use super::headline::{headline, month_name, stopped, verdict_words};
use super::notes::{Note, of_weather};
use super::now::Floor;
use super::phrases::remedies;
use super::runtimes::{self, LONGEST_TOLD_H};
use super::told::Words;
use super::words::column_of_durations;
use crate::engine::Plan;
use crate::scenario::model::Scenario;
use crate::study::OutageAnswer;
use crate::study::endurance::{Runtime, at_least_h, may_end_h, runtime};
use holds::holds;
use steps::{beforehand, by_charge, by_clock};

/// Rows and steps that a sheet has room for in large type.
const ROOMY: usize = 16;

/// Charges of the runtime table, below that which the battery is charged to.
const CHARGES: [f64; 4] = [1.0, 0.8, 0.5, 0.2];

/// The charges told: that of a full battery first, as full as this one is charged, and none at which it gives nothing any more.
fn charges(plan: &Plan) -> Vec<f64> {
    let rig = plan.kit.best_estimate();
    let (full, floor) = (rig.full(), rig.floor_wh / rig.capacity_wh);
    let below = CHARGES.into_iter().filter(|charge| *charge < full - 0.01 && floor + 0.01 < *charge);
    std::iter::once(full).chain(below).collect()
}

/// The rows of the runtime table, and what they reckon with.
struct Runtimes {
    /// The last column holds the hour at which a full battery lasts shortest, where any row hangs on it.
    table: Table,
    under: Vec<String>,
}

/// The hours by charge, the hour that they begin at, and whether the AC outlet may end them.
type Reckoned = (Vec<f64>, String, bool);

fn runtimes_of(scenario: &Scenario, (plan, dark): (&Plan, &Plan), cells_c: f64, seed: u64) -> Runtimes {
    let mut hangs = false;
    let mut go_off: Vec<String> = Vec::new();
    let charges = charges(plan);
    // The hours by charge, the hour that they begin at, and whether the AC outlet may end them.
    let mut reckoned = |picked: &dyn Fn(usize) -> bool| {
        let run = |charge: &f64| (*charge, runtime(dark, cells_c, *charge, &|k| picked(k)));
        let all: Vec<(f64, Runtime)> = charges.iter().map(run).collect();
        let full = &all[0].1;
        let from = if full.hangs_on_the_hour() { runtimes::clock(plan, full.shortest_from) } else { "any".into() };
        hangs |= full.hangs_on_the_hour();
        let goes_off = may_end_h(dark, (cells_c, charges[0]), &|k| picked(k), full).is_some();
        // No more than can be counted on.
        (at_least_h(dark, cells_c, &|k| picked(k), &all, (seed, LONGEST_TOLD_H + 1.0)), from, goes_off)
    };
    // The same loads, under another name, last as long.
    let mut known: Vec<(Vec<bool>, Reckoned)> = Vec::new();
    let mut row = |name: String, picked: &dyn Fn(usize) -> bool| {
        let which: Vec<bool> = (0..plan.loads.len()).map(picked).collect();
        let at = known.iter().position(|(of, _)| *of == which).unwrap_or_else(|| {
            known.push((which, reckoned(picked)));
            known.len() - 1
        });
        let (hours, from, goes_off) = &known[at].1;
        go_off.extend(goes_off.then(|| name.clone()));
        (name, hours.clone(), from.clone())
    };
    let mut rows = vec![
        row("everything".into(), &|_| true),
        row("vital and useful".into(), &|k| plan.loads[k].class < 2),
        row("vital only".into(), &|k| plan.loads[k].class == 0),
    ];
    for (only, load) in plan.loads.iter().enumerate().filter(|(_, load)| !load.never_runs()) {
        rows.push(row(format!("{} alone", load.name), &|k| k == only));
    }
    let column = |at: usize| {
        let hours: Vec<f64> = rows.iter().map(|(_, hours, _)| hours[at]).collect();
        column_of_durations(&hours, LONGEST_TOLD_H)
    };
    let columns: Vec<Vec<String>> = (0..charges.len()).map(column).collect();
    let told = |(k, (name, _, from)): (usize, (String, Vec<f64>, String))| {
        let hours = columns.iter().map(|column| column[k].clone());
        std::iter::once(name).chain(hours).chain([from]).collect::<Vec<_>>()
    };
    let mut rows: Vec<Vec<String>> = rows.into_iter().enumerate().map(told).collect();
    rows.dedup_by(|a, b| a[1..] == b[1..] && !a[0].ends_with("alone"));
    let heads = charges.iter().map(|charge| Column::right(format!("{:.0} %", charge * 100.0)));
    let mut heads: Vec<Column> = std::iter::once(Column::left("")).chain(heads).collect();
    let chill = runtimes::cold(plan, cells_c, month_name(scenario));
    let cold = chill.as_ref().is_some_and(|chill| chill.cold);
    let mut under: Vec<String> = vec!["39 of 40 such kits last at least so long (lower ends of 95 % ranges).".into()];
    go_off.retain(|name| rows.iter().any(|row| row[0] == *name));
    under.extend(runtimes::may_go_off(plan, &go_off));
    under.extend(chill.map(|chill| chill.told));
    if hangs {
        heads.push(Column::right("begun at"));
        under.push("Each from the hour at which it is shortest (the last column, for a full battery).".into());
    } else {
        for row in &mut rows {
            row.pop();
        }
    }
    if plan.loads.iter().any(|load| load.off_below > 0.0) {
        under.push("A load with a mark of its own counts as off below it.".into());
    }
    let adds = match (plan.arrays.is_empty(), plan.wall_w.iter().any(|watts| *watts > 0.0)) {
        (true, false) => "",
        (true, true) if plan.second.is_some() => "The second station adds to these hours. ",
        (false, true) if plan.second.is_some() => "Sun and the second station add to these hours. ",
        (true, true) if !plan.mains.is_empty() => "The mains adds to these hours between cuts. ",
        (false, true) if !plan.mains.is_empty() => "Sun, and the mains between cuts, add to these hours. ",
        (true, true) => "The generator adds to these hours. ",
        (false, false) => "Sun adds to these hours. ",
        (false, true) => "Sun and generator add to these hours. ",
    };
    let adds = if plan.sources.is_empty() { adds } else { "What else charges it adds to these hours. " };
    under.push(format!("{adds}{} and age take from them.", if cold { "Harder frost" } else { "Cold" }));
    Runtimes { table: Table::new(heads).rows(rows), under }
}

/// What a card needs to know.
#[derive(Debug, Clone, Copy)]
pub struct Facts<'a> {
    /// The scenario.
    pub scenario: &'a Scenario,
    /// Its plan.
    pub plan: &'a Plan,
    /// The answer of a run.
    pub answer: &'a OutageAnswer,
    /// Devices that a person's health hangs on, by themselves.
    pub device: &'a Device,
    /// Temperature of the cells \[°C\].
    pub cells_c: f64,
    /// The plan without mains between cuts, for how long things run.
    pub dark: &'a Plan,
    /// What the answer rests on.
    pub notes: &'a [Note],
}

/// The card.
#[must_use]
pub fn document(facts: &Facts) -> Document {
    let &Facts { scenario, plan, answer, device, cells_c, dark, notes } = facts;
    let mut out = Document::new(format!("Plan for an outage: {}", scenario.title));
    out.placed(&scenario.site).caution(stopped(answer)).lead(verdict_words(scenario, answer));
    out.lead(headline(scenario, answer)).caution(cautions::elsewhere(scenario, answer.verdict(scenario)));
    if let Some(hours) = &device.hours {
        out.under(device::hours(hours));
    }
    let holds = holds(scenario, notes);
    if !holds.is_empty() {
        out.under(holds);
    }
    let first = remedies(&answer.overloads);
    let mut told = 1 + first.len();
    if !first.is_empty() {
        out.head("First").steps(first);
    }
    let by_clock = by_clock(scenario, plan, &answer.tally);
    told += by_clock.len();
    if !by_clock.is_empty() {
        out.head("By the clock").steps(by_clock);
    }
    let beforehand = beforehand(answer);
    told += beforehand.len();
    if !beforehand.is_empty() {
        out.head("Free, and it helps").list(beforehand);
    }
    let by_charge = by_charge((scenario, plan), answer, device, (dark, cells_c, answer.settings.seed));
    told += by_charge.len();
    out.head("By the charge that the station shows").steps(by_charge);
    if device.alone.is_none() {
        out.under(steps::all_together(answer));
    }
    out.head("How long the battery lasts without sun, by that charge");
    let Runtimes { table, under } = runtimes_of(scenario, (plan, dark), cells_c, answer.settings.seed);
    told += table.rows.len();
    out.table(table).under(under.join(" "));
    out.under(Floor::of(scenario, None).map_or(String::new(), |floor| floor.in_need()));
    // What is taken in at a glance is set as large as one sheet allows.
    out.sheet = if told > ROOMY { Sheet::Full } else { Sheet::Large };
    let food = cautions::food(scenario);
    if !food.is_empty() {
        out.head("Food").list(food);
    }
    out.head("Take care").list(cautions::of(scenario));
    out.under(of_weather(notes).map_or(String::new(), source));
    out
}

/// Whose weather it is, in a line.
fn source(weather: &Note) -> String {
    match weather {
        Note::Climate { place, source, .. } if !source.is_empty() => {
            format!("Weather at {}: {}.", place.trim_end_matches('.'), source.trim_end_matches('.'))
        }
        other => other.words(),
    }
}
