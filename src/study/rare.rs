//! How rare is a rare failure?

use crate::engine::{Luck, Plan, Silent, Workspace};
use crate::trials::Settings;
use crate::trials::rare::{Leaning, Rare, rare};
use crate::trials::run::Progress;
use crate::weather::bend::NUMBERS;
use crate::weather::{Lean, MOST_LEANING_DAYS};

/// A plan whose weather can lean: the climate, the slow part, and each day's spell and own number.
struct LeaningPlan<'p>(&'p Plan);

/// The slow part, and with it the numbers behind the climate.
const SLOW: usize = NUMBERS;
const COMMON: usize = NUMBERS + 1;

impl Leaning for LeaningPlan<'_> {
    fn kinds(&self) -> usize {
        COMMON + 2 * MOST_LEANING_DAYS
    }

    fn draw(&self, seed: u64, trial: u64, lean: &[f64], sums: &mut [f64], counts: &mut [f64]) -> f64 {
        let plan = self.0;
        let luck = Luck { seed, trial };
        let mut workspace = Workspace::new();
        let mut days = Lean { slow: lean[SLOW], ..Lean::default() };
        for (day, pair) in days.days.iter_mut().zip(lean[COMMON..].chunks_exact(2)) {
            *day = (pair[0], pair[1]);
        }
        let climate = std::array::from_fn(|k| lean[k]);
        let history = workspace.begin_leaning(&plan.season, luck, &climate, days);
        let leaned = workspace.weather().leaned;
        if plan.season.climate.draws() {
            for (k, z) in history.climate_z.into_iter().enumerate() {
                (sums[k], counts[k]) = (z, 1.0);
            }
        }
        if leaned.slow.1 {
            (sums[SLOW], counts[SLOW]) = (leaned.slow.0, 1.0);
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
