//! What else helps from here on and costs nothing: the free changes that a run tries, beside what is on or off.

use super::generator::Driven;
use super::histories::{Histories, histories};
use super::{LOOK, READ_OFF, lasting, whole_steps};
use crate::engine::Plan;
use crate::scenario::Scenario;
use crate::study::Change;
use crate::study::changes::{CHOSEN_ON, Costs, WORTH_A_STEP, choosing_seed};
use crate::study::compare::Pair;
use crate::trials::Settings;
use crate::trials::interval::Interval;
use crate::trials::run::{Progress, run_by};
use crate::trials::tally::Tally;
use crate::trials::unknowns::ENOUGH;

/// Moves that are told.
const TOLD: usize = 3;

/// A free change, and what it does to the best course.
#[derive(Debug, Clone, PartialEq)]
pub struct Move {
    /// The change.
    pub change: Change,
    /// How long it is told to last \[h\]: as long as is judged by, where it clearly helps by then; else the time before at which it
    /// helps most.
    pub hours_h: f64,
    /// Whether that is as long as is judged by.
    pub judged: bool,
    /// Share of the trials that last so long with it, with its 95 % range, what is not known counted.
    pub lasts: (f64, Interval),
    /// The same without it.
    pub instead: (f64, Interval),
    /// The two on the same trials.
    pub pair: Pair,
}

/// Free changes made all at once.
#[derive(Debug, Clone, PartialEq)]
pub struct AllMoves {
    /// The changes.
    pub changes: Vec<Change>,
    /// How long they are told to last \[h\].
    pub hours_h: f64,
    /// Share of the trials that last so long with them, with its 95 % range, what is not known counted.
    pub lasts: (f64, Interval),
    /// The same without them.
    pub instead: (f64, Interval),
}

/// The moves, and what they come to together where they are several.
pub(super) type Moves = (Vec<Move>, Option<AllMoves>);

/// Times from now that moves are looked at besides those told \[h\]: what helps for a night only is hidden by days.
const SOONER_H: [f64; 6] = [3.0, 6.0, 9.0, 12.0, 18.0, 36.0];

/// The best course that moves are held against.
pub(super) struct Best<'a> {
    pub plan: &'a Plan,
    /// As it runs there, where that is not at the scenario's hours.
    pub generator: Option<&'a Driven<'a>>,
    pub histories: &'a Histories,
    pub tally: &'a Tally,
}

/// The moves worth telling, those that leave nothing vital dark first, of them the most helpful, and what they come to together; `None` where the run was stopped.
///
/// * `here` — the plan from here on, of which the best course keeps some loads; `horizons` — those told \[h\], and which is judged by.
pub(super) fn moves(
    (scenario, here): (&Scenario, &Plan),
    best: &Best,
    (horizons_h, judged): (&[f64; 4], usize),
    settings: &Settings,
    progress: &dyn Progress,
) -> Option<Moves> {
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
    let with_them = |plan: Plan| {
        let plan = plan.keeping(kept);
        match best.generator {
            Some(generator) => generator.on(&plan),
            None => plan,
        }
    };
    let mut tried: Vec<(Change, Plan)> = Change::worth_trying(scenario, here)
        .into_iter()
        .filter(worth)
        .map(|change| {
            let plan = with_them(change.apply_to(scenario, here));
            (change, plan)
        })
        .collect();
    let steps = |hours: f64| whole_steps(hours, here.season.step_h) as u32;
    let judged_h = horizons_h[judged];
    if tried.len() > TOLD {
        let plans: Vec<Plan> = tried.iter().map(|(_, plan)| plan.clone()).collect();
        let trials = CHOSEN_ON.min(settings.trials);
        let score =
            |of: &Histories| -> u64 { horizons_h[..=judged].iter().map(|&hours| of.lasted(steps(hours))).sum() };
        let scores: Vec<u64> = histories(&plans, &[], choosing_seed(settings), trials).iter().map(score).collect();
        let mut order: Vec<usize> = (0..tried.len()).collect();
        order.sort_by_key(|&k| (std::cmp::Reverse(scores[k]), k));
        order.truncate(TOLD);
        let mut at = 0..;
        tried.retain(|_| at.next().is_some_and(|k| order.contains(&k)));
    }
    if tried.is_empty() {
        return Some((Vec::new(), None));
    }
    let plans: Vec<Plan> = tried.iter().map(|(_, plan)| plan.clone()).collect();
    let tallies = run_by(&plans, settings, progress, LOOK);
    let trials = tallies.first().map(|tally| tally.trials).filter(|&n| n >= settings.trials && !progress.stop())?;
    let one_by_one = histories(&plans, &[], settings.seed, trials.clamp(ENOUGH, READ_OFF));
    let sooner = SOONER_H.into_iter().chain(horizons_h.iter().copied()).filter(|hours| *hours < judged_h);
    let sooner: Vec<f64> = sooner.collect();
    let share = |plan: &Plan, (tally, of): (&Tally, &Histories), hours: f64| {
        of.lasting(plan, lasting(tally, hours, here.season.step_h), tally.trials, steps(hours))
    };
    let told = |((change, plan), (tally, with)): ((Change, Plan), (&Tally, &Histories))| {
        let pair = |hours: f64| best.histories.against(with, steps(hours));
        let helps = |hours: &f64| {
            let Pair { difference, interval, .. } = pair(*hours);
            interval.low > 0.0 && difference >= WORTH_A_STEP
        };
        let most = |a: &f64, b: &f64| pair(*a).difference.total_cmp(&pair(*b).difference);
        let hours_h = Some(judged_h).filter(helps).or_else(|| sooner.iter().copied().filter(helps).max_by(most));
        // What does harm by the time that is judged by is no advice.
        let hours_h = hours_h.filter(|_| pair(judged_h).interval.high >= 0.0)?;
        let lasts = share(&plan, (tally, with), hours_h);
        let instead = share(best.plan, (best.tally, best.histories), hours_h);
        Some(Move { change, hours_h, judged: hours_h == judged_h, lasts, instead, pair: pair(hours_h) })
    };
    let mut moves: Vec<Move> = tried.into_iter().zip(tallies.iter().zip(&one_by_one)).filter_map(told).collect();
    // What leaves a vital thing dark comes behind what costs nothing at all.
    let dark = |free: &Move| free.change.darkens_vital();
    moves.sort_by(|a, b| {
        let order = dark(a).cmp(&dark(b)).then(b.judged.cmp(&a.judged));
        order.then(b.pair.difference.total_cmp(&a.pair.difference))
    });
    // Where a load is plugged in has nothing to do with its hours.
    let (plugs, others): (Vec<&Change>, Vec<&Change>) =
        moves.iter().map(|free| &free.change).partition(|change| matches!(change, Change::MoveLoad { .. }));
    let all = [Change::that_go_together(plugs), Change::that_go_together(others)].concat();
    if all.len() < 2 {
        return Some((moves, None));
    }
    let plan = with_them(Change::apply_all(&all, scenario, here));
    let plans = [plan];
    let tallies = run_by(&plans, settings, progress, LOOK);
    let tally = tallies.first().filter(|tally| tally.trials >= settings.trials && !progress.stop())?;
    let with = histories(&plans, &[], settings.seed, trials.clamp(ENOUGH, READ_OFF)).pop()?;
    let hours_h = moves.first().map_or(judged_h, |first| first.hours_h);
    let lasts = share(&plans[0], (tally, &with), hours_h);
    let instead = share(best.plan, (best.tally, best.histories), hours_h);
    Some((moves, Some(AllMoves { changes: all, hours_h, lasts, instead })))
}
