//! Which changes are worth trying, and which of them are worth telling.

use super::{Change, Costs, NIGHT};
use crate::engine::{OUTLETS, Plan};
use crate::scenario::model::{Aim, Load, Scenario};
use crate::study::compare::Pair;
use crate::trials::run::{Progress, run_part};
use crate::trials::{Settings, Tally};

/// Changes that are told.
pub const TOLD: usize = 5;
/// Trials on which a change, a move or a length is chosen: other ones than those they are judged by, since the best of many looks better than it is.
pub(in crate::study) const CHOSEN_ON: u64 = 1_000;
/// Of a run of few trials a quarter, but no fewer than these.
const FEWEST_CHOSEN_ON: u64 = 250;
/// All are tried on one of so many parts of these trials, the best of them on the rest.
const SIFTED_ON: u64 = 4;
/// So many are the best of them.
const SIFTED: usize = TOLD + 3;
/// Of vital loads that could be given up so many are the best of them, and one is told.
const GIVEN_UP: (usize, usize) = (2, 1);
/// Most loads that a habit is tried on, the greatest in energy.
const MOST_LOADS: usize = 8;
/// A load that takes less than this share of its day's energy at night gains nothing by resting then.
const AT_NIGHT: f64 = 0.1;
/// A free change that gains less than this of the outages is not worth a line on a card or in a hurry (our choice).
pub const WORTH_A_STEP: f64 = 0.015;
/// Charge below which a load without a mark is tried off, and by how much the mark of one with a mark is moved.
const MARK: (f64, f64) = (0.5, 0.2);
/// How much later a generator is tried \[h\].
const LATER_H: [f64; 3] = [-6.0, -3.0, 3.0];
/// How much steeper panels are tried \[°\], up to 80.
const STEEPER_DEG: f64 = 20.0;

/// Whether a load by its name keeps food cold, and where: in a fridge, in a freezer. What keeps medicine is none of them.
#[must_use]
pub fn food_by_name(name: &str) -> [bool; 2] {
    let name = name.to_lowercase();
    let says = |words: &[&str]| words.iter().any(|word| name.contains(word));
    let food = !says(&["insulin", "medic", "vaccine"]);
    [
        food && says(&["fridge", "refrigerator", "cooler", "cool box", "coolbox", "cooling box", "icebox", "ice box"]),
        food && says(&["freezer"]),
    ]
}

/// Whether a load keeps food cold, as far as its pattern or its name tells: it is not switched off for hours.
#[must_use]
pub fn holds_food(load: &Load) -> bool {
    let cooler = matches!(load.pattern, crate::scenario::model::Pattern::Cooler(_));
    cooler || food_by_name(&load.name).contains(&true)
}

impl Change {
    /// The changes worth trying on a scenario. Nothing is tried with the hours of a medical device.
    #[must_use]
    pub fn worth_trying(scenario: &Scenario, plan: &Plan) -> Vec<Change> {
        let mut changes = habits(scenario, plan);
        changes.extend(light(scenario));
        changes.extend(generator(scenario));
        let rig = plan.kit.best_estimate();
        if rig.start_wh < 0.99 * rig.ceiling_wh {
            changes.push(Change::StartFull);
        }
        if plan.kit.stands_in_the_weather() {
            changes.push(Change::BringInside);
        }
        // One more string of each kind of panel: less than a whole string cannot be wired beside the others.
        let arrays = plan.arrays.iter().zip(&scenario.panels).enumerate();
        changes.extend(arrays.map(|(array, (a, panel))| Change::OneMoreString {
            array,
            series: panel.series,
            watts: a.panel_w,
            beside: (plan.arrays.len() > 1).then(|| a.name.clone()),
            has: panel.count(),
        }));
        changes.push(Change::BiggerBattery);
        changes
    }

    /// The changes worth telling: those of [`Change::worth_trying`] that help most on some trials of their own, each with
    /// its plan. `None` where the run was stopped.
    #[must_use]
    pub fn worth_telling(
        scenario: &Scenario,
        plan: &Plan,
        settings: &Settings,
        progress: &dyn Progress,
    ) -> Option<Vec<(Change, Plan)>> {
        let tried: Vec<Change> = Change::worth_trying(scenario, plan);
        let changed = tried.iter().map(|change| change.apply_to(scenario, plan));
        let plans: Vec<Plan> = std::iter::once(plan.clone()).chain(changed).collect();
        let given_up = tried.iter().filter(|change| change.costs() == Costs::GivesUp).count();
        if given_up == 0 && tried.len() <= TOLD {
            return Some(tried.into_iter().zip(plans.into_iter().skip(1)).collect());
        }
        let trials = (settings.trials / 4).clamp(FEWEST_CHOSEN_ON, CHOSEN_ON).min(settings.trials);
        let seed = choosing_seed(settings);
        let first = trials / SIFTED_ON;
        let tallies = run_part(&plans, seed, 0..first);
        let (mut base, others) = tallies.split_first().map(|(base, others)| (base.clone(), others))?;
        if progress.stop() {
            return None;
        }
        let mut chosen: Vec<(f64, Change, Plan, &Tally)> = tried
            .into_iter()
            .zip(plans.into_iter().skip(1))
            .zip(others)
            .map(|((change, plan), tally)| (Pair::of(&base, tally).difference, change, plan, tally))
            .collect();
        best_of(&mut chosen, (SIFTED, GIVEN_UP.0));
        let rest: Vec<Plan> = std::iter::once(plan).chain(chosen.iter().map(|(_, _, plan, _)| plan)).cloned().collect();
        let tallies = run_part(&rest, seed, first..trials);
        let (rest_of_base, others) = tallies.split_first()?;
        base.merge(rest_of_base);
        for ((difference, _, _, tally), other) in chosen.iter_mut().zip(others) {
            let mut tally = tally.clone();
            tally.merge(other);
            *difference = Pair::of(&base, &tally).difference;
        }
        best_of(&mut chosen, (TOLD, GIVEN_UP.1));
        Some(chosen.into_iter().map(|(_, change, plan, _)| (change, plan)).collect())
    }
}

/// The seed of trials that choose what is then told by others: no draw flatters what it has chosen.
pub(in crate::study) fn choosing_seed(settings: &Settings) -> u64 {
    settings.seed.wrapping_add(3)
}

/// Keeps so many of the most helpful, the best first; of equals the free one. What gives something vital up takes no other's place,
/// and is dropped where nothing is gained by it.
fn best_of(changes: &mut Vec<(f64, Change, Plan, &Tally)>, (many, given_up): (usize, usize)) {
    changes.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.costs().cmp(&b.1.costs())));
    let mut left = (many, given_up);
    changes.retain(|(gained, change, ..)| {
        let gives_up = change.costs() == Costs::GivesUp;
        let left = if gives_up { &mut left.1 } else { &mut left.0 };
        let keeps = *left > 0 && !(gives_up && *gained <= 0.0);
        *left -= usize::from(keeps);
        keeps
    });
}

/// What can be done with the loads.
fn habits(scenario: &Scenario, plan: &Plan) -> Vec<Change> {
    let mut changes = Vec::new();
    let energy = |k: usize| plan.loads[k].day_wh();
    let limits = plan.kit.best_estimate().outlet_limit_w;
    let could_move =
        |load: &Load| load.could_use.filter(|(to, watts)| watts.0 <= limits[(*to as usize).min(OUTLETS - 1)]);
    let mut loads: Vec<usize> = (0..plan.loads.len().min(scenario.loads.len())).collect();
    loads.sort_by(|&a, &b| energy(b).total_cmp(&energy(a)));
    let vital = plan.loads.iter().filter(|load| load.class == 0 && !load.never_runs()).count();
    for &k in loads.iter().take(MOST_LOADS) {
        let (load, planned, name) = (&scenario.loads[k], &plan.loads[k], plan.loads[k].name.clone());
        if let Some((to, watts)) = could_move(load) {
            changes.push(Change::MoveLoad { load: k, name: name.clone(), to, watts: watts.0, medical: load.medical });
        }
        if load.medical || planned.never_runs() {
            continue;
        }
        if planned.class > 0 {
            changes.push(Change::LeaveOff { load: k, name: name.clone(), vital: false });
            let now_off_below = load.off_below.map(|mark| mark.0);
            let off_below = now_off_below.map_or(MARK.0, |mark| (100.0 * (mark + MARK.1)).round() / 100.0);
            if off_below < 1.0 {
                changes.push(Change::MoveMark { load: k, name: name.clone(), off_below, now_off_below });
            }
        }
        if planned.class == 0
            && vital > 1
            && planned.asks.is_none()
            && !holds_food(load)
            && !keeps_the_house(&load.name)
        {
            changes.push(Change::LeaveOff { load: k, name: name.clone(), vital: true });
        }
        // What runs by a thermostat makes up for hours without, and food does not keep.
        let by_thermostat =
            planned.asks.is_some() || planned.profile.variance_w2.iter().any(|variance| *variance > 0.0);
        let mut rested = planned.clone();
        rested.rest_between(f64::from(NIGHT.from_minute) / 60.0, f64::from(NIGHT.to_minute) / 60.0);
        let spared = 1.0 - rested.day_wh() / planned.day_wh().max(1e-9);
        if planned.class < 2
            && !by_thermostat
            && !holds_food(load)
            && !keeps_the_house(&load.name)
            && (AT_NIGHT..1.0).contains(&spared)
        {
            changes.push(Change::OffAtNight { load: k, name, vital: planned.class == 0 });
        }
    }
    changes
}

/// Whether a load by its name warms the house, keeps water out of it or warns in it: hours without do harm that no share tells. A name
/// that only sounds so costs a proposal (our choice).
#[must_use]
pub fn keeps_the_house(name: &str) -> bool {
    let name = name.to_lowercase();
    ["heat", "furnace", "boiler", "stove", "pump", "blower", "alarm", "aquarium"].iter().any(|word| name.contains(word))
}

/// What can be done with the panels.
fn light(scenario: &Scenario) -> Vec<Change> {
    let mut changes = Vec::new();
    for (array, panel) in scenario.panels.iter().enumerate() {
        let name = panel.name.clone();
        // A window that already holds the day has nothing to gain.
        if panel.out.as_ref().is_some_and(|out| !out.hours.is_empty() && out.hours.iter().all(|w| w.hours().0 < 20.0)) {
            changes.push(Change::OutLonger { array, name: name.clone() });
        }
        if let Aim::Fixed { tilt, .. } = panel.aim {
            let tilt_deg = (tilt.0 + STEEPER_DEG).min(80.0);
            if tilt.0 + 5.0 <= tilt_deg {
                changes.push(Change::Steeper { array, name, tilt_deg });
            }
        }
    }
    changes
}

/// What can be done with the generator.
fn generator(scenario: &Scenario) -> Vec<Change> {
    let Some(generator) = &scenario.generator else { return Vec::new() };
    let Some(first) = generator.hours.first() else { return Vec::new() };
    let hours: f64 = generator.hours.iter().map(|window| window.hours().0).sum();
    let mut changes = Vec::new();
    if hours <= 22.0 {
        changes.push(Change::GeneratorLonger { hours_h: 1.0 });
        changes.extend(LATER_H.map(|later_h| Change::GeneratorAt {
            later_h,
            starts_min: super::moved(first.from_minute, (60.0 * later_h) as i32),
        }));
    }
    changes
}
