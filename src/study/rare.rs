//! How rare is a rare failure?

use crate::engine::lanes::{Ended, Manner, Sink, Waiting};
use crate::engine::trial::ClimateZ;
use crate::engine::{Plan, TrialSeed};
use crate::trials::rare::{Effort, Leaning, Rare, Trial, rare};
use crate::trials::run::{Progress, side_by_side};
use crate::trials::tally::Tally;
use crate::trials::unknowns::ENOUGH;
use crate::trials::{Settings, run};
use crate::weather::bend::NUMBERS;
use crate::weather::{Lean, Leaned, MOST_LEANING_DAYS};

/// Share of plain trials that fail from which on a failure is not rare.
const NOT_RARE: f64 = 0.05;

/// With fewer failures than this counted, a run looks closer by itself.
const FEW_FAILURES: u64 = 20;

/// Steps of plain trials that are spent where fewer were asked for: some tenths of a second of one core.
const PLAIN_STEPS: f64 = 5e7;
/// Steps of leaning trials, or of plain ones of replayed records, that are spent, in the final estimate and in each stage of the search.
const LEANING_STEPS: f64 = 6e6;
/// See [`LEANING_STEPS`].
const SEARCH_STEPS: f64 = 4e5;
/// Most and fewest trials of a stage of the search.
const SEARCH_TRIALS: (f64, f64) = (500.0, 5_000.0);
/// Most trials that are spent unasked, plain or leaning, where outages are short.
const MOST_TRIALS: f64 = 2e6;

/// A plan whose weather can lean: the climate, the slow part, and each day's spell and own number.
struct LeaningPlan<'p>(&'p Plan);

/// The slow part, and with it the numbers behind the climate.
const SLOW: usize = NUMBERS;
const COMMON: usize = NUMBERS + 1;

/// Trials by number: margin, and what climate and days were made of.
#[derive(Default)]
struct Heap(Vec<(u64, f64, ClimateZ, Leaned)>);

impl Sink for Heap {
    fn outcome(&mut self, _: usize, ended: &Ended<'_>) {
        let (trial, outcome) = (ended.trial, ended.outcome);
        // A survivor that ended empty is no failure, however low its margin.
        let margin = if outcome.survived { outcome.margin.max(0.0) } else { outcome.margin.min(-f64::MIN_POSITIVE) };
        let leaned = ended.leaned.copied().unwrap_or_default();
        self.0.push((trial.rng.trial, margin, trial.history.climate_z, leaned));
    }
}

impl Leaning for LeaningPlan<'_> {
    fn kinds(&self) -> usize {
        COMMON + 2 * MOST_LEANING_DAYS
    }

    fn draw(&self, seed: u64, trials: &[u64], lean: &[f64]) -> Vec<Trial> {
        let plan = self.0;
        let mut days = Lean { slow: lean[SLOW], ..Lean::default() };
        for (day, pair) in days.days.iter_mut().zip(lean[COMMON..].chunks_exact(2)) {
            *day = (pair[0], pair[1]);
        }
        let climate = std::array::from_fn(|k| lean[k]);
        let waiting = |trial: &u64| Waiting::leaning(&plan.season, TrialSeed { seed, trial: *trial }, &climate);
        let waiting: Vec<Waiting> = trials.iter().map(waiting).collect();
        let manner = Manner { lean: Some(days), ..Manner::default() };
        let pieces = side_by_side(&[(0, plan)], &waiting, &manner, Heap::default);
        let mut heap: Vec<_> = pieces.into_iter().flat_map(|Heap(heap)| heap).collect();
        heap.sort_unstable_by_key(|(trial, ..)| *trial);
        heap.into_iter().map(|(_, margin, climate_z, leaned)| self.trial(margin, &climate_z, &leaned)).collect()
    }

    fn plain_failures(&self, seed: u64, trials: u64, progress: &dyn Progress) -> Option<Vec<u64>> {
        let tally = run(std::slice::from_ref(self.0), &Settings { seed, trials, precision: None }, progress).pop()?;
        let failed = (0..).zip(&tally.survival).filter(|(_, survived)| !**survived).map(|(trial, _)| trial);
        (tally.trials == trials).then(|| failed.collect())
    }
}

impl LeaningPlan<'_> {
    /// A trial by what it was made of.
    fn trial(&self, margin: f64, climate_z: &ClimateZ, leaned: &Leaned) -> Trial {
        let (mut sums, mut counts) = (vec![0.0; self.kinds()], vec![0.0; self.kinds()]);
        let mut put = |kind: usize, z: f64| (sums[kind], counts[kind]) = (z, 1.0);
        // A climate without doubt does not care.
        if self.0.season.climate.draws() {
            climate_z.iter().enumerate().for_each(|(kind, z)| put(kind, *z));
        }
        if leaned.slow.1 {
            put(SLOW, leaned.slow.0);
        }
        for (k, (spell, own, _)) in leaned.days.iter().enumerate().filter(|(_, day)| day.2) {
            put(COMMON + 2 * k, *spell);
            put(COMMON + 2 * k + 1, *own);
        }
        Trial { margin, sums, counts }
    }
}

/// How many trials a plan is worth: as many plain ones as were asked for or more, and more that lean, in less than a second or
/// so. Replayed records do not lean.
fn effort(plan: &Plan, asked: u64) -> Effort {
    let steps = plan.typical_length().0 / plan.season.step_h + 0.5 * plan.season.steps_a_day as f64;
    let trials = |steps_in_all: f64| (steps_in_all / steps).min(MOST_TRIALS);
    let leans = plan.season.weather.leans();
    Effort {
        plain: asked.max(trials(if leans { PLAIN_STEPS } else { LEANING_STEPS }) as u64).max(1),
        leaning: if leans { (asked / 4).max(trials(LEANING_STEPS) as u64) } else { 0 },
        search: trials(SEARCH_STEPS).clamp(SEARCH_TRIALS.0, SEARCH_TRIALS.1) as u64,
    }
}

/// The probability of failing, by plain trials and by others that lean towards dark weather. `None` where the run was stopped.
#[must_use]
pub fn rare_failure(plan: &Plan, settings: &Settings, progress: &dyn Progress) -> Option<Rare> {
    rare(&LeaningPlan(plan), settings.seed, effort(plan, settings.trials), progress)
}

/// What is said of how rare a failure is.
#[derive(Debug, Clone, PartialEq)]
pub struct Rarity {
    /// Failures counted in the plain trials of the run itself.
    pub counted: u64,
    /// Those trials.
    pub of: u64,
    /// The closer look, which counts the same trials and more; `None` where a failure is not rare.
    pub told: Option<Rare>,
}

/// Whether so few failures were counted that a run should look closer by itself.
#[must_use]
pub fn worth_a_look(counted: &Tally) -> bool {
    counted.trials >= ENOUGH && counted.trials - counted.survived < FEW_FAILURES
}

/// Looks closer at a plan whose plain trials are counted already. `None` where the run was stopped.
#[must_use]
pub fn rarity(plan: &Plan, counted: &Tally, seed: u64, progress: &dyn Progress) -> Option<Rarity> {
    let (failed, of) = (counted.trials - counted.survived, counted.trials);
    let rare = failed as f64 <= NOT_RARE * of as f64;
    let settings = Settings { seed, trials: of, precision: None };
    let told = if rare { Some(rare_failure(plan, &settings, progress)?) } else { None };
    Some(Rarity { counted: failed, of, told })
}
