//! What falls on a tilted panel.
//!
//! Three models of the sky: isotropic, Hay & Davies and Perez. Each gives beam, sky and ground light apart, because
//! glass and shade treat them differently.
//!
//! References:
//! * Hay & Davies (1980), First Canadian Solar Radiation Data Workshop, 59.
//! * Perez, Ineichen, Seals, Michalsky & Stewart (1990), Solar Energy 44(5), 271: all-sites composite coefficients.
//! * Duffie & Beckman, chapter 2.15 and 2.16, for the isotropic form and the view factors.

use super::incidence::DiffuseModifiers;
use crate::math;

/// Hay & Davies: the cosine of the zenith angle is held here, so that a grazing sun does not multiply without bound
/// (about the cosine of 89°; common practice).
const MIN_COS_ZENITH_HAY_DAVIES: f64 = 0.01745;
/// Perez et al. (1990): the zenith angle is held at 85° in the circumsolar ratio.
const MAX_ZENITH_PEREZ_DEG: f64 = 85.0;
/// Perez et al. (1990): κ of the clearness parameter, for a zenith angle in radians.
const KAPPA: f64 = 1.041;

/// Lower edges of the bins of sky clearness ε, from the second on (Perez et al. 1990, table 1).
pub const PEREZ_EDGES: [f64; 7] = [1.065, 1.23, 1.5, 1.95, 2.8, 4.5, 6.2];

/// Coefficients F11, F12, F13, F21, F22, F23 in the eight bins of sky clearness (Perez et al. 1990, table 6).
pub const PEREZ_COEFFICIENTS: [[f64; 6]; 8] = [
    [-0.008, 0.588, -0.062, -0.060, 0.072, -0.022],
    [0.130, 0.683, -0.151, -0.019, 0.066, -0.029],
    [0.330, 0.487, -0.221, 0.055, -0.064, -0.026],
    [0.568, 0.187, -0.295, 0.109, -0.152, -0.014],
    [0.873, -0.392, -0.362, 0.226, -0.462, 0.001],
    [1.132, -1.237, -0.412, 0.288, -0.823, 0.056],
    [1.060, -1.600, -0.359, 0.264, -1.127, 0.131],
    [0.678, -0.327, -0.250, 0.156, -1.377, 0.251],
];

/// Which way a panel looks, and what the ground before it throws back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plane {
    /// 0 lying flat, 90 upright \[°], 0..=180.
    pub tilt_deg: f64,
    /// The way the panel looks \[°], clockwise from north: 180 is south.
    pub facing_deg: f64,
    /// Share of light that the ground reflects \[–], 0..=1: 0.2 grass, 0.6 or more fresh snow (common practice).
    pub albedo: f64,
}

/// Horizontal and direct irradiance with the sun's place: what a plane is computed from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Light {
    /// Geometric zenith angle \[°].
    pub zenith_deg: f64,
    /// Azimuth \[°], clockwise from north.
    pub azimuth_deg: f64,
    /// Normal irradiance outside the atmosphere \[W/m²], above 0.
    pub extra_normal_w_m2: f64,
    /// Direct normal irradiance \[W/m²].
    pub dni_w_m2: f64,
    /// Diffuse horizontal irradiance \[W/m²].
    pub dhi_w_m2: f64,
    /// Global horizontal irradiance \[W/m²].
    pub ghi_w_m2: f64,
}

/// Irradiance on a plane by where it comes from \[W/m²].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaneIrradiance {
    /// From the sun's disc.
    pub beam_w_m2: f64,
    /// Sky light from around the sun; it arrives at the sun's angle.
    pub circumsolar_w_m2: f64,
    /// Sky light from the dome, brightening at the horizon included (which may make it slightly negative, as published).
    pub dome_w_m2: f64,
    /// Thrown back by the ground.
    pub ground_w_m2: f64,
}

impl PlaneIrradiance {
    /// All sky light \[W/m²].
    pub fn sky_w_m2(&self) -> f64 {
        self.circumsolar_w_m2 + self.dome_w_m2
    }

    /// All light \[W/m²].
    pub fn total_w_m2(&self) -> f64 {
        self.beam_w_m2 + self.sky_w_m2() + self.ground_w_m2
    }
}

impl Plane {
    /// A plane over grass or soil (albedo 0.2).
    pub fn new(tilt_deg: f64, facing_deg: f64) -> Plane {
        Plane { tilt_deg, facing_deg, albedo: 0.2 }
    }

    /// Angle between the sun and the plane's normal \[°], 0..=180; beyond 90 the sun is behind the panel.
    ///
    /// Reference: Duffie & Beckman, equation 1.6.3.
    ///
    /// ```
    /// use tideover::sky::plane::Plane;
    /// let angle = Plane::new(30.0, 180.0).incidence_deg(30.0, 180.0);
    /// assert!(angle < 1e-5); // aimed at the sun
    /// ```
    pub fn incidence_deg(&self, zenith_deg: f64, azimuth_deg: f64) -> f64 {
        math::acos(self.cos_incidence(zenith_deg, azimuth_deg)).to_degrees()
    }

    /// Cosine of the angle of incidence \[–], -1..=1; negative with the sun behind the panel.
    pub fn cos_incidence(&self, zenith_deg: f64, azimuth_deg: f64) -> f64 {
        let (sin_zenith, cos_zenith) = math::sin_cos(zenith_deg.to_radians());
        let (sin_tilt, cos_tilt) = math::sin_cos(self.tilt_deg.to_radians());
        let turn = (azimuth_deg - self.facing_deg).to_radians();
        // cos θ = cos z cos β + sin z sin β cos(γs − γ)
        (cos_zenith * cos_tilt + sin_zenith * sin_tilt * math::cos(turn)).clamp(-1.0, 1.0)
    }

    /// Share of the sky dome that the plane sees \[–]: (1 + cos β)/2.
    pub fn sky_view(&self) -> f64 {
        0.5 * (1.0 + math::cos(self.tilt_deg.to_radians()))
    }

    /// Share of the ground that the plane sees \[–]: (1 − cos β)/2.
    pub fn ground_view(&self) -> f64 {
        0.5 * (1.0 - math::cos(self.tilt_deg.to_radians()))
    }

    /// Irradiance under a sky that is equally bright everywhere: too dark towards the sun, so on the low side.
    ///
    /// Reference: Duffie & Beckman, equation 2.15.1.
    pub fn isotropic(&self, light: &Light) -> PlaneIrradiance {
        PlaneIrradiance {
            beam_w_m2: light.dni_w_m2 * self.beam_factor(light.zenith_deg, light.azimuth_deg),
            circumsolar_w_m2: 0.0,
            dome_w_m2: light.dhi_w_m2 * self.sky_view(),
            ground_w_m2: light.ghi_w_m2 * self.albedo * self.ground_view(),
        }
    }

    /// Irradiance under a sky with a bright patch around the sun and a bright (or dark) band at the horizon.
    ///
    /// * `relative_air_mass` — see [`super::clear::relative_air_mass`].
    ///
    /// Without diffuse light the sky gives nothing. The sky part as a whole is held at or above 0.
    ///
    /// Reference: Perez et al. (1990), equations 1 to 9, κ = 1.041 with the zenith angle in radians.
    pub fn perez(&self, light: &Light, relative_air_mass: f64) -> PlaneIrradiance {
        let mut result = self.isotropic(light);
        let dhi = light.dhi_w_m2;
        if dhi <= 0.0 {
            return PlaneIrradiance { dome_w_m2: 0.0, ..result };
        }
        let zenith = light.zenith_deg.to_radians();
        // ε = ((D + B)/D + κ z³)/(1 + κ z³); Δ = D m/I0
        let bend = KAPPA * math::powi(zenith, 3);
        let clearness = ((dhi + light.dni_w_m2) / dhi + bend) / (1.0 + bend);
        let brightness = dhi * relative_air_mass / light.extra_normal_w_m2;
        let bin = PEREZ_EDGES.iter().filter(|&&edge| edge <= clearness).count();
        let [f11, f12, f13, f21, f22, f23] = PEREZ_COEFFICIENTS[bin];
        // F1 = max(0, F11 + F12 Δ + F13 z); F2 = F21 + F22 Δ + F23 z
        let f1 = f11 + f12 * brightness + f13 * zenith;
        let f1 = if f1 < 0.0 { 0.0 } else { f1 };
        let f2 = f21 + f22 * brightness + f23 * zenith;
        // a/b = max(0, cos θ)/max(cos 85°, cos z)
        let ratio = self.beam_factor(light.zenith_deg, light.azimuth_deg)
            / math::cos(zenith).max(math::cos(MAX_ZENITH_PEREZ_DEG.to_radians()));
        result.circumsolar_w_m2 = dhi * f1 * ratio;
        result.dome_w_m2 = dhi * ((1.0 - f1) * self.sky_view() + f2 * math::sin(self.tilt_deg.to_radians()));
        if result.sky_w_m2() < 0.0 {
            result.circumsolar_w_m2 = 0.0;
            result.dome_w_m2 = 0.0;
        }
        result
    }

    /// The share of direct normal irradiance that falls on the plane \[–]: max(0, cos θ), and 0 with the sun down.
    fn beam_factor(&self, zenith_deg: f64, azimuth_deg: f64) -> f64 {
        let cos_incidence = self.cos_incidence(zenith_deg, azimuth_deg);
        if 90.0 <= zenith_deg || cos_incidence < 0.0 { 0.0 } else { cos_incidence }
    }
}

/// Hay & Davies for one sun position as factors of (dni, dhi, ghi), to be held in a table.
///
/// With A = dni / extra_normal, the anisotropy index,
/// plane of array = beam dni + dhi (A circumsolar + (1 − A) dome) + ground ghi.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaneFactors {
    /// Of direct normal irradiance \[–].
    pub beam: f64,
    /// Of the circumsolar part of diffuse irradiance \[–]: the ratio of beam on the plane to beam on the horizontal.
    pub circumsolar: f64,
    /// Of the remaining diffuse irradiance \[–].
    pub dome: f64,
    /// Of global irradiance, by way of the ground \[–].
    pub ground: f64,
    /// 1 / extraterrestrial normal irradiance \[m²/W].
    pub per_extra_normal: f64,
}

impl PlaneFactors {
    /// The factors of a plane for a sun position, bare of glass.
    ///
    /// * `zenith_deg`, `azimuth_deg` — geometric, of the sun. From 90° of zenith on beam and circumsolar are 0.
    /// * `extra_normal_w_m2` — above 0.
    ///
    /// Reference: Hay & Davies (1980).
    ///
    /// ```
    /// use tideover::sky::plane::{Plane, PlaneFactors};
    /// let flat = PlaneFactors::new(&Plane::new(0.0, 180.0), 60.0, 150.0, 1400.0);
    /// let poa = flat.poa_w_m2(500.0, 100.0, 350.0);
    /// assert!((poa - 350.0).abs() < 1e-9); // a panel lying flat gets the global horizontal
    /// ```
    pub fn new(plane: &Plane, zenith_deg: f64, azimuth_deg: f64, extra_normal_w_m2: f64) -> PlaneFactors {
        let beam = plane.beam_factor(zenith_deg, azimuth_deg);
        PlaneFactors {
            beam,
            circumsolar: beam / math::cos(zenith_deg.to_radians()).max(MIN_COS_ZENITH_HAY_DAVIES),
            dome: plane.sky_view(),
            ground: plane.albedo * plane.ground_view(),
            per_extra_normal: 1.0 / extra_normal_w_m2,
        }
    }

    /// The factors behind glass.
    ///
    /// * `at_incidence` — modifier at the sun's angle of incidence, for beam and circumsolar light \[–].
    /// * `diffuse` — modifiers for the dome and the ground.
    pub fn behind_glass(self, at_incidence: f64, diffuse: &DiffuseModifiers) -> PlaneFactors {
        PlaneFactors {
            beam: self.beam * at_incidence,
            circumsolar: self.circumsolar * at_incidence,
            dome: self.dome * diffuse.sky,
            ground: self.ground * diffuse.ground,
            ..self
        }
    }

    /// Irradiance by where it comes from.
    ///
    /// * `dni_w_m2` — at most the extraterrestrial; with more the dome turns negative.
    pub fn irradiance(&self, dni_w_m2: f64, dhi_w_m2: f64, ghi_w_m2: f64) -> PlaneIrradiance {
        let anisotropy = dni_w_m2 * self.per_extra_normal;
        PlaneIrradiance {
            beam_w_m2: self.beam * dni_w_m2,
            circumsolar_w_m2: dhi_w_m2 * anisotropy * self.circumsolar,
            dome_w_m2: dhi_w_m2 * (1.0 - anisotropy) * self.dome,
            ground_w_m2: self.ground * ghi_w_m2,
        }
    }

    /// All irradiance on the plane \[W/m²].
    pub fn poa_w_m2(&self, dni_w_m2: f64, dhi_w_m2: f64, ghi_w_m2: f64) -> f64 {
        self.irradiance(dni_w_m2, dhi_w_m2, ghi_w_m2).total_w_m2()
    }
}
