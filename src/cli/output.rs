//! Progress on the terminal, stopping by Ctrl-C, and files written whole or not at all.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::Failure;
use crate::trials::Progress;

static STOP: AtomicBool = AtomicBool::new(false);

/// A bar on the terminal (nowhere else) that Ctrl-C can stop.
pub struct Bar(ProgressBar);

impl Bar {
    pub fn new(trials: u64, quiet: bool) -> Bar {
        Bar::counting("outages", trials, quiet)
    }

    /// A bar that counts something else than outages.
    pub fn counting(what: &str, trials: u64, quiet: bool) -> Bar {
        // A second handler cannot be set; the first does the same.
        let _ = ctrlc::set_handler(|| STOP.store(true, Ordering::Relaxed));
        let bar = ProgressBar::with_draw_target(
            Some(trials),
            if quiet { ProgressDrawTarget::hidden() } else { ProgressDrawTarget::stderr() },
        );
        if let Ok(style) =
            ProgressStyle::with_template(&format!("  {{human_pos}} of {{human_len}} {what} {{wide_bar}} {{eta}} left"))
        {
            bar.set_style(style.progress_chars("=> "));
        }
        Bar(bar)
    }

    pub fn finish(&self) {
        self.0.finish_and_clear();
    }
}

impl Progress for Bar {
    fn done(&self, trials: u64) {
        self.0.set_position(trials);
    }
    fn stop(&self) -> bool {
        STOP.load(Ordering::Relaxed)
    }
}

/// A file that appears whole when it is committed and not at all otherwise.
pub struct PendingFile {
    path: PathBuf,
    beside: PathBuf,
}

impl PendingFile {
    /// Tries whether the file can be written, before the long work.
    pub fn open(path: &Path) -> Result<PendingFile, Failure> {
        let wrong = |why: String| Failure::Input(format!("error: cannot write {}: {why}", path.display()));
        if path.is_dir() {
            return Err(wrong("it is a folder".into()));
        }
        let Some(name) = path.file_name() else { return Err(wrong("it names no file".into())) };
        let mut hidden = std::ffi::OsString::from(".");
        hidden.push(name);
        hidden.push(format!(".{}.part", std::process::id()));
        let beside = path.with_file_name(hidden);
        fs::write(&beside, b"").map_err(|error| wrong(error.to_string()))?;
        Ok(PendingFile { path: path.to_path_buf(), beside })
    }

    /// Writes the text and puts the file in its place.
    pub fn commit(self, text: &str) -> Result<(), Failure> {
        fs::write(&self.beside, text)
            .and_then(|()| fs::rename(&self.beside, &self.path))
            .map_err(|error| Failure::Other(format!("cannot write {}: {error}", self.path.display())))
    }
}

impl Drop for PendingFile {
    fn drop(&mut self) {
        // After a commit there is nothing left to remove.
        let _ = fs::remove_file(&self.beside);
    }
}

/// Prints an answer to standard output. A reader that has gone away (`| head`) is no error.
pub fn print(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::Other(format!("cannot print the answer: {error}")))
        }
        _ => Ok(()),
    }
}
