//! Answers go into files of their own: never over what they were worked out from, never over each other.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    folder
}

fn tideover(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tideover")).current_dir(folder).args(arguments).output().unwrap()
}

fn refused(out: &Output, why: &str) {
    let told = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(2), "{told}");
    assert!(told.contains(why), "{told}");
}

#[test]
fn an_answer_never_takes_the_place_of_its_input() {
    let folder = folder("over-input");
    let scenario = fs::read_to_string("scenarios/winter-storm.toml").unwrap();
    fs::write(folder.join("home.toml"), &scenario).unwrap();
    for option in ["--out", "--html", "--csv"] {
        let out = tideover(&folder, &["run", "home.toml", "--trials", "50", "-q", option, "home.toml"]);
        refused(&out, "it was read for this answer and would be lost");
        // By another name it is the same file.
        let out = tideover(&folder, &["run", "./home.toml", "--trials", "50", "-q", option, "../over-input/home.toml"]);
        refused(&out, "it was read for this answer and would be lost");
    }
    fs::copy("scenarios/records/healthy.toml", folder.join("record.toml")).unwrap();
    fs::copy("scenarios/records/healthy-40-watts.csv", folder.join("healthy-40-watts.csv")).unwrap();
    let record = fs::read_to_string(folder.join("record.toml")).unwrap();
    refused(&tideover(&folder, &["prove", "record.toml", "--write-kit", "record.toml"]), "would be lost");
    assert_eq!(fs::read_to_string(folder.join("home.toml")).unwrap(), scenario);
    assert_eq!(fs::read_to_string(folder.join("record.toml")).unwrap(), record);
    assert_eq!(fs::read_dir(&folder).unwrap().count(), 3, "nothing half-written is left");
}

#[test]
fn two_answers_do_not_share_a_file() {
    let folder = folder("one-file");
    fs::copy("scenarios/winter-storm.toml", folder.join("home.toml")).unwrap();
    let out = tideover(&folder, &["run", "home.toml", "--trials", "50", "-q", "--html", "a", "--csv", "./a"]);
    refused(&out, "another answer goes into the same file");
    refused(&tideover(&folder, &["run", "home.toml", "--trials", "50", "-q", "--out", "-"]), "it names no file");
    assert_eq!(fs::read_dir(&folder).unwrap().count(), 1);
}

#[cfg(unix)]
#[test]
fn a_link_stays_a_link() {
    let folder = folder("link");
    fs::copy("scenarios/winter-storm.toml", folder.join("home.toml")).unwrap();
    fs::write(folder.join("answer.txt"), "old").unwrap();
    std::os::unix::fs::symlink("answer.txt", folder.join("link.txt")).unwrap();
    let out = tideover(&folder, &["run", "home.toml", "--trials", "50", "-q", "--out", "link.txt"]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    assert!(fs::symlink_metadata(folder.join("link.txt")).unwrap().file_type().is_symlink());
    assert!(fs::read_to_string(folder.join("answer.txt")).unwrap().contains("Winter storm"));
}
