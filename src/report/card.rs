//! The plan card: one page to hang beside the station.

use super::cautions;
use super::document::{Column, Document, Sheet, Table};
use super::fuel::Fuel;
use super::headline::{headline, month_name, stopped, verdict_words};
use super::notes::Note;
use super::runtimes::{self, LONGEST_TOLD_H};
use super::told::Words;
use super::words::{decimals, duration, hundredths, percent, survival, the_list};
use crate::calendar::clock;
use crate::engine::Plan;
use crate::scenario::model::{Aim, FeedsAc, Gives, Scenario};
use crate::study::changes::{Costs, Effect};
use crate::study::endurance::{Runtime, at_least_h, may_end_h, runtime};
use crate::study::now::COSTS_LITTLE;
use crate::study::outage::DeviceAlone;
use crate::study::{Change, OutageAnswer};
use crate::trials::Tally;
use crate::trials::unknowns::Survival;

/// Rows and steps that a sheet has room for in large type.
const ROOMY: usize = 16;

/// Charges of the runtime table, below that which the battery is charged to.
const CHARGES: [f64; 4] = [1.0, 0.8, 0.5, 0.2];

/// The charges told: that of a full battery first, as full as this one is charged, and none at which it gives nothing any more.
fn charges(plan: &Plan) -> Vec<f64> {
    let rig = plan.kit.best_estimate();
    let (full, floor) = (rig.ceiling_wh / rig.capacity_wh, rig.floor_wh / rig.capacity_wh);
    let below = CHARGES.into_iter().filter(|charge| *charge < full - 0.01 && floor + 0.01 < *charge);
    std::iter::once(full).chain(below).collect()
}

/// The rows of the runtime table, and what they reckon with.
struct Runtimes {
    /// The last column holds the hour at which a full battery lasts shortest, where any row hangs on it.
    table: Table,
    under: Vec<String>,
}

fn runtimes_of(scenario: &Scenario, (plan, dark): (&Plan, &Plan), cells_c: f64, seed: u64) -> Runtimes {
    let told = |hours: f64| {
        if hours > LONGEST_TOLD_H { "over 14 days".to_string() } else { duration(hours) }
    };
    let mut hangs = false;
    let mut go_off: Vec<String> = Vec::new();
    let charges = charges(plan);
    let mut reckoned = |picked: &dyn Fn(usize) -> bool| {
        let run = |charge: &f64| (*charge, runtime(dark, cells_c, *charge, &|k| picked(k)));
        let all: Vec<(f64, Runtime)> = charges.iter().map(run).collect();
        let full = &all[0].1;
        let from = if full.hangs_on_the_hour() { runtimes::clock(plan, full.shortest_from) } else { "any".into() };
        hangs |= full.hangs_on_the_hour();
        let goes_off = may_end_h(dark, (cells_c, charges[0]), &|k| picked(k), full).is_some();
        // No more than can be counted on.
        let at_least = at_least_h(dark, cells_c, &|k| picked(k), &all, (seed, LONGEST_TOLD_H + 1.0));
        (at_least.into_iter().map(told).chain([from]).collect::<Vec<_>>(), goes_off)
    };
    // The same loads, under another name, last as long.
    let mut known: Vec<(Vec<bool>, (Vec<String>, bool))> = Vec::new();
    let mut row = |name: String, picked: &dyn Fn(usize) -> bool| {
        let which: Vec<bool> = (0..plan.loads.len()).map(picked).collect();
        let at = known.iter().position(|(of, _)| *of == which).unwrap_or_else(|| {
            known.push((which, reckoned(picked)));
            known.len() - 1
        });
        let (cells, goes_off) = &known[at].1;
        go_off.extend(goes_off.then(|| name.clone()));
        std::iter::once(name).chain(cells.iter().cloned()).collect::<Vec<_>>()
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
    let heads = charges.iter().map(|charge| Column::right(format!("{:.0} %", charge * 100.0)));
    let mut heads: Vec<Column> = std::iter::once(Column::left("")).chain(heads).collect();
    let chill = runtimes::cold(plan, cells_c, month_name(scenario));
    let cold = chill.as_ref().is_some_and(|chill| chill.cold);
    let mut under: Vec<String> = vec![
        "Lower ends of 95 % ranges, by what capacity, draws and watts leave open: 39 of 40 such kits last at least so long.".into(),
    ];
    go_off.retain(|name| rows.iter().any(|row| row[0] == *name));
    under.extend(runtimes::may_go_off(plan, &go_off));
    under.extend(chill.map(|chill| chill.told));
    if hangs {
        heads.push(Column::right("begun at"));
        under.push(
            "Each from the hour of the day at which it is shortest (the last column, for a full battery); begun at another it may \
             last longer."
                .into(),
        );
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

/// The changes that cost nothing and help for sure.
fn free(answer: &OutageAnswer) -> impl Iterator<Item = &Effect> {
    let helps = |effect: &&Effect| effect.change.costs() == Costs::Nothing && effect.pair.interval.low > 0.0;
    answer.effects.iter().filter(helps)
}

/// A change with what it is worth: "phone left off (rides through 44 instead of 37 of 100)".
fn gain(answer: &OutageAnswer, effect: &Effect) -> String {
    let told = |survival: &Survival| hundredths(survival.probability, decimals(survival.interval));
    format!(
        "{} (rides through {} instead of {} of 100)",
        effect.change.words(),
        told(&effect.survival),
        told(&answer.survival)
    )
}

/// What helps for nothing beside what is done with the loads, each with what it is worth.
fn beforehand(answer: &OutageAnswer) -> Vec<String> {
    let with_loads = |change: &Change| {
        matches!(change, Change::LeaveOff { .. } | Change::OffAtNight { .. } | Change::MoveMark { .. })
    };
    free(answer).filter(|effect| !with_loads(&effect.change)).map(|effect| gain(answer, effect)).collect()
}

/// What to do, by the charge that the station shows, in the order of doing it.
fn by_charge(scenario: &Scenario, plan: &Plan, answer: &OutageAnswer, device: Option<&DeviceAlone>) -> Vec<String> {
    let medical = |k: usize| scenario.loads.get(k).is_some_and(|load| load.medical);
    let named = |picked: &dyn Fn(usize) -> bool| -> Vec<&str> {
        let loads = plan.loads.iter().enumerate().filter(|(k, _)| picked(*k));
        loads.map(|(_, load)| load.name.as_str()).collect()
    };
    let mut ruled: Vec<(f64, &str)> =
        plan.loads.iter().filter(|l| l.off_below > 0.0).map(|l| (l.off_below, l.name.as_str())).collect();
    ruled.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut steps: Vec<String> = Vec::new();
    if let Some(device) = device.filter(|device| device.gains > COSTS_LITTLE) {
        steps.push(format!(
            "Where the outage may last, at once: unplug {}, and all else but {}. Alone {} through {}, with everything vital on \
             through {}.{}",
            the_list(&device.others),
            the_list(&device.devices),
            if device.devices.len() == 1 { "it then stays on" } else { "they then stay on" },
            survival(&device.alone),
            survival(&device.beside),
            cautions::the_house(&device.others)
        ));
    }
    for effect in free(answer) {
        if matches!(effect.change, Change::LeaveOff { .. } | Change::OffAtNight { vital: false, .. }) {
            steps.push(format!("From the first hour: {}.", gain(answer, effect)));
        }
    }
    if plan.loads.iter().all(|l| l.outlet != 0 || l.class > 0) && plan.loads.iter().any(|l| l.outlet == 0) {
        steps.push(
            "Nothing vital hangs on AC: switch the AC outlet off when you can, its idle draw never rests.".into(),
        );
    }
    for (below, name) in &ruled {
        steps.push(if *below > 1.0 {
            format!("Leave the {name} off.")
        } else {
            format!("Below {:.0} %: switch off the {name}.", below * 100.0)
        });
    }
    for (class, word) in [(2, "spare"), (1, "useful")] {
        let names = named(&|k| plan.loads[k].class == class && plan.loads[k].off_below <= 0.0 && !medical(k));
        if !names.is_empty() {
            steps.push(format!("When it runs short, {word} things go off: {}.", names.join(", ")));
        }
    }
    let devices = named(&medical);
    let vital = named(&|k| plan.loads[k].class == 0 && !medical(k));
    let last = if devices.is_empty() { &vital } else { &devices };
    if !devices.is_empty() && !vital.is_empty() {
        steps.push(format!("Before {}, these go off, food and all: {}.", the_list(&devices), vital.join(", ")));
    }
    if !last.is_empty() {
        steps.push(format!("Stays on to the last: {}.", last.join(", ")));
    }
    steps
}

/// What to do by the clock: panels put out and taken in, and the generator.
fn by_clock(scenario: &Scenario, plan: &Plan, tally: &Tally) -> Vec<String> {
    let mut steps: Vec<(u16, String)> = Vec::new();
    for panel in &scenario.panels {
        for window in panel.out.iter().flat_map(|out| &out.hours) {
            let (from, to) = (clock(window.from_minute), clock(window.to_minute % 1440));
            steps.push((window.from_minute, format!("{from}: put out {}; take it in at {to}.", panel.name)));
        }
        if let Aim::ByHand { times_a_day } = panel.aim {
            let told = match times_a_day {
                1 => format!("Aim {} at the sun of midday, once a day.", panel.name),
                times => format!("Turn {} to the sun {times} times a day, each time a little ahead of it.", panel.name),
            };
            steps.push((0, told));
        }
    }
    if let Some(second) = &scenario.second_station {
        steps
            .push((0, "Keep the second station plugged into the first one's wall charger while it is at home.".into()));
        if let Some(trips) = &second.trips {
            let (from, to) = (clock(trips.away.from_minute), clock(trips.away.to_minute % 1440));
            let when = match trips.every_days {
                1 => "every day from the second on".to_string(),
                days => format!("every {days} days, first {days} days after the lights went out"),
            };
            steps.push((
                trips.away.from_minute,
                format!(
                    "{from} to {to}, {when}: carry the second station away to be charged, to {} at least.",
                    percent(trips.returns_at.0)
                ),
            ));
        }
    }
    for source in scenario.sources.iter().filter(|source| matches!(source.gives, Gives::Car { .. })) {
        for window in &source.hours {
            let (from, to) = (clock(window.from_minute), clock(window.to_minute % 1440));
            let step = format!("{from} to {to}, when the {} is driven: plug the station in.", source.name);
            steps.push((window.from_minute, step));
        }
    }
    if let Some(generator) = &scenario.generator {
        for window in &generator.hours {
            let (from, to) = (clock(window.from_minute), clock(window.to_minute % 1440));
            steps.push((
                window.from_minute,
                format!("{from} to {to}: run the generator, plugged into the wall charger.{}", on_it(scenario, plan)),
            ));
        }
        // A generator that nobody starts needs no fuel.
        let fuel = Fuel::of(scenario, plan, tally).filter(|_| plan.generator_runs_h(generator) > 0.0);
        let told = fuel.map(|fuel| fuel.steps()).unwrap_or_default();
        steps.extend(told.into_iter().map(|step| (1440, step)));
    }
    steps.sort_by_key(|(minute, _)| *minute);
    steps.into_iter().map(|(_, step)| step).collect()
}

/// What to plug into a generator while it runs; nothing where it charges the station alone.
fn on_it(scenario: &Scenario, plan: &Plan) -> String {
    let loads: Vec<&str> = plan.on_the_generator().map(|load| load.name.as_str()).collect();
    match scenario.generator.as_ref().map(|generator| generator.feeds_ac) {
        Some(FeedsAc::ByHand) if !loads.is_empty() => format!(
            " Plug {} into the generator itself, by outdoor cords, and back into the station as it stops.",
            the_list(&loads)
        ),
        Some(FeedsAc::Through) if !loads.is_empty() => " The station passes its power on to what hangs on AC.".into(),
        _ => String::new(),
    }
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
    /// Devices beside other vital loads and alone, where there are both.
    pub device: Option<&'a DeviceAlone>,
    /// Temperature of the cells \[°C\].
    pub cells_c: f64,
    /// The plan without mains between cuts, for how long things run.
    pub dark: &'a Plan,
    /// Where the weather comes from.
    pub weather: &'a Note,
}

/// The card.
#[must_use]
pub fn document(facts: &Facts) -> Document {
    let &Facts { scenario, plan, answer, device, cells_c, dark, weather } = facts;
    let mut out = Document::new(format!("Plan for an outage: {}", scenario.title));
    out.placed(&scenario.site).caution(stopped(answer)).lead(verdict_words(scenario, answer));
    out.lead(headline(scenario, answer)).caution(cautions::elsewhere(scenario, answer.verdict(scenario)));
    let by_clock = by_clock(scenario, plan, &answer.tally);
    let mut told = by_clock.len();
    if !by_clock.is_empty() {
        out.head("By the clock").steps(by_clock);
    }
    let beforehand = beforehand(answer);
    if !beforehand.is_empty() {
        out.head("Free, and it helps").list(beforehand);
    }
    let by_charge = by_charge(scenario, plan, answer, device);
    told += by_charge.len();
    out.head("By the charge that the station shows").steps(by_charge);
    out.head("How long the battery lasts without sun, by that charge");
    let Runtimes { table, under } = runtimes_of(scenario, (plan, dark), cells_c, answer.settings.seed);
    told += table.rows.len();
    out.table(table).under(under.join(" "));
    // What is taken in at a glance is set as large as one sheet allows.
    out.sheet = if told > ROOMY { Sheet::Full } else { Sheet::Large };
    let food = cautions::food(scenario);
    if !food.is_empty() {
        out.head("Food").list(food);
    }
    out.head("Take care").list(cautions::of(scenario));
    out.under(source(weather));
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
