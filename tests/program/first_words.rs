//! What a beginner writes to `new`, word by word: taken as it is meant, or asked back with what to write.
//!
//! What people write is common practice, no source; what it means is arithmetic (volts times amp-hours), the compass, or the
//! calendar (south of the equator the seasons are half a year on).

use std::process::Stdio;

use super::program::{command, refused, tideover, unbroken};

/// What `new` says where all but one answer is left out: whether it makes a file, the file, and the remarks.
pub(super) fn made(option: &str, text: &str) -> (bool, String, String) {
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
        ("--loads", "lamps", "count = 2", "lamps: taken as two of them"),
        ("--loads", "fridge 200 l", "like = \"fridge-freezer, 200 litres\"", ""),
        ("--loads", "fridge-freezer 250 liters", "like = \"fridge-freezer, 300 litres\"", ""),
        ("--loads", "pellet stove 60 W", "starting_watts = \"350 W\"", "starts with 350 W, by the library's"),
        ("--loads", "lamps", "like = \"LED lamp\"", "lamps: on 17:00-23:00 (load.hours)"),
        ("--loads", "tv 37,5 W", "watts = \"37.5 W\"", ""),
        ("--loads", "lamp 12,5 W 19:00-23:00, 2 phones", "watts = \"12.5 W\"", ""),
        ("--loads", "washing machine 400 W", "like = \"washing machine\"", ""),
        ("--loads", "vacuum 500 W", "like = \"vacuum cleaner\"", "taken for \"vacuum cleaner\""),
        ("--loads", "router 10 W on 12 V", "outlet = \"dc\"", ""),
        ("--ac", "none", "12 V cooler, 30 litres", ""),
        ("--charger", "100", "limit = \"100 W\"", ""),
        ("--charger", "a charger of 90 W", "limit = \"90 W\"", "draws up to 90 W"),
        ("--charger", "nothing but the panels", "# [station.wall_charger]", ""),
        ("--lasts", "18:00-22:00", "[station.wall_charger]", "charges it between the cuts"),
        ("--loads", "fan 55W", "like = \"box fan\"", "fan 55W: on 12:00-06:00 (load.hours)"),
        ("--loads", "fan 55W", "watts = \"55W\"", "starts with 200 W"),
        // As many times the start of the library as its watts.
        ("--loads", "box fan 150 W", "starting_watts = \"300 W\"", "starts with 300 W"),
        ("--loads", "slow cooker 200 W", "like = \"slow cooker\"", "60 % of the time"),
        ("--loads", "3 lamps led 8W", "count = 3", "3 lamps led 8W: on 17:00-23:00"),
        ("--loads", "2 lamps 9W each", "count = 2", "2 lamps 9W each: on 17:00-23:00"),
        ("--loads", "standing fan 55 W from 12 to 18", "hours = \"12:00-18:00\"", ""),
        ("--loads", "standing fan 55 W from 7 pm to 10 pm", "hours = \"19:00-22:00\"", ""),
        ("--loads", "pellet stove 80 W 300 W start", "watts = \"80 W\"\nstarting_watts = \"300 W\"", ""),
        ("--loads", "pellet stove 80 W (starting 300 W)", "watts = \"80 W\"\nstarting_watts = \"300 W\"", ""),
        // Some pumps run all day.
        ("--loads", "pump 50 W", "name = \"pump\"", "all day and night"),
        ("--loads", "table lamp, smart phones, router wifi", "like = \"phone\"", "table lamp: taken for \"LED lamp\""),
        ("--loads", "4 bulbs", "count = 4", ""),
        ("--capacity", "C10 200Ah 12V", "chemistry = \"lead-acid\"", "C10: read as lead-acid"),
        ("--capacity", "24V 100AH tubular", "rated_capacity = \"2400 Wh\"", "tubular: read as lead-acid"),
        ("--capacity", "24V 100AH tubular AGM", "chemistry = \"lead-acid\"", ""),
        ("--capacity", "12.8 V 100 Ah LFP C20", "chemistry = \"LFP\"", ""),
        ("--lasts", "everyday 12-16,19-23", "every_day = [\"12:00-16:00\", \"19:00-23:00\"]", ""),
        ("--lasts", "12.00-16.00 & 19.00-23.00", "every_day = [\"12:00-16:00\", \"19:00-23:00\"]", ""),
        ("--lasts", "5 days and nights", "lasts = \"5 days\"", ""),
        ("--lasts", "5 days and 5 nights", "lasts = \"5 days\"", ""),
        ("--lasts", "18:00-22:00", " # a guess, a slow one for its size", "which the range does not count"),
        ("--place", "Åre", "place = \"Åre, Jämtland, Sweden\"", ""),
        ("--loads", "standing fan", "like = \"box fan\"", "taken for \"box fan\""),
        ("--place", "75011 Paris", "place = \"Paris, Île-de-France, France\"", ""),
        ("--place", "Barre, VT 05641", "Barre, Vermont", ""),
        ("--place", "Victoria BC", "Victoria, British Columbia", ""),
        ("--place", "Perth WA", "Perth, Western Australia", ""),
        ("--place", "Campinas, SP", "Campinas, São Paulo", ""),
        ("--place", "Ulsan Korea", "Ulsan, Ulsan, South Korea", ""),
        ("--place", "Bergen,NO", "Bergen, Vestland", ""),
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
        ("--place", "21.01, 52.23", "latitude = 21.01", "with the two exchanged, 52.23, 21.01 lies near Warsaw"),
        ("--place", "-26.2, 28.0", "latitude = -26.2", ""),
        ("--place", "Singapore", "Singapore", ""),
        ("--ac", "1000 W mains outlet", "rated = \"1000 W\"", ""),
        ("--ac", "2 kW at 230 V 50 Hz", "rated = \"2000 W\"", ""),
        ("--stand", "vertical", "tilt = \"90°\"", ""),
        ("--stand", "second floor balcony", "tilt = \"75°\"", "stand on a balcony"),
        ("--stand", "3rd floor balcony facing SSW", "facing = \"202.5°\"", ""),
        ("--stand", "my van's roof", "tilt = \"0°\"", ""),
        (
            "--stand",
            "balcony south, a tree in the morning",
            "shade = [{ hours = \"00:00-12:00\", loses = \"90 %\" }]",
            "takes 90 % of their light",
        ),
        ("--stand", "roof shaded after 3 pm", "hours = \"15:00-24:00\"", ""),
        ("--stand", "ground, shade until 10:30", "hours = \"00:00-10:30\"", ""),
        ("--stand", "ground, shade until 10 and after 16:00", "hours = \"16:00-24:00\"", ""),
        ("--stand", "ground, shadow from 2 to 5 pm", "[{ hours = \"14:00-17:00\", loses", ""),
        ("--stand", "balcony with sun until 14:00", "[{ hours = \"14:00-24:00\", loses", ""),
        ("--stand", "flat, morning sun", "[{ hours = \"12:00-24:00\", loses", ""),
        ("--stand", "flat, no sun in the afternoon", "[{ hours = \"12:00-24:00\", loses", ""),
        ("--stand", "roof south, no shade", "tilt = \"30°\"", "out all day, every day (panel.0.out)."),
        ("--capacity", "1000 Wh, 5 years old", "state_of_health = \"85 % ± 8 %\"", "at its age"),
        ("--capacity", "12 V 100 Ah AGM, 5 years old", "state_of_health = \"60 % ± 20 %\"", "at its age"),
        ("--capacity", "12 V 100 Ah AGM, five-year-old", "chemistry = \"lead-acid\"", ""),
        ("--capacity", "used 500 Wh, 18 months", "# measured_capacity = \"410 Wh", ""),
        ("--capacity", "2 kWh 75% health", "state_of_health = \"75 %\"", ""),
        ("--capacity", "1.2 kWh, 60% full", "starts_charged = \"60 %\"", "60 % full as the lights go out"),
        ("--capacity", "1.2 kWh, 60% full", "rated_capacity = \"1200 Wh\"", ""),
        ("--capacity", "1000 Wh charged to 60 %", "starts_charged = \"60 %\"", ""),
        ("--capacity", "1000 Wh half full", "starts_charged = \"50 %\"", ""),
        ("--capacity", "my 1000 Wh station, full", "starts_charged = \"100 %\"", ""),
        ("--capacity", "1000Wh (1kWh)", "rated_capacity = \"1000 Wh\"", ""),
        ("--capacity", "gel battery 12V 100Ah", "rated_capacity = \"1200 Wh\"", ""),
        ("--capacity", "n/a", "rated_capacity = \"1000 Wh\"", "which is a guess"),
        ("--capacity", "1 kWh", "starts_charged = \"80 %\"", "as good as new"),
        ("--loads", "fridge, always on", "like = \"fridge-freezer", ""),
        ("--loads", "wifi all day and night, 2 phones", "like = \"router\"", ""),
        ("--loads", "lamp 24/7", "hours = \"00:00-24:00\"", ""),
        ("--loads", "oxygen concentrator 300W 24h", "watts = \"300W\"", ""),
        ("--loads", "radio box 12 V 2 A", "watts = \"24 W\"", "read as 24 W: 12 V times 2 A"),
        ("--loads", "cool box 5 A at 12 V", "watts = \"60 W\"", ""),
        ("--charger", "20 A at 12 V", "limit = \"240 W\"", "read as 240 W: 12 V times 20 A"),
        ("--charger", "14.4 V 10A", "limit = \"144 W\"", ""),
        ("--lasts", "18:00-22:00", "every_day", "80 % full as the first of the cuts begins"),
        (
            "--lasts",
            "load shedding 10am-12pm, 4pm-6pm and 9pm-11pm",
            "[\"10:00-12:00\", \"16:00-18:00\", \"21:00-23:00\"]",
            "",
        ),
        (
            "--loads",
            "oxygen concentrator 5 litres 350 W all night",
            "starting_watts = \"900 W\"",
            "on from 22:00-07:00",
        ),
        ("--loads", "oxygen concentrator 5 litres 350 W all night", "hours = \"22:00-07:00\"", "a person's health"),
        ("--loads", "3 led lights 12V 5W", "outlet = \"dc\"", "3 led lights 12V 5W: on"),
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
        ("--month", "summer", "write one of its months: \"June\", \"July\" or \"August\""),
        ("--month", "winter, storm", "\"December\", \"January\" or \"February\""),
        ("--month", "rainy season", "tideover climate show"),
        ("--place", "GMT+1", "is a clock, 01:00 ahead of UTC, and no place"),
        ("--place", "Europe/Oslo", "is a time zone and no place: name a town, like \"Oslo\""),
        ("--place", "القاهرة", "write it in Latin letters"),
        ("--place", "Kreuzberg, Berlin", "did you mean \"Berlin, State of Berlin, Germany\""),
        ("--place", "Zürich Oerlikon", "did you mean \"Zürich, Zurich, Switzerland\""),
        ("--place", "Nairobi, Westlands", "did you mean \"Nairobi, Nairobi County, Kenya\""),
        ("--place", "Camden, London", "did you mean \"London, England, United Kingdom\""),
        ("--month", "May, yes, no", "yes and no"),
        ("--loads", "lamps 5", "\"5 lamps\""),
        ("--loads", "water bed", "\"water bed 50 W\" with your own figure"),
        ("--loads", "heater 1,500 W", "\"1500 W\" or"),
        ("--charger", "yes", "\"100 W\""),
        ("--charger", "4 A", "4 A at 12 V are \"48 W\""),
        ("--charger", "10 amp", "10 A at 12 V are \"120 W\""),
        ("--charger", "generator 1000W 10 litres", "[generator] with limit = \"1000 W\""),
        ("--charger", "2 kW genset", "limit = \"2000 W\""),
        ("--ac", "10 amp", "multiply by the volts"),
        ("--capacity", "4 A", "volts and amp-hours"),
        ("--capacity", "1.024 Wh", "write \"1024 Wh\""),
        ("--capacity", "1.0240 Wh", "no station"),
        ("--lasts", "5", "\"5 days\" or \"5 h\""),
        ("--loads", "fridge 100 W 600 W", "\"fridge 100 W 600 W start\""),
        ("--loads", "standing fan 55 W from 1 to 6", "`from 1 to 6` does not say whether it is before or after noon"),
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
        ("--capacity", "used 1000 Wh", "\"1000 Wh, 5 years old\""),
        ("--capacity", "second hand 12 V 100 Ah gel", "\"12 V 100 Ah gel, 80 % health\""),
        ("--capacity", "1000 Wh bought in 2021", "\"1000 Wh, 4 years old\""),
        ("--capacity", "1.2 kWh 60 %", "\"1.2 kWh, 60 % full\""),
        ("--capacity", "12.8 V", "\"12.8 V x 100 Ah\""),
        ("--capacity", "12.8V 100", "\"12.8 V x 100 Ah\" if amp-hours"),
        ("--capacity", "gel", "\"12 V 100 Ah gel\""),
        ("--capacity", "1,024 Wh", "as 1024 Wh or as 1.0240 Wh"),
        ("--capacity", "1.024 Wh", "as 1024 Wh or as 1.0240 Wh"),
        ("--capacity", "2 x 12V 100Ah AGM in series", "\"24 V 100 Ah\""),
        ("--ac", "USB-C 60 W", "write none where there is no AC"),
        ("--ac", "4 A at 230 V", "\"920 W\""),
        ("--panels", "200W foldable facing south", "`facing` is not understood here"),
        ("--panels", "100 W with MPPT 20A", "like \"100 W\""),
        ("--stand", "half shaded", "\"shade until 11:00\""),
        ("--stand", "ground, a tree to the south", "\"no shade\""),
        ("--stand", "ground, not shaded in the morning", "\"shade 14:00-18:00\""),
        ("--stand", "balcony, shade after 3", "\"shade in the afternoon\""),
        ("--stand", "towards the street", "no direction of the compass"),
        ("--loads", "a few lights", "\"3 lights\""),
        ("--loads", "breathing machine 8 hours", "like \"breathing machine 22:00-06:00\""),
        ("--lasts", "a weekend", "\"2 days\" or \"3 days\""),
        ("--lasts", "until the power returns", "how long you want to hold out"),
        ("--month", "15/01/2027", "\"January\""),
        ("--month", "next Friday", "names no month"),
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

/// Who has mains between cuts has something that charges from them: a slow charger unless another is told, or none.
#[test]
fn a_charger_between_cuts_is_a_slow_one_unless_told() {
    let new = |more: &[&str]| {
        let cuts = ["new", "--place", "Palermo", "--loads", "router, kettle 500 W", "--lasts"];
        let output = tideover(&[&cuts[..], &["7:00-12:00 and 18:00-23:00"], more].concat());
        assert_eq!(output.status.code(), Some(0), "{}", unbroken(&output.stderr));
        (unbroken(&output.stderr), String::from_utf8_lossy(&output.stdout).into_owned())
    };
    // A twentieth of a lithium station's watt-hours, a fortieth of lead-acid cells'.
    for (more, watts) in [
        (&[][..], "50 W"),
        (&["--charger", "I don't know"], "50 W"),
        (&["--panels", "100 W"], "50 W"),
        (&["--capacity", "2 kWh"], "100 W"),
        (&["--capacity", "12 V 200 Ah AGM", "--ac", "600 W"], "60 W"),
    ] {
        let (told, file) = new(more);
        assert!(file.contains("[station.wall_charger]") && !file.contains("# [station.wall"), "{file}");
        assert!(
            file.contains(&format!("limit = \"{watts}\"")) && file.contains("a guess, a slow one"),
            "{more:?} {file}"
        );
        assert!(told.contains(&format!("draws {watts} from the wall")) && told.contains("--charger none"), "{told}");
    }
    let (told, file) = new(&["--charger", "none"]);
    assert!(file.contains("# [station.wall_charger]") && !told.contains("slow"), "{file}{told}");
    assert!(new(&["--charger", "150 W"]).0.contains("between the cuts a wall charger draws up to 150 W"));
    // In one long outage there is nothing to charge from, which is said, told before or behind.
    let whole = tideover(&["new", "--place", "Palermo", "--lasts", "2 days", "--charger", "800W"]);
    let told = unbroken(&whole.stderr);
    assert!(
        whole.status.code() == Some(0) && told.contains("800W: left out") && told.contains("[generator]"),
        "{told}"
    );
    let generator = ["new", "--place", "Palermo", "--lasts", "2 days", "--charger", "generator 1000W 10 litres"];
    refused(&generator, &["--charger", "fuel = \"10 L\"", "fuel_per_kwh", "outdoors only"]);
    // A cut outside the hours of a thing is told.
    let lamp = tideover(&["new", "--place", "Palermo", "--loads", "lamp", "--lasts", "10:00-12:00 and 18:00-20:00"]);
    let told = unbroken(&lamp.stderr);
    assert!(told.contains("lamp: nothing is asked of it in the cut of 10:00-12:00"), "{told}");
}

#[test]
fn what_nobody_knows_is_taken_and_said() {
    let bare = tideover(&["new", "--place", "Palermo", "--loads", "fridge"]);
    for (option, text, says) in [
        ("--capacity", "I don't know", "It holds 1000 Wh, which is a guess"),
        ("--capacity", "?", "It holds 1000 Wh, which is a guess"),
        ("--ac", "no idea", "AC outlets: 1000 W, which is a guess"),
        ("--panels", "Not sure.", "Panels: none"),
        ("--lasts", "dunno", "The outage lasts 2 days"),
        ("--month", "don\u{2019}t know", "It is in January"),
    ] {
        let output = tideover(&["new", "--place", "Palermo", "--loads", "fridge", option, text]);
        let told = unbroken(&output.stderr);
        assert!(output.status.code() == Some(0) && told.contains(says), "{option} {text}: {told}");
        assert_eq!(output.stdout, bare.stdout, "{option} {text}");
    }
    // South of the equator the darkest and coldest month is July.
    let south = tideover(&["new", "--place", "Santiago, Chile"]);
    assert!(String::from_utf8_lossy(&south.stdout).contains("month = \"July\""));
    refused(&["new", "--loads", "fridge", "--place", "I don't know"], &["a town is needed"]);
}

/// A battery by itself has poles and no outlets: only what its things need stands beside it, and is said.
#[test]
fn a_battery_by_itself_has_no_outlets_of_its_own() {
    let new = |capacity: &str, more: &[&str]| {
        let output = tideover(&[&["new", "--place", "Palermo", "--capacity", capacity], more].concat());
        assert_eq!(output.status.code(), Some(0), "{}", unbroken(&output.stderr));
        (String::from_utf8_lossy(&output.stdout).into_owned(), unbroken(&output.stderr))
    };
    for block in ["12 V 100 Ah AGM", "12.8 V x 100 Ah LFP", "24 V 100 Ah gel", "1200 Wh LFP battery"] {
        let (file, told) = new(block, &["--loads", "phone"]);
        assert!(file.contains("[station.usb]") && !file.contains("[station.dc_outlet]"), "{block}: {file}");
        assert!(!file.contains("[station.inverter]") && !told.contains("A 12 V outlet of 120 W"), "{block}: {file}");
        for says in ["has no outlets", "a converter to USB for 60 W", "a fuse close to the pole", "local code"] {
            assert!(told.contains(says), "{block}, {says}: {told}");
        }
        let (file, told) = new(block, &["--loads", "router, lamp", "--ac", "600 W"]);
        assert!(!file.contains("[station.usb]") && file.contains("switches_off_below = \"0 W\""), "{block}: {file}");
        assert!(told.contains("an inverter of 600 W"), "{block}: {told}");
    }
    assert!(new("24 V 100 Ah gel", &["--loads", "12 V cooler"]).1.contains("a converter from 24 V to 12 V"));
    for station in ["1000 Wh", "12.8 V x 100 Ah LFP station", "296Wh/80000mAh", "3,7 V x 20000 mAh"] {
        let (file, told) = new(station, &["--loads", "phone"]);
        assert!(file.contains("[station.usb]") && file.contains("[station.dc_outlet]"), "{station}: {file}");
        assert!(told.contains("A 12 V outlet of 120 W and USB of 60 W are there"), "{station}: {told}");
    }
}

/// Whoever gives options is told of all that cannot be used at once, in the order of the questions.
#[test]
fn every_option_that_cannot_be_used_is_named() {
    let wrong = [
        ("--place", "Springfield"),
        ("--capacity", "12.8 V"),
        ("--ac", "600 VA"),
        ("--panels", "100 W"),
        ("--stand", "half shaded"),
        ("--loads", "gramophone"),
        ("--lasts", "a weekend"),
        ("--month", "winter"),
    ];
    let options: Vec<&str> = wrong.iter().flat_map(|(option, text)| [*option, *text]).collect();
    let output = tideover(&[&["new"], &options[..]].concat());
    let told = unbroken(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{told}");
    let places: Vec<Option<usize>> = ["--place", "--capacity", "--ac", "--stand", "--loads", "--lasts"]
        .iter()
        .map(|option| told.find(&format!("error: {option}: ")))
        .collect();
    assert!(places.iter().all(Option::is_some) && places.is_sorted(), "{told}");
    // No more than can be read; the panels are right.
    assert!(told.contains("and 1 more that cannot be used") && !told.contains("error: --panels"), "{told}");
    // Two of them, which stand far apart.
    let two = ["new", "--place", "Palermo", "--capacity", "gel", "--month", "winter"];
    refused(&two, &["error: --capacity: `gel`", "error: --month: `winter`"]);
}

/// A refused answer keeps its place in the command to go on with, and the points in its place cannot pass for an answer.
#[test]
fn what_was_refused_has_its_place_in_the_command_to_go_on_with() {
    let asked = |more: &[&str]| {
        let arguments =
            [&["new", "--ask", "/nowhere/mine.toml", "--place", "Palermo", "--ac", "600 VA"], more].concat();
        let output = command(&arguments).stdin(Stdio::null()).output().expect("it starts");
        assert_eq!(output.status.code(), Some(2));
        unbroken(&output.stderr)
    };
    let told = asked(&["--capacity", "1 kWh", "--month", "winter"]);
    let line = "tideover new --ask --place 'Palermo' --capacity '1 kWh' --ac '...' --month '...' '/nowhere/mine.toml'";
    assert!(told.contains(line) && told.contains("error: --ac") && told.contains("error: --month"), "{told}");
    for option in ["--place", "--capacity", "--ac", "--panels", "--stand", "--loads", "--lasts", "--charger", "--month"]
    {
        let (taken, _, told) = made(option, "...");
        assert!(!taken && told.contains(option), "{option}: {told}");
    }
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
