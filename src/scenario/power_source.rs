//! `[[source]]`: a car, running water or the wind that charges the station.

use super::fields::Fields;
use super::forms::{Braces, Fault, Form, Item};
use super::model::{Gives, PowerSource};
use super::schema::power_source::{CAR, WIND, point};
use super::taken;
use crate::units::{MetresPerSecond, Uncertain, Watts};
use serde_json::{Value as Json, json};

/// Watts by wind.
pub(super) struct Curve;

const CURVE: &str = "a list of two points or more, like [{ wind = \"3 m/s\", gives = \"0 W\" }, { wind = \"11 m/s\", gives = \
                     \"400 W\" }]";

impl Curve {
    fn one() -> Braces<(MetresPerSecond, Watts)> {
        Braces {
            keys: point(),
            wrong: "must give a wind and the watts there",
            example: "{ wind = \"6 m/s\", gives = \"60 W\" }",
            build: |inner| Some((inner.get("wind")?, inner.get("gives")?)),
        }
    }
}

impl Form for Curve {
    type Output = Vec<(f64, f64)>;
    fn allowed(&self) -> String {
        CURVE.into()
    }
    fn example(&self) -> String {
        "[{ wind = \"3 m/s\", gives = \"0 W\" }, { wind = \"11 m/s\", gives = \"400 W\" }]".into()
    }
    fn read(&self, item: &Item) -> Result<Self::Output, Fault> {
        let wrong =
            || Fault::new("cannot be read as a curve").help("write one { wind = \"…\", gives = \"…\" } for each wind");
        let entries = item.entries().filter(|entries| entries.len() > 1).ok_or_else(wrong)?;
        let one = Curve::one();
        let read: Vec<Option<(MetresPerSecond, Watts)>> = entries.iter().map(|entry| entry.read(&one)).collect();
        let points: Vec<(MetresPerSecond, Watts)> = read.into_iter().collect::<Option<_>>().ok_or_else(Fault::told)?;
        if let Some(at) = points.windows(2).position(|pair| pair[1].0 <= pair[0].0) {
            return Err(Fault::new("must have rising winds").found(format!(
                "{} after {}",
                points[at + 1].0,
                points[at].0
            )));
        }
        Ok(points.into_iter().map(|(wind, watts)| (wind.0, watts.0)).collect())
    }
    fn json(&self) -> Json {
        json!({ "type": "array", "items": Curve::one().json(), "minItems": 2 })
    }
}

/// Reads one.
pub(super) fn read(fields: &Fields) -> Option<PowerSource> {
    let kind = fields.kind()?;
    let gives = match kind {
        WIND => {
            let (mean, told): (Uncertain<MetresPerSecond>, bool) = fields.get("mean_wind")?;
            Gives::Wind { mean, told, curve: fields.get("curve")? }
        }
        CAR => Gives::Car { watts: fields.get("watts")?, on_days: fields.get("on_days")? },
        _ => Gives::Water { watts: fields.get("watts")? },
    };
    Some(PowerSource {
        name: fields.get("name")?,
        gives,
        hours: fields.get("hours").unwrap_or_default(),
        efficiency: fields.get("efficiency")?,
    })
}

/// No two share a name: what they give is drawn by it.
pub(super) fn names(root: &Fields) {
    let names: Vec<(String, String)> =
        root.many("source").iter().filter_map(|source| Some((source.key("name"), source.get("name")?))).collect();
    let names = names.iter().map(|(key, name)| (key.clone(), name.as_str()));
    for problem in taken::twice(names, str::to_lowercase, "source", None) {
        root.findings().push(problem);
    }
}
