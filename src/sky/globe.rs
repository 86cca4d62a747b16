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

#[cfg(test)]
mod tests {
    use super::*;

    /// The spherical law of cosines, another way to the same arc, and closed forms: a degree of a great circle is 111.19 km, and
    /// antipodes are half a turn apart.
    #[test]
    fn places_are_as_far_apart_as_the_law_of_cosines_says() {
        let degree_km = EARTH_KM * 1.0_f64.to_radians();
        assert!((distance_km((10.0, 20.0), (11.0, 20.0)) - degree_km).abs() < 1e-9);
        assert!((distance_km((0.0, -3.0), (0.0, 4.0)) - 7.0 * degree_km).abs() < 1e-9);
        assert!((distance_km((35.0, 20.0), (-35.0, -160.0)) - 180.0 * degree_km).abs() < 1e-3);
        for (a, b) in [((52.0, 13.0), (-33.0, 151.0)), ((44.0, -72.0), (35.0, -106.0)), ((60.0, 179.0), (61.0, -178.0))]
        {
            let ((sin_a, cos_a), (sin_b, cos_b)) =
                (math::sin_cos(f64::to_radians(a.0)), math::sin_cos(f64::to_radians(b.0)));
            let cosine = sin_a * sin_b + cos_a * cos_b * math::cos(f64::to_radians(b.1 - a.1));
            assert!((distance_km(a, b) - EARTH_KM * math::acos(cosine)).abs() < 1e-6, "{a:?} {b:?}");
        }
    }
}
