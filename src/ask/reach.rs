//! How much work a question may ask for: stated limits instead of a machine without memory.

use super::Trouble;
use crate::open::Opened;
use crate::report::words::thousands;
use crate::trials::Settings;

/// Most trials of a run: chance then leaves 0.04 points on either side of a half.
pub const MOST_TRIALS: u64 = 5_000_000;

/// Most trials of all variants together: what is kept of each fills some fifty bytes.
const MOST_KEPT: u64 = 20_000_000;

/// Most steps of all trials of one variant: about an hour's work.
const MOST_STEPS: f64 = 2e10;

/// A number of trials that a run may have.
///
/// # Errors
/// The end of a sentence that begins with the number.
pub fn trials(trials: u64) -> Result<u64, String> {
    let allowed = (1..=MOST_TRIALS).contains(&trials).then_some(trials);
    allowed
        .ok_or_else(|| format!("allowed is a whole number from 1 to {}, like 10000 or 10,000", thousands(MOST_TRIALS)))
}

/// Refuses more trials than this outage in so many variants leaves time and memory for.
///
/// # Errors
/// How many there may be.
pub fn within_reach(opened: &Opened, variants: usize, settings: &Settings) -> Result<(), Trouble> {
    let steps = (opened.scenario.outage.lasts.nineteen_of_twenty().0 / opened.plan.season.step_h).max(1.0);
    let by_steps = (MOST_STEPS / steps) as u64;
    let by_memory = MOST_KEPT / variants.max(1) as u64;
    let most = by_steps.min(by_memory);
    if settings.trials <= most {
        return Ok(());
    }
    let why = if by_steps <= by_memory {
        format!("for outages of {} steps", thousands(steps.ceil() as u64))
    } else {
        format!("for {} variants", thousands(variants as u64))
    };
    let what = format!(" is {}; allowed {why}: at most {}", thousands(settings.trials), thousands(most));
    Err(Trouble::Option { option: "trials", what })
}
