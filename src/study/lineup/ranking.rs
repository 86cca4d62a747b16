//! Who is best, who cannot be told apart, and the least kit that suffices.

use serde::Serialize;

use super::cell::{Band, CellAnswer};
use super::{KitFacts, Lineup};
use crate::study::compare::Pair;
use crate::trials::unknowns::ENOUGH;

/// A kit's place in the ranking of one case in one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RankedKit {
    /// Index of the kit.
    pub kit: usize,
    /// Rank from 1. Kits that the trials cannot tell from the best of their group share its rank.
    pub rank: usize,
    /// The best of its group, then the kit itself, on the trials that both met.
    pub against_best: Pair,
}

/// Ranks kits by survival, the best first. A group is its best kit and all that follow until one is told apart from that
/// best by the paired interval of their difference; there the next group begins.
#[must_use]
pub fn ranking(verdicts: &[(usize, &CellAnswer)]) -> Vec<RankedKit> {
    let mut order: Vec<&(usize, &CellAnswer)> = verdicts.iter().collect();
    order.sort_by(|(i, a), (j, b)| {
        let (a, b) = (&a.survival, &b.survival);
        b.probability.total_cmp(&a.probability).then(b.interval.low.total_cmp(&a.interval.low)).then(i.cmp(j))
    });
    let mut standings: Vec<RankedKit> = Vec::with_capacity(order.len());
    let mut best: Option<(usize, &CellAnswer)> = None;
    for (place, (kit, verdict)) in order.into_iter().enumerate() {
        let leader = best.map(|(rank, leader)| (rank, leader.outcomes.pair(&verdict.outcomes)));
        match leader {
            Some((rank, pair)) if !pair.resolved() => {
                standings.push(RankedKit { kit: *kit, rank, against_best: pair });
            }
            _ => {
                let rank = place + 1;
                best = Some((rank, verdict));
                standings.push(RankedKit { kit: *kit, rank, against_best: verdict.outcomes.pair(&verdict.outcomes) });
            }
        }
    }
    standings
}

/// What the least kit is the least of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Least {
    /// Price.
    Price,
    /// Weight, where not all that suffice have a price.
    Weight,
    /// Capacity by the label, where not all have a weight either.
    Capacity,
}

impl Least {
    /// How much of it a kit has; `None` where that is not told.
    fn of(self, kit: &KitFacts) -> Option<f64> {
        match self {
            Least::Price => kit.price,
            Least::Weight => kit.weight_kg,
            Least::Capacity => Some(kit.capacity_wh),
        }
    }
}

/// The least of some kits; among equals the first of the catalogue.
#[must_use]
pub fn least_of(kits: &[KitFacts], some: &[usize]) -> Option<(usize, Least)> {
    let by = |least: Least| {
        let all = some.iter().map(|&kit| least.of(&kits[kit]).map(|v| (v, kit))).collect::<Option<Vec<_>>>()?;
        all.into_iter().min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, kit)| (kit, least))
    };
    [Least::Price, Least::Weight, Least::Capacity].into_iter().find_map(by)
}

/// The kits of some verdicts that lie in a band.
fn within(verdicts: &[(usize, &CellAnswer)], target: f64, band: Band) -> Vec<usize> {
    let there = verdicts.iter().filter(|(_, verdict)| Band::of(&verdict.survival, target) == band);
    there.map(|(kit, _)| *kit).collect()
}

/// The least of the kits whose range reaches the target with its lower end; among equals the first of the catalogue.
#[must_use]
pub fn least(kits: &[KitFacts], verdicts: &[(usize, &CellAnswer)], target: f64) -> Option<(usize, Least)> {
    least_of(kits, &within(verdicts, target, Band::Carries))
}

/// Kits that may suffice too though they are less than the least that does: the best estimate reaches the target, and the trials
/// are so few that chance alone may hold the lower end below it. The least first.
#[must_use]
pub fn may_suffice(kits: &[KitFacts], verdicts: &[(usize, &CellAnswer)], target: f64) -> Vec<usize> {
    let few = |kit: &usize| verdicts.iter().any(|(k, verdict)| k == kit && verdict.survival.trials < ENOUGH);
    let mut some: Vec<usize> = within(verdicts, target, Band::Probably).into_iter().filter(few).collect();
    let surely = least(kits, verdicts, target);
    if let Some((sure, by)) = surely {
        some.retain(|&kit| by.of(&kits[kit]).is_some_and(|amount| Some(amount) < by.of(&kits[sure])));
    }
    let by = surely.or_else(|| least_of(kits, &some)).map(|(_, by)| by);
    let amount = |kit: usize| by.and_then(|by| by.of(&kits[kit])).unwrap_or(f64::INFINITY);
    some.sort_by(|&a, &b| amount(a).total_cmp(&amount(b)));
    some
}

/// The kit that suffices in the most cases and places, and in how many; the least among equals. `None` where none suffices anywhere.
#[must_use]
pub fn all_round(lineup: &Lineup) -> Option<(usize, usize)> {
    let mut counts = vec![0; lineup.kits.len()];
    for place in 0..lineup.places.len() {
        for case in 0..lineup.cases.len() {
            for kit in within(&lineup.verdicts(place, case), lineup.rule.target, Band::Carries) {
                counts[kit] += 1;
            }
        }
    }
    let most = counts.iter().copied().max().filter(|most| *most > 0)?;
    let best: Vec<usize> = (0..counts.len()).filter(|&kit| counts[kit] == most).collect();
    least_of(&lineup.kits, &best).map(|(kit, _)| (kit, most))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::lineup::Outcomes;
    use crate::trials::interval::Interval;
    use crate::trials::unknowns::Survival;

    fn kit(price: Option<f64>) -> KitFacts {
        let name = String::new();
        KitFacts { name, price, weight_kg: None, capacity_wh: 500.0, panels_w: 0.0, more_string_w: None }
    }

    fn answer(low: f64, probability: f64, trials: u64) -> CellAnswer {
        let interval = Interval { low, high: 1.0 };
        let survival = Survival {
            probability,
            trials,
            chance: interval,
            chance_alone: false,
            interval,
            shares: Vec::new(),
            held: Vec::new(),
        };
        CellAnswer {
            survival,
            may_stop: false,
            unmet_wh_mean: 0.0,
            first_failure: None,
            outcomes: Outcomes::default(),
            additions: [None; 3],
        }
    }

    #[test]
    fn a_cheaper_kit_may_suffice_where_trials_are_few_and_its_best_estimate_reaches_the_target() {
        let kits = [Some(900.0), Some(500.0), Some(400.0), Some(1200.0), None].map(kit);
        let told = |trials: u64| {
            let lows = [(0.96, 1.0), (0.93, 1.0), (0.80, 0.9), (0.94, 1.0), (0.94, 1.0)];
            let answers = lows.map(|(low, probability)| answer(low, probability, trials));
            let verdicts: Vec<(usize, &CellAnswer)> = answers.iter().enumerate().collect();
            assert_eq!(least(&kits, &verdicts, 0.95), Some((0, Least::Price)));
            let without = may_suffice(&kits, &verdicts[1..4], 0.95);
            (may_suffice(&kits, &verdicts, 0.95), without)
        };
        // Dearer ones and those without a price are nothing to wait for, a lower estimate is no promise.
        assert_eq!(told(100), (vec![1], vec![1, 3]));
        // With enough trials what holds the lower end down is not chance.
        assert_eq!(told(ENOUGH), (vec![], vec![]));
    }
}
