//! `tideover size`.

use std::path::PathBuf;

use clap::Args;

use super::output::{Bar, OutputArgs};
use super::run::{no_precision, parse_share, with_threads};
use super::{Done, Failure, TrialArgs, input};
use tideover::ask;
use tideover::trials::Settings;

/// Arguments of `size`.
#[derive(Debug, Args)]
pub struct SizeArgs {
    /// The scenario file
    scenario: PathBuf,
    /// Survival that the lower end of the range must reach, like "95 %"
    #[arg(long, value_name = "PERCENT")]
    target: Option<String>,
    #[command(flatten)]
    trials: TrialArgs,
    #[command(flatten)]
    output: OutputArgs,
}

/// Runs the command.
pub fn main(args: &SizeArgs) -> Result<Done, Failure> {
    let target = args.target.as_deref().map(|text| parse_share("target", text, 0.01, 0.9999)).transpose()?;
    no_precision(args.trials.precision.as_deref(), "size")?;
    let loaded = input::load(&args.scenario, 60)?;
    let output = args.output.open()?;
    let settings = Settings { seed: args.trials.seed, trials: args.trials.trials, precision: None };
    ask::within_reach(&loaded, 1, &settings)?;
    let bar = Bar::new(settings.trials, args.trials.quiet);
    let answer = with_threads(args.trials.threads, || ask::size(&loaded, target, &settings, &bar))?;
    bar.finish();
    let Some(answer) = answer else { return Err(Failure::Interrupted) };
    output.give_answer(&answer, None)?;
    Ok(if answer.partial { Done::Partial } else { Done::Answered })
}
