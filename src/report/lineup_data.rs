//! The answer of `lineup` for programs: JSON and tidy CSV.

use serde::Serialize;

use super::cells::harmless;
use super::json::{Difference, Share};
use super::lineup::word;
use super::lineup_case::per_point;
use super::misfit;
use super::told::{self, Told};
use super::verdict;
use crate::study::lineup::{
    Addition, Band, Cell, CellAnswer, Least, Lineup, Misfit, Note, RankedKit, Wiring, all_round, least, may_suffice,
    profile, ranking,
};

/// The answer of `lineup`.
#[derive(Debug, Serialize)]
pub struct Json<'a> {
    seed: u64,
    trials: u64,
    target: f64,
    currency: String,
    complete: bool,
    kits: Vec<JsonKit>,
    cases: Vec<JsonCase>,
    places: Vec<String>,
    cells: Vec<JsonCell>,
    /// The kit that suffices most often; null where none does anywhere.
    all_round: Option<JsonAllRound>,
    least: Vec<JsonLeast>,
    notes: Vec<Told<&'a Note>>,
}

#[derive(Debug, Serialize)]
struct JsonKit {
    name: String,
    price: Option<f64>,
    weight_kg: Option<f64>,
    capacity_wh: f64,
    panels_w: f64,
    fails_first_on: Vec<String>,
    additions: Vec<JsonHelps>,
}

#[derive(Debug, Serialize)]
struct JsonHelps {
    addition: &'static str,
    cells: usize,
    mean_difference: f64,
    mean_difference_low: f64,
    mean_difference_high: f64,
    most_in_case: String,
    most_at: String,
    most_difference: f64,
}

#[derive(Debug, Serialize)]
struct JsonCase {
    name: String,
    title: String,
}

#[derive(Debug, Serialize)]
struct JsonCell {
    kit: String,
    case: String,
    place: String,
    fits: bool,
    /// Why it does not fit.
    misfit: Option<JsonMisfit>,
    band: Option<&'static str>,
    /// How far it can be relied on; null where the parts do not go together.
    verdict: Option<verdict::Json>,
    survival: Option<Share>,
    unmet_wh_mean: Option<f64>,
    first_failure: Option<JsonFailure>,
    rank: Option<usize>,
    tied: Option<bool>,
    difference_to_best: Option<Difference>,
    price_per_point: Option<f64>,
    weight_kg_per_point: Option<f64>,
    additions: Vec<JsonAddition>,
}

#[derive(Debug, Serialize)]
struct JsonMisfit {
    /// `wiring`, `overload` (a load too big) or `parts`.
    kind: &'static str,
    text: String,
    /// For `wiring`: how the panels fit, or fewer of them; null where no wiring does.
    fits: Option<Wiring>,
}

#[derive(Debug, Serialize)]
struct JsonFailure {
    load: String,
    share_of_failures: f64,
    after_h_p50: f64,
}

#[derive(Debug, Serialize)]
struct JsonAddition {
    addition: &'static str,
    #[serde(flatten)]
    pair: Difference,
}

#[derive(Debug, Serialize)]
struct JsonAllRound {
    kit: String,
    /// Cases and places in which it suffices.
    suffices: usize,
    /// All cases and places.
    of: usize,
}

#[derive(Debug, Serialize)]
struct JsonLeast {
    case: String,
    place: String,
    /// Null where no kit suffices.
    kit: Option<String>,
    /// What it is the least of: `price`, `weight` or `capacity`; null with it.
    by: Option<Least>,
    /// Kits that are less and may suffice too: the trials are too few to tell.
    may_suffice: Vec<String>,
    best: Vec<String>,
}

/// One row of the long table: where it is, and what it says.
struct Row<'a> {
    place: usize,
    case: usize,
    kit: usize,
    cell: &'a Cell,
    standing: Option<RankedKit>,
    tied: bool,
}

fn rows(lineup: &Lineup) -> Vec<Row<'_>> {
    let mut rows = Vec::new();
    for place in 0..lineup.places.len() {
        for case in 0..lineup.cases.len() {
            let standings = ranking(&lineup.verdicts(place, case));
            for kit in 0..lineup.kits.len() {
                let Some(cell) = lineup.cell(place, case, kit) else { continue };
                let standing = standings.iter().find(|standing| standing.kit == kit).copied();
                let tied =
                    standing.is_some_and(|own| standings.iter().filter(|other| other.rank == own.rank).count() > 1);
                rows.push(Row { place, case, kit, cell, standing, tied });
            }
        }
    }
    rows
}

/// The answer for the schema.
#[must_use]
pub fn json(lineup: &Lineup) -> Json<'_> {
    let kits = (0..lineup.kits.len()).map(|kit| json_kit(lineup, kit)).collect();
    let cells = rows(lineup).iter().map(|row| json_cell(lineup, row)).collect();
    let mut leasts = Vec::new();
    for place in 0..lineup.places.len() {
        for case in 0..lineup.cases.len() {
            let verdicts = lineup.verdicts(place, case);
            let name = |kit: usize| lineup.kits[kit].name.clone();
            let sure = least(&lineup.kits, &verdicts, lineup.rule.target);
            let (kit, by) = (sure.map(|(kit, _)| name(kit)), sure.map(|(_, by)| by));
            let may_suffice = may_suffice(&lineup.kits, &verdicts, lineup.rule.target).into_iter().map(name).collect();
            let best = ranking(&verdicts).iter().filter(|s| s.rank == 1).map(|s| name(s.kit)).collect();
            let (case, place) = (lineup.cases[case].name.clone(), lineup.places[place].clone());
            leasts.push(JsonLeast { case, place, kit, by, may_suffice, best });
        }
    }
    let of = lineup.places.len() * lineup.cases.len();
    let all_round = all_round(lineup);
    let all_round = all_round.map(|(kit, suffices)| JsonAllRound { kit: lineup.kits[kit].name.clone(), suffices, of });
    Json {
        seed: lineup.rule.seed,
        trials: lineup.rule.trials,
        target: lineup.rule.target,
        currency: lineup.currency.clone(),
        complete: lineup.complete(),
        kits,
        cases: lineup.cases.iter().map(|c| JsonCase { name: c.name.clone(), title: c.title.clone() }).collect(),
        places: lineup.places.clone(),
        cells,
        all_round,
        least: leasts,
        notes: told::all(&lineup.notes),
    }
}

fn json_kit(lineup: &Lineup, kit: usize) -> JsonKit {
    let facts = &lineup.kits[kit];
    let profile = profile(lineup, kit);
    let additions = profile
        .helps
        .iter()
        .map(|helps| {
            let ((place, case), most) = helps.most;
            JsonHelps {
                addition: helps.addition.name(),
                cells: helps.cells,
                mean_difference: helps.mean,
                mean_difference_low: helps.interval.low,
                mean_difference_high: helps.interval.high,
                most_in_case: lineup.cases[case].name.clone(),
                most_at: lineup.places[place].clone(),
                most_difference: most,
            }
        })
        .collect();
    JsonKit {
        name: facts.name.clone(),
        price: facts.price,
        weight_kg: facts.weight_kg,
        capacity_wh: facts.capacity_wh,
        panels_w: facts.panels_w,
        fails_first_on: profile.fails_on.into_iter().map(|(load, _)| load).collect(),
        additions,
    }
}

fn json_cell(lineup: &Lineup, row: &Row) -> JsonCell {
    let facts = &lineup.kits[row.kit];
    let mut out = JsonCell {
        kit: facts.name.clone(),
        case: lineup.cases[row.case].name.clone(),
        place: lineup.places[row.place].clone(),
        fits: false,
        misfit: None,
        band: None,
        verdict: lineup.verdict(row.case, row.cell).map(verdict::Json::from),
        survival: None,
        unmet_wh_mean: None,
        first_failure: None,
        rank: row.standing.map(|standing| standing.rank),
        tied: row.standing.map(|_| row.tied),
        difference_to_best: row.standing.map(|standing| Difference::of(&standing.against_best)),
        price_per_point: None,
        weight_kg_per_point: None,
        additions: Vec::new(),
    };
    let verdict: &CellAnswer = match row.cell {
        Cell::Misfit { why, reason } => {
            let (kind, fits) = match why {
                Misfit::Wiring(fits) => ("wiring", *fits),
                Misfit::Overload => ("overload", None),
                Misfit::Parts => ("parts", None),
            };
            out.misfit = Some(JsonMisfit { kind, text: reason.clone(), fits });
            return out;
        }
        Cell::Fits(verdict) => verdict,
    };
    out.fits = true;
    out.band = Some(word(Band::of(&verdict.survival, lineup.rule.target)));
    out.survival = Some(Share::of(&verdict.survival));
    out.unmet_wh_mean = Some(verdict.unmet_wh_mean);
    out.first_failure = verdict.first_failure.as_ref().map(|first| JsonFailure {
        load: first.load.clone(),
        share_of_failures: first.share,
        after_h_p50: first.after_h_p50,
    });
    out.price_per_point = per_point(facts.price, verdict);
    out.weight_kg_per_point = per_point(facts.weight_kg, verdict);
    out.additions = Addition::ALL
        .into_iter()
        .zip(&verdict.additions)
        .filter_map(|(addition, pair)| {
            Some(JsonAddition { addition: addition.name(), pair: Difference::of(pair.as_ref()?) })
        })
        .collect();
    out
}

/// Columns of the tidy table.
const COLUMNS: [&str; 31] = [
    "place",
    "case",
    "kit",
    "price",
    "weight_kg",
    "capacity_wh",
    "panels_w",
    "verdict",
    "reason",
    "trials",
    "probability",
    "low",
    "high",
    "chance_low",
    "chance_high",
    "rank",
    "tied",
    "difference_to_best",
    "difference_low",
    "difference_high",
    "price_per_point",
    "weight_kg_per_point",
    "unmet_wh_mean",
    "fails_first",
    "fails_first_share",
    "panel_difference",
    "dc_outlet_difference",
    "battery_difference",
    "verdict_word",
    "fits_in_series",
    "fits_in_parallel",
];

/// One row a cell, one column a figure; what does not apply is empty.
#[must_use]
pub fn csv(lineup: &Lineup) -> String {
    let mut writer = csv::WriterBuilder::new().from_writer(Vec::new());
    let _ = writer.write_record(COLUMNS);
    let number = |value: Option<f64>| value.map_or(String::new(), |value| value.to_string());
    for row in rows(lineup) {
        let cell = json_cell(lineup, &row);
        let facts = &lineup.kits[row.kit];
        let pair = cell.difference_to_best.as_ref();
        let survival = |of: fn(&Share) -> f64| number(cell.survival.as_ref().map(of));
        let addition = |addition: Addition| {
            number(cell.additions.iter().find(|a| a.addition == addition.name()).map(|a| a.pair.difference))
        };
        let first = cell.first_failure.as_ref();
        let misfit = if let Cell::Misfit { why, .. } = row.cell { Some(misfit::word(*why)) } else { None };
        let fits = cell.misfit.as_ref().and_then(|misfit| misfit.fits);
        let record = [
            harmless(&cell.place).into_owned(),
            harmless(&cell.case).into_owned(),
            harmless(&cell.kit).into_owned(),
            number(facts.price),
            number(facts.weight_kg),
            number(Some(facts.capacity_wh)),
            number(Some(facts.panels_w)),
            misfit.unwrap_or_else(|| cell.band.unwrap_or_default()).to_string(),
            cell.misfit.as_ref().map_or(String::new(), |misfit| harmless(&misfit.text).into_owned()),
            cell.survival.as_ref().map_or(String::new(), |s| s.trials.to_string()),
            survival(|s| s.probability),
            survival(|s| s.low),
            survival(|s| s.high),
            survival(|s| s.chance_low),
            survival(|s| s.chance_high),
            cell.rank.map_or(String::new(), |rank| rank.to_string()),
            cell.tied.map_or("", |tied| if tied { "yes" } else { "no" }).to_string(),
            number(pair.map(|p| p.difference)),
            number(pair.map(|p| p.difference_low)),
            number(pair.map(|p| p.difference_high)),
            number(cell.price_per_point),
            number(cell.weight_kg_per_point),
            number(cell.unmet_wh_mean),
            first.map_or(String::new(), |f| harmless(&f.load).into_owned()),
            number(first.map(|f| f.share_of_failures)),
            addition(Addition::Panel),
            addition(Addition::DcOutlet),
            addition(Addition::Battery),
            lineup.verdict(row.case, row.cell).map_or("", verdict::word).to_string(),
            fits.map_or(String::new(), |fits| fits.series.to_string()),
            fits.map_or(String::new(), |fits| fits.parallel.to_string()),
        ];
        let _ = writer.write_record(record);
    }
    writer.into_inner().ok().and_then(|bytes| String::from_utf8(bytes).ok()).unwrap_or_default()
}
