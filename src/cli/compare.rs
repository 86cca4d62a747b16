//! `tideover compare`.

use std::path::PathBuf;

use clap::Args;

use super::output::{Bar, OutputArgs};
use super::run::{precision, with_threads};
use super::{Done, Failure, TrialArgs, input};
use tideover::ask;
use tideover::trials::Settings;

/// Arguments of `compare`.
#[derive(Debug, Args)]
pub struct CompareArgs {
    /// The scenario file
    scenario: PathBuf,
    /// A variant beside those of the file: KEY=VALUE, several joined by ";", like "panel.0.count=2; panel.0.wiring=parallel"
    #[arg(long = "set", value_name = "KEY=VALUE")]
    sets: Vec<String>,
    #[command(flatten)]
    trials: TrialArgs,
    #[command(flatten)]
    output: OutputArgs,
}

/// Runs the command.
pub fn main(args: &CompareArgs) -> Result<Done, Failure> {
    let precision = precision(args.trials.precision.as_deref())?;
    let loaded = input::load(&args.scenario, 60)?;
    if loaded.scenario.variants.is_empty() && args.sets.is_empty() {
        return Err(Failure::Input(format!(
            "error: {} has no [[variant]] to compare with\n  = help: add one with its name and what differs, or use --set \
             KEY=VALUE, like --set \"station.charge_to=90 %\"",
            args.scenario.display()
        )));
    }
    let output = args.output.open()?;
    let settings = Settings { seed: args.trials.seed, trials: args.trials.trials, precision };
    let bar = Bar::new(settings.trials, args.trials.quiet);
    let answer = with_threads(args.trials.threads, || ask::compare(&loaded, &args.sets, &settings, &bar))?;
    bar.finish();
    let Some(answer) = answer? else { return Err(Failure::Interrupted) };
    output.give_answer(&answer, None)?;
    Ok(if answer.partial { Done::Partial } else { Done::Answered })
}
