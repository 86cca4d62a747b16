//! What bears on the figures of `now` beside charge and sky: the month of the weather, fuel, the mains' hours, a second station,
//! and an AC outlet that may go off by itself.

use super::Facts;
use crate::calendar::{clock, month_called};
use crate::report::headline::month_name;
use crate::report::told::Words;
use crate::report::words::{duration, percent};
use crate::scenario::Scenario;
use crate::scenario::model::{Begins, ClockWindow, FeedsAc};
use crate::study::now::{Course, Outlook, Situation};
use crate::visible::begun;

/// Of when the weather is, where that is another month than the scenario's: "Weather of late November, by the date above; the
/// scenario is of July."
pub(super) fn season_words(scenario: &Scenario, standing: &Situation) -> String {
    let (Begins::Month(month) | Begins::At { month, .. }) = scenario.outage.begins;
    if month == standing.month {
        return String::new();
    }
    let part = match standing.day {
        ..=10 => "early",
        11..=20 => "the middle of",
        _ => "late",
    };
    format!(
        "Weather of {part} {}, by the date above; the scenario is of {}.",
        month_called(standing.month),
        month_name(scenario)
    )
}

/// Which rows an AC outlet may end that goes off by itself; nothing where it may not.
pub(super) fn little_on_ac(scenario: &Scenario, outlook: &Outlook) -> String {
    let rows = outlook.courses.iter().filter(|course: &&Course| !course.whole && course.little_on_ac);
    let rows: Vec<String> = rows.map(Words::words).collect();
    let Some(inverter) = scenario.station.inverter.as_ref().filter(|_| !rows.is_empty()) else { return String::new() };
    let does = if inverter.sleeps { "sleep" } else { "switch itself off" };
    let tell = if inverter.stays.assumed { " (nobody has told): try it" } else { "" };
    format!(
        "{}: the AC outlet may {does} under so small a load, and these figures count that{tell}.",
        begun(&rows.join("; "))
    )
}

/// The fuel that is reckoned with, how long it lasts, and when the generator runs as planned; nothing without a generator.
pub(super) fn fuel(facts: &Facts) -> String {
    let Some(generator) = facts.generator else { return String::new() };
    let watts = facts.generator_most_w;
    let burns = generator.burns_l(watts, 1.0).filter(|litres| *litres > 0.0);
    let left = generator.fuel.map(|litres| litres.0);
    let ask = if facts.fuel_told { "" } else { " Tell what is left now." };
    let stock = match (left, facts.fuel_told) {
        (Some(litres), true) => format!("Fuel: {litres:.1} L left, as told."),
        (Some(litres), false) => format!("Fuel: {litres:.1} L, as much as the scenario has."),
        (None, _) => "Fuel: taken never to end, since the scenario does not say how much there is.".into(),
    };
    let takes = if generator.feeds_ac == FeedsAc::No {
        "Giving the charger all it takes"
    } else {
        "Giving charger and loads all they take"
    };
    let lasts = match (burns, left) {
        (Some(burns), Some(left)) => {
            format!(" {takes} ({watts:.0} W) it burns {burns:.2} L an hour: {} of running.", duration(left / burns))
        }
        (Some(burns), None) => {
            format!(" {takes} ({watts:.0} W) it burns {burns:.2} L an hour.")
        }
        _ => String::new(),
    };
    let windows: Vec<String> =
        generator.hours.iter().map(|w| format!("{}-{}", clock(w.from_minute), clock(w.to_minute % 1440))).collect();
    format!("{stock}{lasts}{ask} As the plan stands it runs {} every day.", windows.join(" and "))
}

/// When the mains comes and goes by the scenario, where it does at the same hours every day; else nothing.
pub(super) fn mains(facts: &Facts) -> String {
    let Some(cuts) = facts.scenario.outage.cuts.alike() else { return String::new() };
    let now = facts.standing.minute_of_day;
    let within = |cut: &&ClockWindow| cut.contains(f64::from(now));
    let until = |cut: &&ClockWindow| (cut.from_minute + 1440 - now) % 1440;
    match (cuts.iter().find(within), cuts.iter().min_by_key(until)) {
        (Some(cut), _) => {
            format!("By the scenario's hours the mains is off now, until {}.", clock(cut.to_minute % 1440))
        }
        (None, Some(cut)) => {
            format!("By the scenario's hours the mains is there now, until {}.", clock(cut.from_minute))
        }
        (None, None) => String::new(),
    }
}

/// How a second station is taken to stand; nothing without one.
pub(super) fn second_station(facts: &Facts) -> String {
    let Some(second) = &facts.scenario.second_station else { return String::new() };
    format!(
        "The second station is taken to be here, charged to {}, and its trips to go as the scenario says: where that is not so, write \
         its charge there first.",
        percent(second.starts_charged.0)
    )
}
