//! Glass, cells and power.

use super::table::{Table, Worst};
use tideover::sky::cell::{CellModel, power_factor};
use tideover::sky::incidence::Glass;
use tideover::sky::plane::{Plane, PlaneFactors};

const MODIFIER: &str = include_str!("../../data/incidence_modifier.csv");
const MODIFIER_MORE: &str = include_str!("../../data/incidence_modifier_more.csv");
const MODIFIER_DIFFUSE: &str = include_str!("../../data/incidence_modifier_diffuse.csv");
const CELL: &str = include_str!("../../data/cell_temperature.csv");
const CELL_MORE: &str = include_str!("../../data/cell_temperature_more.csv");
const POWER: &str = include_str!("../../data/panel_power.csv");

const PHYSICAL: Glass = Glass::CLEAR;

#[test]
fn modifiers_are_those_of_the_published_models() {
    let (mut six, mut eight) = (Worst::new(), Worst::new());
    for row in Table::csv(MODIFIER, 9).rows() {
        let angle = row.number("angle_deg");
        six.add(PHYSICAL.modifier(angle), row.number("physical_n1.526_K4_L0.002"), row);
    }
    for row in Table::csv(MODIFIER_MORE, 22).rows() {
        for angle in [row.number("angle_deg"), -row.number("angle_deg")] {
            eight.add(PHYSICAL.modifier(angle), row.number("physical_n1.526_K4_L0.002"), row);
        }
    }
    six.within(9, 5.1e-7);
    eight.within(44, 5.1e-9);
    assert_eq!(PHYSICAL.modifier(135.0), 0.0);
    assert!(PHYSICAL.modifier(f64::NAN).is_nan());
}

#[test]
fn modifiers_for_diffuse_light_agree_with_marions_integration() {
    let (mut wide, mut horizon) = (Worst::new(), Worst::new());
    for row in Table::csv(MODIFIER_DIFFUSE, 6).rows() {
        let tilt = row.number("tilt_deg");
        let found = PHYSICAL.diffuse(tilt);
        wide.add(found.sky, row.number("physical_sky"), row);
        wide.add(found.ground, row.number("physical_ground"), row);
        // Marion's horizon is the half degree above it.
        horizon.add(PHYSICAL.band(tilt, 89.5, 90.0), row.number("physical_horizon"), row);
    }
    // The table's own integration is good to that.
    wide.within(12, 1e-3);
    horizon.within(6, 1e-3);
    assert!(PHYSICAL.diffuse(f64::NAN).sky.is_nan());
}

#[test]
fn diffuse_modifiers_mirror() {
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
    for row in Table::csv(CELL, 24).rows() {
        let [poa, air, wind] = ["poa_w_m2", "air_c", "wind_m_s"].map(|column| row.number(column));
        four.add(CellModel::OPEN_RACK.cell_c(poa, air, wind), row.number("faiman_u0_25_u1_6.84"), row);
    }
    for row in Table::csv(CELL_MORE, 8).rows() {
        let [poa, air, wind] = ["poa_w_m2", "air_c", "wind_m_s"].map(|column| row.number(column));
        six.add(CellModel::OPEN_RACK.cell_c(poa, air, wind), row.number("faiman_25_6.84"), row);
    }
    four.within(24, 5.1e-5);
    six.within(8, 5.1e-7);
    // A missing wind is not a calm.
    assert_eq!(CellModel::OPEN_RACK.cell_c(500.0, 0.0, -3.0), 20.0);
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
