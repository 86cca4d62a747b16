//! The answer of `run` for programs.

use serde::Serialize;

use super::cautions;
use super::cuts::Cuts;
use super::fuel::Fuel;
use super::headline::{doubt, headline};
use super::json::{Difference, Share};
use super::notes::{Note, hangs_on};
use super::outage::{Facts, all_together, lowest_of_failed};
use super::phrases::PRIORITIES;
use super::place::Whereabouts;
use super::told::{self, Told};
use super::{advise, device, food, rare, surer, verdict};
use crate::engine::{Ledger, Unknown};
use crate::open::assumed::Assumption;
use crate::study::Change;
use crate::study::changes::{Costs, Effect};
use crate::study::fit::Overload;
use crate::trials::interval::{Z_95, wilson};
use crate::trials::tally::count_quantile;

/// The answer of `run`.
#[derive(Debug, Serialize)]
pub struct Outage<'a> {
    /// Title of the scenario.
    pub title: String,
    /// Where the kit stands.
    pub place: Told<Whereabouts>,
    /// Seed.
    pub seed: u64,
    /// Whether the run was stopped before the trials asked for were done.
    pub stopped_early: bool,
    /// How far the answer can be relied on.
    pub verdict: verdict::Json,
    /// Share of trials in which the vital loads stayed on.
    pub survival: Share,
    /// Whether a person's health hangs on a load.
    pub medical: bool,
    /// What to judge by: the share itself; the lower end of its interval where a person's health hangs on a load (or of the
    /// share in which a medical load that is not vital got all); 0 where vital loads overload their outlet.
    pub judged_survival: f64,
    /// The assumption by which more outages would fail than fail now, as its note says; null where there is none.
    pub hangs_on: Option<Assumption>,
    /// Vital loads by name where none of them is ever asked for anything, so that the shares judge nothing; else empty.
    pub never_asked: Vec<&'a str>,
    /// The answer in a sentence or two, and what makes its range as wide as it is.
    pub text: String,
    /// Outlets that switch off when what may run at once does; the trials do not know of it.
    pub overloads: Vec<Told<&'a Overload>>,
    /// Devices that a person's health hangs on by themselves; null where there are none, or it was not looked at.
    pub device_alone: Option<device::Json<'a>>,
    /// What may move the answer beyond chance.
    pub doubts: Vec<Doubt<'a>>,
    /// What would make the range narrower: the unknown that carries most of it, and one that is measured in a day or two.
    pub surer: Vec<surer::Json<'a>>,
    /// Energy missed by all loads.
    pub unmet_wh: Unmet,
    /// Energy missed by the vital loads, mean of all trials.
    pub vital_unmet_wh: f64,
    /// The first vital load to fail; null where no trial failed.
    pub first_failure: Option<FirstFailure>,
    /// Mean account of an outage.
    pub energy: Ledger,
    /// Fuel burned in a mean outage \[L\]; null where there is no generator or its thirst is not known.
    pub fuel_l: Option<f64>,
    /// Fuel burned if the generator gives all that the charger takes in its hours, in an outage of the usual length \[L\]; null
    /// as `fuel_l`.
    pub fuel_most_l: Option<f64>,
    /// What the generator gives straight to AC loads in a mean outage \[Wh\], where it does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub generator_to_loads_wh: Option<f64>,
    /// Charge after each step, as quantiles over the trials.
    pub charge: Vec<Charge>,
    /// Load by load.
    pub loads: Vec<Load>,
    /// What is to be minded with this kit.
    pub cautions: Vec<cautions::Said>,
    /// What single changes would do: the most useful of those tried, the free ones first.
    pub changes: Vec<Changed<'a>>,
    /// The free ones that surely help and go together, all made; null where they are not several.
    pub free_together: Option<AllFree>,
    /// A closer look at how rare a failure is; null where 20 failures or more were counted and none was asked for.
    pub rare: Option<rare::Json>,
    /// When to switch off what; null where nobody asked.
    pub advice: Option<advise::Json>,
    /// Days and weeks of cuts that come back every day; null where they do not.
    pub cuts: Option<Cuts>,
    /// Mean length of the outages.
    pub mean_outage_h: f64,
    /// What is assumed and where the weather comes from.
    pub notes: Vec<Told<&'a Note>>,
}

/// Free changes made at once.
#[derive(Debug, Serialize)]
pub struct AllFree {
    /// Which.
    pub changes: Vec<Told<Change>>,
    /// Survival with them.
    pub survival: Share,
    /// Against the kit as it is.
    pub difference: Difference,
    /// The same in words.
    pub text: String,
}

/// A quantity that is not known.
#[derive(Debug, Serialize)]
pub struct Doubt<'a> {
    /// What.
    #[serde(flatten)]
    pub unknown: Told<&'a Unknown>,
    /// Its share of the doubt beyond chance, above 0 to 1; null where that cannot be told from noise.
    pub share: Option<f64>,
}

/// Missed energy.
#[derive(Debug, Serialize)]
pub struct Unmet {
    /// Mean of all trials.
    pub mean: f64,
    /// Half of the trials missed no more.
    pub p50: f64,
    /// 95 % of the trials missed no more.
    pub p95: f64,
}

/// Which vital load fails first, and when.
#[derive(Debug, Serialize)]
pub struct FirstFailure {
    /// Its name.
    pub load: String,
    /// Its share of the failures, 0 to 1.
    pub share_of_failures: f64,
    /// Hours into the outage, from the beginning of a step: where the quarter, half and three quarters of the failures come
    /// that `after_h_p25` and its kin hold to the end of that step.
    pub from_h_p25: f64,
    /// See `from_h_p25`.
    pub from_h_p50: f64,
    /// See `from_h_p25`.
    pub from_h_p75: f64,
    /// Hours into the outage, to the end of a step: a quarter, half and three quarters of the failures come no later.
    pub after_h_p25: f64,
    /// See `after_h_p25`.
    pub after_h_p50: f64,
    /// See `after_h_p25`.
    pub after_h_p75: f64,
    /// Hour of the day at which most failures begin, 0 to 23.
    pub clock_hour: usize,
    /// Failures counted.
    pub failures: u64,
    /// Lowest charge of the middle one of the outages that fail, in percent of the capacity.
    pub lowest_charge_percent: Option<usize>,
}

/// Charge after one step.
#[derive(Debug, Serialize)]
pub struct Charge {
    /// Hours since the outage began.
    pub after_h: f64,
    /// Quantiles over the trials still running, in percent of the capacity.
    pub p05_percent: f64,
    /// See `p05_percent`.
    pub p10_percent: f64,
    /// See `p05_percent`.
    pub p25_percent: f64,
    /// See `p05_percent`.
    pub p50_percent: f64,
    /// See `p05_percent`.
    pub p75_percent: f64,
    /// See `p05_percent`.
    pub p90_percent: f64,
    /// See `p05_percent`.
    pub p95_percent: f64,
}

/// One load.
#[derive(Debug, Serialize)]
pub struct Load {
    /// Its name.
    pub name: String,
    /// `vital`, `useful` or `spare`.
    pub priority: &'static str,
    /// `ac`, `dc` or `usb`.
    pub outlet: &'static str,
    /// Mean energy asked for in an outage.
    pub asked_wh: f64,
    /// Mean energy missed in an outage.
    pub missed_wh: f64,
    /// Of that, switched off by its own rule.
    pub by_rule_wh: f64,
    /// Mean hours without.
    pub off_h: f64,
    /// Share of outages in which it went without at some time.
    pub off_share: f64,
    /// Lower end of the 95 % Wilson interval of that.
    pub off_share_low: f64,
    /// Upper end of the same.
    pub off_share_high: f64,
    /// Share of outages in which it got all that it asked for, with the range of chance and what is not known.
    pub always_on: Share,
    /// Hours into the outage, to the end of a step, by which half of those had begun; null where it never went without.
    pub first_off_h_p50: Option<f64>,
    /// The same to the beginning of that step, as the text says it.
    pub first_off_from_h_p50: Option<f64>,
    /// A quarter of them had begun by the beginning of that step; null where it never went without.
    pub first_off_from_h_p25: Option<f64>,
    /// Three quarters of them had begun by the end of that step; null where it never went without.
    pub first_off_h_p75: Option<f64>,
    /// For a cooler: its fridge and freezer.
    pub food: Vec<food::Food>,
    /// For a load that is no cooler and keeps food by its name: how often it went without for so long; empty for others.
    pub off_over: Vec<food::OffOver>,
}

/// One change.
#[derive(Debug, Serialize)]
pub struct Changed<'a> {
    /// What to do.
    #[serde(flatten)]
    pub change: Told<&'a Change>,
    /// `nothing`, `fuel` or `money`.
    pub costs: Costs,
    /// Survival with it.
    pub survival: Share,
    /// Against the kit as it is.
    #[serde(flatten)]
    pub difference: Difference,
}

impl<'a> Changed<'a> {
    /// For the schema.
    #[must_use]
    pub fn of(effect: &'a Effect) -> Changed<'a> {
        Changed {
            change: (&effect.change).into(),
            costs: effect.change.costs(),
            survival: Share::of(&effect.survival),
            difference: Difference::of(&effect.pair),
        }
    }
}

/// Codes of the outlets.
const OUTLET_CODES: [&str; 3] = ["ac", "dc", "usb"];

/// The answer of `run` for the schema.
#[must_use]
pub fn of<'a>(facts: &Facts<'a>) -> Outage<'a> {
    let &Facts { scenario, plan, answer, notes, advised, device, .. } = facts;
    let tally = &answer.tally;
    let n = tally.trials as f64;
    let fuel = Fuel::of(scenario, plan, tally);
    let step_h = plan.season.step_h;
    let after = |p: f64| count_quantile(&tally.failure_step, p).map_or(f64::NAN, |s| (s + 1) as f64 * step_h);
    let failures = tally.trials - tally.survived;
    let first_failure = tally.fails_first().map(|(k, load)| FirstFailure {
        load: plan.loads[k].name.clone(),
        share_of_failures: load.failed_first as f64 / failures as f64,
        from_h_p25: after(0.25) - step_h,
        from_h_p50: after(0.5) - step_h,
        from_h_p75: after(0.75) - step_h,
        after_h_p25: after(0.25),
        after_h_p50: after(0.5),
        after_h_p75: after(0.75),
        clock_hour: (0..24).max_by_key(|&h| (tally.failure_hour[h], 24 - h)).unwrap_or(0),
        failures,
        lowest_charge_percent: lowest_of_failed(answer),
    });
    let charge = (0..tally.fan.steps())
        .filter_map(|step| {
            let at = |p: f64| tally.fan.quantile(step, p).map(|c| (c * 100.0).round());
            Some(Charge {
                after_h: (step + 1) as f64 * step_h,
                p05_percent: at(0.05)?,
                p10_percent: at(0.1)?,
                p25_percent: at(0.25)?,
                p50_percent: at(0.5)?,
                p75_percent: at(0.75)?,
                p90_percent: at(0.9)?,
                p95_percent: at(0.95)?,
            })
        })
        .collect();
    let whole = plan;
    let loads = plan
        .loads
        .iter()
        .zip(&tally.loads)
        .enumerate()
        .map(|(k, (plan, load))| {
            let off = wilson(load.trials_off, tally.trials, Z_95);
            let first_off = load.first_off_quarters();
            Load {
                name: plan.name.clone(),
                priority: PRIORITIES[plan.priority],
                outlet: OUTLET_CODES[plan.outlet],
                asked_wh: load.asked_wh / n,
                missed_wh: load.unserved_wh / n,
                by_rule_wh: load.by_rule_wh / n,
                off_h: load.off_h / n,
                off_share: load.trials_off as f64 / n,
                off_share_low: off.low,
                off_share_high: off.high,
                always_on: Share::of(&answer.kept_on[k]),
                first_off_h_p50: first_off.map(|[_, s, _]| (s + 1) as f64 * step_h),
                first_off_from_h_p50: first_off.map(|[_, s, _]| s as f64 * step_h),
                first_off_from_h_p25: first_off.map(|[s, ..]| s as f64 * step_h),
                first_off_h_p75: first_off.map(|[.., s]| (s + 1) as f64 * step_h),
                food: food::json(whole, tally, k),
                off_over: food::off_over_json(whole, tally, k),
            }
        })
        .collect();
    Outage {
        title: scenario.title.clone(),
        place: Whereabouts::of(&scenario.site).into(),
        seed: answer.settings.seed,
        stopped_early: answer.stopped_early,
        verdict: verdict::Json::from(answer.verdict(scenario)).taking(answer.fuel),
        survival: Share::of(&answer.survival),
        medical: answer.medical,
        judged_survival: answer.judged(scenario),
        hangs_on: hangs_on(notes, 1.0 - answer.survival.probability).map(|(what, _)| what),
        never_asked: answer.never_asked(scenario),
        text: format!("{} {}", headline(scenario, answer), doubt(scenario, answer)),
        overloads: told::all(&answer.overloads),
        device_alone: device::Json::of(device),
        doubts: answer
            .unknowns
            .iter()
            .enumerate()
            .map(|(k, unknown)| Doubt {
                unknown: unknown.into(),
                share: answer.survival.shares.get(k).copied().flatten(),
            })
            .collect(),
        surer: answer.surer.iter().map(surer::Json::of).collect(),
        unmet_wh: Unmet {
            mean: tally.missed_sum_wh / n,
            p50: tally.unserved_quantile_wh(0.5),
            p95: tally.unserved_quantile_wh(0.95),
        },
        vital_unmet_wh: tally.vital_missed_wh / n,
        first_failure,
        energy: tally.ledger.scaled(1.0 / n),
        fuel_l: fuel.and_then(|fuel| fuel.mean_l),
        fuel_most_l: fuel.and_then(|fuel| fuel.most_l()),
        generator_to_loads_wh: fuel.and_then(|fuel| fuel.direct_wh),
        charge,
        loads,
        cautions: cautions::said(scenario, answer.verdict(scenario)),
        changes: answer.effects.iter().map(Changed::of).collect(),
        free_together: answer.together.as_ref().map(|all| AllFree {
            changes: all.changes.iter().cloned().map(Told::from).collect(),
            survival: Share::of(&all.survival),
            difference: Difference::of(&all.pair),
            text: all_together(answer),
        }),
        rare: answer.rarity.as_ref().map(rare::Json::of),
        advice: advised.map(|advised| advise::Json::of(plan, advised)),
        cuts: Cuts::of(plan, tally),
        mean_outage_h: tally.hours / n,
        notes: told::all(notes),
    }
}
