//! The JSON Schemas of the answers against the answers to every question, and against answers that were tampered with.

use std::collections::BTreeSet;
use std::fs;

use serde_json::{Value as Json, json};
use tideover::report::answers::{json_schema, kinds};

use crate::program::{folder, json as answer, root, tideover};
use crate::schema::check;

/// The answers to every question, and to `run` of every demo.
fn answers(test: &str) -> Vec<(String, Json)> {
    let storm = "scenarios/winter-storm.toml";
    let results = folder("answer-schema", test).join("few.tsv").display().to_string();
    let (cases, few) = ("scenarios/lineup/cases", ["-q", "--trials", "60"]);
    let kits = ["lineup", "scenarios/lineup/catalogue.toml", "--cases", cases, "--results", &results];
    let questions: [&[&str]; 6] = [
        &["run", storm, "--advise", "--rare"],
        &["run", "scenarios/food-and-little-unmet.toml", "--advise", "--rare"],
        &["compare", storm],
        &["size", storm],
        &["now", storm, "--charge", "43%", "--at", "2027-01-14 20:30", "--sky", "dark,mixed,clear"],
        &kits,
    ];
    let mut out: Vec<(String, Json)> =
        questions.iter().map(|of| (of.join(" "), answer(&[*of, &few].concat()))).collect();
    let years = ["years", "scenarios/ten-years.toml", "--histories", "10", "-q"];
    out.push((years.join(" "), answer(&years)));
    for kit in ["winter-storm", "ten-years"] {
        let file = format!("scenarios/{kit}.toml");
        out.push((format!("check {file}"), answer(&["check", &file])));
    }
    for record in ["healthy", "open", "weak"] {
        let file = format!("scenarios/records/{record}.toml");
        out.push((file.clone(), answer(&["prove", &file, "-q", "--today", "2027-06-01"])));
    }
    for demo in fs::read_dir(root().join("scenarios")).expect("the demos") {
        let path = demo.expect("a demo").path();
        if path.extension().is_some_and(|end| end == "toml") {
            let file = path.display().to_string();
            out.push((file.clone(), answer(&[&["run", file.as_str()][..], &few].concat())));
        }
    }
    out
}

#[test]
fn every_answer_fits_its_schema_and_a_tampered_one_does_not() {
    let mut met = BTreeSet::new();
    for (question, json) in answers("all") {
        let kind = json["kind"].as_str().expect("a kind").to_string();
        let schema = json_schema(&kind).unwrap_or_else(|| panic!("no schema of {kind}"));
        assert_eq!(check(&schema, &json, &kind), Ok(()), "{question}");
        if !met.insert(kind.clone()) {
            continue;
        }
        // A key that goes, and one that turns into something else.
        for key in schema["required"].as_array().expect("keys") {
            let key = key.as_str().expect("a key");
            let mut less = json.clone();
            less.as_object_mut().expect("an object").remove(key);
            assert!(check(&schema, &less, &kind).is_err(), "{question} without {key}");
            let mut other = json.clone();
            other[key] = json!([["something else"]]);
            assert!(check(&schema, &other, &kind).is_err(), "{question} with another {key}");
        }
        if json["survival"].is_object() {
            for (key, wrong) in [("probability", json!(1.5)), ("low", json!("0.4")), ("trials", json!(0.5))] {
                let mut other = json.clone();
                other["survival"][key] = wrong;
                assert!(check(&schema, &other, &kind).is_err(), "{question}: {key}");
            }
        }
        let mut newer = json.clone();
        newer["schema_version"] = json!(json["schema_version"].as_u64().expect("a version") + 1);
        assert!(check(&schema, &newer, &kind).is_err(), "{question}: another version");
    }
    let all: BTreeSet<String> = kinds().into_iter().map(String::from).collect();
    assert_eq!(met, all);
}

#[test]
fn the_program_prints_the_schema_of_an_answer() {
    let printed = tideover(&["schema", "--answer", "outage"]);
    let schema: Json = serde_json::from_slice(&printed.stdout).expect("JSON");
    assert_eq!(Some(&schema), json_schema("outage").as_ref());
    assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
    crate::program::refused(&["schema", "--answer", "outages"], &["outages", "outage", "comparison"]);
}
