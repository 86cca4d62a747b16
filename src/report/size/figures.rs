//! The pictures of `size`.

use super::{size_name, target_word};
use crate::report::figure::{Axis, Chart, Data, Figure, Grid, Picture};
use crate::study::size::Sizing;

/// What a cell of the grid says: survivors in a hundred, `*` on the frontier.
fn grid_cell(sizing: &Sizing, panels: usize, battery: usize) -> String {
    let share = sizing.survived[panels][battery] as f64 / sizing.trials as f64;
    let on = sizing.frontier.iter().any(|kit| kit.panels == panels && kit.battery == battery);
    // Never told as 100 when some failed.
    let told = if share < 1.0 { (share * 100.0).round().min(99.0) } else { 100.0 };
    format!("{told:.0}{}", if on { "*" } else { " " })
}

/// Survivors by battery and number of panels.
pub(super) fn grid(sizing: &Sizing) -> Figure {
    let (batteries, panels) = (0..sizing.batteries.len(), 0..sizing.panels.len());
    let share = |(p, b): (usize, usize)| sizing.survived[p][b] as f64 / sizing.trials as f64;
    let cells = || panels.clone().flat_map(|p| batteries.clone().map(move |b| (p, b)));
    let row = |b: usize| {
        let cell = |p: usize| (grid_cell(sizing, p, b), share((p, b)));
        (size_name(&sizing.batteries[b]), panels.clone().map(cell).collect())
    };
    Figure {
        name: "survivors",
        title: "Survivors in a hundred outages, by battery and number of panels".into(),
        data: vec![
            Data::numbers("panels", "", cells().map(|(p, _)| sizing.panels[p].amount)),
            Data::numbers("battery", "wh", cells().map(|(_, b)| sizing.batteries[b].amount)),
            Data::numbers("survived", "percent", cells().map(|cell| 100.0 * share(cell))),
        ],
        picture: Picture::Grid(Grid {
            down: "battery".into(),
            across: "number of panels".into(),
            heads: sizing.panels.iter().map(|p| format!("{:.0}", p.amount)).collect(),
            rows: batteries.clone().rev().map(row).collect(),
            contour: Some(sizing.target),
        }),
        legend: format!(
            "Battery down the side, number of panels across.{} A thick line, where one is drawn, parts the kits whose share \
             reaches the target from those whose does not; whether one is surely enough is told below.",
            if sizing.judged { " * the least battery that reaches the target." } else { "" }
        ),
        quiet: false,
    }
}

/// The curve of equal reliability.
pub(super) fn curve(sizing: &Sizing) -> Figure {
    let panels: Vec<f64> = sizing.frontier.iter().map(|k| sizing.panels[k.panels].amount).collect();
    let kwh: Vec<f64> = sizing.frontier.iter().map(|k| sizing.batteries[k.battery].amount / 1000.0).collect();
    let most_panels = sizing.panels.last().map_or(1.0, |p| p.amount).max(1.0);
    let most_kwh = kwh.iter().fold(0.0_f64, |m, p| m.max(*p)) * 1.15;
    let chart = Chart {
        x: Axis::counted("number of panels", (0.0, most_panels), 8),
        y: Axis::new("battery, kWh by the label", (0.0, most_kwh), 5),
        over: 0,
        rows: panels.len(),
        lines: vec![1],
        ..Chart::default()
    };
    Figure {
        name: "frontier",
        title: format!("Least battery for each number of panels at {}", target_word(sizing.target)),
        data: vec![Data::numbers("panels", "", panels), Data::numbers("battery", "kwh", kwh)],
        picture: Picture::Chart(chart),
        legend: format!("The least battery for each number of panels that reaches {}.", target_word(sizing.target)),
        quiet: false,
    }
}
