//! What is asked of station and generator in a part of a step, by hand.

use super::*;
use crate::engine::tests::same;

/// AC loads of 60, 50 and no watts and others elsewhere, each class with a variance of its own.
fn demand() -> Demand {
    Demand {
        watts: [[60.0, 5.0, 1.0], [50.0, 6.0, 2.0], [0.0, 7.0, 3.0]],
        variance_w2: [10.0, 20.0, 30.0],
        plugged: [[true, true, false], [true, false, true], [true, true, true]],
    }
}

fn direct(carries: [bool; CLASSES], most_w: f64) -> Direct {
    Direct { carries, most_w, through: false }
}

fn part(on_mains: bool, ac_on: bool, direct: Option<Direct>) -> Part {
    Part { share: 0.5, on_mains, wall_w: 0.0, ac_on, direct }
}

#[test]
fn a_demand_in_lanes_is_the_demand() {
    assert_eq!(Wanted::from(&demand()).demand(), demand());
    assert_eq!(Wanted::<1>::default().demand(), Demand::default());
}

#[test]
fn a_generator_serves_what_matters_most_first() {
    let given = |carries: [bool; CLASSES], most_w: f64| {
        let ([watts], share) = Wanted::from(&demand()).given_directly(&direct(carries, most_w));
        (watts, share.map(|[share]| share))
    };
    // Enough for both, just enough, and too little for the second or for either; a class that asks for nothing lacks nothing.
    assert_eq!(given([true; 3], 150.0), (110.0, [1.0; 3]));
    assert_eq!(given([true; 3], 110.0), (110.0, [1.0; 3]));
    assert_eq!(given([true; 3], 80.0), (80.0, [1.0, 0.4, 1.0]));
    assert_eq!(given([true; 3], 15.0), (15.0, [0.25, 0.0, 1.0]));
    // What it does not carry it gives nothing, and takes no room.
    assert_eq!(given([true, false, false], 150.0), (60.0, [1.0; 3]));
    assert_eq!(given([false, true, true], 40.0), (40.0, [1.0, 0.8, 1.0]));
    // Two lanes do not mix.
    let mut wanted = Wanted::<2>::default();
    wanted.watts[0][AC] = [60.0, 200.0];
    wanted.watts[1][AC] = [30.0, 10.0];
    let (watts, share) = wanted.given_directly(&direct([true; 3], 75.0));
    assert_eq!(watts, [75.0, 75.0]);
    for (told, by_hand) in share.iter().zip([[1.0, 0.375], [0.5, 0.0], [1.0, 1.0]]) {
        told.iter().zip(by_hand).for_each(|(a, b)| same(*a, b));
    }
}

#[test]
fn in_a_part_of_a_step_the_station_is_asked_for_the_rest() {
    let asked = |part: Part, idles: bool| Wanted::from(&demand()).in_part(&part, idles).demand();
    assert_eq!(asked(part(false, true, None), false), demand());
    // On the mains nothing is asked for, and everything stays plugged in.
    assert_eq!(asked(part(true, true, None), false), Demand { plugged: demand().plugged, ..Demand::default() });
    // An outlet that is off: AC alone asks for nothing, and its converter is off, but where that is not known.
    let mut off = demand();
    off.variance_w2 = [0.0; CLASSES];
    off.watts.iter_mut().for_each(|of_class| of_class[AC] = 0.0);
    assert_eq!(asked(part(false, false, None), true), off);
    off.plugged.iter_mut().for_each(|of_class| of_class[AC] = false);
    assert_eq!(asked(part(false, false, None), false), off);
    // Loads that a generator carries ask the station for nothing, and stay plugged in.
    let mut carried = demand();
    (carried.watts[0][AC], carried.watts[2][AC]) = (0.0, 0.0);
    (carried.variance_w2[0], carried.variance_w2[2]) = (0.0, 0.0);
    assert_eq!(asked(part(false, true, Some(direct([true, false, true], 1.0))), false), carried);
}
