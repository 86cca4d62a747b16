//! `tideover prove` on the bench: what a verdict or a claim must not say, and what it must.

use std::path::Path;

use serde_json::Value;

use crate::program::{tideover, unbroken};

const UNIT: &str = "[unit]\nrated_capacity = \"600 Wh\"\ninverter = \"600 W\"\n";

fn meter(accuracy: &str) -> String {
    format!("{UNIT}[[meter]]\nname = \"plug meter\"\naccuracy = \"{accuracy}\"\n")
}

/// A discharge from full to empty.
fn full(hours: f64, wh: f64, rest: &str) -> String {
    format!("[[capacity]]\nlasted = \"{hours} h\"\nfrom = \"100 %\"\nto = \"0 %\"\nenergy = \"{wh} Wh\"\n{rest}")
}

fn night(to: &str) -> String {
    format!("[[capacity]]\nname = \"night\"\nlasted = \"12 h\"\nfrom = \"100 %\"\nto = \"{to}\"\nload = \"0 W\"\n")
}

fn wall(hours: f64, wh: f64) -> String {
    format!("[[wall]]\nlasted = \"{hours} h\"\nfrom = \"0 %\"\nto = \"100 %\"\nenergy = \"{wh} Wh\"\n")
}

fn written(name: &str, text: &str) -> String {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("prove-bench");
    std::fs::create_dir_all(&folder).expect("a folder for the test");
    let file = folder.join(name);
    std::fs::write(&file, text).expect("a file for the test");
    file.display().to_string()
}

/// Standard output and standard error without line breaks, and the answer for programs.
#[track_caller]
fn proved(name: &str, text: &str) -> (String, String, Value) {
    let file = written(name, text);
    let output = tideover(&["prove", &file, "--today", "2027-03-20"]);
    assert!(output.status.success(), "{}", unbroken(&output.stderr));
    let json = tideover(&["prove", &file, "--today", "2027-03-20", "--json", "-q"]);
    (unbroken(&output.stdout), unbroken(&output.stderr), serde_json::from_slice(&json.stdout).expect("JSON"))
}

/// What is said of a record that is refused.
#[track_caller]
fn refused(name: &str, text: &str) -> String {
    let output = tideover(&["prove", &written(name, text)]);
    assert_eq!(output.status.code(), Some(2), "{}", unbroken(&output.stdout));
    unbroken(&output.stderr)
}

/// What an idle run tells is energy over time: 21 % of about 565 Wh (600 Wh, 97 % of it in the cells, 97 % out of them) in 12 h are 9.9 W.
#[test]
fn idle_runs_tell_a_draw_and_nothing_of_the_label() {
    let (out, _, json) = proved("idle.toml", &format!("{}{}", meter("1 %"), night("79 %")));
    for key in ["verdict", "share_of_label", "claim", "caution"] {
        assert!(json[key].is_null(), "{key}: {json}");
    }
    assert!(out.contains("Only idle runs were made"), "{out}");
    let draw = json["told"].as_array().unwrap().iter().find(|told| told["unit"] == "W").expect("a draw");
    let (value, half) = (draw["value"].as_f64().unwrap(), draw["plus_minus"].as_f64().unwrap());
    assert!((value - 9.9).abs() < 0.6 && half < 4.0, "{draw}");
    assert_eq!(draw["told"], "well");
}

/// Empty after a night means empty since some time before: only the least of the draw is told.
#[test]
fn an_empty_unit_after_an_idle_night_was_empty_before() {
    let (out, err, json) = proved("empty.toml", &format!("{}{}", meter("1 %"), night("0 %")));
    assert!(json["verdict"].is_null() && json["claim"].is_null() && json["caution"].is_null(), "{json}");
    assert!(err.contains("ran empty some time before") && !out.contains("Weak"), "{err} {out}");
    // Beside a full discharge it changes nothing of it, and tells 12 h at 44 W or more (about 550 Wh).
    let alone = proved("alone.toml", &format!("{}{}", meter("1 %"), full(4.225, 507.0, ""))).2;
    let (_, err, both) = proved("both.toml", &format!("{}{}{}", meter("1 %"), full(4.225, 507.0, ""), night("0 %")));
    assert_eq!(alone["share_of_label"], both["share_of_label"]);
    assert!(err.contains("W or more"), "{err}");
}

/// 600 Wh cells with a typical draw of 20 W: 0.97 of the label over 1.07 + 20/120 are 76 % at 120 W. No part is weak, so nobody is blamed.
#[test]
fn a_typical_inverter_is_not_blamed_for_its_draw() {
    let at = |load_w: f64| 582.0 / (1.07 + 0.03 * load_w / 600.0 + 20.0 / load_w);
    let text = format!(
        "{}{}{}{}{}",
        meter("1 %"),
        full(at(120.0) / 120.0, at(120.0), ""),
        full(at(50.0) / 50.0, at(50.0), ""),
        night("58.8 % ± 1 %"),
        wall(4.0, 692.0)
    );
    let (out, _, json) = proved("typical.toml", &text);
    assert!(json["share_of_label"]["value"].as_f64().unwrap() < 0.79, "{json}");
    assert_eq!([&json["parts"][0]["verdict"], &json["parts"][1]["verdict"]], ["sound", "sound"], "{json}");
    assert_eq!(json["verdict"], "low", "{json}");
    assert!(json["claim"].is_null(), "{json}");
    assert!(out.contains("the label counts the cells, and the inverter's typical draw takes the rest"), "{out}");
    for done in ["a second load", "second full discharge"] {
        assert!(!out.contains(done), "{done}: {out}");
    }
}

/// LFP cells in the cold give less (the model's own table: 75 % at -5 °C of what they give at 20 °C): a unit of 84.5 % of its label at
/// 20 °C gives 63.4 % there at worst and is not called weak for it.
#[test]
fn the_cold_alone_makes_no_unit_weak() {
    let two = |share: f64, air: &str| {
        let rest = format!("ambient = \"{air}\"\n");
        let (first, second) = (507.0 * share, 460.6 * share);
        format!("{}{}{}", meter("1 %"), full(first / 120.0, first, &rest), full(second / 50.0, second, &rest))
    };
    let half = |json: &Value| json["share_of_label"]["plus_minus"].as_f64().unwrap();
    let warm = proved("warm.toml", &two(0.8, "20 °C")).2;
    let cold = proved("cold.toml", &two(0.76, "-5 °C")).2;
    assert_eq!(warm["verdict"], "weak");
    assert!(4.0 * half(&warm) < half(&cold), "{warm} {cold}");
    assert_eq!(cold["verdict"], "open", "{cold}");
    assert!(cold["claim"].is_null());
    // Weak beyond what the cold explains: the claim names the temperature.
    let dead = proved("dead.toml", &two(0.5, "-5 °C")).2;
    assert!(dead["claim"].as_str().unwrap().contains("in air of -5 °C"), "{dead}");
    assert!(dead["claim"].as_str().unwrap().contains("What weakens this"), "{dead}");
}

#[test]
fn what_weakens_a_result_reaches_its_claim() {
    let text = format!("{}{}", meter("1 %"), full(3.4, 408.0, "start = \"2028-03-14T10:00\"\n"));
    let claim = proved("later.toml", &text).2["claim"].as_str().unwrap().to_string();
    assert!(claim.contains("lies in the future"), "{claim}");
}

#[test]
fn a_unit_with_a_defect_is_not_plainly_healthy() {
    let sound = full(4.225, 507.0, "");
    let dead = "[[outlet]]\nname = \"USB\"\npassed = false\nremark = \"no light\"\n";
    let box_of = |damage: &str| format!("[arrival]\ndamage = \"{damage}\"\npacking_list = [\"station\", \"cable\"]\n");
    let (out, _, json) = proved("usb.toml", &format!("{}{sound}{dead}", meter("1 %")));
    assert!(out.contains("Healthy, with a defect: 84.5"), "{out}");
    let claim = json["claim"].as_str().expect("a claim for the outlet alone");
    assert!(
        claim.contains("the outlet \"USB\" does not work (no light)") && !claim.contains("Healthy units"),
        "{claim}"
    );
    let missing = proved("cable.toml", &format!("{}{sound}{}found = [\"station\"]\n", meter("1 %"), box_of("None.")));
    assert!(missing.2["claim"].as_str().unwrap().contains("missing from the box: cable"), "{}", missing.2);
    // Words for no damage are none.
    for words in ["none", "no damage", "No damage.", "undamaged", "-", "no damage seen"] {
        let text = format!("{}{sound}{}found = [\"station\", \"cable\"]\n", meter("1 %"), box_of(words));
        let (out, _, json) = proved("none.toml", &text);
        assert!(!out.contains("with a defect") && json["caution"].is_null(), "{words}: {out}");
    }
    // In the table as text, CSV and JSON.
    let file = written("usb.toml", &format!("{}{sound}{dead}", meter("1 %")));
    for (form, part) in [
        (&[][..], "healthy, with a defect"),
        (&["--csv"][..], "healthy,\"the outlet \"\"USB\"\" does not work (no light)\""),
        (&["--json"][..], "\"defects\": [ \"the outlet"),
    ] {
        let table = tideover(&[&["prove", &*file, "--table"], form].concat());
        assert!(unbroken(&table.stdout).contains(part), "{part}: {}", unbroken(&table.stdout));
    }
    // And in what a simulation says of it, by the record and by its kit file.
    let kit = written("usb-kit.toml", "");
    assert!(tideover(&["prove", &file, "--write-kit", &kit, "-q"]).status.success());
    let held = std::fs::read_to_string(&kit).unwrap();
    assert!(held.contains("defects = [") && held.contains("does not work (no light)"), "{held}");
    let scenario =
        std::fs::read_to_string(crate::program::root().join("scenarios/second-hand.toml")).expect("a scenario");
    let label = scenario.lines().find(|line| line.starts_with("rated_capacity")).expect("a label").to_string();
    for from in [file.as_str(), kit.as_str()] {
        let named = scenario
            .replace("records/open.toml", &from.replace('\\', "/"))
            .replace(&label, "rated_capacity = \"600 Wh\"")
            .replace("rated = \"1000 W\"", "rated = \"600 W\"");
        let copy = written("with-usb.toml", &named);
        for args in [&["check", copy.as_str()][..], &["run", copy.as_str(), "--trials", "200", "-q"][..]] {
            let output = tideover(args);
            let said = unbroken(&output.stdout) + &unbroken(&output.stderr);
            assert!(said.contains("a defect") && said.contains("no light"), "{args:?}: {said}");
        }
    }
}

#[test]
fn a_short_gap_or_a_hand_at_the_switch_is_no_trip() {
    let log = |off: std::ops::Range<u32>| {
        let power = |minute: u32| if off.contains(&minute) { 0 } else { 120 };
        let rows: Vec<String> = (0..=250).map(|minute| format!("{minute},{}", power(minute))).collect();
        format!("minutes,watts\n{}\n", rows.join("\n"))
    };
    written("long.csv", &log(90..110));
    written("short.csv", &log(90..92));
    let run = |log: &str| format!("{}[[capacity]]\nfrom = \"100 %\"\nto = \"0 %\"\nlog = \"{log}\"\n", meter("1 %"));
    let caution = |name: &str, text: &str| proved(name, text).2["caution"].as_str().map(String::from);
    let tripped = caution("long.toml", &run("long.csv")).expect("a caution");
    assert!(tripped.contains("may have switched itself off"), "{tripped}");
    assert_eq!(caution("short.toml", &run("short.csv")), None);
    assert_eq!(caution("hand.toml", &format!("noise = \"lamp off by hand\"\n{}", run("long.csv"))), None);
}

/// "With 95 % confidence it lies between": 65.53 ± 0.96 is 64.5 to 66.5, not 64.6 to 66.4.
#[test]
fn a_claim_rounds_its_interval_outwards() {
    for wh in [385.0, 391.0, 393.0, 396.0, 400.0, 404.7] {
        let (_, _, json) = proved("round.toml", &format!("{}{}", meter("1 %"), full(wh / 120.0, wh, "")));
        let (value, half) = (
            json["share_of_label"]["value"].as_f64().unwrap() * 100.0,
            json["share_of_label"]["plus_minus"].as_f64().unwrap() * 100.0,
        );
        let tenths = |share: f64| share / 10.0;
        let (low, high) = (tenths((10.0 * (value - half)).floor()), tenths((10.0 * (value + half)).ceil()));
        let said = format!("lies between {low:.1} and {high:.1} %");
        assert!(json["claim"].as_str().unwrap().contains(&said), "{said}: {json}");
    }
}

/// One meter for wall and outlet: its error is in both and goes out of the ratio, checked or not.
#[test]
fn a_meters_error_cancels_in_the_round_trip() {
    let of = |scale: f64, head: &str| {
        let text = format!("{head}{}{}", full(4.225, 507.0 * scale, ""), wall(3.5, 683.0 * scale));
        let trip = proved("trip.toml", &text).2["wall"][0]["round_trip"].clone();
        (trip["value"].as_f64().unwrap(), trip["plus_minus"].as_f64().unwrap())
    };
    let (honest, half) = of(1.0, &meter("1 %"));
    let check = "[[meter_check]]\nread = \"127.2 W\"\nknown = \"120 W ± 0.5 %\"\n";
    let (checked, checked_half) = of(1.06, &format!("{}{check}", meter("7 %")));
    // 507 of 683 Wh.
    assert!((honest - 507.0 / 683.0).abs() < 0.002, "{honest}");
    assert!((checked - honest).abs() < 0.003, "{checked} {honest}");
    assert!(half < 0.015 && checked_half < 0.015, "{half} {checked_half}");
}

#[test]
fn a_claim_by_a_checked_meter_says_what_flowed() {
    let check = "[[meter_check]]\nread = \"127.2 W\"\nknown = \"120 W ± 0.5 %\"\n";
    let text = format!("{}{check}{}", meter("7 %"), full(3.4, 432.5, ""));
    let (out, _, json) = proved("checked.toml", &text);
    let claim = json["claim"].as_str().unwrap();
    // 127.2 over 120 is 6.0 % too high; 432.5 Wh are then 408 Wh, and 127 W are 120 W.
    for part in ["127.2 W where 120 W ± 0.6 W flowed, 6.0 % too high", "under 120 W", "corrected by its check"] {
        assert!(claim.contains(part), "{part}: {claim}");
    }
    assert!(claim.contains("408 Wh") || claim.contains("409 Wh") || claim.contains("410 Wh"), "{claim}");
    assert!(out.contains("it is taken to read") && out.contains("(± 7 % of the reading"), "{out}");
    assert!(!out.contains("7.000000"), "{out}");
}

#[test]
fn checks_that_contradict_each_other_or_tell_nothing_are_refused() {
    let check = |read: &str, known: &str| format!("[[meter_check]]\nread = \"{read}\"\nknown = \"{known}\"\n");
    let run = full(4.2, 500.0, "");
    let two = format!("{}{}{}{run}", meter("5 %"), check("124 W", "120 W ± 0.5 %"), check("116 W", "120 W ± 0.5 %"));
    let err = refused("two.toml", &two);
    for part in ["contradict each other", "meter check 1", "meter check 2", "124 W", "116 W"] {
        assert!(err.contains(part), "{part}: {err}");
    }
    let err = refused("poor.toml", &format!("{}{}{run}", meter("5 %"), check("120 W", "120 W ± 10 %")));
    assert!(err.contains("known no better than the meter"), "{err}");
    let agree = format!("{}{}{}{run}", meter("5 %"), check("122 W", "120 W ± 0.5 %"), check("61.2 W", "60 W ± 0.5 %"));
    proved("agree.toml", &agree);
}

/// Typical at their best charger, cells and converter pass 0.96 × 0.99² / 1.01, and 3 W go beside 120 W: 91 %. 510 of 545 Wh are 93.6 %.
#[test]
fn less_than_no_draw_is_doubted() {
    let text = format!("{}{}{}", meter("1 %"), full(4.25, 510.0, ""), wall(2.7, 545.0));
    let (out, err, json) = proved("nodraw.toml", &text);
    assert!(err.contains("and the discharges contradict each other"), "{err}");
    if out.contains("less than no draw") {
        assert_eq!(json["verdict"], "too_good", "{json}");
    }
    assert_ne!(json["verdict"], "healthy", "{json}");
}

/// 0.1 of 100 in 12 h: half a watt, which no inverter that is on draws (3 W at least, typical).
#[test]
fn an_outlet_that_switched_itself_off_is_asked_about() {
    let text = format!("{}{}{}", meter("1 %"), full(4.225, 507.0, ""), night("99 % ± 0.5 %"));
    let (out, _, json) = proved("asleep.toml", &text);
    assert_eq!(json["parts"][1]["verdict"], "doubtful", "{json}");
    assert!(out.contains("did the outlet switch itself off"), "{out}");
}

fn panel(watts: &str, rest: &str) -> (String, Value) {
    let text = format!(
        "{}[site]\nlatitude = 48.2\nlongitude = 16.4\ntimezone = \"Europe/Vienna\"\n[[solar]]\nat = \"2026-06-21T13:00\"\nwatts = \
         \"{watts}\"\nrated = \"200 W\"\nair = \"25 °C\"\ncharge = \"40 %\"\n{rest}",
        meter("1 %")
    );
    let (out, _, json) = proved("panel.toml", &text);
    (out, json["panels"][0].clone())
}

/// A light meter beside a blue sky tells more than either, and each is held against the other.
#[test]
fn a_light_meter_narrows_what_a_panel_should_give() {
    let (sky, light) = ("aim = \"at the sun\"\nsky = \"clear\"\n", "irradiance = \"960 W/m²\"\n");
    let relative = |rest: &str| {
        let (_, panel) = panel("150 W", rest);
        panel["expected_w"]["plus_minus"].as_f64().unwrap() / panel["expected_w"]["value"].as_f64().unwrap()
    };
    let (by_sky, by_light, by_both) = (relative(sky), relative(light), relative(&format!("{sky}{light}")));
    assert!(by_both < by_sky && by_both < by_light, "{by_sky} {by_light} {by_both}");
    for (read, why) in [("500 W/m²", "light_meter_too_low"), ("1400 W/m²", "light_meter_too_high")] {
        let (out, panel) = panel("150 W", &format!("{sky}irradiance = \"{read}\"\n"));
        assert_eq!(panel["no_verdict"]["kind"], why, "{out}");
    }
    // 200 W of label under half of the light of its label, of which 140 W came: the light meter is off.
    let (out, panel) = panel("140 W", "irradiance = \"500 W/m²\"\n");
    assert_eq!(panel["no_verdict"]["kind"], "more_than_a_panel_gives", "{out}");
    assert!(out.contains("check the light meter"), "{out}");
    let plan = tideover(&["prove", "plan", "--rated", "600 Wh", "--solar", "200 W"]);
    assert!(unbroken(&plan.stdout).contains("with a light meter too"), "{}", unbroken(&plan.stdout));
}

/// A form that nobody filled in proves nothing.
#[test]
fn a_form_with_its_question_marks_is_refused() {
    let form = tideover(&["prove", "new", "--rated", "600 Wh", "--inverter", "600 W", "--solar", "200 W"]);
    let text = String::from_utf8_lossy(&form.stdout).into_owned();
    let taken: String = text
        .lines()
        .map(|line| line.strip_prefix('#').filter(|rest| !rest.starts_with(' ')).unwrap_or(line).to_string() + "\n")
        .collect();
    let err = refused("form.toml", &taken);
    for key in ["capacity.0.energy", "capacity.1.lasted", "capacity.2.to", "wall.0.energy", "meter_check.0.read"] {
        assert!(err.contains(key), "{key}: {err}");
    }
}

#[test]
fn a_plan_stays_within_a_small_inverter_and_a_small_unit() {
    let of = |args: &[&str]| unbroken(&tideover(&[&["prove", "plan"], args].concat()).stdout);
    // 80 % of 150 W.
    let small = of(&["--rated", "1000 Wh", "--inverter", "150 W"]);
    assert!(small.contains("from 100 % run 120 W at the AC outlet (80 % of the inverter's power"), "{small}");
    // A unit of 50 Wh would be empty after 12 hours of 5 W.
    let tiny = of(&["--rated", "50 Wh", "--inverter", "50 W"]);
    assert!(!tiny.contains("for 12 hours") && tiny.contains("switched on for 3 hours"), "{tiny}");
    assert!(of(&["--rated", "600 Wh"]).contains("switched on for 12 hours"));
}

#[test]
fn records_of_two_units_are_no_trend() {
    let of = |name: &str, number: &str, year: u32| {
        let unit = meter("1 %").replace("[[meter]]", &format!("serial_number = \"{number}\"\n[[meter]]"));
        written(name, &format!("{unit}{}", full(4.2, 504.0, &format!("start = \"{year}-03-14T10:00\"\n"))))
    };
    let (a, b, c) = (of("a.toml", "A-1", 2024), of("b.toml", "A-1", 2025), of("c.toml", "B-7", 2026));
    let out = |files: &[&str]| unbroken(&tideover(&[&["prove"], files].concat()).stdout);
    assert!(!out(&[&a, &b]).contains("another serial number"), "{}", out(&[&a, &b]));
    let mixed = out(&[&a, &b, &c]);
    assert!(mixed.contains("A-1") && mixed.contains("B-7") && mixed.contains("another serial number"), "{mixed}");
}

#[test]
fn one_bad_record_does_not_hide_the_others() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("prove-bench/folder");
    std::fs::create_dir_all(&folder).expect("a folder for the test");
    let good = format!("title = \"Good\"\n{}{}", meter("1 %"), full(4.2, 504.0, ""));
    std::fs::write(folder.join("good.toml"), good).unwrap();
    std::fs::write(folder.join("bad.toml"), "[unit]\nrated_capacity = \"600\"\n").unwrap();
    let output = tideover(&["prove", folder.to_str().unwrap(), "--table"]);
    let (out, err) = (unbroken(&output.stdout), unbroken(&output.stderr));
    assert_eq!(output.status.code(), Some(2), "{out} {err}");
    assert!(out.contains("Good") && out.contains("1 record could not be read") && out.contains("bad.toml"), "{out}");
    assert!(err.contains("unit.rated_capacity") && err.contains("bad.toml:2"), "{err}");
}

/// The band of healthy units is of the bench load, 120 W: a test of 40 W is not held against it, and so it is said.
#[test]
fn a_small_load_is_not_held_against_the_band_of_the_bench_load() {
    let page = crate::prove::scratch("band.html");
    let html = page.display().to_string();
    let record = "scenarios/records/healthy.toml";
    let out = tideover(&["prove", record, "-q", "--html", &html]);
    let out = unbroken(&out.stdout);
    assert!(out.contains("(40 W) ran under a load so small that the inverter's own draw"), "{out}");
    assert!(!out.contains("remark"), "a column that nobody wrote into: {out}");
    let page = std::fs::read_to_string(page).expect("a page");
    // Two lamps and all tests together.
    assert_eq!(page.matches("<rect class=\"stretch\"").count(), 2, "{page}");
    assert!(page.contains("One test has no such band"), "{page}");
}

/// What an owner does next closes the page, and no key of the file stands in its words.
#[test]
fn a_proof_ends_with_what_to_do_in_plain_words() {
    for (record, part) in [
        ("healthy", "name the record in your scenario"),
        ("weak", "Send the seller the words of the claim"),
        ("open", "Test it further before you decide. A second full discharge"),
    ] {
        let file = format!("scenarios/records/{record}.toml");
        let out = unbroken(&tideover(&["prove", &file, "-q", "--today", "2027-06-01"]).stdout);
        let told = out.split("What to do now").nth(1).unwrap_or_else(|| panic!("{record}: {out}"));
        assert!(told.contains(part), "{record}: {out}");
        assert!(!out.contains("capacity.0") && !out.contains('`'), "{record}: {out}");
    }
    let weak = unbroken(&tideover(&["prove", "scenarios/records/weak.toml", "-q"]).stdout);
    for part in ["It also has defects: ", "Worked out from all tests for 107 W", "lies between 61.5 and 64.3 %"] {
        assert!(weak.contains(part), "{part}: {weak}");
    }
    let open = unbroken(&tideover(&["prove", "scenarios/records/open.toml", "-q"]).stdout);
    assert!(open.contains("The load of discharge 1, \"heater on low\", is one reading"), "{open}");
}
