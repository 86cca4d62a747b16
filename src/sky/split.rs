//! Splitting global horizontal light into what comes straight from the sun and what comes from the sky.
//!
//! The split is the least certain step between a pyranometer and a tilted panel: for the same hour, published models
//! differ by a tenth of the global irradiance and more.
//!
//! Reference: Erbs, Klein & Duffie (1982), Solar Energy 28(4), 293.

use crate::random::real::Real;

/// Light from the sun's disc and from the rest of the sky.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Split {
    /// Direct irradiance on a plane that faces the sun \[W/m²].
    pub dni_w_m2: f64,
    /// Diffuse irradiance on a horizontal plane \[W/m²].
    pub dhi_w_m2: f64,
}

/// Hourly diffuse share of horizontal irradiance from the clearness index \[–], 0..=1.
///
/// * `clearness` — k_t, global over extraterrestrial, both horizontal \[–]; values outside 0..=1 are clamped.
///
/// The published pieces do not quite meet: the share steps down by 2.7e-4 at 0.22 and at 0.80; kept as published.
///
/// Reference: Erbs, Klein & Duffie (1982), equation 1.
///
/// ```
/// use tideover::sky::split::hourly_diffuse_fraction;
/// assert!(hourly_diffuse_fraction(0.1) > 0.99); // overcast: nearly all light is diffuse
/// assert!(hourly_diffuse_fraction(f64::NAN).is_nan());
/// ```
#[inline(always)]
pub fn hourly_diffuse_fraction<R: Real>(clearness: R) -> R {
    let zero = R::default();
    let bounded = if R::ONE < clearness { R::ONE } else { clearness };
    let k = if bounded < zero { zero } else { bounded };
    // 1 − 0.09 k, and 0.9511 − 0.1604 k + 4.388 k² − 16.638 k³ + 12.336 k⁴
    let dull = R::ONE - R::of(0.09) * k;
    let between = R::of(0.9511) + k * (R::of(-0.1604) + k * (R::of(4.388) + k * (R::of(-16.638) + k * R::of(12.336))));
    if k <= R::of(0.22) {
        dull
    } else if k > R::of(0.80) {
        R::of(0.165)
    } else {
        between
    }
}
