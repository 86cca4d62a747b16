//! How rare is a rare failure?

use crate::engine::{Luck, Plan, Silent, Workspace};
use crate::trials::Settings;
use crate::trials::rare::{Leaning, Rare, rare};
use crate::trials::run::Progress;
use crate::weather::{Lean, MOST_LEANING_DAYS};

/// A plan whose weather can lean: the climate's error, the slow part, and each day's spell and own number.
struct LeaningPlan<'p>(&'p Plan);

/// The climate's error and the slow part.
const COMMON: usize = 2;

impl Leaning for LeaningPlan<'_> {
    fn kinds(&self) -> usize {
        COMMON + 2 * MOST_LEANING_DAYS
    }

    fn draw(&self, seed: u64, trial: u64, lean: &[f64], sums: &mut [f64], counts: &mut [f64]) -> f64 {
        let plan = self.0;
        let luck = Luck { seed, trial };
        let mut workspace = Workspace::new();
        let mut days = Lean { slow: lean[1], ..Lean::default() };
        for (day, pair) in days.days.iter_mut().zip(lean[COMMON..].chunks_exact(2)) {
            *day = (pair[0], pair[1]);
        }
        let history = workspace.begin_leaning(&plan.season, luck, lean[0], days);
        let leaned = workspace.weather().leaned;
        (sums[0], counts[0]) = (history.climate_z, 1.0);
        if leaned.slow.1 {
            (sums[1], counts[1]) = (leaned.slow.0, 1.0);
        }
        for (k, (spell, own, _)) in leaned.days.iter().enumerate().filter(|(_, day)| day.2) {
            (sums[COMMON + 2 * k], counts[COMMON + 2 * k]) = (*spell, 1.0);
            (sums[COMMON + 2 * k + 1], counts[COMMON + 2 * k + 1]) = (*own, 1.0);
        }
        let outcome = workspace.run(plan, luck, &history, &mut Silent);
        // A survivor that ended empty is no failure, however low its margin.
        if outcome.survived { outcome.margin.max(0.0) } else { outcome.margin.min(-f64::MIN_POSITIVE) }
    }
}

/// The probability of failing, by trials that lean towards dark weather. `None` where even those hardly fail, or where the
/// run was stopped.
#[must_use]
pub fn rare_failure(plan: &Plan, settings: &Settings, progress: &impl Progress) -> Option<Rare> {
    rare(&LeaningPlan(plan), settings.seed, settings.trials, progress)
}
