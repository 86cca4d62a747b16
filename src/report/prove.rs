//! The proof of a unit as a document.

mod arrival;
mod fade;
pub mod hazard;
pub mod next;
pub mod parts;
mod tables;
pub mod weakness;

use crate::study::prove::Weakness;
use jiff::civil::Date;
use serde::Serialize;

use self::arrival::arrival;
use self::hazard::may_be_damaged;
use self::tables::{charged, discharges, doubts, other_loads, outlets, panels, shares};
use super::document::{Block, Column, Document, Photograph, Sheet, Table};
use super::phrases::outlet;
use super::words::label;
use crate::math;
use crate::scenario::model::{Chemistry, OutletKind};
use crate::scenario::record::Record;
use crate::scenario::record::model::Meter;
use crate::study::prove::{Delivered, Estimate, Fade, Fit, HEALTHY, Proof, Told, Unknown, Verdict, healthy, no_draw};
use crate::visible::begun;

/// An energy with its 95 % half-width: "453 ± 12 Wh".
#[must_use]
pub fn wh(estimate: &Estimate) -> String {
    with(estimate, "Wh")
}

/// A value with its 95 % half-width and a unit, the half-width with two digits at most and rounded upwards.
#[must_use]
pub fn with(estimate: &Estimate, unit: &str) -> String {
    let half = estimate.plus_minus();
    let digits = if half > 0.0 { (1.0 - math::log10(half).floor()).clamp(0.0, 2.0) as usize } else { 1 };
    let digits = if half >= 9.5 { 0 } else { digits.min(1) };
    let scale = math::powi(10.0, digits as i32);
    // Without a negative zero.
    let value = if (estimate.value * scale).abs() < 0.5 { 0.0 } else { estimate.value };
    format!("{value:.digits$} ± {:.digits$} {unit}", (half * scale - 1e-9).ceil() / scale)
}

/// A share with its 95 % half-width in points: "84 ± 3 %".
#[must_use]
pub fn share(estimate: &Estimate) -> String {
    with(&estimate.scaled(100.0), "%")
}

/// The limits of a meter: "7 %".
fn limits(meter: &Meter) -> String {
    format!("{} %", (meter.accuracy.0 * 1e6).round() / 1e4)
}

/// A share of which no more than all can be: "96 % (79 to 100 %)" where its interval reaches beyond.
#[must_use]
pub fn efficiency(estimate: &Estimate) -> String {
    if estimate.high() <= 1.0 {
        return share(estimate);
    }
    let percent = |share: f64| 100.0 * share.clamp(0.0, 1.0);
    format!("{:.0} % ({:.0} to 100 %)", percent(estimate.value), percent(estimate.low()).floor())
}

/// A fitted figure in words.
pub(super) fn figure_words(value: &Estimate, unit: &str) -> String {
    if unit == "%" { efficiency(&value.scaled(0.01)) } else { with(value, unit) }
}

/// A meter with its limits: "plug meter (± 1 % of the reading, last digit 0.1 W)".
fn meter(meter: &Meter) -> String {
    format!("{} (± {} of the reading, last digit {})", meter.name, limits(meter), meter.last_digit)
}

/// The verdict in a sentence or two.
pub(super) fn verdict(record: &Record, proof: &Proof) -> String {
    let (Some((bench, tested)), Some(of_label), Some(verdict), Some(fit)) =
        (&proof.bench, &proof.share, proof.verdict, &proof.fit)
    else {
        return untold(record, proof);
    };
    let judged = match verdict {
        Verdict::Healthy => "This unit is healthy: the whole interval lies where healthy units lie or above.",
        Verdict::Weak => "This unit is weak: the whole interval lies below what healthy units give.",
        Verdict::Low => {
            "The whole interval lies below what healthy units give at this load, and no part is weak: the label counts the cells, and \
             the inverter's typical draw takes the rest."
        }
        Verdict::Open => {
            let more =
                if may_be_damaged(record, proof) { String::new() } else { format!(" {}", narrows(record, proof)) };
            &format!("The tests leave it open: the interval holds both a healthy and a weak unit.{more}")
        }
        Verdict::High => {
            "Check the meter: the whole interval lies above what healthy units give. Try the meter on a load that you know, and \
             look at the clock and the label."
        }
        Verdict::TooGood if no_draw(fit).is_some() => {
            "This cannot be: the tests leave the inverter less than no draw of its own. Look at the charges at start and stop, at the wall \
             meter and at the clock before trusting anything here."
        }
        Verdict::TooGood => {
            "This is more than can be believed: check the meter, the clock and the label before trusting anything here."
        }
    };
    let held = if verdict == Verdict::TooGood && no_draw(fit).is_none() {
        format!(" There would be {} in the cells.", wh(&fit.cells()))
    } else {
        String::new()
    };
    let bench_w = fit.bench_load_w();
    let mut loads: Vec<String> = Vec::new();
    let at_ac = |test: &&Delivered| test.outlet == crate::scenario::model::OutletKind::Ac && !test.idle;
    for test in proof.delivered.iter().filter(at_ac) {
        let load = format!("{:.0} W", test.load_w);
        if !loads.contains(&load) {
            loads.push(load);
        }
    }
    // The verdict is for one load, whatever the tests ran at.
    let how = match (tested, loads.as_slice()) {
        (false, _) => ", the bench load (AC itself was not tested; typical losses are assumed)".to_string(),
        (true, [only]) if *only == format!("{bench_w:.0} W") => String::new(),
        (true, loads) => format!(", the bench load (tested at {})", loads.join(" and ")),
    };
    let what = parts::what_is_weak(record, proof);
    let besides = defects(record, |has| match verdict {
        Verdict::Healthy => format!("It has {has} all the same"),
        _ => format!("It also has {has}"),
    });
    format!(
        "Through the AC outlet a full charge gives {} under {:.0} W{how}: {} of the label's {}. Healthy units give \
         about {:.0} to {:.0} % (common practice, no source{}). {judged}{what}{held}{besides}",
        wh(bench),
        bench_w,
        share(of_label),
        label(record.unit.rated_capacity.0),
        healthy(record.unit.rated_capacity.0, record.unit.chemistry).0 * 100.0,
        HEALTHY.1 * 100.0,
        why_less(record.unit.rated_capacity.0, record.unit.chemistry)
    )
}

/// What is to be said where nothing tells what the unit holds.
fn untold(record: &Record, proof: &Proof) -> String {
    let besides = defects(record, |has| format!("It has {has}"));
    if record.capacities.is_empty() {
        return format!("No discharge was tested, so nothing is proved about the capacity.{besides}");
    }
    let draw = proof.fit.as_ref().and_then(|fit| fit.get(&Unknown::Draw(OutletKind::Ac)));
    let draw = draw.map_or(String::new(), |draw| {
        format!(" With cells as full as is usual for this label it draws {} with nothing plugged in.", with(&draw, "W"))
    });
    let more = if may_be_damaged(record, proof) { "" } else { " A full discharge tells that (tideover prove plan)." };
    format!(
        "Only idle runs were made: they tell the draw, and nothing of what the unit gives of its label.{draw}{more}{besides}"
    )
}

/// What is wrong with a unit beside what it gives, as a sentence; nothing where nothing is.
///
/// * `begun` — how the sentence begins, by "a defect" or "defects".
fn defects(record: &Record, begun: impl Fn(&str) -> String) -> String {
    let all = record.defects();
    match all.len() {
        0 => String::new(),
        n => format!(" {}: {}.", begun(if n == 1 { "a defect" } else { "defects" }), all.join("; ")),
    }
}

/// What narrows an open answer, among the tests that were not made.
fn narrows(record: &Record, proof: &Proof) -> String {
    let full = proof.delivered.iter().filter(|test| !test.idle && test.outlet == OutletKind::Ac).count();
    let cold = proof.fit.as_ref().is_some_and(|fit| fit.get(&Unknown::Cold).is_some());
    if cold {
        return "A full discharge in a room of about 20 °C narrows it.".into();
    }
    match full {
        0 => "A full discharge at the AC outlet narrows it.".into(),
        1 => "A second full discharge, at another load and with a better meter, narrows it.".into(),
        _ if record.checks.is_empty() => {
            "A check of the meter against a load that is known ([[meter_check]]) narrows it.".into()
        }
        _ => "Only a better meter narrows it.".into(),
    }
}

/// Why the band of healthy units is wider on a small label and for lead-acid cells; nothing where it is not.
#[must_use]
pub fn why_less(rated_wh: f64, chemistry: Chemistry) -> &'static str {
    if chemistry == Chemistry::LeadAcid {
        "; lithium from 80 %, but a lead-acid label holds over twenty hours, and this load empties it in five"
    } else if healthy(rated_wh, chemistry).0 < HEALTHY.0 - 0.005 {
        "; larger units from 80 %, but an inverter's own draw weighs more on a unit this small"
    } else {
        ""
    }
}

/// A fitted unknown: what it is called, its value with a unit, and how well it is told.
pub(super) type Fitted = (String, Estimate, &'static str, Told);

/// All fitted unknowns.
#[must_use]
pub(super) fn told(fit: &Fit) -> Vec<Fitted> {
    let mut rows = vec![("in the cells when full".to_string(), fit.cells(), "Wh", fit.told(&Unknown::Usable))];
    for unknown in &fit.unknowns {
        let Some(estimate) = fit.get(unknown) else { continue };
        let inverse = |e: &Estimate| Estimate { value: 1.0 / e.value, standard: e.standard / (e.value * e.value) };
        let percent = estimate.scaled(100.0);
        let (name, value, unit) = match unknown {
            Unknown::Usable => ("at the converters when full".to_string(), estimate, "Wh"),
            Unknown::Discharge => ("efficiency out of the cells".into(), percent, "%"),
            Unknown::Charge => ("efficiency into the cells".into(), percent, "%"),
            Unknown::Wall => ("efficiency of the wall charger".into(), percent, "%"),
            Unknown::Draw(kind) => (format!("draw with {} on, nothing plugged in", outlet(*kind)), estimate, "W"),
            Unknown::Factor(kind) => {
                (format!("conversion to {} beyond that", outlet(*kind)), inverse(&estimate).scaled(100.0), "%")
            }
            // Where the tests tell them well. One step stands for all: that of the bench load.
            Unknown::Step(load_w) if *load_w == fit.bench_load_w() && fit.told(unknown) == Told::Well => {
                (format!("taken by a fan or another step at {load_w:.0} W of AC"), estimate, "W")
            }
            Unknown::Fall if fit.told(unknown) == Told::Well => {
                ("lost for each C of rate beyond a fifth".into(), percent, "%")
            }
            Unknown::Gain(_) | Unknown::Step(_) | Unknown::Fall | Unknown::Cold => continue,
        };
        rows.push((name, value, unit, fit.told(unknown)));
    }
    rows
}

/// How well something is told, in words.
fn told_words(told: Told) -> &'static str {
    match told {
        Told::Well => "told by the tests",
        Told::Partly => "partly told",
        Told::NotAtAll => "not told: typical figure",
    }
}

/// Pairs of unknowns that the tests can hardly tell apart, in words.
fn entangled(fit: &Fit) -> Vec<String> {
    let name = |unknown: &Unknown| match unknown {
        Unknown::Usable => Some("capacity".to_string()),
        Unknown::Draw(kind) => Some(format!("draw with {} on", outlet(*kind))),
        Unknown::Factor(kind) => Some(format!("conversion to {}", outlet(*kind))),
        Unknown::Charge => Some("charging efficiency".into()),
        Unknown::Discharge | Unknown::Wall | Unknown::Gain(_) | Unknown::Step(_) | Unknown::Fall | Unknown::Cold => {
            None
        }
    };
    let mut pairs = Vec::new();
    for a in 0..fit.unknowns.len() {
        for b in a + 1..fit.unknowns.len() {
            // A converter's factor is the inverse of what people call its conversion.
            let turned = |unknown: &Unknown| if matches!(unknown, Unknown::Factor(_)) { -1.0 } else { 1.0 };
            let r = fit.correlation(a, b) * turned(&fit.unknowns[a]) * turned(&fit.unknowns[b]);
            if let (true, Some(first), Some(second)) = (r.abs() > 0.7, name(&fit.unknowns[a]), name(&fit.unknowns[b])) {
                pairs.push(format!("{first} and {second} (correlation {r:+.2})"));
            }
        }
    }
    pairs
}

/// All that `prove` knows of a unit.
#[derive(Debug, Clone, Copy)]
pub struct Facts<'a> {
    /// The record that is judged.
    pub record: &'a Record,
    /// What it proves.
    pub proof: &'a Proof,
    /// How the unit changed, where several records were given.
    pub fade: Option<&'a Fade>,
    /// What widens or weakens the answer.
    pub remarks: &'a [Remark],
    /// Photographs for the page.
    pub photographs: &'a [Photograph],
    /// The day that days left are counted from.
    pub today: Date,
}

/// Something that widens or weakens a proof.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Remark {
    /// Dotted path of the record's key that it hangs on.
    pub key: String,
    /// What it is, as a sentence.
    pub text: String,
    /// The same as a fact, where the tests themselves are weak in something.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weakness: Option<Weakness>,
}

/// The whole proof.
#[must_use]
pub fn document(facts: &Facts) -> Document {
    let &Facts { record, proof, fade, remarks, photographs, today } = facts;
    let rated_wh = record.unit.rated_capacity.0;
    let word = match proof.verdict {
        Some(Verdict::Healthy) => "Healthy",
        Some(Verdict::Weak) => "Weak",
        Some(Verdict::Low) => "Low, its parts sound",
        Some(Verdict::Open) => "Open",
        Some(Verdict::High) => "Check the meter",
        Some(Verdict::TooGood) => "To be doubted",
        None => "Not tested",
    };
    let word = match record.defects().len() {
        0 => word.to_string(),
        1 => format!("{word}, with a defect"),
        _ => format!("{word}, with defects"),
    };
    let of_label = proof.share.as_ref().map(|of| format!(": {} of the label at the AC outlet", share(of)));
    let serial = record.unit.serial_number.as_ref().map_or(String::new(), |number| format!(", serial number {number}"));
    let last = record.date().map_or(String::new(), |date| format!(", last test {date}"));
    let mut out = Document::new(record.title.clone());
    out.sheet = Sheet::Small;
    out.lead(format!("{word}{}.", of_label.unwrap_or_default())).say(verdict(record, proof));
    out.caution(hazard::caution(record, proof).unwrap_or_default());
    let model = record.unit.model.as_ref().map_or(String::new(), |model| format!(" ({model})"));
    let named =
        |word: &str, what: &Option<String>| what.as_ref().map_or(String::new(), |what| format!(", {word} {what}"));
    out.under(format!(
        "Bench proof of a unit{model} with {} on its label{serial}{last}{}{}. Written {today}.",
        label(rated_wh),
        named("tested by", &record.tester),
        named("at", &record.place)
    ));
    if let Some(all) = &proof.share {
        out.figure(shares(record, proof, all));
    }
    let section = |out: &mut Document, heading: &str, lines: Vec<String>| {
        if !lines.is_empty() {
            out.head(heading).list(lines);
        }
    };
    let three: Vec<String> = parts::three(record, proof).iter().map(|part| begun(&part.text)).collect();
    if !three.is_empty() {
        out.head("Cells, inverter, meter").say(three.join(" "));
    }
    section(&mut out, "Arrival", arrival(record, today));
    if !proof.delivered.is_empty() {
        out.head("Discharges (± holds 95 %)").table(discharges(proof, rated_wh)).say(other_loads(proof));
        out.list(doubts(proof));
    }
    if let Some(fit) = &proof.fit {
        out.head("What all tests together say of the unit").table(
            Table::new([Column::left("figure"), Column::left("value"), Column::left("how well")]).bare().rows(
                told(fit)
                    .into_iter()
                    .map(|(name, value, unit, told)| [name, figure_words(&value, unit), told_words(told).into()]),
            ),
        );
        let pairs = entangled(fit);
        if !pairs.is_empty() {
            out.say(format!("Hard to tell apart, so a simulation draws them together: {}.", pairs.join("; ")));
        }
    }
    section(&mut out, "Charging from the wall", proof.charged.iter().map(charged).collect());
    section(&mut out, "Panels in the sun", panels(record, proof));
    if !record.outlets.is_empty() || record.noise.is_some() || record.heat.is_some() {
        out.head("Outlets").table(outlets(record));
        for (name, remark) in [("Noise", &record.noise), ("Heat", &record.heat)] {
            out.say(remark.as_ref().map_or(String::new(), |remark| format!("{name}: {remark}")));
        }
    }
    if let Some(fade) = fade {
        fade::add_fade(&mut out, fade, rated_wh);
    }
    section(&mut out, "In the words of a claim", parts::claim(record, proof, remarks).into_iter().collect());
    section(&mut out, "What weakens this", remarks.iter().map(|remark| remark.text.clone()).collect());
    let used = record.meters_used();
    let mut meters: Vec<String> =
        used.iter().map(|(used, tests)| format!("{}: {}.", meter(used), tests.join(", "))).collect();
    meters.extend(record.checks.iter().map(|check| format!("{}: {}.", check.name, parts::check_words(check))));
    let with = if meters.is_empty() { "" } else { " with the meters named" };
    section(&mut out, "Meters", meters);
    if !photographs.is_empty() {
        out.head("Photographs");
        for photograph in photographs {
            out.add(Block::Photograph(photograph.clone()));
        }
    }
    section(&mut out, "What to do now", next::next(facts).into_iter().map(|told| told.text).collect());
    let by = record.tester.as_deref().unwrap_or("the owner");
    out.head("Signed").say(format!(
        "Uncertainties after JCGM 100:2008 (GUM), 95 % intervals. Tested by {by}{with}; no laboratory's certificate.",
    ));
    out.say("Date and signature: ______________________________");
    out
}
