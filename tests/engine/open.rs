//! A scenario is opened without a disk: from its text and a map of the files that it names.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::Arc;
use tideover::open::{Files, OpenError, Opened, open};
use tideover::scenario::model::Pattern;
use tideover::scenario::{Source, variant};

fn data(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).expect("a file")
}

fn files(list: &[(&str, &str)]) -> Arc<dyn Files> {
    let files = list.iter().map(|(name, file)| (name.to_string(), data(file).into_bytes()));
    Arc::new(files.collect::<BTreeMap<_, _>>())
}

fn opened(text: &str, list: &[(&str, &str)]) -> Result<Opened, OpenError> {
    open(Source::new("mine.toml", text), files(list), 60, None)
}

const PUMP: (&str, &str) = ("pump.csv", "tests/data/pump.csv");
const CUTS: (&str, &str) = ("cuts.csv", "tests/data/cuts.csv");

#[test]
fn the_files_that_a_scenario_names_come_from_a_map() {
    let text = data("tests/data/complete.toml").replace("volts_max = \"50 V\"", "volts_max = \"60 V\"");
    let opened = opened(&text, &[PUMP, CUTS]).expect("a scenario that can be opened");
    let load = opened.scenario.loads.iter().find(|load| load.name == "pump").expect("the pump");
    let Pattern::Profile(profile) = &load.pattern else { panic!("a profile") };
    // The greatest hour of the file is what it draws at most.
    let most = profile.watts.iter().copied().fold(0.0, f64::max);
    assert!(profile.watts.len() >= 24 && load.watts.value.0 == most);
    assert_eq!(opened.plan.loads.len(), opened.scenario.loads.len());
    // A variant meets the same files and weather.
    let words = variant::from_words("station.own_draw = 1 W").expect("a setting");
    let (scenario, plan) = opened.vary(&words, "").expect("a variant");
    assert_eq!((scenario.station.own_draw.0, plan.loads.len()), (1.0, opened.plan.loads.len()));
}

/// What is told of a scenario that cannot be opened.
#[track_caller]
fn told(text: &str, list: &[(&str, &str)]) -> (String, Option<String>) {
    match opened(text, list).map(|_| ()) {
        Err(OpenError::Refused(found)) => (found.0.one_line(&found.1[0]), found.1[0].help.clone()),
        Err(other) => (other.to_string(), None),
        Ok(()) => panic!("it opens"),
    }
}

#[test]
fn a_file_that_is_not_there_is_told() {
    let complete = data("tests/data/complete.toml");
    assert_eq!(told(&complete, &[]).0, "error: cannot read pump.csv: there is no such file");
    let line = told(&complete, &[PUMP]).0;
    assert!(line.contains("outage.cuts_from names a file that is not there; found cuts.csv"), "{line}");
    let hills = complete.replace("climate = \"world\"", "climate = \"hills.toml\"");
    let line = told(&hills, &[PUMP, CUTS]).0;
    assert_eq!(
        line,
        "10:11 error: site.climate names a file that is not there; found hills.toml; allowed: a file beside the scenario, or \
         \"world\""
    );
    let proved = complete.replace("measured_capacity = \"505 Wh ± 3 %\"", "proved = \"unit.toml\"");
    assert!(told(&proved, &[PUMP, CUTS]).0.contains("station.proved names a file that is not there; found unit.toml"));
}

#[test]
fn a_record_of_tests_and_its_log_come_from_the_map() {
    let with = |list: &[(&str, &str)]| {
        let text = data("tests/data/smallest.toml")
            .replace("rated_capacity = \"600 Wh\"", "rated_capacity = \"600 Wh\"\nproved = \"records/healthy.toml\"")
            .replace("rated = \"500 W\"", "rated = \"600 W\"");
        opened(&text, list)
    };
    let (record, log) = ("scenarios/records/healthy.toml", "scenarios/records/healthy-40-watts.csv");
    let opened =
        with(&[("records/healthy.toml", record), ("records/healthy-40-watts.csv", log)]).expect("a proved kit");
    assert!(opened.scenario.station.proved.is_some_and(|proved| proved.kit.is_some()));
    // Logs lie beside the record: without theirs the record is refused at its own line.
    let Err(OpenError::Refused(found)) = with(&[("records/healthy.toml", record)]).map(drop) else { panic!("refused") };
    assert_eq!(found.0.name, "records/healthy.toml");
    assert!(found.1[0].key.ends_with(".log") && found.1[0].found.contains("there is no such file"), "{:?}", found.1);
}
