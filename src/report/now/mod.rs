//! The answer of `now` as a document narrow enough for a phone, and for programs.

mod floor;
mod json;
mod words;

use super::cautions;
use super::document::{Column, Document, Table};
use super::food;
use super::notes::Note;
use super::phrases::uncounted;
use super::told::Words;
use super::verdict::{MEDICAL_CAUTION, word};
use super::words::{duration, hundredths, range, stopped, thousands};
use crate::calendar::MONTHS;
use crate::scenario::Scenario;
use crate::study::fit::Overload;
use crate::study::now::{AssumedSky, Course, Outlook, Situation, Until};
use crate::study::{Stakes, Verdict};
use crate::trials::unknowns::ENOUGH;
pub use floor::Floor;
pub use json::{Json, json};
pub use words::{advice, sky_words};
use words::{display, hours_left, latest, lowered, shown, until_words};

/// Width of a phone's terminal.
pub const NARROW: usize = 60;

/// All that `now` knows.
#[derive(Debug, Clone, Copy)]
pub struct Facts<'a> {
    /// The scenario.
    pub scenario: &'a Scenario,
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
    /// What it rests on.
    pub notes: &'a [Note],
    /// Seed.
    pub seed: u64,
}

impl Facts<'_> {
    /// The verdict on a course: whether what it keeps lasts as long as is judged by.
    fn verdict(&self, course: &Course) -> Verdict {
        self.verdict_by(course, self.outlook.judged)
    }

    /// The verdict on what a course keeps until one of the horizons.
    fn verdict_by(&self, course: &Course, horizon: usize) -> Verdict {
        let (share, interval) = course.lasts[horizon];
        let medical = course.keeps.iter().any(|kept| self.medical.contains(&kept.as_str()));
        Verdict::of(share, interval, Stakes::of(medical, self.overloads))
    }

    /// The best course.
    fn best(&self) -> &Course {
        &self.outlook.courses[self.outlook.best]
    }

    /// The longest of the shorter horizons that the best course has a better verdict for, by its place.
    fn sooner(&self) -> Option<(usize, Verdict)> {
        let judged = self.verdict(self.best());
        let sooner = (0..self.outlook.judged).map(|at| (at, self.verdict_by(self.best(), at)));
        sooner.rev().find(|(_, verdict)| *verdict < judged)
    }
}

fn cell(course: &Course, k: usize) -> String {
    let (share, interval) = course.lasts[k];
    format!("{} ({})", hundredths(share, 0), range(interval, 0))
}

/// The whole answer.
#[must_use]
pub fn document(facts: &Facts) -> Document {
    let &Facts { scenario, standing, outlook, sky, until, floor, told, medical, overloads, .. } = facts;
    let month = MONTHS[usize::from(standing.month.clamp(1, 12)) - 1];
    let mut out = Document::new(format!(
        "{} on {} {month}, {:02}:{:02}",
        shown(standing),
        standing.day,
        standing.minute_of_day / 60,
        standing.minute_of_day % 60,
    ));
    out.say(sky_words(sky, told)).say(until_words(standing, outlook, until)).placed(&scenario.site);
    out.caution(uncounted(overloads));
    out.caution(floor.and_then(|floor| floor.words(standing.charge)).unwrap_or_default());
    if outlook.stopped_early {
        out.caution(stopped(outlook.trials, outlook.asked, "trials"));
    }
    let best = facts.best();
    let verdict = facts.verdict(best);
    out.lead(format!("To last {}: {}", duration(outlook.judged_h()), lowered(&verdict.words())));
    out.lead(advice(standing, outlook, medical));
    out.under(sooner_words(facts));
    out.caution(cautions::elsewhere(scenario, verdict));
    if !medical.is_empty() {
        out.caution(MEDICAL_CAUTION);
    }
    let columns = outlook.horizons_h.map(|hours| if hours == 24.0 { "1 day".into() } else { duration(hours) });
    let columns = std::iter::once(Column::left("")).chain(columns.map(Column::right));
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
    let ahead = format!("The food, in the next {}", duration(outlook.ahead_h));
    food::add(&mut out, scenario, (&outlook.best_plan, &outlook.best_tally), &ahead);
    let beside = cautions::beside_notes(scenario);
    if !beside.is_empty() {
        out.head("Take care").list(beside);
    }
    out.head("What this rests on").say(format!(
        "{} trials{}; the range in brackets is 95 %, chance and what nobody has measured together. {} Rows that keep only one \
         thing judge that thing alone. Nothing may be missed from here on, not even what the scenario allows: nobody knows how \
         much of that is used up.",
        thousands(outlook.trials),
        if outlook.trials < ENOUGH { ", which are few" } else { "" },
        display(facts)
    ));
    out.list(facts.notes.iter().map(Words::words));
    out
}

/// The second line: what a shorter time comes to, where it is better.
fn sooner_words(facts: &Facts) -> String {
    let Some((at, verdict)) = facts.sooner() else { return String::new() };
    let (share, interval) = facts.best().lasts[at];
    format!(
        "For {} alone: {} ({} of 100, {}).",
        duration(facts.outlook.horizons_h[at]),
        word(verdict),
        hundredths(share, 0),
        range(interval, 0)
    )
}
