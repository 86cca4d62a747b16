//! What is plugged in: what it asks for, hour by hour, and what becomes of it when it does not get it.
//!
//! Most loads are known beforehand ([`profile`]). A [`cooler`] and a device with a battery of its own ([`charge`]) ask
//! for what their past makes them need.

pub mod charge;
pub mod contents;
pub mod cooler;
pub mod hourly;
pub mod profile;

pub use charge::{ChargePlan, ChargeState};
pub use cooler::{CoolerPlan, CoolerState};
pub use profile::{DayProfile, Week, coverage, week};

/// Which step a state takes in each lane.
#[derive(Debug, Clone, Copy)]
pub struct Turn<'a, const L: usize> {
    /// All bits set in lanes that take the step, none in those that stay as they are.
    pub takes: &'a [u64; L],
    /// The step.
    pub now: usize,
    /// The first step of each lane's outage, counted from the same.
    pub first: &'a [usize; L],
    /// Length of the step \[h\].
    pub step_h: f64,
}
