//! The answer of `run --advise`.

use super::outage::{WIDTH, wrap};
use super::words::{percent, points, survival, thousands};
use crate::engine::Plan;
use crate::study::advise::Advice;

/// The rule as text, with lines to paste into the scenario.
#[must_use]
pub fn text(plan: &Plan, advice: &Advice) -> String {
    let pair = &advice.pair;
    let told = format!(
        "{} points against the rules as they are ({} to {})",
        points(pair.difference),
        points(pair.interval.low),
        points(pair.interval.high)
    );
    let mut out = String::from("\nWhen to switch off what\n");
    if pair.interval.low <= 0.0 {
        let needed = pair.trials_needed().filter(|_| pair.difference > 0.0);
        out.push_str(&wrap(
            &format!(
                "No rule that helps was found: the best of those tried makes no difference for the better that {} fresh \
                 outages can tell ({} points, {} to {}).{} Keep the rules as they are.",
                thousands(pair.trials),
                points(pair.difference),
                points(pair.interval.low),
                points(pair.interval.high),
                needed.map_or(String::new(), |n| format!(" About {} trials might.", thousands(n)))
            ),
            "  ",
            WIDTH,
        ));
        return out;
    }
    out.push_str(&wrap(
        &format!(
            "On {} fresh outages the vital loads ride through {} with the rule below: {told}. The other loads get {} of what \
             they ask for; before it was {}.",
            thousands(pair.trials),
            survival(&advice.survival),
            percent(advice.comfort.1.min(if advice.comfort.1 < 1.0 { 0.999 } else { 1.0 })),
            percent(advice.comfort.0.min(if advice.comfort.0 < 1.0 { 0.999 } else { 1.0 })),
        ),
        "  ",
        WIDTH,
    ));
    out.push_str("  To paste into the scenario, under each [[load]]:\n");
    for (load, off_below) in plan.loads.iter().zip(&advice.off_below).filter(|(load, _)| load.class > 0) {
        let line = match off_below {
            Some(t) if *t > 1.0 => "leave it off for as long as the outage lasts".to_string(),
            Some(t) => format!("off_below = \"{:.0} %\"", t * 100.0),
            None => "no off_below: switching it off earlier saves nothing vital".to_string(),
        };
        out.push_str(&format!("    {:<20} {line}\n", load.name));
    }
    out
}
