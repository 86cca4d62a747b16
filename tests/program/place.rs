//! `tideover place` as a person meets it.

use std::process::{Command, Output};

use serde_json::Value;

use super::program::program;

fn place(arguments: &[&str]) -> Output {
    Command::new(program()).arg("place").args(arguments).output().expect("the binary starts")
}

#[track_caller]
fn told(arguments: &[&str]) -> String {
    let output = place(arguments);
    assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

#[track_caller]
fn refused(arguments: &[&str], parts: &[&str]) {
    let output = place(arguments);
    let text = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {text}");
    assert!(output.stdout.is_empty(), "{arguments:?} printed an answer");
    for part in parts {
        assert!(text.contains(part), "{arguments:?} does not say {part:?}:\n{text}");
    }
}

#[test]
fn a_town_is_told_with_what_to_write_and_whose_data_it_is() {
    for arguments in [&["bergen, norway"][..], &["bergen", "norway"], &["Bergen,", "NO"]] {
        let text = told(arguments);
        for part in [
            "Bergen, Vestland, Norway\n",
            "Norway (NO)",
            "about 290,000",
            "60.39° N, 5.32° E",
            "Europe/Oslo",
            "place = \"Bergen, Vestland, Norway\"\n",
            "GeoNames, CC BY 4.0",
        ] {
            assert!(text.contains(part), "{part:?} is missing:\n{text}");
        }
    }
    // What is to be written is read by the program.
    let text = told(&["Cape Town"]);
    let site = text.split("In a scenario\n").nth(1).unwrap().split("Others").next().unwrap();
    let site: toml::Table = site.split("Where this").next().unwrap().parse().unwrap();
    assert_eq!(site["site"]["place"].as_str(), Some("Cape Town, Western Cape, South Africa"));
}

#[test]
fn a_position_has_its_nearest_town() {
    for arguments in [&["60.4", "5.3"][..], &["60.4,5.3"], &["60.4, 5.3"], &["60.4°", "5.3°"]] {
        assert!(
            told(arguments).starts_with("60.4° N, 5.3° E lies near Bergen, Vestland, Norway\n"),
            "{}",
            told(arguments)
        );
    }
    for arguments in [&["36°50'N 10°11'E"][..], &["36.83N", "10.18E"], &["36,83", "10,18"], &["E 10 11, N 36 50"]] {
        assert!(told(arguments).contains("timezone = \"Africa/Tunis\""), "{arguments:?}: {}", told(arguments));
    }
    refused(&["36°50'N"], &["is a latitude alone: write both, like 36.8, 10.2"]);
    refused(&["10.2 E"], &["is a longitude alone"]);
    refused(&["36.8"], &["is one figure"]);
    // A wrong sign is seen at once.
    assert!(told(&["-33.9", "18.4"]).contains("South Africa"));
    assert!(told(&["33.9", "18.4"]).contains("Libya"));
    refused(&["91", "5.3"], &["`91 5.3` is no place on earth; allowed: latitude -90 to 90, longitude -180 to 180"]);
}

#[test]
fn what_is_not_one_place_is_asked_for() {
    refused(
        &["bergen"],
        &[
            "`bergen` is the name of",
            "add the region or the country",
            "\"Bergen, Vestland, Norway\"",
            "about 290,000 people",
        ],
    );
    refused(&["Trondhiem"], &["no place is called `Trondhiem`", "\"Trondheim, Trøndelag, Norway\""]);
    refused(&["xyzzyqwerty"], &["no place is called `xyzzyqwerty`", "1,000 people"]);
    refused(&[], &["NAME or LAT LON"]);
}

#[test]
fn the_same_is_told_to_programs() {
    let answer: Value = serde_json::from_str(&told(&["--json", "Springfield, Illinois"])).unwrap();
    assert_eq!(answer["kind"], "place");
    assert_eq!(answer["place"]["region"], "Illinois");
    assert_eq!(answer["place"]["timezone"], "America/Chicago");
    assert!(answer["attribution"].as_str().unwrap().contains("GeoNames"));
    let answer: Value = serde_json::from_str(&told(&["44.2", "-72.6", "--json"])).unwrap();
    assert_eq!(answer["asked_longitude_deg"], -72.6);
    assert!(answer["away_km"].as_f64().unwrap() < 20.0);
}
