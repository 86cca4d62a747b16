//! What loads with a state of their own ask for and miss, by hand.

use super::*;
use crate::engine::tests::{load, same, scenario};

fn asks(more: &str) -> (Asks, f64) {
    let load = scenario(&load("box", "ac", more)).loads.remove(0);
    (Asks::of(&load, 24).expect("a state of its own"), load.watts.value.0)
}

/// A motor is at P watts or at none, so that its mean square is P times its mean: the variance is mean (P - mean).
#[test]
fn a_nominal_day_varies_as_what_is_on_or_off() {
    for more in ["like = \"fridge, 200 litres\"", "watts = \"30 W\"\nenergy_a_day = \"60 Wh\"\nholds = \"50 Wh\""] {
        let (asks, watts) = asks(more);
        let day = asks.nominal_day(watts, 24, 18.0);
        let mut within = 0;
        for at in 0..24 {
            let mean_w = day.watts[at];
            assert!((0.0..=watts).contains(&mean_w), "{more}: {mean_w}");
            same(day.variance_w2[at], mean_w * (watts - mean_w));
            within += u32::from(0.01 * watts < mean_w && mean_w < 0.99 * watts);
        }
        assert!(within > 0 && watts > 5.0, "{more}: on or off throughout");
        assert_eq!(day.wants, [1.0; 24]);
    }
}

/// A device that is plugged in all day asks for its day's use and what its charger loses.
#[test]
fn a_nominal_day_of_a_device_is_its_use() {
    let (asks, watts) = asks("watts = \"30 W\"\nenergy_a_day = \"60 Wh\"\nholds = \"50 Wh\"");
    let Asks::Charge(plan) = &asks else { panic!("{asks:?}") };
    let day_wh: f64 = asks.nominal_day(watts, 24, 18.0).watts.iter().sum();
    same(day_wh, 60.0 / plan.efficiency);
    assert!(asks.counts_energy());
}

#[test]
fn a_share_of_the_time_is_that_share_of_watts_and_hours() {
    let plan = LoadPlan::new(&scenario(&load("motor", "ac", "watts = \"200 W\"")).loads[0], 24, 5.0);
    let (mean_w, variance_w2) = plan.while_running(0.3);
    same(mean_w, 60.0);
    same(variance_w2, 200.0 * 200.0 * 0.21);
    // With power for 0.7 of an hour in which it asks for 50 Wh in 0.8 of the time.
    let settled = Settled::with_power(50.0, 0.7, 0.8);
    same(settled.unserved_wh, 15.0);
    same(settled.off_h, 0.24);
    assert!(!settled.food_lost);
}
