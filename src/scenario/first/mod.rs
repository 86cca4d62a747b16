//! A first scenario from a few answers: what `tideover new` asks.

mod amps;
mod charger;
mod panels;
mod questions;
mod said;
mod site;
mod spell;
mod stands;
mod station;
mod text;
mod thing;
mod things;

use super::amount::shown;
use super::model::{Chemistry, Lasts, OutletKind, Scenario};
use super::problem::{Level, Problem};
use super::read;
use super::source::Source;
use crate::units::{Hours, two_readings};
pub use questions::{Answers, QUESTIONS, Question, matters, otherwise, says_nothing};
use questions::{SLOW_CHARGER, answer};
use site::{mirrored, site};
use text::{INPUT_W, Parts};
use things::Wanted;

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
    /// The same with half of the charger, where that is a guess.
    pub half: Option<HalfCharger>,
}

/// A scenario with half of the charger that is guessed.
#[derive(Debug, Clone, PartialEq)]
pub struct HalfCharger {
    /// What it draws from the wall \[W\].
    pub charger_w: f64,
    /// Text of the scenario.
    pub text: String,
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
        if !says_nothing(&answers[at]) || question.assumes.is_empty() {
            continue;
        }
        let taken = otherwise(at, answers);
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
        _ if slow || says_nothing(&answers[7]) => None,
        _ => charger::charger(&answer(7), !spell.cuts.is_empty(), &mut said).map_err(of(7))?,
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
        panels_w: f64::from(INPUT_W),
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
        kit.panels_w = panel.rated.value.0 * f64::from(panels.count);
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
    if scenario.station.rated_capacity.value.0 < LEAST_WH {
        return Err(Wrong::new(
            1,
            format!(
                "{} is less than a phone holds, and no station: write what its label says, like \"1024 Wh\"",
                scenario.station.rated_capacity
            ),
        ));
    }
    // A fourth of what is usual: most lithium stations take a fifth and more, lead-acid cells a tenth (common practice, no source).
    // What is guessed weighs more than all that is drawn, and must not make the answer rosy.
    let (name, wall) = match scenario.station.chemistry {
        Chemistry::Lfp => ("LFP", 0.05),
        Chemistry::Nmc => ("NMC", 0.05),
        Chemistry::LeadAcid => ("lead-acid", 0.025),
    };
    kit.chemistry = name.into();
    kit.charger_w = ((wall * scenario.station.rated_capacity.value.0 / 5.0).round() * 5.0).max(5.0);
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
    let text = kit.text();
    let half = slow.then(|| {
        let charger_w = kit.charger_w / 2.0;
        kit.charger = Some(format!("{charger_w} W"));
        HalfCharger { charger_w, text: kit.text() }
    });
    Ok(First { text, latitude_deg, longitude_deg, told: said.told, assumed: said.assumed, half })
}

/// Less than a phone's battery holds [Wh] (common practice, no source).
const LEAST_WH: f64 = 10.0;

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
