//! The answer of `run` as a document.

mod account;
mod cold;
mod failures;

use super::advise::{self, Advised};
use super::cautions::{self, DEVICE_ON_DC, GENERATOR, ON_THE_GENERATOR};
use super::device::Device;
use super::document::{Column, Document, Table};
use super::figure::{Axis, Data, Figure, Picture, Ranges, round_marks};
use super::fuel::{self, Fuel};
use super::headline::{doubt, headline, stopped, verdict_words};
use super::judged::FUSES;
use super::notes::{Note, hangs_on, hangs_on_words};
use super::phrases::{self, OUTLETS, PRIORITIES};
use super::told::Words;
use super::words::{self, decimals, duration, energy, hundredths, in_steps, range, survival, unit_of_steps};
use super::{cuts, food, pictures, rare, surer, verdict};
use crate::engine::ledger::Flow;
use crate::engine::{LoadPlan, Plan};
use crate::kit::electrical::UNFUSED_STRINGS;
use crate::scenario::model::{OutletKind, Scenario};
use crate::study::changes::Costs;
use crate::study::compare::Pair;
use crate::study::outage::OutageAnswer;
use crate::study::verdict::{Stakes, Verdict};
use crate::study::{Change, Effect};
use crate::trials::tally::LoadTally;
use crate::trials::unknowns::Survival;
pub use account::Sources;
use account::{account, brought};
use cold::cold;
pub use cold::{Cold, lowest_of_failed};
pub use failures::{Judged, failures, judged_by};

/// All that `run` knows of a scenario.
#[derive(Debug, Clone, Copy)]
pub struct Facts<'a> {
    /// The scenario.
    pub scenario: &'a Scenario,
    /// Its plan.
    pub plan: &'a Plan,
    /// What the trials say.
    pub answer: &'a OutageAnswer,
    /// What it rests on.
    pub notes: &'a [Note],
    /// When to switch off what, where that was asked for.
    pub advised: Option<&'a Advised>,
    /// Devices that a person's health hangs on, by themselves.
    pub device: &'a Device,
    /// Whether a closer look at how rare a failure is was asked for and not taken, the run being stopped before.
    pub rare_missing: bool,
}

/// The whole answer.
#[must_use]
pub fn document(facts: &Facts) -> Document {
    let &Facts { scenario, plan, answer, notes, advised, device, rare_missing } = facts;
    let tally = &answer.tally;
    let mut out = Document::new(scenario.title.clone());
    out.placed(&scenario.site).caution(stopped(answer)).lead(verdict_words(scenario, answer));
    out.lead(headline(scenario, answer)).under(doubt(scenario, answer));
    out.caution(hangs_on(notes, 1.0 - answer.survival.probability).map_or(String::new(), hangs_on_words));
    out.say(free_first(scenario, answer));
    out.lead(device.words()).caution(cautions::elsewhere(scenario, answer.verdict(scenario)));
    for hazard in notes.iter().filter(|note| note.endangers()) {
        out.caution(hazard.words());
    }
    if !answer.overloads.is_empty() {
        out.head("Do this first: it costs nothing").steps(phrases::remedies(&answer.overloads));
    }
    if answer.never_asked(scenario).is_empty() {
        out.head("What fails, and when").say(failures(plan, answer)).say(cold(plan, answer));
    }
    out.head("What runs, and how long it is off").table(loads(plan, answer));
    out.say(by_chance_alone(answer.kept_on.iter()));
    cuts::add(&mut out, plan, tally);
    out.head("When each is dark").figure(pictures::dark(plan, tally));
    out.head("Still riding through").figure(pictures::riding(plan, answer));
    food::add(&mut out, scenario, (plan, tally), "The food");
    out.head("Charge of the battery through the outage").figure(pictures::charge_with_outages(plan, answer));
    let mean = tally.ledger.scaled(1.0 / tally.trials as f64);
    let sources = Sources::of(scenario, plan);
    out.head(if plan.cuts_come_back() {
        "Where the energy comes from and goes, in a mean spell"
    } else {
        "Where the energy comes from and goes, in a mean outage"
    })
    .figure(pictures::flows(&mean, &sources))
    .table(account(&mean, &sources));
    if let Some(fuel) = Fuel::of(scenario, plan, tally) {
        out.say(fuel.words());
    }
    if scenario.generator.is_some() {
        out.say(GENERATOR);
    }
    if plan.on_the_generator().next().is_some() {
        out.say(ON_THE_GENERATOR);
    }
    for caution in cautions::of_sources(scenario) {
        out.say(caution);
    }
    if let Some(second) = &scenario.second_station {
        out.say(brought(second, mean[Flow::Wall]));
    }
    if !answer.effects.is_empty() {
        out.head("What one change would do, on the same weather").table(effects(&answer.effects)).figure(differences(
            "changes",
            "What each change does, in outages of 100 with its 95 % range of chance",
            // What stands in brackets is in the table above.
            answer.effects.iter().map(|effect| {
                let words = effect.change.words();
                (words.split(" (").next().unwrap_or_default().to_string(), &effect.pair)
            }),
        ));
        out.say(all_together(answer))
            .say(beyond_the_input(plan, answer))
            .say(fuses(scenario, answer))
            .say(changes_beside(answer.effects.iter().map(|effect| &effect.change)))
            .say(longer_run(scenario, plan, answer));
    }
    let looks = surer::looks(notes);
    if !answer.surer.is_empty() || !looks.is_empty() {
        out.head("What would make this surer").list(answer.surer.iter().map(surer::sentences).chain(looks));
    } else if answer.survival.shares.iter().any(Option::is_some) {
        out.head("What would make this surer").say(surer::NOTHING);
    }
    if rare_missing || answer.rarity.is_some() {
        out.head("How rare a failure is");
        out.say(match &answer.rarity {
            Some(rarity) => rare::sentences(rarity),
            None => "It was not looked at: stopped before its time.".into(),
        });
    }
    if let Some(advised) = advised {
        advise::add(&mut out, plan, advised);
    }
    if !plan.arrays.is_empty() {
        out.head("The sun in these outages").figure(pictures::sun(plan, answer));
    }
    out.head("What this rests on").list(notes.iter().filter(|note| !note.endangers()).map(Words::words));
    out
}

fn loads(plan: &Plan, answer: &OutageAnswer) -> Table {
    let step_h = plan.season.step_h;
    let row = |((load, tally), kept): ((&LoadPlan, &LoadTally), &Survival)| {
        let got = if tally.asked_wh > 0.0 { 1.0 - tally.unserved_wh / tally.asked_wh } else { 1.0 };
        let hours = if tally.trials_off > 0 { tally.off_h / tally.trials_off as f64 } else { 0.0 };
        [
            load.name.clone(),
            PRIORITIES[load.priority].to_string(),
            OUTLETS[load.outlet].to_string(),
            // A cooler's day depends on the weather, one of cuts that vary on chance; of them, what was asked for is known.
            energy(if load.asks.is_some() || plan.cuts_vary() {
                tally.asked_wh / answer.tally.hours * 24.0
            } else {
                load.day_wh()
            }),
            words::part(got),
            format!(
                "{} of 100 ({}{})",
                hundredths(kept.probability, decimals(kept.interval)),
                range(kept.interval, decimals(kept.interval)),
                if kept.chance_alone { "*" } else { "" }
            ),
            if tally.trials_off > 0 { duration(hours) } else { "-".into() },
            match tally.first_off_quarters() {
                Some([from, middle, to]) => {
                    let unit = unit_of_steps(to, step_h);
                    let told = |steps: (usize, usize)| in_steps(steps, step_h, unit);
                    let half = if from == to { String::new() } else { format!(" ({})", told((from, to))) };
                    format!("{}{half} {unit}", told((middle, middle)))
                }
                None => "-".into(),
            },
        ]
    };
    Table::new([
        Column::left("load"),
        Column::left("priority"),
        Column::left("outlet"),
        Column::right(if plan.cuts_come_back() { "a day's cuts ask" } else { "needs a day" }),
        Column::right("gets of that"),
        Column::right("always on in"),
        Column::right("else off, mean"),
        Column::right("first gap (half between)"),
    ])
    .rows(plan.loads.iter().zip(&answer.tally.loads).zip(&answer.kept_on).map(row))
}

/// What the star in a table means, where it stands.
pub fn by_chance_alone<'a>(mut told: impl Iterator<Item = &'a Survival>) -> &'static str {
    if told.any(|survival| survival.chance_alone) {
        "* A range of chance alone: too few trials went the other way to say what is not known about it."
    } else {
        ""
    }
}

/// A difference of 100 outages with its range; words where the trials tell none.
#[must_use]
pub fn difference(pair: &Pair, untold: &str) -> String {
    if pair.resolved() {
        words::difference(pair.difference, pair.interval.low, pair.interval.high)
    } else {
        untold.into()
    }
}

/// Differences with their ranges, as a picture that stands beside its numbers.
pub fn differences<'a>(
    name: &'static str,
    title: &str,
    pairs: impl Iterator<Item = (String, &'a Pair)> + Clone,
) -> Figure {
    let column = |name: &str, of: fn(&Pair) -> f64| {
        Data::numbers(name, "points", pairs.clone().map(|(_, pair)| 100.0 * of(pair)))
    };
    let ends = pairs.clone().flat_map(|(_, pair)| [pair.interval.low, pair.interval.high]);
    let (low, high) = ends.fold((0.0_f64, 0.01_f64), |(low, high), end| (low.min(end), high.max(end)));
    let (low, high) = (100.0 * low.min(-0.05 * (high - low)), 100.0 * high);
    let axis = Axis {
        name: "more outages of 100 ridden through".into(),
        from: low,
        to: high,
        marks: round_marks(low, high, 6),
    };
    Figure {
        name,
        title: title.into(),
        data: vec![
            Data::names("what", pairs.clone().map(|(name, _)| name)),
            column("difference_low", |pair| pair.interval.low),
            column("difference", |pair| pair.difference),
            column("difference_high", |pair| pair.interval.high),
        ],
        picture: Picture::Ranges(Ranges { axis, zero: Some(0.0), band: None, unbanded: Vec::new() }),
        legend: "Right of the dashed line is better; lines hold 95 %.".into(),
        quiet: true,
    }
}

/// What single changes do.
#[must_use]
pub fn effects(effects: &[Effect]) -> Table {
    let rows = effects.iter().map(|effect| {
        let told = difference(&effect.pair, "no difference that these trials can tell");
        let costs = phrases::costs(effect.change.costs()).to_string();
        [effect.change.words(), costs, survival(&effect.survival), told]
    });
    let columns = ["change", "what it takes", "rides through", "difference"].map(Column::left);
    Table::new(columns).bare().rows(rows)
}

/// What the free changes that surely help come to when all of them are made; nothing where they are not several.
#[must_use]
pub fn all_together(answer: &OutageAnswer) -> String {
    let Some(all) = &answer.together else { return String::new() };
    let told: Vec<String> = all.changes.iter().map(Words::words).collect();
    format!(
        "Each line is that change alone: they do not add up. The free ones together ({}) ride through {}.",
        told.join("; "),
        survival(&all.survival)
    )
}

/// The fuel of a generator that runs longer, where that is among the changes.
fn longer_run(scenario: &Scenario, plan: &Plan, answer: &OutageAnswer) -> String {
    let hours = answer.effects.iter().find_map(|effect| match effect.change {
        Change::GeneratorLonger { hours_h } => Some(hours_h),
        _ => None,
    });
    hours.map_or(String::new(), |hours_h| fuel::longer(scenario, plan, hours_h))
}

/// What must be said beside some changes.
#[must_use]
pub fn changes_beside<'a>(changes: impl Iterator<Item = &'a Change> + Clone) -> String {
    let has = |of: fn(&Change) -> bool| changes.clone().any(of);
    let night = has(Change::darkens_vital)
        .then_some("A vital thing that is off at night is dark then, every night, and that is not counted as missed.");
    let given_up = has(|change| matches!(change, Change::LeaveOff { vital: true, .. })).then_some(
        "A vital thing that is left off is given up: only if you can do without it, and the figure then counts the other vital \
         things alone.",
    );
    let device = has(|change| matches!(change, Change::MoveLoad { medical: true, .. })).then_some(DEVICE_ON_DC);
    let on_dc = has(|change| !only_if(change).is_empty()).then_some(
        "Another outlet than AC is for what its own supply says: 12 V DC there for the 12 V outlet, USB for USB.",
    );
    night.into_iter().chain(given_up).chain(on_dc).chain(device).collect::<Vec<_>>().join(" ")
}

/// Under what condition alone a change is to be made; empty for none.
fn only_if(change: &Change) -> &'static str {
    match change {
        Change::MoveLoad { to: OutletKind::Dc, .. } => "only if its supply says 12 V DC",
        Change::MoveLoad { to: OutletKind::Usb, .. } => "only if it charges from USB",
        _ => "",
    }
}

/// Strings among the changes that make more than the solar input takes.
fn beyond_the_input(plan: &Plan, answer: &OutageAnswer) -> String {
    let with_it = |effect: &Effect| match effect.change {
        Change::OneMoreString { array, series, watts, .. } => {
            plan.beside_at_inputs_w(array).map(|(beside_w, limit_w)| (beside_w + f64::from(series) * watts, limit_w))
        }
        _ => [(0.0, f64::INFINITY); 2],
    };
    let beyond = answer.effects.iter().flat_map(with_it).filter(|(watts, limit_w)| watts > limit_w);
    let Some((most, limit_w)) = beyond.max_by(|a, b| (a.0 - a.1).total_cmp(&(b.0 - b.1))) else { return String::new() };
    format!(
        "With more panels they make {most:.0} W in full sun, and the solar input takes {limit_w:.0} W: the rest is lost on bright days, \
         and the figures count that."
    )
}

/// That strings want fuses, where a change makes so many of them on one input and nothing else says so.
fn fuses(scenario: &Scenario, answer: &OutageAnswer) -> String {
    let side_by_side = |array: usize| -> u32 {
        let input = scenario.panels.get(array).map(|panel| &panel.input);
        scenario.panels.iter().filter(|panel| Some(&panel.input) == input).map(|panel| panel.parallel).sum()
    };
    let with_it = |effect: &Effect| match effect.change {
        Change::OneMoreString { array, .. } => Some(side_by_side(array) + 1),
        _ => None,
    };
    let most = answer.effects.iter().filter_map(with_it).max().filter(|strings| UNFUSED_STRINGS < *strings);
    most.map_or(String::new(), |strings| {
        format!("With more panels {strings} strings hang side by side on one input: {}; {}.", FUSES.0, FUSES.1)
    })
}

/// The free change that makes a better verdict, before all else; nothing where none does.
fn free_first(scenario: &Scenario, answer: &OutageAnswer) -> String {
    if !answer.never_asked(scenario).is_empty() || !answer.overloads.is_empty() {
        return String::new();
    }
    let (before, stakes) = (answer.verdict(scenario), Stakes::of(answer.medical, &answer.overloads, answer.fuel));
    // What leaves something vital in the dark is nobody's first move.
    let free = answer
        .effects
        .iter()
        .filter(|effect| effect.change.costs() == Costs::Nothing && !effect.change.darkens_vital());
    let told = |change: &Change| match only_if(change) {
        "" => change.words(),
        only_if => format!("{}, {only_if}", change.words()),
    };
    let one = free.map(|effect| (told(&effect.change), &effect.survival));
    let mut all = answer.together.iter().filter(|all| !all.changes.iter().any(Change::darkens_vital)).map(|all| {
        let told: Vec<String> = all.changes.iter().map(told).collect();
        (format!("all of this: {}", told.join("; ")), &all.survival)
    });
    // Of one that does it alone no more is asked.
    let better = |(_, survival): &(String, &Survival)| Verdict::on(survival, stakes) < before;
    // Of equals the first.
    let one: Vec<_> = one.filter(better).collect();
    let best = one.into_iter().rev().max_by(|a, b| a.1.probability.total_cmp(&b.1.probability));
    let Some((what, with)) = best.or_else(|| all.find(better)) else { return String::new() };
    format!(
        "Free first: {what}. That rides through {}: {}.",
        survival(with),
        verdict::word_with_fuel(Verdict::on(with, stakes), answer.fuel)
    )
}
