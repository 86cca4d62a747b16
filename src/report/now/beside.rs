//! What bears on the figures of `now`: the month of the weather, and an AC outlet that may go off by itself.

use crate::calendar::MONTHS;
use crate::report::headline::month_name;
use crate::report::told::Words;
use crate::scenario::Scenario;
use crate::scenario::model::Begins;
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
        MONTHS[usize::from(standing.month.clamp(1, 12)) - 1],
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
