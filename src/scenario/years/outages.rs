//! `[outages]`: how often the lights go out, and for how long.

use super::forms::{Often, Weight, YearsLong};
use super::read::Known;
use super::{Arrivals, Outages};
use crate::scenario::amount::Amount;
use crate::scenario::fields::Fields;
use crate::scenario::forms::{Fault, Text};
use crate::scenario::model::Lasts;
use crate::scenario::outage;
use crate::scenario::problem::Problem;
use crate::statistics::NORMAL_P95;
use crate::units::{Fraction, Hours};

/// Share of outages that come with bad weather, where nothing is said (typical, on the cautious side; no source).
const IN_BAD_WEATHER: Fraction = Fraction(0.5);
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

pub(super) fn read(fields: &mut Fields, known: &Known) -> Option<Outages> {
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
    let p95 = median * (NORMAL_P95 * INDEX_SIGMA).exp();
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
