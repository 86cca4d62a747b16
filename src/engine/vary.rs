//! A plan with one thing done otherwise, on the same season.

use std::sync::Arc;

use super::arrays::geometry;
use super::clock;
use super::cuts;
use super::feeds::FeedsPlan;
use super::fuel::{self, FuelPlan};
use super::plan::{Plan, PlanError};
use crate::scenario::model::{Generator, Panel, Scenario, Station};

impl Plan {
    /// With an array in another light: put out at other hours, or tilted otherwise. Its panels, its wiring and its random numbers
    /// stay.
    ///
    /// * `index` — its place among the scenario's panels; `panel` — how it is put up.
    ///
    /// # Errors
    /// A clock that is not known.
    pub fn with_light(&self, scenario: &Scenario, index: usize, panel: &Panel) -> Result<Plan, PlanError> {
        let mut plan = self.clone();
        let calendar = clock::calendar(scenario, (60.0 * self.season.step_h).round() as u32)?;
        if let Some(old) = plan.arrays.get_mut(index) {
            old.geometry =
                Arc::new(geometry(panel, scenario.site.ground_reflection.0, &calendar, &self.season.weather));
        }
        Ok(plan)
    }

    /// With the generator run at other hours.
    #[must_use]
    pub fn with_generator(&self, generator: &Generator, station: &Station) -> Plan {
        let mut runs = fuel::runs(generator, &self.home);
        cuts::rest_generator(&self.mains, &self.parted, self.varying.as_ref(), &mut runs);
        let mut watts = fuel::wall_w(generator, station, &runs);
        // Between cuts the mains charges as before.
        for (at, watts) in
            watts.iter_mut().enumerate().filter(|(at, _)| self.on_mains(*at) || !self.parts(*at).is_empty())
        {
            *watts = self.wall_w[at];
        }
        let (fuel, feeds) = (FuelPlan::new(generator, &runs), FeedsPlan::new(generator, station, &runs));
        let mut plan = Plan { wall_w: watts, fuel, feeds, ..self.clone() };
        plan.kit.fuelled(plan.fuel.as_ref());
        plan.mind_the_generator();
        plan
    }

    /// With somebody there to start a generator at a time of day at which nobody is by the scenario's hours. An AC outlet waits
    /// for these as before.
    ///
    /// * `minute_of_day` — minutes after midnight.
    #[must_use]
    pub fn with_a_hand_at(&self, minute_of_day: u16) -> Plan {
        let mut plan = self.clone();
        let at = usize::from(minute_of_day) * plan.home.len() / 1440;
        if let Some(there) = plan.home.get_mut(at) {
            *there = true;
        }
        plan
    }

    /// Hours a day that a generator runs, if it has fuel: from when somebody is there to start it.
    #[must_use]
    pub fn generator_runs_h(&self, generator: &Generator) -> f64 {
        fuel::runs(generator, &self.home).iter().sum::<f64>() * self.season.step_h
    }
}
