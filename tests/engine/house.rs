//! The table of modules in DEVELOPERS.md: each imports only from those above it.

use std::fs;
use std::path::{Path, PathBuf};

/// The files of a module, without those of its tests.
fn files(at: &Path, found: &mut Vec<PathBuf>) {
    if at.is_dir() {
        for entry in fs::read_dir(at).expect("a folder of sources").map(|entry| entry.expect("an entry").path()) {
            files(&entry, found);
        }
    } else if at.extension().is_some_and(|end| end == "rs") && !at.ends_with("tests.rs") {
        found.push(at.to_path_buf());
    }
}

/// The modules of the program that a text names after `crate::` or `tideover::`, alone or in braces.
fn named(text: &str) -> Vec<String> {
    let before_tests = text.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
    let code: Vec<&str> = before_tests.lines().map(|line| line.split("//").next().unwrap_or_default()).collect();
    let code = code.join("\n");
    let word = |rest: &str| rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
    let mut found = Vec::new();
    for rest in ["crate::", "tideover::"].iter().flat_map(|root| code.split(root).skip(1)) {
        let Some(list) = rest.strip_prefix('{') else {
            found.push(word(rest));
            continue;
        };
        // What stands in the braces themselves, not in others within.
        let (mut depth, mut names) = (1, String::new());
        for letter in list.chars() {
            depth += i32::from(letter == '{') - i32::from(letter == '}');
            match depth {
                0 => break,
                1 if letter != '}' => names.push(letter),
                _ => {}
            }
        }
        found.extend(names.split(',').map(|name| word(name.trim())));
    }
    found
}

#[test]
fn modules_in_braces_are_seen_too() {
    assert_eq!(named("use crate::{kit::{self, battery}, units};\nuse crate::math;"), ["kit", "units", "math"]);
}

#[test]
fn a_module_imports_only_from_those_above_it() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = fs::read_to_string(root.join("DEVELOPERS.md")).expect("the table");
    let rows = text.lines().skip_while(|line| !line.starts_with("| module |")).skip(2);
    let rows = rows.take_while(|line| line.starts_with('|')).map(|line| line.split('|').nth(1).unwrap_or_default());
    let modules: Vec<Vec<&str>> = rows.map(|names| names.split('`').skip(1).step_by(2).collect()).collect();
    let row = |name: &str| modules.iter().position(|of_row| of_row.contains(&name));
    let listed: Vec<&str> = modules.iter().flatten().copied().collect();
    let mut wrong = Vec::new();
    for entry in fs::read_dir(root.join("src")).expect("sources").map(|entry| entry.expect("an entry").path()) {
        let module = entry.file_stem().expect("a name").to_string_lossy().into_owned();
        if module == "lib" || module == "main" {
            continue;
        }
        let Some(own) = row(&module) else {
            wrong.push(format!("{module} is not in the table"));
            continue;
        };
        let mut sources = Vec::new();
        files(&entry, &mut sources);
        for source in sources.iter().filter(|source| !source.components().any(|part| part.as_os_str() == "tests")) {
            let text = fs::read_to_string(source).expect("a source");
            let upward = named(&text).into_iter().filter(|name| row(name).is_some_and(|other| other > own));
            wrong.extend(upward.map(|name| format!("{} imports {name}", source.display())));
        }
    }
    assert!(listed.len() > 20 && wrong.is_empty(), "{wrong:#?}");
}
