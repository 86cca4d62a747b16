//! `tideover new`.

use std::path::PathBuf;

use clap::Args;

use super::output::{PendingFile, print};
use super::{Done, Failure};

/// Arguments of `new`.
#[derive(Debug, Args)]
pub struct NewArgs {
    /// Write to this file instead of printing; an existing file is left alone
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
}

/// The scenario that `new` gives out.
const STARTER: &str = include_str!("starter.toml");

/// Runs the command.
pub fn main(args: &NewArgs) -> Result<Done, Failure> {
    match &args.file {
        None => print(STARTER)?,
        Some(path) if path.exists() => {
            return Err(Failure::Input(format!("error: {} is there already; give another name", path.display())));
        }
        Some(path) => {
            PendingFile::open(path)?.commit(STARTER)?;
            print(&format!("Wrote {0}. Fill in your own figures, then: tideover run {0}\n", path.display()))?;
        }
    }
    Ok(Done::Answered)
}
