//! What `run` says beside its figures: causes, dangers, what to do first, and numbers that agree with each other.

use std::fs;

use serde_json::Value;

use crate::exact::{self, VITAL, load};
use crate::program::{answered, json, root, unbroken, written};

/// A demo's answer, as text in one line and for programs.
#[track_caller]
fn demo(name: &str, trials: &str) -> (String, Value) {
    let file = format!("scenarios/{name}.toml");
    let line = ["run", &file, "--trials", trials, "--quiet"];
    (unbroken(answered(&line)), json(&line))
}

/// The text of a section.
#[track_caller]
fn section<'a>(text: &'a str, heading: &str) -> &'a str {
    text.split(heading).nth(1).unwrap_or_else(|| panic!("{heading}: {text}"))
}

#[test]
fn shares_beside_each_other_make_a_hundred_and_no_share_is_all_where_something_lacks() {
    for name in ["food-and-little-unmet", "two-weeks-of-fuel", "templates/load-shedding"] {
        let (text, json) = demo(name, "1000");
        let what = section(&text, "What fails, and when");
        // What fails and what holds are told in one denominator, and as one count.
        let first = what.split(" of 100").next().and_then(|before| before.rsplit(' ').next()?.parse().ok());
        let first: u32 = first.unwrap_or_else(|| panic!("{what}"));
        let loads = json["loads"].as_array().expect("loads");
        let vital = loads.iter().find(|load| load["off_share"].as_f64() > Some(0.01)).expect("one that fails");
        let on = 100.0 * vital["always_on"]["probability"].as_f64().expect("a share");
        assert!(text.contains(&format!("{:.0} of 100 (", on.round())), "{name}: {text}");
        assert_eq!(first + on.round() as u32, 100, "{name}: {what}");
        for load in loads {
            let (asked, missed) = (load["asked_wh"].as_f64(), load["missed_wh"].as_f64());
            let all = missed == Some(0.0);
            let row = section(&text, "first gap (half between)");
            let row = section(row, load["name"].as_str().expect("a name"));
            let gets = row.split(" Wh ").nth(1).expect("what it gets");
            assert_eq!(gets.starts_with("all "), all, "{name}: {asked:?}: {row}");
            assert!(!gets.starts_with("100 %"), "{name}: {row}");
        }
    }
}

#[test]
fn what_may_burn_or_be_destroyed_stands_under_the_verdict_and_once() {
    let (text, _) = demo("twice-daily-cuts", "300");
    let danger = "Too many volts destroy a solar input";
    assert_eq!(text.matches(danger).count(), 1, "{text}");
    assert!(text.find(danger) < text.find("What fails, and when"), "{text}");
    // A change that makes strings which want fuses says so.
    let kit = |panels: u32| {
        let panels = format!(
            "[station.solar_input]\nlimit = \"2 kW\"\nvolts_max = \"60 V\"\n[[panel]]\nrated = \"50 W\"\ncount = {panels}\nwiring = \
             \"parallel\"\ntilt = \"60°\"\nfacing = \"south\"\nopen_circuit_voltage = \"22 V\"\n"
        );
        exact::kit("lasts = \"4 days\"", "", &(panels + &load("lamp", 15, VITAL)))
    };
    for (panels, fuses) in [(1, false), (2, true)] {
        let name = format!("strings-{panels}");
        let (text, _) = exact::both("runs", &name, &kit(panels), &["run", "--trials", "300"]);
        let beside =
            if panels == 1 { "one more 50 W panel beside the first" } else { "one more 50 W panel beside the others" };
        assert!(text.contains(beside), "{text}");
        assert_eq!(text.contains("3 strings hang side by side on one input"), fuses, "{text}");
    }
}

#[test]
fn cold_is_named_where_cells_neither_take_the_sun_nor_give_what_they_hold() {
    let (text, json) = demo("frost-in-the-shed", "500");
    let energy = |key: &str| json["energy"][key].as_f64().expect("an energy");
    let refused = (100.0 * energy("barred_wh") / energy("solar_wh")).round();
    let left = json["first_failure"]["lowest_charge_percent"].as_u64().expect("a charge");
    // Lithium cells at -10 °C give about 70 to 80 % of what they hold (docs/model.md, from memory of makers' curves).
    assert!((15..45).contains(&left), "{left}");
    for part in [
        format!("The cells are too cold: they refuse {refused:.0} % of what the panels could give"),
        format!("they stop giving with {left} % still in the battery"),
        "everything runs until the cold battery gives no more".into(),
    ] {
        assert!(text.contains(&part), "{part}: {text}");
    }
    let file = fs::read_to_string(root().join("scenarios/frost-in-the-shed.toml")).expect("a demo");
    let inside = file.replace("stands = \"outdoors\"", "stands = \"indoors\"");
    assert!(inside != file, "{file}");
    let inside = written("runs", "inside", &inside);
    let text = unbroken(answered(&["run", &inside, "--trials", "200", "--quiet"]));
    assert!(!text.contains("too cold") && !text.contains("the cold battery"), "{text}");
}

#[test]
fn the_free_change_that_makes_a_better_verdict_stands_under_the_verdict() {
    let (text, json) = demo("twice-daily-cuts", "500");
    let first = section(&text, "Free first: ");
    let changes = json["changes"].as_array().expect("changes");
    let free = changes.iter().filter(|change| change["costs"] == "nothing");
    let best = free.max_by(|a, b| {
        a["survival"]["probability"].as_f64().partial_cmp(&b["survival"]["probability"].as_f64()).expect("numbers")
    });
    let best = best.expect("a free change")["survival"]["probability"].as_f64().expect("a share");
    assert!(first.contains(&format!("That rides through {:.0} of 100", 100.0 * best)), "{first}");
    assert!(text.find("Free first") < text.find("What fails, and when"), "{text}");
    // Hours of weeks are days, what is asked is that of the cuts alone, and a spell begins.
    for part in [" days into the spell", "a day's cuts ask", "from the wall between cuts", "in a mean spell"] {
        assert!(text.contains(part), "{part}: {text}");
    }
    assert!(
        text.contains("has a label that counts a slow discharge (over 20 hours; at the rate of these loads"),
        "{text}"
    );
}

/// 100 Wh without losses and a device of 10 W from 22:00 to 07:00: 90 Wh a night, so that the last 10 Wh end an hour into the
/// second night, 25 hours after the first began.
#[test]
fn a_device_of_the_night_is_told_in_nights() {
    let device = load("breather", 10, &format!("{VITAL}\nmedical = true\nhours = \"22:00-07:00\""));
    let phone = load("phone", 8, "priority = \"useful\"");
    let kit = exact::kit("lasts = \"30 h\"", "", &(device + &phone));
    let (text, json) = exact::both("runs", "night", &kit, &["run", "--trials", "400"]);
    let alone = &json["device_alone"];
    assert_eq!(alone["runs_h"].as_f64(), Some(25.0), "{alone}");
    for part in [
        "the breather runs through one night and part of the next from 100 %",
        "(25 h and ",
        "by the clock from 22:00 on, rests counted: used 22:00-07:00)",
        "charge the phone, then unplug the phone",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    assert!(!text.contains("Charge the phone first"), "{text}");
}

#[test]
fn an_outlet_that_stays_on_or_does_not_has_no_middle_answer() {
    let (text, json) = demo("balcony", "1000");
    let night = json["surer"]
        .as_array()
        .expect("measurements")
        .iter()
        .find(|s| s["measure"]["kind"] == "night_with_small_load");
    let told = night.expect("the outlet's night")["text"].as_str().expect("words");
    assert!(
        text.contains(told) && told.contains("0 W if it stays on") && !told.contains("came out as assumed"),
        "{told}"
    );
}

#[test]
fn what_is_wired_into_a_house_is_for_an_electrician() {
    let fan = load("furnace fan", 10, VITAL);
    let (text, _) = exact::both("runs", "wired", &exact::kit("lasts = \"4 h\"", "", &fan), &["run", "--trials", "100"]);
    assert!(text.contains("Usually wired into the house and not plugged in: the furnace fan."), "{text}");
    let lamp = exact::kit("lasts = \"4 h\"", "", &load("lamp", 10, VITAL));
    let (text, _) = exact::both("runs", "plugged", &lamp, &["run", "--trials", "100"]);
    assert!(!text.contains("Usually wired into the house"), "{text}");
}
