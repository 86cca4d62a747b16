//! A load that is more than its outlet gives: the owner gets a verdict and the answer for the rest, in words, page and JSON.

use serde_json::Value;
use std::fs;

use crate::program::{command, folder, unbroken};

/// A kit of 500 W at AC, whose radio of 5 W on DC runs for days; and loads.
fn kit(loads: &str) -> String {
    format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nmonth = \"July\"\nlasts = \"24 h\"\n[station]\nrated_capacity = \"2 kWh\"\n\
         [station.inverter]\nrated = \"500 W\"\nswitches_off_below = \"0 W\"\n[station.dc_outlet]\nlimit = \"120 W\"\n[station.wall_charger]\n\
         limit = \"200 W\"\n{loads}"
    )
}

fn load(name: &str, outlet: &str, priority: &str, watts: u32, more: &str) -> String {
    format!(
        "[[load]]\nname = \"{name}\"\noutlet = \"{outlet}\"\npriority = \"{priority}\"\nwatts = \"{watts} W\"\n{more}\n"
    )
}

/// What a command says of a scenario, broken lines joined, with its exit code.
fn asked(test: &str, text: &str, arguments: &[&str]) -> (String, Option<i32>) {
    let file = folder("beyond", test).join("scenario.toml");
    fs::write(&file, text).expect("a file");
    let file = file.display().to_string();
    let output = command(&[&[arguments[0], &file], &arguments[1..]].concat()).output().expect("the program starts");
    (unbroken(&output.stdout) + &unbroken(&output.stderr), output.status.code())
}

fn json(test: &str, text: &str, arguments: &[&str]) -> Value {
    let (told, code) = asked(test, text, &[arguments, &["--json", "--quiet"]].concat());
    assert_eq!(code, Some(0), "{told}");
    serde_json::from_str(&told).expect("JSON")
}

const RADIO_AND_KETTLE: [&str; 2] = ["--trials", "400"];

fn vital_kettle() -> String {
    kit(&(load("radio", "dc", "vital", 5, "") + &load("kettle", "ac", "vital", 2000, "hours = \"07:00-08:00\"")))
}

/// By hand: 2000 W do not come out of 500 W; 5 W for 24 h are 120 Wh of 2 kWh, and stay on.
#[test]
fn a_vital_load_beyond_its_outlet_is_never_to_be_counted_on_and_the_rest_is_answered() {
    let run = [&["run"][..], &RADIO_AND_KETTLE].concat();
    let (told, code) = asked("run", &vital_kettle(), &[&run[..], &["--quiet"]].concat());
    assert_eq!(code, Some(0), "{told}");
    for part in [
        "Do not count on it.",
        "The kettle cannot run on this station: 2000 W, the outlet gives 500 W.",
        "taken as never plugged in",
        "For the rest: in 400 simulated 24-hour July outages here, the radio stayed on through 100 of 100",
        "1. Do not plug the kettle into this station: it cannot run there.",
    ] {
        assert!(told.contains(part), "{part}: {told}");
    }
    let answer = json("json", &vital_kettle(), &run);
    assert_eq!(answer["verdict"]["kind"], "do_not_count");
    assert_eq!((&answer["judged_survival"], &answer["survival"]["probability"]), (&0.0.into(), &1.0.into()));
    assert_eq!(answer["overloads"][0]["never_runs"], true);
    assert_eq!(answer["overloads"][0]["loads"], serde_json::json!(["kettle"]));
    let kettle = answer["loads"].as_array().expect("loads").iter().find(|load| load["name"] == "kettle").expect("it");
    assert_eq!((&kettle["priority"], &kettle["off_share"]), (&"vital".into(), &1.0.into()));
    // A required share is not met, whatever the rest does.
    let (told, code) = asked("require", &vital_kettle(), &[&run[..], &["--quiet", "--require", "50 %"]].concat());
    assert_eq!(code, Some(4), "{told}");
}

#[test]
fn a_spare_load_beyond_its_outlet_leaves_the_verdict_of_the_rest() {
    let spare =
        vital_kettle().replace("priority = \"vital\"\nwatts = \"2000 W\"", "priority = \"spare\"\nwatts = \"2000 W\"");
    let run = [&["run"][..], &RADIO_AND_KETTLE].concat();
    let answer = json("spare", &spare, &run);
    assert_eq!((&answer["verdict"]["kind"], &answer["overloads"][0]["vital"]), (&"count_on_it".into(), &false.into()));
    let (told, _) = asked("spare-text", &spare, &[&run[..], &["--quiet"]].concat());
    assert!(told.contains("The kettle cannot run on this station") && !told.contains("For the rest"), "{told}");
}

/// Where nothing vital is left, nothing is answered but that.
#[test]
fn a_kit_whose_only_vital_load_is_too_big_survives_nothing() {
    let alone = kit(&load("kettle", "ac", "vital", 2000, "hours = \"07:00-08:00\""));
    let answer = json("alone", &alone, &["run", "--trials", "400"]);
    assert_eq!((&answer["survival"]["probability"], &answer["verdict"]["kind"]), (&0.0.into(), &"do_not_count".into()));
    assert!(!answer["text"].as_str().expect("words").contains("the rest"), "{}", answer["text"]);
}

#[test]
fn every_question_answers_for_the_rest() {
    let never = "The kettle cannot run on this station: 2000 W, the outlet gives 500 W.";
    let free = "Do not plug the kettle into this station: it cannot run there.";
    let now = ["now", "--trials", "200", "--charge", "80%", "--at", "2027-07-14 06:00", "--quiet"];
    let (told, code) = asked("now", &vital_kettle(), &now);
    assert!(code == Some(0) && told.contains(never) && told.contains(&format!("1. {free}")), "{told}");
    assert!(told.contains("The radio lasts 24 h in") && told.contains("do not count on it"), "{told}");
    let (told, code) = asked("card", &vital_kettle(), &["card", "--trials", "200", "--quiet"]);
    assert!(code == Some(0) && told.contains(never) && told.contains(&format!("First 1. {free}")), "{told}");
    assert!(!told.contains("kettle alone"), "{told}");
    let (told, code) = asked("size", &vital_kettle(), &["size", "--trials", "200", "--quiet"]);
    assert!(code == Some(0) && told.contains(never) && told.contains("leave it unplugged"), "{told}");
    let (told, code) =
        asked("compare", &vital_kettle(), &["compare", "--trials", "200", "--quiet", "--set", "load.1.watts=400 W"]);
    assert!(code == Some(0) && told.contains(never), "{told}");
    let (told, code) = asked("check", &vital_kettle(), &["check"]);
    assert!(code == Some(0) && told.contains("is more than its outlet gives: it cannot run on this station"), "{told}");
    let (told, code) =
        asked("lacking", &vital_kettle().replace("outlet = \"ac\"", "outlet = \"usb\""), &["run", "--quiet"]);
    assert!(code == Some(2) && told.contains("is an outlet that the station lacks"), "{told}");
}

/// Each free change is told alone, and what all come to together on the same trials beside them: no less than the best of them, and
/// what the kit does with all of them written into it.
#[test]
fn free_changes_are_told_together() {
    let winter = ["run", "--trials", "2000", "--seed", "5"];
    let text = fs::read_to_string(crate::program::root().join("scenarios/winter-storm.toml")).expect("a demo");
    let answer = json("together", &text, &winter);
    let all = &answer["free_together"];
    let best = answer["changes"].as_array().expect("changes").iter().filter(|change| change["costs"] == "nothing");
    let best = best.filter_map(|change| change["survival"]["probability"].as_f64()).fold(0.0, f64::max);
    let with = all["survival"]["probability"].as_f64().expect("a share");
    assert!(with >= best, "{all}");
    assert!(all["changes"].as_array().is_some_and(|names| names.len() > 1), "{all}");
    let (told, _) = asked("together-text", &text, &[&winter[..], &["--quiet"]].concat());
    assert!(told.contains("they do not add up. The free ones together ("), "{told}");
    assert!(told.contains(all["text"].as_str().expect("words")), "{told}");
}

/// Hours of one card by charge, the highest first, in rows by name.
fn hours(told: &str, row: &str) -> Vec<f64> {
    let from = told.find(&format!(" {row} ")).unwrap_or_else(|| panic!("{row}: {told}")) + row.len() + 2;
    let words: Vec<&str> = told[from..].split(' ').collect();
    words
        .chunks(2)
        .map_while(|pair| pair[0].parse::<f64>().ok().filter(|_| pair.len() == 2 && pair[1] == "h"))
        .collect()
}

/// A night light alone on AC, off by its rule below 60 %, is dark within hours of a full battery where the outlet sleeps; below the
/// mark it is off and the radio runs on: no gain of the lower charge.
#[test]
fn hours_of_a_card_never_rise_as_the_charge_falls() {
    let sleeps =
        kit(&(load("radio", "dc", "vital", 30, "") + &load("night light", "ac", "useful", 3, "off_below = \"60 %\"")))
            .replace("switches_off_below = \"0 W\"", "sleeps = true\nwakes_above = \"10 W\"");
    let (told, code) = asked("falls", &sleeps, &["card", "--trials", "200", "--quiet"]);
    assert_eq!(code, Some(0), "{told}");
    for row in ["everything", "vital only", "radio alone"] {
        let hours = hours(&told, row);
        assert!(hours.len() == 4 && hours.windows(2).all(|pair| pair[1] <= pair[0]), "{row}: {hours:?}: {told}");
    }
}

#[test]
fn a_card_says_what_it_takes_for_granted_and_each_column_has_one_unit() {
    let (told, _) = asked(
        "holds",
        &fs::read_to_string(crate::program::root().join("scenarios/winter-storm.toml")).expect("a demo"),
        &["card", "--trials", "200", "--quiet"],
    );
    for part in ["This holds if the panels stand unshaded", "free of snow", "room stays at 20 °C"] {
        assert!(told.contains(part), "{part}: {told}");
    }
    let table = &told[told.find("by that charge 100 %").unwrap_or(0)..told.find("Lower ends of 95 %").expect("words")];
    assert!(!table.contains(" min "), "{table}");
}
