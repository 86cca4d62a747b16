//! Splitting global horizontal light into what comes straight from the sun and what comes from the sky.
//!
//! The split is the least certain step between a pyranometer and a tilted panel: for the same hour, published models
//! differ by a tenth of the global irradiance and more.
//!
//! Reference: Erbs, Klein & Duffie (1982), Solar Energy 28(4), 293; the daily and monthly forms as printed in Duffie &
//! Beckman, equations 2.11.1 and 2.12.1.

use crate::random::real::Real;

/// Below this the cosine of the zenith angle is held when clearness is formed: 86.3°.
///
/// Common practice: an hour's clearness means nothing with the sun on the horizon.
const MIN_COS_ZENITH_FOR_CLEARNESS: f64 = 0.065;

/// Beyond this zenith angle \[°] all light is taken for diffuse (common practice).
pub const LAST_BEAM_ZENITH_DEG: f64 = 87.0;

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

/// Diffuse share of a day's horizontal irradiation \[–], 0..=1.
///
/// * `clearness` — the day's global over its extraterrestrial irradiation \[–]; values outside 0..=1 are clamped.
/// * `sunset_hour_angle_deg` — of that day; the seasons divide at 81.4°.
///
/// The published curve for long days passes 1 by up to 0.009 below a clearness of 0.12; it is held at 1 there.
///
/// Reference: Erbs, Klein & Duffie (1982); Duffie & Beckman, equation 2.11.1.
pub fn daily_diffuse_fraction(clearness: f64, sunset_hour_angle_deg: f64) -> f64 {
    let k = clearness.clamp(0.0, 1.0);
    let fraction = if k.is_nan() || sunset_hour_angle_deg.is_nan() {
        f64::NAN
    } else if sunset_hour_angle_deg <= 81.4 {
        // 1 − 0.2727 k + 2.4495 k² − 11.9514 k³ + 9.3879 k⁴
        if k < 0.715 { 1.0 + k * (-0.2727 + k * (2.4495 + k * (-11.9514 + k * 9.3879))) } else { 0.143 }
    } else {
        // 1 + 0.2832 k − 2.5557 k² + 0.8448 k³
        if k < 0.722 { 1.0 + k * (0.2832 + k * (-2.5557 + k * 0.8448)) } else { 0.175 }
    };
    // `min` would turn NaN into 1.
    if 1.0 < fraction { 1.0 } else { fraction }
}

/// Diffuse share of a month's mean horizontal irradiation \[–].
///
/// * `clearness` — monthly mean, within 0.3..=0.8, the range of the correlation; `None` outside it and for `NaN`.
/// * `sunset_hour_angle_deg` — of the month's average day; the seasons divide at 81.4°.
///
/// Reference: Erbs, Klein & Duffie (1982); Duffie & Beckman, equation 2.12.1.
pub fn monthly_diffuse_fraction(clearness: f64, sunset_hour_angle_deg: f64) -> Option<f64> {
    if !(0.3..=0.8).contains(&clearness) || sunset_hour_angle_deg.is_nan() {
        return None;
    }
    let k = clearness;
    Some(if sunset_hour_angle_deg <= 81.4 {
        // 1.391 − 3.560 k + 4.189 k² − 2.137 k³
        1.391 + k * (-3.560 + k * (4.189 - k * 2.137))
    } else {
        // 1.311 − 3.022 k + 3.427 k² − 1.821 k³
        1.311 + k * (-3.022 + k * (3.427 - k * 1.821))
    })
}

/// Splits an hour's (or shorter) global horizontal irradiance.
///
/// * `ghi_w_m2` — global horizontal; below zero (a sensor's night offset) counts as zero.
/// * `zenith_deg` — geometric, at the middle of the step.
/// * `extra_normal_w_m2` — see [`super::extraterrestrial::normal_w_m2`], above zero.
///
/// Near the horizon dividing by the cosine of the zenith angle would blow a little light up into a beam that is not
/// there. So clearness is formed with the cosine held at 0.065, beyond [`LAST_BEAM_ZENITH_DEG`] all is diffuse, and the
/// beam never exceeds the extraterrestrial. In each case `ghi = dhi + dni cos z` holds exactly. Bad input gives `NaN`.
///
/// Reference: Erbs, Klein & Duffie (1982), equation 1.
///
/// ```
/// use tideover::sky::split::split;
/// let clear = split(800.0, 30.0, 1361.0);
/// assert!(600.0 < clear.dni_w_m2 && clear.dhi_w_m2 < 250.0);
/// assert_eq!(split(5.0, 89.5, 1361.0).dni_w_m2, 0.0);
/// ```
pub fn split(ghi_w_m2: f64, zenith_deg: f64, extra_normal_w_m2: f64) -> Split {
    if ghi_w_m2.is_nan() || zenith_deg.is_nan() || extra_normal_w_m2.is_nan() || extra_normal_w_m2 <= 0.0 {
        return Split { dni_w_m2: f64::NAN, dhi_w_m2: f64::NAN };
    }
    let ghi = ghi_w_m2.max(0.0);
    if LAST_BEAM_ZENITH_DEG < zenith_deg {
        return Split { dni_w_m2: 0.0, dhi_w_m2: ghi };
    }
    let cos_zenith = zenith_deg.to_radians().cos();
    let clearness = ghi / (extra_normal_w_m2 * cos_zenith.max(MIN_COS_ZENITH_FOR_CLEARNESS));
    let beam = ghi * (1.0 - hourly_diffuse_fraction(clearness));
    let dni = (beam / cos_zenith).min(extra_normal_w_m2);
    Split { dni_w_m2: dni, dhi_w_m2: ghi - dni * cos_zenith }
}
