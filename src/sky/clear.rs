//! Irradiance under a cloudless sky.
//!
//! References:
//! * Kasten & Young (1989), Applied Optics 28(22), 4735: air mass.
//! * Ineichen & Perez (2002), Solar Energy 73(3), 151: clear sky from altitude and Linke turbidity, without the later
//!   enhancement term for very clear mountain air.

use super::split::Split;
use crate::math;

/// Standard air pressure at sea level \[Pa].
const SEA_LEVEL_PA: f64 = 101_325.0;

/// Relative optical air mass: the sky's thickness along the ray at sea level, 1 with the sun overhead \[–].
///
/// * `apparent_zenith_deg` — refracted, 0..=90.
/// * `None` below the horizon and for `NaN`: the path has no meaning there, and 0 would read as clear.
///
/// Overhead it gives 0.9997, not 1; kept as published.
///
/// Reference: Kasten & Young (1989), equation 3.
pub fn relative_air_mass(apparent_zenith_deg: f64) -> Option<f64> {
    if !(0.0..=90.0).contains(&apparent_zenith_deg) {
        return None;
    }
    // m = 1 / (cos z + 0.50572 (96.07995 − z)^−1.6364)
    Some(
        1.0 / (math::cos(apparent_zenith_deg.to_radians())
            + 0.50572 * math::pow(96.07995 - apparent_zenith_deg, -1.6364)),
    )
}

/// Mean air pressure at an altitude \[Pa], in the standard atmosphere.
///
/// * `altitude_m` — above sea level, up to 11000 m, the layer that the formula holds for; `NaN` above.
///
/// Reference: International Standard Atmosphere, as p = 100 ((44331.514 − h)/11880.516)^(1/0.1902632) hPa.
pub fn standard_pressure_pa(altitude_m: f64) -> f64 {
    if 11_000.0 < altitude_m {
        return f64::NAN;
    }
    100.0 * math::pow((44_331.514 - altitude_m) / 11_880.516, 1.0 / 0.190_263_2)
}

/// The air over a place, as the Ineichen & Perez clear sky needs it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClearSky {
    altitude_m: f64,
    linke_turbidity: f64,
}

impl ClearSky {
    /// A clear sky over a place.
    ///
    /// * `altitude_m` — above sea level, -500..=5000.
    /// * `linke_turbidity` — how many clean and dry atmospheres dim the sun as the air does \[–], 1..=10; 2 clean and
    ///   cold, 3 mild, 5 to 7 hazy.
    ///
    /// `None` outside these ranges: the fit was made for places people live at.
    pub fn new(altitude_m: f64, linke_turbidity: f64) -> Option<ClearSky> {
        ((-500.0..=5000.0).contains(&altitude_m) && (1.0..=10.0).contains(&linke_turbidity))
            .then_some(ClearSky { altitude_m, linke_turbidity })
    }

    /// Relative air mass scaled by the place's air pressure \[–]; `None` below the horizon.
    pub fn absolute_air_mass(&self, apparent_zenith_deg: f64) -> Option<f64> {
        Some(relative_air_mass(apparent_zenith_deg)? * standard_pressure_pa(self.altitude_m) / SEA_LEVEL_PA)
    }

    /// f_h1 = exp(−h/8000) of the paper: how much of the scattering air lies above the place.
    fn scattering_height(&self) -> f64 {
        math::exp(-self.altitude_m / 8000.0)
    }

    /// The largest clearness index that a cloudless sky gives: global over extraterrestrial, both horizontal \[–].
    ///
    /// A ceiling for hourly clearness. Edges of bright clouds push real readings over it for minutes; it is not meant
    /// to allow for them, so that the answer stays cautious.
    ///
    /// * `apparent_zenith_deg` — refracted; 0 is returned below the horizon.
    ///
    /// Reference: Ineichen & Perez (2002), equation 7, divided by I0 cos z.
    ///
    /// ```
    /// use tideover::sky::clear::ClearSky;
    /// let clean = ClearSky::new(0.0, 2.0).ok_or("out of range")?;
    /// let ceiling = clean.clearness_ceiling(30.0);
    /// assert!(0.75 < ceiling && ceiling < 0.85);
    /// # Ok::<(), &str>(())
    /// ```
    pub fn clearness_ceiling(&self, apparent_zenith_deg: f64) -> f64 {
        let Some(air_mass) = self.absolute_air_mass(apparent_zenith_deg) else {
            return if apparent_zenith_deg.is_nan() { f64::NAN } else { 0.0 };
        };
        // G/(I0 cos z) = c_g1 exp(−c_g2 m (f_h1 + f_h2 (T_L − 1)))
        let haze_height = math::exp(-self.altitude_m / 1250.0);
        let c_g1 = 5.09e-5 * self.altitude_m + 0.868;
        let c_g2 = 3.92e-5 * self.altitude_m + 0.0387;
        let depth = self.scattering_height() + haze_height * (self.linke_turbidity - 1.0);
        c_g1 * math::exp(-c_g2 * air_mass * depth)
    }

    /// Global horizontal irradiance \[W/m²]; 0 below the horizon.
    ///
    /// * `apparent_zenith_deg` — refracted.
    /// * `extra_normal_w_m2` — see [`super::extraterrestrial::normal_w_m2`].
    ///
    /// Reference: Ineichen & Perez (2002), equation 7.
    pub fn ghi_w_m2(&self, apparent_zenith_deg: f64, extra_normal_w_m2: f64) -> f64 {
        let cos_zenith = math::cos(apparent_zenith_deg.to_radians());
        extra_normal_w_m2 * cos_zenith.max(0.0) * self.clearness_ceiling(apparent_zenith_deg)
    }

    /// Direct normal and diffuse horizontal irradiance \[W/m²]; 0 below the horizon.
    ///
    /// * `apparent_zenith_deg` — refracted.
    /// * `extra_normal_w_m2` — see [`super::extraterrestrial::normal_w_m2`].
    ///
    /// Reference: Ineichen & Perez (2002), equations 7 and 8, with the paper's lower bound on diffuse light.
    ///
    /// ```
    /// use tideover::sky::clear::ClearSky;
    /// let valley = ClearSky::new(300.0, 3.0).ok_or("out of range")?;
    /// let noon = valley.split(40.0, 1361.0);
    /// assert!(800.0 < noon.dni_w_m2 && noon.dhi_w_m2 < 130.0);
    /// # Ok::<(), &str>(())
    /// ```
    pub fn split(&self, apparent_zenith_deg: f64, extra_normal_w_m2: f64) -> Split {
        let Some(air_mass) = self.absolute_air_mass(apparent_zenith_deg) else {
            let nothing = if apparent_zenith_deg.is_nan() || extra_normal_w_m2.is_nan() { f64::NAN } else { 0.0 };
            return Split { dni_w_m2: nothing, dhi_w_m2: nothing };
        };
        let turbidity = self.linke_turbidity;
        let f_h1 = self.scattering_height();
        let cos_zenith = math::cos(apparent_zenith_deg.to_radians());
        let ghi = self.ghi_w_m2(apparent_zenith_deg, extra_normal_w_m2);
        // B1 = I0 (0.664 + 0.163/f_h1) exp(−0.09 m (T_L − 1))
        let beam = extra_normal_w_m2 * (0.664 + 0.163 / f_h1) * math::exp(-0.09 * air_mass * (turbidity - 1.0));
        // B2 = G (1 − (0.1 − 0.2 exp(−T_L))/(0.1 + 0.882/f_h1)) / cos z
        let least_diffuse = (0.1 - 0.2 * math::exp(-turbidity)) / (0.1 + 0.882 / f_h1);
        let most_beam = if 0.0 < cos_zenith { ghi * (1.0 - least_diffuse).max(0.0) / cos_zenith } else { 0.0 };
        let dni = beam.min(most_beam);
        Split { dni_w_m2: dni, dhi_w_m2: ghi - dni * cos_zenith }
    }
}
