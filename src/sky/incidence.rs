//! How much less gets through a panel's glass when light comes in at a slant.
//!
//! A modifier is 1 at normal incidence and falls to 0 at 90°.
//!
//! References:
//! * Duffie & Beckman, chapter 5: Fresnel reflection, Bouguer's law and their use for a modifier.
//! * Marion (2017), Solar Energy 147, 344: integration over sky and ground.

use std::f64::consts::{FRAC_PI_2, PI};

use crate::math;

/// Rings of equal width in the angle of incidence over which diffuse light is summed; 2000 leave an error below 1e-5.
const RINGS: u32 = 2000;

/// The front cover of a panel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Glass {
    /// Index of refraction \[–], above 1; 1.526 for window glass.
    pub index: f64,
    /// Extinction coefficient \[1/m], 0 or more; 4 for clear (low-iron) glass.
    pub extinction_per_m: f64,
    /// Thickness \[m], 0 or more.
    pub thickness_m: f64,
}

impl Glass {
    /// Two millimetres of clear, uncoated glass (the values of Duffie & Beckman and of De Soto et al. 2006).
    pub const CLEAR: Glass = Glass { index: 1.526, extinction_per_m: 4.0, thickness_m: 0.002 };

    /// Share of light that reaches the cells \[–], for a cosine of the angle of incidence in 0..=1.
    fn transmitted(&self, cos_incidence: f64) -> f64 {
        let inside = cos_refracted(cos_incidence, self.index);
        let [perpendicular, parallel] = reflected(cos_incidence, self.index, inside).map(|reflected| 1.0 - reflected);
        // τ = exp(−K L / cos θr) (τ⊥ + τ∥)/2
        math::exp(-self.extinction_per_m * self.thickness_m / inside) * 0.5 * (perpendicular + parallel)
    }
}

/// Cosine of the angle after refraction from air into a medium: Snell's law.
fn cos_refracted(cos_incidence: f64, index: f64) -> f64 {
    (1.0 - (1.0 - cos_incidence * cos_incidence) / (index * index)).sqrt()
}

/// Reflected share at a boundary from air, perpendicular and parallel polarisation: Fresnel's equations.
fn reflected(outside: f64, index: f64, inside: f64) -> [f64; 2] {
    let perpendicular = (outside - index * inside) / (outside + index * inside);
    let parallel = (inside - index * outside) / (inside + index * outside);
    [perpendicular * perpendicular, parallel * parallel]
}

/// Modifiers for light from all over the sky and from the ground \[–].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DiffuseModifiers {
    /// For light of an equally bright sky.
    pub sky: f64,
    /// For light of an equally bright ground; 0 for a plane that sees none.
    pub ground: f64,
}

impl Glass {
    /// Modifier at an angle of incidence \[–], 0..=1.
    ///
    /// * `incidence_deg` — between light and the plane's normal, in 0..=180; 0 is returned from 90° on. The sign is
    ///   ignored.
    ///
    /// ```
    /// use tideover::sky::incidence::Glass;
    /// let glass = Glass::CLEAR;
    /// assert!((glass.modifier(0.0) - 1.0).abs() < 1e-12);
    /// assert!((glass.modifier(60.0) - 0.946).abs() < 1e-3);
    /// assert_eq!(glass.modifier(120.0), 0.0);
    /// ```
    pub fn modifier(&self, incidence_deg: f64) -> f64 {
        if 90.0 <= incidence_deg.abs() {
            return 0.0;
        }
        self.at_cosine(math::cos(incidence_deg.to_radians()))
    }

    fn at_cosine(&self, cos_incidence: f64) -> f64 {
        self.transmitted(cos_incidence) / self.transmitted(1.0)
    }

    /// Modifiers for sky and ground as a plane of some tilt sees them.
    ///
    /// * `tilt_deg` — 0 lying flat, 90 upright.
    ///
    /// Reference: Marion (2017).
    ///
    /// ```
    /// use tideover::sky::incidence::Glass;
    /// let glass = Glass::CLEAR.diffuse(45.0);
    /// assert!((glass.sky - 0.960).abs() < 1e-3 && (glass.ground - 0.856).abs() < 1e-3);
    /// ```
    pub fn diffuse(&self, tilt_deg: f64) -> DiffuseModifiers {
        DiffuseModifiers { sky: self.band(tilt_deg, 0.0, 90.0), ground: self.band(tilt_deg, 90.0, 180.0) }
    }

    /// Modifier for an equally bright band of the sphere between two zenith angles \[–]; 0 where none of it is seen.
    ///
    /// * `tilt_deg` — of the plane.
    /// * `from_deg`, `to_deg` — zenith angles, 0..=180, `from_deg < to_deg`; 90 to 180 is the ground.
    ///
    /// Marion sums over patches of the band. Here the sum runs over rings around the plane's normal: within a ring the
    /// angle of incidence is constant and the arc that lies in the band is known in closed form.
    ///
    /// Reference: Marion (2017), equation 5: ∫ IAM(θ) cos θ dΩ / ∫ cos θ dΩ.
    pub fn band(&self, tilt_deg: f64, from_deg: f64, to_deg: f64) -> f64 {
        if tilt_deg.is_nan() || from_deg.is_nan() || to_deg.is_nan() {
            return f64::NAN;
        }
        let (sin_tilt, cos_tilt) = math::sin_cos(tilt_deg.to_radians());
        let (cos_from, cos_to) = (math::cos(from_deg.to_radians()), math::cos(to_deg.to_radians()));
        let (mut through, mut all) = (0.0, 0.0);
        for ring in 0..RINGS {
            let (sin, cos) = math::sin_cos((f64::from(ring) + 0.5) * FRAC_PI_2 / f64::from(RINGS));
            let arc =
                arc_above(cos * cos_tilt, sin * sin_tilt, cos_to) - arc_above(cos * cos_tilt, sin * sin_tilt, cos_from);
            let weight = arc * cos * sin;
            all += weight;
            through += weight * self.at_cosine(cos);
        }
        if 0.0 < all { through / all } else { 0.0 }
    }
}

/// Share of a ring with height `centre + radius cos ψ` over the horizon that lies above `height` \[–], 0..=1.
fn arc_above(centre: f64, radius: f64, height: f64) -> f64 {
    if height <= centre - radius {
        1.0
    } else if centre + radius <= height {
        0.0
    } else {
        math::acos((height - centre) / radius) / PI
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Duffie & Beckman, example 5.1.1 (from memory): one surface of glass of index 1.526 reflects 0.0434 of light at normal incidence;
    /// at 60°, refracted to 34.58°, 0.185 and 0.001 of its two parts, 0.093 of both. By Bouguer's law clear glass of 2 mm takes
    /// 1 − exp(−4 · 0.002 / cos θr) of the rest.
    #[test]
    fn a_pane_lets_through_what_it_neither_reflects_nor_takes() {
        let (normal, slant) = (Glass::CLEAR.transmitted(1.0), Glass::CLEAR.transmitted(0.5));
        let inside = cos_refracted(0.5, 1.526);
        assert!((math::acos(inside).to_degrees() - 34.58).abs() < 0.005);
        let [across, along] = reflected(0.5, 1.526, inside);
        assert!((across - 0.185).abs() < 5e-4 && (along - 0.001).abs() < 5e-4, "{across} {along}");
        let left = |reflected: f64, cos_inside: f64| (1.0 - reflected) * math::exp(-0.008 / cos_inside);
        assert!((normal - left(0.0434, 1.0)).abs() < 5e-5, "{normal}");
        assert!((slant - left(0.093, math::cos(34.58_f64.to_radians()))).abs() < 5e-4, "{slant}");
        // A pane twenty times as thick, to tell what it takes.
        let thick = Glass { thickness_m: 0.04, ..Glass::CLEAR };
        assert!((thick.transmitted(0.5) / slant - math::exp(-0.152 / inside)).abs() < 1e-12);
    }

    /// A ring about a tilted axis lies above the horizon by as much of its turn as its height is positive: all, none, half where its
    /// middle is on the horizon, and a third where the horizon cuts it at half of its radius above the middle (cos 60°).
    #[test]
    fn a_ring_is_cut_by_the_horizon() {
        assert_eq!((arc_above(0.6, 0.5, 0.1), arc_above(0.6, 0.5, 1.2)), (1.0, 0.0));
        assert!((arc_above(0.2, 0.5, 0.2) - 0.5).abs() < 1e-12);
        assert!((arc_above(0.2, 0.5, 0.45) - 1.0 / 3.0).abs() < 1e-12);
        assert!((arc_above(0.2, 0.5, -0.05) - 2.0 / 3.0).abs() < 1e-12);
    }
}
