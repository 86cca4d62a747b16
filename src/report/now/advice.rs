//! What to do, in the order of doing it.

use super::words::{kept, of_100};
use super::{CountOn, Facts};
use crate::calendar::{clock, month_called};
use crate::report::cautions::{phone, the_house};
use crate::report::told::Words;
use crate::report::words::{count_word, duration, the_list};
use crate::study::Verdict;
use crate::study::now::{Action, Course, GeneratorRun, LASTS, Outlook, Situation};
use crate::study::verdict::EVEN;
use crate::visible::begun;

/// What to do with the generator: "start the generator at 18:00 today and let it run for 4 h, and so every day (...)".
fn start(run: &GeneratorRun, standing: &Situation) -> String {
    let today = u32::from(run.from_min) + 60 > u32::from(standing.minute_of_day);
    let (time, unit) = if run.and_planned { ("a day", "day") } else { ("each time", "run") };
    let fuel = match (run.run_l, run.on_hand_l, run.runs()) {
        (Some(each), Some(on_hand), Some(runs)) => format!(
            " (at most {each:.1} L {time}; {on_hand:.1} L on hand are enough for {} such {unit}{})",
            if runs < 1.0 { "less than one".into() } else { count_word(runs as u64) },
            if runs < 2.0 { "" } else { "s" },
        ),
        (Some(each), ..) => format!(" (at most {each:.1} L {time})"),
        _ => String::new(),
    };
    // What is said of today alone is easily taken for a run by day.
    let every = match run.kept_awake && (run.from_min >= 21 * 60 || run.from_min < 6 * 60) {
        true => format!("every night at {}", clock(run.from_min)),
        false => "every day".into(),
    };
    format!(
        "start the generator{} and let it run for {}, and so {every}{}{fuel}",
        if run.kept_awake {
            " now, outdoors and far from doors and windows,".to_string()
        } else {
            let day = if today { "today" } else { "tomorrow" };
            format!(", outdoors and far from doors and windows, at {} {day}", clock(run.from_min))
        },
        duration(run.run_h),
        if run.and_planned { ", beside its planned hours" } else { "" }
    )
}

/// What a run at an hour asks for at which nobody would run a generator for less than a person's health; else nothing.
fn stay_up(run: Option<&GeneratorRun>, devices: &[String]) -> String {
    run.filter(|run| run.kept_awake).map_or(String::new(), |_| {
        format!(
            "{} would stop before the next usual run, and a person's health comes before quiet hours: somebody stays up and with the \
             generator for as long as it runs, never inside nor near an open window, with a carbon monoxide alarm where people \
             sleep; local rules hold. ",
            begun(&the_list(devices))
        )
    })
}

/// What the plan has off from now on by its own mark of charge, of what a course leaves on; nothing where it has nothing off.
fn off_by_mark(facts: &Facts) -> Option<String> {
    let charge = facts.standing.charge;
    let loads = facts.outlook.best_plan.loads.iter();
    let off: Vec<String> = loads
        .filter(|load| !load.never_runs() && charge < load.off_below && load.off_below <= 1.0)
        .map(|load| format!("{} (off below {:.0} %)", load.name, 100.0 * load.off_below))
        .collect();
    (!off.is_empty()).then(|| the_list(&off))
}

/// Clock time and day so many hours from the beginning of the step that a standing lies in: "03:00 tomorrow", "03:00 on 16 January".
pub(super) fn clock_in(standing: &Situation, step_h: f64, hours: f64) -> String {
    let step = (step_h * 60.0).round().max(1.0) as u64;
    let begins = u64::from(standing.minute_of_day) / step * step;
    let minutes = begins + (hours * 60.0 + 1e-6) as u64;
    let day = match minutes / 1440 {
        0 => " today".to_string(),
        1 => " tomorrow".to_string(),
        n => {
            let (month, day) = standing.date_in(n as u32);
            format!(" on {day} {}", month_called(month))
        }
    };
    clock((minutes % 1440) as u32) + &day
}

/// The same of hours that something lasts at least: no later than that, to five minutes.
pub(super) fn clock_at_least(standing: &Situation, step_h: f64, hours: f64) -> String {
    clock_in(standing, step_h, (hours * 12.0 + 1e-9).floor() / 12.0)
}

/// What to do first, where a person's health hangs on devices that last longer by themselves; else nothing.
fn device_first(facts: &Facts) -> Option<String> {
    let (standing, outlook) = (facts.standing, facts.outlook);
    let (first, best, at) = (&outlook.courses[outlook.first?], &outlook.courses[outlook.best], outlook.judged);
    let off: Vec<&String> = best.keeps.iter().filter(|name| !first.keeps.contains(name)).collect();
    let (alone, beside) = (first.lasts[at], best.device_lasts?[at]);
    let devices = the_list(&outlook.devices);
    let many = if outlook.devices.len() == 1 { "s" } else { "" };
    let run = first.generator.as_ref().map_or(String::new(), |run| format!(", {}", start(run, standing)));
    let mut out = format!(
        "Do this now: {}unplug {}{run}, and leave on {devices} alone. So {devices} last{many} {} in {}; with everything vital on \
         ({}) in {}.",
        if phone(&off) { "charge the phone, then " } else { "" },
        the_list(&off),
        duration(outlook.judged_h()),
        of_100(alone.0, alone.1),
        best.words(),
        of_100(beside.0, beside.1),
    );
    out.push_str(&the_house(&off));
    let up = stay_up(first.generator.as_ref(), &outlook.devices);
    out.push_str(&if up.is_empty() { up } else { format!(" {}", up.trim_end()) });
    let count_on = facts.count_on(first);
    let lasts = count_on.is_none_or(|count_on| count_on.hours_h >= outlook.judged_h());
    if !lasts {
        out.push_str(&counted_on(facts, first, count_on));
    }
    out.push_str(&supply(
        standing,
        outlook,
        count_on.filter(|_| !lasts).map(|count_on| first.in_use.until_h(count_on.hours_h)),
        if lasts { "in any case" } else { "now" },
    ));
    Some(out)
}

/// How long to plan for with a course: what nine of ten last, which is less than a verdict of "count on it" asks for.
fn counted_on(facts: &Facts, course: &Course, count_on: Option<CountOn>) -> String {
    let (standing, outlook) = (facts.standing, facts.outlook);
    let by_range =
        if outlook.devices.is_empty() { ", by the best estimate" } else { ", by the lower end of the range" };
    let own = count_on.is_some_and(|count_on| count_on.own);
    match count_on.map(|count_on| count_on.hours_h) {
        Some(hours) if hours <= 0.0 && own => {
            let devices = the_list(&outlook.devices);
            format!(" Plan for nothing: {devices} may not run at all with nothing charging.")
        }
        Some(hours) if hours <= 0.0 => {
            let within_h = if course.nine_of_ten_last_h == Some(0.0) { outlook.step_h } else { outlook.horizons_h[0] };
            format!(" Plan for nothing: more than one in ten fail within {}{by_range}.", duration(within_h))
        }
        Some(hours) => {
            let (used_h, next_h) = (course.in_use.until_h(hours), course.in_use.next_h(hours));
            let needed = if course.keeps.len() == 1 { "It is" } else { "They are" };
            let next = clock_in(standing, outlook.step_h, next_h);
            if used_h <= 0.0 {
                return format!(
                    " Plan for nothing: {} first needed at {next}, and more than one in ten fail then{by_range}.",
                    needed.to_lowercase()
                );
            }
            let next = if used_h < hours {
                format!(" {needed} next needed at {next}, and the battery may be empty well before.")
            } else {
                String::new()
            };
            let why = match own {
                true => format!(
                    "so long {} run{} at least with nothing charging, by the lower end of a 95 % range",
                    the_list(&outlook.devices),
                    if outlook.devices.len() == 1 { "s" } else { "" }
                ),
                false => format!("nine of ten last that long{by_range}"),
            };
            format!(
                " Plan for no more than {}, until {}: {why}.{next}",
                duration(used_h),
                clock_at_least(standing, outlook.step_h, used_h)
            )
        }
        None => String::new(),
    }
}

/// Where else the devices run; nothing where there are none.
///
/// * `count_on_h` — hours to count on; `else_by` — when, where there are none.
fn supply(standing: &Situation, outlook: &Outlook, count_on_h: Option<f64>, else_by: &str) -> String {
    if outlook.devices.is_empty() {
        return String::new();
    }
    let by = match count_on_h {
        Some(hours) if hours <= 0.0 => "now".to_string(),
        Some(hours) => format!("before {}", clock_at_least(standing, outlook.step_h, hours)),
        None => else_by.to_string(),
    };
    let (devices, each) = match &outlook.devices[..] {
        [device] => (format!("the {device}"), "it"),
        several => (the_list(several), "them"),
    };
    format!(
        " A person's health hangs on {devices}: arrange another supply for {each} {by}, and ask the device's supplier or whoever \
         prescribed it what to do."
    )
}

/// What to act on, a paragraph each: devices that a person's health hangs on before everything else.
pub(super) fn advice(facts: &Facts) -> Vec<String> {
    let (first, by_a_move) = (device_first(facts), super::better_by_a_move(facts));
    let everything = everything(facts, first.is_none(), !by_a_move.is_empty());
    [first.unwrap_or_default(), by_a_move, everything].into_iter().filter(|paragraph| !paragraph.is_empty()).collect()
}

/// What to do so that everything vital stays on, and how long it then does.
///
/// * `leads` — whether no device comes before; `free` — whether a free move does that changes the verdict.
fn everything(facts: &Facts, leads: bool, free: bool) -> String {
    let (standing, outlook) = (facts.standing, facts.outlook);
    let best = &outlook.courses[outlook.best];
    let (k, judged_h) = (outlook.judged, outlook.horizons_h[outlook.judged]);
    let (share, interval) = best.lasts[k];
    let keeps = kept(best);
    let many = if best.keeps.len() == 1 { "s" } else { "" };
    let lasts = share >= LASTS;
    let count_on = facts.count_on(best);
    let named = matches!(best.action, Action::SpareOff | Action::UsefulOff | Action::SpareAndUsefulOff);
    let names = if named && !outlook.off.is_empty() { format!(" ({})", the_list(&outlook.off)) } else { String::new() };
    let shed = (best.action != Action::AsPlanned).then(|| best.action.words() + &names);
    let run = best.generator.as_ref().map(|run| start(run, standing));
    let marked = off_by_mark(facts);
    let mark =
        marked.as_ref().filter(|_| shed.is_none()).map(|off| format!("what the plan has off at this charge: {off}"));
    let steps: Vec<String> = shed.into_iter().chain(mark.clone()).chain(run).collect();
    let free = leads && free;
    let mut out = if !leads {
        format!("With everything vital on, {}: ", best.words())
    } else if !steps.is_empty() {
        let latest = outlook.best.checked_sub(1).and_then(|k| outlook.latest_h.get(k)).copied().flatten();
        let when = match latest {
            Some(_) if share < EVEN => "now".to_string(),
            Some(hours) if hours >= 24.0 => "within the next day".to_string(),
            Some(hours) => format!("within {}, no later", duration(hours)),
            None => "now".into(),
        };
        let too = if free { " too," } else { "" };
        let also = marked.filter(|_| mark.is_none());
        let also = also
            .map_or(String::new(), |off| format!("Off from now on too, by the plan's own marks of charge: {off}. "));
        let up = stay_up(best.generator.as_ref(), &outlook.devices);
        format!("Do this{too} {when}: {}. {also}{up}", steps.join(", and "))
    } else if lasts {
        "Go on as planned. ".to_string()
    } else {
        String::new()
    };
    if !lasts && leads {
        let how = match share {
            p if p < 0.05 => "will not last",
            p if p < 0.5 => "will probably not last",
            _ => "may not last",
        };
        let even = match (free, outlook.best > 0) {
            (true, _) => "Without what is free it",
            (false, true) => "Even so it",
            (false, false) => "As planned it",
        };
        out.push_str(&format!("{even} {how} {}. ", duration(judged_h)));
    }
    // The table below has the same numbers; half of them end sooner only where fewer than half last so long.
    let half = best.half_last_h.filter(|hours| *hours < judged_h).map(|hours| best.in_use.until_h(hours));
    let half =
        half.map_or(String::new(), |hours| format!(", half of the time no longer than about {}", duration(hours)));
    out.push_str(&format!(
        "{} last{many} {} in {}{half}.",
        if leads { begun(&keeps) } else { keeps },
        duration(judged_h),
        of_100(share, interval),
    ));
    // Courses that keep all vital loads on stand first.
    if outlook.best == 0 && lasts && !outlook.latest_h.is_empty() {
        out.push_str(" Switching more off adds less than 1 of 100 to that.");
    }
    if let Some((share, interval)) =
        best.device_lasts.map(|lasts| lasts[k]).filter(|_| leads && outlook.devices_and_more())
    {
        let devices = the_list(&outlook.devices);
        out.push_str(&format!(
            " {} by itself: in {}, whatever becomes of the rest.",
            begun(&devices),
            of_100(share, interval)
        ));
    }
    if !lasts {
        out.push_str(&counted_on(facts, best, count_on));
        out.push_str(&what_would(facts));
    }
    if leads {
        out.push_str(&supply(
            standing,
            outlook,
            count_on.map(|count_on| best.in_use.until_h(count_on.hours_h)),
            if lasts { "in any case" } else { "now" },
        ));
    }
    out
}

/// Which other rows of the table would last; where none can be counted on, those that come nearest.
fn what_would(facts: &Facts) -> String {
    let (outlook, horizon) = (facts.outlook, facts.outlook.judged);
    let health = !outlook.devices.is_empty();
    let counted = |course: &Course| facts.verdict(course) == Verdict::CountOnIt;
    let other = |reaches: &dyn Fn(&Course) -> bool| -> Vec<&Course> {
        let others =
            outlook.courses.iter().enumerate().filter(|(k, course)| *k != outlook.best && (!health || course.whole));
        others.map(|(_, course)| course).filter(|course| reaches(course)).collect()
    };
    let mut lasting = other(&|course| course.lasts[horizon].0 >= LASTS);
    if lasting.is_empty() {
        // One that is likely decides too where the best of the whole is less.
        let best = facts.verdict(facts.best());
        lasting = other(&|course| facts.verdict(course) < best && facts.verdict(course) <= Verdict::Likely);
    }
    let sure = lasting.iter().any(|course| counted(course));
    // Where all but one last, one alone is no choice.
    let but = |course: &Course| matches!(course.action, Action::AllBut { .. });
    let one_off = lasting.iter().any(|course| but(course) && (!sure || counted(course)));
    let lasting = lasting.into_iter().filter(|course| !one_off || course.whole || but(course));
    let told = lasting.filter(|course| !sure || counted(course)).map(|course| {
        let (share, interval) = course.lasts[horizon];
        let likely = if facts.verdict(course) == Verdict::Likely { ", likely" } else { "" };
        format!("{}, {}{likely}", course.words(), of_100(share, interval))
    });
    let rows: Vec<String> = told.collect();
    let judged = duration(outlook.horizons_h[horizon]);
    match (rows.is_empty(), sure) {
        (true, _) => String::new(),
        (false, true) => format!(" What would last {judged}: {}.", rows.join("; or ")),
        (false, false) => {
            format!(" What lasts longest, though not to be counted on for {judged}: {}.", rows.join("; or "))
        }
    }
}
