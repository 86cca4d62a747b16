//! `[[panel]]`: arrays of equal panels.

use super::amount::Amount;
use super::fields::Fields;
use super::forms::{Braces, Fault, Form, Item, OneOf, OrBraces};
use super::light;
use super::model::{Panel, PanelCable};
use super::problem::Problem;
use super::schema::panel::strings;
use crate::units::{Degrees, Volts};
use serde_json::{Value as Json, json};

/// Most panels in an array, and most in one string.
pub(super) const MOST: u32 = 10_000;

/// How the panels of an array hang together: all in one string, all side by side, or so many of each.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Wiring {
    Series,
    Parallel,
    Both { series: u32, parallel: u32 },
}

const WIRING: OneOf<Wiring> = OneOf {
    names: &[("series", Wiring::Series), ("parallel", Wiring::Parallel)],
    also: &[("in series", Wiring::Series), ("in parallel", Wiring::Parallel)],
};

const WIRING_ALLOWED: &str = "\"series\", \"parallel\" or { series = 2, parallel = 2 }";

/// The form of `wiring`.
pub(super) fn wiring() -> OrBraces<OneOf<Wiring>, Wiring> {
    OrBraces {
        one: WIRING,
        allowed: Some(WIRING_ALLOWED),
        braces: Braces {
            keys: strings(),
            wrong: "cannot be read as a wiring",
            example: "{ series = 2, parallel = 2 }",
            build: |inner| Some(Wiring::Both { series: inner.get("series")?, parallel: inner.get("parallel")? }),
        },
    }
}

const FACING: OneOf<f64> = OneOf {
    names: &[
        ("north", 0.0),
        ("north-east", 45.0),
        ("east", 90.0),
        ("south-east", 135.0),
        ("south", 180.0),
        ("south-west", 225.0),
        ("west", 270.0),
        ("north-west", 315.0),
        ("north-north-east", 22.5),
        ("east-north-east", 67.5),
        ("east-south-east", 112.5),
        ("south-south-east", 157.5),
        ("south-south-west", 202.5),
        ("west-south-west", 247.5),
        ("west-north-west", 292.5),
        ("north-north-west", 337.5),
    ],
    also: &[
        ("N", 0.0),
        ("NE", 45.0),
        ("E", 90.0),
        ("SE", 135.0),
        ("S", 180.0),
        ("SW", 225.0),
        ("W", 270.0),
        ("NW", 315.0),
        ("NNE", 22.5),
        ("ENE", 67.5),
        ("ESE", 112.5),
        ("SSE", 157.5),
        ("SSW", 202.5),
        ("WSW", 247.5),
        ("WNW", 292.5),
        ("NNW", 337.5),
    ],
};

/// A compass name or degrees from true north over east.
pub(super) struct Facing;

impl Facing {
    fn degrees() -> Amount<Degrees> {
        Amount::between(Degrees(0.0), Degrees(360.0))
    }
}

impl Form for Facing {
    type Output = Degrees;
    fn allowed(&self) -> String {
        "a compass name like \"south\" or \"south-west\", or degrees from true north over east, \"0°\" to \"360°\""
            .into()
    }
    fn example(&self) -> String {
        "\"south\"".into()
    }
    fn read(&self, item: &Item) -> Result<Degrees, Fault> {
        let Some(text) = item.value.as_str() else { return Facing::degrees().read(item) };
        if let Some(degrees) = FACING.find(text) {
            return Ok(Degrees(degrees));
        }
        if text.contains(|c: char| c.is_ascii_digit()) {
            let degrees = Facing::degrees().read(item)?;
            return Ok(Degrees(if degrees.0 == 360.0 { 0.0 } else { degrees.0 }));
        }
        let fault = Fault::new("is not a compass direction");
        Err(match FACING.near(text) {
            Some(near) => fault.help(format!("did you mean \"{near}\"?")),
            None => fault,
        })
    }
    fn json(&self) -> Json {
        json!({ "anyOf": [FACING.json(), Facing::degrees().json()] })
    }
}

/// Series and parallel from `wiring` and `count`, which must agree.
fn layout(fields: &Fields) -> Option<(u32, u32)> {
    let count: Option<u32> = fields.get("count");
    if fields.has("count") && count.is_none() {
        return None;
    }
    if !fields.has("wiring") {
        let count = count.filter(|count| *count != 1);
        if let Some(count) = count {
            let missing = Problem::error(fields.key("wiring"), format!("must be said for {count} panels"))
                .allowed(WIRING_ALLOWED)
                .help(
                    "write wiring = \"parallel\" or wiring = \"series\": in series their volts add up, in parallel their \
                     amps; too many volts destroy a station",
                )
                .against(fields.key("count"), "more than one");
            fields.findings().push(missing);
        }
        return if count.is_some() { None } else { Some((1, 1)) };
    }
    let (series, parallel) = match fields.get("wiring")? {
        Wiring::Series => (count.unwrap_or(1), 1),
        Wiring::Parallel => (1, count.unwrap_or(1)),
        Wiring::Both { series, parallel } => (series, parallel),
    };
    let product = u64::from(series) * u64::from(parallel);
    if let Some(count) = count.filter(|count| u64::from(*count) != product) {
        let clash = Problem::error(fields.key("wiring"), "does not add up to `count`")
            .found(format!("{series} in series times {parallel} in parallel, which is {product}"))
            .allowed(format!("{count} panels in all"))
            .against(fields.key("count"), "panels in all");
        fields.findings().push(clash);
        return None;
    }
    Some((series, parallel))
}

fn voltages(fields: &Fields) -> (Option<Volts>, Option<Volts>) {
    let (open, best): (Option<Volts>, Option<Volts>) =
        (fields.get("open_circuit_voltage"), fields.get("max_power_voltage"));
    if let (Some(open), Some(best)) = (open, best)
        && open <= best
    {
        let clash = Problem::error(fields.key("max_power_voltage"), "must be below `open_circuit_voltage`")
            .found(best.to_string())
            .allowed(format!("below {open}"))
            .help("on the label Vmp is the smaller and Voc the larger")
            .against(fields.key("open_circuit_voltage"), "the open-circuit voltage");
        fields.findings().push(clash);
    }
    (open, best)
}

/// `cable` or `cable_loss`, not both.
fn cable(fields: &Fields) -> Option<PanelCable> {
    let Some(wire) = fields.get("cable") else { return fields.get("cable_loss").map(PanelCable::Loses) };
    if fields.has("cable_loss") {
        let clash = Problem::error(fields.key("cable_loss"), "and `cable` cannot both be given")
            .help("keep cable, from which the loss follows")
            .against(fields.key("cable"), "the other one");
        fields.findings().push(clash);
    } else if !fields.has("open_circuit_voltage") && !fields.has("max_power_voltage") {
        let unknown = Problem::error(fields.key("cable"), "needs `max_power_voltage`")
            .help("the loss depends on the amps, and they on the panel's volts: copy Vmp from its label");
        fields.findings().push(unknown);
    }
    Some(PanelCable::Wire(wire))
}

/// Reads one array; `number` counts from 1.
pub(super) fn read(fields: &Fields, number: usize) -> Option<Panel> {
    let layout = layout(fields);
    let aim = light::direction(fields);
    let (open_circuit_voltage, max_power_voltage) = voltages(fields);
    let cable = cable(fields);
    let (series, parallel) = layout?;
    Some(Panel {
        name: fields.get("name").unwrap_or_else(|| format!("panel {number}")),
        input: fields.get("input").unwrap_or_default(),
        rated: fields.get("rated")?,
        series,
        parallel,
        aim: aim?,
        shade: fields.get("shade").unwrap_or_default(),
        out: fields.get("out"),
        open_circuit_voltage,
        max_power_voltage,
        voltage_coefficient: fields.get("voltage_coefficient"),
        power_coefficient: fields.get("power_coefficient")?,
        soiling: fields.get("soiling")?,
        cable: cable?,
    })
}
