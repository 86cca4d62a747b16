//! A rare failure in words.

use serde::Serialize;

use super::words::{about, thousands};
use crate::math;
use crate::study::rare::Rarity;

/// Head of the section.
pub const HEAD: &str = "How rare a failure is";

/// A small share as a number of 100, to two digits: "0.0083".
fn of_100(p: f64) -> String {
    let percent = 100.0 * p;
    let digits = if percent > 0.0 { (1.0 - math::log10(percent).floor()).clamp(0.0, 12.0) as usize } else { 0 };
    format!("{percent:.digits$}")
}

/// One outage in how many: "about one in 12,000".
fn one_in(p: f64) -> String {
    format!("about one in {}", about(1.0 / p))
}

/// What it says, as sentences.
#[must_use]
pub fn sentences(rarity: &Rarity) -> String {
    let Some(rare) = &rarity.told else {
        return format!(
            "A failure is not rare here: {} of {} plain trials failed. The range above says it.",
            thousands(rarity.counted),
            thousands(rarity.of)
        );
    };
    let among = if rare.plain == rarity.of {
        "those counted above".to_string()
    } else {
        format!("the {} counted above among them", thousands(rarity.of))
    };
    let caution = "What nobody has measured is averaged over, and the model's dark tail is no surer than the records it was \
                   judged by: do not read this as a promise.";
    if rare.failure <= 0.0 {
        let high = rare.interval.high;
        let nor = if rare.leaning > 0 {
            format!(", nor in {} drawn in darker weather than is likely", thousands(rare.leaning))
        } else {
            String::new()
        };
        return format!(
            "Nothing vital failed in {} plain trials, {among}{nor}: fewer than {} of 100 outages ({}), with 95 % confidence as far \
             as chance goes. {caution}",
            thousands(rare.plain),
            of_100(high),
            one_in(high),
        );
    }
    let leaning = if rare.leaning > 0 {
        format!(
            ", and {} in {} drawn in darker weather than is likely, weighed back. Plain trials alone would have taken about {} to \
             say it as surely",
            thousands(rare.leaning_failures),
            thousands(rare.leaning),
            about(rare.gain * rare.trials() as f64)
        )
    } else {
        String::new()
    };
    format!(
        "Something vital goes without in {} of 100 outages ({}-{} by chance), {}. It comes from {} failures in {} plain \
         trials, {among}{leaning}. {caution}",
        of_100(rare.failure),
        of_100(rare.interval.low),
        of_100(rare.interval.high),
        one_in(rare.failure),
        thousands(rare.plain_failures),
        thousands(rare.plain),
    )
}

/// The closer look for the schema.
#[derive(Debug, Serialize)]
pub struct Json {
    /// `rare`; `nothing_failed`, where it is rarer than `high`; `not_rare`, where no closer look was taken.
    pub kind: &'static str,
    /// Probability that something vital goes without, averaged over what is not known; 0 where nothing failed; null where a
    /// failure is not rare.
    pub probability: Option<f64>,
    /// Lower end of the 95 % interval of chance.
    pub low: Option<f64>,
    /// Upper end of the same.
    pub high: Option<f64>,
    /// Plain trials, those of the answer itself among them.
    pub plain_trials: u64,
    /// Failures among them.
    pub plain_failures: u64,
    /// Trials in darker weather than is likely, weighed back.
    pub leaning_trials: u64,
    /// Failures among them.
    pub leaning_failures: u64,
    /// Trials spent on finding how dark.
    pub search_trials: u64,
    /// The same in words.
    pub text: String,
}

impl Json {
    /// For the schema.
    #[must_use]
    pub fn of(rarity: &Rarity) -> Json {
        let told = rarity.told.as_ref();
        Json {
            kind: told.map_or("not_rare", |rare| if rare.failure > 0.0 { "rare" } else { "nothing_failed" }),
            probability: told.map(|rare| rare.failure),
            low: told.map(|rare| rare.interval.low),
            high: told.map(|rare| rare.interval.high),
            plain_trials: told.map_or(rarity.of, |rare| rare.plain),
            plain_failures: told.map_or(rarity.counted, |rare| rare.plain_failures),
            leaning_trials: told.map_or(0, |rare| rare.leaning),
            leaning_failures: told.map_or(0, |rare| rare.leaning_failures),
            search_trials: told.map_or(0, |rare| rare.search),
            text: sentences(rarity),
        }
    }
}
