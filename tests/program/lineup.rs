//! `lineup` as a person meets it: every cell is a run of its own, parts make the whole, ties are ties.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;
use tideover::study::lineup::{Cell, parse, write};
use tideover::trials::interval::paired_difference;

use crate::program::{answered, command, folder, refused, root};

const CATALOGUE: &str = "scenarios/lineup/catalogue.toml";
const CASES: &str = "scenarios/lineup/cases";

/// Some kits of the invented catalogue, in a folder of their own; their catalogue and where results go.
fn some_kits(test: &str, names: &[&str]) -> (String, PathBuf) {
    let text = fs::read_to_string(root().join(CATALOGUE)).expect("the catalogue");
    let (head, rest) = text.split_once("[[kit]]").expect("kits");
    let mut chosen = head.to_string();
    for name in names {
        let kit = rest.split("[[kit]]").find(|kit| kit.contains(&format!("\nname = \"{name}\"\n")));
        chosen.push_str(&format!("[[kit]]{}", kit.unwrap_or_else(|| panic!("no kit {name}"))));
    }
    let path = folder("lineup", test).join("kits.toml");
    fs::write(&path, chosen).expect("a catalogue to write");
    (path.display().to_string(), path.with_extension("results.tsv"))
}

pub(crate) fn case(name: &str) -> String {
    format!("{CASES}/{name}.toml")
}

const PLACES: [&str; 4] = ["--at", "44.2,-72.6", "--at", "-33.9,151.2"];

pub(crate) fn json(text: &str) -> Value {
    serde_json::from_str(text).expect("JSON")
}

#[test]
fn the_invented_catalogue_is_large_enough_and_every_part_of_it_is_read() {
    let results = folder("lineup", "whole").join("results.tsv").display().to_string();
    let text = answered(&[
        "lineup",
        CATALOGUE,
        "--cases",
        CASES,
        "--trials",
        "300",
        "--quiet",
        "--json",
        "--results",
        &results,
    ]);
    let answer = json(&text);
    let (kits, cases) = (answer["kits"].as_array().unwrap(), answer["cases"].as_array().unwrap());
    assert!(kits.len() >= 12 && cases.len() >= 8, "{} kits, {} cases", kits.len(), cases.len());
    let cells = answer["cells"].as_array().unwrap();
    assert_eq!(cells.len(), kits.len() * cases.len());
    // The catalogue is worth looking at: every band is there, and so is something that does not fit.
    for band in ["carries it", "mostly", "seldom", "hardly ever"] {
        assert!(cells.iter().any(|cell| cell["band"] == band), "no cell is in the band {band:?}");
    }
    for cell in cells.iter().filter(|cell| cell["fits"] == false) {
        assert!(cell["survival"].is_null() && cell["rank"].is_null(), "a misfit has no survival: {cell}");
        assert!(cell["misfit"]["text"].as_str().is_some_and(|reason| reason.len() > 20), "{cell}");
    }
    assert!(cells.iter().any(|cell| cell["fits"] == false));
    assert!(kits.iter().all(|kit| kit["price"].is_number() && kit["weight_kg"].is_number()));
}

#[test]
fn a_cell_equals_a_run_on_the_same_inputs_to_the_last_digit() {
    let (catalogue, results) = some_kits("cells", &["Marram 1000", "Marram 700", "Corrie box", "Holm cupboard"]);
    let (fridge, van, office) = (case("winter-fridge"), case("van-week"), case("home-office"));
    let mut arguments =
        vec!["lineup", &catalogue, "--cases", &fridge, &van, &office, "--seed", "7", "--trials", "3000"];
    arguments.extend(PLACES);
    let mut with_json = arguments.clone();
    with_json.extend(["--json", "--quiet"]);
    let answer = json(&answered(&with_json));
    assert!(results.exists(), "results are kept beside the catalogue");
    let scenario = results.with_file_name("cell.toml").display().to_string();
    let (mut compared, mut early, mut full) = (0, 0, 0);
    for cell in answer["cells"].as_array().unwrap().iter().filter(|cell| cell["fits"] == true) {
        let text = |key: &str| cell[key].as_str().unwrap().to_string();
        let trials = cell["survival"]["trials"].to_string();
        if trials == "3000" {
            full += 1
        } else {
            early += 1
        }
        let (kit, case, place) = (text("kit"), text("case"), text("place"));
        let file = format!("{CASES}/{case}.toml");
        answered(&[
            "lineup",
            &catalogue,
            "--cases",
            &file,
            "--at",
            &place,
            "--quiet",
            "--out",
            &scenario,
            "--write-scenario",
            &kit,
            &case,
        ]);
        let run = json(&answered(&["run", &scenario, "--seed", "7", "--trials", &trials, "--json", "--quiet"]));
        assert_eq!(cell["survival"], run["survival"], "{kit} in {case} at {place}");
        assert_eq!(cell["unmet_wh_mean"], run["unmet_wh"]["mean"], "{kit} in {case} at {place}");
        for key in ["load", "share_of_failures", "after_h_p50"] {
            assert_eq!(cell["first_failure"][key], run["first_failure"][key], "{kit} in {case} at {place}: {key}");
        }
        compared += 1;
    }
    assert!(compared >= 15 && early >= 3 && full >= 3, "{compared} compared, {early} early, {full} full");
}

/// The cells of a file of results: key columns to whole line.
fn lines(results: &Path) -> BTreeMap<[String; 3], String> {
    let text = fs::read_to_string(results).expect("results");
    text.lines()
        .skip(2)
        .map(|line| {
            let parts: Vec<&str> = line.split('\t').collect();
            ([1, 2, 3].map(|k| parts[k].to_string()), line.to_string())
        })
        .collect()
}

#[test]
fn parts_joined_are_the_whole_byte_for_byte_on_any_number_of_threads() {
    let kits = ["Fenlark 520", "Marram 1000", "Peat Quiet 1000", "Skerry 1500", "Skerry 1500 wide"];
    let cases = [case("winter-fridge"), case("sleep-device"), case("street-phones")];
    let (whole, whole_results) = some_kits("whole-run", &kits);
    let mut arguments: Vec<&str> = vec!["--cases", &cases[0], &cases[1], &cases[2], "--trials", "2500", "--quiet"];
    arguments.extend(PLACES);
    let with = |first: &[&str], rest: &[&str]| -> String {
        let all: Vec<&str> = ["lineup"].iter().chain(first).chain(&arguments).chain(rest).copied().collect();
        answered(&all)
    };
    let text = with(&[&whole], &["--threads", "1"]);

    let (parted, parted_results) = some_kits("parts", &kits);
    let mut files = Vec::new();
    for part in 1..=4 {
        let slice = format!("{part}/4");
        let said = with(&[&parted], &["--part", &slice, "--threads", "3"]);
        assert!(said.starts_with(&format!("Part {part} of 4: ")), "{said}");
        files.push(parted_results.with_extension(format!("part-{part}-of-4.tsv")).display().to_string());
    }
    let sizes: Vec<usize> = files.iter().map(|file| lines(Path::new(file)).len()).collect();
    assert_eq!(sizes.iter().sum::<usize>(), 30, "{sizes:?}");
    assert!(sizes.iter().all(|&n| n == 7 || n == 8), "{sizes:?}");
    assert!(!parted_results.exists(), "a part does not touch the whole");

    let mut join = vec!["--join"];
    join.extend(files.iter().map(String::as_str));
    assert_eq!(with(&[&parted], &join), text, "the answer of the joined parts");
    assert_eq!(
        fs::read(&parted_results).unwrap(),
        fs::read(&whole_results).unwrap(),
        "the results of the joined parts"
    );

    // A part left out is missed, and so is another seed.
    fs::remove_file(&parted_results).expect("results to remove");
    let all: Vec<&str> = ["lineup", &parted].iter().chain(&arguments).chain(&join[..4]).copied().collect();
    refused(&all, &["8 of 30 cells are in none of the files", "the first is"]);
}

#[test]
fn ties_agree_with_the_paired_intervals_of_the_same_trials() {
    let kits =
        ["Fenlark 240", "Fenlark 520", "Bothy 600", "Marram 700", "Marram 1000", "Peat Quiet 1000", "Skerry 1500"];
    let (catalogue, results) = some_kits("ties", &kits);
    let cases = [case("home-office"), case("van-week"), case("weekend-camp")];
    let answer = json(&answered(&[
        "lineup", &catalogue, "--cases", &cases[0], &cases[1], &cases[2], "--trials", "2000", "--json", "--quiet",
    ]));
    // Survival of every trial, straight from the file: four trials a digit, the earliest lowest.
    let bits: BTreeMap<[String; 3], Vec<bool>> = lines(&results)
        .into_iter()
        .filter(|(_, line)| !line.contains("does not fit"))
        .map(|(key, line)| {
            let parts: Vec<&str> = line.split('\t').collect();
            let trials: usize = parts[5].parse().expect("trials");
            let digits = parts[19].chars().map(|digit| digit.to_digit(16).expect("a digit"));
            let all: Vec<bool> = digits.flat_map(|digit| (0..4).map(move |k| digit >> k & 1 == 1)).collect();
            (key, all[..trials].to_vec())
        })
        .collect();
    let (mut tied, mut apart) = (0, 0);
    for case in ["home-office", "van-week", "weekend-camp"] {
        let mut here: Vec<&Value> =
            answer["cells"].as_array().unwrap().iter().filter(|c| c["case"] == case && c["fits"] == true).collect();
        here.sort_by_key(|cell| cell["rank"].as_u64());
        let of = |cell: &Value| {
            let key = [case.to_string(), "own place".to_string(), cell["kit"].as_str().unwrap().to_string()];
            bits[&key].clone()
        };
        let share = |cell: &Value| cell["survival"]["probability"].as_f64().unwrap();
        let resolved = |a: &Value, b: &Value| {
            let (a, b) = (of(a), of(b));
            let count = |first: bool| a.iter().zip(&b).filter(|(a, b)| **a == first && **b != first).count() as u64;
            let n = a.len().min(b.len()) as u64;
            let (only_a, only_b) = (count(true), count(false));
            let (difference, interval) = paired_difference(only_a, only_b, n);
            (only_a, only_b, difference, interval.low > 0.0 || interval.high < 0.0)
        };
        for cell in &here {
            let rank = cell["rank"].as_u64().unwrap();
            let group: Vec<&&Value> = here.iter().filter(|other| other["rank"] == cell["rank"]).collect();
            let best = group.iter().max_by(|a, b| share(a).total_cmp(&share(b))).unwrap();
            let (only_best, only_this, difference, apart_from_best) = resolved(best, cell);
            assert!(!apart_from_best, "{cell} shares a rank with {best} but is told apart from it");
            let told = &cell["difference_to_best"];
            if group.iter().filter(|other| share(other) == share(best)).count() == 1 {
                assert_eq!(told["rescued"], only_this, "{cell}");
                assert_eq!(told["lost"], only_best, "{cell}");
                assert_eq!(told["difference"].as_f64(), Some(difference), "{cell}");
            }
            assert_eq!(cell["tied"], group.len() > 1, "{cell}");
            tied += usize::from(group.len() > 1);
            // The best of the next group is told apart from the best of this one.
            if let Some(next) = here.iter().find(|other| other["rank"].as_u64() > Some(rank)) {
                let next_group: Vec<&&Value> = here.iter().filter(|other| other["rank"] == next["rank"]).collect();
                let next_best = next_group.iter().max_by(|a, b| share(a).total_cmp(&share(b))).unwrap();
                assert!(resolved(best, next_best).3, "{next_best} should share the rank of {best}");
                apart += 1;
            }
            // Better ranks have greater shares.
            assert!(
                here.iter()
                    .filter(|other| other["rank"].as_u64() > Some(rank))
                    .all(|other| share(other) <= share(cell))
            );
        }
    }
    assert!(tied >= 2 && apart >= 5, "{tied} tied, {apart} apart: the cases are meant to have both");
}

#[test]
fn adding_a_kit_computes_its_cells_and_changes_no_other() {
    let (catalogue, results) = some_kits("adding", &["Marram 1000", "Corrie box"]);
    let file = case("weekend-camp");
    let arguments = ["lineup", &catalogue, "--cases", &file, "--trials", "1500", "--quiet"];
    let first_text = answered(&arguments);
    let before = lines(&results);
    assert_eq!(before.len(), 2);
    // A mark in the file shows which cells are computed again.
    let mut cells = parse(&fs::read_to_string(&results).unwrap()).unwrap();
    for stored in cells.values_mut() {
        let Cell::Fits(fits) = &mut stored.cell else { panic!("a kit that does not fit") };
        fits.first_failure.iter_mut().for_each(|first| first.load = "marked cooler".into());
    }
    fs::write(&results, write(&cells)).unwrap();
    let marked = lines(&results);
    assert!(marked.values().any(|line| line.contains("marked cooler")));
    let (_, more) = some_kits("adding-more", &["Corrie box", "Peat Quiet 1000", "Marram 1000"]);
    fs::copy(more.with_file_name("kits.toml"), &catalogue).expect("another catalogue");
    answered(&arguments);
    let after = lines(&results);
    assert_eq!(after.len(), 3);
    for (key, line) in &marked {
        assert_eq!(after[key], *line, "{key:?} was computed again");
    }
    // From the beginning the numbers are those of the first time, whatever stands beside them.
    let mut fresh = arguments.to_vec();
    fresh.push("--fresh");
    answered(&fresh);
    let fresh = lines(&results);
    assert!(before.iter().all(|(key, line)| fresh[key] == *line));
    // Nothing changed, nothing computed: the file stays as it is, and so does the answer.
    let text = answered(&arguments);
    assert_eq!(text, answered(&arguments));
    assert_ne!(text, first_text);
    // A changed kit replaces its own line.
    let cheaper = fs::read_to_string(&catalogue).unwrap().replace("1024 Wh", "1100 Wh");
    fs::write(&catalogue, cheaper).unwrap();
    answered(&arguments);
    let changed = lines(&results);
    assert_eq!(changed.len(), 3);
    let differing: Vec<_> =
        changed.iter().filter(|(key, line)| fresh[*key] != **line).map(|(key, _)| key[2].as_str()).collect();
    assert_eq!(differing, ["Marram 1000"]);
}

#[test]
fn a_table_does_as_well_and_a_damaged_file_of_results_costs_only_time() {
    let here = folder("lineup", "table");
    let catalogue = here.join("kits.csv");
    fs::write(
        &catalogue,
        "name,price,weight_kg,capacity_wh,dc_w,usb_w,solar_w,panels,panel_w,panel_wiring\n\
         \"Box, small\",300,9,500,120,60,120,1,100,\nBox large,700,21,1500,240,60,400,2,150,parallel\n",
    )
    .unwrap();
    let name = catalogue.display().to_string();
    let (file, csv, html) = (case("van-week"), here.join("out.csv"), here.join("out.html"));
    let (csv_name, html_name) = (csv.display().to_string(), html.display().to_string());
    let arguments = [
        "lineup",
        &name,
        "--cases",
        &file,
        "--trials",
        "1000",
        "--details",
        "--csv",
        &csv_name,
        "--html",
        &html_name,
        "--quiet",
    ];
    let text = answered(&arguments);
    assert!(text.contains("Box, small") && text.contains("fails first, or why not"), "{text}");
    let table = fs::read_to_string(&csv).unwrap();
    assert_eq!(table.lines().count(), 3, "{table}");
    assert!(table.lines().nth(1).unwrap().starts_with("own place,van-week,\"Box, small\",300,9,500,100,"), "{table}");
    let page = fs::read_to_string(&html).unwrap();
    assert!(page.contains("Box, small") && !page.contains("<script") && !page.contains("http"), "{page}");
    let results = here.join("kits.results.tsv");
    let kept = fs::read_to_string(&results).unwrap();
    fs::write(&results, &kept[..kept.len() / 2]).unwrap();
    assert_eq!(answered(&arguments), text);
    assert_eq!(fs::read_to_string(&results).unwrap(), kept);
}

#[test]
fn what_is_wrong_is_told_with_its_place() {
    let (catalogue, _) = some_kits("wrong", &["Marram 700", "Corrie box"]);
    let file = case("weekend-camp");
    let good = fs::read_to_string(&catalogue).unwrap();
    let check = |old: &str, new: &str, told: &[&str]| {
        assert!(good.contains(old), "{old:?} is not in the catalogue");
        let bad = good.replacen(old, new, 1);
        let line = bad[..bad.find(new).unwrap()].matches('\n').count() + 1;
        fs::write(&catalogue, &bad).unwrap();
        let place = format!("kits.toml:{line}:");
        let told: Vec<&str> = told.iter().copied().chain([place.as_str()]).collect();
        refused(&["lineup", &catalogue, "--cases", &file], &told);
    };
    check(
        "\"716 Wh\"",
        "716",
        &["`kit.0.station.rated_capacity` (kit 1, \"Marram 700\") needs a unit", "write \"716 Wh\""],
    );
    check("price = 720", "prize = 720", &["`kit.0.prize`", "did you mean `price`?"]);
    check(
        "efficiency = \"89 %\"",
        "efficiency = \"99 %\"",
        &["kit.0.station.inverter.efficiency", "less than the idle draw"],
    );
    // Energy out of nothing is a slip of the catalogue, as it is one of a scenario for `run`.
    check(
        "measured_capacity = \"604 Wh ± 3 %\"   # 150 W at the AC outlet until it went off\nmeasured_load = \"150 W\"",
        "measured_capacity = \"604 Wh ± 3 %\"\nmeasured_load = \"15 W\"",
        &["measured_capacity` (kit 1, \"Marram 700\") asks for more cells than the label has", "over a test of 40.3 h"],
    );
    check("price = 720", "price = 1.720", &["`kit.0.price`", "can be read in two ways", "write 1720 or 1.72"]);
    check("price = 720", "currency = \"thalers\"\nprice = 720", &["`kit.0.currency`", "thalers", "crowns"]);
    check("wiring = \"parallel\"", "wiring = \"both\"", &["kit.1.panel.0.wiring", "\"Corrie box\""]);
    fs::write(&catalogue, &good).unwrap();

    refused(
        &["lineup", &catalogue, "--cases", "scenarios/lineup/case"],
        &["cannot read scenarios/lineup/case", "did you mean"],
    );
    refused(&["lineup", &catalogue, "--cases", "weather"], &["holds no case"]);
    refused(&["lineup", &catalogue, "--cases", &file, &file], &["two cases are called `weekend-camp`"]);
    refused(&["lineup", &catalogue, "--cases", &file, "--at", "0,-150"], &["--at 0,-150", "at sea"]);
    refused(&["lineup", &catalogue, "--cases", &file, "--at", "44.2"], &["latitude and longitude"]);
    refused(&["lineup", &catalogue, "--cases", &file, "--part", "5/4"], &["--part is `5/4`"]);
    refused(&["lineup", &catalogue, "--cases", &file, "--target", "101 %"], &["--target"]);
    refused(
        &["lineup", &catalogue, "--cases", &file, "--write-scenario", "Marram", "weekend-camp"],
        &["there is no kit `Marram`", "Marram 700"],
    );
    let bad_case = folder("lineup", "wrong-case").join("camp.toml");
    let camp = fs::read_to_string(root().join(&file)).unwrap();
    fs::write(&bad_case, camp.replace("watts = \"45 W\"", "watts = \"45\"")).unwrap();
    let bad_case = bad_case.display().to_string();
    refused(
        &["lineup", &catalogue, "--cases", &bad_case],
        &["`load.0.watts` (load 1, \"cooler\") needs a unit", "camp.toml:21:"],
    );
    fs::write(&bad_case, camp.replace("[[load]]", "[[lode]]")).unwrap();
    refused(&["lineup", &catalogue, "--cases", &bad_case], &["is not a known section", "did you mean `load`?"]);
}

#[cfg(unix)]
#[test]
fn a_stopped_line_up_keeps_its_finished_cells() {
    use std::process::Stdio;
    use std::time::{Duration, Instant};

    let results = folder("lineup", "stopped").join("results.tsv");
    let name = results.display().to_string();
    let mut run = command(&[
        "lineup",
        CATALOGUE,
        "--cases",
        CASES,
        "--trials",
        "20000",
        "--all-trials",
        "--quiet",
        "--results",
        &name,
    ])
    .stdout(Stdio::piped())
    .stderr(Stdio::null())
    .spawn()
    .expect("the binary starts");
    let begun = Instant::now();
    while !results.exists() || lines(&results).is_empty() {
        assert!(begun.elapsed() < Duration::from_secs(300), "no cell was saved");
        assert!(run.try_wait().expect("a process").is_none(), "it ended before anything was saved");
        std::thread::sleep(Duration::from_millis(50));
    }
    crate::program::interrupt(&run);
    let output = run.wait_with_output().expect("an end");
    assert_eq!(output.status.code(), Some(3));
    let text = String::from_utf8_lossy(&output.stdout);
    assert!(text.contains("cells are not done"), "{text}");
    let kept = lines(&results);
    assert!(!kept.is_empty() && kept.len() < 120, "{} cells", kept.len());
    let left: Vec<_> = fs::read_dir(results.parent().unwrap()).unwrap().collect();
    assert_eq!(left.len(), 1, "only the results are left: {left:?}");
}
