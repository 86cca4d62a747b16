//! The answer of `size`: text, page, JSON.

use serde::Serialize;

use super::json::{SCHEMA_VERSION, Share};
use super::outage::{WIDTH, table, wrap};
use super::page::{Cell, Page, paragraph, table as html_table};
use super::svg::{LineChart, round_marks};
use super::words::{common_base, percent, survival_of, thousands};
use crate::study::size::{Kit, RARE_FROM, Sizing};
use crate::trials::interval::{Z_95, wilson};

/// A target as percent without needless decimals: "95 %", "99.9 %".
fn target_word(target: f64) -> String {
    format!("{} %", (target * 1e4).round() / 100.0)
}

fn kit_name(sizing: &Sizing, kit: &Kit) -> String {
    format!("{} with {}", battery_name(sizing, kit), panels_name(sizing, kit.panels))
}

/// The battery of a kit; at the grid's edge nobody tried a smaller one.
fn battery_name(sizing: &Sizing, kit: &Kit) -> String {
    format!("{}{}", sizing.batteries[kit.battery].name, if kit.battery == 0 { " or less" } else { "" })
}

/// A number of panels and how they are wired: "4 panels (2 strings of 2)".
fn panels_name(sizing: &Sizing, panels: usize) -> String {
    let choice = &sizing.panels[panels];
    let series = sizing.wiring.series;
    match choice.amount as u32 / series {
        _ if series == 1 => choice.name.clone(),
        0 => choice.name.clone(),
        1 => format!("{} (one string of {series})", choice.name),
        strings => format!("{} ({strings} strings of {series})", choice.name),
    }
}

/// What the grid does not hold: smaller batteries than its least, and panels beyond what the input takes.
fn limits(sizing: &Sizing) -> String {
    let mut out = String::new();
    let wiring = &sizing.wiring;
    let told = || sizing.frontier.iter().chain(sizing.ladder.iter().filter_map(|(_, kit)| kit.as_ref()));
    if told().any(|kit| kit.battery == 0) {
        out.push_str(&format!(
            " A kit with {} stands at the edge of this grid: no smaller battery was tried, so the least may be smaller still \
             (battery_steps in [size] says what is tried).",
            sizing.batteries[0].name
        ));
    }
    let last = sizing.panels.len() - 1;
    let at_edge = |kit: &Kit| kit.panels == last || (kit.panels == 0 && sizing.panels[0].amount > 0.0);
    let best = [("cheaper", &sizing.cheapest), ("lighter", &sizing.lightest)];
    for (what, _) in best.iter().filter(|(_, kit)| kit.as_ref().is_some_and(at_edge)) {
        out.push_str(&format!(
            " Other numbers of panels than this grid's were not tried: something {what} may lie beyond."
        ));
    }
    if wiring.series > 1 {
        out.push_str(&format!(" The panels hang in strings of {} in series, side by side.", wiring.series));
    }
    if !wiring.left_out.is_empty() {
        let counts: Vec<String> = wiring.left_out.iter().map(u32::to_string).collect();
        out.push_str(&format!(
            " Left out, since they make no whole strings of {}: {} panel{}.",
            wiring.series,
            counts.join(", "),
            if wiring.left_out == [1] { "" } else { "s" }
        ));
    }
    if let Some(first) = sizing.panels.iter().find(|choice| wiring.beyond_the_input(choice.amount)) {
        out.push_str(&format!(
            " From {} on ({:.0} W) the panels can make more than the solar input takes ({:.0} W{}): what is above is lost on \
             bright days, and the figures count that.",
            first.name,
            wiring.others_w + first.amount * wiring.panel_w,
            wiring.input_w,
            if wiring.most_by_amps.is_finite() { ", or fewer by its amps" } else { "" }
        ));
    }
    out
}

fn price(sizing: &Sizing, price: Option<f64>) -> String {
    price.map_or("-".into(), |p| format!("{} {}", thousands(p.round() as u64), sizing.currency).trim().to_string())
}

fn weight(kit: &Kit) -> String {
    kit.weight_kg.map_or("-".into(), |kg| format!("{kg:.1} kg"))
}

/// The verdict in sentences.
#[must_use]
pub fn verdict(sizing: &Sizing) -> String {
    let target = target_word(sizing.target);
    if !sizing.judged {
        let (done, asked) = (thousands(sizing.trials), thousands(sizing.asked));
        return format!(
            "Stopped before its time: {done} of {asked} trials of the grid are done, and no kit was judged yet. Which kits \
             reach {target} is not known."
        );
    }
    let stopped = if sizing.stopped_early {
        "Stopped before its time: of the other targets under \"What reliability costs\" not all are worked out. "
    } else {
        ""
    };
    let Some(first) = sizing.frontier.first() else {
        let best = sizing.survived.last().and_then(|row| row.last()).copied().unwrap_or(0);
        return format!(
            "{stopped}No kit of this grid reaches {target} at the lower end of its range; the largest rides through {}.",
            percent(best as f64 / sizing.trials as f64)
        );
    };
    let ends = match sizing.frontier.last() {
        Some(last) if last != first => format!(
            "To ride through {target} of these outages, counted at the lower end of the range, take anything from {} to {}.",
            kit_name(sizing, first),
            kit_name(sizing, last)
        ),
        _ => format!(
            "To ride through {target} of these outages, counted at the lower end of the range, {} is the least that does.",
            kit_name(sizing, first)
        ),
    };
    let cheapest = sizing
        .cheapest
        .as_ref()
        .map(|kit| format!(" Cheapest: {} for {}.", kit_name(sizing, kit), price(sizing, kit.price)));
    let lightest = sizing
        .lightest
        .as_ref()
        .filter(|kit| sizing.cheapest.as_ref().is_none_or(|c| (c.battery, c.panels) != (kit.battery, kit.panels)))
        .map(|kit| format!(" Lightest: {} at {}.", kit_name(sizing, kit), weight(kit)));
    format!("{stopped}{ends}{}{}", cheapest.unwrap_or_default(), lightest.unwrap_or_default())
}

fn frontier_rows(sizing: &Sizing) -> Vec<Vec<String>> {
    let of = common_base(sizing.frontier.iter().map(|kit| kit.survival.interval));
    sizing
        .frontier
        .iter()
        .map(|kit| {
            vec![
                panels_name(sizing, kit.panels),
                battery_name(sizing, kit),
                survival_of(&kit.survival, of),
                price(sizing, kit.price),
                weight(kit),
            ]
        })
        .collect()
}

const FRONTIER_HEADS: [&str; 5] = ["panels", "battery", "rides through", "price", "weight"];

fn ladder_rows(sizing: &Sizing) -> Vec<Vec<String>> {
    let of = common_base(sizing.ladder.iter().filter_map(|(_, kit)| kit.as_ref()).map(|kit| kit.survival.interval));
    sizing
        .ladder
        .iter()
        .map(|(target, kit)| match kit {
            Some(kit) => vec![
                target_word(*target),
                kit_name(sizing, kit),
                survival_of(&kit.survival, of),
                price(sizing, kit.price),
                weight(kit),
            ],
            None => vec![target_word(*target), "none of these".into(), "-".into(), "-".into(), "-".into()],
        })
        .collect()
}

const LADDER_HEADS: [&str; 5] = ["target", "least kit", "rides through", "price", "weight"];

/// What the star in the grid means.
const STAR: &str = "* the least battery that reaches the target";

/// What a cell of the grid says: survivors in a hundred, `*` on the frontier.
fn grid_cell(sizing: &Sizing, panels: usize, battery: usize) -> String {
    let share = sizing.survived[panels][battery] as f64 / sizing.trials as f64;
    let on = sizing.frontier.iter().any(|kit| kit.panels == panels && kit.battery == battery);
    // Never told as 100 when some failed.
    let told = if share < 1.0 { (share * 100.0).round().min(99.0) } else { 100.0 };
    format!("{told:.0}{}", if on { "*" } else { " " })
}

fn footing(sizing: &Sizing) -> String {
    format!(
        "Every cell met the same {} outages and weather. A kit counts as enough when the lower end of its 95 % range, \
         chance and what is not known together, reaches the target. A cell of the \
         grid is a share of the trials alone, and chance leaves it up to {} of 100 on either side.{}{}",
        thousands(sizing.trials),
        (50.0 * wilson(sizing.trials / 2, sizing.trials, Z_95).width()).ceil(),
        if RARE_FROM <= sizing.target {
            " A target as high as this is judged by trials that lean towards dark weather and are weighed back: their range is \
             of chance alone, averaged over what is not known. The model's darkest weather is no surer than the records it was \
             judged by: leave room."
        } else {
            ""
        },
        limits(sizing)
    )
}

/// The answer as text.
#[must_use]
pub fn text(title: &str, sizing: &Sizing) -> String {
    let mut out = format!("{title}\n\n");
    out.push_str(&wrap(&verdict(sizing), "", WIDTH));
    let star = if sizing.judged { format!(" ({STAR})") } else { String::new() };
    out.push_str(&format!("\nSurvivors in a hundred outages{star}\n"));
    let mut rows = vec![
        std::iter::once(String::new())
            .chain(sizing.panels.iter().map(|p| format!("{:.0} ", p.amount)))
            .collect::<Vec<_>>(),
    ];
    for b in (0..sizing.batteries.len()).rev() {
        let cells = (0..sizing.panels.len()).map(|p| grid_cell(sizing, p, b));
        rows.push(std::iter::once(sizing.batteries[b].name.clone()).chain(cells).collect());
    }
    out.push_str(&grid(&rows));
    out.push_str("  battery above, number of panels across\n");
    if !sizing.frontier.is_empty() {
        out.push_str("\nThe least kits that reach the target\n");
        let mut rows = vec![FRONTIER_HEADS.map(String::from).to_vec()];
        rows.extend(frontier_rows(sizing));
        out.push_str(&table(&rows, 2));
    }
    if !sizing.ladder.is_empty() {
        out.push_str("\nWhat reliability costs\n");
        let mut rows = vec![LADDER_HEADS.map(String::from).to_vec()];
        rows.extend(ladder_rows(sizing));
        out.push_str(&table(&rows, 2));
    }
    out.push('\n');
    out.push_str(&wrap(&footing(sizing), "", WIDTH));
    out
}

/// A narrow grid: all but the first column as close as they go.
fn grid(rows: &[Vec<String>]) -> String {
    let width = |c: usize| rows.iter().filter_map(|r| r.get(c)).map(|t| t.chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..rows.first().map_or(0, Vec::len)).map(width).collect();
    let mut out = String::new();
    for row in rows {
        let mut line = String::from("  ");
        for (c, text) in row.iter().enumerate() {
            line.push_str(&" ".repeat(widths[c] - text.chars().count()));
            line.push_str(text);
            line.push_str(if c == 0 { " | " } else { "" });
            if c > 0 && c + 1 < row.len() {
                line.push(' ');
            }
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// The answer as one page.
#[must_use]
pub fn html(title: &str, sizing: &Sizing) -> String {
    let text_cells = |rows: Vec<Vec<String>>| -> Vec<Vec<Cell>> {
        rows.into_iter().map(|row| row.into_iter().map(Cell::Text).collect()).collect()
    };
    let heads: Vec<String> = std::iter::once("battery".to_string())
        .chain(sizing.panels.iter().map(|p| format!("{:.0}", p.amount)))
        .collect();
    let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
    let cells: Vec<Vec<Cell>> = (0..sizing.batteries.len())
        .rev()
        .map(|b| {
            let first = Cell::Text(sizing.batteries[b].name.clone());
            std::iter::once(first)
                .chain((0..sizing.panels.len()).map(|p| Cell::Number(grid_cell(sizing, p, b))))
                .collect()
        })
        .collect();
    let mut sections = vec![];
    if sizing.frontier.len() > 1 {
        sections.push(("Battery against panels at the target".to_string(), curve(sizing)));
    }
    if !sizing.frontier.is_empty() {
        sections.push((
            "The least kits that reach the target".to_string(),
            html_table(&FRONTIER_HEADS, &text_cells(frontier_rows(sizing))),
        ));
    }
    if !sizing.ladder.is_empty() {
        let rungs = html_table(&LADDER_HEADS, &text_cells(ladder_rows(sizing)));
        sections.push(("What reliability costs".to_string(), rungs));
    }
    let star = if sizing.judged { paragraph(STAR) } else { String::new() };
    sections.push((
        "Survivors in a hundred outages, by battery and number of panels".to_string(),
        format!("{}{star}", html_table(&heads, &cells)),
    ));
    sections.push(("What this rests on".to_string(), paragraph(&footing(sizing))));
    Page { title: title.to_string(), lead: verdict(sizing), under: String::new(), sections }.html()
}

/// The curve of equal reliability.
fn curve(sizing: &Sizing) -> String {
    let points: Vec<(f64, f64)> = sizing
        .frontier
        .iter()
        .map(|k| (sizing.panels[k.panels].amount, sizing.batteries[k.battery].amount / 1000.0))
        .collect();
    let most_panels = sizing.panels.last().map_or(1.0, |p| p.amount).max(1.0);
    let most_kwh = points.iter().fold(0.0_f64, |m, p| m.max(p.1)) * 1.15;
    LineChart {
        title: format!("Least battery for each number of panels at {}", target_word(sizing.target)),
        x_name: "number of panels".into(),
        y_name: "battery, kWh by the label".into(),
        x_range: (0.0, most_panels),
        y_range: (0.0, most_kwh),
        x_marks: round_marks(0.0, most_panels, 8),
        y_marks: round_marks(0.0, most_kwh, 5),
        bands: Vec::new(),
        lines: vec![(points, "a", String::new())],
    }
    .svg()
}

/// The answer of `size` as JSON.
#[derive(Debug, Serialize)]
pub struct Json {
    kind: &'static str,
    schema_version: u32,
    version: &'static str,
    title: String,
    seed: u64,
    /// Trials of the grid that were done.
    trials: u64,
    /// Whether the run was stopped before all of this was worked out.
    stopped_early: bool,
    target: f64,
    verdict: String,
    /// Null where the run was stopped before kits were judged.
    frontier: Option<Vec<JsonKit>>,
    cheapest: Option<JsonKit>,
    lightest: Option<JsonKit>,
    /// The targets that were worked out.
    ladder: Vec<JsonRung>,
    grid: Vec<JsonCell>,
}

#[derive(Debug, Serialize)]
struct JsonKit {
    battery: String,
    battery_wh: f64,
    panels: String,
    panel_count: f64,
    survival: Share,
    price: Option<f64>,
    weight_kg: Option<f64>,
}

#[derive(Debug, Serialize)]
struct JsonRung {
    target: f64,
    kit: Option<JsonKit>,
}

#[derive(Debug, Serialize)]
struct JsonCell {
    battery_wh: f64,
    panel_count: f64,
    survived: u64,
    chance_low: f64,
    chance_high: f64,
}

/// The answer for the schema.
#[must_use]
pub fn json(title: &str, sizing: &Sizing, seed: u64) -> Json {
    let kit = |kit: &Kit| JsonKit {
        battery: sizing.batteries[kit.battery].name.clone(),
        battery_wh: sizing.batteries[kit.battery].amount,
        panels: sizing.panels[kit.panels].name.clone(),
        panel_count: sizing.panels[kit.panels].amount,
        survival: Share::of(&kit.survival),
        price: kit.price,
        weight_kg: kit.weight_kg,
    };
    let mut grid = Vec::new();
    for (panels, row) in sizing.panels.iter().zip(&sizing.survived) {
        for (battery, &survived) in sizing.batteries.iter().zip(row) {
            let chance = wilson(survived, sizing.trials, Z_95);
            grid.push(JsonCell {
                battery_wh: battery.amount,
                panel_count: panels.amount,
                survived,
                chance_low: chance.low,
                chance_high: chance.high,
            });
        }
    }
    Json {
        kind: "sizing",
        schema_version: SCHEMA_VERSION,
        version: env!("CARGO_PKG_VERSION"),
        title: title.to_string(),
        seed,
        trials: sizing.trials,
        stopped_early: sizing.stopped_early,
        target: sizing.target,
        verdict: verdict(sizing),
        frontier: sizing.judged.then(|| sizing.frontier.iter().map(kit).collect()),
        cheapest: sizing.cheapest.as_ref().map(kit),
        lightest: sizing.lightest.as_ref().map(kit),
        ladder: sizing
            .ladder
            .iter()
            .map(|(target, k)| JsonRung { target: *target, kit: k.as_ref().map(kit) })
            .collect(),
        grid,
    }
}
