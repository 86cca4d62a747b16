//! Positions against zones: slips are found, right ones draw nothing.

use proptest::prelude::*;

use super::rows;
use crate::places::table::Table;
use crate::places::{Agreement, against_zone};
use crate::sky::globe::distance_km;

/// Towns of tests/data/town_positions.csv with their zones (IANA, from memory).
const ZONES: [(&str, &str); 20] = [
    ("Oslo", "Europe/Oslo"),
    ("Dublin", "Europe/Dublin"),
    ("Reykjavik", "Atlantic/Reykjavik"),
    ("Lisbon", "Europe/Lisbon"),
    ("Athens", "Europe/Athens"),
    ("Tashkent", "Asia/Tashkent"),
    ("New Delhi", "Asia/Calcutta"),
    ("Seoul", "Asia/Seoul"),
    ("Sapporo", "Asia/Tokyo"),
    ("Kunming", "Asia/Shanghai"),
    ("Casablanca", "Africa/Casablanca"),
    ("Tunis", "Africa/Tunis"),
    ("Santiago", "America/Santiago"),
    ("Perth", "Australia/Perth"),
    ("Hobart", "Australia/Hobart"),
    ("Lhasa", "Asia/Shanghai"),
    ("Albuquerque, NM", "America/Denver"),
    ("Anchorage, AK", "America/Anchorage"),
    ("Bismarck, ND", "America/Chicago"),
    ("Honolulu, HI", "Pacific/Honolulu"),
];

fn towns() -> impl Iterator<Item = (&'static str, (f64, f64), &'static str)> {
    let rows = rows(include_str!("../../../tests/data/town_positions.csv"));
    ZONES.into_iter().map(move |(name, zone)| {
        let row = rows.iter().find(|row| row[0] == name).unwrap();
        (name, (row[2].parse().unwrap(), row[3].parse().unwrap()), zone)
    })
}

#[test]
fn a_wrong_sign_or_an_exchange_is_found_with_what_is_meant() {
    let mut wrong = Vec::new();
    for (town, meant, zone) in towns() {
        assert_eq!(against_zone(meant.0, meant.1, zone), Agreement::Agrees, "{town}");
        for written in [
            (-meant.0, meant.1),
            (meant.0, -meant.1),
            (-meant.0, -meant.1),
            (meant.1, meant.0),
            (meant.1.abs(), meant.0.abs()),
        ] {
            if written.0.abs() > 90.0 || written == meant {
                continue;
            }
            match against_zone(written.0, written.1, zone) {
                Agreement::Misread { readings, .. } if readings.iter().any(|reading| reading.place == meant) => {}
                other => {
                    wrong.push(format!("{town} at {written:?}, {:.0} km off: {other:?}", distance_km(written, meant)))
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Towns of the table, at even steps through it, with their own zones: what each slip of the pen draws. Where it goes unseen the
/// other reading lies among towns of the same zone or country: docs/places.md has the figures of 2,000 towns.
fn slips_seen(towns: usize) {
    let table = Table::get();
    let mut figures = Vec::new();
    for slip in ["exchanged", "other latitude", "other longitude", "both signs", "exchanged, no signs"] {
        let (mut asked, mut told, mut doubted, mut unseen) = (0, 0, 0, Vec::new());
        for at in (0..towns).map(|k| k * table.len() / towns) {
            let town = table.place(at);
            let meant = (town.latitude_deg, town.longitude_deg);
            let written = match slip {
                "exchanged" => (meant.1, meant.0),
                "other latitude" => (-meant.0, meant.1),
                "other longitude" => (meant.0, -meant.1),
                "both signs" => (-meant.0, -meant.1),
                _ => (meant.1.abs(), meant.0.abs()),
            };
            // The reader refuses a latitude above 90 °.
            if written == meant || written.0.abs() > 90.0 {
                continue;
            }
            asked += 1;
            match against_zone(written.0, written.1, town.zone) {
                Agreement::Misread { readings, .. } if readings.iter().any(|reading| reading.place == meant) => {
                    told += 1
                }
                Agreement::Agrees | Agreement::NothingKnown => {
                    unseen.push((distance_km(written, meant), town.title(), written));
                }
                _ => doubted += 1,
            }
        }
        unseen.sort_by(|a, b| b.0.total_cmp(&a.0));
        println!("{slip}: {asked} asked, {told} told, {doubted} doubted, {} unseen", unseen.len());
        unseen.iter().take(12).for_each(|(km, town, written)| println!("    {km:.0} km {town} {written:?}"));
        figures.push((slip, asked, told, doubted, unseen.len()));
    }
    let of =
        |slip: &str| figures.iter().find(|(other, ..)| *other == slip).map(|(_, asked, .., unseen)| (*asked, *unseen));
    for (slip, most) in [("exchanged", 0.02), ("other latitude", 0.01), ("both signs", 0.0)] {
        let (asked, unseen) = of(slip).unwrap();
        assert!(unseen as f64 <= most * asked as f64, "{slip}: {unseen} of {asked} unseen");
    }
}

#[test]
fn nearly_every_slip_in_a_towns_figures_is_seen() {
    slips_seen(300);
}

/// Run it by `cargo test --lib slips -- --ignored --nocapture`.
#[test]
#[ignore = "a measurement"]
fn slips_in_the_figures_of_two_thousand_towns() {
    slips_seen(2000);
}

#[test]
fn right_places_draw_no_question() {
    let doubted: Vec<String> = rows(include_str!("../../../tests/data/places_left_out.csv"))
        .iter()
        .filter_map(|row| {
            let (latitude, longitude) = (row[2].parse().unwrap(), row[3].parse().unwrap());
            let said = against_zone(latitude, longitude, &row[4]);
            (said != Agreement::Agrees).then(|| format!("{row:?}: {said:?}"))
        })
        .collect();
    assert!(doubted.is_empty(), "{doubted:#?}");
}

/// Corners of large countries, small islands, borders, zones that share a clock; common geography, from memory, to a tenth
/// of a degree.
#[test]
fn corners_islands_and_borders_draw_no_question() {
    for (town, latitude, longitude, zone) in [
        ("Kashgar", 39.5, 76.0, "Asia/Shanghai"),
        ("Attu", 52.9, 172.9, "America/Adak"),
        ("Kaliningrad", 54.7, 20.5, "Europe/Kaliningrad"),
        ("Saint-Denis", -20.9, 55.5, "Indian/Reunion"),
        ("Saint-Denis by its link", -20.9, 55.5, "Asia/Dubai"),
        ("Las Palmas", 28.1, -15.4, "Atlantic/Canary"),
        ("Tristan da Cunha", -37.1, -12.3, "Atlantic/St_Helena"),
        ("Port-aux-Français", -49.4, 70.2, "Indian/Kerguelen"),
        ("Pitcairn", -25.1, -130.1, "Pacific/Pitcairn"),
        ("Hanga Roa", -27.2, -109.4, "Pacific/Easter"),
        ("Jan Mayen", 71.0, -8.5, "Arctic/Longyearbyen"),
        ("Strasbourg, by the clock next door", 48.6, 7.7, "Europe/Berlin"),
        ("Bergen, by the clock of Paris", 60.4, 5.3, "Europe/Paris"),
        ("Maun, by the clock of Johannesburg", -20.0, 23.4, "Africa/Johannesburg"),
        ("Quito", -0.2, -78.5, "America/Guayaquil"),
        ("Gbadolite", 4.3, 21.0, "Africa/Kinshasa"),
        ("London east of Greenwich", 51.5, 0.1, "Europe/London"),
    ] {
        assert_eq!(against_zone(latitude, longitude, zone), Agreement::Agrees, "{town}");
    }
}

#[test]
fn other_clocks_and_other_countries_are_told_apart() {
    let dallas = against_zone(32.8, -96.8, "America/New_York");
    assert!(matches!(&dallas, Agreement::OtherClock { town, .. } if town.zone == "America/Chicago"), "{dallas:?}");
    let warsaw = against_zone(52.2, 21.0, "Europe/London");
    assert!(matches!(&warsaw, Agreement::Elsewhere { town, .. } if town.zone == "Europe/Warsaw"), "{warsaw:?}");
    // West of Greenwich lies Devon.
    let lille = against_zone(50.6, 3.1, "Europe/London");
    assert!(matches!(&lille, Agreement::Misread { readings, .. } if readings[0].place == (50.6, -3.1)), "{lille:?}");
    // At sea off Brittany and in the Mediterranean: nobody lives around, the other sign is a town of the zone.
    for (written, zone) in [((48.77, -7.85), "Europe/Paris"), ((40.02, 4.86), "Europe/Madrid")] {
        let said = against_zone(written.0, written.1, zone);
        let meant = (written.0, -written.1);
        assert!(matches!(&said, Agreement::Misread { readings, .. } if readings[0].place == meant), "{said:?}");
    }
    let munich = against_zone(48.1, 11.6, "Asia/Tokyo");
    assert!(matches!(&munich, Agreement::Elsewhere { town, .. } if town.zone == "Europe/Berlin"), "{munich:?}");
    for (latitude, longitude, zone) in [
        (48.1, 11.6, "Etc/GMT+1"),
        (48.1, 11.6, "UTC"),
        (48.1, 11.6, "Nowhere/Land"),
        (f64::NAN, 11.6, "Europe/Berlin"),
        (91.0, 11.6, "Europe/Berlin"),
    ] {
        assert_eq!(against_zone(latitude, longitude, zone), Agreement::NothingKnown, "{zone}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn no_figures_make_it_panic(latitude in prop::num::f64::ANY, longitude in prop::num::f64::ANY, zone in "\\PC*") {
        let _ = against_zone(latitude, longitude, &zone);
        let _ = against_zone(latitude % 90.0, longitude % 180.0, "Africa/Johannesburg");
    }
}
