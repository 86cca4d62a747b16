//! Cuts of which one day's differ from another's: closed forms without sun and losses, and what chance gives on average.

use tideover::engine::{LoadOutcome, Outcome, Plan, Silent, TrialSeed};
use tideover::scenario::model::CutTable;

use crate::common::{plan_of, scenario_of};
use crate::one_trial;

/// A battery of 100 Wh that loses nothing under 50 W, two weeks from midnight on a Saturday; the mains fills it within the hour.
fn spell(outage: &str) -> String {
    format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nstart = \"2027-07-10T00:00\"\nlasts = \"14 days\"\n\
         starts_charged = \"100 %\"\n{outage}\n[station]\nrated_capacity = \"100 Wh ± 0 %\"\nown_draw = \"0 W\"\n\
         self_discharge = \"0 %\"\nloses_by_rate = \"0 %\"\ntapers_from = \"100 %\"\ncharge_efficiency = \"100 % ± 0 %\"\n\
         discharge_efficiency = \"100 % ± 0 %\"\n[station.dc_outlet]\nlimit = \"120 W\"\nefficiency = \"100 %\"\nidle = \"0 W\"\n\
         [station.wall_charger]\nlimit = \"100 W\"\nefficiency = \"100 %\"\n\
         [[load]]\noutlet = \"dc\"\npriority = \"vital\"\nname = \"lamp\"\nwatts = \"50 W\"\n"
    )
}

fn trial(plan: &Plan, trial: u64) -> (Outcome, LoadOutcome) {
    let (outcome, loads) = one_trial(plan, TrialSeed { seed: 1, trial }, &mut Silent);
    (outcome, loads[0])
}

/// Hours and watt-hours missed, watt-hours asked for, days with a miss, watt-hours of the worst week.
fn told((outcome, load): &(Outcome, LoadOutcome)) -> (f64, f64, f64, u32, f64) {
    let round = |number: f64| (number * 1e6).round() / 1e6;
    let (off_h, missed_wh, asked_wh) = (round(load.off_h), round(load.unserved_wh), round(load.asked_wh));
    (off_h, missed_wh, asked_wh, outcome.days_missed, round(outcome.worst_week_wh))
}

#[test]
fn cuts_of_some_days_of_the_week_are_missed_on_these() {
    // Of four hours on ten weekdays two each; the two of each day of the weekends are carried.
    let text = spell("every_day = [\"Mon-Fri 10:00-14:00\", \"weekends 18:00-20:00\"]");
    for step in [60, 5] {
        let plan = plan_of(&scenario_of(&text), step);
        assert_eq!(told(&trial(&plan, 0)), (20.0, 1000.0, 2400.0, 10, 500.0), "{step}");
    }
    // Through midnight: a cut belongs to the day on which it begins. Fridays 22:30 to 03:30: of the first, before whose midnight nothing is
    // followed, an hour and a half of three and a half; of the next three of five; nothing of the last, with whose midnight the spell ends.
    let text = spell("every_day = \"Fri 22:30-03:30\"");
    for step in [60, 5] {
        assert_eq!(told(&trial(&plan_of(&scenario_of(&text), step), 0)).0, 4.5, "{step}");
    }
}

#[test]
fn a_year_of_cuts_is_missed_day_by_day() {
    let text = spell("every_day = \"10:00-14:00\"").replace("14 days", "365 days");
    assert_eq!(told(&trial(&plan_of(&scenario_of(&text), 60), 0)), (730.0, 36500.0, 73000.0, 365, 700.0));
}

#[test]
fn a_share_of_the_days_is_cut_as_a_coin_would_have_it() {
    let plan = plan_of(&scenario_of(&spell("every_day = \"10:00-14:00\"\nhappens = \"70 %\"")), 60);
    let (trials, p, days) = (2_000, 0.7, 14.0);
    let (mut sum, mut squares) = (0.0, 0.0);
    for k in 0..trials {
        let (off_h, missed_wh, asked_wh, missed, _) = told(&trial(&plan, k));
        let n = f64::from(missed);
        assert_eq!((off_h, missed_wh, asked_wh), (2.0 * n, 100.0 * n, 200.0 * n));
        (sum, squares) = (sum + n, squares + n * n);
    }
    let (mean, count) = (sum / trials as f64, trials as f64);
    let variance = squares / count - mean * mean;
    // Binomial: mean n p, variance n p (1 - p); 3.5 standard errors.
    let expected = days * p * (1.0 - p);
    assert!((mean - days * p).abs() < 3.5 * (expected / count).sqrt(), "{mean}");
    assert!((variance - expected).abs() < 3.5 * expected * (2.0 / count).sqrt(), "{variance}");
}

#[test]
fn cuts_that_wander_are_as_long_as_ever() {
    let text = spell("every_day = \"10:00-14:00\"\nwanders = \"1 h\"");
    let plan = plan_of(&scenario_of(&text), 60);
    let trials = 1_000;
    let mut early = 0;
    for k in 0..trials {
        let result = trial(&plan, k);
        assert_eq!(told(&result), (28.0, 1400.0, 2800.0, 14, 700.0), "{k}");
        // Empty two hours after it began: between 11:00 and 13:00.
        let first = result.1.first_off_step.expect("missed");
        assert!((11..=12).contains(&first), "{first}");
        early += u32::from(first == 11);
    }
    assert!((f64::from(early) - 500.0).abs() < 3.5 * 250.0_f64.sqrt(), "{early}");
    for k in 0..20 {
        let minutes = plan_of(&scenario_of(&text), 5);
        assert_eq!(told(&trial(&minutes, k)), told(&trial(&plan, k)), "{k}");
    }
}

#[test]
fn a_table_is_followed_from_any_of_its_days_on() {
    let of = |rows: &dyn Fn(u32) -> Option<(u32, u32)>| {
        let row =
            |day: u32| rows(day).map(|(from, to)| format!("2026-03-{day:02} {from}:00,2026-03-{day:02} {to}:00\n"));
        let text: String = (2..=29).filter_map(row).collect();
        let mut scenario = scenario_of(&spell("cuts_from = \"cuts.csv\""));
        scenario.outage.cuts.table = Some(CutTable::parse("cuts.csv", &text).expect("a table"));
        plan_of(&scenario, 60)
    };
    // The same on all days, whichever it begins with.
    let alike = of(&|_| Some((18, 22)));
    for k in 0..50 {
        assert_eq!(told(&trial(&alike, k)), (28.0, 1400.0, 2800.0, 14, 700.0), "{k}");
    }
    // Four hours on weekdays and two on weekends: four whole weeks from Monday, 2 March 2026 on, so that every stretch keeps the
    // days of the week. The last line is a Sunday's.
    let weekly = of(&|day| Some(if (day - 2) % 7 < 5 { (10, 14) } else { (18, 20) }));
    for k in 0..50 {
        assert_eq!(told(&trial(&weekly, k)), (20.0, 1000.0, 2400.0, 10, 500.0), "{k}");
    }
    // Cuts of one week in two alone: a stretch of two weeks has one of them, whichever it begins with.
    let every_other = of(&|day| ((day - 2) % 14 >= 7 || day == 2).then_some((18, 22)));
    let of_trials: Vec<f64> = (0..200).map(|k| told(&trial(&every_other, k)).0).collect();
    assert!(of_trials.iter().all(|off_h| (14.0..=16.0).contains(off_h)), "{of_trials:?}");
}
