//! Who is best, who cannot be told apart, and the least kit that suffices.

use super::KitFacts;
use super::cell::{Band, CellAnswer};
use crate::study::compare::Pair;

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
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Least {
    /// Price.
    Price,
    /// Weight, where not all that suffice have a price.
    Weight,
    /// Capacity by the label, where not all have a weight either.
    Capacity,
}

/// The least of the kits whose range reaches the target with its lower end; among equals the first of the catalogue.
#[must_use]
pub fn least(kits: &[KitFacts], verdicts: &[(usize, &CellAnswer)], target: f64) -> Option<(usize, Least)> {
    let enough: Vec<usize> = verdicts
        .iter()
        .filter(|(_, verdict)| Band::of(&verdict.survival, target) == Band::Carries)
        .map(|(kit, _)| *kit)
        .collect();
    let by = |of: &dyn Fn(&KitFacts) -> Option<f64>, least: Least| {
        let all = enough.iter().map(|&kit| of(&kits[kit]).map(|v| (v, kit))).collect::<Option<Vec<_>>>()?;
        all.into_iter().min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, kit)| (kit, least))
    };
    by(&|kit| kit.price, Least::Price)
        .or_else(|| by(&|kit| kit.weight_kg, Least::Weight))
        .or_else(|| by(&|kit| Some(kit.capacity_wh), Least::Capacity))
}
