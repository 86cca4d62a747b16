//! The answer of `size` as a document and for programs.

use serde::Serialize;

use super::document::{Column, Document, Table};
use super::figure::{Axis, Chart, Data, Figure, Grid, Picture};
use super::json::Share;
use super::notes::Note;
use super::phrases::uncounted;
use super::place::Whereabouts;
use super::told::{self, Told, Words};
use super::verdict::{MEDICAL_CAUTION, word};
use super::words::{common_decimals, label, percent, survival_with, thousands};
use crate::scenario::model::{Choice, Site};
use crate::study::fit::Overload;
use crate::study::size::{RARE_FROM, SizedKit, Sizing};
use crate::study::{Stakes, Verdict};
use crate::trials::interval::{Z_95, wilson};

/// All that `size` knows.
#[derive(Debug, Clone, Copy)]
pub struct Facts<'a> {
    /// Title of the scenario.
    pub title: &'a str,
    /// Where the kit stands.
    pub site: &'a Site,
    /// What the trials say.
    pub answer: &'a Sizing,
    /// Outlets of the scenario's kit that switch off: the trials do not know of it.
    pub overloads: &'a [Overload],
    /// Whether a person's health hangs on a load.
    pub medical: bool,
    /// Where the weather comes from.
    pub weather: &'a Note,
    /// Seed.
    pub seed: u64,
}

impl Facts<'_> {
    /// The verdict on a kit.
    fn verdict(&self, kit: &SizedKit) -> Verdict {
        Verdict::on(&kit.survival, Stakes::of(self.medical, self.overloads))
    }
}

/// A target as percent without needless decimals: "95 %", "99.9 %".
fn target_word(target: f64) -> String {
    format!("{} %", (target * 1e4).round() / 100.0)
}

fn kit_name(sizing: &Sizing, kit: &SizedKit) -> String {
    format!("{} with {}", battery_name(sizing, kit), panels_name(sizing, kit.panels))
}

/// A battery by its name; one that goes by its size like other numbers.
fn size_name(battery: &Choice) -> String {
    let by_size = format!("{:.0} Wh", battery.amount) == battery.name;
    if by_size { label(battery.amount) } else { battery.name.clone() }
}

/// The battery of a kit; at the grid's edge nobody tried a smaller one.
fn battery_name(sizing: &Sizing, kit: &SizedKit) -> String {
    format!("{}{}", size_name(&sizing.batteries[kit.battery]), if kit.battery == 0 { " or less" } else { "" })
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
            size_name(&sizing.batteries[0])
        ));
    }
    let last = sizing.panels.len() - 1;
    let at_edge = |kit: &SizedKit| kit.panels == last || (kit.panels == 0 && sizing.panels[0].amount > 0.0);
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

fn weight(kit: &SizedKit) -> String {
    kit.weight_kg.map_or("-".into(), |kg| format!("{kg:.1} kg"))
}

/// Whether kits reach the target, and which.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum SizeVerdict {
    /// The run was stopped before kits were judged.
    NotJudged {
        /// Trials of the grid that were done.
        trials: u64,
        /// Trials asked for.
        asked: u64,
    },
    /// None does.
    None {
        /// Survival of the largest kit, 0 to 1.
        largest_survival: f64,
        /// Lower end of the 95 % Wilson interval of that, of chance alone.
        chance_low: f64,
        /// Upper end of the same.
        chance_high: f64,
        /// Trials that it went through.
        trials: u64,
    },
    /// Some do; `frontier`, `cheapest` and `lightest` say which.
    Reached,
}

impl SizeVerdict {
    /// Of an answer.
    #[must_use]
    pub fn of(sizing: &Sizing) -> SizeVerdict {
        let best = || sizing.survived.last().and_then(|row| row.last()).copied().unwrap_or(0);
        match sizing.frontier.first() {
            _ if !sizing.judged => SizeVerdict::NotJudged { trials: sizing.trials, asked: sizing.asked },
            None => {
                let chance = wilson(best(), sizing.trials, Z_95);
                let largest_survival = best() as f64 / sizing.trials as f64;
                let (chance_low, chance_high) = (chance.low, chance.high);
                SizeVerdict::None { largest_survival, chance_low, chance_high, trials: sizing.trials }
            }
            Some(_) => SizeVerdict::Reached,
        }
    }
}

/// The verdict in sentences.
#[must_use]
pub fn verdict(sizing: &Sizing) -> String {
    let target = target_word(sizing.target);
    let stopped = match sizing.stopped_early {
        true => {
            "Stopped before its time: of the other targets under \"What reliability costs\" not all are worked out. "
        }
        false => "",
    };
    match SizeVerdict::of(sizing) {
        SizeVerdict::NotJudged { trials, asked } => {
            return format!(
                "Stopped before its time: {} of {} trials of the grid are done, and no kit was judged yet. Which kits reach \
                 {target} is not known.",
                thousands(trials),
                thousands(asked)
            );
        }
        SizeVerdict::None { largest_survival, chance_low, chance_high, trials } => {
            return format!(
                "{stopped}No kit of this grid reaches {target} at the lower end of its range; the largest rides through {} of \
                 {} trials ({} to {} by chance alone).",
                percent(largest_survival),
                thousands(trials),
                percent(chance_low),
                percent(chance_high)
            );
        }
        SizeVerdict::Reached => {}
    }
    let (Some(first), Some(last)) = (sizing.frontier.first(), sizing.frontier.last()) else { return String::new() };
    let least = match last == first {
        true => format!("{} is the least that does", kit_name(sizing, first)),
        false => format!("take anything from {} to {}", kit_name(sizing, first), kit_name(sizing, last)),
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
    format!(
        "{stopped}To ride through {target} of these outages, counted at the lower end of the range, {least}.{}{}",
        cheapest.unwrap_or_default(),
        lightest.unwrap_or_default()
    )
}

fn columns(first: &str, second: &str) -> [Column; 6] {
    let [price, weight] = ["price", "weight"].map(Column::right);
    let [first, second] = [first, second].map(Column::left);
    [first, second, Column::left("verdict"), Column::right("rides through"), price, weight]
}

fn frontier(facts: &Facts) -> Table {
    let sizing = facts.answer;
    let decimals = common_decimals(sizing.frontier.iter().map(|kit| kit.survival.interval));
    let row = |kit: &SizedKit| {
        [
            panels_name(sizing, kit.panels),
            battery_name(sizing, kit),
            word(facts.verdict(kit)).to_string(),
            survival_with(&kit.survival, decimals),
            price(sizing, kit.price),
            weight(kit),
        ]
    };
    Table::new(columns("panels", "battery")).rows(sizing.frontier.iter().map(row))
}

fn ladder(facts: &Facts) -> Table {
    let sizing = facts.answer;
    let decimals =
        common_decimals(sizing.ladder.iter().filter_map(|(_, kit)| kit.as_ref()).map(|kit| kit.survival.interval));
    let row = |(target, kit): &(f64, Option<SizedKit>)| {
        let none = || "-".to_string();
        [
            target_word(*target),
            kit.as_ref().map_or("none of these".into(), |kit| kit_name(sizing, kit)),
            kit.as_ref().map_or_else(none, |kit| word(facts.verdict(kit)).to_string()),
            kit.as_ref().map_or_else(none, |kit| survival_with(&kit.survival, decimals)),
            kit.as_ref().map_or_else(none, |kit| price(sizing, kit.price)),
            kit.as_ref().map_or_else(none, weight),
        ]
    };
    Table::new(columns("target", "least kit")).rows(sizing.ladder.iter().map(row))
}

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

/// The whole answer.
#[must_use]
pub fn document(facts: &Facts) -> Document {
    let sizing = facts.answer;
    let mut out = Document::new(facts.title);
    out.placed(facts.site).caution(uncounted(facts.overloads));
    // What is proposed first: the cheapest where prices are known, else the least.
    if let Some(kit) = sizing.cheapest.as_ref().or(sizing.frontier.first()) {
        out.lead(format!("{}: {}", kit_name(sizing, kit), facts.verdict(kit).words()));
    }
    out.lead(verdict(sizing));
    if facts.medical {
        out.caution(MEDICAL_CAUTION);
    }
    let star = if sizing.judged { format!(" ({STAR})") } else { String::new() };
    out.head(format!("Survivors in a hundred outages{star}")).figure(grid(sizing));
    if !sizing.frontier.is_empty() {
        out.head("The least kits that reach the target").table(frontier(facts));
    }
    if sizing.frontier.len() > 1 {
        out.figure(curve(sizing));
    }
    if !sizing.ladder.is_empty() {
        out.head("What reliability costs").table(ladder(facts));
    }
    out.head("What this rests on").say(facts.weather.words()).say(footing(sizing));
    out
}

/// Survivors by battery and number of panels.
fn grid(sizing: &Sizing) -> Figure {
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
            across: "battery".into(),
            heads: sizing.panels.iter().map(|p| format!("{:.0}", p.amount)).collect(),
            rows: batteries.clone().rev().map(row).collect(),
            contour: Some(sizing.target),
        }),
        legend: "Battery down the side, number of panels across. The thick line on a page parts the kits whose share reaches \
                 the target from those whose does not; whether one is surely enough is told below."
            .into(),
        quiet: false,
    }
}

/// The curve of equal reliability.
fn curve(sizing: &Sizing) -> Figure {
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

/// The answer of `size` as JSON.
#[derive(Debug, Serialize)]
pub struct Json<'a> {
    title: &'a str,
    place: Told<Whereabouts>,
    seed: u64,
    /// Trials of the grid that were done.
    trials: u64,
    /// Whether the run was stopped before all of this was worked out.
    stopped_early: bool,
    target: f64,
    verdict: Told<SizeVerdict>,
    /// Outlets of the scenario's kit that switch off: the trials do not know of it.
    overloads: Vec<Told<&'a Overload>>,
    /// Where the weather comes from.
    weather: Told<&'a Note>,
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
    /// How far it can be relied on.
    verdict: super::verdict::Json,
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
pub fn json<'a>(facts: &Facts<'a>) -> Json<'a> {
    let &Facts { title, site, answer: sizing, overloads, weather, seed, .. } = facts;
    let kit = |kit: &SizedKit| JsonKit {
        battery: sizing.batteries[kit.battery].name.clone(),
        battery_wh: sizing.batteries[kit.battery].amount,
        panels: sizing.panels[kit.panels].name.clone(),
        panel_count: sizing.panels[kit.panels].amount,
        verdict: facts.verdict(kit).into(),
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
        title,
        place: Whereabouts::of(site).into(),
        seed,
        trials: sizing.trials,
        stopped_early: sizing.stopped_early,
        target: sizing.target,
        verdict: Told { fact: SizeVerdict::of(sizing), text: verdict(sizing) },
        overloads: told::all(overloads),
        weather: weather.into(),
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
