//! `[outages]`: how often the lights go out, and for how long.

use super::read::Known;
use super::{Arrivals, Outages};
use crate::math;
use crate::scenario::fields::Fields;
use crate::scenario::forms::Braces;
use crate::scenario::model::Lasts;
use crate::scenario::problem::Problem;
use crate::scenario::schema::years;
use crate::statistics::NORMAL_P95;
use crate::units::Hours;

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

/// Seasons and months by name.
pub(in crate::scenario) fn weight_names() -> impl Iterator<Item = &'static str> {
    SEASONS.iter().map(|(season, _)| *season).chain(MONTHS)
}

pub(super) fn read(fields: &Fields, known: &Known) -> Option<Outages> {
    let ways = ["frequency", "history", "reliability"];
    let given: Vec<&str> = ways.into_iter().filter(|name| fields.has(name)).collect();
    if let [first, second, ..] = given[..] {
        let clash = Problem::error(fields.key(second), format!("and `outages.{first}` cannot both be given"))
            .help("keep frequency and lasts, or history, or reliability")
            .against(fields.key(first), "the other one");
        fields.findings().push(clash);
    }
    let often = match given.first() {
        None | Some(&"frequency") => {
            let (frequency, lasts) = (fields.needed("frequency"), fields.needed("lasts"));
            frequency.zip(lasts).map(|(a_year, lasts)| Arrivals::Often { a_year, lasts })
        }
        Some(other) => {
            if fields.has("lasts") {
                let idle =
                    Problem::error(fields.key("lasts"), format!("clashes with `{other}`, which says it already"))
                        .help("leave one of the two out");
                fields.findings().push(idle);
            }
            None
        }
    };
    if fields.has("reliability") {
        let note =
            Problem::note(fields.key("reliability"), "holds for the mean customer, and often leaves out great storms")
                .help("ask for the figures with major event days included; without them the outages are too short");
        fields.findings().push(note);
    }
    let arrivals = often.or_else(|| fields.get("history")).or_else(|| fields.get("reliability"));
    let month_weights = month_weights(fields, known.latitude_deg)?;
    Some(Outages { arrivals: arrivals?, month_weights, in_bad_weather: fields.get("in_bad_weather")? })
}

/// The form of `history`.
pub(in crate::scenario) fn history() -> Braces<Arrivals> {
    Braces {
        keys: years::record_of_outages(),
        wrong: "must name a file and the years that it covers",
        example: "{ file = \"my-outages.csv\", years = \"6 years\" }",
        build: |inner| Some(Arrivals::History { file: inner.get("file")?, years: inner.get("years")? }),
    }
}

/// The form of `reliability`. Indices as IEEE 1366 defines them: SAIFI is the mean number of interruptions that a customer
/// has in a year, SAIDI the mean time without power; SAIDI / SAIFI = CAIDI is the mean length of an interruption. The
/// definitions are from memory of the standard.
pub(in crate::scenario) fn reliability() -> Braces<Arrivals> {
    Braces {
        keys: years::indices(),
        wrong: "must give both indices",
        example: "{ saidi = \"400 min\", saifi = \"1.8 a year\" }",
        build: |inner| {
            let (saidi, saifi): (Hours, f64) = (inner.get("saidi")?, inner.get("saifi")?);
            let mean_h = saidi.0 / saifi;
            // The mean of a log-normal is the median times exp(σ²/2); its 95 % point is the median times exp(1.645 σ).
            let median = mean_h * math::exp(-0.5 * INDEX_SIGMA * INDEX_SIGMA);
            let p95 = median * math::exp(NORMAL_P95 * INDEX_SIGMA);
            Some(Arrivals::Often { a_year: saifi, lasts: Lasts::LogNormal { median: Hours(median), p95: Hours(p95) } })
        },
    }
}

/// The form of `season_weights`: the names given, each with its weight.
pub(in crate::scenario) fn season_weights() -> Braces<Vec<(&'static str, f64)>> {
    Braces {
        keys: years::weights(),
        wrong: "must be a list of weights by name",
        example: "weights by season or month, like { winter = 3, july = 2 }",
        build: |inner| Some(weight_names().filter_map(|name| Some((name, inner.get(name)?))).collect()),
    }
}

fn month_weights(fields: &Fields, latitude_deg: Option<f64>) -> Option<[f64; 12]> {
    let mut weights = [1.0; 12];
    // The south has its winter from June on.
    let shift = if latitude_deg.is_some_and(|latitude| latitude < 0.0) { 6 } else { 0 };
    for (name, weight) in fields.get::<Vec<(&str, f64)>>("season_weights").unwrap_or_default() {
        let season = SEASONS.iter().find(|(season, _)| *season == name).map(|(_, first)| *first);
        match (season, MONTHS.iter().position(|month| *month == name)) {
            (Some(first), _) => (first..first + 3).for_each(|month| weights[(month + shift) % 12] = weight),
            (None, Some(month)) => weights[month] = weight,
            (None, None) => {}
        }
    }
    let key = fields.key("season_weights");
    if fields.findings().clean(&key) && weights.iter().sum::<f64>() <= 0.0 {
        let none = Problem::error(key, "leaves no month for an outage").help("give one of them a weight");
        fields.findings().push(none);
        return None;
    }
    Some(weights)
}
