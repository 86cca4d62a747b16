//! `[station.wall_charger]` and `[generator]`, and the temperatures of a station.

use super::amount::{Amount, shown};
use super::clock;
use super::fields::Fields;
use super::forms::{Fault, Form, Item, OneOf};
use super::model::{Chemistry, Generator, Stands, WallCharger};
use super::problem::Problem;
use super::source::join;
use crate::units::{Celsius, Fraction, Litres, WattHoursPerKelvin, Watts, WattsPerKelvin};
use toml::de::DeValue;

/// Efficiency of a wall charger where nothing is said. Typical, no source.
const CHARGER_EFFICIENCY: Fraction = Fraction(0.9);

const STANDS: OneOf<Stands> = OneOf {
    names: &[("indoors", Stands::Indoors), ("outdoors", Stands::Outdoors), ("in the sun", Stands::InTheSun)],
    also: &[("inside", Stands::Indoors), ("outside", Stands::Outdoors)],
};

/// Where a station stands: a name, or the temperature there.
struct Place;

impl Form for Place {
    type Output = Stands;
    fn allowed(&self) -> String {
        format!("{}, or the temperature there, -60 °C to 60 °C", STANDS.allowed())
    }
    fn example(&self) -> String {
        "\"indoors\"".into()
    }
    fn read(&self, item: &Item) -> Result<Stands, Fault> {
        let digits = item.value.as_str().is_none_or(|text| text.contains(|c: char| c.is_ascii_digit()));
        if digits {
            return Amount::between(Celsius(-60.0), Celsius(60.0)).read(item).map(Stands::At);
        }
        STANDS.read(item)
    }
}

/// Two temperatures, the lower one first.
struct Span;

impl Form for Span {
    type Output = (Celsius, Celsius);
    fn allowed(&self) -> String {
        "two temperatures, the lower one first, like [\"0 °C\", \"45 °C\"]".into()
    }
    fn example(&self) -> String {
        "[\"0 °C\", \"45 °C\"]".into()
    }
    fn read(&self, item: &Item) -> Result<(Celsius, Celsius), Fault> {
        let form = Amount::between(Celsius(-60.0), Celsius(90.0));
        let DeValue::Array(list) = item.value else { return Err(Fault::new("must be a list of two temperatures")) };
        let read = |index: usize| {
            let entry = list.get(index).ok_or_else(|| Fault::new("must be a list of two temperatures"))?;
            form.read(&Item { key: join(&item.key, &index.to_string()), span: entry.span(), value: entry.get_ref() })
        };
        let (low, high) = (read(0)?, read(1)?);
        if list.len() != 2 {
            return Err(Fault::new("must be a list of two temperatures"));
        }
        if high <= low {
            let mut fault = Fault::new("leaves no temperature between");
            fault.found = Some(format!("{} to {}", shown::<Celsius>(low.0), shown::<Celsius>(high.0)));
            return Err(fault);
        }
        Ok((low, high))
    }
}

/// What the temperature of a station does to it.
pub(super) struct Warmth {
    pub stands: Stands,
    pub charges_between: (Celsius, Celsius),
    pub works_between: (Celsius, Celsius),
    pub self_heating: Option<Watts>,
    pub heat_capacity: Option<WattHoursPerKelvin>,
    pub heat_loss: Option<WattsPerKelvin>,
}

/// Reads them.
///
/// * `charges`, `works` — what is assumed where nothing is said.
pub(super) fn warmth(
    fields: &mut Fields,
    chemistry: Chemistry,
    charges: (Celsius, Celsius),
    works: (Celsius, Celsius),
) -> Warmth {
    let stands = fields.or("stands", &Place, Stands::Indoors);
    let charges_between = fields.or("charges_between", &Span, charges);
    let works_between = fields.or("works_between", &Span, works);
    let self_heating = fields.optional("self_heating", &Amount::<Watts>::positive());
    let heat_capacity =
        fields.optional("heat_capacity", &Amount::between(WattHoursPerKelvin(0.01), WattHoursPerKelvin(1.0e6)));
    let heat_loss = fields.optional("heat_loss", &Amount::between(WattsPerKelvin(0.01), WattsPerKelvin(1.0e5)));
    if chemistry != Chemistry::LeadAcid && charges_between.0 < Celsius(0.0) {
        let warning = Problem::warning(fields.key("charges_between"), "lets lithium cells be charged below freezing")
            .found(shown::<Celsius>(charges_between.0.0))
            .allowed("0 °C or more")
            .help("lithium plates the anode there and the cells are spoilt; if the station warms itself, write self_heating instead");
        fields.findings().push(warning);
    }
    Warmth { stands, charges_between, works_between, self_heating, heat_capacity, heat_loss }
}

pub(super) fn wall_charger(fields: &mut Fields) -> Option<WallCharger> {
    let limit = fields.required("limit", &Amount::<Watts>::positive());
    let efficiency = fields.or("efficiency", &Amount::positive_to(Fraction::ONE), CHARGER_EFFICIENCY);
    Some(WallCharger { limit: limit?, efficiency })
}

pub(super) fn generator(fields: &mut Fields) -> Option<Generator> {
    let limit = fields.required("limit", &Amount::<Watts>::positive());
    let _ = fields.required_item("hours", "windows of the clock, like \"18:00-21:00\"", "\"18:00-21:00\"");
    let hours = clock::windows(fields, "hours");
    let fuel_per_kwh = fields.optional("fuel_per_kwh", &Amount::<Litres>::positive_to(Litres(10.0)));
    Some(Generator { limit: limit?, hours: hours?, fuel_per_kwh })
}
