//! What an answer takes for granted where the scenario says nothing, and what it hangs on that: the same trials with the
//! assumption turned to the worse.

use serde::Serialize;

use super::Opened;
use crate::engine::Plan;
use crate::scenario::model::{Aim, Stands, Variant};
use crate::scenario::variant::from_words;
use crate::study::compare::Pair;
use crate::trials::run::run_part;
use crate::trials::{Settings, Tally};

/// Something that is assumed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Assumption {
    /// Panels are out and unshaded from sunrise to sunset; turned: shaded from early afternoon on.
    PanelsInTheSun,
    /// The station's room stays warm; turned: it cools to 5 °C.
    RoomStaysWarm,
    /// The charge that the station shows is exact; turned: there are ten points less.
    ChargeAsShown,
}

/// An assumption and its weight.
#[derive(Debug, Clone, PartialEq)]
pub struct Assumed {
    /// What.
    pub what: Assumption,
    /// The kit with it turned against the kit as it is.
    pub turned: Option<Pair>,
}

/// Trials for the weight of an assumption: a difference of 5 points is told from none.
const TRIALS: u64 = 2000;
/// A month whose mean air is colder than this makes a room's heating worth asking for \[°C\] (our choice).
const COLD_C: f64 = 12.0;

/// What any answer of a scenario takes for granted, however the battery is charged, and what turns it to the worse.
fn of_the_kit(opened: &Opened, plan: &Plan) -> Vec<(Assumption, Option<Variant>)> {
    let scenario = &opened.scenario;
    let mut found: Vec<(Assumption, Option<Variant>)> = Vec::new();
    let plain: Vec<usize> = scenario
        .panels
        .iter()
        .enumerate()
        .filter(|(_, panel)| panel.shade.is_empty() && panel.out.is_none() && !matches!(panel.aim, Aim::ByHand { .. }))
        .map(|(at, _)| at)
        .collect();
    if !plain.is_empty() {
        let shade = |at: &usize| format!("panel.{at}.shade=[{{ hours = \"14:00-24:00\", loses = \"90 %\" }}]");
        let words: Vec<String> = plain.iter().map(shade).collect();
        found.push((Assumption::PanelsInTheSun, from_words(&words.join("; ")).ok()));
    }
    let month = crate::study::fit::month(plan);
    let told = scenario.cooling_room().is_some();
    if !told && scenario.station.stands == Stands::Indoors && opened.air.means_c[month] < COLD_C {
        found.push((Assumption::RoomStaysWarm, from_words("station.stands=5 °C").ok()));
    }
    found
}

/// The same without its weight, where an answer is wanted at once.
///
/// * `plan` — that which is run.
#[must_use]
pub fn unweighed(opened: &Opened, plan: &Plan) -> Vec<Assumed> {
    of_the_kit(opened, plan).into_iter().map(|(what, _)| Assumed { what, turned: None }).collect()
}

/// What a scenario's answer takes for granted, weighed on the first trials of the same settings. Those that its kit cannot have
/// are left out.
///
/// * `as_it_is` — the same trials with nothing turned, where they have been run.
#[must_use]
pub fn assumed(opened: &Opened, settings: &Settings, as_it_is: Option<&Tally>) -> Vec<Assumed> {
    let scenario = &opened.scenario;
    let mut found = of_the_kit(opened, &opened.plan);
    let start = &scenario.outage.starts_charged;
    if start.plus_minus == 0.0 && 0.1 < start.value.0 {
        let less = 100.0 * (start.value.0 - 0.1);
        found.push((Assumption::ChargeAsShown, from_words(&format!("outage.starts_charged={less:.2} %")).ok()));
    }
    let turned: Vec<Option<Plan>> =
        found.iter().map(|(_, variant)| Some(opened.vary(variant.as_ref()?, "").ok()?.1)).collect();
    let trials = as_it_is.map_or(settings.trials, |tally| tally.trials).min(TRIALS);
    let first = as_it_is.is_none().then_some(&opened.plan);
    let plans: Vec<Plan> = first.into_iter().chain(turned.iter().flatten()).cloned().collect();
    let tallies = run_part(&plans, settings.seed, 0..trials);
    let mut weighed = tallies.iter();
    let Some(base) = as_it_is.or_else(|| weighed.next()) else { return Vec::new() };
    let pair = |turned: &Option<Plan>| {
        let other = turned.as_ref().and_then(|_| weighed.next())?;
        Some(Pair::of(base, other)).filter(|pair| pair.trials > 0)
    };
    let pairs: Vec<Option<Pair>> = turned.iter().map(pair).collect();
    found.into_iter().zip(pairs).map(|((what, _), turned)| Assumed { what, turned }).collect()
}
