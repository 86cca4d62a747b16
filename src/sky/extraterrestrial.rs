//! Irradiance outside the atmosphere, and the simple solar geometry that goes with it.
//!
//! Declination, orbital factor and equation of time are Spencer's Fourier series, the same for every year: because of the
//! leap day the declination is good to about 0.3°, the equation of time to 0.6 minutes. For positions at an instant use
//! [`super::sun`].
//!
//! References:
//! * Kopp & Lean (2011), Geophys. Res. Lett. 38, L01706: the solar constant.
//! * Spencer (1971), Search 2(5), 172: the series, in the printing of Duffie & Beckman, Solar Engineering of Thermal
//!   Processes, equations 1.4.1b, 1.5.3 and 1.6.1b.
//! * The same book, equations 1.10.3 and 1.10.4: horizontal irradiation of a day and of an hour.
//! * Klein (1977), Solar Energy 19, 325: average days.

use std::f64::consts::TAU;

use crate::math;

/// Normal irradiance at the mean distance of the sun \[W/m²] (Kopp & Lean 2011).
pub const SOLAR_CONSTANT_W_M2: f64 = 1361.0;

/// Day of the year, January to December, whose declination stands for its month (Klein 1977).
///
/// Klein advises against them beyond 66.5° of latitude, where the sun's day changes too fast within a month.
pub const AVERAGE_DAY_OF_YEAR: [u16; 12] = [17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344];

/// B = 2π (n − 1)/365, the day as an angle of the year \[rad].
fn year_angle(day_of_year: f64) -> f64 {
    TAU * (day_of_year - 1.0) / 365.0
}

/// Square of mean over actual distance of the sun \[–], 0.966 in July to 1.035 in January.
///
/// * `day_of_year` — 1 on 1 January, up to 366; fractions are fine.
///
/// Reference: Spencer (1971).
pub fn orbital_factor(day_of_year: f64) -> f64 {
    let b = year_angle(day_of_year);
    // E0 = 1.000110 + 0.034221 cos B + 0.001280 sin B + 0.000719 cos 2B + 0.000077 sin 2B
    1.000110
        + 0.034221 * math::cos(b)
        + 0.001280 * math::sin(b)
        + 0.000719 * math::cos(2.0 * b)
        + 0.000077 * math::sin(2.0 * b)
}

/// Irradiance on a plane that faces the sun, outside the atmosphere \[W/m²].
///
/// * `day_of_year` — 1 on 1 January, up to 366; fractions are fine.
///
/// ```
/// use tideover::sky::extraterrestrial::normal_w_m2;
/// assert!((normal_w_m2(4.0) - 1408.7).abs() < 0.1); // the earth is nearest to the sun
/// ```
pub fn normal_w_m2(day_of_year: f64) -> f64 {
    SOLAR_CONSTANT_W_M2 * orbital_factor(day_of_year)
}

/// Declination of the sun \[°], north positive, -23.5 to 23.5.
///
/// * `day_of_year` — 1 on 1 January, up to 366; fractions are fine.
///
/// Reference: Spencer (1971).
pub fn declination_deg(day_of_year: f64) -> f64 {
    let b = year_angle(day_of_year);
    // δ = 0.006918 − 0.399912 cos B + 0.070257 sin B − 0.006758 cos 2B + 0.000907 sin 2B
    //     − 0.002697 cos 3B + 0.00148 sin 3B                                        [rad]
    let radians = 0.006918 - 0.399912 * math::cos(b) + 0.070257 * math::sin(b) - 0.006758 * math::cos(2.0 * b)
        + 0.000907 * math::sin(2.0 * b)
        - 0.002697 * math::cos(3.0 * b)
        + 0.00148 * math::sin(3.0 * b);
    radians.to_degrees()
}

/// Hour angle of sunset \[°], 15 an hour after solar noon: 0 when the sun stays down, 180 when it stays up.
///
/// The sun is a point and the air does not bend its light.
///
/// * `latitude_deg` — -90..=90.
/// * `declination_deg` — of the sun, -23.5..=23.5.
///
/// Reference: Duffie & Beckman, equation 1.6.10.
pub fn sunset_hour_angle_deg(latitude_deg: f64, declination_deg: f64) -> f64 {
    // cos ωs = −tan φ tan δ
    let cosine = -math::tan(latitude_deg.to_radians()) * math::tan(declination_deg.to_radians());
    math::acos(cosine.clamp(-1.0, 1.0)).to_degrees()
}

/// Horizontal extraterrestrial irradiation of a whole day \[Wh/m²].
///
/// * `normal_w_m2` — see [`normal_w_m2`].
///
/// Reference: Duffie & Beckman, equation 1.10.3.
///
/// ```
/// use tideover::sky::extraterrestrial::*;
/// let day = daily_horizontal_wh_m2(45.0, declination_deg(172.0), normal_w_m2(172.0));
/// assert!((11_000.0..12_000.0).contains(&day));
/// ```
pub fn daily_horizontal_wh_m2(latitude_deg: f64, declination_deg: f64, normal_w_m2: f64) -> f64 {
    horizontal_wh_m2(latitude_deg, declination_deg, normal_w_m2, -180.0, 180.0)
}

/// Horizontal extraterrestrial irradiation between two hour angles of one solar day \[Wh/m²].
///
/// What lies before sunrise or after sunset counts nothing.
///
/// * `from_deg`, `to_deg` — hour angles, -180..=180, negative before noon; 0 is returned when `to_deg <= from_deg`.
/// * `normal_w_m2` — see [`normal_w_m2`].
///
/// Reference: Duffie & Beckman, equation 1.10.4.
pub fn horizontal_wh_m2(latitude_deg: f64, declination_deg: f64, normal_w_m2: f64, from_deg: f64, to_deg: f64) -> f64 {
    let sunset = sunset_hour_angle_deg(latitude_deg, declination_deg).to_radians();
    if sunset.is_nan() || normal_w_m2.is_nan() || from_deg.is_nan() || to_deg.is_nan() {
        return f64::NAN;
    }
    let from = from_deg.to_radians().clamp(-sunset, sunset);
    let to = to_deg.to_radians().clamp(-sunset, sunset);
    if to <= from {
        return 0.0;
    }
    let (sin_lat, cos_lat) = math::sin_cos(latitude_deg.to_radians());
    let (sin_dec, cos_dec) = math::sin_cos(declination_deg.to_radians());
    // I0 = (12/π) Gn [cos φ cos δ (sin ω2 − sin ω1) + (ω2 − ω1) sin φ sin δ]
    24.0 / TAU * normal_w_m2 * (cos_lat * cos_dec * (math::sin(to) - math::sin(from)) + (to - from) * sin_lat * sin_dec)
}
