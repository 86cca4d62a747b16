//! One verdict for one answer, wherever it stands, and the same words on paper, page and card.

use std::fs;

use serde_json::Value;

use crate::program::{command, folder, json, root, tideover, unbroken};

/// The words of a verdict where it stands alone, by its key.
fn words(kind: &str) -> &'static str {
    match kind {
        "count_on_it" => "Count on it.",
        // What it rests on may stand between.
        "likely" => "Likely, ",
        "toss_up" => "A toss-up: keep a second way.",
        "do_not_count" => "Do not count on it.",
        other => panic!("an unknown verdict: {other}"),
    }
}

/// The verdict by the rules of docs/verdicts.md, written a second time.
pub fn by_the_rules(low: f64, estimate: f64, medical: bool) -> &'static str {
    let estimate = if medical { low } else { estimate };
    match () {
        () if estimate < 0.5 => "do_not_count",
        () if low >= 0.95 => "count_on_it",
        () if estimate >= 0.66 && low >= 0.5 => "likely",
        () => "toss_up",
    }
}

#[test]
fn text_page_json_and_card_of_every_demo_say_the_same_verdict() {
    let mut seen = Vec::new();
    for demo in fs::read_dir(root().join("scenarios")).expect("the demos") {
        let path = demo.expect("a demo").path();
        if path.extension().is_none_or(|end| end != "toml") {
            continue;
        }
        let file = path.display().to_string();
        let page = folder("verdicts", &path.file_stem().expect("a name").to_string_lossy()).join("page.html");
        let page_name = page.display().to_string();
        let run = ["run", &file, "--trials", "1000", "--quiet"];
        let json = json(&[&run[..], &["--html", &page_name]].concat());
        let kind = json["verdict"]["kind"].as_str().expect("a verdict").to_string();
        let [low, estimate, _] = ["low", "probability", "high"].map(|key| json["survival"][key].as_f64().expect(key));
        assert_eq!(kind, by_the_rules(low, estimate, json["medical"] == true), "{file}: {}", json["survival"]);
        let text = unbroken(&tideover(&run).stdout);
        let card = unbroken(&tideover(&["card", &file, "--trials", "1000", "--quiet"]).stdout);
        let page = unbroken(fs::read(&page).expect("a page"));
        for (what, told) in [("text", &text), ("card", &card), ("page", &page)] {
            let at = told.find(words(&kind)).unwrap_or_else(|| panic!("{what} of {file} lacks {kind}:\n{told}"));
            assert!(at < told.find("of 100 (").expect("a range"), "{what} of {file}: the number comes first");
        }
        seen.push(kind);
    }
    seen.sort();
    seen.dedup();
    assert!(seen.len() >= 3, "the demos are meant to differ: {seen:?}");
}

/// 2,000 Wh without panels carry the sleeper's device through all of the outages drawn, so that nothing says what its watts and its cells
/// do to that: chance alone makes the range. With sun, some fail, and the range counts what is not known.
#[test]
fn a_range_of_chance_alone_says_so_and_is_never_counted_on() {
    let size = ["size", "scenarios/device-night.toml", "--trials", "1000", "--quiet"];
    let (json, text) = (json(&size), unbroken(&tideover(&size).stdout));
    let kits = json["frontier"].as_array().expect("kits");
    let mut seen = [0, 0];
    for kit in kits {
        let share = |key: &str| kit["survival"][key].as_f64().expect("a share");
        let alone = kit["survival"]["chance_alone"] == true;
        assert_eq!(alone, share("low") == share("chance_low") && share("high") == share("chance_high"), "{kit}");
        let kind = by_the_rules(share("low"), share("probability"), true);
        let kind = if alone && kind == "count_on_it" { "likely" } else { kind };
        assert_eq!(kit["verdict"]["kind"], kind, "{kit}");
        seen[usize::from(alone)] += 1;
    }
    assert!(seen[0] > 0 && seen[1] > 0, "{kits:?}");
    assert!(text.contains("no panels 2,000 Wh likely 100 of 100 (99.6-100*)"), "{text}");
    assert!(text.contains("* A range of chance alone"), "{text}");
    // The owner's kit is told with what to count on at most, as run tells it.
    assert!(text.contains("so count on no more than 19 of 100."), "{text}");
}

/// One rule says which kit is the least, in the first lines, in the table of targets and in JSON.
#[test]
fn the_kit_that_is_named_first_is_the_least_of_the_table() {
    for (demo, by, target) in [("summer-fridge", "battery", 0.95), ("winter-storm", "price", 0.9)] {
        let file = format!("scenarios/{demo}.toml");
        let size = ["size", &file, "--trials", "300", "--quiet"];
        let (json, text) = (json(&size), unbroken(&tideover(&size).stdout));
        assert_eq!(json["least_by"], by);
        let ladder = json["ladder"].as_array().expect("targets");
        let rung = ladder.iter().find(|rung| rung["target"].as_f64() == Some(target)).expect("the target");
        assert_eq!(json["proposed"], rung["kit"], "{demo}");
        let frontier = json["frontier"].as_array().expect("kits");
        let key = if by == "price" { "price" } else { "battery_wh" };
        let least = frontier.iter().map(|kit| kit[key].as_f64().expect("a number")).fold(f64::INFINITY, f64::min);
        assert_eq!(json["proposed"][key].as_f64(), Some(least), "{demo}");
        let said = text.contains("Which is cheapest hangs on prices, and none are given");
        assert_eq!(said, by == "battery", "{text}");
        assert_eq!(text.contains("cheapest kit"), by == "price", "{text}");
    }
}

#[test]
fn a_cell_of_a_line_up_has_the_verdict_of_its_own_run() {
    let folder = folder("verdicts", "lineup");
    let results = folder.join("results.tsv").display().to_string();
    let lineup = ["lineup", "scenarios/lineup/catalogue.toml", "--cases", "scenarios/lineup/cases", "--trials", "200"];
    let answer = json(&[&lineup[..], &["--results", &results, "--all-trials", "--quiet"]].concat());
    let cells = answer["cells"].as_array().expect("cells");
    let cell = |kit: &str, case: &str| {
        cells.iter().find(|cell| cell["kit"] == kit && cell["case"] == case).unwrap_or_else(|| panic!("{kit} {case}"))
    };
    for (kit, case) in [("Marram 1000", "sleep-device"), ("Skerry 1500", "summer-freezer"), ("Bothy 600", "week-boat")]
    {
        let Some(cell) = cells.iter().find(|cell| cell["kit"] == kit && cell["case"] == case) else { continue };
        let written = tideover(&[&lineup[..4], &["--write-scenario", kit, case]].concat());
        let file = folder.join("cell.toml");
        fs::write(&file, &written.stdout).expect("a file to write to");
        let own = json(&["run", &file.display().to_string(), "--trials", "200", "--quiet"]);
        assert_eq!(own["survival"]["probability"], cell["survival"]["probability"], "{kit} {case}");
        assert_eq!(own["verdict"], cell["verdict"], "{kit} {case}");
    }
    // What overloads its outlet is never to be counted on, and what does not go together has no verdict.
    assert_eq!(cell("Fenlark 240", "exam-by-lamps")["verdict"]["kind"], "do_not_count");
    assert_eq!(cell("Skerry 1500 wide", "exam-by-lamps")["verdict"], Value::Null);
    for cell in cells.iter().filter(|cell| cell["fits"] == true) {
        let medical = cell["case"] == "sleep-device";
        let [low, estimate, _] = ["low", "probability", "high"].map(|key| cell["survival"][key].as_f64().expect(key));
        assert_eq!(cell["verdict"]["kind"], by_the_rules(low, estimate, medical), "{cell}");
    }
    let text = unbroken(&tideover(&[&lineup[..], &["--results", &results, "--all-trials", "--quiet"]].concat()).stdout);
    for meaning in ["++ count on it:", "+ likely:", "o a toss-up:", "- do not count on it:"] {
        assert!(text.contains(meaning), "{meaning}: {text}");
    }
}

#[test]
fn what_is_advised_can_be_pasted_and_is_what_was_advised() {
    let demo = fs::read_to_string(root().join("scenarios/winter-storm.toml")).expect("the demo");
    let output = tideover(&["run", "scenarios/winter-storm.toml", "--advise", "--trials", "2000", "--quiet"]);
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let lines: Vec<&str> =
        text.lines().skip_while(|line| line.trim() != "[[variant]]").take_while(|l| !l.is_empty()).collect();
    assert!(lines.len() > 2, "nothing to paste:\n{text}");
    let pasted: String = lines.iter().map(|line| format!("{}\n", line.trim())).collect();
    let file = folder("verdicts", "pasted").join("pasted.toml");
    fs::write(&file, format!("{demo}\n{pasted}")).expect("a file to write to");
    let advice = json(&["run", "scenarios/winter-storm.toml", "--advise", "--trials", "2000", "--quiet"]);
    // The rule is judged on the trials of two seeds further on.
    let seed = (advice["seed"].as_u64().expect("a seed") + 2).to_string();
    let compared = json(&["compare", &file.display().to_string(), "--trials", "2000", "--seed", &seed, "--quiet"]);
    let variants = compared["variants"].as_array().expect("variants");
    let advised = variants.iter().find(|variant| variant["name"] == "marks as advised").expect("the variant");
    assert_eq!(advised["survival"]["probability"], advice["advice"]["survival"]["probability"]);
    // The kit as it is does not differ from itself at all.
    let own = variants.iter().find(|variant| variant["name"] == "as it is").expect("the kit as it is");
    assert_eq!((own["difference_low"].as_f64(), own["difference_high"].as_f64()), (Some(0.0), Some(0.0)), "{own}");
}

/// A day, and a night with a medical device, and a lamp; the generator runs in the evening.
const DEVICE: &str = concat!(
    keys!(title = "device"),
    here!(),
    section!("outage", month = "January", lasts = "3 days"),
    section!("station", rated_capacity = "900 Wh", charge_to = "80 %"),
    section!("station.inverter", rated = "300 W"),
    section!("station.dc_outlet", limit = "120 W"),
    section!("station.wall_charger", limit = "100 W"),
    section!("generator", limit = "1 kW", hours = "18:00-20:00", fuel_per_kwh = "0.6 L"),
    load!("breather", "ac", "vital", "25 W ± 20 %", medical: true),
    load!("router", "dc", "useful", "12 W", off_below = "30 %"),
);

fn device(test: &str) -> String {
    let file = folder("verdicts", test).join("device.toml");
    fs::write(&file, DEVICE).expect("a file to write to");
    file.display().to_string()
}

#[test]
fn nothing_is_proposed_with_the_hours_of_a_medical_device() {
    let answer = json(&["run", &device("device"), "--trials", "1000", "--quiet"]);
    let changes = answer["changes"].as_array().expect("changes");
    assert!((1..=5).contains(&changes.len()), "{changes:?}");
    assert!(changes.iter().all(|change| change["load"] != "breather"), "{changes:?}");
    // The free ones come first, and each says what it costs.
    let costs: Vec<&str> = changes.iter().map(|change| change["costs"].as_str().expect("costs")).collect();
    let place = |cost: &str| ["nothing", "fuel", "money"].iter().position(|known| *known == cost).expect("a cost");
    assert!(costs.iter().map(|cost| place(cost)).is_sorted(), "{costs:?}");
    let text = unbroken(&tideover(&["run", &device("device"), "--trials", "1000", "--quiet"]).stdout);
    assert!(text.contains("No number here replaces a plan made with the device's maker"), "{text}");
}

#[test]
fn a_card_holds_the_clock_the_fuel_and_nothing_that_is_not_there() {
    let card = unbroken(&tideover(&["card", &device("card"), "--trials", "200", "--quiet"]).stdout);
    // By hand: 100 W at the plug for two hours are 0.2 kWh a day and 0.6 kWh in three, at 0.6 L a kWh and 15 % more.
    for part in [
        "1. 18:00 to 20:00: run the generator, plugged into the wall charger.",
        "Fuel to have: 0.42 L for 3 days (0.14 L a day)",
        "Below 30 %: switch off the router (the device alone then lasts at least",
        "80 % 50 % 20 %",
        "Off below its own charge here too: router (30 %).",
        "Generator: outdoors only",
        "Medical device: settle this plan",
    ] {
        assert!(card.contains(part), "{part}: {card}");
    }
    assert!(!card.contains("100 % 80 %") && !card.contains("Food"), "{card}");
    let check = unbroken(&tideover(&["check", &device("card-check")]).stdout);
    assert!(check.contains("a battery charged to 80 % runs everything for"), "{check}");
    // The router runs down to its mark alone; at 20 % it is off.
    let at = card.find("router alone").expect("its row");
    let row: Vec<&str> = card[at..].split_whitespace().take(7).collect();
    assert_eq!(row[6], "none", "{row:?}");
    let plain = unbroken(&tideover(&["card", "scenarios/balcony.toml", "--trials", "200", "--quiet"]).stdout);
    assert!(!plain.contains("Generator:") && !plain.contains("Food"), "{plain}");
}

#[test]
fn what_would_make_it_surer_is_what_the_same_kit_says_without_the_doubt() {
    // A load that was metered: the range that was foretold is the range that a run finds, but for chance and the noise of slopes.
    let folder = folder("verdicts", "surer");
    let demo = fs::read_to_string(root().join("scenarios/device-night.toml")).expect("the demo");
    let run = |name: &str, watts: &str| {
        let file = folder.join(name);
        assert!(demo.contains("32 W ± 15 %"));
        fs::write(&file, demo.replace("32 W ± 15 %", watts)).expect("a file to write to");
        json(&["run", &file.display().to_string(), "--trials", "10000", "--quiet"])
    };
    let (answer, metered) = (run("doubt.toml", "32 W ± 15 %"), run("metered.toml", "32 W"));
    let surer = answer["surer"].as_array().expect("a list");
    let meter = surer.iter().find(|one| one["of"] == "breathing device").unwrap_or_else(|| panic!("{surer:?}"));
    assert_eq!(meter["measure"]["kind"], "plug_meter", "{meter}");
    for (foretold, found) in [("then_probability", "probability"), ("then_low", "low"), ("then_high", "high")] {
        let (a, b) = (meter[foretold].as_f64().expect(foretold), metered["survival"][found].as_f64().expect(found));
        // Standard errors at 10,000 trials: 0.005 of a share, 0.01 of an end.
        assert!((a - b).abs() < 0.03, "{foretold}: {a}, a run of its own says {b}: {}", answer["survival"]);
    }
    let width = |of: &Value, low: &str, high: &str| of[high].as_f64().expect(high) - of[low].as_f64().expect(low);
    assert!(width(meter, "then_low", "then_high") < 0.8 * width(&answer["survival"], "low", "high"), "{meter}");
}

#[test]
fn a_refused_precision_is_told_without_needless_digits() {
    let output = command(&["run", "scenarios/balcony.toml", "--precision", "0.0001 %"]).output().expect("a start");
    let text = String::from_utf8_lossy(&output.stderr);
    assert!(text.contains("--precision is 0.0001 %; allowed: 0.01 to 50 %"), "{text}");
}

#[test]
fn an_hour_that_is_told_is_no_earlier_than_it_is_and_the_days_told_are_kept() {
    let arguments =
        ["now", "scenarios/winter-storm.toml", "--charge", "20%", "--at", "2027-01-14 20:30", "--trials", "1000"];
    let answer = json(&[&arguments[..], &["--sky", "dark,clear", "--quiet"]].concat());
    assert_eq!(answer["sky"]["days"], serde_json::json!(["dark", "clear"]));
    let text = answer["advice"]["text"].as_str().expect("a text");
    // Whole hours from half past eight end at half past.
    let until = text.split("until ").nth(1).unwrap_or_else(|| panic!("{text}"));
    assert_eq!(&until[2..5], ":30", "{text}");
    assert!(answer["weather"]["text"].as_str().is_some_and(|text| text.contains("MERRA-2")), "{}", answer["weather"]);
}
