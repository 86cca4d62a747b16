//! `[station]`: what stores the energy, and the solar input.

use super::amount::shown;
use super::fields::Fields;
use super::forms::{Custom, Fault, Form, Item, OneOf, Text, any_case, fold, text_like};
use super::model::{Chemistry, MeasuredCapacity, OutletKind, Pack, Proved, SolarInput, Station};
use super::problem::Problem;
use super::{charger, outlets, taken};
use crate::units::{Fraction, Quantity, Uncertain, Volts, WattHours, Watts};

/// Kinds of cells by name; what is sold as lithium without more is asked back or told.
pub(super) const CHEMISTRY: Custom<Chemistry> =
    Custom { allowed: "LFP, NMC or lead-acid", example: "\"LFP\"", read: read_chemistry, json: || CELLS.json() };

/// Words that leave open which lithium cells they mean, and what is taken for them: of two the one that is warier of cold and of
/// fast charging (common practice, no source).
const MOSTLY_NMC: [&str; 8] = ["liion", "lithiumion", "lipo", "lipoly", "lithiumpolymer", "nca", "lco", "lmo"];

/// Whether a word is one of those by which cells are known.
pub(super) fn names_cells(word: &str) -> bool {
    let word = fold(word);
    let mut names = CELLS.names.iter().chain(CELLS.also);
    MOSTLY_NMC.contains(&word.as_str()) || names.any(|(name, _)| fold(name) == word)
}

/// The kind of cells that a word alone names for certain.
pub(super) fn kind_of_cells(word: &str) -> Option<Chemistry> {
    let word = fold(word);
    let known = CELLS.names.iter().chain(CELLS.also).find(|(name, _)| fold(name) == word).map(|(_, kind)| *kind);
    known.or_else(|| MOSTLY_NMC.contains(&word.as_str()).then_some(Chemistry::Nmc))
}

fn read_chemistry(item: &Item) -> Result<Chemistry, Fault> {
    let word = item.value.as_str().map(fold).unwrap_or_default();
    if MOSTLY_NMC.contains(&word.as_str()) {
        let says =
            "is read as NMC, which cells sold under this word mostly are; if the label says LiFePO4, write \"LFP\"";
        item.findings.push(Problem::note(item.key.clone(), says).found(item.found()));
        return Ok(Chemistry::Nmc);
    }
    match word.as_str() {
        "lithium" | "li" => {
            let both = "write \"LFP\" where the label says LiFePO4 or iron phosphate, \"NMC\" where it says Li-ion";
            Err(Fault::new("may be either kind of lithium cells").help(both))
        }
        "nimh" | "nicd" | "sodiumion" | "naion" | "lto" => {
            let other = "there are no figures for these cells: take the nearest and write their limits (charges_between, \
                         works_between, tapers_from, efficiencies) from their maker's sheet";
            Err(Fault::new("is a kind of cells that is not known here").help(other))
        }
        _ => CELLS.read(item),
    }
}

const CELLS: OneOf<Chemistry> = OneOf {
    names: &[("LFP", Chemistry::Lfp), ("NMC", Chemistry::Nmc), ("lead-acid", Chemistry::LeadAcid)],
    also: &[
        ("LiFePO4", Chemistry::Lfp),
        ("LFP battery", Chemistry::Lfp),
        ("LiFePO", Chemistry::Lfp),
        ("lithium iron phosphate", Chemistry::Lfp),
        ("iron phosphate", Chemistry::Lfp),
        ("NCM", Chemistry::Nmc),
        ("AGM", Chemistry::LeadAcid),
        ("gel", Chemistry::LeadAcid),
        ("SLA", Chemistry::LeadAcid),
        ("VRLA", Chemistry::LeadAcid),
        ("sealed lead acid", Chemistry::LeadAcid),
        ("flooded", Chemistry::LeadAcid),
        ("wet", Chemistry::LeadAcid),
        ("lead", Chemistry::LeadAcid),
    ],
};

/// The three outlets by name.
pub(super) const OUTLET: OneOf<OutletKind> = OneOf {
    names: &[("ac", OutletKind::Ac), ("dc", OutletKind::Dc), ("usb", OutletKind::Usb)],
    also: &[("12 V", OutletKind::Dc), ("mains", OutletKind::Ac)],
};

/// A record of bench tests by the name of its file.
pub(super) const RECORD_NAME: Custom<String> = Custom {
    allowed: "a file \"….toml\", relative to the scenario",
    example: "\"my-unit.toml\"",
    read: read_record_name,
    json: || text_like(&format!(".+\\.{}", any_case("toml", ""))),
};

fn read_record_name(item: &Item) -> Result<String, Fault> {
    let file = Text.read(item)?;
    if file.to_lowercase().ends_with(".toml") {
        return Ok(file);
    }
    Err(Fault::new("must name a record of bench tests").help("write proved = \"my-unit.toml\""))
}

/// The volts that a capacity is told with, where it is.
pub(super) fn volts_of(capacity: &str) -> Option<f64> {
    let lower = capacity.to_lowercase().replace(',', ".");
    let (volts, _) = lower.split_once('v')?;
    volts.trim().rsplit([' ', 'x', '×']).next()?.parse().ok()
}

/// Whether a capacity is told by the volts of lead-acid batteries, which lithium ones are sold by too.
pub(super) fn may_be_lead(capacity: &str) -> bool {
    let lead = |volts: f64| [6.0, 12.0, 24.0, 36.0, 48.0].contains(&volts);
    capacity.to_lowercase().contains("ah") && volts_of(capacity).is_some_and(lead)
}

/// Volts and amp-hours of a lead-acid battery without a word for the cells.
fn cells_untold(fields: &Fields) {
    let Some(item) = fields.item("rated_capacity").filter(|_| !fields.has("chemistry")) else { return };
    let text = item.value.as_str().unwrap_or_default();
    if may_be_lead(text) {
        let untold = Problem::error(item.key.clone(), "may be lead-acid or lithium, which give very different hours")
            .found(item.found())
            .help("write chemistry = \"LFP\", or chemistry = \"AGM\" for lead-acid, as the label says");
        fields.findings().push(untold);
    }
}

/// A label of "12 V" on lithium iron phosphate: four cells in a row have 3.2 V each (common practice, no source).
fn twelve_volts(fields: &Fields, chemistry: Chemistry) {
    let Some(item) = fields.item("rated_capacity").filter(|_| chemistry == Chemistry::Lfp) else { return };
    let text = item.value.as_str().unwrap_or_default().to_lowercase().replace(' ', "");
    if text.contains("ah") && ["12v", "12.0v"].iter().any(|volts| text.starts_with(volts) || text.ends_with(volts)) {
        let low = Problem::note(item.key.clone(), "counts 12 V for cells of 12.8 V")
            .found(item.found())
            .help("four LFP cells in a row are 12.8 V: where the label gives watt-hours, write those");
        fields.findings().push(low);
    }
}

/// Load of the trade's bench test in watts per watt-hour of label: empty in about five hours. Common practice, no source.
const BENCH_LOAD_PER_WH: f64 = 0.2;

pub(super) fn read(fields: &Fields) -> Option<Station> {
    let rated = fields.get::<(Uncertain<WattHours>, bool)>("rated_capacity");
    let measured = measured(fields, rated.map(|(rated, _)| rated));
    let proved = proved(fields);
    let chemistry = fields.get("chemistry")?;
    twelve_volts(fields, chemistry);
    cells_untold(fields);
    // What a default may hang on.
    let of: &[&str] = match chemistry {
        Chemistry::Lfp => &["LFP", "lithium"],
        Chemistry::Nmc => &["NMC", "lithium"],
        Chemistry::LeadAcid => &["lead-acid"],
    };
    if fields.has("state_of_health") && fields.has("measured_capacity") {
        let unused = Problem::warning(fields.key("state_of_health"), "is of no use beside `measured_capacity`")
            .help("the test says what is left: leave state_of_health out")
            .against(fields.key("measured_capacity"), "the test");
        fields.findings().push(unused);
    }
    let charges_between = fields.get_of("charges_between", of)?;
    charger::check_frost(fields, chemistry, charges_between);
    let (charge_to, keep_above) = (fields.get("charge_to")?, fields.get_of("keep_above", of)?);
    check_window(fields, charge_to, keep_above, chemistry);
    let inverter = fields.one("inverter").and_then(outlets::inverter);
    let usb = fields.one("usb");
    let solar_inputs = fields.all("solar_input", solar_input);
    inputs(fields);
    let (rated_capacity, capacity_told) = rated?;
    Some(Station {
        rated_capacity,
        capacity_told,
        measured,
        proved,
        chemistry,
        state_of_health: fields.get("state_of_health")?,
        stands: fields.get("stands")?,
        charges_between,
        works_between: fields.get_of("works_between", of)?,
        self_heating: fields.get("self_heating"),
        heat_capacity: fields.get("heat_capacity"),
        heat_loss: fields.get("heat_loss"),
        tapers_from: fields.get_of("tapers_from", of)?,
        charge_to,
        keep_above,
        charge_efficiency: fields.get_of("charge_efficiency", of)?,
        discharge_efficiency: fields.get_of("discharge_efficiency", of)?,
        charge_limit: fields.get("charge_limit"),
        discharge_limit: fields.get("discharge_limit"),
        own_draw: fields.get("own_draw")?,
        self_discharge_a_month: fields.get_of("self_discharge", of)?,
        loses_by_rate: fields.get("loses_by_rate")?,
        inverter,
        dc_outlet: fields.one("dc_outlet").and_then(|outlet| outlets::plain(outlet, outlet.get("cable"))),
        usb: usb.and_then(|outlet| outlets::plain(outlet, None)),
        usb_ports: usb.and_then(|outlet| outlet.get("ports")).unwrap_or_default(),
        solar_inputs: solar_inputs.unwrap_or_default(),
        solar_limit: fields.get("solar_limit"),
        packs: fields.all("pack", pack)?,
        wall_charger: fields.one("wall_charger").and_then(charger::wall_charger),
    })
}

/// A test that gives less than this share of the label is doubted. No source.
const LEAST_LIKELY: f64 = 0.5;

fn measured(fields: &Fields, rated: Option<Uncertain<WattHours>>) -> Option<MeasuredCapacity> {
    if !fields.has("measured_capacity") {
        for name in ["measured_at", "measured_load"].into_iter().filter(|name| fields.has(name)) {
            let lonely = Problem::warning(fields.key(name), "is of no use without `measured_capacity`")
                .help("add measured_capacity, the energy that came out of the outlet in the test, or leave this out");
            fields.findings().push(lonely);
        }
        return None;
    }
    let (delivered, rated): (Uncertain<WattHours>, _) = (fields.get("measured_capacity")?, rated?);
    let doubt = |what: &str, help: &str| {
        let doubt = Problem::warning(fields.key("measured_capacity"), what)
            .found(delivered.to_string())
            .help(help)
            .against(fields.key("rated_capacity"), "the label");
        fields.findings().push(doubt);
    };
    if rated.value.0 + rated.plus_minus < delivered.value.0 - delivered.plus_minus {
        let help = "an outlet seldom gives more than the label: check both numbers and the meter";
        doubt("is more than the label promises", help);
    }
    if delivered.value.0 + delivered.plus_minus < LEAST_LIKELY * rated.value.0 {
        doubt(
            "is less than half of what the label promises",
            "is a digit missing, or was the test broken off? A unit that is really so weak should not be relied on; \
             write its figures only after a second full discharge",
        );
    }
    let load = fields.get("measured_load").unwrap_or(Watts(BENCH_LOAD_PER_WH * rated.value.0));
    Some(MeasuredCapacity { delivered, outlet: fields.get("measured_at")?, load })
}

fn proved(fields: &Fields) -> Option<Proved> {
    let file = fields.get("proved")?;
    if fields.has("measured_capacity") {
        let clash = Problem::error(fields.key("measured_capacity"), "and `station.proved` cannot both be given")
            .help("the record holds the capacity with everything that hangs on it: leave measured_capacity out")
            .against(fields.key("proved"), "the record");
        fields.findings().push(clash);
    }
    Some(Proved { file, kit: None })
}

fn check_window(fields: &Fields, charge_to: Fraction, keep_above: Fraction, chemistry: Chemistry) {
    let (top, floor) = (fields.key("charge_to"), fields.key("keep_above"));
    let findings = fields.findings();
    if !findings.clean(&top) || !findings.clean(&floor) {
        return;
    }
    if charge_to <= keep_above {
        let at = if fields.has("keep_above") { (&floor, &top) } else { (&top, &floor) };
        let clash = Problem::error(at.0, "leaves nothing to use")
            .found(format!(
                "keep_above {} and charge_to {}",
                shown::<Fraction>(keep_above.0),
                shown::<Fraction>(charge_to.0)
            ))
            .allowed("keep_above below charge_to")
            .against(at.1, "the other end");
        findings.push(clash);
    } else if chemistry == Chemistry::LeadAcid && keep_above < Fraction(0.5) {
        let warning = Problem::warning(floor, "is low for lead-acid cells")
            .found(shown::<Fraction>(keep_above.base()))
            .help("emptying them below half wears them out within a few hundred cycles: write \"50 %\" unless their maker says otherwise");
        findings.push(warning);
    }
}

fn pack(fields: &Fields) -> Option<Pack> {
    let (rated_capacity, capacity_told) = fields.get("rated_capacity")?;
    Some(Pack { rated_capacity, capacity_told, state_of_health: fields.get("state_of_health")? })
}

/// Several solar inputs have names by which panels tell them apart.
fn inputs(station: &Fields) {
    let (inputs, findings) = (station.many("solar_input"), station.findings());
    if inputs.len() > 1 {
        let mut names: Vec<(String, String)> = Vec::new();
        for input in inputs {
            match input.get("name") {
                None if input.misspells("name") || input.has("name") => {}
                None => findings
                    .push(Problem::error(input.key("name"), "is missing: there are several solar inputs").help(
                    "give each a name, like name = \"left\"; each [[panel]] then says which it feeds, input = \"left\"",
                )),
                Some(name) => names.push((input.key("name"), name)),
            }
        }
        let names = names.iter().map(|(key, name)| (key.clone(), name.as_str()));
        taken::twice(names, fold, "solar input", None).into_iter().for_each(|problem| findings.push(problem));
    }
    if inputs.is_empty() && station.has("solar_limit") && !station.has("solar_input") {
        let alone = Problem::error(station.key("solar_limit"), "goes with solar inputs only")
            .help("add a section [station.solar_input], or leave this out");
        findings.push(alone);
    }
}

fn solar_input(fields: &Fields) -> Option<SolarInput> {
    let (volts_min, volts_max): (Option<Volts>, Option<Volts>) = (fields.get("volts_min"), fields.get("volts_max"));
    if let (Some(least), Some(most)) = (volts_min, volts_max)
        && most <= least
    {
        let clash = Problem::error(fields.key("volts_max"), "must be above `volts_min`")
            .found(most.to_string())
            .allowed(format!("above {least}"))
            .against(fields.key("volts_min"), "the least voltage");
        fields.findings().push(clash);
    }
    let amps_max = fields.get("amps_max");
    Some(SolarInput {
        name: fields.get("name").unwrap_or_default(),
        key: fields.path().to_string(),
        limit: fields.get("limit")?,
        volts_min,
        volts_max,
        amps_max,
        held_at: fields.get("pwm_at"),
        efficiency: fields.get("efficiency")?,
    })
}
