//! A generator's fuel: what is burned at most, and whether an answer takes it never to end.

use crate::engine::Plan;
use crate::engine::plan::LONGEST_OUTAGE_H;
use crate::scenario::model::Scenario;

/// Whether an answer rests on a generator, and what it takes of its fuel without having been told.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum FuelTaken {
    /// No generator runs.
    #[default]
    NoGenerator,
    /// One runs, and it is told how much fuel there is.
    Told,
    /// That it never ends, where this much is the most that is burned.
    UpTo {
        /// Volume \[L\], above 0.
        most_l: f64,
    },
    /// That it never ends, and nobody knows what the generator burns.
    Unmeasured,
}

impl FuelTaken {
    /// Of a scenario's outage, as long as 19 of 20 of them are at most.
    #[must_use]
    pub fn of(scenario: &Scenario, plan: &Plan) -> FuelTaken {
        let runs = scenario.generator.as_ref().filter(|generator| plan.generator_runs_h(generator) > 0.0);
        match runs {
            Some(generator) if generator.fuel.is_none() => {
                FuelTaken::burning(most_a_day_l(scenario, plan).map(|litres| litres * days(scenario)))
            }
            Some(_) => FuelTaken::Told,
            None => FuelTaken::NoGenerator,
        }
    }

    /// Whether a generator has to start for it.
    #[must_use]
    pub fn rests_on_generator(self) -> bool {
        self != FuelTaken::NoGenerator
    }

    /// Of a generator that runs, whose fuel nobody told.
    ///
    /// * `most_l` — the most that it burns \[L\]; `None` where its thirst is not known.
    #[must_use]
    pub fn burning(most_l: Option<f64>) -> FuelTaken {
        match most_l {
            Some(most_l) if most_l > 0.0 => FuelTaken::UpTo { most_l },
            Some(_) => FuelTaken::Told,
            None => FuelTaken::Unmeasured,
        }
    }
}

/// Days of an outage that fuel is held ready for: as long as 19 of 20 are at most, 1 or more.
#[must_use]
pub fn days(scenario: &Scenario) -> f64 {
    (scenario.outage.lasts.nineteen_of_twenty().0.min(LONGEST_OUTAGE_H) / 24.0).max(1.0)
}

/// Burned in a day, by the upper ends of its thirst, if the generator gives all that its charger, and loads that run on it, take in its hours \[L\]; `None` where there
/// is no generator with a charger, or its thirst is not known.
#[must_use]
pub fn most_a_day_l(scenario: &Scenario, plan: &Plan) -> Option<f64> {
    let (generator, charger) = scenario.generator.as_ref().zip(scenario.station.wall_charger)?;
    let runs_h = plan.generator_runs_h(generator);
    let to_charger_wh = generator.feeds_w(&charger) * runs_h;
    generator.burns_at_most_l(plan.feeding().map_or(to_charger_wh, |feeds| feeds.most(plan.season.step_h).0), runs_h)
}
