//! Cables: `{ length = "10 m", gauge = "12 AWG" }`.

use super::amount::Amount;
use super::forms::{Braces, Custom, Fault, Form, Item, any_case, text_like};
use super::model::{Cable, Gauge};
use super::schema::{key, required};
use crate::units::{Metres, SquareMillimetres};
use serde_json::json;

/// Longest cable \[m\].
const LONGEST: Metres = Metres(1000.0);

/// How thick a wire is.
const THICKNESS: Custom<Gauge> = Custom {
    allowed: "\"18 AWG\" to \"4 AWG\" in even numbers, or a cross-section from \"0.2 mm²\" to \"120 mm²\"",
    example: "\"12 AWG\"",
    read: thickness,
    json: || {
        let awg = any_case("AWG", "");
        json!({ "anyOf": [text_like(&format!("[0-9]+ *{awg}|{awg} *[0-9]+")), metric().json()] })
    },
};

fn metric() -> Amount<SquareMillimetres> {
    Amount::between(SquareMillimetres(0.2), SquareMillimetres(120.0))
}

fn thickness(item: &Item) -> Result<Gauge, Fault> {
    let Some(text) = item.value.as_str() else { return Err(Fault::new("needs a unit")) };
    let lower = text.trim().to_lowercase();
    let Some(number) = lower.strip_suffix("awg").or(lower.strip_prefix("awg")) else {
        return metric().read(item).map(Gauge::Metric).map_err(|fault| match lower.parse::<f64>() {
            Ok(_) => fault.help(format!("write \"{lower} AWG\", or a cross-section like \"4 mm²\"")),
            Err(_) => fault,
        });
    };
    match number.trim().parse::<u8>() {
        Ok(number) if (4..=18).contains(&number) && number.is_multiple_of(2) => Ok(Gauge::Awg(number)),
        Ok(_) => Err(Fault::new("is out of range")),
        Err(_) => Err(Fault::new("cannot be read as a gauge")),
    }
}

/// The form of a cable.
pub(super) fn cable() -> Braces<Cable> {
    let keys = vec![
        key("length", Amount::positive_to(LONGEST), required()).says("its length one way"),
        key("gauge", THICKNESS, required()).says("how thick its wires are"),
    ];
    Braces {
        keys: keys.into(),
        wrong: "must say length and gauge",
        example: "{ length = \"10 m\", gauge = \"12 AWG\" }",
        build: |inner| Some(Cable { length: inner.get("length")?, gauge: inner.get("gauge")? }),
    }
}
