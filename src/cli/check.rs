//! `tideover check`.

use std::path::PathBuf;

use clap::Args;

use super::output::{print, terminal_columns};
use super::{Done, Failure, input};
use tideover::kit::Weight;
use tideover::report::{check as report, headline, runtimes};
use tideover::study::endurance::endurance;

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// The scenario file
    scenario: PathBuf,
}

/// Runs the command.
pub fn main(args: &CheckArgs) -> Result<Done, Failure> {
    let loaded = input::judge(&args.scenario, 60)?;
    // What a verdict says is not said twice.
    let remarks: Vec<_> = loaded
        .remarks
        .iter()
        .filter(|remark| !loaded.verdicts.iter().any(|v| v.known_to_reader && v.key == remark.key))
        .cloned()
        .collect();
    let cells_c = loaded.air.cells_c(&loaded.plan);
    let sums = endurance(&loaded.plan, cells_c);
    let cold = runtimes::cold(&loaded.plan, cells_c, headline::month_name(&loaded.scenario));
    let document =
        report::document(&loaded.scenario, &loaded.plan, &sums, cold.as_ref(), &loaded.verdicts, remarks.len());
    let mut text = document.text(terminal_columns());
    if !remarks.is_empty() {
        text.push('\n');
        text.push_str(&input::drawn(&loaded.source, &remarks));
    }
    print(&text)?;
    if loaded.verdicts.iter().any(|verdict| verdict.weight == Weight::Stops) {
        return Ok(Done::Stopped);
    }
    Ok(Done::Answered)
}
