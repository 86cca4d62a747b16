//! Figures of bench tests put into a kit, by hand.

use super::*;
use crate::engine::tests::same;
use crate::scenario::record::Figure;
use crate::units::{WattHours, Watts};

fn joint(figures: &[(FigureKind, f64)], covariance: Vec<f64>) -> Joint {
    Joint::new(&ProvedKit {
        title: "kit".into(),
        rated_capacity: WattHours(1_000.0),
        inverter: Some(Watts(500.0)),
        step_from: Some(Watts(200.0)),
        defects: Vec::new(),
        figures: figures.iter().map(|&(kind, value)| Figure { kind, value }).collect(),
        covariance,
    })
}

/// The kit that figures known exactly make of one with an own draw of so many watts, and what a rate costs.
fn applied(figures: &[(FigureKind, f64)], own_draw_w: f64) -> (Rig, Option<f64>) {
    let n = figures.len();
    let mut rig = Rig { own_draw_w, ..Rig::ideal(700.0, 0.0) };
    let rate_loss = joint(figures, vec![0.0; n * n]).apply(&vec![2.5; n], &mut rig);
    (rig, rate_loss)
}

/// Figures in the order of a file, no two alike.
fn all() -> Vec<(FigureKind, f64)> {
    FigureKind::ALL.into_iter().zip([800.0, 0.8, 0.9, 12.0, 0.88, 7.0, 0.85, 6.0, 0.75, 4.5, 0.04]).collect()
}

#[test]
fn every_figure_goes_where_it_belongs() {
    let (rig, rate_loss) = applied(&all(), 5.0);
    // 800 Wh at the bus are 1,000 in cells that give back four fifths.
    same(rig.capacity_wh, 1_000.0);
    assert_eq!((rig.discharge_efficiency, rig.charge_efficiency, rig.own_draw_w), (0.8, 0.9, 5.0));
    // What is drawn with an outlet on holds the electronics' own 5 W.
    let by_hand =
        [(rig.inverter, 7.0, 0.12 / 0.88), (rig.converter[1], 2.0, 0.15 / 0.85), (rig.converter[2], 1.0, 1.0 / 3.0)];
    for (curve, idle_w, linear) in by_hand {
        same(curve.idle_w, idle_w);
        same(curve.linear, linear);
    }
    // 2 % of the rated power at full load, typical of small units (no source); the step whole from 200 W on.
    same(rig.inverter.quadratic_per_w, 0.02 / 500.0);
    assert_eq!((rig.inverter.step_w, rig.inverter.step_per_w), (4.5, 1.0 / 200.0));
    assert_eq!(rate_loss, Some(0.04));
}

#[test]
fn what_the_tests_do_not_tell_stays() {
    let (rig, rate_loss) = applied(&[(FigureKind::UsableEnergy, 630.0), (FigureKind::DischargeEfficiency, 0.9)], 5.0);
    same(rig.capacity_wh, 700.0);
    assert_eq!((rig.own_draw_w, rig.charge_efficiency, rate_loss), (5.0, 1.0, None));
    assert_eq!((rig.inverter, rig.converter), (LossCurve::IDEAL, [LossCurve::IDEAL; 3]));
    // Without the energy the cells keep theirs: 700 Wh at the bus.
    same(applied(&[(FigureKind::DischargeEfficiency, 0.7)], 5.0).0.capacity_wh, 1_000.0);
}

#[test]
fn figures_stay_where_they_can_be() {
    use FigureKind::{ChargeEfficiency, Conversion, DischargeEfficiency, Draw, RateLoss, Step};
    use OutletKind::{Ac, Dc};
    // The electronics draw no more than the tests find with the outlet on, and nothing is drawn the other way.
    let draws = |ac_w: f64| {
        let rig = applied(&[(Draw(Ac), ac_w)], 5.0).0;
        (rig.own_draw_w, rig.inverter.idle_w)
    };
    assert_eq!([draws(12.0), draws(3.0), draws(-2.0)], [(5.0, 7.0), (3.0, 0.0), (0.0, 0.0)]);
    let dc = |dc_w: f64| {
        let rig = applied(&[(Draw(Dc), dc_w)], 5.0).0;
        (rig.own_draw_w, rig.converter[1].idle_w)
    };
    assert_eq!([dc(7.0), dc(3.0)], [(5.0, 2.0), (5.0, 0.0)]);
    for (told, taken) in [(1.2, 1.0), (0.1, 0.3), (0.8, 0.8)] {
        let figures = [DischargeEfficiency, ChargeEfficiency, Conversion(Ac), Conversion(Dc)].map(|kind| (kind, told));
        let rig = applied(&figures, 5.0).0;
        assert_eq!((rig.discharge_efficiency, rig.charge_efficiency), (taken, taken));
        same(rig.inverter.linear, 1.0 / taken - 1.0);
        same(rig.converter[1].linear, 1.0 / taken - 1.0);
    }
    let (rig, rate_loss) = applied(&[(Step, -3.0), (RateLoss, -0.1)], 5.0);
    assert_eq!((rig.inverter.step_w, rate_loss), (0.0, Some(0.0)));
}

/// Variances of 400 and 0.01 with a covariance of 1: Cholesky's factor is 20; 0.05 and the root of 0.0075 (by hand).
#[test]
fn figures_are_drawn_together() {
    let figures = [(FigureKind::UsableEnergy, 800.0), (FigureKind::DischargeEfficiency, 0.7)];
    let joint = joint(&figures, vec![400.0, 1.0, 1.0, 0.01]);
    let mut rig = Rig::ideal(1.0, 0.0);
    assert_eq!(joint.apply(&[1.5, -0.5], &mut rig), None);
    same(rig.discharge_efficiency, 0.7 + 0.05 * 1.5 - 0.5 * 0.0075_f64.sqrt());
    same(rig.capacity_wh, 830.0 / rig.discharge_efficiency);
    let told: Vec<(&str, f64)> = joint.figures().collect();
    assert_eq!(told[0], ("usable_energy", 20.0));
    assert_eq!(told[1].0, "discharge_efficiency");
    same(told[1].1, 0.0075_f64.sqrt());
    assert!(joint.has(FigureKind::UsableEnergy) && !joint.has(FigureKind::Step));
}
