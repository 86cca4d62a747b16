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

/// What a command prints of a scenario and says beside, and its exit code.
fn printed(test: &str, text: &str, arguments: &[&str]) -> (Vec<u8>, Vec<u8>, Option<i32>) {
    let file = folder("beyond", test).join("scenario.toml");
    fs::write(&file, text).expect("a file");
    let file = file.display().to_string();
    let output = command(&[&[arguments[0], &file], &arguments[1..]].concat()).output().expect("the program starts");
    (output.stdout, output.stderr, output.status.code())
}

/// All of it, broken lines joined, with its exit code.
fn asked(test: &str, text: &str, arguments: &[&str]) -> (String, Option<i32>) {
    let (out, err, code) = printed(test, text, arguments);
    (format!("{} {}", unbroken(&out), unbroken(&err)), code)
}

fn json(test: &str, text: &str, arguments: &[&str]) -> Value {
    let (out, err, code) = printed(test, text, &[arguments, &["--json", "--quiet"]].concat());
    assert_eq!(code, Some(0), "{}", String::from_utf8_lossy(&err));
    serde_json::from_slice(&out).expect("JSON")
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
        "For the rest: in 400 simulated one-day July outages here, the radio stayed on through 100 of 100",
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
    let cells = told[from..].replace("none", "0 h").replace("under 1 h", "0.5 h");
    let words: Vec<&str> = cells.split(' ').collect();
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
    for row in ["everything", "radio alone"] {
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
    let table = &told[told.find("by the charge that it shows 100 %").unwrap_or(0)
        ..told.find("39 of 40 kits like this one").expect("words")];
    assert!(!table.contains(" min "), "{table}");
}

fn demo(name: &str) -> String {
    fs::read_to_string(crate::program::root().join(format!("scenarios/{name}.toml"))).expect("a demo")
}

/// What is free comes before what is to be bought, with the same numbers as the run of the kit as it is.
#[test]
fn sizing_tells_what_is_free_before_it_sells() {
    let (told, _) = asked("size-free", &demo("winter-storm"), &["size", "--trials", "500", "--quiet"]);
    let run = json("size-run", &demo("winter-storm"), &["run", "--trials", "500"]);
    let all = run["free_together"]["text"].as_str().expect("words");
    let with = all.split("ride through ").nth(1).expect("a share").trim_end_matches('.');
    let (free, sold) = (told.find("Free first: your kit as it is"), told.find("To ride through 90 %"));
    assert!(free.expect("what is free") < sold.expect("what is sold"), "{told}");
    assert!(told.contains(&format!("{with}:")), "{with}: {told}");
}

/// The router's small load lets the AC outlet switch off, which no battery mends and the 12 V outlet does, free of charge.
#[test]
fn sizing_leads_with_what_is_free_where_no_kit_suffices() {
    let (told, _) = asked("size-balcony", &demo("balcony"), &["size", "--trials", "300", "--quiet"]);
    let place = |part: &str| told.find(part).unwrap_or_else(|| panic!("{part}: {told}"));
    let parts = [
        "Free first: your kit as it is rides through",
        "the largest of this grid, with what costs nothing (router on the 12 V DC outlet (8 W there)): Count on it.",
        "As things are used now, no kit of this grid:",
        "Of 100 outages, ridden through at least",
    ];
    assert!(parts.map(place).is_sorted(), "{told}");
    assert!(told.contains("size it again: a smaller kit may do"), "{told}");
    // Nothing is said of what is not there.
    for absent in ["What reliability costs", "none of these", "A thick line", "* the least"] {
        assert!(!told.contains(absent), "{absent}: {told}");
    }
    let facts = json("size-balcony-json", &demo("balcony"), &["size", "--trials", "300"]);
    let (own, free) = (&facts["own"]["survival"]["low"], &facts["own"]["free"]);
    assert!(own.as_f64() < free["survival"]["low"].as_f64(), "{}", facts["own"]);
    assert!(free["changes"].as_array().is_some_and(|changes| !changes.is_empty()), "{free}");
    let best = &facts["largest_changes"][0];
    assert!(best["costs"] == "nothing" && best["survival"]["low"].as_f64() >= Some(0.95), "{best}");
}

/// The scenario's own kit is marked in the grid, none of its words is of nought panels, and one kit has one figure in all tables.
#[test]
fn a_sizing_marks_the_own_kit_and_tells_each_kit_alike() {
    let (told, _) = asked("size-marks", &demo("device-night"), &["size", "--trials", "300", "--quiet"]);
    assert!(told.contains("= your kit as it is.") && told.contains("= 5"), "{told}");
    assert!(told.contains("with no panels") && !told.contains("0 panels "), "{told}");
    assert!(told.contains("said of your kit as the scenario has it, not of a kit that is proposed here"), "{told}");
    let (storm, _) = asked("size-alike", &demo("winter-storm"), &["size", "--trials", "300", "--quiet"]);
    let facts = json("size-alike-json", &demo("winter-storm"), &["size", "--trials", "300"]);
    let kit = &facts["proposed"];
    let lead = storm.split("It rides through ").nth(1).and_then(|rest| rest.split(". ").next()).expect("a share");
    assert!(storm.matches(lead.trim_end_matches('.')).count() >= 3, "{lead}, {kit}: {storm}");
}

/// By hand: 5 W for 24 h are 120 Wh of 2 kWh, with or without a panel; but nobody is there to switch AC on before 20:00, so that
/// outages that begin in the morning are dark for hours with any battery.
#[test]
fn sizing_names_the_outlet_where_that_is_the_cause() {
    let away = kit(&load("router", "ac", "vital", 12, ""))
        .replace("lasts = \"24 h\"", "lasts = \"24 h\"\nsomebody_home = [\"20:00-22:00\"]");
    let (told, code) = asked("size-outlet", &away, &["size", "--trials", "400", "--quiet"]);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("The cause: the AC outlet.") && !told.contains("worse than a mean one"), "{told}");
}

#[test]
fn years_say_what_they_assume() {
    let (told, _) = asked("years", &demo("ten-years"), &["years", "--histories", "20", "--quiet"]);
    for part in [
        "Panels are taken to stand out unshaded",
        "Between outages the station is taken to be kept at 22 °C.",
        "\"The harshest law\" is the one that gives fewest years",
        "A full cycle is as much drawn as the label holds",
        // The names of towns are under a licence that asks for this line.
        "Places: GeoNames, CC BY 4.0",
        "Cautions: follow the makers' manuals and local code",
        "kept full *",
        "laboratory law A",
        "laboratory law B: Naumann 2018 and Wang 2011.",
        "Each month had at least",
        "costs 10 USD",
        "or at most 1 of 200 fewer",
    ] {
        assert!(told.contains(part), "{part}: {told}");
    }
}

#[test]
fn comparisons_and_checks_have_the_cautions_that_their_kits_call_for() {
    let set = ["--trials", "50", "--quiet", "--set", "outage.starts_charged=70 %"];
    let (told, code) = asked("care", &demo("two-weeks-of-fuel"), &[&["compare"][..], &set].concat());
    assert!(code == Some(0) && told.contains("Take care - Generator: outdoors only"), "{told}");
    let (told, _) = asked("plain-care", &demo("balcony"), &[&["compare"][..], &set].concat());
    assert!(!told.contains("Generator:"), "{told}");
    let (told, _) = asked("lead", &demo("twice-daily-cuts"), &["check"]);
    assert!(told.contains("Lead-acid battery: charging it gives off hydrogen"), "{told}");
    let (told, _) = asked("second", &demo("two-stations"), &["check"]);
    assert!(told.contains("a second station gives beside that") && !told.contains("hydrogen"), "{told}");
    assert!(!told.contains("Generator: outdoors"), "{told}");
}

/// Snow and frost are of the month that it is, not of the scenario's.
#[test]
fn a_look_ahead_speaks_of_the_month_that_it_is() {
    let at = |date: &'static str| ["now", "--trials", "100", "--charge", "60%", "--quiet", "--at", date];
    let (winter, _) = asked("january", &demo("winter-storm"), &at("2027-01-14 12:00"));
    let (summer, _) = asked("july", &demo("winter-storm"), &at("2027-07-14 12:00"));
    assert!(winter.contains("may lie under snow") && !summer.contains("snow"), "{summer}");
}

/// Cuts that come every day at the same hours are judged one by one: the one that is on, or else the next.
#[test]
fn a_look_ahead_judges_the_cut_that_is_on_first() {
    let cuts = kit(&load("radio", "dc", "vital", 5, ""))
        .replace("lasts = \"24 h\"", "lasts = \"30 days\"\nevery_day = [\"18:00-22:00\"]");
    let at = |clock: &'static str| ["now", "--trials", "100", "--charge", "60%", "--at", clock];
    let until = |test: &str, clock: &'static str| json(test, &cuts, &at(clock))["until"].clone();
    let on = until("cut-on", "2027-07-14 19:00");
    assert_eq!((&on["kind"], &on["hours_h"]), (&"this_cut".into(), &3.0.into()));
    let next = until("cut-next", "2027-07-14 12:00");
    assert_eq!((&next["kind"], &next["hours_h"]), (&"next_cut".into(), &10.0.into()));
}

/// By hand: 60 W from 22:00 to 07:00 out of 240 Wh are four hours of it; at 12:00 the device rests for ten hours first, at 22:00 it
/// begins at once. In a look ahead the hour is known.
#[test]
fn hours_of_a_device_begin_at_the_hour_that_it_is() {
    let device = "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nmonth = \"January\"\nlasts = \"24 h\"\n[station]\nrated_capacity = \
                  \"240 Wh ± 0 %\"\nown_draw = \"0 W\"\nself_discharge = \"0 %\"\nloses_by_rate = \"0 %\"\ncharge_efficiency = \"100 % ± 0 %\"\n\
                  discharge_efficiency = \"100 % ± 0 %\"\n[station.dc_outlet]\nlimit = \"120 W\"\nefficiency = \"100 %\"\nidle = \"0 W\"\n"
        .to_string()
        + &load("breather", "dc", "vital", 60, "medical = true\nhours = \"22:00-07:00\"");
    let runs = |test: &str, clock: &'static str| {
        let at = ["now", "--trials", "100", "--charge", "100 % ± 0 %", "--at", clock];
        json(test, &device, &at)["device_alone"]["runs_h"].as_f64().expect("hours")
    };
    assert!((runs("at-noon", "2027-01-14 12:00") - 14.0).abs() < 1e-6);
    assert!((runs("at-night", "2027-01-14 22:00") - 4.0).abs() < 1e-6);
}

/// Keys, options and brackets of a file are for whoever edits it: not for verdicts, steps, tables and captions.
#[test]
fn no_key_or_option_stands_before_what_an_answer_rests_on() {
    for name in ["winter-storm", "two-weeks-of-fuel", "two-stations", "twice-daily-cuts", "device-night"] {
        let now = ["now", "--trials", "60", "--charge", "60%", "--at", "2027-07-14 12:00", "--quiet"];
        for arguments in [&["run", "--trials", "60", "--quiet"][..], &["card", "--trials", "60", "--quiet"], &now] {
            let (told, _) = asked(&format!("keys-{name}-{}", arguments[0]), &demo(name), arguments);
            let before = told.split("What this rests on").next().unwrap_or_default();
            let words = ["`", "[[", "(typed", "under [", "starts_charged", "keep_above", "allow_unmet", "load.hours"];
            // A chart draws with dashes: options stand behind a space.
            let options = [" --set", " --sky", " --until", " --fuel", " --below", " --loads", " --rated"];
            for word in words.into_iter().chain(options) {
                let text = before;
                let at = text.find(word).map(|at| text[..at].chars().rev().take(80).collect::<Vec<_>>());
                let at = at.map(|letters| letters.into_iter().rev().collect::<String>());
                assert_eq!(at, None, "{name} {}: {word}", arguments[0]);
            }
        }
    }
}
