//! How an array of panels sees the sun: everything that depends on day and hour but not on luck.

use crate::sky::cell::CellModel;
use crate::sky::extraterrestrial;
use crate::sky::incidence::{Glass, IncidenceModel};
use crate::sky::plane::Plane;
use crate::sky::split::hourly_diffuse_fraction;
use crate::sky::sun::zenith_and_azimuth_deg;
use crate::weather::{Calendar, WeatherTrace};

/// Sun positions averaged into one step.
const SAMPLES_AN_HOUR: usize = 6;

/// Wind behind the cell temperature \[m/s\]: a light breeze, so that panels run warm. Typical; no source.
const WIND_M_S: f64 = 1.0;

/// The ratio of beam on the plane to beam on the horizontal is held below this: with the sun on the horizon it has no
/// bound, and what light there is then is not beam.
const GREATEST_BEAM_RATIO: f64 = 15.0;

/// An array's view of the sun over a year of 365 days.
#[derive(Debug, Clone, PartialEq)]
pub struct ArrayGeometry {
    /// Beam on the plane (glass counted) over beam on the horizontal, by day and step.
    beam_ratio: Vec<f32>,
    /// 1 / extraterrestrial horizontal irradiance \[m²/W\], by day and step; 0 at night.
    per_extraterrestrial: Vec<f32>,
    steps_a_day: usize,
    dome: f64,
    ground: f64,
    rise_k_per_w_m2: f64,
    power_per_k: f64,
    kept: f64,
}

impl ArrayGeometry {
    /// Tables for a plane.
    ///
    /// * `extraterrestrial_w_m2` — the horizontal irradiance outside the air of a day's steps \[W/m²\], as the weather
    ///   uses it.
    /// * `power_per_k` — temperature coefficient of power \[1/K\], negative.
    /// * `kept` — share of the power left after dirt and cable, 0 to 1.
    #[must_use]
    pub fn new<'a>(
        plane: Plane,
        calendar: &Calendar,
        extraterrestrial_w_m2: impl Fn(u32) -> &'a [f64],
        power_per_k: f64,
        kept: f64,
    ) -> ArrayGeometry {
        let glass = IncidenceModel::Physical(Glass::CLEAR);
        let diffuse = glass.diffuse(plane.tilt_deg);
        let steps_a_day = calendar.steps_per_day();
        let samples = (SAMPLES_AN_HOUR * calendar.step_minutes as usize).div_ceil(60).max(1);
        let mut beam_ratio = Vec::with_capacity(365 * steps_a_day);
        let mut per_extraterrestrial = Vec::with_capacity(365 * steps_a_day);
        for day in 0..365_u32 {
            let day_of_year = f64::from(day) + 1.0;
            let declination = extraterrestrial::declination_deg(day_of_year);
            let outside = extraterrestrial_w_m2(day);
            // Solar minus clock time [min].
            let ahead = 4.0 * calendar.longitude_deg - f64::from(calendar.utc_offset_minutes[day as usize])
                + extraterrestrial::equation_of_time_min(day_of_year);
            for (step, &outside) in outside.iter().enumerate() {
                let (mut plane_sum, mut flat_sum) = (0.0, 0.0);
                if outside > 0.0 {
                    for sample in 0..samples {
                        let minute =
                            (step as f64 + (sample as f64 + 0.5) / samples as f64) * f64::from(calendar.step_minutes);
                        let hour_angle = (minute + ahead) / 4.0 - 180.0;
                        let (zenith, azimuth) = zenith_and_azimuth_deg(calendar.latitude_deg, declination, hour_angle);
                        let up = zenith.to_radians().cos();
                        if up > 0.0 {
                            let facing = plane.cos_incidence(zenith, azimuth).max(0.0);
                            plane_sum += facing * glass.modifier(facing.acos().to_degrees());
                            flat_sum += up;
                        }
                    }
                }
                let ratio = if flat_sum > 0.0 { (plane_sum / flat_sum).min(GREATEST_BEAM_RATIO) } else { 0.0 };
                beam_ratio.push(ratio as f32);
                per_extraterrestrial.push(if outside > 0.0 { (1.0 / outside) as f32 } else { 0.0 });
            }
        }
        ArrayGeometry {
            beam_ratio,
            per_extraterrestrial,
            steps_a_day,
            dome: plane.sky_view() * diffuse.sky,
            ground: plane.ground_view() * diffuse.ground * plane.albedo,
            rise_k_per_w_m2: CellModel::OPEN_RACK.rise_k_per_w_m2(WIND_M_S),
            power_per_k,
            kept,
        }
    }

    /// Irradiance that reaches the cells \[W/m²\] (Hay & Davies 1980, incidence losses counted).
    ///
    /// * `at` — day × steps a day + step; `diffuse_w_m2` — measured diffuse light, or NaN to split by Erbs et al. (1982).
    fn on_plane_w_m2(&self, at: usize, ghi_w_m2: f64, diffuse_w_m2: f64) -> f64 {
        let per_outside = f64::from(self.per_extraterrestrial[at]);
        let clearness = ghi_w_m2 * per_outside;
        let dhi = if diffuse_w_m2.is_nan() {
            ghi_w_m2 * hourly_diffuse_fraction(clearness)
        } else {
            diffuse_w_m2.clamp(0.0, ghi_w_m2)
        };
        let beam = ghi_w_m2 - dhi;
        // A, the anisotropy index: beam over extraterrestrial, both horizontal.
        let anisotropy = (beam * per_outside).min(1.0);
        let ratio = f64::from(self.beam_ratio[at]);
        beam * ratio + dhi * (anisotropy * ratio + (1.0 - anisotropy) * self.dome) + ghi_w_m2 * self.ground
    }

    /// Power for every rated watt \[W/W\] in each step of a history that begins at midnight of `first_day`.
    pub fn power_per_rated_watt(&self, first_day: u32, weather: &WeatherTrace, out: &mut Vec<f64>) {
        let year = 365 * self.steps_a_day;
        let mut at = first_day as usize % 365 * self.steps_a_day;
        out.clear();
        out.extend(weather.ghi_w_m2.iter().enumerate().map(|(step, &ghi)| {
            let here = at;
            at = if at + 1 == year { 0 } else { at + 1 };
            if ghi <= 0.0 {
                return 0.0;
            }
            let diffuse = weather.dhi_w_m2.get(step).copied().unwrap_or(f64::NAN);
            let poa = self.on_plane_w_m2(here, ghi, diffuse);
            let cell_c = weather.air_c[step] + poa * self.rise_k_per_w_m2;
            (poa * 0.001 * (1.0 + self.power_per_k * (cell_c - 25.0))).max(0.0) * self.kept
        }));
    }
}
