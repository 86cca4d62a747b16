//! The README shows what the program prints. With `TIDEOVER_BLESS=1` its answer is written anew.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use crate::program::{command, folder, root, tideover};

const BEGIN: &str = "<!-- answer: begin -->\n";
const END: &str = "<!-- answer: end -->";
/// Lines of the answer that the README shows.
const LINES: usize = 42;

#[test]
fn the_readme_shows_what_its_first_command_prints() {
    let readme = fs::read_to_string(root().join("README.md")).expect("the README").replace("\r\n", "\n");
    assert!(
        readme.contains("cargo run --release -- run scenarios/winter-storm.toml\ncargo test\n"),
        "its two commands"
    );
    let output = tideover(&["run", "scenarios/winter-storm.toml", "--quiet"]);
    assert_eq!(output.status.code(), Some(0));
    let answer = String::from_utf8(output.stdout).expect("text");
    let shown: Vec<&str> = answer.lines().take(LINES).collect();
    assert_eq!(shown.len(), LINES, "the answer is shorter than what the README shows");
    let block = format!("```text\n{}\n```\n", shown.join("\n").trim_end());
    let from = readme.find(BEGIN).expect("where the answer begins") + BEGIN.len();
    let to = readme.find(END).expect("where it ends");
    if std::env::var_os("TIDEOVER_BLESS").is_some() {
        let text = format!("{}{block}{}", &readme[..from], &readme[to..]);
        fs::write(root().join("README.md"), text).expect("a README that can be written");
        return;
    }
    assert_eq!(&readme[from..to], block, "run with TIDEOVER_BLESS=1 and read the difference");
}

/// A folder of this test's own with the scenarios in it, where commands may write what they like.
fn copy_of_the_scenarios() -> PathBuf {
    fn copy(from: &Path, to: &Path) {
        fs::create_dir_all(to).expect("a folder");
        for entry in fs::read_dir(from).expect("a folder").map(|entry| entry.expect("an entry").path()) {
            let there = to.join(entry.file_name().expect("a name"));
            if entry.is_dir() {
                copy(&entry, &there);
            } else {
                fs::copy(&entry, &there).expect("a copy");
            }
        }
    }
    let folder = folder("readme", "shown");
    copy(&root().join("scenarios"), &folder.join("scenarios"));
    folder
}

/// A year of made-up hours at 44.2 N, 72.6 W: the sun by its height, dimmed by another share on each day.
fn made_up_hours() -> String {
    use tideover::sky::{sun, year::SunOfDay};
    let mut text = String::from("time_utc,ghi_w_m2,temp_c\n");
    for hour in 0..2 * 365 * 24 {
        let day = hour / 24;
        let declination = SunOfDay::at(day as usize % 365, -72.6).declination_deg;
        let hour_angle = (f64::from(hour % 24) + 0.5) * 15.0 - 72.6 - 180.0;
        let (zenith, _) = sun::zenith_and_azimuth_deg(44.2, declination, hour_angle);
        let dim = 0.1 + 0.09 * f64::from(day * 7 % 11);
        let ghi = 1361.0 * 0.72 * dim * zenith.to_radians().cos().max(0.0);
        let air = 8.0 - 14.0 * (f64::from(day) / 58.1).cos() + f64::from(day * 5 % 7);
        // 2021 and 2022 have 365 days each.
        let date = jiff::civil::date(2021, 1, 1).checked_add(jiff::Span::new().days(day)).expect("a date");
        text.push_str(&format!("{date}T{:02}:00:00Z,{ghi:.1},{air:.1}\n", hour % 24));
    }
    text
}

/// The words of a command line; quotes hold words together.
fn words(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            c => words.last_mut().expect("a word").push(c),
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

/// What stands between backticks.
fn in_backticks(text: &str) -> Vec<&str> {
    text.split('`').skip(1).step_by(2).collect()
}

/// Every command line that the README shows, without the program's name; placeholders as they are.
fn command_lines(readme: &str) -> BTreeSet<String> {
    let mut lines = BTreeSet::new();
    let mut add = |line: &str| {
        let line = line.split(" #").next().unwrap_or_default().trim();
        for name in ["cargo run --release -- ", "tideover "] {
            // A command's name alone is a mention and no line to type.
            if let Some(arguments) = line.strip_prefix(name)
                && arguments.contains(' ')
            {
                lines.insert(arguments.to_string());
            }
        }
    };
    readme.lines().for_each(&mut add);
    let one_line = readme.replace('\n', " ");
    in_backticks(&one_line).into_iter().for_each(&mut add);
    for row in readme.lines().filter(|line| line.starts_with("| `tideover ")) {
        // Options that a row of the table names beside the question go with its command.
        let command = in_backticks(row)[0].strip_prefix("tideover ").expect("a command");
        for option in in_backticks(row).into_iter().filter(|text| text.starts_with("--")) {
            lines.insert(format!("{command} {option}"));
        }
    }
    // And those that the paragraph below it names are options of `run`.
    let (_, after) = one_line.split_once(" `run` takes ").expect("the options of run");
    let (options, _) = after.split_once(" Exit codes: ").expect("where they end");
    for option in in_backticks(options).into_iter().filter(|text| text.starts_with("--")) {
        lines.insert(format!("run SCENARIO {option}"));
    }
    lines
}

#[test]
fn every_command_line_that_the_readme_shows_works() {
    let readme = fs::read_to_string(root().join("README.md")).expect("the README");
    let folder = copy_of_the_scenarios();
    fs::write(folder.join("hours.csv"), made_up_hours()).expect("a record");
    let tideover =
        |arguments: &[String]| command(&[]).args(arguments).current_dir(&folder).output().expect("the program starts");
    assert_eq!(tideover(&words("new started.toml")).status.code(), Some(0));
    let lines = command_lines(&readme);
    assert!(lines.len() > 35, "{lines:#?}");
    for line in lines {
        let command = line.split(' ').next().expect("a command").to_string();
        // What stands for a file of the reader's own: here one from `new` and a demo.
        let scenarios = match command.as_str() {
            // Only one of them names ways of keeping.
            "years" => vec!["scenarios/ten-years.toml"],
            _ => vec!["started.toml", "scenarios/winter-storm.toml"],
        };
        let record = if command == "climate" { "hours.csv" } else { "scenarios/records/healthy.toml" };
        for scenario in scenarios.iter().take(if line.contains("SCENARIO") { 2 } else { 1 }) {
            let mut arguments = words(&line);
            for word in &mut arguments {
                *word = match word.as_str() {
                    "SCENARIO" => (*scenario).into(),
                    "RECORD" => record.into(),
                    "CATALOGUE" => "scenarios/lineup/catalogue.toml".into(),
                    "FOLDER" => "scenarios/lineup/cases".into(),
                    "LAT,LON" => "44.2,-72.6".into(),
                    "FILE" => "written.txt".into(),
                    "[WORD]" => "fridge".into(),
                    "[FILE]" => "another.toml".into(),
                    word => word.into(),
                };
            }
            // Options that are named without their value.
            if let Some("--trials" | "--seed" | "--threads") = arguments.last().map(String::as_str) {
                arguments.push("2".into());
            }
            // Each line begins with the file that the first steps have made.
            fs::copy(folder.join("started.toml"), folder.join("mine.toml")).expect("a copy");
            let file = arguments.iter().position(|word| word == "new").and_then(|at| arguments.get(at + 1)).cloned();
            if let Some(file) = file {
                let _ = fs::remove_file(folder.join(file));
            }
            // A floor is kept by lead-acid alone.
            if arguments.iter().any(|word| word == "--below-floor") {
                arguments[1] = "scenarios/twice-daily-cuts.toml".into();
            }
            // Fuel is left where there is a generator alone.
            if arguments.iter().any(|word| word == "--fuel") {
                arguments[1] = "scenarios/two-weeks-of-fuel.toml".into();
            }
            // What is asked on a terminal, told by options.
            if arguments.iter().any(|word| word == "--ask") {
                let _ = fs::remove_file(folder.join("mine.toml"));
                for told in [
                    "place=Bergen, Norway",
                    "capacity=1024 Wh",
                    "ac=1000 W",
                    "panels=200 W",
                    "stand=roof south 30°",
                    "loads=fridge, wifi",
                    "lasts=2 days",
                    "month=April",
                ] {
                    arguments.push(format!("--{told}"));
                }
            }
            if ["run", "compare", "size", "now", "lineup", "years"].contains(&command.as_str())
                && !arguments.iter().any(|word| word == "--trials")
            {
                // Few will do to see that it works.
                arguments.extend(["--trials".into(), if command == "years" { "20".into() } else { "200".into() }]);
            }
            let output = tideover(&arguments);
            let wanted = match line.as_str() {
                line if line.contains("wont-fit/") => 2,
                line if line.contains("--require") => 4,
                _ => 0,
            };
            let told = String::from_utf8_lossy(&output.stderr);
            assert_eq!(output.status.code(), Some(wanted), "tideover {}\n{told}", arguments.join(" "));
        }
    }
}
