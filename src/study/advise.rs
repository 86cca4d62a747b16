//! When should which load be switched off? A rule found by trying.
//!
//! Each useful and spare load may be switched off below a charge. Thresholds are found one load at a time, all candidates on
//! the same trials; then each is lowered again as far as that costs no survival that can be told, so that no comfort is
//! given up for nothing. Because a rule picked as the best of many looks better than it is, it is judged on fresh trials.

use super::compare::Pair;
use crate::engine::Plan;
use crate::trials::run::Progress;
use crate::trials::tally::Tally;
use crate::trials::unknowns::{Survival, survivals};
use crate::trials::{Settings, run};

/// Candidate thresholds; below 0 stands for never switched off.
const THRESHOLDS: [f64; 11] = [-1.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.01];

/// Survival that lowering a threshold may cost: less than can be told from chance in the trials of the search.
const COSTS_NOTHING: f64 = 0.002;

/// Trials of the search.
const SEARCH_TRIALS: u64 = 4_000;

/// A rule and what it is worth.
#[derive(Debug, Clone)]
pub struct Advice {
    /// For each load of the plan: switched off below this charge (0 to 1); `None` for never, above 1 for always off.
    pub off_below: Vec<Option<f64>>,
    /// Survival with the rule, on fresh trials.
    pub survival: Survival,
    /// The plan as it is and with the rule, on fresh trials.
    pub pair: Pair,
    /// Share of the energy asked for by useful and spare loads that they get, before and after.
    pub comfort: (f64, f64),
}

/// Share of what useful and spare loads ask for that they get, 1 where they ask for nothing.
fn comfort(plan: &Plan, tally: &Tally) -> f64 {
    let (mut asked, mut missed) = (0.0, 0.0);
    for (_, sum) in plan.loads.iter().zip(&tally.loads).filter(|(load, _)| load.class > 0) {
        asked += sum.asked_wh;
        missed += sum.unserved_wh;
    }
    if asked > 0.0 { 1.0 - missed / asked } else { 1.0 }
}

fn with_thresholds(plan: &Plan, thresholds: &[f64]) -> Plan {
    let mut plan = plan.clone();
    for (load, &threshold) in plan.loads.iter_mut().zip(thresholds) {
        load.set_rule((threshold > 0.0).then_some(threshold));
    }
    plan.mind_rules();
    plan
}

/// Looks for the rule. `None` where there is nothing that could be switched off, or where the run was stopped.
pub fn advise(plan: &Plan, settings: &Settings, progress: &dyn Progress) -> Option<Advice> {
    let movable: Vec<usize> = (0..plan.loads.len()).filter(|&k| plan.loads[k].class > 0).collect();
    if movable.is_empty() {
        return None;
    }
    let search = Settings { seed: settings.seed.wrapping_add(1), trials: SEARCH_TRIALS, precision: None };
    let mut thresholds = vec![-1.0; plan.loads.len()];
    // Survival and comfort of each candidate for one load, the others as they are.
    let trial = |thresholds: &[f64], load: usize| -> Option<Vec<(u64, f64)>> {
        let plans: Vec<Plan> = THRESHOLDS
            .iter()
            .map(|&candidate| {
                let mut changed = thresholds.to_vec();
                changed[load] = candidate;
                with_thresholds(plan, &changed)
            })
            .collect();
        let tallies = run(&plans, &search, progress);
        tallies.iter().zip(&plans).map(|(t, p)| (t.trials > 0).then(|| (t.survived, comfort(p, t)))).collect()
    };
    // Spare loads first: they are given up before useful ones. Twice around, since one rule bears on another.
    let mut order = movable.clone();
    order.sort_by_key(|&k| std::cmp::Reverse(plan.loads[k].class));
    for _ in 0..2 {
        for &load in &order {
            let tried = trial(&thresholds, load)?;
            let most = tried.iter().map(|(survived, _)| *survived).max()?;
            let enough = most as f64 - COSTS_NOTHING * SEARCH_TRIALS as f64;
            let (best, _) = tried
                .iter()
                .enumerate()
                .filter(|(_, (survived, _))| *survived as f64 >= enough)
                .max_by(|(i, a), (j, b)| a.1.total_cmp(&b.1).then(j.cmp(i)))?;
            thresholds[load] = THRESHOLDS[best];
        }
    }
    let advised = with_thresholds(plan, &thresholds);
    let fresh = Settings { seed: settings.seed.wrapping_add(2), ..*settings };
    let plans = [plan.clone(), advised.clone()];
    let tallies = run(&plans, &fresh, progress);
    let (before, after) = (tallies.first()?, tallies.get(1)?);
    if after.trials == 0 {
        return None;
    }
    Some(Advice {
        off_below: thresholds.iter().map(|&t| (t > 0.0).then_some(t)).collect(),
        survival: survivals(&plans, &tallies, &fresh, progress).pop()?,
        pair: Pair::of(before, after),
        comfort: (comfort(plan, before), comfort(&advised, after)),
    })
}
