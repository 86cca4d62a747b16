//! One fact, the same figures wherever it is told: a person's device by itself, free moves, a generator's fuel, and a grid without
//! an answer.

use std::fs;

use serde_json::Value;

use crate::exact::{self, VITAL, load};
use crate::program::{self, answered, command, folder, root, unbroken, written};
use crate::verdicts::by_the_rules;

fn kit(outage: &str, more: &str) -> String {
    exact::kit(outage, "", more)
}

const NOW: [&str; 4] = ["--charge", "100 % ± 0 %", "--at", "2027-01-14 20:00"];

fn file(name: &str, text: &str) -> String {
    written("alike", name, text)
}

/// A question of few trials.
fn line<'a>(file: &'a str, question: &'a str, more: &[&'a str]) -> Vec<&'a str> {
    let trials = if question == "years" { "--histories" } else { "--trials" };
    [&[question, file, "--quiet", trials, "400"][..], more].concat()
}

#[track_caller]
fn told(file: &str, question: &str, more: &[&str]) -> String {
    unbroken(answered(&line(file, question, more)))
}

#[track_caller]
fn json(file: &str, question: &str, more: &[&str]) -> Value {
    program::json(&line(file, question, more))
}

/// 100 Wh at 20 W are five hours; beside 30 W of fridge the device has two.
#[test]
fn a_device_by_itself_has_the_same_hours_and_shares_on_run_card_and_now() {
    let device = load("breather", 20, &format!("{VITAL}\nmedical = true"));
    let pair = file("device", &kit("lasts = \"4 h\"", &(load("fridge", 30, VITAL) + &device)));
    let hours = "With all else unplugged and nothing charging, not even sun, the breather runs 5 h from 100 %, and at least 5 h by the lower end of a 95 % range.";
    let (run, card, now) = (told(&pair, "run", &[]), told(&pair, "card", &[]), told(&pair, "now", &NOW));
    for text in [&run, &card, &now] {
        assert!(text.contains(hours), "{text}");
    }
    let of_run = json(&pair, "run", &[]);
    let alone = &of_run["device_alone"];
    assert_eq!((alone["runs_h"].as_f64(), alone["at_least_h"].as_f64()), (Some(5.0), Some(5.0)), "{alone}");
    assert_eq!(json(&pair, "now", &NOW)["device_alone"]["runs_h"].as_f64(), Some(5.0));
    // What it is held against is the device's own row.
    assert_eq!(alone["planned"], of_run["loads"][1]["always_on"], "{of_run}");
    assert_eq!(
        (alone["alone"]["probability"].as_f64(), alone["planned"]["probability"].as_f64()),
        (Some(1.0), Some(0.0))
    );
    let step = "If the outage may go on, do this at once: unplug the fridge, and all else but the breather. Alone it then stays on \
                through 100 of 100";
    assert!(run.contains(step) && card.contains(&format!("1. {step}")), "{run} {card}");
    // Where nothing but useful things stand beside it, they are what is unplugged, once.
    let lamp = load("lamp", 30, "priority = \"useful\"");
    let lamp = file("device-lamp", &kit("lasts = \"4 h\"", &(lamp + &device)));
    let card = told(&lamp, "card", &[]);
    assert!(card.contains("at once: unplug the lamp,") && card.matches("lamp").count() <= 4, "{card}");
    assert!(!card.contains("useful things go off") && !card.contains("lamp left off"), "{card}");
    // By hand: 40 of 100 Wh are two hours, and four less for what a display may be off by.
    let from = told(&pair, "now", &["--charge", "40 % ± 4 %", "--at", "2027-01-14 20:00"]);
    assert!(from.contains("the breather runs 2 h from 40 %, and at least 1.8 h"), "{from}");
}

/// A generator of 300 W into the charger for three hours of each day: 0.9 kWh, of which 0.7 L each make 0.63 L; in four days 2.52 L.
#[test]
fn what_hangs_on_fuel_that_nobody_told_says_its_litres_or_is_no_better_than_likely() {
    let driven = |fuel: &str| {
        let generator = format!(
            "[station.wall_charger]\nlimit = \"300 W\"\nefficiency = \"100 %\"\n[generator]\nlimit = \"700 W\"\nhours = \"18:00-21:00\"\n{fuel}\n"
        );
        kit("lasts = \"4 days\"", &(generator + &load("lamp", 3, VITAL)))
    };
    // By hand: 0.3 kW for three hours on four days at 0.7 L/kWh, and 15 % more.
    let known = file("known", &driven("fuel_per_kwh = \"0.7 L\""));
    let run = json(&known, "run", &[]);
    assert_eq!(run["verdict"]["kind"], "count_on_it", "{run}");
    assert!((run["verdict"]["if_fuel_l"].as_f64().expect("litres") - 1.15 * 2.52).abs() < 1e-9, "{}", run["verdict"]);
    for question in ["run", "card"] {
        let text = told(&known, question, &[]);
        assert!(text.contains("Count on it, if the generator starts and 2.9 L of fuel are at hand for it."), "{text}");
        assert!(text.contains("2.9 L for 4 days"), "{text}");
    }
    assert!(told(&known, "size", &[]).contains("Count on it, if the generator starts and 2.9 L of fuel"));
    let set = ["--set", "station.charge_to=90 %"];
    let compared = told(&known, "compare", &set);
    assert!(
        compared.contains("verdicts hold if the generator starts and up to 2.9 L of fuel are at hand"),
        "{compared}"
    );
    assert!(compared.contains("count on it with the generator and 2.9 L of fuel,"), "{compared}");
    let now = told(&known, "now", &NOW);
    assert!(now.contains("count on it, if the generator starts and") && now.contains("of fuel are at hand"), "{now}");
    // Nobody knows how much: one step lower, and why.
    let unknown = file("unknown", &driven(""));
    for question in ["run", "card", "size"] {
        let text = told(&unknown, question, &[]);
        assert!(text.contains("Likely, if the generator starts and the fuel is at hand, but not sure"), "{text}");
        assert!(text.contains("nobody has said what it burns"), "{text}");
        assert!(!text.contains("Count on it"), "{text}");
    }
    assert_eq!(json(&unknown, "run", &[])["verdict"]["kind"], "likely");
    assert_eq!(json(&unknown, "now", &NOW)["advice"]["verdict"]["kind"], "likely");
    assert_eq!(json(&unknown, "compare", &set)["variants"][0]["verdict"]["kind"], "likely");
    // Told and enough: it still has to start.
    let told_of = file("told", &driven("fuel_per_kwh = \"0.7 L\"\nfuel = \"5 L\""));
    let run = json(&told_of, "run", &[]);
    assert_eq!((&run["verdict"]["kind"], run["verdict"].get("if_fuel_l")), (&"count_on_it".into(), None));
    assert_eq!(run["verdict"]["if_generator_starts"], true, "{}", run["verdict"]);
    for question in ["run", "card"] {
        let text = told(&told_of, question, &[]);
        assert!(text.contains("Count on it, if the generator starts and the fuel is at hand."), "{question}: {text}");
    }
    let (now, advised) = (told(&told_of, "now", &NOW), json(&told_of, "now", &NOW));
    assert!(now.contains("count on it, if the generator starts and the fuel is at hand"), "{now}");
    assert_eq!(advised["advice"]["verdict"]["if_generator_starts"], true, "{}", advised["advice"]);
    let compared = json(&told_of, "compare", &set);
    assert_eq!(compared["variants"][0]["verdict"]["if_generator_starts"], true, "{compared}");
}

/// The same device with a generator told: what it rests on stands beside the verdict, and the hours by itself, which no generator
/// helps, say so. 100 Wh at 20 W are five hours with or without one.
#[test]
fn a_device_on_a_generator_says_what_its_verdict_and_its_hours_rest_on() {
    let device = load("breather", 20, &format!("{VITAL}\nmedical = true"));
    let driven = "[station.wall_charger]\nlimit = \"300 W\"\nefficiency = \"100 %\"\n[generator]\nlimit = \"700 W\"\nhours = \
                  [\"00:00-24:00\"]\nfuel_per_kwh = \"0.7 L\"\nfuel = \"90 L\"\n";
    let kit =
        file("device-driven", &kit("lasts = \"8 h\"", &(driven.to_string() + &load("fridge", 30, VITAL) + &device)));
    let hours =
        "With all else unplugged and nothing charging, neither sun nor generator, the breather runs 5 h from 100 %";
    for (question, more) in [("run", &[][..]), ("card", &[]), ("now", &NOW)] {
        let text = told(&kit, question, more);
        assert!(
            text.to_lowercase().contains("count on it, if the generator starts and the fuel is at hand."),
            "{question}: {text}"
        );
        assert!(text.contains(hours), "{question}: {text}");
    }
    assert_eq!(json(&kit, "run", &[])["verdict"]["if_generator_starts"], true);
}

/// 50 W all day are 1.2 kWh; of 400 Wh, the largest battery tried, four days have 100 Wh each.
#[test]
fn a_grid_without_an_answer_says_its_verdict_cause_and_what_to_do() {
    let big = file("big", &kit("lasts = \"4 days\"", &load("pump", 50, VITAL)));
    let (text, answer) = (told(&big, "size", &[]), json(&big, "size", &[]));
    for part in [
        "No kit of this grid: do not count on it.",
        "The cause: the load is too big for it: what runs takes 1.20 kWh a day",
        "its battery holds 400 Wh as it begins. That is enough for 100 Wh a day.",
        "let larger kits be tried",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    assert!(!text.contains("by chance)"), "{text}");
    let largest = &answer["verdict"]["largest"];
    assert_eq!(
        (&largest["lacks"]["kind"], largest["battery_wh"].as_f64()),
        (&"energy".into(), Some(400.0)),
        "{answer}"
    );
    for (key, wh) in [("drawn_a_day_wh", 1200.0), ("battery_wh", 400.0), ("sun_a_day_wh", 0.0)] {
        assert!((largest["lacks"][key].as_f64().expect("a number") - wh).abs() < 1e-6, "{key}: {largest}");
    }
    // Watts that the sockets do not give are no matter of battery or panels.
    let pair = load("pump", 70, &format!("{VITAL}\nhours = \"18:00-19:00\""))
        + &load("heater", 70, &format!("{VITAL}\nhours = \"18:00-19:00\""));
    let text = told(&file("over", &kit("lasts = \"2 h\"", &pair)), "size", &[]);
    let (cause, kits) = (text.find("No battery and no panel mends that"), text.find("If it never happened: "));
    assert!(
        text.contains("No kit of this grid: do not count on it.") && cause.expect("a cause") < kits.expect("kits"),
        "{text}"
    );
    assert!(!text.contains("Wh with no panel: ") && text.matches("The cause: ").count() == 1, "{text}");
    // 400 Wh for 24 h are 16.7 W; 14 W ± 26 % draw more in 7 or 8 of 100, so that the best estimate reaches 90 and the lower end not.
    let pump = "[[load]]\nname = \"pump\"\noutlet = \"dc\"\nwatts = \"14 W ± 26 %\"\npriority = \"vital\"\n";
    let size = "[size]\ntarget = \"90 %\"\nbattery_steps = { from = \"200 Wh\", to = \"400 Wh\", steps = 2 }\n";
    let unsure = kit("lasts = \"24 h\"", &format!("{pump}{size}"));
    let unsure = file("unsure", &unsure);
    let lacks = &json(&unsure, "size", &[])["verdict"]["largest"]["lacks"]["kind"];
    assert_eq!(lacks, "knowledge", "{}", told(&unsure, "size", &[]));
    assert!(told(&unsure, "size", &[]).contains("Put a plug meter between the outlet and the pump"));
}

#[test]
fn the_card_has_the_free_moves_of_the_run_in_the_order_of_doing_them() {
    for demo in ["winter-storm", "frost-in-the-shed", "two-stations", "balcony"] {
        let demo = root().join(format!("scenarios/{demo}.toml")).display().to_string();
        let (run, card) = (json(&demo, "run", &[]), told(&demo, "card", &[]));
        let mut moves = 0;
        for change in run["changes"].as_array().expect("changes") {
            let number = |key: &str| change[key].as_f64().expect("a number");
            // What gains less than 1.5 of 100 takes no room on a card.
            let surely = number("difference_low") > 0.0 && number("difference") >= 0.015;
            if change["costs"] == "nothing" && surely && change["kind"] != "move_mark" {
                let text = change["text"].as_str().expect("words");
                // Of one load what helps most stands for the rest.
                let load = change["load"].as_str().unwrap_or(text);
                assert!(card.contains(text) || card.contains(&format!("{load} left off")), "{text}: {card}");
                moves += 1;
            }
        }
        assert!(moves > 0, "{demo}: {run}");
    }
    let storm = told(&root().join("scenarios/winter-storm.toml").display().to_string(), "card", &[]);
    let place = |part: &str| storm.find(part).unwrap_or_else(|| panic!("{part}: {storm}"));
    // Their figures are of the first hour and of the first night on.
    let steps = [
        "From the first hour, if you can do without: lamps",
        "From the first night, as the last",
        "spare things go off: radio",
    ];
    assert!(steps.map(place).is_sorted() && !storm.contains("Only then"), "{storm}");
    assert!(storm.contains(", else at the latest below 20 % (what is vital then lasts at least"), "{storm}");
}

/// One thing has one step, and the figure of all that is free together says what is in it.
#[test]
fn a_card_tells_each_thing_once_and_names_what_goes_together() {
    for demo in ["winter-storm", "summer-fridge", "twice-daily-cuts", "two-stations", "balcony"] {
        let demo = root().join(format!("scenarios/{demo}.toml")).display().to_string();
        let (run, card) = (json(&demo, "run", &[]), told(&demo, "card", &[]));
        for load in run["loads"].as_array().expect("loads").iter().map(|load| load["name"].as_str().expect("a name")) {
            let left_off = card.contains(&format!("{load} left off (rides through"));
            assert!(!left_off || !card.contains(&format!("switch off the {load}")), "{load}: {card}");
        }
        // Where one of them does as much, nothing is told of all.
        let Some(from) = card.find("All that is free together (") else {
            assert!(["twice-daily-cuts.toml", "two-stations.toml"].iter().any(|one| demo.ends_with(one)), "{card}");
            continue;
        };
        let of = card[from..].split(") rides through").next().expect("a list");
        for change in run["free_together"]["changes"].as_array().expect("changes") {
            let text = change["text"].as_str().expect("words").replace("the outage begins", "");
            assert!(of.contains(text.trim()), "{text}: {card}");
        }
    }
}

/// What an answer hangs on beside sun and battery: trips, a generator that somebody starts, snow that somebody sweeps.
#[test]
fn a_card_and_a_run_say_what_has_to_be_done_every_day() {
    let demo = |name: &str| root().join(format!("scenarios/{name}.toml")).display().to_string();
    let (pair, fuel) = (demo("two-stations"), demo("two-weeks-of-fuel"));
    let (run, card) = (told(&pair, "run", &[]), told(&pair, "card", &[]));
    assert!(card.contains("the second station goes on every trip and comes back as full as told"), "{card}");
    assert!(card.contains("Every second day, first on the third: take the second station along at 07:00"), "{card}");
    assert!(run.contains("taken to be carried away to be charged every second day, first on the third"), "{run}");
    let notes = &json(&pair, "run", &[])["notes"];
    let note = notes.as_array().expect("notes").iter().find(|note| note["kind"] == "second_is_carried");
    let note = note.unwrap_or_else(|| panic!("{notes}"));
    assert_eq!((note["every_days"].as_u64(), note["returns_at"].as_f64()), (Some(2), Some(1.0)), "{note}");
    let card = told(&fuel, "card", &[]);
    assert!(card.contains("the generator starts every day, with somebody there, until its fuel is gone"), "{card}");
    assert!(card.contains("By the clock 1. After snow: sweep the panels, from the ground."), "{card}");
}

/// The inverter's own draw is not laid at the door of the one thing that hangs on it, and a table has one unit.
#[test]
fn a_card_has_the_outlet_before_what_hangs_on_it_and_says_when_things_rest() {
    let card = told(&root().join("scenarios/long-thin-cable.toml").display().to_string(), "card", &[]);
    let place = |part: &str| card.find(part).unwrap_or_else(|| panic!("{part}: {card}"));
    assert!(
        place("have the AC outlet on only while something on it runs") < place("well pump left off (rides"),
        "{card}"
    );
    assert!(card.contains("Part of what the well pump left off gains below is that draw"), "{card}");
    // No step names a charge.
    assert!(
        card.contains("What goes off, in this order") && !card.contains("By the charge that the station"),
        "{card}"
    );
    // By hand: 1 W of 1 kWh are weeks; 50 W for 9 of 24 hours two days, from 20 % four hours.
    let nightly = load("breather", 50, "priority = \"vital\"\nhours = \"22:00-07:00\"");
    let nightly = kit("lasts = \"4 days\"", &(nightly + &load("clock", 1, VITAL))).replace("\"100 Wh", "\"1 kWh");
    let card = told(&file("nightly", &nightly), "card", &[]);
    let table = card.split("that it shows").nth(1).and_then(|rest| rest.split("39 of 40").next()).expect("a table");
    assert!(!table.replace("over 14 days", "").contains("days"), "{table}");
    assert!(card.contains("rests count too; used: breather 22:00-07:00."), "{card}");
    assert!(card.contains("39 of 40 kits like this one last at least as long"), "{card}");
}

/// A free move is told with what the same trials say of a scenario in which it is done.
#[test]
fn a_look_ahead_has_free_moves_on_the_same_trials() {
    let shed = fs::read_to_string(root().join("scenarios/frost-in-the-shed.toml")).expect("the demo");
    let told_at = ["--charge", "60%", "--at", "2027-01-14 20:30"];
    let (outdoors, indoors) = (file("shed", &shed), file("room", &shed.replace("\"outdoors\"", "\"indoors\"")));
    let (here, there) = (json(&outdoors, "now", &told_at), json(&indoors, "now", &told_at));
    let free = &here["free_moves"][0];
    assert_eq!((&free["kind"], &free["lasts"]["hours_h"]), (&"bring_inside".into(), &here["judged_h"]), "{here}");
    let best =
        |answer: &Value| answer["courses"].as_array().expect("courses").iter().find(|c| c["best"] == true).cloned();
    let (best, same) = (best(&here).expect("the best"), |course: &&Value| course["kind"] == here["advice"]["kind"]);
    let done = there["courses"].as_array().expect("courses").iter().find(same).expect("the same course");
    let last = |course: &Value| {
        course["lasts"].as_array().expect("lasts").iter().find(|l| l["hours_h"] == here["judged_h"]).cloned()
    };
    assert_eq!(Some(free["lasts"].clone()), last(done), "{free} {done}");
    assert_eq!(Some(free["instead"].clone()), last(&best));
    let text = told(&outdoors, "now", &told_at);
    // Before what costs something.
    let free = text.find("Do this first, it is free and changes that: the station indoors, where people live");
    let off = text.find("Do this too, now: useful things off (the lamps)");
    assert!(free.is_some() && free < off, "{text}");
    assert!(text.contains("and that is not counted as missed"), "{text}");
}

#[test]
fn hours_of_one_sentence_have_one_form() {
    let storm = root().join("scenarios/winter-storm.toml").display().to_string();
    let text = told(&storm, "run", &[]);
    let fails =
        text.split("What fails, and when").nth(1).and_then(|rest| rest.split("What runs").next()).expect("a part");
    assert!(fails.contains(" h and ") && !fails.contains(" days"), "{fails}");
    let cuts = told(&root().join("scenarios/twice-daily-cuts.toml").display().to_string(), "run", &[]);
    assert!(
        cuts.contains("of 100 (") && cuts.contains("by chance) days pass without anything vital missing"),
        "{cuts}"
    );
    assert!(!cuts.contains("95 %, chance alone"), "{cuts}");
}

#[test]
fn years_have_a_verdict_on_the_outages_ridden_through() {
    let file = root().join("scenarios/ten-years.toml").display().to_string();
    let (text, answer) = (told(&file, "years", &[]), json(&file, "years", &[]));
    let chosen =
        answer["strategies"].as_array().expect("ways").iter().find(|way| way["name"] == answer["choice"]).expect("one");
    assert_eq!(chosen["verdict"], answer["verdict"]);
    let rode = |way: &Value, key: &str| way["rode"][key].as_f64().expect("a number");
    let by_rule = |way: &Value| by_the_rules(rode(way, "low"), rode(way, "probability"), false);
    for way in answer["strategies"].as_array().expect("ways") {
        assert_eq!(way["verdict"]["kind"].as_str(), Some(by_rule(way)), "{way}");
    }
    assert!(
        text.find("Likely, but not sure").expect("the verdict") < text.find("Choose").expect("the choice"),
        "{text}"
    );
}

#[test]
fn a_mark_that_ends_a_runtime_is_named_beside_it() {
    let storm = root().join("scenarios/winter-storm.toml").display().to_string();
    let output = command(&["check", &storm]).output().expect("it starts");
    let text = unbroken(&output.stdout);
    assert!(text.contains("(goes off below 20 %)"), "{text}");
}

#[test]
fn what_a_look_would_tell_stands_beside_the_measurements() {
    let night = root().join("scenarios/device-night.toml").display().to_string();
    let text = told(&night, "run", &[]);
    let surer =
        text.split("What would make this surer").nth(1).and_then(|rest| rest.split("What this rests on").next());
    assert!(surer.expect("a part").contains("photograph them, or their place"), "{text}");
}

/// A kit that carries a case for sure, once more with a generator beside it whose fuel never ends.
#[test]
fn a_line_up_is_no_surer_of_fuel_than_a_run() {
    let catalogue = fs::read_to_string(root().join("scenarios/lineup/catalogue.toml")).expect("the catalogue");
    let (head, kits) = catalogue.split_once("[[kit]]").expect("kits");
    let kit = kits.split("[[kit]]").find(|kit| kit.contains("name = \"Holm cupboard\"")).expect("the kit");
    let kit = kit.replace("[kit.station]\n", "[kit.station]\nwall_charger = { limit = \"300 W\" }\n");
    let place = folder("alike", "line-up");
    let kits = place.join("kits.toml");
    fs::write(&kits, format!("{head}[[kit]]{kit}")).expect("a catalogue");
    let exam = fs::read_to_string(root().join("scenarios/lineup/cases/exam-by-lamps.toml")).expect("a case");
    let generator = "\n[generator]\nlimit = \"500 W\"\nhours = \"12:00-13:00\"\n";
    let judged = |name: &str, more: &str| {
        let case = place.join(format!("{name}.toml"));
        fs::write(&case, format!("{exam}{more}")).expect("a case");
        let (kits, case) = (kits.display().to_string(), case.display().to_string());
        let answer = program::json(&["lineup", &kits, "--cases", &case, "--trials", "400", "--quiet"]);
        let endless = answer["notes"].as_array().expect("notes").iter().any(|note| note["kind"] == "fuel_never_ends");
        (answer["cells"][0]["verdict"]["kind"].as_str().expect("a verdict").to_string(), endless)
    };
    assert_eq!(judged("plain", ""), ("count_on_it".into(), false));
    assert_eq!(judged("unmeasured", generator), ("likely".into(), true));
    assert_eq!(judged("measured", &format!("{generator}fuel_per_kwh = \"0.7 L\"\n")), ("count_on_it".into(), true));
    assert_eq!(
        judged("told", &format!("{generator}fuel_per_kwh = \"0.7 L\"\nfuel = \"9 L\"\n")),
        ("count_on_it".into(), false)
    );
}
