//! Which steps of a day lie within the outages of trials that stand side by side, by hand.

use super::*;
use crate::weather::bend::NUMBERS;

fn trial(trial: u64, first_step: usize, steps: usize) -> Waiting {
    let history =
        History { first_day: 40, first_step, steps, days: 3, weekday: 0, charge_z: 0.0, climate_z: [0.0; NUMBERS] };
    Waiting { rng: TrialSeed { seed: 1, trial }, history, key: 0, group: (40, 4, 0) }
}

/// From five o'clock for 45 hours, from eight for 22, and from six for 25.
#[test]
fn steps_lie_within_any_outage_or_within_all() {
    let trials = [trial(0, 5, 45), trial(1, 8, 22), trial(2, 6, 25)];
    let chunk = Chunk::<4>::new(&trials, &[2, 0, 1]);
    assert_eq!((chunk.count, chunk.first_day, chunk.first, chunk.end), (3, 40, [6, 5, 8, 8], [31, 50, 30, 30]));
    assert_eq!(chunk.rng.map(|rng| rng.trial), [2, 0, 1, 1]);
    assert_eq!((chunk.earliest_first, chunk.latest_first, chunk.earliest_end, chunk.latest_end), (5, 8, 30, 50));
    assert_eq!(chunk.steps(0, 24), (5..24, 8..24));
    assert_eq!(chunk.steps(24, 24), (0..24, 0..6));
    assert_eq!(chunk.steps(48, 24), (0..2, 2..2));
    // Outages of a few hours on one day that have none in common.
    let apart = [trial(0, 2, 3), trial(1, 9, 4)];
    assert_eq!(Chunk::<2>::new(&apart, &[0, 1]).steps(0, 24), (2..13, 13..13));
    // Alone, any is all.
    assert_eq!(Chunk::<1>::new(&apart, &[1]).steps(0, 24), (9..13, 9..13));
}
