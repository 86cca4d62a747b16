//! The front end of a page in a browser: a question as JSON in, the answer's JSON and its sections as HTML out. It has no files,
//! no threads and no clock: the page gives files by name and the instant.
//!
//! The messages are told at the top of `page/engine.js`.

#[cfg(target_arch = "wasm32")]
mod border;
mod question;

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Serialize;

use crate::ask::library;
use crate::ask::{self, Answer, Beside, NowOptions, Trouble};
use crate::open::proof::{ProvedRecord, proved};
use crate::open::{Files, OpenError, Opened, open};
use crate::report::document::Document;
use crate::report::judged;
use crate::report::prove::weakness;
use crate::scenario::{Level, Paint, Problem, Source, render};
use crate::trials::{Progress, Settings};

pub use question::Question;

/// The files as seen from the folder of one of them, which names others from where it stands itself.
struct Shelf {
    files: Arc<BTreeMap<String, Vec<u8>>>,
    /// Empty, or with a slash at its end.
    folder: String,
}

impl Shelf {
    fn of(files: &Arc<BTreeMap<String, Vec<u8>>>, name: &str) -> Arc<Shelf> {
        let folder = name.rfind('/').map_or("", |slash| &name[..=slash]).to_string();
        Arc::new(Shelf { files: files.clone(), folder })
    }
}

impl Files for Shelf {
    fn bytes(&self, name: &str) -> Result<Vec<u8>, String> {
        self.files.bytes(&self.shown(name))
    }
    fn has(&self, name: &str) -> bool {
        self.files.has(&self.shown(name))
    }
    fn shown(&self, name: &str) -> String {
        format!("{}{name}", self.folder)
    }
}

/// A section of a page.
#[derive(Debug, Serialize)]
struct Section {
    heading: String,
    html: String,
}

/// Where something stands in a text, from 1; columns count characters.
#[derive(Debug, Serialize)]
struct Place {
    line: usize,
    column: usize,
    end_line: usize,
    end_column: usize,
}

/// Something wrong, or worth a word, for the page to show beside its line.
#[derive(Debug, Serialize)]
struct Said {
    /// "error", "warning" or "note".
    level: &'static str,
    /// Whose text it is about; empty where it is an option.
    file: String,
    key: String,
    title: String,
    label: String,
    hint: Option<String>,
    place: Option<Place>,
    /// All of it as text, drawn beside the line.
    drawn: String,
}

/// What goes back to the page.
#[derive(Debug, Default, Serialize)]
struct Reply {
    /// Whether there is an answer.
    answered: bool,
    /// Whether it was stopped before it was whole.
    partial: bool,
    /// Whether the kit must not be put together like this.
    stops: bool,
    title: String,
    /// The answer's JSON: byte for byte what the command line prints.
    json: Option<String>,
    sections: Vec<Section>,
    /// The answer as plain text.
    text: String,
    /// The answer as a page of its own, to keep or to print.
    page: String,
    problems: Vec<Said>,
}

/// The scenario that was opened last: the next one shares its weather and its panels' view of the sun, where place and season
/// are the same. To be forgotten where a file that a scenario may name changes.
#[derive(Default)]
pub struct Last(Option<Opened>);

/// Answers a question.
///
/// * `question` — JSON, see [`Question`]; `files` — whatever it may name.
///
/// Always JSON: what is wrong with the question or the files stands among its `problems`.
#[must_use]
pub fn answer(question: &str, files: &Arc<BTreeMap<String, Vec<u8>>>, progress: &dyn Progress) -> String {
    answer_after(&mut Last::default(), question, files, progress)
}

/// The same, sooner, after another one with the same files: the answer has the same bytes.
#[must_use]
pub fn answer_after(
    last: &mut Last,
    question: &str,
    files: &Arc<BTreeMap<String, Vec<u8>>>,
    progress: &dyn Progress,
) -> String {
    let reply = serde_json::from_str::<Question>(question)
        .map_err(|error| Trouble::Question(format!("the question cannot be read: {error}")))
        .and_then(|question| reply(last, &question, files, progress))
        .unwrap_or_else(|trouble| Reply { problems: told(trouble), ..Reply::default() });
    serde_json::to_string(&reply).unwrap_or_default()
}

fn reply(
    last: &mut Last,
    question: &Question,
    files: &Arc<BTreeMap<String, Vec<u8>>>,
    progress: &dyn Progress,
) -> Result<Reply, Trouble> {
    if let Some(json) = offered(question, files)? {
        return Ok(Reply { answered: true, json: Some(json), ..Reply::default() });
    }
    let settings = Settings { seed: question.seed, trials: question.trials()?, precision: question.precision()? };
    if question.ask == "prove" {
        return proof(question, files);
    }
    let file = question.file()?;
    let source = Source::new(file, files.text(file).map_err(Trouble::Question)?);
    // Another scenario may lie in another folder, where the same name is another file.
    let before = last.0.as_ref().filter(|last| last.source.name == source.name);
    let opened = open(source, Shelf::of(files, file), question.step()?, before)?;
    ask::within_reach(&opened, 1, &settings)?;
    if question.ask == "check" {
        let checked = ask::check(&opened);
        let mut reply = Reply { json: Some(checked.json), ..shown(&checked.document) };
        (reply.stops, reply.problems) = (checked.stops, said(&opened.source, &checked.remarks));
        return Ok(reply);
    }
    let opened = opened.usable()?;
    let answer = asked(question, &opened, &settings, progress)?;
    let mut reply = answer.as_ref().map_or_else(Reply::default, given);
    reply.partial |= answer.is_none();
    reply.problems = said(&opened.source, &judged::remarks(&opened));
    last.0 = Some(opened);
    Ok(reply)
}

/// What may be picked from or filled in, as JSON; no scenario is needed for it.
fn offered(question: &Question, files: &Arc<BTreeMap<String, Vec<u8>>>) -> Result<Option<String>, Trouble> {
    let json = match question.ask.as_str() {
        "appliances" => library::appliances(),
        "cautions" => library::cautions(),
        "kits" => ask::kits(&**files, question.file()?, question.latitude.unwrap_or_default())?,
        "record" => {
            let file = question.file()?;
            let text = ask::to_fill_in(&Source::new(file, files.text(file).map_err(Trouble::Question)?))?;
            serde_json::Value::from(text).to_string()
        }
        "place" => match (&question.name, question.latitude, question.longitude) {
            (Some(name), None, None) => library::places_called(name),
            (None, Some(latitude_deg), Some(longitude_deg)) => library::place_near(latitude_deg, longitude_deg)?,
            _ => {
                let wanted = "a place is asked for by `name`, or by `latitude` and `longitude`";
                return Err(Trouble::Question(wanted.into()));
            }
        },
        _ => return Ok(None),
    };
    Ok(Some(json))
}

/// The questions that trials answer.
fn asked(
    question: &Question,
    opened: &Opened,
    settings: &Settings,
    progress: &dyn Progress,
) -> Result<Option<Answer>, Trouble> {
    match question.ask.as_str() {
        "run" => {
            let beside = Beside { rare: question.rare, advise: question.advise, alone: question.alone };
            Ok(ask::outage(opened, beside, settings, progress).map(|found| found.told(opened)))
        }
        "compare" => ask::compare(opened, &question.sets, settings, progress),
        "size" => {
            let target = question.target.as_deref().map(|text| ask::share("target", text, 0.01, 0.9999)).transpose()?;
            Ok(ask::size(opened, target, settings, progress))
        }
        "card" => Ok(ask::card(opened, settings, progress)),
        "now" => {
            let options = NowOptions {
                charge: question.charge.as_deref().unwrap_or_default(),
                at: question.at.as_deref(),
                instant: question.instant(),
                sky: question.sky.as_deref(),
                until: question.until.as_deref(),
                below_floor: question.below_floor.as_deref(),
                fuel: question.fuel.as_deref(),
            };
            ask::now(opened, &options, settings, progress)
        }
        other => Err(Trouble::Question(format!(
            "the question `{other}` is not known; allowed: run, compare, now, size, check, card, prove, record, kits, place, appliances, cautions"
        ))),
    }
}

fn proof(question: &Question, files: &Arc<BTreeMap<String, Vec<u8>>>) -> Result<Reply, Trouble> {
    let today = question.today()?;
    let mut names = vec![question.file()?];
    names.extend(question.more.iter().map(String::as_str));
    let records = names
        .iter()
        .map(|name| {
            let source = Source::new(*name, files.text(name).map_err(Trouble::Question)?);
            let mut one = proved(source, &*Shelf::of(files, name))?;
            one.doubt_dates(today);
            Ok(one)
        })
        .collect::<Result<Vec<ProvedRecord>, Trouble>>()?;
    // Those of the record that is judged; a page has what somebody gave it, and says what it lacks.
    let last = records.iter().max_by_key(|one| one.record.date());
    let (mut photographs, mut lacking) = (Vec::new(), Vec::new());
    if let Some(one) = last {
        let beside = Shelf::of(files, &one.source.name);
        for name in &one.record.photographs {
            match ask::photograph(name, &*beside) {
                Ok(photograph) => photographs.push(photograph),
                Err(wrong) => lacking.push(
                    Problem::warning("photographs", "are not all on the proof's page")
                        .found(wrong)
                        .help("open the photographs together with the record"),
                ),
            }
        }
    }
    let mut reply = given(&ask::prove(&records, &photographs, today)?);
    reply.problems = records.iter().flat_map(|one| said(&one.source, &weakness::remarks(one))).collect();
    reply.problems.extend(last.iter().flat_map(|one| said(&one.source, &lacking)));
    Ok(reply)
}

fn given(answer: &Answer) -> Reply {
    Reply { json: answer.json.clone(), partial: answer.partial, ..shown(&answer.document) }
}

fn shown(document: &Document) -> Reply {
    let sections = document.fragments().into_iter().map(|part| Section { heading: part.heading, html: part.html });
    Reply {
        answered: true,
        title: document.title.clone(),
        sections: sections.collect(),
        text: document.text(crate::report::document::COLUMNS),
        page: document.page(),
        ..Reply::default()
    }
}

fn said(source: &Source, problems: &[Problem]) -> Vec<Said> {
    let one = |problem: &Problem| Said {
        level: match problem.level {
            Level::Error => "error",
            Level::Warning => "warning",
            Level::Note => "note",
        },
        file: source.name.clone(),
        key: problem.key.clone(),
        title: problem.title(),
        label: problem.label(),
        hint: problem.help.clone(),
        place: problem.span.clone().map(|span| {
            let ((line, column), (end_line, end_column)) =
                (source.line_column(span.start), source.line_column(span.end));
            Place { line, column, end_line, end_column }
        }),
        drawn: render(source, std::slice::from_ref(problem), Paint::Plain),
    };
    problems.iter().map(one).collect()
}

fn told(trouble: Trouble) -> Vec<Said> {
    let plain = |key: &str, title: String| Said {
        level: "error",
        file: String::new(),
        key: key.to_string(),
        drawn: format!("error: {title}\n"),
        title,
        label: String::new(),
        hint: None,
        place: None,
    };
    match trouble {
        Trouble::Open(OpenError::Refused(found)) => said(&found.0, &found.1),
        Trouble::Open(OpenError::Unfit(unfit)) => said(&unfit.source, &judged::refusal(&unfit)),
        Trouble::Open(OpenError::File(text)) => {
            vec![plain("", text.strip_prefix("error: ").unwrap_or(&text).to_string())]
        }
        Trouble::Option { option, what } => vec![plain(option, format!("{option}{what}"))],
        Trouble::Question(text) => vec![plain("", text)],
    }
}
