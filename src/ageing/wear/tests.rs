//! Laws of wear followed step by step against their closed forms under one kind of stress.

use super::*;
use crate::ageing::nmc;

#[track_caller]
fn assert_near(found: f64, expected: f64, share: f64) {
    assert!((found - expected).abs() <= share * expected.abs(), "{found} for {expected}");
}

/// What is lost to rest and to cycles by one law.
fn parts(model: Model, damage: Damage) -> (f64, f64) {
    let (rest, cycles) = model.exponents();
    (math::pow(damage.rest, rest), math::pow(damage.cycles, cycles))
}

/// NMC at rest by the paper's own form, α(V, T) days^0.75 (Schmalstieg et al. 2014): a year at half charge (3.69 V) and 25 °C loses
/// 2.35 %, a hundred days at nine tenths (4.06 V) and 45 °C 6.52 %. In one stretch or in many.
#[test]
fn nmc_at_rest_loses_by_the_power_of_days() {
    let tables = WearTables::new(&[Model::NmcSchmalstieg], false);
    for (charge, celsius, days, loss) in [(0.5, 25.0, 365, 0.023_513_3), (0.9, 45.0, 100, 0.065_249)] {
        let around = tables.surroundings(Celsius(celsius));
        let (mut once, mut often) = (Wear::new(charge), Wear::new(charge));
        once.rest(&tables, 24.0 * f64::from(days), &around);
        (0..days).for_each(|_| often.rest(&tables, 24.0, &around));
        for wear in [once, often] {
            let lost: Vec<f64> = wear.losses(&tables).collect();
            assert_near(lost[0], loss, 1e-5);
            assert_eq!((wear.damage(0).cycles, wear.resistance_rise(), wear.full_cycles()), (0.0, 0.0, 0.0));
        }
    }
}

/// 300 cycles between 80 and 40 %, about 60 % (3.78 V): β √(2 · 2.05 · 0.4 · 300 Ah), β = 7.348·10⁻³ · 0.113² + 7.600·10⁻⁴ +
/// 4.081·10⁻³ · 0.4 (Schmalstieg et al. 2014). Wang et al. 2011 at 35 °C: 0.01 B exp((-31700 + 370.3 C) / (8.314 · 308.15)) Ah^0.55,
/// B = 31630 at C/2 and midway to 21681 at 1.25 C.
#[test]
fn equal_cycles_wear_by_the_closed_forms() {
    let tables = WearTables::new(&[Model::NmcSchmalstieg, Model::LfpWang], false);
    let around = tables.surroundings(Celsius(35.0));
    for (rate, b) in [(0.5, 31_630.0), (1.25, 26_655.5), (0.1, 31_630.0)] {
        let mut wear = Wear::new(0.8);
        for _ in 0..300 {
            wear.go(&tables, 0.4, 0.4 / rate, &around);
            wear.go(&tables, 0.8, 0.4 / rate, &around);
        }
        wear.finish(&tables, &around);
        let beta = 7.348e-3 * 0.113 * 0.113 + 7.6e-4 + 4.081e-3 * 0.4;
        assert_near(parts(Model::NmcSchmalstieg, wear.damage(0)).1, beta * (2.0 * 2.05 * 0.4 * 300.0_f64).sqrt(), 1e-9);
        // A rate gentler than the tests' counts as theirs.
        let rate = f64::max(rate, 0.5);
        let wang = 0.01 * b * math::exp((-31_700.0 + 370.3 * rate) / (8.314 * 308.15));
        assert_near(parts(Model::LfpWang, wear.damage(1)).1, wang * math::pow(2.2 * 0.4 * 300.0, 0.55), 1e-9);
        assert_near(wear.full_cycles(), 120.0, 1e-12);
    }
    assert_eq!(nmc::CELL_AH, 2.05);
}

/// Naumann et al. 2018: at rest loss is k √t, k = 1.2571·10⁻⁵ (2.8575 (s - ½)³ + 0.60225), and the resistance rises by
/// 3.4194·10⁻¹⁰ (-3.3903 (s - ½)² + 1.5604) a second, both times their Arrhenius factors. Between the nodes of a table, at the ends, and
/// beyond them.
#[test]
fn lfp_at_rest_loses_by_the_root_of_time_at_any_charge() {
    let tables = WearTables::new(&[Model::LfpNaumann, Model::LfpWang, Model::TradeRule], true);
    let arrhenius = |joules: f64, kelvin: f64| math::exp(-joules / 8.314 * (1.0 / kelvin - 1.0 / 298.15));
    for (charge, celsius) in [(0.3725, 25.0), (0.8, 35.0), (0.998, 10.0), (0.0, 25.0), (1.0, 25.0)] {
        let around = tables.surroundings(Celsius(celsius));
        let mut wear = Wear::new(charge);
        wear.rest(&tables, 1_000.0, &around);
        let (x, seconds, kelvin) = (charge - 0.5, 3.6e6_f64, celsius + 273.15);
        let k = 1.2571e-5 * (2.8575 * x * x * x + 0.60225) * arrhenius(17_126.0, kelvin);
        for law in [0, 1] {
            // Straight between nodes half a hundredth apart: f'' h² / 8 is 9e-5 of the square at most, and half of that of its root.
            assert_near(parts(Model::LfpNaumann, wear.damage(law)).0, k * seconds.sqrt(), 5e-5);
        }
        assert_eq!(wear.damage(2), Damage::default());
        let rise = 3.4194e-10 * (-3.3903 * x * x + 1.5604) * seconds * arrhenius(71_827.0, kelvin);
        assert_near(wear.resistance_rise(), rise, 5e-5);
    }
    // A move stands on the way at the middle of the two charges.
    let around = tables.surroundings(Celsius(25.0));
    let (mut moved, mut stood) = (Wear::new(0.9), Wear::new(0.7));
    moved.go(&tables, 0.5, 10.0, &around);
    stood.rest(&tables, 10.0, &around);
    assert_near(moved.damage(0).rest, stood.damage(0).rest, 1e-12);
    assert_near(moved.resistance_rise(), stood.resistance_rise(), 1e-12);
}

/// The resistance rises by every full equivalent cycle as Naumann et al. 2020 say (constants from memory): 0.01 (-0.0020 C + 0.0021)
/// (6.8477 (d - ½)³ + 0.9182), for half a cycle half of it; only where it is followed.
#[test]
fn the_resistance_rises_by_cycles_where_it_is_followed() {
    let rise = |follow: bool, charges: &[f64]| {
        let tables = WearTables::new(&[Model::LfpNaumann], follow);
        let around = tables.surroundings(Celsius(25.0));
        let mut wear = Wear::new(0.9);
        let (mut from, mut at_rest) = (0.9, Wear::new(0.9));
        for &charge in charges {
            let hours = f64::abs(charge - from) / 0.25;
            at_rest.charge = 0.5 * (from + charge);
            at_rest.rest(&tables, hours, &around);
            wear.go(&tables, charge, hours, &around);
            from = charge;
        }
        wear.finish(&tables, &around);
        wear.resistance_rise() - at_rest.resistance_rise()
    };
    let of = |depth: f64| {
        let x = depth - 0.5;
        0.01 * (-0.0020 * 0.25 + 0.0021) * (6.8477 * x * x * x + 0.9182) * depth
    };
    assert_near(rise(true, &[0.1, 0.9]), of(0.8), 1e-9);
    assert_near(rise(true, &[0.1]), 0.5 * of(0.8), 1e-9);
    assert_near(rise(true, &[0.3, 0.5, 0.4, 0.9]), of(0.6) + of(0.1), 1e-9);
    assert_eq!(rise(false, &[0.1, 0.9]), 0.0);
}

/// By hand: 0.4 at 0.4 an hour and 0.2 at 0.1 an hour, weighed by the charge that moved, are 0.3 an hour; a rest in between does not
/// count.
#[test]
fn the_rate_of_a_cycle_is_weighed_by_the_charge_that_moved() {
    let tables = WearTables::new(&[Model::LfpNaumann], false);
    let around = tables.surroundings(Celsius(25.0));
    let mut wear = Wear::new(0.9);
    wear.go(&tables, 0.8, 0.1, &around);
    let from = wear.moved;
    wear.go(&tables, 0.4, 1.0, &around);
    wear.rest(&tables, 50.0, &around);
    wear.go(&tables, 0.4, 3.0, &around);
    wear.go(&tables, 0.2, 2.0, &around);
    assert_near(Moved::rate_per_h(from, wear.moved), 0.3, 1e-12);
    assert_eq!(Moved::rate_per_h(wear.moved, wear.moved), 0.0);
    assert_eq!(wear.charge(), 0.2);
}

/// Closed forms: √(r t) is 0.2 at t = 0.04 / r, c t at 0.2 / c; under both at once what is foretold does lose 0.2, and with next to no
/// damage forty years are the most that is said.
#[test]
fn years_until_worn_out_are_those_in_which_a_fifth_goes() {
    let rest = Damage { rest: 0.01, cycles: 0.0 };
    assert_near(rest.years_to_worn_out(Model::LfpNaumann, 3.0), 12.0, 1e-9);
    let cycles = Damage { rest: 0.0, cycles: 0.05 };
    assert_near(cycles.years_to_worn_out(Model::TradeRule, 2.0), 8.0, 1e-9);
    assert_near(cycles.years_to_worn_out(Model::NmcTradeRule, 0.5), 2.0, 1e-9);
    for model in [Model::LfpNaumann, Model::LfpWang, Model::NmcSchmalstieg, Model::TradeRule] {
        let (done, lived) = (Damage { rest: 0.002, cycles: 0.003 }, 1.5);
        let years = done.years_to_worn_out(model, lived);
        let then = Damage { rest: done.rest * years / lived, cycles: done.cycles * years / lived };
        if years < LONGEST_YEARS {
            assert_near(then.loss(model), 0.2, 1e-9);
        } else {
            assert!(then.loss(model) < 0.2, "{model:?}");
        }
        assert_eq!(Damage { rest: 1e-9, cycles: 1e-9 }.years_to_worn_out(model, 1.0), 40.0);
    }
    // Exponents as published: √ of time and of cycles, 0.55 of charge moved, 0.75 of days; the trade counts cycles one by one.
    let loss = |model: Model| Damage { rest: 0.01, cycles: 0.002 }.loss(model);
    assert_near(loss(Model::LfpNaumann), 0.1 + 0.002_f64.sqrt(), 1e-12);
    assert_near(loss(Model::LfpWang), 0.1 + math::pow(0.002, 0.55), 1e-12);
    assert_near(loss(Model::NmcSchmalstieg), math::pow(0.01, 0.75) + 0.002_f64.sqrt(), 1e-12);
    assert_near(loss(Model::TradeRule), 0.012, 1e-12);
    assert_eq!(Damage::default().loss(Model::LfpWang), 0.0);
}

/// One battery made new again is a new one.
#[test]
fn a_battery_made_new_again_is_new() {
    let tables = WearTables::new(&[Model::LfpNaumann, Model::LfpWang, Model::TradeRule], true);
    let around = tables.surroundings(Celsius(30.0));
    let live = |wear: &mut Wear| {
        for charge in [0.2, 0.7, 0.3, 0.95] {
            wear.go(&tables, charge, 2.0, &around);
            wear.rest(&tables, 5.0, &around);
        }
        wear.finish(&tables, &around);
        (0..3).map(|law| wear.damage(law)).collect::<Vec<_>>()
    };
    let mut wear = Wear::new(1.0);
    live(&mut wear);
    wear.renew(0.6);
    let mut new = Wear::new(0.6);
    assert_eq!(wear.charge(), 0.6);
    assert_eq!(live(&mut wear), live(&mut new));
    assert_eq!((wear.full_cycles(), wear.resistance_rise()), (new.full_cycles(), new.resistance_rise()));
    // Of more laws than can be followed the first three are.
    let four = [Model::TradeRule, Model::LfpWang, Model::LfpNaumann, Model::NmcTradeRule];
    assert_eq!(WearTables::new(&four, false).models(), &four[..3]);
}
