//! Answers with all their digits: none moves unnoticed. A change that moves one says in CHANGELOG.md which, from what to what
//! and why; then `TIDEOVER_BLESS=1 cargo test --test engine golden` writes the file anew. The numbers here say nothing of what is
//! right: that is held by the tests against published values and laws.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use jiff::civil::date;
use tideover::ask::{self, Beside, NowOptions};
use tideover::engine::lanes::{Chunks, Ended, Manner, Sink, Waiting, arrange};
use tideover::engine::ledger::Flow;
use tideover::engine::{LoadOutcome, Outcome, Plan, TrialSeed};
use tideover::open::proof::proved;
use tideover::open::{Files, Opened, open};
use tideover::report::json;
use tideover::report::years as years_words;
use tideover::scenario::Source;
use tideover::study::lineup::Digest;
use tideover::study::years::{YearsPlan, YearsSettings, years};
use tideover::trials::run::Quiet;
use tideover::trials::{Settings, run};

const FILE: &str = "tests/data/golden_answers.txt";
const SEEDS: [u64; 3] = [1, 2, 3];
const TRIALS: u64 = 200;

/// The folder of the scenarios as a map, and the names of those that are outages of their own.
fn demos() -> (Arc<BTreeMap<String, Vec<u8>>>, Vec<String>) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let mut files = BTreeMap::new();
    let mut folders: Vec<PathBuf> = vec![root.clone()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(&root).expect("inside").to_string_lossy().replace('\\', "/");
                files.insert(name, fs::read(path).expect("a file"));
            }
        }
    }
    let whole = |name: &&String| name.ends_with(".toml") && (!name.contains('/') || name.starts_with("templates/"));
    let names = files.keys().filter(whole).cloned().collect();
    (Arc::new(files), names)
}

fn opened(files: &Arc<BTreeMap<String, Vec<u8>>>, name: &str) -> Opened {
    let text = String::from_utf8(files[name].clone()).expect("text");
    let shelf: Arc<dyn Files> = files.clone();
    open(Source::new(name, text), shelf, 60, None).unwrap_or_else(|error| panic!("{name}: {error}"))
}

/// A digest of everything that an answer says, but for the version that it names.
fn digest(json: Option<String>) -> String {
    let version = format!("\"version\": \"{}\"", env!("CARGO_PKG_VERSION"));
    let json = json.expect("an answer with figures");
    assert!(json.contains(&version));
    Digest::EMPTY.with(json.replace(&version, "").as_bytes()).to_string()
}

fn answers() -> String {
    let (files, names) = demos();
    let mut out = String::from(
        "# Answers with all their digits, for tests/engine/golden.rs. A change is argued in CHANGELOG.md.\n\
         # Then: TIDEOVER_BLESS=1 cargo test --test engine golden\n",
    );
    for name in &names {
        let opened = opened(&files, name);
        for seed in SEEDS {
            let settings = Settings { seed, trials: TRIALS, precision: None };
            let found = ask::outage(&opened, Beside::default(), &settings, &Quiet).expect("an answer");
            let (s, tally) = (&found.answer.survival, &found.answer.tally);
            let _ = writeln!(
                out,
                "{name} run seed {seed}: {} of {} survived, range {:?} to {:?}, missed {:?} Wh, sun {:?} Wh, whole answer {}",
                tally.survived,
                tally.trials,
                s.interval.low,
                s.interval.high,
                tally.missed_sum_wh,
                tally.ledger[Flow::Solar],
                digest(found.told(&opened).json)
            );
        }
    }
    let few = Settings { seed: 1, trials: 100, precision: None };
    for name in ["device-night.toml", "summer-fridge.toml", "winter-storm.toml"] {
        let opened = opened(&files, name);
        let options = NowOptions { charge: "43 %", at: Some("2027-01-14 20:30"), ..NowOptions::default() };
        let now = ask::now(&opened, &options, &few, &Quiet).expect("sound options").expect("an answer");
        let _ = writeln!(out, "{name} now: {}", digest(now.json));
    }
    let storm = opened(&files, "winter-storm.toml");
    let compared = ask::compare(&storm, &[], &few, &Quiet).expect("variants").expect("an answer");
    let _ = writeln!(out, "winter-storm.toml compare: {}", digest(compared.json));
    let sized = ask::size(&storm, None, &few, &Quiet).expect("an answer");
    let _ = writeln!(out, "winter-storm.toml size: {}", digest(sized.json));

    let long = opened(&files, "ten-years.toml");
    let plan = YearsPlan::compile(&long.scenario, &long.plan, None).expect("a plan of years");
    let answer = years(&plan, &YearsSettings { seed: 1, histories: 16, years: 40 }, &Quiet).expect("an answer");
    let notes = years_words::notes(&long.scenario, &plan, &long.sky);
    let told = json::text("years", &years_words::json::of(&long.scenario, &answer, &notes));
    for s in &answer.strategies {
        let _ =
            writeln!(out, "ten-years.toml years, {}: rode {:?}, years {:?}", s.name, s.rode.probability, s.years.mean);
    }
    let _ = writeln!(out, "ten-years.toml years: {}", digest(Some(told)));

    for name in ["healthy.toml", "open.toml", "weak.toml"] {
        let beside: BTreeMap<String, Vec<u8>> = files
            .iter()
            .filter_map(|(path, bytes)| Some((path.strip_prefix("records/")?.to_string(), bytes.clone())))
            .collect();
        let text = String::from_utf8(beside[name].clone()).expect("text");
        let record = proved(Source::new(name, text), &beside).unwrap_or_else(|error| panic!("{error}"));
        let usable = record.proof.kit.as_ref().map(|kit| format!("{kit:?}")).unwrap_or_default();
        let kit = Digest::EMPTY.with(usable.as_bytes());
        let told = ask::prove(&[record], &[], date(2027, 3, 20)).expect("a verdict");
        let _ = writeln!(out, "records/{name} prove: figures {kit}, whole answer {}", digest(told.json));
    }
    out
}

#[test]
fn no_answer_moves_unnoticed() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(FILE);
    let now = answers();
    if std::env::var_os("TIDEOVER_BLESS").is_some() {
        fs::write(&file, &now).expect("the file written");
    }
    let before = fs::read_to_string(&file).unwrap_or_default();
    let moved: Vec<String> = before
        .lines()
        .zip(now.lines())
        .filter(|(before, now)| before != now)
        .map(|(before, now)| format!("- {before}\n+ {now}"))
        .collect();
    assert!(
        before == now,
        "{} of {} answers moved. If they are to, say in CHANGELOG.md which, from what to what and why; then\n\
         TIDEOVER_BLESS=1 cargo test --test engine golden\n{}",
        moved.len(),
        now.lines().count(),
        moved.iter().take(6).cloned().collect::<Vec<_>>().join("\n")
    );
}

#[test]
fn any_number_of_threads_comes_to_the_same_tallies() {
    let (files, names) = demos();
    for name in &names {
        let plan = opened(&files, name).plan;
        let settings = Settings { seed: 2, trials: 150, precision: None };
        let with = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
            pool.install(|| run(std::slice::from_ref(&plan), &settings, &Quiet))
        };
        let one = with(1);
        assert!(one == with(2) && one == with(7), "{name}");
    }
}

#[derive(Default)]
struct Keeper(BTreeMap<u64, (Outcome, Vec<LoadOutcome>, Vec<f64>)>);

impl Sink for Keeper {
    fn outcome(&mut self, _: usize, ended: &Ended<'_>) {
        self.0.insert(ended.trial.rng.trial, (*ended.outcome, ended.loads.to_vec(), ended.unknowns.to_vec()));
    }
}

#[test]
fn vectors_and_plain_numbers_come_to_the_same_outcomes() {
    let (files, names) = demos();
    let kept = |plan: &Plan, plain: bool| {
        let waiting: Vec<Waiting> =
            (0..130).map(|trial| Waiting::new(&plan.season, TrialSeed { seed: 3, trial })).collect();
        let (order, manner, mut keeper) = (arrange(&waiting), Manner::default(), Keeper::default());
        let (mut chunks, plans) = (Chunks::<f32>::default(), [(0, plan)]);
        if plain {
            chunks.run_plain(&plans, &waiting, &order, &manner, &mut keeper);
        } else {
            chunks.run(&plans, &waiting, &order, &manner, &mut keeper);
        }
        keeper.0
    };
    for name in &names {
        let plan = opened(&files, name).plan;
        let vectors = kept(&plan, false);
        assert_eq!(vectors.len(), 130);
        assert!(vectors == kept(&plan, true), "{name}");
    }
}
