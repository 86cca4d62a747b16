//! Test records and kit files from the disk.

use std::path::Path;

use super::Failure;
use super::input::{paint, refuse, text_of};
use crate::scenario::model::OutletKind;
use crate::scenario::record::kit_file::is_kit_file;
use crate::scenario::record::{self, FigureKind, ProvedKit, Record, kit_file};
use crate::scenario::{Level, Places, Problem, Scenario, Source, render};
use crate::study::prove::{Proof, ProveError, prove, unbelievable};

/// A record that was read and proved.
pub struct LoadedRecord {
    pub source: Source,
    pub record: Record,
    pub proof: Proof,
    /// Warnings of the reader and of the proof, sorted by place.
    pub remarks: Vec<Problem>,
}

impl LoadedRecord {
    /// The remarks drawn beside their lines.
    pub fn drawn(&self) -> String {
        render(&self.source, &self.remarks, paint())
    }
}

/// Reads a record with its logs and proves it.
pub fn record(path: &Path) -> Result<LoadedRecord, Failure> {
    proved(path, text_of(path)?)
}

fn proved(path: &Path, text: String) -> Result<LoadedRecord, Failure> {
    let source = Source::new(path.display().to_string(), text);
    let folder = path.parent().unwrap_or(Path::new("."));
    let logs = |name: &str| {
        text_of(&folder.join(name)).map_err(|failure| match failure {
            Failure::Input(text) | Failure::Other(text) => text.trim_start_matches("error: ").to_string(),
            Failure::Refused(found) => found.1.first().map_or_else(String::new, Problem::title),
            Failure::Interrupted => "interrupted".to_string(),
        })
    };
    let (record, places, mut remarks) = record::read(&source, &logs).map_err(|problems| refuse(&source, &problems))?;
    let proof = prove(&record).map_err(|error| match error {
        ProveError::Test(problem) => refuse(&source, &[places.locate(*problem)]),
        ProveError::Fit(error) => Failure::Input(format!("error: {}: {error}", source.name)),
    })?;
    remarks.extend(proof.warnings.iter().cloned().map(|problem| places.locate(problem)));
    crate::scenario::problem::sort(&mut remarks);
    Ok(LoadedRecord { source, record, proof, remarks })
}

/// The figures that a record or a kit file leaves of a station.
pub fn kit(path: &Path) -> Result<ProvedKit, Failure> {
    let text = text_of(path)?;
    if is_kit_file(&text) {
        let source = Source::new(path.display().to_string(), text);
        return kit_file::read(&source).map_err(|problems| refuse(&source, &problems));
    }
    proved(path, text)?.proof.kit.ok_or_else(|| {
        Failure::Input(format!(
            "error: {} holds no discharge, so it proves no capacity\n  = help: add a section [[capacity]]; see `tideover prove plan`",
            path.display()
        ))
    })
}

/// Where a scenario and the record it names speak of different units, and what the record overrules.
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
