//! The first lines of an answer: what held in how many outages, what must be said with it, and how sure it is.

use super::phrases::overloads_in_words;
use super::told::Words;
use super::verdict::{self, MEDICAL_CAUTION};
use super::words::{
    self, decimals, duration, duration_adjective, energy, lower_end, percent, range, survival, the_list, thousands,
};
use crate::calendar::{clock, month_called};
use crate::math;
use crate::scenario::model::{Begins, FoodRule, Lasts, Load, Pattern, Priority, Scenario};
use crate::study::fit::{Overload, Unjudged};
use crate::study::outage::OutageAnswer;
use crate::trials::interval::{Interval, Z_95, wilson};
use crate::trials::unknowns::ENOUGH;
use crate::visible::begun;

/// The month in which a scenario's outages begin.
#[must_use]
pub fn month_name(scenario: &Scenario) -> &'static str {
    let (Begins::Month(month) | Begins::At { month, .. }) = scenario.outage.begins;
    month_called(month)
}

/// The sentence that a neighbour understands.
#[must_use]
pub fn headline(scenario: &Scenario, answer: &OutageAnswer) -> String {
    let storm = if scenario.outage.begins_in_a_storm { " that begin in a storm" } else { "" };
    let when = match scenario.outage.begins {
        Begins::Month(_) => month_name(scenario).to_string(),
        Begins::At { year, day, .. } => format!("{day} {} {year}", month_name(scenario)),
    };
    let outages = match (scenario.outage.lasts, scenario.outage.begins) {
        (Lasts::Fixed(hours), Begins::Month(_)) => format!("{} {when} outages", duration_adjective(hours.0)),
        (Lasts::Fixed(hours), Begins::At { .. }) => format!("{} outages from {when}", duration_adjective(hours.0)),
        (Lasts::LogNormal { median, p95 }, _) => format!(
            "{when} outages of varying length (half over by {}, 19 of 20 by {})",
            duration(median.0),
            duration(p95.0)
        ),
    };
    let outages =
        if !scenario.outage.cuts.any() { outages } else { outages.replace("outages", "spells of daily cuts") };
    let outages = match answer.lengthened_to_h {
        Some(hours) => format!("{outages} (simulated as {} h, in whole steps)", (hours * 100.0).round() / 100.0),
        None => outages,
    };
    let allowance = if scenario.outage.allow_unmet.0 > 0.0 {
        format!(" but for at most {} missed", energy(scenario.outage.allow_unmet.0))
    } else {
        String::new()
    };
    let never = answer.never_asked(scenario);
    if !never.is_empty() {
        return format!(
            "In {} simulated {outages}{storm} here, {}",
            thousands(answer.tally.trials),
            never_asked(scenario, &never)
        );
    }
    let unjudged = answer.unjudged.as_ref();
    let held = format!(
        "{} simulated {outages}{storm} here, {}.{}{}",
        thousands(answer.tally.trials),
        what_held(scenario, answer, &allowance),
        unjudged.map_or(String::new(), not_judged),
        medical(scenario, answer)
    );
    let (never, together) = overloads_in_words(&answer.overloads);
    let solved = |overload: &Overload| !overload.stops() || overload.never;
    let led = |by: &str, text: String| if by.is_empty() { text } else { format!("{by} {text}") };
    let of_the_rest = !answer.left_out(scenario).is_empty();
    let held = if of_the_rest { format!("for the rest: in {held}") } else { format!("in {held}") };
    if answer.overloads.iter().all(solved) {
        let held = led(&never, begun(&held));
        if together.is_empty() { held } else { format!("{held} {together} The trials do not count that.") }
    } else {
        let told = led(&never, together);
        format!("{told} Until that is solved there is no answer. If it never happened, {held}")
    }
}

/// The verdict in words; none where nothing vital is ever asked for.
#[must_use]
pub fn verdict_words(scenario: &Scenario, answer: &OutageAnswer) -> String {
    if answer.never_asked(scenario).is_empty() {
        return verdict::with_fuel(answer.verdict(scenario), answer.fuel);
    }
    "No answer: nothing vital is ever asked for.".into()
}

/// That vital loads are never asked for, and what to write.
fn never_asked(scenario: &Scenario, names: &[&str]) -> String {
    let (is, their, they) = if names.len() == 1 { ("is", "its", "it") } else { ("are", "their", "they") };
    let window = scenario.outage.cuts.windows.first().map(|cut| cut.window);
    let window = window
        .map_or("18:00-22:00".into(), |window| format!("{}-{}", clock(window.from_minute), clock(window.to_minute)));
    let lie = if scenario.outage.cuts.any() { "in a cut" } else { "in the outage" };
    let thing = names[0].split(',').next().unwrap_or_default();
    format!(
        "{} {is} never asked for: none of {their} hours lie {lie}, so nothing is judged. Say when {they} must run {lie}, like \
         {thing} {window}.",
        the_list(names)
    )
}

/// The lower end of a range as what to count on.
#[must_use]
pub fn no_more_than(interval: Interval) -> String {
    format!("count on no more than {} of 100", lower_end(interval.low, decimals(interval)))
}

/// What to count on where a person's health hangs on a load: the lower end of the range where the device is vital, how often
/// it goes without where it is not.
fn medical(scenario: &Scenario, answer: &OutageAnswer) -> String {
    let vital = judged_loads(scenario, answer).filter(|load| load.medical);
    let vital: Vec<&str> = vital.map(|load| load.name.as_str()).collect();
    let mut out = String::new();
    if !vital.is_empty() {
        out.push_str(&hangs_on(&vital, answer.survival.interval));
    }
    for (load, kept) in scenario.loads.iter().zip(&answer.kept_on) {
        if load.medical && load.priority != Priority::Vital {
            out.push_str(&format!(
                " A person's health hangs on the {}, which stays on through {} and is not counted as vital here: say that it \
                 is.",
                load.name,
                survival(kept)
            ));
        }
    }
    if answer.medical {
        out.push_str(&format!(" {MEDICAL_CAUTION}"));
    }
    out
}

/// What to count on at most where a person's health hangs on vital devices, as a sentence; nothing where there are none.
#[must_use]
pub fn hangs_on(devices: &[impl AsRef<str>], interval: Interval) -> String {
    if devices.is_empty() {
        return String::new();
    }
    format!(" A person's health hangs on {}, so {}.", the_list(devices), no_more_than(interval))
}

/// The vital loads that an outage is judged by.
fn judged_loads<'s>(scenario: &'s Scenario, answer: &OutageAnswer) -> impl Iterator<Item = &'s Load> {
    let left_out = answer.left_out(scenario);
    let vital = scenario.loads.iter().filter(|load| load.priority == Priority::Vital);
    vital.filter(move |load| !left_out.contains(&load.name.as_str()))
}

/// What had to hold, loads that stay on and food that keeps, and in how many outages it did.
fn what_held(scenario: &Scenario, answer: &OutageAnswer, allowance: &str) -> String {
    let (share, unjudged) = (survival(&answer.survival), answer.unjudged.as_ref());
    let judged = |load: &Load| matches!(&load.pattern, Pattern::Cooler(c) if c.food != FoodRule::NotJudged);
    let names = |cooler: bool| -> Vec<&str> {
        let vital = judged_loads(scenario, answer);
        vital.filter(|load| judged(load) == cooler).map(|load| load.name.as_str()).collect()
    };
    let (mut on, cold) = (names(false), names(true));
    if unjudged.is_some() && !cold.is_empty() {
        on.clear();
    }
    match (on.is_empty(), cold.is_empty()) {
        (_, true) => format!("{} stayed on through {share}{allowance}", the_list(&on)),
        (true, false) => format!("the food in {} kept through {share}", the_list(&cold)),
        (false, false) => {
            let (on, cold) = (the_list(&on), the_list(&cold));
            let allowance = if allowance.is_empty() { String::new() } else { format!(" ({})", allowance.trim()) };
            format!("{on} stayed on{allowance} and the food in {cold} kept through {share}")
        }
    }
}

/// Vital loads that nothing judges.
fn not_judged(unjudged: &Unjudged) -> String {
    let Unjudged { loads, asked_wh, allowed_wh } = unjudged;
    format!(
        " Nothing here hangs on {}: the scenario lets {} be missed, more than the {} at most that {} for in a whole outage.",
        the_list(loads),
        energy(*allowed_wh),
        energy(*asked_wh),
        if loads.len() == 1 { "is asked" } else { "are asked" }
    )
}

/// What to say of a run that was stopped; nothing of one that was not.
#[must_use]
pub fn stopped(answer: &OutageAnswer) -> String {
    if !answer.stopped_early {
        return String::new();
    }
    words::stopped(answer.tally.trials, answer.settings.trials, "trials")
}

/// What to say where the trials ran out before chance was as small as asked for.
fn precision_missed(answer: &OutageAnswer) -> Option<String> {
    let (asked, n) = (answer.settings.precision?, answer.tally.trials);
    let reached = wilson(answer.tally.survived, n, Z_95).width() / 2.0;
    if reached <= asked || answer.stopped_early {
        return None;
    }
    // The width falls with the square root of the trials.
    let needed = (n as f64 * math::powi(reached / asked, 2) / 1000.0).ceil() as u64 * 1000;
    Some(format!(
        " The precision asked for ({}) was not reached: {} trials leave {} on either side. About {} trials would do.",
        percent(asked),
        thousands(n),
        percent(reached),
        thousands(needed)
    ))
}

/// What makes the range as wide as it is.
#[must_use]
pub fn doubt(scenario: &Scenario, answer: &OutageAnswer) -> String {
    if !answer.never_asked(scenario).is_empty() {
        return String::new();
    }
    let s = &answer.survival;
    let decimals = decimals(s.interval);
    let source = answer.record_years.map_or_else(|| "what nobody has measured yet".into(), years_told);
    let few = if let Some(short) = precision_missed(answer) {
        short
    } else if s.trials < ENOUGH {
        format!(" {} trials are few: chance alone leaves a wide range. Take {} or more.", s.trials, thousands(ENOUGH))
    } else {
        String::new()
    };
    let mut told: Vec<(f64, String)> = s
        .shares
        .iter()
        .zip(&answer.unknowns)
        .filter_map(|(share, unknown)| Some(((*share).filter(|share| *share >= 0.05)?, unknown.words())))
        .collect();
    if told.is_empty() && s.interval.width() > 1.3 * s.chance.width() + 0.01 {
        return format!(
            "The range is a 95 % interval. Chance in {} trials alone would leave {}; the rest is {source}, of which no part \
             stands out.{few}",
            thousands(s.trials),
            range(s.chance, decimals),
        );
    }
    if told.is_empty() {
        let unknown = if answer.unknowns.is_empty() {
            ""
        } else {
            " What nobody has measured yet moves it by less than these trials can tell."
        };
        return format!("The range is the 95 % interval of chance in {} trials.{unknown}{few}", thousands(s.trials));
    }
    told.sort_by(|a, b| b.0.total_cmp(&a.0));
    let parts: Vec<String> = told.iter().take(3).map(|(share, name)| format!("{name} ({})", percent(*share))).collect();
    format!(
        "The range is a 95 % interval. Chance in {} trials alone would leave {}; the rest is {source}: {}.{few}",
        thousands(s.trials),
        range(s.chance, decimals),
        parts.join(", "),
    )
}

/// What so many years of record leave open: "what 14.6 years of record leave open".
fn years_told(years: f64) -> String {
    let told = (years * 10.0).round() / 10.0;
    let plural = if told == 1.0 { "" } else { "s" };
    format!("what {told} year{plural} of record leave open")
}
