//! `tideover prove`.

use std::path::{Path, PathBuf};
use std::process::Output;

use tideover::scenario::Source;
use tideover::scenario::record::{self, Record};
use tideover::study::prove::{Proof, prove};

use crate::program::{root, tideover, unbroken};

pub fn shown(output: &Output) -> (String, String) {
    (String::from_utf8_lossy(&output.stdout).into_owned(), String::from_utf8_lossy(&output.stderr).into_owned())
}

#[track_caller]
pub fn answered(args: &[&str]) -> (String, String) {
    let output = tideover(args);
    let (out, err) = shown(&output);
    assert!(output.status.success(), "{args:?}\n{out}\n{err}");
    (out, err)
}

pub fn scratch(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("prove");
    std::fs::create_dir_all(&folder).expect("a folder for the test");
    folder.join(name)
}

pub fn proof(name: &str) -> (Record, Proof) {
    let folder = root().join("scenarios/records");
    let text = std::fs::read_to_string(folder.join(name)).expect("a record");
    let source = Source::new(name, text);
    let logs = |log: &str| std::fs::read_to_string(folder.join(log)).map_err(|error| error.to_string());
    let (record, _, _) = record::read(&source, &logs).expect("a sound record");
    let proof = prove(&record).expect("a proof");
    (record, proof)
}

#[test]
fn the_three_records_get_their_verdicts() {
    for (name, word) in [("healthy", "This unit is healthy"), ("weak", "This unit is weak"), ("open", "leave it open")]
    {
        let file = format!("scenarios/records/{name}.toml");
        let (out, _) = answered(&["prove", &file, "--today", "2027-03-20"]);
        assert!(out.replace('\n', " ").contains(word), "{name}: {out}");
    }
    let (out, err) = answered(&["prove", "scenarios/records/weak.toml", "--today", "2027-04-10"]);
    for part in ["Missing from the box: panel adapter", "22 days left", "FAILED", "four o'clock"] {
        assert!(out.contains(part), "{part}: {out}");
    }
    assert!(err.is_empty(), "{err}");
    let (_, err) = answered(&["prove", "scenarios/records/open.toml"]);
    assert!(err.contains("is one reading for the whole run; the interval is widened for it"), "{err}");
}

#[test]
fn the_plan_says_load_hours_and_cautions() {
    let (out, _) = answered(&["prove", "plan", "--rated", "600 Wh"]);
    let out = unbroken(&out);
    for part in [
        "120 W",
        "4.0 to 4.5",
        "nothing plugged in",
        "a check of the meter",
        "irradiance",
        "common practice",
        "Cautions",
        "swells",
    ] {
        assert!(out.contains(part), "{part}: {out}");
    }
    // What the plan says of a healthy unit lies where healthy units do.
    assert!(out.contains("a unit that gives 80 % of its label to 120 W"), "{out}");
    let refused = tideover(&["prove", "plan", "--rated", "600"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(shown(&refused).1.contains("600 Wh"));
}

#[test]
fn the_page_is_whole_and_needs_nothing_else() {
    let page = scratch("proof.html");
    answered(&["prove", "scenarios/records/healthy.toml", "--html", page.to_str().expect("a path"), "--quiet"]);
    let html = std::fs::read_to_string(&page).expect("a page");
    for part in ["<!DOCTYPE html>", "<svg", "@media print", "Healthy: ", "two lamps", "</html>"] {
        assert!(html.contains(part), "{part}");
    }
    for part in ["http://", "https://", "<script", "<link", "src="] {
        assert!(!html.contains(part), "{part}");
    }
    // Every tag that opens closes.
    for tag in ["table", "tr", "td", "ul", "li", "svg", "p", "h2"] {
        let opened = html.matches(&format!("<{tag}>")).count() + html.matches(&format!("<{tag} ")).count();
        assert_eq!(opened, html.matches(&format!("</{tag}>")).count(), "{tag}");
    }
}

#[test]
fn the_page_is_safe_from_what_a_record_says() {
    let file = scratch("wicked.toml");
    let text = std::fs::read_to_string(root().join("scenarios/records/open.toml")).expect("a record");
    std::fs::write(&file, text.replace("Second-hand 1000", "<script>alert(1)</script> & co")).expect("a copy");
    let page = scratch("wicked.html");
    answered(&["prove", file.to_str().expect("a path"), "--html", page.to_str().expect("a path"), "-q"]);
    let html = std::fs::read_to_string(&page).expect("a page");
    assert!(!html.contains("<script") && html.contains("&lt;script&gt;alert(1)&lt;/script&gt; &amp; co"));
}

#[test]
fn json_is_stable_and_agrees_with_the_library() {
    let (out, _) = answered(&["prove", "scenarios/records/healthy.toml", "--json", "-q"]);
    let json: serde_json::Value = serde_json::from_str(&out).expect("JSON");
    let (_, proof) = proof("healthy.toml");
    let bench = proof.bench.expect("a capacity").0;
    assert_eq!(json["kind"], "proof");
    assert_eq!(json["verdict"], "healthy");
    assert_eq!(json["delivered_wh"]["value"].as_f64(), Some(bench.value));
    assert_eq!(json["figures"][0]["figure"], "usable_energy");
    assert_eq!(json["correlation"].as_array().map(Vec::len), json["figures"].as_array().map(Vec::len));
}

/// What a claim needs beside the figures: which unit, how it came, what was tried, and with what it was measured.
#[test]
fn the_unit_its_arrival_its_outlets_and_the_meters_are_told() {
    let folder = root().join("scenarios/records");
    let text = std::fs::read_to_string(folder.join("healthy.toml")).expect("a record");
    std::fs::copy(folder.join("healthy-40-watts.csv"), scratch("healthy-40-watts.csv")).expect("a copy");
    let file = scratch("told.toml");
    std::fs::write(&file, text.replace("cycles = 6", "cycles = 6\nserial_number = \"B6-0042\"")).expect("a copy");
    let page = scratch("told.html");
    let file = file.to_str().expect("a path");
    let (out, _) = answered(&["prove", file, "--json", "-q", "--html", page.to_str().expect("a path")]);
    let json: serde_json::Value = serde_json::from_str(&out).expect("JSON");
    assert_eq!(json["serial_number"], "B6-0042");
    assert_eq!(json["arrival"]["date"], "2027-03-06");
    assert_eq!(json["arrival"]["return_by"], "2027-04-05");
    assert_eq!(json["arrival"]["charge"], 0.56);
    assert_eq!(json["arrival"]["packing_list"].as_array().map(Vec::len), Some(5));
    assert_eq!(json["outlets"].as_array().map(Vec::len), Some(3));
    assert_eq!((&json["outlets"][0]["name"], &json["outlets"][0]["load_w"]), (&"USB-C 1".into(), &60.0.into()));
    assert_eq!(json["outlets"][2]["passed"], true);
    assert_eq!(json["meters"][0]["name"], "plug meter");
    assert_eq!(json["meters"][0]["accuracy"], 0.01);
    let tests = json["meters"][0]["tests"].as_array().expect("names");
    assert!(tests.contains(&"first charge".into()) && tests.contains(&"one lamp, logged".into()), "{tests:?}");
    let html = std::fs::read_to_string(&page).expect("a page");
    for part in ["B6-0042", "of the reading", "first charge, two lamps"] {
        assert!(html.contains(part), "{part}: {html}");
    }
}

/// A day and a half with the outlet on and nothing plugged in tells the draw, and has no share of the label.
#[test]
fn an_idle_run_is_no_share_of_the_label() {
    let file = scratch("idle.toml");
    let text = std::fs::read_to_string(root().join("scenarios/records/weak.toml")).expect("a record");
    let idle = "[[capacity]]\nname = \"nothing plugged in\"\nlasted = \"36 h\"\nfrom = \"100 %\"\nto = \"10 %\"\nload = \"0 W\"\n";
    std::fs::write(&file, format!("{text}\n{idle}")).expect("a copy");
    let page = scratch("idle.html");
    let file = file.to_str().expect("a path");
    let (out, _) = answered(&["prove", file, "-q", "--html", page.to_str().expect("a path")]);
    assert!(out.contains("nothing plugged in") && out.contains("idle"), "{out}");
    assert!(!out.contains("0.0 ±") && !out.contains("doubt in nothing plugged in"), "{out}");
    let html = std::fs::read_to_string(&page).expect("a page");
    let chart = html.split("<svg").nth(1).and_then(|rest| rest.split("</svg>").next()).expect("a chart");
    assert!(chart.contains("lamps again") && !chart.contains("nothing plugged in"), "{chart}");
    let (json, _) = answered(&["prove", file, "-q", "--json"]);
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    assert!(
        json["discharges"][2]["full_to_empty_wh"].is_null() && json["discharges"][0]["full_to_empty_wh"].is_object()
    );
}

/// A log that misses half an hour of its run makes a good unit weak: it is refused, and both times are shown.
#[test]
fn a_logger_that_woke_late_gives_no_verdict() {
    let rows: String = (0..=222).map(|m| format!("{}:{:02},120\n", 10 + (30 + m) / 60, (30 + m) % 60)).collect();
    std::fs::write(scratch("late.csv"), format!("time,watts\n{rows}14:13,0\n")).expect("a log");
    let file = scratch("late.toml");
    let text = "[unit]\nrated_capacity = \"600 Wh\"\ninverter = \"600 W\"\n[[meter]]\nname = \"m\"\naccuracy = \"1 %\"\n\
                [[capacity]]\nstart = \"2027-05-10T10:00\"\nstop = \"2027-05-10T14:12\"\nfrom = \"100 %\"\nto = \"0 %\"\n\
                log = \"late.csv\"\n";
    std::fs::write(&file, text).expect("a record");
    let output = tideover(&["prove", file.to_str().expect("a path")]);
    assert_eq!(output.status.code(), Some(2));
    let (out, err) = shown(&output);
    assert!(
        out.is_empty() && err.contains("the logger woke 30 min late") && err.contains("late.toml:12:7"),
        "{out}{err}"
    );
}

#[test]
fn several_records_show_the_fade() {
    let text = std::fs::read_to_string(root().join("scenarios/records/weak.toml")).expect("a record");
    let later = scratch("later.toml");
    let text = text
        .replace("2027-04-04", "2030-04-04")
        .replace("2027-04-06", "2030-04-06")
        .replace("cycles = 2", "cycles = 702");
    std::fs::write(&later, text.replace("\"337 Wh\"", "\"295 Wh\"").replace("\"335 Wh\"", "\"293 Wh\""))
        .expect("a copy");
    let (out, _) = answered(&["prove", later.to_str().expect("a path"), "scenarios/records/weak.toml", "-q"]);
    assert!(out.contains("Capacity over the years") && out.contains("a year."), "{out}");
    assert!(out.contains("2027-04-06") && out.contains("2030-04-06") && out.contains("for every hundred"), "{out}");
    // Of another label, or of one day: no fade.
    let other = tideover(&["prove", "scenarios/records/open.toml", "scenarios/records/weak.toml"]);
    assert_eq!(other.status.code(), Some(2));
    assert!(shown(&other).1.contains("records of one unit are wanted"));
    let same = tideover(&["prove", "scenarios/records/weak.toml", "scenarios/records/weak.toml"]);
    assert_eq!(same.status.code(), Some(2));
}

#[test]
fn a_wrong_record_is_drawn_at_its_place() {
    let file = scratch("wrong.toml");
    let text = std::fs::read_to_string(root().join("scenarios/records/open.toml")).expect("a record");
    std::fs::write(&file, text.replace("2027-05-11T17:10", "2027-05-11T13:10")).expect("a copy");
    let output = tideover(&["prove", file.to_str().expect("a path")]);
    assert_eq!(output.status.code(), Some(2));
    let err = shown(&output).1;
    assert!(
        err.contains("`capacity.0.stop`") && err.contains("is not after the start") && err.contains("wrong.toml:13:8"),
        "{err}"
    );
}

/// A line of the form with what stands beside it, or a figure of the test's own, in the place of its question mark.
fn filled(line: &str) -> String {
    let beside = |word: &str, unit: &str| {
        line.split_once(word)
            .map(|(_, rest)| format!("\"{}\"", rest.trim().trim_end_matches(unit).trim().to_string() + unit))
    };
    let (Some((key, value)), true) = (line.split_once(" = "), line.contains('?')) else { return line.into() };
    let value = match key {
        "read" => "\"100 W\"".into(),
        "known" => "\"100 W ± 0.5 %\"".into(),
        "irradiance" => "\"900 W/m² ± 5 %\"".into(),
        "stop" => "\"2027-03-08T22:10\"".into(),
        "at" | "start" => beside("like ", "").expect("an example"),
        _ => {
            let unit = value.trim_start_matches("\"?").split('"').next().expect("a unit");
            beside("about ", unit).expect("what a healthy unit shows")
        }
    };
    format!("{key} = {value}")
}

/// What `new` writes is a record; with the # taken from its tests and the figures beside the question marks it is a whole one, and a
/// healthy one.
#[test]
fn a_new_record_can_be_filled_in() {
    for (name, label) in [
        ("new-lfp.toml", vec!["--rated", "600 Wh", "--solar", "200 W"]),
        ("new-nmc.toml", vec!["--rated", "250 Wh", "--inverter", "300 W", "--chemistry", "NMC"]),
        ("new-large.toml", vec!["--rated", "3 kWh", "--inverter", "2400 W", "--chemistry", "lead-acid"]),
    ] {
        let file = scratch(name);
        let _ = std::fs::remove_file(&file);
        let path = file.to_str().expect("a path");
        answered(&[&["prove", "new", path][..], &label].concat());
        let (out, _) = answered(&["prove", path]);
        assert!(out.contains("No discharge was tested"), "{name}: {out}");
        let text = std::fs::read_to_string(&file).expect("a record");
        let whole: String = text
            .lines()
            .map(|line| match line.strip_prefix('#') {
                Some(rest) if !rest.starts_with(' ') && !rest.starts_with("photographs") => filled(rest) + "\n",
                _ => format!("{line}\n"),
            })
            .collect();
        assert_ne!(whole, text);
        // A file that is there is left alone.
        assert_eq!(tideover(&["prove", "new", path, "--rated", "600 Wh"]).status.code(), Some(2));
        std::fs::write(&file, whole).expect("a copy");
        let (json, _) = answered(&["prove", path, "-q", "--json", "--today", "2027-03-20"]);
        let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
        let share = json["share_of_label"]["value"].as_f64().expect("a share");
        // A lead-acid label holds over twenty hours, not over five.
        let least = if label.contains(&"lead-acid") { 0.61 } else { 0.75 };
        assert!((least..0.95).contains(&share), "{name}: {share}");
        assert_eq!(json["parts"][2]["verdict"], "checked", "{name}: {}", json["parts"]);
        assert_eq!(json["tester"], "your name");
    }
    for wrong in [["--rated", "600"], ["--rated", "1 Wh"], ["--chemistry", "tin"]] {
        let mut args = vec!["prove", "new", "--rated", "600 Wh"];
        if wrong[0] == "--rated" {
            args.truncate(2);
        }
        assert_eq!(tideover(&[&args[..], &wrong].concat()).status.code(), Some(2), "{wrong:?}");
    }
}

/// A claim names label, test, result and interval; a healthy unit has none.
#[test]
fn a_weak_unit_gets_the_wording_of_a_claim() {
    let of = |name: &str| -> serde_json::Value {
        let (json, _) = answered(&["prove", &format!("scenarios/records/{name}.toml"), "-q", "--json"]);
        serde_json::from_str(&json).expect("JSON")
    };
    let weak = of("weak");
    let claim = weak["claim"].as_str().expect("a claim");
    for part in [
        "537 Wh on its label",
        "2027-04-04",
        "under 100 W",
        "borrowed meter (± 1.5 % of the reading)",
        "95 % confidence",
    ] {
        assert!(claim.contains(part), "{part}: {claim}");
    }
    assert_eq!((&weak["parts"][0]["part"], &weak["parts"][0]["verdict"]), (&"cells".into(), &"weak".into()));
    // One load does not tell the inverter, and it is not blamed.
    assert_eq!(weak["parts"][1]["verdict"], "not_told");
    assert!(of("healthy")["claim"].is_null());
    // The verdict is for 200 W, and the test's own load is told.
    let (open, _) = answered(&["prove", "scenarios/records/open.toml", "-q"]);
    let open = unbroken(&open);
    assert!(open.contains("under 200 W, the bench load (tested at 205 W)"), "{open}");
}

/// Many units side by side: the best first, units of one model together, with the scatter from unit to unit.
#[test]
fn a_bench_table_sorts_units_and_tells_their_scatter() {
    let folder = scratch("bench");
    std::fs::create_dir_all(&folder).expect("a folder");
    let unit = |file: &str, model: &str, energy_wh: f64| {
        let hours = energy_wh / 120.0;
        let text = format!(
            "title = \"{file}\"\n[unit]\nmodel = \"{model}\"\nrated_capacity = \"600 Wh\"\ninverter = \"600 W\"\n[[meter]]\nname = \
             \"m\"\naccuracy = \"1 %\"\n[[capacity]]\nlasted = \"{hours:.4} h\"\nfrom = \"100 %\"\nto = \"0 %\"\nenergy = \
             \"{energy_wh:.2} Wh\"\n"
        );
        std::fs::write(folder.join(format!("{file}.toml")), text).expect("a record");
    };
    unit("a", "Moss 600", 450.0);
    unit("b", "Fern, 600", 504.0);
    unit("c", "Moss 600", 510.0);
    unit("d", "Moss 600", 540.0);
    // 98 % of the label at the outlet: a meter that reads high is no better unit.
    unit("e", "Moss 600", 588.0);
    std::fs::write(folder.join("readme.txt"), "no record").expect("a file");
    let path = folder.to_str().expect("a path");
    let (csv, _) = answered(&["prove", path, "--table", "--csv", "-q"]);
    let names: Vec<&str> = csv.lines().skip(1).map(|line| line.split(',').nth(1).expect("a title")).collect();
    // Fern 84.0 %; Moss 83.3 % on the mean of 90, 85 and 75 %.
    assert_eq!(names, ["b", "d", "c", "a", "e"], "{csv}");
    assert!(csv.lines().nth(1).expect("a row").contains("\"Fern, 600\",600,504.000,"), "{csv}");
    assert!(csv.lines().all(|line| line.replace("Fern, 600", "").matches(',').count() == 15), "{csv}");
    let (json, _) = answered(&["prove", path, "--table", "--json", "-q"]);
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    let moss = &json["models"][0];
    assert_eq!((&json["kind"], &moss["units"]), (&"bench_table".into(), &3.into()));
    // By hand: deviations of 6.67, 1.67 and -8.33 points, 7.64 points by n - 1.
    assert!((moss["mean_share_of_label"].as_f64().expect("a share") - 0.8333).abs() < 1e-3, "{moss}");
    assert!((moss["standard_deviation"].as_f64().expect("a share") - 0.0764).abs() < 1e-3, "{moss}");
    let page = scratch("bench.html");
    let (text, _) = answered(&["prove", path, "--table", "-q", "--html", page.to_str().expect("a path")]);
    let text = unbroken(&text);
    assert!(text.contains("standard deviation of 7.6 points"), "{text}");
    assert!(text.contains("stand last and are in no mean"), "{text}");
    assert!(std::fs::read_to_string(&page).expect("a page").contains("<table"));
    let empty = scratch("bench-empty");
    std::fs::create_dir_all(&empty).expect("a folder");
    assert_eq!(tideover(&["prove", empty.to_str().expect("a path"), "--table"]).status.code(), Some(2));
}

/// Photographs stand in the page itself, and what is none, is too large or is not there is refused.
#[test]
fn photographs_are_part_of_the_page() {
    let text = std::fs::read_to_string(root().join("scenarios/records/open.toml")).expect("a record");
    // RFC 4648, section 10: "foobar" is Zm9vYmFy; here behind a PNG's eight bytes, which are iVBORw0KGgo= (12 letters with two more).
    let png = [&[0x89, b'P', b'N', b'G', 13, 10, 26, 10, 0][..], b"foobar"].concat();
    std::fs::write(scratch("label.png"), &png).expect("a file");
    std::fs::write(scratch("notes.png"), "no photograph").expect("a file");
    std::fs::write(scratch("huge.jpg"), [&[0xff, 0xd8, 0xff][..], &vec![0; 2 << 20]].concat()).expect("a file");
    let with = |list: &str| {
        let file = scratch("photographed.toml");
        let head = format!("photographs = [{list}]\ntester = \"A. Miller\"\nplace = \"a cellar\"\n");
        std::fs::write(&file, head + &text).expect("a copy");
        file.to_str().expect("a path").to_string()
    };
    let page = scratch("photographed.html");
    let (out, _) = answered(&["prove", &with("\"label.png\""), "-q", "--html", page.to_str().expect("a path")]);
    let out = unbroken(&out);
    assert!(out.contains("Photograph: label.png") && out.contains("tested by A. Miller"), "{out}");
    let html = std::fs::read_to_string(&page).expect("a page");
    assert!(html.contains("src=\"data:image/png;base64,iVBORw0KGgoAZm9vYmFy\""), "{html}");
    for (list, what) in [
        ("\"notes.png\"", "neither JPEG nor PNG"),
        ("\"huge.jpg\"", "up to 2 MB"),
        ("\"gone.jpg\"", "gone.jpg"),
        (&vec!["\"label.png\""; 13].join(", "), "at most 12"),
    ] {
        let output = tideover(&["prove", &with(list)]);
        assert_eq!(output.status.code(), Some(2), "{list}");
        let (out, err) = shown(&output);
        assert!(out.is_empty() && err.contains(what) && err.contains("photographs"), "{list}: {err}");
    }
}
