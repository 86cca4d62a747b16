//! Text, page and JSON of one answer say the same.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::program::{self, answered as tideover, unbroken};

/// Where pages are written.
pub fn folder() -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("pages");
    fs::create_dir_all(&folder).expect("a folder");
    folder
}

/// What a command prints; its page is written to NAME.html where one is asked for.
/// Text, page and JSON of the same question, text and page as words parted by single blanks.
#[track_caller]
fn three(name: &str, arguments: &[&str]) -> (String, String, Value) {
    let html = folder().join(format!("{name}.html"));
    let with = |more: &[&str]| tideover(&[arguments, &["--quiet"], more].concat());
    let text = with(&["--html", html.to_str().expect("a path")]);
    let page = fs::read_to_string(&html).expect("a page");
    let body = page.split("</style>").nth(1).expect("a body");
    let mut plain = String::new();
    let mut tag = false;
    for c in body.chars() {
        match c {
            '<' => (tag, plain) = (true, plain + " "),
            '>' => tag = false,
            c if !tag => plain.push(c),
            _ => {}
        }
    }
    let plain = [("&quot;", "\""), ("&#39;", "'"), ("&lt;", "<"), ("&gt;", ">"), ("&amp;", "&")]
        .iter()
        .fold(plain, |text, (from, to)| text.replace(from, to));
    (unbroken(&text), unbroken(&plain), serde_json::from_str(&with(&["--json"])).expect("JSON"))
}

fn scenario(name: &str, text: &str) -> String {
    let path = folder().join(format!("{name}.toml"));
    fs::write(&path, text).expect("a scenario");
    path.display().to_string()
}

/// A compressor and lamps that together are too much for their outlet, and more than the least that `size` tries.
const OVERLOADED: &str = concat!(
    keys!(title = "overloaded"),
    here!(),
    section!("outage", month = "January", lasts = "10 h"),
    section!("station", rated_capacity = "600 Wh"),
    section!("station.dc_outlet", limit = "50 W"),
    section!("station.solar_input", limit = "200 W"),
    entry!("panel", rated = "100 W", tilt = "60°", facing = "south"),
    load!("cooler", "dc", "vital", "45 W", duty = "30 %"),
    load!("lamps", "dc", "vital", "15 W", hours = "17:00-22:00"),
    section!(
        "size",
        target = "90 %",
        battery_steps: "{ from = \"300 Wh\", to = \"1200 Wh\", steps = 3 }",
        panel_steps: "{ from = 1, to = 4 }"
    ),
);

#[test]
fn an_overload_is_one_fact_in_every_answer() {
    let file = scenario("overloaded", OVERLOADED);
    let told = "The 12 V outlet switches off when the cooler and the lamps run together (60 W; it gives 50 W), and \
                everything on it goes dark.";
    let questions: [(&str, Vec<&str>); 4] = [
        ("run", vec!["run", &file, "--trials", "1000"]),
        ("compare", vec!["compare", &file, "--trials", "1000", "--set", "station.charge_to=90 %"]),
        ("size", vec!["size", &file, "--trials", "1000"]),
        ("now", vec!["now", &file, "--trials", "1000", "--charge", "50%", "--at", "2027-01-14 20:30"]),
    ];
    for (name, arguments) in questions {
        let (text, page, json) = three(&format!("overload-{name}"), &arguments);
        assert!(text.contains(told), "{name}: {text}");
        assert!(page.contains(told), "{name}: {page}");
        let first = if name == "compare" { &json["variants"][0]["overloads"][0] } else { &json["overloads"][0] };
        assert_eq!((&first["kind"], &first["outlet"]), (&"overload".into(), &"dc_outlet".into()), "{name}: {json}");
        assert_eq!((first["watts_w"].as_f64(), first["limit_w"].as_f64()), (Some(60.0), Some(50.0)), "{name}");
        assert_eq!((first["vital"].as_bool(), first["text"].as_str()), (Some(true), Some(told)), "{name}");
    }
    let page = folder().join("overload-card.html");
    let card = ["card", &file, "--trials", "500", "--quiet"];
    let text = unbroken(tideover(&card));
    tideover(&[&card[..], &["--html", page.to_str().expect("a path")]].concat());
    let page = fs::read_to_string(page).expect("a page").replace("<span class=\"whole\">", "").replace("</span>", "");
    assert!(text.contains(told) && page.contains(told), "{text}");
    // With room for both nothing is said.
    let fits = scenario("fits", &OVERLOADED.replace("limit = \"50 W\"", "limit = \"70 W\""));
    let (text, page, json) = three("fits", &["run", &fits, "--trials", "1000"]);
    assert!(!text.contains("switches off when") && !page.contains("switches off when"), "{text}");
    assert_eq!(json["overloads"].as_array().map(Vec::len), Some(0));
}

#[test]
fn food_fuel_advice_and_rarity_stand_in_text_page_and_json() {
    let (text, page, json) = three("food", &["run", "scenarios/food-and-little-unmet.toml", "--trials", "500"]);
    for part in ["Never taste to find out", "by the hours without power, in", "no warmer than"] {
        assert!(text.contains(part) && page.contains(part), "{part}: {page}");
    }
    assert!(json["loads"].as_array().expect("loads").iter().any(|load| load["food"][0]["part"].is_string()), "{json}");
    let (text, page, json) = three("fuel", &["run", "scenarios/night-light.toml", "--trials", "500"]);
    let litres = json["fuel_l"].as_f64().expect("litres");
    let told = format!("and burns {litres:.2} L");
    assert!(litres < 1.0, "{litres}");
    assert!(text.contains(&told) && page.contains(&told), "{told}: {page}");
    let (text, page, json) =
        three("asked", &["run", "scenarios/winter-storm.toml", "--trials", "500", "--rare", "--advise"]);
    for part in
        ["How rare a failure is", "A failure is not rare here", "When to switch off what", "With more panels they make"]
    {
        assert!(text.contains(part) && page.contains(part), "{part}: {page}");
    }
    assert_eq!(json["rare"]["kind"], "not_rare", "{}", json["rare"]);
    assert!(["rule", "none_helps"].contains(&json["advice"]["kind"].as_str().expect("a kind")), "{}", json["advice"]);
    for sentence in [&json["rare"]["text"], &json["advice"]["text"]] {
        let sentence = sentence.as_str().expect("a sentence");
        assert!(text.contains(sentence) && page.contains(sentence), "{sentence}: {text}");
    }
}

/// Whatever is a sentence stands beside a kind, under `text`, or is a name that somebody gave.
fn judged(path: &str, value: &Value, faults: &mut Vec<String>) {
    // Words of the scenario, the catalogue or the record, and the parts of a judgement that has a kind.
    const GIVEN: [&str; 18] = [
        "about", "title", "choice", "name", "load", "loads", "keeps", "beside", "place", "source", "what", "found",
        "allowed", "reason", "remedy", "damage", "remark", "tests",
    ];
    match value {
        Value::Array(items) => items.iter().for_each(|item| judged(path, item, faults)),
        Value::Object(map) => map.iter().for_each(|(key, value)| judged(&format!("{path}.{key}"), value, faults)),
        Value::String(text) => {
            let key = path.rsplit('.').next().unwrap_or_default();
            if text.split_whitespace().count() > 4 && key != "text" && !GIVEN.contains(&key) {
                faults.push(format!("{path}: {text}"));
            }
        }
        _ => {}
    }
}

#[test]
fn json_holds_no_sentence_as_its_only_form() {
    let results = folder().join("few.results.tsv").display().to_string();
    let case = "scenarios/lineup/cases/exam-by-lamps.toml";
    let questions: [&[&str]; 8] = [
        &["check", "scenarios/winter-storm.toml"],
        &["run", "scenarios/winter-storm.toml", "--trials", "300", "--advise", "--rare"],
        &["compare", "scenarios/winter-storm.toml", "--trials", "300"],
        &["size", "scenarios/winter-storm.toml", "--trials", "300"],
        &["now", "scenarios/winter-storm.toml", "--trials", "300", "--charge", "43%", "--at", "2027-01-14 20:30"],
        &["years", "scenarios/ten-years.toml", "--histories", "40"],
        &["prove", "scenarios/records/open.toml", "--today", "2027-06-01"],
        &["lineup", "scenarios/lineup/catalogue.toml", "--cases", case, "--trials", "100", "--results", &results],
    ];
    let mut faults = Vec::new();
    for arguments in questions {
        let quiet: &[&str] = if arguments[0] == "check" { &["--json"] } else { &["--json", "--quiet"] };
        let json: Value = serde_json::from_str(&tideover(&[arguments, quiet].concat())).expect("JSON");
        assert_eq!(json["schema_version"], 2, "{arguments:?}");
        judged(arguments[0], &json, &mut faults);
    }
    assert!(faults.is_empty(), "{faults:#?}");
}

#[test]
fn check_tells_programs_its_judgements_in_numbers() {
    let check = |file: &str| {
        let output = program::command(&["check", file, "--json"]).output().expect("the program starts");
        let json: Value = serde_json::from_slice(&output.stdout).expect("JSON");
        (output.status, json)
    };
    let one = |json: &Value, kind: &str| {
        let all = json["judgements"].as_array().expect("judgements");
        all.iter().find(|judged| judged["matter"]["kind"] == kind).unwrap_or_else(|| panic!("{kind}: {json}")).clone()
    };
    // The coefficient method of NEC 690.7(A)(1) by hand, from the numbers beside the verdict.
    let (status, json) = check("scenarios/wont-fit/two-in-series.toml");
    assert_eq!((status.success(), &json["stops"]), (false, &Value::Bool(true)));
    let cold = one(&json, "cold_volts");
    let number = |key: &str| cold["matter"][key].as_f64().unwrap_or_else(|| panic!("{key}: {cold}"));
    assert_eq!((&cold["weight"], &cold["matter"]["how"]), (&"stops".into(), &"destroy".into()), "{cold}");
    let by_hand = number("series") * number("open_circuit_v") * (1.0 + number("per_k") * (number("cold_c") - 25.0));
    assert!((number("by_coefficient_v") - by_hand).abs() < 1e-9 && by_hand > number("limit_v"), "{cold}");
    // 9 W for 24 h beside what the AC loads ask for: the numbers are those of the sentence.
    let (status, json) = check("scenarios/winter-storm.toml");
    assert_eq!((status.success(), &json["stops"]), (true, &Value::Bool(false)));
    let draw = one(&json, "inverter_draw");
    let share =
        draw["matter"]["draw_wh"].as_f64().expect("a number") / draw["matter"]["asked_wh"].as_f64().expect("a number");
    assert_eq!(draw["matter"]["draw_wh"].as_f64(), Some(9.0 * 24.0), "{draw}");
    assert!(draw["what"].as_str().expect("words").contains(&format!("takes {:.0} %", 100.0 * share)), "{draw}");
    let sums = &json["sums"];
    let hours = |of: &str| sums[of]["shortest_h"].as_f64().expect("hours");
    assert!(hours("vital") >= hours("everything") && sums["usable_wh"].as_f64() <= sums["cells_wh"].as_f64(), "{sums}");
}

#[test]
fn a_label_is_told_to_the_watt_hour_and_a_greedy_inverter_is_not_called_small() {
    let plan = tideover(&["prove", "plan", "--rated", "1024 Wh"]);
    assert!(plan.contains("1,024 Wh on its label") && !plan.contains("1.02 kWh"), "{plan}");
    // 9 W for 24 h beside 600 Wh: 36 %.
    let check = tideover(&["check", "scenarios/winter-storm.toml"]);
    assert!(check.contains("takes 36 % of what the AC loads ask for") && !check.contains("is small beside"), "{check}");
}

#[test]
fn a_line_up_tells_an_overload_from_parts_that_do_not_go_together() {
    let results = folder().join("signs.results.tsv").display().to_string();
    let case = "scenarios/lineup/cases/exam-by-lamps.toml";
    let (text, page, json) = three(
        "line-up",
        &[
            "lineup",
            "scenarios/lineup/catalogue.toml",
            "--cases",
            case,
            "--trials",
            "100",
            "--fresh",
            "--results",
            &results,
        ],
    );
    let kinds = |kind: &str| {
        let cells = json["cells"].as_array().expect("cells").iter();
        cells.filter(|cell| cell["misfit"]["kind"] == kind).map(|cell| cell["kit"].to_string()).collect::<Vec<_>>()
    };
    // Lamps and projector are 344 W on a 300 W inverter; the projector alone is too much for a small one.
    assert!(kinds("overload").contains(&"\"Peat Quiet 1000\"".to_string()), "{json}");
    assert!(kinds("overload").len() > 1 && !kinds("parts").is_empty(), "{json}");
    assert_eq!(kinds("wiring"), ["\"Skerry 1500 wide\""], "{json}");
    for part in [
        "# too big",
        "x no fit",
        "w wiring",
        "a load too big, do not count on it: what must stay on",
        "does not fit: a part is missing",
        "wrong wiring: the panels as they are wired",
        "not have the outlet for the lamps",
        "cannot run on this station: 290 W, the outlet gives 250 W",
    ] {
        assert!(text.contains(part) && page.contains(part), "{part}: {text}");
    }
}

#[test]
fn a_card_tells_of_food_only_where_something_keeps_it() {
    let card = |demo: &str| tideover(&["card", &format!("scenarios/{demo}.toml"), "--trials", "100", "--quiet"]);
    let fridge = card("winter-storm");
    assert!(fridge.contains("Fridge without power") && !fridge.contains("Freezer without power"), "{fridge}");
    let freezer = tideover(&["card", "scenarios/food-and-little-unmet.toml", "--trials", "100", "--quiet"]);
    assert!(freezer.contains("Food"), "{freezer}");
    assert!(!card("device-night").contains("without power"));
    // A cool box keeps food as a cooler does.
    assert!(card("long-thin-cable").contains("Fridge without power"));
}

#[test]
fn numbers_on_a_page_are_those_of_the_json() {
    let storm = "scenarios/winter-storm.toml";
    let hundredths = |value: &Value, key: &str| 100.0 * value[key].as_f64().expect("a share");
    // The range as whole outages in a hundred, outwards, and the estimate.
    let range =
        |share: &Value| format!("{:.0}-{:.0}", hundredths(share, "low").floor(), hundredths(share, "high").ceil());
    let (_, page, json) = three("numbers-run", &["run", storm, "--trials", "2000"]);
    let told = format!("{:.0} of 100 ({})", hundredths(&json["survival"], "probability"), range(&json["survival"]));
    assert!(page.contains(&told), "{told}: {page}");
    // What is heard of the curve ends at the answer.
    let html = fs::read_to_string(folder().join("numbers-run.html")).expect("a page");
    let heard = html.split("<desc>riding at").nth(1).expect("a curve");
    let last = heard.split("</desc>").next().and_then(|all| all.rsplit(", ").next()).expect("a point");
    let short = |value: f64| {
        let text = format!("{value:.2}");
        text.trim_end_matches('0').trim_end_matches('.').to_string()
    };
    let [p, low, high] = ["probability", "low", "high"].map(|key| short(hundredths(&json["survival"], key)));
    assert!(last.ends_with(&format!(": {p} % ({low} to {high})")), "{last}, not {p} ({low} to {high})");
    let (_, page, json) = three("numbers-size", &["size", storm, "--trials", "300"]);
    let grid = json["grid"].as_array().expect("a grid");
    for battery in ["1,000", "2,990", "8,000"] {
        let wh: f64 = battery.replace(',', "").parse().expect("a number");
        let survived = grid.iter().filter(|cell| cell["battery_wh"].as_f64() == Some(wh));
        let cells: Vec<String> = survived
            .map(|cell| {
                let low = cell["low"].as_f64().expect("a lower end");
                format!("{:.0}", if low < 1.0 { (100.0 * low + 1e-9).floor().min(99.0) } else { 100.0 })
            })
            .collect();
        let table = page.split("Of 100 outages, ridden through at least").nth(1).expect("the grid");
        let row = table.split(&format!(" {battery} Wh ")).nth(1).unwrap_or_else(|| panic!("no {battery} Wh: {page}"));
        // A mark stands by itself.
        let numbers = row.split(' ').map(|cell| cell.trim_end_matches(['*', '='])).filter(|cell| !cell.is_empty());
        let shown: Vec<String> = numbers.take(cells.len()).map(Into::into).collect();
        assert_eq!(shown, cells, "{battery} Wh");
    }
    let (_, page, json) = three("numbers-years", &["years", "scenarios/ten-years.toml", "--histories", "20"]);
    for way in json["strategies"].as_array().expect("ways") {
        let told = format!("{:.0} of 100 ({})", hundredths(&way["rode"], "probability"), range(&way["rode"]));
        assert!(page.contains(&told), "{told}: {page}");
    }
}
