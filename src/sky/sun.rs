//! Where the sun stands.
//!
//! Positions are those of the solar position algorithm (SPA) of Reda & Andreas (2004), NREL/TP-560-34302, as a library
//! computes them: better than 0.0003° for any year that matters here. One position takes some microseconds, a year of
//! hours well under a tenth of a second, so that no coarser and faster method is offered.

use solar_positioning::time::JulianDate;
use solar_positioning::{Location, RefractionCorrection, SolarPositions};
use thiserror::Error;

use crate::math;

/// Terrestrial time minus universal time \[s], about its value in the 2020s.
///
/// Kept fixed: a wrong guess of ten seconds moves the sun's declination by less than 0.00005°.
pub const DELTA_T_S: f64 = 69.2;

/// Julian date of 1970-01-01T00:00Z.
const UNIX_EPOCH_JULIAN: f64 = 2_440_587.5;
const DAY_S: f64 = 86_400.0;

/// Why there is no position.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum SunError {
    /// Not on the globe.
    #[error("latitude {0}; allowed: -90 to 90 degrees")]
    Latitude(f64),
    /// Not on the globe.
    #[error("longitude {0}; allowed: -180 to 180 degrees")]
    Longitude(f64),
    /// No air like that.
    #[error(
        "height {height_m} m, {pressure_hpa} hPa, {air_c} °C; allowed: -1000 to 20000 m, 1 to 2000 hPa, -100 to 100 °C"
    )]
    Air {
        /// Height above sea level \[m].
        height_m: f64,
        /// Air pressure \[hPa].
        pressure_hpa: f64,
        /// Air temperature \[°C].
        air_c: f64,
    },
    /// Outside the years of the algorithm.
    #[error("instant {0} s since 1970 (or delta T); allowed: years -2000 to 6000")]
    Instant(f64),
}

/// A place to look at the sun from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observer {
    location: Location,
    height_m: f64,
    refraction: RefractionCorrection,
    delta_t_s: f64,
}

/// Where the sun stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SunPosition {
    /// Angle between the vertical and the sun's centre \[°], 0..=180, without refraction: for irradiance geometry.
    pub zenith_deg: f64,
    /// The same with refraction, as the eye sees it \[°]: for air mass and clear-sky models.
    pub apparent_zenith_deg: f64,
    /// Direction of the sun \[°], clockwise from north, 0..360.
    pub azimuth_deg: f64,
}

impl Observer {
    /// An observer at sea level under 1013.25 hPa and 12 °C.
    ///
    /// Air matters for refraction only: at 10° above the horizon 100 hPa are 0.01°.
    ///
    /// * `latitude_deg` — -90..=90, north positive.
    /// * `longitude_deg` — -180..=180, east positive.
    ///
    /// # Errors
    /// Anything else, `NaN` included.
    ///
    /// ```
    /// use tideover::sky::sun::Observer;
    /// let cabin = Observer::new(44.2, -72.6)?;
    /// let sun = cabin.position(1_768_410_000.0)?; // 2026-01-14, 17:00 UTC
    /// assert!((sun.zenith_deg - 65.5).abs() < 0.5 && (sun.azimuth_deg - 180.0).abs() < 1.0);
    /// assert!(sun.apparent_zenith_deg < sun.zenith_deg);
    /// # Ok::<(), tideover::sky::sun::SunError>(())
    /// ```
    pub fn new(latitude_deg: f64, longitude_deg: f64) -> Result<Observer, SunError> {
        if !(-90.0..=90.0).contains(&latitude_deg) {
            return Err(SunError::Latitude(latitude_deg));
        }
        if !(-180.0..=180.0).contains(&longitude_deg) {
            return Err(SunError::Longitude(longitude_deg));
        }
        let (height_m, pressure_hpa, air_c) = (0.0, 1013.25, 12.0);
        Ok(Observer {
            location: Location { latitude: latitude_deg, longitude: longitude_deg },
            height_m,
            refraction: air(height_m, pressure_hpa, air_c)?,
            delta_t_s: DELTA_T_S,
        })
    }

    /// The same observer at another height \[m], air pressure \[hPa] and air temperature \[°C].
    ///
    /// # Errors
    /// [`SunError::Air`] outside -1000 to 20000 m, 1 to 2000 hPa, -100 to 100 °C.
    pub fn in_air(self, height_m: f64, pressure_hpa: f64, air_c: f64) -> Result<Observer, SunError> {
        Ok(Observer { height_m, refraction: air(height_m, pressure_hpa, air_c)?, ..self })
    }

    /// The same observer with another difference of terrestrial and universal time \[s]; see [`DELTA_T_S`].
    pub fn with_delta_t(self, delta_t_s: f64) -> Observer {
        Observer { delta_t_s, ..self }
    }

    /// Where the sun stands.
    ///
    /// * `unix_s` — seconds since 1970-01-01T00:00Z.
    ///
    /// # Errors
    /// [`SunError::Instant`] outside the years -2000 to 6000.
    ///
    /// Reference: Reda & Andreas (2004), NREL/TP-560-34302.
    pub fn position(&self, unix_s: f64) -> Result<SunPosition, SunError> {
        let at = |unix_s: f64| {
            let julian = JulianDate::new(UNIX_EPOCH_JULIAN + unix_s / DAY_S, self.delta_t_s)?;
            let prepared = SolarPositions::new().for_time_from_julian(julian)?;
            let geometric = prepared.at(self.location, self.height_m, None)?;
            let apparent = prepared.at(self.location, self.height_m, Some(self.refraction))?;
            Ok(SunPosition {
                zenith_deg: geometric.zenith_angle(),
                apparent_zenith_deg: apparent.zenith_angle(),
                azimuth_deg: geometric.azimuth(),
            })
        };
        at(unix_s).map_err(|_: solar_positioning::Error| SunError::Instant(unix_s))
    }
}

/// The sun at the mean noon of a date, as the earth's centre sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NoonSun {
    /// Declination \[°], north positive.
    pub declination_deg: f64,
    /// What a sundial is ahead of a steady clock \[min].
    pub equation_of_time_min: f64,
    /// Distance of the sun \[astronomical units].
    pub distance_au: f64,
}

/// Declination, equation of time and distance of the sun at the mean noon of a date on a meridian.
///
/// * `date_unix_s` — 00:00 UTC of the local date, in seconds since 1970-01-01T00:00Z.
/// * `longitude_deg` — -180..=180, east positive.
///
/// # Errors
/// Off the globe, or outside the years of the algorithm.
///
/// Reference: Reda & Andreas (2004), NREL/TP-560-34302.
pub fn noon(date_unix_s: f64, longitude_deg: f64) -> Result<NoonSun, SunError> {
    let pole = Observer::new(90.0, longitude_deg)?;
    let noon_unix_s = date_unix_s + DAY_S * (0.5 - longitude_deg / 360.0);
    let at = || {
        let julian = JulianDate::new(UNIX_EPOCH_JULIAN + noon_unix_s / DAY_S, pole.delta_t_s)?;
        let prepared = SolarPositions::new().for_time_from_julian(julian)?;
        // From the pole the sun's azimuth is 180° and its hour angle, which at mean noon is the equation of time.
        let azimuth = prepared.at(pole.location, pole.height_m, None)?.azimuth();
        Ok(NoonSun {
            declination_deg: prepared.declination(),
            equation_of_time_min: 4.0 * (azimuth - 180.0),
            distance_au: prepared.earth_radius_vector().unwrap_or(f64::NAN),
        })
    };
    at().map_err(|_: solar_positioning::Error| SunError::Instant(noon_unix_s))
}

/// Zenith and azimuth \[°] of the sun from its hour angle: the spherical triangle, without parallax or refraction.
///
/// * `hour_angle_deg` — 15 an hour, negative before solar noon.
/// * Returns the zenith angle, 0..=180, and the azimuth clockwise from north, 0..360.
///
/// Reference: Duffie & Beckman, equations 1.6.5 and 1.6.6.
///
/// ```
/// let (zenith, azimuth) = tideover::sky::sun::zenith_and_azimuth_deg(40.0, 0.0, 0.0);
/// assert!((zenith - 40.0).abs() < 1e-9 && (azimuth - 180.0).abs() < 1e-9);
/// ```
pub fn zenith_and_azimuth_deg(latitude_deg: f64, declination_deg: f64, hour_angle_deg: f64) -> (f64, f64) {
    let (sin_lat, cos_lat) = math::sin_cos(latitude_deg.to_radians());
    let (sin_dec, cos_dec) = math::sin_cos(declination_deg.to_radians());
    let (sin_hour, cos_hour) = math::sin_cos(hour_angle_deg.to_radians());
    let up = sin_lat * sin_dec + cos_lat * cos_dec * cos_hour;
    let north = cos_lat * sin_dec - sin_lat * cos_dec * cos_hour;
    let east = -cos_dec * sin_hour;
    (math::atan2(math::hypot(north, east), up).to_degrees(), math::atan2(east, north).to_degrees().rem_euclid(360.0))
}

fn air(height_m: f64, pressure_hpa: f64, air_c: f64) -> Result<RefractionCorrection, SunError> {
    let refused = SunError::Air { height_m, pressure_hpa, air_c };
    let allowed = (-1000.0..=20_000.0).contains(&height_m)
        && (1.0..=2000.0).contains(&pressure_hpa)
        && (-100.0..=100.0).contains(&air_c);
    if !allowed {
        return Err(refused);
    }
    RefractionCorrection::new(pressure_hpa, air_c).map_err(|_| refused)
}
