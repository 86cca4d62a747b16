//! The cells of a station: what a bench test asks of them, and what the rate of discharge takes.

use crate::engine::Plan;
use crate::engine::kit_plan::KitPlan;
use crate::kit::battery::{PEUKERT, RATED_HOURS};
use crate::kit::{Judgement, Matter, Weight};

/// A bench test that asks for more cells than the label has: an error where nothing that is written lets them fit.
#[must_use]
pub fn bench_test(kit: &KitPlan) -> Option<Judgement> {
    let beyond = kit.beyond_label()?;
    let (cells_wh, most_wh) = (beyond.cells_wh, beyond.most_wh);
    let key = "station.measured_capacity";
    if beyond.is_impossible() {
        let impossible = Matter::TestImpossible { least_wh: beyond.least_wh, hours: beyond.hours, most_wh };
        return Some(Judgement::new(Weight::Stops, key, impossible));
    }
    let test = if beyond.lowered {
        Matter::TestBeyondAssumed { cells_wh, most_wh }
    } else {
        Matter::TestBeyondWritten { cells_wh, most_wh }
    };
    Some(Judgement::new(Weight::Warns, key, test).in_the_answer())
}

pub(super) fn discharge_rate(plan: &Plan) -> Option<Judgement> {
    let share = plan.kit.best_estimate().rate_share;
    if share > 0.98 {
        return None;
    }
    let (key, rate) = if plan.kit.rate_is_tested() {
        ("station.proved", Matter::RateTested { share })
    } else if plan.kit.is_lithium() {
        return Some(Judgement::new(Weight::Fits, "station.loses_by_rate", Matter::RateOfLithium { share }));
    } else {
        ("station.rated_capacity", Matter::RateOfLead { share, label_hours: RATED_HOURS, exponent: PEUKERT })
    };
    Some(Judgement::new(Weight::Warns, key, rate).in_the_answer())
}
