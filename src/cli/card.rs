//! `tideover card`.

use std::path::PathBuf;

use clap::Args;

use super::output::{Bar, PendingFile, print, terminal_columns};
use super::run::{precision, with_threads};
use super::{Done, Failure, TrialArgs, input};
use tideover::ask;
use tideover::trials::Settings;

/// Arguments of `card`.
#[derive(Debug, Args)]
pub struct CardArgs {
    /// The scenario file
    scenario: PathBuf,
    #[command(flatten)]
    trials: TrialArgs,
    /// Write the card as one page to print, and nothing else
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
}

/// Runs the command.
pub fn main(args: &CardArgs) -> Result<Done, Failure> {
    let precision = precision(args.trials.precision.as_deref())?;
    let loaded = input::load(&args.scenario, 60)?;
    let html = args.html.as_deref().map(PendingFile::open).transpose()?;
    let settings = Settings { seed: args.trials.seed, trials: args.trials.trials, precision };
    ask::within_reach(&loaded, 1, &settings)?;
    let bar = Bar::new(settings.trials, args.trials.quiet);
    let answer = with_threads(args.trials.threads, || ask::card(&loaded, &settings, &bar))?;
    bar.finish();
    let Some(answer) = answer else { return Err(Failure::Interrupted) };
    match html {
        Some(file) => file.commit(&answer.document.page())?,
        None => print(&answer.document.text(terminal_columns()))?,
    }
    Ok(if answer.partial { Done::Partial } else { Done::Answered })
}
