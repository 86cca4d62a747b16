//! `tideover size`.

use std::path::PathBuf;

use clap::Args;

use super::output::{Bar, PendingFile, print};
use super::run::{no_precision, parse_share, with_threads};
use super::{Done, Failure, TrialArgs, input};
use crate::report::headline::overload_lines;
use crate::report::outage::WIDTH;
use crate::report::{json, size as report};
use crate::study::fit::overloads;
use crate::study::size::size;
use crate::trials::Settings;

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
    /// Print the answer as JSON
    #[arg(long)]
    json: bool,
    /// Also write the answer as one self-contained page
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Write the answer to a file instead of printing it
    #[arg(long, short, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Runs the command.
pub fn main(args: &SizeArgs) -> Result<Done, Failure> {
    let target = args.target.as_deref().map(|text| parse_share("--target", text, 0.01, 0.9999)).transpose()?;
    no_precision(args.trials.precision.as_deref(), "size")?;
    let loaded = input::load(&args.scenario, 60)?;
    let out = args.out.as_deref().map(PendingFile::open).transpose()?;
    let html = args.html.as_deref().map(PendingFile::open).transpose()?;
    let settings = Settings { seed: args.trials.seed, trials: args.trials.trials, precision: None };
    let bar = Bar::new(settings.trials, args.trials.quiet);
    let answer = with_threads(args.trials.threads, || size(&loaded.scenario, &loaded.plan, target, &settings, &bar))?;
    bar.finish();
    let Some(answer) = answer else { return Err(Failure::Interrupted) };
    let title = &loaded.scenario.title;
    let text = if args.json {
        json::to_text(&report::json(title, &answer, settings.seed))
    } else {
        let overloaded = overloads(&loaded.scenario, &loaded.plan);
        format!("{}{}", overload_lines(&overloaded, WIDTH), report::text(title, &answer))
    };
    match out {
        Some(file) => file.commit(&text)?,
        None => print(&text)?,
    }
    if let Some(file) = html {
        file.commit(&report::html(title, &answer))?;
    }
    Ok(if answer.stopped_early { Done::Partial } else { Done::Answered })
}
