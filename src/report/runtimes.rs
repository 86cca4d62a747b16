//! Runtimes without sun in words, for `check` and `card`.

use super::words::{duration, percent, the_list};
use crate::calendar::clock_time;
use crate::engine::Plan;
use crate::engine::kit_plan::INDOORS_C;
use crate::scenario::model::Stands;
use crate::study::endurance::Runtime;
use crate::study::fit::COLD_BELOW_C;
use crate::visible::begun;

/// Hours worth telling apart; longer is told as more \[h\].
pub const LONGEST_TOLD_H: f64 = crate::study::device::LONGEST_H;

const WEEKDAYS: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];

/// A step of the week as clock time, with the day where days differ: "22:00", "Sat 22:00".
#[must_use]
pub fn clock(plan: &Plan, step: usize) -> String {
    let steps = plan.season.steps_a_day;
    let day = if plan.loads.iter().any(|load| load.week.is_some()) { WEEKDAYS[step / steps % 7] } else { "" };
    format!("{day} {}", clock_time(step % steps, steps)).trim_start().to_string()
}

/// A runtime, the shortest first: "8 h", and where it hangs on the hour "8 h from 22:00 on (23.4 h from 07:00 on)".
#[must_use]
pub fn told(plan: &Plan, runtime: &Runtime) -> String {
    let Runtime { shortest_h, shortest_from, longest_h, longest_from } = *runtime;
    if runtime.hangs_on_the_hour() {
        format!(
            "{} from {} on ({} from {} on)",
            duration(shortest_h),
            clock(plan, shortest_from),
            duration(longest_h),
            clock(plan, longest_from)
        )
    } else {
        duration(shortest_h)
    }
}

/// That an AC outlet of which nobody has told may end a run sooner: "The router alone lasts only 1 h if its AC outlet switches itself off
/// under so small a load: try it.", and of several loads, where it may at some hours alone, "Everything lasts only 1 h if the AC outlet
/// switches itself off while no more than the router (9 W) hangs on it, as at 00:00: try it."
///
/// * `plan` — of these loads alone; `what` — what they are; `hours` — how long they last then \[h\].
#[must_use]
pub fn ends_sooner(plan: &Plan, what: &str, hours: f64) -> String {
    let on_ac = plan.loads.iter().filter(|load| load.outlet == 0 && !load.never_runs()).count();
    let steps = plan.season.steps_a_day;
    let how = match plan.least_on_ac(true).filter(|(_, _, loads)| loads.len() < on_ac) {
        Some((watts, step, loads)) => {
            let names: Vec<&str> = loads.iter().map(|k| plan.loads[*k].name.as_str()).collect();
            let does =
                if plan.ac.as_ref().is_some_and(|outlet| outlet.sleeps) { "sleeps" } else { "switches itself off" };
            format!(
                "the AC outlet {does} while no more than {} ({watts:.0} W) hangs on it, as at {}",
                the_list(&names),
                clock_time(step % steps, steps)
            )
        }
        None => ac_off(plan, "its AC outlet"),
    };
    format!("{what} lasts only {} if {how}: try it.", duration(hours))
}

/// What an AC outlet does under too small a load: "its AC outlet switches itself off under so small a load".
fn ac_off(plan: &Plan, outlet: &str) -> String {
    match plan.ac.as_ref().is_some_and(|outlet| outlet.sleeps) {
        true => format!("{outlet} sleeps under so small a load"),
        false => format!("{outlet} switches itself off under so small a load"),
    }
}

/// That an AC outlet of which nobody has told may end some runs as soon at any charge; nothing where there are none.
///
/// * `hours` — how long they last then.
#[must_use]
pub fn ends_at_any_charge(plan: &Plan, rows: &[String], hours: &str) -> Option<String> {
    let does = if plan.ac.as_ref()?.sleeps { "sleep" } else { "switch itself off" };
    (!rows.is_empty()).then(|| {
        format!(
            "{}: no more than {hours} can be counted on at any charge, as its AC outlet may {does} under so small a load (nobody has \
             told): try it.",
            begun(&rows.join(", "))
        )
    })
}

/// That an AC outlet of which nobody has told may end some runs: "router alone: its AC outlet may switch itself off under so
/// small a load, and these hours end there: try it."; nothing where there are none.
#[must_use]
pub fn may_go_off(plan: &Plan, rows: &[String]) -> Option<String> {
    let does = if plan.ac.as_ref()?.sleeps { "sleep" } else { "switch itself off" };
    (!rows.is_empty()).then(|| {
        format!(
            "{}: its AC outlet may {does} under so small a load (nobody has told), and these hours end there: try it.",
            begun(&rows.join(", "))
        )
    })
}

/// That nothing charges the battery, after a time: "without sun", or where there are no panels "with nothing charging".
#[must_use]
pub fn nothing_charges(plan: &Plan) -> &'static str {
    if plan.arrays.is_empty() { "with nothing charging" } else { "without sun" }
}

/// What cells give less by than in a warm room.
#[derive(Debug, Clone, PartialEq)]
pub struct Chill {
    /// The sentences that say so.
    pub told: String,
    /// Whether it is cold there: lead-acid cells give a little less in any room.
    pub cold: bool,
    /// Whether it freezes there.
    pub frost: bool,
}

/// The article before a month.
fn an(month: &str) -> &'static str {
    if month.starts_with('A') { "an" } else { "a" }
}

/// What runtimes reckon with where the cells are not in a warm room; `None` where they are.
///
/// * `cells_c` — temperature of the cells \[°C\]; `month` — the outage's.
#[must_use]
pub fn cold(plan: &Plan, cells_c: f64, month: &str) -> Option<Chill> {
    let rig = plan.kit.best_estimate();
    let limits = rig.limits_at(cells_c);
    // Of what lies above the charge that stays in.
    let free_wh = rig.capacity_wh - rig.floor_wh;
    let usable = 1.0 - (limits.floor_wh - rig.floor_wh).clamp(0.0, free_wh) / free_wh;
    let whole = match rig.floor_wh > 0.0 {
        true => format!("of what lies above the {} that stay in", percent(rig.floor_wh / rig.capacity_wh)),
        false => "of what a full battery holds".into(),
    };
    if rig.fitness.at(cells_c).usable >= 1.0 && limits.discharge_w > 0.0 {
        return None;
    }
    let warmer_there = plan.kit.stands == Stands::Indoors && cells_c < plan.kit.room_c();
    let place = match plan.kit.stands {
        Stands::InAClosedBox if limits.discharge_w <= 0.0 && cells_c > INDOORS_C => format!(
            "The station stands in a closed box: on a sunny {month} afternoon its cells come to {cells_c:.0} °C, and it may be \
             off until they have cooled"
        ),
        Stands::Outdoors | Stands::InTheSun | Stands::InAClosedBox => format!(
            "The station stands in the weather: its cells are taken at {cells_c:.0} °C, {} {month} day colder than nineteen of \
             twenty",
            an(month)
        ),
        Stands::Indoors if warmer_there => {
            format!("The cells are reckoned at {cells_c:.0} °C; what more they give in a warmer room is not counted on")
        }
        Stands::Indoors | Stands::At(_) => format!("The cells are at {cells_c:.0} °C, where the station stands"),
    };
    let cold = cells_c < COLD_BELOW_C;
    let how = match (cold, warmer_there) {
        (true, _) => "So cold",
        (false, true) => "So",
        (false, false) => "There",
    };
    let told = if limits.discharge_w > 0.0 {
        format!("{place}. {how} they give {} {whole}.", percent(usable))
    } else {
        format!("{place}. That is outside what the station works at: it gives nothing.")
    };
    Some(Chill { told, cold, frost: cells_c < 0.0 })
}
