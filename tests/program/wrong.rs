//! Every way to be wrong has a file in `tests/wrong/` with the whole diagnostic beside it.
//!
//! With `TIDEOVER_BLESS=1` the diagnostics are written anew; read the difference before committing it.

use std::fs;

use tideover::scenario::{Paint, Source, read, render};

use crate::program::root;

/// Number of scenarios in the folder, so that a lost file is noticed.
const FILES: usize = 119;

#[test]
fn every_wrong_scenario_is_explained_as_recorded() {
    let folder = root().join("tests/wrong");
    let bless = std::env::var_os("TIDEOVER_BLESS").is_some();
    let mut names: Vec<String> = fs::read_dir(&folder)
        .expect("the folder of wrong scenarios")
        .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
        .filter(|name| name.ends_with(".toml"))
        .collect();
    names.sort();
    let mut differing = Vec::new();
    for name in &names {
        let text = fs::read_to_string(folder.join(name)).expect("a scenario").replace("\r\n", "\n");
        let source = Source::new(name.clone(), text);
        let (verdict, problems) = match read(&source) {
            Ok((_, _, problems)) => ("usable", problems),
            Err(problems) => ("refused", problems),
        };
        assert!(!problems.is_empty(), "{name} has nothing wrong with it");
        let drawn = format!("{verdict}\n\n{}", render(&source, &problems, Paint::Plain));
        let record = folder.join(name).with_extension("txt");
        if bless {
            fs::write(&record, &drawn).expect("a record that can be written");
        }
        let recorded = fs::read_to_string(&record).unwrap_or_default().replace("\r\n", "\n");
        if drawn != recorded {
            differing.push(format!("--- {name}\n{drawn}"));
        }
    }
    assert!(differing.is_empty(), "{} differ from their records:\n{}", differing.len(), differing.join("\n"));
    assert_eq!(names.len(), FILES, "files in tests/wrong");
}
