//! What became of the food in coolers, by both clocks.

use serde::Serialize;

use super::cautions;
use super::document::Document;
use super::words::share_by_chance;
use crate::engine::{Asks, Plan};
use crate::loads::CoolerPlan;
use crate::loads::cooler::PART_NAMES;
use crate::scenario::model::Scenario;
use crate::study::changes::food_by_name;
use crate::trials::interval::{Interval, Z_95, wilson};
use crate::trials::tally::{FoodTally, KEEPS_H, LoadTally, Tally, count_quantile};

/// One part of a cooler with what was counted for it.
pub struct Part<'a> {
    /// Index of the load.
    pub load: usize,
    /// Index of the part: fridge or freezer.
    pub part: usize,
    /// The cooler.
    pub cooler: &'a CoolerPlan,
    /// The counts.
    pub tally: &'a FoodTally,
}

/// All parts of all coolers of a plan.
pub fn parts<'a>(plan: &'a Plan, tally: &'a Tally) -> impl Iterator<Item = Part<'a>> {
    plan.loads.iter().zip(&tally.loads).enumerate().flat_map(|(load, (planned, counted))| {
        let cooler = match planned.asks.as_deref() {
            Some(Asks::Cooler(cooler)) => Some(cooler),
            _ => None,
        };
        let parts = counted.food.iter().enumerate();
        parts.filter_map(move |(part, tally)| Some(Part { load, part, cooler: cooler?, tally: tally.as_ref()? }))
    })
}

/// Loads that are no coolers and keep food by their names, by index.
fn plain(plan: &Plan) -> impl Iterator<Item = (usize, [bool; 2])> {
    let named = plan.loads.iter().enumerate().filter(|(_, load)| load.asks.is_none());
    named.map(|(k, load)| (k, food_by_name(&load.name))).filter(|(_, food)| food.contains(&true))
}

/// In how many trials a load went without for longer than each of the hours that food keeps.
fn off_over(load: &LoadTally, trials: u64) -> [(f64, Interval); 3] {
    load.off_over.map(|count| (count as f64 / trials as f64, wilson(count, trials, Z_95)))
}

/// What counts of the two clocks.
fn counts(cooler: &CoolerPlan) -> &'static str {
    match cooler.judged_by {
        [true, true] => "What counts is the sooner of the two.",
        [true, false] => "What counts is the thermometer.",
        [false, true] => "What counts is the hours without power.",
        [false, false] => "Neither fails the outage: the scenario lets nothing judge this food.",
    }
}

/// What became of the food in each part, a text each; empty where nothing keeps food.
#[must_use]
pub fn sentences(plan: &Plan, tally: &Tally) -> Vec<String> {
    let one = |part: Part| {
        let told = |clock: usize| {
            let lost = part.tally.trials_lost(clock);
            let interval = wilson(lost, tally.trials, Z_95);
            let counted = share_by_chance(lost as f64 / tally.trials as f64, interval);
            match count_quantile(&part.tally.lost[clock], 0.5) {
                Some(step) => {
                    format!("{counted}, half of those within {:.0} h", (step + 1) as f64 * plan.season.step_h)
                }
                None => counted,
            }
        };
        let [middle, high] = [0.5, 0.9].map(|share| format!("{:.1} °C", part.tally.warmest_c(share)));
        let warmest = match middle == high {
            true => format!("no warmer than {middle} in most outages"),
            false => format!("no warmer than {middle} in half of the outages, above {high} in one of ten"),
        };
        format!(
            "{}, {}: {warmest}. Judged by a thermometer, its food is lost in {}; by the hours without power, in {}. {}",
            plan.loads[part.load].name,
            PART_NAMES[part.part],
            told(0),
            told(1),
            counts(part.cooler)
        )
    };
    let by_hours = |(k, [fridge, freezer]): (usize, [bool; 2])| {
        let name = &plan.loads[k].name;
        let [over_4, over_24, over_48] =
            off_over(&tally.loads[k], tally.trials).map(|(share, interval)| share_by_chance(share, interval));
        let [four, half, full] = KEEPS_H.map(|hours| format!("{hours:.0} h"));
        let fridge =
            fridge.then(|| format!("for more than {four}, as long as a closed fridge keeps its food, in {over_4}"));
        let freezer = freezer.then(|| {
            format!("for more than {half}, as long as a half-full freezer keeps it, in {over_24}, and for more than {full}, a full one, in {over_48}")
        });
        let parts: Vec<String> = fridge.into_iter().chain(freezer).collect();
        format!(
            "{name}: only its watts are told, not how warm it gets, so its food goes by the hours without power, all gaps added \
             up. It is dark {}. Count the food in those as lost.",
            parts.join("; ")
        )
    };
    parts(plan, tally).map(one).chain(plain(plan).map(by_hours)).collect()
}

/// Adds what became of the food, and what to do with it; nothing where nothing keeps food cold.
///
/// * `head` — the section's heading.
pub fn add(out: &mut Document, scenario: &Scenario, (plan, tally): (&Plan, &Tally), head: &str) {
    let rules = cautions::food(scenario);
    if rules.is_empty() {
        return;
    }
    out.head(head);
    let told = sentences(plan, tally);
    let any = !told.is_empty();
    for part in told {
        out.say(part);
    }
    if any {
        out.say(
            "These ranges are of chance alone: what nobody has measured can move the shares by more, as the range of the answer \
             shows.",
        );
    }
    out.list(rules);
    if plan.kit.outside_c() < cautions::ICE_BELOW_C {
        out.list([cautions::ICE]);
    }
}

/// Food in one part of a cooler, for the JSON schema.
#[derive(Debug, Serialize)]
pub struct Food {
    /// `fridge` or `freezer`.
    pub part: &'static str,
    /// The warmest it got: half of the outages stayed at or below.
    pub warmest_c_p50: f64,
    /// Nine of ten outages stayed at or below.
    pub warmest_c_p90: f64,
    /// Warmer than this is not safe.
    pub limit_c: f64,
    /// `thermometer`, `hours_without_power`, `the_sooner`, or null where nobody minds: what decides whether a vital cooler
    /// failed.
    pub judged_by: Option<&'static str>,
    /// Lost by the thermometer: above the limit for too long, in a freezer also soft for too long.
    pub thermometer: Lost,
    /// Lost by the hours without power, doors closed.
    pub hours_without_power: Lost,
}

/// How often food was lost.
#[derive(Debug, Serialize)]
pub struct Lost {
    /// Share of the outages, 0 to 1.
    pub share: f64,
    /// Lower end of the 95 % Wilson interval of that.
    pub share_low: f64,
    /// Upper end of the same.
    pub share_high: f64,
    /// Hours into the outage by which half of those had come; null where there were none.
    pub after_h_p50: Option<f64>,
}

/// How often a load that keeps food went without for so long.
#[derive(Debug, Serialize)]
pub struct OffOver {
    /// Hours, all its gaps added up.
    pub hours_h: f64,
    /// Share of the outages, 0 to 1.
    pub share: f64,
    /// Lower end of the 95 % Wilson interval of that.
    pub share_low: f64,
    /// Upper end of the same.
    pub share_high: f64,
}

/// For a load that is no cooler and keeps food by its name; empty for others.
#[must_use]
pub fn off_over_json(plan: &Plan, tally: &Tally, load: usize) -> Vec<OffOver> {
    if !plain(plan).any(|(k, _)| k == load) {
        return Vec::new();
    }
    let of = off_over(&tally.loads[load], tally.trials).into_iter().zip(KEEPS_H);
    of.map(|((share, interval), hours_h)| OffOver {
        hours_h,
        share,
        share_low: interval.low,
        share_high: interval.high,
    })
    .collect()
}

/// The parts of one load for the schema; empty unless it is a cooler.
#[must_use]
pub fn json(plan: &Plan, tally: &Tally, load: usize) -> Vec<Food> {
    let of = parts(plan, tally).filter(|part| part.load == load);
    of.map(|part| {
        let lost = |clock: usize| {
            let n = part.tally.trials_lost(clock);
            let interval = wilson(n, tally.trials, Z_95);
            Lost {
                share: n as f64 / tally.trials as f64,
                share_low: interval.low,
                share_high: interval.high,
                after_h_p50: count_quantile(&part.tally.lost[clock], 0.5)
                    .map(|step| (step + 1) as f64 * plan.season.step_h),
            }
        };
        Food {
            part: PART_NAMES[part.part],
            warmest_c_p50: part.tally.warmest_c(0.5),
            warmest_c_p90: part.tally.warmest_c(0.9),
            limit_c: part.cooler.limit_c,
            judged_by: match part.cooler.judged_by {
                [true, true] => Some("the_sooner"),
                [true, false] => Some("thermometer"),
                [false, true] => Some("hours_without_power"),
                [false, false] => None,
            },
            thermometer: lost(0),
            hours_without_power: lost(1),
        }
    })
    .collect()
}
