//! What fails first, and when.

use crate::engine::{LoadPlan, Plan};
use crate::report::words::{duration, hundredths, in_step, lowered, share, the_list, thousands};
use crate::study::device::names;
use crate::study::outage::OutageAnswer;
use crate::trials::tally::count_quantile;
use crate::visible::begun as begun_with;

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
    let judged = |load: &LoadPlan| load.class == 0 && load.asks.as_deref().is_some_and(|asks| !asks.counts_energy());
    let what = match (plan.loads.iter().any(judged), plan.loads.iter().any(|load| load.class == 0 && !judged(load))) {
        (false, _) => "Something vital goes without",
        (true, false) => "Food is lost",
        (true, true) => "Something vital goes without, or food is lost,",
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
    // Four standard errors above what chance alone would give each hour, and half as much again.
    let even = failed as f64 / 24.0;
    let most = f64::from(tally.failure_hour[clock]);
    let often = if most > (even + 4.0 * even.sqrt()).max(1.5 * even) {
        format!(", most often around {clock:02}:00")
    } else {
        String::new()
    };
    format!(
        "{} {what} in {}: {when} {} (the middle one {}){often}.",
        order_of_going(plan, answer),
        share(1.0 - answer.survival.probability, without),
        counted_from(plan),
        in_step(step(0.5), step_h),
    )
}

/// From when hours count: cuts that come back are counted through, the hours with mains and all.
fn counted_from(plan: &Plan) -> &'static str {
    match plan.mains.is_empty() && !plan.cuts_vary() {
        true => "after the lights went out",
        false => "into the spell (hours with mains counted)",
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

/// From the beginning of one step to the end of another, in hours as all that is known to a step: "41 h and 70 h".
fn between((from, to): (usize, usize), step_h: f64) -> String {
    let (from_h, to_h) = (from as f64 * step_h, (to + 1) as f64 * step_h);
    if to_h < 1.0 - 1e-9 {
        return format!("{:.0} min and {:.0} min", 60.0 * from_h, 60.0 * to_h);
    }
    let hours = |h: f64| format!("{h:.2}").trim_end_matches('0').trim_end_matches('.').to_string();
    format!("{} h and {} h", hours(from_h), hours(to_h))
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
    let mut going: Vec<(u64, [usize; 3], &str)> = plan
        .loads
        .iter()
        .zip(&answer.tally.loads)
        .filter(|(_, tally)| 100 * tally.trials_off >= answer.tally.trials)
        .filter_map(|(load, tally)| Some((tally.trials_off, tally.first_off_quarters()?, load.name.as_str())))
        .collect();
    going.sort_by_key(|(off, [_, middle, _], _)| (std::cmp::Reverse(*off), *middle));
    // How often, the quarters, and which loads.
    type Group<'a> = ((u64, [usize; 3]), Vec<&'a str>);
    let mut groups: Vec<Group> = Vec::new();
    for (off, steps, name) in going {
        match groups.last_mut() {
            Some((last, names)) if *last == (off, steps) => names.push(name),
            _ => groups.push(((off, steps), vec![name])),
        }
    }
    let parts: Vec<String> = groups
        .iter()
        .map(|((off, [from, _, to]), names)| {
            let when = match (*from, *to) {
                (0, 0) => format!("within the first {}", first_steps(1, step_h)),
                (0, to) => format!("three quarters of those within the first {}", first_steps(to + 1, step_h)),
                (from, to) => format!("half of those between {}", between((from, to), step_h)),
            };
            let share = hundredths(*off as f64 / answer.tally.trials as f64, 0);
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
                true =>
                    "a load with a mark of its own goes off at that charge, all else runs until the battery is empty",
                false => "everything runs until the battery is empty",
            }
        ),
    }
}
