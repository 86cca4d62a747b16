//! From the text of a scenario to its record, with every problem on the way.

use super::checks::{self, Parts};
use super::fields::{Fields, Findings};
use super::model::Scenario;
use super::problem::Problem;
use super::schema::SCENARIO;
use super::source::{Places, Source};
use super::{charger, load, outage, panel, power_source, seen, site, size, station, variant, years};
use toml::de::DeTable;

/// Reads a scenario. On success the scenario comes with the places of its keys and with warnings and notes, if any; else
/// all problems come at once, sorted by place, at least one of them an error.
///
/// Relative paths stay as written; files are not looked at.
///
/// # Errors
/// Every problem of a file that is TOML, warnings and notes included; or the first syntax error alone, because one
/// forgotten bracket makes a parser see mistakes that are none.
pub fn read(source: &Source) -> Result<(Scenario, Places, Vec<Problem>), Vec<Problem>> {
    let document = super::syntax::document(source, "scenario")?;
    if let Some(other) = of_another_kind(document.get_ref()) {
        return Err(vec![other]);
    }
    let findings = Findings::new(Places::of(document.get_ref()), Some(&SCENARIO));
    let scenario = lower(&Fields::root(document.get_ref(), &SCENARIO, &findings), &findings);
    findings.verdict(scenario)
}

/// A file that answers another question, said once instead of key by key: a record of bench tests, a kit file, a catalogue.
fn of_another_kind(document: &DeTable) -> Option<Problem> {
    let has = |key: &str| document.contains_key(key);
    if ["load", "outage", "panel", "station"].iter().any(|key| has(key)) {
        return None;
    }
    let (what, help) = if has("unit") || has("capacity") || has("wall") {
        (
            "is a record of bench tests",
            "tideover prove FILE reads it; a scenario takes it in by proved = \"FILE\" in [station]",
        )
    } else if document.get("kit").is_some_and(|kit| kit.get_ref().is_table()) {
        ("is a kit file that a proof left", "a scenario takes it in by proved = \"FILE\" in [station]")
    } else if has("kit") {
        ("is a catalogue of kits", "tideover lineup FILE --cases FOLDER reads it")
    } else {
        return None;
    };
    Some(Problem { document: "file", ..Problem::error("", format!("{what}, not a scenario")) }.help(help))
}

fn lower(root: &Fields, findings: &Findings) -> Option<Scenario> {
    let site = root.one("site").and_then(site::read);
    let outage = root.one("outage").and_then(outage::read);
    let station = root.one("station").and_then(station::read);
    let panels: Vec<_> = (1..).zip(root.many("panel")).map(|(number, fields)| panel::read(fields, number)).collect();
    let loads: Vec<_> = root.many("load").iter().map(load::read).collect();
    let sources = root.all("source", power_source::read);
    power_source::names(root);
    let (seen, variants) = (root.all("seen", seen::read), root.all("variant", variant::read_one));
    let years = years::read(
        root,
        &years::Known {
            latitude_deg: site.as_ref().map(|site| site.latitude_deg),
            station: station.as_ref(),
            has_panels: !panels.is_empty(),
            loads: &loads,
            has_cuts: outage.as_ref().is_some_and(|outage| outage.cuts.any()),
        },
    );
    if root.has("load") && loads.is_empty() && findings.clean("load") {
        findings.push(Problem::error("load", "is empty").help("add a section [[load]] for what must stay on"));
    }
    let latitude_deg = site.as_ref().map(|site| site.latitude_deg);
    let generator = root.has("generator");
    checks::run(
        &Parts { station: station.as_ref(), latitude_deg, panels: &panels, loads: &loads, generator },
        findings,
    );
    let mut scenario = Scenario {
        title: root.get("title")?,
        site: site?,
        outage: outage?,
        station: station?,
        panels: panels.into_iter().collect::<Option<_>>()?,
        generator: root.one("generator").and_then(charger::generator),
        second_station: root.one("second_station").and_then(charger::second_station),
        sources: sources?,
        loads: loads.into_iter().collect::<Option<_>>()?,
        years,
        seen: seen?,
        variants: variants?,
        size: root.one("size").and_then(size::read),
    };
    if !findings.any_error() {
        let start_given = root.one("outage").is_some_and(|outage| outage.has("starts_charged"));
        checks::whole(&mut scenario, start_given, findings);
    }
    Some(scenario)
}
