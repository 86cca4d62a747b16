//! The answer of `compare` as a document and for programs.

use serde::Serialize;

use super::document::{Column, Document, Table};
use super::figure::{Axis, Data, Figure, Picture, Ranges};
use super::json::{Difference, Share};
use super::notes::Note;
use super::outage::differences;
use super::phrases::uncounted;
use super::place::Whereabouts;
use super::told::{self, Told, Words};
use super::verdict::{self, MEDICAL_CAUTION, word};
use super::words::{about, common_decimals, difference, points, stopped, survival_with, thousands};
use crate::scenario::model::Site;
use crate::study::compare::{Comparison, Contender, Pair};
use crate::study::fit::Overload;
use crate::study::{Stakes, Verdict};

/// All that `compare` knows.
#[derive(Debug, Clone, Copy)]
pub struct Facts<'a> {
    /// Title of the scenario.
    pub title: &'a str,
    /// Where the kit stands.
    pub site: &'a Site,
    /// What the trials say.
    pub answer: &'a Comparison,
    /// Outlets that switch off, for each variant in the order given: the trials do not know of it.
    pub overloads: &'a [Vec<Overload>],
    /// Whether a person's health hangs on a load, for each variant.
    pub medical: &'a [bool],
    /// Where the weather comes from.
    pub weather: &'a Note,
}

impl Facts<'_> {
    /// The verdict on a variant by its place in the order given.
    fn verdict(&self, k: usize) -> Verdict {
        let stakes = Stakes::of(self.medical.get(k) == Some(&true), self.overloads.get(k).map_or(&[], Vec::as_slice));
        Verdict::on(&self.answer.contenders[k].survival, stakes)
    }
}

/// Two variants next to each other that the trials do not tell apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tie {
    better: String,
    worse: String,
    /// Trials that would tell, if the difference is what it seems; null where no sensible number would.
    trials_needed: Option<u64>,
    /// Whether both survived the same outages.
    same_outages: bool,
}

/// Which variant is best.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum CompareVerdict {
    /// There is one alone.
    Alone {
        /// Its name.
        best: String,
        /// See [`Tie`].
        ties: Vec<Tie>,
    },
    /// The first is better than the second.
    Best {
        /// Its name.
        best: String,
        /// The second's.
        second: String,
        /// Between the two.
        by: Difference,
        /// See [`Tie`].
        ties: Vec<Tie>,
    },
    /// Some at the top are not told apart.
    Tied {
        /// Their names.
        best: Vec<String>,
        /// See [`Tie`].
        ties: Vec<Tie>,
    },
}

impl CompareVerdict {
    /// Of an answer.
    #[must_use]
    pub fn of(answer: &Comparison) -> CompareVerdict {
        let name = |place: usize| answer.contenders[answer.ranking[place]].name.clone();
        let tie = |(place, pair): (usize, &Pair)| Tie {
            better: name(place),
            worse: name(place + 1),
            trials_needed: pair.trials_needed(),
            same_outages: pair.only_first + pair.only_second == 0,
        };
        let ties = answer.neighbours.iter().enumerate().filter(|(_, pair)| !pair.resolved()).map(tie).collect();
        match answer.neighbours.iter().take_while(|pair| !pair.resolved()).count() {
            0 => match answer.neighbours.first() {
                Some(pair) => CompareVerdict::Best { best: name(0), second: name(1), by: Difference::of(pair), ties },
                None => CompareVerdict::Alone { best: name(0), ties },
            },
            tied => CompareVerdict::Tied { best: (0..=tied).map(name).collect(), ties },
        }
    }
}

impl Words for CompareVerdict {
    fn words(&self) -> String {
        let (first, ties) = match self {
            CompareVerdict::Alone { best, ties } => (format!("There is only \"{best}\"."), ties),
            CompareVerdict::Best { best, second, by, ties } => (
                format!(
                    "Best is \"{best}\": against \"{second}\" it rides through {}.",
                    difference(by.difference, by.difference_low, by.difference_high)
                ),
                ties,
            ),
            CompareVerdict::Tied { best, ties } => {
                let names: Vec<String> = best.iter().map(|name| format!("\"{name}\"")).collect();
                (format!("At the top, {} cannot be told apart with these trials.", names.join(" and ")), ties)
            }
        };
        let advice = |tie: &Tie| {
            let told = match tie.trials_needed {
                _ if tie.same_outages => "in no outage did one survive where the other failed".to_string(),
                Some(trials) => {
                    format!("about {} trials would tell, if the difference is what it seems", about(trials as f64))
                }
                None => "no sensible number of trials would tell".into(),
            };
            format!(" \"{}\" and \"{}\": {told}.", tie.better, tie.worse)
        };
        first + &ties.iter().map(advice).collect::<String>()
    }
}

/// The contenders, best first, with their places in the order given.
fn ranked(answer: &Comparison) -> impl Iterator<Item = (usize, &Contender)> + Clone {
    answer.ranking.iter().map(|&k| (k, &answer.contenders[k]))
}

fn table(facts: &Facts) -> Table {
    let answer = facts.answer;
    let first = answer.contenders.first().map_or("", |first| first.name.as_str());
    let decimals = common_decimals(answer.contenders.iter().map(|c| c.survival.interval));
    let row = |(k, c): (usize, &Contender)| {
        let pair = &c.against_first;
        let unless_first = |text: String| if k == 0 { "-".into() } else { text };
        let difference = match pair.resolved() {
            true => {
                format!("{} ({} to {})", points(pair.difference), points(pair.interval.low), points(pair.interval.high))
            }
            false => "not told apart".into(),
        };
        [
            c.name.clone(),
            word(facts.verdict(k)).to_string(),
            survival_with(&c.survival, decimals),
            unless_first(difference),
            unless_first(thousands(pair.only_second)),
            unless_first(thousands(pair.only_first)),
        ]
    };
    Table::new([
        Column::left("variant"),
        Column::left("verdict"),
        Column::left("rides through"),
        Column::right(format!("against \"{first}\"")),
        Column::right("only it"),
        Column::right(format!("only \"{first}\"")),
    ])
    .rows(ranked(answer).map(row))
}

/// Survival of each variant with its range.
fn survivals(answer: &Comparison) -> Figure {
    let column = |name: &str, of: fn(&Contender) -> f64| {
        Data::numbers(name, "percent", ranked(answer).map(|(_, c)| 100.0 * of(c)))
    };
    let mut axis = Axis::new("", (0.0, 100.0), 2);
    axis.marks.iter_mut().for_each(|(_, label)| label.push_str(" %"));
    Figure {
        name: "variants",
        title: "Share of outages that each variant rides through, with its 95 % range".into(),
        data: vec![
            Data::names("variant", ranked(answer).map(|(_, c)| c.name.clone())),
            column("low", |c| c.survival.interval.low),
            column("survival", |c| c.survival.probability),
            column("high", |c| c.survival.interval.high),
        ],
        picture: Picture::Ranges(Ranges { axis, zero: None, band: None }),
        legend: String::new(),
        quiet: false,
    }
}

/// The whole answer.
#[must_use]
pub fn document(facts: &Facts) -> Document {
    let answer = facts.answer;
    let trials = answer.contenders.first().map_or(0, |c| c.tally.trials);
    let mut out = Document::new(facts.title);
    out.placed(facts.site);
    if answer.stopped_early {
        out.caution(stopped(trials, answer.settings.trials, "trials"));
    }
    for (contender, overloads) in answer.contenders.iter().zip(facts.overloads) {
        let told = uncounted(overloads);
        out.caution(if told.is_empty() { told } else { format!("\"{}\": {told}", contender.name) });
    }
    out.lead(CompareVerdict::of(answer).words());
    out.head("Variants, best first").table(table(facts)).figure(survivals(answer));
    let others = ranked(answer).filter(|(k, _)| *k > 0).map(|(_, c)| (c.name.clone(), &c.against_first));
    let first = answer.contenders.first().map_or("", |first| first.name.as_str());
    let title = format!("Difference of each variant to \"{first}\", in outages of 100");
    out.figure(differences("differences", &title, others));
    if facts.medical.contains(&true) {
        out.caution(MEDICAL_CAUTION);
    }
    out.head("What this rests on").say(facts.weather.words()).say(format!(
        "All variants met the same {} outages, weather and load luck. Ranges of survival are 95 % and count what is not \
         known; differences are of 100 outages, paired, so that they are much surer than the ranges suggest, and their ranges \
         are of chance alone. The last columns count the outages that one of the two rides through alone.",
        thousands(trials)
    ));
    out
}

/// The answer of `compare` as JSON.
#[derive(Debug, Serialize)]
pub struct Json<'a> {
    title: &'a str,
    place: Told<Whereabouts>,
    seed: u64,
    /// Whether the run was stopped before the trials asked for were done.
    stopped_early: bool,
    verdict: Told<CompareVerdict>,
    /// Where the weather comes from.
    weather: Told<&'a Note>,
    variants: Vec<JsonVariant<'a>>,
}

#[derive(Debug, Serialize)]
struct JsonVariant<'a> {
    name: &'a str,
    rank: usize,
    /// How far it can be relied on.
    verdict: verdict::Json,
    survival: Share,
    unmet_wh_mean: f64,
    /// Against the first.
    #[serde(flatten)]
    difference: Difference,
    overloads: Vec<Told<&'a Overload>>,
}

/// The answer for the schema, in the order given.
#[must_use]
pub fn json<'a>(facts: &Facts<'a>) -> Json<'a> {
    let answer = facts.answer;
    let variant = |(k, c): (usize, &'a Contender)| JsonVariant {
        name: &c.name,
        rank: answer.ranking.iter().position(|&r| r == k).map_or(0, |place| place + 1),
        verdict: facts.verdict(k).into(),
        survival: Share::of(&c.survival),
        unmet_wh_mean: c.tally.missed_sum_wh / c.tally.trials as f64,
        difference: Difference::of(&c.against_first),
        overloads: facts.overloads.get(k).map(told::all).unwrap_or_default(),
    };
    Json {
        title: facts.title,
        place: Whereabouts::of(facts.site).into(),
        seed: answer.settings.seed,
        stopped_early: answer.stopped_early,
        verdict: CompareVerdict::of(answer).into(),
        weather: facts.weather.into(),
        variants: answer.contenders.iter().enumerate().map(variant).collect(),
    }
}
