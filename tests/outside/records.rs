//! Open weather records, which are no part of the project.

use std::io::Write;
use std::path::PathBuf;

/// Their folder: `TIDEOVER_RECORDS`, or `../shared/weather-data` beside the project. Without one the test is skipped and says
/// so past the capture of its output, so that no run looks whole that is not.
pub fn records() -> Option<PathBuf> {
    let beside = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared/weather-data");
    let folder = std::env::var_os("TIDEOVER_RECORDS").map_or(beside, PathBuf::from);
    if folder.is_dir() {
        return Some(folder);
    }
    let thread = std::thread::current();
    let test = thread.name().unwrap_or("a test");
    // In one piece, on a line of its own.
    let line = format!("\nskipped: no records beside the project: {test}\n");
    std::io::stderr().write_all(line.as_bytes()).expect("a place to say it");
    None
}
