//! What loads ask for and are given, by hand.

use super::*;
use crate::engine::lanes::asking::Askers;
use crate::engine::tests::{load, plan, same};

/// A motor of 200 W on for 30 % of the time: 60 W, and 200² × 0.3 × 0.7 W² about it. On days with a factor of 1.5 and of a half, and
/// in steps that the station feeds for a half, the watts of that half.
#[test]
fn what_is_known_of_a_load_goes_by_the_days_factor_and_the_part_that_is_fed() {
    let all_days = plan(&load("motor", "ac", "watts = \"200 W\"\nduty = \"30 %\""));
    let factor = [9.0, 9.0, 1.5, 0.5];
    let (mean_w, variance_w2) = Wants::<4>::known::<2>(&all_days.loads[0], (1, 7, 0.5), (&[0; 4], &factor));
    [(mean_w[0], 180.0), (mean_w[1], 60.0)].iter().for_each(|(a, b)| same(*a, *b));
    [(variance_w2[0], 8_400.0 * 2.25), (variance_w2[1], 8_400.0 * 0.25)].iter().for_each(|(a, b)| same(*a, *b));
    // At weekends alone: Monday has nothing, Sunday all of it.
    let weekends = plan(&load("motor", "ac", "watts = \"200 W\"\nduty = \"30 %\"\ndays = \"weekends\""));
    let (mean_w, variance_w2) = Wants::<4>::known::<2>(&weekends.loads[0], (1, 7, 1.0), (&[5, 5, 0, 6], &factor));
    assert_eq!((mean_w[0], variance_w2[0]), (0.0, 0.0));
    same(mean_w[1], 30.0);
    same(variance_w2[1], 2_100.0);
}

/// The station feeds half of a step and serves a fifth of what is asked in it, or nothing by rule: the mains has given the other half.
#[test]
fn what_the_station_does_not_feed_the_mains_has_given() {
    let plan = plan(&(load("box", "ac", "like = \"fridge, 200 litres\"") + &load("phone", "dc", "watts = \"5 W\"")));
    assert!(plan.any_asks);
    let mut wants = Wants::<4>::default();
    wants.begin(
        &plan,
        &[plan.kit.best_estimate(), plan.kit.best_estimate(), plan.kit.best_estimate(), plan.kit.best_estimate()],
    );
    wants.off[0][3] = u64::MAX;
    let mut share = [[[0.9; 2]; OUTLETS]; CLASSES];
    share[0][0] = [0.2, 0.4];
    share[0][1] = [0.7, 0.8];
    let given = |fed: f64, takes: [u64; 2]| {
        let mut askers = Askers::<4>::default();
        askers.begin(&plan, &mut [Vec::new(), Vec::new()], &[0; 4]);
        askers.give::<2>(&plan, (1, fed), &takes, &share, &wants);
        askers.given().to_vec()
    };
    let all = [u64::MAX; 2];
    for (told, by_hand) in [
        (given(0.5, all), [[1.0, 1.0, 0.6, 0.5], [1.0, 1.0, 0.85, 0.9]]),
        (given(0.25, all), [[1.0, 1.0, 0.8, 0.75], [1.0, 1.0, 0.925, 0.95]]),
        (given(1.0, all), [[1.0, 1.0, 0.2, 0.0], [1.0, 1.0, 0.7, 0.8]]),
        (given(0.5, [u64::MAX, 0]), [[1.0, 1.0, 0.6, 1.0], [1.0, 1.0, 0.85, 1.0]]),
    ] {
        told.as_flattened().iter().zip(by_hand.as_flattened()).for_each(|(a, b)| same(*a, *b));
    }
}
