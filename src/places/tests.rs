//! Places against published positions, names as people write them, and positions against zones.

mod agreement;
mod names;

use std::collections::HashSet;

use super::table::Table;
use super::{Found, Place, countries, find, nearest, zone_of, zones};
use crate::sky::globe::distance_km;

/// Rows of a table of tests/data, without its head; a field in quotes may hold commas.
fn rows(table: &str) -> Vec<Vec<String>> {
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    reader.records().map(|row| row.unwrap().iter().map(String::from).collect()).collect()
}

/// The one place of a name.
#[track_caller]
fn one(name: &str) -> Place {
    match find(name) {
        Found::One { place, .. } => place,
        other => panic!("{name}: {other:?}"),
    }
}

/// The stations of two published lists that are named for a town (tests/data/README.md). A station stands in the town, at its
/// edge or on its airfield, within 20 km (common practice, no source).
#[test]
fn towns_lie_where_published_lists_have_their_stations() {
    let towns = rows(include_str!("../../tests/data/town_positions.csv"));
    assert_eq!(towns.len(), 30);
    for town in towns {
        let number = |at: usize| town[at].parse::<f64>().unwrap();
        // Small namesakes elsewhere in the country are asked for.
        let place = match find(&format!("{}, {}", town[0], town[1])) {
            Found::One { place, .. } => place,
            Found::Many(places) => places[0],
            other => panic!("{}: {other:?}", town[0]),
        };
        let away = distance_km((number(2), number(3)), (place.latitude_deg, place.longitude_deg));
        println!("{:20} {away:5.1} km {:?} m, station {} m", place.title(), place.height_m, town[4]);
        assert!(away < 20.0, "{}: {away} km", place.title());
        // Towns of mountains climb: a station may stand 100 m above or below the middle of its town.
        assert!(place.height_m.is_none_or(|height_m| (height_m - number(4)).abs() < 120.0), "{}", place.title());
    }
}

/// `zone.tab` of the IANA time zone database gives the principal place of each zone to a minute of arc (1.9 km); most zones are
/// named for it.
#[test]
fn zones_named_for_a_town_have_it_where_zone_tab_has_it() {
    let (mut found, mut far) = (0, Vec::new());
    for country in Table::get().countries {
        for zone in zones::of_country(country.code) {
            let town = zone.rsplit('/').next().unwrap().replace('_', " ");
            let Found::One { place, .. } = find(&format!("{town}, {}", country.code)) else { continue };
            found += 1;
            let there = zones::principal_place(zone).unwrap();
            let away = distance_km(there, (place.latitude_deg, place.longitude_deg));
            if away > 25.0 {
                far.push(format!("{zone}: {} {away:.0} km", place.title()));
            }
        }
    }
    println!("{found} towns, {far:?}");
    assert!(found > 250, "{found}");
    assert!(far.len() * 50 < found, "{far:?}");
}

#[test]
fn every_zone_is_known_and_every_country_with_people_has_its_towns() {
    let table = Table::get();
    let places: Vec<Place> = (0..table.len()).map(|place| table.place(place)).collect();
    assert!(places.len() > 100_000);
    for zone in places.iter().map(|place| place.zone).collect::<HashSet<_>>() {
        assert!(jiff::tz::TimeZone::get(zone).is_ok(), "{zone}");
    }
    let with: HashSet<&str> = places.iter().map(|place| place.country.code).collect();
    let without: Vec<&str> = table.countries.iter().map(|c| c.code).filter(|code| !with.contains(code)).collect();
    assert_eq!(without, ["AQ", "BV", "HM", "UM"]);
    for place in &places {
        assert!(place.latitude_deg.abs() <= 90.0 && place.longitude_deg.abs() <= 180.0, "{place:?}");
        assert!(place.height_m.is_none_or(|height_m| (-450.0..5300.0).contains(&height_m)), "{place:?}");
        assert!(
            !place.name.is_empty() && place.people.is_none_or(|people| (1..40_000_000).contains(&people)),
            "{place:?}"
        );
    }
}

#[test]
fn the_nearest_place_is_the_nearest_of_all() {
    let table = Table::get();
    for (latitude, longitude) in [
        (60.4, 5.3),
        (-33.9, 18.4),
        (0.0, 179.99),
        (-17.7, -179.99),
        (90.0, 0.0),
        (-90.0, 12.0),
        (-48.9, -123.4),
        (44.2, 287.5),
    ] {
        let (place, km) = nearest(latitude, longitude).unwrap();
        let least = (0..table.len())
            .map(|place| distance_km((latitude, longitude), table.position(place)))
            .fold(f64::INFINITY, f64::min);
        assert_eq!(km, least, "{}", place.title());
        assert_eq!(km, distance_km((latitude, longitude), (place.latitude_deg, place.longitude_deg)));
    }
    assert_eq!(nearest(44.2, -72.5).unwrap().0.title(), "Barre, Vermont, USA");
    assert_eq!(nearest(44.2, 287.5).unwrap().0.title(), "Barre, Vermont, USA");
    assert_eq!(zone_of(60.4, 5.3), Some("Europe/Oslo"));
    // A large town is not told by one of its parts that lies where its middle does.
    for town in ["Tampere, Finland", "Ottawa, Ontario, Canada"] {
        let place = one(town);
        assert_eq!(nearest(place.latitude_deg, place.longitude_deg).unwrap().0.name, place.name);
    }
    // The place of the sea that is farthest from land (Lukatela 1992, 48°53' S 123°24' W, from memory).
    assert_eq!(zone_of(-48.9, -123.4), None);
    for (latitude, longitude) in [(f64::NAN, 0.0), (0.0, f64::INFINITY), (90.1, 0.0), (0.0, -180.1), (0.0, 360.1)] {
        assert_eq!(nearest(latitude, longitude), None);
    }
}

#[test]
fn countries_go_by_codes_english_and_own_names() {
    for (name, code) in [
        ("NO", "NO"),
        ("nor", "NO"),
        ("Norway", "NO"),
        ("Norge", "NO"),
        ("UK", "GB"),
        ("Great Britain", "GB"),
        ("usa", "US"),
        ("United States", "US"),
        ("Deutschland", "DE"),
        ("España", "ES"),
        ("espana", "ES"),
        ("Россия", "RU"),
        ("South Korea", "KR"),
        ("Czech Republic", "CZ"),
        ("Czechia", "CZ"),
        ("The Gambia", "GM"),
        ("Ivory Coast", "CI"),
        ("Côte d'Ivoire", "CI"),
        ("Türkiye", "TR"),
        ("Turkey", "TR"),
        ("Holland", "NL"),
        ("Burma", "MM"),
        ("Eswatini", "SZ"),
    ] {
        assert_eq!(countries::by_name(name).map(|country| country.code), Some(code), "{name}");
    }
    for name in ["", "the", "Atlantis", "korea", "x"] {
        assert_eq!(countries::by_name(name), None, "{name}");
    }
}

#[test]
fn zones_of_a_country_begin_with_the_one_of_most_people() {
    assert_eq!(zones::of_country("US")[..2], ["America/New_York", "America/Chicago"]);
    assert_eq!(zones::of_country("ES")[0], "Europe/Madrid");
    assert_eq!(zones::of_country("BR")[0], "America/Sao_Paulo");
    assert!(zones::of_country("ZZ").is_empty());
}

/// Prints what a look-up takes; run it by `cargo test --release --lib places -- --ignored --nocapture`.
#[test]
#[ignore = "a measurement"]
fn how_long_a_look_takes() {
    let begun = std::time::Instant::now();
    let _ = Table::get();
    println!("unpacking for positions {:.1} ms", begun.elapsed().as_secs_f64() * 1e3);
    let begun = std::time::Instant::now();
    let _ = Table::get().keys().count();
    println!("for names {:.1} ms more", begun.elapsed().as_secs_f64() * 1e3);
    for name in [
        "bergen",
        "Springfield, Illinois",
        "Barre Vermont USA",
        "Goeteborgg",
        "San",
        "Xyzzyqwerty",
        "a b c d e f g h i j k l",
    ] {
        let begun = std::time::Instant::now();
        let _ = find(name);
        println!("{name}: {:.1} ms", begun.elapsed().as_secs_f64() * 1e3);
    }
    for (latitude, longitude) in [(60.4, 5.3), (-33.9, 18.4), (-48.9, -123.4), (30.0, -160.0)] {
        let begun = std::time::Instant::now();
        let _ = nearest(latitude, longitude);
        println!("{latitude}, {longitude}: {:.2} ms", begun.elapsed().as_secs_f64() * 1e3);
    }
}

/// Letters of regions lead to a region of the table each.
#[test]
fn letters_of_regions_are_of_regions_of_the_table() {
    let table = Table::get();
    for (country, code, name) in countries::SUBDIVISIONS {
        let there = table.regions.iter().filter(|region| region.country.code == country && region.name == name).count();
        assert_eq!(there, 1, "{country} {code}");
    }
}
