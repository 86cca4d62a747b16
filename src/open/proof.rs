//! Test records and kit files: what a unit proved, and whether a scenario speaks of the same unit.

use super::{Files, OpenError};
use crate::scenario::model::OutletKind;
use crate::scenario::record::kit_file::is_kit_file;
use crate::scenario::record::{self, FigureKind, ProvedKit, Record, kit_file};
use crate::scenario::{Level, Places, Problem, Scenario, Source};
use crate::study::prove::{Proof, ProveError, prove, unbelievable};

/// A record that was read and proved.
pub struct ProvedRecord {
    /// Its text.
    pub source: Source,
    /// What it says.
    pub record: Record,
    /// What its tests leave of the unit.
    pub proof: Proof,
    /// Warnings of the reader, sorted by place.
    pub remarks: Vec<Problem>,
    places: Places,
}

impl ProvedRecord {
    /// Adds warnings of days that cannot be.
    ///
    /// * `today` — the day of the question.
    pub fn doubt_dates(&mut self, today: jiff::civil::Date) {
        let found = record::dates::implausible(&self.record, today);
        self.remarks.extend(found.into_iter().map(|problem| self.places.locate(problem)));
        crate::scenario::problem::sort(&mut self.remarks);
    }

    /// A problem with its place in the text.
    #[must_use]
    pub fn locate(&self, problem: Problem) -> Problem {
        self.places.locate(problem)
    }
}

/// Reads a record with its logs and proves it.
///
/// # Errors
/// What is wrong with the record, or with its logs.
pub fn proved(source: Source, files: &dyn Files) -> Result<ProvedRecord, OpenError> {
    let logs = |name: &str| files.text(name);
    let refused = |problems| OpenError::refused(&source, problems);
    let (record, places, remarks) = record::read(&source, &logs).map_err(refused)?;
    let proof = prove(&record).map_err(|error| match error {
        ProveError::Test(problem) => refused(vec![places.locate(*problem)]),
        ProveError::Fit(error) => OpenError::file(format!("{}: {error}", source.name)),
    })?;
    Ok(ProvedRecord { source, record, proof, remarks, places })
}

/// The figures that a record or a kit file leaves of a station.
///
/// # Errors
/// What is wrong with it, or that it proves no capacity.
pub fn kit(files: &dyn Files, name: &str) -> Result<ProvedKit, OpenError> {
    let (text, shown) = (files.text(name).map_err(OpenError::file)?, files.shown(name));
    let kit_file = is_kit_file(&text);
    let source = Source::new(shown.clone(), text);
    if kit_file {
        return kit_file::read(&source).map_err(|problems| OpenError::refused(&source, problems));
    }
    // Its logs lie beside the record.
    let beside = Beside { files, folder: name.rsplit_once('/').map_or("", |(folder, _)| folder) };
    proved(source, &beside)?.proof.kit.ok_or_else(|| {
        OpenError::file(format!(
            "{shown} holds no discharge, so it proves no capacity\n  = help: add a section [[capacity]]; see `tideover prove plan`"
        ))
    })
}

/// Files in a folder of others.
struct Beside<'f> {
    files: &'f dyn Files,
    folder: &'f str,
}

impl Beside<'_> {
    fn path(&self, name: &str) -> String {
        if self.folder.is_empty() || name.starts_with('/') {
            name.to_string()
        } else {
            format!("{}/{name}", self.folder)
        }
    }
}

impl Files for Beside<'_> {
    fn bytes(&self, name: &str) -> Result<Vec<u8>, String> {
        self.files.bytes(&self.path(name))
    }
    fn reader(&self, name: &str) -> Result<Box<dyn std::io::Read + '_>, String> {
        self.files.reader(&self.path(name))
    }
    fn has(&self, name: &str) -> bool {
        self.files.has(&self.path(name))
    }
    fn shown(&self, name: &str) -> String {
        self.files.shown(&self.path(name))
    }
    fn near(&self, name: &str) -> Option<String> {
        self.files.near(&self.path(name))
    }
}

/// Where a scenario and the record it names speak of different units, and what the record overrules.
#[must_use]
pub fn against_the_scenario(scenario: &Scenario, places: &Places) -> Vec<Problem> {
    let mut problems = Vec::new();
    let Some(proved) = &scenario.station.proved else { return problems };
    let Some(kit) = &proved.kit else { return problems };
    let label = scenario.station.rated_capacity.value;
    problems.extend(unbelievable(kit, &scenario.station.rated_capacity));
    if (label.0 - kit.rated_capacity.0).abs() > 0.01 * label.0 {
        problems.push(
            Problem::error("station.proved", "is about a unit with another label")
                .found(format!("{} there, {label} here", kit.rated_capacity))
                .against("station.rated_capacity", "this label"),
        );
    }
    if let (Some(there), Some(here)) = (kit.inverter, &scenario.station.inverter)
        && (there.0 - here.rated.0).abs() > 0.01 * here.rated.0
    {
        problems.push(
            Problem::error("station.proved", "is about a unit with another inverter")
                .found(format!("{there} there, {} here", here.rated))
                .against("station.inverter.rated", "this inverter"),
        );
    }
    if !kit.defects.is_empty() {
        problems.push(
            Problem::warning("station.proved", "is about a unit with a defect, which no answer reckons with")
                .found(kit.defects.join("; "))
                .help("have it mended or replaced before you lean on it"),
        );
    }
    let overruled = [
        ("station.inverter.idle", FigureKind::Draw(OutletKind::Ac)),
        ("station.inverter.efficiency", FigureKind::Conversion(OutletKind::Ac)),
        ("station.dc_outlet.idle", FigureKind::Draw(OutletKind::Dc)),
        ("station.dc_outlet.efficiency", FigureKind::Conversion(OutletKind::Dc)),
        ("station.usb.idle", FigureKind::Draw(OutletKind::Usb)),
        ("station.usb.efficiency", FigureKind::Conversion(OutletKind::Usb)),
        ("station.charge_efficiency", FigureKind::ChargeEfficiency),
        ("station.discharge_efficiency", FigureKind::DischargeEfficiency),
    ];
    for (key, kind) in overruled {
        if places.get(key).is_some() && kit.get(kind).is_some() {
            problems.push(
                Problem::new(Level::Warning, key, "is overruled by the tests in `station.proved`")
                    .help("take it out; the record tells it with its uncertainty")
                    .against("station.proved", "the record"),
            );
        }
    }
    problems
}
