//! Facts of the studies in words.

use super::told::Words;
use super::words::{in_a_sentence, the_list};
use crate::calendar::clock;
use crate::engine::Unknown;
use crate::scenario::model::OutletKind;
use crate::study::Change;
use crate::study::changes::{Costs, NIGHT};
use crate::study::fit::{Overload, Source};
use crate::visible::begun;

/// Names of the priorities, by class.
pub const PRIORITIES: [&str; 3] = ["vital", "useful", "spare"];
/// Names of the outlets, by index.
pub const OUTLETS: [&str; 3] = ["AC", "DC", "USB"];

/// Name of an outlet where its volts matter.
#[must_use]
pub fn outlet(kind: OutletKind) -> &'static str {
    match kind {
        OutletKind::Ac => "AC",
        OutletKind::Dc => "12 V",
        OutletKind::Usb => "USB",
    }
}

/// What gives the watts: "inverter".
#[must_use]
pub fn outlet_that_gives(at: Source) -> &'static str {
    match at {
        Source::Inverter => "inverter",
        Source::DcOutlet => "12 V outlet",
        Source::UsbOutlet => "USB outlet",
        Source::Station => "station",
    }
}

impl Words for Overload {
    fn words(&self) -> String {
        let outlet = outlet_that_gives(self.outlet);
        if self.never {
            let gives = if self.outlet == Source::Station { "its cells give" } else { "the outlet gives" };
            let on_it = if self.outlet == Source::Station { "" } else { " on it" };
            return format!(
                "{} cannot run on this station: {:.0} W, {gives} {:.0} W. As soon as it is switched on the {outlet} switches off and \
                 everything{on_it} goes dark.",
                begun(&the_list(&self.loads)),
                self.watts,
                self.limit_w
            );
        }
        if let Some(starts) = &self.starts {
            let others = the_list(&self.loads[1.min(self.loads.len())..]);
            let beside = match self.loads.len() {
                0 | 1 => String::new(),
                2 => format!(" while {others} runs"),
                _ => format!(" while {others} run"),
            };
            let (may, gives) = match (self.certain, self.limit_told) {
                (true, true) => ("switches off", format!("it gives {:.0} W", self.limit_w)),
                (true, false) => (
                    "switches off",
                    format!("it gives {:.0} W for hours, and seldom more than twice that for a moment", self.limit_w),
                ),
                (false, _) => (
                    "may switch off",
                    format!(
                        "it gives {:.0} W for hours, and what it gives for a moment is not told: its label says that (surge)",
                        self.limit_w
                    ),
                ),
            };
            let them = the_list(std::slice::from_ref(starts));
            return format!(
                "The {outlet} {may} when {them} starts{beside} ({:.0} W for a moment; {gives}), and everything on it goes dark.",
                self.watts
            );
        }
        let run = if self.loads.len() == 1 { "runs" } else { "run together" };
        format!(
            "The {outlet} switches off when {} {run} ({:.0} W; it gives {:.0} W), and everything on it goes dark.",
            the_list(&self.loads),
            self.watts,
            self.limit_w
        )
    }
}

/// Overloads in front of an answer: the loads that it takes as never plugged in, and what it does not count; nothing where nothing
/// is overloaded.
#[must_use]
pub fn uncounted(overloads: &[Overload]) -> String {
    let (never, together) = overloads_in_words(overloads);
    let uncounted = if together.is_empty() { "" } else { "What follows does not count that." };
    [never, together, uncounted.into()].into_iter().filter(|text| !text.is_empty()).collect::<Vec<_>>().join(" ")
}

/// Loads that are too much by themselves, which an answer leaves out, and those that are together.
#[must_use]
pub fn overloads_in_words(overloads: &[Overload]) -> (String, String) {
    let of = |never: bool| -> Vec<String> {
        overloads.iter().filter(|overload| overload.never == never).map(Words::words).collect()
    };
    let (never, together) = (of(true), of(false));
    let taken = match never.len() {
        0 => "",
        1 => " It is taken as never plugged in.",
        _ => " They are taken as never plugged in.",
    };
    (never.join(" ") + taken, together.join(" "))
}

/// What to do about each overload, which costs nothing.
#[must_use]
pub fn remedies(overloads: &[Overload]) -> Vec<String> {
    let remedy = |overload: &Overload| {
        let loads = the_list(&overload.loads);
        if let (Some(starts), Some((_, others))) = (&overload.starts, overload.loads.split_first()) {
            return match others {
                [] => format!(
                    "Before you count on the {starts}: look on the label for what the inverter gives for a moment."
                ),
                others => format!(
                    "Let the {starts} start while {} off.",
                    match others {
                        [one] => format!("the {one} is"),
                        several => format!("{} are", the_list(several)),
                    }
                ),
            };
        }
        match (overload.never, overload.outlet, overload.loads.len()) {
            (true, _, _) => format!("Do not plug {loads} into this station: it cannot run there."),
            // Several of a kind.
            (false, _, 1) => format!("Never run all of {loads} at the same time: one after another."),
            (false, Source::Station, _) => format!("Never run {loads} at the same time: one after another."),
            (false, ..) => {
                format!("Never run {loads} at the same time: one after another, or one of them from another outlet.")
            }
        }
    };
    overloads.iter().map(remedy).collect()
}

impl Words for Change {
    fn words(&self) -> String {
        match self {
            Change::OneMoreString { series, watts, beside, has, .. } => {
                let beside = match (beside, has) {
                    (Some(name), _) => in_quotes(name),
                    (None, 1) => "the first".into(),
                    (None, _) => "the others".into(),
                };
                if *series == 1 {
                    format!("one more {watts:.0} W panel beside {beside}")
                } else {
                    format!("{series} more {watts:.0} W panels: a string beside {beside}")
                }
            }
            Change::BiggerBattery => "a quarter more battery".into(),
            Change::MoveLoad { name, to, watts, .. } => {
                let outlet = match to {
                    OutletKind::Ac => "AC",
                    OutletKind::Dc => "the 12 V DC outlet",
                    OutletKind::Usb => "USB",
                };
                format!("{} on {outlet} ({watts:.0} W there)", in_a_sentence(name))
            }
            Change::LeaveOff { name, vital, .. } => {
                format!("{} left off{}", in_a_sentence(name), if *vital { ", though it is vital" } else { "" })
            }
            Change::OffAtNight { name, vital, .. } => {
                let though = if *vital { ", though it is vital" } else { "" };
                format!(
                    "{} off from {} to {}{though}",
                    in_a_sentence(name),
                    clock(NIGHT.from_minute),
                    clock(NIGHT.to_minute)
                )
            }
            Change::MoveMark { name, off_below, now_off_below, .. } => {
                let now = now_off_below.map_or(String::new(), |now| format!(" (now {:.0} %)", 100.0 * now));
                format!("{} off below {:.0} %{now}", in_a_sentence(name), 100.0 * off_below)
            }
            Change::GeneratorLonger { hours_h } => match *hours_h {
                1.0 => "the generator an hour longer".into(),
                hours => format!("the generator {hours:.0} h longer"),
            },
            Change::GeneratorAt { later_h, starts_min } => format!(
                "the generator {:.0} h {} (from {})",
                later_h.abs(),
                if *later_h < 0.0 { "earlier" } else { "later" },
                clock(*starts_min)
            ),
            Change::OutLonger { name, .. } => format!("{name} out an hour earlier and an hour longer"),
            Change::Steeper { name, tilt_deg, .. } => format!("{name} tilted to {tilt_deg:.0}°"),
            Change::BringInside => "the station indoors, where people live".into(),
            Change::StartFull => "the battery full at the beginning".into(),
        }
    }
}

/// A name that an owner gave to panels, in quotes where it is more than one word: such a name may read like a sentence's own words.
fn in_quotes(name: &str) -> String {
    if name.contains(' ') { format!("\"{name}\"") } else { name.to_string() }
}

/// What a change costs, in a word.
#[must_use]
pub fn costs(costs: Costs) -> &'static str {
    match costs {
        Costs::Nothing => "free",
        Costs::GivesUp => "gives it up",
        Costs::Fuel => "costs fuel",
        Costs::Money => "costs money",
    }
}

impl Words for Unknown {
    fn words(&self) -> String {
        let of = self.of.as_deref().unwrap_or_default();
        match self.quantity {
            "mean_sun" => "mean sun here".into(),
            "spread_of_days" => "how much days differ here".into(),
            "darkest_days" => "the darkest days here".into(),
            "length_of_spells" => "how long dull and bright spells last here".into(),
            "unrest_of_hours" => "how unsettled hours are here".into(),
            "air_temperature" => "mean air temperature here".into(),
            "luck_of_the_years" => "luck of the record's years".into(),
            "battery_capacity" | "usable_energy" => "battery capacity".into(),
            "charge_efficiency" => "charging efficiency".into(),
            "discharge_efficiency" => "discharging efficiency".into(),
            "inverter_idle" => "inverter idle draw".into(),
            "inverter_efficiency" => "inverter efficiency".into(),
            "wakes_above" => "what wakes the inverter".into(),
            "switches_off_below" => "the load under which the AC outlet goes off".into(),
            "switches_off_after" => "how soon the AC outlet goes off".into(),
            "packs" => "what the added batteries hold".into(),
            "second_station" => "what the second station delivers".into(),
            "generator_thirst" => "what the generator burns".into(),
            "ac_draw" => "draw with AC on".into(),
            "dc_draw" => "draw with 12 V on".into(),
            "usb_draw" => "draw with USB on".into(),
            "ac_conversion" => "conversion to AC".into(),
            "dc_conversion" => "conversion to 12 V".into(),
            "usb_conversion" => "conversion to USB".into(),
            "ac_step" => "a fan or another step of the inverter".into(),
            "rate_loss" => "loss of capacity by the rate of discharge".into(),
            "panel_power" => format!("power of {of}"),
            "load_watts" => format!("watts of {of}"),
            "heat_leak" => format!("how much warmth gets into {of}"),
            "load_use" => format!("use of {of}"),
            "source_watts" => format!("watts of {of}"),
            "mean_wind" => format!("mean wind at {of}"),
            code => format!("{code} {of}").trim_end().replace('_', " "),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::record::FigureKind;
    use crate::weather::bend::NAMES;

    #[test]
    fn every_quantity_that_is_drawn_has_words() {
        let kinds = FigureKind::ALL.map(FigureKind::key);
        let kit =
            ["battery_capacity", "charge_efficiency", "discharge_efficiency", "inverter_idle", "inverter_efficiency"];
        let outlet =
            ["wakes_above", "switches_off_below", "switches_off_after", "second_station", "packs", "generator_thirst"];
        let outlet = outlet.into_iter().chain(["source_watts", "mean_wind"]);
        for quantity in NAMES.into_iter().chain(kinds).chain(kit).chain(outlet) {
            let told = Unknown { quantity, of: None }.words();
            let same = ["battery_capacity", "inverter_efficiency"];
            assert!(told != quantity.replace('_', " ") || same.contains(&quantity), "{told}");
        }
    }
}
