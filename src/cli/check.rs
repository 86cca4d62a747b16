//! `tideover check`.

use std::path::PathBuf;

use clap::Args;

use super::output::print;
use super::{Done, Failure, input};
use crate::report::check as report;
use crate::study::endurance::endurance;

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// The scenario file
    scenario: PathBuf,
}

/// Runs the command.
pub fn main(args: &CheckArgs) -> Result<Done, Failure> {
    let loaded = input::load(&args.scenario, 60)?;
    let mut text = report::text(&loaded.scenario, &loaded.plan, &endurance(&loaded.plan), loaded.remarks.len());
    if !loaded.remarks.is_empty() {
        text.push('\n');
        text.push_str(&loaded.drawn(&loaded.remarks));
    }
    print(&text)?;
    Ok(Done::Answered)
}
