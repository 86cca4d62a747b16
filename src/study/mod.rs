//! The questions: each takes plans and settings and gives an answer that knows nothing of files or terminals.

pub mod advise;
pub mod changes;
pub mod compare;
pub mod course;
pub mod device;
pub mod endurance;
pub mod fit;
pub mod fuel;
pub mod lineup;
pub mod now;
pub mod outage;
pub mod price;
pub mod prove;
pub mod rare;
pub mod seen;
pub mod size;
pub mod surer;
pub mod verdict;
pub mod years;

pub use changes::{Change, Effect};
pub use outage::{OutageAnswer, outage};
pub use verdict::{Stakes, Verdict};
