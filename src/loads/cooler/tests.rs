//! The cooler in lanes against its walls and contents one at a time.

use super::*;
use crate::loads::Turn;
use crate::loads::contents::Insulated;
use crate::random::{Purpose, Stream};
use crate::units::{Hours, Kelvins, Kilograms, Litres, Uncertain, WattHours};

const LANES: usize = 8;

fn cooler(room: Room) -> Cooler {
    let part = |volume: f64, kg: f64, set: f64| {
        Some(Compartment { volume: Litres(volume), contents: Kilograms(kg), set: Celsius(set) })
    };
    Cooler {
        label: Uncertain::exact(WattHours(300e3)),
        label_room: Celsius(25.0),
        fridge: part(200.0, 4.0, 3.0),
        freezer: part(80.0, 1.5, -18.0),
        band: Kelvins(2.0),
        room,
        door_openings: 10,
        food: FoodRule::Above { limit: Celsius(4.0), hours: Hours(2.0) },
    }
}

/// `T(t) = T∞ + (T0 − T∞) exp(−t UA / C)` while nothing melts, a steady flow while something does: in every lane the state is
/// what [`Insulated`] has, which is held to the worked examples of tests/data/food_safety.toml.
#[test]
fn lanes_follow_the_walls_one_at_a_time() {
    let mut rng = Stream::new(7, 0, Purpose::Outage);
    let mut passed = 0;
    for (step_h, room) in [(1.0, Room::Outdoors), (0.25, Room::Outdoors), (1.0, Room::Indoors)] {
        let plan = CoolerPlan::new(&cooler(room), 120.0);
        let mut leak = [0.0; LANES];
        let mut phase = [0.0; LANES];
        for l in 0..LANES {
            (leak[l], phase[l]) = (0.5 + rng.uniform(), rng.uniform());
        }
        let mut state = CoolerState::new(&plan, &leak, &phase, step_h);
        let mut heat_wh = [[0.0; LANES]; PARTS];
        let target_c = |part: &PartPlan, l: usize| part.set_c + (phase[l] - 0.5) * plan.band_k;
        for (heat_wh, part) in heat_wh.iter_mut().zip(plan.parts.iter().flatten()) {
            for l in 0..LANES {
                heat_wh[l] = part.contents.heat_wh(target_c(part, l));
            }
        }
        let mut power = 1.0;
        for step in 0..4000 {
            if step % 40 == 0 {
                power = [0.0, 0.3, 1.0][(rng.uniform() * 3.0) as usize];
            }
            let mut air_c = [0.0; LANES];
            for air_c in &mut air_c {
                *air_c = -25.0 + 65.0 * rng.uniform();
            }
            let given = [power; LANES];
            let run = *state.asks(&plan, &air_c, step_h);
            state.settle(&plan, &given, &Turn { takes: &[u64::MAX; LANES], now: step, first: &[0; LANES], step_h });
            for l in 0..LANES {
                let room_c = plan.room_c(air_c[l]);
                let walls = |part: &PartPlan| {
                    Insulated::new(part.contents, part.walls_w_per_k * leak[l] + part.door_w_per_k, step_h)
                };
                let needs: Vec<f64> = plan
                    .parts
                    .iter()
                    .flatten()
                    .zip(&heat_wh)
                    .map(|(part, heat_wh)| walls(part).needed_w(heat_wh[l], target_c(part, l), room_c))
                    .collect();
                let share = (needs.iter().sum::<f64>() / plan.cooling_w(room_c)).min(1.0);
                assert!((run[l] - share).abs() < 1e-9, "step {step}: {} in lanes, {share} alone", run[l]);
                let removed = power * share * plan.cooling_w(room_c) / needs.iter().sum::<f64>().max(1e-9);
                for (k, part) in plan.parts.iter().flatten().enumerate() {
                    let then_wh = walls(part).after_step(heat_wh[k][l], room_c, needs[k] * removed);
                    passed += u32::from((heat_wh[k][l] < 0.0) != (then_wh < 0.0));
                    heat_wh[k][l] = then_wh;
                    let (found_c, expected_c) = (state.inside_c(&plan, l)[k], part.contents.temperature_c(then_wh));
                    assert!(
                        found_c.is_some_and(|found_c| (found_c - expected_c).abs() < 1e-7),
                        "step {step}, part {k}: {found_c:?} in lanes, {expected_c} alone"
                    );
                }
            }
        }
    }
    assert!(passed > 100, "something began to melt or froze {passed} times");
}

/// By hand: the test's evaporator is 10 K below -160/9 °C and the condenser 12 K above 25 °C, a lift of 64.78 K, of which a machine of four
/// tenths of Carnot's best makes 1.5152 W of cold a watt: 34.25 W of the label take 51.89 W out, which litres share by their kelvins (7644.4
/// in all). Ten openings a day change the air ten times, 2 · 1.2 kJ/m³ K. At -18 °C the evaporator has -28: 120 W move 168.10 W in a room
/// of 30 °C, 210.13 in one of 16 °C, and no more in a colder one.
#[test]
fn a_cooler_is_worked_out_from_its_label() {
    let near = |found: f64, expected: f64| assert!((found / expected - 1.0).abs() < 1e-5, "{found} for {expected}");
    let plan = CoolerPlan::new(&cooler(Room::Indoors), 120.0);
    let [fridge, freezer] = plan.parts.map(|part| part.expect("both parts"));
    near(fridge.walls_w_per_k, 1.357_565);
    near(freezer.walls_w_per_k, 0.543_026);
    near(fridge.door_w_per_k, 0.055_555_6);
    near(freezer.door_w_per_k, 0.022_222_2);
    assert_eq!((fridge.contents, freezer.contents), (Contents::food(4.0), Contents::food(1.5)));
    assert_eq!((fridge.set_c, freezer.set_c, plan.band_k, plan.compressor_w), (3.0, -18.0, 2.0, 120.0));
    // A fridge keeps 4 h; a freezer twelve times as long when full, at half a kilogram a litre: 1.5 of 40 kg.
    assert_eq!(fridge.keeps_h, 4.0);
    near(freezer.keeps_h, 48.0 * 1.5 / 40.0);
    near(plan.cooling_w(30.0), 168.102_857);
    near(plan.cooling_w(16.0), 210.128_571);
    assert_eq!(plan.cooling_w(2.0), plan.cooling_w(16.0));
    // With walls that leak 1.3 times as much, in a room of 30 °C; at -1 °C nothing comes into the fridge.
    near(plan.holding_share(30.0, 1.3), 0.500_301);
    near(plan.holding_share(-1.0, 1.0), 0.045_730_2);
    assert_eq!([-5.0, 21.0, 26.0].map(|air_c| plan.room_c(air_c)), [21.0, 21.0, 26.0]);
    let at = |room: Room| CoolerPlan::new(&cooler(room), 120.0).room_c(-5.0);
    assert_eq!((at(Room::Outdoors), at(Room::At(Celsius(8.0)))), (-5.0, 8.0));
}

/// The rules of the file: a thermometer's limit and its hours, hours without power, both as the agencies have them (40 °F, rounded down, for
/// two hours; four hours; USDA FSIS), or none.
#[test]
fn food_is_judged_by_the_rule_of_its_file() {
    let of = |food: FoodRule| {
        let plan = CoolerPlan::new(&Cooler { food, ..cooler(Room::Indoors) }, 120.0);
        let keeps_h = plan.parts[0].expect("a fridge").keeps_h;
        (plan.judged_by, plan.limit_c, plan.warm_h, keeps_h)
    };
    let above = FoodRule::Above { limit: Celsius(7.0), hours: Hours(3.0) };
    assert_eq!(of(above), ([true, false], 7.0, 3.0, 4.0));
    assert_eq!(of(FoodRule::WithoutPower { hours: Hours(6.0) }), ([false, true], 4.0, 2.0, 6.0));
    assert_eq!(of(FoodRule::Sooner), ([true, true], 4.0, 2.0, 4.0));
    assert_eq!(of(FoodRule::NotJudged), ([false, false], 4.0, 2.0, 4.0));
    // A freezer that holds more than a full one keeps no longer.
    let full = Compartment { volume: Litres(20.0), contents: Kilograms(30.0), set: Celsius(-18.0) };
    let plan = CoolerPlan::new(&Cooler { freezer: Some(full), food: FoodRule::Sooner, ..cooler(Room::Indoors) }, 120.0);
    assert_eq!(plan.parts[1].expect("a freezer").keeps_h, 48.0);
}
