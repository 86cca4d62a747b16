//! Answers as an owner reads them: what must be said where a plain figure would mislead.

use std::fs;
use std::path::Path;
use std::process::Command;

/// The answer of the binary to a scenario given as text, printed and exit code 0.
#[track_caller]
fn answer(test: &str, scenario: &str, before: &[&str], after: &[&str]) -> String {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("answers").join(test);
    fs::create_dir_all(&folder).expect("a folder to write to");
    let file = folder.join("scenario.toml");
    fs::write(&file, scenario).expect("a file to write to");
    let output = Command::new(env!("CARGO_BIN_EXE_tideover"))
        .args(before)
        .arg(&file)
        .args(after)
        .output()
        .expect("the binary starts");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    // Lines are broken at a width: told as one.
    String::from_utf8_lossy(&output.stdout).split_whitespace().collect::<Vec<_>>().join(" ")
}

#[track_caller]
fn says(answer: &str, parts: &[&str]) {
    for part in parts {
        assert!(answer.contains(part), "does not say {part:?}:\n{answer}");
    }
}

/// A device used at night.
const NIGHTS: &str = r#"
title = "nights"
[site]
latitude = 44.2
longitude = -72.6
[outage]
start = "2027-01-14T22:00"
lasts = "10 h"
starts_charged = "100 %"
[station]
rated_capacity = "600 Wh"
[station.dc_outlet]
limit = "120 W"
[[load]]
name = "device"
outlet = "dc"
priority = "vital"
watts = "60 W"
hours = "22:00-07:00"
"#;

#[test]
fn runtimes_are_told_from_the_worst_hour_to_begin() {
    let check = answer("night-check", NIGHTS, &["check"], &[]);
    says(&check, &["the vital loads alone for 8.2 h begun at 22:00 ("]);
    let card = answer("night-card", NIGHTS, &["card"], &["--quiet", "--trials", "1000"]);
    says(&card, &["begun at everything 8.2 h", "22:00", "from the hour of the day at which it is shortest"]);
}

#[test]
fn runtimes_of_a_station_in_the_cold_count_what_the_cold_locks_in() {
    let shed = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/frost-in-the-shed.toml"));
    let shed = shed.expect("the scenario");
    let told = "a January day colder than nineteen of twenty. So cold they give 61 % of what a full battery holds.";
    says(&answer("shed-check", &shed, &["check"], &[]), &[told, "of that, in this cold"]);
    says(&answer("shed-card", &shed, &["card"], &["--quiet", "--trials", "1000"]), &[told, "harder frost and age"]);
}
