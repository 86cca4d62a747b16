//! What a panel gives under a cloudless sky.

use crate::sky::cell::{CellModel, power_factor};
use crate::sky::clear::{ClearSky, relative_air_mass};
use crate::sky::incidence::Glass;
use crate::sky::plane::{Light, Plane, PlaneFactors};

/// What the expectation hangs on.
#[derive(Clone, Copy)]
pub(super) struct Conditions {
    pub turbidity: f64,
    pub air_c: f64,
    pub wind_m_s: f64,
    pub tilt_deg: f64,
    pub facing_deg: f64,
    pub arrives: f64,
    pub perez: bool,
}

/// Sun, place and panel at one moment.
pub(super) struct Scene {
    pub zenith_deg: f64,
    pub apparent_deg: f64,
    pub azimuth_deg: f64,
    pub extra_w_m2: f64,
    pub height_m: f64,
    pub albedo: f64,
    pub rated_w: f64,
    pub power_per_k: f64,
}

impl Scene {
    /// Light on the cells \[W/m²\], their temperature \[°C\] and the power that arrives \[W\].
    pub fn power(&self, c: Conditions) -> (f64, f64, f64) {
        let Some(sky) = ClearSky::new(self.height_m.clamp(-500.0, 5000.0), c.turbidity.clamp(1.5, 10.0)) else {
            return (0.0, c.air_c, 0.0);
        };
        let split = sky.split(self.apparent_deg, self.extra_w_m2);
        let ghi = sky.ghi_w_m2(self.apparent_deg, self.extra_w_m2);
        let plane = Plane { tilt_deg: c.tilt_deg, facing_deg: c.facing_deg, albedo: self.albedo };
        let glass = Glass::CLEAR;
        let modifier = glass.modifier(plane.incidence_deg(self.zenith_deg, self.azimuth_deg));
        let diffuse = glass.diffuse(c.tilt_deg);
        let poa = if c.perez {
            let light = Light {
                zenith_deg: self.zenith_deg,
                azimuth_deg: self.azimuth_deg,
                extra_normal_w_m2: self.extra_w_m2,
                dni_w_m2: split.dni_w_m2,
                dhi_w_m2: split.dhi_w_m2,
                ghi_w_m2: ghi,
            };
            let parts = plane.perez(&light, relative_air_mass(self.apparent_deg).unwrap_or(1.0));
            (parts.beam_w_m2 + parts.circumsolar_w_m2) * modifier
                + parts.dome_w_m2 * diffuse.sky
                + parts.ground_w_m2 * diffuse.ground
        } else {
            PlaneFactors::new(&plane, self.zenith_deg, self.azimuth_deg, self.extra_w_m2)
                .behind_glass(modifier, &diffuse)
                .poa_w_m2(split.dni_w_m2, split.dhi_w_m2, ghi)
        };
        let cell_c = CellModel::OPEN_RACK.cell_c(poa, c.air_c, c.wind_m_s);
        (poa, cell_c, self.rated_w * power_factor(poa, cell_c, self.power_per_k) * c.arrives)
    }
}
