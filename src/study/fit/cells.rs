//! The cells of a station: what a bench test asks of them, and what the rate of discharge takes.

use crate::engine::Plan;
use crate::engine::kit_plan::KitPlan;
use crate::kit::{Judgement, Weight};

/// A bench test that asks for more cells than the label has: an error where nothing that is written lets them fit.
#[must_use]
pub fn bench_test(kit: &KitPlan) -> Option<Judgement> {
    let beyond = kit.beyond_label()?;
    let key = "station.measured_capacity";
    let weight = if beyond.is_impossible() { Weight::Stops } else { Weight::Warns };
    let verdict = Judgement::new(weight, "bench test against the label", key, "asks for more cells than the label has")
        .allowed(format!("{:.0} Wh by the label and the ± of label and test", beyond.most_wh));
    if beyond.is_impossible() {
        // A load that is off by many powers of ten makes cells that no row of digits should tell.
        let cells = if beyond.least_wh < 1e7 { format!("{:.0} Wh", beyond.least_wh) } else { "over 10 MWh".into() };
        let hours = if beyond.hours < 1e4 { format!("{:.1} h", beyond.hours) } else { "more than a year".into() };
        return Some(
            verdict
                .found(format!("{cells} in the cells, by the least losses that can be, over a test of {hours}"))
                .because("the station and its outlet draw through all the hours that energy and load make of the test: energy cannot come from nothing")
                .remedy("correct measured_load, measured_capacity, the losses written or the label; where one of them is rough, write its ±"),
        );
    }
    let found = verdict
        .found(format!("{:.0} Wh in the cells with the losses of outlet and station counted", beyond.cells_wh))
        .in_the_answer();
    Some(if beyond.lowered {
        found
            .because("the losses assumed must be smaller in this unit; the cells are taken to hold no more than the label allows")
            .remedy("measure the draw of the outlet with nothing plugged in and write it (station.inverter.idle)")
    } else {
        found
            .because("the idle draw and efficiency written do not quite agree with the test and the label; the cells are held to what the label allows")
            .remedy("check the meter, the idle draw and the efficiency")
    })
}

pub(super) fn discharge_rate(plan: &Plan) -> Option<Judgement> {
    let share = plan.kit.best_estimate().rate_share;
    if !plan.kit.minds_the_rate() || share > 0.98 {
        return None;
    }
    if plan.kit.rate_is_tested() {
        return Some(
            Judgement::new(Weight::Warns, "rate of discharge", "station.proved", "tells a capacity for slower loads")
                .found(format!("{:.0} % of it comes out at the rate of these loads", 100.0 * share))
                .allowed("all of it at a fifth of it an hour")
                .because("cells give less the faster they are emptied; what the tests say of it is counted")
                .in_the_answer(),
        );
    }
    if plan.kit.is_lithium() {
        return Some(
            Judgement::new(
                Weight::Fits,
                "rate of discharge",
                "station.rated_capacity",
                "is the energy of a slow discharge",
            )
            .found(format!("{:.0} % of it comes out at the rate of these loads", 100.0 * share))
            .remedy("key: loses_by_rate"),
        );
    }
    let about = "lead-acid: rate of discharge";
    let found = format!("{:.0} % of the capacity comes out at the rate of these loads", 100.0 * share);
    Some(
        Judgement::new(Weight::Warns, about, "station.rated_capacity", "is the capacity of a slow discharge")
            .found(found)
            .allowed("a label holds over 20 hours")
            .because("lead-acid cells give less the faster they are emptied; it is counted by Peukert's law with an exponent of 1.2 (common practice, no source)")
            .in_the_answer(),
    )
}
