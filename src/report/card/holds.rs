//! What the card takes for granted and nobody has told, in one line.

use crate::engine::kit_plan::INDOORS_C;
use crate::kit::Matter;
use crate::open::assumed::Assumption;
use crate::report::notes::Note;
use crate::scenario::model::Scenario;

/// "This holds if the panels stand unshaded from sunrise to sunset and are kept free of snow, and the station's room stays at 20 °C.";
/// nothing where nothing is assumed.
pub(super) fn holds(scenario: &Scenario, notes: &[Note]) -> String {
    let any = |of: fn(&Note) -> bool| notes.iter().any(of);
    let in_the_sun = any(|note| matches!(note, Note::Assumed { what: Assumption::PanelsInTheSun, .. }));
    let by_hand = any(|note| matches!(note, Note::PanelsByHand));
    let snow = any(|note| matches!(note, Note::Kit(judged) if matches!(judged.matter, Matter::Snow { .. })));
    let room = any(|note| {
        matches!(note, Note::Assumed { what: Assumption::RoomStaysWarm, .. } | Note::HeatedRoom { warm: false, .. })
    });
    let sunny = match (in_the_sun, by_hand) {
        (true, true) => "the panels stand unshaded, those put out by hand every day",
        (true, false) => "the panels stand unshaded from sunrise to sunset",
        (false, true) => "the panels are put out by hand every day",
        (false, false) => "",
    };
    let panels = match (sunny.is_empty(), snow) {
        (_, false) => sunny.to_string(),
        (false, true) => format!("{sunny} and are kept free of snow"),
        (true, true) => "the panels are kept free of snow".into(),
    };
    let start = &scenario.outage.starts_charged;
    let parts = [
        panels,
        if room { format!("the station's room stays at {INDOORS_C:.0} °C") } else { String::new() },
        match (any(|note| matches!(note, Note::GeneratorStarts)), any(|note| matches!(note, Note::GeneratorFuel))) {
            (true, _) => "the generator starts every day and has fuel".into(),
            (_, true) => "the generator starts every day, with somebody there, until its fuel is gone".into(),
            _ => String::new(),
        },
        if any(|note| matches!(note, Note::SecondIsCarried { .. })) {
            "the second station goes on every trip and comes back as full as told".into()
        } else {
            String::new()
        },
        if any(|note| matches!(note, Note::CarDriven { .. })) {
            "the car is driven as told".into()
        } else {
            String::new()
        },
        if start.plus_minus == 0.0 {
            format!("the battery really holds the {:.0} % that it is taken to start with", 100.0 * start.value.0)
        } else {
            String::new()
        },
    ];
    let told: Vec<&str> = parts.iter().map(String::as_str).filter(|part| !part.is_empty()).collect();
    match told.split_last() {
        None => String::new(),
        Some((only, [])) => format!("This holds if {only}."),
        Some((last, rest)) => format!("This holds if {}, and {last}.", rest.join(", ")),
    }
}
