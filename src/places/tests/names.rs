//! Names as people write them.

use proptest::prelude::*;

use super::one;
use crate::places::table::Table;
use crate::places::{Found, TIMES_LARGER, find};

/// What is written, and the title of the place that is meant.
const MEANT: [(&str, &str); 54] = [
    ("Malmo", "Malmö, Skåne, Sweden"),
    // What towns are called for short, and countries in German, French and Spanish.
    ("LA", "Los Angeles, California, USA"),
    ("L.A., USA", "Los Angeles, California, USA"),
    ("NYC", "New York City, New York, USA"),
    ("Washington, D.C., USA", "Washington, District of Columbia, USA"),
    ("New Orleans, LA", "New Orleans, Louisiana, USA"),
    ("Bergen, Norwegen", "Bergen, Vestland, Norway"),
    ("Bergen, Norvège", "Bergen, Vestland, Norway"),
    ("Bergen, Noruega", "Bergen, Vestland, Norway"),
    // A town that is called like its country.
    ("Luxembourg", "Luxembourg, Luxembourg"),
    ("Luxemburg", "Luxembourg, Luxembourg"),
    ("malmö", "Malmö, Skåne, Sweden"),
    ("MALMO\u{308}", "Malmö, Skåne, Sweden"),
    ("Bergen, Norway", "Bergen, Vestland, Norway"),
    ("Bergen, NO", "Bergen, Vestland, Norway"),
    ("bergen norge", "Bergen, Vestland, Norway"),
    ("Bergen (Norway)", "Bergen, Vestland, Norway"),
    ("Norway, Bergen", "Bergen, Vestland, Norway"),
    ("Bergen, Vestland", "Bergen, Vestland, Norway"),
    ("Springfield, Illinois", "Springfield, Illinois, USA"),
    ("Springfield, IL", "Springfield, Illinois, USA"),
    ("Springfield IL", "Springfield, Illinois, USA"),
    ("Springfield, IL, USA", "Springfield, Illinois, USA"),
    ("Barre, Vermont, USA", "Barre, Vermont, USA"),
    ("Barre, Vermont, United States", "Barre, Vermont, USA"),
    ("barre vermont usa", "Barre, Vermont, USA"),
    ("Paris", "Paris, Île-de-France, France"),
    ("Paris, TX", "Paris, Texas, USA"),
    ("Paris, Texas, USA", "Paris, Texas, USA"),
    ("Köln", "Köln, North Rhine-Westphalia, Germany"),
    ("Koeln", "Köln, North Rhine-Westphalia, Germany"),
    ("Cologne, Germany", "Köln, North Rhine-Westphalia, Germany"),
    ("München", "Munich, Bavaria, Germany"),
    ("Muenchen", "Munich, Bavaria, Germany"),
    ("Wien", "Vienna, Austria"),
    ("Praha", "Prague, Czechia"),
    ("Roma, Italy", "Rome, Lazio, Italy"),
    ("Lisboa", "Lisbon, Portugal"),
    ("Sao Paulo", "São Paulo, Brazil"),
    ("Москва", "Moscow, Russia"),
    ("東京", "Tokyo, Japan"),
    ("L'Aquila", "L'Aquila, Abruzzo, Italy"),
    ("St. Louis, Missouri", "St. Louis, Missouri, USA"),
    ("Saint Louis, MO", "St. Louis, Missouri, USA"),
    ("Saint-Denis, Reunion", "Saint-Denis, Reunion"),
    ("Halle (Saale)", "Halle (Saale), Saxony-Anhalt, Germany"),
    ("Halle (Saale), Germany", "Halle (Saale), Saxony-Anhalt, Germany"),
    ("Biel", "Biel/Bienne, Bern, Switzerland"),
    ("Biel/Bienne, Switzerland", "Biel/Bienne, Bern, Switzerland"),
    ("Nairobi", "Nairobi, Nairobi County, Kenya"),
    ("Cape Town", "Cape Town, Western Cape, South Africa"),
    ("Longyearbyen", "Longyearbyen, Svalbard, Svalbard and Jan Mayen"),
    ("Georgetown, Guyana", "Georgetown, Demerara-Mahaica, Guyana"),
    ("Edinburgh of the Seven Seas", "Edinburgh of the Seven Seas, Tristan da Cunha, Saint Helena"),
];

#[test]
fn names_find_their_places() {
    let wrong: Vec<String> = MEANT
        .iter()
        .filter_map(|(written, meant)| match find(written) {
            Found::One { place, .. } if place.title() == *meant => None,
            Found::One { place, .. } => Some(format!("{written}: {}", place.title())),
            Found::Many(places) => {
                Some(format!("{written}: {:?}", places.iter().map(|p| (p.title(), p.people)).collect::<Vec<_>>()))
            }
            Found::Wider { is, .. } => Some(format!("{written}: {is}")),
            Found::None(near) | Found::NoPlace { near, .. } => {
                Some(format!("{written}: near {:?}", near.iter().map(|p| p.title()).collect::<Vec<_>>()))
            }
        })
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Marks written out, for towns that have no other names in the table.
#[test]
fn marks_written_out_are_read() {
    for (written, meant) in [
        ("Hoechenschwand", "Höchenschwand"),
        ("Duermentingen, Germany", "Dürmentingen"),
        ("Jaemijaervi, Finland", "Jämijärvi"),
    ] {
        assert_eq!(one(written).name, meant, "{written}");
    }
}

#[test]
fn a_name_of_several_places_is_asked_for_by_people() {
    for name in ["bergen", "Springfield", "San Antonio", "Victoria", "Newcastle"] {
        let Found::Many(places) = find(name) else { panic!("{name}") };
        let people: Vec<u32> = places.iter().map(|place| place.people.unwrap_or(0)).collect();
        assert!(people.is_sorted_by(|a, b| a >= b) || people.contains(&0), "{name}: {people:?}");
        let others: u32 = people[1..].iter().sum();
        assert!(people[0] < others.saturating_mul(TIMES_LARGER), "{name}: {people:?}");
    }
    let Found::Many(places) = find("bergen") else { panic!() };
    assert_eq!(places[0].title(), "Bergen, Vestland, Norway");
}

#[test]
fn a_large_place_is_taken_before_hamlets_and_they_are_told() {
    let Found::One { place, passed_over } = find("Paris") else { panic!() };
    let others: u32 = passed_over.iter().filter_map(|place| place.people).sum();
    assert!(!passed_over.is_empty() && place.people.unwrap() >= TIMES_LARGER * others, "{others}");
}

#[test]
fn names_that_are_none_have_near_ones() {
    for (written, near) in [
        ("Trondhiem", "Trondheim, Trøndelag, Norway"),
        ("Budapset", "Budapest, Hungary"),
        ("Reykjavk, Iceland", "Reykjavík, Capital Region, Iceland"),
        // A name that is elsewhere.
        ("Trondheim, Germany", "Trondheim, Trøndelag, Norway"),
        ("Springfield, Norway", "Springfield, Missouri, USA"),
        ("Bergen, Nrway", "Bergen, Vestland, Norway"),
    ] {
        let Found::None(places) = find(written) else { panic!("{written}: {:?}", find(written)) };
        assert_eq!(places.first().map(|place| place.title()).as_deref(), Some(near), "{written}");
        assert!(places.len() <= 5);
    }
    for nothing in ["", " ", ",", ", ,", "''", "Xyzzyqwerty", "\u{300}", "-"] {
        assert_eq!(find(nothing), Found::None(Vec::new()), "{nothing:?}");
    }
}

#[test]
fn what_is_said_of_a_place_is_enough_to_find_it() {
    let place = one("Bergen, Norway");
    assert_eq!(one(&place.full_title()), place);
    assert_eq!(one("Hong Kong, Hong Kong").full_title(), "Hong Kong, Hong Kong");
    let Found::Many(places) = find("Nagasaki, Japan") else { panic!() };
    assert_eq!(one(&places[0].full_title()), places[0]);
    assert_eq!((place.zone, place.country.code), ("Europe/Oslo", "NO"));
    // Every eight hundredth place: found by what is told of it, or one of several that are called the same in full.
    let table = Table::get();
    for place in (0..table.len()).step_by(800).map(|place| table.place(place)) {
        match find(&place.full_title()) {
            Found::One { place: found, .. } => assert_eq!(found.full_title(), place.full_title()),
            Found::Many(places) => {
                assert!(places.contains(&place), "{}", place.full_title());
                let alike = places.iter().filter(|other| other.full_title() == place.full_title()).count();
                assert!(alike > 1, "{}: {places:?}", place.full_title());
            }
            other => panic!("{}: {other:?}", place.full_title()),
        }
    }
    // Statistics Norway: 291,940 people in January 2024 (from memory); steps are of a tenth.
    assert!(place.people.is_some_and(|people| (265_000..321_000).contains(&people)), "{place:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(80))]

    #[test]
    fn no_text_makes_it_panic(text in "\\PC*", parts in prop::collection::vec("[a-zA-ZåäöüßéøŁİı', .()-]{0,14}", 0..6)) {
        let _ = find(&text);
        let _ = find(&parts.join(","));
        let _ = crate::places::countries::by_name(&text);
        let _ = crate::places::zones::meant(&text);
        let _ = crate::places::zones::offset_behind_a_name(&text);
    }
}
