//! Whether a record of the sun can be one of its place: clock, units, nights, air.
//!
//! Replay and fit take a record's every number at its word. What is looked at is what a wrong clock or unit cannot hide:
//!
//! * the centre of its energy: the mean direction of the sun's hour angle weighted by irradiance (circular mean), less that
//!   of the light outside the atmosphere over the same steps, so that gaps move neither;
//! * the clearness of its days, global over extraterrestrial irradiation, against that of a cloudless sky;
//! * what it has while the sun is down;
//! * its air against the built-in table's.

use super::climate::Climate;
use super::record::{HourlyRecord, RecordErrors, RecordProblem};
use crate::calendar::{month_of_day, year_and_day};
use crate::math;
use crate::sky::year::SunOfDay;
use std::f64::consts::TAU;

/// What a record shows of its clock, units, nights and air.
#[derive(Debug, Clone, PartialEq)]
pub struct Soundness {
    /// Centre of the record's energy after that of the possible \[min\], -720 to 720.
    pub centre_min: f64,
    /// The same over the brightest fifth of the days, which clouds of one half of the day move less \[min\].
    pub bright_centre_min: f64,
    /// Days with enough light to judge by.
    pub days: usize,
    /// Clearness that nineteen of twenty of those days do not exceed \[–\].
    pub bright: f64,
    /// Share of the energy that comes while the sun is well below the horizon.
    pub night_share: f64,
    /// Mean sun over the extraterrestrial of the same steps \[–\].
    pub clearness: f64,
    /// Mean air of each month \[°C\]; NaN where unknown.
    pub air_c: [f64; 12],
    /// Whether the labels stand at half past the hour.
    pub half_past: bool,
}

/// A day's sums.
#[derive(Debug, Clone, Copy, Default)]
struct Day {
    sun_wh_m2: f64,
    light_wh_m2: f64,
    sun: (f64, f64),
    light: (f64, f64),
}

/// Brightest believable day: global over extraterrestrial irradiation \[–\]. The clearest days of the records here reach 0.83.
pub(super) const BRIGHTEST_DAY: f64 = 0.9;
/// The dimmest that the brighter days of a year can be \[–\]: those of the records here reach 0.6 to 0.83.
const DIMMEST_BRIGHT_DAY: f64 = 0.35;
/// The same of a record that may hold a dark season alone \[–\].
const DIMMEST_OF_FEW: f64 = 0.05;
/// Days that make a record more than a season.
const MORE_THAN_A_SEASON: usize = 200;
/// What brighter days usually have \[–\], to tell by how much a unit is off.
const USUAL_BRIGHT_DAY: f64 = 0.73;
/// Share of the days that the clearness of the brighter days is not exceeded on.
const NEARLY_ALL: f64 = 0.95;
/// Fewest days to judge clock and units by.
const ENOUGH_DAYS: usize = 10;
/// How far the centre of a record's energy may lie from that of the possible \[min\]: within 15 in good records (27 where a
/// station's clock is known to be wrong), from 45 on where labels are an hour off.
const FARTHEST_CENTRE_MIN: f64 = 30.0;
/// The same for labels at half past the hour, which often mean its middle and not its start \[min\].
const FARTHEST_HALF_PAST_MIN: f64 = 20.0;
/// Most of the energy that may come while the sun is well down: 0.1 % in the worst of the records here.
const MOST_AT_NIGHT: f64 = 0.02;
/// How far the mean air may lie from the table's \[K\]: a summit three kilometres above its surroundings is 20 K colder.
const FARTHEST_AIR_K: f64 = 25.0;

/// Least extraterrestrial irradiation of a day that is judged \[Wh/m²\]: below it a low sun makes clearness uncertain.
pub(super) const ENOUGH_LIGHT_WH_M2: f64 = 1500.0;
/// Minutes between the points at which the light of a step is taken.
const POINTS_MIN: i64 = 5;

impl Soundness {
    /// Looks at a record as one of a place.
    ///
    /// * `latitude_deg`, `longitude_deg` — the place \[°\], north and east positive.
    #[must_use]
    pub fn of(record: &HourlyRecord, latitude_deg: f64, longitude_deg: f64) -> Soundness {
        let step = i64::from(record.step_minutes());
        let step_h = step as f64 / 60.0;
        let (sin_lat, cos_lat) = math::sin_cos(latitude_deg.to_radians());
        let sky: Vec<(f64, f64, f64, f64)> = (0..365)
            .map(|day| {
                let sun = SunOfDay::at(day, longitude_deg);
                let (sin, cos) = math::sin_cos(sun.declination_deg.to_radians());
                (sin_lat * sin, cos_lat * cos, sun.normal_w_m2, 4.0 * longitude_deg + sun.equation_of_time_min)
            })
            .collect();
        // Points of a step at least one, evenly inside it.
        let points = (step / POINTS_MIN).max(1);
        let (mut sun_wh, mut night_wh, mut possible_wh) = (0.0, 0.0, 0.0);
        let mut days: Vec<Day> = Vec::new();
        let mut air = [(0.0, 0.0); 12];
        for stretch in record.stretches() {
            let mut today = (i64::MIN, Day::default());
            for (k, reading) in stretch.readings.iter().enumerate() {
                let minute = stretch.start_minute + k as i64 * step;
                let day = year_and_day(minute.div_euclid(1440)).1;
                if !reading.air_c.is_nan() {
                    let month = &mut air[month_of_day(day)];
                    *month = (month.0 + reading.air_c, month.1 + 1.0);
                }
                if reading.ghi_w_m2.is_nan() {
                    continue;
                }
                let (up, along, normal, shift) = sky[day];
                let solar = minute as f64 + shift;
                let height = |minutes: f64| up - along * math::cos(TAU * (solar + minutes) / 1440.0);
                let light =
                    (0..points).map(|p| height((p as f64 + 0.5) * step as f64 / points as f64).max(0.0)).sum::<f64>()
                        / points as f64
                        * normal;
                let here = (solar / 1440.0).floor() as i64;
                if here != today.0 {
                    days.push(today.1);
                    today = (here, Day::default());
                }
                let (sin, cos) = math::sin_cos(TAU * (solar + 0.5 * step as f64) / 1440.0);
                let (sun, light) = (reading.ghi_w_m2 * step_h, light * step_h);
                // Half an hour of dusk to either side is day: labels are rounded and the sky is not dark at once.
                let dusk = height(-30.0).max(height(step as f64 + 30.0)).max(height(0.5 * step as f64));
                sun_wh += sun;
                possible_wh += light;
                night_wh += if dusk <= 0.0 { sun } else { 0.0 };
                let day = &mut today.1;
                day.sun_wh_m2 += sun;
                day.light_wh_m2 += light;
                day.sun = (day.sun.0 + sun * sin, day.sun.1 + sun * cos);
                day.light = (day.light.0 + light * sin, day.light.1 + light * cos);
            }
            days.push(today.1);
        }
        days.retain(|day| day.light_wh_m2 >= ENOUGH_LIGHT_WH_M2);
        days.sort_by(|a, b| (a.sun_wh_m2 / a.light_wh_m2).total_cmp(&(b.sun_wh_m2 / b.light_wh_m2)));
        let at = |share: f64| ((days.len() as f64 * share) as usize).min(days.len().saturating_sub(1));
        Soundness {
            centre_min: centre_min(&days),
            bright_centre_min: centre_min(&days[at(0.8)..]),
            days: days.len(),
            bright: days.get(at(NEARLY_ALL)).map_or(f64::NAN, |day| day.sun_wh_m2 / day.light_wh_m2),
            night_share: if sun_wh > 0.0 { night_wh / sun_wh } else { 0.0 },
            clearness: if possible_wh > 0.0 { sun_wh / possible_wh } else { f64::NAN },
            air_c: air.map(|(sum, n)| sum / n),
            half_past: step == 60 && record.stretches().iter().all(|s| s.start_minute.rem_euclid(60) == 30),
        }
    }
}

/// Refuses a record that cannot be one of its place, with the likely cause.
///
/// * `air` — the climate of the place by the built-in table, where it has one.
///
/// # Errors
/// No sun at all; days brighter than a cloudless sky or too dim for any; a centre of energy off the sun's noon; sun at
/// night; air that the place does not have.
pub fn check(
    record: &HourlyRecord,
    (latitude_deg, longitude_deg): (f64, f64),
    air: Option<&Climate>,
) -> Result<(), RecordErrors> {
    let sound = Soundness::of(record, latitude_deg, longitude_deg);
    let place = format!("{latitude_deg}, {longitude_deg}");
    let mut problems = Vec::new();
    let mut found = |column: &str, found: String, allowed: String| {
        problems.push(RecordProblem { line: 0, column: Some(column.to_owned()), found, allowed });
    };
    if sound.clearness == 0.0 {
        found(
            "ghi_w_m2",
            "no sun at all: every reading is 0".into(),
            "W/m² above 0 by day (is it the right column?)".into(),
        );
    } else if sound.days >= ENOUGH_DAYS {
        if let Some((what, allowed)) = units(sound.bright, sound.days) {
            let other = Soundness::of(record, -latitude_deg, longitude_deg);
            let flipped = sound.bright > BRIGHTEST_DAY && units(other.bright, other.days).is_none();
            let cause = if flipped {
                "the seasons are those of the other half of the earth: sign of the latitude?".into()
            } else {
                allowed.1
            };
            found("ghi_w_m2", format!("{what} at {place}"), format!("{} ({cause})", allowed.0));
        }
        let (all, bright) = (sound.centre_min, sound.bright_centre_min);
        let off_min = if all.abs() < bright.abs() { all } else { bright };
        let farthest = if sound.half_past { FARTHEST_HALF_PAST_MIN } else { FARTHEST_CENTRE_MIN };
        if off_min.abs() > farthest {
            let when = if off_min < 0.0 { "before" } else { "after" };
            found(
                "time",
                format!("the middle of its sunlight {} {when} the sun's noon at {place}", hours(off_min.abs())),
                format!(
                    "within {farthest:.0} minutes of it ({})",
                    clock_cause(off_min, longitude_deg, sound.half_past)
                ),
            );
        } else if sound.night_share > MOST_AT_NIGHT {
            found(
                "ghi_w_m2",
                format!("{:.0} % of the sunlight while the sun is down at {place}", 100.0 * sound.night_share),
                format!(
                    "up to {:.0} % (a zero that is off, gaps filled across the night, or a clock that changed on the way?)",
                    100.0 * MOST_AT_NIGHT
                ),
            );
        }
    }
    if let Some(air) = air {
        let known = (0..12).filter(|m| !sound.air_c[*m].is_nan());
        let (n, here, table) = known.fold((0.0, 0.0, 0.0), |(n, here, table), m| {
            (n + 1.0, here + sound.air_c[m], table + air.months[m].air.mean_c)
        });
        let (here, table) = (here / n, table / n);
        if (here - table).abs() > FARTHEST_AIR_K {
            found(
                "temp_c",
                format!("a mean of {here:.1} °C at {place}"),
                format!(
                    "{:.0} to {:.0} °C ({})",
                    table - FARTHEST_AIR_K,
                    table + FARTHEST_AIR_K,
                    if (here - 32.0 - 1.8 * table).abs() < 15.0 {
                        "°F in a column of °C?"
                    } else {
                        "another unit, another column or another place?"
                    }
                ),
            );
        }
    }
    if problems.is_empty() { Ok(()) } else { Err(RecordErrors { name: record.name().to_owned(), problems }) }
}

/// Refuses a record of days whose unit cannot be right.
///
/// * `clearness` — of the days with enough light to judge by \[–\].
///
/// # Errors
/// No sun at all; days brighter than a cloudless sky or too dim for any.
pub(super) fn check_days(name: &str, mut clearness: Vec<f64>) -> Result<(), RecordErrors> {
    clearness.sort_by(f64::total_cmp);
    let refused = |found: String, allowed: String| {
        let problem = RecordProblem { line: 0, column: Some("ghi_kwh_m2_day".into()), found, allowed };
        Err(RecordErrors { name: name.to_owned(), problems: vec![problem] })
    };
    if clearness.len() < ENOUGH_DAYS {
        return Ok(());
    }
    if clearness.last() == Some(&0.0) {
        return refused("no sun at all: every day has 0".into(), "kWh/m² above 0 (is it the right column?)".into());
    }
    let bright = clearness[(clearness.len() as f64 * NEARLY_ALL) as usize];
    match units(bright, clearness.len()) {
        Some((what, (allowed, cause))) => refused(what, format!("{allowed} ({cause})")),
        None => Ok(()),
    }
}

/// What is wrong with the level of the sun, what is allowed, and the likely cause.
fn units(bright: f64, days: usize) -> Option<(String, (String, String))> {
    let dimmest = if days < MORE_THAN_A_SEASON { DIMMEST_OF_FEW } else { DIMMEST_BRIGHT_DAY };
    let what = |share: String| format!("brighter days with {share} times the light outside the atmosphere");
    if bright > BRIGHTEST_DAY {
        let times = bright / USUAL_BRIGHT_DAY;
        let cause = match times {
            3.0..4.6 => "about 3.6 times too much: kJ/m² an hour for W/m², or MJ/m² a day for kWh/m²?".into(),
            1.6..3.0 => "about twice too much: a column added twice, or half-hours summed?".into(),
            _ => format!("about {times:.1} times too much: another unit, or another place?"),
        };
        return Some((
            what(format!("{bright:.2}")),
            (format!("{BRIGHTEST_DAY} or less, more than any clear sky lets through"), cause),
        ));
    }
    if bright < dimmest {
        let times = USUAL_BRIGHT_DAY / bright;
        let cause = match times {
            500.0..2000.0 => "about 1000 times too small: kW/m² for W/m²?".into(),
            180.0..500.0 => "about 280 times too small: MJ/m² an hour for W/m²?".into(),
            8.0..16.0 => "about 12 times too small: calories a cm² an hour for W/m²?".into(),
            2.0..3.6 => "about 2.8 times too small: J/cm² an hour for W/m², or kWh of another column?".into(),
            _ => format!("about {times:.0} times too small: another unit, or a sensor covered?"),
        };
        return Some((
            what(format!("{bright:.2e}")),
            (format!("{dimmest} or more, less than any season of clouds leaves"), cause),
        ));
    }
    None
}

/// "28 min", "about 12 h 5 min".
fn hours(minutes: f64) -> String {
    if minutes > 40.0 {
        let rounded = (minutes / 5.0).round() * 5.0;
        return format!("about {}", exactly(rounded as u32));
    }
    exactly(minutes.round() as u32)
}

fn exactly(minutes: u32) -> String {
    match (minutes / 60, minutes % 60) {
        (0, m) => format!("{m} min"),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m} min"),
    }
}

/// What may have moved a record by so many minutes.
fn clock_cause(off_min: f64, longitude_deg: f64, half_past: bool) -> String {
    let apart = |other_min: f64| ((off_min - other_min + 720.0).rem_euclid(1440.0) - 720.0).abs();
    let zone_h = (longitude_deg / 15.0).round();
    let about = (longitude_deg - off_min / 4.0 + 180.0).rem_euclid(360.0) - 180.0;
    if half_past && apart(30.0) < 25.0 {
        return "labels at half past the hour that mean its middle: write the start of the hour".into();
    }
    if apart(720.0) < 40.0 {
        return "12 h off: time zone, or forenoon and afternoon exchanged?".into();
    }
    if zone_h.abs() >= 1.0 && apart(60.0 * zone_h) < 25.0 {
        return format!(
            "labels in the clock of the place in a column of UTC? Name the column `time` and add the offset, {zone_h:+03.0}:00"
        );
    }
    if longitude_deg.abs() > 5.0 && apart(8.0 * longitude_deg) < 25.0 {
        return "sign of the longitude?".into();
    }
    if apart(60.0) < 25.0 {
        return "an hour late: labels at the end of the hour, or summer time?".into();
    }
    if apart(-60.0) < 25.0 {
        return "an hour early: summer time, or labels moved twice?".into();
    }
    format!("{} off: time zone of the labels, or a longitude of about {about:.0}°?", hours(off_min.abs()))
}

/// Centre of the sun's energy after that of the light, both as mean directions of the hour angle \[min\]; NaN for no sun.
fn centre_min(days: &[Day]) -> f64 {
    let mean = |of: fn(&Day) -> (f64, f64)| {
        let (sin, cos) = days.iter().map(of).fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
        if math::hypot(sin, cos) > 0.0 { math::atan2(sin, cos) } else { f64::NAN }
    };
    let apart = (mean(|day| day.sun) - mean(|day| day.light)) / TAU * 1440.0;
    (apart + 720.0).rem_euclid(1440.0) - 720.0
}

#[cfg(test)]
mod tests;
