//! Thousands of trials: running them side by side, adding them up, knowing when to stop.

pub mod dark;
pub mod interval;
pub mod rare;
pub mod run;
pub mod tally;
pub mod unknowns;

pub use interval::{Interval, clopper_pearson, wilson};
pub use run::{Progress, Settings, run};
pub use tally::Tally;
