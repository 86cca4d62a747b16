//! The answer of `now` for programs.

use serde::Serialize;

use super::advice::advice;
use super::beside::{fuel, season_words};
use super::words::{days, device_hours, move_words, moves_together, sky_words, until_words};
use super::{Facts, Floor};
use crate::engine::LoadPlan;
use crate::report::cautions;
use crate::report::device;
use crate::report::food;
use crate::report::notes::Note;
use crate::report::place::Whereabouts;
use crate::report::told::{self, Told, Words};
use crate::report::verdict;
use crate::report::words::duration;
use crate::study::Change;
use crate::study::fit::Overload;
use crate::study::now::{Action, AssumedSky, Course, GeneratorRun, LASTS, Until};
use crate::trials::interval::Interval;

/// The answer of `now` as JSON.
#[derive(Debug, Serialize)]
pub struct Json<'a> {
    place: Told<Whereabouts>,
    seed: u64,
    trials: u64,
    /// Whether the run was stopped before the trials asked for were done.
    stopped_early: bool,
    charge_percent: f64,
    /// What the charge may be off by, 95 % half-width, and whether that is assumed.
    charge_plus_minus_percent: f64,
    charge_plus_minus_assumed: bool,
    sky: JsonSky,
    /// Where the weather comes from.
    weather: Option<Told<&'a Note>>,
    /// What the answer rests on.
    notes: Vec<Told<&'a Note>>,
    /// What is to be minded with this kit.
    cautions: Vec<cautions::Said>,
    /// What becomes of food in coolers with the best course, as far as was looked.
    food: Vec<JsonFood<'a>>,
    advice: JsonAdvice<'a>,
    judged_h: f64,
    /// The longest of the shorter horizons that the best course has a better verdict for; null where there is none.
    sooner: Option<JsonSooner>,
    /// How far is looked, and why.
    until: JsonUntil<'a>,
    /// The charge below which the station gives nothing; null where there is none.
    floor: Option<JsonFloor>,
    /// The generator and its fuel; null without one.
    fuel: Option<JsonFuel>,
    /// Outlets that switch off: the trials do not know of it.
    overloads: Vec<Told<&'a Overload>>,
    courses: Vec<JsonCourse<'a>>,
    /// Free changes beside what is on or off that help the best course.
    free_moves: Vec<JsonMove<'a>>,
    /// All of them made at once, where they are several.
    free_moves_together: Option<JsonMoves>,
    /// Devices that a person's health hangs on by themselves; null where there are none.
    device_alone: Option<JsonDevice<'a>>,
}

/// A free change.
#[derive(Debug, Serialize)]
struct JsonMove<'a> {
    #[serde(flatten)]
    change: Told<&'a Change>,
    /// With it.
    lasts: JsonLasts,
    /// Without it, by the same time.
    instead: JsonLasts,
}

/// Free changes made at once.
#[derive(Debug, Serialize)]
struct JsonMoves {
    /// Which.
    changes: Vec<Told<Change>>,
    /// With them.
    lasts: JsonLasts,
    /// Without them, by the same time.
    instead: JsonLasts,
    /// The same in words.
    text: String,
}

/// How long devices run with all else unplugged and no sun.
#[derive(Debug, Serialize)]
struct JsonDevice<'a> {
    #[serde(flatten)]
    hours: device::Hours<'a>,
    /// The same in words.
    text: String,
}

/// What a shorter time comes to.
#[derive(Debug, Serialize)]
struct JsonSooner {
    hours_h: f64,
    verdict: verdict::Json,
}

/// Food in one part of a cooler.
#[derive(Debug, Serialize)]
struct JsonFood<'a> {
    load: &'a str,
    #[serde(flatten)]
    food: food::Food,
}

/// By when it is judged.
#[derive(Debug, Serialize)]
struct JsonUntil<'a> {
    #[serde(flatten)]
    until: &'a Until,
    /// The same in words.
    text: String,
}

/// The generator's fuel.
#[derive(Debug, Serialize)]
struct JsonFuel {
    /// What is left, in litres; null where it never ends.
    left_l: Option<f64>,
    /// Whether that was told.
    told: bool,
    /// The same in words.
    text: String,
}

/// The charge below which the station gives nothing.
#[derive(Debug, Serialize)]
struct JsonFloor {
    #[serde(flatten)]
    floor: Floor,
    /// What is said of it, where anything is.
    text: Option<String>,
}

/// Which weather is assumed.
#[derive(Debug, Serialize)]
struct JsonSky {
    /// `any`, `storm`, `storm_past` or `told`.
    kind: &'static str,
    /// Dark days left of the storm that the scenario begins with, today counted; null unless `storm`.
    dark_days: Option<u32>,
    /// The days as they were told, in their order; empty unless `told`.
    days: Vec<String>,
    /// Of when the weather is, where the scenario is of another month; empty where it is not.
    season: String,
    /// The same in words.
    text: String,
}

/// What to do.
#[derive(Debug, Serialize)]
struct JsonAdvice<'a> {
    #[serde(flatten)]
    action: &'a Action,
    /// When the generator runs with it, where at other hours than the scenario's.
    generator: Option<GeneratorRun>,
    /// Vital loads that stay on with it: devices alone that a person's health hangs on, where these come first.
    keeps: &'a [String],
    /// How far it can be relied on that these last until `judged_h` with it.
    verdict: verdict::Json,
    /// Whether they last until `judged_h` with it.
    lasts: bool,
    /// Hours that nine of ten trials last at least, or fewer where devices that a person's health hangs on run no longer by themselves, by the
    /// lower end; null for longer than looked ahead.
    count_on_h: Option<f64>,
    /// The same in words.
    text: String,
}

#[derive(Debug, Serialize)]
struct JsonCourse<'a> {
    #[serde(flatten)]
    action: Told<&'a Action>,
    generator: Option<GeneratorRun>,
    keeps: &'a [String],
    /// Coolers among them that are judged by their food.
    keeps_food: &'a [String],
    best: bool,
    /// Whether it comes before everything vital, since a person's health hangs on what it keeps.
    first: bool,
    /// How long the devices last that a person's health hangs on, whatever else goes dark.
    device_lasts: Option<Vec<JsonLasts>>,
    /// How far it can be relied on that what it keeps lasts until `judged_h`.
    verdict: verdict::Json,
    lasts: Vec<JsonLasts>,
    half_last_h: Option<f64>,
    nine_of_ten_last_h: Option<f64>,
    latest_start_h: Option<f64>,
    /// Whether the AC outlet may go off by itself under so little as it leaves on; the trials count that.
    little_on_ac: bool,
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
pub fn json<'a>(facts: &Facts<'a>) -> Json<'a> {
    let &Facts { scenario, standing, outlook, sky, until, floor, told, overloads, notes, seed, .. } = facts;
    let (kind, dark_days) = match *sky {
        AssumedSky::Any => ("any", None),
        AssumedSky::Storm { days } => ("storm", Some(days)),
        AssumedSky::StormPast => ("storm_past", None),
        AssumedSky::Told(_) => ("told", None),
    };
    let by = |hours_h: f64, (probability, interval): (f64, Interval)| JsonLasts {
        hours_h,
        probability,
        low: interval.low,
        high: interval.high,
    };
    let lasts = |lasts: [(f64, Interval); 4]| (0..4).map(|at| by(outlook.horizons_h[at], lasts[at])).collect();
    let course = |(k, course): (usize, &'a Course)| JsonCourse {
        action: Told { fact: &course.action, text: course.words() },
        generator: course.generator,
        keeps: &course.keeps,
        keeps_food: &course.keeps_food,
        best: k == outlook.best,
        first: Some(k) == outlook.first,
        device_lasts: facts.device_lasts(course).map(lasts),
        verdict: verdict::Json::from(facts.verdict(course)).taking(facts.fuel(course, outlook.judged)),
        lasts: lasts(course.lasts),
        little_on_ac: course.little_on_ac,
        half_last_h: course.half_last_h.map(|hours| course.in_use.until_h(hours)),
        nine_of_ten_last_h: course.nine_of_ten_last_h.map(|hours| course.in_use.until_h(hours)),
        latest_start_h: k.checked_sub(1).and_then(|k| outlook.latest_h.get(k)).copied().flatten(),
    };
    let best = &outlook.courses[outlook.best];
    let loads = || outlook.best_plan.loads.iter().enumerate();
    let of = |(k, load): (usize, &'a LoadPlan)| {
        let parts = food::json(&outlook.best_plan, &outlook.best_tally, k);
        parts.into_iter().map(|food| JsonFood { load: &load.name, food })
    };
    let is_weather = |note: &&Note| matches!(note, Note::Climate { .. } | Note::Record { .. });
    let advised = outlook.advised();
    Json {
        place: Whereabouts::of(&scenario.site).into(),
        seed,
        trials: outlook.trials,
        stopped_early: outlook.stopped_early,
        charge_percent: standing.charge * 100.0,
        charge_plus_minus_percent: standing.charge_plus_minus * 100.0,
        charge_plus_minus_assumed: facts.doubt_assumed,
        sky: JsonSky {
            kind,
            dark_days,
            days: days(sky, told),
            season: season_words(scenario, standing),
            text: sky_words(sky, told),
        },
        weather: notes.iter().find(is_weather).map(Told::from),
        notes: told::all(notes.iter().filter(|note| !is_weather(note))),
        cautions: cautions::said(scenario, facts.device_verdict(advised).unwrap_or_else(|| facts.verdict(best))),
        food: loads().flat_map(of).collect(),
        advice: JsonAdvice {
            action: &advised.action,
            generator: advised.generator,
            keeps: &advised.keeps,
            verdict: verdict::Json::from(facts.verdict(advised)).taking(facts.fuel(advised, outlook.judged)),
            lasts: advised.lasts[outlook.judged].0 >= LASTS,
            count_on_h: facts.count_on(advised).map(|count_on| advised.in_use.until_h(count_on.hours_h)),
            text: advice(facts).join(" "),
        },
        judged_h: outlook.horizons_h[outlook.judged],
        sooner: facts.sooner().map(|(at, verdict)| JsonSooner {
            hours_h: outlook.horizons_h[at],
            verdict: verdict::Json::from(verdict).taking(facts.fuel(best, at)),
        }),
        until: JsonUntil { until, text: until_words(standing, outlook, until) },
        floor: floor.map(|floor| {
            let would = floor.would_last(&duration(outlook.judged_h()));
            JsonFloor { floor, text: would.or_else(|| floor.words(standing.charge)) }
        }),
        fuel: facts.generator.map(|generator| JsonFuel {
            left_l: generator.fuel.map(|litres| litres.0),
            told: facts.fuel_told,
            text: fuel(facts),
        }),
        overloads: told::all(overloads),
        courses: outlook.courses.iter().enumerate().map(course).collect(),
        free_moves: outlook
            .moves
            .iter()
            .map(|free| JsonMove {
                change: Told { fact: &free.change, text: move_words(free) },
                lasts: by(free.hours_h, free.lasts),
                instead: by(free.hours_h, free.instead),
            })
            .collect(),
        free_moves_together: outlook.moves_together.as_ref().map(|all| JsonMoves {
            changes: all.changes.iter().cloned().map(Told::from).collect(),
            lasts: by(all.hours_h, all.lasts),
            instead: by(all.hours_h, all.instead),
            text: moves_together(outlook),
        }),
        device_alone: facts
            .device_hours
            .map(|hours| JsonDevice { hours: hours.into(), text: device_hours(facts, hours) }),
    }
}
