//! `tideover prove` where something is amiss: dates that cannot be, a unit that may be dangerous, photographs for a page.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde_json::{Value, json};
use tideover::trials::run::Quiet;

use crate::program::{tideover, unbroken};

const UNIT: &str =
    "[unit]\nrated_capacity = \"600 Wh\"\ninverter = \"600 W\"\n[[meter]]\nname = \"m\"\naccuracy = \"1 %\"\n";
const RUN: &str = "from = \"100 %\"\nto = \"0 %\"\n";

fn written(name: &str, text: &str) -> String {
    let folder: PathBuf = Path::new(env!("CARGO_TARGET_TMPDIR")).join("prove-cautions");
    std::fs::create_dir_all(&folder).expect("a folder for the test");
    let file = folder.join(name);
    std::fs::write(&file, text).expect("a file for the test");
    file.display().to_string()
}

/// Standard output without line breaks, and standard error.
fn proved(name: &str, text: &str, rest: &[&str]) -> (String, String) {
    let file = written(name, text);
    let output = tideover(&[&["prove", &*file, "--today", "2027-03-20"], rest].concat());
    assert!(output.status.success(), "{}", unbroken(&output.stderr));
    (unbroken(&output.stdout), unbroken(&output.stderr))
}

fn discharge(start: &str, wh: u32) -> String {
    format!(
        "{UNIT}[[capacity]]\nstart = \"{start}T10:00\"\nlasted = \"{:.2} h\"\n{RUN}energy = \"{wh} Wh\"\n",
        f64::from(wh) / 120.0
    )
}

#[test]
fn a_test_after_today_or_before_such_units_is_doubted_at_its_line() {
    let (out, err) = proved("future.toml", &discharge("2028-03-14", 504), &[]);
    for part in
        ["`capacity.0.start`", "lies in the future", "found 2028-03-14", "2027-03-20, which is today", "future.toml:8"]
    {
        assert!(err.contains(part), "{part}: {err}");
    }
    // It is part of what weakens the proof.
    assert!(out.contains("lies in the future"), "{out}");
    let (_, err) = proved("past.toml", &discharge("1999-03-14", 504), &[]);
    assert!(err.contains("lies before such units were sold"), "{err}");
    // At the place of the test it may be tomorrow already.
    for day in ["2027-03-14", "2027-03-21"] {
        let (out, err) = proved("sound.toml", &discharge(day, 504), &[]);
        assert!(err.is_empty() && !out.contains("lies in the future"), "{day}: {err}");
    }
    let (_, err) = proved("table.toml", &discharge("2028-03-14", 504), &["--table"]);
    assert!(err.contains("lies in the future"), "{err}");
}

#[test]
fn a_unit_that_may_be_dangerous_gets_the_usual_cautions() {
    let sound = discharge("2027-03-14", 504);
    let (out, _) = proved("quiet.toml", &sound, &[]);
    assert!(!out.contains("may be damaged"), "{out}");
    let log = |off: bool| {
        let power = |minute: u32| if off && (90..110).contains(&minute) { 0 } else { 120 };
        let rows: Vec<String> = (0..=250).map(|minute| format!("{minute},{}", power(minute))).collect();
        format!("minutes,watts\n{}\n", rows.join("\n"))
    };
    written("trip.csv", &log(true));
    let tripped = format!("{UNIT}[[capacity]]\n{RUN}log = \"trip.csv\"\n");
    for (name, text, reason) in [
        (
            "swollen.toml",
            format!("heat = \"its case swells on one side\"\n{sound}"),
            "somebody noted \"its case swells on one side\"",
        ),
        ("damaged.toml", format!("{sound}[arrival]\ndamage = \"a corner is crushed\"\n"), "it came damaged"),
        ("trip.toml", tripped, "it may have switched itself off in the midst of a run"),
        ("dead.toml", discharge("2027-03-14", 240), "its cells hold"),
    ] {
        let (out, _) = proved(name, &text, &[]);
        for part in [
            reason,
            "Do not charge it indoors or unattended",
            "anything that burns",
            "fire service",
            "local waste service",
            "maker's manual",
        ] {
            assert!(out.contains(part), "{name}, {part}: {out}");
        }
        let (json, _) = proved(name, &text, &["--json"]);
        assert!(
            serde_json::from_str::<Value>(&json).unwrap()["caution"].as_str().is_some_and(|c| c.contains(reason)),
            "{json}"
        );
    }
}

/// What may be damaged is neither charged nor tested again, and its owner hears how it travels.
#[test]
fn nobody_is_told_to_test_a_damaged_unit_further() {
    let damage = "[arrival]\ndamage = \"a corner is crushed\"\nreturn_by = \"2027-03-01\"\n";
    for (name, wh) in [("crushed-weak.toml", 340), ("crushed-open.toml", 480), ("crushed-healthy.toml", 504)] {
        let (out, _) = proved(name, &format!("{}{damage}", discharge("2027-03-14", wh)), &[]);
        for further in
            ["charge it where", "a second load", "nothing plugged in, does", "second full discharge", "in a year"]
        {
            assert!(!out.contains(further), "{name}, {further}: {out}");
        }
        for part in [
            "ask the seller how it travels",
            "Stop using it and test it no more",
            "It could be sent back until 2027-03-01",
        ] {
            assert!(out.contains(part), "{name}, {part}: {out}");
        }
        let (json, _) = proved(name, &format!("{}{damage}", discharge("2027-03-14", wh)), &["--json"]);
        let json: Value = serde_json::from_str(&json).expect("JSON");
        let kinds: Vec<&str> =
            json["next"].as_array().expect("steps").iter().filter_map(|next| next["kind"].as_str()).collect();
        assert_eq!(kinds, ["stop_using", "claim", "ask_how_it_travels"], "{name}");
        assert_eq!((&json["next"][1]["return_by"], &json["next"][1]["days_left"]), (&json!("2027-03-01"), &json!(-19)));
    }
    // One that came whole is.
    let (out, _) = proved("whole-weak.toml", &discharge("2027-03-14", 400), &[]);
    assert!(
        out.contains("a second load, or a night with nothing plugged in") && !out.contains("how it travels"),
        "{out}"
    );
}

#[test]
fn a_page_in_a_browser_holds_the_photographs_given_to_it() {
    let record = format!("photographs = [\"label.png\"]\n{}", discharge("2027-03-14", 504));
    let png = [0x89, b'P', b'N', b'G', 13, 10, 26, 10, 1, 2, 3];
    let asked = |photographs: &[(&str, &[u8])]| {
        let mut files = BTreeMap::from([("box/unit.toml".to_string(), record.clone().into_bytes())]);
        files.extend(photographs.iter().map(|(name, bytes)| ((*name).to_string(), bytes.to_vec())));
        let question = json!({"ask": "prove", "file": "box/unit.toml", "today": "2027-03-20"}).to_string();
        let reply: Value = serde_json::from_str(&tideover::page::answer(&question, &Arc::new(files), &Quiet)).unwrap();
        assert_eq!(reply["answered"], true, "{reply}");
        reply
    };
    let with = asked(&[("box/label.png", &png)]);
    // RFC 4648: the bytes above in base 64.
    assert!(with["page"].as_str().unwrap().contains("data:image/png;base64,iVBORw0KGgoBAgM="), "{with}");
    assert_eq!(with["problems"].as_array().map(Vec::len), Some(0), "{with}");
    for (given, why) in [(&[][..], "label.png"), (&[("box/label.png", &b"no picture"[..])][..], "neither JPEG nor PNG")]
    {
        let without = asked(given);
        let said = &without["problems"][0];
        assert!(said["label"].as_str().unwrap().contains(why), "{said}");
        assert!(said["hint"].as_str().unwrap().contains("open the photographs together with the record"), "{said}");
        assert_eq!(without["json"], with["json"]);
    }
}
