//! `[unit]`, `[arrival]` and `[[outlet]]`: what the label, the box and the sockets say.

use super::model::{Arrival, OutletTest, Unit};
use super::times::Day;
use crate::scenario::amount::Amount;
use crate::scenario::fields::Fields;
use crate::scenario::forms::{Fault, Text, Whole, YesNo};
use crate::scenario::model::Chemistry;
use crate::scenario::station::CHEMISTRY;
use crate::units::{Fraction, WattHours, Watts};
use toml::de::DeValue;

pub(super) fn unit(fields: &mut Fields) -> Option<Unit> {
    let rated_capacity = fields.required("rated_capacity", &Amount::<WattHours>::positive());
    let chemistry = fields.or("chemistry", &CHEMISTRY, Chemistry::Lfp);
    let inverter = fields.optional("inverter", &Amount::<Watts>::positive());
    let solar_limit = fields.optional("solar_limit", &Amount::<Watts>::positive());
    let serial_number = fields.optional("serial_number", &Text);
    let cycles = fields.optional("cycles", &Whole { least: 0, greatest: 100_000 });
    Some(Unit { rated_capacity: rated_capacity?, chemistry, inverter, solar_limit, serial_number, cycles })
}

pub(super) fn arrival(fields: &mut Fields) -> Option<Arrival> {
    let date = fields.optional("date", &Day);
    let damage = fields.optional("damage", &Text).filter(|text| !text.eq_ignore_ascii_case("none"));
    Some(Arrival {
        date,
        damage,
        packing_list: texts(fields, "packing_list"),
        found: texts(fields, "found"),
        packaging_kept: fields.optional("packaging_kept", &YesNo),
        return_by: fields.optional("return_by", &Day),
        warranty_until: fields.optional("warranty_until", &Day),
        charge: fields.optional("charge", &Amount::between(Fraction::ZERO, Fraction::ONE)),
    })
}

fn texts(fields: &mut Fields, name: &'static str) -> Vec<String> {
    let Some(item) = fields.item(name) else { return Vec::new() };
    let list = match item.value {
        DeValue::Array(list) => list.iter().map(|entry| entry.get_ref().as_str()).collect::<Option<Vec<_>>>(),
        _ => None,
    };
    match list {
        Some(list) => list.into_iter().map(|text| text.trim().to_string()).filter(|text| !text.is_empty()).collect(),
        None => {
            let allowed = "a list of texts, like [\"station\", \"wall cable\"]";
            fields.refuse(&item, Fault::new("must be a list of texts"), allowed.into());
            Vec::new()
        }
    }
}

pub(super) fn outlet(fields: &mut Fields) -> Option<OutletTest> {
    let name = fields.required("name", &Text);
    let load = fields.optional("load", &Amount::<Watts>::positive());
    let passed = fields.required("passed", &YesNo);
    let remark = fields.optional("remark", &Text);
    Some(OutletTest { name: name?, load, passed: passed?, remark })
}
