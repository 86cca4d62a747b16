//! What fails first, and when.

use super::Cold;
use crate::engine::{LoadPlan, Plan};
use crate::report::words::{
    decimals, duration, ends, in_steps, lowered, range, rest_of_hundred, the_list, thousands, unit_of_steps,
};
use crate::study::device::names;
use crate::study::outage::OutageAnswer;
use crate::trials::tally::count_quantile;
use crate::trials::unknowns::Survival;
use crate::visible::begun as begun_with;

/// What vital loads are judged by.
pub enum Judged {
    /// Whether they get their power.
    Power,
    /// Whether their food keeps.
    Food,
    /// Some by the one, some by the other.
    Both,
}

/// What the vital loads of a plan are judged by.
#[must_use]
pub fn judged_by(plan: &Plan) -> Judged {
    let food = |load: &LoadPlan| load.class == 0 && load.asks.as_deref().is_some_and(|asks| !asks.counts_energy());
    match (plan.loads.iter().any(food), plan.loads.iter().any(|load| load.class == 0 && !food(load))) {
        (false, _) => Judged::Power,
        (true, false) => Judged::Food,
        (true, true) => Judged::Both,
    }
}

/// What fails first and when.
#[must_use]
pub fn failures(plan: &Plan, answer: &OutageAnswer) -> String {
    let tally = &answer.tally;
    let failed = tally.trials - tally.survived;
    if failed == 0 {
        return format!(
            "Nothing vital failed in {} trials; the lowest charge of the middle outage was {} %.",
            thousands(tally.trials),
            count_quantile(&tally.lowest_charge, 0.5).unwrap_or(0)
        );
    }
    let step_h = plan.season.step_h;
    let step = |p: f64| count_quantile(&tally.failure_step, p).unwrap_or(0);
    let clock = (0..24).max_by_key(|&h| (tally.failure_hour[h], 24 - h)).unwrap_or(0);
    let what = match judged_by(plan) {
        Judged::Power => "Something vital goes without",
        Judged::Food => "Food is lost",
        Judged::Both => "Something vital goes without, or food is lost,",
    };
    let without = answer.survival.interval.complement();
    // What cannot run here is dark in every outage: the shares are of the others.
    let never = names(plan, &|k| plan.loads[k].priority == 0 && plan.loads[k].never_runs());
    let what = if never.is_empty() {
        what.to_string()
    } else {
        format!("{} cannot run here in any of them. Of the rest, {}", begun_with(&the_list(&never)), lowered(what))
    };
    let when = begun((step(0.25), step(0.75)), step_h);
    let unit = unit_of_steps(step(0.75), step_h);
    // Four standard errors above what chance alone would give each hour, and half as much again.
    let even = failed as f64 / 24.0;
    let most = f64::from(tally.failure_hour[clock]);
    let often = if most > (even + 4.0 * even.sqrt()).max(1.5 * even) {
        format!(", most often around {clock:02}:00")
    } else {
        String::new()
    };
    format!(
        "{} {what} in {} of 100 ({}): {when} {} (the middle one {} {unit}){often}.",
        order_of_going(plan, answer),
        rest_of_hundred(answer.survival.probability, decimals(without)),
        range(without, decimals(without)),
        counted_from(plan),
        in_steps((step(0.5), step(0.5)), step_h, unit),
    )
}

/// From when hours count: cuts that come back are counted through, the hours with mains and all.
fn counted_from(plan: &Plan) -> &'static str {
    match plan.cuts_come_back() {
        false => "after the lights went out",
        true => "into the spell (hours with mains counted)",
    }
}

/// When the failures begin, from the steps of the first and the third quarter of them. What begins in a step begins at some
/// time of it, so one in the first step is never said to begin at once.
fn begun((from, to): (usize, usize), step_h: f64) -> String {
    if from == 0 {
        return format!("three quarters of these failures begin within the first {}", first_steps(to + 1, step_h));
    }
    format!("half of these failures begin between {}", between((from, to), step_h))
}

/// From the beginning of one step to the end of another, as all that is known to a step: "41 h and 70 h", "2.7 and 17.9 days".
fn between((from, to): (usize, usize), step_h: f64) -> String {
    let unit = unit_of_steps(to, step_h);
    let [from, to] = ends((from, to), step_h, unit);
    if unit == "days" { format!("{from} and {to} {unit}") } else { format!("{from} {unit} and {to} {unit}") }
}

/// So many first steps, after "the first": "hour", "15 min", "3 h".
fn first_steps(steps: usize, step_h: f64) -> String {
    let hours = steps as f64 * step_h;
    if (hours - 1.0).abs() < 1e-9 { "hour".into() } else { duration(hours) }
}

/// Which loads go without most often, and from which hour on, by the hour at which half of their first gaps have come. These
/// hours are of different outages and say nothing of the order in one.
fn order_of_going(plan: &Plan, answer: &OutageAnswer) -> String {
    let step_h = plan.season.step_h;
    let mut going: Vec<(u64, [usize; 3], &str, &Survival)> = plan
        .loads
        .iter()
        .zip(&answer.tally.loads)
        .zip(&answer.kept_on)
        .filter(|((_, tally), _)| 100 * tally.trials_off >= answer.tally.trials)
        .filter_map(|((load, tally), kept)| {
            Some((tally.trials_off, tally.first_off_quarters()?, load.name.as_str(), kept))
        })
        .collect();
    going.sort_by_key(|(off, [_, middle, _], ..)| (std::cmp::Reverse(*off), *middle));
    // How often, the quarters, how often it stays on, and which loads.
    type Group<'a> = ((u64, [usize; 3]), &'a Survival, Vec<&'a str>);
    let mut groups: Vec<Group> = Vec::new();
    for (off, steps, name, kept) in going {
        match groups.last_mut() {
            Some((last, _, names)) if *last == (off, steps) => names.push(name),
            _ => groups.push(((off, steps), kept, vec![name])),
        }
    }
    let end = match Cold::of(plan, answer).and_then(|cold| cold.left_percent) {
        Some(_) => "the cold battery gives no more",
        None => "the battery is empty",
    };
    let parts: Vec<String> = groups
        .iter()
        .map(|((_, [from, _, to]), kept, names)| {
            let when = match (*from, *to) {
                (0, 0) => format!("within the first {}", first_steps(1, step_h)),
                (0, to) => format!("three quarters of those within the first {}", first_steps(to + 1, step_h)),
                (from, to) => format!("half of those between {}", between((from, to), step_h)),
            };
            let share = rest_of_hundred(kept.probability, decimals(kept.interval));
            format!("{} in {share} of 100 ({when})", the_list(names))
        })
        .collect();
    match parts.split_first() {
        None => String::new(),
        Some((first, [])) => format!("What goes without: {first}."),
        Some((first, rest)) => format!(
            "Goes without most often, and in brackets how long {} the first gap begins: {first}; {}. These hours are of \
             different outages; in each {}, and what sun or wall feed after that goes to the more important loads first.",
            counted_from(plan),
            rest.join("; "),
            match plan.loads.iter().any(|load| 0.0 < load.off_below && load.off_below < 1.0) {
                true => format!("a load with a mark of its own goes off at that charge, all else runs until {end}"),
                false => format!("everything runs until {end}"),
            }
        ),
    }
}
