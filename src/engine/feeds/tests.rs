//! When a generator feeds loads, and what it leaves to the charger, by hand.

use super::*;
use crate::engine::tests::{load, plan, same};

/// 100 W, of which 60 for AC loads at the most, a charger of 80 W, and 30 W that loads may draw at once.
fn feeds(stretches: Vec<(f64, bool)>) -> FeedsPlan {
    let runs = stretches.iter().filter(|(_, on)| *on).map(|(share, _)| share).sum();
    FeedsPlan {
        through: true,
        limit_w: 100.0,
        up_to_w: 60.0,
        charger_w: 80.0,
        stretches: vec![stretches, Vec::new()],
        runs: vec![runs, 0.0],
        carries: [true, true, false],
        at_once_w: [0.0; CLASSES],
        reserve_w: vec![30.0, 0.0],
        feeds_any: true,
    }
}

/// Share of the step, whether it feeds loads, and what the charger has \[W\].
fn parts(plan: &FeedsPlan, asked_w: f64, fuel: f64) -> Vec<(f64, bool, f64)> {
    let mut fed = Fed::<2>::default();
    fed.begin();
    fed.step(plan, 0, &[0.0, asked_w], &[0.0, fuel]);
    assert!(fed.parts[0].is_empty());
    let direct = Direct { carries: [true, true, false], most_w: 60.0, through: true };
    let told = |part: &Part| {
        assert!(!part.on_mains && part.ac_on && part.direct.is_none_or(|of| of == direct));
        ((part.share * 1e9).round() / 1e9, part.direct.is_some(), part.wall_w)
    };
    fed.parts[1].iter().map(told).collect()
}

#[test]
fn it_runs_in_its_minutes_as_long_as_there_is_fuel() {
    let once = feeds(vec![(0.25, false), (0.5, true), (0.25, false)]);
    assert_eq!(parts(&once, 40.0, 1.0), [(0.25, false, 0.0), (0.5, true, 60.0), (0.25, false, 0.0)]);
    assert_eq!(
        parts(&once, 40.0, 0.5),
        [(0.25, false, 0.0), (0.25, true, 60.0), (0.25, false, 0.0), (0.25, false, 0.0)]
    );
    assert!(parts(&once, 40.0, 0.0).is_empty());
    // The charger has what loads may draw at once left over, or what they do.
    assert_eq!(parts(&once, 10.0, 1.0)[1].2, 70.0);
    assert_eq!(
        [once.charger_beside_w(5.0), once.charger_beside_w(45.0), once.charger_beside_w(120.0)],
        [80.0, 55.0, 0.0]
    );
    // Three quarters of the fuel of two runs: all of the first, half of the second.
    let twice = feeds(vec![(0.3, true), (0.4, false), (0.3, true)]);
    assert_eq!(
        parts(&twice, 40.0, 0.75),
        [(0.3, true, 60.0), (0.4, false, 0.0), (0.15, true, 60.0), (0.15, false, 0.0)]
    );
    assert!(once.is_on(0) && !once.is_on(1));
    assert!(!FeedsPlan { feeds_any: false, ..once.clone() }.is_on(0));
    // In a day half an hour of 30 W for loads and 70 for the charger.
    assert_eq!(once.most(1.0), (50.0, 100.0));
    assert_eq!(once.most(0.5), (25.0, 100.0));
}

#[test]
fn what_it_gave_is_booked_by_its_share_of_the_step() {
    let mut fed = Fed::<4>::default();
    fed.begin();
    fed.book::<2>(1, &[u64::MAX, 0], 0.25, &[40.0, 40.0]);
    fed.book::<2>(1, &[u64::MAX, u64::MAX], 0.5, &[20.0, 60.0]);
    assert_eq!((fed.step_w, fed.sum_w), ([0.0, 0.0, 20.0, 30.0], [0.0, 0.0, 20.0, 30.0]));
}

/// 60 W known to 10 % (95 %) are at most 66 W; 50 W from nine to ten, 20 W spare. In the hours of the generator, nine to eleven.
#[test]
fn it_carries_the_classes_that_fit_at_once() {
    let of = |name: &str, priority: &str, more: &str| load(name, "ac", more).replace("vital", priority);
    let loads = of("pump", "vital", "watts = \"60 W ± 10 %\"\nduty = \"50 %\"")
        + &of("kettle", "useful", "watts = \"50 W ± 0 W\"\nhours = \"09:00-10:00\"")
        + &of("belt", "spare", "watts = \"20 W ± 0 W\"")
        + &load("radio", "dc", "watts = \"70 W\"");
    let loads = plan(&loads).loads;
    let mind = |up_to_w: f64, through: bool| {
        let mut plan = feeds(Vec::new());
        (plan.through, plan.up_to_w) = (through, up_to_w);
        plan.stretches = (0..24).map(|at| if (9..11).contains(&at) { vec![(1.0, true)] } else { Vec::new() }).collect();
        plan.runs = plan.stretches.iter().map(|step| if step.is_empty() { 0.0 } else { 1.0 }).collect();
        plan.reserve_w = vec![7.0; 24];
        plan.mind(&loads);
        plan
    };
    let all = mind(136.0, false);
    all.at_once_w.iter().zip([66.0, 116.0, 136.0]).for_each(|(a, b)| same(*a, b));
    let reserve_of = |plan: &FeedsPlan| [8, 9, 10, 11].map(|at| (plan.reserve_w[at] * 1e6).round() / 1e6);
    assert_eq!((all.carries, reserve_of(&all)), ([true; 3], [0.0, 136.0, 86.0, 0.0]));
    let two = mind(135.9, false);
    assert_eq!((two.carries, reserve_of(&two)), ([true, true, false], [0.0, 116.0, 66.0, 0.0]));
    assert_eq!(mind(116.0, false).carries, [true, true, false]);
    assert_eq!(mind(115.9, false).carries, [true, false, false]);
    let none = mind(65.9, false);
    assert!(none.carries == [false; 3] && !none.is_on(9) && all.is_on(9));
    // Through the station all or none.
    assert_eq!((mind(136.0, true).carries, mind(135.9, true).carries), ([true; 3], [false; 3]));
    assert!(two.carries_load(&loads[0]) && !two.carries_load(&loads[2]) && !two.carries_load(&loads[3]));
    assert!(two.asks_in_its_hours(&loads[1]) && !two.asks_in_its_hours(&loads[3]));
    let mut early = loads[1].clone();
    early.rest_between(9.0, 10.0);
    assert!(!two.asks_in_its_hours(&early));
}
