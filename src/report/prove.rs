//! The proof of a unit as a document.

pub mod hazard;
pub mod parts;

use jiff::civil::Date;
use serde::Serialize;

use super::document::{Block, Cell, Column, Document, Photograph, Sheet, Table};
use super::figure::{Axis, Chart, Data, Figure, Picture, Points, Ranges};
use super::phrases::outlet;
use super::words::{duration, label, percent};
use crate::math;
use crate::scenario::record::Record;
use crate::scenario::record::model::{Meter, OutletTest};
use crate::study::prove::{
    Charged, Delivered, Estimate, Fade, Fit, HEALTHY, NoVerdict, PanelAnswer, PanelVerdict, Point, Proof, Told,
    Unknown, Verdict, healthy,
};

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
    format!("{:.digits$} ± {:.digits$} {unit}", estimate.value, (half * scale - 1e-9).ceil() / scale)
}

/// A share with its 95 % half-width in points: "84 ± 3 %".
#[must_use]
pub fn share(estimate: &Estimate) -> String {
    with(&estimate.scaled(100.0), "%")
}

/// A meter with its limits: "plug meter (± 1 % of the reading, last digit 0.1 W)".
fn meter(meter: &Meter) -> String {
    format!("{} (± {} of the reading, last digit {})", meter.name, meter.accuracy, meter.last_digit)
}

/// The verdict in a sentence or two.
pub(super) fn verdict(record: &Record, proof: &Proof) -> String {
    let (Some((bench, tested)), Some(of_label), Some(verdict), Some(fit)) =
        (&proof.bench, &proof.share, proof.verdict, &proof.fit)
    else {
        return "No discharge was tested, so nothing is proved about the capacity.".into();
    };
    let judged = match verdict {
        Verdict::Healthy => "This unit is healthy: the whole interval lies where healthy units lie or above.",
        Verdict::Weak => "This unit is weak: the whole interval lies below what healthy units give.",
        Verdict::Open => {
            "The tests leave it open: the interval holds both a healthy and a weak unit. A second full discharge, at another \
             load and with a better meter, narrows it."
        }
        Verdict::High => {
            "Check the meter: the whole interval lies above what healthy units give. Try the meter on a load that you know, and \
             look at the clock and the label."
        }
        Verdict::TooGood => {
            "This is more than can be believed: check the meter, the clock and the label before trusting anything here."
        }
    };
    let held = if verdict == Verdict::TooGood {
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
    let what = parts::what_is_weak(proof);
    format!(
        "Through the AC outlet a full charge gives {} under {:.0} W{how}: {} of the label's {}. Healthy units give \
         about {:.0} to {:.0} % (common practice, no source{}). {judged}{what}{held}",
        wh(bench),
        bench_w,
        share(of_label),
        label(record.unit.rated_capacity.0),
        healthy(record.unit.rated_capacity.0).0 * 100.0,
        HEALTHY.1 * 100.0,
        on_a_small_unit(record.unit.rated_capacity.0)
    )
}

/// Why the band of healthy units is wider on a small label; nothing where it is not.
#[must_use]
pub fn on_a_small_unit(rated_wh: f64) -> &'static str {
    if healthy(rated_wh).0 < HEALTHY.0 - 0.005 {
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
            // One step stands for all: that of the bench load.
            Unknown::Step(load_w) if *load_w == fit.bench_load_w() => {
                (format!("taken by a fan or another step at {load_w:.0} W of AC"), estimate, "W")
            }
            Unknown::Fall => ("lost for each C of rate beyond a fifth".into(), percent, "%"),
            Unknown::Gain(_) | Unknown::Step(_) => continue,
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
        Unknown::Discharge | Unknown::Wall | Unknown::Gain(_) | Unknown::Step(_) | Unknown::Fall => None,
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

/// One panel's verdict in words.
fn panel(answer: &PanelAnswer) -> String {
    let judged = match &answer.verdict {
        Ok(PanelVerdict::Good) => "as a good panel does".to_string(),
        Ok(PanelVerdict::Weak) => {
            "less than a good panel gives: look for shade, dirt, a bad plug or a wrong label".into()
        }
        Ok(PanelVerdict::Open) => "too close to tell".into(),
        Err(why) => format!("no verdict: {why}"),
    };
    let sun = answer.sun_height_deg.map_or(String::new(), |height| format!("sun {height:.0}° high, "));
    format!(
        "{} read where {} could be expected ({sun}{:.0} W/m² on the panel, cells at {:.0} °C): {}, {judged}.",
        with(&answer.measured, "W"),
        with(&answer.expected, "W"),
        answer.plane_w_m2,
        answer.cell_c,
        share(&answer.ratio),
    )
}

/// What is to be said of the arrival, one sentence each.
fn arrival(record: &Record, today: Date) -> Vec<String> {
    let Some(arrival) = &record.arrival else { return Vec::new() };
    let mut lines = Vec::new();
    if let Some(date) = arrival.date {
        lines.push(format!("Arrived on {date}."));
    }
    lines.push(match &arrival.damage {
        Some(damage) => format!(
            "Damage: {damage}. Photograph it and write to the seller before anything else; charge it where you see it."
        ),
        None => "No damage noted.".into(),
    });
    let missing = arrival.missing();
    if !arrival.packing_list.is_empty() {
        lines.push(if missing.is_empty() {
            "Everything on the packing list was in the box.".into()
        } else {
            format!("Missing from the box: {}.", missing.join(", "))
        });
    }
    if let Some(charge) = arrival.charge {
        let usual = if (0.3..=0.7).contains(&charge.0) { "as usual" } else { "unusual: units ship about half full" };
        lines.push(format!("Charge as delivered: {} ({usual}).", percent(charge.0)));
    }
    let left = |date: Date| (date.duration_since(today).as_secs_f64() / 86_400.0).round() as i64;
    let days = |date: Date| match left(date) {
        n if n < 0 => format!("{} days ago", -n),
        0 => "today".into(),
        1 => "1 day left".into(),
        n => format!("{n} days left"),
    };
    if let Some(date) = arrival.return_by {
        lines.push(format!("It can be sent back until {date} ({}).", days(date)));
    }
    if arrival.packaging_kept == Some(false) {
        lines.push("The packaging was not kept; most returns ask for it.".into());
    }
    if let Some(date) = arrival.warranty_until {
        lines.push(format!("The warranty ends on {date} ({}).", days(date)));
    }
    lines
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
}

/// The whole proof.
#[must_use]
pub fn document(facts: &Facts) -> Document {
    let &Facts { record, proof, fade, remarks, photographs, today } = facts;
    let rated_wh = record.unit.rated_capacity.0;
    let word = match proof.verdict {
        Some(Verdict::Healthy) => "Healthy",
        Some(Verdict::Weak) => "Weak",
        Some(Verdict::Open) => "Open",
        Some(Verdict::High) => "Check the meter",
        Some(Verdict::TooGood) => "To be doubted",
        None => "Not tested",
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
        out.figure(shares(proof, all, rated_wh));
    }
    let section = |out: &mut Document, heading: &str, lines: Vec<String>| {
        if !lines.is_empty() {
            out.head(heading).list(lines);
        }
    };
    let capital = |text: &str| text[..1].to_uppercase() + &text[1..];
    let three: Vec<String> = parts::three(proof).iter().map(|part| capital(&part.text)).collect();
    if !three.is_empty() {
        out.head("Cells, inverter, meter").say(three.join(" "));
    }
    section(&mut out, "Arrival", arrival(record, today));
    if !proof.delivered.is_empty() {
        out.head("Discharges (± holds 95 %)").table(discharges(proof, rated_wh)).list(doubts(proof));
    }
    if let Some(fit) = &proof.fit {
        out.head("What all tests together say of the unit").table(
            Table::new([Column::left("figure"), Column::left("value"), Column::left("how well")]).bare().rows(
                told(fit)
                    .into_iter()
                    .map(|(name, value, unit, told)| [name, with(&value, unit), told_words(told).into()]),
            ),
        );
        let pairs = entangled(fit);
        if !pairs.is_empty() {
            out.say(format!("Hard to tell apart, so a simulation draws them together: {}.", pairs.join("; ")));
        }
    }
    section(&mut out, "Charging from the wall", proof.charged.iter().map(charged).collect());
    section(&mut out, "Panels in the sun", panels(proof));
    if !record.outlets.is_empty() || record.noise.is_some() || record.heat.is_some() {
        out.head("Outlets").table(outlets(record));
        for (name, remark) in [("Noise", &record.noise), ("Heat", &record.heat)] {
            out.say(remark.as_ref().map_or(String::new(), |remark| format!("{name}: {remark}")));
        }
    }
    if let Some(fade) = fade {
        add_fade(&mut out, fade, rated_wh);
    }
    section(&mut out, "In the words of a claim", parts::claim(record, proof).into_iter().collect());
    section(&mut out, "What weakens this", remarks.iter().map(|remark| remark.text.clone()).collect());
    let used = record.meters_used();
    let mut meters: Vec<String> =
        used.iter().map(|(used, tests)| format!("{}: {}.", meter(used), tests.join(", "))).collect();
    meters.extend(record.checks.iter().map(|check| {
        format!(
            "{}: {} read {} where {} ± {:.1} W flowed.",
            check.name, check.meter.name, check.read, check.known.value, check.known.plus_minus
        )
    }));
    let with = if meters.is_empty() { "" } else { " with the meters named" };
    section(&mut out, "Meters", meters);
    if !photographs.is_empty() {
        out.head("Photographs");
        for photograph in photographs {
            out.add(Block::Photograph(photograph.clone()));
        }
    }
    let by = record.tester.as_deref().unwrap_or("the owner");
    out.head("Signed").say(format!(
        "Uncertainties after JCGM 100:2008 (GUM), 95 % intervals. Tested by {by}{with}; no laboratory's certificate.",
    ));
    out.say("Date and signature: ______________________________");
    out
}

/// Each discharge and all tests together as shares of the label, with the healthy band.
fn shares(proof: &Proof, all: &Estimate, rated_wh: f64) -> Figure {
    let tested = proof.delivered.iter().filter(|test| !test.idle);
    let mut entries: Vec<(String, Estimate)> =
        tested.map(|test| (test.name.clone(), test.full.scaled(1.0 / rated_wh))).collect();
    entries.push(("all tests together".into(), *all));
    let low = entries.iter().map(|(_, e)| e.low()).fold(0.6, f64::min).max(0.0);
    let high = entries.iter().map(|(_, e)| e.high()).fold(1.0, f64::max).min(1.5);
    let range = ((low * 10.0).floor() * 10.0, (high * 10.0).ceil() * 10.0);
    let (from, to) = healthy(rated_wh);
    let mut axis = Axis::new("", range, 6);
    axis.marks.iter_mut().for_each(|(_, label)| label.push_str(" %"));
    let column = |name: &str, of: fn(&Estimate) -> f64| {
        Data::numbers(name, "percent", entries.iter().map(|(_, e)| 100.0 * of(e)))
    };
    Figure {
        name: "shares",
        title: "Share of the label with its 95 % interval".into(),
        data: vec![
            Data::names("test", entries.iter().map(|(name, _)| name.clone())),
            column("low", Estimate::low),
            column("share", |estimate| estimate.value),
            column("high", Estimate::high),
        ],
        picture: Picture::Ranges(Ranges { axis, zero: None, band: Some((100.0 * from, 100.0 * to)) }),
        legend: format!(
            "Share of the label; lines hold 95 %. Shaded: {:.0} to {:.0} %, healthy units at the AC outlet under a load of a \
             fifth of the label in watts (common practice, no source{}).",
            from * 100.0,
            to * 100.0,
            on_a_small_unit(rated_wh)
        ),
        quiet: true,
    }
}

fn discharges(proof: &Proof, rated_wh: f64) -> Table {
    let row = |test: &Delivered| {
        let unless_idle = |text: String| if test.idle { "idle".to_string() } else { text };
        [
            test.name.clone(),
            outlet(test.outlet).into(),
            format!("{:.0} W", test.load_w),
            duration(test.hours),
            wh(&test.measured),
            unless_idle(wh(&test.full)),
            unless_idle(share(&test.full.scaled(1.0 / rated_wh))),
        ]
    };
    let words = ["test", "outlet"].map(Column::left);
    let numbers = ["load", "for", "came out", "from full to empty", "of label"].map(Column::right);
    Table::new(words.into_iter().chain(numbers)).rows(proof.delivered.iter().map(row))
}

/// What the doubt in each discharge comes from.
fn doubts(proof: &Proof) -> Vec<String> {
    let one = |test: &Delivered| {
        let all = math::powi(test.full.standard, 2);
        let causes = test.causes.iter().filter(|(_, u)| u * u > 0.02 * all);
        let causes: Vec<String> = causes.map(|(name, u)| format!("{name} {}", percent(u * u / all))).collect();
        format!("doubt in {}: {}", test.name, causes.join(", "))
    };
    proof.delivered.iter().filter(|test| !test.idle).map(one).collect()
}

fn charged(test: &Charged) -> String {
    let round = test.round_trip.as_ref().map_or(String::new(), |round| {
        format!(" Of what goes in at the wall {} comes out at the AC outlet.", share(round))
    });
    format!(
        "{}: a full charge takes {} and {} at {:.0} W.{round}",
        test.name,
        wh(&test.full),
        duration(test.hours_to_full),
        test.watts
    )
}

fn panels(proof: &Proof) -> Vec<String> {
    let mut hours = proof.hours_of_sun.iter();
    let one = |(name, answer): &(String, Result<PanelAnswer, NoVerdict>)| match answer {
        Ok(answer) => match hours.next() {
            Some(hours) if hours.is_finite() && *hours < 1e4 => {
                format!("{name}: {} From empty to full takes {} of such sun.", panel(answer), duration(*hours))
            }
            _ => format!("{name}: {}", panel(answer)),
        },
        Err(why) => format!("{name}: no verdict: {why}."),
    };
    proof.panels.iter().map(one).collect()
}

fn outlets(record: &Record) -> Table {
    let row = |test: &OutletTest| {
        [
            test.name.clone(),
            test.load.map_or(String::new(), |load| format!("{load}")),
            if test.passed { "works".into() } else { "FAILED".to_string() },
            test.remark.clone().unwrap_or_default(),
        ]
    };
    Table::new(["outlet", "load", "tried", "remark"].map(Column::left)).bare().rows(record.outlets.iter().map(row))
}

/// Several records of one unit.
fn add_fade(out: &mut Document, fade: &Fade, rated_wh: f64) {
    let points = || fade.points.iter();
    let most = points().map(|point| point.bench.high()).fold(rated_wh, f64::max);
    let row = |point: &Point| {
        let cycles = point.cycles.map_or(String::new(), |cycles| format!("{cycles:.0} cycles"));
        [point.date.to_string().into(), wh(&point.bench).into(), Cell::Bar(point.bench.value / most), cycles.into()]
    };
    let columns = [Column::left("date"), Column::right("delivered"), Column::left(""), Column::left("cycles")];
    out.head("Capacity over the years, at the AC outlet under the bench load");
    out.table(Table::new(columns).bare().rows(points().map(row)));
    let column = |name: &str, of: fn(&Estimate) -> f64| Data::numbers(name, "wh", points().map(|p| of(&p.bench)));
    let fitted = points().map(|point| fade.by_years.start.value + fade.by_years.slope.value * point.years);
    let last = fade.points.last().map_or(1.0, |point| point.years.max(0.1));
    let chart = Chart {
        x: Axis::new("years since the first record", (-0.02 * last, 1.02 * last), 5),
        y: Axis::new("Wh from full to empty", (0.0, 1.05 * most), 5),
        over: 1,
        rows: fade.points.len(),
        lines: vec![5],
        bands: Vec::new(),
        points: Some(Points { value: 3, low: 2, high: 4, names: None }),
        ..Chart::default()
    };
    out.figure(Figure {
        name: "fade",
        title: "Capacity over the years".into(),
        data: vec![
            Data::names("date", points().map(|point| point.date.to_string())),
            Data::numbers("after", "years", points().map(|point| point.years)),
            column("low", Estimate::low),
            column("delivered", |estimate| estimate.value),
            column("high", Estimate::high),
            Data::numbers("fitted", "wh", fitted),
        ],
        picture: Picture::Chart(chart),
        legend: "Strokes: what each record says, with its 95 % interval. Dashes: the straight line through them."
            .into(),
        quiet: false,
    });
    out.say(fade_words(fade));
}

/// What a fade means, in words.
fn fade_words(fade: &Fade) -> String {
    let yearly = share(&fade.by_years.relative);
    let mut line = if fade.by_years.slope.high() < 0.0 {
        format!("It changes by {yearly} a year.")
    } else {
        format!("A fade cannot be told from none yet: {yearly} a year.")
    };
    if let Some(by_cycles) = &fade.by_cycles {
        line.push_str(&format!(" Against cycles: {} for every hundred.", share(&by_cycles.relative.scaled(100.0))));
    }
    if let Some(years) = &fade.years_to_four_fifths {
        line.push_str(&format!(
            " If it goes on so, four fifths of the first capacity are left {} after the first record; that is a straight \
             line, not a promise.",
            with(years, "years")
        ));
    }
    line
}
