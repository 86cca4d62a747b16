//! A catalogue as a table of comma-separated values: one line a kit, columns with their units in their names.

use std::collections::BTreeMap;
use std::ops::Range;

use toml::{Table, Value};

use super::CatalogueKit;
use super::read::{Raw, one_money, put};
use crate::scenario::Problem;
use crate::scenario::fields::MOST_KITS;
use crate::scenario::forms::tidy;
use crate::scenario::nearest::nearest;
use crate::scenario::source::{KeySpan, Places, Source};
use crate::units::two_readings;

/// How a cell becomes a value.
#[derive(Clone, Copy)]
enum Kind {
    /// A text as it is.
    Text,
    /// A number, written with this unit.
    Unit(&'static str),
    /// A whole number.
    Whole,
    /// yes or no.
    YesNo,
}

/// Column, path in the kit, kind. `PANEL` stands for the one array of panels that a table can give.
const COLUMNS: &[(&str, &[&str], Kind)] = &[
    ("capacity_wh", &["station", "rated_capacity"], Kind::Unit("Wh")),
    ("measured_wh", &["station", "measured_capacity"], Kind::Unit("Wh")),
    ("measured_at", &["station", "measured_at"], Kind::Text),
    ("measured_load_w", &["station", "measured_load"], Kind::Unit("W")),
    ("proved", &["station", "proved"], Kind::Text),
    ("chemistry", &["station", "chemistry"], Kind::Text),
    ("charge_to_percent", &["station", "charge_to"], Kind::Unit("%")),
    ("keep_above_percent", &["station", "keep_above"], Kind::Unit("%")),
    ("own_draw_w", &["station", "own_draw"], Kind::Unit("W")),
    ("ac_w", &["station", "inverter", "rated"], Kind::Unit("W")),
    ("ac_surge_w", &["station", "inverter", "surge"], Kind::Unit("W")),
    ("ac_idle_w", &["station", "inverter", "idle"], Kind::Unit("W")),
    ("ac_efficiency_percent", &["station", "inverter", "efficiency"], Kind::Unit("%")),
    ("ac_sleeps", &["station", "inverter", "sleeps"], Kind::YesNo),
    ("ac_switches_off_below_w", &["station", "inverter", "switches_off_below"], Kind::Unit("W")),
    ("ac_switches_off_after_h", &["station", "inverter", "switches_off_after"], Kind::Unit("h")),
    ("dc_w", &["station", "dc_outlet", "limit"], Kind::Unit("W")),
    ("dc_efficiency_percent", &["station", "dc_outlet", "efficiency"], Kind::Unit("%")),
    ("usb_w", &["station", "usb", "limit"], Kind::Unit("W")),
    ("usb_efficiency_percent", &["station", "usb", "efficiency"], Kind::Unit("%")),
    ("solar_w", &["station", "solar_input", "limit"], Kind::Unit("W")),
    ("solar_volts_min", &["station", "solar_input", "volts_min"], Kind::Unit("V")),
    ("solar_volts_max", &["station", "solar_input", "volts_max"], Kind::Unit("V")),
    ("solar_amps_max", &["station", "solar_input", "amps_max"], Kind::Unit("A")),
    ("charger_w", &["station", "wall_charger", "limit"], Kind::Unit("W")),
    ("charger_efficiency_percent", &["station", "wall_charger", "efficiency"], Kind::Unit("%")),
    ("panel_w", &[PANEL, "rated"], Kind::Unit("W")),
    ("panels", &[PANEL, "count"], Kind::Whole),
    ("panel_wiring", &[PANEL, "wiring"], Kind::Text),
    ("panels_in_series", &[PANEL, "wiring", "series"], Kind::Whole),
    ("panels_in_parallel", &[PANEL, "wiring", "parallel"], Kind::Whole),
    ("panel_open_circuit_v", &[PANEL, "open_circuit_voltage"], Kind::Unit("V")),
    ("panel_max_power_v", &[PANEL, "max_power_voltage"], Kind::Unit("V")),
    ("panel_tilt_deg", &[PANEL, "tilt"], Kind::Unit("°")),
    ("panel_facing", &[PANEL, "facing"], Kind::Text),
];

const PANEL: &str = "panel";

/// Columns of the catalogue itself. `measured_plus_minus_percent` goes with `measured_wh`.
const OWN: [&str; 5] = ["name", "price", "currency", "weight_kg", "measured_plus_minus_percent"];

/// Whether a column is the owner's own, and left alone: remarks, and whatever begins with `my_`.
fn left_alone(name: &str) -> bool {
    let name = name.to_lowercase();
    name == "remarks" || name.starts_with("my_")
}

/// One cell: its bytes in the file and what it says.
type CellAt = (Range<usize>, String);

/// Splits a text into lines of cells, quotes as in RFC 4180.
fn cells(text: &str, separator: char) -> Vec<Vec<CellAt>> {
    let mut lines = vec![Vec::new()];
    let (mut start, mut value, mut quoted) = (0, String::new(), false);
    let mut chars = text.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        match c {
            '"' if quoted && chars.peek().is_some_and(|(_, next)| *next == '"') => {
                value.push('"');
                chars.next();
            }
            '"' if quoted || value.trim().is_empty() => quoted = !quoted,
            c if !quoted && (c == separator || c == '\n') => {
                let end = text[start..at].trim_end().len() + start;
                if let Some(line) = lines.last_mut() {
                    line.push((start..end, value.trim().to_string()));
                }
                value.clear();
                start = at + c.len_utf8();
                if c == '\n' {
                    lines.push(Vec::new());
                }
            }
            c => value.push(c),
        }
    }
    if let Some(line) = lines.last_mut() {
        let end = text[start..].trim_end().len() + start;
        line.push((start..end, value.trim().to_string()));
    }
    lines
}

/// Reads the table. Kits are checked later, by the scenario's reader.
pub(super) fn read(source: &Source) -> (Raw, Places, Vec<Problem>) {
    let head = source.text.lines().next().unwrap_or("");
    let separator = if head.contains(';') && !head.contains(',') { ';' } else { ',' };
    let mut lines = cells(&source.text, separator).into_iter();
    let mut sheet = Sheet { head: Vec::new(), marks: BTreeMap::new(), names: BTreeMap::new(), problems: Vec::new() };
    sheet.head(lines.next().unwrap_or_default());
    let mut raw = Raw { currency: String::new(), kits: Vec::new() };
    for line in lines.filter(|line| line.iter().any(|(_, value)| !value.is_empty())) {
        let number = raw.kits.len();
        if number == MOST_KITS {
            let problem = Problem::error("kit", "has too many entries")
                .found("more lines")
                .allowed(format!("at most {MOST_KITS}"));
            sheet.problems.push(problem.in_a("catalogue"));
            break;
        }
        let kit = sheet.kit(number, line, &mut raw.currency);
        raw.kits.push(kit);
    }
    (raw, Places::by_hand(sheet.marks, sheet.names), sheet.problems)
}

struct Sheet {
    /// Names of the columns that are known; `None` for those that are not.
    head: Vec<Option<&'static str>>,
    marks: BTreeMap<String, KeySpan>,
    names: BTreeMap<String, String>,
    problems: Vec<Problem>,
}

impl Sheet {
    fn mark(&mut self, key: String, at: &Range<usize>) {
        self.marks.entry(key).or_insert_with(|| KeySpan { key: at.clone(), value: at.clone() });
    }

    fn head(&mut self, line: Vec<CellAt>) {
        let known = || OWN.into_iter().chain(COLUMNS.iter().map(|(name, _, _)| *name));
        for (at, name) in line {
            let found = known().find(|column| name.eq_ignore_ascii_case(column));
            if found.is_some() && self.head.contains(&found) {
                self.problems.push(
                    Problem::error("", "has a column twice")
                        .in_a("catalogue")
                        .at(Some(at))
                        .found(tidy(&name))
                        .help("leave one of them out"),
                );
                self.head.push(None);
                continue;
            }
            self.head.push(found);
            if found.is_none() && !left_alone(&name) {
                let mut unknown = Problem::error("", "has a column that is not known")
                    .in_a("catalogue")
                    .at(Some(at))
                    .found(tidy(&name));
                match nearest(&name, known()) {
                    Some(near) => unknown = unknown.help(format!("did you mean {near}?")),
                    None => unknown = unknown.allowed(known().collect::<Vec<_>>().join(", ")),
                }
                self.problems.push(unknown);
            }
        }
        for needed in ["name", "capacity_wh"] {
            if !self.head.contains(&Some(needed)) {
                self.problems.push(Problem::error("", format!("has no column {needed}")).in_a("catalogue"));
            }
        }
    }

    fn kit(&mut self, number: usize, line: Vec<CellAt>, currency: &mut String) -> Option<CatalogueKit> {
        let path = format!("kit.{number}");
        if let (Some((first, _)), Some((last, _))) = (line.first(), line.last()) {
            self.mark(path.clone(), &(first.start..last.end));
        }
        if let Some((at, extra)) = line.get(self.head.len()) {
            self.problems.push(
                Problem::error(&path, "has more cells than there are columns")
                    .at(Some(at.clone()))
                    .found(tidy(extra))
                    .help("put a cell that holds a comma in quotes"),
            );
            return None;
        }
        let head = self.head.clone();
        let mut parts = Table::new();
        let mut panel = Table::new();
        let cell = |column: &str| {
            let k = head.iter().position(|name| *name == Some(column))?;
            line.get(k).filter(|(_, value)| !value.is_empty())
        };
        for (column, way, kind) in COLUMNS {
            let Some((at, value)) = cell(column) else { continue };
            let (list, inner) = match way {
                [PANEL, rest @ ..] => (true, rest),
                way => (false, *way),
            };
            let place = if list { "panel.0.".to_string() } else { String::new() } + &inner.join(".");
            self.mark(format!("{path}.{place}"), at);
            let value = match kind {
                Kind::Text => Value::String(value.clone()),
                Kind::Unit(unit) => {
                    let spread = cell("measured_plus_minus_percent").filter(|_| *column == "measured_wh");
                    let spread = spread.map_or(String::new(), |(_, percent)| format!(" ± {percent} %"));
                    Value::String(format!("{value} {unit}{spread}"))
                }
                Kind::Whole => value.parse().map_or_else(|_| Value::String(value.clone()), Value::Integer),
                Kind::YesNo => match value.to_lowercase().as_str() {
                    "yes" | "true" | "1" => Value::Boolean(true),
                    "no" | "false" | "0" => Value::Boolean(false),
                    _ => Value::String(value.clone()),
                },
            };
            put(if list { &mut panel } else { &mut parts }, inner, value);
        }
        // A column of zeros for kits without panels is no panel.
        let none = panel.get("count").and_then(Value::as_integer) == Some(0);
        if !panel.is_empty() && !none {
            if let Some((at, _)) = cell("panel_w").or_else(|| cell("panels")) {
                self.mark(format!("{path}.panel.0"), at);
            }
            parts.insert(PANEL.into(), Value::Array(vec![Value::Table(panel)]));
        }
        if let Some((at, name)) = cell("name") {
            self.mark(format!("{path}.name"), at);
            self.names.insert(path.clone(), name.clone());
        }
        if let Some((at, money)) = cell("currency") {
            self.mark(format!("{path}.currency"), at);
            self.problems.extend(one_money(currency, money, &format!("{path}.currency")));
        }
        let mut number_of = |column: &str| {
            let (at, value) = cell(column)?;
            if column == "price"
                && let Some([thousands, decimals]) = two_readings(value)
            {
                let unclear = Problem::error(format!("{path}.price"), "can be read in two ways")
                    .at(Some(at.clone()))
                    .found(tidy(value))
                    .help(format!("write {thousands} or {decimals}"));
                self.problems.push(unclear);
                return None;
            }
            let number = value.parse::<f64>().ok().filter(|number| (0.0..=1e12).contains(number));
            if number.is_none() {
                let wrong = Problem::error(format!("{path}.{column}"), "must be a number, 0 or more")
                    .at(Some(at.clone()))
                    .found(tidy(value))
                    .help("write the number alone, with a decimal point");
                self.problems.push(wrong);
            }
            number
        };
        let (price, weight_kg) = (number_of("price"), number_of("weight_kg"));
        let Some((_, name)) = cell("name") else {
            self.problems.push(Problem::error(path, "has no name"));
            return None;
        };
        Some(CatalogueKit { price, weight_kg, ..CatalogueKit::bare(name.clone(), parts) })
    }
}
