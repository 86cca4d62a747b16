//! The questions: each takes plans and settings and gives an answer that knows nothing of files or terminals.

pub mod changes;
pub mod endurance;
pub mod outage;
pub mod prove;

pub use changes::{Change, Effect};
pub use outage::{OutageAnswer, outage};
