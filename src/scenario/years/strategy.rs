//! `[[strategy]]`: one way of keeping the battery.

use super::forms::Warned;
use super::read::Known;
use super::{DailyUse, StoredAt, StormRule, Strategy, Tariff};
use crate::scenario::amount::{Amount, shown};
use crate::scenario::clock;
use crate::scenario::fields::Fields;
use crate::scenario::forms::{Fault, Form, Item, Text, YesNo};
use crate::scenario::model::{ClockWindow, Load};
use crate::scenario::nearest::nearest;
use crate::scenario::problem::Problem;
use crate::scenario::source::join;
use crate::units::{Celsius, Fraction, Hours, Quantity, Watts};
use toml::de::DeValue;

/// Temperature of a room, where nothing is said (typical; no source).
const ROOM: Celsius = Celsius(22.0);
/// When a battery in daily use recharges, where nothing is said.
const NIGHT: ClockWindow = ClockWindow { from_minute: 0, to_minute: 360 };
struct Place;

impl Form for Place {
    type Output = StoredAt;
    fn allowed(&self) -> String {
        "a temperature from -20 to 50 °C (°C or °F), or \"outside\"".into()
    }
    fn example(&self) -> String {
        "\"20 °C\"".into()
    }
    fn read(&self, item: &Item) -> Result<StoredAt, Fault> {
        if item.value.as_str().is_some_and(|text| text.trim().eq_ignore_ascii_case("outside")) {
            return Ok(StoredAt::Outside);
        }
        Amount::between(Celsius(-20.0), Celsius(50.0)).read(item).map(StoredAt::Steady)
    }
}

pub(super) fn read(fields: &mut Fields, known: &Known, tariff: Option<&Tariff>) -> Option<Strategy> {
    let share = || Amount::positive_to(Fraction::ONE);
    let station_top = known.station.map_or(Fraction::ONE, |station| station.charge_to);
    let name = fields.required("name", &Text);
    let charge_to = fields.or("charge_to", &share(), station_top);
    let rest_given = fields.optional("rest_at", &share());
    let top_up_every = fields.optional("top_up_every", &Amount::between(Hours(24.0), Hours(8760.0)));
    let use_solar_daily = fields.or("use_solar_daily", &YesNo, false);
    let daily_use = daily_use(fields, known, tariff, use_solar_daily, charge_to);
    let before_a_storm = storm(fields);
    let stored_at = fields.or("stored_at", &Place, StoredAt::Steady(ROOM));
    let charge_with = fields.optional("charge_with", &Amount::<Watts>::positive_to(Watts(100_000.0)));
    let daily = match daily_use {
        Some(read) => Some(read?),
        None => None,
    };
    if let (Some(_), true) = (&daily, fields.has("rest_at") || fields.has("top_up_every")) {
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
    let rest_at = rest_given.unwrap_or(charge_to);
    let storm_top = before_a_storm.as_ref().and_then(|rule| rule.map(|r| r.charge_to));
    for (key, value) in [("rest_at", Some(rest_at)), ("before_a_storm", storm_top)] {
        if value.is_some_and(|value| charge_to < value) {
            let over = Problem::error(fields.key(key), "is above where charging stops")
                .found(value.map(|v| shown::<Fraction>(v.base())).unwrap_or_default())
                .allowed(format!("up to {}", shown::<Fraction>(charge_to.base())))
                .help("raise charge_to of the strategy");
            fields.findings().push(over);
        }
    }
    let before_a_storm = match before_a_storm {
        Some(read) => Some(read?),
        None => None,
    };
    Some(Strategy {
        name: name?,
        charge_to,
        rest_at,
        top_up_every,
        daily_use: daily,
        before_a_storm,
        use_solar_daily,
        stored_at,
        charge_with,
    })
}

fn storm(fields: &mut Fields) -> Option<Option<StormRule>> {
    let item = fields.item("before_a_storm")?;
    let Some(mut inner) = Fields::of(&item, fields.findings()) else {
        let allowed = "{ charge_to = \"100 %\", warned = \"70 % of outages, 24 h ahead\" }";
        fields.refuse(&item, Fault::new("must say how full and how often there is a warning"), allowed.into());
        return Some(None);
    };
    let charge_to = inner.or("charge_to", &Amount::positive_to(Fraction::ONE), Fraction::ONE);
    let warned = inner.required("warned", &Warned);
    inner.finish();
    Some(warned.map(|(warned, ahead)| StormRule { charge_to, warned, ahead }))
}

fn daily_use(
    fields: &mut Fields,
    known: &Known,
    tariff: Option<&Tariff>,
    solar: bool,
    charge_to: Fraction,
) -> Option<Option<DailyUse>> {
    let item = fields.item("daily_use")?;
    let Some(mut inner) = Fields::of(&item, fields.findings()) else {
        let allowed = "{ between = [\"20 %\", \"80 %\"], loads = [\"fridge\"] }";
        fields.refuse(&item, Fault::new("must say between which charges and which loads"), allowed.into());
        return Some(None);
    };
    let between = between(&mut inner, charge_to);
    let loads = loads(&mut inner, known);
    let cheap = tariff.and_then(|tariff| tariff.cheap.as_ref()).map(|(_, hours)| hours.clone());
    let recharge = match clock::windows(&mut inner, "recharge") {
        Some(windows) => windows,
        None if solar => Vec::new(),
        None => cheap.unwrap_or_else(|| vec![NIGHT]),
    };
    inner.finish();
    let read = between.zip(loads);
    Some(read.map(|((down_to, up_to), loads)| DailyUse { down_to, up_to, loads, recharge }))
}

/// The entries of a list that may stand at a key.
fn entries<'t>(fields: &mut Fields<'t>, name: &'static str, allowed: &str, example: &str) -> Option<Vec<Item<'t>>> {
    let item = fields.required_item(name, allowed, example)?;
    let DeValue::Array(list) = item.value else {
        fields.refuse(&item, Fault::new("must be a list").help(format!("write {name} = {example}")), allowed.into());
        return None;
    };
    let entry = |(index, entry): (usize, &'t toml::Spanned<DeValue<'t>>)| Item {
        key: join(&item.key, &index.to_string()),
        span: entry.span(),
        value: entry.get_ref(),
    };
    Some(list.iter().enumerate().map(entry).collect())
}

fn between(fields: &mut Fields, charge_to: Fraction) -> Option<(Fraction, Fraction)> {
    let (allowed, example) = ("two shares, the lower one first", "[\"20 %\", \"80 %\"]");
    let items = entries(fields, "between", allowed, example)?;
    let share = Amount::between(Fraction::ZERO, Fraction::ONE);
    let ends: Vec<Option<Fraction>> = items.iter().map(|item| fields.read(item, &share)).collect();
    let ends: Vec<Fraction> = ends.into_iter().collect::<Option<_>>()?;
    match ends[..] {
        [low, high] if low < high && high <= charge_to => Some((low, high)),
        [low, high] if low < high => {
            let over = Problem::error(fields.key("between"), "goes above where charging stops")
                .found(shown::<Fraction>(high.0))
                .allowed(format!("up to {}", shown::<Fraction>(charge_to.0)))
                .help("lower it, or raise charge_to of the strategy");
            fields.findings().push(over);
            None
        }
        _ => {
            let wrong = Problem::error(fields.key("between"), "must be two shares, the lower one first")
                .allowed(allowed)
                .help(format!("write between = {example}"));
            fields.findings().push(wrong);
            None
        }
    }
}

fn loads(fields: &mut Fields, known: &Known) -> Option<Vec<usize>> {
    let items = entries(fields, "loads", "names of loads in this file", "[\"fridge\"]")?;
    let mut found = Vec::new();
    for item in &items {
        let name = fields.read(item, &Text)?;
        let there = |load: &Option<Load>| load.as_ref().is_some_and(|l| l.name.to_lowercase() == name.to_lowercase());
        match known.loads.iter().position(there) {
            Some(place) if !found.contains(&place) => found.push(place),
            Some(_) => {}
            None if known.loads.iter().any(Option::is_none) => return None,
            None => {
                let names: Vec<&str> = known.loads.iter().flatten().map(|load| load.name.as_str()).collect();
                let mut unknown = Problem::error(item.key.clone(), "is no load of this file")
                    .found(item.found())
                    .allowed(names.join(", "));
                if let Some(near) = nearest(&name, names.iter().copied()) {
                    unknown = unknown.help(format!("did you mean \"{near}\"?"));
                }
                fields.findings().push(unknown);
                return None;
            }
        }
    }
    if found.is_empty() {
        let none =
            Problem::error(fields.key("loads"), "is empty").help("name the loads that the battery runs every day");
        fields.findings().push(none);
        return None;
    }
    Some(found)
}
