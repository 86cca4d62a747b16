//! The first minutes: templates, questions and their options, and what is said of a file that answers another question.

use std::fs;
use std::io::Write;
use std::process::{Command, Stdio};

use serde_json::Value;

use super::program::{command, folder, refused, root, tideover, unbroken};

/// Survival that `run` tells of a file, and where.
#[track_caller]
fn answer(file: &str) -> Value {
    let output = tideover(&["run", file, "--json", "--quiet", "--trials", "2000"]);
    assert_eq!(output.status.code(), Some(0), "{file}: {}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("JSON")
}

#[test]
fn every_template_runs_and_its_answer_is_neither_never_nor_always() {
    let folder = folder("first", "templates");
    for template in ["fridge", "device", "load-shedding", "camp", "cabin"] {
        let file = folder.join(format!("{template}.toml")).display().to_string();
        let output = tideover(&["new", "--template", template, &file]);
        assert_eq!(output.status.code(), Some(0), "{template}: {}", unbroken(&output.stderr));
        let answer = answer(&file);
        let share = answer["survival"]["probability"].as_f64().expect("a share");
        println!("{template}: {share}");
        assert!((0.02..0.98).contains(&share), "{template}: {share}");
        // And at another place.
        let moved = tideover(&["new", "--template", template, "--place", "Split, Croatia"]);
        assert!(unbroken(&moved.stdout).contains("place = \"Split, "), "{template}");
    }
}

/// Eight answers as a person gives them, some of which must be given again.
const ANSWERS: &str = "springfield\nSpringfield, Illinois\n1.024 Wh\n1024 Wh\n1000W (2000W surge)\n1000 W\n2 x 100 W\n\
                       roof sideways\nroof south-west\nfridge, wifi, gramophone\nfridge, wifi, 2 phones, aquarium 30 W\n\
                       two days\nJanury\nJanuary, storm\n";

#[track_caller]
fn is_the_kit_of_the_answers(file: &str) {
    let text = fs::read_to_string(file).expect("the file");
    for part in [
        "place = \"Springfield, Illinois, USA\"",
        "rated_capacity = \"1024 Wh\"",
        "rated = \"1000 W\"",
        "count = 2",
        "rated = \"100 W\"",
        "tilt = \"30°\"",
        "facing = \"south-west\"",
        "like = \"fridge-freezer, 300 litres\"",
        "like = \"router\"",
        "like = \"phone\"",
        "name = \"aquarium\"",
        "watts = \"30 W\"",
        "lasts = \"2 days\"",
        "month = \"January\"",
        "begins_in_a_storm = true",
    ] {
        assert!(text.contains(part), "{part} is missing:\n{text}");
    }
    let answer = answer(file);
    assert_eq!(answer["place"]["nearest_town"].as_str(), Some("Springfield, Illinois, USA"));
}

#[test]
fn questions_are_asked_again_until_they_can_be_used() {
    let file = folder("first", "asked").join("mine.toml").display().to_string();
    let mut program = command(&["new", "--ask", &file])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    program.stdin.take().expect("its input").write_all(ANSWERS.as_bytes()).expect("it reads");
    let output = program.wait_with_output().expect("it ends");
    let asked = unbroken(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{asked}");
    for part in [
        "`springfield` is the name of",
        "\"1024 Wh\" or \"1.0240 Wh\"",
        "surge = \"2000 W\"",
        "`sideways` says nothing of panels",
        "`gramophone` is not a thing of the library",
        "\"January\"",
    ] {
        assert!(asked.contains(part), "{part} is not said:\n{asked}");
    }
    let told = unbroken(&output.stdout);
    for part in
        ["Near Springfield, Illinois, USA", "simulated two-day January outages that begin in a storm", "tideover run"]
    {
        assert!(told.contains(part), "{part} is not said:\n{told}");
    }
    is_the_kit_of_the_answers(&file);
    // It is left alone when it is there.
    refused(&["new", "--ask", &file], &["is there already"]);
}

/// The same on a terminal, which `script` of util-linux gives.
#[cfg(target_os = "linux")]
#[test]
fn a_terminal_is_asked_alike() {
    let file = folder("first", "terminal").join("mine.toml").display().to_string();
    let line = format!("'{}' new --ask '{file}'", env!("CARGO_BIN_EXE_tideover"));
    let started = Command::new("script")
        .args(["-qec", &line, "/dev/null"])
        .current_dir(root())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn();
    let Ok(mut program) = started else {
        println!("skipped: no program `script` that gives a terminal");
        return;
    };
    program.stdin.take().expect("its input").write_all(ANSWERS.as_bytes()).expect("it reads");
    let output = program.wait_with_output().expect("it ends");
    let seen = unbroken(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{seen}");
    assert!(seen.contains("Eight questions; Enter alone takes what stands in brackets."), "{seen}");
    assert!(seen.contains("Near Springfield, Illinois, USA"), "{seen}");
    is_the_kit_of_the_answers(&file);
}

#[test]
fn options_stand_for_the_questions_where_there_is_no_terminal() {
    let file = folder("first", "options").join("mine.toml").display().to_string();
    let all = [
        "new",
        &file,
        "--place",
        "Springfield, Illinois",
        "--capacity",
        "1024 Wh",
        "--ac",
        "1000 W",
        "--panels",
        "2 x 100 W",
        "--stand",
        "roof south-west",
        "--loads",
        "fridge, wifi, 2 phones, aquarium 30 W",
        "--lasts",
        "two days",
        "--month",
        "January, storm",
    ];
    let output = tideover(&all);
    assert_eq!(output.status.code(), Some(0), "{}", unbroken(&output.stderr));
    is_the_kit_of_the_answers(&file);
    refused(&["new", "--capacity", "1000 Wh"], &["--place", "a town is needed"]);
    refused(&["new", "--place", "Barre, Vermont", "--capacity", "100 Ah"], &["--capacity", "12.8 V x 100 Ah"]);
    // Nothing more to read: the option is named.
    let output = command(&["new", "--ask", "/nowhere/mine.toml"]).stdin(Stdio::null()).output().expect("it starts");
    assert_eq!(output.status.code(), Some(2));
    assert!(unbroken(&output.stderr).contains("give --place"), "{}", unbroken(&output.stderr));
}

#[test]
fn a_file_that_answers_another_question_is_named_as_such() {
    refused(&["run", "scenarios/records/healthy.toml"], &["is a record of bench tests", "tideover prove"]);
    refused(&["run", "scenarios/lineup/catalogue.toml"], &["is a catalogue of kits", "tideover lineup"]);
}

#[test]
fn every_answer_says_near_which_town_it_is() {
    let storm = "scenarios/winter-storm.toml";
    for arguments in [
        &["run", storm, "--quiet", "--trials", "200"][..],
        &["check", storm],
        &["card", storm, "--quiet", "--trials", "200"],
        &["compare", storm, "--quiet", "--trials", "200", "--set", "outage.month=July"],
        &["now", storm, "--quiet", "--trials", "200", "--charge", "43", "--at", "14.01.2027 20:30"],
        &["now", storm, "--quiet", "--trials", "200", "--charge", "43%", "--at", "20:30"],
        &["climate", "show", "--place", "Barre, Vermont, USA"],
    ] {
        let output = tideover(arguments);
        let told = unbroken(&output.stdout);
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", unbroken(&output.stderr));
        assert!(told.contains("Vermont, USA"), "{arguments:?}: {told}");
    }
    let shown = tideover(&["climate", "show", "--place", "springfield"]);
    assert_eq!(shown.status.code(), Some(2));
    assert!(unbroken(&shown.stderr).contains("add the region or the country"));
}

#[test]
fn what_is_taken_for_granted_is_said_with_its_weight() {
    let output = tideover(&["run", "scenarios/winter-storm.toml", "--quiet", "--json", "--trials", "2000"]);
    let answer: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let assumed: Vec<&Value> = answer["notes"].as_array().unwrap().iter().filter(|n| n["kind"] == "assumed").collect();
    let of = |what: &str| assumed.iter().find(|note| note["what"] == what).copied();
    let sun = of("panels_in_the_sun").expect("panels");
    let text = sun["text"].as_str().unwrap();
    assert!(text.contains("keys: shade, out") && text.contains("2,000 trials"), "{text}");
    assert!(sun["turned"]["difference"].as_f64().unwrap() <= 0.0, "{sun}");
    // The same variant compared says the same on the same trials.
    let set = "panel.0.shade=[{ hours = \"14:00-24:00\", loses = \"90 %\" }]";
    let output =
        tideover(&["compare", "scenarios/winter-storm.toml", "--quiet", "--json", "--trials", "2000", "--set", set]);
    let compared: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let last = compared["variants"].as_array().unwrap().last().unwrap();
    assert_eq!(last["difference"], sun["turned"]["difference"], "{last}");
}
