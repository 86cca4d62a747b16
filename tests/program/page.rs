//! The front end of a page gives what the command line prints, byte for byte. `page/same-bytes.mjs` holds the built page itself.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::Arc;

use serde_json::{Value, json};
use tideover::page::{Last, answer, answer_after};
use tideover::trials::run::Quiet;
use tideover::weather::{climate_file, world};

use crate::program::{command, root};

type Files = Arc<BTreeMap<String, Vec<u8>>>;

/// All demos by their names from the folder of scenarios.
fn files() -> Files {
    fn collect(base: &Path, folder: &Path, into: &mut BTreeMap<String, Vec<u8>>) {
        for entry in fs::read_dir(folder).expect("a folder").flatten() {
            let path = entry.path();
            if path.is_dir() {
                collect(base, &path, into);
            } else {
                let name = path.strip_prefix(base).expect("inside").to_str().expect("text").to_string();
                into.insert(name, fs::read(&path).expect("a file"));
            }
        }
    }
    let base = root().join("scenarios");
    let mut all = BTreeMap::new();
    collect(&base, &base, &mut all);
    Arc::new(all)
}

fn asked(question: &Value, files: &Files) -> Value {
    serde_json::from_str(&answer(&question.to_string(), files, &Quiet)).expect("always JSON")
}

#[track_caller]
fn printed(words: &[&str]) -> String {
    let output = command(words).current_dir(root().join("scenarios")).output().expect("the program starts");
    assert!(output.status.success(), "{words:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("text")
}

#[track_caller]
fn same(question: &Value, words: &[&str], files: &Files) {
    let answer = asked(question, files);
    assert_eq!(answer["answered"], true, "{question}: {}", answer["problems"]);
    assert!(answer["json"].as_str() == Some(&printed(words)), "{question} gives another answer than {words:?}");
    assert!(answer["sections"].as_array().is_some_and(|sections| sections.len() > 1), "{question} shows nothing");
}

#[test]
fn every_demo_gives_what_the_command_line_prints() {
    let files = files();
    for file in files.keys().filter(|name| name.ends_with(".toml") && !name.contains('/')) {
        let text = String::from_utf8_lossy(&files[file]);
        let common = ["--json", "--quiet", "--trials", "300"];
        same(&json!({"ask": "run", "file": file, "trials": 300}), &[&["run", file], &common[..]].concat(), &files);
        let now = ["now", file, "--charge", "43%", "--at", "2027-01-14 20:30", "--sky", "dark,any"];
        let question = json!({"ask": "now", "file": file, "trials": 300, "charge": "43%", "at": "2027-01-14 20:30", "sky": "dark,any"});
        same(&question, &[&now[..], &common].concat(), &files);
        if text.lines().any(|line| line == "[[variant]]") {
            same(
                &json!({"ask": "compare", "file": file, "trials": 300}),
                &[&["compare", file], &common[..]].concat(),
                &files,
            );
        }
    }
    let size = ["size", "winter-storm.toml", "--target", "90 %", "--json", "--quiet", "--trials", "300"];
    same(&json!({"ask": "size", "file": "winter-storm.toml", "target": "90 %", "trials": 300}), &size, &files);
    for file in ["records/healthy.toml", "records/weak.toml"] {
        let words = ["prove", file, "--json", "--quiet", "--today", "2027-03-14"];
        same(&json!({"ask": "prove", "file": file, "today": "2027-03-14"}), &words, &files);
    }
    let card = asked(&json!({"ask": "card", "file": "night-light.toml", "trials": 300}), &files);
    assert_eq!(card["text"].as_str(), Some(&*printed(&["card", "night-light.toml", "--trials", "300", "--quiet"])));
    same(&json!({"ask": "check", "file": "winter-storm.toml"}), &["check", "winter-storm.toml", "--json"], &files);
    let check = asked(&json!({"ask": "check", "file": "night-light.toml"}), &files);
    let drawn: String =
        check["problems"].as_array().expect("a list").iter().filter_map(|one| one["drawn"].as_str()).collect();
    let between = if drawn.is_empty() { "" } else { "\n" };
    assert_eq!(
        format!("{}{between}{drawn}", check["text"].as_str().expect("text")),
        printed(&["check", "night-light.toml"])
    );
    let stops = asked(&json!({"ask": "check", "file": "wont-fit/two-in-series.toml"}), &files);
    assert_eq!((&stops["answered"], &stops["stops"]), (&json!(true), &json!(true)));
}

#[test]
fn an_answer_after_another_is_the_answer_by_itself() {
    // One value after another is turned, as on a sheet: what the last answer left must never show in the next.
    let first = String::from_utf8(files()["winter-storm.toml"].clone()).expect("text");
    let turns = [
        ("rated_capacity = \"2.5 kWh\"", "rated_capacity = \"2.9 kWh\""),
        ("lasts = \"4 days\"", "lasts = \"6 days\""),
        ("month = \"January\"", "month = \"June\""),
        ("latitude = 44.2", "latitude = 40.1"),
        ("ground_reflection = \"50 %\"", "ground_reflection = \"20 %\""),
        ("tilt = \"60°\"", "tilt = \"30°\""),
        ("count = 6", "count = 8"),
        ("parallel = 3", "parallel = 4"),
        ("begins_in_a_storm = true", "begins_in_a_storm = false"),
        (
            "[station]\n",
            "[[seen]]\nfrom = \"2026-06-01\"\nto = \"2026-06-20\"\npanel = \"shed wall\"\nenergy = \"40 kWh\"\n[station]\n",
        ),
    ];
    let mut last = Last::default();
    let (mut text, mut answers) = (first, Vec::new());
    for (from, to) in [("", "")].into_iter().chain(turns) {
        let turned = text.replacen(from, to, 1);
        assert!(from.is_empty() || turned != text, "{from} is not in the scenario");
        text = turned;
        let all = Arc::new(BTreeMap::from([("mine.toml".to_string(), text.clone().into_bytes())]));
        let question = json!({"ask": "run", "file": "mine.toml", "trials": 200}).to_string();
        let after = answer_after(&mut last, &question, &all, &Quiet);
        assert!(after == answer(&question, &all, &Quiet), "after {to}");
        answers.push(after);
    }
    answers.dedup();
    assert!(answers.len() > turns.len() / 2, "each turn shows in its answer, but for what cannot be opened");
    // The same name in another folder is another file.
    let base = |climate: &str| {
        let text = String::from_utf8(files()["winter-storm.toml"].clone()).expect("text");
        text.replace("climate = \"world\"", &format!("climate = \"{climate}\"")).into_bytes()
    };
    let hills = |latitude_deg, longitude_deg| {
        climate_file::write(&world::lookup(latitude_deg, longitude_deg, None).expect("land")).into_bytes()
    };
    let all = Arc::new(BTreeMap::from([
        ("a/mine.toml".to_string(), base("here.toml")),
        ("a/here.toml".to_string(), hills(44.2, -72.6)),
        ("b/mine.toml".to_string(), base("here.toml")),
        ("b/here.toml".to_string(), hills(36.8, 10.2)),
    ]));
    for file in ["a/mine.toml", "b/mine.toml"] {
        let question = json!({"ask": "run", "file": file, "trials": 200}).to_string();
        assert!(answer_after(&mut last, &question, &all, &Quiet) == answer(&question, &all, &Quiet), "{file}");
    }
}

#[test]
fn what_is_wrong_is_told_at_its_place() {
    let mut files = (*files()).clone();
    let text = String::from_utf8(files["night-light.toml"].clone()).expect("text");
    let at = text.lines().position(|line| line.starts_with("latitude")).expect("a latitude");
    let wrong: Vec<&str> =
        text.lines().enumerate().map(|(k, line)| if k == at { "latitude = 444" } else { line }).collect();
    files.insert("wrong.toml".into(), wrong.join("\n").into_bytes());
    let files = Arc::new(files);
    let answer = asked(&json!({"ask": "run", "file": "wrong.toml"}), &files);
    let problem = &answer["problems"][0];
    assert_eq!((&answer["answered"], &answer["json"]), (&json!(false), &Value::Null));
    assert_eq!((&problem["key"], &problem["file"]), (&json!("site.latitude"), &json!("wrong.toml")));
    assert_eq!(problem["place"]["line"], at + 1);
    assert_eq!((&problem["place"]["column"], &problem["place"]["end_column"]), (&json!(12), &json!(15)));
    assert!(problem["drawn"].as_str().is_some_and(|drawn| drawn.contains("wrong.toml")));
    for (question, key, told) in [
        (
            json!({"ask": "now", "file": "night-light.toml", "charge": "143%", "at": "2027-01-14 20:30"}),
            "charge",
            "allowed: 0 to 100 %",
        ),
        (json!({"ask": "now", "file": "night-light.toml", "charge": "43%"}), "at", "unix_s"),
        (json!({"ask": "now", "file": "night-light.toml", "charge": "43%", "at": "soon"}), "at", "2027-01-14 20:30"),
        (json!({"ask": "run", "file": "night-light.toml", "trials": 0}), "trials", "5,000,000"),
        (json!({"ask": "run", "file": "night-light.toml", "step": 7}), "step", "15"),
        (json!({"ask": "compare", "file": "night-light.toml", "sets": ["nonsense"]}), "set", "nonsense"),
        (json!({"ask": "run", "file": "nowhere.toml"}), "", "nowhere.toml"),
        (json!({"ask": "run"}), "", "names no file"),
        (json!({"ask": "guess", "file": "night-light.toml"}), "", "allowed: run, compare"),
        (json!({"ask": "run", "fiel": "night-light.toml"}), "", "fiel"),
    ] {
        let problem = &asked(&question, &files)["problems"][0];
        assert_eq!(problem["key"], key, "{question}: {problem}");
        assert!(problem["title"].as_str().is_some_and(|title| title.contains(told)), "{question}: {problem}");
    }
}

#[test]
fn own_scenarios_go_into_a_page_with_what_they_name() {
    let folder = crate::program::folder("page", "into");
    let into = folder.join("page.html");
    let page = "<p>before</p><script type=\"application/json\" id=\"scenarios\">{}</script><p>after</p>";
    fs::write(&into, page).expect("a file");
    let out = folder.join("mine.html");
    let words = [
        "page",
        "scenarios/second-hand.toml",
        "scenarios/night-light.toml",
        "--into",
        into.to_str().expect("a path"),
        "--out",
        out.to_str().expect("a path"),
    ];
    let output = command(&words).output().expect("the program starts");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let written = fs::read_to_string(&out).expect("a page");
    let inside = written.strip_prefix("<p>before</p><script type=\"application/json\" id=\"scenarios\">");
    let inside = inside.and_then(|rest| rest.strip_suffix("</script><p>after</p>")).expect("the rest as it was");
    assert!(!inside.contains('<'), "an element could end inside");
    let held: Value = serde_json::from_str(inside).expect("JSON");
    assert_eq!(held["scenarios"], json!(["second-hand.toml", "night-light.toml"]));
    let taken = held["files"].as_object().expect("files");
    let files: BTreeMap<String, Vec<u8>> =
        taken.iter().map(|(name, text)| (name.clone(), text.as_str().expect("text").as_bytes().to_vec())).collect();
    // What was taken is enough for the same answer.
    let words = ["run", "second-hand.toml", "--json", "--quiet", "--trials", "300"];
    same(&json!({"ask": "run", "file": "second-hand.toml", "trials": 300}), &words, &Arc::new(files));
    crate::program::refused(
        &["page", "scenarios/night-light.toml", "--into", "README.md", "--out", "x.html"],
        &["README.md", "no place for scenarios"],
    );
}
