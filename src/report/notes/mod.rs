//! What an answer rests on: assumptions and cautions, one fact each.

mod words;

pub use words::hangs_on_words;

use serde::Serialize;

use super::cautions::device_on_dc;
use super::json::Difference;
use super::judged::Judged;
use crate::calendar::days_of_month;
use crate::engine::plan::{LONGEST_OUTAGE_H, Plan, Sky};
use crate::kit::Judgement;
use crate::loads::CoolerPlan;
use crate::math;
use crate::open::assumed::{Assumed, Assumption};
use crate::scenario::model::{
    Aim, Begins, Chemistry, FeedsAc, Gives, Lasts, OutletKind, Pattern, PowerSource, Room, Scenario, Stands, TimeZone,
};
use crate::scenario::record::FigureKind;
use crate::sky::extraterrestrial::declination_deg;
use crate::study::fit::Air;
use crate::units::NORMAL_95;
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
    Kit(Box<Judged>),
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
    /// The station in a room; `warm` where the season's air outside is warm enough that nobody heats.
    HeatedRoom { room_c: f64, warm: bool },
    /// Rooms cool once the heating is out.
    CoolingRoom { falls_to_c: Option<f64>, hours: f64 },
    /// Something taken for granted, and how survival changes where it does not hold.
    Assumed {
        what: Assumption,
        #[serde(skip_serializing_if = "Option::is_none")]
        turned: Option<Difference>,
    },
    /// A part of the charge stays in the battery.
    KeptBack { kept: f64, lead: bool },
    /// A heater for the cells.
    HeaterFed,
    /// The generator starts.
    GeneratorStarts,
    /// A generator starts whenever somebody is there, while its fuel lasts.
    GeneratorFuel,
    /// Loads run on the generator while it runs.
    OnTheGenerator { loads: Vec<String>, through: bool },
    /// A car is driven on as many days as told.
    CarDriven { name: String, days: f64 },
    /// Water runs as told.
    WaterRuns { name: String },
    /// Wind is weaker than most think; `told` whether the owner said how sure its mean is.
    WindIsWeak { name: String, mean_m_s: f64, told: bool },
    /// A second station is carried away to be charged, every so many days, and comes back so full.
    SecondIsCarried { every_days: u32, returns_at: f64 },
    /// Panels put out or turned by hand.
    PanelsByHand,
    /// The sun stays low: its height at noon on the month's day of the least.
    LowSun { noon_deg: f64 },
    /// No panels; what else charges the station, in words.
    NoPanels { fed_by: Vec<&'static str> },
    /// Loads that are usually wired into the house.
    WiredIn { loads: Vec<String> },
    /// What goes off first, and what starts an empty station again.
    OrderOfShedding { starts_again: StartsAgain },
    /// Lead-acid cells give off gas.
    LeadAcid,
    /// A medical device on an outlet of direct current.
    DeviceOnDc,
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

/// What is taken of a car, of water, of wind.
fn of_source(source: &PowerSource) -> Note {
    let name = source.name.clone();
    match source.gives {
        Gives::Car { on_days, .. } => Note::CarDriven { name, days: on_days.0 },
        Gives::Water { .. } => Note::WaterRuns { name },
        Gives::Wind { mean, told, .. } => Note::WindIsWeak { name, mean_m_s: mean.value.0, told },
    }
}

/// What starts a station again that ran empty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum StartsAgain {
    /// There are no panels.
    NoSun,
    /// Sun enough.
    ByItself,
    /// Sun enough, and for its AC outlet, which something hangs on, a hand.
    AcByHand,
}

impl StartsAgain {
    /// Of a scenario's station.
    fn of(scenario: &Scenario) -> StartsAgain {
        let on_ac = || scenario.loads.iter().any(|load| load.outlet == OutletKind::Ac);
        let by_hand = scenario.station.inverter.as_ref().is_some_and(|inverter| !inverter.stays.comes_back);
        match (scenario.panels.is_empty(), by_hand && on_ac()) {
            (true, _) => StartsAgain::NoSun,
            (false, true) => StartsAgain::AcByHand,
            (false, false) => StartsAgain::ByItself,
        }
    }
}

/// Mean air of a month from which on nobody is taken to heat \[°C\] (common practice, no source).
const NO_HEATING_C: f64 = 15.0;

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

/// Fewer outages than this are no matter for the first lines, as a share.
const WORTH_A_LINE: f64 = 0.05;

/// The assumption by which more outages would fail, where it does not hold, than fail now; of several that by which most would.
///
/// * `fails` — share of the outages that fail, 0 to 1.
#[must_use]
pub fn hangs_on(notes: &[Note], fails: f64) -> Option<(Assumption, &Difference)> {
    let weighed = notes.iter().filter_map(|note| match note {
        Note::Assumed { what, turned: Some(turned) } => Some((*what, turned)),
        _ => None,
    });
    let outweighs = |turned: &Difference| turned.told_apart && -turned.difference > fails.max(WORTH_A_LINE);
    let heavy = weighed.filter(|(_, turned)| outweighs(turned));
    heavy.min_by(|a, b| a.1.difference.total_cmp(&b.1.difference))
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

/// A sun that climbs no higher than this over the plain \[°\] is hidden by a wood or a house beside the panels (our choice) …
const LOW_SUN_DEG: f64 = 20.0;
/// … and one that climbs no higher than this by ridges, where there are mountains \[°\]: from this height of a place on \[m\].
const LOW_AMONG_RIDGES_DEG: f64 = 32.0;
const AMONG_RIDGES_M: f64 = 500.0;

/// How high the sun climbs on the day of a month (from 0) on which it climbs least \[°\], where that is low and an array is taken
/// to be in no shade.
fn low_sun_deg(scenario: &Scenario, month: usize) -> Option<f64> {
    let site = &scenario.site;
    let noon_deg = |day: usize| 90.0 - (site.latitude_deg - declination_deg(day as f64 + 1.0)).abs();
    let least_deg = days_of_month(month).map(noon_deg).fold(90.0, f64::min);
    let ridges = site.height.is_some_and(|height| AMONG_RIDGES_M <= height.0);
    let low_deg = if ridges { LOW_AMONG_RIDGES_DEG } else { LOW_SUN_DEG };
    (least_deg < low_deg && scenario.panels.iter().any(|panel| panel.shade.is_empty())).then_some(least_deg)
}

/// What charges a station beside the sun.
fn fed_by(scenario: &Scenario, plan: &Plan) -> Vec<&'static str> {
    let told = [
        (plan.cuts_come_back(), "the wall between cuts"),
        (scenario.generator.is_some(), "the generator"),
        (scenario.second_station.is_some(), "the second station"),
        (!scenario.sources.is_empty(), "its other sources"),
    ];
    told.into_iter().filter(|(there, _)| *there).map(|(_, by)| by).collect()
}

/// Whether a load by its name is usually wired into a house and not plugged in (common practice, no source).
fn wired_in(name: &str) -> bool {
    let name = name.to_lowercase();
    ["furnace", "boiler", "circulation", "circulator", "well pump", "heat pump", "water heater"]
        .iter()
        .any(|word| name.contains(word))
}

impl Note {
    /// Whether it is a matter of fire, frost or volts, which is said before anything else.
    #[must_use]
    pub fn endangers(&self) -> bool {
        matches!(self, Note::Kit(judged) if judged.matter.endangers())
    }
}

/// The notes of a scenario under a sky.
///
/// * `air` — of its place; `verdicts` — the judgements on its kit; `plan` — the scenario's under that sky.
#[must_use]
pub fn notes(scenario: &Scenario, (sky, air): (&Sky, &Air), verdicts: &[Judgement], plan: &Plan) -> Vec<Note> {
    let judged = verdicts.iter().filter(|verdict| verdict.in_the_answer);
    let mut notes: Vec<Note> = judged.map(|judged| Note::Kit(Box::new(Judged::of(judged, scenario)))).collect();
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
    when(matches!(stands, Stands::Outdoors | Stands::InTheSun | Stands::InAClosedBox), Note::CellsFollowTheAir);
    let (Begins::Month(month) | Begins::At { month, .. }) = scenario.outage.begins;
    let mean_c = air.means_c[usize::from(month.clamp(1, 12)) - 1];
    let warm = mean_c >= NO_HEATING_C;
    let cooling = scenario.cooling_room();
    if let Some(room) = &cooling {
        when(true, Note::CoolingRoom { falls_to_c: room.falls_to.map(|c| c.0), hours: room.within.0 });
    }
    when(cooling.is_none() && stands == Stands::Indoors, Note::HeatedRoom { room_c: plan.kit.room_c(), warm });
    let kept = scenario.station.keep_above.0;
    when(kept > 0.0, Note::KeptBack { kept, lead: scenario.station.chemistry == Chemistry::LeadAcid });
    when(scenario.station.self_heating.is_some(), Note::HeaterFed);
    let ends = scenario.generator.as_ref().is_some_and(|generator| generator.fuel.is_some());
    when(scenario.generator.is_some() && !ends, Note::GeneratorStarts);
    when(ends, Note::GeneratorFuel);
    let loads: Vec<String> = plan.on_the_generator().map(|load| load.name.clone()).collect();
    let through = scenario.generator.as_ref().is_some_and(|generator| generator.feeds_ac == FeedsAc::Through);
    when(!loads.is_empty(), Note::OnTheGenerator { loads, through });
    for source in &scenario.sources {
        when(true, of_source(source));
    }
    if let Some(trips) = scenario.second_station.as_ref().and_then(|second| second.trips.as_ref()) {
        when(true, Note::SecondIsCarried { every_days: trips.every_days, returns_at: trips.returns_at.0 });
    }
    let by_hand = scenario.panels.iter().any(|panel| panel.out.is_some() || matches!(panel.aim, Aim::ByHand { .. }));
    when(by_hand, Note::PanelsByHand);
    if let Some(noon_deg) = low_sun_deg(scenario, usize::from(month.clamp(1, 12)) - 1) {
        when(true, Note::LowSun { noon_deg });
    }
    when(scenario.panels.is_empty(), Note::NoPanels { fed_by: fed_by(scenario, plan) });
    let loads: Vec<String> =
        scenario.loads.iter().filter(|load| wired_in(&load.name)).map(|load| load.name.clone()).collect();
    when(!loads.is_empty(), Note::WiredIn { loads });
    when(true, Note::OrderOfShedding { starts_again: StartsAgain::of(scenario) });
    let step_h = plan.season.step_h;
    when(COARSE_STEP_H <= step_h, Note::CoarseSteps { minutes: 60.0 * step_h });
    notes.extend(coolers(scenario));
    notes.extend((scenario.station.chemistry == Chemistry::LeadAcid).then_some(Note::LeadAcid));
    notes.extend(device_on_dc(scenario).then_some(Note::DeviceOnDc));
    notes.extend(closing(scenario));
    notes
}

/// What the notes of every answer about a kit end with.
pub fn closing(scenario: &Scenario) -> impl Iterator<Item = Note> {
    let medical = scenario.medical().then_some(Note::Medical);
    medical.into_iter().chain([Note::PlaceNames, Note::Cautions])
}
