//! Words, bases and rounding of the answers: what an owner reads, and that it says what the numbers are of.

use std::fs;

use serde_json::Value;

use crate::program::{answered, folder, json, root, unbroken};

const STORM: &str = "scenarios/winter-storm.toml";

#[track_caller]
fn told(arguments: &[&str]) -> String {
    unbroken(answered(arguments))
}

/// What every question about a scenario says of every demo and template.
fn everything() -> Vec<(String, String)> {
    let mut all = Vec::new();
    for folder in ["scenarios", "scenarios/templates"] {
        for file in fs::read_dir(root().join(folder)).expect("the demos") {
            let path = file.expect("a demo").path();
            if path.extension().is_none_or(|end| end != "toml") {
                continue;
            }
            let file = path.display().to_string();
            let quick = ["--quiet", "--trials", "200"];
            for question in ["run", "card"] {
                all.push((format!("{question} {file}"), told(&[&[question, &file][..], &quick].concat())));
            }
            // Remarks at the end show the file's own lines and name keys by their paths.
            let check = told(&["check", &file]);
            let plain = ["note: `", "warning: `"].iter().filter_map(|remark| check.find(remark)).min();
            all.push((format!("check {file}"), check[..plain.unwrap_or(check.len())].to_string()));
            let compare = ["compare", &file, "--set", "outage.starts_charged=70 %"];
            all.push((format!("compare {file}"), told(&[&compare[..], &quick].concat())));
        }
    }
    let quick = ["--quiet", "--trials", "200"];
    for demo in ["winter-storm", "device-night", "food-and-little-unmet", "balcony"] {
        let file = format!("scenarios/{demo}.toml");
        all.push((format!("size {file}"), told(&[&["size", &file][..], &quick].concat())));
    }
    all.push(("years".into(), told(&["years", "scenarios/ten-years.toml", "--quiet", "--histories", "20"])));
    all
}

#[test]
fn no_word_of_ours_stands_where_an_owner_reads_and_every_share_is_of_a_hundred() {
    const OURS: [&str; 8] = ["persistence", "clearness", "duty", " points", "panel.0", "load.0", " mean_sun", "NaN"];
    for (question, text) in everything() {
        for word in OURS {
            assert!(!text.contains(word), "{question} says {word:?}:\n{text}");
        }
        // "3 of 1,000", "8 of 10,000": another denominator than the one that all shares have.
        for of in [" of 1,000", " of 10,000", " of 1000 "] {
            for (at, _) in text.match_indices(of) {
                let before = text[..at].chars().last();
                assert!(
                    !before.is_some_and(|c| c.is_ascii_digit()),
                    "{question}: {}",
                    &text[at.saturating_sub(60)..at + 12]
                );
            }
        }
    }
}

/// A key may stand in brackets behind the words for it, where a file is to be edited, and nowhere else.
#[test]
fn a_key_of_the_file_stands_in_brackets_behind_plain_words_or_not_at_all() {
    let asked = |demo: &str, question: &str, more: &[&str]| {
        let file = format!("scenarios/{demo}.toml");
        told(&[&[question, &file][..], more].concat())
    };
    for (question, text) in everything() {
        // A variant told on the command line is called by what was typed.
        let mut plain = text.replace("outage.starts_charged=70", "");
        while let Some(at) = plain.find("in the file: ") {
            let to = plain[at..].find(')').unwrap_or_else(|| panic!("{question}: no bracket ends: {}", &plain[at..]));
            plain.replace_range(at..at + to, "");
        }
        let key = |word: &&str| {
            let word = word.trim_matches(|c: char| !c.is_alphanumeric());
            word.contains('_') || word.starts_with("panel.") || word.starts_with("load.") || word.starts_with("outage.")
        };
        let words: Vec<&str> = plain.split_whitespace().filter(key).collect();
        assert!(words.is_empty(), "{question}: {words:?}:\n{text}");
        assert!(!plain.contains('`') && !plain.contains("[["), "{question}:\n{text}");
    }
    // Things go by their own names.
    let fuel = asked("two-weeks-of-fuel", "run", &["--quiet", "--trials", "200"]);
    assert!(fuel.contains("Mind panels: snow: the panels \"south wall\" may lie under snow"), "{fuel}");
    let balcony = asked("balcony", "check", &[]);
    let own = "the inverter's draw with nothing on it (in the file: idle under station.inverter) eats more than half";
    assert!(balcony.contains(own), "{balcony}");
}

#[test]
fn compare_gives_each_variant_its_verdict_its_difference_and_its_cost() {
    let ask = ["compare", STORM, "--quiet", "--trials", "2000"];
    let (text, answer) = (told(&ask), json(&ask));
    let variants = answer["variants"].as_array().expect("variants");
    let of = |name: &str| variants.iter().find(|v| v["name"] == name).unwrap_or_else(|| panic!("no {name}: {answer}"));
    // The kit as it is leads, with its verdict; beside it the best that is free, and then the better one that is to be bought.
    let word = |name: &str| of(name)["verdict"]["text"].as_str().expect("a verdict").to_string();
    assert!(text.contains(&format!("As it is: {},", word("as it is"))), "{text}");
    let free = text.find(&format!("With \"no radio\", which is free: {},", word("no radio")));
    let sold = format!("With \"two more panels\", which costs 170 crowns more: {},", word("two more panels"));
    let sold = text.find(&sold);
    assert!(free.expect("the free one") < sold.expect("the one that is sold"), "{text}");
    let table = text
        .split("Each variant, the free ones first, the best first of each kind")
        .nth(1)
        .and_then(|rest| rest.split("Each variant against").next());
    let table = table.expect("the table");
    let place = |name: &str| table.find(name).unwrap_or_else(|| panic!("no row of {name}: {table}"));
    for variant in variants {
        let name = variant["name"].as_str().expect("a name");
        let row = &table[place(name)..];
        assert!(row.starts_with(&format!("{name} {}", word(name))), "{row}");
        // The kit as it is first, then what is free, the best first, then what is to be bought.
        let rank = |name: &str| of(name)["rank"].as_u64().expect("a rank");
        let costs = |name: &str| if name == "as it is" { "" } else { of(name)["costs"].as_str().expect("costs") };
        assert_eq!(costs("two more panels"), "money");
        assert!(
            ["no radio", "router on 12 V", "charged full when warned", "panels steeper"]
                .iter()
                .all(|name| costs(name) == "nothing")
        );
        for other in
            ["as it is", "no radio", "panels steeper", "two more panels"].into_iter().filter(|other| *other != name)
        {
            let order = |name: &str| (name != "as it is", costs(name) == "money", rank(name));
            assert_eq!(place(other) < place(name), order(other) < order(name), "{other}, {name}: {table}");
        }
        if name == "as it is" {
            continue;
        }
        // A difference is what is gained less what is lost, each counted in outages (McNemar's pairs).
        let count = |key: &str| variant[key].as_f64().expect(key);
        let share = |key: &str| 100.0 * count(key) / count("trials");
        assert!((100.0 * count("difference") - (share("rescued") - share("lost"))).abs() < 1e-9, "{variant}");
        if variant["told_apart"] == true {
            let told = format!("{:+.1} (", 100.0 * count("difference"));
            assert!(row.contains(&told), "{told}: {row}");
            let both = format!("{:.1} {:.1}", share("rescued"), share("lost"));
            assert!(row.contains(&both), "{both}: {row}");
        }
    }
    // Two more panels at 85 crowns; what has no price in [size] has no cost.
    assert_eq!(of("two more panels")["more_to_pay"], 170.0);
    assert_eq!(of("no radio")["more_to_pay"], Value::Null);
    assert!(text.contains("gains the outages that it alone rides through"), "{text}");
    // A battery between two that have a price: 650 crowns a kWh.
    let demo = fs::read_to_string(root().join(STORM)).expect("the demo");
    let file = folder("words", "battery").join("storm.toml");
    fs::write(&file, demo.replace("measured_", "# measured_")).expect("a file to write to");
    let set = ["--set", "station.rated_capacity=3 kWh; panel.0.count=4; panel.0.wiring={ series = 2, parallel = 2 }"];
    let file = file.display().to_string();
    let answer = json(&[&["compare", &file, "--quiet", "--trials", "100"][..], &set].concat());
    let last = answer["variants"].as_array().and_then(|all| all.last()).expect("a variant");
    let more = last["more_to_pay"].as_f64().expect("a cost");
    assert!((more - (0.5 * 650.0 - 2.0 * 85.0)).abs() < 1e-9, "{more}");
}

#[test]
fn compare_says_which_variants_are_surely_worse_and_gives_no_count_of_trials_to_come() {
    let quick = ["--quiet", "--trials", "1000"];
    for (demo, set) in [("device-night", "station.charge_to=90 %"), ("second-hand", "station.charge_to=80 %")] {
        let file = format!("scenarios/{demo}.toml");
        let ask = [&["compare", &file, "--set", set][..], &quick].concat();
        let (text, answer) = (told(&ask), json(&ask));
        let variants = answer["variants"].as_array().expect("variants");
        let share = |key: &str| 100.0 * variants[1][key].as_f64().expect(key);
        assert!(variants.len() == 2 && share("difference_high") < 0.0, "{answer}");
        assert!(text.contains(&format!("\"{set}\" is surely worse: {:+.1} of 100 (", share("difference"))), "{text}");
        assert!(!text.contains("None of the variants is surely better"), "{text}");
        // Its picture has a head of its own.
        let page = folder("words", demo).join("page.html").display().to_string();
        answered(&[&ask[..], &["--html", &page]].concat());
        let page = fs::read_to_string(page).expect("a page");
        let (_, after) =
            page.split_once("<h2>Difference to &quot;as it is&quot;, in outages of 100</h2>").expect("a head");
        assert!(after.trim_start().starts_with("<figure class=\"differences\">"), "{after:.80}");
    }
    // Of several, those are named that are worse.
    let sets = ["station.charge_to=90 %", "title=the same"];
    let ask = ["compare", "scenarios/device-night.toml", "--set", sets[0], "--set", sets[1]];
    let text = told(&[&ask[..], &quick].concat());
    assert!(
        text.contains("None of the variants is surely better; \"station.charge_to=90 %\" is surely worse: "),
        "{text}"
    );
    assert!(text.contains("\"as it is\" and \"title=the same\" ride through the same outages."), "{text}");
    // What is too close to call is called so.
    let ask = ["compare", "scenarios/winter-storm.toml", "--set", "load.0.watts=60.2 W", "--quiet", "--trials", "200"];
    let (text, answer) = (told(&ask), json(&ask));
    let ties = answer["verdict"]["ties"].as_array().expect("ties");
    let close = ties.iter().find(|tie| tie["same_outages"] == false).unwrap_or_else(|| panic!("no tie: {answer}"));
    let [better, worse] = ["better", "worse"].map(|key| close[key].as_str().expect("a name"));
    assert!(text.contains(&format!("\"{better}\" and \"{worse}\" are too close to call.")), "{text}");
    assert!(close.get("trials_needed").is_some() && !text.contains("trials would tell"), "{text}");
}

#[test]
fn compare_says_of_a_device_what_to_count_on_and_where_it_runs_else() {
    let ask =
        ["compare", "scenarios/device-night.toml", "--set", "station.charge_to=90 %", "--quiet", "--trials", "1000"];
    let (text, answer) = (told(&ask), json(&ask));
    let low = |k: usize| (100.0 * answer["variants"][k]["survival"]["low"].as_f64().expect("a low end")).floor();
    let run = told(&["run", "scenarios/device-night.toml", "--quiet", "--trials", "1000"]);
    let count_on = format!("so count on no more than {:.0} of 100", low(0));
    assert!(text.contains(&count_on) && run.contains(&count_on), "{count_on}: {text}");
    // The same words as `run` has on where it runs when the kit does not.
    let elsewhere = "The device may go without here. Settle today where it runs when it does";
    assert!(text.contains(elsewhere) && run.contains(elsewhere), "{text}");
    assert!(
        answer["cautions"].as_array().is_some_and(|all| all.iter().any(|one| one["kind"] == "device_may_go_without"))
    );
    // With a better variant it is said of both.
    let set = "panel.0.count=2; panel.0.wiring=parallel";
    let ask = ["compare", "scenarios/device-night.toml", "--set", set, "--quiet", "--trials", "1000"];
    let (text, answer) = (told(&ask), json(&ask));
    let low = |k: usize| (100.0 * answer["variants"][k]["survival"]["low"].as_f64().expect("a low end")).floor();
    let both = format!(
        "count on no more than {:.0} of 100 as it is, and with \"{set}\" count on no more than {:.0} of 100",
        low(0),
        low(1)
    );
    assert!(text.contains(&both), "{both}: {text}");
}

#[test]
fn compare_and_size_say_what_run_says_of_assumptions_food_and_safety() {
    for (demo, variant) in
        [("food-and-little-unmet", "outage.starts_charged=70 %"), ("device-night", "outage.month=March")]
    {
        let file = format!("scenarios/{demo}.toml");
        let common = ["--quiet", "--trials", "400"];
        let run = json(&[&["run", &file][..], &common].concat());
        let compare = [&["compare", &file, "--set", variant][..], &common].concat();
        let size = [&["size", &file][..], &common].concat();
        let notes = run["notes"].as_array().expect("notes");
        assert!(notes.len() > 5, "{notes:?}");
        for ask in [compare, size] {
            let (text, answer) = (told(&ask), json(&ask));
            assert_eq!(&answer["notes"], &run["notes"], "{ask:?}");
            for note in notes {
                let said = unbroken(note["text"].as_str().expect("a text").as_bytes());
                assert!(text.contains(&said), "{ask:?} lacks {said:?}:\n{text}");
            }
        }
    }
    let food = ["compare", "scenarios/food-and-little-unmet.toml", "--set", "outage.starts_charged=70 %"];
    let text = told(&[&food[..], &["--quiet", "--trials", "400"]].concat());
    let food = text.split("The food in the coolers").nth(1).expect("a word on food");
    for part in ["as it is", "outage.starts_charged=70 %", "Judged by a thermometer, its food is lost in"] {
        assert!(food.contains(part), "{part}: {food}");
    }
}

#[test]
fn years_say_of_every_figure_by_which_law_it_is() {
    let demo = fs::read_to_string(root().join("scenarios/ten-years.toml")).expect("the demo");
    for (model, law) in
        [("worst", "the harshest law"), ("published", "the harshest published law"), ("trade rule", "the trade rule")]
    {
        let file = folder("words", &format!("years-{}", model.replace(' ', "-"))).join("years.toml");
        fs::write(&file, format!("{demo}\n[wear]\nmodel = \"{model}\"\n")).expect("a file to write to");
        let file = file.display().to_string();
        let ask = ["years", &file, "--quiet", "--histories", "20"];
        let (text, answer) = (told(&ask), json(&ask));
        assert_eq!(answer["felt"], model.replace(' ', "_"), "{answer}");
        let ways = answer["strategies"].as_array().expect("ways");
        let mean = |law: &Value| law["years_to_80_percent"]["mean"].as_f64().expect("years");
        let shown = |years: f64| if years > 39.95 { "over 40".to_string() } else { format!("{years:.1}") };
        for (k, way) in ways.iter().enumerate() {
            let laws = || way["laws"].as_array().expect("laws").iter().map(mean);
            let (low, high) = (laws().fold(f64::INFINITY, f64::min), laws().fold(0.0, f64::max));
            // The spread of the laws stands in the table of the ways and, for the one chosen, in the first sentence.
            let spread =
                if shown(low) == shown(high) { shown(low) } else { format!("({} to {}", shown(low), shown(high)) };
            assert!(text.contains(&spread), "{spread}: {text}");
            if way["name"] == answer["choice"] {
                let middle = shown(way["years_middle_law"].as_f64().expect("years"));
                let about = if middle.starts_with("over") { "" } else { "about " };
                let range =
                    if spread.starts_with('(') { format!(" {spread}, by the law of wear)") } else { String::new() };
                let told = format!("keeps 80 % of its capacity for {about}{middle} years{range}");
                assert!(text.contains(&told), "{told}: {text}");
            }
            let longer = way["years_more_than_first"].as_f64().expect("years");
            if k > 0 && longer >= 0.05 {
                assert!(text.contains(&format!("{longer:.1} years longer by {law}.")), "{longer}: {text}");
            }
        }
        for told in [format!("it lasts longest by {law}"), format!("with a battery as worn as {law} says")] {
            assert!(text.contains(&told), "{told}: {text}");
        }
    }
}

#[test]
fn three_strings_side_by_side_are_told_of_fuses_and_two_are_not() {
    // NEC 690.9(A) and IEC 62548 as usually read, from memory: two strings need none.
    let fuse = "a fuse made for direct current in each string";
    assert!(told(&["check", STORM]).contains(fuse));
    for ask in [&["run", STORM, "--trials", "200", "--quiet"][..], &["size", STORM, "--trials", "200", "--quiet"]] {
        assert!(told(ask).contains(fuse), "{ask:?}");
    }
    let size = told(&["size", STORM, "--trials", "200", "--quiet"]);
    assert!(size.contains("strings of panels hang side by side in these kits"), "{size}");
    let demo = fs::read_to_string(root().join(STORM)).expect("the demo");
    let file = folder("words", "two-strings").join("storm.toml");
    let two = demo.replace("count = 6", "count = 4").replace("series = 2, parallel = 3", "series = 2, parallel = 2");
    assert_ne!(two, demo);
    fs::write(&file, two).expect("a file to write to");
    let check = told(&["check", &file.display().to_string()]);
    assert!(!check.contains(fuse) && !check.contains("strings side by side"), "{check}");
}

#[test]
fn size_has_no_column_of_prices_where_there_are_none() {
    let without = told(&["size", "scenarios/summer-fridge.toml", "--trials", "200", "--quiet"]);
    assert!(!without.contains("rides through price") && !without.contains("rides through weight"), "{without}");
    let with = told(&["size", STORM, "--trials", "200", "--quiet"]);
    assert!(with.contains("rides through price weight"), "{with}");
}

/// Where more would fail by what is taken for granted than fails now, that stands beside the verdict and not at the end alone.
#[test]
fn what_a_verdict_hangs_on_more_than_on_the_kit_stands_beside_it() {
    let run = |demo: &str| {
        let ask = ["run", &format!("scenarios/{demo}.toml"), "--quiet", "--trials", "2000"];
        (told(&ask), json(&ask))
    };
    let (fuel, answer) = run("two-weeks-of-fuel");
    let first = fuel.split("What fails, and when").next().unwrap_or_default();
    assert!(first.contains("If the outage took the heating too and the room cooled to 5 °C,"), "{first}");
    let notes = answer["notes"].as_array().expect("notes");
    let room = notes.iter().find(|note| note["what"] == "room_stays_warm").unwrap_or_else(|| panic!("{answer}"));
    let more = room["turned"]["difference"].as_f64().expect("a difference").abs();
    assert!(more > 1.0 - answer["survival"]["probability"].as_f64().expect("a share"), "{room}");
    assert_eq!(answer["hangs_on"], "room_stays_warm", "{answer}");
    // Where less hangs on it than fails anyway it stays with what the answer rests on.
    let (device, answer) = run("device-night");
    let first = device.split("What fails, and when").next().unwrap_or_default();
    assert!(!first.contains("If the outage took the heating") && answer["hangs_on"].is_null(), "{first}");
    assert!(device.contains("If the outage took the heating"), "{device}");
}

/// A sheet on the wall: no cell of nothing, no head that nobody understands, and whose weather it is in small type at the foot.
#[test]
fn a_card_has_no_empty_figures_and_credits_at_its_foot() {
    for demo in ["frost-in-the-shed", "balcony", "device-night", "twice-daily-cuts"] {
        let page = folder("words", "card").join(format!("{demo}.html"));
        let file = format!("scenarios/{demo}.toml");
        let ask = ["card", &file, "--quiet", "--trials", "200"];
        let text = told(&ask);
        answered(&[&ask[..], &["--html", page.to_str().expect("a path")]].concat());
        let html = fs::read_to_string(page).expect("a page");
        let table = text
            .split("by the charge that it shows")
            .nth(1)
            .and_then(|rest| rest.split("39 of 40").next())
            .expect("a table");
        for part in [" 0 h", " 0 days", "begun at", " 1 h 1 h"] {
            assert!(!table.contains(part), "{demo} has {part:?}: {table}");
        }
        let (face, foot) = html.split_once("<footer").expect("a foot");
        for credit in ["MERRA-2", "CC BY 4.0"] {
            assert!(!face.contains(credit) && foot.contains(credit), "{demo}: {credit}: {html}");
            assert!(text.rfind("Take care").expect("cautions") < text.find(credit).expect("the credit"), "{text}");
        }
    }
    let frost = told(&["card", "scenarios/frost-in-the-shed.toml", "--quiet", "--trials", "200"]);
    assert!(frost.contains("radio link alone 45 h 30.2 h 8 h none"), "{frost}");
    let balcony = told(&["card", "scenarios/balcony.toml", "--quiet", "--trials", "200"]);
    let outlet = "Everything, router alone: no more than 1 h can be counted on at any charge, as its AC outlet may switch itself off";
    assert!(balcony.contains(outlet), "{balcony}");
}
