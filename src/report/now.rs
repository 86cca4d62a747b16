//! The answer of `now`: one screen, narrow enough for a phone, no colour.

use serde::Serialize;

use super::json::SCHEMA_VERSION;
use super::outage::wrap;
use super::words::{duration, range, the_list, thousands, whole};
use crate::engine::clock::MONTHS;
use crate::study::now::{AHEAD_H, Course, HORIZONS_H, Outlook, Standing};

/// Width of a phone's terminal.
const NARROW: usize = 60;

/// "2 h", "1 day", "longer than 7 days".
fn hours_left(hours: Option<f64>) -> String {
    hours.map_or_else(|| format!("over {}", duration(AHEAD_H)), duration)
}

fn cell(course: &Course, k: usize) -> String {
    let (share, interval) = course.lasts[k];
    let told = whole(share, 100);
    // One digit of doubt is enough on a small screen: the widest end of the interval.
    let half = ((interval.high - interval.low) * 50.0).ceil() as u64;
    format!("{told}±{half}")
}

/// The sentence to act on.
#[must_use]
pub fn advice(outlook: &Outlook) -> String {
    let best = &outlook.courses[outlook.best];
    let horizon = HORIZONS_H.iter().position(|h| (h - outlook.judged_h).abs() < 1e-9).unwrap_or(3);
    let mut out = if outlook.best == 0 {
        format!("Go on as planned: switching more off would not keep {} on noticeably longer.", the_list(&best.keeps))
    } else {
        let latest = outlook.latest_h.get(outlook.best - 1).copied().flatten();
        let when = match latest {
            Some(hours) if hours >= 24.0 => "within the next day".to_string(),
            Some(hours) => format!("within {}, no later", duration(hours)),
            None => "now".into(),
        };
        format!("Do this {when}: {}.", best.name)
    };
    out.push_str(&format!(
        " Then {} last{} {} in {} of 100 ({}), and half of the time {}.",
        the_list(&best.keeps),
        if best.keeps.len() == 1 { "s" } else { "" },
        duration(outlook.judged_h),
        whole(best.lasts[horizon].0, 100),
        range(best.lasts[horizon].1, 100),
        best.half_last_h
            .map_or_else(|| format!("longer than {}", duration(AHEAD_H)), |h| format!("at least {}", duration(h)))
    ));
    out
}

/// The answer as text.
#[must_use]
pub fn text(standing: &Standing, outlook: &Outlook, sky: &str) -> String {
    let month = MONTHS[usize::from(standing.month.clamp(1, 12)) - 1];
    let mut out = format!(
        "{:.0} % on {} {month}, {:02}:{:02}{sky}\n\n",
        standing.charge * 100.0,
        standing.day,
        standing.minute_of_day / 60,
        standing.minute_of_day % 60,
    );
    out.push_str(&wrap(&advice(outlook), "", NARROW));
    out.push_str("\nOf 100, vital things still on after\n");
    out.push_str("   12 h  1 day 2 days 3 days   half last\n");
    for course in &outlook.courses {
        let name: String = course.name.chars().take(NARROW - 4).collect();
        out.push_str(&format!("{name}\n"));
        let cells: String = (0..4).map(|k| format!("{:>7}", cell(course, k))).collect();
        out.push_str(&format!("{cells}   {}\n", hours_left(course.half_last_h)));
    }
    let mut late = String::new();
    for (course, latest) in outlook.courses.iter().skip(1).zip(&outlook.latest_h) {
        let when = latest.map_or("at once: every hour costs".to_string(), |hours| {
            if hours >= 24.0 {
                "a day from now is early enough".into()
            } else {
                format!("{} from now at the latest", duration(hours))
            }
        });
        late.push_str(&format!("  {}: {when}\n", course.name));
    }
    if !late.is_empty() {
        out.push_str(&format!("\nWhen (judged by {}, to 1 of 100)\n{late}", duration(outlook.judged_h)));
    }
    out.push('\n');
    out.push_str(&wrap(
        &format!(
            "{} trials; ± is 95 % of chance. The station's own display may be off by some percent: lean to the safe side. \
             Rows that keep only one thing judge that thing alone.",
            thousands(outlook.trials)
        ),
        "",
        NARROW,
    ));
    out
}

/// The answer of `now` as JSON.
#[derive(Debug, Serialize)]
pub struct Json {
    kind: &'static str,
    schema_version: u32,
    version: &'static str,
    seed: u64,
    trials: u64,
    charge_percent: f64,
    advice: String,
    judged_h: f64,
    courses: Vec<JsonCourse>,
}

#[derive(Debug, Serialize)]
struct JsonCourse {
    name: String,
    keeps: Vec<String>,
    best: bool,
    lasts: Vec<JsonLasts>,
    half_last_h: Option<f64>,
    nine_of_ten_last_h: Option<f64>,
    latest_start_h: Option<f64>,
}

#[derive(Debug, Serialize)]
struct JsonLasts {
    hours_h: f64,
    probability: f64,
    low: f64,
    high: f64,
}

/// The answer for the schema.
#[must_use]
pub fn json(standing: &Standing, outlook: &Outlook, seed: u64) -> Json {
    Json {
        kind: "now",
        schema_version: SCHEMA_VERSION,
        version: env!("CARGO_PKG_VERSION"),
        seed,
        trials: outlook.trials,
        charge_percent: standing.charge * 100.0,
        advice: advice(outlook),
        judged_h: outlook.judged_h,
        courses: outlook
            .courses
            .iter()
            .enumerate()
            .map(|(k, course)| JsonCourse {
                name: course.name.clone(),
                keeps: course.keeps.clone(),
                best: k == outlook.best,
                lasts: HORIZONS_H
                    .iter()
                    .zip(course.lasts)
                    .map(|(&hours_h, (probability, interval))| JsonLasts {
                        hours_h,
                        probability,
                        low: interval.low,
                        high: interval.high,
                    })
                    .collect(),
                half_last_h: course.half_last_h,
                nine_of_ten_last_h: course.nine_of_ten_last_h,
                latest_start_h: k.checked_sub(1).and_then(|k| outlook.latest_h.get(k)).copied().flatten(),
            })
            .collect(),
    }
}
