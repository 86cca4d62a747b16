//! Functions that no processor has an exact instruction for, from one pure-Rust library: the same bits on every platform and
//! whatever else is built along. The platform's own (`f64::exp` and its kin) may differ in the last digit; `clippy.toml` keeps
//! them out. Square roots, rounding and absolute values are exact everywhere and stay what they are. Angles are in radians.

pub use libm::{
    acos, asin, atan2, atanh, cos, erfc, exp, log as ln, log1p as ln_1p, log10, sin, sincos as sin_cos, tan, tanh,
};
pub use libm::{expm1 as exp_m1, hypot, lgamma as ln_gamma, pow};

/// `x` to a whole power, by squaring.
pub fn powi(x: f64, power: i32) -> f64 {
    let (mut square, mut left, mut product) = (x, power.unsigned_abs(), 1.0);
    while left > 0 {
        if left & 1 == 1 {
            product *= square;
        }
        square *= square;
        left >>= 1;
    }
    if power < 0 { 1.0 / product } else { product }
}

/// A polyline through points sorted by x, held at its ends.
pub(crate) fn along(points: &[(f64, f64)], x: f64) -> f64 {
    let after = points.partition_point(|(at, _)| *at <= x);
    match (after.checked_sub(1).and_then(|before| points.get(before)), points.get(after)) {
        (Some((x0, y0)), Some((x1, y1))) => y0 + (y1 - y0) * (x - x0) / (x1 - x0),
        (Some((_, y)), None) | (None, Some((_, y))) => *y,
        (None, None) => 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_powers() {
        assert_eq!([powi(2.0, 10), powi(2.0, -2), powi(-3.0, 3), powi(7.5, 0)], [1024.0, 0.25, -27.0, 1.0]);
    }

    #[test]
    fn functions_are_those_of_the_tables() {
        // Abramowitz & Stegun (1964), tables 1.1, 4.2, 4.6 and 7.1; the library promises the last place but one.
        for (name, found, expected) in [
            ("e", exp(1.0), std::f64::consts::E),
            ("ln 2", ln(2.0), std::f64::consts::LN_2),
            ("π", acos(-1.0), std::f64::consts::PI),
            ("sin 1", sin(1.0), 0.841_470_984_807_896_5),
            ("cos 1", cos(1.0), 0.540_302_305_868_139_8),
            ("erfc 1", erfc(1.0), 0.157_299_207_1),
        ] {
            let allowed = if name == "erfc 1" { 5e-11 } else { f64::EPSILON * expected };
            assert!((found - expected).abs() <= allowed, "{name}: {found}");
        }
    }
}
