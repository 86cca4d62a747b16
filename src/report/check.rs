//! The answer of `check`: the plain sums of a kit.

use super::outage::{WIDTH, wrap};
use super::words::{duration, energy};
use crate::engine::Plan;
use crate::scenario::model::Scenario;
use crate::study::endurance::Endurance;

/// The sums, by best estimates.
///
/// * `remarks` — how many warnings and notes follow.
#[must_use]
pub fn text(scenario: &Scenario, plan: &Plan, sums: &Endurance, remarks: usize) -> String {
    let mut out = format!("{}\n\n", scenario.title);
    let verdict = match remarks {
        0 => "The file is in order and the parts fit together.".to_string(),
        1 => "The file is in order; one remark below.".to_string(),
        n => format!("The file is in order; {n} remarks below."),
    };
    out.push_str(&wrap(&verdict, "", WIDTH));
    out.push_str("\nPlain sums, by best estimates and without any sun\n");
    let lines = [
        ("in the cells when full".to_string(), energy(sums.cells_wh)),
        ("the loads ask for in a day".to_string(), energy(sums.asked_a_day_wh)),
        ("the station draws for that".to_string(), format!("{} a day", energy(sums.drawn_a_day_wh))),
        ("a full battery runs everything for".to_string(), duration(sums.hours_all)),
        ("and the vital loads alone for".to_string(), duration(sums.hours_vital)),
    ];
    let each = plan
        .loads
        .iter()
        .zip(&sums.hours_each)
        .map(|(load, hours)| (format!("  {} alone", load.name), duration(*hours)));
    let rows: Vec<(String, String)> = lines.into_iter().chain(each).collect();
    let left = rows.iter().map(|(l, _)| l.chars().count()).max().unwrap_or(0);
    for (what, value) in rows {
        let pad = " ".repeat(left - what.chars().count());
        out.push_str(&format!("  {what}{pad}  {value}\n"));
    }
    out
}
