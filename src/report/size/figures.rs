//! The pictures of `size`.

use super::{size_name, target_word};
use crate::report::figure::{Axis, Chart, Data, Figure, Grid, Picture, Points};
use crate::study::size::Sizing;

/// What a cell of the grid says: the share in a hundred, `*` on the frontier, `=` for the scenario's own kit.
fn grid_cell(sizing: &Sizing, share: f64, (panels, battery): (usize, usize)) -> String {
    let on = sizing.frontier.iter().any(|kit| kit.panels == panels && kit.battery == battery);
    // A lower end is rounded down; nothing is told as 100 when some failed.
    let hundredths = share * 100.0 + 1e-9;
    let told = if sizing.lows.is_empty() { hundredths.round() } else { hundredths.floor() };
    format!(
        "{:.0}{}",
        if share < 1.0 { told.min(99.0) } else { 100.0 },
        match on {
            true => "*",
            false if sizing.own == Some((panels, battery)) => "=",
            false => " ",
        }
    )
}

/// What the cells of the grid hold.
pub(super) fn grid_head(sizing: &Sizing) -> &'static str {
    if sizing.lows.is_empty() { "Of 100 outages, ridden through" } else { "Of 100 outages, ridden through at least" }
}

/// What is ridden through by battery and number of panels: lower ends, where they were worked out.
pub(super) fn grid(sizing: &Sizing) -> Figure {
    let (batteries, panels) = (0..sizing.batteries.len(), 0..sizing.panels.len());
    let counted = |(p, b): (usize, usize)| sizing.survived[p][b] as f64 / sizing.trials as f64;
    let low = |(p, b): (usize, usize)| sizing.lows.get(p).map_or(0.0, |row| row[b]);
    let has_lows = !sizing.lows.is_empty();
    let shown = |cell: (usize, usize)| if has_lows { low(cell) } else { counted(cell) };
    let cells = || panels.clone().flat_map(|p| batteries.clone().map(move |b| (p, b)));
    let row = |b: usize| {
        let cell = |p: usize| (grid_cell(sizing, shown((p, b)), (p, b)), shown((p, b)));
        (size_name(&sizing.batteries[b]), panels.clone().map(cell).collect())
    };
    let own = match sizing.own {
        Some(own) if sizing.frontier.iter().all(|kit| (kit.panels, kit.battery) != own) => " = your kit as it is.",
        _ => "",
    };
    let mut data = vec![
        Data::numbers("panels", "", cells().map(|(p, _)| sizing.panels[p].amount)),
        Data::numbers("battery", "wh", cells().map(|(_, b)| sizing.batteries[b].amount)),
        Data::numbers("survived", "percent", cells().map(|cell| 100.0 * counted(cell))),
    ];
    if has_lows {
        data.push(Data::numbers("survived_low", "percent", cells().map(|cell| 100.0 * low(cell))));
    }
    Figure {
        name: "survivors",
        title: format!("{}, by battery and number of panels", grid_head(sizing)),
        data,
        picture: Picture::Grid(Grid {
            down: "battery".into(),
            across: "number of panels".into(),
            heads: sizing.panels.iter().map(|p| format!("{:.0}", p.amount)).collect(),
            rows: batteries.clone().rev().map(row).collect(),
            contour: Some(sizing.target),
        }),
        legend: if has_lows {
            format!(
                "Battery down the side, number of panels across. Each cell is the lower end of its range, by which kits are \
                 judged: of 100 outages at least so many are ridden through; where cells are shaded, more is stronger.{own}{}",
                match sizing.frontier.is_empty() {
                    true => format!(" None reaches {}.", target_word(sizing.target)),
                    false => format!(
                        " * the least battery that reaches {}. A thick line, where one is drawn, parts the kits that reach it from \
                         those that do not.",
                        target_word(sizing.target)
                    ),
                }
            )
        } else if sizing.judged {
            format!(
                "Battery down the side, number of panels across. Each cell is the share of the trials alone: the run was stopped \
                 before the lower ends, by which kits are judged, were worked out for all of them.{own} * the least battery that \
                 reaches {}.",
                target_word(sizing.target)
            )
        } else {
            format!(
                "Battery down the side, number of panels across. Each cell is the share of the trials alone; no kit was judged.{own}"
            )
        },
        quiet: false,
    }
}

/// The curve of equal reliability.
pub(super) fn curve(sizing: &Sizing) -> Figure {
    // Every number of panels that was tried: between two kits of the frontier the larger battery is needed.
    let least = |p: usize| (0..sizing.batteries.len()).find(|&b| sizing.suffices(p, b)).map(|b| (p, b));
    let kits: Vec<(usize, usize)> = (0..sizing.panels.len()).filter_map(least).collect();
    let panels: Vec<f64> = kits.iter().map(|(p, _)| sizing.panels[*p].amount).collect();
    let kwh: Vec<f64> = kits.iter().map(|(_, b)| sizing.batteries[*b].amount / 1000.0).collect();
    let most_panels = sizing.panels.last().map_or(1.0, |p| p.amount).max(1.0);
    let most_kwh = kwh.iter().fold(0.0_f64, |m, p| m.max(*p)) * 1.15;
    let chart = Chart {
        x: Axis::counted("number of panels", (-0.4, most_panels + 0.4), 8),
        y: Axis::new("battery, kWh by the label", (0.0, most_kwh), 5),
        over: 0,
        rows: panels.len(),
        // Between two numbers of panels there is nothing: a stroke for each, and no line.
        points: Some(Points { value: 1, low: 1, high: 1, names: None }),
        ..Chart::default()
    };
    Figure {
        name: "frontier",
        title: format!("Least battery for each number of panels at {}", target_word(sizing.target)),
        data: vec![Data::numbers("panels", "", panels), Data::numbers("battery", "kwh", kwh)],
        picture: Picture::Chart(chart),
        legend: format!(
            "A stroke for each number of panels: the least battery with it that reaches {}.",
            target_word(sizing.target)
        ),
        quiet: false,
    }
}
