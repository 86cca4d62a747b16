//! The binary as a person meets it: exit codes, messages, files left behind, and the promise that neither threads nor time
//! change an answer.

use std::fs;
use std::path::{Path, PathBuf};

use crate::program::{folder, refused, root, tideover, unbroken};

const STORM: &str = "scenarios/winter-storm.toml";

/// The storm scenario with lines changed, in a folder of its own.
#[track_caller]
fn changed(test: &str, changes: &[(&str, &str)]) -> String {
    let mut text = fs::read_to_string(root().join(STORM)).expect("the scenario");
    for (old, new) in changes {
        assert!(text.contains(old), "the scenario has no {old:?}");
        text = text.replacen(old, new, 1);
    }
    let path = folder("cli", test).join("changed.toml");
    fs::write(&path, text).expect("a file to write to");
    path.display().to_string()
}

#[test]
fn every_scenario_is_answered_neither_with_never_nor_with_always() {
    let mut files: Vec<PathBuf> = fs::read_dir(root().join("scenarios"))
        .expect("the scenarios")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    files.sort();
    assert!(files.len() >= 4, "only {} scenarios", files.len());
    for file in files {
        let name = file.display().to_string();
        let output = tideover(&["run", &name, "--trials", "2000", "--json", "--quiet"]);
        assert_eq!(output.status.code(), Some(0), "{name}: {}", String::from_utf8_lossy(&output.stderr));
        let answer: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
        let survival = &answer["survival"];
        let p = survival["probability"].as_f64().expect("a probability");
        let (low, high) = (survival["low"].as_f64().expect("low"), survival["high"].as_f64().expect("high"));
        assert!((0.03..=0.97).contains(&p), "{name} survives with {p}");
        assert!(low < p && p < high, "{name}: {low} {p} {high}");
        assert_eq!(survival["trials"], 2000);
        for key in ["unmet_wh", "first_failure", "seed", "version", "changes", "loads", "energy", "notes"] {
            assert!(!answer[key].is_null(), "{name}: no {key}");
        }
        assert_eq!(tideover(&["check", &name]).status.code(), Some(0), "check {name}");
    }
}

#[test]
fn the_answer_is_the_same_to_the_byte_on_any_number_of_threads() {
    let answer =
        |threads: &str| tideover(&["run", STORM, "--threads", threads, "--trials", "3000", "--json", "--quiet"]).stdout;
    let one = answer("1");
    assert!(one.len() > 1000, "an answer");
    assert_eq!(one, answer("2"));
    assert_eq!(one, answer("7"));
    let text = |threads: &str| tideover(&["run", STORM, "--threads", threads, "--trials", "3000", "--quiet"]).stdout;
    assert_eq!(text("1"), text("7"));
    let other = tideover(&["run", STORM, "--trials", "3000", "--json", "--quiet", "--seed", "2"]).stdout;
    assert_ne!(one, other, "another seed gives other luck");
}

#[test]
fn a_run_stops_early_when_it_is_precise_enough() {
    let output = tideover(&["run", STORM, "--precision", "2 %", "--json", "--quiet", "--trials", "1000000"]);
    let answer: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let trials = answer["survival"]["trials"].as_u64().expect("trials");
    assert!((1000..20_000).contains(&trials), "{trials} trials");
    let width =
        answer["survival"]["chance_high"].as_f64().unwrap() - answer["survival"]["chance_low"].as_f64().unwrap();
    assert!(width <= 0.04, "chance leaves {width}");
}

#[test]
fn a_requirement_that_is_not_met_has_its_own_exit_code() {
    assert_eq!(tideover(&["run", STORM, "--trials", "500", "--quiet", "--require", "99.9 %"]).status.code(), Some(4));
    assert_eq!(tideover(&["run", STORM, "--trials", "500", "--quiet", "--require", "0 %"]).status.code(), Some(0));
    refused(&["run", STORM, "--require", "95"], &["--require", "needs a unit", "95 %"]);
}

#[test]
fn a_trace_balances_in_every_line() {
    let output = tideover(&["run", STORM, "--trace", "4711", "--quiet"]);
    assert_eq!(output.status.code(), Some(0));
    let mut reader = csv::Reader::from_reader(output.stdout.as_slice());
    let heads: Vec<String> = reader.headers().expect("a header").iter().map(String::from).collect();
    let mut rows = 0;
    for record in reader.records() {
        let record = record.expect("a record");
        let get = |name: &str| -> f64 {
            let at = heads.iter().position(|h| h == name).unwrap_or_else(|| panic!("no column {name}"));
            record[at].parse().unwrap_or_else(|_| panic!("{name}: {}", &record[at]))
        };
        let into = get("solar_wh") + get("wall_wh") + get("source_wh") + get("stored_before_wh");
        let out: f64 = heads
            .iter()
            .filter(|h| h.ends_with("_wh"))
            // What comes in, and the two parts of what is curtailed.
            .filter(|h| {
                !["solar_wh", "wall_wh", "source_wh", "stored_before_wh", "clipped_wh", "barred_wh"]
                    .contains(&h.as_str())
            })
            .map(|h| get(h))
            .sum();
        // Sixteen figures printed to four decimals.
        assert!((into - out).abs() < 16.0 * 0.5e-4 + 1e-9, "hour {rows}: {into} in, {out} out");
        rows += 1;
    }
    assert_eq!(rows, 96, "four days of hours");
}

#[test]
fn what_is_wrong_is_told_and_nothing_is_written() {
    refused(&["run", "scenarios/winter-strom.toml"], &["no such file", "did you mean scenarios/winter-storm.toml"]);
    refused(&["run", "scenarios"], &["is a folder"]);
    let wrong = |test: &str, old: &str, new: &str, told: &[&str]| {
        let path = changed(test, &[(old, new)]);
        let out = Path::new(&path).with_file_name("answer.txt").display().to_string();
        let mut told = told.to_vec();
        told.push("changed.toml:");
        refused(&["run", &path, "--out", &out], &told);
        let left: Vec<_> =
            fs::read_dir(Path::new(&path).parent().unwrap()).unwrap().map(|e| e.unwrap().file_name()).collect();
        assert_eq!(left.len(), 1, "{test} left {left:?}");
    };
    wrong("unit", "\"2.5 kWh\"", "\"2.5 kW\"", &["rated_capacity", "kW", "Wh"]);
    wrong("negative", "\"2.5 kWh\"", "\"-2.5 kWh\"", &["rated_capacity", "-2"]);
    wrong("unknown", "soiling =", "soilling =", &["soilling", "soiling"]);
    wrong("voltage", "volts_max = \"60 V\"", "volts_max = \"40 V\"", &["44.6 V", "40 V"]);
    wrong("cold", "volts_max = \"60 V\"", "volts_max = \"48 V\"", &["design cold", "48 V", "cold morning"]);
    wrong("outlet", "outlet = \"dc\"\npriority = \"useful\"", "outlet = \"usb\"\npriority = \"useful\"", &["usb"]);
    wrong("sea", "longitude = -72.6", "longitude = -40.0", &["at sea", "km"]);
    wrong("month", "\"January\"", "\"Janury\"", &["Janury", "January"]);
    wrong("zone", "America/New_York", "America/New_Yrok", &["America/New_Yrok"]);
    wrong("climate", "climate = \"world\"", "climate = \"mine.toml\"", &[]);
}

/// What a panel is put out for, set by a variant, on the line and in the file itself: the same trials survive.
#[test]
fn a_setting_gives_the_same_answer_however_it_is_written() {
    let out = |hours: &str| format!("facing = \"south\"\nout = {hours}");
    let (before, after) = ("{ hours = \"08:00-17:00\", if_clearer_than = \"60 %\" }", "{ hours = \"00:00-24:00\" }");
    let variant = format!("[[variant]]\nname = \"out all day\"\nset = {{ \"panel.0.out\" = {after} }}\n\n[[variant]]");
    let changes = [("facing = \"south\"", out(before)), ("[[variant]]", variant)];
    let base = changed("set", &changes.each_ref().map(|(old, new)| (*old, new.as_str())));
    let written_out = changed("set-written-out", &[("facing = \"south\"", &out(after))]);
    let json = |arguments: &[&str]| -> serde_json::Value {
        let output = tideover(&[arguments, &["--trials", "2000", "--json", "--quiet"]].concat());
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
        serde_json::from_slice(&output.stdout).expect("JSON")
    };
    let compared = json(&["compare", &base, "--set", &format!("panel.0.out = {after}")]);
    let variants = compared["variants"].as_array().expect("variants");
    let survival = |name: &str| {
        let found = variants.iter().find(|variant| variant["name"].as_str().expect("a name").starts_with(name));
        found.unwrap_or_else(|| panic!("no {name}: {compared}"))["survival"]["probability"].clone()
    };
    let whole = json(&["run", &written_out])["survival"]["probability"].clone();
    assert_eq!((&survival("out all day"), &survival("panel.0.out")), (&whole, &whole));
    assert!(survival("as it is").as_f64() < whole.as_f64(), "the setting changes nothing");
}

#[test]
fn an_hourly_file_with_gaps_is_refused_with_its_lines() {
    let path = changed("gaps", &[("climate = \"world\"", "climate = { hourly = \"mine.csv\" }")]);
    let csv = Path::new(&path).with_file_name("mine.csv");
    // Three days, the middle one lacks ten hours: too little to replay a January from.
    let mut text = String::from("time_utc,ghi_w_m2,temp_c\n");
    for hour in 0..72 {
        if !(30..40).contains(&hour) {
            text.push_str(&format!("2027-06-{:02}T{:02}:00:00Z,100,10\n", 1 + hour / 24, hour % 24));
        }
    }
    fs::write(&csv, text).unwrap();
    refused(&["run", &path], &["mine.csv"]);
    fs::write(&csv, "time_utc,ghi_w_m2,temp_c\n2027-06-01T00:00:00Z,abc,10\n").unwrap();
    refused(&["run", &path], &["mine.csv", "2", "ghi_w_m2", "abc"]);
}

#[test]
fn a_file_is_written_whole_or_not_at_all() {
    let out = folder("cli", "whole").join("answer.json");
    let name = out.display().to_string();
    let output = tideover(&["run", STORM, "--trials", "500", "--json", "--quiet", "--out", &name]);
    assert_eq!(output.status.code(), Some(0));
    assert!(output.stdout.is_empty());
    let answer: serde_json::Value = serde_json::from_str(&fs::read_to_string(&out).unwrap()).expect("JSON");
    assert_eq!(answer["survival"]["trials"], 500);
    assert_eq!(fs::read_dir(out.parent().unwrap()).unwrap().count(), 1, "nothing else is left");
    refused(&["run", STORM, "--out", "no/such/folder/answer.txt"], &["cannot write"]);
}

#[test]
fn climates_of_the_world_are_plausible_and_different() {
    let mut seen = Vec::new();
    for place in ["55.7,12.6", "-33.9,151.2", "1.3,103.8", "64.1,-21.9"] {
        let output = tideover(&["climate", "show", "--at", place]);
        assert_eq!(output.status.code(), Some(0), "{place}");
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        for month in ["January", "December"] {
            let line = text
                .lines()
                .find(|l| l.trim_start().starts_with(month))
                .unwrap_or_else(|| panic!("{place}: no {month}"));
            let sun: f64 = line.split_whitespace().nth(1).unwrap().parse().expect("kWh/m² a day");
            assert!((0.0..9.5).contains(&sun), "{place} {month}: {sun} kWh/m² a day");
        }
        assert!(!seen.contains(&text));
        seen.push(text);
    }
    refused(&["climate", "show", "--at", "0,-150"], &["at sea", "km"]);
    refused(&["climate", "show", "--at", "abc"], &["latitude and longitude"]);
}

#[test]
fn a_new_scenario_can_be_run_as_it_is() {
    let file = folder("cli", "new").join("mine.toml");
    let name = file.display().to_string();
    assert_eq!(tideover(&["new", &name]).status.code(), Some(0));
    assert_eq!(tideover(&["run", &name, "--trials", "500", "--quiet"]).status.code(), Some(0));
    refused(&["new", &name], &["there already"]);
}

/// Two years of made-up hours at 44.2 N, 72.6 W: a clear sky dimmed by a factor that changes from day to day.
fn made_up_hours() -> String {
    use tideover::random::{Purpose, Stream};
    use tideover::sky::{sun, year::SunOfDay};
    let mut text = String::from("time_utc,ghi_w_m2,temp_c\n");
    let mut rng = Stream::new(3, 0, Purpose::Weather);
    for day in 0..730 {
        let dim = 0.1 + 0.9 * rng.uniform();
        let day_of_year = f64::from(day % 365) + 1.0;
        let declination = SunOfDay::at(day as usize % 365, -72.6).declination_deg;
        for hour in 0..24 {
            let hour_angle = (f64::from(hour) + 0.5) * 15.0 - 72.6 - 180.0;
            let (zenith, _) = sun::zenith_and_azimuth_deg(44.2, declination, hour_angle);
            let ghi = 1361.0 * 0.72 * dim * zenith.to_radians().cos().max(0.0);
            let air = 8.0 - 14.0 * (day_of_year / 58.1).cos() + 4.0 * ((f64::from(hour) - 20.0) / 3.82).cos();
            // 2021 and 2022 have 365 days each.
            let date = jiff::civil::date(2021, 1, 1).checked_add(jiff::Span::new().days(day)).expect("a date");
            text.push_str(&format!("{date}T{hour:02}:00:00Z,{ghi:.1},{air:.1}\n"));
        }
    }
    text
}

#[test]
fn a_record_can_be_fitted_replayed_and_drawn_from() {
    let path = changed("record", &[("climate = \"world\"", "climate = { hourly = \"hours.csv\" }")]);
    let folder = Path::new(&path).parent().unwrap();
    fs::write(folder.join("hours.csv"), made_up_hours()).unwrap();
    let record = folder.join("hours.csv").display().to_string();
    let fitted = folder.join("mine.toml").display().to_string();
    let output = tideover(&["climate", "fit", &record, "--at", "44.2,-72.6", "--out", &fitted]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(text.contains("Fewer than five years"), "{text}");
    let survival = |scenario: &str| {
        let output = tideover(&["run", scenario, "--trials", "2000", "--json", "--quiet"]);
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
        let answer: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
        answer["survival"]["probability"].as_f64().expect("a probability")
    };
    let text = fs::read_to_string(&path).unwrap();
    let with = |name: &str, climate: &str| {
        let file = folder.join(name);
        fs::write(&file, text.replace("climate = { hourly = \"hours.csv\" }", climate)).unwrap();
        survival(&file.display().to_string())
    };
    let replayed = survival(&path);
    let file = with("file.toml", "climate = \"mine.toml\"");
    let model = with("model.toml", "climate = { hourly = \"hours.csv\" }\nweather_from = \"model\"");
    // The fitted file is rounded to four digits. Two years of a sky that is not this place's are weighed against what the
    // built-in table knows of it: the fit lies between the two.
    assert!((file - model).abs() < 0.03, "{file} {model}");
    let world = with("world.toml", "climate = \"world\"");
    let (low, high) = (replayed.min(world), replayed.max(world));
    assert!((low - 0.05..=high + 0.05).contains(&model), "{replayed} {model} {world}");
    refused(&["climate", "fit", &record], &["--at LAT,LON"]);
    fs::write(folder.join("short.csv"), text_of_first_days(&made_up_hours(), 200)).unwrap();
    let short = folder.join("short.csv").display().to_string();
    refused(&["climate", "fit", &short, "--at", "44.2,-72.6"], &["at least 350"]);
}

fn text_of_first_days(text: &str, days: usize) -> String {
    text.lines().take(1 + 24 * days).map(|line| format!("{line}\n")).collect()
}

#[test]
fn food_is_lost_although_little_energy_is_missed() {
    let output = tideover(&["run", "scenarios/food-and-little-unmet.toml", "--json", "--trials", "4000", "--quiet"]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let answer: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let number = |pointer: &str| answer.pointer(pointer).and_then(serde_json::Value::as_f64).expect("a number");
    // Hardly any energy is missed: less than a twentieth, and well under the allowance.
    assert!(number("/loads/0/missed_wh") < 0.05 * number("/loads/0/asked_wh"));
    assert!(number("/unmet_wh/p95") < 500.0);
    // Yet every failure is the food's, by the sooner of the two clocks.
    let clocks = ["0/thermometer", "0/hours_without_power", "1/thermometer", "1/hours_without_power"];
    let lost = clocks.map(|clock| number(&format!("/loads/0/food/{clock}/share")));
    let (failed, most) = (1.0 - number("/survival/probability"), lost.into_iter().fold(0.0, f64::max));
    assert!(0.05 < lost[0] && most - 1e-9 <= failed && failed <= lost.iter().sum::<f64>() + 1e-9, "{failed}: {lost:?}");
    let judged_by = answer.pointer("/loads/0/food/0/judged_by").and_then(serde_json::Value::as_str);
    assert_eq!(judged_by, Some("the_sooner"));
    assert_eq!(answer.pointer("/loads/0/food/1/part").and_then(serde_json::Value::as_str), Some("freezer"));
}

#[test]
fn a_medical_device_is_judged_by_the_lower_end() {
    let run = |more: &[&str]| tideover(&[&["run", "scenarios/device-night.toml", "--trials", "4000"], more].concat());
    let output = run(&["--json"]);
    let answer: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let low = answer.pointer("/survival/low").and_then(serde_json::Value::as_f64).expect("a number");
    assert_eq!(answer.pointer("/judged_survival").and_then(serde_json::Value::as_f64), Some(low));
    // The caution is shown even when nothing else is.
    let quiet = run(&["--quiet"]);
    assert!(String::from_utf8_lossy(&quiet.stderr).contains("a person's health hangs on"));
    let count_on = format!("so count on no more than {:.0} of 100", (low * 100.0).floor());
    let text = unbroken(&quiet.stdout);
    assert!(text.contains(&count_on), "{count_on}: {text}");
    let required = format!("{:.0} %", (low * 100.0).ceil());
    assert_eq!(run(&["--require", &required]).status.code(), Some(4));
}

#[test]
fn a_profile_is_read_from_its_file() {
    let pump = "[[load]]\nname = \"pump\"\noutlet = \"ac\"\npriority = \"spare\"\nprofile = \"pump.csv\"\n\n[[load]]";
    let path = changed("profile", &[("[[load]]", pump)]);
    let folder = Path::new(&path).parent().expect("its folder");
    refused(&["check", &path], &["cannot read", "pump.csv"]);
    fs::write(folder.join("pump.csv"), "watts\n1\n2\n").expect("a file to write to");
    refused(&["check", &path], &["load.0.profile", "has 2 hours; allowed: 24"]);
    let watts = |w: u32| format!("watts\n{}", format!("{w}\n").repeat(24));
    fs::write(folder.join("pump.csv"), watts(1600)).expect("a file to write to");
    refused(&["check", &path], &["asks for 1600 W in an hour, more than its outlet gives: up to 1200 W"]);
    fs::write(folder.join("pump.csv"), watts(90)).expect("a file to write to");
    assert_eq!(tideover(&["check", &path]).status.code(), Some(0));
}

#[test]
fn appliances_are_listed_with_their_sources() {
    let output = tideover(&["appliances", "freezer"]);
    let text = String::from_utf8_lossy(&output.stdout);
    assert!(text.contains("\"chest freezer, 200 litres\"") && text.contains("10 CFR 430.32(a)"), "{text}");
    refused(&["appliances", "zeppelin"], &["no appliance has `zeppelin` in its name"]);
}
