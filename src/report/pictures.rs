//! The pictures of an outage.

mod charge;

pub use charge::{charge, charge_with_outages};

use super::figure::{Axis, Band, Chart, Data, Figure, Flows, Picture, Ranges, Strip};
use super::outage::{Judged, Sources, judged_by};
use super::words::energy;
use crate::engine::ledger::Flow;
use crate::engine::{Ledger, Plan};
use crate::scenario::model::Lasts;
use crate::study::course::{self, Sun};
use crate::study::outage::OutageAnswer;
use crate::trials::Tally;

/// Whether outages are of varying length.
fn varies(plan: &Plan) -> bool {
    matches!(plan.season.outage.lasts, Lasts::LogNormal { .. })
}

/// From when hours are counted.
fn since(plan: &Plan) -> &'static str {
    if plan.cuts_come_back() { "the spell began" } else { "the lights went out" }
}

/// Nights over so many hours from the midnight before the lights went out, or from the step in which they did.
fn nights(plan: &Plan, hours: f64, from_midnight: bool) -> Vec<(f64, f64)> {
    let (day, step) = course::begins(&plan.season);
    let Some(ahead) = (if from_midnight { Some(0.0) } else { step.map(|step| step as f64 * plan.season.step_h) })
    else {
        return Vec::new();
    };
    let of_a_day = course::nights(&plan.season, day);
    let days = 0..=((hours + ahead) / 24.0).ceil() as u32;
    let shifted = days.flat_map(|day| {
        let to = move |hour: f64| (f64::from(day) * 24.0 + hour - ahead).clamp(0.0, hours);
        of_a_day.iter().map(move |(from, until)| (to(*from), to(*until)))
    });
    let mut out: Vec<(f64, f64)> = Vec::new();
    for (from, to) in shifted.filter(|(from, to)| from < to) {
        match out.last_mut() {
            // Evening and morning are one night.
            Some((_, end)) if (*end - from).abs() < 1e-9 => *end = to,
            _ => out.push((from, to)),
        }
    }
    out
}

/// When each load is dark, by the clock.
#[must_use]
pub fn dark(plan: &Plan, tally: &Tally) -> Figure {
    let season = &plan.season;
    let an_hour = ((1.0 / season.step_h).round() as usize).max(1);
    let enough = (tally.trials as f64 / 20.0).max(1.0);
    let loads: Vec<Vec<_>> = (0..plan.loads.len()).map(|k| tally.dark.stretches(k, an_hour)).collect();
    let hours = loads.first().map_or(0, Vec::len);
    // Where hardly any outage runs yet or still, shares say little and are not drawn.
    let drawn = |k: usize, hour: usize| {
        let stretch = &loads[k][hour];
        stretch.share.filter(|_| stretch.running >= enough).map_or(f64::NAN, |share| 100.0 * share)
    };
    let last = (0..hours).rev().find(|&hour| loads[0][hour].running >= enough).map_or(0, |hour| hour + 1);
    let clock = Data::numbers("clock", "h", (0..last).map(|hour| hour as f64));
    let running = (0..last).map(|hour| loads.first().map_or(f64::NAN, |load| load[hour].running));
    let running = Data::numbers("outages_running", "", running);
    let rows = plan.loads.iter().enumerate().map(|(k, load)| {
        Data::numbers(load.name.clone(), "percent", (0..last).map(move |hour| drawn(k, hour)).collect::<Vec<_>>())
    });
    let strip = Strip {
        x: Axis::clock((last as f64).max(1.0)),
        over: 0,
        each: 1.0,
        shown: (2..2 + plan.loads.len()).collect(),
        nights: nights(plan, last as f64, true),
    };
    Figure {
        name: "dark",
        title: "When each load is dark, hour by hour, as a share of the outages running then".into(),
        data: [clock, running].into_iter().chain(rows).collect(),
        picture: Picture::Strip(strip),
        legend: format!(
            "How high a row stands is how many of the outages {} at that hour the load goes without in. Each row has a scale of its \
             own: its top is its highest hour, told above it. Night is shaded and underlined. Day 1 is the day on which {}, and the \
             clock runs from its midnight; hours at which fewer than a twentieth of the outages run are left out.",
            if varies(plan) { "still going on" } else { "running" },
            if plan.cuts_come_back() { "the spell begins" } else { "the lights go out" },
        ),
        quiet: false,
    }
}

/// Share of the outages that still ride through, with its range.
#[must_use]
pub fn riding(plan: &Plan, answer: &OutageAnswer) -> Figure {
    let tally = &answer.tally;
    let course = course::riding(plan, answer);
    // To where a twentieth of the outages still run, or to the last failure: behind it nothing changes.
    let rows = (tally.fan.steps_with_a_twentieth().max(tally.failure_step.len()) + 1).min(course.len());
    let course = &course[..rows];
    let column = |name: &str, of: fn(&course::Riding) -> f64| {
        Data::numbers(name, "percent", course.iter().map(|at| 100.0 * of(at)))
    };
    let so_far = match judged_by(plan) {
        Judged::Power => "everything vital has stayed on so far",
        Judged::Food => "no food is lost so far",
        Judged::Both => "everything vital has stayed on and no food is lost so far",
    };
    let chart = Chart {
        x: Axis::hours(course.last().map_or(1.0, |at| at.after_h).max(plan.season.step_h), since(plan)),
        y: Axis::new("of 100 outages", (0.0, 100.0), 5),
        over: 0,
        rows,
        lines: vec![2],
        bands: vec![Band { low: 1, high: 3, holds: "its 95 % range" }],
        nights: nights(plan, course.last().map_or(0.0, |at| at.after_h), false),
        first_line: "outages in 100 that still ride through",
        ..Chart::default()
    };
    Figure {
        name: "riding",
        title: format!("Outages in a hundred in which {so_far}"),
        data: vec![
            Data::numbers("after", "h", course.iter().map(|at| at.after_h)),
            column("riding_low", |at| at.interval.low),
            column("riding", |at| at.share),
            column("riding_high", |at| at.interval.high),
        ],
        picture: Picture::Chart(chart),
        legend: format!(
            "Line: outages in 100 in which {so_far}; band: its 95 % range, of chance and of what nobody has measured. Where the line \
             ends is the answer."
        ),
        quiet: false,
    }
}

/// A part of the account: what it is called, and whether it is lost or left over.
type Part = (&'static str, f64, bool);

/// What comes in and goes out in a mean outage, in few parts \[Wh\]: as much in as out.
fn parts(mean: &Ledger, sources: &Sources) -> ([Part; 4], Vec<Part>) {
    let into = [
        ("battery at start", mean[Flow::Start], false),
        ("sun on the panels", mean[Flow::Solar], false),
        (sources.at_the_charger, mean[Flow::Wall], false),
        (sources.others, mean[Flow::Source], false),
    ];
    let total: f64 = into.iter().map(|(_, wh, _)| wh).sum();
    let served = [
        ("AC outlet", mean[Flow::ServedAc], false),
        ("DC outlet", mean[Flow::ServedDc], false),
        ("USB", mean[Flow::ServedUsb], false),
    ];
    let lost = [
        ("converters", mean[Flow::AcLoss] + mean[Flow::DcLoss] + mean[Flow::UsbLoss], true),
        ("cells, in and out", mean[Flow::ChargingLoss] + mean[Flow::DischargingLoss], true),
        ("chargers", mean[Flow::SolarInputLoss] + mean[Flow::WallLoss] + mean[Flow::SourceLoss], true),
        ("warming the cells", mean[Flow::Heater], true),
        ("station itself", mean[Flow::OwnDraw], true),
        ("cells, standing", mean[Flow::SelfDischarge], true),
    ];
    // What cells refuse by their temperature is told by itself where that is much of it.
    let barred_wh = mean[Flow::Barred];
    let barred = ("sun the cells refuse", barred_wh, true);
    let (refused, not_taken_wh) = match barred_wh < 0.01 * total {
        true => (None, mean[Flow::Curtailed]),
        false => (Some(barred), mean[Flow::Curtailed] - barred_wh),
    };
    let left = [("sun not taken", not_taken_wh, true), ("left at the end", mean[Flow::End], true)];
    // What is next to nothing is told in one.
    let (small, large): (Vec<Part>, Vec<Part>) = lost.into_iter().partition(|(_, wh, _)| *wh < 0.01 * total);
    let small = ("other losses", small.iter().map(|(_, wh, _)| wh).sum(), true);
    (into, served.into_iter().chain(large).chain([small]).chain(refused).chain(left).collect())
}

/// Where the energy comes from and goes in a mean outage, as flows.
#[must_use]
pub fn flows(mean: &Ledger, sources: &Sources) -> Figure {
    let (into, out) = parts(mean, sources);
    let rows: Vec<(&str, Part)> = (into.into_iter().map(|part| ("in", part)))
        .chain(out.into_iter().map(|part| ("out", part)))
        .filter(|(_, (_, wh, _))| *wh > 0.0)
        .collect();
    let total: f64 = rows.iter().filter(|(side, _)| *side == "in").map(|(_, (_, wh, _))| wh).sum();
    Figure {
        name: "energy",
        title: "Where the energy comes from and where it goes, in a mean outage".into(),
        data: vec![
            Data::names("side", rows.iter().map(|(side, _)| *side)),
            Data::names("what", rows.iter().map(|(_, (what, ..))| *what)),
            Data::numbers("energy", "wh", rows.iter().map(|(_, (_, wh, _))| *wh)),
            Data::numbers("share", "percent", rows.iter().map(|(_, (_, wh, _))| 100.0 * wh / total.max(1e-12))),
        ],
        picture: Picture::Flows(Flows {
            told: rows.iter().map(|(_, (_, wh, _))| energy(*wh)).collect(),
            lost: rows.iter().map(|(_, (.., lost))| *lost).collect(),
        }),
        legend: "As wide as it is much: from the left what there is, to the right where it goes; dotted edges: lost or left \
                 over."
            .into(),
        quiet: true,
    }
}

/// The sun of this outage's days against that of any day of the season here, for a kit with panels.
#[must_use]
pub fn sun(plan: &Plan, answer: &OutageAnswer) -> Figure {
    let suns = course::suns(plan, answer);
    let mut rows: Vec<(String, Sun)> = vec![("any day here at this time of the year".into(), suns.usual)];
    let by_days = plan.season.opening != crate::weather::Opening::Any;
    if by_days {
        let day = |(k, sun): (usize, &Sun)| (format!("day {} of these outages", k + 1), *sun);
        rows.extend(suns.days.iter().enumerate().map(day));
    }
    rows.push(("darkest day of such an outage".into(), suns.darkest));
    rows.push(("mean of an outage's days".into(), suns.mean));
    let column = |name: &str, at: usize| {
        Data::numbers(name, "kwh_m2_a_day", rows.iter().map(|(_, sun)| sun.quantiles[at]).collect::<Vec<_>>())
    };
    let most = rows.iter().map(|(_, sun)| sun.quantiles[4]).fold(0.1, f64::max);
    let usual = suns.usual.quantiles;
    Figure {
        name: "sun",
        title: "Sun on level ground on the days of these outages, against any day of the season here".into(),
        data: vec![
            Data::names("days", rows.iter().map(|(name, _)| name.clone())),
            column("p05", 0),
            column("p50", 2),
            column("p95", 4),
            column("p25", 1),
            column("p75", 3),
            Data::numbers("of", "", rows.iter().map(|(_, sun)| sun.of as f64)),
        ],
        picture: Picture::Ranges(Ranges {
            axis: Axis::new("kWh on a square metre of level ground in a day", (0.0, most), 6),
            zero: None,
            band: Some((usual[1], usual[3])),
            unbanded: Vec::new(),
        }),
        legend: format!(
            "Dot: the middle; thick: half of the days; thin: nine of ten. Shaded: half of all days here at this time of the year.{} \
             Counted in the run's first 200 outages.",
            if by_days { " Day 1 is the day on which the lights go out." } else { "" }
        ),
        quiet: true,
    }
}
