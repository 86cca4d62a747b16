//! The file of results.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant, SystemTime};

use super::field::{Field, Job};
use crate::cli::output::{PendingFile, tell};
use crate::cli::{Failure, input};
use tideover::study::lineup::{Cell, Stored, is_results, parse, write};

/// Cells by key.
#[derive(Debug, Clone, Default)]
pub struct Results {
    cells: BTreeMap<String, Stored>,
    /// Keys that were in files when they were read or written: what another line-up has added since is told from what was
    /// dropped here.
    known: BTreeSet<String>,
    /// The file as it was then.
    stamp: Option<Stamp>,
}

/// When a file was written, and how long it is \[bytes\].
type Stamp = (SystemTime, u64);

fn stamp(path: &Path) -> Option<Stamp> {
    let data = fs::metadata(path).ok()?;
    Some((data.modified().ok()?, data.len()))
}

impl Results {
    fn none() -> Results {
        Results::default()
    }

    fn of(cells: BTreeMap<String, Stored>) -> Results {
        Results { known: cells.keys().cloned().collect(), cells, stamp: None }
    }

    /// Reads a file of results.
    pub fn load(path: &Path) -> Result<Results, Failure> {
        parse(&input::text_of(path)?)
            .map(Results::of)
            .map_err(|error| Failure::Input(format!("error: {}: {error}", path.display())))
    }

    /// As `load`, but a file that is not there, or empty, holds no cell. One that begins like a file of results and cannot be
    /// read whole is put aside with a warning: its cells are computed again. Any other is not ours to write over.
    pub fn load_if_there(path: &Path, quiet: bool) -> Result<Results, Failure> {
        if !path.is_file() {
            return Ok(Results::none());
        }
        let seen = stamp(path);
        let bytes = input::bytes_of(path)?;
        if bytes.is_empty() {
            return Ok(Results::none());
        }
        if !is_results(&bytes) {
            return Err(Failure::Input(format!(
                "error: {} is not a file of results and would be lost: its first line is another\n  = help: give a new name \
                 with --results, or move that file away",
                path.display()
            )));
        }
        let read = String::from_utf8(bytes)
            .map_err(|error| {
                let before = &error.as_bytes()[..error.utf8_error().valid_up_to()];
                format!("line {} is not UTF-8", 1 + before.iter().filter(|byte| **byte == b'\n').count())
            })
            .and_then(|text| parse(&text).map_err(|error| error.to_string()));
        match read {
            Ok(cells) => Ok(Results { stamp: seen, ..Results::of(cells) }),
            Err(why) => {
                let aside = put_aside(path)?;
                if !quiet {
                    tell(&format!(
                        "warning: {}: {why}; it is put aside as {}, and its cells are computed afresh\n",
                        path.display(),
                        aside.display()
                    ));
                }
                Ok(Results::none())
            }
        }
    }

    /// Nothing, where the results that are kept are to be forgotten.
    pub fn unless(self, forgotten: bool) -> Results {
        if forgotten { Results { cells: BTreeMap::new(), ..self } } else { self }
    }

    pub fn get(&self, key: &str) -> Option<&Stored> {
        self.cells.get(key)
    }

    pub fn insert(&mut self, field: &Field, job: &Job, cell: Cell) {
        let (case, place, kit) = field.names(job);
        self.cells.insert(job.key.clone(), Stored { case, place, kit, cell });
    }

    pub fn add(&mut self, other: Results) {
        self.cells.extend(other.cells);
        self.known.extend(other.known);
        // Of two files no one stamp holds.
        self.stamp = None;
    }

    /// Only the cells of these jobs.
    pub fn only(mut self, jobs: &[Job]) -> Results {
        let keys: BTreeSet<&str> = jobs.iter().map(|job| job.key.as_str()).collect();
        self.cells.retain(|key, _| keys.contains(key.as_str()));
        self
    }

    /// Drops what these jobs have overtaken: older results of the same kit, case and place.
    pub fn keep_one_each(&mut self, field: &Field, jobs: &[Job]) {
        let done: BTreeMap<_, _> = jobs
            .iter()
            .filter(|job| self.cells.contains_key(&job.key))
            .map(|job| (field.names(job), job.key.clone()))
            .collect();
        self.cells.retain(|key, stored| {
            let whose = (stored.case.clone(), stored.place.clone(), stored.kit.clone());
            done.get(&whose).is_none_or(|latest| latest == key)
        });
    }

    /// Writes the file; cells that another line-up has put into it since it was read stay in it.
    pub fn save(&mut self, path: &Path) -> Result<(), Failure> {
        let _alone = alone(path);
        if self.stamp.is_none() || stamp(path) != self.stamp {
            for (key, stored) in Results::load_if_there(path, true)?.cells {
                if self.known.insert(key.clone()) {
                    self.cells.entry(key).or_insert(stored);
                }
            }
        }
        PendingFile::open_kept(path)?.commit(&write(&self.cells))?;
        self.known.extend(self.cells.keys().cloned());
        self.stamp = stamp(path);
        Ok(())
    }
}

/// Longest wait for another line-up that is saving.
const LONGEST_WAIT: Duration = Duration::from_secs(5);

/// Keeps other line-ups from saving into the same folder for as long as it lives. Where the system knows no lock of a folder, or
/// one is held for long, there is none: then two that save in the same moment may compute a cell twice, and no more.
fn alone(path: &Path) -> Option<File> {
    let real = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let folder = real.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let folder = File::open(folder).ok()?;
    let begun = Instant::now();
    while let Err(error) = folder.try_lock() {
        if !matches!(error, fs::TryLockError::WouldBlock) || begun.elapsed() > LONGEST_WAIT {
            return None;
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    Some(folder)
}

/// Gives a file a name that nothing else has: NAME.aside, NAME.aside-2 and so on.
fn put_aside(path: &Path) -> Result<PathBuf, Failure> {
    // A link stays where it is: what it leads to is put aside.
    let real = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let name = |number: u32| {
        let mut name = real.clone().into_os_string();
        name.push(if number == 1 { ".aside".to_string() } else { format!(".aside-{number}") });
        PathBuf::from(name)
    };
    let free = (1..10_000).map(name).find(|aside| !aside.exists());
    let moved = free.ok_or_else(|| "too many files were put aside".to_string()).and_then(|aside| {
        fs::rename(&real, &aside).map_err(|error| error.to_string())?;
        Ok(aside)
    });
    moved.map_err(|why| Failure::Other(format!("cannot put {} aside: {why}", path.display())))
}
