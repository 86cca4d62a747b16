//! How an array of panels sees the sun: everything that depends on day and hour but not on chance.

#[cfg(test)]
mod published;
pub mod tables;

use super::aim::{DayAim, HAND_AIM_ERROR_DEG, ShareOut, SunAt, sun_path};
use crate::math;
use crate::random::polynomials::{less, more};
use crate::random::real::Real;
use crate::scenario::model::{Aim, Panel};
use crate::sky::cell::CellModel;
use crate::sky::incidence::{DiffuseModifiers, Glass};
use crate::sky::plane::Plane;
use crate::sky::split::hourly_diffuse_fraction;
use crate::weather::Calendar;

/// Wind behind the cell temperature \[m/s\]: a light breeze, so that panels run warm. Typical; no source.
const WIND_M_S: f64 = 1.0;

/// The ratio of beam on the plane to beam on the horizontal is held below this: with the sun on the horizon it has no
/// bound, and what light there is then is not beam.
const GREATEST_BEAM_RATIO: f64 = 15.0;

/// What of sky and ground light reaches the cells.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Views {
    /// Of diffuse light that does not come from around the sun \[–\].
    dome: f32,
    /// Of global light, by way of the ground \[–\].
    ground: f32,
}

/// An array's view of the sun over a year of 365 days.
#[derive(Debug, Clone, PartialEq)]
pub struct ArrayGeometry {
    /// Beam on the plane (glass counted) over beam on the horizontal, by day and step.
    beam_ratio: Vec<f32>,
    /// 1 / extraterrestrial horizontal irradiance \[m²/W\], by day and step; 0 at night.
    per_extraterrestrial: Vec<f32>,
    /// By day and step, or one for all where the array does not move.
    views: Vec<Views>,
    /// Whether the array moves.
    moves: bool,
    /// What a hand that aims it leaves of the beam \[–\].
    hand: f64,
    /// Share of the power that is left by shade and by the hours it is put out, by day and step; empty for all of it.
    left: Vec<f32>,
    steps_a_day: usize,
    rise_k_per_w_m2: f64,
    power_per_k: f64,
    kept: f64,
    least_clearness: f64,
}

/// Glass in front of cells, its modifiers for sky and ground looked up by tilt in whole degrees.
struct Pane {
    glass: Glass,
    diffuse: Vec<Option<DiffuseModifiers>>,
}

impl Pane {
    fn views(&mut self, plane: &Plane) -> Views {
        let slot = &mut self.diffuse[plane.tilt_deg.round().clamp(0.0, 90.0) as usize];
        let modifiers = *slot.get_or_insert_with(|| self.glass.diffuse(plane.tilt_deg));
        Views {
            dome: (plane.sky_view() * modifiers.sky) as f32,
            ground: (plane.ground_view() * modifiers.ground * plane.albedo) as f32,
        }
    }
}

impl ArrayGeometry {
    /// Tables for an array.
    ///
    /// * `albedo` — share of light that the ground sends back.
    /// * `extraterrestrial_w_m2` — the horizontal irradiance outside the air of a day's steps \[W/m²\], as the weather
    ///   uses it.
    /// * `kept` — share of the power left after dirt and whatever else takes a constant share, 0 to 1.
    #[must_use]
    pub fn new<'a>(
        panel: &Panel,
        albedo: f64,
        calendar: &Calendar,
        extraterrestrial_w_m2: impl Fn(u32) -> &'a [f64],
        kept: f64,
    ) -> ArrayGeometry {
        let mut pane = Pane { glass: Glass::CLEAR, diffuse: vec![None; 91] };
        let steps_a_day = calendar.steps_per_day();
        let share_out = ShareOut::new(panel);
        let mut geometry = ArrayGeometry::empty(panel, albedo, &mut pane, steps_a_day, kept);
        for day in 0..365_u32 {
            let path = sun_path(calendar, day);
            let aim = DayAim::new(panel, &path, &share_out, albedo);
            let samples = path.len() / steps_a_day;
            for (step, &outside) in extraterrestrial_w_m2(day).iter().enumerate() {
                geometry.add_step(&path[step * samples..(step + 1) * samples], &aim, &share_out, outside, &mut pane);
            }
        }
        geometry
    }

    /// Room for a year of an array.
    fn empty(panel: &Panel, albedo: f64, pane: &mut Pane, steps_a_day: usize, kept: f64) -> ArrayGeometry {
        let steps = 365 * steps_a_day;
        let fixed = match panel.aim {
            Aim::Fixed { tilt, facing } => Some(Plane { tilt_deg: tilt.0, facing_deg: facing.0, albedo }),
            _ => None,
        };
        let by_hand = matches!(panel.aim, Aim::ByHand { .. });
        ArrayGeometry {
            beam_ratio: Vec::with_capacity(steps),
            per_extraterrestrial: Vec::with_capacity(steps),
            views: fixed.iter().map(|plane| pane.views(plane)).collect(),
            moves: fixed.is_none(),
            hand: if by_hand { math::cos(HAND_AIM_ERROR_DEG.to_radians()) } else { 1.0 },
            left: Vec::with_capacity(if ShareOut::new(panel).always() { 0 } else { steps }),
            steps_a_day,
            rise_k_per_w_m2: CellModel::OPEN_RACK.rise_k_per_w_m2(WIND_M_S),
            power_per_k: panel.power_coefficient.0,
            kept,
            least_clearness: panel.out.as_ref().map_or(0.0, |out| out.if_clearer_than.0),
        }
    }

    /// Adds a step: where the sun stands in it, which way the array looks, and the horizontal irradiance outside \[W/m²\].
    fn add_step(&mut self, suns: &[SunAt], aim: &DayAim, share_out: &ShareOut, outside_w_m2: f64, pane: &mut Pane) {
        let (mut plane_sum, mut flat_sum, mut left_sum) = (0.0, 0.0, 0.0);
        let (mut dome, mut ground) = (0.0, 0.0);
        for sun in suns {
            let up = math::cos(sun.zenith_deg.to_radians());
            if outside_w_m2 <= 0.0 || up <= 0.0 {
                continue;
            }
            let plane = aim.plane(sun);
            let facing = plane.cos_incidence(sun.zenith_deg, sun.azimuth_deg).max(0.0);
            plane_sum += facing * pane.glass.modifier(math::acos(facing).to_degrees()) * self.hand;
            flat_sum += up;
            // Light comes in proportion to the sun's height, and so do its losses.
            left_sum += up * share_out.at(sun);
            if self.moves {
                let views = pane.views(&plane);
                dome += up * f64::from(views.dome);
                ground += up * f64::from(views.ground);
            }
        }
        let mean = |sum: f64| if flat_sum > 0.0 { sum / flat_sum } else { 0.0 };
        self.beam_ratio.push(mean(plane_sum).min(GREATEST_BEAM_RATIO) as f32);
        self.per_extraterrestrial.push(if outside_w_m2 > 0.0 { (1.0 / outside_w_m2) as f32 } else { 0.0 });
        if self.moves {
            self.views.push(Views { dome: mean(dome) as f32, ground: mean(ground) as f32 });
        }
        if !share_out.always() {
            self.left.push(mean(left_sum) as f32);
        }
    }

    /// What the light of a step comes to on the panel's plane: day × steps a day + step.
    #[inline(always)]
    fn on_plane<R: Real>(&self, at: usize) -> OnPlane<R> {
        let views = self.views_at(at);
        OnPlane {
            per_outside: R::of_single(self.per_extraterrestrial[at]),
            ratio: R::of_single(self.beam_ratio[at]),
            dome: R::of_single(views.dome),
            ground: R::of_single(views.ground),
        }
    }

    /// What of sky and ground light reaches the cells in a step: day × steps a day + step.
    #[inline(always)]
    fn views_at(&self, at: usize) -> Views {
        if self.views.len() == 1 { self.views[0] } else { self.views[at] }
    }

    /// Share of the power that shade and the hours it is put out leave in a step.
    #[inline(always)]
    fn left_at(&self, at: usize) -> f64 {
        self.left.get(at).map_or(1.0, |left| f64::from(*left))
    }

    /// [`ArrayGeometry::power_and_warmth`] in lanes: Hay & Davies (1980), incidence losses counted. Light that nobody measured
    /// apart is split by Erbs et al. (1982).
    ///
    /// The current at best power hardly depends on temperature, so that voltage falls with heat as power does.
    ///
    /// * `at` — day × steps a day + step; `clearness` — of the day \[–\].
    #[inline(always)]
    pub(super) fn lanes<R: Real, const L: usize>(
        &self,
        at: usize,
        (ghi_w_m2, dhi_w_m2): (&[R; L], Option<&[R; L]>),
        (air_c, clearness): (&[R; L], &[R; L]),
        (per_watt, warmth): (&mut [R; L], &mut [R; L]),
    ) {
        let on_plane = self.on_plane::<R>(at);
        let kept = R::of(self.kept * 0.001 * self.left_at(at));
        // 1 + γ (air + rise × light − 25 °C)
        let per_air = R::of(self.power_per_k);
        let per_light = R::of(self.power_per_k * self.rise_k_per_w_m2);
        let cold = R::of(1.0 - 25.0 * self.power_per_k);
        let (zero, least) = (R::default(), R::of(self.least_clearness));
        // In two passes, each with few constants: together they would not stay in registers.
        let mut diffuse = [zero; L];
        for l in 0..L {
            let ghi = ghi_w_m2[l];
            diffuse[l] = ghi * hourly_diffuse_fraction(ghi * on_plane.per_outside);
        }
        if let Some(measured) = dhi_w_m2 {
            for l in 0..L {
                let within = less(more(measured[l], zero), ghi_w_m2[l]);
                let is_number = measured[l] < zero || zero <= measured[l];
                diffuse[l] = if is_number { within } else { diffuse[l] };
            }
        }
        for l in 0..L {
            let poa = on_plane.w_m2(ghi_w_m2[l], diffuse[l]);
            let warm = more(cold + per_air * air_c[l] + per_light * poa, zero);
            warmth[l] = warm;
            let out = if clearness[l] < least { zero } else { kept };
            per_watt[l] = poa * warm * out;
        }
    }

    /// Power for every rated watt \[W/W\] in one step with light, and the factor `1 + γ (T − 25 °C)` on power and on voltage at
    /// best power.
    ///
    /// * `day` — of the year, 0 for 1 January; `step` — of the day.
    /// * `ghi_w_m2`, `dhi_w_m2` — global and diffuse horizontal irradiance \[W/m²\]; the latter not a number where it is not known.
    /// * `air_c` — air temperature \[°C\]; `clearness` — of the day \[–\].
    #[must_use]
    pub fn power_and_warmth(
        &self,
        (day, step): (u32, usize),
        (ghi_w_m2, dhi_w_m2): (f64, f64),
        (air_c, clearness): (f64, f64),
    ) -> (f64, f64) {
        let (mut per_watt, mut warmth) = ([0.0], [0.0]);
        let at = day as usize % 365 * self.steps_a_day + step;
        let (sun, air) = ((&[ghi_w_m2], Some(&[dhi_w_m2])), (&[air_c], &[clearness]));
        self.lanes::<f64, 1>(at, sun, air, (&mut per_watt, &mut warmth));
        (per_watt[0], warmth[0])
    }
}

/// What turns horizontal irradiance into that on the panel's plane, in one step.
#[derive(Debug, Clone, Copy)]
struct OnPlane<R> {
    /// Of global over extraterrestrial horizontal irradiance \[m²/W\].
    per_outside: R,
    /// Beam on the plane over beam on the ground.
    ratio: R,
    /// What reaches the cells of the sky's and of the ground's light.
    dome: R,
    ground: R,
}

impl<R: Real> OnPlane<R> {
    /// Irradiance that reaches the cells \[W/m²\], incidence losses counted, of global and diffuse horizontal irradiance.
    ///
    /// Reference: Hay & Davies (1980).
    #[inline(always)]
    fn w_m2(&self, ghi_w_m2: R, diffuse_w_m2: R) -> R {
        let beam = ghi_w_m2 - diffuse_w_m2;
        // The anisotropy index: beam over extraterrestrial, both horizontal.
        let anisotropy = less(beam * self.per_outside, R::ONE);
        let around_sun = diffuse_w_m2 * anisotropy;
        (beam + around_sun) * self.ratio + (diffuse_w_m2 - around_sun) * self.dome + ghi_w_m2 * self.ground
    }
}
