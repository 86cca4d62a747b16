//! `tideover appliances`.

use clap::Args;

use super::output::{print, terminal_columns};
use super::{Done, Failure};
use tideover::report::appliances as report;
use tideover::scenario::appliances::{all, by_word};

/// Arguments of `appliances`.
#[derive(Debug, Args)]
pub struct AppliancesArgs {
    /// Only those whose name holds this word, or that are called so
    word: Option<String>,
}

/// Runs the command.
pub fn main(args: &AppliancesArgs) -> Result<Done, Failure> {
    let word = args.word.as_deref().unwrap_or_default().to_lowercase();
    let mut picked: Vec<_> = all().iter().filter(|appliance| appliance.name.to_lowercase().contains(&word)).collect();
    let more: Vec<_> =
        by_word(&word).into_iter().filter(|more| !picked.iter().any(|one| one.name == more.name)).collect();
    picked.extend(more);
    if picked.is_empty() {
        return Err(Failure::Input(format!(
            "error: no appliance has `{word}` in its name or is called so; leave it out to list them all"
        )));
    }
    print(&report::document(&picked).text(terminal_columns()))?;
    Ok(Done::Answered)
}
