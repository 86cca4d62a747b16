//! Changes that are tried, and what each makes of a plan.

use super::*;
use crate::engine::plan::Sky;
use crate::scenario::{Source, read};
use crate::weather::world;

const KIT: &str = concat!(
    keys!(title = "habits"),
    here!(),
    section!("outage", month = "January", lasts = "4 days", starts_charged = "80 %"),
    section!("station", rated_capacity = "1 kWh"),
    section!("station.inverter", rated = "300 W"),
    section!("station.dc_outlet", limit = "120 W"),
    section!("station.solar_input", limit = "200 W"),
    section!("station.wall_charger", limit = "100 W"),
    section!("generator", limit = "1 kW", hours = "22:00-24:00"),
    entry!(
        "panel",
        name = "balcony",
        rated = "100 W",
        tilt = "30°",
        facing = "south",
        out: "{ hours = \"10:00-14:00\" }"
    ),
    load!("fridge", "ac", "vital", "30 W"),
    load!("router", "dc", "vital", "12 W"),
    load!("pump for a person", "dc", "useful", "10 W", medical: true),
    load!("lamp", "dc", "spare", "20 W", hours = "18:00-22:00", off_below = "40 %"),
);

fn kit() -> (Scenario, Plan) {
    let (scenario, _, _) = read(&Source::new("t.toml", KIT)).unwrap_or_else(|p| panic!("{p:?}"));
    let climate = world::lookup(44.2, -72.6, None).expect("land");
    let plan = Plan::compile(&scenario, &Sky::Climate(climate), 60).expect("a plan");
    (scenario, plan)
}

#[test]
fn habits_are_tried_before_things_are_bought_and_none_with_a_medical_device() {
    let (scenario, plan) = kit();
    let tried = Change::worth_trying(&scenario, &plan);
    let words: Vec<String> = tried.iter().map(crate::report::told::Words::words).collect();
    let has = |what: &str| words.iter().any(|word| word == what);
    for what in [
        "router off from 23:00 to 06:00, though it is vital",
        "lamp left off",
        "lamp off below 60 % (now 40 %)",
        "the generator an hour longer",
        "the generator 3 h earlier (from 19:00)",
        "the generator 3 h later (from 01:00)",
        "balcony out an hour earlier and an hour longer",
        "balcony tilted to 50°",
        "the battery full at the beginning",
        "one more 100 W panel beside the first",
        "a quarter more battery",
    ] {
        assert!(has(what), "{what}: {words:?}");
    }
    assert!(!words.iter().any(|word| word.contains("person") || word.starts_with("fridge off")), "{words:?}");
}

#[test]
fn hours_are_moved_by_the_clock_and_past_midnight() {
    let (scenario, plan) = kit();
    let hours = |plan: &Plan| (0..24).filter(|at| plan.wall_w[*at] > 0.0).collect::<Vec<usize>>();
    let of = |change: Change| change.apply_to(&scenario, &plan);
    assert_eq!(hours(&plan), [22, 23]);
    assert_eq!(hours(&of(Change::GeneratorLonger { hours_h: 1.0 })), [0, 22, 23]);
    assert_eq!(hours(&of(Change::GeneratorAt { later_h: 3.0, starts_min: 60 })), [1, 2]);
    assert_eq!(hours(&of(Change::GeneratorAt { later_h: -3.0, starts_min: 19 * 60 })), [19, 20]);
    // Seven hours of the night are 7/24 of a steady load, and its share of the day is gone.
    let rested = of(Change::OffAtNight { load: 1, name: "router".into(), vital: true });
    assert!((rested.loads[1].day_wh() - 12.0 * 17.0).abs() < 1e-9, "{}", rested.loads[1].day_wh());
    assert_eq!(rested.loads[1].profile.watts[5], 0.0);
    assert_eq!((rested.loads[1].profile.watts[6], rested.loads[1].profile.watts[22]), (12.0, 12.0));
}

#[test]
fn a_panel_in_another_light_is_what_the_file_with_that_light_says() {
    let (scenario, plan) = kit();
    let written = |from: &str, to: &str| {
        assert!(KIT.contains(from));
        let text = KIT.replace(from, to);
        let (scenario, _, _) = read(&Source::new("t.toml", text)).unwrap_or_else(|p| panic!("{p:?}"));
        let climate = world::lookup(44.2, -72.6, None).expect("land");
        Plan::compile(&scenario, &Sky::Climate(climate), 60).expect("a plan").arrays[0].geometry.clone()
    };
    let steeper = Change::Steeper { array: 0, name: "balcony".into(), tilt_deg: 50.0 };
    let longer = Change::OutLonger { array: 0, name: "balcony".into() };
    let of = |change: Change| change.apply_to(&scenario, &plan).arrays[0].geometry.clone();
    assert_eq!(of(steeper), written("30°", "50°"));
    assert_eq!(of(longer), written("10:00-14:00", "09:00-15:00"));
    assert_ne!(plan.arrays[0].geometry, written("30°", "50°"));
}

#[test]
fn a_vital_thing_may_be_given_up_but_no_device_no_food_and_nothing_that_keeps_the_house() {
    let (scenario, plan) = kit();
    let given = |scenario: &Scenario, plan: &Plan| {
        let tried = Change::worth_trying(scenario, plan).into_iter().filter(|change| change.costs() == Costs::GivesUp);
        tried.map(|change| crate::report::told::Words::words(&change)).collect::<Vec<_>>()
    };
    assert_eq!(given(&scenario, &plan), ["router left off, though it is vital"]);
    // Where nothing else is vital nothing is left to ride through with.
    let (mut alone, mut sole) = (scenario.clone(), plan.clone());
    (alone.loads[0].priority, sole.loads[0].class) = (crate::scenario::model::Priority::Spare, 2);
    assert!(given(&alone, &sole).is_empty());
    // Told after what is free, and one of them alone.
    assert!(Costs::Nothing < Costs::GivesUp && Costs::GivesUp < Costs::Fuel);
}
