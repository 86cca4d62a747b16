//! Distances on the globe.

use crate::math;

/// Mean radius of the earth \[km].
pub const EARTH_KM: f64 = 6371.0;

/// Great-circle distance of two places given as latitude and longitude in degrees \[km], by the haversine formula
/// h = sin²(Δφ/2) + cos φ1 cos φ2 sin²(Δλ/2) on a sphere.
#[must_use]
pub fn distance_km(a: (f64, f64), b: (f64, f64)) -> f64 {
    let half = |a: f64, b: f64| math::sin(0.5 * (b - a).to_radians());
    let (up, along) = (half(a.0, b.0), half(a.1, b.1));
    let h = up * up + math::cos(a.0.to_radians()) * math::cos(b.0.to_radians()) * along * along;
    2.0 * EARTH_KM * math::asin(h.min(1.0).sqrt())
}
