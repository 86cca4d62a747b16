//! What the program is built on: the rules of deny.toml that can be looked up without any tool, and promises of SECURITY.md about
//! the code itself.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use crate::program::root;

fn table(file: &str) -> toml::Table {
    fs::read_to_string(root().join(file)).expect(file).parse().expect(file)
}

/// Crates that the lock file has in two versions: syn reads the source of macros while building; of the crates that still read with
/// the older one none is built for what deny.toml names as targets.
const TWICE: [&str; 1] = ["syn"];

#[test]
fn one_source_one_version_and_nothing_banned() {
    let (lock, rules) = (table("Cargo.lock"), table("deny.toml"));
    let packages: Vec<&toml::Table> =
        lock["package"].as_array().expect("packages").iter().filter_map(toml::Value::as_table).collect();
    assert!(packages.len() > 50);
    let text =
        |package: &toml::Table, key: &str| package.get(key).and_then(toml::Value::as_str).unwrap_or("").to_string();
    let mut sources: BTreeMap<String, usize> = BTreeMap::new();
    let mut versions: BTreeMap<String, usize> = BTreeMap::new();
    for package in &packages {
        *sources.entry(text(package, "source")).or_default() += 1;
        *versions.entry(text(package, "name")).or_default() += 1;
        assert!(text(package, "source").is_empty() || !text(package, "checksum").is_empty(), "{package:?}");
    }
    // The crate itself has none.
    assert_eq!((sources.len(), sources.get("").copied()), (2, Some(1)), "{sources:?}");
    assert!(sources.keys().all(|source| source.is_empty() || source.starts_with("registry+")), "{sources:?}");
    let twice: Vec<&String> = versions.iter().filter(|(_, n)| **n > 1).map(|(name, _)| name).collect();
    assert_eq!(twice, TWICE, "in two versions");

    let bans = rules["bans"]["deny"].as_array().expect("a list");
    assert!(bans.len() > 10);
    for ban in bans {
        let name = ban["name"].as_str().expect("a name");
        let wrappers: Vec<&str> = ban
            .get("wrappers")
            .and_then(toml::Value::as_array)
            .map_or(Vec::new(), |list| list.iter().filter_map(toml::Value::as_str).collect());
        for package in &packages {
            let needs = package.get("dependencies").and_then(toml::Value::as_array);
            let mut needs = needs.into_iter().flatten().filter_map(toml::Value::as_str);
            let user = text(package, "name");
            assert!(!needs.any(|need| need == name) || wrappers.contains(&user.as_str()), "{user} needs {name}");
        }
    }
}

fn sources(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            into.push(path);
        }
    }
}

#[test]
fn the_code_opens_no_connection_and_starts_no_program() {
    let mut files = Vec::new();
    sources(&root().join("src"), &mut files);
    assert!(files.len() > 200);
    for file in files {
        let text = fs::read_to_string(&file).expect("text");
        let border = file.ends_with("page/border.rs");
        for never in ["std::net", "process::Command", "Command::new(\"", "TcpStream", "UdpSocket", "extern \"C\" {"] {
            // The page's progress is what the border calls outside.
            let asked = border && never.starts_with("extern");
            assert!(!text.contains(never) || asked, "{}: {never}", file.display());
        }
        let allows = text.contains("allow(unsafe_code") || text.contains("unsafe {") || text.contains("unsafe fn");
        assert!(!allows || border, "{} has unsafe code", file.display());
    }
}

/// Every test that SECURITY.md names is there.
#[test]
fn what_is_said_to_hold_a_promise_exists() {
    let said = fs::read_to_string(root().join("SECURITY.md")).expect("SECURITY.md");
    let mut files = Vec::new();
    sources(&root().join("src"), &mut files);
    sources(&root().join("tests"), &mut files);
    let all: String = files.iter().map(|file| fs::read_to_string(file).expect("text")).collect();
    let mut named = 0;
    for word in said.split('`').skip(1).step_by(2) {
        if word.starts_with("tests/") || word.starts_with("src/") {
            assert!(root().join(word).exists(), "{word}");
        } else if word.contains('_') && word.chars().all(|c| c.is_lowercase() || c == '_') && word.len() > 20 {
            assert!(all.contains(&format!("fn {word}(")), "no test is called {word}");
            named += 1;
        }
    }
    assert!(named > 12, "{named}");
}
