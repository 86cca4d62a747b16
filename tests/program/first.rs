//! The first minutes: templates, questions and their options, and what is said of a file that answers another question.

use std::fs;
use std::io::Write;
use std::process::{Command, Stdio};

use serde_json::Value;

use super::program::{command, folder, program, refused, root, tideover, unbroken};

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

/// Eight answers as a person gives them.
const ANSWERS: [&str; 8] = [
    "Springfield, Illinois",
    "1024 Wh",
    "1000W (2000W surge)",
    "2 x 100 W",
    "roof south-west",
    "fridge, wifi, 2 phones, aquarium 30 W, 3 W lamp",
    "two days",
    "January, storm",
];

/// The same, some of which must be given again.
const WITH_SLIPS: &str = "back\nspringfield\nbergen norway\nback\nSpringfield, Illinois\nI don't know\nback\n1.024 Wh\n1024 Wh\nback\n\nhelp\n600 VA\n1000W (2000W surge)\n2 x 100 W\n\
                          roof sideways\nroof south-west\nfridge, frigde, gramophone\n\
                          fridge, wifi, 2 phones, aquarium 30 W, 3 W lamp\ntwo days\nJanury\nJanuary, storm\n";

#[track_caller]
fn is_the_kit_of_the_answers(file: &str) {
    let text = fs::read_to_string(file).expect("the file");
    for part in [
        "place = \"Springfield, Illinois, USA\"",
        "rated_capacity = \"1024 Wh\"",
        "rated = \"1000 W\"",
        "surge = \"2000 W\"",
        "count = 2",
        "rated = \"100 W\"",
        "tilt = \"30°\"",
        "facing = \"south-west\"",
        "like = \"fridge-freezer, 300 litres\"",
        "like = \"router\"",
        "like = \"phone\"",
        "name = \"aquarium\"",
        "watts = \"30 W\"",
        "like = \"LED lamp\"\npriority = \"vital\"\nwatts = \"3 W\"",
        "lasts = \"2 days\"",
        "month = \"January\"",
        "begins_in_a_storm = true",
    ] {
        assert!(text.contains(part), "{part} is missing:\n{text}");
    }
    let answer = answer(file);
    assert_eq!(answer["place"]["nearest_town"].as_str(), Some("Springfield, Illinois, USA"));
}

/// What `new --ask FILE` says of answers from a pipe: exit code, questions and remarks, and the answer.
#[track_caller]
fn piped(file: &str, answers: &str) -> (Option<i32>, String, String) {
    let mut program = command(&["new", "--ask", file])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    // It may end before it has read them all.
    let _ = program.stdin.take().expect("its input").write_all(answers.as_bytes());
    let output = program.wait_with_output().expect("it ends");
    (output.status.code(), unbroken(&output.stderr), unbroken(&output.stdout))
}

#[test]
fn answers_from_a_pipe_make_the_file_or_end_at_the_first_that_cannot_be_used() {
    let file = folder("first", "asked").join("mine.toml").display().to_string();
    // The next answer is not taken for the one that was refused.
    for (at, wrong, says) in [
        (0, "springfield", "error: --place: `springfield` is the name of"),
        (
            1,
            "1.024 Wh",
            "error: --capacity: `1.024 Wh` can be read in two ways, as 1024 Wh or as 1.0240 Wh, and no station holds so little: write \
             \"1024 Wh\"",
        ),
        (3, "quit", "error: left before the last question; nothing is written"),
        (2, "600 VA", "error: --ac: \"600 VA\""),
        (4, "roof sideways", "error: --stand: `sideways` says nothing of panels"),
        (5, "fridge, gramophone", "error: --loads: `gramophone` is not a thing of the library"),
        (5, "frigde", "did you mean \"fridge\"?"),
        (6, "overnight", "write how long the night is"),
        (7, "Janury", "\"January\""),
    ] {
        let mut answers = ANSWERS;
        answers[at] = wrong;
        let (code, asked, told) = piped(&file, &answers.join("\n"));
        assert!(code == Some(2) && told.is_empty() && asked.contains(says), "{wrong}: {asked}");
        assert_eq!(asked.matches("error:").count(), 1, "{wrong}: {asked}");
        assert!(!std::path::Path::new(&file).exists(), "{wrong}: a file is left behind");
    }
    let (code, asked, told) = piped(&file, &ANSWERS.join("\n"));
    assert_eq!(code, Some(0), "{asked}");
    for part in [
        "Near Springfield, Illinois, USA",
        "simulated two-day January outages that begin in a storm",
        "Do not count on it.",
        "half of these failures begin between",
        "1000W (2000W surge): 1000 W for hours, 2000 W for a moment",
        "The battery is 80 % full as the lights go out (outage.starts_charged)",
        "The solar input takes 200 W at most",
        "The panels are wired in parallel",
        "tideover run",
    ] {
        assert!(told.contains(part), "{part} is not said:\n{told}");
    }
    is_the_kit_of_the_answers(&file);
    // It is left alone when it is there.
    refused(&["new", "--ask", &file], &["is there already"]);
}

#[test]
fn hours_of_daily_cuts_become_cuts_that_come_back() {
    let file = folder("first", "cuts").join("mine.toml").display().to_string();
    let output = tideover(&[
        "new",
        &file,
        "--place",
        "36°50'N 10°11'E",
        "--capacity",
        "12 V 100 Ah AGM",
        "--ac",
        "600 W separate inverter",
        "--panels",
        "2 x 150 W, PWM controller, input 300",
        "--stand",
        "roof",
        "--loads",
        "wifi, fan 40 W 18:00-23:00, 3 lamps",
        "--lasts",
        "7pm-10pm and 10:00-12:30 for 3 weeks",
        "--charger",
        "a charger of 120 W",
        "--month",
        "July",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", unbroken(&output.stderr));
    let text = fs::read_to_string(&file).expect("the file");
    for part in [
        "latitude = 36.83333\nlongitude = 10.18333\n",
        "timezone = \"Africa/Tunis\"",
        "every_day = [\"19:00-22:00\", \"10:00-12:30\"]",
        "lasts = \"21 days\"",
        "rated_capacity = \"1200 Wh\"",
        "chemistry = \"lead-acid\"",
        "switches_off_below = \"0 W\"",
        "[station.wall_charger]",
        "limit = \"120 W\"",
        "limit = \"300 W\"",
        "pwm_at = \"13 V\"",
        "max_power_voltage = \"18 V\"",
        "hours = \"18:00-23:00\"",
        "count = 3",
    ] {
        assert!(text.contains(part), "{part} is missing:\n{text}");
    }
    let told = unbroken(&output.stdout);
    for part in ["spells of daily cuts", "between the cuts a wall charger draws up to 120 W", "300: read as 300 W"] {
        assert!(told.contains(part), "{part} is not said:\n{told}");
    }
    let lasts = |lasts| ["new", "--place", "Tunis", "--lasts", lasts];
    refused(
        &lasts("3 hours a day"),
        &["--lasts", "at which hours the power is cut", "\"10:00-14:00 and 18:00-20:00\""],
    );
    let file = tideover(&lasts("evenings 19:00-23:30"));
    assert_eq!(file.status.code(), Some(2), "{}", unbroken(&file.stderr));
}

#[test]
fn numbers_alone_are_taken_where_the_question_says_their_unit() {
    let of = |option, text| tideover(&["new", "--place", "Tunis", option, text]);
    for (option, text, line) in [
        ("--capacity", "1000", "rated_capacity = \"1000 Wh\""),
        ("--capacity", "2 x 12.8 V 100 Ah LFP", "rated_capacity = \"2560 Wh\""),
        ("--capacity", "two 12 V 100 Ah gel batteries", "rated_capacity = \"2400 Wh\""),
        ("--ac", "1500", "rated = \"1500 W\""),
        ("--ac", "1000/2000 W", "surge = \"2000 W\""),
        ("--panels", "200", "rated = \"200 W\""),
        ("--panels", "2 panels of 100W", "count = 2"),
        ("--panels", "100 W x 3", "count = 3"),
    ] {
        let output = of(option, text);
        let told = String::from_utf8_lossy(&output.stdout).into_owned();
        assert!(output.status.code() == Some(0) && told.contains(line), "{text}: {told}{}", unbroken(&output.stderr));
    }
    for (option, text, says) in [
        ("--capacity", "100", "\"12.8 V x 100 Ah\""),
        ("--capacity", "1.024", "write \"1024 Wh\""),
        ("--capacity", "24 V 100 Ah", "AGM"),
        ("--ac", "5", "\"5 W\""),
        ("--panels", "1.500 W", "\"1500 W\""),
        ("--panels", "2 x 100 W and 1 x 50 W", "panels of one kind"),
        ("--loads", "aquarium 30", "\"aquarium 30 W\""),
    ] {
        let output = of(option, text);
        let told = unbroken(&output.stderr);
        assert!(output.status.code() == Some(2) && told.contains(option) && told.contains(says), "{text}: {told}");
    }
}

/// On a terminal, which `script` of util-linux gives, a question is asked again until its answer can be used.
#[cfg(target_os = "linux")]
#[test]
fn a_terminal_is_asked_again_until_the_answer_can_be_used() {
    let file = folder("first", "terminal").join("mine.toml").display().to_string();
    let line = format!("'{}' new --ask '{file}'", program().display());
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
    program.stdin.take().expect("its input").write_all(WITH_SLIPS.as_bytes()).expect("it reads");
    let output = program.wait_with_output().expect("it ends");
    let seen = unbroken(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{seen}");
    for part in [
        "Eight questions, and one more for daily cuts. Enter alone, or \"I don't know\", takes what stands in brackets; \"back\" goes \
         back to the question before, \"help\" says how to answer, \"quit\" leaves.",
        "Springfield, Illinois, USA: 39.8° N, 89.64° W, about 110,000 people, clock America/Chicago.",
        "This is the first question.",
        "`springfield` is the name of",
        "write \"1024 Wh\"",
        // After "back", what was taken for "I don't know", and what was answered before.
        "2. What does the station or battery hold, by its label, and how old is it? Like: 1024 Wh, or 12.8 V x 100 Ah, new, or 12 V 100 Ah AGM, 4 years old [1000 Wh]",
        "[1024 Wh]",
        "What the mains-like sockets, or the inverter, may give for hours",
        "Write it in your own words",
        "\"600 VA\" is apparent power",
        "`sideways` says nothing of panels",
        "did you mean \"fridge\"?",
        "\"January\"",
        "Near Springfield, Illinois, USA",
    ] {
        assert!(seen.contains(part), "{part} is not said:\n{seen}");
    }
    assert!(!seen.contains("[I don't know]"), "{seen}");
    is_the_kit_of_the_answers(&file);
}

#[test]
fn options_stand_for_the_questions_where_there_is_no_terminal() {
    let file = folder("first", "options").join("mine.toml").display().to_string();
    let all = [
        "new",
        &file,
        "--place",
        ANSWERS[0],
        "--capacity",
        ANSWERS[1],
        "--ac",
        ANSWERS[2],
        "--panels",
        ANSWERS[3],
        "--stand",
        ANSWERS[4],
        "--loads",
        ANSWERS[5],
        "--lasts",
        ANSWERS[6],
        "--month",
        ANSWERS[7],
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
        &["now", storm, "--quiet", "--trials", "200", "--charge", "40-45%", "--at", "8:30 pm", "--until", "10pm"],
        &["now", storm, "--quiet", "--trials", "200", "--charge", "43", "--until", "two days"],
        &["now", storm, "--quiet", "--trials", "200", "--charge", "43", "--at", "20:30", "--until", "tomorrow 8am"],
        &["climate", "show", "--place", "Barre, Vermont, USA"],
        &["climate", "show", "--place", "44.2N 72.5W"],
        &["climate", "show", "Barre, Vermont"],
        &["climate", "show", "barre", "vermont", "usa"],
        &["climate", "show", "44.2", "-72.5"],
        &["climate", "show", "--at", "44°12'N 72°30'W"],
    ] {
        let output = tideover(arguments);
        let told = unbroken(&output.stdout);
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", unbroken(&output.stderr));
        assert!(told.contains("Vermont, USA"), "{arguments:?}: {told}");
    }
    refused(&["climate", "show"], &["name a town", "--at LAT,LON", "--file FILE"]);
    refused(&["climate", "show", "--at", "36°50'N"], &["--at is `36°50'N`, which is a latitude alone"]);
    refused(&["climate", "show", "--at", "Bergen"], &["a town by its name goes with --place"]);
    let now = |option, text| ["now", storm, "--charge", "43", option, text];
    refused(&now("--until", "8"), &["does not say whether 8 is before or after noon"]);
    refused(&now("--until", "overnight"), &["--until is `overnight`"]);
    refused(&["now", storm, "--charge", "45-40%"], &["the lower end first"]);
    // A share below 1 can be read in two ways; a decimal comma and a bare 0 in one.
    refused(&["now", storm, "--charge", "0.43"], &["write \"43 %\" or \"0.43 %\""]);
    refused(&["now", storm, "--charge", "0,43"], &["write \"43 %\" or \"0.43 %\""]);
    refused(&["now", storm, "--charge", "150"], &["--charge is 150 %; allowed: 0 to 100 %"]);
    refused(&["now", storm, "--charge", "-5"], &["--charge"]);
    let told = |charge: &str| {
        let output = tideover(&["now", storm, "--quiet", "--trials", "200", "--charge", charge, "--at", "20:30"]);
        assert_eq!(output.status.code(), Some(0), "{charge}: {}", unbroken(&output.stderr));
        unbroken(&output.stdout)
    };
    assert_eq!(told("43,5"), told("43.5 %"));
    assert_eq!(told("43,5%"), told("43.5 %"));
    assert_eq!(told("0"), told("0 %"));
    let shown = tideover(&["climate", "show", "--place", "springfield"]);
    assert_eq!(shown.status.code(), Some(2));
    assert!(unbroken(&shown.stderr).contains("add the region or the country"));
}

/// A kit of lead-acid cells in a hot place: what stays in is said as that, and the room is as warm as the air.
#[test]
fn lead_acid_in_a_hot_place_is_told_by_its_causes() {
    let folder = folder("first", "lead-acid");
    let file = folder.join("kit.toml");
    let kit = "[site]\nplace = \"Palermo, Italy\"\n[outage]\nmonth = \"August\"\nlasts = \"8 h\"\n[station]\n\
               rated_capacity = \"12 V 100 Ah\"\nchemistry = \"AGM\"\n[station.inverter]\nrated = \"1000 W\"\n[[load]]\n\
               name = \"fridge\"\npriority = \"vital\"\nwatts = \"60 W\"\nduty = \"30 %\"\noutlet = \"ac\"\n";
    std::fs::write(&file, kit).expect("a file");
    let path = file.to_str().expect("a path");
    let checked = tideover(&["check", path]);
    let told = format!("{} {}", unbroken(&checked.stdout), unbroken(&checked.stderr));
    assert!(told.contains("of that, above the 50 % that stay in"), "{told}");
    assert!(!told.contains("in this cold") && !told.contains("LFP") && !told.contains("47 %"), "{told}");
    assert!(told.contains("a room taken to be as warm as the air outside"), "{told}");
    let run = unbroken(&tideover(&["run", path, "--quiet", "--trials", "200"]).stdout);
    assert!(
        run.contains("The lowest 50 % of the charge stays in the battery (in the file: keep_above under station)"),
        "{run}"
    );
    assert!(run.contains(", the mean of the air outside."), "{run}");
    // On lithium iron phosphate the volts are asked back.
    std::fs::write(&file, kit.replace("AGM", "LFP")).expect("a file");
    let checked = tideover(&["check", path]);
    let told = format!("{} {}", unbroken(&checked.stdout), unbroken(&checked.stderr));
    assert!(told.contains("four LFP cells in a row are 12.8 V"), "{told}");
}

/// What is never asked for in the cuts has no verdict, and the reader is told what to write; by the clock, 17:00-23:00 and
/// 06:00-10:00 do not meet.
#[test]
fn what_is_never_asked_for_has_no_verdict() {
    let file = folder("first", "never").join("mine.toml").display().to_string();
    let new = |loads: &str, file: &str| {
        tideover(&[
            "new",
            "--place",
            "Kumasi, Ghana",
            "--lasts",
            "6am-10am",
            "--month",
            "April",
            "--loads",
            loads,
            file,
        ])
    };
    let output = new("lamp", &file);
    assert_eq!(output.status.code(), Some(0), "{}", unbroken(&output.stderr));
    let run = |options: &[&str]| tideover(&[&["run", &file, "--quiet", "--trials", "200"], options].concat());
    let (first, told) = (unbroken(&output.stdout), unbroken(&run(&[]).stdout));
    for told in [&first, &told] {
        assert!(told.contains("never asked for") && told.contains("like LED lamp 06:00-10:00."), "{told}");
        assert!(!told.contains("Count on it") && !told.contains("stayed on through 100"), "{told}");
    }
    let json: Value = serde_json::from_slice(&run(&["--json"]).stdout).expect("JSON");
    assert_eq!(json["never_asked"].as_array().map(Vec::len), Some(1), "{json}");
    // With the hours that were told to write it is judged.
    fs::remove_file(&file).expect("the file");
    assert!(unbroken(&new("LED lamp 06:00-10:00", &file).stdout).contains("stayed on through"));
}

/// A kit with a load of its own hours; what is said of it by `check` or `now`.
fn kit_told(name: &str, kit: &str, arguments: &[&str]) -> (Option<i32>, String) {
    let file = folder("first", name).join("kit.toml").display().to_string();
    fs::write(&file, kit).expect("a file");
    let output = tideover(&[&arguments[..1], &[&file], &arguments[1..]].concat());
    (output.status.code(), unbroken(&output.stdout) + &unbroken(&output.stderr))
}

const DEVICE: &str = "[site]\nplace = \"Palermo, Italy\"\n[outage]\nmonth = \"May\"\nlasts = \"3 days\"\n[station]\n\
                      rated_capacity = \"12 V 100 Ah\"\nchemistry = \"AGM\"\n[station.dc_outlet]\nlimit = \"120 W\"\n[[load]]\n\
                      name = \"device\"\npriority = \"vital\"\nwatts = \"40 W\"\noutlet = \"dc\"\n";

#[test]
fn amp_hours_at_twelve_volts_without_cells_are_asked_back() {
    let (code, told) = kit_told("cells", &DEVICE.replace("chemistry = \"AGM\"\n", ""), &["check"]);
    assert!(code == Some(2) && told.contains("may be lead-acid or lithium") && told.contains("\"AGM\""), "{told}");
}

#[test]
fn running_times_are_without_the_mains_between_cuts() {
    let lasts = |name: &str, kit: &str| {
        let told = kit_told(name, kit, &["check"]).1;
        let from = told.find("runs everything for").expect("a running time");
        told[from..].split(" and the vital").next().expect("a line").to_string()
    };
    let cuts = DEVICE.replace("lasts = \"3 days\"", "lasts = \"14 days\"\nevery_day = [\"06:00-10:00\"]");
    assert_eq!(lasts("mains", DEVICE), lasts("cuts", &cuts));
}

#[test]
fn a_device_is_not_said_to_last_before_it_is_in_use() {
    let kit = DEVICE.to_string() + "hours = \"22:00-07:00\"\nmedical = true\n";
    let now = ["now", "--charge", "30", "--at", "2027-05-10 10:00", "--quiet", "--trials", "200"];
    let told = kit_told("in-use", &kit, &now).1;
    assert!(told.contains("not in use before 22:00"), "{told}");
    // The lowest half of a lead-acid battery stays in: nothing may be drawn once it is in use.
    assert!(told.contains("Do not count on it") || told.contains("do not count on it"), "{told}");
    refused(&["now", "--charge", "43"], &["tideover now mine.toml --charge 43"]);
}

/// Snow slides off steep panels (common practice, no source).
#[test]
fn snow_is_reckoned_with_on_flat_panels_alone() {
    let snow = |tilt: &str| {
        let folder = folder("first", &format!("snow-{}", tilt.trim_end_matches('°')));
        let file = folder.join("kit.toml");
        let text = std::fs::read_to_string(root().join("scenarios/winter-storm.toml")).expect("the demo");
        assert!(text.contains("tilt = \"60°\""));
        std::fs::write(&file, text.replace("tilt = \"60°\"", &format!("tilt = \"{tilt}\""))).expect("a file");
        unbroken(&tideover(&["check", file.to_str().expect("a path")]).stdout).contains("may lie under snow")
    };
    assert!(snow("60°") && snow("74°"));
    assert!(!snow("75°") && !snow("90°"));
}

#[test]
fn what_is_taken_for_granted_is_said_with_its_weight() {
    let output = tideover(&["run", "scenarios/winter-storm.toml", "--quiet", "--json", "--trials", "2000"]);
    let answer: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let assumed: Vec<&Value> = answer["notes"].as_array().unwrap().iter().filter(|n| n["kind"] == "assumed").collect();
    let of = |what: &str| assumed.iter().find(|note| note["what"] == what).copied();
    let sun = of("panels_in_the_sun").expect("panels");
    let text = sun["text"].as_str().unwrap();
    assert!(text.contains("if not, say what shades them") && text.contains("2,000 trials"), "{text}");
    assert!(sun["turned"]["difference"].as_f64().unwrap() <= 0.0, "{sun}");
    // The same variant compared says the same on the same trials.
    let set = "panel.0.shade=[{ hours = \"14:00-24:00\", loses = \"90 %\" }]";
    let output =
        tideover(&["compare", "scenarios/winter-storm.toml", "--quiet", "--json", "--trials", "2000", "--set", set]);
    let compared: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let last = compared["variants"].as_array().unwrap().last().unwrap();
    assert_eq!(last["difference"], sun["turned"]["difference"], "{last}");
}

/// A charger that nobody told is a guess: what half of it gives stands beside the answer, and is what the file with half of it
/// gives.
#[test]
fn half_of_a_guessed_charger_is_answered_beside() {
    let folder = folder("first", "half");
    let [file, halved] = ["mine.toml", "half.toml"].map(|name| folder.join(name).display().to_string());
    let new = ["new", &file, "--place", "Palermo", "--capacity", "800 Wh", "--loads", "fridge, wifi", "--lasts"];
    let output = tideover(&[&new[..], &["18:00-22:00 for 1 week"]].concat());
    assert_eq!(output.status.code(), Some(0), "{}", unbroken(&output.stderr));
    let told = unbroken(&output.stdout);
    let (whole, half) = told.split_once("With a charger of 20 W, half of what is guessed: ").expect(&told);
    assert!(whole.contains("The charger is a guess, which this range does not count."), "{told}");
    let sentence = |text: &str| {
        let from = text.find("In 10,000 simulated").expect("the trials");
        text[from..].split(". ").next().unwrap_or_default().to_string()
    };
    let text = fs::read_to_string(&file).expect("the file");
    assert!(text.contains("limit = \"40 W\""), "{text}");
    fs::write(&halved, text.replace("limit = \"40 W\"", "limit = \"20 W\"")).expect("it is written");
    let run = unbroken(&tideover(&["run", &halved, "--trials", "10000", "--seed", "1"]).stdout);
    assert_eq!(sentence(half), sentence(&run));
    assert_ne!(sentence(half), sentence(whole));
    // A charger that is told is no guess.
    let other = folder.join("told.toml").display().to_string();
    let output = tideover(&["new", &other, "--place", "Palermo", "--lasts", "18:00-22:00", "--charger", "40 W"]);
    assert!(!unbroken(&output.stdout).contains("half of what is guessed"));
}
