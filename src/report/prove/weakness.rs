//! What weakens a proof, in words.

use crate::open::proof::ProvedRecord;
use crate::scenario::Problem;
use crate::scenario::problem;
use crate::study::prove::{Warning, Weakness};
use crate::units::Celsius;
use crate::visible::begun;

/// A weakness as a problem of the record.
#[must_use]
pub fn problem(warning: &Warning) -> Problem {
    let said = |what: &str| Problem::warning(&*warning.key, what);
    match &warning.of {
        Weakness::Ambient { ambient_c, from_c, to_c } => {
            said("is outside of what cells like; they give less in the cold")
                .found(Celsius(*ambient_c).to_string())
                .allowed(format!("{} to {} for a fair test", Celsius(*from_c), Celsius(*to_c)))
        }
        Weakness::SmallPart { share } => {
            said("leaves a small part of the charge tested; the interval is wide for it")
                .found(format!("{:.0} % of the charge", share * 100.0))
                .help("displays are rough in between: run from full until the unit switches itself off")
        }
        Weakness::RanEmpty { within_h, least_w, most_w } => {
            let least = least_w.map_or(String::new(), |least_w| format!(", so {least_w:.0} W or more"));
            let said = said("ran empty some time before anybody looked; it tells only the least that the unit draws")
                .found(format!("empty within {within_h:.1} h{least}"))
                .help("charge it and leave it for a shorter time, so that some charge is left");
            match most_w {
                Some(most_w) => said.allowed(format!("up to {most_w:.0} W by the other tests, which contradict it")),
                None => said,
            }
        }
        Weakness::OneReading { watts, plus_minus_share } => {
            said("is one reading for the whole run; the interval is widened for it")
                .found(format!("{watts} W, taken as good to ± {:.0} %", plus_minus_share * 100.0))
                .help("note the watts every half hour, or let the meter count the watt-hours: energy = \"450 Wh\"")
        }
        Weakness::Gap { gap_h, plus_minus_share } => said("has a gap; the interval is widened for it")
            .found(format!("{:.0} min without a reading", gap_h * 60.0))
            .help(format!(
                "what flowed meanwhile is taken from its neighbours, give or take {:.0} % and half of what the \
                 load varies by elsewhere",
                plus_minus_share * 100.0
            )),
        Weakness::SmallLoad { load_w, least_w, best_w } => {
            said("was run at a small load, which under-reads by itself")
                .found(format!("{load_w:.0} W"))
                .allowed(format!("from {least_w:.0} W, about {best_w:.0} W at best"))
                .help(
                    "over many hours the inverter's own draw eats much; the verdict allows for it, less surely. A second \
                     run at that load makes both worth more",
                )
        }
        Weakness::Contradiction { factor } => {
            said("holds tests that contradict each other; what they measured is widened for it")
                .found(format!("{factor:.1} times what the meters allow"))
                .help("look for a wrong time, a wrong load or a unit that was not full")
        }
        Weakness::Untypical => said("holds tests that agree with each other and not with a typical unit")
            .found("draw, conversion or efficiency far from typical figures")
            .help("those figures count for less then; look whether a time, a load or a charge is wrong all the same"),
        Weakness::NoDraw { draw_w } => said("leaves the inverter less than no draw, which cannot be")
            .found(format!("{draw_w:.1} W"))
            .help("the tests most likely differ in how full the unit was"),
        Weakness::RoundTrip { test, share, plus_minus_share, least_share, most_share } => {
            said("and the discharges contradict each other")
                .found(format!(
                    "{:.0} ± {:.0} % of what went in at the wall came out at the AC outlet in {test}",
                    100.0 * share,
                    100.0 * plus_minus_share
                ))
                .allowed(format!("{:.0} to {:.0} %", 100.0 * least_share, 100.0 * most_share))
                .help(
                    "look at the wall meter and at the outlet's, at the units that they count in, and at the charge at start and \
                     stop of both runs",
                )
                .against("capacity", "what came out")
        }
    }
}

/// What of a record something is said of, in words for who does not see the file: "The load of test "two lamps"".
#[must_use]
pub fn subject(problem: &Problem) -> String {
    let last = problem.key.rsplit('.').next().filter(|last| last.parse::<usize>().is_err());
    let what = match last {
        Some("to") => "charge at the end",
        Some("from") => "charge at the start",
        Some("ambient") => "air",
        Some("log") => "log",
        Some(other) => &other.replace('_', " "),
        None => "",
    };
    match (&problem.whose, what, problem.key.contains('.')) {
        (None, "", _) => "The record".into(),
        (None, "capacity", false) => "The record".into(),
        (None, what, _) => format!("The {what} in the record"),
        (Some(whose), "", _) => begun(&test_named(whose)),
        (Some(whose), what, _) => format!("The {what} of {}", test_named(whose)),
    }
}

/// A test by its place in the record: `discharge 1, "two lamps",`.
fn test_named(whose: &str) -> String {
    let kinds = [("capacity ", "discharge "), ("wall ", "charge from the wall "), ("solar ", "test in the sun ")];
    let kind = kinds.iter().find_map(|(key, word)| whose.strip_prefix(key).map(|rest| format!("{word}{rest}")));
    let named = kind.unwrap_or_else(|| whose.to_string());
    if named.contains(',') { named + "," } else { named }
}

/// What the reader and the proof have to say of a record, by place; of the proof with the fact.
#[must_use]
pub fn told(one: &ProvedRecord) -> Vec<(Problem, Option<&Weakness>)> {
    let read = one.remarks.iter().map(|remark| (remark.clone(), None));
    let proved = one.proof.warnings.iter().map(|warning| (one.locate(problem(warning)), Some(&warning.of)));
    let mut all: Vec<_> = read.chain(proved).collect();
    all.sort_by_key(|(told, _)| problem::place(told));
    all
}

/// The same without the facts.
#[must_use]
pub fn remarks(one: &ProvedRecord) -> Vec<Problem> {
    told(one).into_iter().map(|(problem, _)| problem).collect()
}
