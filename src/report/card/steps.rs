//! The steps of the card: by the clock, beforehand, and by the charge that the station shows.

use crate::calendar::clock;
use crate::engine::Plan;
use crate::report::device::{self, Device};
use crate::report::fuel::Fuel;
use crate::report::runtimes;
use crate::report::told::Words;
use crate::report::words::{decimals, duration, hundredths, percent, survival, the_list};
use crate::scenario::model::{Aim, FeedsAc, Gives, Scenario};
use crate::study::changes::{Costs, Effect};
use crate::study::device::{medical, names};
use crate::study::endurance::{at_least_h, runtime};
use crate::study::{Change, OutageAnswer};
use crate::trials::Tally;
use crate::trials::unknowns::Survival;

/// The changes that cost nothing and help for sure.
fn free(answer: &OutageAnswer) -> impl Iterator<Item = &Effect> {
    let helps = |effect: &&Effect| effect.change.costs() == Costs::Nothing && effect.pair.interval.low > 0.0;
    answer.effects.iter().filter(helps)
}

/// A change with what it is worth: "phone left off (rides through 44 instead of 37 of 100)".
fn gain(answer: &OutageAnswer, effect: &Effect) -> String {
    let told = |survival: &Survival| hundredths(survival.probability, decimals(survival.interval));
    format!(
        "{} (rides through {} instead of {} of 100)",
        effect.change.words(),
        told(&effect.survival),
        told(&answer.survival)
    )
}

/// What all of them come to together: "All of these together ride through 85 of 100 (70-94)."; nothing where they are not several.
pub(super) fn all_together(answer: &OutageAnswer) -> String {
    answer.together.as_ref().map_or(String::new(), |all| {
        format!("All that is free together rides through {}; alone each does less.", survival(&all.survival))
    })
}

/// The load that a change switches off or moves the mark of, by its place; none of other changes.
fn spared(change: &Change) -> Option<usize> {
    match change {
        Change::LeaveOff { load, .. } | Change::OffAtNight { load, .. } | Change::MoveMark { load, .. } => Some(*load),
        _ => None,
    }
}

/// What helps for nothing beside what is done with the loads, each with what it is worth.
pub(super) fn beforehand(answer: &OutageAnswer) -> Vec<String> {
    free(answer).filter(|effect| spared(&effect.change).is_none()).map(|effect| gain(answer, effect)).collect()
}

/// What is done with the loads for nothing: of each load what helps most.
fn habits(answer: &OutageAnswer) -> Vec<&Effect> {
    let mut told: Vec<&Effect> = Vec::new();
    for effect in free(answer).filter(|effect| spared(&effect.change).is_some()) {
        if told.iter().all(|known| spared(&known.change) != spared(&effect.change)) {
            told.push(effect);
        }
    }
    told
}

/// What to do, by the charge that the station shows, in the order of doing it: what is off from the first hour, spare things, marks,
/// useful things, and last what stays on.
///
/// * `reckoned` — the plan without mains between cuts, the temperature of the cells \[°C\] and the seed, for how long things run.
pub(super) fn by_charge(
    (scenario, plan): (&Scenario, &Plan),
    answer: &OutageAnswer,
    device: &Device,
    reckoned: (&Plan, f64, u64),
) -> Vec<String> {
    let medical = |k: usize| medical(scenario, k);
    let named = |picked: &dyn Fn(usize) -> bool| names(plan, &|k| picked(k) && !plan.loads[k].never_runs());
    let mut steps: Vec<String> = Vec::new();
    let alone = device.alone.as_ref().and_then(device::unplug);
    // Where nothing vital stands beside a person's device, all else is off by that step.
    let all_off = alone.is_some() && device.alone.as_ref().is_some_and(|device| device.vital.is_empty());
    steps.extend(alone);
    let habits = if all_off { Vec::new() } else { habits(answer) };
    let dark_vital = |effect: &Effect| matches!(effect.change, Change::OffAtNight { vital: true, .. });
    let of = |mark: bool| {
        let told = habits.iter().filter(|effect| matches!(effect.change, Change::MoveMark { .. }) == mark);
        let told = told.filter(|effect| !dark_vital(effect));
        told.map(|effect| gain(answer, effect)).collect::<Vec<_>>().join("; ")
    };
    let (off, marked) = (of(false), of(true));
    if !off.is_empty() {
        steps.push(format!("From the first hour, if you can do without: {off}."));
    }
    if !marked.is_empty() {
        steps.push(format!("Better than now: {marked}."));
    }
    let left_off =
        |k: usize| all_off || habits.iter().any(|e| matches!(e.change, Change::LeaveOff { load, .. } if load == k));
    if plan.loads.iter().all(|l| l.outlet != 0 || l.class > 0) && plan.loads.iter().any(|l| l.outlet == 0) {
        steps.push(
            "Nothing vital hangs on AC: switch the AC outlet off when you can, its idle draw never rests.".into(),
        );
    }
    let unruled = |class: usize| {
        named(&|k| {
            let load = &plan.loads[k];
            load.class == class && load.off_below <= 0.0 && !medical(k) && !left_off(k)
        })
    };
    let spare = unruled(2);
    if !spare.is_empty() {
        steps.push(format!("As soon as it may run short, spare things go off: {}.", spare.join(", ")));
    }
    // The better marks are those to go by.
    let (mut better, mut better_dark) = (plan.clone(), reckoned.0.clone());
    for effect in &habits {
        if let Change::MoveMark { load, off_below, now_off_below: Some(_), .. } = effect.change {
            for plan in [&mut better, &mut better_dark] {
                if let Some(load) = plan.loads.get_mut(load) {
                    load.set_rule(Some(off_below));
                }
                plan.mind_rules();
            }
        }
    }
    steps.extend(marks(&better, &medical, (&better_dark, reckoned.1, reckoned.2)));
    let useful = unruled(1);
    if !useful.is_empty() {
        steps.push(format!("When it runs short, useful things go off: {}.", useful.join(", ")));
    }
    // Nothing vital goes dark before what is not.
    let given: Vec<String> =
        habits.iter().filter(|effect| dark_vital(effect)).map(|effect| gain(answer, effect)).collect();
    if !given.is_empty() {
        let when = if steps.is_empty() { "If you can do without" } else { "Only then, and if you can do without" };
        steps.push(format!("{when}: {}.", given.join("; ")));
    }
    let devices = named(&medical);
    let vital = named(&|k| plan.loads[k].class == 0 && !medical(k));
    let last = if devices.is_empty() { &vital } else { &devices };
    if !devices.is_empty() && !vital.is_empty() {
        steps.push(format!("Before {}, these go off, food and all: {}.", the_list(&devices), vital.join(", ")));
    }
    if !last.is_empty() {
        steps.push(format!("Stays on to the last: {}.", last.join(", ")));
    }
    steps
}

/// The marks at which loads go off, the highest first, each with how long what is left then lasts.
fn marks(plan: &Plan, medical: &dyn Fn(usize) -> bool, (dark, cells_c, seed): (&Plan, f64, u64)) -> Vec<String> {
    let mut ruled: Vec<(f64, &str)> =
        plan.loads.iter().filter(|l| l.off_below > 0.0).map(|l| (l.off_below, l.name.as_str())).collect();
    ruled.sort_by(|a, b| b.0.total_cmp(&a.0));
    if ruled.is_empty() {
        return Vec::new();
    }
    let devices = (0..plan.loads.len()).any(medical);
    let last = |k: usize| if devices { medical(k) } else { plan.loads[k].class == 0 };
    // Of marks beyond a full battery nothing is left to tell.
    let runs: Vec<_> =
        ruled.iter().map(|(mark, _)| mark.min(1.0)).map(|m| (m, runtime(dark, cells_c, m, &last))).collect();
    let at_least = at_least_h(dark, cells_c, &last, &runs, (seed, runtimes::LONGEST_TOLD_H + 1.0));
    let left = |hours: f64| {
        if hours <= 0.0 {
            return None;
        }
        let which = if devices { "the device alone" } else { "what is vital" };
        Some(match hours > runtimes::LONGEST_TOLD_H {
            true => format!(" ({which} then lasts over 14 days without sun)"),
            false => format!(" ({which} then lasts at least {} without sun)", duration(hours)),
        })
    };
    let step = |((below, name), hours): (&(f64, &str), f64)| match *below {
        below if below > 1.0 => format!("Leave the {name} off."),
        below => format!("Below {:.0} %: switch off the {name}{}.", below * 100.0, left(hours).unwrap_or_default()),
    };
    ruled.iter().zip(at_least).map(step).collect()
}

/// What to do by the clock: panels put out and taken in, and the generator.
pub(super) fn by_clock(scenario: &Scenario, plan: &Plan, tally: &Tally) -> Vec<String> {
    let mut steps: Vec<(u16, String)> = Vec::new();
    for panel in &scenario.panels {
        for window in panel.out.iter().flat_map(|out| &out.hours) {
            let (from, to) = (clock(window.from_minute), clock(window.to_minute % 1440));
            steps.push((window.from_minute, format!("{from}: put out {}; take it in at {to}.", panel.name)));
        }
        if let Aim::ByHand { times_a_day } = panel.aim {
            let told = match times_a_day {
                1 => format!("Aim {} at the sun of midday, once a day.", panel.name),
                times => format!("Turn {} to the sun {times} times a day, each time a little ahead of it.", panel.name),
            };
            steps.push((0, told));
        }
    }
    if let Some(second) = &scenario.second_station {
        steps
            .push((0, "Keep the second station plugged into the first one's wall charger while it is at home.".into()));
        if let Some(trips) = &second.trips {
            let (from, to) = (clock(trips.away.from_minute), clock(trips.away.to_minute % 1440));
            let when = match trips.every_days {
                1 => "every day from the second on".to_string(),
                days => format!("every {days} days, first {days} days after the lights went out"),
            };
            steps.push((
                trips.away.from_minute,
                format!(
                    "{from} to {to}, {when}: carry the second station away to be charged, to {} at least.",
                    percent(trips.returns_at.0)
                ),
            ));
        }
    }
    for source in scenario.sources.iter().filter(|source| matches!(source.gives, Gives::Car { .. })) {
        for window in &source.hours {
            let (from, to) = (clock(window.from_minute), clock(window.to_minute % 1440));
            let step = format!("{from} to {to}, when the {} is driven: plug the station in.", source.name);
            steps.push((window.from_minute, step));
        }
    }
    if let Some(generator) = &scenario.generator {
        for window in &generator.hours {
            let (from, to) = (clock(window.from_minute), clock(window.to_minute % 1440));
            steps.push((
                window.from_minute,
                format!("{from} to {to}: run the generator, plugged into the wall charger.{}", on_it(scenario, plan)),
            ));
        }
        // A generator that nobody starts needs no fuel.
        let fuel = Fuel::of(scenario, plan, tally).filter(|_| plan.generator_runs_h(generator) > 0.0);
        let told = fuel.map(|fuel| fuel.steps()).unwrap_or_default();
        steps.extend(told.into_iter().map(|step| (1440, step)));
    }
    steps.sort_by_key(|(minute, _)| *minute);
    steps.into_iter().map(|(_, step)| step).collect()
}

/// What to plug into a generator while it runs; nothing where it charges the station alone.
fn on_it(scenario: &Scenario, plan: &Plan) -> String {
    let loads: Vec<&str> = plan.on_the_generator().map(|load| load.name.as_str()).collect();
    match scenario.generator.as_ref().map(|generator| generator.feeds_ac) {
        Some(FeedsAc::ByHand) if !loads.is_empty() => format!(
            " Plug {} into the generator itself, by outdoor cords, and back into the station as it stops.",
            the_list(&loads)
        ),
        Some(FeedsAc::Through) if !loads.is_empty() => " The station passes its power on to what hangs on AC.".into(),
        _ => String::new(),
    }
}
