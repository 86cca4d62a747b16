//! Completions and manual pages.

use std::fs;
use std::process::Command;

use crate::program::{folder, refused, tideover};

#[test]
fn every_shell_learns_every_command() {
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let output = tideover(&["completions", shell]);
        let text = String::from_utf8_lossy(&output.stdout);
        assert!(output.status.success(), "{shell}");
        for word in ["run", "compare", "lineup", "years", "figures", "completions"] {
            assert!(text.contains(word), "{shell} lacks {word}");
        }
    }
    refused(&["completions", "dish"], &["dish", "bash"]);
}

#[test]
fn bash_completes_a_command_or_skipped_without_bash() {
    let script = tideover(&["completions", "bash"]).stdout;
    let file = folder("manual", "bash").join("tideover.bash");
    fs::write(&file, script).expect("a file");
    let ask = format!(
        "source {}; COMP_WORDS=(tideover comp); COMP_CWORD=1; _tideover tideover comp tideover; echo \"${{COMPREPLY[@]}}\"",
        file.display()
    );
    let Ok(output) = Command::new("bash").args(["--norc", "-c", &ask]).output() else {
        eprintln!("skipped: no bash on this machine");
        return;
    };
    let told = String::from_utf8_lossy(&output.stdout);
    assert_eq!(told.split_whitespace().collect::<Vec<_>>(), ["compare", "completions"], "{output:?}");
}

#[test]
fn the_manual_has_a_page_for_the_program_and_one_for_each_command() {
    let into = folder("manual", "pages").join("man1");
    let path = into.display().to_string();
    assert!(tideover(&["man", "--into", &path]).status.success());
    let mut names: Vec<String> = fs::read_dir(&into)
        .expect("a folder")
        .map(|file| file.expect("a page").file_name().to_string_lossy().into())
        .collect();
    names.sort();
    for name in ["tideover.1", "tideover-run.1", "tideover-climate-show.1", "tideover-lineup.1", "tideover-man.1"] {
        assert!(names.iter().any(|there| there == name), "{name}: {names:?}");
    }
    let page = fs::read_to_string(into.join("tideover-run.1")).expect("a page");
    // Roff of the man macros (man-pages(7)): title line, then sections.
    for part in [".TH", ".SH NAME", ".SH SYNOPSIS", ".SH OPTIONS", "figures"] {
        assert!(page.contains(part), "{part}: {page}");
    }
    let whole = tideover(&["man"]);
    assert!(String::from_utf8_lossy(&whole.stdout).contains(".SH SUBCOMMANDS"));
}
