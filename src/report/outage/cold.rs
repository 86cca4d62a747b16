//! What cold does to the answer: sun that the cells refuse, and charge that they do not give.

use crate::engine::Plan;
use crate::engine::ledger::Flow;
use crate::report::words::percent;
use crate::study::outage::OutageAnswer;
use crate::trials::tally::count_quantile;

/// Mean air outside below which cells that are out of their limits are taken to be too cold and not too hot \[°C\] (our choice).
const COLD_BELOW_C: f64 = 15.0;
/// Part of the sun's energy from which on it is told that cells refuse it, and of the capacity that what is left in them is: less may
/// have other reasons (our choice).
const TELLING: f64 = 0.1;

/// How much colder than the month's mean a cold day's cells may be \[K\] (our choice).
const COLDER_K: f64 = 10.0;

/// What cold keeps from the loads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cold {
    /// Of the sun's energy the part that the cells refuse, 0 to 1; `None` where it is little.
    pub refused: Option<f64>,
    /// What is left in the battery when it gives no more, in the middle one of the outages that fail \[percent of the capacity\];
    /// `None` where it is little more than what may not be taken.
    pub left_percent: Option<usize>,
}

/// Lowest charge of the middle one of the outages that fail \[percent of the capacity\]; `None` where none does. The outages that fail are
/// taken to be those with the lowest charge.
#[must_use]
pub fn lowest_of_failed(answer: &OutageAnswer) -> Option<usize> {
    let tally = &answer.tally;
    let failed = (tally.trials - tally.survived) as f64 / tally.trials.max(1) as f64;
    if failed > 0.0 { count_quantile(&tally.lowest_charge, 0.5 * failed) } else { None }
}

impl Cold {
    /// `None` where cold does little.
    #[must_use]
    pub fn of(plan: &Plan, answer: &OutageAnswer) -> Option<Cold> {
        if !plan.kit.stands_in_the_weather() || COLD_BELOW_C <= plan.kit.outside_c() {
            return None;
        }
        let ledger = &answer.tally.ledger;
        let rig = plan.kit.best_estimate();
        let refused = ledger[Flow::Barred] / ledger[Flow::Solar].max(1e-9);
        let floor = rig.floor_wh / rig.capacity_wh;
        // More than the cells keep on a colder day is left for other reasons.
        let kept = 1.0 - rig.fitness.at(plan.kit.outside_c() - COLDER_K).usable;
        let keeps = 100.0 * (floor + TELLING)..=100.0 * (floor + kept * (1.0 - floor) + 0.5 * TELLING);
        let cold = Cold {
            refused: (TELLING <= refused).then_some(refused),
            left_percent: lowest_of_failed(answer).filter(|left| keeps.contains(&(*left as f64))),
        };
        (cold.refused.is_some() || cold.left_percent.is_some()).then_some(cold)
    }
}

/// What cold does, in a sentence; nothing where it does little.
pub(super) fn cold(plan: &Plan, answer: &OutageAnswer) -> String {
    let Some(Cold { refused, left_percent }) = Cold::of(plan, answer) else { return String::new() };
    let refuse = refused.map(|part| format!("they refuse {} of what the panels could give", percent(part)));
    let keep = left_percent.map(|left| {
        format!("they stop giving with {left} % still in the battery (the middle one of the outages that fail)")
    });
    let told: Vec<String> = refuse.into_iter().chain(keep).collect();
    format!("The cells are too cold: {}.", told.join(", and "))
}
