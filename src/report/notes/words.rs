//! Notes in words.

use super::{MeanSun, Note, StartsAgain};
use crate::engine::kit_plan::{INDOORS_C, UNPROVED_SHARE};
use crate::math;
use crate::open::assumed::Assumption;
use crate::places::ATTRIBUTION;
use crate::report::cautions;
use crate::report::json::Difference;
use crate::report::judged::Sentence;
use crate::report::told::Words;
use crate::report::words::{and, duration, energy, every, label, percent, the_list, thousands};
use crate::units::Celsius;
use crate::visible::begun;
use crate::weather::climate::Basis;

impl Words for MeanSun {
    fn words(&self) -> String {
        let (least, most) = (percent(self.least_plus_minus), percent(self.most_plus_minus));
        let range = if least == most {
            format!("± {most}")
        } else {
            format!("± {} to {most} by month", least.trim_end_matches(" %"))
        };
        let by = match self.basis {
            _ if self.readings == 1 => "With a reading of your own".to_string(),
            _ if self.readings > 0 => format!("With {} readings of your own", self.readings),
            Basis::Table => return format!("The built-in table knows a month's mean sun to {range} (95 %)."),
            Basis::Figures => "With the monthly figures".into(),
            Basis::Record { years, table, .. } => {
                format!("With {years:.1} years of record{}", if table { " and the built-in table" } else { "" })
            }
            Basis::Told { level: 0.0 } => return "Its sun is taken to be known exactly.".into(),
            Basis::Told { .. } => return format!("A month's mean sun is known to {range} (95 %)."),
        };
        format!("{by} a month's mean sun is known to {range} (95 %).")
    }
}

impl Words for Note {
    fn words(&self) -> String {
        match self {
            Note::Kit(judged) => {
                let (Sentence { about, what, found, allowed, reason, remedy, .. }, subject) = judged.told();
                let numbers: Vec<&str> = [found.as_str(), allowed].into_iter().filter(|text| !text.is_empty()).collect();
                let more = [reason, remedy].into_iter().filter(|text| !text.is_empty());
                let more: String = more.map(|text| format!(" {}.", begun(text))).collect();
                let numbers = if numbers.is_empty() { String::new() } else { format!(" ({})", numbers.join("; ")) };
                format!("Mind {about}: {subject} {what}{numbers}.{more}")
            }
            Note::Climate { place, source, mean_sun } => format!(
                "Weather at {}: {}{} {} Every trial draws one of the climates that this leaves possible.",
                place.trim_end_matches('.'),
                source.trim_end_matches('.'),
                if source.is_empty() { "" } else { "." },
                mean_sun.words(),
            ),
            Note::Record { record, air_from_the_table } => format!(
                "Weather: real days of the season from the record {record}{}. Its years are a sample of the climate: every \
                 trial moves them as far as another sample of so many years may lie.",
                if *air_from_the_table { ", air temperature from the built-in table" } else { "" }
            ),
            Note::Defects { tests, defects } => format!(
                "The unit of {tests} has a defect, which the answer does not reckon with: {}. Have it mended or replaced before you \
                 lean on it.",
                defects.join("; ")
            ),
            Note::Proved { tests, usable_wh, plus_minus_wh } => format!(
                "The station was proved by bench tests ({tests}): {} ± {} at its converters; every trial draws capacity, draws \
                 and efficiencies together, as the tests leave them.",
                energy(*usable_wh),
                // Rounded upwards, as where the tests themselves are told.
                energy((plus_minus_wh - 1e-9).ceil())
            ),
            Note::LabelAlone { label_wh, plus_minus_wh, aged } => format!(
                "Nobody has tested this station's capacity: its cells are taken to hold what is written, {} ± {}{}. Most units \
                 hold a little less than their label; without a ± of its own a label counts as {} ± {} of it (common practice, \
                 no source).",
                label(*label_wh),
                energy(*plus_minus_wh),
                if *aged { ", times its state of health" } else { "" },
                percent(UNPROVED_SHARE.0),
                percent(UNPROVED_SHARE.1)
            ),
            Note::Untested => format!(
                "Nobody has tested this station's capacity: its cells are taken to hold {} ± {} of the label (common practice, \
                 no source). A bench test narrows the answer (in the file: measured_capacity under station).",
                percent(UNPROVED_SHARE.0),
                percent(UNPROVED_SHARE.1)
            ),
            Note::ClockBySun => "No time zone given: the clock is the whole hour nearest to the sun.".into(),
            Note::CutTo { days } => format!("Outages longer than {days:.0} days are cut to that."),
            Note::CellsFollowTheAir => {
                "The station's cells follow the air with a lag, a little warmer by their own losses. How slowly, how much, and \
                 what cold and heat cost them is typical of their kind, not measured on this station."
                    .into()
            }
            Note::HeatedRoom { room_c, warm: false } => format!(
                "The station stands in a room of {room_c:.0} °C. Where the outage takes the heating too, say how \
                 warm the room stays (in the file: stands under station)."
            ),
            Note::HeatedRoom { room_c, warm: true } => format!(
                "The station is taken to stand in a room of {room_c:.0} °C{}. In this season a room without cooling may be \
                 warmer, and a station that gets hot slows down or stops charging: say how warm the room is (in the file: stands under station).",
                if INDOORS_C < *room_c { ", the mean of the air outside" } else { "" }
            ),
            Note::KeptBack { kept, lead } => format!(
                "The lowest {} of the charge stays in the battery (in the file: keep_above under station){}.",
                percent(*kept),
                if *lead { ": emptying lead-acid cells below half wears them out within a few hundred cycles" } else { "" }
            ),
            Note::CoolingRoom { falls_to_c, hours } => format!(
                "Rooms cool from {INDOORS_C:.0} °C towards {} as the outage takes the heating, 95 % of the way in {}: the \
                 station's cells follow with a lag of hours, and so does what coolers indoors must pump. What cold costs cells is \
                 typical of their kind.",
                falls_to_c.map_or("the air outdoors".to_string(), |c| Celsius(c).to_string()),
                duration(*hours)
            ),
            Note::Assumed { what, turned } => {
                let taken = match what {
                    Assumption::PanelsInTheSun => {
                        "Panels are taken to stand out, unshaded, from sunrise to sunset of every day (if not, say what shades them, or \
                         when they are out; in the file: shade or out under panel)"
                            .to_string()
                    }
                    Assumption::RoomStaysWarm => format!(
                        "The station is taken to stand in a room that stays at {INDOORS_C:.0} °C (if not, say where it stands; in the \
                         file: stands under station)"
                    ),
                    Assumption::ChargeAsShown => {
                        "The charge at the beginning is taken to be exactly what the display shows (if not, say by how much it may be \
                         off; in the file: a ± behind starts_charged under outage)"
                            .to_string()
                    }
                };
                let worse = turned_out(*what);
                match turned {
                    Some(turned) => format!("{taken}. {worse}, {}.", weight(turned)),
                    None => format!("{taken}; if that does not hold, it lasts less long."),
                }
            }
            Note::HeaterFed => {
                "The heater is fed by sun or wall alone, never by the cells; they are charged once they are warm enough.".into()
            }
            Note::GeneratorFuel => {
                "The generator is taken to start whenever somebody is there to start it, until its fuel is gone.".into()
            }
            Note::GeneratorStarts => "The generator is taken to start every day, and its fuel never to end.".into(),
            Note::OnTheGenerator { loads, through: true } => format!(
                "While the generator runs the station is taken to pass its power on to {}; the charger has what is left. Whether \
                 it does, and how much, its manual says.",
                the_list(loads)
            ),
            Note::OnTheGenerator { loads, .. } => format!(
                "While the generator runs somebody is taken to have plugged {} into it, and to plug all of that back as it stops, or as \
                 soon as somebody is there; the charger is taken to be set to what is left of its watts.",
                the_list(loads)
            ),
            Note::CarDriven { name, days } => format!(
                "The {name} is taken to be driven on {} of the days, whatever the weather, with fuel and the station in it; those days \
                 are drawn one by one, and a week's trip or a road that is closed is not.",
                percent(*days)
            ),
            Note::WaterRuns { name } => {
                format!("The {name} is taken to give the same all through: ice, drought, flood and leaves are not known.")
            }
            Note::WindIsWeak { name, mean_m_s, told } => format!(
                "Wind at the {name}: {}. Hours scatter about the mean by Rayleigh's distribution and follow each other closely; they \
                 hang together with neither sun nor storm, calms of a week are rarer than in truth. In towns, gardens and \
                 between trees there is far less wind than maps say: measure for a season before you count on it.",
                if *told {
                    format!("a mean of {mean_m_s} m/s, as sure as you say")
                } else {
                    format!("a mean between {} and {mean_m_s} m/s, as nobody has told how sure it is", 0.5 * mean_m_s)
                }
            ),
            Note::SecondIsCarried { every_days, returns_at } => format!(
                "The second station is taken to be carried away to be charged {}, whatever the weather, and to come back with {}: how \
                 often that fails is not known. Try how the answer stands with fewer trips.",
                every(*every_days),
                percent(*returns_at)
            ),
            Note::PanelsByHand => {
                "Panels put out or turned by hand are taken to be so on every day that allows it.".into()
            }
            Note::LowSun { noon_deg } if *noon_deg <= 0.0 => "The sun does not rise on the darkest day of this month: panels give next to \
                nothing, and around that day a hill takes what is left: say so as shade (in the file: shade under panel)."
                .into(),
            Note::LowSun { noon_deg } => format!(
                "The sun climbs no higher than {noon_deg:.0}° on the darkest day of this month, which a ridge, a wood or a house {:.0} m \
                 higher than the panels and 50 m away hides; no skyline is known here. Where one is in the way, say which \
                 hours it takes (in the file: under panel, shade = [{{ hours = \"00:00-24:00\", loses = \"90 %\" }}]).",
                50.0 * math::sin(noon_deg.to_radians()) / math::cos(noon_deg.to_radians())
            ),
            Note::NoPanels { fed_by } => match fed_by.len() {
                0 => "No panels: the battery is all there is.".into(),
                1 => format!("No panels: {} feeds it.", fed_by[0]),
                _ => format!("No panels: {} feed it.", and(fed_by)),
            },
            Note::WiredIn { loads } => format!(
                "Usually wired into the house and not plugged in: {}. How such a thing is fed from a station is for a licensed electrician, \
                 by local code.",
                the_list(loads)
            ),
            Note::OrderOfShedding { starts_again } => format!(
                "Everything runs until the battery is empty, which nobody foresees: a load that is to go off before that needs \
                 a charge of its own (in the file: off_below under load). What is fed after that goes to vital loads first, then to useful ones{}.",
                match starts_again {
                    StartsAgain::NoSun => "",
                    StartsAgain::ByItself =>
                        "; a station that ran empty starts again by itself as soon as the sun gives enough",
                    StartsAgain::AcByHand =>
                        "; a station that ran empty charges again as soon as the sun gives enough, but its AC outlet stays off \
                         until somebody who is at home switches it on",
                }
            ),
            Note::LeadAcid => cautions::LEAD_ACID.into(),
            Note::DeviceOnDc => cautions::DEVICE_ON_DC.into(),
            Note::CoarseSteps { minutes } => format!(
                "Counted in steps of {minutes:.0} minutes: sun and loads are averaged within a step. On kits at their edge steps of 5 \
                 minutes gave at most 0.3 of 100 less, and up to 1 more where an outage's length or a mark of charge is no whole \
                 number of hours; shorter steps (step 15) see more."
            ),
            Note::CannotHold { load, room_c, share_of_time } => format!(
                "In a room of {} the {load} cannot hold its temperature, however much power it gets: its compressor would have \
                 to run {} of the time.",
                Celsius(*room_c),
                percent(*share_of_time)
            ),
            Note::Coolers { doors_shut } => format!(
                "Coolers: how much warmth gets in is reckoned from the label's energy by a typical machine, what food holds is typical; each \
                 cooler is one temperature through and through, its door {} in an outage. Real food at the top and in the door \
                 warms first.",
                if *doors_shut { "stays shut" } else { "is opened as written" }
            ),
            Note::FoodClocks => {
                "Food by two clocks: with a thermometer, perishable food is lost after the time above the limit that the \
                 scenario says (USDA: two hours above 40 °F, one in a room above 90 °F), frozen food once its outer packages \
                 have been soft for as long; by the hours alone, four without power for a closed fridge, up to 48 for a freezer \
                 that is full (24 half full; an hour with power makes good an hour without, once the food is cold again). Unless \
                 the scenario says that a thermometer is used (in the file: food = \"lost above 4 °C for 2 h\"), the sooner of the two clocks \
                 decides. A vital cooler fails when its food is lost; its missed energy does not count against what may be missed. When \
                 in doubt, throw it out."
                    .into()
            }
            Note::Medical => {
                "A medical device is among the loads. Judge by the lower end of the range, keep a second way to power it, and \
                 settle the plan with the device's maker and whoever prescribed it; this program is no medical advice."
                    .into()
            }
            Note::PlaceNames => format!("{ATTRIBUTION}."),
            Note::Cautions => {
                "Cautions: follow the makers' manuals and local code; leave anything wired into a house to a licensed \
                 electrician; keep the station dry, ventilated, out of the sun and off soft surfaces, and stop using it if it \
                 smells, swells or gets hot."
                    .into()
            }
        }
    }
}

/// Where an assumption does not hold.
fn turned_out(what: Assumption) -> &'static str {
    match what {
        Assumption::PanelsInTheSun => "If something took their sun from two o'clock on",
        Assumption::RoomStaysWarm => "If the outage took the heating too and the room cooled to 5 °C",
        Assumption::ChargeAsShown => "With a tenth of a full charge less",
    }
}

/// What a verdict hangs on that nobody has told, beside the verdict: see [`super::hangs_on`].
#[must_use]
pub fn hangs_on_words((what, turned): (Assumption, &Difference)) -> String {
    let taken = match what {
        Assumption::PanelsInTheSun => "the panels stand unshaded from sunrise to sunset of every day".to_string(),
        Assumption::RoomStaysWarm => format!("the station's room stays at {INDOORS_C:.0} °C"),
        Assumption::ChargeAsShown => "the charge at the beginning is exactly what the display shows".into(),
    };
    format!("All this holds if {taken}, which nobody has told. {}, {}.", turned_out(what), weight(turned))
}

/// What a difference comes to, in words.
fn weight(turned: &Difference) -> String {
    let trials = thousands(turned.trials);
    let (few, points) = (turned.difference.abs() < HARDLY, |share: f64| format!("{:.0}", (100.0 * share).abs()));
    if !turned.told_apart || few {
        return format!(
            "hardly any more outages would fail (fewer than {:.0} in 100; {trials} trials)",
            100.0 * turned.difference_low.abs().max(HARDLY)
        );
    }
    let more = if turned.difference < 0.0 { "more" } else { "fewer" };
    let (low, high) = (turned.difference_low.abs(), turned.difference_high.abs());
    format!(
        "{} {more} of 100 outages would fail ({}-{}; {trials} trials)",
        points(turned.difference),
        points(low.min(high)),
        points(low.max(high))
    )
}

/// Smaller differences of survival are no more than mentioned.
const HARDLY: f64 = 0.02;
