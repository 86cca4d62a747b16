//! The answer of `compare` as a document and for programs.

use serde::Serialize;

use super::cautions::{self, ELSEWHERE};
use super::document::{Column, Document, Table};
use super::figure::{Axis, Data, Figure, Picture, Ranges};
use super::headline::no_more_than;
use super::json::{Difference, Share};
use super::notes::{Note, of_weather};
use super::outage::{by_chance_alone, differences};
use super::phrases::{self, uncounted};
use super::place::Whereabouts;
use super::told::{self, Told, Words};
use super::verdict::{self, MEDICAL_CAUTION, word, word_with_fuel};
use super::words::{and, common_decimals, difference, points, stopped, survival, survival_with, the_list, thousands};
use super::{food, fuel};
use crate::engine::Plan;
use crate::scenario::model::Site;
use crate::study::changes::Costs;
use crate::study::compare::{Comparison, Contender, Pair};
use crate::study::fit::Overload;
use crate::study::fuel::FuelTaken;
use crate::study::{Stakes, Verdict};
use crate::visible::begun;

/// All that `compare` knows.
#[derive(Debug, Clone, Copy)]
pub struct Facts<'a> {
    /// Title of the scenario.
    pub title: &'a str,
    /// Where the kit stands.
    pub site: &'a Site,
    /// Money of the prices, possibly empty.
    pub currency: &'a str,
    /// The variants with their names, in the order given.
    pub plans: &'a [(String, Plan)],
    /// What the trials say.
    pub answer: &'a Comparison,
    /// What the trials do not know of each variant, in the order given.
    pub kits: &'a [Kit],
    /// What it rests on.
    pub notes: &'a [Note],
}

/// What the trials do not know of a variant.
#[derive(Debug, Clone, PartialEq)]
pub struct Kit {
    /// Outlets that switch off.
    pub overloads: Vec<Overload>,
    /// Whether a person's health hangs on a load.
    pub medical: bool,
    /// The vital loads among those that it hangs on.
    pub devices: Vec<String>,
    /// What is to be minded with it beside what the notes say.
    pub cautions: Vec<&'static str>,
    /// What is taken of a generator's fuel.
    pub fuel: FuelTaken,
    /// What it costs more than the scenario's kit, where battery or panels differ and have prices.
    pub more_to_pay: Option<f64>,
    /// What it takes to come to it from the scenario's kit.
    pub costs: Costs,
}

impl Facts<'_> {
    /// The verdict on a variant by its place in the order given.
    fn verdict(&self, k: usize) -> Verdict {
        let kit = &self.kits[k];
        Verdict::on(&self.answer.contenders[k].survival, Stakes::of(kit.medical, &kit.overloads, kit.fuel))
    }

    /// What a variant costs more, with its money: "170 crowns", and whether that is less.
    fn cost(&self, k: usize) -> Option<(String, bool)> {
        let more = self.kits[k].more_to_pay?.round();
        Some((format!("{} {}", thousands(more.abs() as u64), self.currency).trim().to_string(), more < 0.0))
    }

    /// What a variant costs: "is free", "costs 170 crowns more".
    fn costs_words(&self, k: usize) -> String {
        match (self.cost(k), self.kits[k].costs) {
            (Some((money, is_less)), _) => format!("costs {money} {}", if is_less { "less" } else { "more" }),
            (None, Costs::Nothing) => "is free".into(),
            (None, Costs::GivesUp) => "gives something vital up".into(),
            (None, other) => phrases::costs(other).into(),
        }
    }

    /// The kit as it is, then the variants that cost nothing, the best first, then the others.
    fn ordered(&self) -> Vec<(usize, &Contender)> {
        let mut all: Vec<(usize, &Contender)> = ranked(self.answer).collect();
        all.sort_by_key(|(k, _)| (*k > 0, self.kits[*k].costs));
        all
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
            same_outages: pair.same(),
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
                    "Best is \"{best}\", by {} over the next, \"{second}\".",
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
            let told = match tie.same_outages {
                true => "ride through the same outages",
                false => "are too close to call",
            };
            format!(" \"{}\" and \"{}\" {told}.", tie.better, tie.worse)
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
        let part = |trials: u64| format!("{:.1}", 100.0 * trials as f64 / pair.trials.max(1) as f64);
        // Money where it has a price, else what it takes in a word.
        let costs = match facts.cost(k) {
            Some((money, less)) => format!("{}{money}", if less { "-" } else { "+" }),
            None => phrases::costs(facts.kits[k].costs).trim_start_matches("costs ").to_string(),
        };
        vec![
            c.name.clone(),
            word(facts.verdict(k)).to_string(),
            survival_with(&c.survival, decimals),
            unless_first(difference),
            unless_first(part(pair.only_second)),
            unless_first(part(pair.only_first)),
            unless_first(costs),
        ]
    };
    let columns = [
        Column::left("variant"),
        Column::left("verdict"),
        Column::left("rides through"),
        Column::right("difference"),
        Column::right("gains"),
        Column::right("loses"),
        Column::right("costs"),
    ];
    Table::new(columns).rows(facts.ordered().into_iter().map(row))
}

/// What stands under the table.
fn legend(facts: &Facts) -> String {
    let first = facts.answer.contenders.first();
    let (name, trials) = first.map_or(("", 0), |first| (first.name.as_str(), first.tally.trials));
    let priced = (0..facts.kits.len()).any(|k| facts.cost(k).is_some());
    format!(
        "Each variant against \"{name}\", of 100 outages. All met the same {} outages, weather and load luck: a variant gains \
         the outages that it alone rides through, loses those that \"{name}\" alone rides through, and gains less losses is \
         the difference. What nobody has measured moves both alike, so that a difference is much surer than the two ranges \
         beside it; its own range, in brackets, is of chance alone (95 %).{}",
        thousands(trials),
        if priced { " Sums are of battery and panels, by the prices in the file." } else { "" }
    )
}

/// The verdict on the kit as it is, on the best variant that costs nothing, and on the best of the others where that is better still.
fn lead(facts: &Facts) -> String {
    let answer = facts.answer;
    let told = |k: usize| {
        let verdict = word_with_fuel(facts.verdict(k), facts.kits[k].fuel);
        format!("{verdict}, {}", survival(&answer.contenders[k].survival))
    };
    let Some(first) = answer.contenders.first() else { return String::new() };
    let as_is = format!("{}: {}.", begun(&first.name), told(0));
    let gains = |k: usize| answer.contenders[k].against_first.difference;
    let better = |k: usize| answer.contenders[k].against_first.resolved() && gains(k) > 0.0;
    let best = |free: bool| {
        let of = answer.ranking.iter().copied().filter(|&k| k > 0 && (facts.kits[k].costs == Costs::Nothing) == free);
        of.filter(|&k| better(k)).max_by(|a, b| gains(*a).total_cmp(&gains(*b)))
    };
    let (free, paid) = (best(true), best(false));
    let paid = paid.filter(|&paid| free.is_none_or(|free| gains(free) < gains(paid)));
    let one = |k: usize| {
        let pair = &answer.contenders[k].against_first;
        format!(
            " With \"{}\", which {}: {}. That is {} for the better.",
            answer.contenders[k].name,
            facts.costs_words(k),
            told(k),
            difference(pair.difference, pair.interval.low, pair.interval.high)
        )
    };
    match (free, paid) {
        (None, None) if answer.contenders.len() > 1 => format!("{as_is} {}", none_better(answer)),
        _ => as_is + &free.into_iter().chain(paid).map(one).collect::<String>(),
    }
}

/// That no variant is surely better, and which are surely worse.
fn none_better(answer: &Comparison) -> String {
    let variants = || answer.contenders.iter().skip(1);
    let worse: Vec<&Contender> =
        variants().filter(|c| c.against_first.resolved() && c.against_first.difference < 0.0).collect();
    let by = |c: &Contender| {
        let pair = &c.against_first;
        format!(
            "\"{}\" is surely worse: {}.",
            c.name,
            difference(pair.difference, pair.interval.low, pair.interval.high)
        )
    };
    match (worse.as_slice(), variants().count()) {
        ([], 1) if variants().all(|c| c.against_first.same()) => "The variant rides through the same outages.".into(),
        ([], 1) => "The variant is not surely better, nor surely worse.".into(),
        ([], _) => "None of the variants is surely better.".into(),
        ([only], 1) => by(only),
        ([only], _) => format!("None of the variants is surely better; {}", by(only)),
        (some, all) if some.len() == all => "All variants are surely worse.".into(),
        (some, _) => {
            let names: Vec<String> = some.iter().map(|c| format!("\"{}\"", c.name)).collect();
            format!("None of the variants is surely better; surely worse are {}.", and(&names))
        }
    }
}

/// What to count on where a person's health hangs on a vital load: the lower end of the range, as it is and with the best variant.
fn no_more(facts: &Facts) -> String {
    let Some((kit, first)) = facts.kits.first().zip(facts.answer.contenders.first()) else { return String::new() };
    if kit.devices.is_empty() {
        return String::new();
    }
    let best = facts.answer.ranking.iter().copied().find(|&k| k > 0).filter(|_| facts.answer.ranking[0] != 0);
    let with = best
        .map(|k| &facts.answer.contenders[k])
        .map_or(String::new(), |best| format!(", and with \"{}\" {}", best.name, no_more_than(best.survival.interval)));
    format!(
        "A person's health hangs on {}, so {}{}{with}. ",
        the_list(&kit.devices),
        no_more_than(first.survival.interval),
        if with.is_empty() { "" } else { " as it is" }
    )
}

/// What a device that may go without calls for; nothing where there is none, or each of the variants can be counted on.
fn elsewhere(facts: &Facts) -> &'static str {
    let unsure = |k: usize| facts.kits[k].medical && facts.verdict(k) != Verdict::CountOnIt;
    if (0..facts.kits.len()).any(unsure) { ELSEWHERE } else { "" }
}

/// Survival of each variant with its range.
fn survivals(facts: &Facts) -> Figure {
    let column = |name: &str, of: fn(&Contender) -> f64| {
        Data::numbers(name, "percent", facts.ordered().into_iter().map(|(_, c)| 100.0 * of(c)))
    };
    let mut axis = Axis::new("", (0.0, 100.0), 2);
    axis.marks.iter_mut().for_each(|(_, label)| label.push_str(" %"));
    Figure {
        name: "variants",
        title: "Share of outages that each variant rides through, with its 95 % range".into(),
        data: vec![
            Data::names("variant", facts.ordered().into_iter().map(|(_, c)| c.name.clone())),
            column("low", |c| c.survival.interval.low),
            column("survival", |c| c.survival.probability),
            column("high", |c| c.survival.interval.high),
        ],
        picture: Picture::Ranges(Ranges { axis, zero: None, band: None, unbanded: Vec::new() }),
        legend: String::new(),
        quiet: false,
    }
}

/// What became of the food in the kit as it is and in the best beside it, where something keeps it.
fn food(facts: &Facts) -> Vec<(String, Vec<String>)> {
    let best = facts.answer.ranking.iter().copied().find(|&k| k > 0);
    let of = |k: usize| {
        let contender = &facts.answer.contenders[k];
        (contender.name.clone(), food::sentences(&facts.plans[k].1, &contender.tally))
    };
    std::iter::once(0).chain(best).map(of).filter(|(_, sentences)| !sentences.is_empty()).collect()
}

/// What is to be minded with any of the variants, each once.
fn care(facts: &Facts) -> Vec<&'static str> {
    let mut told: Vec<&'static str> = Vec::new();
    for caution in facts.kits.iter().flat_map(|kit| &kit.cautions) {
        if !told.contains(caution) {
            told.push(caution);
        }
    }
    told
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
    for (contender, kit) in answer.contenders.iter().zip(facts.kits) {
        let told = uncounted(&kit.overloads);
        out.caution(if told.is_empty() { told } else { format!("\"{}\": {told}", contender.name) });
    }
    out.lead(lead(facts));
    out.caution(fuel::beside_figures(facts.kits.iter().map(|kit| kit.fuel)));
    if facts.kits.iter().any(|kit| kit.medical) {
        out.caution(format!("{}{MEDICAL_CAUTION}", no_more(facts))).caution(elsewhere(facts));
    }
    out.head("Each variant, the free ones first, the best first of each kind").table(table(facts)).say(legend(facts));
    out.say(by_chance_alone(facts.answer.contenders.iter().map(|c| &c.survival)));
    out.head("Outages ridden through, with the 95 % range").figure(survivals(facts));
    let first = answer.contenders.first().map_or("", |first| first.name.as_str());
    let title = format!("Difference to \"{first}\", in outages of 100");
    let others = facts.ordered().into_iter().filter(|(k, _)| *k > 0).map(|(_, c)| (c.name.clone(), &c.against_first));
    out.head(title.as_str()).figure(differences("differences", &title, others));
    out.head("Which is surely better than which").say(CompareVerdict::of(answer).words());
    let food = food(facts);
    if !food.is_empty() {
        out.head("The food in the coolers").entries(food);
    }
    let care = care(facts);
    if !care.is_empty() {
        out.head("Take care").list(care);
    }
    out.head("What this rests on").say(format!("Where a figure hangs on the kit, it is that of \"{first}\"."));
    out.list(facts.notes.iter().map(Words::words));
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
    weather: Option<Told<&'a Note>>,
    /// Money of the prices, possibly empty.
    currency: &'a str,
    notes: Vec<Told<&'a Note>>,
    /// What is to be minded with any of the variants.
    cautions: Vec<cautions::Said>,
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
    /// What it costs more than the kit as it is; null where battery and panels are the same or have no price.
    more_to_pay: Option<f64>,
    /// `nothing`, `gives_up`, `fuel` or `money`.
    costs: Costs,
    overloads: Vec<Told<&'a Overload>>,
}

/// The answer for the schema, in the order given.
#[must_use]
pub fn json<'a>(facts: &Facts<'a>) -> Json<'a> {
    let answer = facts.answer;
    let variant = |(k, c): (usize, &'a Contender)| JsonVariant {
        name: &c.name,
        rank: answer.ranking.iter().position(|&r| r == k).map_or(0, |place| place + 1),
        verdict: verdict::Json::from(facts.verdict(k)).taking(facts.kits[k].fuel),
        survival: Share::of(&c.survival),
        unmet_wh_mean: c.tally.missed_sum_wh / c.tally.trials as f64,
        difference: Difference::of(&c.against_first),
        more_to_pay: facts.kits[k].more_to_pay,
        costs: facts.kits[k].costs,
        overloads: told::all(&facts.kits[k].overloads),
    };
    Json {
        title: facts.title,
        place: Whereabouts::of(facts.site).into(),
        seed: answer.settings.seed,
        stopped_early: answer.stopped_early,
        verdict: CompareVerdict::of(answer).into(),
        weather: of_weather(facts.notes).map(Told::from),
        currency: facts.currency,
        notes: told::all(facts.notes),
        cautions: cautions::with_kinds(care(facts).into_iter().chain([elsewhere(facts)])),
        variants: answer.contenders.iter().enumerate().map(variant).collect(),
    }
}
