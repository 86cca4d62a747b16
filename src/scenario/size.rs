//! `[size]`: what to choose a kit from.

use super::amount::shown;
use super::fields::Fields;
use super::forms::{Braces, Custom, Fault, Item};
use super::model::{Choice, Size};
use super::problem::Problem;
use super::schema::size;
use crate::math;
use crate::units::{Kilograms, WattHours, two_readings};
use serde_json::json;

/// Most choices of one kind.
pub(super) const MOST: u32 = 100;

/// A price: a number, 0 or more.
pub(super) const PRICE: Custom<f64> = Custom {
    allowed: "a number, 0 or more",
    example: "350",
    read: read_price,
    json: || json!({ "type": "number", "minimum": 0 }),
};

fn read_price(item: &Item) -> Result<f64, Fault> {
    if let Some([thousands, decimals]) = item.value.as_float().and_then(|float| two_readings(float.as_str())) {
        return Err(Fault::new("can be read in two ways").help(format!("write {thousands} or {decimals}")));
    }
    item.number().filter(|price| (0.0..=1e12).contains(price)).ok_or_else(|| {
        Fault::new("must be a price").help("write a number without the currency, like 350; name it with currency")
    })
}

/// The form of `battery_steps`.
pub(super) fn battery_steps() -> Braces<Vec<Choice>> {
    Braces {
        keys: size::steps_of_batteries(),
        wrong: "must say from, to and steps",
        example: "{ from = \"500 Wh\", to = \"4 kWh\", steps = 20, price_per_kwh = 700, weight_per_kwh = \"11 kg\" }",
        build: steps_of_batteries,
    }
}

/// The form of `panel_steps`.
pub(super) fn panel_steps() -> Braces<Vec<Choice>> {
    Braces {
        keys: size::steps_of_panels(),
        wrong: "must say from and to",
        example: "{ from = 0, to = 10, price_each = 90, weight_each = \"3 kg\" }",
        build: steps_of_panels,
    }
}

/// Reads the section.
pub(super) fn read(fields: &Fields) -> Option<Size> {
    let mut batteries: Vec<Choice> = fields.get("battery_steps").unwrap_or_default();
    for entry in fields.many("battery") {
        batteries.push(choice(entry, entry.get::<WattHours>("capacity")?.0, shown::<WattHours>));
    }
    let mut panels: Vec<Choice> = fields.get("panel_steps").unwrap_or_default();
    for entry in fields.many("panels") {
        panels.push(choice(entry, f64::from(entry.get::<u32>("count")?), |n| count_name(n as u32)));
    }
    batteries.sort_by(|a, b| a.amount.total_cmp(&b.amount));
    panels.sort_by(|a, b| a.amount.total_cmp(&b.amount));
    Some(Size {
        target: fields.get("target")?,
        currency: fields.get("currency").unwrap_or_default(),
        batteries,
        panels,
    })
}

/// A number of panels by its name.
#[must_use]
pub(crate) fn count_name(count: u32) -> String {
    match count {
        0 => "no panels".into(),
        1 => "1 panel".into(),
        n => format!("{n} panels"),
    }
}

fn choice(entry: &Fields, amount: f64, name_of: impl Fn(f64) -> String) -> Choice {
    let name = entry.get("name").unwrap_or_else(|| name_of(amount));
    let weight_kg = entry.get("weight").map(|weight: Kilograms| weight.0);
    Choice { name, amount, price: entry.get("price"), weight_kg }
}

fn steps_of_batteries(fields: &Fields) -> Option<Vec<Choice>> {
    let (from, to): (WattHours, WattHours) = (fields.get("from")?, fields.get("to")?);
    let (from, to) = order(fields, from.0, to.0)?;
    let steps: u32 = fields.get("steps")?;
    let price: Option<f64> = fields.get("price_per_kwh");
    let weight: Option<Kilograms> = fields.get("weight_per_kwh");
    let ratio = math::pow(to / from, 1.0 / f64::from(steps - 1));
    Some(
        (0..steps)
            .map(|k| {
                // Rounded to three digits: nobody buys 1,189.207 Wh.
                let exact = from * math::powi(ratio, k as i32);
                let unit = math::pow(10.0, math::log10(exact).floor() - 2.0);
                let wh = if k == 0 {
                    from
                } else if k + 1 == steps {
                    to
                } else {
                    (exact / unit).round() * unit
                };
                Choice {
                    name: shown::<WattHours>(wh),
                    amount: wh,
                    price: price.map(|p| p * wh / 1000.0),
                    weight_kg: weight.map(|w| w.0 * wh / 1000.0),
                }
            })
            .collect(),
    )
}

fn steps_of_panels(fields: &Fields) -> Option<Vec<Choice>> {
    let (from, to): (u32, u32) = (fields.get("from")?, fields.get("to")?);
    let (from, to) = order(fields, f64::from(from), f64::from(to))?;
    let price: Option<f64> = fields.get("price_each");
    let weight: Option<Kilograms> = fields.get("weight_each");
    if f64::from(MOST) <= to - from {
        let many = Problem::error(fields.key("to"), "makes too many steps")
            .allowed(format!("at most {MOST} numbers of panels"));
        fields.findings().push(many);
        return None;
    }
    let counts = (from as u32)..=(to as u32);
    Some(
        counts
            .map(|n| Choice {
                name: count_name(n),
                amount: f64::from(n),
                price: price.map(|p| p * f64::from(n)),
                weight_kg: weight.map(|w| w.0 * f64::from(n)),
            })
            .collect(),
    )
}

/// The two ends of a range, the greater one last; anything else is an error.
fn order(fields: &Fields, from: f64, to: f64) -> Option<(f64, f64)> {
    if to <= from {
        let wrong =
            Problem::error(fields.key("to"), "must be more than `from`").against(fields.key("from"), "begins here");
        fields.findings().push(wrong);
        return None;
    }
    Some((from, to))
}
