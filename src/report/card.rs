//! The plan card: one page to hang beside the station.

mod clock;
mod holds;
mod steps;

use super::cautions;
use super::device::{self, Device};
use super::document::{Column, Document, Sheet, Table};
use super::headline::{headline, month_name, stopped, verdict_words};
use super::notes::{Note, of_weather};
use super::now::Floor;
use super::phrases::remedies;
use super::runtimes::{self, Chill, LONGEST_TOLD_H, nothing_charges};
use super::told::Words;
use super::words::{column_of_durations, in_a_sentence};
use crate::calendar::clock_time;
use crate::engine::{LoadPlan, Plan};
use crate::kit::Matter;
use crate::scenario::model::Scenario;
use crate::study::OutageAnswer;
use crate::study::endurance::{Runtime, at_least_h, may_end_h, runtime};
use clock::by_clock;
use holds::holds;
use steps::{ByCharge, beforehand, by_charge};

/// Rows and steps that a sheet has room for in large type.
const ROOMY: usize = 16;

/// Windows of use that are told of a load.
const MOST_WINDOWS: usize = 2;

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
    table: Table,
    under: Vec<String>,
}

/// The hours by charge, and whether the AC outlet may end them.
type Reckoned = (Vec<f64>, bool);

fn runtimes_of(scenario: &Scenario, (plan, dark): (&Plan, &Plan), cells_c: f64, seed: u64) -> Runtimes {
    let mut hangs = false;
    let mut go_off: Vec<String> = Vec::new();
    let charges = charges(plan);
    let mut reckoned = |picked: &dyn Fn(usize) -> bool| {
        let run = |charge: &f64| (*charge, runtime(dark, cells_c, *charge, &|k| picked(k)));
        let all: Vec<(f64, Runtime)> = charges.iter().map(run).collect();
        let full = &all[0].1;
        hangs |= full.hangs_on_the_hour();
        // By the best estimate too where no charge lasts longer than another.
        let assumed = dark.ac.as_ref().is_some_and(|outlet| outlet.assumed);
        let alike = all.len() > 1 && all.iter().all(|(_, of)| of.shortest_h.to_bits() == full.shortest_h.to_bits());
        let ended = assumed && alike && 0.0 < full.shortest_h && full.shortest_h < LONGEST_TOLD_H;
        let goes_off = ended || may_end_h(dark, (cells_c, charges[0]), &|k| picked(k), full).is_some();
        // No more than can be counted on.
        (at_least_h(dark, cells_c, &|k| picked(k), &all, (seed, LONGEST_TOLD_H + 1.0)), goes_off)
    };
    // The same loads, under another name, last as long.
    let mut known: Vec<(Vec<bool>, Reckoned)> = Vec::new();
    let mut row = |name: String, picked: &dyn Fn(usize) -> bool| {
        let which: Vec<bool> = (0..plan.loads.len()).map(picked).collect();
        let at = known.iter().position(|(of, _)| *of == which).unwrap_or_else(|| {
            known.push((which, reckoned(picked)));
            known.len() - 1
        });
        let (hours, goes_off) = &known[at].1;
        go_off.extend(goes_off.then(|| name.clone()));
        (name, hours.clone())
    };
    // One thing has a row of its own.
    let several = |picked: &dyn Fn(usize) -> bool| {
        (0..plan.loads.len()).filter(|k| picked(*k) && !plan.loads[*k].never_runs()).count() != 1
    };
    let together: [(&str, &dyn Fn(usize) -> bool); 3] = [
        ("everything", &|_| true),
        ("vital and useful", &|k| plan.loads[k].class < 2),
        ("vital only", &|k| plan.loads[k].class == 0),
    ];
    let together = together.into_iter().filter(|(_, picked)| several(picked));
    let mut rows: Vec<_> = together.map(|(name, picked)| row(name.into(), picked)).collect();
    for (only, load) in plan.loads.iter().enumerate().filter(|(_, load)| !load.never_runs()) {
        rows.push(row(format!("{} alone", in_a_sentence(&load.name)), &|k| k == only));
    }
    // One unit for all of the table.
    let all: Vec<f64> = rows.iter().flat_map(|(_, hours)| hours.iter().copied()).collect();
    let all = column_of_durations(&all, LONGEST_TOLD_H);
    let told = |((name, _), hours): ((String, Vec<f64>), &[String])| {
        std::iter::once(name).chain(hours.iter().cloned()).collect::<Vec<_>>()
    };
    let mut rows: Vec<Vec<String>> = rows.into_iter().zip(all.chunks(charges.len())).map(told).collect();
    rows.dedup_by(|a, b| a[1..] == b[1..] && !a[0].ends_with("alone"));
    let heads = charges.iter().map(|charge| Column::right(format!("{:.0} %", charge * 100.0)));
    let heads: Vec<Column> = std::iter::once(Column::left("")).chain(heads).collect();
    let chill = runtimes::cold(plan, cells_c, month_name(scenario));
    let takes = match &chill {
        Some(Chill { frost: true, .. }) => "Harder frost",
        Some(Chill { cold: true, .. }) => "More cold",
        _ => "Cold",
    };
    let mut under: Vec<String> =
        vec!["39 of 40 kits like this one last at least as long as this (lower ends of 95 % ranges).".into()];
    go_off.retain(|name| rows.iter().any(|row| row[0] == *name));
    // What an outlet ends as soon at any charge needs no row of its own.
    let same = |row: &Vec<String>| row.len() > 2 && row[1..].iter().all(|cell| *cell == row[1]);
    let ended: Vec<Vec<String>> = rows.iter().filter(|row| go_off.contains(&row[0]) && same(row)).cloned().collect();
    rows.retain(|row| !ended.contains(row));
    let (at_once, later): (Vec<String>, Vec<String>) =
        go_off.into_iter().partition(|name| ended.iter().any(|row| row[0] == *name));
    under.extend(runtimes::ends_at_any_charge(plan, &at_once, ended.first().map_or("", |row| &row[1])));
    under.extend(runtimes::may_go_off(plan, &later));
    under.extend(chill.map(|chill| chill.told));
    if hangs {
        under.push("Each is reckoned from the hour of the day at which it is shortest.".into());
    }
    under.extend(off_below(plan));
    under.extend(rests(plan));
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
    under.push(format!("{adds}{takes} and age take from them."));
    Runtimes { table: Table::new(heads).rows(rows), under }
}

/// Which loads count as off below a charge of their own: "Off below its own charge here too: lamps (20 %)."; nothing where none do.
fn off_below(plan: &Plan) -> Option<String> {
    let ruled = plan.loads.iter().filter(|load| 0.0 < load.off_below && load.off_below <= 1.0);
    let ruled: Vec<String> =
        ruled.map(|load| format!("{} ({:.0} %)", in_a_sentence(&load.name), 100.0 * load.off_below)).collect();
    let own = if ruled.len() == 1 { "its own charge" } else { "their own charges" };
    (!ruled.is_empty()).then(|| format!("Off below {own} here too: {}.", ruled.join(", ")))
}

/// At what hours loads are used that rest at others, every day alike: their rests count as lasting; nothing where none do.
fn rests(plan: &Plan) -> Option<String> {
    let used: Vec<String> =
        plan.loads.iter().filter_map(|load| Some((load, used_at(plan, load)?))).map(told_used).collect();
    (!used.is_empty()).then(|| format!("Hours at which a thing rests count too; used: {}.", used.join("; ")))
}

fn told_used((load, at): (&LoadPlan, String)) -> String {
    format!("{} {at}", in_a_sentence(&load.name))
}

/// The windows of the day at which a load is used: "22:00-07:00"; `None` where it is at all hours, at more than [`MOST_WINDOWS`], or not
/// every day alike.
fn used_at(plan: &Plan, load: &LoadPlan) -> Option<String> {
    let steps = plan.season.steps_a_day;
    let used = load.used().filter(|used| !load.never_runs() && (1..=MOST_WINDOWS).contains(&used.len()))?;
    let window = |(from, long): (usize, usize)| {
        format!("{}-{}", clock_time(from, steps), clock_time((from + long) % steps, steps))
    };
    Some(used.into_iter().map(window).collect::<Vec<_>>().join(" and "))
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
    let snow =
        notes.iter().any(|note| matches!(note, Note::Kit(judged) if matches!(judged.matter, Matter::Snow { .. })));
    let by_clock = by_clock(scenario, plan, &answer.tally, snow);
    told += by_clock.len();
    if !by_clock.is_empty() {
        out.head("By the clock").steps(by_clock);
    }
    let beforehand = beforehand(scenario, answer);
    told += beforehand.len();
    if !beforehand.is_empty() {
        out.head("Free, and it helps").list(beforehand);
    }
    let ByCharge { steps, charges, nothing_first } =
        by_charge((scenario, plan), answer, device, (dark, cells_c, answer.settings.seed));
    told += steps.len();
    out.head(if charges { "By the charge that the station shows" } else { "What goes off, in this order" });
    match nothing_first {
        Some(told) => out.say(told),
        None => out.steps(steps),
    };
    if device.alone.is_none() {
        out.under(steps::all_together(scenario, answer));
    }
    out.head(format!("How long the battery lasts {}, by the charge that it shows", nothing_charges(plan)));
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
    // Where nothing hangs on the weather, nobody is told whose it is.
    let weather = of_weather(notes).filter(|_| {
        !plan.arrays.is_empty()
            || !plan.sources.is_empty()
            || plan.kit.stands_in_the_weather()
            || plan.loads.iter().any(|load| load.asks.is_some())
    });
    out.foot(weather.map_or(String::new(), source));
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
