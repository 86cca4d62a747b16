//! What one kit is good for.

use super::Lineup;
use super::cell::{Addition, Band, Cell};
use crate::trials::interval::Interval;

/// A kit over all cases and places.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Where it fits: (place, case).
    pub fits: Vec<(usize, usize)>,
    /// Where it does not fit: (place, case).
    pub misfits: Vec<(usize, usize)>,
    /// Loads that fail first where it does not carry the case, each with its cases.
    pub fails_on: Vec<(String, Vec<usize>)>,
    /// What each addition would change, the most helpful first; those that can nowhere be made are left out.
    pub helps: Vec<Helps>,
}

/// What an addition changes, over all cells in which it can be made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Helps {
    /// The addition.
    pub addition: Addition,
    /// Mean gain in survival over the cells, -1 to 1.
    pub mean: f64,
    /// 95 % interval of the mean. The cells share their random numbers, so their intervals are averaged end by end: wider than the
    /// truth where their chances are not wholly the same, never narrower.
    pub interval: Interval,
    /// The cell that gains most: (place, case) and its gain.
    pub most: ((usize, usize), f64),
    /// Cells in which it can be made.
    pub cells: usize,
}

/// The profile of a kit.
#[must_use]
pub fn profile(lineup: &Lineup, kit: usize) -> Profile {
    let mut profile = Profile { fits: Vec::new(), misfits: Vec::new(), fails_on: Vec::new(), helps: Vec::new() };
    let mut sums: [Option<Helps>; 3] = [None; 3];
    for place in 0..lineup.places.len() {
        for case in 0..lineup.cases.len() {
            let verdict = match lineup.cell(place, case, kit) {
                None => continue,
                Some(Cell::Misfit { .. }) => {
                    profile.misfits.push((place, case));
                    continue;
                }
                Some(Cell::Fits(verdict)) => verdict,
            };
            let band = Band::of(&verdict.survival, lineup.rule.target);
            profile.fits.push((place, case));
            if let Some(first) = verdict.first_failure.as_ref().filter(|_| band != Band::Carries) {
                match profile.fails_on.iter_mut().find(|(load, _)| *load == first.load) {
                    Some((_, cases)) if cases.contains(&case) => {}
                    Some((_, cases)) => cases.push(case),
                    None => profile.fails_on.push((first.load.clone(), vec![case])),
                }
            }
            for ((sum, pair), addition) in sums.iter_mut().zip(&verdict.additions).zip(Addition::ALL) {
                let Some(pair) = pair else { continue };
                let sum = sum.get_or_insert(Helps {
                    addition,
                    mean: 0.0,
                    interval: Interval { low: 0.0, high: 0.0 },
                    most: ((place, case), f64::NEG_INFINITY),
                    cells: 0,
                });
                sum.mean += pair.difference;
                sum.interval.low += pair.interval.low;
                sum.interval.high += pair.interval.high;
                sum.cells += 1;
                if sum.most.1 < pair.difference {
                    sum.most = ((place, case), pair.difference);
                }
            }
        }
    }
    profile.helps = sums
        .into_iter()
        .flatten()
        .map(|mut sum| {
            let cells = sum.cells as f64;
            sum.mean /= cells;
            sum.interval.low /= cells;
            sum.interval.high /= cells;
            sum
        })
        .collect();
    profile.helps.sort_by(|a, b| b.mean.total_cmp(&a.mean));
    profile
}
