//! The proof as one printable page: HTML that needs nothing else, drawings inside.

use std::fmt::Write as _;

use jiff::civil::Date;

use super::page::{Cell, Page, escape, list, paragraph, table};
use super::prove::{arrival, entangled, fade_words, meter, on_a_small_unit, outlet, panel, share, told, verdict, wh};
use super::words::{duration, energy, percent};
use crate::scenario::record::Record;
use crate::study::prove::{Estimate, Fade, Proof, Verdict, healthy};

/// What brings the proof of a unit onto one sheet of paper.
const ONE_SHEET: &str = "
@media print { body { font-size: 8pt; line-height: 1.25; } h1, h2 { font-size: 9.5pt; } h2 { margin: .45rem 0 .1rem;
  padding-top: .2rem; } .lead { font-size: 13pt; margin: 0; } p, li, ul { margin: .1rem 0; } ul { columns: 2; } table { font-size:
  8pt; } th, td { padding: .08rem .5rem .08rem 0; } svg { max-height: 32mm; } footer { margin-top: .4rem; font-size: 7pt; } }
@page { size: A4; margin: 10mm; }
";

/// A bar of shares with the healthy band: one mark and its interval for each entry.
fn shares(entries: &[(String, Estimate)], band: (f64, f64)) -> String {
    const LEFT: f64 = 170.0;
    const RIGHT: f64 = 690.0;
    let low = entries.iter().map(|(_, e)| e.low()).fold(0.6, f64::min).max(0.0);
    let high = entries.iter().map(|(_, e)| e.high()).fold(1.0, f64::max).min(1.5);
    let (low, high) = ((low * 10.0).floor() / 10.0, (high * 10.0).ceil() / 10.0);
    let x = |share: f64| LEFT + (share.clamp(low, high) - low) / (high - low) * (RIGHT - LEFT);
    let height = 34.0 + 26.0 * entries.len() as f64;
    let mut out = format!(
        "<svg viewBox=\"0 0 720 {height}\" role=\"img\"><title>Share of the label with its 95 % interval</title>\n\
         <rect x=\"{:.1}\" y=\"4\" width=\"{:.1}\" height=\"{:.1}\" fill=\"var(--wide)\"/>\n",
        x(band.0),
        x(band.1) - x(band.0),
        height - 26.0
    );
    let ticks = ((high - low) * 10.0).round() as usize;
    for tick in 0..=ticks {
        let at = low + tick as f64 / 10.0;
        let _ = writeln!(
            out,
            "<text class=\"mark\" x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{:.0} %</text>",
            x(at),
            height - 6.0,
            at * 100.0
        );
    }
    for (index, (name, estimate)) in entries.iter().enumerate() {
        let y = 20.0 + 26.0 * index as f64;
        let short: String = name.chars().take(24).collect();
        let _ = writeln!(
            out,
            "<text class=\"mark\" x=\"0\" y=\"{:.1}\">{}</text><line x1=\"{:.1}\" x2=\"{:.1}\" y1=\"{y:.1}\" y2=\"{y:.1}\" stroke=\"var(--a)\" \
             stroke-width=\"3\"/><circle cx=\"{:.1}\" cy=\"{y:.1}\" r=\"5\" fill=\"var(--a)\"/>",
            y + 4.0,
            escape(&short),
            x(estimate.low()),
            x(estimate.high()),
            x(estimate.value)
        );
    }
    out.push_str("</svg>\n");
    out
}

/// Capacity against time with the fitted line.
fn fade_chart(fade: &Fade) -> String {
    const LEFT: f64 = 60.0;
    const RIGHT: f64 = 700.0;
    let last = fade.points.last().map_or(1.0, |point| point.years.max(0.1));
    let top = fade.points.iter().map(|point| point.bench.high()).fold(0.0, f64::max) * 1.05;
    let x = |years: f64| LEFT + years / last * (RIGHT - LEFT - 10.0) + 5.0;
    let y = |energy_wh: f64| 200.0 - energy_wh.clamp(0.0, top) / top * 180.0;
    let line = |years: f64| fade.by_years.start.value + fade.by_years.slope.value * years;
    let mut out = format!(
        "<svg viewBox=\"0 0 720 230\" role=\"img\"><title>Capacity over the years</title>\n<line x1=\"{LEFT}\" x2=\"{RIGHT}\" \
         y1=\"200\" y2=\"200\" stroke=\"var(--rule)\"/><text class=\"mark\" x=\"0\" y=\"204\">0 Wh</text><text class=\"mark\" x=\"0\" \
         y=\"{:.1}\">{}</text>\n<line x1=\"{:.1}\" y1=\"{:.1}\" x2=\"{:.1}\" y2=\"{:.1}\" stroke=\"var(--soft)\" \
         stroke-dasharray=\"5 4\"/>\n",
        y(fade.by_years.start.value) + 4.0,
        energy(fade.by_years.start.value),
        x(0.0),
        y(line(0.0)),
        x(last),
        y(line(last))
    );
    for point in &fade.points {
        let _ = writeln!(
            out,
            "<line x1=\"{0:.1}\" x2=\"{0:.1}\" y1=\"{1:.1}\" y2=\"{2:.1}\" stroke=\"var(--a)\" stroke-width=\"2\"/><circle \
             cx=\"{0:.1}\" cy=\"{3:.1}\" r=\"4\" fill=\"var(--a)\"/><text class=\"mark\" x=\"{0:.1}\" y=\"220\" \
             text-anchor=\"middle\">{4}</text>",
            x(point.years).clamp(LEFT + 30.0, RIGHT - 30.0),
            y(point.bench.low()),
            y(point.bench.high()),
            y(point.bench.value),
            point.date
        );
    }
    out.push_str("</svg>\n");
    out
}

/// The page.
///
/// * `remarks` — what widens or weakens the answer, one sentence each; `fade` — where several records were given.
#[must_use]
pub fn page(record: &Record, proof: &Proof, fade: Option<&Fade>, remarks: &[String], today: Date) -> String {
    let rated = record.unit.rated_capacity.0;
    let word = match proof.verdict {
        Some(Verdict::Healthy) => "Healthy: ",
        Some(Verdict::Weak) => "Weak: ",
        Some(Verdict::Open) => "Open: ",
        Some(Verdict::High) => "Check the meter: ",
        Some(Verdict::TooGood) => "To be doubted: ",
        None => "Not tested",
    };
    let share_of =
        proof.share.as_ref().map_or(String::new(), |of| format!("{} of the label at the AC outlet", share(of)));
    let serial = record.unit.serial_number.as_ref().map_or(String::new(), |number| format!(", serial number {number}"));
    let last = record.date().map_or(String::new(), |date| format!(", last test {date}"));
    let mut sections = Vec::new();
    let mut add = |heading: &str, body: String| {
        if !body.is_empty() {
            sections.push((heading.to_string(), body));
        }
    };
    let delivered = || proof.delivered.iter().filter(|test| !test.idle);
    let mut judged = paragraph(&verdict(record, proof));
    if let Some(all) = &proof.share {
        let mut entries: Vec<(String, Estimate)> =
            delivered().map(|test| (test.name.clone(), test.full.scaled(1.0 / rated))).collect();
        entries.push(("all tests together".into(), *all));
        judged.push_str(&shares(&entries, healthy(rated)));
        judged.push_str(&paragraph(&format!(
            "Share of the label; lines hold 95 %. Shaded: {:.0} to {:.0} %, healthy units at the AC outlet under a load of a \
             fifth of the label in watts (common practice, no source{}).",
            healthy(rated).0 * 100.0,
            healthy(rated).1 * 100.0,
            on_a_small_unit(rated)
        )));
    }
    add("Verdict", judged);
    add("Arrival", some(&arrival(record, today)));
    add("Discharges", discharges(record, proof));
    add("What all tests together say of the unit", unit(proof));
    let panels: Vec<String> = proof
        .panels
        .iter()
        .map(|(name, answer)| match answer {
            Ok(answer) => format!("{name}: {}", panel(answer)),
            Err(why) => format!("{name}: no verdict: {why}."),
        })
        .collect();
    add("Panels in the sun", some(&panels));
    add("Outlets", outlets(record));
    add("Over the years", fade.map_or(String::new(), |fade| fade_chart(fade) + &paragraph(&fade_words(fade))));
    add("What weakens this", some(remarks));
    let meters: Vec<String> =
        record.meters_used().iter().map(|(used, tests)| format!("{}: {}.", meter(used), tests.join(", "))).collect();
    add("Meters", some(&meters));
    let with = if meters.is_empty() { "" } else { " with the meters named" };
    add(
        "Signed",
        paragraph(&format!(
            "Uncertainties after JCGM 100:2008 (GUM), 95 % intervals. Tested by the owner{with}; no laboratory's certificate.",
        )) + &paragraph("Date and signature: ______________________________"),
    );
    Page {
        title: record.title.clone(),
        lead: format!("{word}{share_of}"),
        under: format!("Bench proof of a unit with {} on its label{serial}{last}. Printed {today}.", energy(rated)),
        sections,
    }
    .html()
    .replacen("</style>", &format!("{ONE_SHEET}</style>"), 1)
}

fn some(lines: &[String]) -> String {
    if lines.is_empty() { String::new() } else { list(lines) }
}

fn discharges(record: &Record, proof: &Proof) -> String {
    if proof.delivered.is_empty() {
        return String::new();
    }
    let rows: Vec<Vec<Cell>> = proof
        .delivered
        .iter()
        .map(|test| {
            let all = test.full.standard.powi(2);
            let unless_idle = |text: String| if test.idle { "idle".to_string() } else { text };
            let causes: Vec<String> = test
                .causes
                .iter()
                .filter(|(_, u)| !test.idle && u * u > 0.05 * all)
                .map(|(name, u)| format!("{name} {}", percent(u * u / all)))
                .collect();
            vec![
                Cell::Text(test.name.clone()),
                Cell::Text(format!("{}, {:.0} W", outlet(test.outlet), test.load_w)),
                Cell::Text(duration(test.hours)),
                Cell::Number(wh(&test.measured)),
                Cell::Number(unless_idle(wh(&test.full))),
                Cell::Number(unless_idle(share(&test.full.scaled(1.0 / record.unit.rated_capacity.0)))),
                Cell::Text(causes.join(", ")),
            ]
        })
        .collect();
    table(&["test", "outlet, load", "ran for", "came out", "full to empty", "of label", "doubt comes from"], &rows)
}

fn unit(proof: &Proof) -> String {
    let Some(fit) = &proof.fit else { return String::new() };
    let row = |name: String, value: String, word: String| vec![Cell::Text(name), Cell::Number(value), Cell::Text(word)];
    let mut rows: Vec<Vec<Cell>> =
        told(fit).into_iter().map(|(name, value, word)| row(name, value, word.to_string())).collect();
    for test in &proof.charged {
        rows.push(row(format!("{}: a full charge takes", test.name), wh(&test.full), duration(test.hours_to_full)));
        if let Some(round) = &test.round_trip {
            rows.push(row("from the wall to the AC outlet".into(), share(round), String::new()));
        }
    }
    let mut out = table(&["figure", "value", "how well"], &rows);
    let pairs = entangled(fit);
    if !pairs.is_empty() {
        out.push_str(&paragraph(&format!("Hard to tell apart: {}.", pairs.join("; "))));
    }
    out
}

fn outlets(record: &Record) -> String {
    let rows: Vec<Vec<Cell>> = record
        .outlets
        .iter()
        .map(|test| {
            let passed = if test.passed { "works" } else { "FAILED" };
            vec![
                Cell::Text(test.name.clone()),
                Cell::Number(test.load.map_or(String::new(), |load| load.to_string())),
                Cell::Text(passed.into()),
                Cell::Text(test.remark.clone().unwrap_or_default()),
            ]
        })
        .collect();
    let mut out = if rows.is_empty() { String::new() } else { table(&["outlet", "load", "", "remark"], &rows) };
    for (name, remark) in [("Noise", &record.noise), ("Heat", &record.heat)] {
        if let Some(remark) = remark {
            out.push_str(&paragraph(&format!("{name}: {remark}")));
        }
    }
    out
}
