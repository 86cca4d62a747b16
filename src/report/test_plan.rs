//! What to test on a unit, as a document.

use super::document::Document;
use super::prove::on_a_small_unit;
use super::words::label;
use crate::study::prove::plan::TestPlan;
use crate::study::prove::{HEALTHY, healthy};

/// The proposed tests.
#[must_use]
pub fn document(plan: &TestPlan) -> Document {
    let mut out = Document::new(format!("How to prove a unit with {} on its label", label(plan.rated_wh)));
    let hours = |(low, high): (f64, f64)| format!("{low:.1} to {high:.1} h");
    let steps = [
        "Arrival: photograph the box and the unit; tick the packing list off, adapters too; note the charge on the display \
         (about half is usual), keep the packaging, and write down until when it can be sent back."
            .to_string(),
        "Wall: charge it to 100 % through a watt-hour meter in the wall socket; note start, stop, charge from and to, and \
         the watt-hours."
            .into(),
        format!(
            "Capacity: from 100 % run {:.0} W at the AC outlet (about a fifth of the label in watts) until it switches itself \
             off. For example: {}. A healthy unit runs {}, which is {:.0} to {:.0} % of its label (common practice, no source{}).",
            plan.load_w,
            plan.load_from,
            hours(plan.hours),
            healthy(plan.rated_wh).0 * 100.0,
            HEALTHY.1 * 100.0,
            on_a_small_unit(plan.rated_wh)
        ),
        format!(
            "A second one: charge to full and run {:.0} W, about {}. Two loads tell the inverter's own draw from what the \
             cells hold; one cannot.",
            plan.second_load_w,
            hours(plan.second_hours)
        ),
        format!(
            "Not with a much smaller load: the inverter draws its own watts hour after hour, and a unit that gives {:.0} % of \
             its label to {:.0} W gives only about {:.0} % to {:.0} W (typical figures).",
            plan.typical_share * 100.0,
            plan.load_w,
            plan.small_share * 100.0,
            plan.small_load_w
        ),
        format!(
            "Note: the clock at start and stop, the watts every {:.0} minutes (or log them every minute), the charge on the \
             display, the meter's name and its accuracy, the room's temperature. The best single number is the meter's own \
             watt-hour counter.",
            plan.every_min
        ),
        "Sun: at noon under a blue sky aim the panel so that a stick on it throws no shadow; note watts, time, place, air \
         temperature, and a charge below 90 %. Keep the unit itself in the shade."
            .into(),
        "Outlets: try every one once, with a load it should carry: AC, 12 V, each USB, wireless, the lamp.".into(),
    ];
    out.steps(steps).caution(
        "Cautions: stay with it; put it on a hard, dry floor with air around it, away from beds, curtains and water; lamps and \
         heaters get hot. Stop and go outdoors if it smells, hisses, swells or gets too hot to touch. Follow its manual.",
    );
    out
}
