//! Places and clocks: what a wrong sign, an exchange or a wrong name of a zone draws, and that right ones draw nothing.
//!
//! Coordinates of towns are common geography, from memory, to a tenth of a degree.

use super::{SMALLEST, Source, check, read};

const LATITUDE: &str = "latitude = 44.2";
const LONGITUDE: &str = "longitude = -72.6";

/// Title and help of what the reader says of a place and its zone.
fn told(latitude: f64, longitude: f64, zone: &str) -> Vec<String> {
    assert!(SMALLEST.contains(LATITUDE) && SMALLEST.contains(LONGITUDE));
    let text = SMALLEST.replacen(LATITUDE, &format!("latitude = {latitude}"), 1).replacen(
        LONGITUDE,
        &format!("longitude = {longitude}\ntimezone = \"{zone}\""),
        1,
    );
    let source = Source::new("test.toml", text);
    let (Ok((_, _, problems)) | Err(problems)) = read(&source);
    problems
        .iter()
        .filter(|problem| problem.key.starts_with("site."))
        .map(|problem| format!("{}; {}", problem.title(), problem.help.as_deref().unwrap_or("")))
        .collect()
}

/// Towns with their zones.
const TOWNS: [(&str, f64, f64, &str); 20] = [
    ("Johannesburg", -26.2, 28.0, "Africa/Johannesburg"),
    ("Cape Town", -33.9, 18.4, "Africa/Johannesburg"),
    ("Buenos Aires", -34.6, -58.4, "America/Argentina/Buenos_Aires"),
    ("Santiago", -33.5, -70.7, "America/Santiago"),
    ("Lima", -12.0, -77.0, "America/Lima"),
    ("Sao Paulo", -23.5, -46.6, "America/Sao_Paulo"),
    ("New York", 40.7, -74.0, "America/New_York"),
    ("Denver", 39.7, -105.0, "America/Denver"),
    ("Mexico City", 19.4, -99.1, "America/Mexico_City"),
    ("Lagos", 6.5, 3.4, "Africa/Lagos"),
    ("Dublin", 53.3, -6.3, "Europe/Dublin"),
    ("Oslo", 59.9, 10.8, "Europe/Oslo"),
    ("Berlin", 52.5, 13.4, "Europe/Berlin"),
    ("Mumbai", 19.1, 72.9, "Asia/Kolkata"),
    ("Kochi", 10.0, 76.3, "Asia/Calcutta"),
    ("Manila", 14.6, 121.0, "Asia/Manila"),
    ("Tokyo", 35.7, 139.7, "Asia/Tokyo"),
    ("Perth", -32.0, 115.9, "Australia/Perth"),
    ("Melbourne", -37.8, 145.0, "Australia/Melbourne"),
    ("Auckland", -36.8, 174.8, "Pacific/Auckland"),
];

/// Corners of large countries, islands far from their zone's principal place, places on the equator.
const CORNERS: [(&str, f64, f64, &str); 32] = [
    ("Kashgar", 39.5, 76.0, "Asia/Shanghai"),
    ("Lhasa", 29.7, 91.1, "Asia/Shanghai"),
    ("Anchorage", 61.2, -149.9, "America/Anchorage"),
    ("Ketchikan", 55.3, -131.6, "America/Anchorage"),
    ("Adak", 51.9, -176.6, "America/Adak"),
    ("Attu", 52.9, 172.9, "America/Adak"),
    ("Kaliningrad", 54.7, 20.5, "Europe/Kaliningrad"),
    ("Murmansk", 69.0, 33.1, "Europe/Moscow"),
    ("Norilsk", 69.3, 88.2, "Asia/Krasnoyarsk"),
    ("Eucla", -31.7, 128.9, "Australia/Perth"),
    ("Broome", -18.0, 122.2, "Australia/Perth"),
    ("Honolulu", 21.3, -157.9, "Pacific/Honolulu"),
    ("Saint-Denis", -20.9, 55.5, "Indian/Reunion"),
    ("Saint-Denis by its link", -20.9, 55.5, "Asia/Dubai"),
    ("Longyearbyen", 78.2, 15.6, "Europe/Oslo"),
    ("Las Palmas", 28.1, -15.4, "Atlantic/Canary"),
    ("Ushuaia", -54.8, -68.3, "America/Argentina/Ushuaia"),
    ("Boa Vista", 2.8, -60.7, "America/Manaus"),
    ("Leticia", -4.2, -69.9, "America/Bogota"),
    ("Banda Aceh", 5.5, 95.3, "Asia/Jakarta"),
    ("Marsabit", 2.3, 38.0, "Africa/Nairobi"),
    ("Gbadolite", 4.3, 21.0, "Africa/Kinshasa"),
    ("Zongo", 4.3, 18.6, "Africa/Kinshasa"),
    ("Impfondo", 1.6, 18.1, "Africa/Brazzaville"),
    ("Kismayo", -0.4, 42.5, "Africa/Mogadishu"),
    ("Puerto Ayora", -0.7, -90.3, "Pacific/Galapagos"),
    ("Quito", -0.2, -78.5, "America/Guayaquil"),
    ("Gaziantep", 37.1, 37.4, "Europe/Istanbul"),
    ("Srinagar", 34.1, 74.8, "Asia/Kolkata"),
    ("Port Blair", 11.7, 92.7, "Asia/Kolkata"),
    ("Tamanrasset", 22.8, 5.5, "Africa/Algiers"),
    ("Iqaluit", 63.7, -68.5, "America/Iqaluit"),
];

#[test]
fn right_places_are_not_doubted() {
    for (town, latitude, longitude, zone) in TOWNS.into_iter().chain(CORNERS) {
        let told = told(latitude, longitude, zone);
        assert!(told.is_empty(), "{town}: {told:?}");
    }
}

#[test]
fn a_wrong_sign_is_doubted_with_the_right_one() {
    for (town, latitude, longitude, zone) in TOWNS {
        for (written, meant) in [
            ((-latitude, longitude), format!("latitude = {latitude}, near ")),
            ((latitude, -longitude), format!("longitude = {longitude}, near ")),
            ((-latitude, -longitude), format!("latitude = {latitude}, longitude = {longitude}, near ")),
        ] {
            let told = told(written.0, written.1, zone);
            // Across the zero meridian or the equator a place is next door to its mirror image, or at sea.
            let near = crate::sky::globe::distance_km(written, (latitude, longitude)) < 1000.0;
            assert!(near || told.iter().any(|said| said.contains(&meant)), "{town} at {written:?}: {told:?}");
        }
    }
    assert!(
        told(26.2, 28.0, "Africa/Johannesburg")[0]
            .contains("south is negative, north is not: latitude = -26.2, near Johannesburg")
    );
}

#[test]
fn an_exchange_of_latitude_and_longitude_is_doubted() {
    for (town, latitude, longitude, zone) in TOWNS {
        // Lagos exchanged lies in the sea before a neighbour that shares its zone: refused as a place at sea.
        if town == "Lagos" {
            continue;
        }
        let told = told(longitude, latitude, zone);
        assert!(told.iter().any(|said| said.contains("exchanged?")), "{town}: {told:?}");
        // Without their signs too, where that is not the same.
        let unsigned = self::told(longitude.abs(), latitude.abs(), zone);
        assert!(unsigned.iter().any(|said| said.contains("exchanged?")), "{town}: {unsigned:?}");
    }
}

/// Offsets in winter of the towns' zones (IANA, from memory).
#[test]
fn a_wrong_sign_is_doubted_beside_an_offset_too() {
    let offsets = [
        "+02:00", "+02:00", "-03:00", "-04:00", "-05:00", "-03:00", "-05:00", "-07:00", "-06:00", "+01:00", "+00:00",
        "+01:00", "+01:00", "+05:30", "+05:30", "+08:00", "+09:00", "+08:00", "+10:00", "+12:00",
    ];
    let mut found = 0;
    for ((town, latitude, longitude, _), offset) in TOWNS.into_iter().zip(offsets) {
        assert!(told(latitude, longitude, offset).is_empty(), "{town}: {:?}", told(latitude, longitude, offset));
        // Never the sign that is right.
        let south = told(-latitude, longitude, offset);
        assert!(!south.iter().any(|said| said.contains("west is negative")), "{town}: {south:?}");
        found += usize::from(south.iter().any(|said| said.contains(&format!("latitude = {latitude}, near"))));
        let east = told(latitude, -longitude, offset);
        assert!(!east.iter().any(|said| said.contains("`site.latitude`")), "{town}: {east:?}");
        found += usize::from(east.iter().any(|said| said.contains("longitude")));
    }
    println!("{found} of 40 are seen by the offset alone");
    for ((latitude, longitude, offset), says) in [
        (
            (-36.8, 10.2, "+01:00"),
            "`site.latitude` does not fit the time zone; south is negative, north is not: latitude = 36.8",
        ),
        ((-59.9, 10.8, "+01:00"), "latitude = 59.9, near Oslo"),
        ((-19.1, 72.9, "+05:30"), "latitude = 19.1, near"),
        ((36.8, 174.8, "+12:00"), "latitude = -36.8, near"),
        (
            (40.7, 74.0, "-05:00"),
            "`site.longitude` does not fit the time zone; west is negative, east is not: longitude = -74",
        ),
        ((39.7, 105.0, "-07:00"), "longitude = -105, near Denver"),
    ] {
        let told = told(latitude, longitude, offset);
        assert!(told.iter().any(|said| said.contains(says)), "{latitude}, {longitude}: {told:?}");
    }
    assert!(found >= 20, "{found}");
}

#[test]
fn an_offset_behind_a_name_is_refused_and_not_turned() {
    let zone = |zone: &str| format!("{LATITUDE}\ntimezone = \"{zone}\"");
    check(
        LATITUDE,
        &zone("GMT+1"),
        "4:12 error: site.timezone mixes a name with an offset; found \"GMT+1\"; allowed: an offset like \"-05:00\" or a name \
         like \"America/New_York\"",
    );
    let ahead = "write \"+01:00\" for a clock ahead of GMT; names such as Etc/GMT+1 count the other way round";
    assert!(told(52.5, 13.4, "GMT+1")[0].ends_with(ahead));
    assert!(told(44.2, -72.6, "UTC-5")[0].contains("write \"-05:00\" for a clock behind UTC"));
    assert!(told(19.1, 72.9, "GMT+0530")[0].contains("\"+05:30\""));
    assert!(told(51.5, 0.0, "GMT+0").is_empty());
    let turned = told(52.5, 13.4, "Etc/GMT+1");
    assert!(
        turned[0].contains("is a clock behind UTC") && turned[0].contains("\"+01:00\" if it is ahead of UTC"),
        "{turned:?}"
    );
}

#[test]
fn countries_and_abbreviations_name_their_zones() {
    for (written, meant) in [
        ("Germany", "\"Europe/Berlin\""),
        ("uk", "\"Europe/London\""),
        ("USA", "one of its 29 zones, such as \"America/New_York\""),
        ("South Africa", "\"Africa/Johannesburg\""),
        ("IST", "\"Asia/Kolkata\", \"Asia/Jerusalem\" or \"Europe/Dublin\""),
        ("PST", "\"America/Los_Angeles\""),
        ("Kolkata", "\"Asia/Kolkata\""),
        ("Europe/Berln", "\"Europe/Berlin\""),
    ] {
        let told = told(44.2, -72.6, written);
        assert!(told[0].contains(&format!("did you mean {meant}")), "{written}: {told:?}");
    }
}

/// What the reader makes of `[site]` with these lines in the place of its own.
fn site(lines: &str) -> Result<(super::Scenario, Vec<String>), Vec<String>> {
    assert!(SMALLEST.contains(LATITUDE) && SMALLEST.contains(LONGITUDE));
    let text = SMALLEST.replacen(LATITUDE, lines, 1).replacen(LONGITUDE, "", 1);
    let words = |problems: Vec<crate::scenario::Problem>| {
        let one =
            |p: &crate::scenario::Problem| format!("{}; {}; {}", p.title(), p.label(), p.help.as_deref().unwrap_or(""));
        problems.iter().map(one).collect::<Vec<_>>()
    };
    match read(&Source::new("test.toml", text)) {
        Ok((scenario, _, problems)) => Ok((scenario, words(problems))),
        Err(problems) => Err(words(problems)),
    }
}

/// Names of places as people write them; which town of a name has which time zone is common geography, from memory.
#[test]
fn places_by_name_give_their_town_and_zone_or_are_asked_back() {
    let mut rows = csv::Reader::from_reader(include_str!("../../../tests/data/place_names.csv").as_bytes());
    let mut count = 0;
    for row in rows.records() {
        let row = row.expect("a row");
        for written in row[0].split('|') {
            count += 1;
            match (site(&format!("place = \"{written}\"")), &row[1]) {
                (Err(told), "") => {
                    let told = told.join("\n");
                    let says = told.contains("did you mean")
                        || told.contains("add the region")
                        || told.contains("write a larger town")
                        || told.contains("write two keys instead: latitude = 36.8")
                        || told.contains("is a latitude alone: write both");
                    assert!(told.contains("`site.place`") && says, "{written}: {told}");
                }
                (Ok((scenario, _)), title) if !title.is_empty() => {
                    let site = scenario.site;
                    let (town, km) = crate::places::nearest(site.latitude_deg, site.longitude_deg).expect("a town");
                    assert!(
                        km < 0.1 && title.split('|').any(|title| town.title().starts_with(title)),
                        "{written}: {}",
                        town.title()
                    );
                    assert_eq!(site.timezone, crate::scenario::model::TimeZone::Named(row[2].into()), "{written}");
                    assert_eq!(site.height.map(|height| height.0), town.height_m, "{written}");
                }
                (read, _) => panic!("{written}: {:?}", read.map(|(scenario, told)| (scenario.site, told))),
            }
        }
    }
    assert!(count >= 40, "{count} names");
}

#[test]
fn what_is_said_beside_a_place_comes_first_or_clashes() {
    let (own, _) =
        site("place = \"Bergen, Norway\"\nlatitude = 60.5\nlongitude = 5.2\nheight = \"90 m\"").expect("near by");
    assert_eq!((own.site.latitude_deg, own.site.longitude_deg, own.site.height.map(|h| h.0)), (60.5, 5.2, Some(90.0)));
    let (own, _) = site("place = \"Bergen, Norway\"\nlatitude = 60.5\nlongitude = 5.2").expect("near by");
    assert_eq!(own.site.height, None, "the town's height is not that of a position of one's own");
    let (own, _) = site("place = \"Bergen, Norway\"\ntimezone = \"+01:00\"").expect("a clock of one's own");
    assert_eq!(own.site.timezone, crate::scenario::model::TimeZone::Fixed(60));
    let far = site("place = \"Bergen, Norway\"\nlatitude = 44.2\nlongitude = -72.6").expect_err("a clash");
    assert!(
        far[0].contains("does not fit the place") && far[0].contains("leave latitude and longitude out"),
        "{far:?}"
    );
    let half = site("place = \"Bergen, Norway\"\nlatitude = 60.5").expect_err("half a position");
    assert!(half[0].contains("`site.longitude` is missing"), "{half:?}");
    let nowhere = site("height = \"10 m\"").expect_err("no place");
    assert!(nowhere[0].contains("add a line like: place ="), "{nowhere:?}");
    let other = site("place = \"Wien\"").expect("Vienna").1;
    assert!(other.iter().any(|told| told.contains("is read as Vienna, Austria")), "{other:?}");
    // A clock of another country is doubted with the town that is meant.
    let clock = site("place = \"Bergen, Norway\"\ntimezone = \"America/New_York\"").expect("a warning").1;
    assert!(clock.iter().any(|told| told.contains("Europe/Oslo")), "{clock:?}");
}

/// A clock that nobody around keeps is asked about; an hour off, UTC, and a lonely place are not.
#[test]
fn an_offset_that_no_town_around_keeps_draws_a_question() {
    let at = |latitude, longitude, offset: &str| told(latitude, longitude, offset);
    for (latitude, longitude, offset, zone) in [
        (44.2, -72.6, "-08:00", "America/New_York"),
        (44.2, -72.6, "-02:00", "America/New_York"),
        (60.4, 5.3, "+04:00", "Europe/Oslo"),
        (-26.2, 28.0, "+05:00", "Africa/Johannesburg"),
    ] {
        let said = at(latitude, longitude, offset);
        assert_eq!(said.len(), 1, "{offset}: {said:?}");
        assert!(said[0].contains("does not fit") && said[0].contains(zone), "{offset}: {said:?}");
    }
    for (latitude, longitude, offset) in [
        (44.2, -72.6, "-05:00"),
        (44.2, -72.6, "-04:00"),
        (44.2, -72.6, "-06:00"),
        (60.4, 5.3, "+00:00"),
        (60.4, 5.3, "+01:00"),
    ] {
        assert_eq!(at(latitude, longitude, offset), Vec::<String>::new(), "{offset}");
    }
}

/// Figures that were left out become 0, 0, which lies at sea: said whatever the clock.
#[test]
fn the_place_of_no_figures_is_doubted() {
    for zone in ["Europe/Oslo", "+02:00", "UTC"] {
        let said = told(0.0, 0.0, zone);
        assert!(said.len() == 1 && said[0].contains("is 0, and so is the longitude"), "{zone}: {said:?}");
    }
    assert_eq!(told(5.6, 0.0, "Africa/Accra"), Vec::<String>::new());
}
