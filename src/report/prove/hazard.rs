//! What to do with a unit that a proof finds damaged.

use crate::scenario::record::Record;
use crate::study::prove::Proof;
use crate::study::prove::parts::PartVerdict;

/// Cells that hold less of their label than this, all of the interval counted, are not merely weak. No source.
const FAR_BELOW: f64 = 0.6;

/// Words of an owner's remark that speak of a hazard.
const SIGNS: [&str; 18] = [
    "swell", "swoll", "bulg", "smok", "smell", "smelt", "hiss", "leak", "burn", "scorch", "melt", "crack", "dent",
    "spark", "shock", "too hot", "very hot", "puff",
];

/// Why the unit may be dangerous, one reason each; none where nothing points to it.
fn reasons(record: &Record, proof: &Proof) -> Vec<String> {
    let mut all = Vec::new();
    if record.arrival.as_ref().is_some_and(|arrival| arrival.damage.is_some()) {
        all.push("it came damaged".to_string());
    }
    let outlets = record.outlets.iter().filter_map(|test| test.remark.as_ref());
    let remarks = record.heat.iter().chain(&record.noise).chain(outlets);
    let told = |remark: &&String| SIGNS.iter().any(|sign| remark.to_lowercase().contains(sign));
    all.extend(remarks.filter(told).map(|remark| format!("somebody noted \"{remark}\"")));
    if record.tripped().next().is_some() {
        all.push("it may have switched itself off in the midst of a run".into());
    }
    let cells = proof.parts.as_ref().map(|parts| &parts.cells);
    if let Some((held, _, PartVerdict::Weak)) = cells
        && held.high() < FAR_BELOW
    {
        all.push(format!("its cells hold {:.0} % of their label", 100.0 * held.value));
    }
    all
}

/// Whether something points to damage: then nobody is told to test it further.
#[must_use]
pub fn may_be_damaged(record: &Record, proof: &Proof) -> bool {
    !reasons(record, proof).is_empty()
}

/// What to do with such a unit; nothing where nothing points to damage. The usual cautions with lithium and lead-acid batteries.
#[must_use]
pub fn caution(record: &Record, proof: &Proof) -> Option<String> {
    let reasons = reasons(record, proof);
    if reasons.is_empty() {
        return None;
    }
    Some(format!(
        "Caution, this unit may be damaged: {}. Do not charge it indoors or unattended, and stop using it until its maker or a \
         workshop has looked at it. Do not open it. If it can be moved without harm, put it outdoors or on stone, away from \
         people and from anything that burns. If it smokes, hisses, swells or gets too hot to touch, keep away and call the fire \
         service. A damaged battery goes neither into the bin nor by post as it is: before you send it back ask the seller how it \
         travels; what nobody takes back is for the local waste service. Its maker's manual and local rules come first.",
        reasons.join("; ")
    ))
}
