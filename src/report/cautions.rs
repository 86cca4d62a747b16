//! What is said of safety wherever a kit calls for it: each sentence stands here alone.

use serde::Serialize;

use super::words::the_list;
use crate::scenario::model::{Chemistry, FeedsAc, Gives, OutletKind, PowerSource, Scenario};
use crate::study::Verdict;
use crate::study::changes::{food_by_name, holds_food, keeps_the_house};

/// Food without power.
///
/// USDA FSIS and FDA leaflets (releases of 2007 and 2013): a closed fridge keeps food safe for about 4 hours, a full freezer
/// for about 48, a half-full one for about 24; what has been above 40 °F (4 °C) for two hours is thrown away.
pub const FOOD: [&str; 3] = [
    "Fridge without power, door closed: food keeps about 4 hours. Then use a thermometer.",
    "Freezer without power, door closed: about 48 hours when full, 24 when half full.",
    "Throw away what has been above 4 °C (40 °F) for more than 2 hours. Never taste to find out. (USDA, FDA)",
];

/// Of food where it freezes outdoors.
///
/// USDA FSIS on food in a snowstorm (from memory): no food outdoors, where the sun warms it and animals reach it; ice made there of
/// water goes into fridge and freezer.
pub const ICE: &str = "It freezes outdoors in this month: let water freeze out there in bottles or boxes, and put the ice in with the \
                       food. The food itself stays indoors: the sun warms it out there, and animals reach it. (USDA)";

/// Mean air of a month in which water in a bottle freezes outdoors within a day or two \[°C\]. No source.
pub const ICE_BELOW_C: f64 = -4.0;

/// Of a medical device.
pub const MEDICAL: &str = "Medical device: settle this plan with its maker and whoever prescribed it, and keep a second way to \
                           power it.";
/// Of a medical device that the kit may fail.
pub const ELSEWHERE: &str = "The device may go without here. Settle today where it runs when it does: its supplier's spare or \
                             battery, a hospital or clinic, a neighbour with power, and who takes you there. Its maker's manual \
                             says what may power it and what to do when it stops; in distress call the emergency number.";
/// Of a medical device on an outlet of direct current.
pub const DEVICE_ON_DC: &str = "Feed a medical device from a 12 V or USB outlet only through the DC supply that its maker \
                                approves for it: another cable or converter can damage or stop it. Try it for a night before \
                                it counts.";
/// Of a station.
pub const STATION: &str = "Station: dry, ventilated, out of the sun, off soft surfaces, away from bedding. Smell, swelling or \
                           heat: unplug, leave, call for help.";
/// Of lead-acid cells: hydrogen when charged (common practice: room aired, no flame, upright).
pub const LEAD_ACID: &str = "Lead-acid battery: charging it gives off hydrogen, which explodes, and acid. Upright, in an aired \
                             place, never in a closed box or where people sleep; no flame, spark or smoking near it; goggles and \
                             gloves. Its maker's manual has the last word.";
/// What is to be said wherever a generator runs.
pub const GENERATOR: &str = "Generator: outdoors only, far from windows and doors: its exhaust (carbon monoxide) kills unseen. Never feed a house through a socket.";
/// Of loads that run on a generator itself (common practice, no source).
pub const ON_THE_GENERATOR: &str = "Loads on a generator: each by an outdoor cord that carries its watts, dry, from the generator's own outlets; never \
                                    through a socket or wires of the house: that kills who works on the line. Earthing and a residual-current \
                                    device as its manual and local code say; mind the neighbours' quiet hours.";
/// Of a car that charges a station (fuses of 10 to 15 A: common practice, no source).
pub const CAR: &str = "Car: never let its engine run in a garage or a closed yard: its exhaust (carbon monoxide) kills unseen. A 12 V \
                       outlet mostly has a fuse of 10 to 15 A; more needs a charger wired and fused as its maker's manual says. \
                       With the engine off, the station empties the starter battery.";
/// Of a turbine.
pub const TURBINE: &str = "Turbine: blades, mast and volts without a load can injure and burn: brake, dump load, fuses and mast as its \
                           maker's manual and local code say; a licensed electrician for its wiring. Keep away from it in a storm.";
/// Of a house's wiring.
pub const WIRING: &str =
    "House wiring: a licensed electrician only. Makers' manuals and local code have the last word.";

/// A caution in JSON.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Said {
    /// Which one, for programs.
    pub kind: &'static str,
    /// It in words.
    pub text: &'static str,
}

/// All that a scenario's kit calls for under a verdict, with their kinds.
#[must_use]
pub fn said(scenario: &Scenario, verdict: Verdict) -> Vec<Said> {
    with_kinds(of(scenario).into_iter().chain([elsewhere(scenario, verdict)]).chain(food(scenario)))
}

/// Some of them with their kinds.
#[must_use]
pub fn with_kinds(told: impl IntoIterator<Item = &'static str>) -> Vec<Said> {
    let [fridge, freezer, thrown_away] = FOOD;
    let kinds = [
        (MEDICAL, "medical"),
        (ELSEWHERE, "device_may_go_without"),
        (DEVICE_ON_DC, "device_on_dc"),
        (STATION, "station"),
        (LEAD_ACID, "lead_acid"),
        (GENERATOR, "generator"),
        (ON_THE_GENERATOR, "loads_on_a_generator"),
        (CAR, "car"),
        (TURBINE, "turbine"),
        (WIRING, "wiring"),
        (fridge, "food_in_a_fridge"),
        (freezer, "food_in_a_freezer"),
        (thrown_away, "food_thrown_away"),
    ];
    let kind = |text: &str| kinds.iter().find(|(told, _)| *told == text).map_or("other", |(_, kind)| kind);
    told.into_iter().filter(|text| !text.is_empty()).map(|text| Said { kind: kind(text), text }).collect()
}

/// All of them, for whoever has to say them before there is an answer.
#[must_use]
pub fn all() -> Vec<&'static str> {
    [MEDICAL, DEVICE_ON_DC, STATION, LEAD_ACID, GENERATOR, ON_THE_GENERATOR, CAR, TURBINE, WIRING]
        .into_iter()
        .chain(FOOD)
        .collect()
}

/// Whether the cells are lead-acid.
fn lead(scenario: &Scenario) -> bool {
    scenario.station.chemistry == Chemistry::LeadAcid
}

/// Whether a person's health hangs on a load.
fn medical(scenario: &Scenario) -> bool {
    scenario.medical()
}

/// Whether a medical device hangs on an outlet of direct current.
pub(super) fn device_on_dc(scenario: &Scenario) -> bool {
    scenario.loads.iter().any(|load| load.medical && load.outlet != OutletKind::Ac)
}

/// Whether loads are to run on a generator.
fn feeds_loads(scenario: &Scenario) -> bool {
    scenario.generator.as_ref().is_some_and(|generator| generator.feeds_ac != FeedsAc::No)
}

/// Those that a kit calls for, food apart.
#[must_use]
pub fn of(scenario: &Scenario) -> Vec<&'static str> {
    let on = |holds: bool, told: &'static str| holds.then_some(told);
    let told = [
        on(medical(scenario), MEDICAL),
        on(device_on_dc(scenario), DEVICE_ON_DC),
        Some(STATION),
        on(lead(scenario), LEAD_ACID),
        on(scenario.generator.is_some(), GENERATOR),
        on(feeds_loads(scenario), ON_THE_GENERATOR),
    ];
    told.into_iter().flatten().chain(of_sources(scenario)).chain([WIRING]).collect()
}

/// Those of a car, water and wind.
#[must_use]
pub fn of_sources(scenario: &Scenario) -> Vec<&'static str> {
    let (cars, turbines): (Vec<&PowerSource>, Vec<_>) =
        scenario.sources.iter().partition(|source| matches!(source.gives, Gives::Car { .. }));
    let told = [(!cars.is_empty()).then_some(CAR), (!turbines.is_empty()).then_some(TURBINE)];
    told.into_iter().flatten().collect()
}

/// Those beside the ones that notes end with ([`super::notes::Note::Medical`], [`super::notes::Note::Cautions`]).
#[must_use]
pub fn beside_notes(scenario: &Scenario) -> Vec<&'static str> {
    of(scenario).into_iter().filter(|told| ![MEDICAL, STATION, WIRING].contains(told)).collect()
}

/// What is said where things are to go off for a device that a house needs too, warmth, a dry cellar or an alarm.
#[must_use]
pub fn the_house(off: &[impl AsRef<str>]) -> String {
    let needed: Vec<&str> = off.iter().map(AsRef::as_ref).filter(|name| keeps_the_house(name)).collect();
    let mut out = String::new();
    if !needed.is_empty() {
        out = format!(
            " Without {} a house may cool, flood or go unwarned: weigh that first, and see that nobody is left in the cold.",
            the_list(&needed)
        );
    }
    out
}

/// Whether the phone that calls for help is among things that are to go off: it is charged before.
#[must_use]
pub fn phone(off: &[impl AsRef<str>]) -> bool {
    off.iter().any(|name| name.as_ref().to_lowercase().contains("phone"))
}

/// What is said where a device may go without; nothing where none does or the kit can be counted on.
#[must_use]
pub fn elsewhere(scenario: &Scenario, verdict: Verdict) -> &'static str {
    if medical(scenario) && verdict != Verdict::CountOnIt { ELSEWHERE } else { "" }
}

/// What is to be said of food: of a fridge or of a freezer alone only where there is one.
#[must_use]
pub fn food(scenario: &Scenario) -> Vec<&'static str> {
    use crate::scenario::model::Pattern;
    let cold = || scenario.loads.iter().filter(|load| holds_food(load));
    if cold().next().is_none() {
        return Vec::new();
    }
    let parts = scenario.loads.iter().filter_map(|load| match &load.pattern {
        Pattern::Cooler(cooler) => Some((cooler.fridge.is_some(), cooler.freezer.is_some())),
        _ => None,
    });
    let [mut fridge, mut freezer] = [0, 1].map(|part| cold().any(|load| food_by_name(&load.name)[part]));
    for (has_fridge, has_freezer) in parts {
        fridge |= has_fridge;
        freezer |= has_freezer;
    }
    // A cool box is judged as a fridge.
    fridge |= !freezer;
    let [of_fridge, of_freezer, rule] = FOOD;
    fridge.then_some(of_fridge).into_iter().chain(freezer.then_some(of_freezer)).chain([rule]).collect()
}
