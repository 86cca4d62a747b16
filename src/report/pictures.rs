//! The pictures of an outage.

use super::figure::{Axis, Band, Chart, Data, Figure, Flows, Picture, Ranges, Strip};
use super::words::{energy, thousands};
use crate::engine::ledger::Flow;
use crate::engine::{Ledger, Plan};
use crate::study::course::{self, Sun};
use crate::study::outage::OutageAnswer;
use crate::trials::Tally;
use crate::trials::tally::ChargeFan;

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
        legend: "How high a row stands is the share of the outages running at that hour in which the load goes without; \
                 night is shaded and underlined. Day 1 is the day on which the lights go out, and the clock runs from its \
                 midnight; hours at which fewer than a twentieth of the outages run are left out."
            .into(),
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
    let chart = Chart {
        x: Axis::hours(course.last().map_or(1.0, |at| at.after_h).max(plan.season.step_h)),
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
        title: "Outages in a hundred in which everything vital has stayed on so far".into(),
        data: vec![
            Data::numbers("after", "h", course.iter().map(|at| at.after_h)),
            column("riding_low", |at| at.interval.low),
            column("riding", |at| at.share),
            column("riding_high", |at| at.interval.high),
        ],
        picture: Picture::Chart(chart),
        legend: "Line: outages in 100 in which everything vital has stayed on so far; band: its 95 % range, of chance and of \
                 what nobody has measured. Where the line ends is the answer."
            .into(),
        quiet: false,
    }
}

/// Quantiles of charge that are told, and what a column of them is called.
const QUANTILES: [(f64, &str); 7] =
    [(0.05, "p05"), (0.1, "p10"), (0.25, "p25"), (0.5, "p50"), (0.75, "p75"), (0.9, "p90"), (0.95, "p95")];

/// The charge after each step, as quantiles over the outages that still run.
///
/// * `floor` — the charge below which nothing is discharged, 0 to 1.
#[must_use]
pub fn charge(fan: &ChargeFan, step_h: f64, floor: f64) -> Figure {
    let steps = || 0..fan.steps();
    let quantile = |(p, name): (f64, &str)| {
        let at = |step| fan.quantile(step, p).map_or(f64::NAN, |charge| (charge * 100.0).round());
        Data::numbers(name, "percent", steps().map(at))
    };
    let after = Data::numbers("after", "h", steps().map(|step| (step + 1) as f64 * step_h));
    let running = Data::numbers("outages_running", "", steps().map(|step| fan.trials_at(step) as f64));
    let rows = fan.steps_with_a_twentieth();
    let chart = Chart {
        x: Axis::hours((rows as f64 * step_h).max(step_h)),
        y: Axis::new("charge, %", (0.0, 100.0), 5),
        over: 0,
        rows,
        lines: vec![5],
        bands: vec![
            Band { low: 3, high: 7, holds: "eight of ten outages lie here" },
            Band { low: 4, high: 6, holds: "half of all outages lie here" },
        ],
        floor: 100.0 * floor,
        first_line: "the middle outage",
        ..Chart::default()
    };
    Figure {
        name: "charge",
        title: "Charge of the battery, in percent of its capacity, through the outage".into(),
        data: [after, running].into_iter().chain(QUANTILES.map(quantile)).collect(),
        picture: Picture::Chart(chart),
        legend: "Line: the middle outage. Dark band: half of all outages. Light band: eight of ten.".into(),
        quiet: false,
    }
}

/// Lines of single outages longer than this would be a tangle \[h\]: they stand in the data alone.
const MOST_HOURS_OF_LINES: f64 = 240.0;

/// The same with nights, where all outages begin at one time, and with three outages of the run.
#[must_use]
pub fn charge_with_outages(plan: &Plan, answer: &OutageAnswer) -> Figure {
    let step_h = plan.season.step_h;
    let rig = plan.kit.best_estimate();
    let mut figure = charge(&answer.tally.fan, step_h, rig.floor_wh / rig.capacity_wh);
    let steps = answer.tally.fan.steps();
    let singles = course::singles(plan, answer);
    let drawn = steps as f64 * step_h <= MOST_HOURS_OF_LINES;
    for (single, what) in singles.iter().zip(["bad", "middling", "good"]) {
        let told = if single.survived { "rides through" } else { "fails" };
        let charge = (0..steps).map(|step| single.charge.get(step).map_or(f64::NAN, |charge| 100.0 * charge));
        let name = format!("a {what} outage, trial {}: {told}", thousands(single.trial));
        figure.data.push(Data::numbers(name, "percent", charge.collect::<Vec<_>>()));
    }
    if let Picture::Chart(chart) = &mut figure.picture {
        if drawn {
            chart.lines.extend(9..9 + singles.len());
        }
        chart.nights = nights(plan, chart.x.to, false);
        let fixed = course::begins(&plan.season).1.is_some();
        figure.legend.push_str(if fixed {
            " Night is shaded and underlined."
        } else {
            " No night is shaded: these outages begin at different hours."
        });
    }
    if drawn {
        figure.legend.push_str(
            " Single outages: those that a tenth, half and nine tenths of the first trials went worse than; a trace tells all of \
             one.",
        );
    }
    figure
}

/// A part of the account: what it is called, and whether it is lost or left over.
type Part = (&'static str, f64, bool);

/// What comes in and goes out in a mean outage, in few parts \[Wh\]: as much in as out.
fn parts(mean: &Ledger) -> ([Part; 4], Vec<Part>) {
    let into = [
        ("battery at start", mean[Flow::Start], false),
        ("sun on the panels", mean[Flow::Solar], false),
        ("wall or generator", mean[Flow::Wall], false),
        ("car, water or wind", mean[Flow::Source], false),
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
    let left = [("sun not taken", mean[Flow::Curtailed], true), ("left at the end", mean[Flow::End], true)];
    // What is next to nothing is told in one.
    let (small, large): (Vec<Part>, Vec<Part>) = lost.into_iter().partition(|(_, wh, _)| *wh < 0.01 * total);
    let small = ("other losses", small.iter().map(|(_, wh, _)| wh).sum(), true);
    (into, served.into_iter().chain(large).chain([small]).chain(left).collect())
}

/// Where the energy comes from and goes in a mean outage, as flows.
#[must_use]
pub fn flows(mean: &Ledger) -> Figure {
    let (into, out) = parts(mean);
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

/// The sun of this outage's days against that of any day of the season here.
#[must_use]
pub fn sun(plan: &Plan, answer: &OutageAnswer) -> Figure {
    let suns = course::suns(plan, answer);
    let mut rows: Vec<(String, Sun)> = vec![("any day here at this time of the year".into(), suns.usual)];
    if plan.season.opening != crate::weather::Opening::Any {
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
        legend: "Dot: the middle; thick: half of the days; thin: nine of ten. Shaded: half of all days here at this time of \
                 the year. Day 1 is the day on which the lights go out. Counted in the run's first 200 outages."
            .into(),
        quiet: true,
    }
}
