//! What an answer rests on: assumptions and cautions, one fact each.

use serde::Serialize;

use super::json::Difference;
use super::told::Words;
use super::words::{energy, label, percent, thousands};
use crate::engine::kit_plan::UNPROVED_SHARE;
use crate::engine::plan::{LONGEST_OUTAGE_H, Sky};
use crate::kit::Judgement;
use crate::loads::CoolerPlan;
use crate::math;
use crate::open::assumed::{Assumed, Assumption};
use crate::places::ATTRIBUTION;
use crate::scenario::model::{Aim, Lasts, Pattern, Room, Scenario, Stands, TimeZone};
use crate::scenario::record::FigureKind;
use crate::units::{Celsius, NORMAL_95};
use crate::weather::Climate;
use crate::weather::climate::Basis;

/// Steps from this length on draw a remark \[h\].
const COARSE_STEP_H: f64 = 0.5;

/// Something that an answer rests on. Shares go from 0 to 1.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[allow(missing_docs, reason = "the words below say it; units at the ends of the names")]
pub enum Note {
    /// A judgement on the kit that bears on the numbers.
    Kit { about: String, key: String, what: String, found: String, allowed: String, reason: String, remedy: String },
    /// Weather drawn from a climate.
    Climate { place: String, source: String, mean_sun: MeanSun },
    /// Weather of a record's days.
    Record { record: String, air_from_the_table: bool },
    /// A proved station with something wrong beside its figures.
    Defects { tests: String, defects: Vec<String> },
    /// A station that bench tests proved.
    Proved { tests: String, usable_wh: f64, plus_minus_wh: f64 },
    /// A label with a ± that nobody has tested.
    LabelAlone { label_wh: f64, plus_minus_wh: f64, aged: bool },
    /// A label that nobody has tested.
    Untested,
    /// The clock goes by the sun.
    ClockBySun,
    /// Long outages are cut.
    CutTo { days: f64 },
    /// The station in the weather.
    CellsFollowTheAir,
    /// The station in a heated room.
    HeatedRoom { room_c: f64 },
    /// Something taken for granted, and how survival changes where it does not hold.
    Assumed {
        what: Assumption,
        #[serde(skip_serializing_if = "Option::is_none")]
        turned: Option<Difference>,
    },
    /// A heater for the cells.
    HeaterFed,
    /// The generator starts.
    GeneratorStarts,
    /// A generator starts whenever somebody is there, while its fuel lasts.
    GeneratorFuel,
    /// Panels put out or turned by hand.
    PanelsByHand,
    /// No panels.
    NoPanels,
    /// What goes off first, and whether sun starts an empty station again.
    OrderOfShedding { sun: bool },
    /// Steps so long that short gaps are hidden.
    CoarseSteps { minutes: f64 },
    /// A cooler whose machine is too weak.
    CannotHold { load: String, room_c: f64, share_of_time: f64 },
    /// How coolers are reckoned.
    Coolers { doors_shut: bool },
    /// How food is judged.
    FoodClocks,
    /// A medical device among the loads.
    Medical,
    /// Whose names of places are shown.
    PlaceNames,
    /// The usual cautions.
    Cautions,
}

/// What is known of a climate's mean sun, and by what.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MeanSun {
    /// Half-width of the 95 % interval in the month that is known best, as a share.
    pub least_plus_minus: f64,
    /// The same in the month that is known least.
    pub most_plus_minus: f64,
    /// Readings of the owner's.
    pub readings: u32,
    /// What else it comes from.
    #[serde(skip)]
    basis: Basis,
}

impl MeanSun {
    /// Of a climate.
    #[must_use]
    pub fn of(climate: &Climate) -> MeanSun {
        let sd = climate.doubt.level_sd();
        let (least, most) = sd.iter().fold((f64::INFINITY, 0.0_f64), |(low, high), &sd| (low.min(sd), high.max(sd)));
        let [least_plus_minus, most_plus_minus] = [least, most].map(|sd| math::exp_m1(NORMAL_95 * sd));
        MeanSun { least_plus_minus, most_plus_minus, readings: climate.seen, basis: climate.basis }
    }
}

impl Words for MeanSun {
    fn words(&self) -> String {
        let (least, most) = (percent(self.least_plus_minus), percent(self.most_plus_minus));
        let range = if least == most {
            format!("± {most}")
        } else {
            format!("± {} to {most} by month", least.trim_end_matches(" %"))
        };
        let by = match self.basis {
            _ if self.readings == 1 => "With a reading of your own ([[seen]])".to_string(),
            _ if self.readings > 0 => format!("With {} readings of your own ([[seen]])", self.readings),
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

/// What a key of the file belongs to, as an owner calls it.
fn subject(key: &str) -> String {
    let mut parts = key.split('.');
    let (section, rest) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
    // Places are counted from 0 in keys, from 1 by people.
    let number = rest.parse::<usize>().map(|place| format!(" {}", place + 1)).unwrap_or_default();
    match (section, rest) {
        ("station", "inverter") => "the inverter".into(),
        ("station", "dc_outlet") => "the 12 V outlet".into(),
        ("station", "usb") => "the USB outlet".into(),
        ("station", "solar_input") => "the solar input".into(),
        ("station", "wall_charger") => "the wall charger".into(),
        ("panel", _) => format!("panel{number}"),
        ("load", _) => format!("load{number}"),
        (section, _) => format!("the {section}"),
    }
}

/// A key of the file as an owner finds it: "`wiring` of panel 1", "the inverter" for a section itself.
pub fn named_key(key: &str) -> String {
    let section = match key.split('.').next() {
        Some("panel" | "load") => 2,
        Some("station") if subject(key) != "the station" => 2,
        _ => 1,
    };
    let rest: Vec<&str> = key.split('.').skip(section).collect();
    if rest.is_empty() { subject(key) } else { format!("`{}` of {}", rest.join("."), subject(key)) }
}

/// A text begun with a capital letter.
pub fn begun(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(char::to_uppercase).into_iter().flatten();
    first.collect::<String>() + letters.as_str()
}

impl Words for Note {
    fn words(&self) -> String {
        match self {
            Note::Kit { about, key, what, found, allowed, reason, remedy } => {
                let numbers: Vec<&str> = [found.as_str(), allowed].into_iter().filter(|text| !text.is_empty()).collect();
                let more = [reason, remedy].into_iter().filter(|text| !text.is_empty());
                let more: String = more.map(|text| format!(" {}.", begun(text))).collect();
                format!("Mind {about}: {} {what} ({}).{more}", subject(key), numbers.join("; "))
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
                energy(*plus_minus_wh)
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
                 no source). A bench test (measured_capacity) narrows the answer.",
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
            Note::HeatedRoom { room_c } => format!(
                "The station stands in a room of {room_c:.0} °C. Where the outage takes the heating too, write the room's \
                 temperature."
            ),
            Note::Assumed { what, turned } => {
                let effect = turned.as_ref().map_or_else(|| "it was not worked out what that does".into(), weight);
                match what {
                    Assumption::PanelsInTheSun => format!(
                        "Panels are taken to stand out, unshaded, from sunrise to sunset of every day (keys: shade, out). If \
                         something took their sun from two o'clock on, {effect}."
                    ),
                    Assumption::RoomStaysWarm => format!(
                        "The station is taken to stand in a room that stays at {:.0} °C (key: stands). If the outage took the \
                         heating too and the room cooled to 5 °C, {effect}.",
                        crate::engine::kit_plan::INDOORS_C
                    ),
                    Assumption::ChargeAsShown => format!(
                        "The charge at the beginning is taken to be exactly what the display shows (key: starts_charged, which \
                         takes a ±). With a tenth of a full charge less, {effect}."
                    ),
                }
            }
            Note::HeaterFed => {
                "The heater is fed by sun or wall alone, never by the cells; they are charged once they are warm enough.".into()
            }
            Note::GeneratorFuel => {
                "The generator is taken to start whenever somebody is there to start it, until its fuel is gone.".into()
            }
            Note::GeneratorStarts => "The generator is taken to start every day, and its fuel never to end.".into(),
            Note::PanelsByHand => {
                "Panels put out or turned by hand are taken to be so on every day that allows it.".into()
            }
            Note::NoPanels => "No panels: the battery is all there is.".into(),
            Note::OrderOfShedding { sun } => format!(
                "When energy runs short, spare loads are switched off first, then useful ones{}.",
                if *sun {
                    "; a station that ran empty starts again by itself as soon as the sun gives enough"
                } else {
                    ""
                }
            ),
            Note::CoarseSteps { minutes } => format!(
                "Counted in steps of {minutes:.0} minutes: sun and loads are averaged within a step, which hides short gaps \
                 about sunrise. Steps of 5 minutes gave up to 1.5 of 100 less on kits that run empty there; try --step 15."
            ),
            Note::CannotHold { load, room_c, share_of_time } => format!(
                "In a room of {} the {load} cannot hold its temperature, however much power it gets: its compressor would have \
                 to run {} of the time.",
                Celsius(*room_c),
                percent(*share_of_time)
            ),
            Note::Coolers { doors_shut } => format!(
                "Coolers: the label's energy is turned into a heat leak by a typical machine, food into typical heat; each \
                 cooler is one temperature through and through, its door {} in an outage. Real food at the top and in the door \
                 warms first.",
                if *doors_shut { "stays shut" } else { "is opened as written" }
            ),
            Note::FoodClocks => {
                "Food by two clocks: with a thermometer, perishable food is lost after the time above the limit that the \
                 scenario says (USDA: two hours above 40 °F, one in a room above 90 °F), frozen food once its outer packages \
                 have been soft for as long; by the hours alone, four without power for a closed fridge, up to 48 for a freezer \
                 that is full (24 half full; an hour with power makes good an hour without, once the food is cold again). Unless \
                 the scenario says that a thermometer is used (food = \"lost above 4 °C for 2 h\"), the sooner of the two clocks \
                 decides. A vital cooler fails when its food is lost; its missed energy does not count against allow_unmet. When \
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

/// Puts what is taken for granted among the notes, before what is said of shedding.
pub fn add_assumed(notes: &mut Vec<Note>, assumed: &[Assumed]) {
    let of =
        |assumed: &Assumed| Note::Assumed { what: assumed.what, turned: assumed.turned.as_ref().map(Difference::of) };
    if assumed.iter().any(|assumed| assumed.what == Assumption::RoomStaysWarm) {
        notes.retain(|note| !matches!(note, Note::HeatedRoom { .. }));
    }
    let at = notes.iter().position(|note| matches!(note, Note::OrderOfShedding { .. })).unwrap_or(notes.len());
    notes.splice(at..at, assumed.iter().map(of));
}

/// What is assumed of coolers, and whether their machines can do their work.
fn coolers(scenario: &Scenario) -> Vec<Note> {
    let coolers = || {
        scenario.loads.iter().filter_map(|load| match &load.pattern {
            Pattern::Cooler(cooler) => Some((load, cooler)),
            _ => None,
        })
    };
    let mut notes = Vec::new();
    for (load, cooler) in coolers() {
        if let Room::At(room) = cooler.room {
            let share_of_time = CoolerPlan::new(cooler, load.watts.value.0).holding_share(room.0, 1.0);
            if share_of_time > 1.0 {
                notes.push(Note::CannotHold { load: load.name.clone(), room_c: room.0, share_of_time });
            }
        }
    }
    if coolers().next().is_some() {
        notes.push(Note::Coolers { doors_shut: coolers().all(|(_, cooler)| cooler.door_openings == 0) });
        notes.push(Note::FoodClocks);
    }
    notes
}

/// What is known of the station's capacity.
fn capacity(scenario: &Scenario) -> Option<Note> {
    let station = &scenario.station;
    if let Some((proved, kit)) = station.proved.as_ref().and_then(|proved| Some((proved, proved.kit.as_ref()?))) {
        let (usable_wh, standard_wh) = kit.get(FigureKind::UsableEnergy).unwrap_or_default();
        return Some(Note::Proved { tests: proved.file.clone(), usable_wh, plus_minus_wh: 1.96 * standard_wh });
    }
    if station.measured.is_some() {
        return None;
    }
    Some(if station.capacity_told {
        Note::LabelAlone {
            label_wh: station.rated_capacity.value.0,
            plus_minus_wh: station.rated_capacity.plus_minus,
            aged: station.state_of_health.value.0 < 1.0,
        }
    } else {
        Note::Untested
    })
}

/// Where the weather comes from.
#[must_use]
pub fn weather(sky: &Sky) -> Note {
    match sky {
        Sky::Climate(climate) => Note::Climate {
            place: climate.name.clone(),
            source: climate.source.clone(),
            mean_sun: MeanSun::of(climate),
        },
        Sky::Record(record, air) => {
            Note::Record { record: record.name().to_string(), air_from_the_table: air.is_some() }
        }
    }
}

/// What is said of the weather among some notes; every answer has it.
#[must_use]
pub fn of_weather(notes: &[Note]) -> Option<&Note> {
    notes.iter().find(|note| matches!(note, Note::Climate { .. } | Note::Record { .. }))
}

/// The notes of a scenario under a sky.
///
/// * `verdicts` — the judgements on its kit; `step_h` — length of a step \[h\].
#[must_use]
pub fn notes(scenario: &Scenario, sky: &Sky, verdicts: &[Judgement], step_h: f64) -> Vec<Note> {
    let judged = verdicts.iter().filter(|verdict| verdict.in_the_answer).cloned();
    let mut notes: Vec<Note> = judged
        .map(|Judgement { about, key, what, found, allowed, reason, remedy, .. }| Note::Kit {
            about,
            key,
            what,
            found,
            allowed,
            reason,
            remedy,
        })
        .collect();
    let mut when = |holds: bool, note: Note| {
        if holds {
            notes.push(note);
        }
    };
    when(true, weather(sky));
    if let Some(note) = capacity(scenario) {
        when(true, note);
    }
    if let Some(proved) = &scenario.station.proved
        && let Some(kit) = proved.kit.as_ref().filter(|kit| !kit.defects.is_empty())
    {
        when(true, Note::Defects { tests: proved.file.clone(), defects: kit.defects.clone() });
    }
    when(scenario.site.timezone == TimeZone::FromLongitude, Note::ClockBySun);
    let varies = matches!(scenario.outage.lasts, Lasts::LogNormal { .. });
    when(varies, Note::CutTo { days: LONGEST_OUTAGE_H / 24.0 });
    let stands = scenario.station.stands;
    when(matches!(stands, Stands::Outdoors | Stands::InTheSun), Note::CellsFollowTheAir);
    when(stands == Stands::Indoors, Note::HeatedRoom { room_c: crate::engine::kit_plan::INDOORS_C });
    when(scenario.station.self_heating.is_some(), Note::HeaterFed);
    let ends = scenario.generator.as_ref().is_some_and(|generator| generator.fuel.is_some());
    when(scenario.generator.is_some() && !ends, Note::GeneratorStarts);
    when(ends, Note::GeneratorFuel);
    let by_hand = scenario.panels.iter().any(|panel| panel.out.is_some() || matches!(panel.aim, Aim::ByHand { .. }));
    when(by_hand, Note::PanelsByHand);
    when(scenario.panels.is_empty(), Note::NoPanels);
    when(true, Note::OrderOfShedding { sun: !scenario.panels.is_empty() });
    when(COARSE_STEP_H <= step_h, Note::CoarseSteps { minutes: 60.0 * step_h });
    notes.extend(coolers(scenario));
    notes.extend(scenario.loads.iter().any(|load| load.medical).then_some(Note::Medical));
    notes.push(Note::PlaceNames);
    notes.push(Note::Cautions);
    notes
}
