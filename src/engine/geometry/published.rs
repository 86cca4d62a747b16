//! What the engine's own geometry makes of a sun and a sky, against published tables of light on tilted planes.

use super::*;
use crate::math;
use crate::scenario::model::PanelCable;
use crate::sky::plane::PlaneFactors;
use crate::units::*;

/// Totals and parts on a plane by a reference library (pvlib, Hay & Davies), see tests/data/README.md.
const TILTED: &str = include_str!("../../../tests/data/tilted_plane.csv");
const COMPONENTS: &str = include_str!("../../../tests/data/tilted_plane_components.csv");

fn panel(aim: Aim) -> Panel {
    Panel {
        name: "plane".to_owned(),
        input: String::new(),
        rated: Uncertain::exact(Watts(1000.0)),
        series: 1,
        parallel: 1,
        aim,
        shade: Vec::new(),
        out: None,
        open_circuit_voltage: None,
        max_power_voltage: None,
        voltage_coefficient: None,
        power_coefficient: PerKelvin(0.0),
        soiling: Fraction(0.0),
        cable: PanelCable::Loses(Fraction(0.0)),
    }
}

/// One step of a year: a bare pane that loses nothing, the sun in one place.
fn one_step(plane: &Plane, zenith_deg: f64, azimuth_deg: f64, outside_w_m2: f64) -> ArrayGeometry {
    let bare = Glass { index: 1.0, extinction_per_m: 0.0, thickness_m: 0.0 };
    let mut pane = Pane { glass: bare, diffuse: vec![None; 91] };
    let panel = panel(Aim::Fixed { tilt: Degrees(plane.tilt_deg), facing: Degrees(plane.facing_deg) });
    let share_out = ShareOut::new(&panel);
    let sun = [SunAt { minute: 720.0, zenith_deg, azimuth_deg }];
    let aim = DayAim::new(&panel, &sun, &share_out, plane.albedo);
    let mut geometry = ArrayGeometry::empty(&panel, plane.albedo, &mut pane, 1, 1.0);
    geometry.add_step(&sun, &aim, &share_out, outside_w_m2, &mut pane);
    geometry
}

/// Light on the plane \[W/m²\] by the path of a trial: what a panel of 1 W per W/m² yields.
fn yields_w_m2(geometry: &ArrayGeometry, ghi_w_m2: f64, dhi_w_m2: f64) -> f64 {
    1000.0 * geometry.power_and_warmth((0, 0), (ghi_w_m2, dhi_w_m2), (20.0, 0.5)).0
}

#[test]
fn an_array_gets_the_light_of_the_published_planes() {
    let mut checked = 0;
    // The inputs of the first table are rounded after its outputs were computed, which is worth 0.01 W/m² (as for the plane
    // itself in published_sky); of the second the parts have four decimals. Single precision adds a millionth.
    for (table, azimuth, rounding) in [(TILTED, "azimuth_deg", 0.01), (COMPONENTS, "sun_azimuth_deg", 1e-3)] {
        let mut reader = csv::Reader::from_reader(table.as_bytes());
        let columns = reader.headers().unwrap().clone();
        for row in reader.records().map(Result::unwrap) {
            let number = |name: &str| {
                let at = columns.iter().position(|column| column == name).unwrap_or_else(|| panic!("no {name}"));
                row[at].parse::<f64>().unwrap()
            };
            let plane =
                Plane { tilt_deg: number("tilt_deg"), facing_deg: number("facing_deg"), albedo: number("albedo") };
            let (zenith, azimuth) = (number("zenith_deg"), number(azimuth));
            let (dni, dhi, ghi) = (number("dni"), number("dhi"), number("ghi"));
            let (extra, cosine) = (number("extra_normal"), math::cos(zenith.to_radians()));
            let geometry = one_step(&plane, zenith, azimuth, extra * cosine);
            let found = yields_w_m2(&geometry, ghi, dhi);
            let published = number("poa_hay_davies");
            // The engine takes beam as global less diffuse; both are rounded, and a low sun multiplies that.
            let ratio = plane.cos_incidence(zenith, azimuth).max(0.0) / cosine;
            let beam_rounding = (ghi - dhi - dni * cosine).abs() * ratio * (1.0 + dhi / (extra * cosine));
            let allowed = rounding + beam_rounding + 1e-6 * published;
            assert!((found - published).abs() <= allowed, "{found}, allowed ±{allowed}: {row:?}");

            // Where only global light is known the lanes split it themselves: the same plane with that split.
            let split = ghi * hourly_diffuse_fraction(ghi / (extra * cosine));
            let factors = PlaneFactors::new(&plane, zenith, azimuth, extra);
            let of_plane = factors.poa_w_m2((ghi - split) / cosine, split, ghi);
            let found = yields_w_m2(&geometry, ghi, f64::NAN);
            // Single precision: some ten roundings of 6e-8, and those of the split's polynomial times a low sun's ratio.
            assert!((found - of_plane).abs() <= 1e-5 * (1.0 + ratio) * ghi.max(1.0), "{found} for {of_plane}: {row:?}");
            checked += 1;
        }
    }
    assert_eq!(checked, 120);
}

/// A panel that is held at the sun gets the whole direct light: beam over its share on the level is 1 / cos z.
#[test]
fn an_array_held_at_the_sun_gets_its_direct_light() {
    let panel = panel(Aim::AtTheSun);
    let share_out = ShareOut::new(&panel);
    for zenith_deg in [0.0, 30.0, 60.0, 80.0_f64] {
        let sun = [SunAt { minute: 720.0, zenith_deg, azimuth_deg: 140.0 }];
        let aim = DayAim::new(&panel, &sun, &share_out, 0.0);
        let mut pane = Pane { glass: Glass::CLEAR, diffuse: vec![None; 91] };
        let mut geometry = ArrayGeometry::empty(&panel, 0.0, &mut pane, 1, 1.0);
        let up = math::cos(zenith_deg.to_radians());
        geometry.add_step(&sun, &aim, &share_out, 1400.0 * up, &mut pane);
        let found = yields_w_m2(&geometry, 700.0 * up, 0.0);
        assert!((found - 700.0).abs() < 1e-3, "{found} W/m² with the sun {zenith_deg}° from the zenith");
    }
}
