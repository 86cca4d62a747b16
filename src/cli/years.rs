//! `tideover years`.

use std::path::{Path, PathBuf};

use clap::Args;

use super::output::{Bar, OutputArgs, PendingFile};
use super::run::with_threads;
use super::{Done, Failure, input};
use tideover::open::Opened;
use tideover::report::years::{self as report, json, table};
use tideover::scenario::Problem;
use tideover::scenario::years::Arrivals;
use tideover::study::years::{OutageRecord, YearsError, YearsPlan, YearsSettings, years};

/// Arguments of `years`.
#[derive(Debug, Args)]
pub struct YearsArgs {
    /// The scenario file, with its strategies
    scenario: PathBuf,
    /// Number of histories
    #[arg(long, visible_alias = "trials", default_value_t = 1000, value_parser = clap::value_parser!(u64).range(1..=10_000_000))]
    histories: u64,
    /// Years in each history
    #[arg(long, default_value_t = 10, value_parser = clap::value_parser!(u16).range(1..=30))]
    years: u16,
    /// Seed of the random numbers: the same seed gives the same answer
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Threads (default: all cores); the answer does not depend on them
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
    /// Print no progress and no warnings
    #[arg(long, short)]
    quiet: bool,
    #[command(flatten)]
    output: OutputArgs,
    /// Write one line for each strategy to this file, as CSV
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Length of a step in minutes, a divisor of 60
    #[arg(long, value_name = "MINUTES", default_value_t = 60, value_parser = super::run::parse_step)]
    step: u32,
}

/// Runs the command.
pub fn main(args: &YearsArgs) -> Result<Done, Failure> {
    let loaded = input::load(&args.scenario, args.step)?;
    let record = record(&loaded, args.scenario.parent().unwrap_or(Path::new(".")))?;
    let plan = YearsPlan::compile(&loaded.scenario, &loaded.plan, record.as_ref()).map_err(|error| {
        let key = match &error {
            YearsError::NoStrategy => "",
            YearsError::NoLaw => "station.chemistry",
            YearsError::NoRecord => "outages.history",
            YearsError::Plan(_) => "station",
        };
        loaded.refuse(Problem::error(key, error.to_string()).help("docs/scenario.md says what a strategy is"))
    })?;
    let output = args.output.open()?;
    let csv = args.csv.as_deref().map(PendingFile::open).transpose()?;
    input::tell_remarks(&loaded, args.quiet);
    let settings = YearsSettings { seed: args.seed, histories: args.histories, years: usize::from(args.years) };
    let bar = Bar::counting("histories", settings.histories, args.quiet);
    let answer = with_threads(args.threads, || years(&plan, &settings, &bar))?;
    bar.finish();
    let Some(answer) = answer else { return Err(Failure::Interrupted) };
    let notes = report::notes(&loaded.scenario, &plan, &loaded.sky);
    let scenario = &loaded.scenario;
    output.give(&report::document(scenario, &answer, &notes), None, ("years", &json::of(scenario, &answer, &notes)))?;
    if let Some(file) = csv {
        file.commit(&table::csv(&answer))?;
    }
    Ok(if answer.stopped_early() { Done::Partial } else { Done::Answered })
}

/// The record of outages that the scenario names.
fn record(loaded: &Opened, folder: &Path) -> Result<Option<OutageRecord>, Failure> {
    let Some(years) = &loaded.scenario.years else { return Ok(None) };
    let Arrivals::History { file, .. } = &years.outages.arrivals else { return Ok(None) };
    let path = folder.join(file);
    let text = input::text_of(&path)?;
    OutageRecord::parse(&text).map(Some).map_err(|error| Failure::Input(format!("error: {}: {error}", path.display())))
}
