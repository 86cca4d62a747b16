//! The catalogue's own keys, and every kit judged by the scenario's reader.

use toml::{Table, Value};

use super::compose::compose;
use super::{Case, Catalogue, CatalogueKit, of_kit, place, table};
use crate::scenario::checks::TOO_MANY_VOLTS;
use crate::scenario::fields::{Fields, Findings};
use crate::scenario::forms::{Custom, Fault, Item, any_text, tidy};
use crate::scenario::model::Panel;
use crate::scenario::schema::CATALOGUE;
use crate::scenario::source::{Places, Source};
use crate::scenario::taken;
use crate::scenario::variant::plain;
use crate::scenario::{Level, Problem, Scenario, problem, read as read_scenario, syntax};
use crate::units::Kilograms;

/// Reads a catalogue: TOML, or a table of comma-separated values where the file's name ends in `.csv`. Comes with warnings.
///
/// # Errors
/// Every problem of the file at once, or the first syntax error; each with its place.
pub fn read(source: &Source) -> Result<(Catalogue, Vec<Problem>), Vec<Problem>> {
    let is_table = source.name.to_lowercase().ends_with(".csv");
    let (raw, places, mut problems) = if is_table { table::read(source) } else { toml(source)? };
    let mut kits = Vec::with_capacity(raw.kits.len());
    let names = raw.kits.iter().enumerate().filter_map(|(number, kit)| {
        let kit = kit.as_ref()?;
        Some((format!("kit.{number}.name"), kit.name.as_str()))
    });
    problems.extend(taken::twice(names, str::to_lowercase, "kit", Some("give each kit a name of its own")));
    for (number, kit) in raw.kits.into_iter().enumerate() {
        let Some(mut kit) = kit else { continue };
        let found = judge(&mut kit);
        problems.extend(found.into_iter().map(|problem| of_kit(number, problem)));
        kits.push(kit);
    }
    if kits.is_empty() && problems.is_empty() {
        problems.push(Problem::error("kit", "is missing").help("add a section [[kit]] for each kit to hold up"));
    }
    let mut problems: Vec<Problem> = problems.into_iter().map(|problem| place(&places, source, problem)).collect();
    problem::sort(&mut problems);
    if problems.iter().any(|problem| problem.level == Level::Error) {
        return Err(problems);
    }
    Ok((Catalogue { currency: raw.currency, kits, places }, problems))
}

/// What stands in a catalogue before its kits are judged; those that cannot be told at all are `None`.
pub(super) struct Raw {
    pub currency: String,
    pub kits: Vec<Option<CatalogueKit>>,
}

type Read = (Raw, Places, Vec<Problem>);

/// Whether a file of TOML is a catalogue: it has kits.
#[must_use]
pub fn is_catalogue(table: &Table) -> bool {
    table.get("kit").is_some_and(Value::is_array)
}

fn toml(source: &Source) -> Result<Read, Vec<Problem>> {
    let document = syntax::document(source, "catalogue")?;
    let document = document.get_ref();
    let findings = Findings::new(Places::of(document), Some(&CATALOGUE));
    let (mut currency, mut kits) = (String::new(), Vec::new());
    {
        let root = Fields::root(document, &CATALOGUE, &findings);
        currency = root.get("currency").unwrap_or(currency);
        kits.extend(root.many("kit").iter().map(|fields| kit(fields, &mut currency)));
    }
    let (problems, places) = findings.into_parts();
    Ok((Raw { currency, kits }, places, problems))
}

/// Takes in the money that a kit's price is in. Prices are held against each other: all must be in one.
pub(super) fn one_money(so_far: &mut String, money: &str, key: &str) -> Option<Problem> {
    if so_far.is_empty() {
        *so_far = money.to_string();
    }
    let other = || {
        Problem::error(key, "is other money than the catalogue's")
            .found(tidy(money))
            .allowed(tidy(so_far))
            .help("write all prices in one money: nothing here knows what one is worth in another")
    };
    (so_far.to_lowercase() != money.to_lowercase()).then(other)
}

fn kit(fields: &Fields, currency: &mut String) -> Option<CatalogueKit> {
    if let Some(money) = fields.get::<String>("currency")
        && let Some(problem) = one_money(currency, &money, &fields.key("currency"))
    {
        fields.findings().push(problem);
    }
    let part = |part: &str| Some((part.to_string(), fields.get(part)?));
    let parts = ["station", "panel"].into_iter().filter_map(part).collect();
    let weight_kg = fields.get("weight").map(|weight: Kilograms| weight.0);
    Some(CatalogueKit { price: fields.get("price"), weight_kg, ..CatalogueKit::bare(fields.get("name")?, parts) })
}

/// Whatever stands there, as written: the scenario's reader judges it.
pub(in crate::scenario) const ANYTHING: Custom<Value> =
    Custom { allowed: "as in a scenario", example: "{}", read: read_anything, json: any_text };

fn read_anything(item: &Item) -> Result<Value, Fault> {
    Ok(plain(item.value))
}

impl CatalogueKit {
    pub(super) fn bare(name: String, parts: Table) -> CatalogueKit {
        CatalogueKit {
            name,
            price: None,
            weight_kg: None,
            capacity_wh: 0.0,
            panels_w: 0.0,
            string_w: None,
            takes_sun: false,
            parts,
        }
    }
}

/// What the scenario's reader says of a kit, and the figures that everyone asks for.
fn judge(kit: &mut CatalogueKit) -> Vec<Problem> {
    let (mut scenario, mut found) = kit.alone();
    let fatal = |problem: &Problem| problem.level == Level::Error;
    let volts = |problem: &Problem| problem.what == TOO_MANY_VOLTS;
    if found.iter().any(fatal)
        && found.iter().filter(|problem| fatal(problem)).all(volts)
        && let Some((unlimited, _)) = kit.without_volts_max()
    {
        // Wired wrongly it fits no case, and each of its cells says how it would; the other kits are not to wait for it.
        scenario = unlimited.alone().0;
        found.iter_mut().filter(|problem| volts(problem)).for_each(|problem| problem.level = Level::Warning);
    }
    if let Some(scenario) = scenario {
        kit.capacity_wh = scenario.station.rated_capacity.value.0;
        // A sum of no numbers would be -0.
        kit.panels_w = scenario.panels.iter().map(Panel::array_w).fold(0.0, |sum, watts| sum + watts);
        kit.string_w = scenario.panels.first().map(|panel| panel.rated.value.0 * f64::from(panel.series));
        kit.takes_sun = !scenario.station.solar_inputs.is_empty();
    }
    let foreign = |key: &str| ["site", "outage", "load"].iter().any(|part| key.starts_with(part));
    found
        .into_iter()
        .filter(|problem| problem.level != Level::Note && !foreign(&problem.key))
        .filter(|problem| {
            !(problem.level == Level::Warning && problem.second.as_ref().is_some_and(|m| foreign(&m.key)))
        })
        .collect()
}

impl CatalogueKit {
    /// The scenario of the kit under a case that asks for next to nothing, and all that its reader says; no scenario where
    /// the kit cannot be used.
    #[must_use]
    pub fn alone(&self) -> (Option<Scenario>, Vec<Problem>) {
        let station = self.parts.get("station");
        let has = |outlet: &str| station.and_then(|station| station.get(outlet)).is_some();
        let outlets = [("ac", "inverter"), ("dc", "dc_outlet"), ("usb", "usb")];
        let Some((outlet, _)) = outlets.into_iter().find(|(_, section)| has(section)).or(
            // Without a readable station its own problem is enough.
            station.filter(|station| station.is_table()).is_none().then_some(outlets[0]),
        ) else {
            let none = Problem::error("station", "has no outlet at all")
                .help("add a section [station.inverter], [station.dc_outlet] or [station.usb]");
            return (None, vec![none]);
        };
        // A case that asks for next to nothing, on the equator, where a panel may look anywhere.
        let text = format!(
            "site = {{ latitude = 0.0, longitude = 0.0 }}\noutage = {{ month = \"March\", lasts = \"1 h\", starts_charged = \"50 %\" }}\n\
         load = [{{ name = \"lamp\", outlet = \"{outlet}\", priority = \"vital\", watts = \"0.001 W\" }}]"
        );
        let table: Table = text.parse().unwrap_or_default();
        let case = Case::bare(table);
        match read_scenario(&Source::new("kit", compose(self, &case, None))) {
            Ok((scenario, _, found)) => (Some(scenario), found),
            Err(found) => (None, found),
        }
    }
}

/// Whether a value stands in a table under a dotted path; used where paths are made by hand.
pub(super) fn put(table: &mut Table, path: &[&str], value: Value) {
    match path {
        [] => {}
        [last] => {
            table.insert((*last).to_string(), value);
        }
        [first, rest @ ..] => {
            let inner = table.entry((*first).to_string()).or_insert_with(|| Value::Table(Table::new()));
            if let Value::Table(inner) = inner {
                put(inner, rest, value);
            }
        }
    }
}
