//! Glass, cells and power.

use super::table::{Table, Worst};
use tideover::sky::cell::{CellModel, power_factor};
use tideover::sky::incidence::{Glass, IncidenceModel};
use tideover::sky::plane::{Plane, PlaneFactors};

const MODIFIER: &str = include_str!("../../data/incidence_modifier.csv");
const MODIFIER_MORE: &str = include_str!("../../data/incidence_modifier_more.csv");
const MODIFIER_DIFFUSE: &str = include_str!("../../data/incidence_modifier_diffuse.csv");
const CELL: &str = include_str!("../../data/cell_temperature.csv");
const CELL_MORE: &str = include_str!("../../data/cell_temperature_more.csv");
const POWER: &str = include_str!("../../data/panel_power.csv");

const ASHRAE: IncidenceModel = IncidenceModel::Ashrae { b0: 0.05 };
const PHYSICAL: IncidenceModel = IncidenceModel::Physical(Glass::CLEAR);

#[test]
fn modifiers_are_those_of_the_published_models() {
    let (mut six, mut eight) = (Worst::new(), Worst::new());
    for row in Table::csv(MODIFIER, 9).rows() {
        let angle = row.number("angle_deg");
        six.add(ASHRAE.modifier(angle), row.number("ashrae_b0_0.05"), row);
        six.add(PHYSICAL.modifier(angle), row.number("physical_n1.526_K4_L0.002"), row);
    }
    let coated = IncidenceModel::Physical(Glass { coating_index: Some(1.29), ..Glass::CLEAR });
    let models = [
        (ASHRAE, "ashrae_b0_0.05"),
        (IncidenceModel::Ashrae { b0: 0.10 }, "ashrae_b0_0.10"),
        (PHYSICAL, "physical_n1.526_K4_L0.002"),
        (coated, "physical_with_ar_1.29"),
        (IncidenceModel::MartinRuiz { a_r: 0.16 }, "martin_ruiz_ar0.16"),
    ];
    for row in Table::csv(MODIFIER_MORE, 22).rows() {
        for (model, column) in &models {
            eight.add(model.modifier(row.number("angle_deg")), row.number(column), row);
            eight.add(model.modifier(-row.number("angle_deg")), row.number(column), row);
        }
    }
    six.within(18, 5.1e-7);
    eight.within(220, 5.1e-9);
    for (model, column) in models {
        assert_eq!(model.modifier(135.0), 0.0, "{column}");
        assert!(model.modifier(f64::NAN).is_nan(), "{column}");
    }
}

#[test]
fn modifiers_for_diffuse_light_agree_with_marions_integration() {
    let (mut wide, mut horizon) = (Worst::new(), Worst::new());
    for row in Table::csv(MODIFIER_DIFFUSE, 6).rows() {
        let tilt = row.number("tilt_deg");
        for (model, name) in [(ASHRAE, "ashrae"), (PHYSICAL, "physical")] {
            let found = model.diffuse(tilt);
            wide.add(found.sky, row.number(&format!("{name}_sky")), row);
            wide.add(found.ground, row.number(&format!("{name}_ground")), row);
            // Marion's horizon is the half degree above it.
            horizon.add(model.band(tilt, 89.5, 90.0), row.number(&format!("{name}_horizon")), row);
        }
    }
    // The table's own integration is good to that.
    wide.within(24, 1e-3);
    horizon.within(12, 1e-3);
    assert!(PHYSICAL.diffuse(f64::NAN).sky.is_nan());
}

#[test]
fn diffuse_modifiers_meet_the_closed_forms() {
    // A plane lying flat under Martin & Ruiz: 2 ∫ u (1 − e^(−u/a)) du / (1 − e^(−1/a)) over u = cos θ from 0 to 1.
    let a: f64 = 0.16;
    let lost = 2.0 * a * (a - (1.0 + a) * (-1.0 / a).exp());
    let exact = (1.0 - lost) / (1.0 - (-1.0 / a).exp());
    let found = IncidenceModel::MartinRuiz { a_r: a }.diffuse(0.0);
    assert!((found.sky - exact).abs() < 1e-6, "{} {exact}", found.sky);
    // The same for 1 − b0 (1/u − 1), held at 0 below u = b0/(1 + b0).
    let exact = 1.0 - 0.05 + 0.05 * 0.05 / 1.05;
    assert!((ASHRAE.diffuse(0.0).sky - exact).abs() < 1e-6);
    // Upright, sky and ground mirror each other; upside down, the ground takes the place of the sky.
    let upright = PHYSICAL.diffuse(90.0);
    assert!((upright.sky - upright.ground).abs() < 1e-12);
    assert!((PHYSICAL.diffuse(180.0).ground - PHYSICAL.diffuse(0.0).sky).abs() < 1e-12);
}

#[test]
fn glass_dims_each_part_by_its_own_modifier() {
    let plane = Plane::new(45.0, 180.0);
    let bare = PlaneFactors::new(&plane, 60.0, 150.0, 1400.0);
    let diffuse = PHYSICAL.diffuse(45.0);
    let at_incidence = PHYSICAL.modifier(plane.incidence_deg(60.0, 150.0));
    let (open, behind) =
        (bare.irradiance(600.0, 90.0, 390.0), bare.behind_glass(at_incidence, &diffuse).irradiance(600.0, 90.0, 390.0));
    assert!((behind.beam_w_m2 - at_incidence * open.beam_w_m2).abs() < 1e-9);
    assert!((behind.circumsolar_w_m2 - at_incidence * open.circumsolar_w_m2).abs() < 1e-9);
    assert!((behind.dome_w_m2 - diffuse.sky * open.dome_w_m2).abs() < 1e-9);
    assert!((behind.ground_w_m2 - diffuse.ground * open.ground_w_m2).abs() < 1e-9);
}

#[test]
fn cells_warm_as_the_published_models_say() {
    let (mut four, mut six) = (Worst::new(), Worst::new());
    let noct = |noct_c: f64| CellModel::Noct { noct_c };
    for row in Table::csv(CELL, 24).rows() {
        let [poa, air, wind] = ["poa_w_m2", "air_c", "wind_m_s"].map(|column| row.number(column));
        four.add(CellModel::OPEN_RACK.cell_c(poa, air, wind), row.number("faiman_u0_25_u1_6.84"), row);
        four.add(noct(45.0).cell_c(poa, air, wind), row.number("ross_noct_45"), row);
    }
    let balance = CellModel::HeatBalance { uc_w_m2_k: 29.0, uv_w_s_m3_k: 0.0, efficiency: 0.20, absorbed: 0.90 };
    for row in Table::csv(CELL_MORE, 8).rows() {
        let [poa, air, wind] = ["poa_w_m2", "air_c", "wind_m_s"].map(|column| row.number(column));
        six.add(CellModel::OPEN_RACK.cell_c(poa, air, wind), row.number("faiman_25_6.84"), row);
        six.add(noct(45.0).cell_c(poa, air, wind), row.number("ross_noct_45"), row);
        six.add(noct(48.0).cell_c(poa, air, wind), row.number("ross_noct_48"), row);
        six.add(balance.cell_c(poa, air, wind), row.number("heat_balance_uc29_uv0_eff0.20_alpha0.90"), row);
    }
    four.within(48, 5.1e-5);
    six.within(32, 5.1e-7);
    // Seen in the tests of a reference library: Ross(1000 W/m², 30 °C, NOCT 50) = 67.5.
    assert_eq!(noct(50.0).cell_c(1000.0, 30.0, 1.0), 67.5);
    // With wind the heat balance sheds more; a missing wind is not a calm.
    let windy = CellModel::HeatBalance { uc_w_m2_k: 25.0, uv_w_s_m3_k: 1.2, efficiency: 0.0, absorbed: 1.0 };
    assert!((windy.cell_c(620.0, 0.0, 5.0) - 20.0).abs() < 1e-12);
    assert_eq!(windy.cell_c(500.0, 0.0, -3.0), 20.0);
    assert!(CellModel::OPEN_RACK.cell_c(500.0, 0.0, f64::NAN).is_nan());
}

#[test]
fn power_is_linear_in_light_and_temperature() {
    let mut power = Worst::new();
    for row in Table::csv(POWER, 12).rows() {
        let [poa, cell, gamma] = ["poa_w_m2", "cell_c", "gamma_per_k"].map(|column| row.number(column));
        power.add(100.0 * power_factor(poa, cell, gamma), row.number("power_w_for_100w_rated"), row);
    }
    power.within(12, 5.1e-7);
    assert_eq!(power_factor(1000.0, 400.0, -0.004), 0.0);
    assert!(power_factor(f64::NAN, 25.0, -0.004).is_nan());
}
