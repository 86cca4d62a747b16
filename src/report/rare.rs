//! A rare failure in words.

use super::outage::{WIDTH, wrap};
use super::words::thousands;
use crate::trials::Tally;
use crate::trials::rare::Rare;
use crate::trials::unknowns::ENOUGH;

/// Failures of how many outages, so that the figure is at least about one: "1.3 of 10,000".
fn of(p: f64) -> u64 {
    let mut of = 100;
    while p * (of as f64) < 1.0 && of < 1_000_000_000 {
        of *= 10;
    }
    of
}

/// Share of plain trials that fail from which on a failure is not rare.
const NOT_RARE: f64 = 0.05;

/// The section that `run --rare` adds.
///
/// * `plain` — the plain trials of the same run.
#[must_use]
pub fn text(rare: Option<&Rare>, plain: &Tally) -> String {
    let mut out = String::from("\nHow rare a failure is\n");
    let failed = plain.trials - plain.survived;
    let sentence = match rare {
        None if failed as f64 > NOT_RARE * plain.trials as f64 => format!(
            "A failure is not rare here: {} of {} plain trials failed. The range above says it.",
            thousands(failed),
            thousands(plain.trials)
        ),
        None if plain.trials < ENOUGH => {
            format!("{} trials are too few to tell: it takes {} or more.", thousands(plain.trials), thousands(ENOUGH))
        }
        None => "Even in weather drawn as dark as makes sense hardly anything failed: too rare to be told.".to_string(),
        Some(rare) => {
            let of = of(rare.failure);
            let n = of as f64;
            format!(
                "Something vital goes without in {:.1} of {} outages ({:.1}-{:.1}, 95 % of chance): {} trials, most of them \
                 drawn in darker weather than is likely and weighed back. Plain trials would have taken about {} to say it as \
                 surely. What nobody has measured is averaged over, and the model's dark tail is no surer than the records it \
                 was judged by: do not read this as a promise.",
                rare.failure * n,
                thousands(of),
                rare.interval.low * n,
                rare.interval.high * n,
                thousands(rare.trials),
                thousands((rare.gain * rare.trials as f64) as u64)
            )
        }
    };
    out.push_str(&wrap(&sentence, "  ", WIDTH));
    out
}
