//! The answer of `check`: the plain sums of a kit, and whether its parts fit.

use super::cautions;
use super::document::{Column, Document, Table};
use super::headline::month_name;
use super::judged::{Sentence, words};
use super::named::{in_the_file, subject};
use super::runtimes::{self, Chill};
use super::words::{energy, percent, the_list};
use crate::calendar::clock;
use crate::engine::Plan;
use crate::kit::{Judgement, Matter, Weight};
use crate::scenario::model::Scenario;
use crate::study::device::names;
use crate::study::endurance::Endurance;
use crate::visible::begun;

/// What every owner should hear, whatever the verdicts.
pub const CAUTIONS: [&str; 2] = [
    "The makers' manuals and local code have the last word, over anything said here.",
    "Anything fixed to a house, a roof or a house's wiring is work for a licensed electrician; never feed a house through \
     a wall socket.",
];

/// The verdicts, the sums by best estimates, and the cautions.
///
/// * `chill` — what the sums reckon with where the cells give less than in a warm room; `remarks` — how many other warnings and notes follow.
#[must_use]
pub fn document(
    scenario: &Scenario,
    plan: &Plan,
    sums: &Endurance,
    chill: Option<&Chill>,
    verdicts: &[Judgement],
    remarks: usize,
) -> Document {
    let mut out = Document::new(scenario.title.clone());
    let never = names(plan, &|k| plan.loads[k].never_runs());
    if !never.is_empty() {
        out.caution(format!(
            "{} cannot run on this station: it is more than the outlet gives.",
            begun(&the_list(&never))
        ));
    }
    out.placed(&scenario.site).lead(headline(verdicts, remarks));
    out.head("Do the parts fit?").entries(verdicts.iter().map(|verdict| one(verdict, scenario)).collect());
    let alone = if scenario.outage.cuts.any() {
        "Plain sums, by best estimates, and how long it runs without any sun or mains"
    } else {
        "Plain sums, by best estimates and without any sun"
    };
    out.head(alone).say(chill.map_or("", |chill| &chill.told));
    let usable = chill.map(|chill| {
        let label = if chill.cold { "of that, in this cold" } else { "of that, usable there" };
        (label.to_string(), energy(sums.usable_wh))
    });
    let month = month_name(scenario);
    // A cooler's day hangs on the weather; a run counts that of the outages themselves.
    let asked = match plan.loads.iter().any(|load| load.asks.is_some()) {
        true => format!("the loads ask for in a day, at the mean air of {month}"),
        false => "the loads ask for in a day".into(),
    };
    let asked = if scenario.outage.cuts.any() { format!("{asked}, in the cuts") } else { asked };
    let draws = match scenario.outage.cuts.any() {
        true => "the station draws for that, itself all day",
        false => "the station draws for that",
    };
    let rig = plan.kit.best_estimate();
    let full = match rig.full() {
        ceiling if ceiling < 0.995 => format!("a battery charged to {:.0} %", 100.0 * ceiling),
        _ => "a full battery".into(),
    };
    let lines = [
        (asked, energy(sums.asked_a_day_wh)),
        (draws.to_string(), format!("{} a day", energy(sums.drawn_a_day_wh))),
        (format!("{full} runs everything for"), runtimes::told(plan, &sums.all)),
        ("and the vital loads alone for".to_string(), runtimes::told(plan, &sums.vital)),
    ];
    let each = plan.loads.iter().zip(&sums.each);
    let each = each.filter(|(load, _)| !load.never_runs()).map(|(load, runtime)| {
        let mark = match load.off_below {
            below if 0.0 < below && below < 1.0 => format!(" (goes off below {:.0} %)", 100.0 * below),
            _ => String::new(),
        };
        (format!("  {} alone", load.name), runtimes::told(plan, runtime) + &mark)
    });
    let held = [("in the cells when full".to_string(), energy(sums.cells_wh))];
    // A part of the charge stays in: that is no matter of temperature.
    let kept = (rig.floor_wh > 0.0).then(|| {
        let share = percent(rig.floor_wh / rig.capacity_wh);
        let free_wh = (rig.ceiling_wh - rig.floor_wh).max(0.0);
        (format!("of that, above the {share} that stay in"), energy(free_wh))
    });
    let second = scenario.second_station.as_ref().map(|second| {
        let holds_wh = second.rated_capacity.0 * second.delivers.value.0 * second.starts_charged.0;
        let away = second.trips.as_ref().map_or("; it stays, and is charged by nothing".to_string(), |trips| {
            let (from, to) = (clock(trips.away.from_minute), clock(trips.away.to_minute % 1440));
            format!("; away from {from} to {to} to be charged")
        });
        let charger =
            scenario.station.wall_charger.as_ref().map_or(second.limit.0, |wall| wall.limit.0.min(second.limit.0));
        (
            "a second station gives beside that".to_string(),
            format!("{} through the wall charger, {charger:.0} W at most{away}", energy(holds_wh)),
        )
    });
    let lines = lines.into_iter().chain(second);
    let rows = held.into_iter().chain(kept).chain(usable).chain(lines).chain(each).map(|(what, value)| [what, value]);
    out.table(Table::new([Column::left("what"), Column::left("how much")]).bare().rows(rows));
    out.under(sooner(plan, sums).join(" "));
    // House and manuals are said for every owner already.
    let kit = cautions::of(scenario).into_iter().filter(|told| *told != cautions::WIRING);
    out.head("Cautions").list(CAUTIONS.into_iter().chain(kit));
    out
}

/// Which runs an AC outlet may end sooner, of which nobody has told.
fn sooner(plan: &Plan, sums: &Endurance) -> Vec<String> {
    let ends = &sums.may_end_h;
    let of = |picked: &dyn Fn(usize) -> bool, what: &str, hours: Option<f64>| {
        hours.map(|hours| runtimes::ends_sooner(&plan.keeping(picked), what, hours))
    };
    let several = plan.loads.len() > 1;
    let all = of(&|_| true, "Everything", ends.all.filter(|_| several));
    let vital = of(&|k| plan.loads[k].class == 0, "What is vital", ends.vital.filter(|_| several));
    let each = plan.loads.iter().zip(&ends.each).enumerate().filter(|(_, (load, _))| !load.never_runs());
    let each =
        each.filter_map(|(only, (load, hours))| of(&|k| k == only, &begun(&format!("{} alone", load.name)), *hours));
    all.into_iter().chain(vital).chain(each).collect()
}

fn headline(verdicts: &[Judgement], remarks: usize) -> String {
    let of = |weight| verdicts.iter().filter(|verdict| verdict.weight == weight).count();
    let (stops, warns) = (of(Weight::Stops), of(Weight::Warns));
    let also = match remarks {
        0 => "",
        1 => " One more remark stands at the end.",
        _ => " More remarks stand at the end.",
    };
    let judged = match (stops, warns) {
        (0, 0) => "The file is in order and the parts fit together.".to_string(),
        (0, 1) => "The file is in order; one thing to mind.".to_string(),
        (0, n) => format!("The file is in order; {n} things to mind."),
        (1, _) => "Stop: one thing must be changed before this kit is put together.".to_string(),
        (n, _) => format!("Stop: {n} things must be changed before this kit is put together."),
    };
    format!("{judged}{also}")
}

/// A verdict beside its weight: the judgement, its numbers, why it matters and what to do.
fn one(verdict: &Judgement, scenario: &Scenario) -> (String, Vec<String>) {
    let Sentence { about, what, found, allowed, reason, remedy, .. } = words(verdict);
    let head = match (verdict.weight, &verdict.matter) {
        (Weight::Fits, _) => format!("{about}: {what}"),
        // No key of the file says so.
        (_, Matter::SwitchesOff { watts, surely_w, least_w, assumed: true, .. }) => format!(
            "{about}: this AC outlet may switch itself off: {watts:.1} W hang on it, and most outlets want {surely_w:.0} to \
             {least_w:.0} W (assumed)"
        ),
        _ => {
            let key = in_the_file(&verdict.key).map_or(String::new(), |key| format!(" (in the file: {key})"));
            format!("{about}: {}{key} {what}", subject(&verdict.key, scenario))
        }
    };
    let numbers: Vec<&str> = [found.as_str(), allowed.as_str()].into_iter().filter(|text| !text.is_empty()).collect();
    let mut lines = vec![head, numbers.join("; ")];
    for (why, text) in [("Why", &reason), ("What to do", &remedy)] {
        lines.push(if text.is_empty() { String::new() } else { format!("{why}: {text}.") });
    }
    lines.retain(|line| !line.is_empty());
    (verdict.weight.word().to_string(), lines)
}
