//! From a day's sum to its hours: the mean course of light over a day.
//!
//! References:
//! * Collares-Pereira & Rabl (1979), Solar Energy 22(2), 155: r_t, for global irradiation.
//! * Liu & Jordan (1960), Solar Energy 4(3), 1: r_d, for diffuse irradiation; the course of the extraterrestrial.
//! * Duffie & Beckman, equations 2.13.1, 2.13.2 and 2.13.4.

use std::f64::consts::{FRAC_PI_3, PI, TAU};

use crate::math;

/// a and b of r_t for a sunset hour angle in radians.
fn collares_pereira_rabl(sunset: f64) -> (f64, f64) {
    // a = 0.409 + 0.5016 sin(ωs − 60°); b = 0.6609 − 0.4767 sin(ωs − 60°)
    let lean = math::sin(sunset - FRAC_PI_3);
    (0.409 + 0.5016 * lean, 0.6609 - 0.4767 * lean)
}

/// The mean course of a day's global irradiation, scaled to sum to 1: the integral of r_t in closed form.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayProfile {
    sunset: f64,
    a: f64,
    b: f64,
    half: f64,
}

impl DayProfile {
    /// The course of a day with a given sunset hour angle \[°], above 0 and up to 180.
    ///
    /// `None` for a day without sun and for `NaN`: there is nothing to share out.
    pub fn new(sunset_hour_angle_deg: f64) -> Option<DayProfile> {
        // Below a hundredth of a degree (2.4 s of sun) the closed form is lost in rounding.
        if !(0.01..=180.0).contains(&sunset_hour_angle_deg) {
            return None;
        }
        let sunset = sunset_hour_angle_deg.to_radians();
        let (a, b) = collares_pereira_rabl(sunset);
        let mut profile = DayProfile { sunset, a, b, half: 1.0 };
        profile.half = profile.integral(sunset);
        Some(profile)
    }

    /// ∫₀^ω (a + b cos ω)(cos ω − cos ωs) dω, not yet scaled.
    fn integral(&self, hour: f64) -> f64 {
        let DayProfile { sunset, a, b, .. } = *self;
        a * math::sin(hour) + b * (0.5 * hour + 0.25 * math::sin(2.0 * hour))
            - math::cos(sunset) * (a * hour + b * math::sin(hour))
    }

    /// What has fallen by an hour of solar time, counted in days from solar midnight \[–].
    fn fallen_by(&self, solar_h: f64) -> f64 {
        let days = (solar_h / 24.0).floor();
        let hour = ((solar_h / 24.0 - days) * TAU - PI).clamp(-self.sunset, self.sunset);
        days + 0.5 + 0.5 * self.integral(hour) / self.half
    }

    /// Share of a day's irradiation that falls between two times \[–].
    ///
    /// * `from_h`, `to_h` — solar time \[h], noon is 12; values outside 0..24 belong to the days before and after, taken
    ///   as equal to this one, so that 24 hours from any start hold exactly 1.
    ///
    /// ```
    /// use tideover::sky::profile::DayProfile;
    /// let equinox = DayProfile::new(90.0).ok_or("no sun")?;
    /// assert!((equinox.share(6.0, 12.0) - 0.5).abs() < 1e-12);
    /// assert!((equinox.share(-3.3, 20.7) - 1.0).abs() < 1e-12);
    /// # Ok::<(), &str>(())
    /// ```
    pub fn share(&self, from_h: f64, to_h: f64) -> f64 {
        self.fallen_by(to_h) - self.fallen_by(from_h)
    }
}
