//! From a station's figures to the kit of one trial, by hand.

use super::draw::between;
use super::*;
use crate::engine::tests::{same, scenario};
use crate::scenario::record::ProvedKit;
use crate::units::Watts;

use crate::engine::trial::TrialSeed;

/// A kit of round binary numbers, so that shares of them are exact.
fn rig() -> Rig {
    Rig {
        floor_wh: 128.0,
        ceiling_wh: 960.0,
        start_wh: 512.0,
        charge_efficiency: 0.92,
        discharge_efficiency: 0.88,
        charge_limit_w: 260.0,
        charge_base_w: 320.0,
        discharge_limit_w: 420.0,
        discharge_base_w: 500.0,
        taper_wh: 96.0,
        own_draw_w: 5.0,
        self_discharge_per_h: 0.001,
        heater_w: 30.0,
        heat_capacity_wh_per_k: 4.0,
        heat_loss_w_per_k: 1.5,
        least_ac_w: 6.0,
        ac_off_after_h: 2.5,
        inverter: LossCurve { idle_w: 8.0, linear: 0.1, quadratic_per_w: 0.001, ..LossCurve::IDEAL },
        outlet_limit_w: [300.0, 120.0, 60.0],
        second_wh: 700.0,
        solar_limit_w: 200.0,
        solar_efficiency: 0.95,
        wall_efficiency: 0.9,
        ..Rig::ideal(1_024.0, 512.0)
    }
}

const FIRST: TrialSeed = TrialSeed { seed: 1, trial: 4 };

/// The numbers behind the figures: nothing but at some places.
fn at(places: &[(usize, f64)]) -> [f64; FIGURES] {
    let mut z = [0.0; FIGURES];
    places.iter().for_each(|(place, number)| z[*place] = *number);
    z
}

fn resolved(kit: &KitPlan, z: &[f64; FIGURES], charge_z: f64) -> Rig {
    let mut rig = kit.best_estimate();
    kit.resolve(z, charge_z, &mut rig);
    rig
}

#[test]
fn a_kit_that_is_known_exactly_is_itself_in_every_trial() {
    let kit = KitPlan::exactly(&rig());
    assert_eq!(kit.best_estimate(), rig());
    let mut unknowns = Vec::new();
    assert_eq!(kit.draw(FIRST, 1.7, &mut unknowns), rig());
    assert!(unknowns.is_empty());
}

/// Even on a scale of ratios: in the middle of 2 and 8 lies 4, and a quarter from the end 2 × 4^0.75, by the quartile of the normal
/// distribution, 0.67449 (any table of it).
#[test]
fn between_two_ends_ratios_are_even() {
    same(between((2.0, 8.0), 0.0), 4.0);
    assert!((between((2.0, 8.0), 0.674_489_750_2) - 32.0_f64.sqrt()).abs() < 1e-8);
    assert!((between((2.0, 8.0), -0.674_489_750_2) - 8.0_f64.sqrt()).abs() < 1e-8);
    assert!((between((2.0, 8.0), 9.0) - 8.0).abs() < 1e-9 && (between((2.0, 8.0), -9.0) - 2.0).abs() < 1e-9);
    // Nothing to draw, and no ratio to nothing.
    assert_eq!([between((5.0, 5.0), 1.3), between((0.0, 5.0), 1.3), between((7.0, 3.0), 1.3)], [5.0, 0.0, 7.0]);
}

#[test]
fn every_figure_of_the_tests_has_a_place_of_its_own() {
    let places: Vec<usize> = places_of_tests().collect();
    assert_eq!(places.len(), FigureKind::ALL.len());
    let others = [INVERTER_LOSSES, LEAST_AC, AC_OFF_AFTER, SECOND, PACKS, THIRST];
    let mut all = [&(0..PLAIN_FIGURES).collect::<Vec<_>>()[..], &places, &others].concat();
    all.sort_unstable();
    assert_eq!(all, (0..FIGURES).collect::<Vec<_>>());
}

#[test]
fn outlets_are_known_where_nothing_about_them_is_drawn_or_lowered() {
    let known = KitPlan::exactly(&rig());
    assert!(known.outlets_are_known());
    let mut others = vec![known.clone(); 5];
    others[0].idle_w.1 = 1.0;
    others[1].inverter_loss_sd = 0.1;
    others[2].assumed.idle = true;
    others[3].assumed.efficiency = true;
    others[4].joint = Some(Joint::new(&tested(&[(FigureKind::UsableEnergy, 800.0, 10.0)])));
    others.iter().enumerate().for_each(|(k, kit)| assert!(!kit.outlets_are_known(), "{k}"));
}

/// Figures with their standard uncertainties, each by itself.
fn tested(figures: &[(FigureKind, f64, f64)]) -> ProvedKit {
    let n = figures.len();
    let mut covariance = vec![0.0; n * n];
    figures.iter().enumerate().for_each(|(k, (_, _, sd))| covariance[k * n + k] = sd * sd);
    let figures = figures.iter().map(|&(kind, value, _)| crate::scenario::record::Figure { kind, value }).collect();
    ProvedKit {
        title: "kit".into(),
        rated_capacity: WattHours(1_000.0),
        inverter: Some(Watts(500.0)),
        step_from: None,
        defects: Vec::new(),
        figures,
        covariance,
    }
}

#[test]
fn figures_move_by_their_standard_uncertainties() {
    let mut kit = KitPlan::exactly(&rig());
    kit.size = Size::Cells((1_024.0, 64.0));
    kit.charge_efficiency = (0.9, 0.02);
    kit.discharge_efficiency = (0.8, 0.05);
    kit.idle_w = (8.0, 2.0);
    kit.inverter_loss_sd = 0.4;
    kit.second_wh = (700.0, 50.0);
    kit.packs_wh = (512.0, 32.0);
    kit.start = (0.5, 0.1);
    let z = at(&[
        (0, 2.0),
        (1, -2.0),
        (2, 1.0),
        (3, -1.5),
        (INVERTER_LOSSES, 0.5),
        (SECOND, -3.0),
        (PACKS, 4.0),
        (THIRST, 1.1),
    ]);
    let drawn = resolved(&kit, &z, 2.0);
    let capacity_wh = 1_152.0 + 640.0;
    same(drawn.capacity_wh, capacity_wh);
    same(drawn.charge_efficiency, 0.86);
    same(drawn.discharge_efficiency, 0.85);
    same(drawn.inverter.idle_w, 5.0);
    same(drawn.inverter.linear, 0.12);
    same(drawn.inverter.quadratic_per_w, 0.0012);
    same(drawn.second_wh, 550.0);
    same(drawn.thirst_z, 1.1);
    // Shares of the capacity.
    same(drawn.start_wh, 0.7 * capacity_wh);
    same(drawn.floor_wh, capacity_wh / 8.0);
    same(drawn.ceiling_wh, 0.9375 * capacity_wh);
    same(drawn.taper_wh, 0.09375 * capacity_wh);
    same(drawn.charge_base_w, 0.3125 * capacity_wh);
    // Codes stand where their numbers do.
    let figures = kit.uncertain_figures();
    let told = |code: &str| figures.iter().position(|(of, _)| *of == code).map(|place| (place, figures[place].1));
    assert_eq!(told("battery_capacity"), Some((0, 64.0)));
    assert_eq!(told("charge_efficiency"), Some((1, 0.02)));
    assert_eq!(told("discharge_efficiency"), Some((2, 0.05)));
    assert_eq!(told("inverter_idle"), Some((3, 2.0)));
    assert_eq!(told("inverter_efficiency"), Some((INVERTER_LOSSES, 0.4)));
    assert_eq!(told("second_station"), Some((SECOND, 50.0)));
    assert_eq!(told("packs"), Some((PACKS, 32.0)));
    assert_eq!(told("generator_thirst"), Some((THIRST, 0.0)));
    // As many numbers are taken as stand before the last that counts, and told where they count.
    let mut unknowns = Vec::new();
    let drawn = kit.draw(FIRST, 0.0, &mut unknowns);
    assert_eq!(unknowns.len(), 7);
    same(drawn.charge_efficiency, 0.9 + 0.02 * unknowns[1]);
    same(drawn.second_wh, 700.0 + 50.0 * unknowns[5]);
    same(drawn.capacity_wh, 1_024.0 + 64.0 * unknowns[0] + 512.0 + 32.0 * unknowns[6]);
}

#[test]
fn figures_stay_where_they_can_be() {
    let mut kit = KitPlan::exactly(&rig());
    kit.charge_efficiency.1 = 0.1;
    kit.discharge_efficiency.1 = 0.1;
    kit.idle_w.1 = 2.0;
    kit.inverter_loss_sd = 0.4;
    kit.second_wh.1 = 50.0;
    kit.size = Size::Cells((1_024.0, 64.0));
    kit.start = (0.5, 0.1);
    let low = resolved(
        &kit,
        &at(&[(0, -50.0), (1, -9.0), (2, -9.0), (3, -9.0), (INVERTER_LOSSES, -9.0), (SECOND, -99.0)]),
        -9.0,
    );
    assert_eq!((low.charge_efficiency, low.discharge_efficiency), (0.3, 0.3));
    assert_eq!((low.inverter.idle_w, low.inverter.linear, low.inverter.quadratic_per_w), (0.0, 0.0, 0.0));
    assert_eq!((low.second_wh, low.capacity_wh, low.start_wh), (0.0, 1e-3, 0.0));
    let high = resolved(&kit, &at(&[(1, 9.0), (2, 9.0)]), 9.0);
    assert_eq!((high.charge_efficiency, high.discharge_efficiency), (1.0, 1.0));
    // A doubt about the charge reaches up to where charging stops, or to what is said where that is more, and never past full.
    same(high.start_wh, 960.0);
    kit.start.0 = 0.98;
    same(resolved(&kit, &at(&[]), 9.0).start_wh, 0.98 * 1_024.0);
    kit.start.0 = 1.2;
    same(resolved(&kit, &at(&[]), 9.0).start_wh, 1_024.0);
}

/// A quarter of the capacity an hour is 256 W; a limit that is told holds where it is more, and changes nothing where it is less.
#[test]
fn what_charging_is_a_share_of_is_the_habit_or_what_is_told() {
    let mut kit = KitPlan::exactly(&rig());
    kit.charge_c_rate = 0.25;
    let base_w = |kit: &mut KitPlan, limit_w: f64| {
        kit.nominal.charge_limit_w = limit_w;
        kit.best_estimate().charge_base_w
    };
    assert_eq!([f64::INFINITY, 300.0, 200.0].map(|limit_w| base_w(&mut kit, limit_w)), [256.0, 300.0, 256.0]);
}

/// What leaves the cells is limited: 500 W of them are 440 at the bus.
#[test]
fn a_limit_of_the_cells_is_less_at_the_bus() {
    let mut kit = KitPlan::exactly(&rig());
    kit.cells_give_w = Some(600.0);
    let rig = kit.best_estimate();
    same(rig.discharge_limit_w, 528.0);
    same(rig.discharge_base_w, 528.0);
    kit.cells_give_w = Some(300.0);
    same(kit.best_estimate().discharge_limit_w, 264.0);
    same(kit.best_estimate().discharge_base_w, 500.0);
}

#[test]
fn a_battery_of_twice_the_size_has_twice_the_cells_and_their_heat() {
    let mut kit = KitPlan::exactly(&rig());
    kit.packs_wh = (100.0, 0.0);
    kit.scale = 2.0;
    let twice = kit.best_estimate();
    assert_eq!((twice.capacity_wh, twice.heat_capacity_wh_per_k, twice.heat_loss_w_per_k), (2_148.0, 8.0, 3.0));
}

/// 100 W on a curve of 8 W, a tenth and a thousandth a watt lose 20 W beyond the idle draw.
#[test]
fn losses_that_are_assumed_leave_room_for_the_test() {
    let lowered = |idle: bool, efficiency: bool, room_w: f64| {
        let mut curve = rig().inverter;
        Assumed { idle, efficiency }.lower(&mut curve, 100.0, room_w);
        [curve.idle_w, curve.linear, curve.quadratic_per_w]
    };
    let near = |a: [f64; 3], b: [f64; 3]| a.iter().zip(b).for_each(|(a, b)| same(*a, b));
    // First what grows with the load, the idle draw last.
    near(lowered(true, true, 18.0), [8.0, 0.05, 0.0005]);
    near(lowered(true, true, 4.0), [4.0, 0.0, 0.0]);
    near(lowered(true, true, -3.0), [0.0, 0.0, 0.0]);
    near(lowered(true, true, 40.0), [8.0, 0.1, 0.001]);
    near(lowered(false, true, 13.0), [8.0, 0.025, 0.00025]);
    near(lowered(false, true, 4.0), [8.0, 0.0, 0.0]);
    near(lowered(true, false, 25.0), [5.0, 0.1, 0.001]);
    near(lowered(true, false, 15.0), [0.0, 0.1, 0.001]);
    near(lowered(false, false, 1.0), [8.0, 0.1, 0.001]);
}

/// A kit whose size is known by 900 Wh under 100 W at an outlet.
fn bench(outlet: usize, most_wh: f64, held: bool) -> KitPlan {
    let mut kit = KitPlan::exactly(&rig());
    kit.nominal.converter[1] = LossCurve { idle_w: 3.0, linear: 0.25, ..LossCurve::IDEAL };
    kit.size = Size::BenchTest { delivered_wh: (900.0, 20.0), load_w: 100.0, outlet, most_wh, held };
    kit
}

/// Nine hours of 100 W, 20 W of losses, 8 W of idle draw and 5 W of the electronics, out of cells that give back 88 %.
#[test]
fn cells_behind_a_bench_test_pay_for_all_its_losses() {
    same(bench(0, 2_000.0, false).best_estimate().capacity_wh, 133.0 * 9.0 / 0.88);
    same(bench(1, 2_000.0, false).best_estimate().capacity_wh, 133.0 * 9.0 / 0.88);
    same(resolved(&bench(0, 2_000.0, false), &at(&[(0, 1.5)]), 0.0).capacity_wh, 133.0 * 9.3 / 0.88);
    // Held to what there can be only where the losses stated ask for more.
    assert_eq!(bench(0, 1_100.0, true).best_estimate().capacity_wh, 1_100.0);
    same(bench(0, 1_100.0, false).best_estimate().capacity_wh, 133.0 * 9.0 / 0.88);
    // Losses that are only assumed are lowered until the test fits: the cells hold just what they can.
    let mut assumed = bench(0, 1_100.0, false);
    assumed.assumed = Assumed { idle: true, efficiency: true };
    same(assumed.best_estimate().capacity_wh, 1_100.0);
    assert_eq!(assumed.uncertain_figures()[0], ("battery_capacity", 20.0));
}

#[test]
fn a_test_beyond_the_label_is_told_by_how_much() {
    // By the best estimates, and by an efficiency at the upper end of 0.88 ± 0.0392.
    let mut kit = bench(0, 1_200.0, false);
    kit.discharge_efficiency = (0.88, 0.02);
    let (cells_wh, best) = (133.0 * 9.0 / 0.88, 0.88 + 0.02 * NORMAL_95);
    let beyond = kit.beyond_label().expect("beyond");
    same(beyond.cells_wh, cells_wh);
    same(beyond.least_wh, 133.0 * 9.0 / best);
    assert_eq!((beyond.most_wh, beyond.hours, beyond.lowered), (1_200.0, 9.0, false));
    // 1.05 times what there can be is the most that untested cells may hold.
    assert!(beyond.is_impossible());
    assert!(!BeyondLabel { least_wh: 1_259.9, ..beyond }.is_impossible());
    assert!(BeyondLabel { least_wh: 1_260.1, ..beyond }.is_impossible());
    // Losses that are assumed make room: then it fits.
    for assumed in [Assumed { idle: true, efficiency: true }, Assumed { idle: false, efficiency: true }] {
        kit.assumed = assumed;
        let beyond = kit.beyond_label().expect("beyond");
        same(beyond.least_wh, 1_200.0);
        assert!(beyond.lowered && !beyond.is_impossible());
    }
    // An idle draw alone that is assumed: nothing of it is left, 125 W remain.
    kit.assumed = Assumed { idle: true, efficiency: false };
    same(kit.beyond_label().expect("beyond").least_wh, 125.0 * 9.0 / best);
    // At a DC outlet the converter's losses may be none.
    let mut dc = bench(1, 1_200.0, false);
    dc.discharge_efficiency = (0.88, 0.02);
    let beyond = dc.beyond_label().expect("beyond");
    same(beyond.cells_wh, cells_wh);
    same(beyond.least_wh, 105.0 * 9.0 / best);
    assert!(beyond.lowered);
    // An efficiency is never above 1; what fits is not told.
    dc.discharge_efficiency = (0.88, 0.2);
    same(dc.beyond_label().expect("beyond").least_wh, 105.0 * 9.0);
    assert!(bench(0, 1_361.0, false).beyond_label().is_none() && bench(0, 1_360.0, false).beyond_label().is_some());
    assert!(KitPlan::exactly(&rig()).beyond_label().is_none());
}

#[test]
fn what_an_ac_outlet_hangs_on_is_drawn_where_it_can_be_off() {
    let mut kit = KitPlan::exactly(&rig());
    (kit.least_ac_w, kit.ac_off_after_h) = ((4.0, 16.0), (1.0, 8.0));
    let drawn = |kit: &KitPlan| {
        let figures = kit.uncertain_figures();
        (figures[LEAST_AC], figures[AC_OFF_AFTER].1)
    };
    assert_eq!(drawn(&kit), (("switches_off_below", 0.0), 0.0));
    kit.minds_the_ac_outlet(true);
    assert_eq!(drawn(&kit), (("switches_off_below", 1.0), 1.0));
    let half = resolved(&kit, &at(&[]), 0.0);
    same(half.least_ac_w, 8.0);
    same(half.ac_off_after_h, 8.0_f64.sqrt());
    kit.nominal.inverter_sleeps = true;
    assert_eq!(drawn(&kit), (("wakes_above", 1.0), 0.0));
    kit.least_ac_w = (6.0, 6.0);
    assert_eq!(drawn(&kit).0.1, 0.0);
}

/// Cells of 1,000 Wh of which nobody has told how sure that is hold 970 ± 80; half-widths of a label, of its health and of what is not
/// told add by their squares.
#[test]
fn cells_hold_what_label_and_health_leave() {
    let held_of = |plus_minus: f64, told: bool, health: (f64, f64)| {
        let (wh, sd) =
            held(&Uncertain::new(WattHours(1_000.0), plus_minus), told, &Uncertain::new(Fraction(health.0), health.1));
        (wh, sd * NORMAL_95)
    };
    let near = |(wh, half): (f64, f64), by_hand: (f64, f64)| {
        same(wh, by_hand.0);
        same(half, by_hand.1);
    };
    near(held_of(0.0, false, (1.0, 0.0)), (970.0, 80.0));
    near(held_of(0.0, false, (0.9, 0.0)), (873.0, 72.0));
    near(held_of(50.0, true, (0.8, 0.0)), (800.0, 40.0));
    near(held_of(50.0, true, (0.8, 0.1)), (800.0, 11_600.0_f64.sqrt()));
    near(held_of(50.0, false, (0.8, 0.1)), (776.0, (64.0_f64 * 64.0 + 40.0 * 40.0 + 97.0 * 97.0).sqrt()));
}

/// At 300 W and 85 % ± 3 % an inverter loses 52.9 W, and 12.9 W more at 82 %: over what it loses beyond its idle draw.
#[test]
fn an_efficiency_that_is_assumed_makes_its_losses_doubtful() {
    let mut inverter =
        scenario(&crate::engine::tests::load("radio", "dc", "watts = \"5 W\"")).station.inverter.expect("AC");
    let curve = LossCurve { linear: 0.1, ..LossCurve::IDEAL };
    let sd = |inverter: &Inverter| loss_sd(&curve, inverter) * NORMAL_95;
    let point = |efficiency: f64| EfficiencyPoint { load: Watts(300.0), efficiency: Fraction(efficiency) };
    inverter.efficiency = vec![point(0.85), point(0.5)];
    same(sd(&inverter), (300.0 / 0.82 - 300.0 / 0.85) / 30.0);
    inverter.efficiency = vec![point(0.31)];
    same(sd(&inverter), (300.0 / 0.3 - 300.0 / 0.31) / 30.0);
    assert_eq!(loss_sd(&LossCurve::IDEAL, &inverter), 0.0);
    inverter.efficiency.clear();
    assert_eq!(sd(&inverter), 0.0);
}

#[test]
fn rooms_are_never_colder_than_heated_and_heaters_stop_in_the_middle_of_a_narrow_span() {
    assert_eq!([room_c(3.0), room_c(20.0), room_c(27.5)], [20.0, 20.0, 27.5]);
    let above = |low: f64, high: f64| heats_above_k((Celsius(low), Celsius(high)));
    assert_eq!([above(0.0, 45.0), above(2.0, 8.0), above(-5.0, 5.0)], [5.125, 3.0, 5.0]);
}
