//! `[[strategy]]`, `[outages]`, `[tariff]` and `[wear]`.

use super::forms::{self, Money, Often, Warned, Weight, YearsLong};
use super::*;
use crate::scenario::amount::{Amount, shown};
use crate::scenario::clock;
use crate::scenario::fields::Fields;
use crate::scenario::forms::{Fault, Form, Item, OneOf, Text, YesNo, tidy};
use crate::scenario::model::{Load, Station};
use crate::scenario::nearest::nearest;
use crate::scenario::outage;
use crate::scenario::problem::Problem;
use crate::scenario::source::join;
use crate::units::Quantity;
use toml::de::DeValue;

/// What of the rest of the scenario could be read.
pub(in crate::scenario) struct Known<'a> {
    pub latitude_deg: Option<f64>,
    pub station: Option<&'a Station>,
    pub has_panels: bool,
    pub loads: &'a [Option<Load>],
}

/// Temperature of a room, where nothing is said (typical; no source).
const ROOM: Celsius = Celsius(22.0);
/// Share of outages that come with bad weather, where nothing is said (typical, on the cautious side; no source).
const IN_BAD_WEATHER: Fraction = Fraction(0.5);
/// When a battery in daily use recharges, where nothing is said.
const NIGHT: ClockWindow = ClockWindow { from_minute: 0, to_minute: 360 };
/// Spread of the logarithm of outage lengths behind a reliability index, which tells the mean alone: one in twenty is
/// then eight and a half times the median or longer (typical; no source).
const INDEX_SIGMA: f64 = 1.3;

const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];
/// Seasons of the north with their first month, counted from 0.
const SEASONS: [(&str, usize); 4] = [("winter", 11), ("spring", 2), ("summer", 5), ("autumn", 8)];

const WEAR_MODEL: OneOf<WearModel> = OneOf {
    names: &[("worst", WearModel::Worst), ("published", WearModel::Published), ("trade rule", WearModel::TradeRule)],
    also: &[],
};

/// Reads what there is about years; nothing where nothing is said.
pub(in crate::scenario) fn read(root: &mut Fields, known: &Known) -> Option<Years> {
    let given: Vec<&str> = ["outages", "tariff", "wear"].into_iter().filter(|name| root.has(name)).collect();
    let tariff = root.table("tariff").map(|mut fields| {
        let read = tariff(&mut fields);
        fields.finish();
        read
    });
    let outages = root.table("outages").map(|mut fields| (outages(&mut fields, known), fields));
    let wear = root.table("wear").map(|mut fields| (wear(&mut fields), fields));
    let strategies = root.tables("strategy");
    if strategies.is_empty() {
        for name in given {
            let idle = Problem::warning(name, "is of no use without a [[strategy]]")
                .help("add a section [[strategy]] for each way of keeping the battery, or leave this out");
            root.findings().push(idle);
        }
    } else if outages.is_none() && !root.has("outages") {
        let missing = Problem::error("outages", "is missing")
            .allowed("a section [outages] with frequency and lasts")
            .help("add [outages] with frequency = \"2 a year\" and lasts = { median = \"2 h\", p95 = \"1 days\" }");
        root.findings().push(missing);
    }
    let tariff = match tariff {
        Some(read) => Some(read?),
        None => None,
    };
    let strategies: Vec<Option<Strategy>> = strategies
        .into_iter()
        .map(|mut fields| {
            let strategy = strategy(&mut fields, known, tariff.as_ref());
            fields.finish();
            strategy
        })
        .collect();
    names(&strategies, root);
    let close = |(read, fields): (_, Fields)| {
        fields.finish();
        read
    };
    let outages: Option<Outages> = outages.and_then(close);
    let wear = match wear {
        Some((read, fields)) => {
            fields.finish();
            read
        }
        None => WearChoice { model: WearModel::Worst, resistance_grows: false },
    };
    let strategies: Vec<Strategy> = strategies.into_iter().collect::<Option<_>>()?;
    if strategies.is_empty() {
        return None;
    }
    Some(Years { strategies, outages: outages?, tariff, wear })
}

fn names(strategies: &[Option<Strategy>], root: &Fields) {
    for (index, strategy) in strategies.iter().enumerate() {
        let Some(strategy) = strategy else { continue };
        let earlier = strategies[..index]
            .iter()
            .position(|other| other.as_ref().is_some_and(|o| o.name.to_lowercase() == strategy.name.to_lowercase()));
        if let Some(earlier) = earlier {
            let taken = Problem::error(format!("strategy.{index}.name"), "is taken by another strategy")
                .found(format!("\"{}\"", tidy(&strategy.name)))
                .help("give each strategy a name of its own")
                .against(format!("strategy.{earlier}.name"), "the first of this name");
            root.findings().push(taken);
        }
    }
}

fn wear(fields: &mut Fields) -> WearChoice {
    WearChoice {
        model: fields.or("model", &WEAR_MODEL, WearModel::Worst),
        resistance_grows: fields.or("resistance_grows", &YesNo, false),
    }
}

fn tariff(fields: &mut Fields) -> Option<Tariff> {
    let price = fields.required("price", &Money { per_kwh: true });
    let cheap = fields.optional("cheap", &Money { per_kwh: true });
    let hours = clock::windows(fields, "cheap_hours");
    let station = fields.optional("station", &Money { per_kwh: false });
    for (name, other) in [("cheap", "cheap_hours"), ("cheap_hours", "cheap")] {
        if fields.has(name) && !fields.has(other) {
            let lonely = Problem::error(fields.key(name), format!("needs `{other}` beside it"))
                .help("write both, the price and when it holds, or neither");
            fields.findings().push(lonely);
        }
    }
    let price = price?;
    for (name, other) in [("cheap", &cheap), ("station", &station)] {
        if let Some(other) = other
            && other.currency != price.currency
        {
            let clash = Problem::error(fields.key(name), "is in another currency")
                .found(other.currency.clone())
                .allowed(price.currency.clone())
                .against(fields.key("price"), "the first currency");
            fields.findings().push(clash);
        }
    }
    Some(Tariff {
        currency: price.currency,
        price_a_kwh: price.amount,
        cheap: cheap.map(|money: forms::Amount| money.amount).zip(hours),
        station: station.map(|money| money.amount),
    })
}

fn outages(fields: &mut Fields, known: &Known) -> Option<Outages> {
    let ways = ["frequency", "history", "reliability"];
    let given: Vec<&str> = ways.into_iter().filter(|name| fields.has(name)).collect();
    if let [first, second, ..] = given[..] {
        let clash = Problem::error(fields.key(second), format!("and `outages.{first}` cannot both be given"))
            .help("keep frequency and lasts, or history, or reliability")
            .against(fields.key(first), "the other one");
        fields.findings().push(clash);
    }
    let frequency =
        if given.is_empty() { fields.required("frequency", &Often) } else { fields.optional("frequency", &Often) };
    let lasts = match given.first() {
        None | Some(&"frequency") => outage::lasts(fields),
        Some(other) => {
            if fields.has("lasts") {
                let idle =
                    Problem::error(fields.key("lasts"), format!("clashes with `{other}`, which says it already"))
                        .help("leave one of the two out");
                fields.findings().push(idle);
            }
            fields.item("lasts");
            None
        }
    };
    let history = history(fields);
    let reliability = reliability(fields);
    let share = Amount::between(Fraction::ZERO, Fraction::ONE);
    let in_bad_weather = fields.or("in_bad_weather", &share, IN_BAD_WEATHER);
    let month_weights = weights(fields, known.latitude_deg)?;
    let often = frequency.zip(lasts).map(|(a_year, lasts)| Arrivals::Often { a_year, lasts });
    Some(Outages { arrivals: often.or(history).or(reliability)?, month_weights, in_bad_weather })
}

fn history(fields: &mut Fields) -> Option<Arrivals> {
    let item = fields.item("history")?;
    let allowed = "{ file = \"my-outages.csv\", years = \"6 years\" }";
    let Some(mut inner) = Fields::of(&item, fields.findings()) else {
        fields.refuse(&item, Fault::new("must name a file and the years that it covers"), allowed.into());
        return None;
    };
    let file = inner.required("file", &Text);
    let years = inner.required("years", &YearsLong);
    inner.finish();
    Some(Arrivals::History { file: file?, years: years? })
}

/// Indices as IEEE 1366 defines them: SAIFI is the mean number of interruptions that a customer has in a year, SAIDI
/// the mean time without power; SAIDI / SAIFI = CAIDI is the mean length of an interruption. The definitions are from
/// memory of the standard.
fn reliability(fields: &mut Fields) -> Option<Arrivals> {
    let item = fields.item("reliability")?;
    let Some(mut inner) = Fields::of(&item, fields.findings()) else {
        let allowed = "{ saidi = \"400 min\", saifi = \"1.8 a year\" }";
        fields.refuse(&item, Fault::new("must give both indices"), allowed.into());
        return None;
    };
    let saidi = inner.required("saidi", &Amount::<Hours>::positive_to(Hours(8760.0)));
    let saifi = inner.required("saifi", &Often);
    let note =
        Problem::note(fields.key("reliability"), "holds for the mean customer, and often leaves out great storms")
            .help("ask for the figures with major event days included; without them the outages are too short");
    fields.findings().push(note);
    inner.finish();
    let (saidi, saifi) = (saidi?, saifi?);
    let mean_h = saidi.0 / saifi;
    // The mean of a log-normal is the median times exp(σ²/2); its 95 % point is the median times exp(1.645 σ).
    let median = mean_h * (-0.5 * INDEX_SIGMA * INDEX_SIGMA).exp();
    let p95 = median * (1.644_853_626_951_472_2 * INDEX_SIGMA).exp();
    Some(Arrivals::Often { a_year: saifi, lasts: Lasts::LogNormal { median: Hours(median), p95: Hours(p95) } })
}

fn weights(fields: &mut Fields, latitude_deg: Option<f64>) -> Option<[f64; 12]> {
    let mut weights = [1.0; 12];
    let Some(item) = fields.item("season_weights") else { return Some(weights) };
    let Some(mut inner) = Fields::of(&item, fields.findings()) else {
        let allowed = "weights by season or month, like { winter = 3, july = 2 }";
        fields.refuse(&item, Fault::new("must be a list of weights by name"), allowed.into());
        return None;
    };
    // The south has its winter from June on.
    let shift = if latitude_deg.is_some_and(|latitude| latitude < 0.0) { 6 } else { 0 };
    for (season, first) in SEASONS {
        if let Some(weight) = inner.optional(season, &Weight) {
            for month in first..first + 3 {
                weights[(month + shift) % 12] = weight;
            }
        }
    }
    for (month, name) in MONTHS.into_iter().enumerate() {
        if let Some(weight) = inner.optional(name, &Weight) {
            weights[month] = weight;
        }
    }
    let clean = inner.findings().clean(&item.key);
    inner.finish();
    if clean && weights.iter().sum::<f64>() <= 0.0 {
        let none = Problem::error(item.key.clone(), "leaves no month for an outage").help("give one of them a weight");
        fields.findings().push(none);
        return None;
    }
    Some(weights)
}

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

fn strategy(fields: &mut Fields, known: &Known, tariff: Option<&Tariff>) -> Option<Strategy> {
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
        let dark = Problem::error(fields.key("use_solar_daily"), "needs a [[panel]]")
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
