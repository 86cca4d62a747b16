//! `[[strategy]]`: one way of keeping the battery.

use super::read::Known;
use super::{DailyUse, StoredAt, StormRule, Strategy, Tariff};
use crate::scenario::amount::{Amount, shown};
use crate::scenario::fields::Fields;
use crate::scenario::forms::{Braces, Custom, Fault, Form, Item, Text, quoted};
use crate::scenario::model::{ClockWindow, Load};
use crate::scenario::nearest::nearest;
use crate::scenario::problem::Problem;
use crate::scenario::schema::years;
use crate::units::{Celsius, Fraction, Quantity};
use serde_json::{Value as Json, json};

/// When a battery in daily use recharges, where nothing is said.
const NIGHT: ClockWindow = ClockWindow { from_minute: 0, to_minute: 360 };

/// Where a battery stands between outages.
pub(in crate::scenario) const STORED_AT: Custom<StoredAt> = Custom {
    allowed: "a temperature from -20 to 50 °C (°C or °F), or \"outside\"",
    example: "\"20 °C\"",
    read: read_stored_at,
    json: || json!({ "type": "string" }),
};

fn read_stored_at(item: &Item) -> Result<StoredAt, Fault> {
    if item.value.as_str().is_some_and(|text| text.trim().eq_ignore_ascii_case("outside")) {
        return Ok(StoredAt::Outside);
    }
    Amount::between(Celsius(-20.0), Celsius(50.0)).read(item).map(StoredAt::Steady)
}

pub(super) fn read(fields: &Fields, known: &Known, tariff: Option<&Tariff>) -> Option<Strategy> {
    let station_top = known.station.map_or(Fraction::ONE, |station| station.charge_to);
    let charge_to: Fraction = fields.get("charge_to").unwrap_or(station_top);
    let use_solar_daily = fields.get("use_solar_daily")?;
    let daily = fields.get::<Daily>("daily_use");
    let daily_use = daily.map(|daily| daily_use_of(fields, daily, known, tariff, use_solar_daily, charge_to));
    if let (Some(_), true) = (&daily_use, fields.has("rest_at") || fields.has("top_up_every")) {
        let key = if fields.has("rest_at") { "rest_at" } else { "top_up_every" };
        let clash = Problem::error(fields.key(key), "has no meaning for a battery in daily use")
            .help("leave it out: daily_use.between says how far it goes up and down")
            .against(fields.key("daily_use"), "used every day");
        fields.findings().push(clash);
    }
    if use_solar_daily && !known.has_panels {
        let dark = Problem::warning(fields.key("use_solar_daily"), "brings nothing without a [[panel]]")
            .help("add the panels, or leave this out");
        fields.findings().push(dark);
    }
    let rest_at: Fraction = fields.get("rest_at").unwrap_or(charge_to);
    let before_a_storm: Option<StormRule> = fields.get("before_a_storm");
    let storm_top = before_a_storm.map(|rule| rule.charge_to);
    for (key, value) in [("rest_at", Some(rest_at)), ("before_a_storm", storm_top)] {
        if value.is_some_and(|value| charge_to < value) {
            let over = Problem::error(fields.key(key), "is above where charging stops")
                .found(value.map(|v| shown::<Fraction>(v.base())).unwrap_or_default())
                .allowed(format!("up to {}", shown::<Fraction>(charge_to.base())))
                .help("raise charge_to of the strategy");
            fields.findings().push(over);
        }
    }
    Some(Strategy {
        name: fields.get("name")?,
        charge_to,
        rest_at,
        top_up_every: fields.get("top_up_every"),
        daily_use: match daily_use {
            Some(daily) => Some(daily?),
            None => None,
        },
        before_a_storm,
        use_solar_daily,
        stored_at: fields.get("stored_at")?,
        charge_with: fields.get("charge_with"),
    })
}

/// The form of `before_a_storm`.
pub(in crate::scenario) fn before_a_storm() -> Braces<StormRule> {
    Braces {
        keys: years::storm(),
        wrong: "must say how full and how often there is a warning",
        example: "{ charge_to = \"100 %\", warned = \"70 % of outages, 24 h ahead\" }",
        build: |inner| {
            let (warned, ahead) = inner.get("warned")?;
            Some(StormRule { charge_to: inner.get("charge_to")?, warned, ahead })
        },
    }
}

/// What `daily_use` says: how far down and up, the names of loads with their keys, and when it recharges.
#[derive(Clone)]
pub(in crate::scenario) struct Daily {
    between: (Fraction, Fraction),
    loads: Vec<(String, String)>,
    recharge: Option<Vec<ClockWindow>>,
}

/// The form of `daily_use`.
pub(in crate::scenario) fn daily_use() -> Braces<Daily> {
    Braces {
        keys: years::daily(),
        wrong: "must say between which charges and which loads",
        example: "{ between = [\"20 %\", \"80 %\"], loads = [\"fridge\"] }",
        build: |inner| {
            let (loads, recharge) = (inner.get("loads"), inner.get("recharge"));
            Some(Daily { between: inner.get("between")?, loads: loads?, recharge })
        },
    }
}

fn daily_use_of(
    fields: &Fields,
    daily: Daily,
    known: &Known,
    tariff: Option<&Tariff>,
    solar: bool,
    charge_to: Fraction,
) -> Option<DailyUse> {
    let (down_to, up_to) = daily.between;
    if charge_to < up_to {
        let over = Problem::error(fields.key("daily_use.between"), "goes above where charging stops")
            .found(shown::<Fraction>(up_to.0))
            .allowed(format!("up to {}", shown::<Fraction>(charge_to.0)))
            .help("lower it, or raise charge_to of the strategy");
        fields.findings().push(over);
    }
    let loads = loads(fields, &daily.loads, known);
    let cheap = tariff.and_then(|tariff| tariff.cheap.as_ref()).map(|(_, hours)| hours.clone());
    let recharge = match daily.recharge {
        Some(windows) => windows,
        None if solar => Vec::new(),
        None => cheap.unwrap_or_else(|| vec![NIGHT]),
    };
    Some(DailyUse { down_to, up_to, loads: loads?, recharge })
}

/// Two shares, the lower one first.
pub(in crate::scenario) struct Between;

impl Between {
    fn share() -> Amount<Fraction> {
        Amount::between(Fraction::ZERO, Fraction::ONE)
    }
}

impl Form for Between {
    type Output = (Fraction, Fraction);
    fn allowed(&self) -> String {
        "two shares, the lower one first".into()
    }
    fn example(&self) -> String {
        "[\"20 %\", \"80 %\"]".into()
    }
    fn read(&self, item: &Item) -> Result<(Fraction, Fraction), Fault> {
        let help = format!("write between = {}", self.example());
        let entries = item.entries().ok_or_else(|| Fault::new("must be a list").help(help.clone()))?;
        let ends: Vec<Option<Fraction>> = entries.iter().map(|entry| entry.read(&Between::share())).collect();
        let ends: Vec<Fraction> = ends.into_iter().collect::<Option<_>>().ok_or_else(Fault::told)?;
        match ends[..] {
            [low, high] if low < high => Ok((low, high)),
            _ => {
                let found: Vec<String> = ends.iter().map(|end| shown::<Fraction>(end.0)).collect();
                Err(Fault::new("must be two shares, the lower one first").found(found.join(", ")).help(help))
            }
        }
    }
    fn json(&self) -> Json {
        json!({ "type": "array", "items": Between::share().json(), "minItems": 2, "maxItems": 2 })
    }
}

/// Names of loads in a list, each with its key.
pub(in crate::scenario) const LOAD_NAMES: Custom<Vec<(String, String)>> = Custom {
    allowed: "names of loads in this file",
    example: "[\"fridge\"]",
    read: read_load_names,
    json: || json!({ "type": "array", "items": Text.json(), "minItems": 1 }),
};

fn read_load_names(item: &Item) -> Result<Vec<(String, String)>, Fault> {
    let help = format!("write loads = {}", LOAD_NAMES.example);
    let entries = item.entries().ok_or_else(|| Fault::new("must be a list").help(help))?;
    if entries.is_empty() {
        return Err(Fault::new("is empty").help("name the loads that the battery runs every day"));
    }
    let names = entries.into_iter().map(|entry| Some((entry.read(&Text)?, entry.key)));
    names.collect::<Option<_>>().ok_or_else(Fault::told)
}

/// The places of loads by their names.
fn loads(fields: &Fields, names: &[(String, String)], known: &Known) -> Option<Vec<usize>> {
    let mut found = Vec::new();
    for (name, key) in names {
        let there = |load: &Option<Load>| load.as_ref().is_some_and(|l| l.name.to_lowercase() == name.to_lowercase());
        match known.loads.iter().position(there) {
            Some(place) if !found.contains(&place) => found.push(place),
            Some(_) => {}
            None if known.loads.iter().any(Option::is_none) => return None,
            None => {
                let names: Vec<&str> = known.loads.iter().flatten().map(|load| load.name.as_str()).collect();
                let mut unknown =
                    Problem::error(key, "is no load of this file").found(quoted(name)).allowed(names.join(", "));
                if let Some(near) = nearest(name, names.iter().copied()) {
                    unknown = unknown.help(format!("did you mean \"{near}\"?"));
                }
                fields.findings().push(unknown);
                return None;
            }
        }
    }
    Some(found)
}
