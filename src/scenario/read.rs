//! From the text of a scenario to its record, with every problem on the way.

use super::checks::{self, Parts};
use super::fields::{Fields, Findings};
use super::forms::Text;
use super::model::Scenario;
use super::problem::{self, Problem};
use super::source::{Places, Source};
use super::{charger, load, outage, panel, seen, site, size, station, variant, years};
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
    let (document, errors) = DeTable::parse_recoverable(&source.text);
    if let Some(error) = errors.first() {
        return Err(vec![super::syntax::explain(&source.text, error.message(), error.span())]);
    }
    let findings = Findings::new(Places::of(document.get_ref()));
    let scenario = lower(document.get_ref(), &findings);
    let failed = findings.any_error();
    let (mut problems, places) = findings.into_parts();
    problem::sort(&mut problems);
    match scenario {
        Some(scenario) if !failed => Ok((scenario, places, problems)),
        _ => Err(problems),
    }
}

fn lower(document: &DeTable, findings: &Findings) -> Option<Scenario> {
    let mut root = Fields::root(document, findings);
    let title = root.or("title", &Text, "Untitled".to_string());
    let site = root.required_table("site").and_then(|fields| section(fields, site::read));
    let outage = root.required_table("outage");
    let start_given = outage.as_ref().is_some_and(|fields| fields.has("starts_charged"));
    let outage = outage.and_then(|fields| section(fields, outage::read));
    let station = root.required_table("station").and_then(|fields| section(fields, station::read));
    let panels: Vec<_> = (1..)
        .zip(root.tables("panel"))
        .map(|(number, fields)| section(fields, |fields| panel::read(fields, number)))
        .collect();
    let has_generator = root.has("generator");
    let generator = root.table("generator").and_then(|fields| section(fields, charger::generator));
    let _ = root.required_item("load", "", "[[");
    let loads: Vec<_> = root.tables("load").into_iter().map(|fields| section(fields, load::read)).collect();
    let seen: Vec<_> = root.tables("seen").into_iter().map(|fields| section(fields, seen::read)).collect();
    let variants: Vec<_> =
        root.tables("variant").into_iter().map(|fields| section(fields, variant::from_fields)).collect();
    let size_given = root.has("size");
    let size = root.table("size").and_then(|fields| section(fields, size::read));
    let no_loads = root.has("load") && loads.is_empty() && findings.clean("load");
    let years = years::read(
        &mut root,
        &years::Known {
            latitude_deg: site.as_ref().map(|site| site.latitude_deg),
            station: station.as_ref(),
            has_panels: !panels.is_empty(),
            loads: &loads,
        },
    );
    root.finish();
    if no_loads {
        findings.push(Problem::error("load", "is empty").help("add a section [[load]] for what must stay on"));
    }
    let latitude_deg = site.as_ref().map(|site| site.latitude_deg);
    let parts =
        Parts { station: station.as_ref(), latitude_deg, panels: &panels, loads: &loads, generator: has_generator };
    checks::run(&parts, findings);
    let mut scenario = Scenario {
        title,
        site: site?,
        outage: outage?,
        station: station?,
        panels: panels.into_iter().collect::<Option<_>>()?,
        generator: if has_generator { Some(generator?) } else { None },
        loads: loads.into_iter().collect::<Option<_>>()?,
        years,
        seen: seen.into_iter().collect::<Option<_>>()?,
        variants: variants.into_iter().collect::<Option<_>>()?,
        size: if size_given { Some(size?) } else { None },
    };
    if !findings.any_error() {
        checks::whole(&mut scenario, start_given, findings);
    }
    Some(scenario)
}

/// Reads a section and reports what is left over in it.
fn section<'t, T>(mut fields: Fields<'t>, read: impl FnOnce(&mut Fields<'t>) -> Option<T>) -> Option<T> {
    let section = read(&mut fields);
    fields.finish();
    section
}
