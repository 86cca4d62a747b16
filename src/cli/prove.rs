//! `tideover prove`.

use std::path::PathBuf;

use clap::{Args, Subcommand};
use jiff::civil::Date;

use super::input::{drawn, record};
use super::output::{OutputArgs, PendingFile, print, tell, terminal_columns};
use super::{Done, Failure};
use tideover::ask;
use tideover::open::proof::ProvedRecord;
use tideover::report::test_plan;
use tideover::study::prove::plan;
use tideover::units::{Quantity, WattHours};

/// Arguments of `prove`.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true, subcommand_negates_reqs = true)]
pub struct ProveArgs {
    #[command(subcommand)]
    command: Option<ProveCommand>,
    /// Records of the same unit's tests; several show how it fades, the last by date is judged
    #[arg(required = true, value_name = "RECORD")]
    records: Vec<PathBuf>,
    /// Write what the tests leave of the unit to a file that a scenario can name: proved = "FILE"
    #[arg(long, value_name = "FILE")]
    write_kit: Option<PathBuf>,
    #[command(flatten)]
    output: OutputArgs,
    /// The day that days left are counted from, like 2027-03-14 (default: today)
    #[arg(long, value_name = "DATE")]
    today: Option<Date>,
    /// Print no warnings
    #[arg(long, short)]
    quiet: bool,
}

#[derive(Debug, Subcommand)]
enum ProveCommand {
    /// Propose the tests for a unit
    Plan {
        /// Energy on the label, like "600 Wh"
        #[arg(long, value_name = "ENERGY")]
        rated: String,
    },
}

/// Runs the command.
pub fn main(args: &ProveArgs) -> Result<Done, Failure> {
    if let Some(ProveCommand::Plan { rated }) = &args.command {
        let energy = WattHours::parse(rated)
            .map_err(|error| error.to_string())
            .and_then(|energy| {
                let allowed = (10.0..=1e6).contains(&energy.0);
                if allowed { Ok(energy) } else { Err("allowed: 10 Wh to 1000 kWh".to_string()) }
            })
            .map_err(|error| Failure::Input(format!("error: --rated: {error}")))?;
        print(&test_plan::document(&plan::plan(energy.0)).text(terminal_columns()))?;
        return Ok(Done::Answered);
    }
    let mut loaded = args.records.iter().map(|path| record(path)).collect::<Result<Vec<ProvedRecord>, _>>()?;
    loaded.sort_by_key(|one| one.record.date());
    let written = args.write_kit.as_deref().map(PendingFile::open).transpose()?;
    let output = args.output.open()?;
    let today = args.today.unwrap_or_else(|| jiff::tz::TimeZone::UTC.to_datetime(jiff::Timestamp::now()).date());
    let answer = ask::prove(&loaded, today)?;
    if !args.quiet {
        for one in loaded.iter().filter(|one| !one.remarks.is_empty()) {
            tell(&format!("{}\n", drawn(&one.source, &one.remarks)));
        }
    }
    output.give_answer(&answer, None)?;
    if let Some(file) = written {
        let Some(kit) = ask::kit_file(&loaded) else {
            return Err(Failure::Input("error: --write-kit: the record holds no discharge, so there is no kit".into()));
        };
        file.commit(&kit)?;
    }
    Ok(Done::Answered)
}
