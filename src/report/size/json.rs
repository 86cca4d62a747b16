//! The answer of `size` for programs.

use serde::Serialize;

use super::verdict::{free, free_first};
use super::{Facts, SizeVerdict, verdict};
use crate::report::json::Share;
use crate::report::notes::{Note, of_weather};
use crate::report::outage_json::Changed;
use crate::report::place::Whereabouts;
use crate::report::told::{self, Told};
use crate::study::Change;
use crate::study::fit::Overload;
use crate::study::size::SizedKit;
use crate::trials::interval::{Z_95, wilson};

/// The answer of `size` as JSON.
#[derive(Debug, Serialize)]
pub struct Json<'a> {
    title: &'a str,
    place: Told<Whereabouts>,
    seed: u64,
    /// Trials of the grid that were done.
    trials: u64,
    /// Whether the run was stopped before all of this was worked out.
    stopped_early: bool,
    target: f64,
    verdict: Told<SizeVerdict>,
    /// Outlets of the scenario's kit that switch off: the trials do not know of it.
    overloads: Vec<Told<&'a Overload>>,
    /// Where the weather comes from.
    weather: Option<Told<&'a Note>>,
    notes: Vec<Told<&'a Note>>,
    /// The kit as it is, and what its free changes come to; null where that was not looked at.
    own: Option<JsonOwn<'a>>,
    /// Single changes to the largest kit that help, the most helpful first; only where no kit reaches the target.
    largest_changes: Vec<Changed<'a>>,
    /// Null where the run was stopped before kits were judged.
    frontier: Option<Vec<JsonKit>>,
    /// What `proposed` and the kits of the ladder are the least by: `price`, or `battery` where prices are not known of all.
    least_by: &'static str,
    /// The one of the frontier that is named first; null where it is empty.
    proposed: Option<JsonKit>,
    cheapest: Option<JsonKit>,
    lightest: Option<JsonKit>,
    /// The targets that were worked out.
    ladder: Vec<JsonRung>,
    grid: Vec<JsonCell>,
}

#[derive(Debug, Serialize)]
struct JsonKit {
    battery: String,
    battery_wh: f64,
    panels: String,
    panel_count: f64,
    /// How far it can be relied on.
    verdict: crate::report::verdict::Json,
    survival: Share,
    price: Option<f64>,
    weight_kg: Option<f64>,
}

/// The kit as it is.
#[derive(Debug, Serialize)]
struct JsonOwn<'a> {
    survival: Share,
    /// What costs nothing, all of it together; null where nothing helps.
    free: Option<JsonFree<'a>>,
    /// The same in words, with what costs nothing; empty where nothing does.
    text: String,
}

/// What costs nothing.
#[derive(Debug, Serialize)]
struct JsonFree<'a> {
    changes: Vec<Told<&'a Change>>,
    survival: Share,
}

#[derive(Debug, Serialize)]
struct JsonRung {
    target: f64,
    kit: Option<JsonKit>,
}

#[derive(Debug, Serialize)]
struct JsonCell {
    battery_wh: f64,
    panel_count: f64,
    survived: u64,
    chance_low: f64,
    chance_high: f64,
    /// Lower end of the 95 % range, chance and what is not known together; null where the run was stopped before.
    low: Option<f64>,
}

/// The answer for the schema.
#[must_use]
pub fn json<'a>(facts: &Facts<'a>) -> Json<'a> {
    let &Facts { title, site, answer: sizing, overloads, notes, seed, .. } = facts;
    let kit = |kit: &SizedKit| JsonKit {
        battery: sizing.batteries[kit.battery].name.clone(),
        battery_wh: sizing.batteries[kit.battery].amount,
        panels: sizing.panels[kit.panels].name.clone(),
        panel_count: sizing.panels[kit.panels].amount,
        verdict: crate::report::verdict::Json::from(facts.verdict(kit)).taking(facts.fuel),
        survival: Share::of(&kit.survival),
        price: kit.price,
        weight_kg: kit.weight_kg,
    };
    let mut grid = Vec::new();
    for (p, (panels, row)) in sizing.panels.iter().zip(&sizing.survived).enumerate() {
        for (b, (battery, &survived)) in sizing.batteries.iter().zip(row).enumerate() {
            let chance = wilson(survived, sizing.trials, Z_95);
            grid.push(JsonCell {
                battery_wh: battery.amount,
                panel_count: panels.amount,
                survived,
                chance_low: chance.low,
                chance_high: chance.high,
                low: sizing.lows.get(p).map(|row| row[b]),
            });
        }
    }
    Json {
        title,
        place: Whereabouts::of(site).into(),
        seed,
        trials: sizing.trials,
        stopped_early: sizing.stopped_early,
        target: sizing.target,
        verdict: Told { fact: SizeVerdict::of(sizing), text: verdict(sizing) },
        overloads: told::all(overloads),
        weather: of_weather(notes).map(Told::from),
        notes: told::all(notes),
        own: facts.own.map(|own| JsonOwn {
            survival: Share::of(&own.survival),
            free: free(own).map(|(changes, with)| JsonFree { changes: told::all(changes), survival: Share::of(with) }),
            text: free_first(facts, own),
        }),
        largest_changes: sizing.largest.iter().flat_map(|largest| &largest.effects).map(Changed::of).collect(),
        frontier: sizing.judged.then(|| sizing.frontier.iter().map(kit).collect()),
        least_by: if sizing.priced() { "price" } else { "battery" },
        proposed: sizing.proposed().map(kit),
        cheapest: sizing.cheapest.as_ref().map(kit),
        lightest: sizing.lightest.as_ref().map(kit),
        ladder: sizing
            .ladder
            .iter()
            .map(|(target, k)| JsonRung { target: *target, kit: k.as_ref().map(kit) })
            .collect(),
        grid,
    }
}
