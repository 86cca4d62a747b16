//! What daily cuts cost: missed hours and energy a week, days that pass without, the worst week.

use serde::Serialize;

use super::document::{Column, Document, Table};
use super::phrases::PRIORITIES;
use super::words::{duration, energy, share_by_chance, thousands};
use crate::engine::Plan;
use crate::trials::interval::Interval;
use crate::trials::tally::Tally;
use crate::units::NORMAL_95;

/// Hours in a week.
const WEEK_H: f64 = 168.0;

/// What vital loads' days came to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Cuts {
    /// Share of the days on which no vital load missed anything, with the 95 % interval of chance.
    pub days_without_a_miss: f64,
    /// See `days_without_a_miss`.
    pub low: f64,
    /// See `days_without_a_miss`.
    pub high: f64,
    /// Days in a spell of the trials.
    pub days: f64,
    /// What vital loads missed in the worst week of a mean spell \[Wh\].
    pub worst_week_wh: f64,
}

impl Cuts {
    /// `None` where no cuts come back.
    #[must_use]
    pub fn of(plan: &Plan, tally: &Tally) -> Option<Cuts> {
        if plan.mains.is_empty() || tally.trials == 0 {
            return None;
        }
        let n = tally.trials as f64;
        let days = (tally.cuts.days / n).max(1.0);
        let mean = tally.cuts.days_missed / n;
        // Days of one spell hang together, spells do not: the spread between spells is what chance leaves.
        let variance = (tally.cuts.days_missed_squared / n - mean * mean).max(0.0);
        let half = NORMAL_95 * (variance / n).sqrt() / days;
        // Where no day or every one was missed, three over the number of spells (95 %).
        let half = if variance > 0.0 { half } else { 3.0 / n };
        let share = 1.0 - mean / days;
        Some(Cuts {
            days_without_a_miss: share,
            low: (share - half).max(0.0),
            high: (share + half).min(1.0),
            days,
            worst_week_wh: tally.cuts.worst_week_wh / n,
        })
    }
}

/// Adds what is told of them; nothing where no cuts come back.
pub fn add(out: &mut Document, plan: &Plan, tally: &Tally) {
    let Some(cuts) = Cuts::of(plan, tally) else { return };
    let n = tally.trials as f64;
    let weeks = tally.hours / n / WEEK_H;
    let a_week = |sum: f64| sum / n / weeks;
    let columns = [
        Column::left("load"),
        Column::left("priority"),
        Column::right("asks in the cuts of a week"),
        Column::right("misses"),
        Column::right("for"),
    ];
    let rows = plan.loads.iter().zip(&tally.loads).map(|(load, sum)| {
        vec![
            load.name.clone(),
            PRIORITIES[load.priority].to_string(),
            energy(a_week(sum.asked_wh)),
            energy(a_week(sum.unserved_wh)),
            duration(a_week(sum.off_h)),
        ]
    });
    out.head("A week of cuts").table(Table::new(columns).rows(rows));
    out.say(format!(
        "{} days pass without anything vital missing ({} spells of {:.0} days). In the worst week of a mean spell vital loads miss {}.",
        share_by_chance(cuts.days_without_a_miss, Interval { low: cuts.low, high: cuts.high }),
        thousands(tally.trials),
        cuts.days,
        energy(cuts.worst_week_wh),
    ));
}
