//! The answer of `now` as a document narrow enough for a phone, and for programs.

mod advice;
mod beside;
mod floor;
mod json;
mod words;

use super::cautions;
use super::document::{Column, Document, Table};
use super::food;
use super::notes::Note;
use super::outage::changes_beside;
use super::phrases::{remedies, uncounted};
use super::told::Words;
use super::verdict::{MEDICAL_CAUTION, with_fuel, word_with_fuel};
use super::words::{duration, hundredths, lowered, range, stopped, the_list, thousands};
use crate::calendar::{clock, clock_time, month_called};
use crate::scenario::Scenario;
use crate::scenario::model::Generator;
use crate::study::device::DeviceHours;
use crate::study::fit::Overload;
use crate::study::fuel::{FuelTaken, most_a_day_l};
use crate::study::now::{Action, AssumedSky, Course, Move, Outlook, Situation, Until};
use crate::study::{Stakes, Verdict};
use crate::trials::interval::Interval;
use crate::trials::unknowns::ENOUGH;
use crate::visible::begun;
use advice::advice;
use beside::{fuel, little_on_ac, mains, season_words, second_station};
pub use floor::Floor;
pub use json::{Json, json};
use words::{
    device_hours, display, hours_left, known_better, latest, move_words, moves_together, shown, sky_words, until_words,
};

/// Width of a phone's terminal.
pub const NARROW: usize = 60;

/// Shares that last to each horizon, with their ranges.
type Lasting = [(f64, Interval); 4];

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
    /// The generator, with the fuel that is left.
    pub generator: Option<&'a Generator>,
    /// The most that it gives a charger that takes all it can, and the loads that run on it \[W\].
    pub generator_most_w: f64,
    /// Whether that was told.
    pub fuel_told: bool,
    /// How long devices that a person's health hangs on run by themselves; none without such devices.
    pub device_hours: Option<&'a DeviceHours>,
    /// Outlets that switch off: the trials do not know of it.
    pub overloads: &'a [Overload],
    /// What it rests on.
    pub notes: &'a [Note],
    /// Seed.
    pub seed: u64,
}

/// Hours to count on.
#[derive(Debug, Clone, Copy)]
struct CountOn {
    hours_h: f64,
    /// Whether they are those of devices by themselves with nothing charging.
    own: bool,
}

impl Facts<'_> {
    /// The verdict on a course: whether what it keeps lasts as long as is judged by.
    fn verdict(&self, course: &Course) -> Verdict {
        self.verdict_by(course, self.outlook.judged)
    }

    /// The verdict on what a course keeps until one of the horizons.
    fn verdict_by(&self, course: &Course, horizon: usize) -> Verdict {
        self.judge(course.lasts[horizon], course, horizon)
    }

    /// The verdict on a share that lasts until one of the horizons, with a course.
    fn judge(&self, (share, interval): (f64, Interval), course: &Course, horizon: usize) -> Verdict {
        let health = !self.outlook.devices.is_empty();
        Verdict::of(share, interval, Stakes::of(health, self.overloads, self.fuel(course, horizon)))
    }

    /// What a course takes of fuel that nobody told until one of the horizons: a run on each day that has begun.
    fn fuel(&self, course: &Course, horizon: usize) -> FuelTaken {
        let Some(generator) = self.generator else { return FuelTaken::NoGenerator };
        let days = (self.outlook.horizons_h[horizon] / 24.0).ceil().max(1.0);
        let plan = &self.outlook.best_plan;
        let planned = plan.generator_runs_h(generator) > 0.0;
        match &course.generator {
            None if !planned => FuelTaken::NoGenerator,
            _ if generator.fuel.is_some() => FuelTaken::Told,
            Some(run) => FuelTaken::burning(run.run_l.map(|litres| litres * days)),
            None => FuelTaken::burning(most_a_day_l(self.scenario, plan).map(|litres| litres * days)),
        }
    }

    /// The verdict on the devices by themselves that a person's health hangs on, with a course.
    fn device_verdict(&self, course: &Course) -> Option<Verdict> {
        let judged = self.outlook.judged;
        Some(self.judge(self.device_lasts(course)?[judged], course, judged))
    }

    /// How the devices last with a course; by all trials where it keeps nothing else.
    fn device_lasts(&self, course: &Course) -> Option<[(f64, Interval); 4]> {
        if course.whole { course.device_lasts } else { course.device_lasts.map(|_| course.lasts) }
    }

    /// Hours to count on with a course, those of the devices by themselves where these are fewer: what nothing but the battery feeds
    /// so long is never told longer than its lower end. `None` for longer than looked ahead.
    fn count_on(&self, course: &Course) -> Option<CountOn> {
        let hours_h = course.count_on_h(&self.outlook.horizons_h, !self.outlook.devices.is_empty())?;
        let used_h = course.in_use.until_h(hours_h);
        let own = self.device_hours.filter(|own| own.at_least_h < used_h && used_h <= own.runs_h);
        Some(own.map_or(CountOn { hours_h, own: false }, |own| CountOn { hours_h: own.at_least_h, own: true }))
    }

    /// The best course.
    fn best(&self) -> &Course {
        &self.outlook.courses[self.outlook.best]
    }

    /// The longest of the shorter horizons that the best course can be counted on for, or else has a better verdict for, by its
    /// place.
    fn sooner(&self) -> Option<(usize, Verdict)> {
        let judged = self.verdict(self.best());
        let sooner = (0..self.outlook.judged).map(|at| (at, self.verdict_by(self.best(), at)));
        let sooner = || sooner.clone().rev().filter(|(_, verdict)| *verdict < judged);
        sooner().find(|(_, verdict)| *verdict == Verdict::CountOnIt).or_else(|| sooner().next())
    }
}

/// Hours from now until something that a course keeps is first asked for, and the clock time of that; `None` where it is now, or
/// never within a week.
fn first_asked(facts: &Facts, course: &Course) -> Option<(f64, String)> {
    let Facts { standing, outlook, .. } = facts;
    let (plan, steps) = (&outlook.best_plan, outlook.best_plan.season.steps_a_day);
    let kept: Vec<_> = plan.loads.iter().filter(|load| course.keeps.contains(&load.name)).collect();
    if kept.is_empty() || kept.iter().any(|load| load.asks.is_some()) {
        return None;
    }
    let at = standing.step_of_week(steps);
    let asked = |step: &usize| kept.iter().any(|load| load.day(step / steps % 7).watts[step % steps] > 0.0);
    let first = (at..at + 7 * steps).find(asked).filter(|first| *first > at)?;
    Some(((first - at) as f64 * outlook.step_h, clock_time(first % steps, steps)))
}

/// What a course does beside the plan, behind a heading: ", with spare and useful things off"; nothing where that is the plan.
fn with(course: &Course) -> String {
    let planned = course.action == Action::AsPlanned && course.generator.is_none();
    if planned { String::new() } else { format!(", with {}", course.words()) }
}

fn cell((share, interval): (f64, Interval)) -> String {
    format!("{} ({})", hundredths(share, 0), range(interval, 0))
}

/// The whole answer.
#[must_use]
pub fn document(facts: &Facts) -> Document {
    let &Facts { scenario, standing, outlook, sky, until, floor, told, overloads, .. } = facts;
    let month = month_called(standing.month);
    let mut out = Document::new(format!(
        "Battery at {}, {} {month}, {}: {}",
        shown(standing),
        standing.day,
        clock(standing.minute_of_day),
        scenario.title
    ));
    if let Some((hours, clock)) = first_asked(facts, facts.best()) {
        let kept = the_list(&facts.best().keeps);
        if outlook.judged_h() <= hours {
            out.caution(format!("Not in use before {clock}: {kept}. Nothing is judged until then."));
        }
    }
    let best = facts.best();
    let verdict = facts.verdict(best);
    let by_fuel = |verdict: Verdict, course: &Course| lowered(&with_fuel(verdict, facts.fuel(course, outlook.judged)));
    let (lasts, told_verdict) = (duration(outlook.judged_h()), by_fuel(verdict, best));
    let device = facts.device_verdict(outlook.advised()).filter(|_| outlook.devices_and_more());
    let advice = advice(facts);
    if outlook.stopped_early {
        out.lead(stopped(outlook.trials, outlook.asked, "trials"));
    }
    if let Some(device) = device {
        // Each by itself, the device before everything else.
        let devices = the_list(&outlook.devices);
        out.lead(format!("{}, to last {lasts}: {}", begun(&devices), by_fuel(device, outlook.advised())));
        out.lead(format!("Everything vital, to last {lasts}: {told_verdict}"));
    } else {
        out.lead(format!("To last {lasts}: {told_verdict}"));
    }
    let unsolved = overloads.iter().any(|overload| overload.vital);
    if unsolved {
        out.caution(uncounted(overloads));
    }
    for paragraph in advice {
        out.lead(paragraph);
    }
    out.lead(floor.and_then(|floor| floor.would_last(&lasts)).unwrap_or_default());
    out.under(sooner_words(facts));
    let spared = floor.filter(|floor| floor.instead.is_none() && standing.charge >= floor.kept);
    if verdict != Verdict::CountOnIt {
        out.under(spared.map_or(String::new(), |floor| floor.in_need()));
    }
    out.under(facts.device_hours.map_or(String::new(), |hours| device_hours(facts, hours)));
    if !unsolved {
        out.caution(uncounted(overloads));
    }
    out.caution(floor.and_then(|floor| floor.words(standing.charge)).unwrap_or_default());
    out.caution(cautions::elsewhere(scenario, device.unwrap_or(verdict)));
    if !outlook.devices.is_empty() {
        out.caution(MEDICAL_CAUTION);
    }
    // What costs nothing comes before all that is read at leisure.
    let first = remedies(overloads);
    let steps: Vec<String> = first.into_iter().chain(outlook.moves.iter().map(move_words)).collect();
    if !steps.is_empty() {
        out.head(format!("First what is free{}", with(best)));
        out.steps(steps);
        out.say(moves_together(outlook));
        out.say(changes_beside(outlook.moves.iter().map(|free| &free.change)));
        out.head("What is assumed");
    }
    out.say(season_words(scenario, standing)).say(sky_words(sky, told)).say(until_words(standing, outlook, until));
    out.say(fuel(facts)).say(mains(facts)).say(second_station(facts)).placed(&scenario.site);
    let table = |out: &mut Document, lasts: &dyn Fn(&Course) -> Option<Lasting>, halves: bool| {
        let horizons = outlook.horizons_h.map(|hours| if hours == 24.0 { "1 day".into() } else { duration(hours) });
        let columns = std::iter::once(Column::left("")).chain(horizons.map(Column::right));
        let half = halves.then(|| Column::left("half last"));
        let columns = columns.chain(half).chain([Column::left(format!("verdict, {}", duration(outlook.judged_h())))]);
        let row = |course: &Course| {
            let told = lasts(course)?;
            let half =
                halves.then(|| hours_left(course.half_last_h.map(|hours| course.in_use.until_h(hours)), outlook));
            let fuel = facts.fuel(course, outlook.judged);
            let verdict = facts.judge(told[outlook.judged], course, outlook.judged);
            // What nobody asks for before is not judged by then.
            let first = first_asked(facts, course);
            let cells = [0, 1, 2, 3].map(|at| match &first {
                Some((hours, clock)) if outlook.horizons_h[at] <= *hours => format!("not in use before {clock}"),
                _ => cell(told[at]),
            });
            let row = std::iter::once(course.words()).chain(cells).chain(half).chain([word_with_fuel(verdict, fuel)]);
            Some(row.collect::<Vec<_>>())
        };
        out.table(Table::new(columns).rows(outlook.courses.iter().filter_map(row)));
    };
    if device.is_some() {
        let device = |course: &Course| facts.device_lasts(course);
        out.head(format!("Of 100, {} still on after, whatever else goes dark", the_list(&outlook.devices)));
        table(&mut out, &device, false);
    }
    let food = outlook.courses.iter().any(|course| !course.keeps_food.is_empty());
    out.head(match (food, device.is_some()) {
        (true, false) => "Of 100, vital things still on, and food not lost, after",
        (true, true) => "Of 100, everything vital still on, and food not lost, after",
        (false, false) => "Of 100, vital things still on after",
        (false, true) => "Of 100, everything vital still on after",
    });
    table(&mut out, &|course| (course.whole || outlook.devices.is_empty()).then_some(course.lasts), true);
    out.under(little_on_ac(scenario, outlook));
    let late = latest(outlook);
    if !late.is_empty() {
        out.head(format!(
            "By when to switch off (judged by {}, to 1 of 100)",
            duration(outlook.horizons_h[outlook.judged])
        ))
        .list(late);
    }
    let ahead = format!("The food in the next {}{}", duration(outlook.ahead_h), with(best));
    food::add(&mut out, scenario, (&outlook.best_plan, &outlook.best_tally), &ahead);
    if outlook.first.is_some() && !cautions::food(scenario).is_empty() {
        out.say(
            "What is unplugged for a person's device is kept cold by nothing: its hours count from the moment it is unplugged.",
        );
    }
    let beside = cautions::beside_notes(scenario);
    if !beside.is_empty() {
        out.head("Take care").list(beside);
    }
    out.head("What this rests on").say(format!(
        "{} trials{}; the range in brackets is 95 %, chance and what nobody has measured together. {} {}Nothing may be missed from here on, not even what the scenario allows: nobody knows how \
         much of that is used up.",
        thousands(outlook.trials),
        if outlook.trials < ENOUGH { ", which are few" } else { "" },
        display(facts),
        if outlook.courses.iter().all(|course| course.whole) { "" } else { "Rows that keep only one thing judge that thing alone. " },
    ));
    out.list(facts.notes.iter().map(Words::words).chain([known_better(facts)]));
    out
}

/// The free move that makes the verdict better, where one does.
fn better_by_a_move(facts: &Facts) -> String {
    let (outlook, best) = (facts.outlook, facts.best());
    let verdict = facts.verdict(best);
    let judged = |free: &Move| facts.judge(free.lasts, best, outlook.judged);
    // To do without something vital is another aim.
    let keeps = |free: &&Move| !free.change.darkens_vital();
    let better = outlook.moves.iter().filter(keeps).filter(|free| free.judged && judged(free) < verdict);
    // Of several the best, and of equals the first.
    let best = better.min_by_key(|free| judged(free));
    best.map_or(String::new(), |free| {
        format!(
            "Do this first, it is free and changes that: {} So it is: {}",
            move_words(free),
            lowered(&judged(free).words())
        )
    })
}

/// The second line: what a shorter time comes to, where it is better.
fn sooner_words(facts: &Facts) -> String {
    let Some((at, verdict)) = facts.sooner() else { return String::new() };
    if first_asked(facts, facts.best()).is_some_and(|(hours, _)| facts.outlook.horizons_h[at] <= hours) {
        return String::new();
    }
    let (share, interval) = facts.best().lasts[at];
    format!(
        "For a shorter time, {}{}: {}, {} of 100 ({}).",
        duration(facts.best().in_use.until_h(facts.outlook.horizons_h[at])),
        with(facts.best()),
        word_with_fuel(verdict, facts.fuel(facts.best(), at)),
        hundredths(share, 0),
        range(interval, 0)
    )
}
