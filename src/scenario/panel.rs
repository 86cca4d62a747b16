//! `[[panel]]`: arrays of equal panels.

use super::amount::{Amount, Unsure};
use super::fields::Fields;
use super::forms::{Fault, Form, Item, OneOf, Text, Whole};
use super::model::{Panel, PanelCable};
use super::problem::Problem;
use super::{light, wire};
use crate::units::{Degrees, Fraction, PerKelvin, Volts, Watts};
use toml::de::DeValue;

/// Most panels in an array, and most in one string.
const MOST: u32 = 10_000;

/// How the panels of an array hang together.
#[derive(Clone, Copy, PartialEq)]
enum Wiring {
    Series,
    Parallel,
}

const WIRING: OneOf<Wiring> = OneOf {
    names: &[("series", Wiring::Series), ("parallel", Wiring::Parallel)],
    also: &[("in series", Wiring::Series), ("in parallel", Wiring::Parallel)],
};

const WIRING_ALLOWED: &str = "\"series\", \"parallel\" or { series = 2, parallel = 2 }";

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
}

/// Series and parallel from `wiring` and `count`, which must agree.
fn layout(fields: &mut Fields) -> Option<(u32, u32)> {
    let whole = Whole { least: 1, greatest: MOST };
    let count_given = fields.has("count");
    let count = fields.optional("count", &whole);
    let Some(item) = fields.item("wiring") else {
        match count {
            Some(1) | None if !count_given || count.is_some() => return Some((1, 1)),
            Some(count) => {
                let missing = Problem::error(fields.key("wiring"), format!("must be said for {count} panels"))
                    .allowed(WIRING_ALLOWED)
                    .help(
                        "write wiring = \"parallel\" or wiring = \"series\": in series their volts add up, in parallel their \
                         amps; too many volts destroy a station",
                    )
                    .against(fields.key("count"), "more than one");
                fields.findings().push(missing);
                return None;
            }
            None => return None,
        }
    };
    if let Some(mut inner) = Fields::of(&item, fields.findings()) {
        let series = inner.required("series", &whole);
        let parallel = inner.required("parallel", &whole);
        inner.finish();
        let (series, parallel) = (series?, parallel?);
        if let Some(count) = count
            && u64::from(series) * u64::from(parallel) != u64::from(count)
        {
            let product = u64::from(series) * u64::from(parallel);
            let clash = Problem::error(&item.key, "does not add up to `count`")
                .found(format!("{series} in series times {parallel} in parallel, which is {product}"))
                .allowed(format!("{count} panels in all"))
                .against(fields.key("count"), "panels in all");
            fields.findings().push(clash);
            return None;
        }
        return Some((series, parallel));
    }
    let wiring = match item.value {
        DeValue::String(_) => WIRING.read(&item),
        _ => Err(Fault::new("cannot be read as a wiring")),
    };
    match wiring {
        Ok(_) if count_given && count.is_none() => None,
        Ok(Wiring::Series) => Some((count.unwrap_or(1), 1)),
        Ok(Wiring::Parallel) => Some((1, count.unwrap_or(1))),
        Err(fault) => {
            fields.refuse(&item, fault, WIRING_ALLOWED.into());
            None
        }
    }
}

fn voltages(fields: &mut Fields) -> (Option<Volts>, Option<Volts>) {
    let open = fields.optional("open_circuit_voltage", &Amount::<Volts>::positive());
    let best = fields.optional("max_power_voltage", &Amount::<Volts>::positive());
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
fn cable(fields: &mut Fields, volts_known: bool) -> Option<PanelCable> {
    let flat = fields.or("cable_loss", &Amount::to_below(Fraction::ZERO, Fraction::ONE), Fraction(0.02));
    let wire = wire::cable(fields, "cable").ok()?;
    let Some(wire) = wire else { return Some(PanelCable::Loses(flat)) };
    if fields.has("cable_loss") {
        let clash = Problem::error(fields.key("cable_loss"), "and `cable` cannot both be given")
            .help("keep cable, from which the loss follows")
            .against(fields.key("cable"), "the other one");
        fields.findings().push(clash);
    } else if !volts_known && !fields.has("open_circuit_voltage") && !fields.has("max_power_voltage") {
        let unknown = Problem::error(fields.key("cable"), "needs `max_power_voltage`")
            .help("the loss depends on the amps, and they on the panel's volts: copy Vmp from its label");
        fields.findings().push(unknown);
    }
    Some(PanelCable::Wire(wire))
}

/// Reads one array; `number` counts from 1.
pub(super) fn read(fields: &mut Fields, number: usize) -> Option<Panel> {
    let coefficient = || Amount::to_below(PerKelvin(-0.01), PerKelvin(0.0));
    let loss = || Amount::to_below(Fraction::ZERO, Fraction::ONE);
    let name = fields.or("name", &Text, format!("panel {number}"));
    let rated = fields.required("rated", &Unsure(Amount::<Watts>::positive()));
    let layout = layout(fields);
    let aim = light::aim(fields);
    let shade = light::shade(fields);
    let out = light::out(fields);
    let (open_circuit_voltage, max_power_voltage) = voltages(fields);
    let voltage_coefficient = fields.optional("voltage_coefficient", &coefficient());
    let power_coefficient = fields.or("power_coefficient", &coefficient(), PerKelvin(-0.004));
    let soiling = fields.or("soiling", &loss(), Fraction(0.03));
    let cable = cable(fields, open_circuit_voltage.or(max_power_voltage).is_some());
    let (series, parallel) = layout?;
    Some(Panel {
        name,
        rated: rated?,
        series,
        parallel,
        aim: aim?,
        shade: shade?,
        out: out.ok()?,
        open_circuit_voltage,
        max_power_voltage,
        voltage_coefficient,
        power_coefficient,
        soiling,
        cable: cable?,
    })
}
