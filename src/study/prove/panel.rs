//! Is a panel's power what the sun allowed at that moment?
//!
//! The sun's place by SPA, a cloudless sky by Ineichen & Perez (2002) between a clean and a hazy one, the panel's plane by
//! Hay & Davies (1980) with Perez et al. (1990) beside it for the doubt of such models, cells warmed after Faiman (2008).
//! The parts of the doubt are changed one at a time and added as squares (JCGM 100:2008, 5.1.3).

use super::scene::{Conditions, Scene};
use super::uncertainty::Estimate;
use crate::math;
use crate::scenario::model::Site;
use crate::scenario::record::model::{Aim, Record, SkyLook, SolarTest};
use crate::sky::cell::{CellModel, power_factor};
use crate::sky::extraterrestrial::normal_w_m2;
use crate::sky::sun::{Observer, SunError};
use crate::trials::interval::Z_95;
use crate::units::{Uncertain, WattsPerSquareMetre};
use crate::weather::world;

/// Linke turbidity, middle and 95 % half-width: clean winter air to summer haze (monthly means of inhabited places run
/// from 2 to 5; common practice).
const CLEAR_TURBIDITY: (f64, f64) = (3.0, 1.0);
/// The same for a milky sky.
const HAZY_TURBIDITY: (f64, f64) = (5.0, 1.5);
/// Share of the panel's power that arrives: dirt, cable, the input's search for the best point. Middle and 95 %
/// half-width. Typical, no source.
const ARRIVES: (f64, f64) = (0.93, 0.05);
/// Air temperature where none was noted: 95 % half-width about the month's mean \[K\].
const AIR_HALF_WIDTH_K: f64 = 9.0;
/// The same where it was noted \[K\].
const NOTED_AIR_HALF_WIDTH_K: f64 = 3.0;
/// Wind at the panel, middle and half-width \[m/s\].
const WIND: (f64, f64) = (1.5, 1.5);
/// How far tilt and direction may be off, 95 % half-width \[°\].
const AIM_HALF_WIDTH_DEG: f64 = 5.0;
/// Sun below this height \[°\] judges nothing: the sky models are weak there and any obstacle shades.
pub const LEAST_HEIGHT_DEG: f64 = 10.0;
/// A charge at or above this makes a station take less than the panel gives (common practice).
pub const NEARLY_FULL: f64 = 0.9;
/// The edges of clouds throw light of their own: so much more than a cloudless sky gives for a moment (common practice, no source).
const CLOUD_EDGE: f64 = 1.3;
/// A good panel reaches this share of what is expected. No source.
pub const GOOD: f64 = 0.85;

/// More than this share of what is expected, all of the interval counted, no panel of that label gives: a label is good to some percent,
/// and the middle of what is expected counts dirt and cable. No source.
pub const MOST: f64 = 1.10;

/// Why a test judges nothing.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum NoVerdict {
    /// Clouds.
    Cloudy,
    /// The sun was down or low: its height \[°\].
    LowSun(f64),
    /// The station throttled: its charge, 0 to 1.
    NearlyFull(f64),
    /// The input was at its limit \[W\].
    Limited(f64),
    /// No place.
    NoSite,
    /// The place or the moment cannot be used.
    Sun(SunError),
    /// A light meter that read more than the sun can give there: both \[W/m²\].
    TooBright(f64, f64),
    /// A light meter that read less than a blue sky gives there: both \[W/m²\].
    TooDim(f64, f64),
    /// A panel that gave more than one of its label can: its share of what can be expected, 1 and above.
    TooStrong(f64),
    /// The clock of the place is not known.
    Clock,
}

impl From<SunError> for NoVerdict {
    fn from(error: SunError) -> NoVerdict {
        NoVerdict::Sun(error)
    }
}

/// How a panel did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PanelVerdict {
    /// As a good panel does.
    Good,
    /// Less than a good panel gives.
    Weak,
    /// The doubt covers both.
    Open,
}

/// A solar test beside what the sun allowed.
#[derive(Debug, Clone, PartialEq)]
pub struct PanelAnswer {
    /// Its name.
    pub name: String,
    /// What was read \[W\].
    pub measured: Estimate,
    /// What a panel of that label gives under such a sky \[W\].
    pub expected: Estimate,
    /// Measured over expected.
    pub ratio: Estimate,
    /// Height of the sun over the horizon \[°\]; not known without a place.
    pub sun_height_deg: Option<f64>,
    /// Its direction \[°\], clockwise from north.
    pub sun_azimuth_deg: Option<f64>,
    /// Light on the panel's plane \[W/m²\].
    pub plane_w_m2: f64,
    /// Temperature of the cells \[°C\].
    pub cell_c: f64,
    /// The parts of the doubt in `expected`, as names and standard uncertainties \[W\].
    pub causes: Vec<(&'static str, f64)>,
    /// How it did, or why it cannot be told.
    pub verdict: Result<PanelVerdict, NoVerdict>,
}

impl PanelAnswer {
    /// How far the light on the plane may be off where the sky tells it, as a share, standard uncertainty.
    fn light_doubt(&self) -> f64 {
        let of_the_sky =
            |name: &str| ["clearness of the air", "tilt and direction", "model of the sky"].contains(&name);
        let squares: f64 =
            self.causes.iter().filter(|(name, _)| of_the_sky(name)).map(|(_, watts)| watts * watts).sum();
        squares.sqrt() / self.expected.value.max(1e-9)
    }

    /// Whether the sun stands high enough for the sky to tell the light.
    fn verdict_by_height(&self) -> bool {
        self.sun_height_deg.is_some_and(|height| LEAST_HEIGHT_DEG <= height)
    }
}

/// Seconds since 1970 of a clock time at a place.
fn unix_s(site: &Site, at: jiff::civil::DateTime) -> Result<f64, NoVerdict> {
    let zone = site.clock().ok_or(NoVerdict::Clock)?;
    let moment = zone.to_ambiguous_timestamp(at).compatible().map_err(|_| NoVerdict::Clock)?;
    Ok(moment.as_second() as f64)
}

/// Judges one solar test.
///
/// # Errors
/// [`NoVerdict`] where not even an expectation can be formed; what can be shown but not judged is in the answer.
pub fn judge(record: &Record, test: &SolarTest) -> Result<PanelAnswer, NoVerdict> {
    match (&test.irradiance, test.aim, test.sky) {
        (Some(light), ..) => by_light(record, test, light),
        (None, Some(aim), Some(sky)) => by_the_sun(record, test, aim, sky),
        // The reader asks for both.
        _ => Err(NoVerdict::NoSite),
    }
}

/// Judges a panel by the light that was measured on its plane.
fn by_light(
    record: &Record,
    test: &SolarTest,
    light: &Uncertain<WattsPerSquareMetre>,
) -> Result<PanelAnswer, NoVerdict> {
    // Where place and aim are known, the sun says what can be; under a sky that is known it tells the light too.
    let sun = match (test.aim, &record.site) {
        (Some(aim), Some(_)) => Some(by_the_sun(record, test, aim, test.sky.unwrap_or(SkyLook::Clear))?),
        _ => None,
    };
    let mut read = Estimate { value: light.value.0, standard: light.plus_minus / Z_95 };
    let mut seen = None;
    if let Some(sun) = &sun {
        let by_the_sky = Estimate { value: sun.plane_w_m2, standard: sun.plane_w_m2 * sun.light_doubt() };
        let most_w_m2 = match test.sky {
            Some(SkyLook::Clear) => by_the_sky.high(),
            _ => CLOUD_EDGE * by_the_sky.value,
        };
        if most_w_m2 < read.low() {
            return Err(NoVerdict::TooBright(read.value, most_w_m2));
        }
        if test.sky == Some(SkyLook::Clear) && read.high() < by_the_sky.low() {
            return Err(NoVerdict::TooDim(read.value, by_the_sky.low()));
        }
        if matches!(test.sky, Some(SkyLook::Clear | SkyLook::Hazy)) && sun.verdict_by_height() {
            // Two estimates of one light, by inverse variances.
            let (a, b) = (math::powi(read.standard, -2), math::powi(by_the_sky.standard, -2));
            read =
                Estimate { value: (a * read.value + b * by_the_sky.value) / (a + b), standard: (a + b).sqrt().recip() };
            seen = Some("light meter and sky");
        }
    }
    let (air_c, air_half) = air(record, test);
    let watts = |light_w_m2: f64, air_c: f64, wind_m_s: f64, arrives: f64| {
        let cell_c = CellModel::OPEN_RACK.cell_c(light_w_m2, air_c, wind_m_s);
        (cell_c, test.rated.0 * power_factor(light_w_m2, cell_c, test.power_coefficient.0) * arrives)
    };
    let (light_w_m2, half) = (read.value, read.plus_minus());
    let (cell_c, expected_w) = watts(light_w_m2, air_c, WIND.0, ARRIVES.0);
    let spread = |low: (f64, f64), high: (f64, f64)| 0.5 * (high.1 - low.1).abs() / Z_95;
    let causes = vec![
        (
            seen.unwrap_or("light meter"),
            spread(
                watts(light_w_m2 - half, air_c, WIND.0, ARRIVES.0),
                watts(light_w_m2 + half, air_c, WIND.0, ARRIVES.0),
            ),
        ),
        (
            "dirt, cable and input",
            spread(
                watts(light_w_m2, air_c, WIND.0, ARRIVES.0 - ARRIVES.1),
                watts(light_w_m2, air_c, WIND.0, ARRIVES.0 + ARRIVES.1),
            ),
        ),
        (
            "air temperature",
            spread(
                watts(light_w_m2, air_c - air_half, WIND.0, ARRIVES.0),
                watts(light_w_m2, air_c + air_half, WIND.0, ARRIVES.0),
            ),
        ),
        (
            "wind",
            spread(watts(light_w_m2, air_c, 0.0, ARRIVES.0), watts(light_w_m2, air_c, WIND.0 + WIND.1, ARRIVES.0)),
        ),
    ];
    let sun = sun.as_ref();
    let seen = Seen {
        sun_deg: sun.and_then(|sun| Some((sun.sun_height_deg?, sun.sun_azimuth_deg?))),
        plane_w_m2: light_w_m2,
        cell_c,
        expected_w,
        causes,
    };
    Ok(seen.against(record, test, None))
}

/// Air temperature at the panel, and what it may be off by, 95 % \[°C, K\].
fn air(record: &Record, test: &SolarTest) -> (f64, f64) {
    let site = record.site.as_ref();
    let climate =
        || site.and_then(|site| world::lookup(site.latitude_deg, site.longitude_deg, site.height.map(|h| h.0)).ok());
    let month = (test.at.month().clamp(1, 12) - 1) as usize;
    match test.air {
        Some(air) => (air.0, NOTED_AIR_HALF_WIDTH_K),
        None => climate().map_or((15.0, 2.0 * AIR_HALF_WIDTH_K), |c| (c.months[month].air.mean_c, AIR_HALF_WIDTH_K)),
    }
}

/// Judges a panel by where the sun stood and how the sky looked.
fn by_the_sun(record: &Record, test: &SolarTest, aim: Aim, sky: SkyLook) -> Result<PanelAnswer, NoVerdict> {
    let site = record.site.as_ref().ok_or(NoVerdict::NoSite)?;
    let observer = Observer::new(site.latitude_deg, site.longitude_deg)?;
    let sun = observer.position(unix_s(site, test.at)?)?;
    let height_deg = 90.0 - sun.apparent_zenith_deg;
    if height_deg <= 0.0 {
        return Err(NoVerdict::LowSun(height_deg));
    }
    let climate = world::lookup(site.latitude_deg, site.longitude_deg, site.height.map(|height| height.0)).ok();
    let (air_c, air_half) = air(record, test);
    let height_m = site.height.map_or_else(|| climate.and_then(|c| c.height_m).unwrap_or(0.0), |height| height.0);
    let scene = Scene {
        zenith_deg: sun.zenith_deg,
        apparent_deg: sun.apparent_zenith_deg,
        azimuth_deg: sun.azimuth_deg,
        extra_w_m2: normal_w_m2(f64::from(test.at.day_of_year())),
        height_m,
        albedo: site.ground_reflection.0,
        rated_w: test.rated.0,
        power_per_k: test.power_coefficient.0,
    };
    let turbidity = if sky == SkyLook::Hazy { HAZY_TURBIDITY } else { CLEAR_TURBIDITY };
    let (tilt_deg, facing_deg) = match aim {
        Aim::AtTheSun => (sun.zenith_deg.clamp(0.0, 90.0), sun.azimuth_deg),
        Aim::Fixed { tilt, facing } => (tilt.0, facing.0),
    };
    let middle = Conditions {
        turbidity: turbidity.0,
        air_c,
        wind_m_s: WIND.0,
        tilt_deg,
        facing_deg,
        arrives: ARRIVES.0,
        perez: false,
    };
    let (plane_w_m2, cell_c, expected_w) = scene.power(middle);
    let watts = |conditions: Conditions| scene.power(conditions).2;
    // Half the distance between the two ends of a part's 95 % interval.
    let spread = |low: Conditions, high: Conditions| 0.5 * (watts(high) - watts(low)).abs() / Z_95;
    let c = middle;
    let tilt = AIM_HALF_WIDTH_DEG;
    let aiming = match aim {
        // Off by the half-width in either direction the panel only loses.
        Aim::AtTheSun => (expected_w - watts(Conditions { tilt_deg: (tilt_deg - tilt).max(0.0), ..c })).abs() / Z_95,
        Aim::Fixed { .. } => math::hypot(
            spread(Conditions { tilt_deg: tilt_deg - tilt, ..c }, Conditions { tilt_deg: tilt_deg + tilt, ..c }),
            spread(
                Conditions { facing_deg: facing_deg - tilt, ..c },
                Conditions { facing_deg: facing_deg + tilt, ..c },
            ),
        ),
    };
    let causes = vec![
        (
            "clearness of the air",
            spread(
                Conditions { turbidity: turbidity.0 + turbidity.1, ..c },
                Conditions { turbidity: turbidity.0 - turbidity.1, ..c },
            ),
        ),
        (
            "dirt, cable and input",
            spread(
                Conditions { arrives: ARRIVES.0 - ARRIVES.1, ..c },
                Conditions { arrives: ARRIVES.0 + ARRIVES.1, ..c },
            ),
        ),
        ("tilt and direction", aiming),
        (
            "air temperature",
            spread(Conditions { air_c: air_c + air_half, ..c }, Conditions { air_c: air_c - air_half, ..c }),
        ),
        ("wind", spread(Conditions { wind_m_s: 0.0, ..c }, Conditions { wind_m_s: WIND.0 + WIND.1, ..c })),
        ("model of the sky", (watts(Conditions { perez: true, ..c }) - expected_w).abs()),
    ];
    let blind = match sky {
        SkyLook::Cloudy => Some(NoVerdict::Cloudy),
        _ if height_deg < LEAST_HEIGHT_DEG => Some(NoVerdict::LowSun(height_deg)),
        _ => None,
    };
    let sun_deg = Some((height_deg, sun.azimuth_deg));
    Ok(Seen { sun_deg, plane_w_m2, cell_c, expected_w, causes }.against(record, test, blind))
}

/// What a good panel could give at that moment.
struct Seen {
    /// Height and direction of the sun \[°\].
    sun_deg: Option<(f64, f64)>,
    plane_w_m2: f64,
    cell_c: f64,
    expected_w: f64,
    causes: Vec<(&'static str, f64)>,
}

impl Seen {
    /// The answer.
    ///
    /// * `blind` — why nothing can be judged, beside what the unit itself hides.
    fn against(self, record: &Record, test: &SolarTest, blind: Option<NoVerdict>) -> PanelAnswer {
        let Seen { sun_deg, plane_w_m2, cell_c, expected_w, causes } = self;
        let expected = Estimate { value: expected_w, standard: causes.iter().map(|(_, u)| u * u).sum::<f64>().sqrt() };
        // Limits of the meter and its last digit as constant densities (JCGM 100:2008, 4.3.7).
        let third = 3.0_f64.sqrt();
        let standard = math::hypot(test.meter.accuracy.0 * test.watts.0 / third, 0.5 * test.meter.last_digit.0 / third);
        let measured = Estimate { value: test.watts.0, standard };
        let ratio_value = measured.value / expected.value.max(1e-9);
        let relative = math::hypot(expected.standard / expected.value.max(1e-9), standard / measured.value.max(1e-9));
        let ratio = Estimate { value: ratio_value, standard: ratio_value * relative };
        let limit = record.unit.solar_limit.map_or(f64::INFINITY, |limit| limit.0);
        let verdict = if let Some(why) = blind {
            Err(why)
        } else if MOST < ratio.low() {
            Err(NoVerdict::TooStrong(ratio.value))
        } else if ratio.high() < 1.0 && test.charge.is_some_and(|charge| NEARLY_FULL <= charge.0) {
            Err(NoVerdict::NearlyFull(test.charge.map_or(1.0, |charge| charge.0)))
        } else if limit * 0.97 <= test.watts.0 && limit < expected.high() {
            Err(NoVerdict::Limited(limit))
        } else if GOOD <= ratio.low() {
            Ok(PanelVerdict::Good)
        } else if ratio.high() < GOOD {
            Ok(PanelVerdict::Weak)
        } else {
            Ok(PanelVerdict::Open)
        };
        PanelAnswer {
            name: test.name.clone(),
            measured,
            expected,
            ratio,
            sun_height_deg: sun_deg.map(|(height, _)| height),
            sun_azimuth_deg: sun_deg.map(|(_, azimuth)| azimuth),
            plane_w_m2,
            cell_c,
            causes,
            verdict,
        }
    }
}
