//! Checks that compare sections with each other.

mod panels;

use super::amount::shown;
use super::fields::Findings;
use super::model::{DailyCuts, Lasts, Load, OutletKind, Panel, Pattern, Priority, Scenario, Station};
use super::outage::LONGEST;
use super::problem::Problem;
use super::taken;
use crate::units::{Fraction, Hours, Watts};
pub(super) use panels::TOO_MANY_VOLTS;
use panels::{directions, panels_and_inputs};

/// What of a scenario could be read; list entries that could not are `None`, so that the others keep their numbers.
pub(super) struct Parts<'a> {
    pub station: Option<&'a Station>,
    pub latitude_deg: Option<f64>,
    pub panels: &'a [Option<Panel>],
    pub loads: &'a [Option<Load>],
    /// Whether there is a generator.
    pub generator: bool,
}

pub(super) fn run(parts: &Parts, findings: &Findings) {
    let names = entries("load", parts.loads).map(|(key, load)| (format!("{key}.name"), load.name.as_str()));
    let help = "give each load a name of its own, or use count for several of the same";
    taken::twice(names, str::to_lowercase, "load", Some(help)).into_iter().for_each(|problem| findings.push(problem));
    if let Some(station) = parts.station {
        panels_and_inputs(parts.panels, station, findings);
        one_efficiency(station, findings);
        loads_and_outlets(parts.loads, station, findings);
        sums(parts.loads, station, findings);
        if parts.generator && station.wall_charger.is_none() {
            let missing = Problem::error("generator", "has nothing to charge with")
                .help("add a section [station.wall_charger] with the watts on its label, or take the generator out")
                .against("station", "no wall charger");
            findings.push(missing);
        }
    }
    if let Some(latitude_deg) = parts.latitude_deg {
        directions(parts.panels, latitude_deg, findings);
    }
}

/// The entries that could be read, with their key paths.
fn entries<'a, T>(list: &'a str, items: &'a [Option<T>]) -> impl Iterator<Item = (String, &'a T)> {
    items.iter().enumerate().filter_map(move |(index, item)| Some((format!("{list}.{index}"), item.as_ref()?)))
}

/// Solar inputs have one efficiency.
fn one_efficiency(station: &Station, findings: &Findings) {
    let least = station.solar_efficiency();
    if let Some(better) = station.solar_inputs.iter().find(|input| least < input.efficiency) {
        let lowered =
            Problem::warning(format!("{}.efficiency", better.key), "is taken as that of the worst solar input")
                .found(better.efficiency.to_string())
                .allowed(format!("{least} for all of them (cautious)"));
        findings.push(lowered);
    }
}

/// The most power that an outlet gives for long, with the key that says so; `None` when the station lacks it.
pub(super) fn outlet_limit(station: &Station, kind: OutletKind) -> Option<(Watts, &'static str)> {
    match kind {
        OutletKind::Ac => station.inverter.as_ref().map(|inverter| (inverter.rated, "station.inverter.rated")),
        OutletKind::Dc => station.dc_outlet.map(|outlet| (outlet.limit, "station.dc_outlet.limit")),
        OutletKind::Usb => station.usb.map(|outlet| (outlet.limit, "station.usb.limit")),
    }
}

fn section_name(kind: OutletKind) -> &'static str {
    match kind {
        OutletKind::Ac => "inverter",
        OutletKind::Dc => "dc_outlet",
        OutletKind::Usb => "usb",
    }
}

fn section(kind: OutletKind) -> String {
    format!("[station.{}]", section_name(kind))
}

/// A rule that keeps a load off for good, or a vital one off while there is energy.
fn rule(key: &str, load: &Load, station: &Station, findings: &Findings) {
    let Some(off_below) = load.off_below else { return };
    let problem = |what: &str| Problem::warning(format!("{key}.off_below"), what).found(off_below.to_string());
    if station.charge_to <= off_below {
        let never = problem("is what the battery is charged to, or more: once off it stays off")
            .allowed(format!("below {}", station.charge_to))
            .help("write a lower off_below, or charge further")
            .against("station.charge_to", "charged no further");
        findings.push(never);
    } else if load.priority == Priority::Vital && off_below > Fraction::ZERO {
        let waits = problem("holds a vital load off while there is energy, and that counts as failure")
            .help("leave it out, or do not call the load vital");
        findings.push(waits);
    }
}

fn loads_and_outlets(loads: &[Option<Load>], station: &Station, findings: &Findings) {
    let lacking = |key: String| {
        Problem::error(key, "is an outlet that the station lacks").against("station", "has no such outlet")
    };
    if let Some(measured) = station.measured
        && outlet_limit(station, measured.outlet).is_none()
        && findings.clean(&format!("station.{}", section_name(measured.outlet)))
    {
        let key = "station.measured_at".to_string();
        let help = format!("name the outlet of the test, or add a section {}", section(measured.outlet));
        findings.push(lacking(key).help(help));
    }
    for (key, load) in entries("load", loads) {
        rule(&key, load, station, findings);
        match outlet_limit(station, load.outlet) {
            // A section that is there and cannot be used is told already.
            None if !findings.clean(&format!("station.{}", section_name(load.outlet))) => {}
            // Nobody knows what the outlet is of a thing that is none.
            None if !findings.clean(&format!("{key}.like")) => {}
            None => {
                let help = format!("add a section {}, or use another outlet", section(load.outlet));
                findings.push(lacking(format!("{key}.outlet")).help(help));
            }
            // More than it gives is judged with the rest of the kit; what charges does so slower.
            Some(_) => {}
        }
        if let Some((outlet, watts)) = load.could_use {
            let key = format!("{key}.could_use");
            match outlet_limit(station, outlet) {
                None if !findings.clean(&format!("station.{}", section_name(outlet))) => {}
                None => findings.push(
                    Problem::warning(key, "names an outlet that the station lacks")
                        .against("station", "has no such outlet"),
                ),
                Some((limit, limit_key)) if limit < watts => findings.push(
                    Problem::warning(key, "names an outlet that gives too little")
                        .found(format!("{watts} wanted there"))
                        .allowed(format!("up to {limit}"))
                        .against(limit_key, "the outlet's limit"),
                ),
                Some(_) => {}
            }
        }
    }
}

/// Vital loads that always run together must fit their outlet together.
fn sums(loads: &[Option<Load>], station: &Station, findings: &Findings) {
    for kind in [OutletKind::Ac, OutletKind::Dc, OutletKind::Usb] {
        let Some((limit, limit_key)) = outlet_limit(station, kind) else { continue };
        let steady: Vec<(String, &Load)> = entries("load", loads)
            .filter(|(_, load)| {
                load.outlet == kind && load.priority == Priority::Vital && load.pattern == Pattern::Steady
            })
            .collect();
        let total: Watts = steady.iter().map(|(_, load)| load.watts.value).sum();
        if let Some((key, _)) = steady.last()
            && 1 < steady.len()
            && limit < total
            && steady.iter().all(|(_, load)| load.watts.value <= limit)
        {
            let over = Problem::warning(format!("{key}.watts"), "and the other vital loads overload their outlet")
                .found(format!("{total} in all, all day"))
                .allowed(format!("up to {limit}"))
                .help("spread them over several outlets, or give some a lower priority")
                .against(limit_key, "the outlet's limit");
            findings.push(over);
        }
    }
}

/// Checks of a scenario that could be read whole. May lower a default that the file contradicts.
pub(super) fn whole(scenario: &mut Scenario, start_given: bool, findings: &Findings) {
    let (top, floor) = (scenario.station.charge_to, scenario.station.keep_above);
    if !start_given {
        let usual = &mut scenario.outage.starts_charged.value;
        *usual = Fraction(usual.0.min(top.0));
    }
    let start = scenario.outage.starts_charged.value;
    let (key, found) = ("outage.starts_charged", super::amount::shown::<Fraction>(start.0));
    if start <= floor {
        let empty = Problem::warning(key, "leaves nothing to use from the start")
            .found(found)
            .help("discharging stops at keep_above")
            .against("station.keep_above", "stops here");
        findings.push(empty);
    } else if top < start {
        let over = Problem::warning(key, "is above where charging stops")
            .found(found)
            .allowed(format!("up to {}", super::amount::shown::<Fraction>(top.0)))
            .against("station.charge_to", "stops here");
        findings.push(over);
    }
    super::ports::slow_down(scenario, findings);
    if let Some(k) = scenario.loads.iter().position(|load| load.medical)
        && scenario.outage.allow_unmet.0 > 0.0
    {
        let slack =
            Problem::warning("outage.allow_unmet", "counts outages as survived in which a medical device goes without")
                .found(scenario.outage.allow_unmet.to_string())
                .help("leave allow_unmet out, or give the device a scenario of its own")
                .against(format!("load.{k}.medical"), "a person's health hangs on this load");
        findings.push(slack);
    }
    cuts(scenario, findings);
    if scenario.second_station.is_some() {
        second_station(scenario, findings);
    }
    if scenario.panels.is_empty() {
        findings.push(Problem::note("panel", "is not given: the station runs on what it holds, without sun"));
    }
    if scenario.loads.iter().all(|load| load.priority != Priority::Vital) {
        let none = Problem::error("load", "has no vital entry, so no outage can count as failed")
            .help("write priority = \"vital\" for what must stay on");
        findings.push(none);
    }
}

/// The key that says the cuts.
fn cuts_key(cuts: &DailyCuts) -> &'static str {
    if cuts.windows.is_empty() { "outage.cuts_from" } else { "outage.every_day" }
}

/// What goes with cuts that come back alone, and what does not.
fn cuts(scenario: &Scenario, findings: &Findings) {
    let (outage, cuts) = (&scenario.outage, &scenario.outage.cuts);
    let key = cuts_key(cuts);
    let with_hours = [("happens", cuts.happens.0 < 1.0), ("wanders", cuts.wanders.0 > 0.0)];
    for (key, _) in with_hours.into_iter().filter(|(_, told)| *told && cuts.windows.is_empty()) {
        let alone = Problem::error(format!("outage.{key}"), "goes with every_day only")
            .help("write the hours of the cuts: every_day = [\"18:00-22:00\"], or leave it out");
        findings.push(alone);
    }
    if !cuts.any() && outage.mains_limit.is_some() {
        let alone = Problem::error("outage.mains_limit", "goes with every_day or cuts_from only").help(
            "in an outage from end to end there is no mains: write every_day = [\"18:00-22:00\"], or leave it out",
        );
        findings.push(alone);
    }
    if let (Lasts::Fixed(hours), false) = (outage.lasts, cuts.any())
        && LONGEST < hours
    {
        let long = Problem::error("outage.lasts", "is out of range")
            .found(shown::<Hours>(hours.0))
            .allowed(format!("up to {} for one outage from end to end", shown::<Hours>(LONGEST.0)))
            .help("cuts that come back may last up to a year: every_day = [\"18:00-22:00\"] says their hours");
        findings.push(long);
    }
    if cuts.any() && scenario.site.room.is_some() {
        let warmed = Problem::warning("site.room", "is left out beside cuts that come back")
            .help("between cuts the heating runs; where it does not, write the room's temperature: stands = \"12 °C\"")
            .against(key, "the cuts");
        findings.push(warmed);
    }
    if cuts.any() && scenario.station.wall_charger.is_none() {
        let none = Problem::warning(key, "charges nothing between the cuts: the station has no wall charger")
            .help("add a section [station.wall_charger] with the watts on its label");
        findings.push(none);
    }
    if cuts.vary() && scenario.generator.is_some() {
        let rests = Problem::warning("generator", "stands still in all hours in which a cut may come or not")
            .help("counted so (cautious): it is not known a day before whether to start it; ask with cuts alike on all days")
            .against(key, "cuts that differ from day to day");
        findings.push(rests);
    }
}

/// A second station feeds the first through its wall charger, and shares that with nothing else.
fn second_station(scenario: &Scenario, findings: &Findings) {
    let clash = |what: &str, help: &str, with: Option<&str>| {
        let clash = Problem::error("second_station", what).help(help);
        findings.push(match with {
            Some(key) => clash.against(key, "this"),
            None => clash,
        });
    };
    if scenario.station.wall_charger.is_none() {
        clash(
            "has nothing to charge with",
            "it refills the first station through its wall charger: add a section [station.wall_charger] with the watts on its \
             label",
            None,
        );
    }
    if scenario.generator.is_some() {
        clash(
            "does not go with a generator",
            "both would be plugged into the one wall charger: ask for each in a scenario of its own",
            Some("generator"),
        );
    }
    if scenario.outage.cuts.any() {
        clash(
            "does not go with cuts that come back",
            "between cuts it would be charged at home: leave it out, or add its capacity to the first station's",
            Some(cuts_key(&scenario.outage.cuts)),
        );
    }
}
