//! Steps of one kit by hand, half an hour each.

use super::*;
use crate::engine::rig::Limits;
use crate::engine::tests::{same, uneven};

fn cells(more: impl Fn(Limits) -> Limits) -> Cells<1> {
    let (rig, mut cells) = (uneven(), Cells::default());
    cells.set(std::slice::from_ref(&rig), &[more(Limits { heater_w: 25.0, ..rig.limits_at(25.0) })], 0.5);
    cells.electronics_w = [6.0];
    cells
}

/// Panels that could give 120 W, 100 W of it usable, 90 W taken and 72 W at the bus; 50 W at the plug, 35 W at the bus.
const SUN: AtInput<f64, 1> = AtInput { panel_w: [120.0], usable_w: [100.0], amps: [0.0] };
const WALL_W: f64 = 50.0;

/// A step from so much in the cells under so much at the bus: where it ends, and whether it was short.
fn step(cells: &Cells<1>, stored_wh: f64, bus_w: f64) -> (Lane<1>, bool) {
    let mut lane = Lane { stored_wh: [stored_wh], lowest_wh: [1e9], heat_w: [77.0], ..Lane::default() };
    let any = lane.step::<f64, true, true, true>(cells, (&[bus_w], WALL_W), &SUN, &[0], &mut [0]);
    (lane, any)
}

/// Stored, what warmed the cells, and the sums.
#[track_caller]
fn holds(lane: &Lane<1>, (stored_wh, heat_w): (f64, f64), sums: [f64; SUMS]) {
    same(lane.stored_wh[0], stored_wh);
    same(lane.heat_w[0], heat_w);
    lane.sums.iter().zip(sums).for_each(|([sum], by_hand)| same(*sum, by_hand));
}

/// 500 Wh keep 490. The sun's 72 W leave 42 of 30 W at the bus; with the wall's 35 that is 77 W: the heater's 25, and 52 W to the cells.
#[test]
fn what_is_left_over_heats_and_charges_from_the_sun_first() {
    let (lane, short) = step(&cells(|limits| limits), 500.0, 30.0);
    assert!(!short);
    let heat_w = FROM_ELECTRONICS * (6.0 + 72.0 * 0.25) + 52.0 * 0.08 + 25.0;
    holds(&lane, (490.0 + 52.0 * 0.46, heat_w), [120.0, 90.0, 0.0, 52.0, 35.0, 25.0, 0.0, 10.0]);
    same(lane.lowest_wh[0], 500.0);
}

/// The account of that step, watts times half an hour: it closes.
#[test]
fn the_account_of_a_step_closes() {
    let cells = cells(|limits| limits);
    let (lane, _) = step(&cells, 500.0, 30.0);
    let bus = FromBus { delivered_w: [11.0, 8.0, 5.0], lost_w: [2.0, 1.5, 0.5], own_w: 2.0 };
    same(bus.total_w(), 30.0);
    same(bus.electronics_w(), 6.0);
    assert_eq!(bus.with_direct(40.0), [51.0, 8.0, 5.0]);
    let sources = Plugged { bus_w: 14.0, drawn_w: 20.0 };
    let account = lane.sums(0, &cells, true).account(&uneven(), &bus, &sources, 0.5);
    let by_hand = [
        (Flow::Solar, 60.0),
        (Flow::Curtailed, 15.0),
        (Flow::Clipped, 15.0),
        (Flow::Barred, 0.0),
        (Flow::SolarInputLoss, 9.0),
        // Of the 35 W at the bus 14 are the sources'.
        (Flow::Wall, 15.0),
        (Flow::WallLoss, 4.5),
        (Flow::Source, 10.0),
        (Flow::SourceLoss, 3.0),
        (Flow::Heater, 12.5),
        (Flow::ChargingLoss, 52.0 * 0.08 * 0.5),
        (Flow::DischargingLoss, 0.0),
        (Flow::SERVED[0], 5.5),
        (Flow::SERVED[1], 4.0),
        (Flow::SERVED[2], 2.5),
        (Flow::OUTLET_LOSS[0], 1.0),
        (Flow::OUTLET_LOSS[1], 0.75),
        (Flow::OUTLET_LOSS[2], 0.25),
        (Flow::OwnDraw, 1.0),
        (Flow::SelfDischarge, 10.0),
    ];
    by_hand.iter().for_each(|(flow, wh)| same(account[*flow], *wh));
    // Nothing is added twice: what was before is taken off again.
    let sums = lane.sums(0, &cells, true);
    assert_eq!(sums.since(&sums), Sums([0.0; SUMS]));
}

/// 955 Wh keep 935.9, above where charging stops: no heater, no charging, and 42 W of sun are left unused, the wall's as well.
#[test]
fn full_cells_take_nothing() {
    let (lane, _) = step(&cells(|limits| limits), 955.0, 30.0);
    let heat_w = FROM_ELECTRONICS * (6.0 + 30.0 * 0.25);
    holds(&lane, (935.9, heat_w), [120.0, 90.0, 42.0, 0.0, 0.0, 0.0, 0.0, 19.1]);
    same(lane.lowest_wh[0], 935.9);
}

/// 940 Wh keep 921.2: 8.8 Wh up to where charging stops are 19.13 W, less than the taper's 83.5 W.
#[test]
fn charging_ends_at_its_ceiling_and_slows_down_before_full() {
    let (lane, _) = step(&cells(|limits| Limits { heater_w: 0.0, ..limits }), 940.0, 30.0);
    let into_w = 8.8 / 0.46;
    same(lane.stored_wh[0], 930.0);
    same(lane.sums[2][0], 42.0 - into_w);
    // 900 Wh keep 882. By the taper 118 Wh of room take 118 × 310 / 292.6 W, and of 500 W of sun more would be there.
    let mut wide = cells(|limits| Limits { heater_w: 0.0, ..limits });
    (wide.solar_limit_w, wide.ceiling_wh) = (1e3, [1e3]);
    let sun = AtInput { panel_w: [500.0], usable_w: [500.0], amps: [0.0] };
    let mut lane = Lane { stored_wh: [900.0], ..Lane::default() };
    lane.step::<f64, true, true, true>(&wide, (&[30.0], 0.0), &sun, &[0], &mut [0]);
    same(lane.stored_wh[0], 882.0 + 118.0 * 310.0 / 292.6 * 0.46);
}

/// 300 Wh keep 294. Of 200 W at the bus the sun gives 72, the wall 35, the cells 93.
#[test]
fn cells_give_what_sun_and_wall_lack() {
    let (lane, short) = step(&cells(|limits| limits), 300.0, 200.0);
    assert!(!short);
    let heat_w = FROM_ELECTRONICS * (6.0 + 72.0 * 0.25) + 93.0 * 0.12 / 0.88;
    let stored_wh = 294.0 - 93.0 * 0.5 / 0.88;
    holds(&lane, (stored_wh, heat_w), [120.0, 90.0, 0.0, 0.0, 35.0, 0.0, 0.0, 6.0]);
    same(lane.lowest_wh[0], stored_wh);
    let bus = FromBus { own_w: 200.0, ..FromBus::default() };
    let account = lane.sums(0, &cells(|limits| limits), true).account(&uneven(), &bus, &Plugged::default(), 0.5);
    same(account[Flow::DischargingLoss], 93.0 * 0.12 / 0.88 * 0.5);
    // Of 90 W the wall gives the 18 that the sun lacks; the 17 left over are the heater's.
    let (lane, _) = step(&cells(|limits| limits), 300.0, 90.0);
    same(lane.sums[WALL][0], 35.0);
    same(lane.stored_wh[0], 294.0);
}

/// Cells that cannot be charged: of 42 W of sun and 35 of the wall the heater takes 25, from the sun; 17 W are left for that reason.
#[test]
fn sun_that_cells_refuse_is_barred() {
    let cells = cells(|limits| Limits { charge_w: 0.0, taper_from_w: 0.0, ..limits });
    let (lane, _) = step(&cells, 500.0, 30.0);
    let heat_w = FROM_ELECTRONICS * (6.0 + 55.0 * 0.25) + 25.0;
    holds(&lane, (490.0, heat_w), [120.0, 90.0, 17.0, 0.0, 0.0, 25.0, 17.0, 10.0]);
    // Steps of sun alone count what is unused once, and tell of whom it was refused at the end.
    let mut lane = Lane { stored_wh: [500.0], ..Lane::default() };
    lane.step::<f64, true, true, false>(&cells, (&[30.0], 0.0), &SUN, &[0], &mut [0]);
    assert_eq!(lane.sums(0, &cells, false).0[6], 42.0);
    assert_eq!(lane.sums(0, &cells, true).0[6], 0.0);
}

/// 200 Wh and all sun and wall are 258.36 W: a lane that is short of it, or is to stand still, stays as it is.
#[test]
fn a_lane_that_is_short_or_stands_still_stays_as_it_is() {
    let cells = cells(|limits| limits);
    for (bus_w, still, lacks) in [(258.4, 0, true), (258.4, u64::MAX, false), (30.0, u64::MAX, false)] {
        let begins = Lane { stored_wh: [200.0], lowest_wh: [190.0], heat_w: [77.0], ..Lane::default() };
        let (mut lane, mut short) = (begins, [0]);
        let any = lane.step::<f64, true, false, true>(&cells, (&[bus_w], WALL_W), &SUN, &[still], &mut short);
        assert_eq!((any, short[0] != 0), (lacks, lacks), "{bus_w}");
        holds(&lane, (200.0, 77.0), [0.0; SUMS]);
        assert_eq!(lane.lowest_wh, [190.0]);
    }
    assert!(!step(&cells, 200.0, 258.3).1 && step(&cells, 200.0, 258.4).1);
}

#[test]
fn in_the_dark_what_is_asked_for_comes_out_of_the_cells() {
    let cells = cells(|limits| limits);
    let mut lane = Lane { stored_wh: [300.0], ..Lane::default() };
    let dark = AtInput::<f64, 1>::none();
    assert!(!lane.step::<f64, false, true, false>(&cells, (&[50.0], 0.0), &dark, &[0], &mut [0]));
    same(lane.stored_wh[0], 294.0 - 50.0 * 0.5 / 0.88);
    same(lane.sums[LOST][0], 6.0);
    assert_eq!(lane.sums[..LOST], [[0.0]; LOST]);
}

/// Cells at 929.999999999 of 930 Wh have no room but rounding's.
#[test]
fn room_is_more_than_rounding() {
    assert!(has_room(930.0, 929.0) && has_room(930.0, 929.999_9));
    assert!(!has_room(930.0, 930.0) && !has_room(930.0, 929.999_999_5) && !has_room(930.0, 935.0));
}

/// Watts of a part count by its share of the step; what the cells lost by themselves is energy.
#[test]
fn parts_of_a_step_add_up_by_their_share() {
    let (part, _) = step(&cells(|limits| limits), 500.0, 30.0);
    let mut lane = Lane { sums: [[1.0]; SUMS], ..Lane::<1>::default() };
    lane.add_part(&part, 0.25);
    let sums = [31.0, 23.5, 1.0, 14.0, 9.75, 7.25, 1.0, 11.0];
    lane.sums.iter().zip(sums).for_each(|([sum], by_hand)| same(*sum, by_hand));
    assert_eq!((lane.stored_wh, lane.heat_w, lane.lowest_wh), (part.stored_wh, part.heat_w, part.lowest_wh));
    assert_eq!(lane.without_sums().sums, [[0.0]; SUMS]);
    same(lane.wall_sum()[0], 9.75);
}

#[test]
fn a_block_of_lanes_is_put_back_where_it_was() {
    let mut lanes = Lane::<4>::default();
    for l in 0..4 {
        let at = l as f64;
        (lanes.stored_wh[l], lanes.lowest_wh[l], lanes.heat_w[l]) = (at, 10.0 + at, 20.0 + at);
        lanes.sums.iter_mut().enumerate().for_each(|(k, sum)| sum[l] = 100.0 * k as f64 + at);
    }
    let mut block = lanes.block::<2>(1);
    assert_eq!((block.stored_wh, block.lowest_wh, block.heat_w), ([2.0, 3.0], [12.0, 13.0], [22.0, 23.0]));
    assert_eq!(block.sums[3], [302.0, 303.0]);
    block.stored_wh[1] = 9.0;
    block.sums[5] = [7.0, 8.0];
    lanes.put_block(1, &block);
    assert_eq!((lanes.stored_wh, lanes.sums[5]), ([0.0, 1.0, 2.0, 9.0], [500.0, 501.0, 7.0, 8.0]));
}
