//! What `now` offers, on kits that are worked out by hand: a run of the generator at night for a device, one beside the planned
//! hours, everything but one thing, a lower floor, and what is off by its own mark.

use serde_json::Value;

use crate::exact::{self, VITAL, load};
use crate::program::{answered, json, refused, unbroken};

fn both(test: &str, text: &str, more: &[&str]) -> (String, Value) {
    exact::both("now-ways", test, text, &[&["now", "--trials", "200"], more].concat())
}

fn kit(station: &str, more: &str) -> String {
    exact::kit("lasts = \"1 day\"", station, more)
}

/// 100 W at the plug that reach the cells whole, half a litre an hour.
fn generator(hours: &str) -> String {
    format!(
        "[station.wall_charger]\nlimit = \"100 W\"\nefficiency = \"100 %\"\n[generator]\nlimit = \"100 W\"\nhours = \"{hours}\"\n\
         fuel = \"3 L\"\nfuel_per_hour = \"0.5 L\"\n"
    )
}

/// 20 W out of 50 Wh end at 01:00, before anybody is up; an hour's run from 22:30 fills the 100 Wh, which then last until 04:30.
#[test]
fn a_device_that_would_stop_in_the_night_has_the_generator_started_at_once() {
    let at = ["--charge", "50 % ± 0 %", "--at", "2027-01-14 22:30", "--until", "5 h"];
    let of = |medical: &str| kit("", &(generator("12:00-13:00") + &load("breather", 20, &format!("{VITAL}{medical}"))));
    let night = of("\nmedical = true");
    let asleep = night.replacen("[outage]\n", "[outage]\nsomebody_home = \"07:00-22:00\"\n", 1);
    for (test, text) in [("night", &night), ("night-asleep", &asleep)] {
        let (text, json) = both(test, text, &at);
        for part in [
            "Do this now: start the generator now, outdoors and far from doors and windows, and let it run for 1 h, and so every night \
             at 22:30, beside its planned hours (at most 1.0 L a day; 3.0 L on hand are enough for three such days).",
            "a person's health comes before quiet hours: somebody stays up and with the generator",
            "carbon monoxide",
            "local rules hold",
            "The breather lasts 5 h in 100 of 100",
        ] {
            assert!(text.contains(part), "{part}: {text}");
        }
        let run = &json["advice"]["generator"];
        assert_eq!((run["from_min"].as_f64(), run["kept_awake"].as_bool()), (Some(1350.0), Some(true)), "{json}");
    }
    // Nobody stays up for a lamp, nor for a device that lasts until the morning's run, or that is being charged.
    let starts = |test: &str, text: &str, more: &[&str]| {
        let (_, json) = both(test, text, more);
        let driven = json["courses"].as_array().expect("courses").iter().find(|course| !course["generator"].is_null());
        let run = driven.expect("a run")["generator"].clone();
        (run["from_min"].as_f64(), run["kept_awake"].as_bool())
    };
    let morning = (Some(420.0), Some(false));
    assert_eq!(starts("night-lamp", &of(""), &at), morning);
    let little = night.replace("\"20 W\"", "\"2 W\"");
    assert_eq!(starts("night-lasts", &little, &at), morning);
    let running = night.replace("12:00-13:00", "22:00-23:30");
    assert_eq!(starts("night-running", &running, &at).1, Some(false));
}

/// 25 W out of 20 Wh end at once. An hour from 20:00 brings 95 Wh, of which 45 are left at 23:00; the planned hour then fills the
/// 100 Wh, and they last until 04:00. Two hours from 20:00 in its stead last until 02:00.
#[test]
fn a_run_from_now_on_leaves_the_planned_hours_as_they_are() {
    let lamp = kit("", &(generator("23:00-24:00") + &load("lamp", 25, VITAL)));
    let (text, json) = both("beside", &lamp, &["--charge", "20 % ± 0 %", "--at", "2027-01-14 20:00", "--until", "7 h"]);
    let told = "at 20:00 today and let it run for 1 h, and so every day, beside its planned hours (at most 1.0 L a day; 3.0 L on hand \
                are enough for three such days). The lamp lasts 7 h in 100 of 100";
    assert!(text.contains(told), "{text}");
    let run = &json["advice"]["generator"];
    assert_eq!((run["and_planned"].as_bool(), run["run_l"].as_f64()), (Some(true), Some(1.0)), "{json}");
    assert!(text.contains("the generator from 20:00 for 1 h a day, and at its planned hours"), "{text}");
}

/// Lamps that the plan switches off below a fifth are off at 8 %, and the figures count that: whoever asks has to do it.
#[test]
fn what_is_off_by_its_mark_is_named() {
    let at = ["--trials", "200", "--quiet", "--at", "2027-01-29 18:30", "--charge"];
    let ask =
        |charge: &str| unbroken(answered(&[&["now", "scenarios/winter-storm.toml"], &at[..], &[charge]].concat()));
    let text = ask("8%");
    let told = "Do this now: spare things off (the radio and phones). Off from now on too, by the plan's own marks of charge: the lamps \
                (off below 20 %).";
    assert!(text.contains(told), "{text}");
    assert!(!ask("43%").contains("own marks of charge"));
    // Where nothing else is to be done.
    let marked = load("lamp", 5, "priority = \"useful\"\noff_below = \"30 %\"") + &load("pump", 5, VITAL);
    let (text, _) = both("mark", &kit("", &marked), &["--charge", "20 % ± 0 %", "--until", "3 h"]);
    assert!(text.contains("what the plan has off at this charge: the lamp (off below 30 %)"), "{text}");
}

/// 55 W out of 100 Wh end before two hours; the 15 W without the 40 W last over six. Nothing else off is enough.
#[test]
fn one_vital_thing_off_is_offered_before_all_but_one() {
    let three = kit("", &(load("router", 10, VITAL) + &load("lamp", 5, VITAL) + &load("tv", 40, VITAL)));
    let at = ["--charge", "100 % ± 0 %", "--at", "2027-01-14 20:00", "--until"];
    let (text, json) = both("but", &three, &[&at[..], &["4 h"]].concat());
    assert!(text.contains("What would last 4 h: everything vital but the tv, 100 of 100"), "{text}");
    let courses = json["courses"].as_array().expect("courses").clone();
    let but: Vec<&Value> = courses.iter().filter(|course| course["kind"] == "all_but").collect();
    assert!(matches!(&but[..], [one] if one["keeps"] == serde_json::json!(["router", "lamp"])), "{json}");
    // Where all last, none is left off.
    let (text, _) = both("but-all", &three, &[&at[..], &["1 h"]].concat());
    assert!(!text.contains("everything vital but"), "{text}");
}

/// 1 W out of the 10 Wh above the half that lead-acid keeps; above a quarter there are 35.
#[test]
fn what_stays_in_by_choice_is_said_where_it_decides() {
    let lead = kit("chemistry = \"lead-acid\"", &load("lamp", 1, VITAL));
    let at = ["--charge", "60%", "--at", "2027-01-14 20:00", "--until"];
    let (text, json) = both("floor", &lead, &[&at[..], &["20 h"]].concat());
    let told = "50 % of the battery stays in by the plan. Drawn down to 25 % instead";
    let place = |part: &str| text.find(part).unwrap_or_else(|| panic!("{part}: {text}"));
    assert!(place(told) < place("Of 100,") && place(told) < place("Sky assumed"), "{text}");
    assert!(text.contains("20 h in 100 of 100") && text.contains("wears the battery about as much as"), "{text}");
    assert!(json["floor"]["text"].as_str().is_some_and(|said| said.contains("Drawn down to 25 %")), "{json}");
    let (text, _) = both("floor-lasts", &lead, &[&at[..], &["2 h"]].concat());
    assert!(!text.contains("Drawn down to"), "{text}");
}

/// 10 W from 22:00 to 07:00 out of 95 Wh are a night, and half an hour of the next; of a label that may be a fifth less, not eight hours.
#[test]
fn a_device_is_planned_for_no_longer_than_its_own_hours_and_these_have_a_clock() {
    let device = load("breather", 10, &format!("{VITAL}\nhours = \"22:00-07:00\"\nmedical = true"));
    let unsure = kit("", &device).replace("100 Wh ± 0 %", "95 Wh ± 20 %");
    let at = ["--charge", "100 % ± 0 %", "--at", "2027-01-14 22:00"];
    let (text, json) = both("own-hours", &unsure, &at);
    let hours = |value: &Value| value.as_f64().unwrap_or_else(|| panic!("{json}"));
    let least = hours(&json["device_alone"]["at_least_h"]);
    // Standard error of that quantile of 400 draws: 0.14 h.
    assert!((least - 7.6).abs() < 0.5, "{least}");
    assert!((hours(&json["advice"]["count_on_h"]) - least).abs() < 1e-9, "{}", json["advice"]);
    assert!(text.contains("so long the breather runs at least with nothing charging"), "{text}");
    assert!(text.contains("By the clock: until 22:30 tomorrow; by the lower end until 05:"), "{text}");
    // What is sure has one time, and ends with the night where the next finds nothing.
    let ends = kit("", &device).replace("own_draw = \"0 W\"", "own_draw = \"1 W\"").replace("100 Wh ±", "112 Wh ±");
    let (text, _) = both("own-hours-sure", &ends, &at);
    assert!(
        text.contains("By the clock: to the end of its use at 07:00 tomorrow; by the lower end as well."),
        "{text}"
    );
}

const STORM: [&str; 7] =
    ["now", "scenarios/winter-storm.toml", "--charge", "43%", "--at", "2027-01-14 20:30", "--quiet"];

#[test]
fn a_look_ahead_says_of_what_it_is_and_when_by_date() {
    let text = unbroken(answered(&[&STORM[..], &["--trials", "1000"]].concat()));
    assert!(text.starts_with("Battery at 43 % (± 5), 14 January, 20:30: Winter storm at the cabin"), "{text}");
    assert!(
        text.contains("Judged by 20:30 on 18 January: 4 days from now") && !text.contains("days from today"),
        "{text}"
    );
    // Where all is due at once, nobody is asked when.
    assert!(!text.contains("By when to switch off"), "{text}");
    assert!(text.contains("The food in the next 4 days, with spare and useful things off"), "{text}");
    // Over the end of a month.
    let text = unbroken(answered(&[&STORM[..5], &["2027-01-30 20:30", "--quiet", "--trials", "100"]].concat()));
    assert!(text.contains("Judged by 20:30 on 3 February"), "{text}");
}

/// A course that is likely, though not to be counted on, decides where everything vital on is less.
#[test]
fn the_first_lines_have_the_course_that_is_likely() {
    let line = [&STORM[..], &["--trials", "2000"]].concat();
    let (text, json) = (unbroken(answered(&line)), json(&line));
    let best =
        json["courses"].as_array().expect("courses").iter().find(|course| course["best"] == true).expect("the best");
    assert!(best["verdict"]["kind"] == "toss_up" || best["verdict"]["kind"] == "do_not_count", "{best}");
    let likely: Vec<&Value> = json["courses"]
        .as_array()
        .expect("courses")
        .iter()
        .filter(|course| course["verdict"]["kind"] == "likely")
        .collect();
    assert!(!likely.is_empty(), "{json}");
    let from =
        text.find("What lasts longest, though not to be counted on for 4 days: ").unwrap_or_else(|| panic!("{text}"));
    for course in likely {
        let words = course["text"].as_str().expect("words");
        assert!(text[from..].split("What is assumed").next().expect("lines").contains(&format!("{words}, ")), "{text}");
    }
}

/// A router on its 12 V plug costs nobody anything; off at night it is dark.
#[test]
fn moves_that_leave_nothing_dark_come_first_and_both_have_a_figure() {
    let line = [&STORM[..], &["--sky", "dark,mixed,clear", "--trials", "2000"]].concat();
    let json = json(&line);
    let kinds: Vec<&str> = json["free_moves"]
        .as_array()
        .expect("moves")
        .iter()
        .map(|free| free["kind"].as_str().expect("a kind"))
        .collect();
    assert_eq!(kinds, ["move_load", "off_at_night"], "{json}");
    let all = &json["free_moves_together"];
    assert_eq!(all["changes"].as_array().map(Vec::len), Some(2), "{all}");
    let share = |of: &Value| of["lasts"]["probability"].as_f64().expect("a share");
    assert!(json["free_moves"].as_array().expect("moves").iter().all(|free| share(free) < share(all)), "{json}");
}

#[test]
fn pictures_are_refused_where_an_answer_has_none() {
    let folder = crate::program::folder("now-ways", "figures").join("none");
    let path = folder.display().to_string();
    refused(&[&STORM[..], &["--figures", &path]].concat(), &["--figures", "cannot be given to now", "has no pictures"]);
    assert!(!folder.exists());
}
