//! A first scenario from eight answers: what `tideover new` asks.

use super::amount::shown;
use super::appliances::{self, Appliance};
use super::model::{Chemistry, Lasts, Scenario};
use super::problem::{Level, Problem};
use super::source::Source;
use super::station::names_cells;
use super::{nearest, read};
use crate::places::{self, Found};
use crate::units::{Hours, Quantity, Uncertain};

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
    /// Keys of the scenario that come of it.
    keys: &'static [&'static str],
}

/// The questions, in the order of asking.
pub const QUESTIONS: [Question; 8] = [
    Question { option: "place", ask: "In or near which town?", like: "Bergen, Norway", otherwise: "", keys: &["site"] },
    Question {
        option: "capacity",
        ask: "What does the station hold, by its label?",
        like: "1024 Wh, or 12.8 V x 100 Ah",
        otherwise: "1000 Wh",
        keys: &["station.rated_capacity"],
    },
    Question {
        option: "ac",
        ask: "What do its AC outlets give for hours, by the label?",
        like: "1000 W",
        otherwise: "1000 W",
        keys: &["station.inverter"],
    },
    Question {
        option: "panels",
        ask: "Which panels?",
        like: "200 W, or 2 x 100 W, or none",
        otherwise: "none",
        keys: &["panel.0.rated", "panel.0.count"],
    },
    Question {
        option: "stand",
        ask: "Where do they stand, and which way do they look?",
        like: "ground, or roof south-west, or balcony south, or flat, or 35° south",
        otherwise: "ground",
        keys: &["panel.0.tilt", "panel.0.facing"],
    },
    Question {
        option: "loads",
        ask: "What must stay on?",
        like: "fridge, wifi, 2 phones, aquarium 30 W",
        otherwise: "fridge, wifi",
        keys: &["load"],
    },
    Question {
        option: "lasts",
        ask: "How long is the outage that you fear?",
        like: "2 days",
        otherwise: "2 days",
        keys: &["outage.lasts"],
    },
    Question {
        option: "month",
        ask: "In which month, and does it begin in a storm?",
        like: "January, storm",
        otherwise: "January",
        keys: &["outage.month"],
    },
];

/// A first scenario.
#[derive(Debug, Clone, PartialEq)]
pub struct First {
    /// Its text, commented.
    pub text: String,
    /// How answers were understood, sentence by sentence.
    pub told: Vec<String>,
}

/// Why answers make no scenario: the place of the question among [`QUESTIONS`], what is wrong, and what to write.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{why}")]
pub struct Wrong {
    /// Which question.
    pub question: usize,
    /// What is wrong, with what to write instead.
    pub why: String,
}

/// The scenario that the answers make, in the order of [`QUESTIONS`]; an empty one stands for what is taken otherwise.
///
/// # Errors
/// The first answer that cannot be used.
pub fn first(answers: &[String; 8], chemistry: Option<&str>) -> Result<First, Wrong> {
    let answer = |question: usize| match answers[question].trim() {
        "" => QUESTIONS[question].otherwise,
        text => text,
    };
    let mut told = Vec::new();
    let (month, storm) = month_and_storm(answer(7));
    let town = town(answer(0)).map_err(|why| Wrong { question: 0, why })?;
    let stands = stands(answer(4), town.latitude_deg).map_err(|why| Wrong { question: 4, why })?;
    let loads = loads(answer(5), &mut told).map_err(|why| Wrong { question: 5, why })?;
    let (count, panel) = panels(answer(3));
    let (capacity, word) = cells(answer(1));
    let chemistry = match word.as_deref().or(chemistry) {
        Some(told) => told.to_string(),
        None if may_be_lead(&capacity) => {
            return Err(Wrong {
                question: 1,
                why: format!(
                    "`{capacity}` may be lead-acid or lithium, which give very different hours: add what it is, like \
                     \"{capacity} AGM\" or \"{capacity} LFP\""
                ),
            });
        }
        None => {
            told.push("The cells are taken to be LFP: AGM, gel or Li-ion beside the capacity says otherwise.".into());
            "LFP".into()
        }
    };
    let mut kit = Parts {
        place: town.full_title(),
        capacity,
        chemistry,
        ac: answer(2).into(),
        panel: panel.map(String::from),
        count,
        stands,
        loads,
        lasts: answer(6).into(),
        month,
        storm,
    };
    let scenario = kit.read(&mut told)?;
    // Written as it was understood, so that nothing has to be told again.
    kit.capacity = sure(scenario.station.rated_capacity);
    if let Some(inverter) = &scenario.station.inverter {
        kit.ac = shown_as::<crate::units::Watts>(inverter.rated.0);
    }
    if let (Some(panel), true) = (scenario.panels.first(), kit.panel.is_some()) {
        kit.panel = Some(sure(panel.rated));
    }
    if let Lasts::Fixed(hours) = scenario.outage.lasts {
        kit.lasts = shown::<Hours>(hours.0);
    }
    kit.chemistry = match scenario.station.chemistry {
        Chemistry::Lfp => "LFP".into(),
        Chemistry::Nmc => "NMC".into(),
        Chemistry::LeadAcid => "lead-acid".into(),
    };
    let text = kit.text();
    kit.read(&mut Vec::new())?;
    Ok(First { text, told })
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
    odd.collect()
}

/// A capacity, and the word for the cells that stands with it.
fn cells(text: &str) -> (String, Option<String>) {
    let bare = |word: &str| word.trim_matches([',', '(', ')']).to_string();
    let (cells, rest): (Vec<&str>, Vec<&str>) = text.split_whitespace().partition(|word| names_cells(&bare(word)));
    let word = cells.first().map(|word| bare(word));
    (rest.join(" "), word)
}

/// Whether a capacity is told by the volts of lead-acid batteries, which lithium ones are sold by too.
fn may_be_lead(capacity: &str) -> bool {
    let lower = capacity.to_lowercase();
    let volts = lower.split_once('v').map(|(volts, _)| volts.trim());
    lower.contains("ah") && matches!(volts, Some("6" | "12" | "24" | "36" | "48"))
}

fn shown_as<Q: Quantity>(base: f64) -> String {
    format!("{}", Q::from_base(base))
}

fn sure<Q: Quantity>(value: Uncertain<Q>) -> String {
    value.to_string()
}

/// A town by its name.
fn town(name: &str) -> Result<places::Place, String> {
    if name.is_empty() {
        return Err("a town is needed, like \"Bergen, Norway\"".into());
    }
    let list = |places: &[places::Place]| {
        places.iter().take(6).map(|place| format!("\"{}\"", place.full_title())).collect::<Vec<_>>().join(", ")
    };
    match places::find(name) {
        Found::One { place, .. } => Ok(place),
        Found::Many(several) => {
            Err(format!("`{name}` is the name of {} places: write one of {}", several.len(), list(&several)))
        }
        Found::None(near) if near.is_empty() => {
            Err(format!("`{name}` is not a town that is known: write a larger one near by"))
        }
        Found::None(near) => Err(format!("`{name}` is not a town that is known: did you mean {}?", list(&near))),
    }
}

/// "January, storm".
fn month_and_storm(text: &str) -> (String, bool) {
    let storm = |word: &&str| word.eq_ignore_ascii_case("storm") || word.eq_ignore_ascii_case("stormy");
    let words: Vec<&str> = text.split([',', ' ']).filter(|word| !word.is_empty()).collect();
    let filler = |word: &str| ["in", "a", "begins", "with", "yes", "no"].contains(&word.to_lowercase().as_str());
    let no_storm = text.to_lowercase().contains("no storm");
    let month = words.iter().copied().find(|word| !storm(word) && !filler(word)).unwrap_or_default();
    (month.to_string(), !no_storm && words.iter().any(storm))
}

/// "2 x 100 W": how many, and the watts of one; nothing for none.
fn panels(text: &str) -> (u32, Option<&str>) {
    if ["none", "no", "0", "-", "no panels"].contains(&text.to_lowercase().as_str()) {
        return (0, None);
    }
    let several = text.split_once(['x', 'X', '×', '*']);
    match several.and_then(|(count, one)| Some((count.trim().parse().ok()?, one.trim()))) {
        Some((count, one)) => (count, Some(one)),
        None => (1, Some(text)),
    }
}

/// How panels stand.
struct Stands {
    tilt: String,
    facing: Option<&'static str>,
    said: &'static str,
}

const WAYS: [&str; 8] = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
const SHORT: [&str; 8] = ["n", "ne", "e", "se", "s", "sw", "w", "nw"];

/// Least and greatest slope for the sun of the whole year \[°\] (common practice, no source).
const SLOPE_DEG: (f64, f64) = (15.0, 65.0);

fn stands(text: &str, latitude_deg: f64) -> Result<Stands, String> {
    let lower = text.to_lowercase().replace(['_', ','], " ");
    let lower = ["north", "south"].iter().fold(lower, |text, way| {
        text.replace(&format!("{way} east"), &format!("{way}-east"))
            .replace(&format!("{way} west"), &format!("{way}-west"))
    });
    let mut facing = None;
    let mut tilt_deg = None;
    let mut said = "on the ground";
    for word in lower.split_whitespace() {
        let plain = word.trim_end_matches("-facing").trim_end_matches('-');
        let joined = plain.replace('-', "");
        let way = WAYS
            .iter()
            .position(|way| way.replace('-', "") == joined)
            .or_else(|| SHORT.iter().position(|s| *s == joined));
        let degrees = word.trim_end_matches(['°', 'º']).trim_end_matches("deg").parse::<f64>().ok();
        match (way, degrees, plain) {
            (Some(way), ..) => facing = Some(WAYS[way]),
            (_, Some(degrees), _) if (0.0..=90.0).contains(&degrees) => tilt_deg = Some(degrees),
            (.., "ground" | "yard" | "garden" | "lawn" | "field") => {}
            (.., "roof") => (said, tilt_deg) = ("on a roof", tilt_deg.or(Some(30.0))),
            (.., "balcony" | "railing" | "wall" | "fence") => {
                (said, tilt_deg) = ("on a balcony", tilt_deg.or(Some(75.0)))
            }
            (.., "flat") => (said, tilt_deg) = ("lying flat", Some(0.0)),
            (.., "on" | "the" | "a" | "in" | "facing" | "looking" | "to" | "at" | "leaning") => {}
            _ => {
                let known = ["ground", "roof", "balcony", "flat"].into_iter().chain(WAYS);
                let near =
                    nearest::nearest(plain, known).map_or(String::new(), |near| format!("; did you mean {near}?"));
                return Err(format!(
                    "`{word}` says nothing of panels: write ground, roof, balcony or flat, a direction like south-west, a tilt \
                     like 35°{near}"
                ));
            }
        }
    }
    let to_the_sun = if latitude_deg < 0.0 { "north" } else { "south" };
    let tilt_deg = tilt_deg.unwrap_or_else(|| latitude_deg.abs().round().clamp(SLOPE_DEG.0, SLOPE_DEG.1));
    let facing = if tilt_deg == 0.0 { None } else { Some(facing.unwrap_or(to_the_sun)) };
    Ok(Stands { tilt: format!("{tilt_deg}°"), facing, said })
}

/// One thing that must stay on, as the lines of its section.
fn loads(text: &str, told: &mut Vec<String>) -> Result<Vec<String>, String> {
    let mut sections = Vec::new();
    for thing in things(text) {
        let (count, name) = counted(&thing);
        let (name, watts) = match name.rsplit_once(' ') {
            // "aquarium 30 W", "aquarium 30W".
            _ if name.to_lowercase().ends_with('w') && name.contains(|c: char| c.is_ascii_digit()) => {
                let at = name.find(|c: char| c.is_ascii_digit()).unwrap_or(0);
                (name[..at].trim(), Some(name[at..].trim()))
            }
            _ => (name, None),
        };
        let found = appliances::by_word(name);
        let many = if count > 1 { format!("count = {count}\n") } else { String::new() };
        let quoted = |text: &str| text.replace(['"', '\\'], "");
        sections.push(match (watts, found.first()) {
            (Some(watts), _) if !name.is_empty() => format!(
                "name = \"{}\"\noutlet = \"ac\"                       # or \"dc\" or \"usb\"\npriority = \"vital\"\nwatts = \"{}\"\n{many}",
                quoted(name),
                quoted(watts)
            ),
            (_, Some(like)) => {
                if !like.name.eq_ignore_ascii_case(name) {
                    told.push(taken_for(name, &found));
                }
                let each = if like.says("kind") == Some("cooler") && count > 1 {
                    return Err(format!("write each of several coolers by itself: `{thing}`"));
                } else {
                    many
                };
                format!("like = \"{}\"\npriority = \"vital\"\n{each}", like.name)
            }
            _ => {
                let names = || appliances::all().iter().map(|appliance| appliance.name.as_str());
                let near = nearest::nearest(name, names());
                let near = near.map_or(String::new(), |near| format!("; did you mean \"{near}\"?"));
                return Err(format!(
                    "`{thing}` is not a thing of the library: write its watts behind it, like \"{} 30 W\"{near}",
                    if name.is_empty() { "aquarium" } else { name }
                ));
            }
        });
    }
    if sections.is_empty() { Err("write at least one thing, like \"fridge, wifi\"".into()) } else { Ok(sections) }
}

/// The things of a list. Names of appliances hold commas themselves: "fridge, 300 litres".
fn things(text: &str) -> Vec<String> {
    let parts: Vec<&str> = text.split([',', ';', '+']).map(str::trim).filter(|part| !part.is_empty()).collect();
    let mut things: Vec<String> = Vec::new();
    let mut at = 0;
    while at < parts.len() {
        let both = parts.get(at + 1).map(|next| format!("{}, {next}", parts[at]));
        match both.filter(|both| appliances::all().iter().any(|one| one.name.eq_ignore_ascii_case(both))) {
            Some(both) => {
                things.push(both);
                at += 2;
            }
            None => {
                things.extend(parts[at].split(" and ").map(|thing| thing.trim().to_string()));
                at += 1;
            }
        }
    }
    things
}

/// "2 phones", "phone x2": how many of what.
fn counted(thing: &str) -> (u32, &str) {
    // "12 V cooler, 30 litres" is one.
    if !appliances::by_word(thing).is_empty() {
        return (1, thing);
    }
    if let Some((count, name)) = thing.split_once(' ')
        && let Ok(count) = count.trim_end_matches(['x', '×']).parse::<u32>()
        && count > 0
        && !name.trim().eq_ignore_ascii_case("w")
    {
        return (count, name.trim().trim_start_matches("x ").trim());
    }
    match thing.rsplit_once(['x', '×']).and_then(|(name, count)| Some((count.trim().parse().ok()?, name.trim()))) {
        Some((count, name)) if count > 0 => (count, name),
        _ => (1, thing),
    }
}

fn taken_for(name: &str, found: &[&Appliance]) -> String {
    let others: Vec<String> = found.iter().skip(1).take(3).map(|other| format!("\"{}\"", other.name)).collect();
    let others = if others.is_empty() { String::new() } else { format!(" (or {})", others.join(", ")) };
    format!("{name}: taken for \"{}\"{others}", found[0].name)
}

/// Answers, put where a file has them.
struct Parts {
    place: String,
    capacity: String,
    chemistry: String,
    ac: String,
    panel: Option<String>,
    count: u32,
    stands: Stands,
    loads: Vec<String>,
    lasts: String,
    month: String,
    storm: bool,
}

impl Parts {
    fn read(&self, told: &mut Vec<String>) -> Result<Scenario, Wrong> {
        let of = |problem: &Problem| {
            let under = |key: &&&str| problem.key.starts_with(**key);
            QUESTIONS.iter().position(|question| question.keys.iter().any(|key| under(&key))).unwrap_or(1)
        };
        match read(&Source::new("the answers", self.text())) {
            Ok((scenario, _, problems)) => {
                let notes = problems.iter().filter(|problem| problem.what.starts_with("is read as"));
                told.extend(notes.map(|problem| format!("{} {}", problem.found, problem.what)));
                Ok(scenario)
            }
            Err(problems) => {
                let error = problems.iter().find(|problem| problem.level == Level::Error).or(problems.first());
                Err(error.map_or_else(
                    || Wrong { question: 0, why: String::new() },
                    |problem| Wrong {
                        question: of(problem),
                        why: [
                            problem.found.as_str(),
                            problem.what.as_str(),
                            "-",
                            problem.help.as_deref().unwrap_or(&problem.allowed),
                        ]
                        .join(" "),
                    },
                ))
            }
        }
    }

    fn text(&self) -> String {
        let Parts { place, capacity, chemistry, ac, panel, count, stands, loads, lasts, month, storm } = self;
        let q = |text: &str| text.replace(['"', '\\'], "").replace(char::is_control, " ");
        let line = |set: String, remark: &str| format!("{set:<38}# {remark}\n");
        let mut out = String::from(
            "# My outage. Every figure below can be changed; what else may be said: docs/scenario.md, or tideover schema.\n\
             title = \"My outage\"\n\n[site]\n",
        );
        out += &format!("place = \"{}\"\n\n[outage]\n", q(place));
        out += &line(format!("month = \"{}\"", q(month)), "every day and hour of it is equally likely");
        out += &format!("lasts = \"{}\"\n", q(lasts));
        out += &line("starts_charged = \"80 %\"".into(), "assumed: few stations stand full when the lights go out");
        out += &line(format!("begins_in_a_storm = {storm}"), "true: the first two days are among the season's darkest");
        out += &format!("\n[station]\nrated_capacity = \"{}\"\n", q(capacity));
        out +=
            &line("# measured_capacity = \"850 Wh ± 3 %\"".into(), "your own discharge test narrows the answer most");
        out += &line(format!("chemistry = \"{}\"", q(chemistry)), "\"LFP\", \"NMC\" or \"lead-acid\": see the label");
        out += &line("stands = \"indoors\"".into(), "assumed: in a room of 20 °C; or \"outdoors\", or \"5 °C\"");
        out += &line("\n[station.inverter]".into(), " the AC outlets");
        out += &format!("rated = \"{}\"\n", q(ac));
        out += &line("# idle = \"10 W\"".into(), "drawn with nothing plugged in: measure yours");
        out += &line("\n[station.dc_outlet]".into(), " the 12 V outlet: leave out what yours does not have");
        out += "limit = \"120 W\"\n\n[station.usb]\nlimit = \"60 W\"\n";
        if let Some(panel) = panel {
            out += "\n[station.solar_input]\n";
            out += &line(
                format!("limit = \"{INPUT_W} W\""),
                "assumed: copy it from the label, and volts_min and volts_max",
            );
            out += &line("\n[[panel]]".into(), &format!(" {}", stands.said));
            if *count > 1 {
                out += &format!("count = {count}\n");
                out += &line("wiring = \"parallel\"".into(), "assumed; or \"series\"");
            }
            out += &line(format!("rated = \"{}\"", q(panel)), "of one");
            out += &line(format!("tilt = \"{}\"", stands.tilt), "0° lies flat, 90° stands upright");
            out += &stands.facing.map_or(String::new(), |facing| format!("facing = \"{facing}\"\n"));
            out += "# shade = [{ hours = \"14:00-24:00\", loses = \"90 %\" }]   # assumed: none\n\
                    # out = { hours = \"08:00-17:00\" }     # assumed: out all day, every day\n";
        }
        for load in loads {
            out.push_str(&format!("\n[[load]]\n{load}"));
        }
        out.push_str("\n# priority may be vital, useful or spare: spare things are switched off first.\n");
        out
    }
}

/// What a solar input takes where nobody said \[W\] (common practice, no source: small stations take 100 to 400 W).
const INPUT_W: u32 = 200;
