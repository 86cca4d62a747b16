//! `[size]`: what to choose a kit from.

use super::amount::{Amount, shown};
use super::fields::Fields;
use super::forms::{Fault, Form, Item, Text, Whole};
use super::model::{Choice, Size};
use super::problem::Problem;
use crate::units::{Fraction, Kilograms, WattHours, two_readings};

/// Most choices of one kind.
const MOST: u32 = 100;

/// A price: a number, 0 or more.
pub(super) struct Price;

impl Form for Price {
    type Output = f64;
    fn allowed(&self) -> String {
        "a number, 0 or more".into()
    }
    fn example(&self) -> String {
        "350".into()
    }
    fn read(&self, item: &Item) -> Result<f64, Fault> {
        if let Some([thousands, decimals]) = item.value.as_float().and_then(|float| two_readings(float.as_str())) {
            return Err(Fault::new("can be read in two ways").help(format!("write {thousands} or {decimals}")));
        }
        item.number().filter(|price| (0.0..=1e12).contains(price)).ok_or_else(|| {
            Fault::new("must be a price").help("write a number without the currency, like 350; name it with currency")
        })
    }
}

const CAPACITY: fn() -> Amount<WattHours> = || Amount::positive_to(WattHours(1e7));
const COUNT: Whole = Whole { least: 0, greatest: 1000 };
const STEPS: Whole = Whole { least: 2, greatest: MOST };

/// Reads the section.
pub(super) fn read(fields: &mut Fields) -> Option<Size> {
    let target = fields.or("target", &Amount::between(Fraction(0.01), Fraction(0.9999)), Fraction(0.95));
    let currency = fields.or("currency", &Text, String::new());
    let mut batteries = Vec::new();
    if let Some(steps) = fields.table("battery_steps") {
        batteries = battery_steps(steps)?;
    }
    let mut panels = Vec::new();
    if let Some(steps) = fields.table("panel_steps") {
        panels = panel_steps(steps)?;
    }
    for mut entry in fields.tables("battery") {
        let capacity = entry.required("capacity", &CAPACITY());
        let choice = choice(&mut entry, capacity.map(|c| c.0), shown::<WattHours>);
        entry.finish();
        batteries.push(choice?);
    }
    for mut entry in fields.tables("panels") {
        let count = entry.required("count", &COUNT);
        let choice = choice(&mut entry, count.map(f64::from), |n| count_name(n as u32));
        entry.finish();
        panels.push(choice?);
    }
    batteries.sort_by(|a, b| a.amount.total_cmp(&b.amount));
    panels.sort_by(|a, b| a.amount.total_cmp(&b.amount));
    Some(Size { target, currency, batteries, panels })
}

fn count_name(count: u32) -> String {
    match count {
        0 => "no panel".into(),
        1 => "1 panel".into(),
        n => format!("{n} panels"),
    }
}

fn choice(entry: &mut Fields, amount: Option<f64>, name_of: impl Fn(f64) -> String) -> Option<Choice> {
    let name = entry.optional("name", &Text);
    let price = entry.optional("price", &Price);
    let weight = entry.optional("weight", &Amount::<Kilograms>::from_zero());
    let amount = amount?;
    Some(Choice { name: name.unwrap_or_else(|| name_of(amount)), amount, price, weight_kg: weight.map(|w| w.0) })
}

fn battery_steps(mut fields: Fields) -> Option<Vec<Choice>> {
    let (from, to) = (fields.required("from", &CAPACITY()), fields.required("to", &CAPACITY()));
    let steps = fields.required("steps", &STEPS);
    let price = fields.optional("price_per_kwh", &Price);
    let weight = fields.optional("weight_per_kwh", &Amount::<Kilograms>::from_zero());
    let order = order(&fields, from.map(|f| f.0), to.map(|t| t.0));
    fields.finish();
    let (from, to) = order?;
    let steps = steps?;
    let ratio = (to / from).powf(1.0 / f64::from(steps - 1));
    Some(
        (0..steps)
            .map(|k| {
                // Rounded to three digits: nobody buys 1,189.207 Wh.
                let exact = from * ratio.powi(k as i32);
                let unit = 10_f64.powf(exact.log10().floor() - 2.0);
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

fn panel_steps(mut fields: Fields) -> Option<Vec<Choice>> {
    let (from, to) = (fields.required("from", &COUNT), fields.required("to", &COUNT));
    let price = fields.optional("price_each", &Price);
    let weight = fields.optional("weight_each", &Amount::<Kilograms>::from_zero());
    let order = order(&fields, from.map(f64::from), to.map(f64::from));
    if let Some((from, to)) = order
        && f64::from(MOST) <= to - from
    {
        let many = Problem::error(fields.key("to"), "makes too many steps")
            .allowed(format!("at most {MOST} numbers of panels"));
        fields.findings().push(many);
        return None;
    }
    fields.finish();
    let (from, to) = order?;
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
fn order(fields: &Fields, from: Option<f64>, to: Option<f64>) -> Option<(f64, f64)> {
    let (from, to) = (from?, to?);
    if to <= from {
        let wrong =
            Problem::error(fields.key("to"), "must be more than `from`").against(fields.key("from"), "begins here");
        fields.findings().push(wrong);
        return None;
    }
    Some((from, to))
}
