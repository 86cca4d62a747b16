//! The answer of `years` as a document.

mod figures;
pub mod json;
mod notes;
pub mod table;

use super::cautions;
use super::document::{Column, Document, Table};
use super::told::Words;
use super::verdict::{MEDICAL_CAUTION, with_fuel, word};
use super::words::{self, hundredths, stopped, thousands};
use crate::ageing::Model;
use crate::calendar::MONTHS;
use crate::scenario::model::Scenario;
use crate::scenario::years::WearModel;
use crate::study::years::tally::Share;
use crate::study::years::{StrategyAnswer, YearsAnswer};
use crate::visible::begun;
pub use notes::{Note, notes};

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
    if answer.stakes.overloaded {
        out.caution(
            "Something vital is more than an outlet of this station gives, so nothing here is to be counted on: the answer for one outage \
             names it, and says what to do.",
        );
    }
    if answer.stakes.medical {
        out.caution(MEDICAL_CAUTION);
    }
    let many = counted(answer);
    let law = law(answer);
    if let Some((first, others)) = answer.strategies.split_first().filter(|(_, others)| !others.is_empty()) {
        out.head(format!("Against \"{}\", on the same {many}", first.name));
        out.list(others.iter().map(|other| against_first(answer, other)));
    }
    out.head(format!("Readiness and wear in {} years", answer.settings.years)).table(readiness(answer)).say(format!(
        "Of 100 {many}, ridden through, with the 95 % range of chance and of what is not known of kit and climate; all of it \
         with a battery as worn as {law} says. Years until a fifth of the capacity is gone are those of the middle law of wear, in brackets \
         from the law that gives fewest to the one that gives most; * marks the ways that no other one beats both in these {many} and in years by {law}."
    ));
    out.figure(figures::frontier(answer));
    out.head("Years until a fifth of the capacity is gone, by law of wear")
        .table(laws(answer))
        .say(format!("{} {}", disagreement(answer), law_sources(answer)).trim());
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

/// What is ridden through or not: outages, or the weeks of cuts where it is those that are counted.
fn counted(answer: &YearsAnswer) -> &'static str {
    if answer.cuts { "weeks of cuts" } else { "outages" }
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
    let many = counted(answer);
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
         histories of {} years, it lasts longest by {} of those that ride through the most {many}, or at most 1 of 200 \
         fewer.{money}",
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
    let many = counted(answer);
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
            format!("{}{}", strategy.name, if strategy.on_the_frontier { " *" } else { "" }),
            answer.verdict(&strategy.rode).map_or("-", word).to_string(),
            of_hundred(&strategy.rode),
            of_hundred(&strategy.rode_first),
            of_hundred(&strategy.rode_last),
            spread_words(strategy),
        ]
    };
    let columns = [
        Column::left("way"),
        Column::left("verdict"),
        Column::right("rides through"),
        Column::right(format!("first {} years", answer.stretch)),
        Column::right(format!("last {} years", answer.stretch)),
        Column::right("years to 80 %, by law"),
    ];
    Table::new(columns).rows(answer.strategies.iter().map(row))
}

fn laws(answer: &YearsAnswer) -> Table {
    let row = |strategy: &StrategyAnswer| {
        let years = strategy.years_by_model.iter().map(|years| years_words(years.mean));
        std::iter::once(strategy.name.clone()).chain(years).collect::<Vec<_>>()
    };
    let columns = law_names(answer).into_iter().map(Column::right);
    Table::new(std::iter::once(Column::left("way")).chain(columns)).rows(answer.strategies.iter().map(row))
}

/// Whether a law of wear rests on a paper.
fn of_a_laboratory(model: &str) -> bool {
    model != Model::TradeRule.name()
}

/// The laws of wear by what an owner calls them: "laboratory law A", "trade rule".
fn law_names(answer: &YearsAnswer) -> Vec<String> {
    let published = answer.models.iter().filter(|model| of_a_laboratory(model)).count();
    let name = |(k, model): (usize, &&str)| match (of_a_laboratory(model), published) {
        (false, _) => (*model).to_string(),
        (true, 1) => "laboratory law".into(),
        (true, _) => format!("laboratory law {}", char::from(b'A' + k as u8)),
    };
    answer.models.iter().enumerate().map(name).collect()
}

/// Whose each law of a laboratory is.
fn law_sources(answer: &YearsAnswer) -> String {
    let named = law_names(answer).into_iter().zip(&answer.models).filter(|(_, model)| of_a_laboratory(model));
    let named: Vec<String> = named.map(|(name, model)| format!("{name}: {model}")).collect();
    if named.is_empty() { String::new() } else { format!("{}.", begun(&named.join("; "))) }
}

/// The fewest and the most years that any law gives.
fn spread(strategy: &StrategyAnswer) -> (f64, f64) {
    let years = || strategy.years_by_model.iter().map(|years| years.mean);
    (years().fold(f64::INFINITY, f64::min), years().fold(0.0, f64::max))
}

/// Years by the middle one of the laws, or, of an even number, by the lower of the two in the middle.
fn middle(strategy: &StrategyAnswer) -> f64 {
    let mut years: Vec<f64> = strategy.years_by_model.iter().map(|years| years.mean).collect();
    years.sort_by(f64::total_cmp);
    years.get(years.len().saturating_sub(1) / 2).copied().unwrap_or(0.0)
}

/// Years by the laws, the middle one first: "17.9 (17.7 to over 40)".
fn spread_words(strategy: &StrategyAnswer) -> String {
    let (low, high) = spread(strategy);
    let (low, high) = (years_words(low), years_words(high));
    if low == high { low } else { format!("{} ({low} to {high})", years_words(middle(strategy))) }
}

/// What to expect: "about 17.9 years (17.7 to over 40, by the law of wear)".
fn years_told(strategy: &StrategyAnswer) -> String {
    let (low, high) = spread(strategy);
    let (low, middle, high) = (years_words(low), years_words(middle(strategy)), years_words(high));
    let about = if middle.starts_with("over") { "" } else { "about " };
    match low == high {
        true => format!("{about}{middle} years"),
        false => format!("{about}{middle} years ({low} to {high}, by the law of wear)"),
    }
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
        "The laws disagree most on \"{}\": {} or {} years. Laws of laboratories are published, count standing still and come \
         from single cells; the trade rule counts cycles alone and speaks of whole stations. Years beyond those simulated go on \
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
        let money =
            [s.money_a_year.map_or("-".into(), saved), s.cost_a_kwh.map_or("-".into(), |cost| format!("{cost:.2}"))];
        let money = money.into_iter().filter(|_| answer.currency.is_some());
        std::iter::once(s.name.clone()).chain(energy).chain(money).collect::<Vec<_>>()
    };
    let heads = ["kWh in outages", "kWh on other days", "kWh from the wall", "full cycles"].map(String::from);
    let money = |currency: &String| [format!("{currency} a year"), format!("{currency} a kWh, all in")];
    let columns = heads.into_iter().chain(answer.currency.iter().flat_map(money)).map(Column::right);
    Table::new(std::iter::once(Column::left("way")).chain(columns)).rows(answer.strategies.iter().map(row))
}

/// What a year saves, or costs at the wall, in whole units of money.
fn saved(money: f64) -> String {
    match money.round() {
        0.0 => "0".into(),
        paid if paid < 0.0 => format!("costs {:.0}", -paid),
        saves => format!("saves {saves:.0}"),
    }
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
        "Each month had at least {} {}, all histories together; the widest 95 % interval of a cell spans {:.0} of 100.",
        thousands(fewest),
        counted(answer),
        (100.0 * widest).ceil()
    )
}
