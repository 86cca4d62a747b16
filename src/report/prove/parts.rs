//! The verdict on cells, inverter and meter each, and the wording of a claim.

use super::super::words::label;
use super::{share, wh, why_less, with};
use crate::math;
use crate::scenario::record::Record;
use crate::scenario::record::model::Run;
use crate::study::prove::parts::{MeterVerdict, PartVerdict, Parts};
use crate::study::prove::{Estimate, HEALTHY, Proof, Verdict, healthy};

/// One of the three: its name, a word for its verdict, a sentence.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// `cells`, `inverter` or `meter`.
    pub name: &'static str,
    /// A word for programs.
    pub word: &'static str,
    /// The sentence.
    pub text: String,
}

fn word(verdict: PartVerdict) -> &'static str {
    match verdict {
        PartVerdict::Sound => "sound",
        PartVerdict::Weak => "weak",
        PartVerdict::Open => "open",
        PartVerdict::NotTold => "not_told",
        PartVerdict::Doubtful => "doubtful",
    }
}

fn cells((of_label, least, verdict): &(Estimate, f64, PartVerdict)) -> String {
    let (held, least) = (share(of_label), 100.0 * least);
    match verdict {
        PartVerdict::Sound => format!("the cells hold {held} of the label, as sound ones do ({least:.0} % or more)."),
        PartVerdict::Weak => {
            format!("the cells hold {held} of the label, less than sound ones do ({least:.0} % or more).")
        }
        PartVerdict::Doubtful => format!("there would be {held} of the label in them, more than cells can hold."),
        PartVerdict::Open | PartVerdict::NotTold => format!(
            "the cells hold {held} of the label; sound ones hold {least:.0} % or more, which the tests leave open."
        ),
    }
}

/// Draw and conversion together: the worse one says what the inverter is.
fn inverter(parts: &Parts) -> Option<Part> {
    let ((draw, most_w, by_draw), (factor, most, by_factor)) = (parts.draw.as_ref()?, parts.factor.as_ref()?);
    let inverse = Estimate { value: 1.0 / factor.value, standard: factor.standard / math::powi(factor.value, 2) };
    let eats = format!("the inverter eats {} with nothing plugged in", with(draw, "W"));
    let passes = format!("passes on {} of the rest under the bench load", share(&inverse));
    let typical = format!("typical are up to {most_w:.0} W, and {:.0} % or more", 100.0 / most);
    let (verdict, text) = match (by_draw, by_factor) {
        (PartVerdict::Weak, _) => (PartVerdict::Weak, format!("{eats}, more than is typical (up to {most_w:.0} W).")),
        (_, PartVerdict::Weak) => {
            (PartVerdict::Weak, format!("{eats} and {passes}, less than is typical ({:.0} % or more).", 100.0 / most))
        }
        (PartVerdict::NotTold, _) => (
            PartVerdict::NotTold,
            "what the inverter eats by itself the tests do not tell: a second load, or a night with nothing plugged in, does."
                .into(),
        ),
        (PartVerdict::Sound, PartVerdict::Sound | PartVerdict::NotTold) => {
            (PartVerdict::Sound, format!("{eats}, as is typical (up to {most_w:.0} W)."))
        }
        _ => (PartVerdict::Open, format!("{eats} and {passes}; {typical}, which the tests leave open.")),
    };
    Some(Part { name: "inverter", word: word(verdict), text })
}

fn meter(verdict: &MeterVerdict) -> Part {
    let (word, text) = match verdict {
        MeterVerdict::Limits => {
            ("not_checked", "nothing speaks against the meter; it was not held against a known load.".to_string())
        }
        MeterVerdict::Checked(meters) => {
            let one = |(name, gain): &(String, Estimate)| {
                let (by, way) = if gain.value < 0.0 { (gain.scaled(-1.0), "low") } else { (*gain, "high") };
                format!("{name} reads {} too {way}", share(&Estimate { standard: gain.standard, ..by }))
            };
            let all: Vec<String> = meters.iter().map(one).collect();
            ("checked", format!("checked against a known load: {}; the figures allow for it.", all.join(", ")))
        }
        MeterVerdict::Contradicted(factor) => (
            "contradicted",
            format!(
                "the tests contradict each other, {factor:.1} times what the meters allow; the figures are widened for it."
            ),
        ),
        MeterVerdict::Doubtful => (
            "doubtful",
            "more came out than a healthy unit gives: check the meter, the clock and the label first.".into(),
        ),
    };
    Part { name: "meter", word, text }
}

/// The three, as far as they are told.
#[must_use]
pub fn three(proof: &Proof) -> Vec<Part> {
    let Some(parts) = &proof.parts else { return Vec::new() };
    let held = Part { name: "cells", word: word(parts.cells.2), text: cells(&parts.cells) };
    std::iter::once(held).chain(inverter(parts)).chain([meter(&parts.meter)]).collect()
}

/// What of a weak unit is weak, in a sentence; nothing for any other.
#[must_use]
pub fn what_is_weak(proof: &Proof) -> String {
    let (Some(Verdict::Weak), Some(parts)) = (proof.verdict, &proof.parts) else { return String::new() };
    let weak = |part: &Option<(Estimate, f64, PartVerdict)>| {
        part.as_ref().is_some_and(|(_, _, verdict)| *verdict == PartVerdict::Weak)
    };
    let inverter = weak(&parts.draw) || weak(&parts.factor);
    match (parts.cells.2, inverter) {
        (PartVerdict::Weak, true) => " Both cells and inverter are weak.".into(),
        (PartVerdict::Weak, false) if parts.draw.as_ref().is_some_and(|(_, _, draw)| *draw == PartVerdict::NotTold) => {
            " With an inverter as typical ones are it is the cells that are weak; a second load tells it for certain."
                .into()
        }
        (PartVerdict::Weak, false) => " The cells are what is weak.".into(),
        (PartVerdict::Sound, true) => " The inverter is what is weak.".into(),
        (_, true) => " The inverter is weak; of the cells the tests leave it open.".into(),
        _ => " Whether cells or inverter are weak the tests do not tell; a second load does.".into(),
    }
}

/// A claim in words that a seller can check: label, test, result, interval. Nothing where there is none to make.
#[must_use]
pub fn claim(record: &Record, proof: &Proof) -> Option<String> {
    let (Some(Verdict::Weak), Some(of_label), Some((bench, true))) = (proof.verdict, &proof.share, &proof.bench) else {
        return None;
    };
    let rated_wh = record.unit.rated_capacity.0;
    let unit = match (&record.unit.model, &record.unit.serial_number) {
        (Some(model), Some(number)) => format!("The unit ({model}, serial number {number})"),
        (Some(model), None) => format!("The unit ({model})"),
        (None, Some(number)) => format!("The unit (serial number {number})"),
        (None, None) => "The unit".into(),
    };
    let tests: Vec<String> = record
        .capacities
        .iter()
        .zip(&proof.delivered)
        .filter(|(_, delivered)| !delivered.idle)
        .map(|(test, delivered)| test_words(&test.run, delivered.load_w, delivered.measured.value))
        .collect();
    Some(format!(
        "{unit} is sold with {} on its label. It was tested like this: {}. All tests together give {} through the AC outlet from full \
         until it switches itself off, which is {} of the label; with 95 % confidence it lies between {:.0} and {:.0} %. Healthy \
         units give {:.0} to {:.0} % (common practice, no source{}).{}{}",
        label(rated_wh),
        tests.join("; "),
        wh(bench),
        share(of_label),
        100.0 * of_label.low(),
        100.0 * of_label.high(),
        100.0 * healthy(rated_wh, record.unit.chemistry).0,
        100.0 * HEALTHY.1,
        why_less(rated_wh, record.unit.chemistry),
        what_is_weak(proof),
        defects(record),
    ))
}

/// What else is wrong with the unit as it came, for a claim; nothing where all was well.
fn defects(record: &Record) -> String {
    let dead = record.outlets.iter().filter(|test| !test.passed).map(|test| match &test.remark {
        Some(remark) => format!("the outlet \"{}\" does not work ({remark})", test.name),
        None => format!("the outlet \"{}\" does not work", test.name),
    });
    let came = record.arrival.iter().flat_map(|arrival| {
        let damage = arrival.damage.iter().map(|damage| format!("damage: {damage}"));
        damage.chain(arrival.missing().into_iter().map(|part| format!("missing from the box: {part}")))
    });
    let all: Vec<String> = dead.chain(came).collect();
    if all.is_empty() { String::new() } else { format!(" Besides: {}.", all.join("; ")) }
}

fn test_words(run: &Run, load_w: f64, measured_wh: f64) -> String {
    let day = run.start.map_or(String::new(), |start| format!("on {}, ", start.date()));
    format!(
        "{day}from {} to {} of its charge under {load_w:.0} W for {:.1} h, {measured_wh:.0} Wh by {} (± {} of the reading)",
        run.charge.0.value, run.charge.1.value, run.lasted.0, run.meter.name, run.meter.accuracy
    )
}
