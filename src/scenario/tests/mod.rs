//! The reader's tests: each case is the smallest scenario with a line changed.

use super::{Paint, Problem, Scenario, Source, read, render};

mod mutations;
mod page;
mod places;
mod records;
mod refusals;
mod settings;
mod years;

const COMPLETE: &str = include_str!("../../../tests/data/complete.toml");
const SMALLEST: &str = include_str!("../../../tests/data/smallest.toml");

/// Scenarios that set every key between them: the complete one, and it with keys that cannot stand beside others.
fn wholes() -> Vec<String> {
    let often = "frequency = \"2.5 a year\"\nlasts = { median = \"3 h\", p95 = \"30 h\" }";
    let others = [
        ("month = \"January\"", "start = \"2027-01-14T18:00\""),
        ("measured_capacity = \"505 Wh ± 3 %\"", "proved = \"unit.toml\""),
        (often, "history = { file = \"outages.csv\", years = \"6 years\" }"),
        (often, "reliability = { saidi = \"400 min\", saifi = \"1.8 a year\" }"),
        ("climate = \"world\"", "climate = { hourly = \"x.csv\" }\nweather_from = \"model\""),
        (
            "sleeps = true\nwakes_above = \"10 W\"",
            "sleeps = false\nswitches_off_below = \"10 W\"\nswitches_off_after = \"20 min\"",
        ),
    ];
    let other = |(from, to): (&str, &str)| {
        assert!(COMPLETE.contains(from), "{from}");
        COMPLETE.replace(from, to)
    };
    let whole = std::iter::once(COMPLETE.to_string()).chain(others.map(other));
    whole.chain([beside_a_second_station()]).collect()
}

/// The complete scenario with a second station in the place of generator and daily cuts.
fn beside_a_second_station() -> String {
    let part = |from: &str, until: &str| {
        let (at, end) = (COMPLETE.find(from).expect("a part"), COMPLETE.find(until).expect("the next"));
        COMPLETE[at..end].to_string()
    };
    let second = "[second_station]\nrated_capacity = \"700 Wh\"\ndelivers = \"80 % ± 5 %\"\nlimit = \"300 W\"\nstarts_charged = \"60 %\"\n\
                  away = \"09:00-15:00\"\nevery_days = 2\nreturns_at = \"90 %\"\n\n";
    let keys = ["every_day", "happens", "wanders", "cuts_from", "mains_limit"];
    let cuts = COMPLETE.lines().filter(|line| keys.iter().any(|key| line.starts_with(key)));
    let whole = COMPLETE.replace(&part("[generator]", "[[load]]"), second);
    cuts.fold(whole, |text, line| text.replace(&format!("{line}\n"), ""))
}

/// The problems of the smallest scenario with one line replaced (or, with an empty `old`, text put in front).
fn problems(old: &str, new: &str) -> (Source, Vec<Problem>) {
    assert!(SMALLEST.contains(old), "{old} is not in the smallest scenario");
    let source = Source::new("test.toml", SMALLEST.replacen(old, new, 1));
    let problems = match read(&source) {
        Ok((_, _, problems)) => problems,
        Err(problems) => problems,
    };
    (source, problems)
}

#[track_caller]
fn check(old: &str, new: &str, expected: &str) {
    let (source, problems) = problems(old, new);
    let shown: Vec<String> = problems.iter().map(|problem| source.one_line(problem)).collect();
    assert_eq!(shown.join("\n"), expected);
}

/// The value of the smallest scenario with some lines replaced; it must have no errors.
#[track_caller]
fn reads(changes: &[(&str, &str)]) -> Scenario {
    let mut text = SMALLEST.to_string();
    for (old, new) in changes {
        assert!(text.contains(old), "{old} is not in the scenario");
        text = text.replacen(old, new, 1);
    }
    let source = Source::new("test.toml", text);
    match read(&source) {
        Ok((scenario, _, _)) => scenario,
        Err(problems) => panic!("{}", render(&source, &problems, Paint::Plain)),
    }
}

const CAPACITY: &str = "rated_capacity = \"600 Wh\"";
const WATTS: &str = "watts = \"9 W\"";
const START: &str = "start = 2027-01-14T18:00:00";
const LASTS: &str = "lasts = \"4 days\"";
