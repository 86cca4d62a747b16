//! Runtimes without sun in words, for `check` and `card`.

use super::words::{duration, percent};
use crate::calendar::clock_time;
use crate::engine::Plan;
use crate::scenario::model::Stands;
use crate::study::endurance::Runtime;
use crate::study::fit::COLD_BELOW_C;

/// Hours worth telling apart; longer is told as more \[h\].
pub const LONGEST_TOLD_H: f64 = 14.0 * 24.0;

const WEEKDAYS: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];

/// A step of the week as clock time, with the day where days differ: "22:00", "Sat 22:00".
#[must_use]
pub fn clock(plan: &Plan, step: usize) -> String {
    let steps = plan.season.steps_a_day;
    let day = if plan.loads.iter().any(|load| load.week.is_some()) { WEEKDAYS[step / steps % 7] } else { "" };
    format!("{day} {}", clock_time(step % steps, steps)).trim_start().to_string()
}

/// A runtime, the shortest first: "8 h", and where it hangs on the hour "8 h begun at 22:00 (23.4 h begun at 07:00)".
#[must_use]
pub fn told(plan: &Plan, runtime: &Runtime) -> String {
    let Runtime { shortest_h, shortest_from, longest_h, longest_from } = *runtime;
    if runtime.hangs_on_the_hour() {
        format!(
            "{} begun at {} ({} begun at {})",
            duration(shortest_h),
            clock(plan, shortest_from),
            duration(longest_h),
            clock(plan, longest_from)
        )
    } else {
        duration(shortest_h)
    }
}

/// What cells give less by than in a warm room.
#[derive(Debug, Clone, PartialEq)]
pub struct Chill {
    /// The sentences that say so.
    pub told: String,
    /// Whether it is cold there: lead-acid cells give a little less in any room.
    pub cold: bool,
}

/// What runtimes reckon with where the cells are not in a warm room; `None` where they are.
///
/// * `cells_c` — temperature of the cells \[°C\]; `month` — the outage's.
#[must_use]
pub fn cold(plan: &Plan, cells_c: f64, month: &str) -> Option<Chill> {
    let rig = plan.kit.best_estimate();
    let limits = rig.limits_at(cells_c);
    let usable = 1.0 - limits.floor_wh.min(rig.capacity_wh) / rig.capacity_wh;
    if rig.fitness.at(cells_c).usable >= 1.0 && limits.discharge_w > 0.0 {
        return None;
    }
    let place = match plan.kit.stands {
        Stands::Outdoors | Stands::InTheSun => format!(
            "The station stands in the weather: its cells are taken at {cells_c:.0} °C, a {month} day colder than nineteen of \
             twenty"
        ),
        Stands::Indoors | Stands::At(_) => format!("The cells are at {cells_c:.0} °C, where the station stands"),
    };
    let cold = cells_c < COLD_BELOW_C;
    let how = if cold { "So cold" } else { "There" };
    let told = if limits.discharge_w > 0.0 {
        format!("{place}. {how} they give {} of what a full battery holds.", percent(usable))
    } else {
        format!("{place}. That is outside what the station works at: it gives nothing.")
    };
    Some(Chill { told, cold })
}
