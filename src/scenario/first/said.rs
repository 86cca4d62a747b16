//! What is taken for granted.

use super::spell;
use super::text::{INPUT_W, Parts};
use crate::scenario::as_written::LOSES;
use crate::scenario::station::volts_of;
use crate::units::one_reading;

/// What nobody was asked, or did not say.
///
/// * `answers` — what the answers themselves left open; what weighs most comes before it.
pub(super) fn taken_for_granted(kit: &Parts, answers: Vec<String>, assumed: &mut Vec<String>) {
    let mut say = |sentence: String| assumed.push(sentence);
    if let Some(charger) = kit.charger.as_ref().filter(|_| !kit.charger_told) {
        say(format!(
            "A charger that draws {charger} from the wall charges it between the cuts, which is a guess, a slow one for its size \
             (common practice, no source), and which the range does not count: copy the watts from yours, or say --charger none where \
             nothing does (station.wall_charger)."
        ));
    }
    answers.into_iter().for_each(&mut say);
    if kit.charged.is_none() {
        say(format!(
            "The battery is 80 % full as the {} (outage.starts_charged): \"full\" or \"60 % full\" behind what it holds says otherwise.",
            if kit.spell.cuts.is_empty() { "lights go out" } else { "first of the cuts begins" }
        ));
    }
    if kit.health.is_none() && !kit.new {
        say("The battery is as good as new: \"4 years old\" behind what it holds says otherwise (station.state_of_health).".into());
    }
    say("It stands in a room of 20 °C, or as warm as the mean of the month outside where that is warmer, which stays so in the \
         outage (station.stands)."
        .into());
    if kit.block {
        by_itself(kit).into_iter().for_each(&mut say);
    } else {
        say("A 12 V outlet of 120 W and USB of 60 W are there (station.dc_outlet, station.usb).".into());
    }
    if let Some(idle_w) = kit.idle_w {
        let (watts, wh) = (one_reading((10.0 * idle_w).round() / 10.0), (24.0 * idle_w).round());
        let goes_off = if kit.ac.as_ref().is_some_and(|ac| ac.stays_on) {
            "; switched off by hand while nothing needs it, it takes none"
        } else {
            " while its outlets are on"
        };
        say(format!(
            "The inverter itself draws {watts} W with nothing plugged in, {wh} Wh a day{goes_off}: measure yours (station.inverter.idle)."
        ));
    }
    if kit.charger.is_some() {
        say("The mains are not weak between the cuts: the charger gets all that it asks for (outage.mains_limit)."
            .into());
    }
    if kit.chemistry == "lead-acid" {
        let by_itself = if kit.ac.as_ref().is_some_and(|ac| ac.stays_on) {
            "; an inverter by itself does not stop there: it runs on to the battery's last volts, and somebody must switch it off"
        } else {
            ""
        };
        say(format!(
            "A lead-acid battery is used down to half of what it holds, which it needs to last (station.keep_above){by_itself}."
        ));
    }
    for load in &kit.loads {
        if let Some(hours) = load.library_hours.as_ref() {
            say(format!("{}: on {} (load.hours).", load.title(), hours.join(" and ")));
        }
        let outside = spell::outside(&kit.spell.cuts, &load.hours);
        if !load.hours.is_empty() && !outside.is_empty() {
            say(format!(
                "{}: nothing is asked of it in the cut of {}, which lies outside its hours (load.hours).",
                load.title(),
                outside.join(" and of ")
            ));
        }
    }
    if let Some(panels) = &kit.panels {
        if panels.input.is_none() && kit.block {
            say(format!(
                "The charge controller takes the {} W of all the panels: \"input 200 W\" behind them says otherwise \
                 (station.solar_input.limit).",
                kit.panels_w
            ));
        } else if panels.input.is_none() {
            say(format!(
                "The solar input takes {} W at most: \"input 400 W\" behind the panels says otherwise \
                 (station.solar_input.limit).",
                INPUT_W
            ));
        }
        if panels.count > 1 {
            say("The panels are wired in parallel (panel.0.wiring).".into());
        }
        if let Some(held) = &kit.held {
            say(format!(
                "Each panel has its best power at {}, and the simple controller holds it at {} (panel.0.max_power_voltage, \
                 station.solar_input.pwm_at): copy Vmp from the label.",
                held.vmp, held.pwm_at
            ));
        }
        kit.stands.assumed.iter().for_each(|sentence| say(sentence.clone()));
        say(match kit.stands.shade.as_deref() {
            None => "The panels are out all day, every day, and nothing shades them (panel.0.out, panel.0.shade): \"a tree in the \
                     morning\" or \"shade after 15:00\" behind where they stand says otherwise."
                .into(),
            Some([]) => "The panels are out all day, every day (panel.0.out).".into(),
            Some(_) => format!(
                "The panels are out all day, every day (panel.0.out), and what shades them takes {LOSES} of their light, for cells in \
                 shade hold up the others (panel.0.shade)."
            ),
        });
    }
    say(
        "Everything that must stay on counts as vital; useful and spare things are switched off first (load.priority)."
            .into(),
    );
}

/// What a battery without outlets of its own needs for its loads.
fn by_itself(kit: &Parts) -> [String; 2] {
    let volts = volts_of(&kit.label).unwrap_or(12.0);
    let high = if volts < 20.0 { String::new() } else { format!(", by a converter from {volts} V to 12 V") };
    let parts = [
        kit.dc.then(|| format!("a lead of 12 V for 120 W{high} (station.dc_outlet)")),
        kit.usb.then(|| format!("a converter to USB for 60 W{} (station.usb)", if kit.dc { "" } else { &high })),
        kit.ac.as_ref().map(|ac| format!("an inverter of {} (station.inverter)", ac.rated)),
        kit.panels.as_ref().map(|_| "a charge controller for the panels (station.solar_input)".into()),
        kit.charger.as_ref().map(|_| "a charger made for its kind of cells (station.wall_charger)".into()),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    [
        format!(
            "A battery by itself has no outlets, so these are taken to be there beside it, and you need them: {}; a label with \
             \"station\" behind it says that they are built in.",
            parts.join(", ")
        ),
        "Safety: a battery's poles give hundreds of amps, which melt wires and start fires: a fuse close to the pole in every lead, no \
         larger than its wire bears, and room to breathe for lead-acid cells. Follow the makers' manuals and your local code; where \
         you are not sure, have it wired by somebody who is qualified."
            .into(),
    ]
}
