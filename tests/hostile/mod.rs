//! What is tried with any bytes: each function reads them as one kind of file, goes on as far as the program would, and panics where
//! a promise is broken. Driven by the targets beside it; tests/engine/found.rs calls the same with the seeds and with what was found.

use std::collections::BTreeMap;
use std::hint::black_box;
use std::sync::Arc;

use tideover::ask::{self, Beside, NowOptions};
use tideover::open::proof::{kit, proved};
use tideover::open::{Files, open, weather};
use tideover::scenario::record::log;
use tideover::scenario::{Level, Paint, Problem, Source, catalogue, first, moment, read, render};
use tideover::study::lineup;
use tideover::study::years::record::OutageRecord;
use tideover::trials::run::Quiet;
use tideover::trials::unknowns::survivals;
use tideover::trials::{Settings, run};
use tideover::units::{Celsius, Degrees, Fraction, Hours, Quantity, Volts, WattHours, Watts};
use tideover::weather::{Calendar, DailyRecord, HourlyRecord, TypicalYear, climate_file};

/// A target and its name.
pub type Target = (&'static str, fn(&[u8]));

/// Every target.
pub const TARGETS: [Target; 16] = [
    ("scenario", scenario),
    ("whole", whole),
    ("weather_hours", weather_hours),
    ("weather_days", weather_days),
    ("typical_year", typical_year),
    ("catalogue", catalogue),
    ("results", results),
    ("log", log),
    ("record", record),
    ("kit_file", kit_file),
    ("climate", climate),
    ("profile", profile),
    ("outages", outages),
    ("labels", labels),
    ("names", names),
    ("moments", moments),
];

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// Problems can be drawn, lie inside the text, and one of them is an error.
fn in_good_order(source: &Source, problems: &[Problem], refused: bool) {
    assert!(!refused || problems.iter().any(|problem| problem.level == Level::Error), "refused without an error");
    for problem in problems {
        if let Some(span) = &problem.span {
            assert!(source.text.get(span.clone()).is_some(), "{problem:?} lies outside");
        }
        assert!(!source.one_line(problem).contains(char::is_control), "{problem:?}");
    }
    let drawn = render(source, problems, Paint::Plain);
    let steering = |c: char| (c.is_control() && c != '\n') || ('\u{202a}'..='\u{202e}').contains(&c);
    assert!(!drawn.contains(steering), "{drawn:?}");
    // Twenty problems with a line of the file each.
    assert!(drawn.len() < 100_000, "{} characters of messages", drawn.len());
}

/// A message names the file and is no longer than a page or two.
fn a_message(error: &dyn std::fmt::Display) {
    assert!(error.to_string().len() < 50_000);
}

/// A scenario's text.
pub fn scenario(bytes: &[u8]) {
    let source = Source::new("f.toml", text(bytes));
    match read(&source) {
        Ok((scenario, _, remarks)) => {
            assert!(!scenario.loads.is_empty());
            in_good_order(&source, &remarks, false);
        }
        Err(problems) => in_good_order(&source, &problems, true),
    }
}

/// Bytes as a string of choices.
struct Choices<'b>(&'b [u8]);

impl Choices<'_> {
    fn byte(&mut self) -> Option<usize> {
        let (first, rest) = self.0.split_first()?;
        self.0 = rest;
        Some(usize::from(*first))
    }

    fn of<T: Copy>(&mut self, list: &[T]) -> Option<T> {
        let at = self.byte()?;
        list.get(at % list.len()).copied()
    }
}

/// Sound scenarios that others are made of.
const SOUND: [&str; 9] = [
    include_str!("../../scenarios/night-light.toml"),
    include_str!("../../scenarios/winter-storm.toml"),
    include_str!("../../scenarios/summer-fridge.toml"),
    include_str!("../../scenarios/twice-daily-cuts.toml"),
    include_str!("../../scenarios/two-weeks-of-fuel.toml"),
    include_str!("../../scenarios/frost-in-the-shed.toml"),
    include_str!("../../scenarios/device-night.toml"),
    include_str!("../../tests/data/complete.toml"),
    include_str!("../../tests/data/smallest.toml"),
];

/// Factors that a figure is multiplied by: most leave it believable.
const FACTORS: [f64; 16] = [0.0, 1e-6, 0.01, 0.3, 0.5, 0.8, 0.9, 0.99, 1.01, 1.1, 1.25, 2.0, 3.0, 10.0, 1e3, -1.0];

/// Words that stand for others somewhere.
const WORDS: [&str; 24] = [
    "true",
    "false",
    "\"vital\"",
    "\"useful\"",
    "\"spare\"",
    "\"ac\"",
    "\"dc\"",
    "\"usb\"",
    "\"LFP\"",
    "\"NMC\"",
    "\"lead-acid\"",
    "\"January\"",
    "\"July\"",
    "\"indoors\"",
    "\"outdoors\"",
    "\"south\"",
    "\"north\"",
    "\"flat\"",
    "\"parallel\"",
    "\"series\"",
    "\"00:00-24:00\"",
    "\"22:00-06:00\"",
    "[]",
    "\"steady\"",
];

/// The first number of a line, multiplied.
fn scaled(line: &str, factor: f64) -> Option<String> {
    let (key, value) = line.split_once('=')?;
    let begins = value.find(|c: char| c.is_ascii_digit())?;
    let rest = &value[begins..];
    let length = rest.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rest.len());
    let number: f64 = rest[..length].parse().ok()?;
    // As people write them: no exponents, some digits.
    let shown = format!("{:.6}", number * factor);
    let shown = shown.trim_end_matches('0').trim_end_matches('.');
    Some(format!("{key}={}{shown}{}", &value[..begins], &rest[length..]))
}

/// A scenario made of a sound one by a few changes that the bytes choose.
pub fn built(bytes: &[u8]) -> String {
    let mut choices = Choices(bytes);
    let mut lines: Vec<String> = choices
        .of(&SOUND)
        .unwrap_or(SOUND[0])
        .lines()
        .filter(|line| !line.starts_with('#'))
        .map(str::to_owned)
        .collect();
    for _ in 0..12 {
        let (Some(high), Some(low), Some(what)) = (choices.byte(), choices.byte(), choices.byte()) else { break };
        let at = (high * 256 + low) % lines.len();
        match what % 16 {
            // Mostly another figure at the same key.
            0..=10 => {
                let factor = choices.of(&FACTORS).unwrap_or(1.1);
                // The next line that has one.
                let found = (at..lines.len()).find_map(|k| Some((k, scaled(&lines[k], factor)?)));
                if let Some((k, line)) = found {
                    lines[k] = line;
                }
            }
            11 | 12 => {
                let word = choices.of(&WORDS).unwrap_or("true");
                if let Some((key, value)) = lines[at].split_once('=')
                    && !value.trim().ends_with('[')
                {
                    lines[at] = format!("{key}= {word}");
                }
            }
            13 => drop(lines.remove(at)),
            14 => {
                // A block twice.
                let begins = (0..=at).rev().find(|k| lines[*k].starts_with("[[")).unwrap_or(at);
                let ends = (begins + 1..lines.len()).find(|k| lines[*k].starts_with('[')).unwrap_or(lines.len());
                let block: Vec<String> =
                    lines[begins..ends].iter().map(|line| line.replace("name = \"", "name = \"2")).collect();
                lines.splice(ends..ends, block);
            }
            _ => {
                let other = choices.byte().unwrap_or(0) % lines.len();
                lines.swap(at, other);
            }
        }
        if lines.is_empty() {
            break;
        }
    }
    lines.join("\n") + "\n"
}

/// How far a made scenario came: 0 refused, 1 opened, 2 answered.
pub fn depth(bytes: &[u8]) -> u32 {
    let source = Source::new("f.toml", built(bytes));
    let opened = match open(source.clone(), Arc::new(BTreeMap::<String, Vec<u8>>::new()), 60, None) {
        Ok(opened) => opened,
        Err(tideover::open::OpenError::Refused(found)) => {
            in_good_order(&found.0, &found.1, true);
            return 0;
        }
        Err(error) => {
            a_message(&error);
            return 0;
        }
    };
    in_good_order(&source, &opened.remarks, false);
    black_box(ask::check(&opened).document.text(80));
    let settings = Settings { seed: 1, trials: 10, precision: None };
    let plans = [opened.plan.clone()];
    let tally = &run(&plans, &settings, &Quiet)[0];
    let s = &survivals(&plans, std::slice::from_ref(tally), &settings, &Quiet)[0];
    assert!(tally.trials == 10 && tally.survived <= 10);
    assert!(tally.ledger.imbalance() < 1e-9, "the account does not close: {:?}", tally.ledger);
    assert!(0.0 <= s.interval.low && s.interval.low <= s.probability + 1e-9, "{s:?}");
    assert!(s.probability <= s.interval.high + 1e-9 && s.interval.high <= 1.0, "{s:?}");
    assert!(tally.missed_sum_wh.is_finite() && tally.missed_sum_wh >= 0.0);
    // What is said of it, and the changes tried, take ten times as long: of every fourth.
    if !bytes.len().is_multiple_of(4) {
        return 2;
    }
    let Some(found) = ask::outage(&opened, Beside::default(), &settings, &Quiet) else { return 1 };
    assert!(found.answer.tally.survived == tally.survived);
    let told = found.told(&opened);
    for shown in [told.document.text(80), told.document.page(), told.json.unwrap_or_default()] {
        for nonsense in ["NaN", "inf ", "-0 W"] {
            assert!(!shown.contains(nonsense), "{nonsense} is shown");
        }
    }
    if bytes.last().is_some_and(|last| last % 8 == 0) {
        let options = NowOptions { charge: "50 %", at: Some("2027-01-14 20:30"), ..NowOptions::default() };
        black_box(ask::now(&opened, &options, &settings, &Quiet).is_ok());
    }
    2
}

/// Whole scenarios, from their text through check and plan to ten trials and what is said of them.
pub fn whole(bytes: &[u8]) {
    black_box(depth(bytes));
}

/// A record of hours.
pub fn weather_hours(bytes: &[u8]) {
    match HourlyRecord::parse(bytes, "f.csv") {
        Ok(record) => {
            // Years apart there are more days than readings.
            if record.steps() < 100_000 {
                black_box(record.civil_days(&Calendar::fixed(60, 60, 50.0, 8.0)).is_ok());
                black_box(weather::of_place(&record, (50.0, 8.0)).is_ok());
            }
        }
        Err(error) => a_message(&error),
    }
}

/// A record of days, and any record as a climate is fitted to it.
pub fn weather_days(bytes: &[u8]) {
    if let Err(error) = DailyRecord::parse(bytes, "f.csv", 50.0, 8.0) {
        a_message(&error);
    }
    if let Err(error) = weather::fitted(bytes, "f.csv", Some((50.0, 8.0))) {
        a_message(&error);
    }
}

/// Both formats of a typical year.
pub fn typical_year(bytes: &[u8]) {
    for read in [TypicalYear::parse_epw(bytes, "f.epw"), TypicalYear::parse_tmy3(bytes, "f.csv")] {
        if let Err(error) = read {
            a_message(&error);
        }
    }
}

/// A catalogue as TOML and as a table, and a case.
pub fn catalogue(bytes: &[u8]) {
    for name in ["f.toml", "f.csv"] {
        let source = Source::new(name, text(bytes));
        match catalogue::read(&source) {
            Ok((_, remarks)) => in_good_order(&source, &remarks, false),
            Err(problems) => in_good_order(&source, &problems, true),
        }
    }
    let source = Source::new("f.toml", text(bytes));
    if let Err(problems) = catalogue::Case::read(&source, "f", None) {
        in_good_order(&source, &problems, true);
    }
}

/// A file of results: what is read is written again as it was.
pub fn results(bytes: &[u8]) {
    let text = text(bytes);
    if let Ok(cells) = lineup::parse(&text) {
        assert_eq!(lineup::parse(&lineup::write(&cells)).as_ref(), Ok(&cells));
    }
}

/// A logger's file.
pub fn log(bytes: &[u8]) {
    let text = text(bytes);
    // The night before summer time begins.
    let dated = log::Clock { start: "2027-03-28T01:30:00".parse().ok(), ..log::Clock::default() };
    for clock in [log::Clock::default(), dated] {
        match log::parse(&text, &clock) {
            Ok(log) => assert!(log.readings.windows(2).all(|pair| pair[0].after.0 <= pair[1].after.0)),
            Err(error) => a_message(&error),
        }
    }
}

/// A record of bench tests with a log beside it.
pub fn record(bytes: &[u8]) {
    let log = include_bytes!("../../scenarios/records/healthy-40-watts.csv").to_vec();
    let files = BTreeMap::from([("healthy-40-watts.csv".to_string(), log)]);
    match proved(Source::new("f.toml", text(bytes)), &files) {
        Ok(one) => {
            if let Some(kit) = &one.proof.kit {
                // What is written is read again.
                let written = kit.to_toml("f.toml");
                let again = tideover::scenario::record::kit_file::read(&Source::new("kit.toml", written.clone()));
                assert!(again.is_ok(), "{written}");
            }
        }
        Err(tideover::open::OpenError::Refused(found)) => in_good_order(&found.0, &found.1, true),
        Err(error) => a_message(&error),
    }
}

/// A kit file.
pub fn kit_file(bytes: &[u8]) {
    let files: BTreeMap<String, Vec<u8>> = BTreeMap::from([("f.toml".to_string(), bytes.to_vec())]);
    assert!(files.has("f.toml"));
    if let Err(error) = kit(&files, "f.toml") {
        match error {
            tideover::open::OpenError::Refused(found) => in_good_order(&found.0, &found.1, true),
            other => a_message(&other),
        }
    }
}

/// A climate file: what is read is sound, and written and read again the same but for rounding.
pub fn climate(bytes: &[u8]) {
    match climate_file::read(&text(bytes), "f.toml") {
        Ok(climate) => {
            let again = climate_file::read(&climate_file::write(&climate), "f.toml");
            assert!(again.is_ok(), "{again:?}");
        }
        Err(error) => a_message(&error),
    }
}

/// A load's power by the hour.
pub fn profile(bytes: &[u8]) {
    let text = text(bytes);
    for column in [None, Some("watts")] {
        match tideover::loads::hourly::parse(&text, column) {
            Ok(watts) => assert!(watts.iter().all(|w| w.is_finite() && *w >= 0.0)),
            Err(error) => a_message(&error),
        }
    }
}

/// One's own outages.
pub fn outages(bytes: &[u8]) {
    match OutageRecord::parse(&text(bytes)) {
        Ok(record) => assert!(record.log_normal().0.is_finite()),
        Err(error) => a_message(&error),
    }
}

/// What labels say: quantities, and the answers of a first scenario.
pub fn labels(bytes: &[u8]) {
    let text = text(bytes);
    fn quantity<Q: Quantity + Copy>(text: &str) {
        if let Ok(value) = Q::parse(text) {
            assert!(value.base().is_finite());
        }
    }
    quantity::<WattHours>(&text);
    quantity::<Watts>(&text);
    quantity::<Hours>(&text);
    quantity::<Fraction>(&text);
    quantity::<Celsius>(&text);
    quantity::<Degrees>(&text);
    quantity::<Volts>(&text);
    black_box(ask::share("target", &text, 0.0, 1.0).is_ok());
    let mut parts = text.split('\n');
    let mut answers: first::Answers = std::array::from_fn(|_| parts.next().unwrap_or("").to_string());
    if answers[0].is_empty() {
        answers[0] = "Bergen, Norway".into();
    }
    if let Ok(made) = first::first(&answers, None) {
        // What is asked a few questions for can be run.
        assert!(read(&Source::new("f.toml", made.text.clone())).is_ok(), "{}", made.text);
    }
    for value in [&text, &answers[1]] {
        let quoted = format!("{value:?}").replace("\\'", "'");
        let storm = SOUND[1].replacen("rated_capacity = \"", &format!("rated_capacity = {quoted} # \""), 1);
        scenario(storm.as_bytes());
    }
}

/// Names of places, and positions.
pub fn names(bytes: &[u8]) {
    let text = text(bytes);
    black_box(tideover::places::find(&text));
    let mut parts = text.split(',').map(|part| part.trim().parse::<f64>());
    if let (Some(Ok(latitude)), Some(Ok(longitude))) = (parts.next(), parts.next()) {
        black_box(tideover::places::nearest(latitude, longitude));
    }
}

/// Dates and clock times: of a moment, of an outage's end, of a unit's age.
pub fn moments(bytes: &[u8]) {
    let text = text(bytes);
    if let Ok(found) = moment(&text) {
        assert!(found.minute_of_day <= 1440);
    }
    let quoted = format!("{text:?}").replace("\\'", "'");
    for (from, to) in [("lasts = ", "lasts"), ("month = ", "start")] {
        let changed = SOUND[1].replacen(from, &format!("{to} = {quoted} # "), 1);
        scenario(changed.as_bytes());
    }
    let record = include_str!("../../scenarios/records/healthy.toml");
    let mut lines: Vec<String> = record.lines().map(str::to_owned).collect();
    for line in &mut lines {
        let key = line.split_once('=').map(|(key, _)| key.trim().to_string());
        if let Some(key) =
            key.filter(|key| matches!(key.as_str(), "date" | "made" | "bought" | "arrived" | "age" | "start"))
        {
            *line = format!("{key} = {quoted}");
        }
    }
    self::record(lines.join("\n").as_bytes());
}
