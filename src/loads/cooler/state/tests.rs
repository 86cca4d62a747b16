//! The food's clocks by hand, and the share of a step that the compressor asks for.

use super::super::SOFT_AT;
use super::*;
use crate::math;
use crate::scenario::model::{Compartment, Cooler, FoodRule};
use crate::units::{Hours, Kelvins, Kilograms, Litres, Uncertain, WattHours};

const LANES: usize = 4;
const ALL: [u64; LANES] = [u64::MAX; LANES];

/// A fridge or a freezer alone, its thermostat without a band, in a room.
fn plan(part: usize, set_c: f64, room: Room, food: FoodRule) -> CoolerPlan {
    let compartment = Some(Compartment { volume: Litres(100.0), contents: Kilograms(10.0), set: Celsius(set_c) });
    let [fridge, freezer] = if part == 0 { [compartment, None] } else { [None, compartment] };
    let cooler = Cooler {
        label: Uncertain::exact(WattHours(200e3)),
        label_room: Celsius(25.0),
        fridge,
        freezer,
        band: Kelvins(0.0),
        room,
        door_openings: 0,
        food,
    };
    CoolerPlan::new(&cooler, 100.0)
}

fn begun(plan: &CoolerPlan, step_h: f64) -> CoolerState<LANES> {
    CoolerState::new(plan, &[1.0; LANES], &[0.5; LANES], step_h)
}

/// Takes steps with so much power each, counted from step 100, in air of 15 °C.
fn take(
    state: &mut CoolerState<LANES>,
    plan: &CoolerPlan,
    steps: std::ops::Range<usize>,
    step_h: f64,
    given: impl Fn(usize) -> [f64; LANES],
) -> Vec<[bool; LANES]> {
    let mut lost = Vec::new();
    for step in steps {
        state.asks(plan, &[15.0; LANES], step_h);
        let turn = Turn { takes: &ALL, now: 100 + step, first: &[100; LANES], step_h };
        state.settle(plan, &given(step), &turn);
        lost.push(*state.lost_now());
    }
    lost
}

fn lost_steps(state: &CoolerState<LANES>, plan: &CoolerPlan, part: usize) -> [[Option<u32>; 2]; LANES] {
    std::array::from_fn(|l| state.food(plan, l)[part].expect("a part").lost_step)
}

#[track_caller]
fn assert_near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} for {expected}");
}

const FOUR_HOURS: FoodRule = FoodRule::WithoutPower { hours: Hours(4.0) };
const SAFE: FoodRule = FoodRule::Above { limit: Celsius(4.0), hours: Hours(2.0) };

/// A closed fridge keeps food for four hours without power (USDA FSIS): in the fifth it is lost. Cold food (here as cold as the room) counts
/// an hour without as one and an hour with power as one made good, never more than there are; with power for three tenths of each hour
/// that is 0.4 an hour.
#[test]
fn cold_food_counts_the_hours_without_power_less_those_with() {
    let plan = plan(0, 3.0, Room::At(Celsius(3.0)), FOUR_HOURS);
    let mut state = begun(&plan, 1.0);
    let lost = take(&mut state, &plan, 0..30, 1.0, |_| [0.0, 0.3, 0.75, 1.0]);
    assert_eq!(lost_steps(&state, &plan, 0), [[None, Some(4)], [None, Some(10)], [None; 2], [None; 2]]);
    for (l, per_h) in [1.0, 0.4, 0.0, 0.0].into_iter().enumerate() {
        assert_near(state.parts[0].without_h[l], 30.0 * per_h, 1e-9);
        assert_eq!(state.parts[0].warm_h[l], 0.0);
    }
    // Said in the step in which it happens alone.
    assert_eq!((lost[3][0], lost[4][0], lost[5][0], lost[10]), (false, true, false, [false, true, false, false]));
    // Power beforehand is no credit; three hours without and two with are one.
    let mut state = begun(&plan, 1.0);
    let given = |step: usize| [f64::from(u8::from(step < 10)), f64::from(u8::from((3..5).contains(&step))), 1.0, 1.0];
    take(&mut state, &plan, 0..30, 1.0, given);
    assert_eq!(lost_steps(&state, &plan, 0), [[None, Some(14)], [None, Some(8)], [None; 2], [None; 2]]);
    // A freezer for twelve times as long when full: a fifth full, with 10 of 50 kg, for 9.6 h.
    let plan = self::plan(1, -18.0, Room::At(Celsius(-18.0)), FOUR_HOURS);
    let mut state = begun(&plan, 1.0);
    take(&mut state, &plan, 0..30, 1.0, |_| [0.0; LANES]);
    assert_eq!(lost_steps(&state, &plan, 1)[0], [None, Some(9)]);
}

/// Warm food counts every hour as warm, whatever the power, and of an hour with power nothing is made good: two hours above the limit
/// are safe, in the third it is lost (USDA FSIS); above 90 °F one is, in the second it is lost.
#[test]
fn warm_food_counts_every_hour_and_those_in_a_hot_room_twice() {
    let at = |room_c: f64| {
        let plan = plan(0, room_c, Room::At(Celsius(room_c)), SAFE);
        let mut state = begun(&plan, 1.0);
        let lost = take(&mut state, &plan, 0..30, 1.0, |_| [0.0, 0.3, 0.75, 1.0]);
        (lost_steps(&state, &plan, 0), lost, state)
    };
    let (steps, lost, state) = at(6.0);
    assert_eq!(steps, [[Some(2), Some(4)], [Some(2), Some(5)], [Some(2), Some(16)], [Some(2), None]]);
    assert_eq!((lost[1], lost[2], lost[3], lost[4]), ([false; 4], [true; 4], [false; 4], [false; 4]));
    for (l, without) in [1.0, 0.7, 0.25, 0.0].into_iter().enumerate() {
        assert_near(state.parts[0].warm_h[l], 30.0, 1e-9);
        assert_near(state.parts[0].without_h[l], 30.0 * without, 1e-9);
    }
    // 90 °F are 290/9 °C.
    let first = |room_c: f64| at(room_c).0[3][0];
    assert_eq!((first(290.0 / 9.0), first(32.3), first(4.0), first(4.1)), (Some(2), Some(1), None, Some(2)));
    let hot = at(33.0).2;
    assert_near(hot.parts[0].warm_h[0], 60.0, 1e-9);
}

/// Newton's law of cooling: a fridge of 3 °C in a room of 24 °C passes 4 °C after `C / UA ln(21/20)`, and from then on it is warm; within a
/// step the temperature counts as even, so that the two differ by less than a tenth of the step. From 6 °C in a room of -5 °C it is warm
/// until `C / UA ln(11/9)`, and in those hours nothing is made good.
#[test]
fn a_step_in_which_food_passes_its_limit_counts_in_part() {
    let step_h = 0.1;
    for (set_c, room_c, per_h) in [(3.0, 24.0, 1.0), (6.0, -5.0, 0.7)] {
        let plan = plan(0, set_c, Room::At(Celsius(room_c)), SAFE);
        let part = plan.parts[0].expect("a fridge");
        let (capacity, ua) = (part.contents.thawed_wh_per_k, part.walls_w_per_k + part.door_w_per_k);
        let at_c = |hours: f64| room_c + (set_c - room_c) * math::exp(-hours * ua / capacity);
        let passes_h = capacity / ua * math::ln((set_c - room_c) / (4.0 - room_c));
        let within = (passes_h / step_h) as usize;
        let (before_c, after_c) = (at_c(step_h * within as f64), at_c(step_h * (within + 1) as f64));
        // Where the line between the two passes 4 °C.
        let line_h = step_h * (within as f64 + (4.0 - before_c) / (after_c - before_c));
        assert!((line_h - passes_h).abs() < 0.1 * step_h && within > 0, "{line_h} h, {passes_h} h");
        let mut state = begun(&plan, step_h);
        // Nothing needs to be taken out of a box that is as cold as it should be or in a cold room: power makes no difference.
        let given = if set_c > 4.0 { 0.3 } else { 0.0 };
        let steps = within + 4;
        take(&mut state, &plan, 0..steps, step_h, |_| [given; LANES]);
        let hours = step_h * steps as f64;
        let found = &state.parts[0];
        assert_near(found.inside_c[1], at_c(hours), 1e-9);
        if set_c > 4.0 {
            assert_near(found.warm_h[1], line_h, 1e-9);
            let warm_h = step_h * (within + 1) as f64;
            assert_near(found.without_h[1], per_h * warm_h + 0.4 * (hours - warm_h), 1e-9);
            assert_near(found.warmest_c[1], set_c, 1e-12);
        } else {
            assert_near(found.warm_h[1], hours - line_h, 1e-9);
            assert_near(found.without_h[1], per_h * hours, 1e-9);
            assert_near(found.warmest_c[1], at_c(hours), 1e-9);
        }
    }
}

/// Ice that begins to melt is not warm: hours with power make good hours without in that step as in the others.
#[test]
fn food_that_begins_to_melt_is_cold_still() {
    let plan = plan(1, -1.5, Room::At(Celsius(20.0)), FoodRule::Sooner);
    let mut state = begun(&plan, 1.0);
    let mut melts = None;
    for step in 0..8 {
        take(&mut state, &plan, step..step + 1, 1.0, |_| [0.3; LANES]);
        let part = &state.parts[1];
        melts = melts.or((part.heat_wh[2] > 0.0).then_some(step));
        assert!(part.heat_wh[2] < 0.2 * plan.parts[1].expect("a freezer").contents.latent_wh);
        assert_near(part.without_h[2], 0.4 * (step + 1) as f64, 1e-9);
        assert_eq!(part.warm_h[2], 0.0);
    }
    assert!(melts.is_some_and(|step| step < 6), "{melts:?}");
}

/// Frozen food is warm once a quarter of its ice has melted: by the closed forms after `C / UA ln(22 / 21)` to the melting point from -2 °C
/// in a room of 20 °C, and a quarter of the heat of melting over `21 UA` from there. A step at whose end it is counts whole.
#[test]
fn frozen_food_is_warm_once_a_quarter_of_its_ice_has_melted() {
    let plan = plan(1, -2.0, Room::At(Celsius(20.0)), FoodRule::Sooner);
    let part = plan.parts[1].expect("a freezer");
    let ua = part.walls_w_per_k + part.door_w_per_k;
    let melts_h = part.contents.frozen_wh_per_k / ua * math::ln(22.0 / 21.0);
    let soft_h = melts_h + 0.25 * part.contents.latent_wh / (21.0 * ua);
    assert_eq!(SOFT_AT, 0.25);
    let mut state = begun(&plan, 0.5);
    let steps = (soft_h / 0.5) as usize + 3;
    take(&mut state, &plan, 0..steps, 0.5, |_| [0.0; LANES]);
    assert_near(state.parts[1].warm_h[0], 0.5 * 3.0, 1e-9);
    assert_near(state.parts[1].heat_wh[0], (0.5 * steps as f64 - melts_h) * 21.0 * ua, 1e-6);
    // And lost after two hours more: the first step at whose end it is warm is that in which it gets soft.
    take(&mut state, &plan, steps..steps + 6, 0.5, |_| [0.0; LANES]);
    assert_eq!(state.food(&plan, 0)[1].expect("a freezer").lost_step[0], Some((soft_h / 0.5) as u32 + 4));
    // A fridge with the same food holds it thawed.
    assert_eq!(soft_wh(&PartPlan { set_c: 3.0, ..part }), f64::INFINITY);
    assert_eq!(soft_wh(&part), 0.25 * part.contents.latent_wh);
}

/// By hand, between temperatures that move evenly.
#[test]
fn a_share_of_a_step_is_above_a_limit() {
    let shares =
        [(3.0, 5.0, 0.5), (2.0, 6.0, 0.5), (3.5, 5.5, 0.75), (5.5, 3.5, 0.75), (8.0, 3.0, 0.8), (4.5, 9.0, 1.0)];
    for (before_c, after_c, share) in shares {
        assert_near(share_above(before_c, after_c, 4.0), share, 1e-12);
    }
    assert_eq!((share_above(4.0, 4.0, 4.0), share_above(1.0, 4.0, 4.0), share_above(4.0, 2.0, 4.0)), (0.0, 0.0, 0.0));
    assert_near(share_above(4.0, 5.0, 4.0), 1.0, 1e-12);
}

/// The room is what is told, or the weather's air, or indoors no colder than it is kept, unless the heating is out; a step without power is
/// short of what would have held the set points, and no compressor runs for more than all of a step.
#[test]
fn a_compressor_asks_for_what_its_room_makes_it() {
    let air_c = [-5.0, 15.0, 21.5, 40.0];
    let room = |room: Room, room_cools: bool| {
        let plan = CoolerPlan { room_cools, ..plan(0, 3.0, room, SAFE) };
        let mut state = begun(&plan, 1.0);
        state.asks(&plan, &air_c, 1.0);
        for l in 0..LANES {
            let share = plan.holding_share(state.room_c[l], 1.0).min(1.0);
            assert_near(state.nominal()[l], share, 1e-12);
            // At its set point it asks for just that.
            assert_near(state.run()[l], share, 1e-9);
        }
        state.room_c
    };
    assert_eq!(room(Room::At(Celsius(7.0)), false), [7.0; 4]);
    assert_eq!(room(Room::Outdoors, false), air_c);
    assert_eq!(room(Room::Indoors, false), [21.0, 21.0, 21.5, 40.0]);
    assert_eq!(room(Room::Indoors, true), air_c);
    // A compressor that is far too weak runs all the time and takes out what it can.
    let plan = plan(0, 3.0, Room::Outdoors, SAFE);
    let part = plan.parts[0].expect("a fridge");
    let weak = CoolerPlan::new(
        &Cooler {
            label: Uncertain::exact(WattHours(200e3)),
            label_room: Celsius(25.0),
            fridge: Some(Compartment { volume: Litres(100.0), contents: Kilograms(10.0), set: Celsius(3.0) }),
            freezer: None,
            band: Kelvins(0.0),
            room: Room::Outdoors,
            door_openings: 0,
            food: SAFE,
        },
        1.0,
    );
    let mut state = begun(&weak, 1.0);
    assert_eq!(*state.asks(&weak, &[30.0; LANES], 1.0), [1.0; LANES]);
    assert_eq!(*state.nominal(), [1.0; LANES]);
    state.settle(&weak, &[1.0; LANES], &Turn { takes: &ALL, now: 0, first: &[0; LANES], step_h: 1.0 });
    let (ua, capacity) = (part.walls_w_per_k, part.contents.thawed_wh_per_k);
    let settles_c = 30.0 - weak.cooling_w(30.0) / ua;
    let expected_c = settles_c + (3.0 - settles_c) * math::exp(-ua / capacity);
    assert_near(state.inside_c(&weak, 3)[0].expect("a fridge"), expected_c, 1e-7);
    // Lanes that take no step stay as they are.
    let mut stays = begun(&weak, 1.0);
    stays.asks(&weak, &[30.0; LANES], 1.0);
    let takes = [u64::MAX, 0, u64::MAX, 0];
    stays.settle(&weak, &[0.0; LANES], &Turn { takes: &takes, now: 0, first: &[0; LANES], step_h: 1.0 });
    let warmed = |l: usize| stays.parts[0].inside_c[l] > 3.5 && stays.parts[0].without_h[l] == 1.0;
    assert_eq!([0, 1, 2, 3].map(warmed), [true, false, true, false]);
    assert_near(stays.parts[0].inside_c[1], 3.0, 1e-12);
    assert_eq!((stays.parts[0].without_h[1], stays.parts[0].warm_h[1]), (0.0, 0.0));
}
