//! The verdict on cells, inverter and meter each, and the wording of a claim.

use super::super::words::label;
use super::hazard::may_be_damaged;
use super::{Remark, efficiency, limits, share, wh, why_less, with};
use crate::math;
use crate::scenario::model::OutletKind;
use crate::scenario::record::Record;
use crate::scenario::record::model::{MeterCheck, Run};
use crate::study::prove::parts::{MeterVerdict, PartVerdict, Parts};
use crate::study::prove::{Delivered, Estimate, HEALTHY, Proof, Verdict, healthy};
use crate::visible::begun;

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
        PartVerdict::Sound if 1.05 < of_label.value => format!(
            "the cells would hold {held} of the label, of which no more than about 105 % can be; sound ones hold {least:.0} % or more."
        ),
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
fn inverter(record: &Record, proof: &Proof, parts: &Parts) -> Option<Part> {
    let ((draw, most_w, by_draw), (factor, most, by_factor)) = (parts.draw.as_ref()?, parts.factor.as_ref()?);
    let inverse = Estimate { value: 1.0 / factor.value, standard: factor.standard / math::powi(factor.value, 2) };
    let eats = format!("the inverter eats {} with nothing plugged in", with(draw, "W"));
    let passes = format!("passes on {} of the rest under the bench load", efficiency(&inverse));
    let typical = format!("typical are up to {most_w:.0} W, and {:.0} % or more", 100.0 / most);
    let (verdict, text) = match (by_draw, by_factor) {
        (PartVerdict::Weak, _) => (PartVerdict::Weak, format!("{eats}, more than is typical (up to {most_w:.0} W).")),
        (_, PartVerdict::Weak) => {
            (PartVerdict::Weak, format!("{eats} and {passes}, less than is typical ({:.0} % or more).", 100.0 / most))
        }
        (PartVerdict::NotTold, _) => {
            let more = tells_the_draw(record, proof).map_or(String::new(), |more| format!(": {more}"));
            (PartVerdict::NotTold, format!("what the inverter eats by itself the tests do not tell{more}."))
        }
        (PartVerdict::Doubtful, _) => (
            PartVerdict::Doubtful,
            format!(
                "{eats}, less than inverters do: did the outlet switch itself off in the night, or was a charge read wrong?{}",
                if may_be_damaged(record, proof) { "" } else { " Look, and test the draw again." }
            ),
        ),
        (PartVerdict::Sound, PartVerdict::Sound | PartVerdict::NotTold) => {
            (PartVerdict::Sound, format!("{eats}, as is typical (up to {most_w:.0} W)."))
        }
        _ => (PartVerdict::Open, format!("{eats} and {passes}; {typical}, which the tests leave open.")),
    };
    Some(Part { name: "inverter", word: word(verdict), text })
}

fn meter(record: &Record, verdict: &MeterVerdict) -> Part {
    let (word, text) = match verdict {
        MeterVerdict::Limits => {
            ("not_checked", "nothing speaks against the meter; it was not held against a known load.".to_string())
        }
        MeterVerdict::Checked(meters) => {
            let one = |(name, gain): &(String, Estimate)| {
                let (by, way) = if gain.value < 0.0 { (gain.scaled(-1.0), "low") } else { (*gain, "high") };
                let read: Vec<String> =
                    record.checks.iter().filter(|check| check.meter.name == *name).map(check_words).collect();
                format!(
                    "{}; with its maker's limits it is taken to read {} too {way}",
                    read.join("; "),
                    share(&Estimate { standard: gain.standard, ..by })
                )
            };
            let all: Vec<String> = meters.iter().map(one).collect();
            ("checked", format!("checked against a known load: {}. The figures allow for it.", all.join("; ")))
        }
        MeterVerdict::Contradicted(factor) => (
            "contradicted",
            format!(
                "the tests contradict each other, {factor:.1} times what the meters allow; the figures are widened for it."
            ),
        ),
        MeterVerdict::Doubtful => {
            ("doubtful", "these figures cannot all be right: check the meter, the clock and the label first.".into())
        }
    };
    Part { name: "meter", word, text }
}

/// The three, as far as they are told.
#[must_use]
pub fn three(record: &Record, proof: &Proof) -> Vec<Part> {
    let Some(parts) = &proof.parts else { return Vec::new() };
    let held = Part { name: "cells", word: word(parts.cells.2), text: cells(&parts.cells) };
    std::iter::once(held).chain(inverter(record, proof, parts)).chain([meter(record, &parts.meter)]).collect()
}

/// What is to be done to tell the inverter's draw, among the tests that were not made; nothing where all were, or the unit may be
/// damaged.
fn tells_the_draw(record: &Record, proof: &Proof) -> Option<&'static str> {
    if may_be_damaged(record, proof) {
        return None;
    }
    let at_ac = || proof.delivered.iter().filter(|test| test.outlet == OutletKind::Ac);
    let loads = || at_ac().filter(|test| !test.idle).map(|test| test.load_w);
    let (low, high) = (loads().fold(f64::INFINITY, f64::min), loads().fold(0.0, f64::max));
    match (low < 0.8 * high, at_ac().any(|test| test.idle)) {
        (false, false) => Some("a second load, or a night with nothing plugged in, does"),
        (false, true) => Some("a second load does"),
        (true, false) => Some("a night with nothing plugged in does"),
        (true, true) => None,
    }
}

/// What of a weak unit is weak, in a sentence; nothing for any other.
#[must_use]
pub fn what_is_weak(record: &Record, proof: &Proof) -> String {
    let (Some(Verdict::Weak), Some(parts)) = (proof.verdict, &proof.parts) else { return String::new() };
    let is = |part: &Option<(Estimate, f64, PartVerdict)>, verdict: PartVerdict| {
        part.as_ref().is_some_and(|(_, _, of)| *of == verdict)
    };
    let inverter = is(&parts.draw, PartVerdict::Weak) || is(&parts.factor, PartVerdict::Weak);
    let untold = is(&parts.draw, PartVerdict::NotTold);
    let more = tells_the_draw(record, proof).filter(|_| !record.capacities.is_empty());
    let tells = more.map_or(String::new(), |more| format!("; {more}"));
    match (parts.cells.2, inverter) {
        (PartVerdict::Weak, true) => " Both cells and inverter are weak.".into(),
        (PartVerdict::Weak, false) if untold => {
            let certain = more
                .map_or(String::new(), |more| format!("; {more} tell it for certain").replace(" does tell", " tells"));
            format!(" With an inverter as typical ones are it is the cells that are weak{certain}.")
        }
        (PartVerdict::Weak, false) => " The cells are what is weak.".into(),
        (PartVerdict::Sound, true) => " The inverter is what is weak.".into(),
        (PartVerdict::Sound, false) if untold => {
            format!(" The cells are sound; what the inverter takes the tests do not tell{tells}.")
        }
        (PartVerdict::Sound, false) => {
            " The cells are sound; whether the inverter takes more than is typical the tests leave open.".into()
        }
        (_, true) => " The inverter is weak; of the cells the tests leave it open.".into(),
        _ => format!(" Whether cells or inverter are weak the tests do not tell{tells}."),
    }
}

/// A claim in words that a seller can check: label, test, result, interval, and what is wrong beside it. Nothing where there is none to
/// make.
#[must_use]
pub fn claim(record: &Record, proof: &Proof, remarks: &[Remark]) -> Option<String> {
    let defects = record.defects();
    let weak = weak_claim(record, proof, remarks);
    if weak.is_none() && defects.is_empty() {
        return None;
    }
    let unit = match (&record.unit.model, &record.unit.serial_number) {
        (Some(model), Some(number)) => format!("The unit ({model}, serial number {number})"),
        (Some(model), None) => format!("The unit ({model})"),
        (None, Some(number)) => format!("The unit (serial number {number})"),
        (None, None) => "The unit".into(),
    };
    let sold = format!("{unit} is sold with {} on its label.", label(record.unit.rated_capacity.0));
    let defects = match (&weak, defects.is_empty()) {
        (_, true) => String::new(),
        (Some(_), _) => format!(" Besides: {}.", defects.join("; ")),
        (None, _) => {
            let day = record.date().map_or(String::new(), |date| format!(" as it was tested until {date}"));
            format!(" It has a defect{day}: {}.", defects.join("; "))
        }
    };
    Some(format!("{sold}{}{defects}", weak.unwrap_or_default()))
}

/// The part of a claim that speaks of a weak unit; nothing where it is not, or where AC was not tested.
fn weak_claim(record: &Record, proof: &Proof, remarks: &[Remark]) -> Option<String> {
    let (Some(Verdict::Weak), Some(of_label), Some((bench, true)), Some(fit)) =
        (proof.verdict, &proof.share, &proof.bench, &proof.fit)
    else {
        return None;
    };
    let bench_w = fit.bench_load_w();
    let rated_wh = record.unit.rated_capacity.0;
    let tests: Vec<String> = proof
        .delivered
        .iter()
        .filter_map(|delivered| Some(test_words(record, &record.capacities.get(delivered.place)?.run, delivered)))
        .collect();
    let checks: Vec<String> =
        record.checks.iter().map(|check| format!("{} ({})", check_words(check), check.name)).collect();
    let checks = if checks.is_empty() {
        String::new()
    } else {
        format!(
            " The meter was held against a known load: {}; the figures here are corrected for it.",
            checks.join("; ")
        )
    };
    let blamed = three(record, proof)
        .into_iter()
        .filter(|part| part.word == "weak")
        .map(|part| format!(" {}", begun(&part.text)));
    let weakens: Vec<&str> = remarks.iter().map(|remark| remark.text.trim_end_matches('.')).collect();
    let weakens =
        if weakens.is_empty() { String::new() } else { format!(" What weakens this: {}.", weakens.join("; ")) };
    Some(format!(
        " It was tested like this: {}.{checks} Worked out from all tests for {bench_w:.0} W, the load that units of this label are held \
         against, it gives {} through the AC outlet from full until it switches itself off, which is {} of the label; with 95 % \
         confidence it lies between {} %. Healthy units give {:.0} to {:.0} % (common practice, no source{}).{}{}{weakens}",
        tests.join("; "),
        wh(bench),
        share(of_label),
        between(of_label),
        100.0 * healthy(rated_wh, record.unit.chemistry).0,
        100.0 * HEALTHY.1,
        why_less(rated_wh, record.unit.chemistry),
        what_is_weak(record, proof),
        blamed.collect::<String>(),
    ))
}

/// The interval of a share in percent, rounded outwards with as many decimals as [`share`] has: "61.5 and 64.3".
fn between(of_label: &Estimate) -> String {
    let digits = usize::from(100.0 * of_label.plus_minus() < 9.5);
    let scale = if digits == 1 { 10.0 } else { 1.0 };
    let low = (scale * 100.0 * of_label.low() + 1e-9).floor().max(0.0) / scale;
    let high = (scale * 100.0 * of_label.high() - 1e-9).ceil() / scale;
    format!("{low:.digits$} and {high:.digits$}")
}

/// What a meter's check read.
pub(super) fn check_words(check: &MeterCheck) -> String {
    let off = 100.0 * (check.read.0 / check.known.value.0 - 1.0);
    let way = if off < 0.0 { "low" } else { "high" };
    format!(
        "{} read {} where {} ± {:.1} W flowed, {:.1} % too {way}",
        check.meter.name,
        check.read,
        check.known.value,
        check.known.plus_minus,
        off.abs()
    )
}

fn test_words(record: &Record, run: &Run, test: &Delivered) -> String {
    let day = run.start.map_or(String::new(), |start| format!("on {}, ", start.date()));
    let air = run.ambient.map_or(String::new(), |air| format!(" in air of {air}"));
    let (from, to, hours) = (run.charge.0.value, run.charge.1.value, run.lasted.0);
    if test.idle {
        return format!("{day}from {from} to {to} of its charge with nothing plugged in for {hours:.1} h{air}");
    }
    let checked = record.checks.iter().any(|check| check.meter.name == run.meter.name);
    let by = if checked {
        format!("{}, corrected by its check", run.meter.name)
    } else {
        format!("{} (± {} of the reading)", run.meter.name, limits(&run.meter))
    };
    format!(
        "{day}from {from} to {to} of its charge under {:.0} W for {hours:.1} h{air}, {:.0} Wh by {by}",
        test.load_w, test.measured.value
    )
}
