//! What a beginner writes to `new`, word by word: taken as it is meant, or asked back with what to write.
//!
//! What people write is common practice, no source; what it means is arithmetic (volts times amp-hours), the compass, or the
//! calendar (south of the equator the seasons are half a year on).

use std::process::Stdio;

use super::program::{command, refused, tideover, unbroken};

/// What `new` says where all but one answer is left out: whether it makes a file, the file, and the remarks.
fn made(option: &str, text: &str) -> (bool, String, String) {
    let mut arguments = vec!["new", option, text];
    if option != "--place" {
        arguments.extend(["--place", "Palermo"]);
    } else {
        arguments.extend(["--loads", "router"]);
    }
    if option == "--charger" {
        arguments.extend(["--lasts", "18:00-22:00"]);
    }
    if option == "--stand" {
        arguments.extend(["--panels", "100 W"]);
    }
    let output = tideover(&arguments);
    let taken = output.status.code() == Some(0);
    assert!(taken || output.status.code() == Some(2), "{text}: {:?}", output.status);
    (taken, String::from_utf8_lossy(&output.stdout).into_owned(), unbroken(&output.stderr))
}

#[test]
fn words_are_taken_as_they_are_meant() {
    let mut wrong = Vec::new();
    for (option, text, line, says) in [
        ("--capacity", "12,8 V 100 Ah", "rated_capacity = \"1280 Wh\"", "12.8 V times 100 Ah"),
        ("--capacity", "25,6V 50Ah", "rated_capacity = \"1280 Wh\"", ""),
        ("--capacity", "51,2 V 100 Ah", "rated_capacity = \"5120 Wh\"", ""),
        ("--capacity", "3,7 V x 20000 mAh", "rated_capacity = \"74 Wh\"", "Li-ion"),
        ("--capacity", "3,7 V x 20000 mAh", "chemistry = \"NMC\"", ""),
        ("--capacity", "12V 7,2Ah AGM", "rated_capacity = \"86.4 Wh\"", "down to half"),
        ("--capacity", "296Wh/80000mAh", "rated_capacity = \"296 Wh\"", ""),
        ("--capacity", "12 V 100 Ah flooded lead acid", "chemistry = \"lead-acid\"", ""),
        ("--capacity", "2000 Wh", "measured_capacity = \"1700 Wh", ""),
        ("--ac", "750w cont. 1500w peak", "surge = \"1500 W\"", ""),
        ("--ac", "1,5 kW", "rated = \"1500 W\"", ""),
        ("--panels", "1,2 kW", "rated = \"1200 W\"", "1200 W is unusual"),
        ("--panels", "37,5 W", "rated = \"37.5 W\"", ""),
        ("--panels", "455,5 Wp", "rated = \"455.5 W\"", ""),
        ("--panels", "150,0 W PWM", "pwm_at = \"13 V\"", ""),
        ("--panels", "2 x 37,5 W", "count = 2", "75 W in all"),
        ("--panels", "2 panels 200 W", "count = 2", "400 W in all"),
        ("--panels", "0,2 kW", "rated = \"200 W\"", ""),
        ("--stand", "shed wall facing south", "tilt = \"90°\"", "upright on a wall"),
        ("--stand", "balcony south", "tilt = \"75°\"", ""),
        ("--stand", "35° 200°", "facing = \"200°\"", ""),
        ("--stand", "azimuth 45 tilt 30", "facing = \"45°\"", ""),
        ("--month", "May, yes", "begins_in_a_storm = true", ""),
        ("--month", "May, no", "begins_in_a_storm = false", ""),
        ("--month", "May not in a storm", "begins_in_a_storm = false", ""),
        ("--month", "in July, it doesn't begin in a storm", "begins_in_a_storm = false", ""),
        ("--month", "begins in a storm in July", "month = \"July\"", ""),
        ("--loads", "lamps", "like = \"LED lamp\"", "\"4 lamps\""),
        ("--loads", "lamps", "like = \"LED lamp\"", "lamps: on 17:00-23:00 (load.hours)"),
        ("--loads", "tv 37,5 W", "watts = \"37.5 W\"", ""),
        ("--loads", "lamp 12,5 W 19:00-23:00, 2 phones", "watts = \"12.5 W\"", ""),
        ("--loads", "washing machine 400 W", "like = \"washing machine\"", ""),
        ("--loads", "hoover 500 W", "like = \"vacuum cleaner\"", "taken for \"vacuum cleaner\""),
        ("--loads", "router 10 W on 12 V", "outlet = \"dc\"", ""),
        ("--ac", "none", "12 V cooler, 30 litres", ""),
        ("--charger", "100", "limit = \"100 W\"", ""),
        ("--charger", "a charger of 90 W", "limit = \"90 W\"", "draws up to 90 W"),
        ("--charger", "nothing but the panels", "# [station.wall_charger]", ""),
        ("--lasts", "18:00-22:00", "# [station.wall_charger]", "charges it between the cuts"),
        ("--capacity", "100 Ah 12.8 V lithium iron phosphate", "chemistry = \"LFP\"", ""),
        ("--lasts", "6-10, 18-23", "every_day = [\"06:00-10:00\", \"18:00-23:00\"]", ""),
        ("--lasts", "6-10 and 18-22", "every_day = [\"06:00-10:00\", \"18:00-22:00\"]", ""),
        ("--lasts", "6am-10am 6pm-11pm", "every_day = [\"06:00-10:00\", \"18:00-23:00\"]", ""),
        ("--lasts", "19h-22h", "every_day = [\"19:00-22:00\"]", ""),
        ("--lasts", "06:00-10:00, 18:00-22:00, 23:00-23:30", " # the hours without mains", ""),
        ("--loads", "breathing machine 40 W at night", "hours = \"22:00-07:00\"", "on from 22:00-07:00"),
        ("--loads", "breathing machine 40 W at night", "like = \"sleep breathing device\"", ""),
        ("--loads", "ventilator 40 W", "medical = true", "a person's health"),
        ("--loads", "oxygen concentrator 300 W", "medical = true", "a person's health"),
        ("--loads", "12 V lamp", "like = \"LED lamp, 12 V\"", ""),
        ("--charger", "500w", "limit = \"500 W\"", ""),
        ("--place", "39.47, 0.38", "longitude = 0.38", "longitude the other way"),
        ("--place", "-26.2, 28.0", "latitude = -26.2", ""),
        ("--place", "Singapore", "Singapore", ""),
    ] {
        let (taken, file, told) = made(option, text);
        if !taken || !file.contains(line) || !told.contains(says) {
            wrong.push(format!("{option} {text}: {line} / {says}: {told}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

#[test]
fn what_is_not_understood_is_asked_back_with_what_to_write() {
    let mut wrong = Vec::new();
    for (option, text, says) in [
        ("--capacity", "12V 100Ah LiFePO4 AGM", "two kinds of cells"),
        ("--panels", "1,500 W", "\"1500 W\" or \"1.5 W\""),
        ("--panels", "2,100 W", "\"2100 W\" or"),
        ("--ac", "separate inverter", "\"600 W separate inverter\""),
        ("--month", "February - March", "several months"),
        ("--month", "July, rainy season", "`rainy`"),
        ("--month", "storm", "names no month"),
        ("--month", "May, yes, no", "yes and no"),
        ("--loads", "lamps 5", "\"5 lamps\""),
        ("--loads", "kettle", "`kettle`, taken for \"kettle\""),
        ("--loads", "water bed", "\"water bed 50 W\" with your own figure"),
        ("--loads", "heater 1,500 W", "\"1500 W\" or"),
        ("--charger", "yes", "\"100 W\""),
        ("--capacity", "12 V 100 Ah lithium", "\"12 V 100 Ah LFP\" where"),
        ("--capacity", "2kWh lithium", "\"2kWh NMC\" where"),
        ("--lasts", "1 night", "write \"12 h\" for a night"),
        ("--lasts", "6-10", "\"06:00-10:00\" for the morning"),
        ("--loads", "TV 4 hours", "like \"TV 18:00-22:00\""),
        ("--loads", "3 lamps 8 W 5 hours a day", "like \"3 lamps 8 W 18:00-23:00\""),
        ("--loads", "boiler", "\"water heater 2000 W\""),
        ("--loads", "stove", "\"pellet stove\""),
        ("--loads", "insulin fridge", "\"insulin fridge 50 W\""),
        ("--place", "Norway", "is a country: name a town in it, like \"Oslo"),
        ("--place", "Spain", "is a country: name a town in it, like \"Madrid"),
        ("--place", "Germany", "is a country: name a town in it, like \"Berlin"),
        ("--place", "Georgia", "is a country: name a town in it, like \"Tbilisi"),
        ("--place", "Sicily", "is a region of Italy: name a town in it, like \"Palermo"),
        ("--place", "Honolulu", "climate fit"),
        ("--place", "Ponta Delgada", "climate fit"),
        ("--place", "Praia", "climate fit"),
        ("--place", "Papeete", "climate fit"),
        ("--place", "47.0, -30.0", "lies at sea"),
    ] {
        let (taken, _, told) = made(option, text);
        if taken || !told.contains(says) || !told.contains(option) {
            wrong.push(format!("{option} {text}: {says}: {taken} {told}"));
        }
    }
    for thing in ["heat pump", "insulin fridge", "water bed"] {
        let (_, _, told) = made("--loads", thing);
        if told.contains("did you mean") {
            wrong.push(told);
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
    // Without AC the thing that needs it is named, and what would do.
    let without = |loads| ["new", "--place", "Palermo", "--ac", "none", "--loads", loads];
    refused(&without("phone, router"), &["--loads", "`router` needs an AC outlet", "\"router 10 W on 12 V\""]);
    let output = tideover(&without("lamp, router 10 W"));
    let file = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(file.contains("like = \"LED lamp, 12 V\"") && file.matches("outlet = \"dc\"").count() == 1, "{file}");
}

#[test]
fn a_charger_between_cuts_is_there_only_where_it_was_told() {
    let run = |charger: &[&str]| {
        let cuts = ["new", "--place", "Palermo", "--panels", "100 W", "--loads", "router, kettle 500 W", "--lasts"];
        let output = tideover(&[&cuts[..], &["7:00-12:00 and 18:00-23:00"], charger].concat());
        assert_eq!(output.status.code(), Some(0), "{}", unbroken(&output.stderr));
        unbroken(&output.stderr)
    };
    let first = |told: String| told.split("note: ").find(|note| note.contains(" charges it between")).map(String::from);
    let untold = run(&[]);
    assert!(first(untold.clone()).is_some_and(|note| note.contains("Nothing but the panels")), "{untold}");
    assert_eq!(first(run(&["--charger", "none"])), None);
    assert!(run(&["--charger", "100 W"]).contains("between the cuts a wall charger draws up to 100 W"));
    // A cut outside the hours of a thing is told.
    assert!(untold.contains("nothing is asked of it in the cut") || !untold.contains("outside its hours"), "{untold}");
    let lamp = tideover(&["new", "--place", "Palermo", "--loads", "lamp", "--lasts", "10:00-12:00 and 18:00-20:00"]);
    let told = unbroken(&lamp.stderr);
    assert!(told.contains("lamp: nothing is asked of it in the cut of 10:00-12:00"), "{told}");
}

#[test]
fn answers_are_not_lost_where_there_are_no_more() {
    let asked = [
        "new",
        "--ask",
        "/nowhere/mine.toml",
        "--place",
        "Palermo",
        "--capacity",
        "1 kWh",
        "--loads",
        "mum's lamp 5 W",
    ];
    let output = command(&asked).stdin(Stdio::null()).output().expect("it starts");
    let told = unbroken(&output.stderr);
    assert_eq!(output.status.code(), Some(2));
    let line =
        "tideover new --ask --place 'Palermo' --capacity '1 kWh' --loads 'mum'\\''s lamp 5 W' '/nowhere/mine.toml'";
    assert!(told.contains("give --ac") && told.contains(line), "{told}");
}

#[test]
fn a_template_south_of_the_equator_has_its_seasons_and_its_sun() {
    for (place, month, facing) in [("Santiago, Chile", "July", "north"), ("Bergen, Norway", "January", "south")] {
        let output = tideover(&["new", "--template", "fridge", "--place", place]);
        let file = String::from_utf8_lossy(&output.stdout).into_owned();
        assert!(file.contains(&format!("month = \"{month}\"")), "{place}: {file}");
        assert!(file.contains(&format!("facing = \"{facing}\"")), "{place}: {file}");
    }
    let output = tideover(&["new", "--template", "camp", "--place", "Bergen, Norway"]);
    let file = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(file.contains("facing = \"south\"") && file.contains("month = \"February\""), "{file}");
}

#[test]
fn a_place_may_begin_with_a_minus_or_lie_beyond_the_climate() {
    for arguments in [&["place", "-26.2 28.0"][..], &["place", "-26.2, 28.0"], &["place", "-26.2", "28.0"]] {
        let output = tideover(arguments);
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", unbroken(&output.stderr));
        assert!(unbroken(&output.stdout).contains("South Africa"), "{arguments:?}");
    }
    let told = unbroken(&tideover(&["place", "Honolulu"]).stdout);
    assert!(told.contains("No climate here") && told.contains("climate fit"), "{told}");
    refused(&["place", "Norway"], &["`Norway` is a country", "Oslo"]);
}
