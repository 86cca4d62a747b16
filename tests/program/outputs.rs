//! Answers go into files of their own: never over what they were worked out from, never over each other.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

use crate::program::{command, folder};

fn tideover(folder: &Path, arguments: &[&str]) -> Output {
    command(arguments).current_dir(folder).output().unwrap()
}

fn refused(out: &Output, why: &str) {
    let told = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(2), "{told}");
    assert!(told.contains(why), "{told}");
}

#[test]
fn an_answer_never_takes_the_place_of_its_input() {
    let folder = folder("outputs", "over-input");
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
    let folder = folder("outputs", "one-file");
    fs::copy("scenarios/winter-storm.toml", folder.join("home.toml")).unwrap();
    let out = tideover(&folder, &["run", "home.toml", "--trials", "50", "-q", "--html", "a", "--csv", "./a"]);
    refused(&out, "another answer goes into the same file");
    refused(&tideover(&folder, &["run", "home.toml", "--trials", "50", "-q", "--out", "-"]), "it names no file");
    assert_eq!(fs::read_dir(&folder).unwrap().count(), 1);
}

#[cfg(unix)]
#[test]
fn a_link_stays_a_link() {
    let folder = folder("outputs", "link");
    fs::copy("scenarios/winter-storm.toml", folder.join("home.toml")).unwrap();
    fs::write(folder.join("answer.txt"), "old").unwrap();
    std::os::unix::fs::symlink("answer.txt", folder.join("link.txt")).unwrap();
    let out = tideover(&folder, &["run", "home.toml", "--trials", "50", "-q", "--out", "link.txt"]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    assert!(fs::symlink_metadata(folder.join("link.txt")).unwrap().file_type().is_symlink());
    assert!(fs::read_to_string(folder.join("answer.txt")).unwrap().contains("Winter storm"));
}

/// A line-up of two kits and one case in a folder of its own.
fn line_up(name: &str) -> (PathBuf, Vec<&'static str>) {
    let folder = folder("outputs", name);
    let kits = "name,capacity_wh,dc_w,usb_w,solar_w,panels,panel_w,panel_wiring\nsmall,300,120,60,120,1,100,\nlarge,900,240,60,400,2,100,parallel\n";
    fs::write(folder.join("kits.csv"), kits).unwrap();
    fs::copy("scenarios/lineup/cases/van-week.toml", folder.join("van-week.toml")).unwrap();
    (folder, vec!["lineup", "kits.csv", "--cases", "van-week.toml", "--trials", "200"])
}

fn with<'a>(arguments: &[&'a str], more: &[&'a str]) -> Vec<&'a str> {
    [arguments, more].concat()
}

#[test]
fn results_of_a_line_up_take_the_place_of_nothing_but_results() {
    let (folder, arguments) = line_up("results");
    let files = [("kits.csv", ""), ("van-week.toml", ""), ("diary.txt", "Dear diary,\n"), ("photo.jpg", "\u{0}\u{1}")];
    for (name, text) in files {
        if !text.is_empty() {
            fs::write(folder.join(name), text).unwrap();
        }
        let before = fs::read(folder.join(name)).unwrap();
        for more in [vec![], vec!["--fresh"]] {
            let out = tideover(&folder, &with(&with(&arguments, &["--results", name]), &more));
            refused(&out, "would be lost");
            assert!(out.stdout.is_empty());
        }
        assert_eq!(fs::read(folder.join(name)).unwrap(), before, "{name}");
    }
    // A part has a file of its own, which is looked at just so.
    fs::write(folder.join("diary.part-1-of-2.tsv"), "Dear diary,\n").unwrap();
    refused(&tideover(&folder, &with(&arguments, &["--results", "diary.tsv", "--part", "1/2"])), "would be lost");
    // Two answers in one file.
    for option in ["--csv", "--html", "--out"] {
        let out = tideover(&folder, &with(&arguments, &["--results", "both.tsv", option, "both.tsv"]));
        refused(&out, "another answer goes into the same file");
    }
    assert!(!folder.join("both.tsv").exists());
    let names = fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
    assert!(names.into_iter().all(|name| !name.contains("aside") && !name.ends_with(".part")));
    // An empty file, as a shell makes it, holds nothing to lose.
    fs::write(folder.join("empty.tsv"), "").unwrap();
    assert_eq!(tideover(&folder, &with(&arguments, &["--results", "empty.tsv"])).status.code(), Some(0));
    assert!(fs::read_to_string(folder.join("empty.tsv")).unwrap().starts_with("# tideover line-up results 2\n"));
}

#[test]
fn damaged_results_are_put_aside_and_computed_afresh() {
    let (folder, arguments) = line_up("aside");
    let answer = tideover(&folder, &arguments);
    assert_eq!(answer.status.code(), Some(0), "{}", String::from_utf8_lossy(&answer.stderr));
    let results = folder.join("kits.results.tsv");
    let whole = fs::read(&results).unwrap();
    let mut other_layout = whole.clone();
    other_layout[whole.iter().position(|byte| *byte == b'\n').unwrap() - 1] = b'9';
    let not_text = [&whole[..], b"\xff\xfe"].concat();
    for (number, damaged) in [&whole[..whole.len() - 20], &other_layout, &not_text].into_iter().enumerate() {
        fs::write(&results, damaged).unwrap();
        let again = tideover(&folder, &arguments);
        assert_eq!((again.status.code(), &again.stdout), (Some(0), &answer.stdout));
        let aside = if number == 0 { "aside".to_string() } else { format!("aside-{}", number + 1) };
        let told = String::from_utf8_lossy(&again.stderr);
        assert!(told.contains("put aside as") && told.contains(&format!("kits.results.tsv.{aside},")), "{told}");
        assert_eq!(fs::read(folder.join(format!("kits.results.tsv.{aside}"))).unwrap(), damaged);
        assert_eq!(fs::read(&results).unwrap(), whole);
    }
}

/// A full disk behind standard error takes the words that go there, and nothing else.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_behind_standard_error_loses_no_answer() {
    let (folder, arguments) = line_up("full");
    // Each says something there: notes, a place left out, an error.
    let demo = fs::read_to_string("scenarios/device-night.toml").unwrap();
    fs::write(folder.join("home.toml"), &demo).unwrap();
    fs::write(folder.join("wrong.toml"), demo.replacen("watts = \"", "watts = \"x", 1)).unwrap();
    fs::write(folder.join("kits.results.tsv"), "# tideover line-up results 2\ncut").unwrap();
    let record = fs::read_to_string("scenarios/records/open.toml").unwrap().replace("ambient = \"", "ambient = \"-");
    fs::write(folder.join("record.toml"), record).unwrap();
    let commands: [(&[&str], i32); 6] = [
        (&["run", "home.toml", "--trials", "100"], 0),
        (&["check", "home.toml"], 0),
        (&["prove", "record.toml", "--today", "2027-03-20"], 0),
        (&arguments, 0),
        (&["run", "wrong.toml"], 2),
        (&["run", "gone.toml"], 2),
    ];
    for (arguments, code) in commands {
        let plain = tideover(&folder, arguments);
        let full = command(&[])
            .current_dir(&folder)
            .args(arguments)
            .stderr(fs::OpenOptions::new().write(true).open("/dev/full").unwrap())
            .output()
            .unwrap();
        assert_eq!((plain.status.code(), full.status.code()), (Some(code), Some(code)), "{arguments:?}");
        assert_eq!(plain.stdout, full.stdout, "{arguments:?}");
        assert_eq!(code == 0, !full.stdout.is_empty(), "{arguments:?}");
    }
}
