//! The answer of `now` as a document narrow enough for a phone, and for programs.

use serde::Serialize;

use super::document::{Column, Document, Table};
use super::notes::Note;
use super::phrases::uncounted;
use super::place::Whereabouts;
use super::told::{self, Told, Words};
use super::verdict::{self, MEDICAL_CAUTION, word};
use super::words::{count_word, duration, hundredths, range, stopped, the_list, thousands};
use crate::ageing::trade;
use crate::calendar::MONTHS;
use crate::scenario::model::Site;
use crate::study::fit::Overload;
use crate::study::now::{Action, AssumedSky, COSTS_LITTLE, Course, LASTS, Outlook, Situation, Until};
use crate::study::{Stakes, Verdict};
use crate::trials::unknowns::ENOUGH;
use crate::weather::STORM_DAYS;

/// Width of a phone's terminal.
pub const NARROW: usize = 60;

/// All that `now` knows.
#[derive(Debug, Clone, Copy)]
pub struct Facts<'a> {
    /// Where the kit stands.
    pub site: &'a Site,
    /// Where things stand.
    pub standing: &'a Situation,
    /// Whether what the charge may be off by is assumed.
    pub doubt_assumed: bool,
    /// What the trials say.
    pub outlook: &'a Outlook,
    /// Which weather is assumed.
    pub sky: &'a AssumedSky,
    /// By when it is judged.
    pub until: &'a Until,
    /// The charge below which the station gives nothing, where it has one.
    pub floor: Option<Floor>,
    /// The days as they were told, where they were: "from tomorrow: dark,clear".
    pub told: &'a str,
    /// Names of loads that a person's health hangs on.
    pub medical: &'a [&'a str],
    /// Outlets that switch off: the trials do not know of it.
    pub overloads: &'a [Overload],
    /// Where the weather comes from.
    pub weather: &'a Note,
    /// Seed.
    pub seed: u64,
}

/// The charge below which a station gives nothing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Floor {
    /// What the scenario keeps, 0 to 1.
    pub kept: f64,
    /// What is kept instead, where somebody asked for less.
    pub instead: Option<f64>,
    /// Whether the cells are lead-acid.
    pub lead: bool,
}

impl Floor {
    /// What is said of it, where anything is: a display that shows less than what is kept, or a lower floor that was asked for.
    fn words(&self, charge: f64) -> Option<String> {
        let percent = |share: f64| format!("{:.0} %", share * 100.0);
        // A cycle that goes so deep, over one that ends at the floor, by the rule of thumb for cycles: alike for all kinds of cells.
        let price = |to: f64| {
            let times = trade::LFP.cycles_to_worn_out(1.0 - self.kept) / trade::LFP.cycles_to_worn_out(1.0 - to);
            let lead = if self.lead {
                "; lead-acid cells left empty for days are harmed for good: charge them fully as soon as you can"
            } else {
                ""
            };
            format!(
                "a discharge down to {} wears the battery about as much as {times:.1} down to {} (rule of the trade, no source){lead}",
                percent(to),
                percent(self.kept)
            )
        };
        if let Some(to) = self.instead {
            return Some(format!(
                "Goes on below the {} that this battery should keep: {}.",
                percent(self.kept),
                price(to)
            ));
        }
        (charge < self.kept).then(|| {
            let to = 0.5 * self.kept;
            format!(
                "{} is below the {} that this battery should keep (station.keep_above): nothing is drawn from it until it is \
                 charged. To go on all the same: --below-floor {:.0}%. The price: {}.",
                percent(charge),
                percent(self.kept),
                to * 100.0,
                price(to)
            )
        })
    }
}

/// By when it is judged, and how to ask for another time.
fn until_words(standing: &Situation, outlook: &Outlook, until: &Until) -> String {
    let (hours, clock) = (duration(until.hours()), clock_in(standing, outlook.step_h, until.hours()));
    match until {
        Until::Asked { .. } => format!("Judged by {clock}, as asked: {hours} from now."),
        Until::OwnLength { .. } => {
            format!("Looks {hours} ahead, as long as the scenario's outage lasts; name another end with --until.")
        }
        Until::WhatIsLeft { .. } => {
            format!("Looks {hours} ahead, to the end of the scenario's outage; name another end with --until.")
        }
        Until::OneInTwenty { .. } => {
            format!(
                "Looks {hours} ahead: one in twenty of the scenario's outages lasts longer; name an end with --until."
            )
        }
    }
}

/// What is kept on, and the food that keeps: never one for the other.
fn kept(course: &Course) -> String {
    let on: Vec<&String> = course.keeps.iter().filter(|name| !course.keeps_food.contains(name)).collect();
    let food = || format!("the food in {}", the_list(&course.keeps_food));
    match (on.is_empty(), course.keeps_food.is_empty()) {
        (_, true) => the_list(&on),
        (true, false) => food(),
        (false, false) => format!("{} and {}", the_list(&on), food()),
    }
}

impl Facts<'_> {
    /// The verdict on a course: whether what it keeps lasts as long as is judged by.
    fn verdict(&self, course: &Course) -> Verdict {
        let (share, interval) = course.lasts[self.outlook.judged];
        let medical = course.keeps.iter().any(|kept| self.medical.contains(&kept.as_str()));
        Verdict::of(share, interval, Stakes::of(medical, self.overloads))
    }
}

impl Words for Action {
    fn words(&self) -> String {
        match self {
            Action::AsPlanned => "as the plan stands".into(),
            Action::SpareOff => "spare things off".into(),
            Action::UsefulOff => "useful things off".into(),
            Action::SpareAndUsefulOff => "spare and useful things off".into(),
            Action::ByTurns { loads } => format!("vital only, {} 4 h on and 4 h off", loads.join(" and ")),
            Action::Only { load } => format!("only the {load}"),
        }
    }
}

/// "2 h", "1 day", "longer than 7 days".
fn hours_left(hours: Option<f64>, outlook: &Outlook) -> String {
    hours.map_or_else(|| format!("over {}", duration(outlook.ahead_h)), duration)
}

fn cell(course: &Course, k: usize) -> String {
    let (share, interval) = course.lasts[k];
    format!("{}({})", hundredths(share, 0), range(interval, 0))
}

/// Clock time and day so many hours from the beginning of the step that a standing lies in: "03:00 tomorrow".
fn clock_in(standing: &Situation, step_h: f64, hours: f64) -> String {
    let step = (step_h * 60.0).round().max(1.0) as u64;
    let begins = u64::from(standing.minute_of_day) / step * step;
    let minutes = begins + (hours * 60.0 + 1e-6) as u64;
    let day = match minutes / 1440 {
        0 => " today".to_string(),
        1 => " tomorrow".to_string(),
        n => format!(", {n} days from today"),
    };
    format!("{:02}:{:02}{day}", minutes / 60 % 24, minutes % 60)
}

/// The sentence to act on.
///
/// * `medical` — names of loads that a person's health hangs on.
#[must_use]
pub fn advice(standing: &Situation, outlook: &Outlook, medical: &[&str]) -> String {
    let best = &outlook.courses[outlook.best];
    let (k, judged_h) = (outlook.judged, outlook.horizons_h[outlook.judged]);
    let (share, interval) = best.lasts[k];
    let keeps = kept(best);
    let many = if best.keeps.len() == 1 { "s" } else { "" };
    let lasts = share >= LASTS;
    let health = best.keeps.iter().any(|kept| medical.contains(&kept.as_str()));
    let count_on_h = best.count_on_h(&outlook.horizons_h, health);
    let mut out = if outlook.best > 0 {
        let latest = outlook.latest_h.get(outlook.best - 1).copied().flatten();
        let when = match latest {
            Some(_) if share <= COSTS_LITTLE => "now".to_string(),
            Some(hours) if hours >= 24.0 => "within the next day".to_string(),
            Some(hours) => format!("within {}, no later", duration(hours)),
            None => "now".into(),
        };
        format!("Do this {when}: {}. ", best.action.words())
    } else if lasts {
        format!("Go on as planned: switching more off would not keep {keeps} on noticeably longer. ")
    } else {
        String::new()
    };
    if !lasts {
        let how = match share {
            p if p < 0.05 => "will not last",
            p if p < 0.5 => "will probably not last",
            _ => "may not last",
        };
        let even = if outlook.best > 0 { "Even so it" } else { "It" };
        out.push_str(&format!("{even} {how} {}. ", duration(judged_h)));
    }
    let half = best
        .half_last_h
        .map_or_else(|| format!("longer than {}", duration(outlook.ahead_h)), |h| format!("at least {}", duration(h)));
    out.push_str(&format!(
        "{} {keeps} last{many} {} in {} of 100 ({}), and half of the time {half}.",
        if outlook.best > 0 { "Then" } else { "So" },
        duration(judged_h),
        hundredths(share, 0),
        range(interval, 0),
    ));
    if !lasts {
        let by_range = if health { ", by the lower end of the range" } else { "" };
        out.push_str(&match count_on_h {
            Some(hours) if hours <= 0.0 => {
                let within_h =
                    if best.nine_of_ten_last_h == Some(0.0) { outlook.step_h } else { outlook.horizons_h[0] };
                format!(" Count on nothing: more than one in ten fail within {}{by_range}.", duration(within_h))
            }
            Some(hours) => format!(
                " Count on no more than {}, until {}: nine of ten last that long{by_range}.",
                duration(hours),
                clock_in(standing, outlook.step_h, hours)
            ),
            None => String::new(),
        });
        out.push_str(&what_would(outlook, k));
    }
    for name in medical {
        let end = count_on_h.filter(|_| best.keeps.iter().any(|kept| kept == name));
        let by = match end {
            Some(hours) if hours <= 0.0 => "now".to_string(),
            Some(hours) => format!("before {}", clock_in(standing, outlook.step_h, hours)),
            None if lasts && best.keeps.iter().any(|kept| kept == name) => "in any case".to_string(),
            None => "now".to_string(),
        };
        out.push_str(&format!(
            " A person's health hangs on the {name}: arrange another supply for it {by}, and ask the device's supplier or \
             whoever prescribed it what to do."
        ));
    }
    out
}

/// Which other rows of the table would last.
fn what_would(outlook: &Outlook, horizon: usize) -> String {
    let rows: Vec<String> = outlook
        .courses
        .iter()
        .enumerate()
        .filter(|(k, course)| *k != outlook.best && course.lasts[horizon].0 >= LASTS)
        .map(|(_, course)| {
            let (share, interval) = course.lasts[horizon];
            format!("{} ({} of 100, {})", course.action.words(), hundredths(share, 0), range(interval, 0))
        })
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    format!(" What would last {}: {}.", duration(outlook.horizons_h[horizon]), rows.join("; or "))
}

/// The days as they were told: "from tomorrow: dark,clear" holds two.
fn days(sky: &AssumedSky, told: &str) -> Vec<String> {
    let told = told.split_once(": ").map_or(told, |(_, days)| days);
    match sky {
        AssumedSky::Told(_) => told.split(',').map(|day| day.trim().to_string()).collect(),
        _ => Vec::new(),
    }
}

/// Which weather is assumed, and how to say otherwise.
///
/// * `told` — the days as they were told, where they were.
#[must_use]
pub fn sky_words(sky: &AssumedSky, told: &str) -> String {
    match sky {
        AssumedSky::Any => "Sky assumed: any of the season. Tell what is forecast with --sky.".to_string(),
        AssumedSky::Storm { days } => {
            let left = match (*days, *days == STORM_DAYS) {
                (1, false) => "today is the last of its dark days".to_string(),
                (n, true) => format!("{} dark days, today the first", count_word(n.into())),
                (n, false) => format!("{} dark days of it are left, today the first", count_word(n.into())),
            };
            format!("Sky assumed: a storm, as the scenario begins: {left}. Tell what is forecast with --sky.")
        }
        AssumedSky::StormPast => format!(
            "Sky assumed: any of the season; the {} dark days that the scenario begins with are past. If it is still dark, say \
             so with --sky.",
            count_word(STORM_DAYS.into())
        ),
        AssumedSky::Told(_) => format!("Sky as told, {told}."),
    }
}

/// When each course can begin at the latest, a sentence each.
fn latest(outlook: &Outlook) -> Vec<String> {
    let judged = outlook.judged;
    let one = |(course, latest): (&Course, &Option<f64>)| {
        let when = match latest {
            _ if course.lasts[judged].0 <= COSTS_LITTLE => "not enough to last that long, so at once".to_string(),
            None => "at once: every hour costs".into(),
            Some(hours) if *hours >= 24.0 => "a day from now is early enough".into(),
            Some(hours) => format!("{} from now at the latest", duration(*hours)),
        };
        format!("{}: {when}", course.action.words())
    };
    outlook.courses.iter().skip(1).zip(&outlook.latest_h).map(one).collect()
}

/// The charge with what it may be off by: "43 ± 5 %".
fn shown(standing: &Situation) -> String {
    let charge = standing.charge * 100.0;
    match standing.charge_plus_minus * 100.0 {
        half if half > 0.0 => format!("{charge:.0} ± {half:.0} %"),
        _ => format!("{charge:.0} %"),
    }
}

/// What is taken of the display.
fn display(facts: &Facts) -> String {
    let half = facts.standing.charge_plus_minus * 100.0;
    match (facts.doubt_assumed, half > 0.0) {
        (true, true) => format!(
            "The display is taken to be off by up to {half:.0} points (common practice, no source; say it otherwise like --charge \
             \"43 % ± 2 %\"), and each trial begins somewhere in that."
        ),
        (false, true) => format!("The display is taken to be off by up to {half:.0} points, as told."),
        _ => "The charge is taken as it is shown.".into(),
    }
}

/// With a small letter.
fn lowered(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// The whole answer.
#[must_use]
pub fn document(facts: &Facts) -> Document {
    let &Facts { site, standing, outlook, sky, until, floor, told, medical, overloads, .. } = facts;
    let month = MONTHS[usize::from(standing.month.clamp(1, 12)) - 1];
    let mut out = Document::new(format!(
        "{} on {} {month}, {:02}:{:02}",
        shown(standing),
        standing.day,
        standing.minute_of_day / 60,
        standing.minute_of_day % 60,
    ));
    out.say(sky_words(sky, told)).say(until_words(standing, outlook, until)).placed(site).caution(uncounted(overloads));
    out.caution(floor.and_then(|floor| floor.words(standing.charge)).unwrap_or_default());
    if outlook.stopped_early {
        out.caution(stopped(outlook.trials, outlook.asked, "trials"));
    }
    let best = &outlook.courses[outlook.best];
    out.lead(format!("To last {}: {}", duration(outlook.judged_h()), lowered(&facts.verdict(best).words())));
    out.lead(advice(standing, outlook, medical));
    if !medical.is_empty() {
        out.caution(MEDICAL_CAUTION);
    }
    let columns =
        outlook.horizons_h.map(|hours| if hours == 24.0 { "1 day".into() } else { duration(hours) }.to_string());
    let columns = columns.into_iter().map(Column::right);
    let columns = std::iter::once(Column::left("")).chain(columns);
    let columns =
        columns.chain([Column::left("half last"), Column::left(format!("verdict, {}", duration(outlook.judged_h())))]);
    let row = |course: &Course| {
        let cells = (0..outlook.horizons_h.len()).map(|k| cell(course, k));
        let row = std::iter::once(course.action.words()).chain(cells).chain([hours_left(course.half_last_h, outlook)]);
        let row = row.chain([word(facts.verdict(course)).to_string()]);
        row.collect::<Vec<_>>()
    };
    let food = outlook.courses.iter().any(|course| !course.keeps_food.is_empty());
    let what = if food {
        "Of 100, vital things still on, and food not lost, after"
    } else {
        "Of 100, vital things still on after"
    };
    out.head(what).table(Table::new(columns).rows(outlook.courses.iter().map(row)));
    let late = latest(outlook);
    if !late.is_empty() {
        out.head(format!("When (judged by {}, to 1 of 100)", duration(outlook.horizons_h[outlook.judged]))).list(late);
    }
    out.head("What this rests on").say(facts.weather.words()).say(format!(
        "{} trials{}; the range in brackets is 95 %, chance and what nobody has measured together. {} Rows that keep only one thing judge that thing alone.",
        thousands(outlook.trials),
        if outlook.trials < ENOUGH { ", which are few" } else { "" },
        display(facts)
    ));
    out
}

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
    weather: Told<&'a Note>,
    advice: JsonAdvice<'a>,
    judged_h: f64,
    /// How far is looked, and why.
    until: JsonUntil<'a>,
    /// The charge below which the station gives nothing; null where there is none.
    floor: Option<JsonFloor>,
    /// Outlets that switch off: the trials do not know of it.
    overloads: Vec<Told<&'a Overload>>,
    courses: Vec<JsonCourse<'a>>,
}

/// By when it is judged.
#[derive(Debug, Serialize)]
struct JsonUntil<'a> {
    #[serde(flatten)]
    until: &'a Until,
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
    /// The same in words.
    text: String,
}

/// What to do.
#[derive(Debug, Serialize)]
struct JsonAdvice<'a> {
    #[serde(flatten)]
    action: &'a Action,
    /// How far it can be relied on that the vital loads last until `judged_h` with it.
    verdict: verdict::Json,
    /// Whether the vital loads last until `judged_h` with it.
    lasts: bool,
    /// Hours that nine of ten trials last at least; null for longer than looked ahead.
    count_on_h: Option<f64>,
    /// The same in words.
    text: String,
}

#[derive(Debug, Serialize)]
struct JsonCourse<'a> {
    #[serde(flatten)]
    action: Told<&'a Action>,
    keeps: &'a [String],
    /// Coolers among them that are judged by their food.
    keeps_food: &'a [String],
    best: bool,
    /// How far it can be relied on that what it keeps lasts until `judged_h`.
    verdict: verdict::Json,
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
pub fn json<'a>(facts: &Facts<'a>) -> Json<'a> {
    let &Facts { site, standing, outlook, sky, until, floor, told, medical, overloads, weather, seed, .. } = facts;
    let (kind, dark_days) = match *sky {
        AssumedSky::Any => ("any", None),
        AssumedSky::Storm { days } => ("storm", Some(days)),
        AssumedSky::StormPast => ("storm_past", None),
        AssumedSky::Told(_) => ("told", None),
    };
    let lasts = |course: &Course| {
        let at = outlook.horizons_h.iter().zip(course.lasts);
        at.map(|(&hours_h, (probability, interval))| JsonLasts {
            hours_h,
            probability,
            low: interval.low,
            high: interval.high,
        })
        .collect()
    };
    let course = |(k, course): (usize, &'a Course)| JsonCourse {
        action: (&course.action).into(),
        keeps: &course.keeps,
        keeps_food: &course.keeps_food,
        best: k == outlook.best,
        verdict: facts.verdict(course).into(),
        lasts: lasts(course),
        half_last_h: course.half_last_h,
        nine_of_ten_last_h: course.nine_of_ten_last_h,
        latest_start_h: k.checked_sub(1).and_then(|k| outlook.latest_h.get(k)).copied().flatten(),
    };
    let best = &outlook.courses[outlook.best];
    Json {
        place: Whereabouts::of(site).into(),
        seed,
        trials: outlook.trials,
        stopped_early: outlook.stopped_early,
        charge_percent: standing.charge * 100.0,
        charge_plus_minus_percent: standing.charge_plus_minus * 100.0,
        charge_plus_minus_assumed: facts.doubt_assumed,
        sky: JsonSky { kind, dark_days, days: days(sky, told), text: sky_words(sky, told) },
        weather: weather.into(),
        advice: JsonAdvice {
            action: &best.action,
            verdict: facts.verdict(best).into(),
            lasts: best.lasts[outlook.judged].0 >= LASTS,
            count_on_h: best.count_on_h(&outlook.horizons_h, best.keeps.iter().any(|k| medical.contains(&k.as_str()))),
            text: advice(standing, outlook, medical),
        },
        judged_h: outlook.horizons_h[outlook.judged],
        until: JsonUntil { until, text: until_words(standing, outlook, until) },
        floor: floor.map(|floor| JsonFloor { floor, text: floor.words(standing.charge) }),
        overloads: told::all(overloads),
        courses: outlook.courses.iter().enumerate().map(course).collect(),
    }
}
