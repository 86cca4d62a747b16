//! A first scenario from a few answers: what `tideover new` asks.

mod panels;
mod said;
mod spell;
mod stands;
mod station;
mod text;
mod things;

use super::amount::shown;
use super::model::{Chemistry, Lasts, OutletKind, Scenario};
use super::problem::{Level, Problem};
use super::source::Source;
use super::whereabouts::site_lines;
use super::{as_written, read};
use crate::places::{self, Found, zones};
use crate::units::{Hours, two_readings};
use text::Parts;
use things::Wanted;

/// A question with an example of its answer, and what is taken for an answer left out.
#[derive(Debug, Clone, Copy)]
pub struct Question {
    /// The option of the command line that answers it.
    pub option: &'static str,
    /// The question.
    pub ask: &'static str,
    /// What to answer, for example.
    pub like: &'static str,
    /// What holds where nothing is answered; empty where there must be an answer.
    pub otherwise: &'static str,
    /// What is said of that where it is taken, with `{}` for it; empty where it is said elsewhere.
    assumes: &'static str,
    /// Keys of the scenario that come of it.
    keys: &'static [&'static str],
}

/// The questions, in the order of asking.
pub const QUESTIONS: [Question; 9] = [
    Question {
        option: "place",
        ask: "In or near which town?",
        like: "Bergen, Norway",
        otherwise: "",
        assumes: "",
        keys: &["site"],
    },
    Question {
        option: "capacity",
        ask: "What does the station hold, by its label?",
        like: "1024 Wh, or 12.8 V x 100 Ah, or 12 V 100 Ah AGM",
        otherwise: "1000 Wh",
        assumes: "It holds {}, which is a guess: the label on the station says what yours holds (station.rated_capacity).",
        keys: &["station.rated_capacity"],
    },
    Question {
        option: "ac",
        ask: "What do its AC outlets give for hours, by the label?",
        like: "1000 W, or 1000 W (2000 W surge), or 600 W separate inverter, or none",
        otherwise: "1000 W",
        assumes: "AC outlets: {}, which is a guess; copy the watts from the label (station.inverter.rated).",
        keys: &["station.inverter"],
    },
    Question {
        option: "panels",
        ask: "Which panels?",
        like: "200 W, or 2 x 100 W, or 150 W with PWM controller, or none",
        otherwise: "none",
        assumes: "Panels: {} (panel).",
        keys: &["panel.0.rated", "panel.0.count", "panel.0.max_power_voltage", "station.solar_input"],
    },
    Question {
        option: "stand",
        ask: "Where do they stand, and which way do they look?",
        like: "ground, or roof south-west, or balcony south, or flat, or 35° south",
        otherwise: "ground",
        assumes: "",
        keys: &["panel.0.tilt", "panel.0.facing"],
    },
    Question {
        option: "loads",
        ask: "What must stay on?",
        like: "fridge, wifi, 2 phones, aquarium 30 W, desk lamp 12 W 19:00-23:00",
        otherwise: "fridge, wifi",
        assumes: "What must stay on: {} (load).",
        keys: &["load"],
    },
    Question {
        option: "lasts",
        ask: "How long is the outage that you fear, or at which hours is the power cut every day?",
        like: "2 days, or 18:00-22:00, or 7pm-10pm for 4 weeks",
        otherwise: "2 days",
        assumes: "The outage lasts {} (outage.lasts).",
        keys: &["outage.lasts", "outage.every_day"],
    },
    Question {
        option: "charger",
        ask: "What charges it between the cuts: nothing but the panels, or a charger of how many watts?",
        like: "none, or 100 W",
        otherwise: SLOW_CHARGER,
        assumes: "",
        keys: &["station.wall_charger"],
    },
    Question {
        option: "month",
        ask: "In which month, and does it begin in a storm?",
        like: "January, storm, or May, no storm",
        otherwise: "January",
        assumes: "It is in {}, and does not begin in a storm (outage.month, outage.begins_in_a_storm).",
        keys: &["outage.month"],
    },
];

/// The answers to [`QUESTIONS`], each in its place; an empty one stands for what is taken otherwise.
pub type Answers = [String; QUESTIONS.len()];

/// Things that a station without AC outlets can keep on.
const WITHOUT_AC: &str = "12 V cooler, phone";

/// What a charger is taken for that nobody knows the watts of.
const SLOW_CHARGER: &str = "a slow charger for its size";

/// What people write who do not know (small letters, no apostrophes).
const NOT_KNOWN: [&str; 14] = [
    "i dont know",
    "i do not know",
    "dont know",
    "do not know",
    "dunno",
    "idk",
    "unknown",
    "not known",
    "not sure",
    "im not sure",
    "no idea",
    "i have no idea",
    "cant say",
    "whatever",
];

/// Whether an answer says nothing, or that it is not known: then [`otherwise`] holds.
#[must_use]
pub fn says_nothing(answer: &str) -> bool {
    let plain = answer.trim().trim_end_matches(['.', '!', '?']).to_lowercase().replace(['\'', '\u{2019}'], "");
    plain.is_empty() || NOT_KNOWN.contains(&plain.as_str())
}

/// An answer, or what is taken for it.
fn answer(question: usize, answers: &Answers) -> String {
    if says_nothing(&answers[question]) { otherwise(question, answers) } else { answers[question].trim().to_string() }
}

/// What is taken for a question without an answer; empty where there must be one.
#[must_use]
pub fn otherwise(question: usize, answers: &Answers) -> String {
    let question = &QUESTIONS[question];
    match question.option {
        "ac" if station::is_block(&answer(1, answers)) => "none".into(),
        "loads" if station::no_ac(&answer(2, answers)) => WITHOUT_AC.into(),
        // The month of the least sun, and of the most cold.
        "month" if site(&answers[0], &mut Answered::default()).is_ok_and(|(_, latitude_deg)| latitude_deg < 0.0) => {
            "July".into()
        }
        _ => question.otherwise.into(),
    }
}

/// Whether a question means anything after the others' answers.
#[must_use]
pub fn matters(question: usize, answers: &Answers) -> bool {
    match QUESTIONS[question].option {
        "stand" => !panels::is_none(&answer(3, answers).to_lowercase()),
        "charger" => {
            spell::spell(&answer(6, answers), &mut Answered::default()).is_ok_and(|spell| !spell.cuts.is_empty())
        }
        _ => true,
    }
}

/// A first scenario.
#[derive(Debug, Clone, PartialEq)]
pub struct First {
    /// Its text, commented.
    pub text: String,
    /// Latitude of its place \[°\], north positive.
    pub latitude_deg: f64,
    /// Longitude of its place \[°\], east positive.
    pub longitude_deg: f64,
    /// How answers were understood, sentence by sentence.
    pub told: Vec<String>,
    /// What nobody said, with the keys that change it, sentence by sentence.
    pub assumed: Vec<String>,
}

/// What is said of the answers.
#[derive(Default)]
struct Answered {
    told: Vec<String>,
    assumed: Vec<String>,
}

/// Why answers make no scenario: the place of the question among [`QUESTIONS`], what is wrong, and what to write.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{why}")]
pub struct Wrong {
    /// Which question.
    pub question: usize,
    /// What is wrong, with what to write instead.
    pub why: String,
    /// Towns that it offers to write instead, the likeliest first; empty where it offers none.
    pub choices: Vec<String>,
}

impl Wrong {
    /// Without anything to choose from.
    #[must_use]
    pub fn new(question: usize, why: String) -> Wrong {
        Wrong { question, why, choices: Vec::new() }
    }
}

/// The scenario that the answers make, in the order of [`QUESTIONS`]; an empty one stands for what is taken otherwise.
///
/// # Errors
/// The first answer that cannot be used.
pub fn first(answers: &Answers, chemistry: Option<&str>) -> Result<First, Wrong> {
    let answer = |question: usize| answer(question, answers);
    let mut said = Answered::default();
    for (at, question) in QUESTIONS.iter().enumerate() {
        let taken = otherwise(at, answers);
        if !says_nothing(&answers[at]) || question.assumes.is_empty() {
            continue;
        }
        said.assumed.push(if question.option == "ac" && station::no_ac(&taken) {
            "There is no AC: a battery by itself needs an inverter for that, which --ac \"600 W inverter\" or [station.inverter] says."
                .into()
        } else {
            question.assumes.replace("{}", &taken)
        });
    }
    let of = |question: usize| move |why: String| Wrong::new(question, why);
    let (site, latitude_deg) = site(&answer(0), &mut said)?;
    let station::Cells { capacity, chemistry, block } =
        station::cells(&answer(1), chemistry, &mut said).map_err(of(1))?;
    let ac = station::ac(&answer(2), block, &mut said).map_err(of(2))?;
    let mut panels = panels::panels(&answer(3), &mut said).map_err(of(3))?;
    let stands = stands::stands(&answer(4), latitude_deg).map_err(of(4))?;
    let loads = things::loads(&answer(5), ac.is_some(), &mut said).map_err(of(5))?;
    let spell = spell::spell(&answer(6), &mut said).map_err(of(6))?;
    let slow = !spell.cuts.is_empty() && answer(7) == SLOW_CHARGER;
    let charger = match () {
        _ if spell.cuts.is_empty() || slow => None,
        _ => station::charger(&answer(7), &mut said).map_err(of(7))?,
    };
    let (month, storm) = spell::month_and_storm(&answer(8), latitude_deg).map_err(of(8))?;
    let mut kit = Parts {
        site,
        spell,
        month,
        storm,
        charger,
        charger_told: !says_nothing(&answers[7]),
        block,
        dc: true,
        usb: true,
        charger_w: 100.0,
        measured_wh: 0.0,
        held: panels.as_ref().filter(|panels| panels.pwm).map(|_| station::held(&capacity, 0.0)),
        capacity: capacity.clone(),
        label: capacity.clone(),
        chemistry,
        ac,
        panels: panels.clone(),
        stands,
        loads,
    };
    let scenario = read_as(&kit, &mut said)?;
    // Written as it was understood, so that nothing has to be told again.
    kit.capacity = scenario.station.rated_capacity.to_string();
    if let (Some(ac), Some(inverter)) = (&mut kit.ac, &scenario.station.inverter) {
        ac.rated = inverter.rated.to_string();
    }
    if let (Some(panels), Some(panel)) = (&mut panels, scenario.panels.first()) {
        panels.one = panel.rated.to_string();
        kit.held = kit.held.map(|_| station::held(&capacity, panel.rated.value.0));
        if let (Some(input), Some(told)) = (&mut panels.input, scenario.station.solar_inputs.first()) {
            *input = told.limit.to_string();
        }
        kit.panels = Some(panels.clone());
    }
    if let (Some(charger), Some(told)) = (&mut kit.charger, &scenario.station.wall_charger) {
        *charger = told.limit.to_string();
    }
    if let Lasts::Fixed(hours) = scenario.outage.lasts {
        kit.spell.lasts = shown::<Hours>(hours.0);
    }
    kit.measured_wh = (scenario.station.rated_capacity.value.0 * 0.085).round() * 10.0;
    // Slow ones of their kind: most lithium stations take a fifth and more, lead-acid cells a tenth (common practice, no source).
    let (name, wall) = match scenario.station.chemistry {
        Chemistry::Lfp => ("LFP", 0.1),
        Chemistry::Nmc => ("NMC", 0.1),
        Chemistry::LeadAcid => ("lead-acid", 0.05),
    };
    kit.chemistry = name.into();
    kit.charger_w = ((wall * scenario.station.rated_capacity.value.0 / 10.0).round() * 10.0).max(10.0);
    if slow {
        kit.charger = Some(format!("{} W", kit.charger_w));
    }
    if block {
        let on = |kind: OutletKind| scenario.loads.iter().any(|load| load.outlet == kind);
        (kit.dc, kit.usb) = (on(OutletKind::Dc), on(OutletKind::Usb));
    }
    let answers_assumed = std::mem::take(&mut said.assumed);
    said::taken_for_granted(&kit, answers_assumed, &mut said.assumed);
    read_as(&kit, &mut Answered::default())?;
    let (latitude_deg, longitude_deg) = (scenario.site.latitude_deg, scenario.site.longitude_deg);
    Ok(First { text: kit.text(), latitude_deg, longitude_deg, told: said.told, assumed: said.assumed })
}

/// What is unusual about the figures, each with the question that it comes from (common practice, no source).
#[must_use]
pub fn unusual(first: &First) -> Vec<(usize, String)> {
    let Ok((scenario, ..)) = read(&Source::new("first", first.text.clone())) else { return Vec::new() };
    let panel = scenario.panels.first().map(|panel| panel.rated.value.0);
    let lasts_h = if let Lasts::Fixed(hours) = scenario.outage.lasts { Some(hours.0) } else { None };
    let figures = [
        (
            1,
            Some(scenario.station.rated_capacity.value.0),
            (100.0, 20_000.0),
            "Wh",
            "stations of this kind hold 100 Wh to 20 kWh",
        ),
        (
            2,
            scenario.station.inverter.as_ref().map(|inverter| inverter.rated.0),
            (50.0, 10_000.0),
            "W",
            "AC outlets give 50 W to 10 kW",
        ),
        (3, panel, (10.0, 700.0), "W", "one panel gives 10 W to 700 W; several are written \"4 x 200 W\""),
        (6, lasts_h, (1.0, 720.0), "h", "most outages last an hour to a month"),
    ];
    let odd = figures.into_iter().filter_map(|(question, figure, (least, most), unit, usual)| {
        let figure = figure.filter(|figure| !(least..=most).contains(figure))?;
        Some((question, format!("{figure} {unit} is unusual: {usual}")))
    });
    odd.chain(mirrored(first).map(|told| (0, told))).collect()
}

/// No town is as near as this to a position that its sign may be wrong for \[km\] (our choice).
const NEAR_A_TOWN_KM: f64 = 30.0;

/// A position far from every town that lies near one where east is taken for west, or south for north.
fn mirrored(first: &First) -> Option<String> {
    let (latitude, longitude) = (first.latitude_deg, first.longitude_deg);
    let (_, away_km) = places::nearest(latitude, longitude)?;
    if away_km <= NEAR_A_TOWN_KM {
        return None;
    }
    let others = [(latitude, -longitude, "longitude"), (-latitude, longitude, "latitude")];
    let (there, which) = others.into_iter().find_map(|(latitude, longitude, which)| {
        let (place, km) = places::nearest(latitude, longitude)?;
        (km <= NEAR_A_TOWN_KM).then(|| (format!("{latitude}, {longitude} lies near {}", place.full_title()), which))
    })?;
    Some(format!(
        "{latitude}, {longitude} is {away_km:.0} km from the nearest town; with the {which} the other way, {there}: look at its sign"
    ))
}

/// A number alone gets the unit that the question asks for, where it can mean nothing else; other texts stay as they are.
///
/// * `usual` — least and greatest number that is taken so.
fn bare(text: &str, unit: &str, usual: (f64, f64), said: &mut Answered) -> Result<String, String> {
    let text = text.trim();
    if let Some([thousands, decimals]) = two_readings(text) {
        return Err(format!("`{text}` can be read in two ways: write \"{thousands} {unit}\" or \"{decimals} {unit}\""));
    }
    match text.parse::<f64>() {
        Ok(number) if (usual.0..=usual.1).contains(&number) => {
            said.told.push(format!("{text}: read as {text} {unit}"));
            Ok(format!("{text} {unit}"))
        }
        Ok(_) => Err(format!("`{text}` needs a unit: write \"{text} {unit}\" if that is meant")),
        Err(_) => Ok(text.into()),
    }
}

/// Most towns that are offered to choose from.
const MOST_OFFERED: usize = 6;

/// The lines of `[site]` for a town or a position, with the latitude \[°\].
fn site(text: &str, said: &mut Answered) -> Result<(String, f64), Wrong> {
    let wrong = |why: String| Wrong::new(0, why);
    if text.is_empty() {
        return Err(wrong("a town is needed, like \"Bergen, Norway\"".into()));
    }
    match as_written::position(text) {
        Some(Ok((latitude_deg, longitude_deg))) => {
            let near = places::nearest(latitude_deg, longitude_deg)
                .ok_or_else(|| wrong("that is no place on earth".into()))?;
            return Ok((site_lines(Some((latitude_deg, longitude_deg, near.1)), &near.0), latitude_deg));
        }
        Some(Err(why)) => return Err(wrong(format!("`{text}` {why}"))),
        None => {}
    }
    let offer = |places: &[places::Place], why: &dyn Fn(String) -> String| {
        let mut choices: Vec<String> = Vec::new();
        for title in places.iter().map(places::Place::full_title) {
            // Of several that are written alike the largest stands for all.
            if !choices.contains(&title) && choices.len() < MOST_OFFERED {
                choices.push(title);
            }
        }
        let quoted = choices.iter().map(|title| format!("\"{title}\"")).collect::<Vec<_>>().join(", ");
        Wrong { question: 0, why: why(quoted), choices }
    };
    match places::find(text) {
        Found::One { place, .. } => {
            if !places::is_called(&place, text) {
                said.told.push(format!("{text}: taken for {}", place.full_title()));
            }
            Ok((site_lines(None, &place), place.latitude_deg))
        }
        Found::Wider { is, town } => {
            Err(offer(&[town], &|town| format!("`{text}` is {is}: name a town in it, like {town}")))
        }
        Found::Many(several) => {
            let many = several.len();
            Err(offer(&several, &|towns| format!("`{text}` is the name of {many} places: write one of {towns}")))
        }
        Found::None(_) if zones::no_place(text).is_some() => {
            Err(wrong(format!("`{text}` {}", zones::no_place(text).unwrap_or_default())))
        }
        Found::None(near) if near.is_empty() => {
            let why = "is not a town that is known: write a larger one near by, or latitude and longitude";
            Err(wrong(format!("`{text}` {why}")))
        }
        Found::None(near) => {
            Err(offer(&near, &|towns| format!("`{text}` is not a town that is known: did you mean {towns}?")))
        }
    }
}

/// The scenario of the answers, with what the reader says of them.
fn read_as(kit: &Parts, said: &mut Answered) -> Result<Scenario, Wrong> {
    let of = |problem: &Problem| {
        let under = |key: &&&str| problem.key.starts_with(**key);
        QUESTIONS.iter().position(|question| question.keys.iter().any(|key| under(&key))).unwrap_or(1)
    };
    match read(&Source::new("the answers", kit.text())) {
        Ok((scenario, _, problems)) => {
            let notes = problems.iter().filter(|problem| problem.what.starts_with("is read as"));
            said.told.extend(notes.map(|problem| format!("{} {}", problem.found, problem.what)));
            Ok(scenario)
        }
        Err(problems) => {
            let error = problems.iter().find(|problem| problem.level == Level::Error).or(problems.first());
            // Which of several things is meant, and how it was read.
            let thing = |problem: &Problem| {
                let at: usize = problem.key.strip_prefix("load.")?.split('.').next()?.parse().ok()?;
                kit.loads.get(at).map(Wanted::read_as)
            };
            Err(error.map_or_else(
                || Wrong::new(0, String::new()),
                |problem| {
                    let why = [
                        thing(problem).unwrap_or_default().as_str(),
                        problem.found.as_str(),
                        problem.what.as_str(),
                        "-",
                        problem.help.as_deref().unwrap_or(&problem.allowed),
                    ]
                    .join(" ")
                    .trim()
                    .to_string();
                    Wrong::new(of(problem), why)
                },
            ))
        }
    }
}
