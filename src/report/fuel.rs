//! A generator's fuel: what a mean outage burns and what the most is, the same in a run, in its JSON and on the card.

use super::words::{duration, energy};
use crate::engine::Plan;
use crate::engine::ledger::Flow;
use crate::scenario::model::Scenario;
use crate::study::fuel::{FuelTaken, days, most_a_day_l};
use crate::trials::tally::Tally;

/// Fuel of a generator.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fuel {
    /// What the generator gives in a mean outage \[Wh\].
    given_wh: f64,
    /// Of that, straight to AC loads; `None` where it charges the station alone.
    pub direct_wh: Option<f64>,
    /// Burned in a mean outage \[L\]; `None` where its thirst is not known.
    pub mean_l: Option<f64>,
    /// Burned if it gives all that the charger takes in its hours, a day \[L\]; `None` where its thirst is not known.
    most_a_day_l: Option<f64>,
    /// Days of an outage that fuel is held ready for, 1 or more.
    days: f64,
    /// On hand \[L\]; `None` where its fuel never ends.
    on_hand_l: Option<f64>,
}

impl Fuel {
    /// Of a scenario's generator; `None` where there is none, or where the mains adds to what it gives between cuts.
    #[must_use]
    pub fn of(scenario: &Scenario, plan: &Plan, tally: &Tally) -> Option<Fuel> {
        let generator = scenario.generator.as_ref().filter(|_| plan.mains.is_empty() && tally.trials > 0)?;
        let n = tally.trials as f64;
        let runs_h = plan.generator_runs_h(generator);
        let given_wh = tally.ledger[Flow::Wall] / n;
        let mean_l = match &plan.fuel {
            Some(_) => Some(tally.cuts.burnt_l / n),
            None => generator.burns_l(given_wh, runs_h * tally.hours / n / 24.0),
        };
        Some(Fuel {
            given_wh,
            direct_wh: plan.feeding().map(|_| tally.cuts.direct_wh / n),
            mean_l,
            most_a_day_l: most_a_day_l(scenario, plan).filter(|litres| *litres > 0.0),
            days: days(scenario),
            on_hand_l: generator.fuel.map(|litres| litres.0),
        })
    }

    /// Burned in an outage that is as long as 19 of 20 at most if it gives all that the charger takes in its hours \[L\].
    #[must_use]
    pub fn most_l(&self) -> Option<f64> {
        self.most_a_day_l.map(|litres| litres * self.days)
    }

    /// What a mean outage burns, and the most.
    #[must_use]
    pub fn words(&self) -> String {
        let straight = |wh: f64| format!(", {} of it straight to the AC loads,", energy(wh));
        let given = format!(
            "In a mean outage the generator gives {}{}",
            energy(self.given_wh),
            self.direct_wh.map_or(String::new(), straight)
        );
        let Some(mean_l) = self.mean_l else { return format!("{}.", given.trim_end_matches(',')) };
        let of = self.on_hand_l.map_or(String::new(), |litres| format!(" of the {litres:.1} L on hand"));
        let burns = format!("{given} and burns {}{of}.", told_l(mean_l));
        match self.to_have() {
            Some(most) => format!("{burns} {most}"),
            None => burns,
        }
    }

    /// What to hold ready, for the card: steps of their own.
    #[must_use]
    pub fn steps(&self) -> Vec<String> {
        let Some(most) = self.to_have() else {
            return vec!["Fuel to have: measure what the generator burns in an hour under this load.".into()];
        };
        let on_hand = self.on_hand_l.map(|litres| format!("Fuel on hand as this was reckoned: {litres:.1} L."));
        let mean = self.mean_l.map_or(String::new(), |litres| format!(" A mean outage here burns {}.", told_l(litres)));
        on_hand.into_iter().chain([format!("{most}{mean}")]).collect()
    }

    /// The most that it can burn.
    fn to_have(self) -> Option<String> {
        let (a_day, most) = (self.most_a_day_l?, self.most_l()?);
        let short = match self.on_hand_l {
            Some(on_hand) if on_hand < most => format!("; the {on_hand:.1} L on hand may end before"),
            _ => String::new(),
        };
        let and_loads = self.direct_wh.map_or("", |_| " and the AC loads run");
        Some(format!(
            "Fuel to have: {} for {} ({} a day), if the charger takes all that it can{and_loads} in those \
             hours{short}; at part load a generator may burn more for each kWh than is written.",
            litres(most),
            duration(24.0 * self.days),
            told_l(a_day)
        ))
    }
}

/// What a generator burns that runs longer every day, and whether that is on hand; nothing where its thirst is not known.
///
/// * `longer_h` — how much longer it runs a day \[h\].
#[must_use]
pub fn longer(scenario: &Scenario, plan: &Plan, longer_h: f64) -> String {
    let Some((generator, charger)) = scenario.generator.as_ref().zip(scenario.station.wall_charger) else {
        return String::new();
    };
    let watts = plan.generator_most_w(generator, &charger);
    let runs_h = plan.generator_runs_h(generator);
    let burns = |hours: f64| generator.burns_at_most_l(watts * hours, hours);
    let (Some(more_l), Some(a_day_l)) = (burns(longer_h), burns(runs_h + longer_h)) else { return String::new() };
    let days = days(scenario);
    let all_l = days * a_day_l;
    let on_hand = match generator.fuel.map(|litres| litres.0) {
        Some(on_hand) if on_hand < all_l => {
            format!(
                "; the {on_hand:.1} L on hand last for {} of that, and the figure counts that they end",
                duration(24.0 * on_hand / a_day_l)
            )
        }
        Some(on_hand) => format!("; {on_hand:.1} L are on hand"),
        None => "; how much is on hand is not said, and the figure takes it never to end".into(),
    };
    format!(
        "{} longer the generator burns at most {} more a day, {} in {} in all{on_hand}.",
        if longer_h == 1.0 { "An hour".into() } else { duration(longer_h) },
        told_l(more_l),
        told_l(all_l),
        duration(24.0 * days)
    )
}

/// So many litres, rounded up to a tenth, of less than one to a hundredth: what is held ready is never told as less than it takes.
#[must_use]
pub fn litres(most_l: f64) -> String {
    match most_l {
        little if little < 1.0 => format!("{:.2} L", (100.0 * little - 1e-9).ceil() / 100.0),
        most => format!("{:.1} L", (10.0 * most - 1e-9).ceil() / 10.0),
    }
}

/// So many litres to a tenth, of less than one to a hundredth.
fn told_l(litres: f64) -> String {
    if litres < 1.0 { format!("{litres:.2} L") } else { format!("{litres:.1} L") }
}

/// What figures take of a generator's fuel that nobody told, in a sentence beside a table; nothing where they take nothing.
///
/// * `taken` — of each row.
#[must_use]
pub fn beside_figures(taken: impl Iterator<Item = FuelTaken>) -> String {
    let (mut most, mut unmeasured, mut any) = (0.0_f64, false, false);
    for fuel in taken {
        any |= fuel.rests_on_generator();
        match fuel {
            FuelTaken::NoGenerator | FuelTaken::Told => {}
            FuelTaken::UpTo { most_l } => most = most.max(most_l),
            FuelTaken::Unmeasured => unmeasured = true,
        }
    }
    match (most > 0.0, unmeasured) {
        (_, true) => "Fuel is taken never to end, and nobody has said what the generator burns: no verdict is better than likely, and a \
                      good one holds if the generator starts. Say how much fuel there is, and what it burns."
            .into(),
        (true, false) => format!(
            "Fuel is taken never to end: good verdicts hold if the generator starts and up to {} of fuel are at hand for it.",
            litres(most)
        ),
        (false, false) if any => "Good verdicts hold if the generator starts and the fuel is at hand.".into(),
        (false, false) => String::new(),
    }
}
