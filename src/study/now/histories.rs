//! Trials one by one, which the range of what is not known is read off.

use crate::engine::Plan;
use crate::engine::lanes::{Ended, Manner, Sink};
use crate::trials::interval::Interval;
use crate::trials::run::{side_by_side, waiting};
use crate::trials::unknowns::survival_under;

/// Trials of one plan, one by one: when each failed, how clearly it did not, and the numbers behind what is not known.
#[derive(Clone, Default)]
pub(super) struct Histories {
    failed: Vec<Option<u32>>,
    lowest_charge: Vec<f32>,
    unknowns: Vec<f32>,
}

/// A trial of one of several plans, and of it what [`Histories`] keep.
struct Row {
    plan: usize,
    trial: usize,
    failed: Option<u32>,
    lowest_charge: f32,
    unknowns: Vec<f32>,
}

/// Trials as they come.
#[derive(Default)]
struct Heap(Vec<Row>);

impl Sink for Heap {
    fn outcome(&mut self, plan: usize, ended: &Ended<'_>) {
        self.0.push(Row {
            plan,
            trial: ended.trial.rng.trial as usize,
            failed: ended.outcome.failure.map(|(step, _)| step),
            lowest_charge: ended.outcome.lowest_charge as f32,
            unknowns: ended.unknowns.iter().map(|&z| z as f32).collect(),
        });
    }
}

/// The first trials of each plan, one by one.
pub(super) fn histories(plans: &[Plan], seed: u64, trials: u64) -> Vec<Histories> {
    let count = trials as usize;
    let empty = Histories { failed: vec![None; count], lowest_charge: vec![0.0; count], unknowns: Vec::new() };
    let mut all = vec![empty; plans.len()];
    let Some(season) = plans.first().map(|plan| &plan.season) else { return all };
    let numbered: Vec<(usize, &Plan)> = plans.iter().enumerate().collect();
    let waiting = waiting(season, seed, 0..trials);
    for Heap(heap) in side_by_side(&numbered, &waiting, &Manner::default(), Heap::default) {
        for Row { plan, trial, failed, lowest_charge, unknowns } in heap {
            let kept = &mut all[plan];
            kept.unknowns.resize(count * unknowns.len(), 0.0);
            kept.unknowns[trial * unknowns.len()..][..unknowns.len()].copy_from_slice(&unknowns);
            (kept.failed[trial], kept.lowest_charge[trial]) = (failed, lowest_charge);
        }
    }
    all
}

impl Histories {
    /// Share of counted trials that last so long, with the interval of chance, what is not known, and how few
    /// the years of a record are.
    pub(super) fn lasting(&self, plan: &Plan, lasted: u64, trials: u64, steps: u32) -> (f64, Interval) {
        let outcomes: Vec<bool> = self.failed.iter().map(|failed| failed.is_none_or(|step| step >= steps)).collect();
        // The later a trial failed, the more clearly it lasted; one that never failed, by its lowest charge.
        let margins: Vec<f32> = self
            .failed
            .iter()
            .zip(&self.lowest_charge)
            .map(|(failed, charge)| failed.map_or(1e6 + charge, |step| step as f32))
            .collect();
        let told = survival_under(plan, lasted, trials, &margins, &outcomes, &self.unknowns);
        (told.probability, told.interval)
    }
}
