//! Devices that a person's health hangs on, by themselves.

use super::endurance::{Runtime, at_least_h, runtime, runtime_begun};
use super::fuel::FuelTaken;
use super::outage::OutageAnswer;
use crate::engine::Plan;
use crate::scenario::model::Scenario;
use crate::trials::run::Progress;
use crate::trials::unknowns::{Survival, survivals};
use crate::trials::{Settings, run};

/// Longest run by itself that is looked for \[h\].
pub const LONGEST_H: f64 = 14.0 * 24.0;

/// How long devices run by themselves without sun, wall or generator, all else unplugged.
#[derive(Debug, Clone, PartialEq)]
pub struct DeviceHours {
    /// Names of the devices.
    pub devices: Vec<String>,
    /// From this state of charge, 0 to 1.
    pub charge: f64,
    /// By best estimates, from the hour at which it begins, or from that of the day at which it is shortest \[h\].
    pub runs_h: f64,
    /// Lower end of the 95 % range of that, no longer than it: see [`at_least_h`] \[h\].
    pub at_least_h: f64,
    /// Whether there is a generator, which these hours do without.
    pub has_generator: bool,
    /// When they are used, where that is for one stretch of every day, alike, and the hours are counted from its beginning on.
    pub used: Option<DailyUse>,
}

/// A stretch of every day at which something is used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DailyUse {
    /// Its first step.
    pub from: usize,
    /// Its steps.
    pub steps: usize,
    /// Steps of a day.
    pub steps_a_day: usize,
}

impl DailyUse {
    /// Of some loads that are used alike every day, and never all day; `None` of others.
    fn of(plan: &Plan, picked: &dyn Fn(usize) -> bool) -> Option<DailyUse> {
        let steps_a_day = plan.season.steps_a_day;
        let mut found: Option<DailyUse> = None;
        for (_, load) in plan.loads.iter().enumerate().filter(|(k, _)| picked(*k)) {
            let [(from, steps)] = load.used()?[..] else { return None };
            let used = DailyUse { from, steps, steps_a_day };
            if found.is_some_and(|other| other != used) {
                return None;
            }
            found = Some(used);
        }
        found
    }

    /// How many whole stretches so many hours hold that begin with one, and whether they hold a part of another.
    #[must_use]
    pub fn whole(&self, hours_h: f64) -> (u64, bool) {
        let step_h = 24.0 / self.steps_a_day as f64;
        let rests_h = step_h * (self.steps_a_day - self.steps) as f64;
        let whole = ((hours_h + rests_h + 1e-9) / 24.0).floor();
        (whole as u64, hours_h > 24.0 * whole + 0.5 * step_h)
    }

    /// Whether it goes on past midnight.
    #[must_use]
    pub fn by_night(&self) -> bool {
        self.from + self.steps > self.steps_a_day
    }
}

impl DeviceHours {
    /// Of a scenario; `None` where no person's health hangs on a load.
    ///
    /// * `plan` — without mains between cuts; `cells_c` — temperature of the cells \[°C\]; `charge` — state of charge at first and
    ///   the least that it may be where a display is off, 0 to 1; `begins` — step of the week at which it begins, where that is known;
    ///   `seed` — of the trials.
    #[must_use]
    pub fn of(
        scenario: &Scenario,
        plan: &Plan,
        cells_c: f64,
        (charge, least): (f64, f64),
        begins: Option<usize>,
        seed: u64,
    ) -> Option<DeviceHours> {
        let picked = |k: usize| medical(scenario, k);
        let devices: Vec<String> = names(plan, &picked);
        if devices.is_empty() {
            return None;
        }
        let of = |charge: f64| match begins {
            Some(step) => runtime_begun(plan, cells_c, charge, &picked, step),
            None => runtime(plan, cells_c, charge, &picked),
        };
        let best = of(charge);
        let from: Runtime = if least < charge { of(least) } else { best };
        let at_least = at_least_h(plan, cells_c, &picked, &[(least, from)], (seed, LONGEST_H + 1.0));
        let (at_least_h, has_generator) = (at_least.first().copied()?, scenario.generator.is_some());
        // Told by their use where none of its other hours to begin at is worse.
        let begun = |used: &DailyUse| runtime_begun(plan, cells_c, charge, &picked, used.from).shortest_h;
        let used = DailyUse::of(plan, &picked)
            .filter(|used| begins.is_none() && begun(used) - best.shortest_h < 24.0 / used.steps_a_day as f64 + 1e-9);
        Some(DeviceHours { devices, charge, runs_h: best.shortest_h, at_least_h, has_generator, used })
    }
}

/// Devices beside all else and by themselves, on the same trials.
#[derive(Debug, Clone, PartialEq)]
pub struct DeviceAlone {
    /// Names of the devices.
    pub devices: Vec<String>,
    /// Names of the other vital loads.
    pub vital: Vec<String>,
    /// Names of the loads that are neither.
    pub others: Vec<String>,
    /// In how many outages the devices stay on where everything else is off from the first hour.
    pub alone: Survival,
    /// The same as the plan stands, as [`OutageAnswer::kept_on`] has it; of several devices the one that stays on least often.
    pub planned: Survival,
    /// What the first gains over the second, as a share of the trials.
    pub gains: f64,
    /// What both take of a generator's fuel.
    pub fuel: FuelTaken,
}

impl DeviceAlone {
    /// What it does to the devices to switch off everything else; `None` where there are none, or nothing beside them.
    ///
    /// * `answer` — of the plan as it stands, with the same settings.
    #[must_use]
    pub fn of(
        scenario: &Scenario,
        plan: &Plan,
        answer: &OutageAnswer,
        settings: &Settings,
        progress: &dyn Progress,
    ) -> Option<DeviceAlone> {
        let device = |k: usize| medical(scenario, k);
        let devices = names(plan, &device);
        let vital = names(plan, &|k| !device(k) && plan.loads[k].class == 0);
        let others = names(plan, &|k| !device(k) && plan.loads[k].class > 0);
        if devices.is_empty() || (vital.is_empty() && others.is_empty()) {
            return None;
        }
        let mut only = plan.keeping(device);
        only.count_as_vital(|_| true);
        let plans = [only];
        let tallies = run(&plans, settings, progress);
        let without = tallies.first().filter(|tally| tally.trials > 0)?;
        let alone = survivals(&plans, &tallies, settings, progress).pop()?;
        let kept = answer.kept_on.iter().enumerate().filter(|(k, _)| device(*k)).map(|(_, kept)| kept);
        let planned = kept.min_by(|a, b| a.probability.total_cmp(&b.probability))?.clone();
        let gains = without.survived as f64 / without.trials as f64 - planned.probability;
        Some(DeviceAlone { devices, vital, others, alone, planned, gains, fuel: answer.fuel })
    }

    /// All that is unplugged for them, the vital things first.
    #[must_use]
    pub fn unplugged(&self) -> Vec<&String> {
        self.vital.iter().chain(&self.others).collect()
    }
}

/// Whether a person's health hangs on a load, by its place.
#[must_use]
pub fn medical(scenario: &Scenario, k: usize) -> bool {
    scenario.loads.get(k).is_some_and(|load| load.medical)
}

/// The names of some loads, picked by their places.
#[must_use]
pub fn names(plan: &Plan, picked: &dyn Fn(usize) -> bool) -> Vec<String> {
    let loads = plan.loads.iter().enumerate().filter(|(k, _)| picked(*k));
    loads.map(|(_, load)| load.name.clone()).collect()
}
