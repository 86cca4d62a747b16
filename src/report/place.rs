//! A place by name: what is known of it, and what to write into a scenario.

use serde::Serialize;

use super::document::{Block, COLUMNS, Column, Document, Table};
use super::told::Words;
use super::words::thousands;
use crate::places::{self, ATTRIBUTION, Place, TIMES_LARGER};
use crate::scenario::model::Site;
use crate::scenario::site_lines;
use crate::visible::begun;
use crate::weather::world;

/// Where the kit of an answer stands, so that a wrong sign is seen at once.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Whereabouts {
    /// Latitude \[°], north positive.
    pub latitude_deg: f64,
    /// Longitude \[°], east positive.
    pub longitude_deg: f64,
    /// The nearest town with region and country; null where none is within 500 km.
    pub nearest_town: Option<String>,
    /// Code of its country, ISO 3166-1.
    pub country_code: Option<&'static str>,
    /// How far away it is \[km].
    pub away_km: Option<f64>,
}

impl Whereabouts {
    /// Of a scenario's site.
    #[must_use]
    pub fn of(site: &Site) -> Whereabouts {
        Whereabouts::at(site.latitude_deg, site.longitude_deg)
    }

    /// Of a position: latitude -90° to 90°, north positive, and longitude -180° to 180°, east positive.
    #[must_use]
    pub fn at(latitude_deg: f64, longitude_deg: f64) -> Whereabouts {
        let town = places::nearest(latitude_deg, longitude_deg).filter(|(_, km)| *km <= places::LONELY_KM);
        Whereabouts {
            latitude_deg,
            longitude_deg,
            nearest_town: town.map(|(place, _)| place.title()),
            country_code: town.map(|(place, _)| place.country.code),
            away_km: town.map(|(_, km)| km),
        }
    }
}

impl Words for Whereabouts {
    fn words(&self) -> String {
        let here = position(self.latitude_deg, self.longitude_deg);
        match &self.nearest_town {
            Some(town) => format!("Near {town}{} ({here}).", far(self.away_km.unwrap_or_default())),
            None => format!("At {here}, far from any town."),
        }
    }
}

/// Where a place is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Asked {
    /// By its name.
    Name,
    /// As the nearest one to a position.
    Near {
        /// Latitude \[°].
        latitude_deg: f64,
        /// Longitude \[°].
        longitude_deg: f64,
        /// From there to the place \[km].
        away_km: f64,
    },
}

/// A place in words. `passed_over` are smaller ones of the same name, `asked_for` is the name that was looked for.
#[must_use]
pub fn document(asked: Asked, place: &Place, passed_over: &[Place], asked_for: Option<&str>) -> Document {
    let mut out = Document::new(match asked {
        Asked::Name => place.title(),
        Asked::Near { latitude_deg, longitude_deg, away_km } => {
            format!("{} lies {}", position(latitude_deg, longitude_deg), near(place, away_km))
        }
    });
    if let (Asked::Name, Some(asked)) = (asked, asked_for.filter(|text| !places::is_called(place, text))) {
        out.say(format!("Asked for as \"{asked}\", another of its names."));
    }
    let known = |value: Option<String>| value.unwrap_or_else(|| "not known".into());
    let rows = [
        ("name", place.name.to_string()),
        ("region", known(place.region.map(String::from))),
        ("country", format!("{} ({})", place.country.name, place.country.code)),
        ("people", known(place.people.map(about))),
        ("position", position(place.latitude_deg, place.longitude_deg)),
        ("height", known(place.height_m.map(|height_m| format!("about {height_m:.0} m above sea level")))),
        ("time zone", place.zone.to_string()),
    ];
    let columns = ["what", "value"].map(Column::left);
    out.table(Table::new(columns).rows(rows.map(|(what, value)| [what.to_string(), value])).bare());
    if let Err(why) = world::lookup(place.latitude_deg, place.longitude_deg, None) {
        out.head("No climate here").say(format!("{}. {WITHOUT_CLIMATE}", begun(&why.to_string())));
    }
    out.head("In a scenario").add(Block::Verbatim(site(asked, place)));
    if !passed_over.is_empty() {
        let mut names: Vec<String> = Vec::new();
        for title in passed_over.iter().map(Place::title) {
            if names.len() < MOST_TOLD && !names.contains(&title) {
                names.push(title);
            }
        }
        let told = passed_over.iter().filter(|place| names.contains(&place.title())).count();
        let more = match passed_over.len() - told {
            0 => String::new(),
            more => format!(" and {more} more"),
        };
        out.head("Others of the name").say(format!(
            "They are far smaller (this one has at least {TIMES_LARGER} times the people of all of them): {}{more}.",
            names.join("; ")
        ));
    }
    out.head("Where this comes from").say(format!("{ATTRIBUTION}."));
    out
}

/// What can be done at a place that the built-in climate does not reach.
pub const WITHOUT_CLIMATE: &str = "Without a record of the weather there nothing can be answered: a file of its hours or days of \
    sun and air over some years, as many weather services give away, makes a climate (tideover climate fit; \
    docs/scenario.md, Records of weather)";

/// Most places that are named beside an answer.
const MOST_TOLD: usize = 5;
/// Most places that are listed where a name has several.
const MOST_LISTED: usize = 12;

/// "near Barre, Vermont, USA", with the distance where it is more than a walk.
#[must_use]
pub fn near(place: &Place, away_km: f64) -> String {
    format!("near {}{}", place.title(), far(away_km))
}

fn far(away_km: f64) -> String {
    if away_km < 5.0 { String::new() } else { format!(", {away_km:.0} km away") }
}

/// The town that an answer to a question names, in one line, so that a wrong one is seen before the next question.
#[must_use]
pub fn found(asked: Asked, place: &Place, passed_over: &[Place]) -> String {
    let mut out = match asked {
        Asked::Name => format!("{}: {}", place.full_title(), position(place.latitude_deg, place.longitude_deg)),
        Asked::Near { latitude_deg, longitude_deg, away_km } => {
            format!("{} lies {}", position(latitude_deg, longitude_deg), near(place, away_km))
        }
    };
    out.push_str(&place.people.map_or(String::new(), |people| format!(", {} people", about(people))));
    out.push_str(&format!(", clock {}.", place.zone));
    if let Some(other) = passed_over.first() {
        out.push_str(&format!(
            " Where another of the name is meant, write its region or country too: {}.",
            other.full_title()
        ));
    }
    out
}

/// The section `[site]`.
#[must_use]
pub fn site(asked: Asked, place: &Place) -> String {
    format!("[site]\n{}", lines_for_site(asked, place))
}

/// The lines of `[site]`.
#[must_use]
pub fn lines_for_site(asked: Asked, place: &Place) -> String {
    let position = match asked {
        Asked::Name => None,
        Asked::Near { latitude_deg, longitude_deg, away_km } => Some((latitude_deg, longitude_deg, away_km)),
    };
    site_lines(position, place)
}

fn about(people: u32) -> String {
    format!("about {}", thousands(u64::from(people)))
}

/// "60.39° N, 5.32° E".
fn position(latitude_deg: f64, longitude_deg: f64) -> String {
    let (north, east) = (if latitude_deg < 0.0 { "S" } else { "N" }, if longitude_deg < 0.0 { "W" } else { "E" });
    format!("{}° {north}, {}° {east}", latitude_deg.abs(), longitude_deg.abs())
}

/// Why a name is not one place, as an error: candidates, or places with names near it.
#[must_use]
pub fn refusal(name: &str, found: &[Place], several: bool) -> String {
    let mut out = match (several, found.is_empty()) {
        (true, _) => format!(
            "error: `{name}` is the name of {} places: add the region or the country, or give latitude and longitude\n",
            found.len()
        ),
        (false, false) => format!("error: no place is called `{name}`; near it are\n"),
        (false, true) => format!(
            "error: no place is called `{name}`; places of 1,000 people and more are known: try a larger town near by, or \
             give latitude and longitude\n"
        ),
    };
    let people =
        |place: &Place| place.people.map_or("people not known".into(), |people| format!("{} people", about(people)));
    let twins = |place: &Place| found.iter().filter(|other| other.full_title() == place.full_title()).count() > 1;
    // What is to be written: where two are written alike, latitude and longitude.
    let write = |place: &Place| match several && twins(place) {
        true => format!("\"{}, {}\" in {}", place.latitude_deg, place.longitude_deg, place.full_title()),
        false => format!("\"{}\"", place.full_title()),
    };
    let rows = found
        .iter()
        .take(MOST_LISTED)
        .map(|place| [write(place), people(place), position(place.latitude_deg, place.longitude_deg)]);
    let columns = [Column::left("place"), Column::right("people"), Column::right("position")];
    let mut listed = Document::default();
    listed.table(Table::new(columns).rows(rows).bare());
    out.push_str(&listed.text(COLUMNS));
    if several && found.iter().take(MOST_LISTED).any(twins) {
        out.push_str("  Where two are written alike, latitude and longitude tell them apart: write those.\n");
    }
    if found.len() > MOST_LISTED {
        out.push_str(&format!("  and {} smaller ones\n", found.len() - MOST_LISTED));
    }
    out.push_str(ATTRIBUTION);
    out
}

/// The answer as JSON.
#[derive(Debug, Serialize)]
pub struct Json {
    place: JsonPlace,
    #[serde(skip_serializing_if = "Option::is_none")]
    asked_latitude_deg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    asked_longitude_deg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    away_km: Option<f64>,
    passed_over: Vec<JsonPlace>,
    attribution: &'static str,
}

#[derive(Debug, Serialize)]
struct JsonPlace {
    name: &'static str,
    region: Option<&'static str>,
    country: &'static str,
    country_code: &'static str,
    people: Option<u32>,
    latitude_deg: f64,
    longitude_deg: f64,
    height_m: Option<f64>,
    timezone: &'static str,
}

impl JsonPlace {
    fn of(place: &Place) -> JsonPlace {
        JsonPlace {
            name: place.name,
            region: place.region,
            country: place.country.name,
            country_code: place.country.code,
            people: place.people,
            latitude_deg: place.latitude_deg,
            longitude_deg: place.longitude_deg,
            height_m: place.height_m,
            timezone: place.zone,
        }
    }
}

/// The same for the schema.
#[must_use]
pub fn json(asked: Asked, place: &Place, passed_over: &[Place]) -> Json {
    let (latitude_deg, longitude_deg, away_km) = match asked {
        Asked::Name => (None, None, None),
        Asked::Near { latitude_deg, longitude_deg, away_km } => {
            (Some(latitude_deg), Some(longitude_deg), Some(away_km))
        }
    };
    Json {
        place: JsonPlace::of(place),
        asked_latitude_deg: latitude_deg,
        asked_longitude_deg: longitude_deg,
        away_km,
        passed_over: passed_over.iter().map(JsonPlace::of).collect(),
        attribution: ATTRIBUTION,
    }
}
