//! Trials one by one, which the range of what is not known is read off.

use crate::engine::Plan;
use crate::engine::lanes::{Ended, Manner, Sink};
use crate::study::compare::Pair;
use crate::trials::interval::Interval;
use crate::trials::run::{side_by_side, waiting};
use crate::trials::unknowns::survival_under;

/// Trials of one plan, one by one: when each failed, how clearly it did not, and the numbers behind what is not known.
#[derive(Clone, Default)]
pub(super) struct Histories {
    failed: Vec<Option<u32>>,
    /// When a device that a person's health hangs on first went without.
    device: Vec<Option<u32>>,
    lowest_charge: Vec<f32>,
    unknowns: Vec<f32>,
}

/// A trial of one of several plans, and of it what [`Histories`] keep.
struct Row {
    plan: usize,
    trial: usize,
    failed: Option<u32>,
    device: Option<u32>,
    lowest_charge: f32,
    unknowns: Vec<f32>,
}

/// Trials as they come.
struct Heap<'a> {
    /// Indices of the devices in each plan.
    devices: &'a [Vec<usize>],
    rows: Vec<Row>,
}

impl Sink for Heap<'_> {
    fn outcome(&mut self, plan: usize, ended: &Ended<'_>) {
        let device = self.devices[plan].iter().filter_map(|&k| ended.loads.get(k)?.first_off_step).min();
        self.rows.push(Row {
            plan,
            trial: ended.trial.rng.trial as usize,
            device,
            failed: ended.outcome.failure.map(|(step, _)| step),
            lowest_charge: ended.outcome.lowest_charge as f32,
            unknowns: ended.unknowns.iter().map(|&z| z as f32).collect(),
        });
    }
}

/// The first trials of each plan, one by one.
///
/// * `devices` — streams of the loads that a person's health hangs on.
pub(super) fn histories(plans: &[Plan], devices: &[u64], seed: u64, trials: u64) -> Vec<Histories> {
    let count = trials as usize;
    let empty = Histories {
        failed: vec![None; count],
        device: vec![None; count],
        lowest_charge: vec![0.0; count],
        unknowns: Vec::new(),
    };
    let indices = |plan: &Plan| {
        let loads = plan.loads.iter().enumerate();
        loads.filter(|(_, load)| devices.contains(&load.stream)).map(|(k, _)| k).collect::<Vec<usize>>()
    };
    let of_plan: Vec<Vec<usize>> = plans.iter().map(indices).collect();
    let mut all = vec![empty; plans.len()];
    let Some(season) = plans.first().map(|plan| &plan.season) else { return all };
    let numbered: Vec<(usize, &Plan)> = plans.iter().enumerate().collect();
    let waiting = waiting(season, seed, 0..trials);
    let heap = || Heap { devices: &of_plan, rows: Vec::new() };
    for heap in side_by_side(&numbered, &waiting, &Manner::default(), heap) {
        for Row { plan, trial, failed, device, lowest_charge, unknowns } in heap.rows {
            let kept = &mut all[plan];
            kept.unknowns.resize(count * unknowns.len(), 0.0);
            kept.unknowns[trial * unknowns.len()..][..unknowns.len()].copy_from_slice(&unknowns);
            (kept.failed[trial], kept.lowest_charge[trial]) = (failed, lowest_charge);
            kept.device[trial] = device;
        }
    }
    all
}

/// Whether a trial that ended at a step, or never, lasted so many of them.
fn outlasts(ended: &Option<u32>, steps: u32) -> bool {
    ended.is_none_or(|step| step >= steps)
}

impl Histories {
    /// Share of counted trials that last so long, with the interval of chance, what is not known, and how few
    /// the years of a record are.
    pub(super) fn lasting(&self, plan: &Plan, lasted: u64, trials: u64, steps: u32) -> (f64, Interval) {
        self.told(&self.failed, plan, (lasted, trials), steps)
    }

    /// The same of the devices by themselves, whatever else went without: counted on these trials alone.
    pub(super) fn device_lasting(&self, plan: &Plan, steps: u32) -> (f64, Interval) {
        let counted = (self.device_lasted(steps), self.device.len() as u64);
        self.told(&self.device, plan, counted, steps)
    }

    /// Of these trials, how many the devices lasted so long in.
    pub(super) fn device_lasted(&self, steps: u32) -> u64 {
        self.device.iter().filter(|ended| outlasts(ended, steps)).count() as u64
    }

    /// Of these trials, how many lasted so long.
    pub(super) fn lasted(&self, steps: u32) -> u64 {
        self.failed.iter().filter(|ended| outlasts(ended, steps)).count() as u64
    }

    /// These trials and the same ones of another plan, by which of them lasted so long.
    pub(super) fn against(&self, other: &Histories, steps: u32) -> Pair {
        let both = self.failed.iter().zip(&other.failed);
        let trials = both.len() as u64;
        Pair::of_each(both.map(|(a, b)| (outlasts(a, steps), outlasts(b, steps))), trials)
    }

    fn told(&self, ended: &[Option<u32>], plan: &Plan, (lasted, trials): (u64, u64), steps: u32) -> (f64, Interval) {
        let outcomes: Vec<bool> = ended.iter().map(|ended| outlasts(ended, steps)).collect();
        // The later a trial failed, the more clearly it lasted; one that never failed, by its lowest charge.
        let margins: Vec<f32> = ended
            .iter()
            .zip(&self.lowest_charge)
            .map(|(step, charge)| step.map_or(1e6 + charge, |step| step as f32))
            .collect();
        let told = survival_under(plan, lasted, trials, &margins, &outcomes, &self.unknowns);
        (told.probability, told.interval)
    }
}
