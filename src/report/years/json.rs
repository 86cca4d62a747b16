//! The answer of `years` as JSON: our own stable schema.

use serde::Serialize;

use super::{Note, felt, headline, middle};
use crate::report::place::Whereabouts;
use crate::report::told::{self, Told};
use crate::report::verdict;
use crate::scenario::Scenario;
use crate::study::years::YearsAnswer;
use crate::study::years::answer::Spread;
use crate::study::years::tally::Share;

/// The answer.
#[derive(Debug, Serialize)]
pub struct Answer<'a> {
    title: &'a str,
    place: Told<Whereabouts>,
    seed: u64,
    histories: u64,
    years: usize,
    /// What is ridden through: outages, or weeks of cuts that come back.
    counted: &'static str,
    outages_a_year: f64,
    currency: &'a Option<String>,
    choice: &'a str,
    /// How far the outages can be relied on that the choice rides through; null where there was none.
    verdict: Option<verdict::Json>,
    /// The law of wear that outages feel, and that `years_to_80_percent`, `years_more_than_first` and `cost_a_kwh` go by.
    felt: &'static str,
    /// Whether the run was stopped before the histories asked for were done.
    stopped_early: bool,
    /// The decision in words.
    text: String,
    strategies: Vec<Strategy<'a>>,
    notes: Vec<Told<&'a Note>>,
}

#[derive(Debug, Serialize)]
struct Strategy<'a> {
    name: &'a str,
    verdict: Option<verdict::Json>,
    rode: Rode,
    rode_first_years: Rode,
    rode_last_years: Rode,
    rode_by_year: Vec<Rode>,
    rode_by_month: Vec<Rode>,
    charge_by_month: [f64; 12],
    more_than_first: Difference,
    years_to_80_percent: Years,
    years_more_than_first: f64,
    years_middle_law: f64,
    laws: Vec<Law<'a>>,
    outage_wh_a_year: f64,
    daily_wh_a_year: f64,
    wall_wh_a_year: f64,
    full_cycles_a_year: f64,
    money_a_year: Option<f64>,
    cost_a_kwh: Option<f64>,
    on_the_frontier: bool,
}

/// A share of outages; `probability` is null where there was none.
#[derive(Debug, Serialize)]
struct Rode {
    probability: f64,
    low: f64,
    high: f64,
    chance_low: f64,
    chance_high: f64,
    outages: u64,
}

impl From<&Share> for Rode {
    fn from(share: &Share) -> Rode {
        Rode {
            probability: share.probability,
            low: share.interval.low,
            high: share.interval.high,
            chance_low: share.chance.low,
            chance_high: share.chance.high,
            outages: share.outages,
        }
    }
}

#[derive(Debug, Serialize)]
struct Difference {
    probability: f64,
    low: f64,
    high: f64,
}

#[derive(Debug, Serialize)]
struct Years {
    mean: f64,
    p10: f64,
    p90: f64,
    /// Nothing is foretold beyond this.
    at_most: bool,
}

impl From<&Spread> for Years {
    fn from(years: &Spread) -> Years {
        Years { mean: years.mean, p10: years.p10, p90: years.p90, at_most: YearsAnswer::beyond_telling(years.mean) }
    }
}

#[derive(Debug, Serialize)]
struct Law<'a> {
    name: &'a str,
    years_to_80_percent: Years,
    lost_at_the_end: f64,
}

/// The answer for the schema.
#[must_use]
pub fn of<'a>(scenario: &'a Scenario, answer: &'a YearsAnswer, notes: &'a [Note]) -> Answer<'a> {
    let verdict =
        |rode: &Share| answer.verdict(rode).map(|verdict| verdict::Json::from(verdict).taking(answer.stakes.fuel));
    let strategies = answer
        .strategies
        .iter()
        .map(|s| Strategy {
            name: &s.name,
            verdict: verdict(&s.rode),
            rode: (&s.rode).into(),
            rode_first_years: (&s.rode_first).into(),
            rode_last_years: (&s.rode_last).into(),
            rode_by_year: s.by_year.iter().map(Rode::from).collect(),
            rode_by_month: s.by_month.iter().map(Rode::from).collect(),
            charge_by_month: s.charge_by_month,
            more_than_first: Difference {
                probability: s.more_than_first.0,
                low: s.more_than_first.1.low,
                high: s.more_than_first.1.high,
            },
            years_to_80_percent: (&s.years).into(),
            years_more_than_first: s.years_more_than_first,
            years_middle_law: middle(s),
            laws: answer
                .models
                .iter()
                .zip(s.years_by_model.iter().zip(&s.lost_by_model))
                .map(|(name, (years, &lost))| Law { name, years_to_80_percent: years.into(), lost_at_the_end: lost })
                .collect(),
            outage_wh_a_year: s.outage_wh_a_year,
            daily_wh_a_year: s.daily_wh_a_year,
            wall_wh_a_year: s.wall_wh_a_year,
            full_cycles_a_year: s.full_cycles_a_year,
            money_a_year: s.money_a_year,
            cost_a_kwh: s.cost_a_kwh,
            on_the_frontier: s.on_the_frontier,
        })
        .collect();
    Answer {
        title: &scenario.title,
        place: Whereabouts::of(&scenario.site).into(),
        seed: answer.settings.seed,
        histories: answer.histories,
        years: answer.settings.years,
        counted: if answer.cuts { "weeks_of_cuts" } else { "outages" },
        outages_a_year: answer.outages_a_year,
        currency: &answer.currency,
        choice: answer.strategies.get(answer.choice).map_or("", |s| s.name.as_str()),
        verdict: answer.strategies.get(answer.choice).and_then(|s| verdict(&s.rode)),
        felt: felt(answer.felt),
        stopped_early: answer.stopped_early(),
        text: headline(answer),
        strategies,
        notes: told::all(notes),
    }
}
