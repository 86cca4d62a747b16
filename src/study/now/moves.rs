//! What else helps from here on and costs nothing: the free changes that a run tries, beside what is on or off.

use super::histories::{Histories, histories};
use super::{COSTS_LITTLE, LOOK, READ_OFF, lasting, whole_steps};
use crate::engine::Plan;
use crate::scenario::Scenario;
use crate::scenario::model::Generator;
use crate::study::Change;
use crate::study::changes::{CHOSEN_ON, Costs, choosing_seed};
use crate::study::compare::Pair;
use crate::trials::Settings;
use crate::trials::interval::Interval;
use crate::trials::run::{Progress, run_by};
use crate::trials::unknowns::ENOUGH;

/// Moves that are told.
const TOLD: usize = 3;

/// A free change, and what it does to the best course.
#[derive(Debug, Clone, PartialEq)]
pub struct Move {
    /// The change.
    pub change: Change,
    /// The horizon that it is told by: the one judged by, or the longest before it at which it clearly helps.
    pub at: usize,
    /// Share of the trials that last so long with it, with its 95 % range, what is not known counted.
    pub lasts: (f64, Interval),
    /// The same without it.
    pub instead: (f64, Interval),
    /// The two on the same trials.
    pub pair: Pair,
}

/// The best course that moves are held against.
pub(super) struct Best<'a> {
    pub plan: &'a Plan,
    /// As it runs there, where that is not at the scenario's hours.
    pub generator: Option<&'a Generator>,
    pub histories: &'a Histories,
    pub lasts: [(f64, Interval); 4],
}

/// The moves worth telling, the most helpful first; `None` where the run was stopped.
///
/// * `here` — the plan from here on, of which the best course keeps some loads; `horizons` — those told \[h\], and which is judged by.
pub(super) fn moves(
    (scenario, here): (&Scenario, &Plan),
    best: &Best,
    (horizons_h, judged): (&[f64; 4], usize),
    settings: &Settings,
    progress: &dyn Progress,
) -> Option<Vec<Move>> {
    let kept = |k: usize| best.plan.loads.iter().any(|load| load.stream == here.loads[k].stream);
    let worth = |change: &Change| {
        change.costs() == Costs::Nothing
            && match change {
                Change::MoveLoad { load, .. } | Change::OffAtNight { load, .. } => kept(*load),
                Change::OutLonger { .. } | Change::Steeper { .. } | Change::BringInside => true,
                // What is off, and the generator's hours, are courses; the battery is as full as it is.
                _ => false,
            }
    };
    let mut tried: Vec<(Change, Plan)> = Change::worth_trying(scenario, here)
        .into_iter()
        .filter(worth)
        .map(|change| {
            let plan = change.apply_to(scenario, here).keeping(kept);
            let plan = match best.generator {
                Some(generator) => plan.with_generator(generator, &scenario.station),
                None => plan,
            };
            (change, plan)
        })
        .collect();
    let steps = |at: usize| whole_steps(horizons_h[at], here.season.step_h) as u32;
    if tried.len() > TOLD {
        let plans: Vec<Plan> = tried.iter().map(|(_, plan)| plan.clone()).collect();
        let trials = CHOSEN_ON.min(settings.trials);
        let score = |of: &Histories| -> u64 { (0..=judged).map(|at| of.lasted(steps(at))).sum() };
        let scores: Vec<u64> = histories(&plans, &[], choosing_seed(settings), trials).iter().map(score).collect();
        let mut order: Vec<usize> = (0..tried.len()).collect();
        order.sort_by_key(|&k| (std::cmp::Reverse(scores[k]), k));
        order.truncate(TOLD);
        let mut at = 0..;
        tried.retain(|_| at.next().is_some_and(|k| order.contains(&k)));
    }
    if tried.is_empty() {
        return Some(Vec::new());
    }
    let plans: Vec<Plan> = tried.iter().map(|(_, plan)| plan.clone()).collect();
    let tallies = run_by(&plans, settings, progress, LOOK);
    let trials = tallies.first().map(|tally| tally.trials).filter(|&n| n >= settings.trials && !progress.stop())?;
    let one_by_one = histories(&plans, &[], settings.seed, trials.clamp(ENOUGH, READ_OFF));
    let told = |((change, plan), (tally, with)): ((Change, Plan), (_, &Histories))| {
        let pair = |at: usize| best.histories.against(with, steps(at));
        // What does harm by the time that is judged by is no advice.
        let at = (0..=judged).rev().find(|&at| {
            let Pair { difference, interval, .. } = pair(at);
            interval.low > 0.0 && difference >= COSTS_LITTLE
        });
        let at = at.filter(|_| pair(judged).interval.high >= 0.0)?;
        let lasted = lasting(tally, horizons_h[at], here.season.step_h);
        let lasts = with.lasting(&plan, lasted, trials, steps(at));
        Some(Move { change, at, lasts, instead: best.lasts[at], pair: pair(at) })
    };
    let mut moves: Vec<Move> = tried.into_iter().zip(tallies.iter().zip(&one_by_one)).filter_map(told).collect();
    moves.sort_by(|a, b| b.at.cmp(&a.at).then(b.pair.difference.total_cmp(&a.pair.difference)));
    Some(moves)
}
