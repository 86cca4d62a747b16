//! `tideover new`.

use std::io::{BufRead, IsTerminal};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::first_answer::written;
use super::output::{PendingFile, print, tell};
use super::place::by_name_or_position;
use super::{Done, Failure};
use tideover::calendar::MONTHS;
use tideover::report::place::{Asked, WITHOUT_CLIMATE, found, lines_for_site};
use tideover::scenario::first::{self, Answers, First, QUESTIONS, Wrong, matters, otherwise, says_nothing, unusual};
use tideover::weather::world;

/// Arguments of `new`.
#[derive(Debug, Args)]
pub struct NewArgs {
    /// Write to this file instead of printing; an existing file is left alone
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// Ask eight or nine short questions, write the file and print its first answer; what an option below says is not asked
    #[arg(long)]
    ask: bool,
    /// Begin with an example of this kind
    #[arg(long, value_enum, conflicts_with_all = ["ask", "capacity", "chemistry", "ac", "panels", "stand", "loads", "lasts", "charger", "month"])]
    template: Option<Template>,
    /// The town, like "Bergen, Norway", or latitude and longitude, like "36.8N 10.2E"
    #[arg(long, value_name = "NAME")]
    place: Option<String>,
    /// What the station holds by its label, like "1024 Wh", "12.8 V x 100 Ah" or "12 V 100 Ah AGM"
    #[arg(long, value_name = "WH")]
    capacity: Option<String>,
    /// Kind of cells: LFP, NMC or lead-acid (LFP where nothing tells)
    #[arg(long, value_name = "KIND")]
    chemistry: Option<String>,
    /// What its AC outlets give for hours, like "1000 W (2000 W surge)", "600 W separate inverter" or none
    #[arg(long, value_name = "W")]
    ac: Option<String>,
    /// The panels: "200 W", "2 x 100 W, input 400 W", "150 W with PWM controller" or none
    #[arg(long, value_name = "W")]
    panels: Option<String>,
    /// Where they stand: ground, roof, balcony or flat, a direction, a tilt: "roof south-west 30°"
    #[arg(long, value_name = "WHERE")]
    stand: Option<String>,
    /// What must stay on: "fridge, wifi, 2 phones, desk lamp 12 W 19:00-23:00"
    #[arg(long, value_name = "THINGS")]
    loads: Option<String>,
    /// How long the outage is, like "2 days", or the hours of daily cuts, like "7pm-10pm for 4 weeks"
    #[arg(long, value_name = "TIME")]
    lasts: Option<String>,
    /// What charges it between daily cuts beside the panels: "none", or the watts of its charger, like "100 W"
    #[arg(long, value_name = "W")]
    charger: Option<String>,
    /// Its month, and whether it begins in a storm: "January, storm"
    #[arg(long, value_name = "MONTH")]
    month: Option<String>,
}

/// Examples to begin with.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum Template {
    /// A fridge-freezer and the router through a winter outage
    Fridge,
    /// A medical device through three nights
    Device,
    /// Work and light while the power is cut by the clock
    LoadShedding,
    /// A week on 12 V and one folding panel
    Camp,
    /// Two winter weeks in a cabin
    Cabin,
}

impl Template {
    fn text(self) -> &'static str {
        match self {
            Template::Fridge => include_str!("../../scenarios/templates/fridge.toml"),
            Template::Device => include_str!("../../scenarios/templates/device.toml"),
            Template::LoadShedding => include_str!("../../scenarios/templates/load-shedding.toml"),
            Template::Camp => include_str!("../../scenarios/templates/camp.toml"),
            Template::Cabin => include_str!("../../scenarios/templates/cabin.toml"),
        }
    }
}

/// The scenario that `new` gives out.
const STARTER: &str = include_str!("starter.toml");

/// The file that answers go to where none is named.
const USUAL: &str = "mine.toml";

impl NewArgs {
    fn answers(&self) -> [Option<&str>; QUESTIONS.len()] {
        [
            &self.place,
            &self.capacity,
            &self.ac,
            &self.panels,
            &self.stand,
            &self.loads,
            &self.lasts,
            &self.charger,
            &self.month,
        ]
        .map(Option::as_deref)
    }

    /// The scenario of answers, where there is weather for it.
    fn first(&self, answers: &Answers) -> Result<First, Vec<Wrong>> {
        let made = first::first(answers, self.chemistry.as_deref())?;
        match world::lookup(made.latitude_deg, made.longitude_deg, None) {
            Ok(_) => Ok(made),
            Err(why) => Err(vec![Wrong::new(0, format!("`{}`: {why}. {WITHOUT_CLIMATE}", answers[0]))]),
        }
    }
}

/// An example at another place.
fn moved(text: &str, place: Option<&str>) -> Result<String, Failure> {
    let Some(name) = place else { return Ok(text.into()) };
    let (asked, place, _) = by_name_or_position(name)?;
    let latitude_deg = match asked {
        Asked::Near { latitude_deg, .. } => latitude_deg,
        Asked::Name => place.latitude_deg,
    };
    let site = lines_for_site(asked, &place);
    if let Err(why) = world::lookup(place.latitude_deg, place.longitude_deg, None) {
        return Err(Failure::Input(format!("error: --place: `{name}`: {why}. {WITHOUT_CLIMATE}")));
    }
    // Where the seasons are the other way round than at the example's place, so are its months and the way to the sun.
    let own = text.lines().find_map(|line| line.strip_prefix("place = \"")?.split('"').next());
    let south = own.and_then(|own| by_name_or_position(own).ok()).is_some_and(|(_, place, _)| place.latitude_deg < 0.0);
    let turned = south != (latitude_deg < 0.0);
    let line = |line: &str| match line.split_once(" = \"").and_then(|(key, rest)| Some((key, rest.split_once('"')?))) {
        Some(("place", _)) => format!("{site}\n"),
        Some(("month", (month, rest))) if turned => format!("month = \"{}\"{rest}\n", half_a_year_on(month)),
        Some(("facing", (way, rest))) if turned => {
            let rest = if rest.contains("midday sun") { "" } else { rest };
            format!("facing = \"{}\"{rest}\n", if way == "south" { "north" } else { "south" })
        }
        _ => format!("{line}\n"),
    };
    Ok(text.lines().map(line).collect())
}

/// The month of the other half of the year that has its season on the other half of the earth.
fn half_a_year_on(month: &str) -> &str {
    MONTHS.iter().position(|known| *known == month).map_or(month, |at| MONTHS[(at + 6) % 12])
}

/// Runs the command.
pub fn main(args: &NewArgs) -> Result<Done, Failure> {
    let told = args.answers();
    let bare = told[1..].iter().all(Option::is_none);
    if args.ask || !bare {
        let file = args.file.clone().unwrap_or_else(|| USUAL.into());
        if args.file.is_some() || args.ask {
            there_already(&file)?;
        }
        let made = if args.ask { asked(args)? } else { given(args)? };
        return match (&args.file, args.ask) {
            (None, false) => {
                print(&made.text)?;
                Ok(Done::Answered)
            }
            _ => written(&file, &made),
        };
    }
    let text = moved(args.template.map_or(STARTER, Template::text), args.place.as_deref())?;
    match &args.file {
        None => print(&text)?,
        Some(path) => {
            there_already(path)?;
            PendingFile::open(path)?.commit(&text)?;
            print(&format!("Wrote {0}. Fill in your own figures, then: tideover run {0}\n", path.display()))?;
        }
    }
    Ok(Done::Answered)
}

fn there_already(path: &Path) -> Result<(), Failure> {
    if !path.exists() {
        return Ok(());
    }
    Err(Failure::Input(format!("error: {} is there already; give another name", path.display())))
}

/// From options alone.
fn given(args: &NewArgs) -> Result<First, Failure> {
    let answers = args.answers().map(|answer| answer.unwrap_or_default().to_string());
    let made = args.first(&answers).map_err(|wrongs| unusable(&wrongs))?;
    for (_, odd) in unusual(&made) {
        tell(&format!("warning: {odd}\n"));
    }
    // Where the file is written, its answer says this.
    if args.file.is_none() {
        made.told.iter().chain(&made.assumed).for_each(|sentence| tell(&format!("note: {sentence}\n")));
    }
    Ok(made)
}

/// How to answer.
const HELP: &str = "  Write it in your own words, like the example behind the question. Enter alone, or \"I don't know\", takes what stands in \
                    brackets; \"back\", at a terminal, goes back to the question before; \"quit\" leaves, and nothing is written.\n";

/// By questions; what an option says is not asked, unless it cannot be used.
fn asked(args: &NewArgs) -> Result<First, Failure> {
    let given = args.answers();
    let mut answers = given.map(|answer| answer.unwrap_or_default().to_string());
    let terminal = std::io::stdin().is_terminal();
    // A place that is not known yet must not stand in the way of the other answers.
    let whole = |answers: &Answers| {
        let mut probe = answers.clone();
        if probe[0].is_empty() {
            probe[0] = QUESTIONS[0].like.into();
        }
        args.first(&probe)
    };
    if terminal {
        tell(
            "Eight questions, and one more for daily cuts. Enter alone, or \"I don't know\", takes what stands in brackets; \"back\" \
             goes back to the question before, \"help\" says how to answer, \"quit\" leaves.\n",
        );
    }
    // The questions that were asked, for the way back.
    let mut asked: Vec<usize> = Vec::new();
    // What was answered before going back, which holds where nothing else is written.
    let mut former: Answers = Default::default();
    let mut at = 0;
    'questions: while at < QUESTIONS.len() {
        // Without panels nothing is to be asked of them, nor of a charger where no mains come back.
        if !matters(at, &answers) && given[at].is_none() {
            at += 1;
            continue;
        }
        let mut kept = String::new();
        let mut ask = given[at].is_none();
        // Places that the last answer left open, to choose by their numbers.
        let mut choice: Vec<String> = Vec::new();
        loop {
            if ask {
                let told = answer((asked.len() + 1, at), &answers, &former[at], terminal);
                let told = told.map_err(|failure| with_answers(failure, args, &answers))?;
                if terminal && told.eq_ignore_ascii_case("back") {
                    if let Some(before) = asked.pop() {
                        former[before] = std::mem::take(&mut answers[before]);
                        at = before;
                        continue 'questions;
                    }
                    tell("  This is the first question.\n");
                    continue;
                }
                if told.eq_ignore_ascii_case("help") {
                    tell(&format!("  {}\n{HELP}", QUESTIONS[at].help));
                    continue;
                }
                if ["quit", "exit"].iter().any(|word| told.eq_ignore_ascii_case(word)) {
                    let left = Failure::Input("error: left before the last question; nothing is written".into());
                    return Err(with_answers(left, args, &answers));
                }
                let told = if says_nothing(&told) && !says_nothing(&former[at]) { former[at].clone() } else { told };
                let chosen = told.parse::<usize>().ok().and_then(|number| choice.get(number.checked_sub(1)?));
                answers[at] = chosen.unwrap_or(&told).clone();
            }
            ask = true;
            if at == 0 && says_nothing(&answers[0]) {
                if !terminal {
                    return Err(Failure::Input("error: --place: a town is needed, like \"Bergen, Norway\"".into()));
                }
                tell("  A town is needed, like \"Bergen, Norway\"; a larger one near by does.\n");
                continue;
            }
            let made = whole(&answers);
            let refused = |wrong: &Wrong| wrong.question <= at;
            match made {
                // Where answers come from a pipe the next one was meant for the next question.
                Err(wrongs) if wrongs.iter().any(refused) && !terminal => {
                    // What options said is wrong now, whenever it is asked for.
                    let told = wrongs.into_iter().filter(|wrong| refused(wrong) || given[wrong.question].is_some());
                    let told: Vec<Wrong> = told.collect();
                    told.iter().for_each(|wrong| answers[wrong.question] = TO_WRITE.into());
                    return Err(with_answers(unusable(&told), args, &answers));
                }
                Err(wrongs) if wrongs.iter().any(refused) => {
                    let Some(wrong) = wrongs.into_iter().find(refused) else { continue };
                    let why = wrong.why.trim_end_matches('.');
                    tell(&format!("  {why}{}\n", if why.ends_with(['?', '!']) { "" } else { "." }));
                    choice = wrong.choices;
                    for (number, place) in choice.iter().enumerate() {
                        tell(&format!("  {}  {place}\n", number + 1));
                    }
                    if !choice.is_empty() {
                        tell("  Write its number, or another town.\n");
                    }
                    // What was refused is none of the answers so far.
                    answers[at].clear();
                }
                Ok(made) => match unusual(&made).into_iter().find(|(question, _)| *question == at) {
                    Some((_, odd)) if kept != answers[at] && terminal => {
                        kept.clone_from(&answers[at]);
                        tell(&format!("  {odd}. Write it again to keep it.\n"));
                    }
                    Some((_, odd)) if !terminal => {
                        tell(&format!("warning: {odd}\n"));
                        break;
                    }
                    _ => break,
                },
                Err(_) => break,
            }
        }
        if at == 0 {
            if let Ok((asked, town, others)) = by_name_or_position(&answers[0]) {
                tell(&format!("  {}\n", found(asked, &town, &others)));
            }
        } else if says_nothing(&answers[at]) {
            tell(&format!("  Taken: {}.\n", otherwise(at, &answers)));
        }
        if given[at].is_none() {
            asked.push(at);
        }
        at += 1;
    }
    args.first(&answers).map_err(|wrongs| unusable(&wrongs))
}

/// Stands for an answer that was refused, in a command to go on with.
const TO_WRITE: &str = "...";

/// A failure with the answers so far as options, so that none has to be given again.
fn with_answers(failure: Failure, args: &NewArgs, answers: &Answers) -> Failure {
    let Failure::Input(why) = failure else { return failure };
    let quoted = |text: &str| format!("'{}'", text.replace('\'', "'\\''"));
    let mut options = String::new();
    let told = QUESTIONS.iter().zip(answers).map(|(question, answer)| (question.option, answer.as_str()));
    for (option, answer) in told.chain(args.chemistry.as_deref().map(|kind| ("chemistry", kind))) {
        if !answer.is_empty() {
            options += &format!(" --{option} {}", quoted(answer));
        }
    }
    if options.is_empty() {
        return Failure::Input(why);
    }
    let file = args.file.as_ref().map_or(String::new(), |file| format!(" {}", quoted(&file.display().to_string())));
    let write =
        if answers.iter().any(|answer| answer == TO_WRITE) { ", your new answer in place of the points" } else { "" };
    Failure::Input(format!("{why}\nThe answers so far, to go on with{write}: tideover new --ask{options}{file}"))
}

/// Most answers of which it is told at once what is wrong with them.
const MOST_TOLD: usize = 6;

fn unusable(wrongs: &[Wrong]) -> Failure {
    let told = wrongs.iter().take(MOST_TOLD);
    let mut told: Vec<String> =
        told.map(|wrong| format!("error: --{}: {}", QUESTIONS[wrong.question].option, wrong.why)).collect();
    if let Some(more) = wrongs.len().checked_sub(MOST_TOLD).filter(|more| *more > 0) {
        told.push(format!("and {more} more that cannot be used"));
    }
    Failure::Input(told.join("\n"))
}

/// * `number` and `at` — how many have been asked with this one, and which of [`QUESTIONS`] it is.
/// * `former` — what was answered before going back, or nothing.
fn answer((number, at): (usize, usize), answers: &Answers, former: &str, terminal: bool) -> Result<String, Failure> {
    let question = &QUESTIONS[at];
    let otherwise = match if says_nothing(former) { otherwise(at, answers) } else { former.into() } {
        taken if taken.is_empty() => taken,
        taken => format!(" [{taken}]"),
    };
    tell(&format!("{number}. {} Like: {}{otherwise}\n", question.ask, question.like));
    if terminal {
        tell("   > ");
    }
    let mut line = String::new();
    match std::io::stdin().lock().read_line(&mut line) {
        Ok(0) => Err(Failure::Input(format!(
            "error: no more answers; give --{} where there is no terminal to ask at",
            question.option
        ))),
        Ok(_) => Ok(line.trim().to_string()),
        Err(error) => Err(Failure::Other(format!("cannot read an answer: {error}"))),
    }
}
