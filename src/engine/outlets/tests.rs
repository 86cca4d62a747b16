//! What is served, and what that takes, by hand.

use super::*;
use crate::engine::tests::same;

fn outlets(rig: &Rig) -> Outlets<1> {
    let mut outlets = Outlets::default();
    outlets.set(std::slice::from_ref(rig));
    outlets
}

/// Converters of which no two figures are alike.
fn lossy() -> Rig {
    let mut rig = Rig { own_draw_w: 3.0, outlet_limit_w: [100.0, 50.0, 20.0], ..Rig::ideal(1.0, 0.0) };
    rig.inverter = LossCurve { idle_w: 10.0, linear: 0.1, quadratic_per_w: 0.001, step_w: 4.0, step_per_w: 0.01 };
    rig.converter[1] = LossCurve { idle_w: 2.0, linear: 0.25, ..LossCurve::IDEAL };
    rig.converter[2] = LossCurve { idle_w: 1.0, linear: 0.2, ..LossCurve::IDEAL };
    rig
}

/// So many watts of each class at one outlet.
fn asks(outlet: usize, watts: [f64; CLASSES]) -> Wanted<1> {
    let mut wanted = Wanted::default();
    for (class, watts) in watts.into_iter().enumerate() {
        wanted.watts[class][outlet] = [watts];
        wanted.plugged[class][outlet] = [flag(watts > 0.0)];
    }
    wanted
}

/// So much energy in the cells, as a mean over the step, the most that they give at a time, and what sun and wall give \[W\].
fn available(energy_w: f64, gives_w: f64, flow_w: f64) -> Available<1> {
    let most_w = less(energy_w, gives_w) + flow_w;
    Available { most_w: [most_w], energy_w: [energy_w], gives_w: [gives_w], flow_w: [flow_w], ..Available::none() }
}

#[track_caller]
fn shares(served: &Served<1>, outlet: usize, by_hand: [f64; CLASSES]) {
    served.share.iter().zip(by_hand).for_each(|(share, by_hand)| same(share[outlet][0], by_hand));
}

/// 40 and 20 W on AC of 10 W idle, a tenth, a thousandth of the mean square, whose variance is 300 W², and of the step three fifths; 8 W
/// on DC.
#[test]
fn everything_takes_what_is_delivered_and_lost() {
    let mut wanted = asks(0, [40.0, 20.0, 0.0]);
    (wanted.variance_w2[0], wanted.variance_w2[1]) = ([100.0], [200.0]);
    (wanted.watts[2][1], wanted.plugged[2][1]) = ([8.0], [u64::MAX]);
    let ac_w = 10.0 + 6.0 + 0.001 * (3_600.0 + 300.0) + 4.0 * 0.6;
    let dc_w = 2.0 + 2.0;
    let outlets = outlets(&lossy());
    same(outlets.bus_w(&wanted)[0], 3.0 + 60.0 + ac_w + 8.0 + dc_w);
    let served = outlets.serve(&available(1e6, 1e6, 0.0), &mut wanted.clone());
    assert!(served.all[0] != 0);
    same(served.delivered_w[0][0], 60.0);
    same(served.lost_w[0][0], ac_w);
    same(served.lost_w[1][0], dc_w);
    assert_eq!(served.lost_w[2][0], 0.0);
    same(served.own_w[0], 3.0);
    same(served.electronics_w(0), 3.0 + ac_w + dc_w);
    // What is plugged in keeps its converter on though it draws nothing, but an inverter that sleeps.
    let mut idle = asks(0, [0.0; 3]);
    idle.plugged[1][0] = [u64::MAX];
    same(outlets.bus_w(&idle)[0], 13.0);
    let sleeping = self::outlets(&Rig { inverter_sleeps: true, ..lossy() });
    same(sleeping.bus_w(&idle)[0], 3.0);
    same(sleeping.bus_w(&wanted)[0], outlets.bus_w(&wanted)[0]);
    // Beyond an outlet's limit no power is enough.
    let (mut lost_w, mut bus_w) = ([0.0], [5.0]);
    outlets.convert(1, (&[50.0], &[0.0]), &mut lost_w, &mut bus_w);
    same(lost_w[0], 14.5);
    same(bus_w[0], 5.0 + 64.5);
    outlets.convert(1, (&[50.1], &[0.0]), &mut lost_w, &mut bus_w);
    assert_eq!(bus_w[0], f64::INFINITY);
}

/// 60, 50 and 20 W at an outlet of 100 W: what matters most has all, the next four fifths, the last nothing.
#[test]
fn an_outlets_limit_cuts_spare_loads_first() {
    let mut wanted = asks(0, [60.0, 50.0, 20.0]);
    wanted.variance_w2 = [[10.0], [20.0], [30.0]];
    let served = outlets(&lossy()).serve(&available(1e6, 1e6, 0.0), &mut wanted);
    shares(&served, 0, [1.0, 0.8, 0.0]);
    assert_eq!(served.all[0], 0);
    same(served.delivered_w[0][0], 100.0);
    // A variance goes with its load.
    same(served.lost_w[0][0], 10.0 + 10.0 + 0.001 * (10_000.0 + 10.0 + 16.0) + 4.0);
    // At its limit nothing is cut, and DC loads leave the AC loads' variance alone.
    let mut at_limit = asks(0, [60.0, 40.0, 0.0]);
    assert!(outlets(&lossy()).serve(&available(1e6, 1e6, 0.0), &mut at_limit).all[0] != 0);
    let mut dc = asks(1, [30.0, 40.0, 0.0]);
    dc.variance_w2[1] = [20.0];
    (dc.watts[1][0], dc.plugged[1][0]) = ([10.0], [u64::MAX]);
    let served = outlets(&lossy()).serve(&available(1e6, 1e6, 0.0), &mut dc);
    shares(&served, 1, [1.0, 0.5, 1.0]);
    same(served.lost_w[0][0], 10.0 + 1.0 + 0.001 * (100.0 + 20.0) + 0.4);
}

/// 40, 30 and 30 W without losses. With 55 W the first has all, the second half of the time, the third none; with cells that could give 60
/// of 80 W beside 20 W of sun, but last a third of the step: 70 and a third of the last 30 W until then, half of the first 40 W after.
#[test]
fn what_there_is_goes_to_what_matters_most() {
    let ideal = outlets(&Rig::ideal(1.0, 0.0));
    let served = ideal.serve(&available(0.0, 0.0, 55.0), &mut asks(1, [40.0, 30.0, 30.0]));
    shares(&served, 1, [1.0, 0.5, 0.0]);
    same(served.bus_w[0], 55.0);
    same(served.delivered_w[1][0], 55.0);
    let served = ideal.serve(&available(20.0, 60.0, 20.0), &mut asks(1, [40.0, 30.0, 30.0]));
    shares(&served, 1, [2.0 / 3.0, 1.0 / 3.0, 1.0 / 9.0]);
    // Cells and sun give all that they have: 20 W each, as means over the step.
    same(served.bus_w[0], 40.0);
    same(served.delivered_w[1][0], 40.0);
    assert_eq!(served.all[0], 0);
    // Cells that last the step but give too little at a time.
    let served = ideal.serve(&available(500.0, 52.0, 0.0), &mut asks(1, [40.0, 30.0, 30.0]));
    shares(&served, 1, [1.0, 0.4, 0.0]);
    // Just enough is enough.
    assert!(ideal.serve(&available(0.0, 0.0, 100.0), &mut asks(1, [40.0, 30.0, 30.0])).all[0] != 0);
}

/// A station that takes 3 W for itself, and a converter 2 W and a quarter of what it gives.
#[test]
fn losses_are_paid_for_the_time_that_loads_run() {
    // The first takes 3 + 20 + 7 = 30 W: with 21 W it runs, and the station with it, for seven tenths of the time.
    let lossy = outlets(&lossy());
    let served = lossy.serve(&available(0.0, 0.0, 21.0), &mut asks(1, [20.0, 8.0, 0.0]));
    shares(&served, 1, [0.7, 0.0, 0.0]);
    same(served.delivered_w[1][0], 14.0);
    same(served.lost_w[1][0], 4.9);
    same(served.own_w[0], 2.1);
    same(served.bus_w[0], 21.0);
    // Both take 3 + 28 + 9 = 40 W: with 35 W the second runs for half of the time.
    let served = lossy.serve(&available(0.0, 0.0, 35.0), &mut asks(1, [20.0, 8.0, 0.0]));
    shares(&served, 1, [1.0, 0.5, 0.0]);
    same(served.delivered_w[1][0], 24.0);
    same(served.lost_w[1][0], 8.0);
    same(served.own_w[0], 3.0);
}
