//! A rare failure in words.

use super::outage::{WIDTH, wrap};
use super::words::thousands;
use crate::trials::rare::Rare;

/// Failures of how many outages, so that the figure is at least about one: "1.3 of 10,000".
fn of(p: f64) -> u64 {
    let mut of = 100;
    while p * (of as f64) < 1.0 && of < 1_000_000_000 {
        of *= 10;
    }
    of
}

/// The section that `run --rare` adds.
#[must_use]
pub fn text(rare: Option<&Rare>) -> String {
    let mut out = String::from("\nHow rare a failure is\n");
    let sentence = match rare {
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
