//! Sums over trials worked out by hand.

use super::*;
use crate::loads::cooler::Food;

/// Half-hour steps from two in the afternoon.
const CLOCK: Clock = Clock { first: 28, steps: 100, step_h: 0.5, steps_a_day: 48 };

fn load(off_h: f64, first_off_step: Option<u32>) -> LoadOutcome {
    LoadOutcome {
        asked_wh: 10.0 + off_h,
        unserved_wh: 2.0 * off_h,
        by_rule_wh: 0.5 * off_h,
        off_h,
        first_off_step,
        food: [None, Some(Food { warmest_c: -18.2 + off_h, lost_step: [first_off_step, None] })],
    }
}

/// Trial 0 fails at step 22 (an hour past midnight) by its second load, trial 1 survives, trial 2 fails at step 4 (four in the
/// afternoon).
fn trial(k: usize) -> (Outcome, [LoadOutcome; 2]) {
    let outcome = Outcome {
        survived: k == 1,
        failure: [Some((22, 1)), None, Some((4, 0))][k],
        vital_missed_wh: [30.0, 0.0, 7.0][k],
        unserved_wh: [40.0, 1.0, 8.0][k],
        lowest_charge: [0.0, 0.236, 0.114][k],
        margin: [-0.03, 0.236, -0.007][k],
        days_missed: [3, 0, 1][k],
        worst_week_wh: [30.0, 0.0, 6.0][k],
        burnt_l: [1.5, 0.25, 0.0][k],
        direct_wh: [100.0, 20.0, 3.0][k],
        ..Outcome::default()
    };
    let second = [load(48.5, Some(20)), load(0.0, None), load(24.0, Some(4))][k];
    (outcome, [load([4.0, 4.5, 0.0][k], [Some(3), Some(90), None][k]), second])
}

/// The trials given in their order.
fn of(trials: &[usize]) -> Tally {
    let mut tally = Tally::default();
    for &k in trials {
        let (outcome, loads) = trial(k);
        tally.add(k as u64, &outcome, CLOCK, &loads, &[k as f64, -0.5]);
        tally.fan.add(0, [k as u32, 50].into_iter());
    }
    tally
}

#[test]
fn three_trials_add_up_to_what_they_are() {
    let tally = of(&[0, 1, 2]);
    assert_eq!((tally.trials, tally.survived, tally.hours), (3, 1, 150.0));
    assert!((tally.survival_share() - 1.0 / 3.0).abs() < 1e-15);
    assert_eq!(tally.survival, [false, true, false]);
    assert_eq!(tally.margin, [-0.03, 0.236, -0.007]);
    assert_eq!(tally.failed_at, [22, NEVER, 4]);
    // Which loads went without: both, the first, the second.
    assert_eq!(tally.off, [0b11, 0b01, 0b10]);
    assert_eq!((tally.missed_sum_wh, tally.vital_missed_wh), (49.0, 37.0));
    assert_eq!(tally.unknowns, [0.0, -0.5, 1.0, -0.5, 2.0, -0.5]);
    // 0, 24 and 11 hundredths, to the nearest.
    let lowest: Vec<usize> =
        tally.lowest_charge.iter().enumerate().filter(|(_, n)| **n == 1).map(|(at, _)| at).collect();
    assert_eq!(lowest, [0, 11, 24]);
    // Fifty hours are three days begun; a trial's days without: 3, 0 and 1, squared 9, 0 and 1.
    let cuts = CutTally {
        days: 9.0,
        days_missed: 4.0,
        days_missed_squared: 10.0,
        worst_week_wh: 36.0,
        burnt_l: 1.75,
        direct_wh: 123.0,
    };
    assert_eq!(tally.cuts, cuts);
    let failures: Vec<usize> = (0..24).filter(|&hour| tally.failure_hour[hour] > 0).collect();
    assert_eq!((failures, tally.failure_step[4], tally.failure_step[22]), (vec![1, 16], 1, 1));
    assert_eq!(tally.failure_step.iter().sum::<u32>(), 2);
    // A whole number of days begins no other.
    let mut whole = Tally::default();
    whole.add(0, &trial(0).0, Clock { steps: 96, ..CLOCK }, &[], &[]);
    assert_eq!(whole.cuts.days, 2.0);
}

/// USDA FSIS: without power a closed fridge keeps food for 4 hours, a half-full freezer for 24, a full one for 48. Whoever goes without
/// for just that long has kept it.
#[test]
fn loads_add_up_to_what_they_missed() {
    let tally = of(&[0, 1, 2]);
    let [first, second] = &tally.loads[..] else { panic!("two loads") };
    assert_eq!(KEEPS_H, [4.0, 24.0, 48.0]);
    assert_eq!((first.off_over, second.off_over), ([1, 0, 0], [2, 1, 1]));
    assert_eq!((first.trials_off, second.trials_off), (2, 2));
    assert_eq!((first.asked_wh, first.unserved_wh, first.by_rule_wh, first.off_h), (38.5, 17.0, 4.25, 8.5));
    assert_eq!((first.failed_first, second.failed_first), (1, 1));
    // Of equals the first.
    assert_eq!(tally.fails_first().map(|(k, _)| k), Some(0));
    assert_eq!(of(&[0]).fails_first().map(|(k, _)| k), Some(1));
    assert_eq!(of(&[1]).fails_first(), None);
    // Of two trials the first is a quarter and a half, the second three quarters.
    assert_eq!(first.first_off_quarters(), Some([3, 3, 90]));
    assert_eq!(of(&[2]).loads[0].first_off_quarters(), None);
    // Food of -18.2 °C and 48.5, 0 and 24 K more: to the next half kelvin above.
    let food = second.food[1].as_ref().expect("a freezer");
    assert_eq!([0.0, 0.3, 0.5, 1.0].map(|p| food.warmest_c(p)), [-18.0, -18.0, 6.0, 30.5]);
    assert_eq!((food.trials_lost(0), food.trials_lost(1), food.lost[0][20]), (2, 0, 1));
    assert!(second.food[0].is_none());
    assert!(FoodTally::default().warmest_c(0.5).is_nan());
    // Missed energy of half of the trials: 1, 8, 40.
    assert_eq!([0.3, 0.5, 1.0].map(|p| tally.unserved_quantile_wh(p)), [1.0, 8.0, 40.0]);
}

/// Parts that hold the trials of a stretch in any order come to what the trials come to one after the other.
#[test]
fn gathered_parts_are_the_trials_in_their_order() {
    let alone = Tally { order: Vec::new(), ..of(&[0, 1, 2]) };
    for parts in [vec![vec![0, 1, 2]], vec![vec![2, 0], vec![1]], vec![vec![1], vec![], vec![2, 0]]] {
        let gathered = Tally::gather(parts.iter().map(|part| of(part)), 0..3, 2);
        assert_eq!(gathered, alone, "{parts:?}");
    }
    // A later stretch is counted from its own beginning, and then added to the one before.
    let mut sum = Tally::gather([of(&[0])].into_iter(), 0..1, 2);
    sum.merge(&Tally::gather([of(&[2]), of(&[1])].into_iter(), 1..3, 2));
    assert_eq!(sum, alone);
}

/// Of eight: the smallest index that a share stays at or below.
#[test]
fn quantiles_of_counts_are_reached_by_so_many() {
    let counts = [0, 2, 0, 5, 1, 0];
    let at = |p: f64| count_quantile(&counts, p);
    assert_eq!([0.0, 0.25, 0.26, 0.875, 0.88, 1.0].map(at), [1, 1, 3, 3, 4, 4].map(Some));
    assert_eq!((count_quantile(&[], 0.5), count_quantile(&[0, 0], 0.5)), (None, None));
}

/// By hand: forty trials begin, two of them (a twentieth) are there after the third step, one after the fourth.
#[test]
fn a_fan_ends_where_less_than_a_twentieth_of_the_trials_are_left() {
    let mut fan = ChargeFan::default();
    for k in 0..38 {
        fan.add(0, [k, 100].into_iter());
    }
    let mut other = ChargeFan::default();
    other.add(0, [99, 7, 10].into_iter());
    other.add(0, [98].into_iter());
    other.add(1, [8, 20, 30].into_iter());
    let mut turned = other.clone();
    turned.merge(&fan);
    fan.merge(&other);
    assert_eq!(fan, turned);
    assert_eq!((fan.steps(), fan.steps_with_a_twentieth()), (4, 3));
    assert_eq!([0, 1, 2, 3, 4].map(|step| fan.trials_at(step)), [40, 40, 2, 1, 0]);
    assert_eq!([0.0, 0.5, 1.0].map(|p| fan.quantile(2, p)), [Some(0.1), Some(0.1), Some(0.2)]);
    assert_eq!((fan.quantile(1, 0.05), fan.quantile(1, 0.06), fan.quantile(4, 0.5)), (Some(0.08), Some(1.0), None));
    assert_eq!((fan.quantile(0, 0.5), fan.quantile(0, 1.0)), (Some(0.19), Some(0.99)));
}
