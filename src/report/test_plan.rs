//! What to test on a unit, as a document.

use super::document::{Column, Document, Table};
use super::prove::why_less;
use super::words::label;
use crate::study::prove::expected::{Expected, KNOWN, METER, Step};
use crate::study::prove::plan::TestPlan;
use crate::study::prove::{Estimate, HEALTHY, healthy};

fn step(step: Step) -> &'static str {
    match step {
        Step::Nothing => "no test",
        Step::First => "a full discharge",
        Step::Second => "a second load",
        Step::Idle => "a night idle",
        Step::Wall => "a charge from the wall",
        Step::Check => "a check of the meter",
    }
}

/// The proposed tests, and what each of them would tell.
///
/// * `panel` — what a panel test tells, without a light meter and with one.
#[must_use]
pub fn document(plan: &TestPlan, adds: &[Expected], panel: Option<(Estimate, Estimate)>) -> Document {
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
            "Capacity: from 100 % run {:.0} W at the AC outlet ({}) until it switches itself \
             off. For example: {}. A healthy unit runs {}, which is {:.0} to {:.0} % of its label (common practice, no source{}).",
            plan.load_w,
            if plan.limited { "80 % of the inverter's power, less than a fifth of the label in watts" } else { "about a fifth of the label in watts" },
            plan.load_from,
            hours(plan.hours),
            healthy(plan.rated_wh, plan.chemistry).0 * 100.0,
            HEALTHY.1 * 100.0,
            why_less(plan.rated_wh, plan.chemistry)
        ),
        format!(
            "A second one: charge to full and run {:.0} W, about {}. Two loads tell the inverter's own draw from what the \
             cells hold; one cannot.",
            plan.second_load_w,
            hours(plan.second_hours)
        ),
        format!(
            "A night with nothing plugged in: from 100 % leave it with the AC outlet switched on for {:.0} hours and note \
             the charge after it (load = \"0 W\"). That tells the draw by itself, fan or no fan; an outlet that switches \
             itself off without a load cannot be tested so.",
            plan.night_h
        ),
        "The meter: hold it against a load that is known, with a better meter beside it or the supplier's own over some hours \
         ([[meter_check]]). Its error is in all of its tests alike, and no further test takes it out."
            .into(),
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
         temperature, and a charge below 90 %. With a light meter held flat in the \
         panel's plane (irradiance) any sky will do; under a blue sky give both, which tells more than either. Keep the unit itself in the shade."
            .into(),
        "Outlets: try every one once, with a load it should carry: AC, 12 V, each USB, wireless, the lamp.".into(),
    ];
    out.steps(steps);
    let percent = |estimate: &Estimate| format!("± {:.1} %", 100.0 * estimate.plus_minus());
    let watts = |estimate: &Estimate| format!("± {:.1} W", estimate.plus_minus());
    let heads = [
        Column::left("after"),
        Column::right("at the AC outlet"),
        Column::right("in the cells"),
        Column::right("its draw"),
        Column::right("round trip"),
    ];
    let rows = adds.iter().map(|known| {
        [
            step(known.after).to_string(),
            percent(&known.outlet),
            percent(&known.cells),
            watts(&known.draw),
            known.round_trip.as_ref().map_or("-".into(), percent),
        ]
    });
    let rows: Vec<[String; 5]> = rows.collect();
    out.head("What each adds").table(Table::new(heads).rows(rows)).say(format!(
        "What is left open after each of them and those above, 95 %, as the fit would tell it of a typical unit, with a meter good \
         to {:.0} %, a check against a load known to {:.1} %; shares are of the label. What the cells hold is assumed before any test (± 8 %); the tests do not lean on that.",
        100.0 * METER,
        100.0 * KNOWN
    ));
    if let Some((alone, with_light)) = panel {
        let heads = [Column::left("a panel"), Column::right("of what it should give")];
        let rows = [("at noon under a blue sky", alone), ("with a light meter too", with_light)];
        out.table(Table::new(heads).rows(rows.map(|(test, known)| [test.to_string(), percent(&known)])));
    }
    out.caution(
        "Cautions: stay with it; put it on a hard, dry floor with air around it, away from beds, curtains and water; lamps and \
         heaters get hot. Stop and go outdoors if it smells, hisses, swells or gets too hot to touch. Follow its manual.",
    );
    out
}
