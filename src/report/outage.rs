//! The answer of `run` as a document.

use super::advise::{self, Advised};
use super::cautions::{self, DEVICE_ON_DC, GENERATOR, ON_THE_GENERATOR};
use super::device::Device;
use super::document::{Cell, Column, Document, Table};
use super::figure::{Axis, Data, Figure, Picture, Ranges, round_marks};
use super::fuel::{self, Fuel};
use super::headline::{doubt, headline, stopped, verdict_words};
use super::notes::Note;
use super::phrases::{self, OUTLETS, PRIORITIES};
use super::told::Words;
use super::words::{
    self, decimals, duration, energy, hundredths, in_step, in_steps, percent, range, share, survival, the_list,
    thousands,
};
use super::{cuts, food, pictures, rare, surer};
use crate::calendar::clock;
use crate::engine::ledger::Flow;
use crate::engine::{Ledger, LoadPlan, Plan};
use crate::scenario::model::{Gives, Scenario, SecondStation};
use crate::study::compare::Pair;
use crate::study::outage::OutageAnswer;
use crate::study::{Change, Effect};
use crate::trials::tally::{LoadTally, count_quantile};
use crate::trials::unknowns::Survival;

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
    out.lead(device.words()).caution(cautions::elsewhere(scenario, answer.verdict(scenario)));
    if !answer.overloads.is_empty() {
        out.head("Do this first: it costs nothing").steps(phrases::remedies(&answer.overloads));
    }
    if answer.never_asked(scenario).is_empty() {
        out.head("What fails, and when").say(failures(plan, answer));
    }
    out.head("What runs, and how long it is off").table(loads(plan, answer));
    out.say(by_chance_alone(plan, answer));
    cuts::add(&mut out, plan, tally);
    out.head("When each is dark").figure(pictures::dark(plan, tally));
    out.head("Still riding through").figure(pictures::riding(plan, answer));
    food::add(&mut out, scenario, (plan, tally), "The food");
    out.head("Charge of the battery through the outage").figure(pictures::charge_with_outages(plan, answer));
    let mean = tally.ledger.scaled(1.0 / tally.trials as f64);
    out.head("Where the energy comes from and goes, in a mean outage")
        .figure(pictures::flows(&mean))
        .table(account(&mean, plan));
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
            answer.effects.iter().map(|effect| (effect.change.words(), &effect.pair)),
        ));
        out.say(all_together(answer))
            .say(beyond_the_input(plan, answer))
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
    out.head("The sun in these outages").figure(pictures::sun(plan, answer));
    out.head("What this rests on").list(notes.iter().map(Words::words));
    out
}

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
        "{} {what} in {}: {when} after the lights went out (the middle one {}){often}.",
        order_of_going(plan, answer),
        share(1.0 - answer.survival.probability, without),
        in_step(step(0.5), step_h),
    )
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
            "Goes without most often, and in brackets how long after the lights went out the first gap begins: {first}; {}. These hours are of \
             different outages; in each everything runs until the battery is empty, and what sun or wall feed after that goes to the more \
             important loads first.",
            rest.join("; ")
        ),
    }
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
            // Never told as all of it when something was missed.
            if got < 1.0 { percent(got.min(0.999)) } else { "all".into() },
            format!(
                "{} of 100 ({}{})",
                hundredths(kept.probability, decimals(kept.interval)),
                range(kept.interval, decimals(kept.interval)),
                if chance_alone(plan, kept) { "*" } else { "" }
            ),
            if tally.trials_off > 0 { duration(hours) } else { "-".into() },
            match tally.first_off_quarters() {
                Some([from, middle, to]) if from == to => in_step(middle, step_h),
                Some([from, middle, to]) => {
                    format!("{} ({})", in_step(middle, step_h), in_steps((from, to), step_h))
                }
                None => "-".into(),
            },
        ]
    };
    Table::new([
        Column::left("load"),
        Column::left("priority"),
        Column::left("outlet"),
        Column::right("asks a day"),
        Column::right("gets"),
        Column::right("always on in"),
        Column::right("else off for"),
        Column::right("first off in (half of those)"),
    ])
    .rows(plan.loads.iter().zip(&answer.tally.loads).zip(&answer.kept_on).map(row))
}

/// Whether a range holds chance alone though something is not known.
fn chance_alone(plan: &Plan, kept: &Survival) -> bool {
    kept.interval == kept.chance && !plan.unknowns().is_empty()
}

/// What the star in the table means, where it stands.
fn by_chance_alone(plan: &Plan, answer: &OutageAnswer) -> &'static str {
    if answer.kept_on.iter().any(|kept| chance_alone(plan, kept)) {
        "* A range of chance alone: too few trials went the other way to say what is not known about it."
    } else {
        ""
    }
}

/// What is plugged into the wall charger.
fn from_the_wall(plan: &Plan) -> &'static str {
    match (plan.second.is_some(), plan.mains.is_empty()) {
        (true, _) => "from the second station",
        (_, true) => "from the generator",
        (_, false) => "from the wall",
    }
}

/// Where the energy of other sources comes from.
fn from_sources(plan: &Plan) -> &'static str {
    let any = |of: fn(&Gives) -> bool| plan.sources.iter().any(|source| of(&source.gives));
    let car = any(|gives| matches!(gives, Gives::Car { .. }));
    let water = any(|gives| matches!(gives, Gives::Water { .. }));
    let wind = any(|gives| matches!(gives, Gives::Wind { .. }));
    match (car, water, wind) {
        (true, false, false) => "from the car",
        (false, true, false) => "from running water",
        (false, false, true) => "from the wind",
        _ => "from car, water and wind",
    }
}

/// A line of the account: `+` or `-`, what, and how much \[Wh\].
type AccountRow = (&'static str, &'static str, f64);

/// The account of a mean outage, what is next to nothing left out, and its turnover \[Wh\].
fn account_rows(mean: &Ledger, plan: &Plan) -> (Vec<AccountRow>, f64) {
    let into = [
        ("in the battery at the start", mean[Flow::Start]),
        ("sun on the panels could give", mean[Flow::Solar]),
        (from_the_wall(plan), mean[Flow::Wall]),
        (from_sources(plan), mean[Flow::Source]),
    ];
    let full_wh = mean[Flow::Curtailed] - mean[Flow::Clipped] - mean[Flow::Barred];
    let out = [
        ("to the AC outlet", mean[Flow::ServedAc]),
        ("to the DC outlet", mean[Flow::ServedDc]),
        ("to USB", mean[Flow::ServedUsb]),
        ("lost in the inverter", mean[Flow::AcLoss]),
        ("lost in the DC converter", mean[Flow::DcLoss]),
        ("lost in the USB converter", mean[Flow::UsbLoss]),
        ("lost charging and discharging", mean[Flow::ChargingLoss] + mean[Flow::DischargingLoss]),
        ("lost in the solar input", mean[Flow::SolarInputLoss]),
        ("lost in the wall charger", mean[Flow::WallLoss]),
        ("lost on the way from car, water or wind", mean[Flow::SourceLoss]),
        ("warming the cells", mean[Flow::Heater]),
        ("drawn by the station itself", mean[Flow::OwnDraw]),
        ("lost by the cells standing", mean[Flow::SelfDischarge]),
        ("sun outside the input's volts, amps or watts", mean[Flow::Clipped]),
        ("sun refused by cells too cold or too hot", mean[Flow::Barred]),
        ("sun left over (battery full or charging slowly)", full_wh),
        ("left in the battery at the end", mean[Flow::End]),
    ];
    let total: f64 = into.iter().map(|(_, wh)| wh).sum();
    let rows = [("+", &into[..]), ("-", &out[..])]
        .into_iter()
        .flat_map(|(sign, parts)| parts.iter().map(move |&(what, wh)| (sign, what, wh)))
        .filter(|(_, _, wh)| *wh >= 0.05)
        .collect();
    (rows, total)
}

fn account(mean: &Ledger, plan: &Plan) -> Table {
    let (rows, total) = account_rows(mean, plan);
    let row = |(sign, what, wh): AccountRow| {
        let share = wh / total.max(1e-9);
        [
            Cell::from(format!("{sign}  {what}")),
            energy(wh).into(),
            format!("{:.1} %", 100.0 * share).into(),
            Cell::Bar(share),
        ]
    };
    let columns = [Column::left("where"), Column::right("energy"), Column::right("share"), Column::left("")];
    Table::new(columns).bare().rows(rows.into_iter().map(row))
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
    let axis = Axis { name: "of 100".into(), from: low, to: high, marks: round_marks(low, high, 6) };
    Figure {
        name,
        title: title.into(),
        data: vec![
            Data::names("what", pairs.clone().map(|(name, _)| name)),
            column("difference_low", |pair| pair.interval.low),
            column("difference", |pair| pair.difference),
            column("difference_high", |pair| pair.interval.high),
        ],
        picture: Picture::Ranges(Ranges { axis, zero: Some(0.0), band: None }),
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
    // What it costs says so itself.
    let columns = ["change", "", "rides through", "difference"].map(Column::left);
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

/// What the second station brought in a mean outage.
fn brought(second: &SecondStation, wall_wh: f64) -> String {
    let full_wh = second.rated_capacity.0 * second.delivers.value.0;
    let given = format!(
        "In a mean outage the second station gives the first {} at its plug; full it gives {}. It refills the first one as soon as \
         there is room and it is there; loads of its own are not reckoned.",
        energy(wall_wh),
        energy(full_wh)
    );
    match &second.trips {
        None => format!("{given} It stays, and is charged by nothing."),
        Some(trips) => format!(
            "{given} {} it is away from {} to {} and is taken to come back {} full every time: whoever charges it must be there, \
             have power, and the road be open.",
            if trips.every_days == 1 { "Every day".to_string() } else { format!("Every {} days", trips.every_days) },
            clock(trips.away.from_minute),
            clock(trips.away.to_minute % 1440),
            percent(trips.returns_at.0)
        ),
    }
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
    let night = has(|change| matches!(change, Change::OffAtNight { vital: true, .. }))
        .then_some("A vital thing that is off at night is dark then, every night, and that is not counted as missed.");
    let device = has(|change| matches!(change, Change::MoveLoad { medical: true, .. })).then_some(DEVICE_ON_DC);
    night.into_iter().chain(device).collect::<Vec<_>>().join(" ")
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
        "With a string more the panels make {most:.0} W in full sun, and the solar input takes {limit_w:.0} W: the rest is lost \
         on bright days, and the figures count that."
    )
}
