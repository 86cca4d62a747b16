//! When the AC outlet is on, by hand.

use super::*;
use crate::engine::tests::{load, plan, same};

fn outlet(sleeps: bool, alone: bool) -> AcOutlet {
    AcOutlet {
        least_w: 10.0,
        sleeps,
        off_after_h: 1.5,
        assumed: false,
        ups: true,
        comes_back: false,
        home: (0..24).map(|at| !alone || (8..20).contains(&at)).collect(),
        alone,
        matters: true,
    }
}

fn state(outlet: &AcOutlet) -> AcState {
    AcState::begin(outlet, &Rig { least_ac_w: 10.0, ac_off_after_h: 1.5, ..Rig::ideal(1.0, 1.0) })
}

fn steady(steady_w: f64) -> OnAc {
    OnAc { steady_w, ..OnAc::default() }
}

/// Stretches of so many hours, on or off, through steps of the day of an hour each; neighbours that are alike as one.
fn stretches(state: &mut AcState, outlet: &AcOutlet, asked: &OnAc, steps: std::ops::Range<usize>) -> Vec<(f64, bool)> {
    let mut out: Vec<(f64, bool)> = Vec::new();
    for at in steps {
        state.take(outlet, asked, (at % 24, 1.0), &mut |hours_h, on| match out.last_mut() {
            Some((last_h, was)) if *was == on => *last_h += hours_h,
            _ => out.push((hours_h, on)),
        });
    }
    out
}

#[track_caller]
fn are(told: &[(f64, bool)], by_hand: &[(f64, bool)]) {
    assert_eq!(told.len(), by_hand.len(), "{told:?}");
    for ((told_h, told_on), (hours_h, on)) in told.iter().zip(by_hand) {
        same(*told_h, *hours_h);
        assert_eq!(told_on, on, "{told:?}");
    }
}

/// An hour and a half under less, an hour until somebody misses it.
#[test]
fn under_too_little_it_is_on_until_it_goes_off_and_off_until_it_is_missed() {
    let open = outlet(false, false);
    let of = |asked: &OnAc| stretches(&mut state(&open), &open, asked, 0..6);
    are(&of(&steady(9.9)), &[(1.5, true), (1.0, false), (1.5, true), (1.0, false), (1.0, true)]);
    are(&of(&steady(10.0)), &[(6.0, true)]);
    // Nobody misses what asks for nothing.
    are(&of(&steady(0.0)), &[(1.5, true), (4.5, false)]);
    // One that sleeps is on at once for whatever wakes it: it never has to be switched on.
    let sleeping = outlet(true, false);
    are(&stretches(&mut state(&sleeping), &sleeping, &steady(1.0), 0..6), &[(6.0, true)]);
    // More in between begins its time anew.
    let mut now = state(&open);
    are(&stretches(&mut now, &open, &steady(4.0), 0..1), &[(1.0, true)]);
    are(&stretches(&mut now, &open, &steady(40.0), 1..2), &[(1.0, true)]);
    are(&stretches(&mut now, &open, &steady(4.0), 2..4), &[(1.5, true), (0.5, false)]);
}

/// Somebody is there from eight to eight. Off since half past two, it is switched on by whoever comes home; and what asks anew by who
/// wants it.
#[test]
fn an_outlet_waits_for_somebody_to_come_home() {
    let alone = outlet(false, true);
    let mut now = state(&alone);
    are(&stretches(&mut now, &alone, &steady(4.0), 1..10), &[(1.5, true), (5.5, false), (1.5, true), (0.5, false)]);
    let mut anew = state(&alone);
    are(&stretches(&mut anew, &alone, &steady(0.0), 1..10), &[(1.5, true), (7.5, false)]);
    are(&stretches(&mut anew, &alone, &steady(4.0), 10..12), &[(1.5, true), (0.5, false)]);
}

#[test]
fn what_tripped_or_was_plugged_over_waits_for_a_hand_where_there_is_none_at_times() {
    let alone = outlet(false, true);
    let strong = steady(40.0);
    let after = |outlet: &AcOutlet, set: fn(&mut AcState)| {
        let mut now = state(outlet);
        set(&mut now);
        stretches(&mut now, outlet, &strong, 6..10)
    };
    let tripped: fn(&mut AcState) = |now| now.tripped = true;
    let left: fn(&mut AcState) = |now| now.left = true;
    are(&after(&alone, tripped), &[(2.0, false), (2.0, true)]);
    are(&after(&alone, left), &[(2.0, false), (2.0, true)]);
    are(&after(&alone, |_| ()), &[(4.0, true)]);
    are(&after(&AcOutlet { comes_back: true, ..alone.clone() }, tripped), &[(4.0, true)]);
    are(&after(&AcOutlet { comes_back: true, ..alone.clone() }, left), &[(2.0, false), (2.0, true)]);
    are(&after(&outlet(false, false), tripped), &[(4.0, true)]);
    are(&after(&outlet(false, false), left), &[(4.0, true)]);
    // As the mains fails: one without ups, where nobody may be there, is off.
    for (ups, alone, is_off) in [(true, true, false), (false, true, true), (false, false, false), (true, false, false)]
    {
        let outlet = AcOutlet { ups, ..outlet(false, alone) };
        assert_eq!(state(&outlet).off, is_off);
        let mut again = AcState { off: !is_off, below_h: 0.7, off_h: 0.3, tripped: true, left: true, ..state(&outlet) };
        again.begin_anew(&outlet);
        assert_eq!(
            (again.off, again.below_h, again.off_h, again.tripped, again.left),
            (is_off, 0.0, f64::INFINITY, false, false)
        );
    }
}

#[test]
fn while_a_generator_feeds_loads_the_outlet_rests() {
    for (through, ups, left) in [(true, true, false), (true, false, true), (false, true, true), (false, false, true)] {
        let outlet = AcOutlet { ups, ..outlet(false, true) };
        let mut now = AcState { below_h: 0.7, off_h: 0.3, tripped: true, off: false, ..state(&outlet) };
        assert!(now.rests(&outlet, 3, through));
        assert_eq!((now.below_h, now.off_h, now.tripped, now.left), (0.0, f64::INFINITY, false, left));
        // One that is off is switched on by who is there.
        now.off = true;
        assert!(!now.rests(&outlet, 3, through) && now.rests(&outlet, 9, through));
    }
}

/// Under 10 W: what draws the same throughout counts together; what comes and goes keeps on an outlet that outlasts its pauses of an
/// hour, and wakes one that sleeps for itself.
#[test]
fn what_keeps_an_outlet_on_is_not_what_wakes_it() {
    let asked = |steady_w: f64, most_w: f64| OnAc { steady_w, most_w, comes: most_w > 0.0 };
    let stays = |outlet: &AcOutlet, off_after_h: f64, asked: &OnAc| {
        AcState { off_after_h, ..state(outlet) }.stays_on(outlet, asked)
    };
    let (open, sleeping) = (outlet(false, false), outlet(true, false));
    assert!(stays(&open, 0.5, &asked(10.0, 0.0)) && !stays(&open, 9.0, &asked(9.9, 0.0)));
    assert!(stays(&open, 1.0, &asked(4.0, 6.0)) && !stays(&open, 1.0, &asked(4.0, 5.9)));
    assert!(!stays(&open, 0.9, &asked(4.0, 60.0)) && !stays(&sleeping, 9.0, &asked(4.0, 60.0)));
    let wakes = |steady_w: f64, running_w: f64| state(&sleeping).wakes_for(&asked(steady_w, 99.0), running_w);
    assert!(wakes(4.0, 6.0) && !wakes(4.0, 5.9));
    assert!(!asked(0.0, 0.0).asks() && asked(1.0, 0.0).asks() && asked(0.0, 1.0).asks());
}

/// Two lamps of 6 and 5 W, a pump of 20 W by a half more and one of 8 W by a half more, a load elsewhere: what draws the same throughout
/// is a sum; of what comes and goes the most and the least count.
#[test]
fn what_is_asked_of_the_outlet_is_told_by_what_comes_and_goes() {
    let lamp = |watts: &str, outlet: &str, more: &str| {
        load(&format!("{watts}{outlet}{more}").replace('"', ""), outlet, &format!("watts = \"{watts}\"\n{more}"))
    };
    let plan = plan(
        &[
            lamp("6 W", "ac", ""),
            lamp("5 W", "ac", ""),
            lamp("20 W", "ac", "duty = \"30 %\""),
            lamp("8 W", "ac", "duty = \"40 %\""),
            lamp("7 W", "dc", ""),
            lamp("9 W", "ac", "hours = \"06:00-08:00\""),
        ]
        .concat(),
    );
    let asked = |places: &[usize], factor: f64| {
        let mut asked = AcAsked::default();
        places.iter().map(|place| &plan.loads[*place]).for_each(|load| asked.add(load, &load.profile, 12, factor));
        (asked.asked.steady_w, asked.asked.most_w, asked.asked.comes, asked.least_w)
    };
    assert_eq!(asked(&[0, 1, 4, 5], 1.0), (11.0, 0.0, false, 0.0));
    assert_eq!(asked(&[0], 1.5), (9.0, 0.0, false, 0.0));
    assert_eq!(asked(&[2, 3], 1.5), (0.0, 30.0, true, 12.0));
    assert_eq!(asked(&[3, 2, 1], 1.5), (7.5, 30.0, true, 12.0));
    // In the dark where one that sleeps does not wake for all of it, or one that goes off is off for a part of the step.
    let dark = |outlet: &AcOutlet, places: &[usize], steps: usize| {
        let mut watch = AcWatch { outlet, state: state(outlet) };
        let mut asked = AcAsked::default();
        places.iter().map(|place| &plan.loads[*place]).for_each(|load| asked.add(load, &load.profile, 12, 1.0));
        (0..steps).map(|_| watch.leaves_dark(&asked, 12)).collect::<Vec<_>>()
    };
    let (open, sleeping) = (outlet(false, false), outlet(true, false));
    assert_eq!(dark(&sleeping, &[0, 1], 1), [false]);
    assert_eq!(dark(&sleeping, &[0], 1), [true]);
    assert_eq!(dark(&sleeping, &[0, 2], 1), [true]);
    assert_eq!(
        [dark(&sleeping, &[2], 1), dark(&sleeping, &[2, 3], 1), dark(&sleeping, &[], 1)],
        [[false], [true], [false]]
    );
    assert_eq!(dark(&open, &[0], 5), [false, true, true, false, true]);
    assert_eq!(dark(&open, &[], 4), [false; 4]);
}
