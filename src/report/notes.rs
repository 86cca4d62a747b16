//! What an answer rests on: assumptions and cautions, one sentence each.

use crate::engine::kit_plan::UNPROVED_SHARE;
use crate::engine::plan::{LONGEST_OUTAGE_H, Sky};
use crate::kit::Verdict;
use crate::loads::CoolerPlan;
use crate::scenario::model::{Aim, Lasts, Pattern, Room, Scenario, Stands, TimeZone};
use crate::scenario::record::FigureKind;
use crate::units::NORMAL_95;
use crate::weather::Climate;
use crate::weather::climate::Basis;

use super::words::{energy, percent};

/// Steps from this length on draw a remark \[h\].
const COARSE_STEP_H: f64 = 0.5;

/// What is assumed of coolers, and whether their machines can do their work.
fn coolers(scenario: &Scenario, notes: &mut Vec<String>) {
    let coolers = || {
        scenario.loads.iter().filter_map(|load| match &load.pattern {
            Pattern::Cooler(cooler) => Some((load, cooler)),
            _ => None,
        })
    };
    for (load, cooler) in coolers() {
        let plan = CoolerPlan::new(cooler, load.watts.value.0);
        if let Room::At(room) = cooler.room {
            let share = plan.holding_share(room.0, 1.0);
            if share > 1.0 {
                notes.push(format!(
                    "In a room of {room} the {} cannot hold its temperature, however much power it gets: its compressor \
                     would have to run {} of the time.",
                    load.name,
                    percent(share)
                ));
            }
        }
    }
    if coolers().next().is_none() {
        return;
    }
    notes.push(format!(
        "Coolers: the label's energy is turned into a heat leak by a typical machine, food into typical heat; each cooler is \
         one temperature through and through, its door {} in an outage. Real food at the top and in the door warms first.",
        if coolers().all(|(_, cooler)| cooler.door_openings == 0) { "stays shut" } else { "is opened as written" }
    ));
    notes.push(
        "Food by two clocks: with a thermometer, perishable food is lost after the time above the limit that the scenario \
         says (USDA: two hours above 40 °F, one in a room above 90 °F), frozen food once its outer packages have been soft \
         for as long; by the hours alone, four without power for a closed fridge, up to 48 for a freezer that is full (24 \
         half full; an hour with power makes good an hour without, once the food is cold again). Unless the scenario says \
         that a thermometer is used (food = \"lost above 4 °C for 2 h\"), the sooner of the two clocks decides. A vital \
         cooler fails when its food is lost; its missed energy does not count against allow_unmet. When in doubt, throw it \
         out."
            .into(),
    );
}

/// What bears on the numbers of an answer, out of the judgements on the kit.
fn judged(verdicts: &[Verdict]) -> impl Iterator<Item = String> {
    verdicts.iter().filter(|verdict| verdict.in_the_answer).map(|verdict| {
        let numbers: Vec<&str> =
            [verdict.found.as_str(), verdict.allowed.as_str()].into_iter().filter(|text| !text.is_empty()).collect();
        let mut note = format!("Mind {}: `{}` {} ({}).", verdict.about, verdict.key, verdict.what, numbers.join("; "));
        for more in [&verdict.reason, &verdict.remedy].into_iter().filter(|text| !text.is_empty()) {
            let mut letters = more.chars();
            let first = letters.next().map(char::to_uppercase).into_iter().flatten();
            note.push_str(&format!(" {}{}.", first.collect::<String>(), letters.as_str()));
        }
        note
    })
}

/// What is known of a climate's mean sun, by what, and what would tell more.
#[must_use]
pub fn rests_on(climate: &Climate) -> String {
    let sd = climate.doubt.level_sd();
    let (least, most) = sd.iter().fold((f64::INFINITY, 0.0_f64), |(low, high), &sd| (low.min(sd), high.max(sd)));
    let reach = |sd: f64| percent((NORMAL_95 * sd).exp_m1());
    let range = if reach(least) == reach(most) {
        format!("± {}", reach(most))
    } else {
        format!("± {} to {} by month", reach(least).trim_end_matches(" %"), reach(most))
    };
    if climate.seen > 0 {
        let readings = if climate.seen == 1 { "a reading".into() } else { format!("{} readings", climate.seen) };
        return format!("With {readings} of your own ([[seen]]) a month's mean sun is known to {range} (95 %).");
    }
    match climate.basis {
        Basis::Table => format!("The built-in table knows a month's mean sun to {range} (95 %)."),
        Basis::Figures => format!("With the monthly figures a month's mean sun is known to {range} (95 %)."),
        Basis::Record { years, table, .. } => format!(
            "With {years:.1} years of record{} a month's mean sun is known to {range} (95 %).",
            if table { " and the built-in table" } else { "" }
        ),
        Basis::Told { level: 0.0 } => "Its sun is taken to be known exactly.".into(),
        Basis::Told { .. } => format!("A month's mean sun is known to {range} (95 %)."),
    }
}

/// The notes of a scenario under a sky.
///
/// * `verdicts` — the judgements on its kit; `step_h` — length of a step \[h\].
#[must_use]
pub fn notes(scenario: &Scenario, sky: &Sky, verdicts: &[Verdict], step_h: f64) -> Vec<String> {
    let mut notes: Vec<String> = judged(verdicts).collect();
    match sky {
        Sky::Climate(climate) => notes.push(format!(
            "Weather at {}: {}{} {} Every trial draws one of the climates that this leaves possible.",
            climate.name.trim_end_matches('.'),
            climate.source.trim_end_matches('.'),
            if climate.source.is_empty() { "" } else { "." },
            rests_on(climate),
        )),
        Sky::Record(record, air) => notes.push(format!(
            "Weather: real days of the season from the record {}{}. Its years are a sample of the climate: every trial moves \
             them as far as another sample of so many years may lie.",
            record.name(),
            if air.is_some() { ", air temperature from the built-in table" } else { "" }
        )),
    }
    if let Some(kit) = scenario.station.proved.as_ref().and_then(|proved| proved.kit.as_ref()) {
        let (usable_wh, standard_wh) = kit.get(FigureKind::UsableEnergy).unwrap_or_default();
        notes.push(format!(
            "The station was proved by bench tests ({}): {} ± {} at its converters; every trial draws capacity, draws and \
             efficiencies together, as the tests leave them.",
            scenario.station.proved.as_ref().map_or("", |proved| proved.file.as_str()),
            energy(usable_wh),
            energy(1.96 * standard_wh)
        ));
    } else if scenario.station.measured.is_none() && scenario.station.capacity_told {
        let station = &scenario.station;
        notes.push(format!(
            "Nobody has tested this station's capacity: its cells are taken to hold what is written, {} ± {}{}. Most units hold \
             a little less than their label; without a ± of its own a label counts as {} ± {} of it (common practice, no source).",
            energy(station.rated_capacity.value.0),
            energy(station.rated_capacity.plus_minus),
            if station.state_of_health.value.0 < 1.0 { ", times its state of health" } else { "" },
            percent(UNPROVED_SHARE.0),
            percent(UNPROVED_SHARE.1)
        ));
    } else if scenario.station.measured.is_none() {
        let (share, half_width) = UNPROVED_SHARE;
        notes.push(format!(
            "Nobody has tested this station's capacity: its cells are taken to hold {} ± {} of the label (common practice, \
             no source). A bench test (measured_capacity) narrows the answer.",
            percent(share),
            percent(half_width)
        ));
    }
    if scenario.site.timezone == TimeZone::FromLongitude {
        notes.push("No time zone given: the clock is the whole hour nearest to the sun.".into());
    }
    if let Lasts::LogNormal { .. } = scenario.outage.lasts {
        notes.push(format!("Outages longer than {:.0} days are cut to that.", LONGEST_OUTAGE_H / 24.0));
    }
    match scenario.station.stands {
        Stands::Outdoors | Stands::InTheSun => notes.push(
            "The station's cells follow the air with a lag, a little warmer by their own losses. How slowly, how much, and what \
             cold and heat cost them is typical of their kind, not measured on this station."
                .into(),
        ),
        Stands::Indoors => notes.push(
            "The station stands in a room of 20 °C. Where the outage takes the heating too, write the room's temperature."
                .into(),
        ),
        Stands::At(_) => {}
    }
    if scenario.station.self_heating.is_some() {
        notes.push(
            "The heater is fed by sun or wall alone, never by the cells; they are charged once they are warm enough."
                .into(),
        );
    }
    if scenario.generator.is_some() {
        notes.push("The generator is taken to start every day, and its fuel never to end.".into());
    }
    if scenario.panels.iter().any(|panel| panel.out.is_some() || matches!(panel.aim, Aim::ByHand { .. })) {
        notes.push("Panels put out or turned by hand are taken to be so on every day that allows it.".into());
    }
    if scenario.panels.is_empty() {
        notes.push("No panels: the battery is all there is.".into());
    }
    notes.push(
        "When energy runs short, spare loads are switched off first, then useful ones; a station that ran empty starts \
         again by itself as soon as the sun gives enough."
            .into(),
    );
    if COARSE_STEP_H <= step_h {
        notes.push(format!(
            "Counted in steps of {:.0} minutes: sun and loads are averaged within a step, which hides short gaps about sunrise. \
             Steps of 5 minutes gave up to a point and a half less on kits that run empty there; try --step 15.",
            60.0 * step_h
        ));
    }
    coolers(scenario, &mut notes);
    if scenario.loads.iter().any(|load| load.medical) {
        notes.push(
            "A medical device is among the loads. Judge by the lower end of the range, keep a second way to power it, and \
             settle the plan with the device's maker and whoever prescribed it; this program is no medical advice."
                .into(),
        );
    }
    notes.push(
        "Cautions: follow the makers' manuals and local code; leave anything wired into a house to a licensed electrician; \
         keep the station dry, ventilated, out of the sun and off soft surfaces, and stop using it if it smells, swells or \
         gets hot."
            .into(),
    );
    notes
}
