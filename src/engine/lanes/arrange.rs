//! In which order trials form chunks, and how they are cut into pieces of work.

use super::{MOST_LANES, Waiting};
use crate::engine::trial::History;

/// Trials that a batch holds at least, but for the last.
const BATCH: usize = 1000;

/// Trials in the order in which chunks take them: those of a group together, within a group by the length of their
/// outages and the step at which they begin, so that few lanes stand idle. Whole numbers are their places in `trials`.
#[must_use]
pub fn arrange(trials: &[Waiting]) -> Vec<u32> {
    let key = |trial: &Waiting| {
        let ((day, told, _), History { days, first_step, .. }) = (trial.group, trial.history);
        u64::from(day) << 48 | u64::from(told) << 40 | (days as u64) << 16 | first_step as u64
    };
    let mut sorted: Vec<(u64, u32)> = trials.iter().zip(0..).map(|(trial, place)| (key(trial), place)).collect();
    // By one byte of the key after the other, the last first. Most bytes are the same in all trials.
    let mut counts = [[0_usize; 256]; 8];
    for (key, _) in &sorted {
        for (count, byte) in counts.iter_mut().zip(key.to_le_bytes()) {
            count[usize::from(byte)] += 1;
        }
    }
    let mut before = sorted.clone();
    for (k, count) in counts.iter_mut().enumerate().filter(|(_, count)| !count.contains(&trials.len())) {
        let mut sum = 0;
        for count in count.iter_mut() {
            sum += std::mem::replace(count, sum);
        }
        std::mem::swap(&mut before, &mut sorted);
        for of in &before {
            let place = &mut count[usize::from(of.0.to_le_bytes()[k])];
            sorted[*place] = *of;
            *place += 1;
        }
    }
    sorted.into_iter().map(|(_, place)| place).collect()
}

/// Cuts trials in their order into batches that can be run apart and come to the same as together.
#[must_use]
pub fn batches<'a>(trials: &[Waiting], order: &'a [u32]) -> Vec<&'a [u32]> {
    let group = |k: u32| trials[k as usize].group;
    let (mut cuts, mut begin, mut at) = (Vec::new(), 0, 0);
    for same in order.chunk_by(|a, b| group(*a) == group(*b)) {
        for chunk in same.chunks(MOST_LANES) {
            at += chunk.len();
            if at - begin >= BATCH {
                cuts.push(&order[begin..at]);
                begin = at;
            }
        }
    }
    if begin < at {
        cuts.push(&order[begin..at]);
    }
    cuts
}

#[cfg(test)]
mod tests;
