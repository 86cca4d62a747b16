//! The steps of the card: beforehand, and by the charge that the station shows.

use crate::engine::{LoadPlan, Plan};
use crate::report::device::{self, Device};
use crate::report::runtimes;
use crate::report::told::Words;
use crate::report::words::{duration, hundredths, in_a_sentence, survival_with, the_list};
use crate::scenario::model::Scenario;
use crate::study::changes::{Costs, Effect, WORTH_A_STEP};
use crate::study::device::{medical, names};
use crate::study::endurance::{at_least_h, runtime};
use crate::study::{Change, OutageAnswer};

/// The changes that cost nothing and help for sure, and by more than a reader would trouble with.
fn free(answer: &OutageAnswer) -> impl Iterator<Item = &Effect> {
    let helps = |effect: &&Effect| effect.helps_for_nothing() && effect.pair.difference >= WORTH_A_STEP;
    answer.effects.iter().filter(helps)
}

/// A change in the words of a card: spells of cuts begin with the first of them.
fn told(scenario: &Scenario, change: &Change) -> String {
    match change {
        Change::StartFull if scenario.outage.cuts.any() => "the battery full when the cuts begin".into(),
        change => change.words(),
    }
}

/// A change with what it is worth: "phone left off (rides through 44 instead of 37 of 100)".
fn gain(scenario: &Scenario, answer: &OutageAnswer, effect: &Effect) -> String {
    format!(
        "{} (rides through {} instead of {} of 100)",
        told(scenario, &effect.change),
        hundredths(effect.survival.probability, 0),
        hundredths(answer.survival.probability, 0)
    )
}

/// What the free changes come to together, and which they are: "All that is free together (phone left off; the battery full when the
/// outage begins) rides through 85 of 100 (70-94)."; nothing where they are not several, or one
/// of them does as much.
pub(super) fn all_together(scenario: &Scenario, answer: &OutageAnswer) -> String {
    let of_all = answer.effects.iter().filter(|effect| effect.change.costs() == Costs::Nothing);
    let most = of_all.map(|effect| effect.survival.probability).fold(0.0, f64::max);
    let more = answer.together.as_ref().filter(|all| all.survival.probability >= most + WORTH_A_STEP);
    more.map_or(String::new(), |all| {
        let which: Vec<String> = all.changes.iter().map(|change| told(scenario, change)).collect();
        format!(
            "All that is free together ({}) rides through {}; alone each does less.",
            which.join("; "),
            survival_with(&all.survival, 0)
        )
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
pub(super) fn beforehand(scenario: &Scenario, answer: &OutageAnswer) -> Vec<String> {
    let beside = free(answer).filter(|effect| spared(&effect.change).is_none());
    beside.map(|effect| gain(scenario, answer, effect)).collect()
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

/// What goes off when, by the charge that the station shows.
pub(super) struct ByCharge {
    /// The steps, in the order of doing them.
    pub steps: Vec<String>,
    /// Whether any of them names a charge.
    pub charges: bool,
    /// What stays on to the last, where there is no step before that.
    pub nothing_first: Option<String>,
}

/// What to do, by the charge that the station shows, in the order of doing it: what is off from the first hour and the first night,
/// spare things, marks, useful things, and last what stays on.
///
/// * `reckoned` — the plan without mains between cuts, the temperature of the cells \[°C\] and the seed, for how long things run.
pub(super) fn by_charge(
    (scenario, plan): (&Scenario, &Plan),
    answer: &OutageAnswer,
    device: &Device,
    reckoned: (&Plan, f64, u64),
) -> ByCharge {
    let medical = |k: usize| medical(scenario, k);
    let named = |picked: &dyn Fn(usize) -> bool| {
        let names = names(plan, &|k| picked(k) && !plan.loads[k].never_runs());
        names.iter().map(|name| in_a_sentence(name)).collect::<Vec<_>>()
    };
    let mut steps: Vec<String> = Vec::new();
    let alone = device.alone.as_ref().and_then(device::unplug);
    // Where nothing vital stands beside a person's device, all else is off by that step.
    let all_off = alone.is_some() && device.alone.as_ref().is_some_and(|device| device.vital.is_empty());
    steps.extend(alone);
    let habits = if all_off { Vec::new() } else { habits(answer) };
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
    let marks = marks(&better, &medical, (&better_dark, reckoned.1, reckoned.2));
    let charges = marks.iter().any(|mark| mark.below <= 1.0);
    let left_off =
        |k: usize| all_off || habits.iter().any(|e| matches!(e.change, Change::LeaveOff { load, .. } if load == k));
    // What is off from the first hour, each with its own mark for whoever cannot do without it.
    let first = |effect: &Effect| {
        let mark = marks.iter().find(|mark| Some(mark.load) == spared(&effect.change) && mark.below <= 1.0);
        let gain = gain(scenario, answer, effect);
        match mark {
            Some(mark) => format!("{gain}, else at the latest below {:.0} %{}", mark.below * 100.0, mark.lasts),
            None => gain,
        }
    };
    let kinds = |effect: &&&Effect| match effect.change {
        Change::MoveMark { .. } => 1,
        _ if effect.change.darkens_vital() => 2,
        _ => 0,
    };
    let of = |kind: usize, told: &dyn Fn(&Effect) -> String| {
        let told = habits.iter().filter(|effect| kinds(effect) == kind).map(|effect| told(effect));
        told.collect::<Vec<_>>().join("; ")
    };
    // Its idle draw may be what the loads on it are blamed for.
    if plan.loads.iter().all(|l| l.outlet != 0 || l.class > 0) && plan.loads.iter().any(|l| l.outlet == 0) {
        // Where one thing alone hangs there, leaving it off spares the outlet's draw too.
        let on_ac: Vec<&LoadPlan> = plan.loads.iter().filter(|load| load.outlet == 0 && !load.never_runs()).collect();
        let blamed =
            |effect: &&Effect| matches!(effect.change, Change::LeaveOff { load, .. } if plan.loads[load].outlet == 0);
        let beside = match on_ac[..] {
            [load] if habits.iter().any(blamed) => format!(
                " Part of what the {} left off gains below is that draw: try this first.",
                in_a_sentence(&load.name)
            ),
            _ => String::new(),
        };
        steps.push(format!(
            "Nothing vital hangs on AC: have the AC outlet on only while something on it runs, for its idle draw never rests.{beside}"
        ));
    }
    let (off, marked, dark_at_night) = (
        of(0, &first),
        of(1, &|effect| gain(scenario, answer, effect)),
        of(2, &|effect| gain(scenario, answer, effect)),
    );
    if !off.is_empty() {
        steps.push(format!("From the first hour, if you can do without: {off}."));
    }
    if !dark_at_night.is_empty() {
        // Its figure is of every night, the first one too.
        steps.push(format!("From the first night, as the last thing to give up: {dark_at_night}."));
    }
    if !marked.is_empty() {
        steps.push(format!("Better than now: {marked}."));
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
    steps.extend(marks.iter().filter(|mark| mark.below > 1.0 || !left_off(mark.load)).map(Mark::step));
    let useful = unruled(1);
    if !useful.is_empty() {
        steps.push(format!("When it runs short, useful things go off: {}.", useful.join(", ")));
    }
    let devices = named(&medical);
    let vital = named(&|k| plan.loads[k].class == 0 && !medical(k));
    let last = if devices.is_empty() { &vital } else { &devices };
    if !devices.is_empty() && !vital.is_empty() {
        steps.push(format!("Before {}, these go off, food and all: {}.", the_list(&devices), vital.join(", ")));
    }
    if steps.is_empty() {
        let stays = if last.len() == 1 { "stays" } else { "stay" };
        let nothing_first = format!("Nothing here goes off first: {} {stays} on to the last.", the_list(last));
        return ByCharge { steps, charges, nothing_first: (!last.is_empty()).then_some(nothing_first) };
    }
    if !last.is_empty() {
        steps.push(format!("Stays on to the last: {}.", last.join(", ")));
    }
    ByCharge { steps, charges, nothing_first: None }
}

/// A mark at which a load goes off.
struct Mark {
    load: usize,
    name: String,
    /// State of charge, 0 to 1; above that the load is never on.
    below: f64,
    /// How long what is left then lasts, in brackets; nothing where it lasts not at all.
    lasts: String,
}

impl Mark {
    fn step(&self) -> String {
        let Mark { name, below, lasts, .. } = self;
        match *below {
            below if below > 1.0 => format!("Leave the {name} off."),
            below => format!("Below {:.0} %: switch off the {name}{lasts}.", below * 100.0),
        }
    }
}

/// The marks at which loads go off, the highest first, each with how long what is left then lasts.
fn marks(plan: &Plan, medical: &dyn Fn(usize) -> bool, (dark, cells_c, seed): (&Plan, f64, u64)) -> Vec<Mark> {
    let mut ruled: Vec<(usize, f64)> =
        plan.loads.iter().enumerate().filter(|(_, l)| l.off_below > 0.0).map(|(k, l)| (k, l.off_below)).collect();
    ruled.sort_by(|a, b| b.1.total_cmp(&a.1));
    if ruled.is_empty() {
        return Vec::new();
    }
    let devices = (0..plan.loads.len()).any(medical);
    let last = |k: usize| if devices { medical(k) } else { plan.loads[k].class == 0 };
    // Of marks beyond a full battery nothing is left to tell.
    let runs: Vec<_> =
        ruled.iter().map(|(_, mark)| mark.min(1.0)).map(|m| (m, runtime(dark, cells_c, m, &last))).collect();
    let at_least = at_least_h(dark, cells_c, &last, &runs, (seed, runtimes::LONGEST_TOLD_H + 1.0));
    let without = runtimes::nothing_charges(plan);
    let which = if devices { "the device alone" } else { "what is vital" };
    let left = |hours: f64| match hours {
        hours if hours <= 0.0 => String::new(),
        hours if hours > runtimes::LONGEST_TOLD_H => format!(" ({which} then lasts over 14 days {without})"),
        hours => format!(" ({which} then lasts at least {} {without})", duration(hours)),
    };
    let mark = |(&(load, below), hours): (&(usize, f64), f64)| Mark {
        load,
        name: in_a_sentence(&plan.loads[load].name),
        below,
        lasts: left(hours),
    };
    ruled.iter().zip(at_least).map(mark).collect()
}
