//! What a load draws in one trial, by hand and by closed forms.

use super::*;
use crate::engine::tests::{load, same, scenario};
use crate::units::NORMAL_95;

fn plan(outlet: &str, more: &str) -> LoadPlan {
    LoadPlan::new(&scenario(&load("lamp", outlet, more)).loads[0], 24, 5.0)
}

const LAMP: &str = "watts = \"100 W ± 20 %\"";

fn trials(count: u64) -> impl Iterator<Item = TrialSeed> {
    (0..count).map(|trial| TrialSeed { seed: 1, trial })
}

/// What is told of a load beside its answer are standard uncertainties by which it draws more: of ± 20 % (95 %) each is 10.2 %.
#[test]
fn a_load_draws_as_many_standard_uncertainties_more_as_is_told() {
    let lamp = plan("dc", LAMP);
    same(lamp.watts_sd, 0.2 / NORMAL_95);
    let mut positive = 0;
    for rng in trials(100) {
        let mut unknowns = Vec::new();
        let real = LoadDraws::new(&lamp, rng, &mut unknowns).real;
        assert_eq!(unknowns.len(), 1);
        same(real, 1.0 + 0.2 / NORMAL_95 * unknowns[0]);
        same(lamp.real_factor(rng), real);
        positive += u32::from(unknowns[0] > 0.0);
        // The same number whatever the doubt; never less than nothing.
        let wild = LoadDraws::new(&LoadPlan { watts_sd: 5.0, ..lamp.clone() }, rng, &mut Vec::new()).real;
        same(wild, (1.0 + 5.0 * unknowns[0]).max(0.0));
        // Nothing is told of what is known.
        let mut none = Vec::new();
        assert_eq!(LoadDraws::new(&LoadPlan { watts_sd: 0.0, ..lamp.clone() }, rng, &mut none).real, 1.0);
        assert!(none.is_empty());
    }
    assert!((30..70).contains(&positive), "{positive}");
}

/// A log-normal factor of mean 1 and standard deviation v has the variance ln(1 + v²) of its logarithm, about minus half of it.
#[test]
fn days_differ_as_told_about_what_a_load_really_draws() {
    let lamp = plan("dc", &format!("{LAMP}\nvaries = \"50 %\""));
    let variance = crate::math::ln(1.25);
    same(lamp.day_sigma * lamp.day_sigma, variance);
    let (mut sum, mut squares, days) = (0.0, 0.0, 200);
    for rng in trials(100) {
        let mut draws = LoadDraws::new(&lamp, rng, &mut Vec::new());
        for _ in 0..days {
            let log = crate::math::ln(draws.day() / draws.real);
            (sum, squares) = (sum + log, squares + log * log);
        }
    }
    // Four standard errors of a mean and of a variance of 20,000.
    let n = f64::from(100 * days);
    let mean = sum / n;
    assert!((mean + 0.5 * variance).abs() < 4.0 * (variance / n).sqrt(), "{mean}");
    let found = squares / n - mean * mean;
    assert!((found / variance - 1.0).abs() < 4.0 * (2.0 / n).sqrt(), "{found}");
    // One that does not vary draws on every day what it really does.
    let rng = TrialSeed { seed: 1, trial: 7 };
    let mut steady = LoadDraws::new(&plan("dc", LAMP), rng, &mut Vec::new());
    assert_eq!(steady.day(), steady.real);
}

#[test]
fn a_load_is_fixed_that_neither_doubt_nor_day_nor_state_moves() {
    assert!(plan("dc", "watts = \"100 W ± 0 W\"").is_fixed());
    assert!(!plan("dc", LAMP).is_fixed());
    assert!(!plan("dc", "watts = \"100 W ± 0 W\"\nvaries = \"10 %\"").is_fixed());
    let mut lamp = plan("dc", "watts = \"100 W ± 0 W\"");
    lamp.asks = plan("ac", "like = \"fridge, 200 litres\"").asks;
    assert!(lamp.asks.is_some() && !lamp.is_fixed());
}

/// Back on five hundredths of the charge above where it went off, and never above full; a rule above full holds for good.
#[test]
fn a_rule_lets_go_a_little_above_where_it_holds() {
    let mut lamp = plan("dc", "watts = \"100 W\"\noff_below = \"40 %\"");
    let ends = |lamp: &LoadPlan| (lamp.off_below, lamp.on_above);
    assert_eq!(ends(&lamp), (0.4, 0.45));
    for (rule, by_hand) in [
        (Some(0.25), (0.25, 0.3)),
        (Some(0.97), (0.97, 1.0)),
        (Some(1.0), (1.0, 1.0)),
        (Some(1.5), (1.5, f64::INFINITY)),
        (None, (f64::NEG_INFINITY, f64::NEG_INFINITY)),
    ] {
        lamp.set_rule(rule);
        assert_eq!(ends(&lamp), by_hand);
    }
    assert_eq!(ends(&plan("dc", "watts = \"100 W\"\noff_below = \"98 %\"")), (0.98, 1.0));
}

/// A motor of 200 W on for 30 % of the time from ten to noon: 60 W on average, 200² × 0.3 × 0.7 about it. Three halves of the watts are three
/// halves of the mean and nine fourths of the variance.
#[test]
fn other_watts_are_other_means_and_the_square_of_it_about_them() {
    let mut motor = plan("ac", "watts = \"200 W\"\nduty = \"30 %\"\nhours = \"10:00-12:00\"\ndays = \"weekends\"");
    motor.scale_watts(300.0);
    let day = motor.day(5);
    same(day.watts[10], 90.0);
    same(day.variance_w2[10], 300.0 * 300.0 * 0.21);
    assert_eq!((motor.running_w, motor.day(4).watts[10], day.watts[12]), (300.0, 0.0, 0.0));
    // The mean of the week: two days of seven; two hours of it are a day's energy.
    same(motor.profile.watts[11], 90.0 * 2.0 / 7.0);
    same(motor.day_wh(), 2.0 * 90.0 * 2.0 / 7.0);
    assert!(motor.may_run(11) && !motor.may_run(12) && !motor.may_run(24));
    motor.scale_watts(0.0);
    motor.scale_watts(50.0);
    assert_eq!((motor.running_w, motor.day_wh()), (50.0, 0.0));
}

#[test]
fn hours_of_use_are_told_where_all_days_are_alike() {
    let used = |more: &str| plan("dc", &format!("watts = \"100 W\"\n{more}")).used();
    assert_eq!(used("hours = [\"06:00-08:00\", \"21:00-02:00\"]"), Some(vec![(6, 2), (21, 5)]));
    assert_eq!(used(""), Some(Vec::new()));
    assert_eq!(used("hours = \"06:00-08:00\"\ndays = \"weekends\""), None);
    assert_eq!(plan("ac", "like = \"fridge, 200 litres\"").used(), None);
}

/// What rests from ten to noon, or from ten at night to two, asks for nothing in whole hours within, on no day of the week.
#[test]
fn what_rests_asks_for_nothing_meanwhile() {
    for (from_h, to_h, rests) in [(10.0, 12.0, vec![10, 11]), (22.0, 2.0, vec![0, 1, 22, 23]), (9.5, 11.5, vec![10])] {
        let mut motor = plan("ac", "watts = \"200 W\"\nduty = \"30 %\"\ndays = \"weekends\"");
        motor.rest_between(from_h, to_h);
        for at in 0..24 {
            let day = motor.day(6);
            let told =
                [day.watts[at], day.variance_w2[at], day.wants[at], motor.profile.watts[at]].map(|part| part > 0.0);
            assert_eq!(told, [!rests.contains(&at); 4], "{at} of {from_h} to {to_h}");
        }
    }
}
