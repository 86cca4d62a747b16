//! What became of the food in coolers, by both clocks.

use super::outage::table;
use super::words::{base, range, thousands, whole};
use crate::engine::{Asks, Plan};
use crate::loads::CoolerPlan;
use crate::loads::cooler::PART_NAMES;
use crate::trials::interval::{Z_95, wilson};
use crate::trials::tally::{FoodTally, Tally, count_quantile};

/// One part of a cooler with what was counted for it.
pub struct Part<'a> {
    /// Index of the load.
    pub load: usize,
    /// Index of the part: fridge or freezer.
    pub part: usize,
    /// The cooler.
    pub cooler: &'a CoolerPlan,
    /// The counts.
    pub tally: &'a FoodTally,
}

/// All parts of all coolers of a plan.
pub fn parts<'a>(plan: &'a Plan, tally: &'a Tally) -> impl Iterator<Item = Part<'a>> {
    plan.loads.iter().zip(&tally.loads).enumerate().flat_map(|(load, (planned, counted))| {
        let cooler = match planned.asks.as_deref() {
            Some(Asks::Cooler(cooler)) => Some(cooler),
            _ => None,
        };
        let parts = counted.food.iter().enumerate();
        parts.filter_map(move |(part, tally)| Some(Part { load, part, cooler: cooler?, tally: tally.as_ref()? }))
    })
}

/// The table; empty without coolers.
#[must_use]
pub fn text(plan: &Plan, tally: &Tally) -> String {
    let heads = [
        "cooler",
        "part",
        "warmest",
        "one in ten over",
        "lost, with a thermometer",
        "first at",
        "lost, by the hours off",
        "first at",
    ];
    let mut rows = vec![heads.map(str::to_string).to_vec()];
    for part in parts(plan, tally) {
        let mut row = vec![
            plan.loads[part.load].name.clone(),
            PART_NAMES[part.part].to_string(),
            celsius(part.tally.warmest_c(0.5)),
            celsius(part.tally.warmest_c(0.9)),
        ];
        for clock in 0..2 {
            let lost = part.tally.trials_lost(clock);
            let interval = wilson(lost, tally.trials, Z_95);
            let of = base(interval.low, interval.high);
            let share = lost as f64 / tally.trials as f64;
            row.push(format!("{} of {} ({})", thousands(whole(share, of)), thousands(of), range(interval, of)));
            row.push(
                count_quantile(&part.tally.lost[clock], 0.5)
                    .map_or("-".into(), |step| format!("hour {:.0}", (step + 1) as f64 * plan.season.step_h)),
            );
        }
        rows.push(row);
    }
    if rows.len() == 1 { String::new() } else { table(&rows, 2) }
}

fn celsius(c: f64) -> String {
    format!("{c:.1} °C")
}
