//! The sentences of `now`.

use super::Facts;
use super::advice::{clock_at_least, clock_in};
use crate::calendar::clock;
use crate::report::device;
use crate::report::told::Words;
use crate::report::words::{count_word, duration, hundredths, range, the_list};
use crate::study::device::DeviceHours;
use crate::study::now::{Action, AssumedSky, Course, Move, Outlook, Situation, Until};
use crate::study::verdict::EVEN;
use crate::trials::interval::Interval;
use crate::weather::STORM_DAYS;

/// By when it is judged, and how to ask for another time.
pub(super) fn until_words(standing: &Situation, outlook: &Outlook, until: &Until) -> String {
    let (hours, clock) = (duration(until.hours()), clock_in(standing, outlook.step_h, until.hours()));
    match until {
        Until::Asked { .. } => format!("Judged by {clock}, as asked: {hours} from now."),
        Until::OwnLength { .. } => {
            format!("Judged by {clock}: {hours} from now, as long as the scenario's outage lasts. {OTHERWISE}")
        }
        Until::WhatIsLeft { .. } => {
            format!("Judged by {clock}: {hours} from now, the end of the scenario's outage. {OTHERWISE}")
        }
        Until::ThisCut { .. } => {
            format!("Judged by {clock}: {hours} from now, the end of this cut by the scenario's hours. {OTHERWISE}")
        }
        Until::NextCut { .. } => {
            format!("Judged by {clock}: {hours} from now, the end of the next cut by the scenario's hours. {OTHERWISE}")
        }
        Until::OneInTwenty { .. } => {
            format!(
                "Judged by {clock}: {hours} from now; one in twenty of the scenario's outages lasts longer. {OTHERWISE}"
            )
        }
    }
}

/// How to say when it is over.
const OTHERWISE: &str = "If you know better when power comes back, tell until when it has to last.";

/// What can be told when `now` is asked again, and how it is typed.
pub(super) fn known_better(facts: &Facts) -> String {
    let fuel = if facts.generator.is_some() {
        ", the litres left of the generator's fuel (typed: --fuel \"4 L\")"
    } else {
        ""
    };
    let floor = match facts.floor {
        Some(floor) => format!(", a lower floor of the battery (typed: --below-floor {:.0}%)", 50.0 * floor.kept),
        None => String::new(),
    };
    format!(
        "What you know better can be told when you ask again: until when it has to last (typed: --until 22:00), the sky of the next \
         days (typed: --sky dark,mixed,clear, a word for each){fuel}{floor}."
    )
}

/// What is kept on, and the food that keeps: never one for the other.
pub(super) fn kept(course: &Course) -> String {
    let on: Vec<&String> = course.keeps.iter().filter(|name| !course.keeps_food.contains(name)).collect();
    let food = || format!("the food in {}", the_list(&course.keeps_food));
    match (on.is_empty(), course.keeps_food.is_empty()) {
        (_, true) => the_list(&on),
        (true, false) => food(),
        (false, false) => format!("{} and {}", the_list(&on), food()),
    }
}

impl Words for Action {
    fn words(&self) -> String {
        match self {
            Action::AsPlanned => "as the plan stands".into(),
            Action::SpareOff => "spare things off".into(),
            Action::UsefulOff => "useful things off".into(),
            Action::SpareAndUsefulOff => "spare and useful things off".into(),
            Action::Only { load } => format!("only the {load}"),
            Action::AllBut { load } => format!("everything vital but the {load}"),
            Action::OnlyDevices { loads } => format!("only {}", the_list(loads)),
        }
    }
}

impl Words for Course {
    fn words(&self) -> String {
        let Some(run) = &self.generator else { return self.action.words() };
        let besides = if run.and_planned { ", and at its planned hours" } else { "" };
        let run = format!("the generator from {} for {} a day{besides}", clock(run.from_min), duration(run.run_h));
        match self.action {
            Action::AsPlanned => run,
            _ => format!("{}, {run}", self.action.words()),
        }
    }
}

/// "64 of 100 (44-82)".
pub(super) fn of_100(share: f64, interval: Interval) -> String {
    format!("{} of 100 ({})", hundredths(share, 0), range(interval, 0))
}

/// A free move with what it is worth: "the router on the 12 V DC outlet (8 W there): 3 days in 44 of 100 (20-70) instead of 25
/// (11-44)".
pub(super) fn move_words(free: &Move) -> String {
    let Move { change, hours_h, lasts, instead, .. } = free;
    format!(
        "{}: {} in {} instead of {} ({}).",
        change.words(),
        duration(*hours_h),
        of_100(lasts.0, lasts.1),
        hundredths(instead.0, 0),
        range(instead.1, 0)
    )
}

/// What the free moves come to together; nothing where they are not several.
pub(super) fn moves_together(outlook: &Outlook) -> String {
    outlook.moves_together.as_ref().map_or(String::new(), |all| {
        format!(
            "Each is told alone: they do not add up. {}: {} in {} instead of {} ({}).",
            if all.changes.len() == outlook.moves.len() {
                "All of these together"
            } else {
                "The first of each together"
            },
            duration(all.hours_h),
            of_100(all.lasts.0, all.lasts.1),
            hundredths(all.instead.0, 0),
            range(all.instead.1, 0)
        )
    })
}

/// "2 h", "1 day", "longer than 7 days".
pub(super) fn hours_left(hours: Option<f64>, outlook: &Outlook) -> String {
    hours.map_or_else(|| format!("over {}", duration(outlook.ahead_h)), duration)
}

/// The days as they were told: "from tomorrow: dark,clear" holds two.
pub(super) fn days(sky: &AssumedSky, told: &str) -> Vec<String> {
    let told = told.split_once(": ").map_or(told, |(_, days)| days);
    match sky {
        AssumedSky::Told(_) => told.split(',').map(|day| day.trim().to_string()).collect(),
        _ => Vec::new(),
    }
}

/// How to tell another sky.
const FORECAST: &str =
    "If you know the forecast, tell the sky of the next days, a word for each: dark, mixed or clear.";

/// Which weather is assumed, and how to say otherwise.
///
/// * `told` — the days as they were told, where they were.
#[must_use]
pub fn sky_words(sky: &AssumedSky, told: &str) -> String {
    match sky {
        AssumedSky::Any => format!("Sky assumed: any of the season. {FORECAST}"),
        AssumedSky::Storm { days } => {
            let left = match (*days, *days == STORM_DAYS) {
                (1, false) => "today is the last of its dark days".to_string(),
                (n, true) => format!("{} dark days, today the first", count_word(n)),
                (n, false) => format!("{} dark days of it are left, today the first", count_word(n)),
            };
            format!("Sky assumed: a storm, as the scenario begins: {left}. {FORECAST}")
        }
        AssumedSky::StormPast => format!(
            "Sky assumed: any of the season; the {} dark days that the scenario begins with are past. {FORECAST}",
            count_word(STORM_DAYS)
        ),
        AssumedSky::Told(_) => format!("Sky as told, {told}."),
    }
}

/// When each course can begin at the latest, a sentence each; none where each has to at once.
pub(super) fn latest(outlook: &Outlook) -> Vec<String> {
    let judged = outlook.judged;
    let later = |(course, latest): (&Course, &Option<f64>)| course.lasts[judged].0 >= EVEN && latest.is_some();
    if !outlook.courses.iter().skip(1).zip(&outlook.latest_h).any(later) {
        return Vec::new();
    }
    let one = |(course, latest): (&Course, &Option<f64>)| {
        let when = match latest {
            _ if course.lasts[judged].0 < EVEN => "not enough to last that long, so at once".to_string(),
            None => "at once: every hour costs".into(),
            Some(hours) if *hours >= 24.0 => "a day from now is early enough".into(),
            Some(hours) => format!("{} from now at the latest", duration(*hours)),
        };
        format!("{}: {when}", course.words())
    };
    outlook.courses.iter().skip(1).zip(&outlook.latest_h).map(one).collect()
}

/// How long devices run by themselves, and until when that is: as [`device::hours`] has it, and "By the clock: to the end of its use at
/// 07:00 tomorrow; by the lower end until 05:15 tomorrow."
pub(super) fn device_hours(facts: &Facts, hours: &DeviceHours) -> String {
    let (standing, outlook, told) = (facts.standing, facts.outlook, device::hours(hours));
    let alone = outlook.courses.iter().find(|course| course.keeps == outlook.devices);
    let Some(in_use) = alone.map(|course| &course.in_use).filter(|_| hours.runs_h > 0.0) else { return told };
    if hours.runs_h > outlook.ahead_h {
        return told;
    }
    let at = |hours: f64| clock_at_least(standing, outlook.step_h, hours);
    let until = |hours: f64| match in_use.until_h(hours) {
        used if used <= 0.0 => format!("not through its first use, from {}", at(in_use.next_h(0.0))),
        used if used < hours - 1e-9 => format!("to the end of its use at {}", at(used)),
        used => format!("until {}", at(used)),
    };
    let (best, least) = (until(hours.runs_h), until(hours.at_least_h));
    let least = if best == least { "as well".to_string() } else { least };
    format!("{told} By the clock: {best}; by the lower end {least}.")
}

/// The charge with what it may be off by: "43 % (± 5)".
pub(super) fn shown(standing: &Situation) -> String {
    let charge = standing.charge * 100.0;
    match standing.charge_plus_minus * 100.0 {
        half if half > 0.0 => format!("{charge:.0} % (± {half:.0})"),
        _ => format!("{charge:.0} %"),
    }
}

/// What is taken of the display.
pub(super) fn display(facts: &Facts) -> String {
    let half = facts.standing.charge_plus_minus * 100.0;
    match (facts.doubt_assumed, half > 0.0) {
        (true, true) => format!(
            "The display is taken to be off by up to {half:.0} points (common practice, no source; a charge may be told with its \
             own, like 43 % ± 2 %), and each trial begins somewhere in that."
        ),
        (false, true) => format!("The display is taken to be off by up to {half:.0} points, as told."),
        _ => "The charge is taken as it is shown.".into(),
    }
}
