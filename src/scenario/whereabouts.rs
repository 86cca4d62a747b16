//! Where a scenario lies: a place by its name, and whether name, position and clock agree.

use super::fields::Fields;
use super::forms::{Custom, Fault, Item, Text, any_text, quoted};
use super::model::TimeZone;
use super::problem::Problem;
use crate::places::{self, Agreement, Found, Place, against_offset, against_zone, zones};
use crate::sky::globe::distance_km;

/// A town of the built-in table by its name.
pub(super) const PLACE: Custom<Place> = Custom {
    allowed: "a town by its name, with region and country where others are called so",
    example: "\"Bergen, Norway\"",
    read: read_place,
    json: any_text,
};

/// Most places that are named where a name has several, or none.
const MOST_NAMED: usize = 5;
/// A position of one's own beside the name of a town may lie so far from its middle \[km\] (our choice: a large city's outskirts
/// and the villages around a town).
const OWN_POSITION_KM: f64 = 50.0;

/// A town farther away than this tells nothing of the height here \[km\] (our choice).
const SAME_HEIGHT_KM: f64 = 10.0;

/// The lines of `[site]` for a town, or for a position \[°\] so far from it \[km\].
#[must_use]
pub fn site_lines(position: Option<(f64, f64, f64)>, town: &Place) -> String {
    let Some((latitude_deg, longitude_deg, away_km)) = position else {
        return format!("place = \"{}\"", town.full_title());
    };
    let mut out = format!("latitude = {latitude_deg}\nlongitude = {longitude_deg}");
    if let Some(height_m) = town.height_m.filter(|_| away_km <= SAME_HEIGHT_KM) {
        out.push_str(&format!("\nheight = \"{height_m:.0} m\"  # of that town; your own is better"));
    }
    match places::zone_of(latitude_deg, longitude_deg) {
        Some(zone) => out.push_str(&format!("\ntimezone = \"{zone}\"")),
        None => out.push_str("\n# No town is near: write the clock's offset from UTC, like timezone = \"-05:00\""),
    }
    out
}

fn read_place(item: &Item) -> Result<Place, Fault> {
    let text = super::forms::Form::read(&Text, item)?;
    let named = |places: &[Place]| {
        // Some are called alike in one region too: no name tells those apart.
        let mut told: Vec<(String, String)> = Vec::new();
        for place in places {
            let title = place.full_title();
            if !told.iter().any(|(known, _)| *known == title) {
                told.push((title, place.people.map_or(String::new(), |people| format!(" ({people} people)"))));
            }
        }
        let told = told.into_iter().take(MOST_NAMED).map(|(title, people)| format!("\"{title}\"{people}"));
        told.collect::<Vec<_>>().join(", ")
    };
    match super::as_written::position(&text) {
        Some(Ok((latitude, longitude))) => {
            let help = format!("write two keys instead: latitude = {latitude} and longitude = {longitude}");
            return Err(Fault::new("is a position and no name").help(help));
        }
        Some(Err(why)) => return Err(Fault::new(why)),
        None => {}
    }
    match places::find(&text) {
        Found::One { place, .. } => {
            if !places::is_called(&place, &text) {
                let what = format!("is read as {}, which goes by another of its names here", place.title());
                item.findings.push(Problem::note(item.key.clone(), what).found(item.found()));
            }
            Ok(place)
        }
        Found::Many(several) => {
            let more = match several.len().saturating_sub(MOST_NAMED) {
                0 => String::new(),
                more => format!(", and {more} smaller ones"),
            };
            Err(Fault::new(format!("is the name of {} places", several.len()))
                .help(format!("add the region or the country: {}{more}", named(&several))))
        }
        Found::Wider { is, town } => Err(Fault::new(format!("is {is}, and no town"))
            .help(format!("name a town in it, like \"{}\"", town.full_title()))),
        Found::NoPlace { why, .. } => Err(Fault::new(why)),
        Found::None(near) if near.is_empty() => Err(Fault::new("is not a place of the built-in table")
            .help("places of 1,000 people and more are known: write a larger town near by, or latitude and longitude")),
        Found::None(near) => {
            Err(Fault::new("is not a place of the built-in table").help(format!("did you mean {}?", named(&near))))
        }
    }
}

/// Latitude and longitude, said or the town's; what is missing or clashes is told.
pub(super) fn position(fields: &Fields, town: Option<&Place>) -> (Option<f64>, Option<f64>) {
    let both = ["latitude", "longitude"];
    match town {
        // A position that is half said is a slip; a place that cannot be used is told already.
        _ if both.iter().any(|key| fields.has(key)) => {
            let (latitude, longitude) = (fields.needed("latitude"), fields.needed("longitude"));
            if let (Some(town), Some(latitude), Some(longitude)) = (town, latitude, longitude) {
                let away_km = distance_km((latitude, longitude), (town.latitude_deg, town.longitude_deg));
                if OWN_POSITION_KM < away_km {
                    let clash = Problem::error(fields.key("latitude"), "does not fit the place")
                        .found(format!("{latitude}, {longitude}, {away_km:.0} km from {}", town.title()))
                        .allowed(format!("a position within {OWN_POSITION_KM:.0} km of it"))
                        .help(format!(
                            "leave latitude and longitude out ({} lies at {}, {}), or leave the place out",
                            town.name, town.latitude_deg, town.longitude_deg
                        ))
                        .against(fields.key("place"), "this place");
                    fields.findings().push(clash);
                    return (None, None);
                }
            }
            (latitude, longitude)
        }
        Some(town) => (Some(town.latitude_deg), Some(town.longitude_deg)),
        None if fields.has("place") || both.iter().any(|key| fields.misspells(key)) => (None, None),
        None => {
            let nowhere = Problem::error(fields.key("place"), "is missing, and so are latitude and longitude")
                .help("add a line like: place = \"Bergen, Norway\"");
            fields.findings().push(nowhere);
            (None, None)
        }
    }
}

/// Holds a position against the clock, where both are known.
pub(super) fn check(fields: &Fields, position: (Option<f64>, Option<f64>), timezone: &TimeZone) {
    let Some(longitude_deg) = position.1 else { return };
    if position == (Some(0.0), Some(0.0)) {
        let nowhere =
            Problem::warning(fields.key("latitude"), "is 0, and so is the longitude: the sea off West Africa").help(
                "figures that were left out often become 0, 0: write those of the place, or place = \"Bergen, Norway\"",
            );
        fields.findings().push(nowhere);
        return;
    }
    let doubted = match (position.0, timezone) {
        (Some(latitude_deg), TimeZone::Named(zone)) => {
            !turned(fields, zone)
                && region(fields, (latitude_deg, longitude_deg), zone, &against_zone(latitude_deg, longitude_deg, zone))
        }
        (Some(latitude_deg), TimeZone::Fixed(minutes)) => {
            let agreement = against_offset(latitude_deg, longitude_deg, *minutes);
            let (sign, most) = (if *minutes < 0 { '-' } else { '+' }, minutes.abs());
            let told = format!("{sign}{:02}:{:02}", most / 60, most % 60);
            region(fields, (latitude_deg, longitude_deg), &told, &agreement)
        }
        _ => false,
    };
    if !doubted {
        clock(fields, longitude_deg, timezone);
    }
}

/// Doubts a name of a clock whose sign is turned. Says whether it did.
fn turned(fields: &Fields, zone: &str) -> bool {
    let Some((_, sign, offset)) = zones::offset_behind_a_name(zone).filter(|(.., offset)| offset != "00:00") else {
        return false;
    };
    let (told, other, turned) = if sign == '+' { ("behind", "ahead of", '-') } else { ("ahead of", "behind", '+') };
    fields.findings().push(
        Problem::warning(fields.key("timezone"), format!("is a clock {told} UTC: names of this kind turn the sign"))
            .help(format!("write \"{turned}{offset}\" to be plain, or \"{sign}{offset}\" if it is {other} UTC")),
    );
    true
}

/// Doubts a place that lies elsewhere than its zone, with the slip that explains it where one does. Says whether it did.
fn region(fields: &Fields, here: (f64, f64), zone: &str, agreement: &Agreement) -> bool {
    let (town, away_km) = match agreement {
        Agreement::Agrees | Agreement::NothingKnown => return false,
        Agreement::OtherClock { town, away_km }
        | Agreement::Misread { town, away_km, .. }
        | Agreement::Elsewhere { town, away_km } => (town, *away_km),
    };
    let (key, help) = match agreement {
        Agreement::Misread { readings, .. } => {
            let help = readings.iter().map(|reading| meant(reading, here)).collect::<Vec<_>>().join(" Or: ");
            let longitude_alone = readings.first().is_some_and(|r| !r.exchanged && r.place.0 == here.0);
            (if longitude_alone { "longitude" } else { "latitude" }, help)
        }
        _ => ("timezone", format!("write timezone = \"{}\", or mend latitude and longitude", town.zone)),
    };
    let what = if key == "timezone" { "does not fit the place" } else { "does not fit the time zone" };
    let about = if away_km < 10.0 { "near".into() } else { format!("{away_km:.0} km from") };
    let problem = Problem::warning(fields.key(key), what)
        .found(if key == "timezone" {
            format!("{} {about} {}, where the clock is {}", quoted(zone), town.title(), town.zone)
        } else {
            format!("{}, {}, {about} {}", here.0, here.1, town.title())
        })
        .help(help);
    fields.findings().push(if key == "timezone" {
        let position = ["latitude", "place"].into_iter().find(|key| fields.has(key)).unwrap_or("latitude");
        problem.against(fields.key(position), "this place")
    } else {
        problem.against(fields.key("timezone"), "this zone")
    });
    true
}

/// What to write for another reading of a position.
fn meant(reading: &zones::Reading, here: (f64, f64)) -> String {
    let (latitude, longitude) = reading.place;
    let where_ =
        places::nearest(latitude, longitude).map_or(String::new(), |(town, _)| format!(", near {}", town.title()));
    if reading.exchanged {
        format!("latitude and longitude exchanged? latitude = {latitude}, longitude = {longitude}{where_}?")
    } else if latitude != here.0 && longitude != here.1 {
        format!("south and west are negative: latitude = {latitude}, longitude = {longitude}{where_}?")
    } else if latitude != here.0 {
        format!("south is negative, north is not: latitude = {latitude}{where_}?")
    } else {
        format!("west is negative, east is not: longitude = {longitude}{where_}?")
    }
}

/// A clock far from the sun's most likely means that the sign of the longitude is wrong. The clocks of inhabited places
/// are at most about three and a half hours from the sun (common practice, no source).
fn clock(fields: &Fields, longitude_deg: f64, timezone: &TimeZone) {
    let offset_h = match timezone {
        TimeZone::FromLongitude => return,
        TimeZone::Fixed(minutes) => f64::from(*minutes) / 60.0,
        TimeZone::Named(name) => match jiff::tz::TimeZone::get(name) {
            Ok(zone) => f64::from(zone.to_offset(jiff::Timestamp::UNIX_EPOCH).seconds()) / 3600.0,
            Err(_) => return,
        },
    };
    let sun_h = longitude_deg / 15.0;
    let apart = (offset_h - sun_h + 12.0).rem_euclid(24.0) - 12.0;
    if 4.0 < apart.abs() {
        let warning = Problem::warning(fields.key("longitude"), "does not fit the time zone")
            .found(format!("{longitude_deg}°, where the sun is {:.1} h off this clock", apart.abs()))
            .help("west is negative: check the sign of the longitude and of the offset")
            .against(fields.key("timezone"), "this clock");
        fields.findings().push(warning);
    }
}
