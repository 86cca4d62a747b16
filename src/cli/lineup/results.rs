//! The file of results.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::field::{Field, Job};
use crate::cli::output::PendingFile;
use crate::cli::{Failure, input};
use crate::study::lineup::{Cell, Stored, parse, write};

/// Cells by key.
#[derive(Debug, Clone, Default)]
pub struct Results(BTreeMap<String, Stored>);

impl Results {
    pub fn none() -> Results {
        Results::default()
    }

    /// Reads a file of results.
    pub fn load(path: &Path) -> Result<Results, Failure> {
        parse(&input::text_of(path)?)
            .map(Results)
            .map_err(|error| Failure::Input(format!("error: {}: {error}", path.display())))
    }

    /// As `load`, but a file that is not there is empty, and one that cannot be read is left aside with a warning: its
    /// cells are computed again.
    pub fn load_if_there(path: &Path, quiet: bool) -> Result<Results, Failure> {
        if !path.exists() {
            return Ok(Results::none());
        }
        let text = input::text_of(path)?;
        Ok(parse(&text).map(Results).unwrap_or_else(|error| {
            if !quiet {
                anstream::eprintln!("warning: {}: {error}; every cell is computed afresh", path.display());
            }
            Results::none()
        }))
    }

    pub fn get(&self, key: &str) -> Option<&Stored> {
        self.0.get(key)
    }

    pub fn insert(&mut self, field: &Field, job: &Job, cell: Cell) {
        let (case, place, kit) = field.names(job);
        self.0.insert(job.key.clone(), Stored { case, place, kit, cell });
    }

    pub fn add(&mut self, other: Results) {
        self.0.extend(other.0);
    }

    /// Only the cells of these jobs.
    pub fn only(mut self, jobs: &[Job]) -> Results {
        let keys: BTreeSet<&str> = jobs.iter().map(|job| job.key.as_str()).collect();
        self.0.retain(|key, _| keys.contains(key.as_str()));
        self
    }

    /// Drops what these jobs have overtaken: older results of the same kit, case and place.
    pub fn keep_one_each(&mut self, field: &Field, jobs: &[Job]) {
        let done: BTreeMap<_, _> = jobs
            .iter()
            .filter(|job| self.0.contains_key(&job.key))
            .map(|job| (field.names(job), job.key.clone()))
            .collect();
        self.0.retain(|key, stored| {
            let whose = (stored.case.clone(), stored.place.clone(), stored.kit.clone());
            done.get(&whose).is_none_or(|latest| latest == key)
        });
    }

    pub fn save(&self, path: &Path) -> Result<(), Failure> {
        PendingFile::open_kept(path)?.commit(&write(&self.0))
    }
}
