//! Is a unit what its label says?

use jiff::civil::Date;

use super::{Answer, Trouble};
use crate::open::proof::ProvedRecord;
use crate::open::{Files, OpenError};
use crate::report::document::Photograph;
use crate::report::prove::weakness;
use crate::report::{json, new_record, proof_json, prove as words};
use crate::scenario::{Problem, Source, record};
use crate::study::prove::{Weakness, fade};

/// Judges the last by date of one unit's records; several show how it fades.
///
/// * `photographs` — of the last one, for its page; `today` — the day that days left are counted from.
///
/// # Errors
/// Records of several units, none at all, or too few days to show a fade.
pub fn prove(records: &[ProvedRecord], photographs: &[Photograph], today: Date) -> Result<Answer, Trouble> {
    let refused = |what: &str| Trouble::Question(what.to_string());
    let mut sorted: Vec<&ProvedRecord> = records.iter().collect();
    sorted.sort_by_key(|one| one.record.date());
    same_unit(&sorted)?;
    let pairs: Vec<_> = sorted.iter().map(|one| (&one.record, &one.proof)).collect();
    let fade = if sorted.len() > 1 {
        let fade = fade(&pairs).map_err(|error| Trouble::Question(format!("no fade can be fitted: {error}")))?;
        Some(fade.ok_or_else(|| refused("several records need discharges on different days to show a fade"))?)
    } else {
        None
    };
    let last = sorted.last().ok_or_else(|| refused("no record"))?;
    let remark = |(problem, weakness): (Problem, Option<&Weakness>)| {
        let label = problem.label();
        let rest = if label.is_empty() { label } else { format!(" ({label})") };
        let text = format!("{} {}{rest}.", weakness::subject(&problem), problem.what);
        words::Remark { key: problem.key, text, weakness: weakness.cloned() }
    };
    let mut remarks: Vec<words::Remark> = weakness::told(last).into_iter().map(remark).collect();
    remarks.extend(other_serial_numbers(&sorted));
    let facts = words::Facts {
        record: &last.record,
        proof: &last.proof,
        fade: fade.as_ref(),
        remarks: &remarks,
        photographs,
        today,
    };
    Ok(Answer {
        document: words::document(&facts),
        json: Some(json::text("proof", &proof_json::of(&facts))),
        partial: false,
    })
}

/// A record of bench tests to fill in, of a unit whose label a record tells.
///
/// # Errors
/// What is wrong with the label.
pub fn to_fill_in(source: &Source) -> Result<String, Trouble> {
    let none = |_: &str| Err("no tests yet".to_string());
    let (record, ..) =
        record::read(source, &none).map_err(|problems| Trouble::Open(OpenError::refused(source, problems)))?;
    Ok(new_record::of(&record.unit))
}

/// Most photographs of a record, and most bytes of each.
const PHOTOGRAPHS: (usize, usize) = (12, 2 << 20);

/// A photograph of a record for its page.
///
/// * `beside` — the files beside the record.
///
/// # Errors
/// Words for what is wrong with it, and what is allowed.
pub fn photograph(name: &str, beside: &dyn Files) -> Result<Photograph, String> {
    let shown = name.escape_debug();
    let bytes = beside.bytes(name).map_err(|error| format!("{shown}: {error}; allowed: files beside the record"))?;
    if bytes.len() > PHOTOGRAPHS.1 {
        let megabytes = bytes.len() as f64 / 1_048_576.0;
        return Err(format!("{shown} has {megabytes:.1} MB; allowed: up to 2 MB each; make it smaller"));
    }
    Photograph::of(name, &bytes).ok_or_else(|| format!("{shown} is neither JPEG nor PNG; allowed: JPEG and PNG"))
}

/// All photographs of a record.
///
/// # Errors
/// As [`photograph`], and too many of them.
pub fn photographs(names: &[String], beside: &dyn Files) -> Result<Vec<Photograph>, String> {
    if names.len() > PHOTOGRAPHS.0 {
        return Err(format!("{} of them; allowed: at most {}", names.len(), PHOTOGRAPHS.0));
    }
    names.iter().map(|name| photograph(name, beside)).collect()
}

/// What the tests leave of the unit, as a file that a scenario can name; `None` where no record holds a discharge.
#[must_use]
pub fn kit_file(records: &[ProvedRecord]) -> Option<String> {
    let last = records.iter().max_by_key(|one| one.record.date())?;
    last.proof.kit.as_ref().map(|kit| kit.to_toml(&last.source.name))
}

/// Records of other serial numbers than the last one's are most likely of other units.
fn other_serial_numbers(records: &[&ProvedRecord]) -> Option<words::Remark> {
    let number = |one: &ProvedRecord| one.record.unit.serial_number.clone();
    let last = records.last().and_then(|one| number(one))?;
    let differs = |one: &&&ProvedRecord| number(one).is_some_and(|other| other.trim() != last.trim());
    let others: Vec<String> = records
        .iter()
        .filter(differs)
        .map(|one| format!("{} in {}", number(one).unwrap_or_default(), one.source.name))
        .collect();
    (!others.is_empty()).then(|| words::Remark {
        key: "unit.serial_number".into(),
        text: format!(
            "Some records tell another serial number than the last one ({last}): {}. Two units make no trend.",
            others.join(", ")
        ),
        weakness: None,
    })
}

/// Records of different labels are not of one unit.
fn same_unit(records: &[&ProvedRecord]) -> Result<(), Trouble> {
    for pair in records.windows(2) {
        let (a, b) = (&pair[0].record.unit, &pair[1].record.unit);
        if (a.rated_capacity.0 - b.rated_capacity.0).abs() > 0.01 * a.rated_capacity.0 {
            return Err(Trouble::Question(format!(
                "{} says {} on the label and {} says {}: records of one unit are wanted",
                pair[0].source.name, a.rated_capacity, pair[1].source.name, b.rated_capacity
            )));
        }
    }
    Ok(())
}
