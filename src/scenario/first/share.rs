//! How much of its hours a thing is on, as lines of its section.

use super::super::appliances::Appliance;
use super::Answered;
use super::figures::in_watts;
use super::thing::Thing;
use super::when::{self, Runs};

/// Whether a thing of the library's that rests or fills up by itself is on throughout, by watts and hours of the owner's own.
///
/// What USB fills up takes no more than its own battery holds, whatever the hours.
pub(super) fn throughout(thing: &Thing, like: &Appliance) -> bool {
    let fills_up = like.says("kind") == Some("charge") && like.says("outlet") != Some("usb");
    thing.watts.is_some() && thing.hours.is_some() && !thing.night && (like.says("duty").is_some() || fills_up)
}

/// That a thing is on throughout its hours.
pub(super) fn on_for_all(thing: &Thing) -> String {
    let (whole, hours) = (thing.whole, thing.hours.as_deref().unwrap_or_default());
    format!(
        "{whole}: on for all of {}; if it runs less, say how long a day, like \"{whole} 30 minutes a day\" (load.hours)",
        hours.replace('-', " to ")
    )
}

/// The lines of how much of a day a thing runs, where that is told.
pub(super) fn share(thing: &Thing, like: Option<&Appliance>, said: &mut Answered) -> Result<Option<String>, String> {
    let Some(runs) = thing.runs else { return Ok(None) };
    let Thing { whole, watts, hours, .. } = thing;
    let kind = like.and_then(|like| like.says("kind"));
    if kind == Some("cooler") {
        return Err(format!(
            "`{whole}` runs by its thermostat: leave out how much of a day that is; in the file label = \"300 kWh a year\" takes the \
             figure of its label"
        ));
    }
    if let (Runs::WattHours(wh), Some("charge")) = (runs, kind) {
        return Ok(Some(format!("energy_a_day = \"{wh} Wh\"\n")));
    }
    let told = watts.as_deref().or(like.and_then(|like| like.says("watts"))).and_then(in_watts);
    let window = hours.as_deref().map_or(Some(1440.0), when::minutes_of);
    let (Some(watts), Some(window_min)) = (told, window) else {
        return Err(format!("`{whole}`: write its watts, too, like \"{whole} 50 W\" with your own figure"));
    };
    let minutes = match runs {
        Runs::Minutes(minutes) => minutes,
        Runs::WattHours(wh) => 60.0 * wh / watts,
    };
    let within = hours.as_deref().unwrap_or("00:00-24:00");
    if minutes > window_min * 1.001 {
        return Err(format!(
            "`{whole}`: {} minutes of {watts} W a day are more than the {window_min} minutes of {within}",
            minutes.round()
        ));
    }
    let duty = crate::units::one_reading((10_000.0 * minutes / window_min).ceil() / 100.0);
    said.told.push(format!(
        "{whole}: on for {duty} % of {within}, {} minutes a day, now and then (load.duty)",
        minutes.round()
    ));
    Ok(Some(format!("kind = \"duty\"\nduty = \"{duty} %\"\n")))
}
