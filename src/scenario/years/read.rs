//! `[[strategy]]`, `[outages]`, `[tariff]` and `[wear]`.

use super::forms::{self, Money};
use super::{Outages, Strategy, Tariff, WearChoice, WearModel, Years, outages, strategy};
use crate::scenario::clock;
use crate::scenario::fields::Fields;
use crate::scenario::forms::{OneOf, YesNo, tidy};
use crate::scenario::model::{Load, Station};
use crate::scenario::problem::Problem;

/// What of the rest of the scenario could be read.
pub(in crate::scenario) struct Known<'a> {
    pub latitude_deg: Option<f64>,
    pub station: Option<&'a Station>,
    pub has_panels: bool,
    pub loads: &'a [Option<Load>],
}

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
    let outages = root.table("outages").map(|mut fields| (outages::read(&mut fields, known), fields));
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
            let strategy = strategy::read(&mut fields, known, tariff.as_ref());
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
