//! From the text of a record to its model, with every problem on the way.

use super::model::{CapacityTest, Meter, Metered, Record, SolarTest, Unit};
use super::run::{self, Context};
use super::solar;
use super::{agree, arrival};
use crate::scenario::amount::shown;
use crate::scenario::fields::{Fields, Findings};
use crate::scenario::model::{OutletKind, Site};
use crate::scenario::problem::Problem;
use crate::scenario::schema::RECORD;
use crate::scenario::source::{Places, Source};
use crate::scenario::{site, syntax};
use crate::units::Watts;

/// Reads a test record.
///
/// * `logs` — gives the text of a log by its name as written in the record, or says why it cannot.
///
/// # Errors
/// As [`crate::scenario::read()`]: every problem of a file that is TOML at once, sorted by place.
pub fn read(
    source: &Source,
    logs: &dyn Fn(&str) -> Result<String, String>,
) -> Result<(Record, Places, Vec<Problem>), Vec<Problem>> {
    let document = syntax::document(source, "record")?;
    let findings = Findings::new(Places::of(document.get_ref()), Some(&RECORD));
    let record = lower(&Fields::root(document.get_ref(), &RECORD, &findings), &findings, logs);
    findings.verdict(record)
}

fn lower(root: &Fields, findings: &Findings, logs: &dyn Fn(&str) -> Result<String, String>) -> Option<Record> {
    let unit = root.one("unit").and_then(arrival::unit);
    let site = root.one("site").and_then(site::read);
    let meters: Vec<Meter> = root.many("meter").iter().filter_map(run::meter).collect();
    let zone = site.as_ref().and_then(Site::clock);
    let context = Context { meters: &meters, zone: zone.as_ref(), logs };
    let checks = list(root, "meter_check", |fields, number| run::meter_check(fields, number, &context));
    let walls = list(root, "wall", |fields, number| run::wall(fields, number, &context));
    let capacities = list(root, "capacity", |fields, number| run::capacity(fields, number, &context));
    let solars = list(root, "solar", |fields, number| solar::solar(fields, number, &context));
    agree::checks(findings, &checks);
    if let Some(unit) = &unit {
        against_the_label(unit, &capacities, findings);
    }
    places_known(&solars, root.has("site"), findings);
    Some(Record {
        title: root.get("title")?,
        unit: unit?,
        site,
        arrival: root.one("arrival").map(arrival::arrival),
        checks: checks.into_iter().collect::<Option<_>>()?,
        walls: walls.into_iter().collect::<Option<_>>()?,
        capacities: capacities.into_iter().collect::<Option<_>>()?,
        solars: solars.into_iter().collect::<Option<_>>()?,
        outlets: root.all("outlet", arrival::outlet)?,
        noise: root.get("noise"),
        heat: root.get("heat"),
        tester: root.get("tester"),
        place: root.get("place"),
        photographs: root.get("photographs").unwrap_or_default(),
    })
}

fn list<T>(root: &Fields, name: &str, read: impl Fn(&Fields, usize) -> Option<T>) -> Vec<Option<T>> {
    (1..).zip(root.many(name)).map(|(number, fields)| read(fields, number)).collect()
}

/// No load can be above the inverter's power for long.
fn against_the_label(unit: &Unit, capacities: &[Option<CapacityTest>], findings: &Findings) {
    for (index, test) in capacities.iter().enumerate() {
        let Some(test) = test.as_ref().filter(|test| test.outlet == OutletKind::Ac) else { continue };
        let key = format!("capacity.{index}");
        let Some(inverter) = unit.inverter else {
            findings.push(
                Problem::error("unit.inverter", "is missing, and the AC outlet was tested")
                    .help("copy the inverter's power from the label: inverter = \"600 W\"")
                    .against(key, "at the AC outlet"),
            );
            return;
        };
        let (mean, most, what) = match &test.run.metered {
            Metered::Counted(energy) => (energy.value.0 / test.run.lasted.0, 0.0, "energy"),
            Metered::Steady(watts) => (watts.0, watts.0, "load"),
            Metered::Readings(readings) => {
                let watts = || readings.iter().map(|reading| reading.watts.0);
                (watts().sum::<f64>() / readings.len() as f64, watts().fold(0.0, f64::max), "readings")
            }
        };
        let key = format!("{key}.{what}");
        let allowed = format!("up to {inverter}");
        if inverter.0 < mean {
            findings.push(
                Problem::error(key, "is more than the inverter can give for long")
                    .found(format!("{} on the mean", shown::<Watts>((mean * 10.0).round() / 10.0)))
                    .allowed(allowed)
                    .help("check the units, the meter and the label")
                    .against("unit.inverter", "rated power"),
            );
        } else if inverter.0 < most {
            findings.push(
                Problem::warning(key, "holds a reading above the inverter's power")
                    .found(shown::<Watts>(most))
                    .allowed(allowed)
                    .help("a short surge is possible; else the meter reads high, and so does the capacity")
                    .against("unit.inverter", "rated power"),
            );
        }
    }
}

/// The sun's position needs a place.
fn places_known(solars: &[Option<SolarTest>], site_given: bool, findings: &Findings) {
    let by_the_sun = |test: &Option<SolarTest>| test.as_ref().is_none_or(|test| test.irradiance.is_none());
    if let (Some(first), false) = (solars.iter().position(by_the_sun), site_given) {
        findings.push(
            Problem::error("site", "is missing, and a panel was tested")
                .help("add a section [site] with latitude, longitude and timezone: the sun's height depends on them")
                .against(format!("solar.{first}"), "needs the sun's position"),
        );
    }
}
