//! tideover: will a small battery, some panels and this weather carry what must stay on?

pub mod ageing;
pub mod engine;
pub mod kit;
mod linear;
pub mod loads;
pub mod places;
pub mod random;
pub mod report;
pub mod scenario;
pub mod sky;
pub mod study;
pub mod trials;
pub mod units;
pub mod weather;

#[cfg(feature = "cli")]
pub mod cli;
