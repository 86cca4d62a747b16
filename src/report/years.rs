//! The answer of `years` as a document.

mod figures;
pub mod json;
pub mod table;

use serde::Serialize;

use super::cautions;
use super::document::{Column, Document, Table};
use super::told::Words;
use super::verdict::{MEDICAL_CAUTION, with_fuel, word};
use super::words::{self, hundredths, percent, stopped, thousands};
use crate::ageing::lfp;
use crate::calendar::MONTHS;
use crate::engine::plan::{LONGEST_OUTAGE_H, Sky, lengthened_to_h};
use crate::scenario::model::{Chemistry, Scenario};
use crate::scenario::years::{Arrivals, StoredAt, WearModel};
use crate::study::years::arrivals::Length;
use crate::study::years::plan::TYPICAL_CHARGE_RATE_PER_H;
use crate::study::years::tally::Share;
use crate::study::years::{StrategyAnswer, YearsAnswer, YearsPlan};

/// The whole answer.
#[must_use]
pub fn document(scenario: &Scenario, answer: &YearsAnswer, notes: &[Note]) -> Document {
    let mut out = Document::new(&scenario.title);
    out.placed(&scenario.site);
    if answer.stopped_early() {
        out.caution(stopped(answer.histories, answer.settings.histories, "histories"));
    }
    if let Some(verdict) = answer.verdict(&answer.strategies[answer.choice].rode) {
        out.lead(with_fuel(verdict, answer.stakes.fuel));
    }
    out.lead(headline(answer));
    out.under(RULES_OF_WEAR);
    if answer.stakes.medical {
        out.caution(MEDICAL_CAUTION);
    }
    let Counted { many, .. } = counted(answer);
    let law = law(answer);
    if let Some((first, others)) = answer.strategies.split_first().filter(|(_, others)| !others.is_empty()) {
        out.head(format!("Against \"{}\", on the same {many}", first.name));
        out.list(others.iter().map(|other| against_first(answer, other)));
    }
    out.head(format!("Readiness and wear in {} years", answer.settings.years)).table(readiness(answer)).say(format!(
        "Of 100 {many}, ridden through, with the 95 % range of chance and of what is not known of kit and climate; all of it \
         with a battery as worn as {law} says. Years until a fifth of the capacity is gone run from the law of wear that gives \
         fewest to the one that gives most; * marks the ways that no other one beats both in these {many} and in years by {law}."
    ));
    out.figure(figures::frontier(answer));
    out.head("Years until a fifth of the capacity is gone, by law of wear")
        .table(laws(answer))
        .say(disagreement(answer));
    out.head("Energy and money in a year").table(money(answer)).say(money_basis(answer));
    out.head(format!("Readiness over the year: of 100 {many} that begin in a month, ridden through"))
        .table(months(answer));
    out.say(month_certainty(answer)).figure(figures::by_month(answer)).figure(figures::charge_by_month(answer));
    out.head("Readiness as the battery ages").figure(figures::by_year(answer)).figure(figures::capacity(answer));
    let care = cautions::beside_notes(scenario);
    if !care.is_empty() {
        out.head("Take care").list(care);
    }
    out.head("What this rests on").list(notes.iter().map(Words::words));
    out
}

/// What a law of wear is, before it is named.
const RULES_OF_WEAR: &str = "How fast cells wear is told by several laws, read off cells in laboratories or handed on in the trade, and they \
                             disagree. \"The harshest law\" is the one that gives fewest years: what stands by it is the cautious \
                             figure. A battery counts as worn once a fifth of its capacity is gone.";

/// What is ridden through or not, in words.
struct Counted {
    one: &'static str,
    many: &'static str,
}

/// Outages, or the weeks of cuts where it is those that are counted.
fn counted(answer: &YearsAnswer) -> Counted {
    if answer.cuts {
        Counted { one: "a week of cuts", many: "weeks of cuts" }
    } else {
        Counted { one: "an outage", many: "outages" }
    }
}

/// The law of wear that outages feel, for programs.
fn felt(law: WearModel) -> &'static str {
    match law {
        WearModel::Worst => "worst",
        WearModel::Published => "published",
        WearModel::TradeRule => "trade_rule",
    }
}

/// The law of wear that outages feel, in words.
fn law(answer: &YearsAnswer) -> &'static str {
    match answer.felt {
        WearModel::Worst => "the harshest law",
        WearModel::Published => "the harshest published law",
        WearModel::TradeRule => "the trade rule",
    }
}

/// "93 of 100 (91-95)".
#[must_use]
pub fn of_hundred(share: &Share) -> String {
    if share.outages == 0 {
        return "no outage".into();
    }
    words::share(share.probability, share.interval)
}

/// "15.2", or "over 40" where nothing is foretold any more.
#[must_use]
pub fn years_words(years: f64) -> String {
    if YearsAnswer::beyond_telling(years) { format!("over {years:.0}") } else { format!("{years:.1}") }
}

/// The decision, in a sentence that a person can act on.
#[must_use]
pub fn headline(answer: &YearsAnswer) -> String {
    let Counted { one, many } = counted(answer);
    let chosen = &answer.strategies[answer.choice];
    let money = match (chosen.money_a_year, &answer.currency) {
        (Some(money), Some(currency)) if money < 0.0 => {
            format!(" It costs {:.0} {currency} a year at the wall.", -money)
        }
        (Some(money), Some(currency)) => format!(" It saves {money:.0} {currency} a year."),
        _ => String::new(),
    };
    if answer.strategies.len() == 1 {
        return format!(
            "In {} histories of {} years, \"{}\" rides through {} {many} and keeps 80 % of its capacity for {}.{money}",
            thousands(answer.histories),
            answer.settings.years,
            chosen.name,
            of_hundred(&chosen.rode),
            years_told(chosen)
        );
    }
    format!(
        "Choose \"{}\": it keeps 80 % of its capacity for {}, and rides through {} {many}. Of the {} ways tried, in {} \
         histories of {} years, it lasts longest by {} among those that ride through as many {many} as the best, to half \
         {one} in a hundred.{money}",
        chosen.name,
        years_told(chosen),
        of_hundred(&chosen.rode),
        answer.strategies.len(),
        thousands(answer.histories),
        answer.settings.years,
        law(answer)
    )
}

/// "Kept at 80 %" rides through 4.1 of 100 fewer and lasts 3.1 years longer.
#[must_use]
pub fn against_first(answer: &YearsAnswer, strategy: &StrategyAnswer) -> String {
    let (difference, interval) = strategy.more_than_first;
    let Counted { many, .. } = counted(answer);
    let rides = if interval.high < 0.0 || interval.low > 0.0 {
        let told = |share: f64| words::points(share.abs()).trim_start_matches('+').to_string();
        let (a, b) = (interval.low.abs(), interval.high.abs());
        format!(
            "rides through {} of 100 {many} {} ({} to {})",
            told(difference),
            if difference < 0.0 { "less" } else { "more" },
            told(a.min(b)),
            told(a.max(b))
        )
    } else {
        format!("rides through as many {many}, as far as these histories can tell,")
    };
    let more = if YearsAnswer::beyond_telling(strategy.years.mean) { "more than " } else { "" };
    let law = law(answer);
    let years = match strategy.years_more_than_first {
        y if y >= 0.05 => format!("and lasts {more}{y:.1} years longer by {law}"),
        y if y <= -0.05 => format!("and lasts {:.1} years less by {law}", -y),
        _ => format!("and lasts as long by {law}"),
    };
    format!("\"{}\" {} {years}.", strategy.name, rides)
}

fn readiness(answer: &YearsAnswer) -> Table {
    let row = |strategy: &StrategyAnswer| {
        [
            strategy.name.clone(),
            answer.verdict(&strategy.rode).map_or("-", word).to_string(),
            of_hundred(&strategy.rode),
            of_hundred(&strategy.rode_first),
            of_hundred(&strategy.rode_last),
            spread_words(strategy),
            if strategy.on_the_frontier { "*".into() } else { " ".into() },
        ]
    };
    let columns = [
        Column::left("way"),
        Column::left("verdict"),
        Column::right("rides through"),
        Column::right(format!("first {} years", answer.stretch)),
        Column::right(format!("last {} years", answer.stretch)),
        Column::right("years to 80 %, by law"),
        Column::left(""),
    ];
    Table::new(columns).rows(answer.strategies.iter().map(row))
}

fn laws(answer: &YearsAnswer) -> Table {
    let row = |strategy: &StrategyAnswer| {
        let years = strategy.years_by_model.iter().map(|years| years_words(years.mean));
        std::iter::once(strategy.name.clone()).chain(years).collect::<Vec<_>>()
    };
    let columns = answer.models.iter().map(|model| Column::right(*model));
    Table::new(std::iter::once(Column::left("way")).chain(columns)).rows(answer.strategies.iter().map(row))
}

/// The fewest and the most years that any law gives.
fn spread(strategy: &StrategyAnswer) -> (f64, f64) {
    let years = || strategy.years_by_model.iter().map(|years| years.mean);
    (years().fold(f64::INFINITY, f64::min), years().fold(0.0, f64::max))
}

/// Years by the laws: "9.7 to over 40" from the one that gives fewest to the one that gives most.
fn spread_words(strategy: &StrategyAnswer) -> String {
    let (low, high) = spread(strategy);
    let (low, high) = (years_words(low), years_words(high));
    if low == high { low } else { format!("{low} to {high}") }
}

/// Years by the laws: "9.7 to over 40 years, by the law of wear".
fn years_told(strategy: &StrategyAnswer) -> String {
    let (low, high) = spread(strategy);
    let by = if low == high { "" } else { ", by the law of wear" };
    format!("{} years{by}", spread_words(strategy))
}

/// Where the laws disagree.
#[must_use]
pub fn disagreement(answer: &YearsAnswer) -> String {
    let widest = answer.strategies.iter().max_by(|a, b| {
        let ratio = |s| spread(s).1 / spread(s).0;
        ratio(a).total_cmp(&ratio(b))
    });
    let Some(widest) = widest else { return String::new() };
    let (low, high) = spread(widest);
    if high < 1.3 * low {
        return "The laws agree within a third everywhere.".into();
    }
    format!(
        "The laws disagree most on \"{}\": {} or {} years. Laws named by authors and year are published, count standing still \
         and come from cells in a laboratory; the trade rule counts cycles alone and speaks of whole stations. Years beyond those simulated go on \
         at the same pace, further than any test of a cell went.",
        widest.name,
        years_words(low),
        years_words(high)
    )
}

fn money(answer: &YearsAnswer) -> Table {
    let row = |s: &StrategyAnswer| {
        let a_year = [s.outage_wh_a_year / 1000.0, s.daily_wh_a_year / 1000.0, s.wall_wh_a_year / 1000.0];
        let energy = a_year.into_iter().chain([s.full_cycles_a_year]).map(|value| format!("{value:.1}"));
        let money = [
            s.money_a_year.map_or("-".into(), |money| format!("{money:+.0}")),
            s.cost_a_kwh.map_or("-".into(), |cost| format!("{cost:.2}")),
        ];
        let money = money.into_iter().filter(|_| answer.currency.is_some());
        std::iter::once(s.name.clone()).chain(energy).chain(money).collect::<Vec<_>>()
    };
    let heads = ["kWh in outages", "kWh on other days", "kWh from the wall", "full cycles"].map(String::from);
    let money = |currency: &String| [format!("{currency} saved"), format!("{currency} a kWh, all in")];
    let columns = heads.into_iter().chain(answer.currency.iter().flat_map(money)).map(Column::right);
    Table::new(std::iter::once(Column::left("way")).chain(columns)).rows(answer.strategies.iter().map(row))
}

/// What the figures of energy and money are of.
fn money_basis(answer: &YearsAnswer) -> String {
    let years = answer.settings.years;
    let of = format!(
        "Means of a year over the {years} years simulated, with a battery as worn as {} says. A full cycle is as much drawn as the \
         label holds, at once or in parts",
        law(answer)
    );
    match answer.strategies.iter().any(|s| s.cost_a_kwh.is_some()) {
        true => format!(
            "{of}. A kWh \"all in\" is the station's price and the wall's energy over the kWh delivered, until a fifth of the \
             capacity is gone by that law."
        ),
        false => format!("{of}."),
    }
}

/// The first letters of the months.
fn short_months() -> Vec<String> {
    MONTHS.iter().map(|month| month.chars().take(3).collect()).collect()
}

fn months(answer: &YearsAnswer) -> Table {
    let cell = |share: &Share| if share.outages == 0 { "-".to_string() } else { hundredths(share.probability, 0) };
    let row =
        |s: &StrategyAnswer| std::iter::once(s.name.clone()).chain(s.by_month.iter().map(cell)).collect::<Vec<_>>();
    let columns = short_months().into_iter().map(Column::right);
    Table::new(std::iter::once(Column::left("way")).chain(columns)).scrolls().rows(answer.strategies.iter().map(row))
}

/// How sure the shares of the months are: the least sure cell, and how few outages a month had.
fn month_certainty(answer: &YearsAnswer) -> String {
    let cells = || answer.strategies.iter().flat_map(|s| &s.by_month).filter(|share| share.outages > 0);
    let Some(fewest) = cells().map(|share| share.outages).min() else { return String::new() };
    let widest = cells().map(|share| share.interval.width()).fold(0.0, f64::max);
    format!(
        "Of the {} of each month, {} or more; the widest 95 % interval of a cell spans {:.0} of 100.",
        counted(answer).many,
        thousands(fewest),
        (100.0 * widest).ceil()
    )
}

/// Something that the answer rests on. Shares go from 0 to 1.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[allow(missing_docs, reason = "the words below say it; units at the ends of the names")]
pub enum Note {
    /// How often the power goes.
    Outages { a_year: f64, in_the_darkest_days: f64, longest_days: f64 },
    /// Cuts that come back stand for the outages.
    Cuts,
    /// An outage's length in whole steps.
    LengthenedTo { hours_h: f64 },
    /// How often and how long comes from a record.
    OwnRecord,
    /// Where the weather comes from.
    Weather { place: String, source: String },
    /// Weather of a record's days.
    Record { record: String },
    /// How worn a battery later outages meet.
    Felt { law: &'static str },
    /// Panels are out and unshaded all the time.
    PanelsUnshaded,
    /// Where the station is kept between outages, and what that does to its cells \[°C\].
    KeptAt { stands_c: Option<f64> },
    /// At which charge a battery keeps best.
    Storing { kinder_at_85: f64, kinder_at_80: f64, kinder_at_50: f64 },
    /// A law that is known from memory.
    LawFromMemory,
    /// How fast the wall charges.
    WallRate { share_an_hour: f64 },
    /// Storm warnings that come to nothing.
    NoFalseWarnings,
    /// How everyday loads run.
    EverydayLoads,
}

impl Words for Note {
    fn words(&self) -> String {
        match self {
            Note::Outages { a_year, in_the_darkest_days, longest_days } => format!(
                "Outages: {a_year:.1} a year by chance, {} of them with the darkest days of their month; one that begins while \
                 another lasts prolongs it; none is longer than {longest_days:.0} days.",
                percent(*in_the_darkest_days)
            ),
            Note::Cuts => {
                "The cuts come back week after week, all year and for all years; outages by chance are not followed beside \
                 them. Each week counts as ridden through where nothing vital was missed in it. Every cut's discharge and the charge after it \
                 are counted as cycles like any other; the mains charges with what the wall charger and the mains' limit give, and is paid \
                 at the price outside cheap hours."
                    .into()
            }
            Note::LengthenedTo { hours_h } => {
                format!("Each outage is simulated as {} h, in whole steps.", (hours_h * 100.0).round() / 100.0)
            }
            Note::OwnRecord => {
                "How often and how long is learnt from your own record; how little a short record tells is counted.".into()
            }
            Note::Weather { place, source } => {
                format!("Weather at {}: {}.", place.trim_end_matches('.'), source.trim_end_matches('.')).replace(": .", ".")
            }
            Note::Record { record } => format!("Weather: real days from the record {record}."),
            Note::Felt { law } => match *law {
                "worst" => {
                    "Later outages meet a battery as worn as the harshest law says at that moment: the laws are of single \
                     cells or sayings of the trade, and a rosy one would help nobody."
                }
                "published" => "Later outages meet a battery as worn as the harshest published law says.",
                _ => "Later outages meet a battery as worn as the trade rule says, which is blind to standing still.",
            }
            .into(),
            Note::PanelsUnshaded => "Panels are taken to stand out unshaded and swept of snow on every day of all years; if that does not \
                hold, less is ridden through than this says."
                .into(),
            Note::KeptAt { stands_c: Some(c) } => format!(
                "Between outages the station is taken to be kept at {c:.0} °C. Warmer cells wear faster: in a hot store it lasts \
                 less long than this says."
            ),
            Note::KeptAt { stands_c: None } => "Between outages the station is taken to stand outdoors, its cells as warm as the air of \
                the day; under a hot roof or in the sun it lasts less long than this says."
                .into(),
            Note::Storing { kinder_at_85, kinder_at_80, kinder_at_50 } => format!(
                "The trade stores at 80 to 85 % (common practice, no source). The published law agrees that this beats full, \
                 by {} to {} of the loss, and disagrees that it is best: half full loses {} less than full.",
                percent(*kinder_at_85),
                percent(*kinder_at_80),
                percent(*kinder_at_50)
            ),
            Note::LawFromMemory => {
                "The published law of wear for NMC cells is from memory of its paper (Schmalstieg et al. 2014): take its years \
                 as an order of magnitude."
                    .into()
            }
            Note::WallRate { share_an_hour } => format!(
                "Where nothing else is said, the wall charges {} of the label in an hour (typical; no source).",
                percent(*share_an_hour)
            ),
            Note::NoFalseWarnings => {
                "Storm warnings that come to nothing are not simulated; each would keep the battery full for some weeks more. A \
                 battery above its resting charge is not drawn down, it loses a little by itself."
                    .into()
            }
            Note::EverydayLoads => {
                "Everyday loads run at their mean; a load that asks for more than the battery gives is back on the wall at once."
                    .into()
            }
        }
    }
}

/// What the answer rests on.
#[must_use]
pub fn notes(scenario: &Scenario, plan: &YearsPlan, sky: &Sky) -> Vec<Note> {
    let mut notes = vec![if plan.cuts {
        Note::Cuts
    } else {
        Note::Outages {
            a_year: plan.arrivals.mean_a_year(),
            in_the_darkest_days: plan.arrivals.in_bad_weather,
            longest_days: LONGEST_OUTAGE_H / 24.0,
        }
    }];
    if let (false, Length::Fixed(hours)) = (plan.cuts, plan.arrivals.length)
        && let Some(hours_h) = lengthened_to_h(hours, plan.clock.step_h)
    {
        notes.push(Note::LengthenedTo { hours_h });
    }
    let years = scenario.years.as_ref();
    if let Some(Arrivals::History { .. }) = years.map(|years| &years.outages.arrivals) {
        notes.push(Note::OwnRecord);
    }
    notes.push(match sky {
        Sky::Climate(climate) => Note::Weather { place: climate.name.clone(), source: climate.source.clone() },
        Sky::Record(record, _) => Note::Record { record: record.name().to_string() },
    });
    if scenario.panels.iter().any(|panel| panel.shade.is_empty()) {
        notes.push(Note::PanelsUnshaded);
    }
    let kept = plan.strategies.iter().map(|strategy| match strategy.rules.stored_at {
        StoredAt::Steady(cells) => Some(cells.0),
        StoredAt::Outside => None,
    });
    for stands_c in kept {
        let note = Note::KeptAt { stands_c };
        if !notes.contains(&note) {
            notes.push(note);
        }
    }
    notes.push(Note::Felt { law: felt(plan.felt) });
    notes.push(if scenario.station.chemistry == Chemistry::Lfp {
        let loss = lfp::calendar::loss_per_root_second;
        let [kinder_at_85, kinder_at_80, kinder_at_50] = [0.85, 0.80, 0.5].map(|charge| 1.0 - loss(charge) / loss(1.0));
        Note::Storing { kinder_at_85, kinder_at_80, kinder_at_50 }
    } else {
        Note::LawFromMemory
    });
    if years.is_some_and(|years| years.strategies.iter().any(|s| s.charge_with.is_none())) {
        notes.push(Note::WallRate { share_an_hour: TYPICAL_CHARGE_RATE_PER_H });
    }
    notes.extend([Note::NoFalseWarnings, Note::EverydayLoads]);
    notes
}
