//! A first scenario from a few answers: what `tideover new` asks.

mod charger;
mod figures;
mod panels;
mod plug;
mod questions;
mod said;
mod share;
mod site;
mod spell;
mod stands;
mod station;
mod text;
mod thing;
mod things;
mod unusual;
mod when;

use super::amount::shown;
use super::model::{Chemistry, Lasts, OutletKind, Scenario};
use super::problem::{Level, Problem};
use super::read;
use super::source::Source;
use crate::units::{Hours, two_readings};
pub use questions::{Answers, QUESTIONS, Question, matters, otherwise, says_nothing};
use questions::{SLOW_CHARGER, answer};
use site::site;
use text::{INPUT_W, Parts};
use things::Wanted;
pub use unusual::unusual;

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
/// Every answer that cannot be used, in the order of the questions.
pub fn first(answers: &Answers, chemistry: Option<&str>) -> Result<First, Vec<Wrong>> {
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
    let mut wrongs: Vec<Wrong> = Vec::new();
    let Some(read) = read_all(answers, chemistry, &mut said, &mut wrongs) else { return Err(wrongs) };
    let ReadAnswers { site, cells, ac, mut panels, stands, loads, spell, slow, charger, month, storm } = read;
    let station::Cells { capacity, chemistry, block, health, new, charged } = cells;
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
        idle_w: None,
        measured_wh: 0.0,
        held: panels.as_ref().filter(|panels| panels.pwm).map(|_| station::held(&capacity, 0.0)),
        capacity: capacity.clone(),
        health,
        new,
        charged,
        label: capacity.clone(),
        chemistry,
        ac,
        panels: panels.clone(),
        panels_w: f64::from(INPUT_W),
        stands,
        loads,
    };
    let scenario = match read_as(&kit, &mut said) {
        Ok(scenario) if wrongs.is_empty() => scenario,
        read => {
            wrongs.extend(read.err().into_iter().flatten());
            return Err(in_order(wrongs));
        }
    };
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
    let left = scenario.station.state_of_health.value.0;
    kit.measured_wh = (scenario.station.rated_capacity.value.0 * left * 0.085).round() * 10.0;
    if scenario.station.rated_capacity.value.0 < LEAST_WH {
        return Err(vec![Wrong::new(
            1,
            format!(
                "{} is less than a phone holds, and no station: write what its label says, like \"1024 Wh\"",
                scenario.station.rated_capacity
            ),
        )]);
    }
    // A fourth of what is usual: most lithium stations take a fifth and more, lead-acid cells a tenth (common practice, no source).
    // What is guessed weighs more than all that is drawn, and must not make the answer rosy.
    let (name, wall) = match scenario.station.chemistry {
        Chemistry::Lfp => ("LFP", 0.05),
        Chemistry::Nmc => ("NMC", 0.05),
        Chemistry::LeadAcid => ("lead-acid", 0.025),
    };
    kit.chemistry = name.into();
    kit.idle_w = scenario.station.inverter.as_ref().map(|inverter| inverter.idle.value.0);
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

/// The answers, each by itself.
struct ReadAnswers {
    site: String,
    cells: station::Cells,
    ac: Option<station::Ac>,
    panels: Option<panels::Panels>,
    stands: stands::Stands,
    loads: Vec<Wanted>,
    spell: spell::Spell,
    /// Whether a charger is guessed.
    slow: bool,
    charger: Option<String>,
    month: String,
    storm: bool,
}

/// Reads each answer; for one that cannot be used what is taken otherwise, so that the others are looked at, too.
fn read_all(
    answers: &Answers,
    chemistry: Option<&str>,
    said: &mut Answered,
    wrongs: &mut Vec<Wrong>,
) -> Option<ReadAnswers> {
    let answer = |question: usize| answer(question, answers);
    let (site, latitude_deg) = match site(&answer(0), said) {
        Ok(site) => site,
        Err(wrong) => {
            wrongs.push(wrong);
            site(QUESTIONS[0].like, said).ok()?
        }
    };
    let cells = or_else(1, answers, wrongs, |text| station::cells(text, chemistry, said))?;
    let ac = or_else(2, answers, wrongs, |text| station::ac(text, cells.block, said))?;
    let panels = or_else(3, answers, wrongs, |text| panels::panels(text, said))?;
    let stands = or_else(4, answers, wrongs, |text| stands::stands(text, latitude_deg))?;
    let loads = or_else(5, answers, wrongs, |text| things::loads(text, ac.is_some(), said))?;
    let spell = or_else(6, answers, wrongs, |text| spell::spell(text, said))?;
    let cuts = !spell.cuts.is_empty();
    let slow = cuts && answer(7) == SLOW_CHARGER;
    let charger = match () {
        () if slow || says_nothing(&answers[7]) => None,
        () => or_else(7, answers, wrongs, |text| {
            if text == SLOW_CHARGER { Ok(None) } else { charger::charger(text, cuts, said) }
        })?,
    };
    let (month, storm) = or_else(8, answers, wrongs, |text| spell::month_and_storm(text, latitude_deg))?;
    Some(ReadAnswers { site, cells, ac, panels, stands, loads, spell, slow, charger, month, storm })
}

/// An answer as it is read, or what is taken otherwise where it cannot be.
fn or_else<T>(
    question: usize,
    answers: &Answers,
    wrongs: &mut Vec<Wrong>,
    mut read: impl FnMut(&str) -> Result<T, String>,
) -> Option<T> {
    match read(&answer(question, answers)) {
        Ok(told) => Some(told),
        Err(why) => {
            wrongs.push(Wrong::new(question, why));
            read(&otherwise(question, answers)).ok()
        }
    }
}

/// Of each question the first that is wrong with it.
fn in_order(mut wrongs: Vec<Wrong>) -> Vec<Wrong> {
    wrongs.sort_by_key(|wrong| wrong.question);
    wrongs.dedup_by_key(|wrong| wrong.question);
    wrongs
}

/// Less than a phone's battery holds [Wh] (common practice, no source).
const LEAST_WH: f64 = 10.0;

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
fn read_as(kit: &Parts, said: &mut Answered) -> Result<Scenario, Vec<Wrong>> {
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
            // Which of several things is meant, and how it was read.
            let thing = |problem: &Problem| {
                let at: usize = problem.key.strip_prefix("load.")?.split('.').next()?.parse().ok()?;
                kit.loads.get(at).map(Wanted::read_as)
            };
            let wrong = |problem: &Problem| {
                // What has no place here is named by its key.
                let key = problem.key.rsplit('.').next().unwrap_or_default();
                let found = if problem.found.is_empty() { format!("`{key}`") } else { problem.found.clone() };
                let why = [
                    thing(problem).unwrap_or_default().as_str(),
                    found.as_str(),
                    problem.what.as_str(),
                    "-",
                    problem.help.as_deref().unwrap_or(&problem.allowed),
                ]
                .join(" ")
                .trim()
                .to_string();
                Wrong::new(of(problem), why)
            };
            Err(in_order(problems.iter().filter(|problem| problem.level == Level::Error).map(wrong).collect()))
        }
    }
}
