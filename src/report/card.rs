//! The plan card: one page to hang beside the station.

use super::document::{Column, Document, Sheet, Table};
use super::headline::{headline, month_name, stopped};
use super::notes::Note;
use super::phrases::clock;
use super::runtimes::{self, LONGEST_TOLD_H};
use super::told::Words;
use super::words::{duration, percent};
use crate::engine::Plan;
use crate::scenario::model::{Aim, Pattern, Scenario};
use crate::study::OutageAnswer;
use crate::study::changes::holds_food;
use crate::study::endurance::{Runtime, runtime};
use crate::units::Litres;

/// Charges of the runtime table, below that which the battery is charged to.
const CHARGES: [f64; 4] = [1.0, 0.8, 0.5, 0.2];

/// The charges told: that of a full battery first, as full as this one is charged, and none at which it gives nothing any more.
fn charges(plan: &Plan) -> Vec<f64> {
    let rig = plan.kit.best_estimate();
    let (full, floor) = (rig.ceiling_wh / rig.capacity_wh, rig.floor_wh / rig.capacity_wh);
    let below = CHARGES.into_iter().filter(|charge| *charge < full - 0.01 && floor + 0.01 < *charge);
    std::iter::once(full).chain(below).collect()
}

/// Food without power.
///
/// USDA FSIS and FDA leaflets (releases of 2007 and 2013): a closed fridge keeps food safe for about 4 hours, a full freezer
/// for about 48, a half-full one for about 24; what has been above 40 °F (4 °C) for two hours is thrown away.
const FOOD: [&str; 3] = [
    "Fridge without power, door closed: food keeps about 4 hours. Then use a thermometer.",
    "Freezer without power, door closed: about 48 hours when full, 24 when half full.",
    "Throw away what has been above 4 °C (40 °F) for more than 2 hours. Never taste to find out. (USDA, FDA)",
];

const MEDICAL: &str = "Medical device: settle this plan with its maker and whoever prescribed it, and keep a second way to \
                       power it.";
const STATION: &str = "Station: dry, ventilated, out of the sun, off soft surfaces, away from bedding. Smell, swelling or \
                       heat: unplug, leave, call for help.";
/// What is to be said wherever a generator runs.
pub(super) const GENERATOR: &str = "Generator: outdoors only, far from windows and doors: its exhaust (carbon monoxide) kills unseen. Never feed a house through a socket.";
const WIRING: &str = "House wiring: a licensed electrician only. Makers' manuals and local code have the last word.";

/// What a card says of safety, for whoever has to say it before there is one.
#[must_use]
pub fn cautions() -> Vec<&'static str> {
    [MEDICAL, STATION, GENERATOR, WIRING].into_iter().chain(FOOD).collect()
}

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
    let charges = charges(plan);
    let mut row = |name: String, picked: &dyn Fn(usize) -> bool| {
        let all: Vec<Runtime> = charges.iter().map(|charge| runtime(plan, cells_c, *charge, &|k| picked(k))).collect();
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
    let heads = charges.iter().map(|charge| Column::right(format!("{:.0} %", charge * 100.0)));
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
    under.push(format!("{adds}{} and age take from them.", if cold { "Harder frost" } else { "Cold" }));
    Runtimes { table: Table::new(heads).rows(rows), under }
}

/// What to do, by the charge that the station shows, in the order of doing it.
fn by_charge(plan: &Plan) -> Vec<String> {
    let mut ruled: Vec<(f64, &str)> =
        plan.loads.iter().filter(|l| l.off_below > 0.0).map(|l| (l.off_below, l.name.as_str())).collect();
    ruled.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut steps = Vec::new();
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
        let names: Vec<&str> =
            plan.loads.iter().filter(|l| l.class == class && l.off_below <= 0.0).map(|l| l.name.as_str()).collect();
        if !names.is_empty() {
            steps.push(format!("When it runs short, {word} things go off: {}.", names.join(", ")));
        }
    }
    let vital: Vec<&str> = plan.loads.iter().filter(|l| l.class == 0).map(|l| l.name.as_str()).collect();
    if !vital.is_empty() {
        steps.push(format!("Stays on to the last: {}.", vital.join(", ")));
    }
    steps
}

/// What to do by the clock: panels put out and taken in, and the generator.
fn by_clock(scenario: &Scenario, plan: &Plan) -> Vec<String> {
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
    if let Some(generator) = &scenario.generator {
        for window in &generator.hours {
            let (from, to) = (clock(window.from_minute), clock(window.to_minute % 1440));
            steps.push((
                window.from_minute,
                format!("{from} to {to}: run the generator, plugged into the wall charger."),
            ));
        }
        // Between cuts the mains charges too: what the generator gives of that is not told apart here.
        let a_day_wh = if plan.mains.is_empty() { plan.wall_w.iter().sum::<f64>() * plan.season.step_h } else { 0.0 };
        let days = plan.typical_length().0 / 24.0;
        let hours: f64 = generator.hours.iter().map(|window| window.hours().0).sum();
        let litres = |given: Option<Litres>, times: f64| given.map(|litres| litres.0 * times);
        let parts = [litres(generator.fuel_per_kwh, a_day_wh / 1000.0), litres(generator.fuel_per_hour, hours)];
        let known = parts.iter().any(Option::is_some) && a_day_wh > 0.0;
        if let Some(on_hand) = generator.fuel {
            steps.push((1439, format!("Fuel on hand as this was reckoned: {:.1} L.", on_hand.0)));
        }
        if known {
            let fuel: f64 = parts.into_iter().flatten().sum();
            steps.push((
                1440,
                format!(
                    "Fuel to have: at most {fuel:.1} L a day, {:.1} L for {}, and more where the generator runs at part load.",
                    fuel * days.max(1.0),
                    duration(24.0 * days.max(1.0))
                ),
            ));
        } else if a_day_wh > 0.0 {
            steps.push((1440, "Fuel to have: measure what the generator burns in an hour under this load.".into()));
        }
    }
    steps.sort_by_key(|(minute, _)| *minute);
    steps.into_iter().map(|(_, step)| step).collect()
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
    /// Temperature of the cells \[°C\].
    pub cells_c: f64,
    /// Where the weather comes from.
    pub weather: &'a Note,
}

/// The card.
#[must_use]
pub fn document(facts: &Facts) -> Document {
    let &Facts { scenario, plan, answer, cells_c, weather } = facts;
    let mut out = Document::new(format!("Plan for an outage: {}", scenario.title));
    out.sheet = Sheet::Large;
    out.placed(&scenario.site).caution(stopped(answer)).lead(answer.verdict(scenario).words());
    out.lead(headline(scenario, answer));
    let by_clock = by_clock(scenario, plan);
    if !by_clock.is_empty() {
        out.head("By the clock").steps(by_clock);
    }
    out.head("By the charge that the station shows").steps(by_charge(plan));
    out.head("How long the battery lasts without sun, by that charge");
    let Runtimes { table, under } = runtimes_of(scenario, plan, cells_c);
    out.table(table).say(under.join(" "));
    if scenario.loads.iter().any(holds_food) {
        out.head("Food").list(food(scenario));
    }
    let medical = scenario.loads.iter().any(|load| load.medical).then_some(MEDICAL);
    let generator = scenario.generator.as_ref().map(|_| GENERATOR);
    let cautions = medical.into_iter().chain([STATION]).chain(generator).chain([WIRING]);
    out.head("Take care").list(cautions);
    out.say(source(weather));
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

/// What is to be said of food: of a fridge or of a freezer alone only where there is one.
fn food(scenario: &Scenario) -> Vec<&'static str> {
    let named = |words: &[&str]| {
        let names = scenario.loads.iter().filter(|load| holds_food(load)).map(|load| load.name.to_lowercase());
        names.into_iter().any(|name| words.iter().any(|word| name.contains(word)))
    };
    let parts = scenario.loads.iter().filter_map(|load| match &load.pattern {
        Pattern::Cooler(cooler) => Some((cooler.fridge.is_some(), cooler.freezer.is_some())),
        _ => None,
    });
    let (mut fridge, mut freezer) = (named(&["fridge", "refrigerator"]), named(&["freezer"]));
    for (has_fridge, has_freezer) in parts {
        fridge |= has_fridge;
        freezer |= has_freezer;
    }
    // A cool box is judged as a fridge.
    fridge |= !freezer;
    let [of_fridge, of_freezer, rule] = FOOD;
    fridge.then_some(of_fridge).into_iter().chain(freezer.then_some(of_freezer)).chain([rule]).collect()
}
