//! When a thing runs and what it is plugged into, in the words of a beginner's answer to `new`.
//!
//! What people write is common practice, no source; what it means is the clock and arithmetic: 30 minutes are a fourth of two
//! hours, 250 W for two hours are 500 Wh.

use super::first_words::made;
use super::program::{tideover, unbroken};

/// One thing alone, with lines of its section that there must be and others that there must not, and what is said of it.
#[test]
fn words_of_time_and_of_the_plug_are_taken_as_they_are_meant() {
    let mut wrong = Vec::new();
    for (text, lines, not, says) in [
        // Watts and hours of one's own: on throughout, whatever the library's thing does by itself.
        (
            "water pump 250 W 750 W surge 07:00-09:00",
            &["kind = \"schedule\"", "hours = \"07:00-09:00\"", "starting_watts = \"750 W\""][..],
            "duty",
            "on for all of 07:00 to 09:00; if it runs less, say how long a day",
        ),
        ("water pump 250 W 7-9 am", &["kind = \"schedule\"", "hours = \"07:00-09:00\""], "name", "on for all of"),
        ("iron 1000 W 18:00-19:00", &["kind = \"schedule\"", "watts = \"1000 W\""], "duty", "18:00 to 19:00"),
        ("laptop 65 W 09:00-17:00", &["kind = \"schedule\"", "like = \"laptop\""], "energy", "on for all of"),
        ("water pump 250 W 24/7", &["kind = \"schedule\"", "hours = \"00:00-24:00\""], "duty", "on for all of"),
        ("aquarium 30 W 08:00-20:00", &["name = \"aquarium\"", "hours = \"08:00-20:00\""], "duty", "on for all of"),
        // But what is told to run less does, and what a thermostat or a small battery of its own holds back is held back.
        (
            "water pump 250 W 07:00-09:00 30 minutes a day",
            &["kind = \"duty\"", "duty = \"25 %\"", "hours = \"07:00-09:00\""],
            "schedule",
            "on for 25 % of 07:00-09:00",
        ),
        ("water pump 250 W 30 min daily from 7 am to 9 am", &["duty = \"25 %\""], "schedule", ""),
        ("water pump 250 W half an hour 07:00-09:00", &["duty = \"25 %\""], "schedule", ""),
        ("water pump 250 W 600 Wh a day", &["kind = \"duty\"", "duty = \"10 %\""], "hours =", "144 minutes a day"),
        ("aquarium 30 W 08:00-20:00 6 h a day", &["duty = \"50 %\"", "hours = \"08:00-20:00\""], "schedule", ""),
        ("phone 10 W 22:00-07:00", &["like = \"phone\"", "hours = \"22:00-07:00\""], "schedule", ""),
        ("laptop 65 W 200 Wh a day", &["energy_a_day = \"200 Wh\""], "kind", ""),
        ("water pump 07:00-09:00", &["hours = \"07:00-09:00\""], "schedule", "draws its watts 4 % of the time"),
        // Times in several words.
        ("tv 6-10 pm", &["like = \"television", "hours = \"18:00-22:00\""], "name", ""),
        ("tv 6 - 10 pm", &["hours = \"18:00-22:00\""], "name", ""),
        ("tv 7 pm - 10 pm", &["hours = \"19:00-22:00\""], "name", ""),
        ("tv between 18 and 22", &["hours = \"18:00-22:00\""], "name", ""),
        ("lamp 8 W from 6 to 10 in the evening", &["hours = \"18:00-22:00\"", "watts = \"8 W\""], "name", ""),
        ("lamp 8 W 18-22 in the evening", &["hours = \"18:00-22:00\""], "name", ""),
        ("radio 5 W 7-9 in the morning", &["hours = \"07:00-09:00\""], "name", ""),
        ("night light 2 W", &["name = \"night light\""], "hours", ""),
        // A name of the library that holds a comma is one thing, whatever stands behind it.
        (
            "sleep breathing device, 12 V adapter 35 W",
            &["like = \"sleep breathing device, 12 V adapter\"", "watts = \"35 W\""],
            "name",
            "",
        ),
        ("2 LED lamp, 12 V 5 W", &["like = \"LED lamp, 12 V\"", "count = 2", "watts = \"5 W\""], "name", ""),
        // What it is plugged into, anywhere among the words.
        (
            "breathing device 35W at night on the 12V socket",
            &["like = \"sleep breathing device, 12 V adapter\"", "hours = \"22:00-07:00\"", "watts = \"35W\""],
            "outlet = \"ac\"",
            "on from 22:00-07:00",
        ),
        ("breathing device 35 W dc", &["like = \"sleep breathing device, 12 V adapter\""], "outlet = \"ac\"", ""),
        ("cpap 35 W 12 V", &["like = \"sleep breathing device, 12 V adapter\""], "outlet = \"ac\"", ""),
        ("aquarium 30 W on the 12 V outlet", &["name = \"aquarium\"", "outlet = \"dc\""], "outlet = \"ac\"", ""),
        ("lamp 5 W usb socket", &["like = \"LED lamp\"", "outlet = \"usb\""], "name", ""),
        // Coolers by size.
        ("small fridge", &["like = \"fridge, 100 litres\""], "name", ""),
        ("fridge 60 litres", &["like = \"fridge, 100 litres\""], "name", ""),
        ("fridge 150 l", &["like = \"fridge-freezer, 200 litres\""], "name", ""),
        ("fridge 900 l", &["like = \"fridge-freezer, 600 litres\""], "name", ""),
    ] {
        let (taken, file, told) = made("--loads", text);
        let load = file.split("[[load]]").nth(1).unwrap_or_default();
        let load = load.split("# priority may").next().unwrap_or_default();
        let alone = file.matches("[[load]]").count() == 1;
        let missing = lines.iter().any(|line| !load.contains(line));
        // A key at the beginning of a line, or a whole line.
        let there =
            load.lines().any(|line| line.starts_with(not) || line.contains("\"schedule\"") && not == "schedule");
        if !taken || !alone || missing || there || !told.contains(says) {
            wrong.push(format!("{text}: {lines:?}, not {not}, {says}: {load}{told}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
    // What may stand behind a thing begins another one.
    let (_, file, _) = made("--loads", "LED lamp, 12 V cooler");
    assert_eq!(file.matches("[[load]]").count(), 2, "{file}");
}

#[test]
fn words_that_are_not_understood_never_become_a_name() {
    let mut wrong = Vec::new();
    for (option, text, says) in [
        ("--loads", "water pump 250 W in the morning", "like \"water pump 250 W 06:00-09:00\""),
        ("--loads", "lights in the evening", "like \"lights 18:00-22:00\""),
        ("--loads", "water pump 250 W for two hours", "like \"water pump 250 W 18:00-20:00\""),
        ("--loads", "tv 5 hours in the evening", "like \"tv 18:00-23:00\""),
        ("--loads", "water pump 250 W 10 minutes a day", "\"water pump 250 W 06:00-22:00 10 minutes a day\""),
        ("--loads", "water pump 250 W from 7 to 9", "\"07:00-09:00\" for the morning"),
        ("--loads", "water pump 250 W 7-9", "\"07:00-09:00\" for the morning"),
        ("--loads", "aquarium 30 W on weekends", "`weekends` is no hour"),
        ("--loads", "kettle 2000 W 7 am", "like \"kettle 2000 W 07:00-08:00\""),
        ("--loads", "electric gate 300 W twice a day", "like \"electric gate 300 W 18:00-22:00\""),
        ("--loads", "tv 60 W until midnight", "write from and to"),
        ("--loads", "water pump 250 W 07:00-09:00 3 h a day", "more than the 120 minutes"),
        ("--loads", "fridge 45 W 18:00-22:00", "by its thermostat at all hours"),
        ("--stand", "snow on it all winter", "shade = [{ hours = \"00:00-24:00\""),
        ("--stand", "half in the shade of a tree", "loses = \"50 %\""),
        ("--panels", "no 100 W", "--panels"),
    ] {
        let (taken, _, told) = made(option, text);
        if taken || !told.contains(says) || !told.contains(option) {
            wrong.push(format!("{option} {text}: {says}: {taken} {told}"));
        }
    }
    for (option, text, line) in [
        ("--ac", "2000 W surge 4000", "rated = \"2000 W\"\nsurge = \"4000 W\""),
        ("--ac", "2000 W (4000 surge)", "rated = \"2000 W\"\nsurge = \"4000 W\""),
        ("--panels", "I don't have any panels", "[station]"),
        ("--panels", "no solar panels yet", "[station]"),
        ("--charger", "the wall charger that came with it, 90W", "limit = \"90 W\""),
        ("--capacity", "12 V 200 Ah gel about 4 years old", "state_of_health = \"68 % ± 16 %\""),
        ("--stand", "shade after 2 pm", "shade = [{ hours = \"14:00-24:00\""),
    ] {
        let (taken, file, told) = made(option, text);
        if !taken || !file.contains(line) || option == "--panels" && file.contains("[[panel]]") {
            wrong.push(format!("{option} {text}: {line}: {told}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

/// 24 times what it draws in an hour.
#[test]
fn what_the_inverter_takes_for_itself_is_said() {
    let told = |more: &[&str]| unbroken(&tideover(&[&["new", "--place", "Palermo"], more].concat()).stderr);
    let says = |text: &str| {
        let (watts, wh) =
            text.split_once("The inverter itself draws ")?.1.split_once(" W with nothing plugged in, ")?;
        let wh = wh.split_once(" Wh a day")?.0;
        Some((watts.parse::<f64>().ok()?, wh.parse::<f64>().ok()?))
    };
    let station = told(&["--loads", "router"]);
    let (watts, wh) = says(&station).expect("it is said");
    assert!(watts > 0.0 && (wh - 24.0 * watts).abs() <= 24.0 * 0.05 + 0.5, "{station}");
    let inverter = told(&["--capacity", "12 V 100 Ah AGM", "--ac", "600 W", "--loads", "lamp"]);
    assert!(says(&inverter).is_some() && inverter.contains("switched off by hand"), "{inverter}");
    // Without an inverter the lights are 12 V lights.
    let bare = tideover(&["new", "--place", "Palermo", "--capacity", "12 V 100 Ah AGM", "--loads", "lights"]);
    assert!(says(&unbroken(&bare.stderr)).is_none());
    assert!(String::from_utf8_lossy(&bare.stdout).contains("like = \"LED lamp, 12 V\""));
}
