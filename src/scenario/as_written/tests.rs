//! Texts of labels and letters against what is to be read in them, and what a refusal says to write.
//!
//! What people write is common practice, no source; what it means is arithmetic (volts times amp-hours), the compass (a minute of
//! arc is a sixtieth of a degree) or the order of a date's parts.

use crate::scenario::{Problem, Scenario, Source, read};
use toml::{Table, Value};

const BASE: &str = concat!(
    section!("site", latitude: 36.8, longitude: 10.2),
    section!("outage", month = "January", lasts = "2 days"),
    section!("station", rated_capacity = "1000 Wh", chemistry = "LFP"),
    section!("station.inverter", rated = "1500 W"),
    section!("station.usb", limit = "60 W"),
    section!("station.solar_input", limit = "400 W"),
    entry!("panel", rated = "100 W", tilt = "30°", facing = "south"),
    load!("fan", "ac", "vital", "30 W"),
    load!("lamp", "ac", "useful", "8 W", hours = "18:00-23:00"),
    load!("phone", "usb", "useful", "10 W", energy_a_day = "20 Wh"),
    load!("pump", "ac", "spare", "100 W", lift = "5 m", water_a_day = "200 L"),
);

/// The base with one key as written.
fn with(key: &str, written: &str) -> Source {
    let mut root: Table = BASE.parse().expect("TOML");
    if key == "outage.start" {
        root["outage"].as_table_mut().expect("a section").remove("month");
    }
    let (section, last) = key.rsplit_once('.').expect("a section");
    let mut parts = section.split('.');
    let mut here = root.get_mut(parts.next().expect("a part"));
    for part in parts {
        here = match here {
            Some(Value::Array(list)) => list.get_mut(part.parse::<usize>().expect("a place")),
            Some(value) => value.get_mut(part),
            None => None,
        };
    }
    let number = (key == "site.latitude" || key == "site.longitude").then(|| written.parse().ok()).flatten();
    let value = number.map_or_else(|| Value::String(written.into()), Value::Float);
    here.and_then(Value::as_table_mut).expect("a section").insert(last.into(), value);
    Source::new("label.toml", toml::to_string(&root).expect("TOML"))
}

fn reads(key: &str, written: &str) -> Result<(Scenario, Vec<Problem>), Vec<Problem>> {
    read(&with(key, written)).map(|(scenario, _, problems)| (scenario, problems))
}

#[test]
fn texts_of_labels_are_taken_or_asked_back() {
    let mut rows = csv::Reader::from_reader(include_str!("../../../tests/data/label_texts.csv").as_bytes());
    let mut wrong = Vec::new();
    let mut count = 0;
    for row in rows.records() {
        let row = row.expect("a row");
        let (key, written, expected, says) = (&row[0], &row[1], &row[2], &row[3]);
        count += 1;
        let told = |problems: &[Problem]| {
            let own = problems.iter().filter(|problem| problem.key == key);
            own.map(|p| format!("{}; {}", p.title(), p.help.as_deref().unwrap_or("no help")))
                .collect::<Vec<_>>()
                .join(" / ")
        };
        match (reads(key, written), expected) {
            (Err(problems), "") => {
                let told = told(&problems);
                for part in says.split('|') {
                    if !told.contains(part) {
                        wrong.push(format!("{key} {written:?} should say {part:?}: {told}"));
                    }
                    // What is said to be written can be.
                    let text = part.strip_prefix('"').and_then(|part| part.strip_suffix('"'));
                    if let Some(text) = text.filter(|text| key != "outage.start" && reads(key, text).is_err()) {
                        wrong.push(format!("{key} {written:?}: {text:?} cannot be written either"));
                    }
                }
            }
            (Err(problems), _) => wrong.push(format!("{key} {written:?} is refused: {}", told(&problems))),
            (Ok(_), "") => wrong.push(format!("{key} {written:?} is taken")),
            (Ok((scenario, problems)), _) => {
                match reads(key, expected) {
                    Ok((as_expected, _)) if as_expected == scenario => {}
                    _ => wrong.push(format!("{key} {written:?} is not {expected:?}")),
                }
                let told = told(&problems);
                if told.is_empty() != says.is_empty() || !told.contains(says) {
                    wrong.push(format!("{key} {written:?} should say {says:?}: {told:?}"));
                }
            }
        }
    }
    assert!(count >= 60, "{count} texts");
    assert!(wrong.is_empty(), "{} of {count}\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn moments_are_read_or_asked_back() {
    use super::{Moment, moment};
    let at = |date, minute_of_day| Ok(Moment { date, minute_of_day });
    let day = Some((2027, 1, 14));
    for (text, expected) in [
        ("2027-01-14 20:30", at(day, 1230)),
        ("2027-01-14T20:30", at(day, 1230)),
        ("2027-01-14 20:30:00", at(day, 1230)),
        ("14.1.2027 8:30 pm", at(day, 1230)),
        ("14 Jan 2027, 8:30pm", at(day, 1230)),
        ("January 14, 2027 20:30", at(day, 1230)),
        ("1/14/2027 20:30", at(day, 1230)),
        ("20:30", at(None, 1230)),
        ("8:30 pm", at(None, 1230)),
        ("noon", at(None, 720)),
    ] {
        assert_eq!(moment(text), expected, "{text}");
    }
    for text in ["8", "25:00", "2027-02-30 12:00", "01/02/2027 12:00", "1714-01-14 12:00", "", "T", "tomorrow", "é 1"]
    {
        assert!(moment(text).is_err(), "{text}");
    }
}
