//! `[station.wall_charger]`, `[generator]` and `[second_station]`, and the temperatures of a station.

use super::amount::{Amount, shown};
use super::fields::Fields;
use super::forms::{Custom, Fault, Form, Item, OneOf};
use super::model::{Chemistry, ClockWindow, FeedsAc, Generator, SecondStation, Stands, Trips, WallCharger};
use super::problem::Problem;
use crate::units::{Celsius, Litres, Uncertain, Watts};
use serde_json::{Value as Json, json};

const STANDS: OneOf<Stands> = OneOf {
    names: &[
        ("indoors", Stands::Indoors),
        ("outdoors", Stands::Outdoors),
        ("in the sun", Stands::InTheSun),
        ("in a closed box", Stands::InAClosedBox),
    ],
    also: &[
        ("inside", Stands::Indoors),
        ("outside", Stands::Outdoors),
        ("in a box", Stands::InAClosedBox),
        ("in a car", Stands::InAClosedBox),
        ("in a closed car", Stands::InAClosedBox),
    ],
};

pub(super) const FEEDS_AC: OneOf<FeedsAc> = OneOf {
    names: &[("no", FeedsAc::No), ("by hand", FeedsAc::ByHand), ("through the station", FeedsAc::Through)],
    also: &[("directly", FeedsAc::ByHand), ("pass-through", FeedsAc::Through)],
};

/// Where a station stands: a name, or the temperature there.
pub(super) struct StandsForm;

impl Form for StandsForm {
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
    fn json(&self) -> Json {
        json!({ "anyOf": [STANDS.json(), Amount::between(Celsius(-60.0), Celsius(60.0)).json()] })
    }
}

/// Two temperatures, the lower one first.
pub(super) const SPAN: Custom<(Celsius, Celsius)> = Custom {
    allowed: "two temperatures, the lower one first, like [\"0 °C\", \"45 °C\"]",
    example: "[\"0 °C\", \"45 °C\"]",
    read: read_span,
    json: || {
        let each = Amount::between(Celsius(-60.0), Celsius(90.0)).json();
        json!({ "type": "array", "items": each, "minItems": 2, "maxItems": 2 })
    },
};

fn read_span(item: &Item) -> Result<(Celsius, Celsius), Fault> {
    let form = Amount::between(Celsius(-60.0), Celsius(90.0));
    let entries = item.entries();
    let Some([low, high]) = entries.as_deref() else {
        return Err(Fault::new("must be a list of two temperatures"));
    };
    let (low, high) = (form.read(low)?, form.read(high)?);
    if high <= low {
        let found = format!("{} to {}", shown::<Celsius>(low.0), shown::<Celsius>(high.0));
        return Err(Fault::new("leaves no temperature between").found(found));
    }
    Ok((low, high))
}

/// Doubts cells of lithium that are charged in frost.
pub(super) fn check_frost(fields: &Fields, chemistry: Chemistry, between: (Celsius, Celsius)) {
    if chemistry != Chemistry::LeadAcid && between.0 < Celsius(0.0) {
        let warning = Problem::warning(fields.key("charges_between"), "lets lithium cells be charged below freezing")
            .found(shown::<Celsius>(between.0.0))
            .allowed("0 °C or more")
            .help("lithium plates the anode there and the cells are spoilt; if the station warms itself, write self_heating instead");
        fields.findings().push(warning);
    }
}

pub(super) fn wall_charger(fields: &Fields) -> Option<WallCharger> {
    Some(WallCharger { limit: fields.get("limit")?, efficiency: fields.get("efficiency")? })
}

/// ± of what a generator burns where nobody tells it, as a share: load, air, oil and age of a small engine (common practice, no
/// source).
const BURNS_PLUS_MINUS: f64 = 0.15;

fn thirst(fields: &Fields, key: &str) -> Option<Uncertain<Litres>> {
    let (litres, told): (Uncertain<Litres>, bool) = fields.get(key)?;
    Some(if told { litres } else { Uncertain::new(litres.value, BURNS_PLUS_MINUS * litres.value.0) })
}

pub(super) fn generator(fields: &Fields) -> Option<Generator> {
    let (fuel_per_kwh, fuel_per_hour) = (thirst(fields, "fuel_per_kwh"), thirst(fields, "fuel_per_hour"));
    let fuel = fields.get("fuel");
    if fuel.is_some() && fuel_per_kwh.is_none() && fuel_per_hour.is_none() {
        let thirst = Problem::error(fields.key("fuel"), "ends nobody knows when")
            .help("say what the generator burns: fuel_per_kwh, fuel_per_hour (what it takes without a load), or both");
        fields.findings().push(thirst);
    }
    let (feeds_ac, feeds_ac_up_to): (FeedsAc, Option<Watts>) = (fields.get("feeds_ac")?, fields.get("feeds_ac_up_to"));
    if feeds_ac_up_to.is_some() && feeds_ac == FeedsAc::No {
        let alone = Problem::error(fields.key("feeds_ac_up_to"), "goes with `feeds_ac` only")
            .help("say how AC loads run on it, feeds_ac = \"by hand\" or \"through the station\", or leave this out");
        fields.findings().push(alone);
    }
    let (limit, hours): (Watts, _) = (fields.get("limit")?, fields.get("hours")?);
    if let Some(up_to) = feeds_ac_up_to.filter(|up_to| limit.0 < up_to.0) {
        let more = format!("is {:.0} W, more than the generator gives", up_to.0);
        let help = format!("allowed: up to its `limit`, {:.0} W", limit.0);
        fields.findings().push(Problem::error(fields.key("feeds_ac_up_to"), more).help(help));
    }
    Some(Generator { limit, hours, fuel_per_kwh, fuel, fuel_per_hour, feeds_ac, feeds_ac_up_to })
}

impl Generator {
    /// Most that it feeds through a wall charger \[W\].
    #[must_use]
    pub fn feeds_w(&self, charger: &WallCharger) -> f64 {
        self.limit.0.min(charger.limit.0)
    }

    /// Burned for so much energy \[Wh\] given in so many hours \[h\], in litres, by the best estimate of its thirst; `None` where
    /// that is not known.
    #[must_use]
    pub fn burns_l(&self, given_wh: f64, hours: f64) -> Option<f64> {
        self.burns(given_wh, hours, |thirst| thirst.value.0)
    }

    /// [`Generator::burns_l`] by the upper ends of its thirst: what is to be held ready.
    #[must_use]
    pub fn burns_at_most_l(&self, given_wh: f64, hours: f64) -> Option<f64> {
        self.burns(given_wh, hours, |thirst| thirst.value.0 + thirst.plus_minus)
    }

    fn burns(&self, given_wh: f64, hours: f64, litres: impl Fn(Uncertain<Litres>) -> f64) -> Option<f64> {
        let parts = [
            self.fuel_per_kwh.map(|thirst| litres(thirst) * given_wh / 1000.0),
            self.fuel_per_hour.map(|thirst| litres(thirst) * hours),
        ];
        parts.iter().any(Option::is_some).then(|| parts.into_iter().flatten().sum::<f64>())
    }
}

pub(super) fn second_station(fields: &Fields) -> Option<SecondStation> {
    for key in ["every_days", "returns_at"] {
        if fields.has(key) && !fields.has("away") {
            let home = Problem::error(fields.key(key), "goes with `away` only")
                .help("say from when to when it is carried away, away = \"09:00-15:00\", or leave this out");
            fields.findings().push(home);
        }
    }
    let windows: Option<Vec<ClockWindow>> = fields.get("away");
    if let Some(several) = windows.as_ref().filter(|windows| windows.len() > 1) {
        let one = Problem::error(fields.key("away"), "must be one window")
            .found(format!("{} of them", several.len()))
            .help("a station that is carried away and back is away once: write the longest absence");
        fields.findings().push(one);
    }
    let (every_days, returns_at) = (fields.get("every_days")?, fields.get("returns_at")?);
    let away = windows.and_then(|windows| windows.first().copied());
    Some(SecondStation {
        rated_capacity: fields.get("rated_capacity")?,
        delivers: fields.get("delivers")?,
        limit: fields.get("limit")?,
        starts_charged: fields.get("starts_charged")?,
        trips: away.map(|away| Trips { away, every_days, returns_at }),
    })
}
