//! The steps of the card by the clock: panels, the second station's trips, a car, the generator.

use crate::calendar::clock;
use crate::engine::Plan;
use crate::report::fuel::Fuel;
use crate::report::words::{every, percent, the_list};
use crate::scenario::model::{Aim, FeedsAc, Gives, Panel, Scenario, Trips};
use crate::trials::Tally;
use crate::visible::begun;

/// What to do by the clock: panels put out, taken in and swept, and the generator.
///
/// * `snow` — whether panels may lie under it.
pub(super) fn by_clock(scenario: &Scenario, plan: &Plan, tally: &Tally, snow: bool) -> Vec<String> {
    let mut steps: Vec<(u16, String)> = Vec::new();
    if snow {
        steps.push((0, "After snow: sweep the panels, from the ground.".into()));
    }
    for panel in &scenario.panels {
        for window in panel.out.iter().flat_map(|out| &out.hours) {
            let (from, to) = (clock(window.from_minute), clock(window.to_minute % 1440));
            steps.push((
                window.from_minute,
                format!("{from}: put out {}; take {} in at {to}.", the_panel(scenario, panel), them(panel)),
            ));
        }
        if let Aim::ByHand { times_a_day } = panel.aim {
            let told = match times_a_day {
                1 => format!("Aim {} at the sun of midday, once a day.", the_panel(scenario, panel)),
                times => format!(
                    "Turn {} to the sun {times} times a day, each time a little ahead of it.",
                    the_panel(scenario, panel)
                ),
            };
            steps.push((0, told));
        }
    }
    if let Some(second) = &scenario.second_station {
        steps
            .push((0, "Keep the second station plugged into the first one's wall charger while it is at home.".into()));
        steps.extend(second.trips.as_ref().map(|trips| (trips.away.from_minute, carried(trips))));
    }
    for source in scenario.sources.iter().filter(|source| matches!(source.gives, Gives::Car { .. })) {
        for window in &source.hours {
            let (from, to) = (clock(window.from_minute), clock(window.to_minute % 1440));
            let step = format!("{from} to {to}, when the {} is driven: plug the station in.", source.name);
            steps.push((window.from_minute, step));
        }
    }
    if let Some(generator) = &scenario.generator {
        for window in &generator.hours {
            let (from, to) = (clock(window.from_minute), clock(window.to_minute % 1440));
            steps.push((
                window.from_minute,
                format!("{from} to {to}: run the generator, plugged into the wall charger.{}", on_it(scenario, plan)),
            ));
        }
        // A generator that nobody starts needs no fuel.
        let fuel = Fuel::of(scenario, plan, tally).filter(|_| plan.generator_runs_h(generator) > 0.0);
        let told = fuel.map(|fuel| fuel.steps()).unwrap_or_default();
        steps.extend(told.into_iter().map(|step| (1440, step)));
    }
    steps.sort_by_key(|(minute, _)| *minute);
    steps.into_iter().map(|(_, step)| step).collect()
}

/// What to plug into a generator while it runs; nothing where it charges the station alone.
fn on_it(scenario: &Scenario, plan: &Plan) -> String {
    let loads: Vec<&str> = plan.on_the_generator().map(|load| load.name.as_str()).collect();
    match scenario.generator.as_ref().map(|generator| generator.feeds_ac) {
        Some(FeedsAc::ByHand) if !loads.is_empty() => format!(
            " Plug {} into the generator itself, by outdoor cords, and back into the station as it stops.",
            the_list(&loads)
        ),
        Some(FeedsAc::Through) if !loads.is_empty() => " The station passes its power on to what hangs on AC.".into(),
        _ => String::new(),
    }
}

/// A panel block as it stands in a sentence: by its name only where there are several.
fn the_panel(scenario: &Scenario, panel: &Panel) -> String {
    match scenario.panels.len() {
        1 if one(panel) => "the panel".into(),
        1 => "the panels".into(),
        _ => panel.name.clone(),
    }
}

fn one(panel: &Panel) -> bool {
    panel.series * panel.parallel == 1
}

/// "it" or "them".
fn them(panel: &Panel) -> &'static str {
    if one(panel) { "it" } else { "them" }
}

/// When the second station is carried away, and how it comes back: "Every second day, first on the third: ...".
fn carried(trips: &Trips) -> String {
    let charged = match trips.returns_at.0 {
        full if full >= 1.0 => "full".to_string(),
        share => format!("charged to {} or more", percent(share)),
    };
    format!(
        "{}: take the second station along at {} to be charged, and bring it back by {}, {charged}.",
        begun(&every(trips.every_days)),
        clock(trips.away.from_minute),
        clock(trips.away.to_minute % 1440)
    )
}
