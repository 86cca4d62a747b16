//! Cuts of single days and the parts of their steps, by hand.

use super::*;
use crate::scenario::model::CutWindow;
use crate::units::Hours;
use crate::weather::bend::NUMBERS;

fn history(weekday: usize, days: usize) -> History {
    History { first_day: 40, first_step: 0, steps: 24 * days, days, weekday, charge_z: 0.0, climate_z: [0.0; NUMBERS] }
}

/// Cuts by days of the week (Monday first) and minutes of the day.
fn cuts(windows: &[(&[usize], u16, u16)], wanders_h: f64) -> DailyCuts {
    let window = |(days, from_minute, to_minute): &(&[usize], u16, u16)| CutWindow {
        days: Weekdays(std::array::from_fn(|day| days.contains(&day))),
        window: ClockWindow { from_minute: *from_minute, to_minute: *to_minute },
    };
    DailyCuts { windows: windows.iter().map(window).collect(), wanders: Hours(wanders_h), ..DailyCuts::default() }
}

const ALL: &[usize] = &[0, 1, 2, 3, 4, 5, 6];

fn drawn(cuts: &DailyCuts, history: &History, trial: u64) -> Vec<(f64, f64)> {
    let plan = VaryingCuts::new(cuts, 100.0, 24).expect("cuts that differ");
    let mut out = vec![(1.0, 2.0)];
    plan.draw(TrialSeed { seed: 1, trial }, history, &mut out);
    out
}

/// A table of two weeks from a Monday on, with a cut on each day that tells which it is: a trial meets the days of its own week one after
/// the other, the table's first behind its last, up to the midnight behind its last day and one more.
#[test]
fn a_stretch_of_a_table_keeps_the_days_of_the_week_to_its_end() {
    let day = |k: u32| (1440 * k + 600 + k % 7, 1440 * k + 700 + k % 7);
    let table = CutTable { file: "cuts.csv".into(), cuts: (0..14).map(day).collect(), days: 14, weekday: 0 };
    for (weekday, days) in (0..7).flat_map(|weekday| [1, 2, 9, 12, 13, 20].map(|days| (weekday, days))) {
        let cuts = DailyCuts { table: Some(table.clone()), ..DailyCuts::default() };
        let by_hand: Vec<(f64, f64)> = (0..=days)
            .map(|day| (1440 * day, (weekday + day) % 7))
            .map(|(midnight, of_week)| ((midnight + 600 + of_week) as f64, (midnight + 700 + of_week) as f64))
            .collect();
        for trial in 0..6 {
            assert_eq!(drawn(&cuts, &history(weekday, days), trial), by_hand, "{weekday} {days} {trial}");
        }
    }
    // Of a table that begins on a Friday a Tuesday is the fifth day, and in ten days there is one.
    let short = CutTable { file: "cuts.csv".into(), cuts: vec![day(4)], days: 10, weekday: 4 };
    let cuts = DailyCuts { table: Some(short), ..DailyCuts::default() };
    let at = |day: f64| (1440.0 * day + 604.0, 1440.0 * day + 704.0);
    assert_eq!(drawn(&cuts, &history(1, 21), 3), [at(0.0), at(10.0), at(20.0)]);
}

#[test]
fn every_stretch_of_a_table_is_as_likely() {
    // Four Mondays of a table of 25 days; the cut tells which it is.
    let table = CutTable {
        file: "cuts.csv".into(),
        cuts: (0..4).map(|k| (1440 * 7 * k + 100 * k + 1, 1440 * 7 * k + 100 * k + 60)).collect(),
        days: 25,
        weekday: 0,
    };
    let cuts = DailyCuts { table: Some(table), ..DailyCuts::default() };
    let mut counts = [0; 4];
    for trial in 0..2_000 {
        counts[(drawn(&cuts, &history(0, 1), trial)[0].0 / 100.0) as usize] += 1;
    }
    // Binomial: 500 with a standard deviation of 19.4.
    assert!(counts.iter().all(|count: &i32| (count - 500).abs() < 78), "{counts:?}");
}

#[test]
fn a_cut_belongs_to_the_day_on_which_it_begins() {
    // Mondays 22:00 to 03:00: from a Monday's midnight on, eight days; from a Tuesday's on, that of the evening before.
    let mondays = cuts(&[(&[0], 1320, 180)], 0.0);
    assert_eq!(drawn(&mondays, &history(0, 8), 0), [(1320.0, 1620.0), (11_400.0, 11_700.0)]);
    assert_eq!(drawn(&mondays, &history(1, 3), 0), [(-120.0, 180.0)]);
    // The day behind the last may come early, and counts.
    assert_eq!(drawn(&mondays, &history(6, 1), 0), [(2760.0, 3060.0)]);
}

#[test]
fn cuts_that_touch_are_one() {
    let two = |from: u16, to: u16| cuts(&[(&[0], 600, 720), (&[0], from, to)], 0.0);
    let of = |from: u16, to: u16| drawn(&two(from, to), &history(0, 1), 0);
    assert_eq!(of(660, 780), [(600.0, 780.0)]);
    assert_eq!(of(720, 780), [(600.0, 780.0)]);
    assert_eq!(of(630, 660), [(600.0, 720.0)]);
    assert_eq!(of(540, 610), [(540.0, 720.0)]);
    assert_eq!(of(721, 780), [(600.0, 720.0), (721.0, 780.0)]);
}

/// Evenly up to an hour and a half sooner or later, as long as ever: a standard deviation of 3 h over the root of 12.
#[test]
fn cuts_wander_evenly_and_keep_their_length() {
    let wander = cuts(&[(&[2], 600, 720)], 1.5);
    let (mut sum, mut squares, count) = (0.0, 0.0, 2_000);
    for trial in 0..count {
        let [(from, to)] = drawn(&wander, &history(2, 1), trial)[..] else { panic!("one cut") };
        assert!((510.0..=690.0).contains(&from) && (to - from - 120.0).abs() < 1e-9, "{from} to {to}");
        (sum, squares) = (sum + from - 600.0, squares + (from - 600.0) * (from - 600.0));
    }
    // Four standard errors; the fourth moment of an even spread is 9/5 of the variance's square.
    let n = count as f64;
    assert!((sum / n).abs() < 4.0 * (2_700.0 / n).sqrt(), "{}", sum / n);
    assert!((squares / n - 2_700.0).abs() < 4.0 * 2_700.0 * (0.8 / n).sqrt(), "{}", squares / n);
}

#[test]
fn the_mains_may_be_cut_where_a_cut_can_reach() {
    let open = |cuts: &DailyCuts, steps: usize| {
        let plan = VaryingCuts::new(cuts, 100.0, steps).expect("cuts that differ");
        (0..steps).filter(|at| plan.open[*at]).collect::<Vec<_>>()
    };
    // 22:00 to 03:00, half an hour sooner or later: from 21:30 to 03:30.
    assert_eq!(open(&cuts(&[(ALL, 1320, 180)], 0.5), 24), [0, 1, 2, 3, 21, 22, 23]);
    assert_eq!(open(&cuts(&[(ALL, 1320, 180)], 0.5), 48), [0, 1, 2, 3, 4, 5, 6, 43, 44, 45, 46, 47]);
    // Early in the night and sooner by an hour: from 23:30 on the day before; of weekdays alone, every day.
    assert_eq!(open(&cuts(&[(&[1], 30, 90)], 1.0), 24), [0, 1, 2, 23]);
    assert_eq!(open(&cuts(&[(&[1], 600, 660)], 0.0), 24), [10]);
    assert_eq!(open(&cuts(&[(&[1], 0, 1440)], 3.0), 24).len(), 24);
    let table = CutTable { file: "cuts.csv".into(), cuts: vec![(60, 120)], days: 3, weekday: 0 };
    assert_eq!(open(&DailyCuts { table: Some(table), ..DailyCuts::default() }, 24).len(), 24);
    assert!(VaryingCuts::new(&cuts(&[(ALL, 600, 660)], 0.0), 100.0, 24).is_none());
    let hours = VaryingCuts::new(&cuts(&[(&[1], 600, 720)], 0.0), 100.0, 48).expect("cuts").hours();
    let window = |from_minute: u16| ClockWindow { from_minute, to_minute: from_minute + 30 };
    assert_eq!(hours, [600, 630, 660, 690].map(window));
}

/// Cuts from 10:20 to 12:15 and from 12:30 to 12:45: steps of an hour in their parts.
#[test]
fn the_mains_is_there_in_the_parts_of_a_step_that_no_cut_takes() {
    let plan = VaryingCuts::new(&cuts(&[(&[0], 620, 735), (&[0], 750, 765)], 0.0), 80.0, 24).expect("cuts");
    let mut lanes = LaneCuts::<2>::default();
    let histories = [history(0, 1), history(1, 1)];
    lanes.begin(&plan, &[TrialSeed { seed: 1, trial: 0 }; 2], |l| &histories[l]);
    let mut seen = Vec::new();
    for now in 8..14 {
        lanes.step(&plan, now, 1.0);
        let minutes = |parts: &[Part]| {
            parts.iter().map(|part| ((60.0 * part.share).round() as u32, part.on_mains)).collect::<Vec<_>>()
        };
        for part in lanes.parts.iter().flatten() {
            assert_eq!((part.wall_w, part.ac_on, part.direct), (if part.on_mains { 80.0 } else { 0.0 }, true, None));
        }
        seen.push((minutes(&lanes.parts[0]), (60.0 * lanes.fed[0]).round() as u32));
        // A Tuesday has none of them.
        assert_eq!((minutes(&lanes.parts[1]), lanes.fed[1]), (vec![(60, true)], 0.0));
    }
    let by_hand = [
        (vec![(60, true)], 0),
        (vec![(60, true)], 0),
        (vec![(20, true), (40, false)], 40),
        (vec![(60, false)], 60),
        (vec![(15, false), (15, true), (15, false), (15, true)], 30),
        (vec![(60, true)], 0),
    ];
    assert_eq!(seen, by_hand);
}
