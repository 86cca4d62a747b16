//! `[[strategy]]`, `[outages]`, `[tariff]` and `[wear]`.

use super::{Outages, Strategy, Tariff, WearChoice, WearModel, Years, forms, outages, strategy};
use crate::scenario::fields::Fields;
use crate::scenario::forms::OneOf;
use crate::scenario::model::{Load, Station};
use crate::scenario::problem::Problem;
use crate::scenario::taken;

/// What of the rest of the scenario could be read.
pub(in crate::scenario) struct Known<'a> {
    pub latitude_deg: Option<f64>,
    pub station: Option<&'a Station>,
    pub has_panels: bool,
    pub loads: &'a [Option<Load>],
    /// Whether cuts come back, which stand for the outages.
    pub has_cuts: bool,
}

pub(in crate::scenario) const WEAR_MODEL: OneOf<WearModel> = OneOf {
    names: &[("worst", WearModel::Worst), ("published", WearModel::Published), ("trade rule", WearModel::TradeRule)],
    also: &[],
};

/// Reads what there is about years; nothing where nothing is said.
pub(in crate::scenario) fn read(root: &Fields, known: &Known) -> Option<Years> {
    let tariff = root.one("tariff").and_then(tariff);
    let outages = root.one("outages").and_then(|fields| outages::read(fields, known));
    let strategies: Vec<Option<Strategy>> =
        root.many("strategy").iter().map(|fields| strategy::read(fields, known, tariff.as_ref())).collect();
    if strategies.is_empty() {
        for name in ["outages", "tariff", "wear"].into_iter().filter(|name| root.has(name)) {
            let idle = Problem::warning(name, "is of no use without a [[strategy]]")
                .help("add a section [[strategy]] for each way of keeping the battery, or leave this out");
            root.findings().push(idle);
        }
        return None;
    }
    if !root.has("outages") && !known.has_cuts {
        let missing = Problem::error("outages", "is missing")
            .allowed("a section [outages] with frequency and lasts")
            .help("add [outages] with frequency = \"2 a year\" and lasts = { median = \"2 h\", p95 = \"1 days\" }");
        root.findings().push(missing);
    }
    let names = strategies.iter().enumerate().filter_map(|(index, strategy)| {
        let strategy = strategy.as_ref()?;
        Some((format!("strategy.{index}.name"), strategy.name.as_str()))
    });
    for problem in taken::twice(names, str::to_lowercase, "strategy", Some("give each strategy a name of its own")) {
        root.findings().push(problem);
    }
    let wear = match root.one("wear") {
        Some(fields) => WearChoice { model: fields.get("model")?, resistance_grows: fields.get("resistance_grows")? },
        None => WearChoice { model: WearModel::Worst, resistance_grows: false },
    };
    let strategies = strategies.into_iter().collect::<Option<_>>()?;
    let outages = if root.has("outages") || !known.has_cuts { outages? } else { Outages::none() };
    Some(Years { strategies, outages, tariff, wear })
}

fn tariff(fields: &Fields) -> Option<Tariff> {
    let (cheap, station): (Option<forms::Amount>, Option<forms::Amount>) = (fields.get("cheap"), fields.get("station"));
    let hours = fields.get("cheap_hours");
    for (name, other) in [("cheap", "cheap_hours"), ("cheap_hours", "cheap")] {
        if fields.has(name) && !fields.has(other) {
            let lonely = Problem::error(fields.key(name), format!("needs `{other}` beside it"))
                .help("write both, the price and when it holds, or neither");
            fields.findings().push(lonely);
        }
    }
    let price: forms::Amount = fields.get("price")?;
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
