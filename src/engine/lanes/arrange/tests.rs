//! The order of trials, and how it is cut.

use super::*;
use crate::engine::trial::TrialSeed;
use crate::weather::bend::NUMBERS;

fn trial(group: (u32, u32, u32), days: usize, first_step: usize) -> Waiting {
    let history = History {
        first_day: group.0,
        first_step,
        steps: 1,
        days,
        weekday: 0,
        charge_z: 0.0,
        climate_z: [0.0; NUMBERS],
    };
    Waiting { rng: TrialSeed { seed: 1, trial: 0 }, history, key: 0, group }
}

/// As the general sort that keeps the order of equals has it: by day, days told, length and first step.
#[test]
fn trials_stand_in_the_order_of_day_length_and_beginning() {
    let trials: Vec<Waiting> = (0..1_500_u32)
        .map(|k| {
            let mixed = k.wrapping_mul(2_654_435_761) >> 8;
            let (day, told) = (mixed % 365, 3 + mixed / 365 % 5);
            trial((day, told, 0), 1 + (mixed / 2_000 % 400) as usize, (mixed / 7 % 300) as usize)
        })
        .collect();
    let mut sorted: Vec<u32> = (0..1_500).collect();
    sorted.sort_by_key(|k| {
        let Waiting { group, history, .. } = &trials[*k as usize];
        (group.0, group.1, history.days, history.first_step)
    });
    assert_eq!(arrange(&trials), sorted);
    let alike = vec![trial((3, 4, 0), 5, 6); 20];
    assert_eq!(arrange(&alike), (0..20).collect::<Vec<_>>());
    assert!(arrange(&[]).is_empty());
}

/// Batches hold a thousand trials and more, and end where a chunk of the widest does, or its group: apart they are as many chunks as
/// together.
#[test]
fn batches_end_where_chunks_do() {
    let sizes = [1_500, 70, 900, 64, 3];
    let trials: Vec<Waiting> =
        (0_u32..).zip(sizes).flat_map(|(day, size)| std::iter::repeat_n(trial((day, 4, 0), 5, 6), size)).collect();
    let order = arrange(&trials);
    let cut = batches(&trials, &order);
    assert_eq!(cut.concat(), order);
    assert!(cut[..cut.len() - 1].iter().all(|batch| batch.len() >= BATCH && batch.len() < BATCH + MOST_LANES));
    let mut ends = Vec::new();
    for size in sizes {
        let from = ends.last().copied().unwrap_or(0);
        ends.extend((1..=size).filter(|k| k % MOST_LANES == 0 || *k == size).map(|k| from + k));
    }
    let mut end = 0;
    for batch in &cut {
        end += batch.len();
        assert!(ends.contains(&end), "{end}");
    }
    // 16 chunks of 64 are the first to come to a thousand; then eight of the first group, its rest and the second's, and seven and more.
    assert_eq!(cut.iter().map(|batch| batch.len()).collect::<Vec<_>>(), [1_024, 476 + 70 + 512, 388 + 64 + 3]);
    assert!(batches(&trials, &[]).is_empty());
}
