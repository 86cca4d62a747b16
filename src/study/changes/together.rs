//! Changes made all at once.

use super::{Change, Effect};
use crate::engine::Plan;
use crate::scenario::model::Scenario;
use crate::study::compare::Pair;
use crate::trials::unknowns::Survival;

/// What a change is of: of two of the same thing the second undoes the first.
#[derive(PartialEq)]
enum Of {
    Load(usize),
    Array(usize),
    Generator,
    Battery,
    Start,
    Place,
}

impl Change {
    fn of(&self) -> Of {
        match *self {
            Change::MoveLoad { load, .. }
            | Change::LeaveOff { load, .. }
            | Change::OffAtNight { load, .. }
            | Change::MoveMark { load, .. } => Of::Load(load),
            Change::OneMoreString { array, .. } | Change::OutLonger { array, .. } | Change::Steeper { array, .. } => {
                Of::Array(array)
            }
            Change::GeneratorLonger { .. } | Change::GeneratorAt { .. } => Of::Generator,
            Change::BiggerBattery => Of::Battery,
            Change::StartFull => Of::Start,
            Change::BringInside => Of::Place,
        }
    }

    /// Those of some changes that can be made together: of each load, array and generator the first.
    #[must_use]
    pub fn that_go_together<'c>(changes: impl IntoIterator<Item = &'c Change>) -> Vec<Change> {
        let mut told: Vec<Change> = Vec::new();
        for change in changes {
            if told.iter().all(|known| known.of() != change.of()) {
                told.push(change.clone());
            }
        }
        told
    }

    /// The plan with all of them made.
    ///
    /// * `changes` — no two of the same thing; `scenario` — that which the plan was compiled from.
    #[must_use]
    pub fn apply_all(changes: &[Change], scenario: &Scenario, plan: &Plan) -> Plan {
        let mut inside: Vec<&Change> = changes.iter().collect();
        // A load that is left out moves those behind it: the last of them first, and all of them last.
        inside.sort_by_key(|change| match change {
            Change::LeaveOff { load, .. } => (1, usize::MAX - load),
            _ => (0, 0),
        });
        inside.into_iter().fold(plan.clone(), |plan, change| change.apply_to(scenario, &plan))
    }
}

/// Free changes made all at once.
#[derive(Debug, Clone, PartialEq)]
pub struct Together {
    /// The changes.
    pub changes: Vec<Change>,
    /// Survival with them.
    pub survival: Survival,
    /// The kit as it is and the changed one on the same trials.
    pub pair: Pair,
}

/// The free changes among some effects that surely help and can be made together; none where there are not several.
#[must_use]
pub fn free_together(effects: &[Effect]) -> Vec<Change> {
    let helping = effects.iter().filter(|effect| effect.helps_for_nothing());
    let told = Change::that_go_together(helping.map(|effect| &effect.change));
    if told.len() > 1 { told } else { Vec::new() }
}
