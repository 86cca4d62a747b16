//! Cables: `{ length = "10 m", gauge = "12 AWG" }`.

use super::amount::Amount;
use super::forms::{Braces, Fault, Form, Item};
use super::model::{Cable, Gauge};
use super::schema::{key, required};
use crate::units::{Metres, SquareMillimetres};

/// Longest cable \[m\].
const LONGEST: Metres = Metres(1000.0);

/// How thick a wire is.
struct Thickness;

impl Form for Thickness {
    type Output = Gauge;
    fn allowed(&self) -> String {
        "\"18 AWG\" to \"4 AWG\" in even numbers, or a cross-section from \"0.2 mm²\" to \"120 mm²\"".into()
    }
    fn example(&self) -> String {
        "\"12 AWG\"".into()
    }
    fn read(&self, item: &Item) -> Result<Gauge, Fault> {
        let metric = Amount::between(SquareMillimetres(0.2), SquareMillimetres(120.0));
        let Some(text) = item.value.as_str() else { return Err(Fault::new("needs a unit")) };
        let lower = text.trim().to_lowercase();
        let Some(number) = lower.strip_suffix("awg").or(lower.strip_prefix("awg")) else {
            return metric.read(item).map(Gauge::Metric).map_err(|fault| match lower.parse::<f64>() {
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
}

/// The form of a cable.
pub(super) fn cable() -> Braces<Cable> {
    let keys = vec![
        key("length", Amount::positive_to(LONGEST), required()).says("its length one way"),
        key("gauge", Thickness, required()).says("how thick its wires are"),
    ];
    Braces {
        keys: keys.into(),
        wrong: "must say length and gauge",
        example: "{ length = \"10 m\", gauge = \"12 AWG\" }",
        build: |inner| Some(Cable { length: inner.get("length")?, gauge: inner.get("gauge")? }),
    }
}
