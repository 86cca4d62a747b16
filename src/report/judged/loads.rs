//! Loads: what runs together, what starts, what an outlet leaves in the dark, what may be missed.

use super::Sentence;
use crate::kit::matter::Source;
use crate::kit::{Matter, Weight};
use crate::report::phrases::outlet_that_gives as outlet;
use crate::units::{Hours, Milliseconds, WattHours, Watts};

pub(super) fn words(matter: &Matter, weight: Weight) -> Sentence {
    match matter {
        Matter::NeverRuns { load, watts, outlet_w, beyond_outlet: true, at, .. } => {
            let outlet = outlet(*at);
            Sentence::new(format!("{load}: watts while it runs"), "is more than its outlet gives: it cannot run on this station")
                .found(Watts(*watts).to_string())
                .allowed(format!("up to {} from the {outlet}, several of a kind counted together", Watts(*outlet_w)))
                .because(format!(
                    "the {outlet} switches off as soon as it is switched on, and everything on it goes dark; the answer takes it as \
                     never plugged in"
                ))
                .remedy("do not plug it in here, or use a station whose outlet gives more")
                .there("the outlet's limit")
        }
        Matter::NeverRuns { load, watts, bus_w, gives_w, outlet_w, .. } => Sentence::new(
            format!("{load}: watts while it runs"),
            "is more than the station gives for long: it never runs",
        )
        .found(format!("{watts:.0} W, {bus_w:.0} W with all losses"))
        .allowed(format!("up to {gives_w:.0} W out of the cells, {outlet_w:.0} W at the outlet"))
        .because("the answer takes it as never plugged in; what the sun could add is not counted on")
        .remedy("use a station that gives more, or leave it out"),
        Matter::AtOnce { at, watts, limit_w, loads, vital, from } => {
            let at_once = AtOnce { at: *at, over: weight != Weight::Fits, vital: *vital };
            at_once
                .words()
                .found(format!(
                    "{watts:.0} W{} from {from}: {}",
                    if *at == Source::Station { " with all losses" } else { "" },
                    loads.join(" + ")
                ))
                .allowed(format!("gives {limit_w:.0} W"))
        }
        Matter::Start { load, starting_w, total_w, from, surge_w, rated_w } => {
            let allowed = match surge_w {
                Some(surge_w) => format!("surge {}", Watts(*surge_w)),
                None => format!("rated {}", Watts(*rated_w)),
            };
            let said = |what: &str| {
                Sentence::new(format!("inverter: start of the {load}"), what)
                    .found(format!("{} to start, {total_w:.0} W with what else runs from {from}", Watts(*starting_w)))
                    .allowed(&*allowed)
            };
            let because = "a motor takes several times its running watts for a moment; an inverter that cannot give them switches off";
            match (weight, surge_w) {
                (Weight::Stops, _) => said("is more than the inverter gives for a moment: it will never start")
                    .because(because)
                    .remedy("use a stronger inverter, or a model with a gentle start; do not count on this load")
                    .there("for a moment"),
                (Weight::Warns, Some(_)) => said("is too much for the inverter while the others run")
                    .because(because)
                    .remedy("let it start alone: run the others at other hours or from another outlet")
                    .there("for a moment"),
                (Weight::Warns, None) => said("is above the inverter's rated power, and its surge is not known")
                    .because(because)
                    .remedy("copy the surge from the label (in the file: surge under station.inverter), or try it before the outage")
                    .there("for hours"),
                (Weight::Fits, Some(_)) => said("is within what the inverter gives for a moment"),
                (Weight::Fits, None) => said("is within the inverter's rated power"),
            }
        }
        Matter::SwitchOver { load, tolerates_ms, ups, switchover_ms } => {
            let said = |what: &str, found: String| {
                Sentence::new(format!("{load}: as the mains fails"), what)
                    .found(found)
                    .allowed(format!("a gap of {}", Milliseconds(*tolerates_ms)))
            };
            let because = "it goes off or starts anew each time the mains fails";
            match switchover_ms.map(Milliseconds) {
                _ if !ups => said("is so short that it wants a station that takes over by itself", "somebody switches it over".into())
                    .because(because)
                    .remedy("say so if the station does, and how fast (in the file: ups = true and switchover under station.inverter); else give it a supply with a battery of its own")
                    .there("not told, or false"),
                None => said("is short, and nobody has told how fast the station takes over", "not known".into())
                    .because(because)
                    .remedy("copy how fast from the station's manual (in the file: switchover under station.inverter), and try it by pulling the plug")
                    .there("takes over by itself"),
                Some(gap) if weight != Weight::Fits => {
                    said("is less than the gap as the station takes over", format!("a gap of {gap}"))
                        .because(because)
                        .remedy("use a station that takes over faster, or give it a supply with a battery of its own")
                        .there("takes so long")
                }
                Some(gap) => said("is no less than the gap as the station takes over", format!("a gap of {gap}")),
            }
        }
        Matter::CarOutlet { source, watts, outlet_w } => {
            let said = |what: &str| {
                Sentence::new(format!("{source}: the car's outlet"), what)
                    .found(Watts(*watts).to_string())
                    .allowed(format!("{} from a 12 V outlet", Watts(*outlet_w)))
            };
            if weight == Weight::Fits {
                return said("is what a car's 12 V outlet mostly gives");
            }
            said("is more than a car's 12 V outlet mostly gives")
                .because("its fuse is often one of 10 A, and a fuse that blows ends the charging")
                .remedy("read the fuse's label; more takes a charger wired to the car's battery, fused as its maker's manual says")
        }
        Matter::Sleeps { watts, from, loads, surely_w, least_w, assumed } => Small {
            found: (*watts, from, loads),
            limit: (*surely_w, *least_w, *assumed),
            key: "wakes_above",
            does: "the answer counts those loads as going without while nothing else on AC runs".into(),
        }
        .words("leaves so small a load in the dark: it wakes for more"),
        Matter::SwitchesOff { watts, from, loads, surely_w, least_w, assumed, after_h, somebody_home_is_told } => {
            let [soonest, latest] = after_h.map(Hours);
            let after =
                if soonest < latest { format!("{:.0} to {latest} (assumed)", soonest.0) } else { soonest.to_string() };
            let hand = if *somebody_home_is_told {
                ""
            } else {
                " (within the hour, day and night, as nobody has said when somebody is at home)"
            };
            Small {
                found: (*watts, from, loads),
                limit: (*surely_w, *least_w, *assumed),
                key: "switches_off_below",
                does: format!(
                    "after {after} it goes off until somebody switches it on again{hand}, and the answer counts what goes without"
                ),
            }
            .words("belongs to an AC outlet that switches itself off under so small a load")
        }
        Matter::SwitchedOver { loads } => Sentence::new(
            "inverter: as the mains fails",
            "does not take over by itself as the mains fails: until somebody is home, what hangs on AC is dark",
        )
        .found(format!("waiting: {}", loads.join(", ")))
        .because("the answer counts the wait: failures of the first hours are mostly that")
        .remedy(
            "say so if the station takes over by itself (in the file: ups = true under station.inverter); else feed what must not wait from the 12 V outlet",
        ),
        Matter::AllowedUnmet { loads, asked_wh, allowed_wh } => {
            let what = if weight == Weight::Stops {
                "is no less than all vital loads ask for in a whole outage, so none could ever fail"
            } else {
                "is no less than these vital loads ask for in a whole outage, so nothing judges them"
            };
            let asked = WattHours(asked_wh.round());
            Sentence::new("what may be missed", what)
                .found(format!("{} for {}, which ask for {asked}", WattHours(*allowed_wh), loads.join(", ")))
                .allowed(format!("less than {asked}"))
                .because("an outage fails once vital loads have missed more than is allowed")
                .remedy("say which few watt-hours they can do without, or say nothing of it (in the file: allow_unmet under outage)")
        }
        _ => Sentence::default(),
    }
}

/// All that may run at once.
struct AtOnce {
    at: Source,
    over: bool,
    vital: bool,
}

impl AtOnce {
    fn words(&self) -> Sentence {
        let name = match self.at {
            Source::UsbOutlet => "USB",
            Source::Station => "cells",
            at => outlet(at),
        };
        let said = |what: &str| Sentence::new(format!("{name}: watts of all that may run at once"), what);
        let cells = self.at == Source::Station;
        let off = match (cells, self.vital) {
            (true, _) => "the station switches off when they run together",
            (false, true) => "an overloaded outlet switches off, and everything on it goes dark",
            (false, false) => "an overloaded outlet switches off, and everything on it goes dark, vital or not",
        };
        let (what, remedy) = match (self.over, self.vital) {
            (false, _) => return said("carries all that may run at once"),
            (true, true) if cells => (
                "is less than the vital loads draw when all of them run",
                "run them one after another, or use a station that gives more",
            ),
            (true, true) => (
                "is less than the vital loads draw when all of them run",
                "run them one after another, or move one to another outlet",
            ),
            (true, false) if cells => {
                ("is less than all loads draw when all of them run", "never run them together: use other hours")
            }
            (true, false) => (
                "is less than all loads draw when all of them run",
                "never run them together: use other hours or another outlet",
            ),
        };
        said(what)
            .because(format!("{off}; the answer counts means of an hour, in which they take turns"))
            .remedy(remedy)
    }
}

/// AC loads too small for the outlet.
struct Small<'a> {
    /// Watts, from when, of which loads.
    found: (f64, &'a str, &'a [String]),
    /// Between which watts the outlet's limit lies, and whether that is assumed.
    limit: (f64, f64, bool),
    /// The key that tells it.
    key: &'static str,
    /// What the outlet does.
    does: String,
}

impl Small<'_> {
    fn words(self, what: &str) -> Sentence {
        let ((watts, from, loads), (surely_w, least_w, assumed)) = (self.found, self.limit);
        let said = Sentence::new("inverter: small loads", what)
            .found(format!("{watts:.1} W at the AC outlet from {from}: {}", loads.join(" + ")));
        if !assumed {
            return said
                .allowed(format!("{least_w:.0} W or more"))
                .because(self.does)
                .remedy("look for a setting that keeps AC on, or feed it from the 12 V or USB outlet");
        }
        said.allowed(format!("{least_w:.0} W or more (assumed)"))
            .because(format!(
                "{}; nobody has told what this unit does: each trial draws a limit from {surely_w:.0} to {least_w:.0} W \
                 (most have one, common practice, no source), and the answer's range shows what hangs on it",
                self.does
            ))
            .remedy(format!(
                "try it for a night with this load alone and say what it does (in the file: {} under station.inverter, \"0 W\" if \
                 it stays on), look for a setting that keeps AC on, or feed it from the 12 V or USB outlet",
                self.key
            ))
    }
}
