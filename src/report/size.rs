//! The answer of `size` as a document and for programs.

mod figures;
mod json;
mod verdict;

pub use json::{Json, json};
pub use verdict::{SizeVerdict, verdict};
use verdict::{free_first, free_to_the_largest, verdict_alone};

use super::document::{Column, Document, Table};
use super::judged::FUSES;
use super::notes::Note;
use super::outage::{by_chance_alone, effects};
use super::phrases::uncounted;
use super::told::Words;
use super::verdict::{MEDICAL_CAUTION, with_fuel, word};
use super::words::{common_decimals, label, lowered, survival as survival_words, survival_with, thousands};
use crate::kit::electrical::UNFUSED_STRINGS;
use crate::scenario::model::{Choice, Site};
use crate::study::fit::Overload;
use crate::study::fuel::FuelTaken;
use crate::study::size::{RARE_FROM, SizedKit, Sizing};
use crate::study::{OutageAnswer, Stakes, Verdict};
use crate::trials::interval::{Z_95, wilson};
use crate::trials::unknowns::Survival;

/// All that `size` knows.
#[derive(Debug, Clone, Copy)]
pub struct Facts<'a> {
    /// Title of the scenario.
    pub title: &'a str,
    /// Where the kit stands.
    pub site: &'a Site,
    /// What the trials say.
    pub answer: &'a Sizing,
    /// Outlets of the scenario's kit that switch off: the trials do not know of it.
    pub overloads: &'a [Overload],
    /// What is taken of a generator's fuel.
    pub fuel: FuelTaken,
    /// The scenario's kit as it is, where kits were judged.
    pub own: Option<&'a OutageAnswer>,
    /// What is to be minded with the kit beside what the notes say.
    pub cautions: &'a [&'static str],
    /// Whether a person's health hangs on a load.
    pub medical: bool,
    /// The vital loads that a person's health hangs on.
    pub devices: &'a [String],
    /// What it rests on, of the kit as the scenario has it.
    pub notes: &'a [Note],
    /// Seed.
    pub seed: u64,
}

impl Facts<'_> {
    /// The verdict on a kit.
    fn verdict(&self, kit: &SizedKit) -> Verdict {
        self.verdict_on(&kit.survival)
    }

    /// The verdict on a survival.
    fn verdict_on(&self, survival: &Survival) -> Verdict {
        Verdict::on(survival, Stakes::of(self.medical, self.overloads, self.fuel))
    }

    /// A verdict in words, with what it is of.
    fn verdict_told(&self, survival: &Survival) -> String {
        // With as many decimals as the tables have.
        let told = told_kits(self.answer).map(|kit| &kit.survival).chain([survival]);
        let decimals = common_decimals(told.map(|told| told.interval));
        let share = if survival.chance_alone { survival_words(survival) } else { survival_with(survival, decimals) };
        format!("{} It rides through {share}.", with_fuel(self.verdict_on(survival), self.fuel))
    }
}

/// A target as percent without needless decimals: "95 %", "99.9 %".
fn target_word(target: f64) -> String {
    format!("{} %", (target * 1e4).round() / 100.0)
}

fn kit_name(sizing: &Sizing, kit: &SizedKit) -> String {
    format!("{} with {}", battery_name(sizing, kit), panels_name(sizing, kit.panels))
}

/// A battery by its name; one that goes by its size like other numbers.
fn size_name(battery: &Choice) -> String {
    let by_size = format!("{:.0} Wh", battery.amount) == battery.name;
    if by_size { label(battery.amount) } else { battery.name.clone() }
}

/// The battery of a kit; at the grid's edge nobody tried a smaller one.
fn battery_name(sizing: &Sizing, kit: &SizedKit) -> String {
    format!("{}{}", size_name(&sizing.batteries[kit.battery]), if kit.battery == 0 { " or less" } else { "" })
}

/// A number of panels and how they are wired: "4 panels (2 strings of 2)".
fn panels_name(sizing: &Sizing, panels: usize) -> String {
    let choice = &sizing.panels[panels];
    let series = sizing.wiring.series;
    match choice.amount as u32 / series {
        _ if series == 1 => choice.name.clone(),
        0 => choice.name.clone(),
        1 => format!("{} (one string of {series})", choice.name),
        strings => format!("{} ({strings} strings of {series})", choice.name),
    }
}

/// The kits that the answer tells of.
fn told_kits(sizing: &Sizing) -> impl Iterator<Item = &SizedKit> {
    sizing.frontier.iter().chain(sizing.ladder.iter().filter_map(|(_, kit)| kit.as_ref()))
}

/// What the grid does not hold: smaller batteries than its least, and panels beyond what the input takes.
fn limits(sizing: &Sizing) -> String {
    let mut out = String::new();
    let wiring = &sizing.wiring;
    if told_kits(sizing).any(|kit| kit.battery == 0) {
        out.push_str(&format!(
            " A kit with {} stands at the edge of this grid: no smaller battery was tried, so the least may be smaller still \
             (battery_steps in [size] says what is tried).",
            size_name(&sizing.batteries[0])
        ));
    }
    let last = sizing.panels.len() - 1;
    let at_edge = |kit: &SizedKit| kit.panels == last || (kit.panels == 0 && sizing.panels[0].amount > 0.0);
    let best = [("cheaper", &sizing.cheapest), ("lighter", &sizing.lightest)];
    for (what, _) in best.iter().filter(|(_, kit)| kit.as_ref().is_some_and(at_edge)) {
        out.push_str(&format!(
            " Other numbers of panels than this grid's were not tried: something {what} may lie beyond."
        ));
    }
    if wiring.series > 1 {
        out.push_str(&format!(" The panels hang in strings of {} in series, side by side.", wiring.series));
    }
    if !wiring.left_out.is_empty() {
        let counts: Vec<String> = wiring.left_out.iter().map(u32::to_string).collect();
        out.push_str(&format!(
            " Left out, since they make no whole strings of {}: {} panel{}.",
            wiring.series,
            counts.join(", "),
            if wiring.left_out == [1] { "" } else { "s" }
        ));
    }
    if let Some(first) = sizing.panels.iter().find(|choice| wiring.beyond_the_input(choice.amount)) {
        out.push_str(&format!(
            " From {} on ({:.0} W) the panels can make more than the solar input takes ({:.0} W{}): what is above is lost on \
             bright days, and the figures count that.",
            first.name,
            wiring.others_w + first.amount * wiring.panel_w,
            wiring.input_w,
            if wiring.most_by_amps.is_finite() { ", or fewer by its amps" } else { "" }
        ));
    }
    out
}

fn price(sizing: &Sizing, price: Option<f64>) -> String {
    price.map_or("-".into(), |p| format!("{} {}", thousands(p.round() as u64), sizing.currency).trim().to_string())
}

fn weight(kit: &SizedKit) -> String {
    kit.weight_kg.map_or("-".into(), |kg| format!("{kg:.1} kg"))
}

/// The columns of a table of kits and the cells of one; price and weight where any kit has them.
fn kits<'a>(
    facts: &Facts,
    heads: [&str; 2],
    rows: impl Iterator<Item = ([String; 2], Option<&'a SizedKit>)> + Clone,
) -> Table {
    let kits = || rows.clone().filter_map(|(_, kit)| kit);
    // One kit has one figure, in whichever table it stands.
    let decimals = common_decimals(told_kits(facts.answer).map(|kit| kit.survival.interval));
    let (priced, weighed) = (kits().any(|kit| kit.price.is_some()), kits().any(|kit| kit.weight_kg.is_some()));
    let some = |holds: bool, of: String| holds.then_some(of);
    let row = |(names, kit): ([String; 2], Option<&SizedKit>)| {
        let told = |of: &dyn Fn(&SizedKit) -> String| kit.map_or_else(|| "-".to_string(), of);
        let figures = [
            Some(told(&|kit| word(facts.verdict(kit)).to_string())),
            Some(told(&|kit| survival_with(&kit.survival, decimals))),
            some(priced, told(&|kit| price(facts.answer, kit.price))),
            some(weighed, told(&weight)),
        ];
        names.into_iter().chain(figures.into_iter().flatten()).collect::<Vec<_>>()
    };
    let mut columns: Vec<Column> = heads.map(Column::left).into();
    columns.extend([Column::left("verdict"), Column::right("rides through")]);
    columns.extend(priced.then(|| Column::right("price")).into_iter().chain(weighed.then(|| Column::right("weight"))));
    Table::new(columns).rows(rows.clone().map(row))
}

fn frontier(facts: &Facts) -> Table {
    let sizing = facts.answer;
    let names = |kit: &SizedKit| [panels_name(sizing, kit.panels), battery_name(sizing, kit)];
    kits(facts, ["panels", "battery"], sizing.frontier.iter().map(|kit| (names(kit), Some(kit))))
}

/// Whether all kits that are told have a price.
fn priced(sizing: &Sizing) -> bool {
    told_kits(sizing).all(|kit| kit.price.is_some())
}

fn ladder(facts: &Facts) -> Table {
    let sizing = facts.answer;
    let name = |kit: &Option<SizedKit>| kit.as_ref().map_or("none of these".into(), |kit| kit_name(sizing, kit));
    let row = |(target, kit): &'_ (f64, Option<SizedKit>)| [target_word(*target), name(kit)];
    let least = if priced(sizing) { "cheapest kit" } else { "least battery that does" };
    kits(facts, ["target", least], sizing.ladder.iter().map(|rung| (row(rung), rung.1.as_ref())))
}

/// A word on fuses where a kit that is told of has many strings side by side.
fn fuses(sizing: &Sizing) -> String {
    let most = told_kits(sizing).map(|kit| sizing.panels[kit.panels].amount as u32 / sizing.wiring.series).max();
    most.filter(|strings| UNFUSED_STRINGS < *strings).map_or(String::new(), |strings| {
        format!("Up to {strings} strings of panels hang side by side in these kits: {}; {}.", FUSES.0, FUSES.1)
    })
}

fn footing(sizing: &Sizing) -> String {
    format!(
        "Every cell met the same {} outages and weather. A kit counts as enough when the lower end of its 95 % range, \
         chance and what is not known together, reaches the target. {}{}{}",
        thousands(sizing.trials),
        if sizing.lows.is_empty() {
            format!(
                "A cell of the grid is a share of the trials alone, and chance leaves it up to {} of 100 on either side.",
                (50.0 * wilson(sizing.trials / 2, sizing.trials, Z_95).width()).ceil()
            )
        } else {
            "The grid's lower ends, but for the kits of the table, are read off fewer trials and may lie a few of 100 off.".into()
        },
        if RARE_FROM <= sizing.target {
            " A target as high as this is judged by trials that lean towards dark weather and are weighed back: their range is \
             of chance alone, averaged over what is not known. The model's darkest weather is no surer than the records it was \
             judged by: leave room."
        } else {
            ""
        },
        limits(sizing)
    )
}

/// The whole answer.
#[must_use]
pub fn document(facts: &Facts) -> Document {
    let sizing = facts.answer;
    let mut out = Document::new(facts.title);
    out.placed(facts.site);
    let overloaded = facts.overloads.iter().any(Overload::stops);
    if overloaded {
        // No size of battery or panels is an answer to that.
        out.lead(format!("No kit of this grid: {}", lowered(&Verdict::DoNotCount.words())));
        let never = facts.overloads.iter().filter(|overload| overload.vital).all(|overload| overload.never);
        out.lead(format!(
            "The cause: what must stay on is more than an outlet gives. No battery and no panel mends that: {}, or take a station \
             whose outlet gives more.",
            if never { "leave it unplugged" } else { "run fewer of these things at once, each at hours of its own" }
        ));
        out.caution(uncounted(facts.overloads));
        let of = if never { "For the rest" } else { "If it never happened" };
        out.under(format!("{of}: {}", lowered(&verdict_alone(sizing))));
    } else {
        out.caution(uncounted(facts.overloads));
        if let Some(own) = facts.own {
            out.lead(free_first(facts, own));
        }
        if let Some(kit) = sizing.proposed() {
            out.lead(format!("{}: {}", kit_name(sizing, kit), facts.verdict_told(&kit.survival)));
        } else if let Some(largest) = &sizing.largest {
            if let Some(free) = free_to_the_largest(sizing) {
                out.lead(format!(
                    "{}, the largest of this grid, with what costs nothing ({}): {}",
                    kit_name(sizing, &largest.kit),
                    free.change.words(),
                    facts.verdict_told(&free.survival)
                ));
            }
            let as_used = if free_to_the_largest(sizing).is_some() { "As things are used now, no" } else { "No" };
            out.lead(format!("{as_used} kit of this grid: {}", lowered(&facts.verdict(&largest.kit).words())));
        }
        // What comes after a way that costs nothing is no more than its reason.
        let told = verdict(sizing);
        if sizing.proposed().is_none() && free_to_the_largest(sizing).is_some() {
            out.under(told)
        } else {
            out.lead(told)
        };
    }
    if sizing.panels.iter().all(|panels| panels.amount == 0.0) {
        out.under(
            "No panel was tried. Where there is a place for one, say its watts, tilt and facing, and what the solar input takes (in the \
             file: rated, tilt and facing under panel, and station.solar_input): then numbers of it are tried.",
        );
    }
    if facts.medical {
        out.caution(MEDICAL_CAUTION);
    }
    out.head(figures::grid_head(sizing)).figure(figures::grid(sizing));
    if !sizing.frontier.is_empty() {
        out.head("The least kits that reach the target").table(frontier(facts));
        out.say(by_chance_alone(sizing.frontier.iter().map(|kit| &kit.survival)));
    }
    if let Some(largest) = sizing.largest.as_ref().filter(|largest| !largest.effects.is_empty()) {
        out.head("What one change would do to the largest kit, on the same weather").table(effects(&largest.effects));
    }
    if sizing.frontier.len() > 1 {
        out.figure(figures::curve(sizing));
    }
    // A table that has no kit says nothing beside the lines above.
    let rungs = || sizing.ladder.iter().filter_map(|(_, kit)| kit.as_ref());
    if rungs().next().is_some() {
        out.head("What reliability costs").table(ladder(facts));
        out.say(by_chance_alone(rungs().map(|kit| &kit.survival)));
    }
    out.say(fuses(sizing));
    if !facts.cautions.is_empty() {
        out.head("Take care").list(facts.cautions.iter().copied());
    }
    out.head("What was tried").say(footing(sizing));
    out.head("What this rests on")
        .say(
            "Where it says that so many more outages would fail, or anything else that hangs on the kit, that is said of your kit as the \
             scenario has it, not of a kit that is proposed here.",
        );
    out.list(facts.notes.iter().map(Words::words));
    out
}
