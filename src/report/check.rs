//! The answer of `check`: the plain sums of a kit, and whether its parts fit.

use super::outage::{WIDTH, wrap};
use super::runtimes::{self, Chill};
use super::words::energy;
use crate::engine::Plan;
use crate::kit::{Verdict, Weight};
use crate::scenario::model::Scenario;
use crate::study::endurance::Endurance;

/// What every owner should hear, whatever the verdicts.
pub const CAUTIONS: [&str; 3] = [
    "The makers' manuals and local code have the last word, over anything said here.",
    "Anything fixed to a house, a roof or a house's wiring is work for a licensed electrician; never feed a house through \
     a wall socket.",
    "Run a generator outside, far from doors and windows: its exhaust kills. Keep a station dry, aired and out of the sun.",
];

/// The verdicts, the sums by best estimates, and the cautions.
///
/// * `chill` — what the sums reckon with where the cells give less than in a warm room; `remarks` — how many other warnings and notes follow.
#[must_use]
pub fn text(
    scenario: &Scenario,
    plan: &Plan,
    sums: &Endurance,
    chill: Option<&Chill>,
    verdicts: &[Verdict],
    remarks: usize,
) -> String {
    let mut out = format!("{}\n\n", scenario.title);
    out.push_str(&wrap(&headline(verdicts, remarks), "", WIDTH));
    out.push_str("\nDo the parts fit?\n");
    for verdict in verdicts {
        out.push_str(&one(verdict));
    }
    out.push_str("\nPlain sums, by best estimates and without any sun\n");
    if let Some(chill) = chill {
        out.push_str(&wrap(&chill.told, "  ", WIDTH));
    }
    let usable = chill.map(|chill| {
        let label = if chill.cold { "of that, in this cold" } else { "of that, usable there" };
        (label.to_string(), energy(sums.usable_wh))
    });
    let lines = [
        ("the loads ask for in a day".to_string(), energy(sums.asked_a_day_wh)),
        ("the station draws for that".to_string(), format!("{} a day", energy(sums.drawn_a_day_wh))),
        ("a full battery runs everything for".to_string(), runtimes::told(plan, &sums.all)),
        ("and the vital loads alone for".to_string(), runtimes::told(plan, &sums.vital)),
    ];
    let each = plan
        .loads
        .iter()
        .zip(&sums.each)
        .map(|(load, runtime)| (format!("  {} alone", load.name), runtimes::told(plan, runtime)));
    let held = [("in the cells when full".to_string(), energy(sums.cells_wh))];
    let rows: Vec<(String, String)> = held.into_iter().chain(usable).chain(lines).chain(each).collect();
    let left = rows.iter().map(|(l, _)| l.chars().count()).max().unwrap_or(0);
    for (what, value) in rows {
        let pad = " ".repeat(left - what.chars().count());
        out.push_str(&format!("  {what}{pad}  {value}\n"));
    }
    out.push_str("\nCautions\n");
    for caution in CAUTIONS {
        out.push_str(&indented(caution, "  - ", "    "));
    }
    out
}

fn headline(verdicts: &[Verdict], remarks: usize) -> String {
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

/// Text whose first line begins with `first` and the others with `rest`, of the same width.
fn indented(text: &str, first: &str, rest: &str) -> String {
    let mut wrapped = wrap(text, rest, WIDTH);
    wrapped.replace_range(..rest.len(), first);
    wrapped
}

fn one(verdict: &Verdict) -> String {
    let rest = "         ";
    let mut head = format!("{}; `{}` {}", verdict.about, verdict.key, verdict.what);
    if verdict.weight == Weight::Fits {
        head = format!("{}: {}", verdict.about, verdict.what);
    }
    let numbers: Vec<&str> =
        [verdict.found.as_str(), verdict.allowed.as_str()].into_iter().filter(|text| !text.is_empty()).collect();
    let mut out = indented(&head, &format!("  {:<5}  ", verdict.weight.word()), rest);
    if !numbers.is_empty() {
        out.push_str(&wrap(&numbers.join("; "), rest, WIDTH));
    }
    if !verdict.reason.is_empty() {
        out.push_str(&wrap(&format!("Why: {}.", verdict.reason), rest, WIDTH));
    }
    if !verdict.remedy.is_empty() {
        out.push_str(&wrap(&format!("What to do: {}.", verdict.remedy), rest, WIDTH));
    }
    out
}
