//! The proof as one printable page: HTML that needs nothing else, drawings inside.

use std::fmt::Write as _;

use jiff::civil::Date;

use super::prove::{arrival, entangled, fade_words, outlet, panel, share, told, verdict, wh};
use super::words::{duration, energy, percent};
use crate::scenario::record::Record;
use crate::study::prove::{Estimate, Fade, HEALTHY, Proof, Verdict};

const STYLE: &str = "
:root { color-scheme: light dark; --ink: #1b1f24; --soft: #5b6570; --line: #c9d0d8; --page: #fff; --band: #cfe6d4;
  --mark: #205493; }
@media (prefers-color-scheme: dark) { :root { --ink: #e6e9ec; --soft: #9aa5b1; --line: #3b444e; --page: #14181c;
  --band: #24452d; --mark: #8ab4e8; } }
* { box-sizing: border-box; }
body { font: 15px/1.45 system-ui, sans-serif; color: var(--ink); background: var(--page); max-width: 46rem; margin: 2rem auto;
  padding: 0 1rem; }
h1 { font-size: 1.5rem; margin: 0 0 .2rem; } h2 { font-size: 1.05rem; margin: 1.3rem 0 .4rem; }
p { margin: .4rem 0; } .soft { color: var(--soft); } .verdict { border-left: 4px solid var(--mark); padding: .3rem .8rem; }
table { border-collapse: collapse; width: 100%; font-size: .92em; } th, td { text-align: left; padding: .25rem .5rem .25rem 0;
  border-bottom: 1px solid var(--line); vertical-align: top; } th { font-weight: 600; }
ul { margin: .3rem 0; padding-left: 1.2rem; } svg { width: 100%; height: auto; } svg text { fill: var(--ink); font: 12px
  system-ui, sans-serif; } .fail { font-weight: 700; } .sign { margin-top: 1.6rem; border-top: 1px solid var(--line); width: 18rem;
  padding-top: .2rem; }
@page { size: A4; margin: 14mm; }
@media print { :root { --ink: #000; --soft: #444; --line: #999; --page: #fff; --band: #d5ead9; --mark: #000; }
  body { margin: 0; max-width: none; font-size: 10.5pt; padding: 0; } h2 { break-after: avoid; } table, svg, ul { break-inside:
  avoid; } }
";

/// Text made safe inside HTML.
fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

fn row(out: &mut String, tag: &str, cells: &[String]) {
    out.push_str("<tr>");
    for cell in cells {
        let _ = write!(out, "<{tag}>{}</{tag}>", escape(cell));
    }
    out.push_str("</tr>\n");
}

fn list(out: &mut String, heading: &str, lines: &[String]) {
    if lines.is_empty() {
        return;
    }
    let _ = writeln!(out, "<h2>{}</h2>\n<ul>", escape(heading));
    for line in lines {
        let _ = writeln!(out, "<li>{}</li>", escape(line));
    }
    out.push_str("</ul>\n");
}

/// A bar of shares with the healthy band: one mark and its interval for each entry.
fn shares(entries: &[(String, Estimate)]) -> String {
    const LEFT: f64 = 170.0;
    const RIGHT: f64 = 690.0;
    let low = entries.iter().map(|(_, e)| e.low()).fold(0.6, f64::min).max(0.0);
    let high = entries.iter().map(|(_, e)| e.high()).fold(1.0, f64::max).min(1.5);
    let (low, high) = ((low * 10.0).floor() / 10.0, (high * 10.0).ceil() / 10.0);
    let x = |share: f64| LEFT + (share.clamp(low, high) - low) / (high - low) * (RIGHT - LEFT);
    let height = 34.0 + 26.0 * entries.len() as f64;
    let mut out = format!(
        "<svg viewBox=\"0 0 720 {height}\" role=\"img\"><title>Share of the label with its 95 % interval</title>\n\
         <rect x=\"{:.1}\" y=\"4\" width=\"{:.1}\" height=\"{:.1}\" fill=\"var(--band)\"/>\n",
        x(HEALTHY.0),
        x(HEALTHY.1) - x(HEALTHY.0),
        height - 26.0
    );
    let ticks = ((high - low) * 10.0).round() as usize;
    for tick in 0..=ticks {
        let at = low + tick as f64 / 10.0;
        let _ = writeln!(
            out,
            "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{:.0} %</text>",
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
            "<text x=\"0\" y=\"{:.1}\">{}</text><line x1=\"{:.1}\" x2=\"{:.1}\" y1=\"{y:.1}\" y2=\"{y:.1}\" stroke=\"var(--mark)\" \
             stroke-width=\"3\"/><circle cx=\"{:.1}\" cy=\"{y:.1}\" r=\"5\" fill=\"var(--mark)\"/>",
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
         y1=\"200\" y2=\"200\" stroke=\"var(--line)\"/><text x=\"0\" y=\"204\">0 Wh</text><text x=\"0\" \
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
            "<line x1=\"{0:.1}\" x2=\"{0:.1}\" y1=\"{1:.1}\" y2=\"{2:.1}\" stroke=\"var(--mark)\" stroke-width=\"2\"/><circle \
             cx=\"{0:.1}\" cy=\"{3:.1}\" r=\"4\" fill=\"var(--mark)\"/><text x=\"{0:.1}\" y=\"220\" \
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
    let title = escape(&record.title);
    let rated = record.unit.rated_capacity.0;
    let mut out = format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" \
         content=\"width=device-width, initial-scale=1\">\n<title>Proof: {title}</title>\n<style>{STYLE}</style>\n</head>\n\
         <body>\n<h1>{title}</h1>\n<p class=\"soft\">Bench proof of a unit with {} on its label. Printed {today}.{}</p>\n",
        energy(rated),
        record.date().map_or(String::new(), |date| format!(" Last test: {date}."))
    );
    let word = match proof.verdict {
        Some(Verdict::Healthy) => "Healthy. ",
        Some(Verdict::Weak) => "Weak. ",
        Some(Verdict::Open) => "Open. ",
        Some(Verdict::TooGood) => "To be doubted. ",
        None => "",
    };
    let _ = writeln!(out, "<p class=\"verdict\"><strong>{word}</strong>{}</p>", escape(&verdict(record, proof)));
    let mut entries: Vec<(String, Estimate)> =
        proof.delivered.iter().map(|test| (test.name.clone(), test.full.scaled(1.0 / rated))).collect();
    if let Some(all) = &proof.share {
        entries.push(("all tests together".into(), *all));
        out.push_str(&shares(&entries));
        let _ = writeln!(
            out,
            "<p class=\"soft\">Share of the label; lines hold 95 %. Shaded: {:.0} to {:.0} %, healthy units at the AC outlet \
             under a load of a fifth of the label in watts (common practice, no source).</p>",
            HEALTHY.0 * 100.0,
            HEALTHY.1 * 100.0
        );
    }
    list(&mut out, "Arrival", &arrival(record, today));
    tests(&mut out, record, proof);
    unit(&mut out, proof);
    let panels: Vec<String> = proof
        .panels
        .iter()
        .map(|(name, answer)| match answer {
            Ok(answer) => format!("{name}: {}", panel(answer)),
            Err(why) => format!("{name}: no verdict: {why}."),
        })
        .collect();
    list(&mut out, "Panels in the sun", &panels);
    outlets(&mut out, record);
    if let Some(fade) = fade {
        let _ = writeln!(out, "<h2>Over the years</h2>\n{}<p>{}</p>", fade_chart(fade), escape(&fade_words(fade)));
    }
    list(&mut out, "What weakens this", remarks);
    out.push_str(
        "<p class=\"soft\">Uncertainties after JCGM 100:2008 (GUM), 95 % intervals. Tested by the owner with the meters named; \
         no laboratory's certificate.</p>\n<p class=\"sign\">Date, signature</p>\n</body>\n</html>\n",
    );
    out
}

fn tests(out: &mut String, record: &Record, proof: &Proof) {
    if proof.delivered.is_empty() {
        return;
    }
    out.push_str("<h2>Discharges</h2>\n<table>\n");
    let heads = ["test", "outlet, load", "ran for", "came out", "full to empty", "of label", "doubt comes from"];
    row(out, "th", &heads.map(String::from));
    for test in &proof.delivered {
        let all = test.full.standard.powi(2);
        let causes: Vec<String> = test
            .causes
            .iter()
            .filter(|(_, u)| u * u > 0.05 * all)
            .map(|(name, u)| format!("{name} {}", percent(u * u / all)))
            .collect();
        row(
            out,
            "td",
            &[
                test.name.clone(),
                format!("{}, {:.0} W", outlet(test.outlet), test.load_w),
                duration(test.hours),
                wh(&test.measured),
                wh(&test.full),
                share(&test.full.scaled(1.0 / record.unit.rated_capacity.0)),
                causes.join(", "),
            ],
        );
    }
    out.push_str("</table>\n");
}

fn unit(out: &mut String, proof: &Proof) {
    let Some(fit) = &proof.fit else { return };
    out.push_str("<h2>What all tests together say of the unit</h2>\n<table>\n");
    for (name, value, word) in told(fit) {
        row(out, "td", &[name, value, word.to_string()]);
    }
    for test in &proof.charged {
        row(out, "td", &[format!("{}: a full charge takes", test.name), wh(&test.full), duration(test.hours_to_full)]);
        if let Some(round) = &test.round_trip {
            row(out, "td", &["from the wall to the AC outlet".into(), share(round), String::new()]);
        }
    }
    out.push_str("</table>\n");
    let pairs = entangled(fit);
    if !pairs.is_empty() {
        let _ = writeln!(out, "<p class=\"soft\">Hard to tell apart: {}.</p>", escape(&pairs.join("; ")));
    }
}

fn outlets(out: &mut String, record: &Record) {
    if !record.outlets.is_empty() {
        out.push_str("<h2>Outlets</h2>\n<table>\n");
        for test in &record.outlets {
            let load = test.load.map_or(String::new(), |load| load.to_string());
            let class = if test.passed { "" } else { " class=\"fail\"" };
            let word = if test.passed { "works" } else { "FAILED" };
            let remark = test.remark.as_deref().unwrap_or("");
            let _ = writeln!(
                out,
                "<tr><td>{}</td><td>{load}</td><td{class}>{word}</td><td>{}</td></tr>",
                escape(&test.name),
                escape(remark)
            );
        }
        out.push_str("</table>\n");
    }
    for (name, remark) in [("Noise", &record.noise), ("Heat", &record.heat)] {
        if let Some(remark) = remark {
            let _ = writeln!(out, "<p>{name}: {}</p>", escape(remark));
        }
    }
}
