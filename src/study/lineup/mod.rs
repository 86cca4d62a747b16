//! Which kit for which use case? Every kit of a catalogue against every case, in every place, on the same weather and draws for loads.

mod cell;
mod judge;
mod key;
mod outcomes;
mod profile;
mod ranking;
mod store;

pub use cell::{Addition, Band, Cell, CellAnswer, FirstFailure, Misfit, Wiring};
pub use judge::{Contestant, PROBE, Rule, judge};
pub use key::Digest;
pub use outcomes::Outcomes;
pub use profile::{Helps, Profile, profile};
pub use ranking::{Least, RankedKit, all_round, least, least_of, may_suffice, ranking};
pub use store::{Stored, Unreadable, is_results, parse, write};

use super::fuel::FuelTaken;
use super::verdict::{Stakes, Verdict};
use serde::Serialize;

/// What a line-up needs to know of a kit.
#[derive(Debug, Clone, PartialEq)]
pub struct KitFacts {
    /// Its name.
    pub name: String,
    /// Its price, where given.
    pub price: Option<f64>,
    /// Its weight, where given \[kg\].
    pub weight_kg: Option<f64>,
    /// Capacity by the label \[Wh\].
    pub capacity_wh: f64,
    /// Rated power of its panels \[W\].
    pub panels_w: f64,
    /// Power of the string of panels that an addition would add, where one can be added \[W\].
    pub more_string_w: Option<f64>,
}

/// What a line-up needs to know of a case.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CaseFacts {
    /// Its short name.
    pub name: String,
    /// Its title.
    pub title: String,
    /// Whether a person's health hangs on one of its loads.
    pub medical: bool,
    /// Whether it has a generator of which nobody told the fuel, nor what it burns.
    pub unmeasured_fuel: bool,
}

/// Something that a reader of a line-up should know.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Note {
    /// Each cell's scenario tells what it assumes.
    ScenarioTellsMore,
    /// Across the equator a case's month is moved by half a year.
    HalfAYearAcross {
        /// The cases' names.
        cases: Vec<String>,
    },
    /// Fuel is taken never to end.
    FuelNeverEnds {
        /// The cases' names.
        cases: Vec<String>,
    },
    /// A medical device is among the loads.
    Medical,
    /// Trials are so few that chance alone leaves wide ranges.
    FewTrials {
        /// How many.
        trials: u64,
        /// From how many on they are enough.
        enough: u64,
    },
}

/// The whole answer.
#[derive(Debug, Clone)]
pub struct Lineup {
    /// The kits, in the order of the catalogue.
    pub kits: Vec<KitFacts>,
    /// The cases.
    pub cases: Vec<CaseFacts>,
    /// The places, as shown.
    pub places: Vec<String>,
    /// Money of the prices, possibly empty.
    pub currency: String,
    /// How the cells were judged.
    pub rule: Rule,
    /// All cells: by place, then case, then kit. `None` where a run was stopped before.
    pub cells: Vec<Option<Cell>>,
    /// What a reader should know.
    pub notes: Vec<Note>,
}

impl Lineup {
    /// Where a cell stands in [`Lineup::cells`].
    #[must_use]
    pub fn index(&self, place: usize, case: usize, kit: usize) -> usize {
        (place * self.cases.len() + case) * self.kits.len() + kit
    }

    /// One cell; `None` where it is not there yet.
    #[must_use]
    pub fn cell(&self, place: usize, case: usize, kit: usize) -> Option<&Cell> {
        self.cells.get(self.index(place, case, kit))?.as_ref()
    }

    /// The verdicts of one place and case by kit; kits that do not fit, or are not there yet, are left out.
    #[must_use]
    pub fn verdicts(&self, place: usize, case: usize) -> Vec<(usize, &CellAnswer)> {
        (0..self.kits.len())
            .filter_map(|kit| match self.cell(place, case, kit) {
                Some(Cell::Fits(verdict)) => Some((kit, verdict.as_ref())),
                _ => None,
            })
            .collect()
    }

    /// The verdict on a cell of a case; `None` where its parts do not go together.
    #[must_use]
    pub fn verdict(&self, case: usize, cell: &Cell) -> Option<Verdict> {
        let case = self.cases.get(case);
        let medical = case.is_some_and(|case| case.medical);
        let unmeasured = case.is_some_and(|case| case.unmeasured_fuel);
        let fuel = if unmeasured { FuelTaken::Unmeasured } else { FuelTaken::Told };
        match cell {
            Cell::Fits(answer) => {
                let stakes = Stakes { may_stop: answer.may_stop, ..Stakes::of(medical, &[], fuel) };
                Some(Verdict::on(&answer.survival, stakes))
            }
            Cell::Misfit { why: Misfit::Overload, .. } => Some(Verdict::DoNotCount),
            Cell::Misfit { why: Misfit::Parts | Misfit::Wiring(_), .. } => None,
        }
    }

    /// Whether every cell is there.
    #[must_use]
    pub fn complete(&self) -> bool {
        self.cells.iter().all(Option::is_some)
    }
}

/// The cells of part `part` (from 1) of `parts`, out of `cells` in a row: as even as whole cells allow.
#[must_use]
pub fn part(cells: usize, part: usize, parts: usize) -> std::ops::Range<usize> {
    let end = |k: usize| (cells as u128 * k as u128 / parts.max(1) as u128) as usize;
    end(part.saturating_sub(1).min(parts))..end(part.min(parts))
}
