//! Whether a position and a time zone agree, and which slip of the pen explains it where they don't.

use super::Place;
use super::near::{LONELY_KM, nearest_of, within};
use super::table::Table;
use super::zones::{self, NEAR_KM, Reading};
use crate::sky::globe::distance_km;

/// What a position and a time zone say of each other.
#[derive(Debug, Clone, PartialEq)]
pub enum Agreement {
    /// Nothing speaks against them.
    Agrees,
    /// The place lies in one of the zone's countries, but the clocks around it go otherwise.
    OtherClock {
        /// The nearest place, with the zone that is kept there.
        town: Place,
        /// How far away it is \[km].
        away_km: f64,
    },
    /// The place lies elsewhere, and another reading of its figures lies in the zone.
    Misread {
        /// The nearest place to the figures as they are.
        town: Place,
        /// How far away it is \[km].
        away_km: f64,
        /// What may be meant, the likeliest first; never empty.
        readings: Vec<Reading>,
    },
    /// The place lies elsewhere and its clock goes otherwise; no reading explains it.
    Elsewhere {
        /// The nearest place, with the zone that is kept there.
        town: Place,
        /// How far away it is \[km].
        away_km: f64,
    },
    /// The zone is none of a country (an offset, UTC, an unknown name), or the figures are no place on earth.
    NothingKnown,
}

/// Towns so near count as a place's own, whatever lies between \[km] …
const AROUND_KM: f64 = 75.0;
/// … and those not much farther away than the nearest.
const TIMES_NEAREST: f64 = 1.5;
/// A reading lies in the zone where one of its towns is so near \[km].
const READING_KM: f64 = 150.0;
/// Nearer than this to a town a place has its clock \[km].
const TOWN_KM: f64 = 25.0;
/// Farther than this from the zone's countries a lonely place lies elsewhere all the same \[km].
const OTHER_PART_KM: f64 = 1000.0;
/// Zones that are kept all over their country beside those of its parts.
const EVERYWHERE: [(&str, &str); 1] = [("Asia/Shanghai", "CN")];
/// Days on which clocks are held against each other, in winter and in summer.
const DAYS: [&str; 2] = ["2026-01-15T12:00:00Z", "2026-07-15T12:00:00Z"];

/// Holds a position against a time zone.
///
/// * `latitude_deg` — -90 to 90, north positive.
/// * `longitude_deg` — -180 to 180, east positive.
/// * `zone` — a name of the IANA time zone database.
///
/// Agreement is generous: a town of the zone or of one of its countries near by, the zone's principal place within 300 km of a
/// lonely place, or the same clock as in the nearest town where no slip brings the place home. A wrong sign that stays in the same country
/// (London east of Greenwich) cannot be seen like this.
///
/// ```
/// use tideover::places::{Agreement, against_zone};
/// assert_eq!(against_zone(-26.2, 28.0, "Africa/Johannesburg"), Agreement::Agrees);
/// let Agreement::Misread { readings, .. } = against_zone(26.2, 28.0, "Africa/Johannesburg") else { panic!() };
/// assert_eq!(readings[0].place, (-26.2, 28.0));
/// ```
#[must_use]
pub fn against_zone(latitude_deg: f64, longitude_deg: f64, zone: &str) -> Agreement {
    let here = (latitude_deg, longitude_deg);
    let zone = zones::real(zone);
    let Some(countries) = zones::countries_of(zone) else { return Agreement::NothingKnown };
    let table = Table::get();
    let zone_at = |town: &usize| zones::real(table.zone(*town)) == zone;
    let Some((nearest, away_km)) = nearest_of(latitude_deg, longitude_deg) else { return Agreement::NothingKnown };
    // At sea the nearest towns are nobody's neighbours.
    let around = if LONELY_KM < away_km { Vec::new() } else { within(here, AROUND_KM.max(TIMES_NEAREST * away_km)) };
    // Islands and ice without towns.
    let principal =
        TOWN_KM < away_km && zones::principal_place(zone).is_some_and(|place| distance_km(here, place) <= NEAR_KM);
    let official = EVERYWHERE.contains(&(zone, table.country(nearest).code));
    // Nobody lives around, and by a slip of the pen the figures lie in a town of the zone: at sea off France in one of Alsace.
    if TOWN_KM < away_km {
        let in_a_town = |reading: &Reading| within(reading.place, TOWN_KM).iter().any(zone_at);
        let readings: Vec<Reading> = zones::readings(here).filter(in_a_town).collect();
        if !readings.is_empty() {
            return Agreement::Misread { town: table.place(nearest), away_km, readings };
        }
    }
    if principal || official || around.iter().any(zone_at) {
        return Agreement::Agrees;
    }
    let same_clock = same_clock(table.zone(nearest), zone);
    if around.iter().any(|town| countries.contains(&table.country(*town).code)) {
        // A lonely place's nearest town says little of the clock here.
        return if same_clock
            || AROUND_KM < away_km
            || around.iter().any(|town| self::same_clock(table.zone(*town), zone))
        {
            Agreement::Agrees
        } else {
            Agreement::OtherClock { town: table.place(nearest), away_km }
        };
    }
    let mut readings: Vec<(bool, Reading)> = zones::readings(here)
        .filter_map(|reading| {
            let there = within(reading.place, READING_KM);
            let own = there.iter().any(zone_at);
            (own || there.iter().any(|town| table.country(*town).code == countries[0])).then_some((!own, reading))
        })
        .collect();
    readings.sort_by_key(|(other, _)| *other);
    if !readings.is_empty() {
        return Agreement::Misread {
            town: table.place(nearest),
            away_km,
            readings: readings.into_iter().map(|(_, reading)| reading).collect(),
        };
    }
    // In a desert behind a border the nearest town may be the neighbour's.
    let own_near = || within(here, OTHER_PART_KM).iter().any(|town| countries.contains(&table.country(*town).code));
    if same_clock || LONELY_KM < away_km || TOWN_KM < away_km && own_near() {
        return Agreement::Agrees;
    }
    Agreement::Elsewhere { town: table.place(nearest), away_km }
}

/// Holds a position against a clock that stands still at an offset from UTC.
///
/// * `latitude_deg`, `longitude_deg` — as of [`against_zone`]; `offset_minutes` — east positive.
///
/// An offset tells less than a zone: it agrees where any town around, or the principal place of a zone, keeps it in winter or in
/// summer. Where none does, and another reading of the figures lies near a town that does, that is what may be meant. UTC itself
/// says nothing, for records are kept by it everywhere. Where no reading explains it, a clock more than an hour off those of all
/// towns around is another clock.
///
/// ```
/// use tideover::places::{Agreement, against_offset};
/// assert_eq!(against_offset(36.8, 10.2, 60), Agreement::Agrees);
/// let Agreement::Misread { readings, .. } = against_offset(-36.8, 10.2, 60) else { panic!() };
/// assert_eq!(readings[0].place, (36.8, 10.2));
/// ```
#[must_use]
pub fn against_offset(latitude_deg: f64, longitude_deg: f64, offset_minutes: i32) -> Agreement {
    let here = (latitude_deg, longitude_deg);
    let table = Table::get();
    let Some((nearest, away_km)) = nearest_of(latitude_deg, longitude_deg) else { return Agreement::NothingKnown };
    if offset_minutes == 0 {
        return Agreement::NothingKnown;
    }
    let kept = |zone: &str| DAYS.iter().any(|day| offset(zone, day) == Some(60 * offset_minutes));
    let own = if LONELY_KM < away_km { Vec::new() } else { within(here, AROUND_KM.max(TIMES_NEAREST * away_km)) };
    if own.iter().any(|town| kept(table.zone(*town))) || zones::principal_near(here).any(kept) {
        return Agreement::Agrees;
    }
    let there = |reading: &Reading| nearest_of(reading.place.0, reading.place.1).filter(|(_, km)| *km <= READING_KM);
    let readings: Vec<Reading> = zones::readings(here)
        .filter(|reading| there(reading).is_some_and(|(town, _)| kept(table.zone(town))))
        .collect();
    if !readings.is_empty() {
        return Agreement::Misread { town: table.place(nearest), away_km, readings };
    }
    // An hour may be a clock of one's own, or a neighbour's.
    let off = |town: &usize| {
        DAYS.iter()
            .filter_map(|day| offset(table.zone(*town), day))
            .all(|kept| 3600 < (kept - 60 * offset_minutes).abs())
    };
    if own.is_empty() || !own.iter().all(off) {
        return Agreement::NothingKnown;
    }
    Agreement::OtherClock { town: table.place(nearest), away_km }
}

/// Seconds that a zone's clock is ahead of UTC on a day.
fn offset(zone: &str, day: &str) -> Option<i32> {
    let zone = jiff::tz::TimeZone::get(zone).ok()?;
    Some(zone.to_offset(day.parse::<jiff::Timestamp>().ok()?).seconds())
}

/// Whether two zones show the same time in winter and in summer.
fn same_clock(a: &str, b: &str) -> bool {
    DAYS.iter().all(|day| offset(a, day).is_some() && offset(a, day) == offset(b, day))
}
