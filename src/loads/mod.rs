//! What is plugged in: what it asks for, hour by hour, and what becomes of it when it does not get it.
//!
//! Most loads are known beforehand ([`profile`]). A [`cooler`] and a device with a battery of its own ([`charge`]) ask
//! for what their past makes them need.

pub mod charge;
pub mod contents;
pub mod cooler;
pub mod hourly;
pub mod profile;

pub use charge::ChargePlan;
pub use cooler::{CoolerPlan, CoolerState};
pub use profile::{DayProfile, Week, coverage, week};
