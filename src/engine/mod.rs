//! From a checked scenario to one history, hour by hour.
//!
//! A [`Plan`] holds everything that does not depend on luck. A [`Workspace`] takes it through one trial without
//! allocating. Nothing here knows of files, clocks or printing.

pub mod asking;
pub mod clock;
pub mod geometry;
pub mod ledger;
pub mod load;
mod missed;
pub mod plan;
pub mod rig;
pub mod step;
pub mod trial;

pub use asking::Asks;
pub use ledger::Ledger;
pub use load::LoadPlan;
pub use plan::{ArrayPlan, KitPlan, Onset, OutagePlan, Plan, Season};
pub use rig::{CLASSES, OUTLETS, Rig};
pub use step::{Balance, Demand, step};
pub use trial::{History, LoadOutcome, Luck, Observer, Outcome, Silent, StepView, Workspace};
