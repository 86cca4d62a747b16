//! From a checked scenario to one history, hour by hour.
//!
//! A [`Plan`] holds everything that does not depend on chance. [`lanes`] take it through many trials side by
//! side, a [`Workspace`] through one. Nothing here knows of files, clocks or printing.

pub mod aim;
pub mod arrays;
pub mod asking;
pub mod awake;
mod cells;
pub mod clock;
pub mod cuts;
mod dawn;
pub mod feeds;
pub mod fuel;
pub mod geometry;
pub mod joint;
pub mod kit_plan;
pub mod lanes;
pub mod ledger;
pub mod load;
mod outlets;
pub mod plan;
pub mod rig;
mod running;
pub mod season;
pub mod second;
pub mod sources;
pub mod step;
pub mod trial;
mod unserved;
mod vary;
mod varying;
pub mod warmth;
pub mod wiring;

pub use arrays::ArrayPlan;
pub use asking::Asks;
pub use cuts::Part;
pub use kit_plan::KitPlan;
pub use ledger::{Flow, Ledger};
pub use load::LoadPlan;
pub use plan::{Onset, OutagePlan, Plan, Season, Unknown};
pub use rig::{CLASSES, Limits, OUTLETS, Rig};
pub use sources::{Plugged, SourcePlan};
pub use step::{Balance, Demand, Supply, Unit, step};
pub use trial::{History, LoadOutcome, Observer, Outcome, Silent, StepView, TrialSeed, Workspace};

#[cfg(test)]
mod tests;
