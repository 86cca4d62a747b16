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
