//! Which way an array looks through a day, and when it is out in the light.

use crate::scenario::model::{Aim, Panel, ShadeWhen};
use crate::sky::plane::Plane;
use crate::sky::sun::zenith_and_azimuth_deg;
use crate::sky::year::SunOfDay;
use crate::weather::Calendar;

/// Sun positions averaged into one step.
const SAMPLES_AN_HOUR: usize = 6;

/// How far a hand misses the sun when it aims a panel \[°\]. Typical, no source.
pub const HAND_AIM_ERROR_DEG: f64 = 10.0;

/// Where the sun stands at one moment of a day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SunAt {
    /// Minute of the day, clock time.
    pub minute: f64,
    /// Geometric zenith angle \[°\].
    pub zenith_deg: f64,
    /// Azimuth, clockwise from north \[°\].
    pub azimuth_deg: f64,
}

/// The sun's places through a day (0 for 1 January), at the middles of equal parts, the same number in every step.
#[must_use]
pub fn sun_path(calendar: &Calendar, day: u32) -> Vec<SunAt> {
    let samples = (SAMPLES_AN_HOUR * calendar.step_minutes as usize).div_ceil(60).max(1);
    let SunOfDay { declination_deg, equation_of_time_min, .. } = SunOfDay::at(day as usize, calendar.longitude_deg);
    // Solar minus clock time [min].
    let ahead =
        4.0 * calendar.longitude_deg - f64::from(calendar.utc_offset_minutes[day as usize]) + equation_of_time_min;
    let length = f64::from(calendar.step_minutes) / samples as f64;
    (0..samples * calendar.steps_per_day())
        .map(|k| {
            let minute = (k as f64 + 0.5) * length;
            let hour_angle = (minute + ahead) / 4.0 - 180.0;
            let (zenith_deg, azimuth_deg) = zenith_and_azimuth_deg(calendar.latitude_deg, declination_deg, hour_angle);
            SunAt { minute, zenith_deg, azimuth_deg }
        })
        .collect()
}

/// What share of an array's power its hours outside and its shades leave.
#[derive(Debug, Clone, Copy)]
pub struct ShareOut<'a> {
    panel: &'a Panel,
}

impl<'a> ShareOut<'a> {
    /// Of an array.
    #[must_use]
    pub fn new(panel: &'a Panel) -> ShareOut<'a> {
        ShareOut { panel }
    }

    /// Whether it is always outside and never in the shade.
    #[must_use]
    pub fn always(&self) -> bool {
        self.panel.shade.is_empty() && self.panel.out.as_ref().is_none_or(|out| out.hours.is_empty())
    }

    /// Whether it is put out at this minute of the day.
    fn out(&self, minute: f64) -> bool {
        match &self.panel.out {
            Some(out) if !out.hours.is_empty() => out.hours.iter().any(|window| window.contains(minute)),
            _ => true,
        }
    }

    /// The share left at one moment, 0 to 1. Of several shades at once the deepest counts.
    #[must_use]
    pub fn at(&self, sun: &SunAt) -> f64 {
        if !self.out(sun.minute) {
            return 0.0;
        }
        let falls = |when: ShadeWhen| match when {
            ShadeWhen::Clock(window) => window.contains(sun.minute),
            ShadeWhen::Sun { from, to, below } => {
                let along = (sun.azimuth_deg - from.0).rem_euclid(360.0);
                along <= (to.0 - from.0).rem_euclid(360.0) && 90.0 - sun.zenith_deg < below.0
            }
        };
        let lost = self.panel.shade.iter().filter(|shade| falls(shade.when)).map(|shade| shade.loses.0);
        1.0 - lost.fold(0.0, f64::max)
    }
}

/// Which way an array looks on one day.
#[derive(Debug, Clone, PartialEq)]
pub enum DayAim {
    /// The same all day.
    Still(Plane),
    /// At the sun, wherever it stands.
    Following {
        /// Reflection of the ground.
        albedo: f64,
    },
    /// In turns: from each minute on, this way.
    Turns(Vec<(f64, Plane)>),
}

/// A plane that looks straight at the sun, or level with the horizon while it is down.
fn straight_at(sun: &SunAt, albedo: f64) -> Plane {
    Plane { tilt_deg: sun.zenith_deg.min(90.0), facing_deg: sun.azimuth_deg, albedo }
}

impl DayAim {
    /// An array's aim along the sun's path of a day.
    ///
    /// Turned by hand so many times, the day's light (as far as the array is out in it) is cut into as many equal parts,
    /// and in each the array looks to where the sun stands in the middle of it: what a person does who sets a panel a
    /// little ahead of the sun. [`HAND_AIM_ERROR_DEG`] is taken off for a hand that misses.
    #[must_use]
    pub fn new(panel: &Panel, path: &[SunAt], share_out: &ShareOut, albedo: f64) -> DayAim {
        let times = match panel.aim {
            Aim::Fixed { tilt, facing } => {
                return DayAim::Still(Plane { tilt_deg: tilt.0, facing_deg: facing.0, albedo });
            }
            Aim::AtTheSun => return DayAim::Following { albedo },
            Aim::ByHand { times_a_day } => times_a_day.max(1) as usize,
        };
        let lit: Vec<&SunAt> = path.iter().filter(|sun| sun.zenith_deg < 90.0 && share_out.out(sun.minute)).collect();
        let turn = |part: usize| {
            let (first, middle) = (part * lit.len() / times, (2 * part + 1) * lit.len() / (2 * times));
            Some((lit.get(first)?.minute, straight_at(lit.get(middle)?, albedo)))
        };
        DayAim::Turns((0..times).filter_map(turn).collect())
    }

    /// Where the array looks while the sun stands there.
    #[must_use]
    pub fn plane(&self, sun: &SunAt) -> Plane {
        match self {
            DayAim::Still(plane) => *plane,
            DayAim::Following { albedo } => straight_at(sun, *albedo),
            DayAim::Turns(turns) => {
                let turned = turns.iter().rev().find(|(from, _)| *from <= sun.minute).or(turns.first());
                turned.map_or(Plane::new(0.0, 180.0), |(_, plane)| *plane)
            }
        }
    }
}

#[cfg(test)]
mod tests;
