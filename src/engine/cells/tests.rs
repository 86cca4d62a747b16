//! What cells, sun and wall can give, by hand, and steps that are shares of others.

use super::*;
use crate::engine::tests::{same, uneven};

/// Two kits of which no two figures are alike: one that charges ever slower near full, and one that does not.
fn kits() -> ([Rig; 2], [Limits; 2]) {
    let first = uneven();
    let second = Rig {
        floor_wh: 60.0,
        charge_efficiency: 0.95,
        discharge_efficiency: 0.9,
        charge_limit_w: 130.0,
        discharge_limit_w: 340.0,
        taper_wh: 0.0,
        wall_efficiency: 0.6,
        ..first.clone()
    };
    let limits = [
        Limits { heater_w: 25.0, ..first.limits_at(25.0) },
        Limits { heater_w: 7.0, works: false, ..second.limits_at(25.0) },
    ];
    ([first, second], limits)
}

fn cells(step_h: f64) -> Cells<2> {
    let (rigs, limits) = kits();
    let mut cells = Cells::default();
    cells.set(&rigs, &limits, step_h);
    cells
}

/// All figures of a lane, and whether it works and can be charged.
fn figures<const L: usize>(cells: &Cells<L>, l: usize) -> ([f64; 19], [u64; 2]) {
    let numbers = [
        cells.floor_wh[l],
        cells.ceiling_wh[l],
        cells.capacity_wh[l],
        cells.power_per_wh[l],
        cells.discharge_w[l],
        cells.out_wh_per_w[l],
        cells.into_wh_per_w[l],
        cells.into_w_per_wh[l],
        cells.charge_w[l],
        cells.taper_w_per_wh[l],
        cells.wall_efficiency[l],
        cells.heater_w[l],
        cells.electronics_w[l],
        cells.lost_into[l],
        cells.lost_out[l],
        cells.keeps,
        cells.solar_limit_w,
        cells.solar_efficiency,
        cells.solar_lost,
    ];
    (numbers, [cells.works[l], cells.barred[l]])
}

#[test]
fn a_step_that_lasts_a_share_of_another_is_a_step_of_that_length() {
    for (step_h, share) in [(1.0, 0.25), (0.5, 0.7), (0.25, 1.0), (2.0, 0.1)] {
        let (lasting, set) = (cells(step_h).lasting(share), cells(step_h * share));
        for l in 0..2 {
            let ((a, of_a), (b, of_b)) = (figures(&lasting, l), figures(&set, l));
            a.iter().zip(b).for_each(|(a, b)| same(a / b.max(1.0), b / b.max(1.0)));
            assert_eq!(of_a, of_b);
        }
    }
}

/// A step of half an hour: a watt-hour above the floor is 0.88 / 0.5 W, 4 % an hour are 2 % of it, and so on.
#[test]
fn figures_of_a_step_are_those_of_the_kit_by_its_length() {
    let cells = cells(0.5);
    let (first, flags) = figures(&cells, 0);
    // From where it begins to fall, 310 W, over the 150 Wh of the taper and what 310 W bring in a step.
    let taper = 310.0 / (150.0 + 310.0 * 0.46);
    let by_hand = [
        110.0,
        930.0,
        1_000.0,
        1.76,
        420.0,
        0.5 / 0.88,
        0.46,
        1.0 / 0.46,
        260.0,
        taper,
        0.7,
        25.0,
        0.0,
        0.08,
        0.12 / 0.88,
        0.98,
        90.0,
        0.8,
        0.25,
    ];
    first.iter().zip(by_hand).for_each(|(a, b)| same(*a, b));
    assert_eq!(flags, [u64::MAX, 0]);
    assert_eq!((cells.taper_w_per_wh[1], cells.works[1]), (NO_TAPER, 0));
    // What is lost by itself is never more than there is.
    let (rigs, limits) = kits();
    let leaky = rigs.map(|rig| Rig { self_discharge_per_h: 3.0, ..rig });
    let mut empty = Cells::<2>::default();
    empty.set(&leaky, &limits, 0.5);
    assert_eq!(empty.keeps, 0.0);
}

#[test]
fn a_block_of_lanes_is_those_lanes() {
    let (rigs, limits) = kits();
    let four = [&rigs[..], &rigs[..]].concat();
    let of_four = [limits[0], limits[1], limits[1], limits[0]];
    let mut cells = Cells::<4>::default();
    cells.set(&four, &of_four, 0.5);
    cells.electronics_w = [1.0, 2.0, 3.0, 4.0];
    let block = cells.block::<2>(1);
    for l in 0..2 {
        assert_eq!(figures(&block, l), figures(&cells, 2 + l));
    }
}

/// Under constant voltage the power falls with the room that is left. What a step brings leaves `taper / (taper + x)` of the room,
/// with `x` what the power before the taper would have brought; many short steps come to the exponential, long ones to less.
#[test]
fn near_full_the_room_shrinks_as_solved_backwards() {
    let arrives_wh = |step_h: f64, gap_wh: f64| {
        let cells = cells(step_h);
        gap_wh * cells.taper_w_per_wh[0] * cells.into_wh_per_w[0]
    };
    for step_h in [1.0, 0.25, 0.02] {
        let x_wh = 310.0 * 0.92 * step_h;
        same(90.0 - arrives_wh(step_h, 90.0), 90.0 * 150.0 / (150.0 + x_wh));
    }
    let (mut gap_wh, steps) = (90.0, 10_000);
    for _ in 0..steps {
        gap_wh -= arrives_wh(1.0 / f64::from(steps), gap_wh);
    }
    let exact_wh = 90.0 * crate::math::exp(-310.0 * 0.92 / 150.0);
    // n steps come to (1 + k/n)^-n for e^-k, which is k²/2n too much: 1.8e-4 for k = 1.90 and n = 10,000.
    assert!((gap_wh / exact_wh - 1.0).abs() < 2e-4, "{gap_wh}, {exact_wh}");
    assert!(90.0 - arrives_wh(1.0, 90.0) > exact_wh);
}

#[test]
fn limits_of_another_temperature_bar_cells_that_cannot_be_charged() {
    let (mut cells, (rigs, limits)) = (cells(0.5), kits());
    let cold = Limits { floor_wh: 200.0, discharge_w: 33.0, charge_w: 0.0, taper_from_w: 0.0, ..limits[0] };
    cells.allow(0, &cold, rigs[0].taper_wh);
    assert_eq!((cells.floor_wh[0], cells.discharge_w[0], cells.charge_w[0]), (200.0, 33.0, 0.0));
    assert_eq!((cells.taper_w_per_wh[0], cells.barred[0]), (0.0, u64::MAX));
    // Unlimited power knows no taper.
    let toy = Limits { charge_w: 5.0, taper_from_w: f64::INFINITY, ..limits[0] };
    cells.allow(0, &toy, rigs[0].taper_wh);
    assert_eq!((cells.taper_w_per_wh[0], cells.barred[0]), (NO_TAPER, 0));
}

/// 200 Wh, of which 2 % go by themselves in the half hour: 86 Wh above the floor are 151.36 W at the bus, of 100 W of sun the input
/// takes 90 and gives 72, and 50 W at the plug are 35.
#[test]
fn the_bus_can_have_what_cells_sun_and_wall_give() {
    let cells = cells(0.5);
    let (left_wh, taken_w, most_w) = cells.available::<true, true>(0, 200.0, (100.0, 50.0));
    same(left_wh, 196.0);
    same(taken_w, 90.0);
    same(most_w, 151.36 + 72.0 + 35.0);
    same(cells.available::<true, false>(0, 200.0, (40.0, 50.0)).2, 151.36 + 32.0);
    same(cells.available::<false, false>(0, 200.0, (100.0, 50.0)).2, 151.36);
    same(cells.available::<false, true>(0, 200.0, (100.0, 50.0)).2, 151.36 + 35.0);
    // No more than the cells give at a time; nothing from below the floor, nor of a station that does not work.
    same(cells.available::<true, true>(0, 900.0, (100.0, 50.0)).2, 420.0 + 72.0 + 35.0);
    same(cells.available::<false, false>(0, 100.0, (0.0, 0.0)).2, 0.0);
    assert_eq!(cells.available::<true, true>(1, 900.0, (100.0, 50.0)).2, 0.0);

    let now = cells.supplied(&[200.0, 900.0], (&[100.0, 100.0], 50.0), None);
    same(now.most_w[0], 151.36 + 72.0 + 35.0);
    same(now.energy_w[0], 151.36);
    same(now.gives_w[0], 420.0);
    same(now.flow_w[0], 107.0);
    same(now.wall_w[0], 35.0);
    assert!(now.dawn.is_none());
    assert_eq!([now.most_w[1], now.energy_w[1], now.gives_w[1], now.flow_w[1], now.wall_w[1]], [0.0; 5]);
    // Where the sun is followed, at the bus: 16, 72 and 72 W of 20, 100 and 150.
    let around_w = [[20.0, 150.0]; 2];
    let dawn = cells.supplied(&[200.0, 900.0], (&[100.0, 100.0], 50.0), Some(&around_w)).dawn.expect("a dawn");
    assert_eq!(dawn, [Dawn::new(16.0, 72.0, 72.0), Dawn::default()]);
    let (cells_w, wall_w, alone) = cells.at_dawn(0, 200.0, [20.0, 100.0, 150.0], 50.0);
    same(cells_w, 151.36);
    same(wall_w, 35.0);
    assert_eq!(alone, dawn[0]);
}

#[test]
fn cells_are_low_that_cannot_carry_a_step_by_themselves() {
    let cells = cells(0.5);
    assert!(!cells.is_low(0, 200.0, 151.3) && cells.is_low(0, 200.0, 151.4));
    // The second kit: 200 Wh keep 196, and 136 Wh above its floor are 244.8 W.
    assert!(!cells.is_low(1, 200.0, 244.7) && cells.is_low(1, 200.0, 244.9));
    assert!(!cells.any_low(&[200.0; 2], &[151.3, 244.7]));
    assert!(cells.any_low(&[200.0; 2], &[151.4, 244.7]) && cells.any_low(&[200.0; 2], &[151.3, 244.9]));
}

#[test]
fn the_plug_gives_what_it_is_told_to() {
    let (mut cells, (rigs, _)) = (cells(0.5), kits());
    cells.share_wall(&rigs, &[0.5, 0.25]);
    same(cells.wall_efficiency[0], 0.35);
    same(cells.wall_efficiency[1], 0.15);
    cells.plug_in(1, 44.0);
    assert_eq!(cells.wall_efficiency[1], 44.0);
}
