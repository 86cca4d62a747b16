//! Panels, cables and inputs by hand.

use super::*;
use crate::engine::tests::{load, plan, same};

/// An array of strings of 20 V at their best power and 25 V open, on a cable of so many ohms.
fn array(cable_ohm: f64) -> ArrayPlan {
    let text =
        "[station.solar_input]\nlimit = \"500 W\"\n[[panel]]\nrated = \"100 W\"\ntilt = \"30°\"\nfacing = \"south\"\n";
    let plan = plan(&(text.to_owned() + &load("radio", "dc", "watts = \"5 W\"")));
    ArrayPlan { string_v: 20.0, open_v: 25.0, cable_ohm, ..plan.arrays[0].clone() }
}

/// What arrives \[W\], what of it is usable \[W\], and the amps, of so many watts at panels as warm as told.
fn arrives(array: &ArrayPlan, window: &InputWindow, watts: f64, warmth: f64) -> [f64; 3] {
    let mut at = AtInput { panel_w: [7.0], usable_w: [7.0], amps: [7.0] };
    at.add::<true>(array, window, &[2.0 * watts], (&[0.5], &[warmth]));
    let once = [at.panel_w[0], at.usable_w[0], at.amps[0]];
    let counts = array.cable_ohm > 0.0 || window.amps_max < f64::INFINITY || window.held_v < f64::INFINITY;
    at.add::<false>(array, window, &[2.0 * watts], (&[0.5], &[warmth]));
    same(at.panel_w[0], 2.0 * once[0]);
    same(at.usable_w[0], 2.0 * once[1]);
    if counts {
        same(at.amps[0], 2.0 * once[2]);
    }
    once
}

#[test]
fn panels_below_the_inputs_volts_give_nothing_that_it_can_use() {
    let window = |volts_min: f64| InputWindow { volts_min, ..InputWindow::OPEN };
    let of = |volts_min: f64, warmth: f64| arrives(&array(0.0), &window(volts_min), 80.0, warmth)[..2].to_vec();
    assert_eq!(
        [of(0.0, 1.0), of(20.0, 1.0), of(20.5, 1.0), of(10.0, 0.5), of(10.5, 0.5)],
        [[80.0, 80.0], [80.0, 80.0], [80.0, 0.0], [80.0, 80.0], [80.0, 0.0]]
    );
}

/// 80 W at 20 V are 4 A: half an ohm takes 2 V, a tenth of volts and power.
#[test]
fn a_cable_takes_its_ohms_times_the_square_of_the_current() {
    let window = |volts_min: f64| InputWindow { volts_min, amps_max: 30.0, ..InputWindow::OPEN };
    let near = |a: [f64; 3], b: [f64; 3]| a.iter().zip(b).for_each(|(a, b)| same(*a, b));
    near(arrives(&array(0.5), &window(0.0), 80.0, 1.0), [72.0, 72.0, 4.0]);
    near(arrives(&array(0.5), &window(17.9), 80.0, 1.0), [72.0, 72.0, 4.0]);
    near(arrives(&array(0.5), &window(18.1), 80.0, 1.0), [72.0, 0.0, 0.0]);
    // At half the volts twice the amps, four times the share.
    near(arrives(&array(0.5), &window(0.0), 80.0, 0.5), [48.0, 48.0, 8.0]);
    // Beyond half of the power more brings no more: V² / 4 R at most, at half the volts.
    near(arrives(&array(2.5), &window(10.0), 80.0, 1.0), [40.0, 40.0, 4.0]);
    near(arrives(&array(5.0), &window(10.0), 80.0, 1.0), [20.0, 20.0, 4.0]);
    near(arrives(&array(5.0), &window(10.1), 80.0, 1.0), [20.0, 0.0, 0.0]);
    near(arrives(&array(0.5), &window(0.0), 0.0, 1.0), [0.0; 3]);
    // Without a cable the amps count where they are limited.
    near(arrives(&array(0.0), &window(0.0), 80.0, 1.0), [80.0, 80.0, 4.0]);
}

/// Held at a voltage, panels give their best current as long as they are below their best volts, and from there along a straight line to
/// nothing at 25 V. A cable of half an ohm takes 2 V of 4 A.
#[test]
fn panels_held_at_a_voltage_give_their_current_times_it() {
    same(held_share(13.0, (20.0, 25.0), 2.0), 1.0);
    same(held_share(18.0, (20.0, 25.0), 2.0), 1.0);
    same(held_share(21.5, (20.0, 25.0), 2.0), 0.5);
    same(held_share(24.0, (20.0, 25.0), 0.0), 0.2);
    assert_eq!([held_share(25.0, (20.0, 25.0), 2.0), held_share(30.0, (20.0, 25.0), 2.0)], [0.0, 0.0]);
    let window = |held_v: f64| InputWindow { held_v, ..InputWindow::OPEN };
    let near = |a: [f64; 3], b: [f64; 3]| a.iter().zip(b).for_each(|(a, b)| same(*a, b));
    near(arrives(&array(0.5), &window(13.0), 80.0, 1.0), [72.0, 52.0, 4.0]);
    near(arrives(&array(0.5), &window(21.5), 80.0, 1.0), [72.0, 43.0, 2.0]);
    near(arrives(&array(0.0), &window(24.0), 80.0, 1.0), [80.0, 19.2, 0.8]);
    // Nothing beyond what arrives: at 20 V exactly all of it.
    near(arrives(&array(0.0), &window(20.0), 80.0, 1.0), [80.0, 80.0, 4.0]);
}

#[test]
fn an_input_takes_no_more_than_its_amps_and_watts() {
    let at = AtInput { panel_w: [90.0, 30.0], usable_w: [80.0, 30.0], amps: [8.0, 5.0] };
    let window = InputWindow { amps_max: 5.0, watts_max: 60.0, ..InputWindow::OPEN };
    let mut cut = at;
    cut.cut_to_amps(&window);
    assert_eq!((cut.usable_w, cut.panel_w), ([50.0, 30.0], [90.0, 30.0]));
    let mut open = at;
    open.cut_to_amps(&InputWindow::OPEN);
    assert_eq!(open.usable_w, at.usable_w);
    let mut both = AtInput { panel_w: [7.0; 2], usable_w: [7.0; 2], amps: [0.0; 2] };
    both.join::<true>(&at, &window);
    assert_eq!((both.panel_w, both.usable_w), ([90.0, 30.0], [60.0, 30.0]));
    both.join::<false>(&at, &InputWindow { watts_max: 25.0, ..InputWindow::OPEN });
    assert_eq!((both.panel_w, both.usable_w), ([180.0, 60.0], [85.0, 55.0]));
}
