//! What a front end offers to pick from: places by name or position, and appliances, and what must be said of safety.

use serde::Serialize;

use super::Trouble;
use crate::places::{ATTRIBUTION, Found, Place, find, nearest};
use crate::report::place::{Asked, site};
use crate::scenario::appliances::{Appliance, all};

/// Most candidates that are offered.
const MOST: usize = 12;

#[derive(Serialize)]
struct Places {
    /// "one", "several" or "near" (no place is called so; these are spelt alike or lie near).
    found: &'static str,
    places: Vec<Candidate>,
    attribution: &'static str,
}

#[derive(Serialize)]
struct Candidate {
    title: String,
    people: Option<u32>,
    latitude_deg: f64,
    longitude_deg: f64,
    /// From the position that was asked for \[km].
    away_km: Option<f64>,
    /// What to write into a scenario.
    site: String,
}

impl Candidate {
    fn of(place: &Place, asked: Asked) -> Candidate {
        let away_km = match asked {
            Asked::Name => None,
            Asked::Near { away_km, .. } => Some(away_km),
        };
        Candidate {
            title: place.full_title(),
            people: place.people,
            latitude_deg: place.latitude_deg,
            longitude_deg: place.longitude_deg,
            away_km,
            site: site(asked, place),
        }
    }
}

fn listed(found: &'static str, places: Vec<Candidate>) -> String {
    let places = Places { found, places, attribution: ATTRIBUTION };
    serde_json::to_string(&places).unwrap_or_default()
}

/// Places of a name as JSON, the likeliest first, at most twelve.
#[must_use]
pub fn places_called(name: &str) -> String {
    let (found, places) = match find(name) {
        Found::One { place, passed_over } => ("one", [vec![place], passed_over].concat()),
        Found::Many(places) => ("several", places),
        Found::Wider { town, .. } => ("near", vec![town]),
        Found::None(near) | Found::NoPlace { near, .. } => ("near", near),
    };
    listed(found, places.iter().take(MOST).map(|place| Candidate::of(place, Asked::Name)).collect())
}

/// The place nearest to a position \[°], north and east positive, as JSON.
///
/// # Errors
/// Where it is no position on earth.
pub fn place_near(latitude_deg: f64, longitude_deg: f64) -> Result<String, Trouble> {
    let (place, away_km) = nearest(latitude_deg, longitude_deg).ok_or_else(|| {
        Trouble::Question(format!(
            "{latitude_deg}, {longitude_deg} is no place on earth; allowed: latitude -90 to 90, longitude -180 to 180"
        ))
    })?;
    Ok(listed("near", vec![Candidate::of(&place, Asked::Near { latitude_deg, longitude_deg, away_km })]))
}

#[derive(Serialize)]
struct Entry<'a> {
    name: &'a str,
    source: &'a str,
    kind: Option<&'a str>,
    outlet: Option<&'a str>,
    watts: Option<&'a str>,
    starting_watts: Option<&'a str>,
    energy_a_day: Option<&'a str>,
    label: Option<&'a str>,
    duty: Option<&'a str>,
    hours: String,
    medical: bool,
}

impl<'a> Entry<'a> {
    fn of(appliance: &'a Appliance) -> Entry<'a> {
        Entry {
            name: &appliance.name,
            source: &appliance.source,
            kind: appliance.says("kind"),
            outlet: appliance.says("outlet"),
            watts: appliance.says("watts"),
            starting_watts: appliance.says("starting_watts"),
            energy_a_day: appliance.says("energy_a_day"),
            label: appliance.says("label"),
            duty: appliance.says("duty"),
            hours: appliance.hours(),
            medical: appliance.medical(),
        }
    }
}

/// The library of appliances as JSON: what each gives a load, in the words of a scenario.
#[must_use]
pub fn appliances() -> String {
    serde_json::to_string(&all().iter().map(Entry::of).collect::<Vec<_>>()).unwrap_or_default()
}

/// What is said of safety, as JSON: a list of sentences.
#[must_use]
pub fn cautions() -> String {
    serde_json::to_string(&crate::report::cautions::all()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(json: &str) -> serde_json::Value {
        serde_json::from_str(json).expect("JSON")
    }

    #[test]
    fn places_are_offered_by_name_beginning_and_position() {
        let one = read(&places_called("Barre, Vermont, USA"));
        let site = "[site]\nplace = \"Barre, Vermont, USA\"";
        assert_eq!((&one["found"], &one["places"][0]["site"]), (&"one".into(), &site.into()));
        let several = read(&places_called("Springfield"));
        assert_eq!(several["found"], "several");
        assert_eq!(several["places"].as_array().map(Vec::len), Some(MOST));
        let near = read(&place_near(44.2, -72.5).expect("a place"));
        assert_eq!(near["places"][0]["title"], "Barre, Vermont, USA");
        assert!(matches!(place_near(91.0, 0.0), Err(Trouble::Question(_))));
    }

    #[test]
    fn every_appliance_is_offered_with_what_it_gives() {
        let listed = read(&appliances());
        let listed = listed.as_array().expect("a list");
        assert_eq!(listed.len(), all().len());
        let named = |name: &str| listed.iter().find(|one| one["name"] == name).expect("an appliance");
        assert_eq!(named("oxygen concentrator")["medical"], true);
        assert_eq!((&named("phone")["energy_a_day"], &named("phone")["medical"]), (&"15 Wh".into(), &false.into()));
        assert_eq!(named("nebuliser")["hours"], "08:00-08:20, 20:00-20:20");
    }
}
