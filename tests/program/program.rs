//! The program, started.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

/// The project's folder.
pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The program that is asked: that of the environment's `TIDEOVER_PROGRAM` (a whole path), or the one that was built with the tests,
/// which is slower and checks its sums.
pub fn program() -> PathBuf {
    std::env::var_os("TIDEOVER_PROGRAM").map_or_else(|| env!("CARGO_BIN_EXE_tideover").into(), PathBuf::from)
}

/// The program in the project's folder, about to start.
pub fn command(arguments: &[&str]) -> Command {
    let mut command = Command::new(program());
    command.args(arguments).current_dir(root());
    command
}

#[track_caller]
pub fn tideover(arguments: &[&str]) -> Output {
    command(arguments).output().expect("the program starts")
}

/// What the program prints.
#[track_caller]
pub fn answered(arguments: &[&str]) -> String {
    let output = tideover(arguments);
    assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("UTF-8")
}

/// The same for programs.
#[track_caller]
pub fn json(arguments: &[&str]) -> Value {
    let output = tideover(&[arguments, &["--json"]].concat());
    serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|error| panic!("{arguments:?}: {error}\n{}", String::from_utf8_lossy(&output.stderr)))
}

/// A scenario in a folder of a test's own.
pub fn written(of: &str, test: &str, text: &str) -> String {
    let file = folder(of, test).join("scenario.toml");
    fs::write(&file, text).expect("a file to write to");
    file.display().to_string()
}

#[track_caller]
pub fn refused(arguments: &[&str], told: &[&str]) {
    let output = tideover(arguments);
    let text = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {text}");
    assert!(output.stdout.is_empty(), "{arguments:?} printed an answer");
    for part in told {
        assert!(text.contains(part), "{arguments:?} does not say {part:?}:\n{text}");
    }
}

/// Ctrl-C to a program that runs.
#[cfg(unix)]
#[track_caller]
pub fn interrupt(program: &std::process::Child) {
    let sent = Command::new("kill").args(["-INT", &program.id().to_string()]).status().expect("kill");
    assert!(sent.success(), "it ended by itself");
}

/// A folder of a test's own under the target folder, empty at first; tests run side by side.
pub fn folder(of: &str, test: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(of).join(test);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).expect("a folder to write to");
    folder
}

/// Text broken at a width, as one line.
pub fn unbroken(text: impl AsRef<[u8]>) -> String {
    String::from_utf8_lossy(text.as_ref()).split_whitespace().collect::<Vec<_>>().join(" ")
}
