//! `tideover appliances`.

use clap::Args;

use super::output::{print, terminal_columns};
use super::{Done, Failure};
use tideover::report::appliances as report;
use tideover::scenario::appliances::all;

/// Arguments of `appliances`.
#[derive(Debug, Args)]
pub struct AppliancesArgs {
    /// Only those whose name holds this word
    word: Option<String>,
}

/// Runs the command.
pub fn main(args: &AppliancesArgs) -> Result<Done, Failure> {
    let word = args.word.as_deref().unwrap_or_default().to_lowercase();
    let picked: Vec<_> = all().iter().filter(|appliance| appliance.name.to_lowercase().contains(&word)).collect();
    if picked.is_empty() {
        return Err(Failure::Input(format!(
            "error: no appliance has `{word}` in its name; leave it out to list them all"
        )));
    }
    print(&report::document(&picked).text(terminal_columns()))?;
    Ok(Done::Answered)
}
