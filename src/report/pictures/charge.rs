//! The charge of the battery through outages.

use super::nights;
use crate::engine::Plan;
use crate::report::figure::{Axis, Band, Chart, Data, Figure, Picture};
use crate::report::outage::Cold;
use crate::report::words::thousands;
use crate::study::course;
use crate::study::outage::OutageAnswer;
use crate::trials::tally::ChargeFan;

/// Quantiles of charge that are told, and what a column of them is called.
const QUANTILES: [(f64, &str); 7] =
    [(0.05, "p05"), (0.1, "p10"), (0.25, "p25"), (0.5, "p50"), (0.75, "p75"), (0.9, "p90"), (0.95, "p95")];

/// The charge after each step, as quantiles over the outages that still run.
///
/// * `floor` — the charge below which nothing is discharged, 0 to 1.
#[must_use]
pub fn charge(plan: &Plan, fan: &ChargeFan, floor: f64) -> Figure {
    let step_h = plan.season.step_h;
    let steps = || 0..fan.steps();
    let quantile = |(p, name): (f64, &str)| {
        let at = |step| fan.quantile(step, p).map_or(f64::NAN, |charge| (charge * 100.0).round());
        Data::numbers(name, "percent", steps().map(at))
    };
    let after = Data::numbers("after", "h", steps().map(|step| (step + 1) as f64 * step_h));
    let running = Data::numbers("outages_running", "", steps().map(|step| fan.trials_at(step) as f64));
    let rows = fan.steps_with_a_twentieth();
    let chart = Chart {
        x: Axis::hours((rows as f64 * step_h).max(step_h), super::since(plan)),
        y: Axis::new("charge, %", (0.0, 100.0), 5),
        over: 0,
        rows,
        lines: vec![5],
        bands: vec![
            Band { low: 3, high: 7, holds: "eight of ten outages lie here" },
            Band { low: 4, high: 6, holds: "half of all outages lie here" },
        ],
        floor: 100.0 * floor,
        first_line: HALF,
        ..Chart::default()
    };
    Figure {
        name: "charge",
        title: "Charge of the battery, in percent of its capacity, through the outage".into(),
        data: [after, running].into_iter().chain(QUANTILES.map(quantile)).collect(),
        picture: Picture::Chart(chart),
        legend: "Dark band: half of all outages. Light band: eight of ten.".into(),
        quiet: false,
    }
}

/// What the line through the middle of each hour is: it falls and stays whole where single outages end empty.
const HALF: &str = "half of the outages hold more at that hour (no single outage)";

/// Lines of single outages longer than this would be a tangle \[h\]: they stand in the data alone.
const MOST_HOURS_OF_LINES: f64 = 360.0;

/// The same with nights, where all outages begin at one time, and with three outages of the run.
#[must_use]
pub fn charge_with_outages(plan: &Plan, answer: &OutageAnswer) -> Figure {
    let step_h = plan.season.step_h;
    let rig = plan.kit.best_estimate();
    let mut figure = charge(plan, &answer.tally.fan, rig.floor_wh / rig.capacity_wh);
    let steps = answer.tally.fan.steps();
    let singles = course::singles(plan, answer);
    let Picture::Chart(chart) = &mut figure.picture else { return figure };
    let drawn = chart.rows as f64 * step_h <= MOST_HOURS_OF_LINES && !singles.is_empty();
    for (single, what) in singles.iter().zip(["bad", "middling", "good"]) {
        let told = if single.survived { "rides through" } else { "fails" };
        let charge = (0..steps).map(|step| single.charge.get(step).map_or(f64::NAN, |charge| 100.0 * charge));
        let name = format!("a {what} outage, trial {}: {told}", thousands(single.trial));
        figure.data.push(Data::numbers(name, "percent", charge.collect::<Vec<_>>()));
    }
    if drawn {
        chart.lines.extend(9..9 + singles.len());
    }
    chart.nights = nights(plan, chart.x.to, false);
    let mut more = vec![match course::begins(&plan.season).1 {
        Some(_) => "Night is shaded and underlined.".to_string(),
        None => "No night is shaded: these outages begin at different hours.".into(),
    }];
    if super::varies(plan) {
        more.push("Counted at each hour are the outages still going on.".into());
    }
    if let Some(left) = Cold::of(plan, answer).and_then(|cold| cold.left_percent) {
        more.push(format!(
            "Cold cells stop giving above 0 %, here at about {left} %: a line that lies flat there is out of power."
        ));
    }
    match singles.first() {
        Some(bad) if drawn => more.push(format!(
            "Single outages of the run: nine of ten go better than the bad one, half than the middling one, one than the good one \
             (--trace {} tells the bad one hour by hour).",
            bad.trial
        )),
        _ => figure.legend.insert_str(0, &format!("Line: {HALF}. ")),
    }
    figure.legend = [vec![figure.legend], more].concat().join(" ");
    figure
}
