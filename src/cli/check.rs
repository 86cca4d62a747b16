//! `tideover check`.

use std::path::PathBuf;

use clap::Args;

use super::output::{print, terminal_columns};
use super::{Done, Failure, input};
use tideover::ask;

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// The scenario file
    scenario: PathBuf,
    /// Print the answer as JSON
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub fn main(args: &CheckArgs) -> Result<Done, Failure> {
    let loaded = input::judge(&args.scenario, 60)?;
    let checked = ask::check(&loaded);
    if args.json {
        print(&checked.json)?;
    } else {
        let mut text = checked.document.text(terminal_columns());
        if !checked.remarks.is_empty() {
            text.push('\n');
            text.push_str(&input::drawn(&loaded.source, &checked.remarks));
        }
        print(&text)?;
    }
    Ok(if checked.stops { Done::Stopped } else { Done::Answered })
}
