//! Coolers against published figures: labels, rooms, and the hours that food keeps without power.
//!
//! Sources: tests/data/cooler_energy.toml (10 CFR 430.32(a) and closed forms), tests/data/food_safety.toml (USDA FSIS and
//! FDA). No hour of these is in the model: it knows watts, litres, kilograms and the heat of water.

use tideover::loads::Turn;
use tideover::loads::cooler::{CoolerPlan, CoolerState, FULL_KG_PER_LITRE, TEST_INSIDE_C};
use tideover::scenario::model::{Compartment, Cooler, FoodRule, Load, Pattern, Room};
use tideover::scenario::{Source, appliances, read};
use tideover::units::{Celsius, Hours, Kelvins, Kilograms, Litres, Uncertain, WattHours};

use crate::values::number;

fn table(text: &str) -> toml::Table {
    text.parse().expect("the data file is TOML")
}

fn energy() -> toml::Table {
    table(include_str!("../data/cooler_energy.toml"))
}

fn food_hours(key: &str) -> f64 {
    number(&table(include_str!("../data/food_safety.toml"))[key]["hours"])
}

const TEST_ROOM: Celsius = Celsius(290.0 / 9.0); // 90 °F

/// A cooler of these litres as it is tested: doors shut, inside as in the test.
fn as_tested(fridge_l: f64, freezer_l: f64, kwh_a_year: f64) -> Cooler {
    let part = |litres: f64, which: usize| {
        (litres > 0.0).then(|| Compartment {
            volume: Litres(litres),
            contents: Kilograms(0.2 * litres),
            set: Celsius(TEST_INSIDE_C[which]),
        })
    };
    Cooler {
        label: Uncertain::exact(WattHours(1000.0 * kwh_a_year)),
        label_room: TEST_ROOM,
        fridge: part(fridge_l, 0),
        freezer: part(freezer_l, 1),
        band: Kelvins(0.0),
        room: Room::At(TEST_ROOM),
        door_openings: 0,
        food: FoodRule::Above { limit: Celsius(4.0), hours: Hours(2.0) },
    }
}

/// Takes a step with power for a share of it; says whether the rule of the plan declares food lost in it.
fn settle(state: &mut CoolerState<1>, plan: &CoolerPlan, given: f64, step: u32, step_h: f64) -> bool {
    let turn = Turn { takes: &[u64::MAX], now: step as usize, first: &[0], step_h };
    state.settle(plan, &[given], &turn);
    state.lost_now()[0]
}

/// Watt-hours that a cooler of `watts` takes in so many hours with power always on.
fn powered_wh(cooler: &Cooler, watts: f64, steps: u32, step_h: f64) -> f64 {
    let plan = CoolerPlan::new(cooler, watts);
    let mut state = CoolerState::<1>::new(&plan, &[1.0], &[0.5], step_h);
    let mut sum = 0.0;
    for step in 0..steps {
        sum += state.asks(&plan, &[-99.0], step_h)[0] * watts * step_h;
        settle(&mut state, &plan, 1.0, step, step_h);
    }
    sum
}

#[test]
fn a_cooler_takes_its_labels_energy_under_test_conditions() {
    let file = energy();
    let rows = file["limit_examples"]["rows"].as_array().expect("rows");
    assert_eq!(rows.len(), 15);
    for row in rows {
        let (cubic_feet, kwh) = (number(&row[1]), number(&row[2]));
        let litres = cubic_feet * 28.316_846_592;
        // All fridge, all freezer and half of each by adjusted volume, at two step lengths.
        for (fridge, freezer) in [(litres, 0.0), (0.0, litres / 1.76), (litres / 2.0, litres / 3.52)] {
            let cooler = as_tested(fridge, freezer, kwh);
            for (steps, step_h) in [(8760, 1.0), (2 * 8760, 0.5)] {
                let year = powered_wh(&cooler, 150.0, steps, step_h);
                // Sums of up to 17,520 steps round.
                assert!((year / (1000.0 * kwh) - 1.0).abs() < 1e-10, "{row}: {year} Wh in a year");
            }
        }
    }
}

#[test]
fn a_cooler_room_leaks_less_by_the_closed_form_and_saves_at_least_that() {
    let file = energy();
    let rows = file["room_scaling"]["rows"].as_array().expect("rows");
    assert_eq!(rows.len(), 7);
    let plan = CoolerPlan::new(&as_tested(300.0, 0.0, 277.0), 90.0);
    let heat = |room_c: f64| plan.holding_share(room_c, 1.0) * plan.cooling_w(room_c);
    let electricity = |room_c: f64| plan.holding_share(room_c, 1.0) * plan.compressor_w;
    for row in rows {
        let (room_c, expected) = (number(&row[0]), number(&row[1]));
        // Five decimals are printed; the row of the test room is rounded to 1e-4 K of 28.3 K.
        let leak = heat(room_c) / heat(TEST_ROOM.0);
        assert!((leak - expected).abs() < 1e-5, "{room_c} °C: {leak}, not {expected}");
        assert!(electricity(room_c) / electricity(TEST_ROOM.0) <= expected + 1e-5, "{room_c} °C");
    }
    // A litre of freezer counts 1.76 times (10 CFR 430, from memory): its share of the leak in the test.
    let both = CoolerPlan::new(&as_tested(100.0, 100.0, 300.0), 90.0);
    let leak = |k: usize| both.parts[k].map_or(0.0, |p| p.walls_w_per_k * (TEST_ROOM.0 - p.set_c));
    // 1.76 is rounded to two decimals.
    assert!((leak(1) / leak(0) - 1.76).abs() < 0.005, "{}", leak(1) / leak(0));
}

/// A scenario that lacks its loads.
fn before_the_loads() -> &'static str {
    let around = include_str!("../data/smallest.toml");
    &around[..around.find("[[load]]").expect("a load")]
}

/// The coolers of the library as a household writes them.
fn library(change: impl Fn(&mut Cooler)) -> Vec<(String, f64, Cooler)> {
    let mut found = Vec::new();
    for appliance in appliances::all() {
        let load = format!("[[load]]\nlike = \"{}\"\npriority = \"vital\"\n", appliance.name);
        let text = before_the_loads().replace("\"500 W\"", "\"5 kW\"") + &load;
        let (scenario, _, _) = read(&Source::new("test.toml", text)).expect("a sound scenario");
        let Load { name, watts, pattern, .. } = scenario.loads[0].clone();
        if let Pattern::Cooler(mut cooler) = pattern {
            change(&mut cooler);
            found.push((name, watts.value.0, cooler));
        }
    }
    found
}

/// Hours after the power fails at which something holds for a part for the first time.
fn hours_until(cooler: &Cooler, watts: f64, phase: f64, holds: impl Fn(&CoolerState<1>, &CoolerPlan) -> bool) -> f64 {
    let plan = CoolerPlan::new(cooler, watts);
    let step_h = 1.0 / 60.0;
    let mut state = CoolerState::<1>::new(&plan, &[1.0], &[phase], step_h);
    for step in 0..60 * 24 * 60 {
        state.asks(&plan, &[-99.0], step_h);
        settle(&mut state, &plan, 0.0, step, step_h);
        if holds(&state, &plan) {
            return f64::from(step + 1) * step_h;
        }
    }
    f64::INFINITY
}

fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// The agencies speak of a household's machines: from 200 litres on.
fn of_a_household(cooler: &Cooler) -> bool {
    [cooler.fridge, cooler.freezer].iter().flatten().map(|part| part.volume.0).sum::<f64>() >= 200.0
}

/// Hours until the first ice melts in a shut freezer (until then it holds its temperature), for a share of its label.
fn frozen_hours(fill: f64, of_label: f64) -> Vec<f64> {
    let shut = library(|cooler| {
        cooler.door_openings = 0;
        cooler.room = Room::At(Celsius(21.0));
        cooler.label.value.0 *= of_label;
        if let Some(freezer) = &mut cooler.freezer {
            freezer.contents = Kilograms(fill * FULL_KG_PER_LITRE * freezer.volume.0);
        }
    });
    let freezers = shut.iter().filter(|(_, _, cooler)| cooler.fridge.is_none() && of_a_household(cooler));
    freezers
        .map(|(name, watts, cooler)| {
            let h =
                hours_until(cooler, *watts, 0.5, |state, plan| state.inside_c(plan, 0)[1].is_some_and(|c| c > -1.001));
            println!("{name}, {fill} full, {of_label} of its label: begins to thaw after {h:.1} h");
            h
        })
        .collect()
}

#[test]
fn a_full_freezer_stays_frozen_for_about_two_days_and_a_half_full_one_for_one() {
    let (full_h, half_h) = (food_hours("freezer_full"), food_hours("freezer_half_full"));
    assert_eq!((full_h, half_h), (48.0, 24.0));
    // The library has the most that the law allows; freezers are sold with a good deal less, here down to 0.7 of it.
    let (full, half) = (frozen_hours(1.0, 1.0), frozen_hours(0.5, 1.0));
    assert_eq!(full.len(), 3, "household freezers of the library");
    for (full, half) in full.iter().zip(&half) {
        assert!((full / half - full_h / half_h).abs() < 0.02, "half the food, half the time: {full} and {half} h");
    }
    // Said in days: two and one.
    assert_eq!((middle(full.clone()) / 24.0).round(), 2.0, "{full:?}");
    assert_eq!((middle(half.clone()) / 24.0).round(), 1.0, "{half:?}");
    // What is sold lies on both sides of the figure.
    let (best, best_half) = (frozen_hours(1.0, 0.7), frozen_hours(0.5, 0.7));
    assert!(middle(full.clone()) < full_h && full_h < middle(best.clone()), "{full:?} to {best:?}");
    assert!(middle(half.clone()) < half_h && half_h < middle(best_half.clone()), "{half:?} to {best_half:?}");
}

#[test]
fn a_closed_fridge_keeps_its_food_for_about_four_hours() {
    let hours = food_hours("fridge_closed");
    // Two pieces of advice that must agree for an ordinary fridge: discard after four hours without power; discard what
    // has been above 40 °F for two.
    assert_eq!((hours, food_hours("discard_without_power"), food_hours("discard_above_limit")), (4.0, 4.0, 2.0));
    let mut lost = Vec::new();
    for room_c in [18.0, 21.0, 25.0] {
        let shut = library(|cooler| {
            cooler.door_openings = 0;
            cooler.room = Room::At(Celsius(room_c));
            cooler.food = FoodRule::Above { limit: Celsius(40.0 / 9.0), hours: Hours(2.0) };
        });
        let fridges = shut.iter().filter(|(_, _, cooler)| cooler.fridge.is_some() && of_a_household(cooler));
        for (name, watts, cooler) in fridges {
            let h = hours_until(cooler, *watts, 0.5, |state, plan| {
                state.food(plan, 0)[0].is_some_and(|food| food.lost_step[0].is_some())
            });
            println!("{name} at {room_c} °C: lost after {h:.1} h");
            // "About" four hours: a factor of one and a half either way, no source; the middle one must be four.
            assert!((h / hours).ln().abs() < 1.5_f64.ln(), "{name} at {room_c} °C: {h} h");
            lost.push(h);
        }
    }
    assert_eq!(lost.len(), 18);
    assert_eq!(middle(lost.clone()).round(), hours, "{lost:?}");
    // A small box warms faster, and no rule of thumb may hide it.
    let small = library(|_| {});
    let (_, watts, cooler) = small.iter().find(|(name, _, _)| name == "12 V cooler, 30 litres").expect("a box");
    let h = hours_until(cooler, *watts, 0.5, |state, plan| {
        state.food(plan, 0)[0].is_some_and(|f| f.lost_step[0].is_some())
    });
    // Clearly less than the four hours of the rule: by a quarter at least, no source.
    assert!(h < 3.0, "{h}");
}

#[test]
fn without_a_thermometer_the_agencies_hours_count() {
    let hours = |part: usize, fill: f64| {
        let mut cooler = as_tested(200.0, 200.0, 300.0);
        if let Some(freezer) = &mut cooler.freezer {
            freezer.contents = Kilograms(fill * FULL_KG_PER_LITRE * freezer.volume.0);
        }
        hours_until(&cooler, 150.0, 0.5, |state, plan| {
            state.food(plan, 0)[part].is_some_and(|food| food.lost_step[1].is_some())
        })
    };
    // The clock has run out in the first minute after the hours; up to 2,880 sixtieths are added, which round to 1e-12 h. The
    // tolerance only has to be far below a minute.
    let minute = 1.0 / 60.0;
    assert!((hours(0, 1.0) - food_hours("fridge_closed") - minute).abs() < 1e-6);
    assert!((hours(1, 1.0) - food_hours("freezer_full") - minute).abs() < 1e-6);
    assert!((hours(1, 0.5) - food_hours("freezer_half_full") - minute).abs() < 1e-6);
}

#[test]
fn without_a_word_of_the_owner_the_sooner_clock_decides() {
    // A shut freezer with food for half of it and no power at all: 24 hours (USDA FSIS), however long its ice would last.
    let (scenario, _, _) = read(&Source::new(
        "test.toml",
        format!(
            "{}[[load]]\nname = \"freezer\"\noutlet = \"ac\"\npriority = \"vital\"\nwatts = \"90 W\"\nlabel = \"350 kWh a \
             year\"\nfreezer_volume = \"400 L\"\nfreezer_contents = \"100 kg\"\n",
            before_the_loads()
        ),
    ))
    .expect("a sound scenario");
    let Pattern::Cooler(freezer) = &scenario.loads[0].pattern else { panic!("a cooler") };
    assert_eq!(freezer.food, FoodRule::Sooner);
    let judged_h = |cooler: &Cooler| {
        let plan = CoolerPlan::new(cooler, 90.0);
        let mut state = CoolerState::<1>::new(&plan, &[1.0], &[0.5], 0.25);
        let lost = |step| {
            state.asks(&plan, &[21.0], 0.25);
            settle(&mut state, &plan, 0.0, step, 0.25)
        };
        (0..400).position(lost).map_or(f64::INFINITY, |step| 0.25 * (step + 1) as f64)
    };
    assert_eq!(judged_h(freezer), food_hours("freezer_half_full") + 0.25);
    // With somebody who looks at a thermometer its ice decides, which lasts longer.
    let watched = Cooler { food: FoodRule::Above { limit: Celsius(4.0), hours: Hours(2.0) }, ..freezer.clone() };
    assert!(judged_h(&watched) > 30.0, "{}", judged_h(&watched));
    // A fridge: four hours, or fewer where it warms fast.
    let fridge = Cooler { fridge: freezer.freezer, freezer: None, ..freezer.clone() };
    let fridge = Cooler { fridge: fridge.fridge.map(|part| Compartment { set: Celsius(3.0), ..part }), ..fridge };
    assert!(judged_h(&fridge) <= food_hours("fridge_closed") + 0.25, "{}", judged_h(&fridge));
}

#[test]
fn power_makes_good_the_hours_without_it_only_while_the_food_is_cold() {
    // Power for half of every hour leaves this fridge at some 9 °C, its compressor being small: half an hour in each counts.
    let mut cooler = as_tested(100.0, 0.0, 300.0);
    cooler.food = FoodRule::WithoutPower { hours: Hours(4.0) };
    let run = |share: f64| {
        let plan = CoolerPlan::new(&cooler, 20.0);
        let mut state = CoolerState::<1>::new(&plan, &[1.0], &[0.5], 0.25);
        let mut lost = None;
        for step in 0..400 {
            state.asks(&plan, &[21.0], 0.25);
            if settle(&mut state, &plan, share, step, 0.25) {
                lost.get_or_insert(0.25 * f64::from(step + 1));
            }
        }
        (lost, state.inside_c(&plan, 0)[0].expect("a fridge"))
    };
    let (lost, inside_c) = run(0.5);
    assert!(inside_c > 6.0 && lost.is_some_and(|h| (8.0..=9.0).contains(&h)), "{lost:?} at {inside_c} °C");
    assert_eq!(run(1.0).0, None);
}

#[test]
fn above_ninety_degrees_fahrenheit_an_hour_of_warmth_counts_twice() {
    // USDA, in food_safety.toml: two hours above 40 °F, one hour in a room above 90 °F.
    let safe = &table(include_str!("../data/food_safety.toml"))["discard_above_limit"];
    let (two, one) = (number(&safe["hours"]), number(&safe["hours_above_90_fahrenheit_ambient"]));
    let warm_h = |room_c: f64| {
        let mut cooler = as_tested(200.0, 0.0, 300.0);
        cooler.room = Room::At(Celsius(room_c));
        let above = |hours: f64| {
            let cooler =
                Cooler { food: FoodRule::Above { limit: Celsius(4.0), hours: Hours(hours) }, ..cooler.clone() };
            hours_until(&cooler, 90.0, 0.5, |state, plan| {
                state.food(plan, 0)[0].is_some_and(|food| food.lost_step[0].is_some())
            })
        };
        above(two) - above(0.0)
    };
    // Steps of a minute are 0.017 h.
    assert!((warm_h(TEST_ROOM.0) - two).abs() < 0.02 && (warm_h(TEST_ROOM.0 + 0.5) - one).abs() < 0.02);
}

#[test]
fn shorter_steps_tell_the_same() {
    // Power for the first half of every second step of four hours, in a warm room: halving the step halves the error.
    let cooler = as_tested(200.0, 80.0, 300.0);
    let plan = CoolerPlan::new(&cooler, 90.0);
    let run = |parts: u32| {
        let step_h = 1.0 / f64::from(parts);
        let mut state = CoolerState::<1>::new(&plan, &[1.0], &[0.5], step_h);
        let mut drawn_wh = 0.0;
        for step in 0..48 * parts {
            let share = f64::from(u8::from((step / parts) % 8 < 2));
            drawn_wh += state.asks(&plan, &[0.0], step_h)[0] * 90.0 * share * step_h;
            settle(&mut state, &plan, share, step, step_h);
        }
        let [Some(fridge), Some(freezer)] = state.food(&plan, 0) else { panic!("two parts") };
        (drawn_wh, fridge.warmest_c, freezer.warmest_c)
    };
    // Common practice, no source, for what hourly steps may cost: 2 % of a day's energy and 0.1 K, the last digit that is told.
    let (hour, minute) = (run(1), run(60));
    let quarter = run(4);
    assert!((hour.0 / minute.0 - 1.0).abs() < 0.02, "{hour:?} {minute:?}");
    assert!((hour.1 - minute.1).abs() < 0.1 && (hour.2 - minute.2).abs() < 0.1, "{hour:?} {minute:?}");
    assert!((quarter.0 - minute.0).abs() < 0.5 * (hour.0 - minute.0).abs() + 1e-6, "{hour:?} {quarter:?} {minute:?}");
}
