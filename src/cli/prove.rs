//! `tideover prove`.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use jiff::civil::Date;

use super::input::{Folder, record, tell_problems};
use super::output::{OutputArgs, PendingFile, print, terminal_columns};
use super::{Done, Failure};
use tideover::ask;
use tideover::open::proof::ProvedRecord;
use tideover::report::prove::weakness;
use tideover::report::{bench_table, new_record, test_plan};
use tideover::scenario::model::Chemistry;
use tideover::scenario::record::model::Unit;
use tideover::study::prove::expected::{expected, panel};
use tideover::study::prove::plan;
use tideover::units::{Quantity, Watts};

/// Arguments of `prove`.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true, subcommand_negates_reqs = true)]
pub struct ProveArgs {
    #[command(subcommand)]
    command: Option<ProveCommand>,
    /// Records of the same unit's tests; several show how it fades, the last by date is judged. With --table records of any units,
    /// or folders of them
    #[arg(required = true, value_name = "RECORD")]
    records: Vec<PathBuf>,
    /// Many units side by side, one row each, the best first
    #[arg(long, conflicts_with = "write_kit")]
    table: bool,
    /// Print the table as comma-separated values
    #[arg(long, requires = "table", conflicts_with = "json")]
    csv: bool,
    /// Write what the tests leave of the unit to a file that a scenario can name: proved = "FILE"
    #[arg(long, value_name = "FILE")]
    write_kit: Option<PathBuf>,
    #[command(flatten)]
    output: OutputArgs,
    /// The day that days left are counted from and that no test may lie after, like 2027-03-14 (default: today)
    #[arg(long, value_name = "DATE")]
    today: Option<Date>,
    /// Print no warnings
    #[arg(long, short)]
    quiet: bool,
}

#[derive(Debug, Subcommand)]
enum ProveCommand {
    /// Propose the tests for a unit, and say what each would tell
    Plan {
        #[command(flatten)]
        label: LabelArgs,
    },
    /// Write a record to fill in
    New {
        /// Write to this file instead of printing; an existing file is left alone
        #[arg(value_name = "FILE")]
        file: Option<PathBuf>,
        #[command(flatten)]
        label: LabelArgs,
    },
}

impl ProveArgs {
    /// The day of the question.
    fn today(&self) -> Date {
        self.today.unwrap_or_else(|| jiff::tz::TimeZone::UTC.to_datetime(jiff::Timestamp::now()).date())
    }
}

/// What a unit's label says.
#[derive(Debug, Args)]
struct LabelArgs {
    /// Energy on the label, like "600 Wh"
    #[arg(long, value_name = "ENERGY")]
    rated: String,
    /// Power of its inverter, like "600 W" (default: as many watts as the label has watt-hours)
    #[arg(long, value_name = "POWER")]
    inverter: Option<String>,
    /// Kind of cells: LFP, NMC or lead-acid
    #[arg(long, value_name = "KIND", default_value = "LFP")]
    chemistry: String,
    /// Most power that it takes from panels, like "200 W"
    #[arg(long, value_name = "POWER")]
    solar: Option<String>,
}

impl LabelArgs {
    fn unit(&self) -> Result<Unit, Failure> {
        fn within<Q: Quantity>(option: &str, text: &str, bounds: (f64, f64), allowed: &str) -> Result<Q, Failure> {
            Q::parse(text)
                .map_err(|error| error.to_string())
                .and_then(|value| {
                    let inside = (bounds.0..=bounds.1).contains(&value.base());
                    if inside { Ok(value) } else { Err(format!("allowed: {allowed}")) }
                })
                .map_err(|error| Failure::Input(format!("error: {option}: {error}")))
        }
        let power = |option: &str, text: &Option<String>| {
            let read = |text: &String| within::<Watts>(option, text, (1.0, 1e6), "1 W to 1000 kW");
            text.as_ref().map(read).transpose()
        };
        let chemistry = match self.chemistry.to_lowercase().as_str() {
            "lfp" => Chemistry::Lfp,
            "nmc" => Chemistry::Nmc,
            "lead-acid" | "lead acid" => Chemistry::LeadAcid,
            other => {
                return Err(Failure::Input(format!(
                    "error: --chemistry is `{}`; allowed: LFP, NMC, lead-acid",
                    other.escape_debug()
                )));
            }
        };
        Ok(Unit {
            rated_capacity: within("--rated", &self.rated, (10.0, 1e6), "10 Wh to 1000 kWh")?,
            chemistry,
            inverter: power("--inverter", &self.inverter)?,
            solar_limit: power("--solar", &self.solar)?,
            model: None,
            serial_number: None,
            cycles: None,
        })
    }
}

/// A record to fill in, printed or written.
fn new(file: Option<&Path>, label: &LabelArgs) -> Result<Done, Failure> {
    let unit = label.unit()?;
    let text = new_record::of(&unit);
    match file {
        None => print(&text)?,
        Some(path) if path.exists() => {
            return Err(Failure::Input(format!("error: {} is there already; give another name", path.display())));
        }
        Some(path) => {
            PendingFile::open(path)?.commit(&text)?;
            print(&format!("Wrote {0}. Fill in what your meter says, then: tideover prove {0}\n", path.display()))?;
        }
    }
    Ok(Done::Answered)
}

/// The records of a folder by their names, or the one file.
fn records_in(path: &Path) -> Result<Vec<PathBuf>, Failure> {
    if !path.is_dir() {
        return Ok(vec![path.to_path_buf()]);
    }
    let refused = |error: std::io::Error| Failure::Input(format!("error: {}: {error}", path.display()));
    let mut files = Vec::new();
    for entry in std::fs::read_dir(path).map_err(refused)? {
        let file = entry.map_err(refused)?.path();
        if file.extension().is_some_and(|end| end.eq_ignore_ascii_case("toml")) {
            files.push(file);
        }
    }
    if files.is_empty() {
        return Err(Failure::Input(format!(
            "error: {} holds no records; allowed: files that end in .toml",
            path.display()
        )));
    }
    files.sort();
    Ok(files)
}

/// Many units side by side.
fn table(args: &ProveArgs) -> Result<Done, Failure> {
    let mut files = Vec::new();
    for path in &args.records {
        files.extend(records_in(path)?);
    }
    let output = args.output.open()?;
    let (mut rows, mut unread) = (Vec::new(), Vec::new());
    for file in &files {
        let mut one = match record(file) {
            Ok(one) => one,
            // Said at its place; the others are worth their rows all the same.
            Err(failure @ (Failure::Input(_) | Failure::Refused(_))) if files.len() > 1 => {
                failure.tell();
                unread.push(file.display().to_string());
                continue;
            }
            Err(failure) => return Err(failure),
        };
        one.doubt_dates(args.today());
        if !args.quiet {
            tell_problems(&one.source, &weakness::remarks(&one));
        }
        rows.push(bench_table::Row::of(one.source.name.clone(), &one.record, &one.proof));
    }
    let document = bench_table::document(&rows, &unread);
    if args.csv {
        let mut output = output;
        output.write_page(|| document)?;
        output.give_text(&bench_table::csv(&rows))?;
    } else {
        output.give(&document, None, ("bench_table", &bench_table::json(&rows, &unread)))?;
    }
    Ok(if unread.is_empty() { Done::Answered } else { Done::Unread })
}

/// Runs the command.
pub fn main(args: &ProveArgs) -> Result<Done, Failure> {
    match &args.command {
        Some(ProveCommand::Plan { label }) => {
            let unit = label.unit()?;
            let plan = plan::plan(unit.rated_capacity.0, unit.chemistry, unit.inverter.map(|w| w.0));
            print(&test_plan::document(&plan, &expected(&plan, &unit), panel(&unit)).text(terminal_columns()))?;
            return Ok(Done::Answered);
        }
        Some(ProveCommand::New { file, label }) => return new(file.as_deref(), label),
        None if args.table => return table(args),
        None => {}
    }
    let today = args.today();
    let mut loaded = args.records.iter().map(|path| record(path)).collect::<Result<Vec<ProvedRecord>, _>>()?;
    loaded.iter_mut().for_each(|one| one.doubt_dates(today));
    loaded.sort_by_key(|one| one.record.date());
    let written = args.write_kit.as_deref().map(PendingFile::open).transpose()?;
    let output = args.output.open()?;
    let Some(last) = loaded.last() else { return Err(Failure::Other("no record".into())) };
    let beside = Folder::of(Path::new(&last.source.name));
    let photographs = ask::photographs(&last.record.photographs, &beside)
        .map_err(|wrong| Failure::Input(format!("error: `photographs` in {}: {wrong}", last.source.name)))?;
    let answer = ask::prove(&loaded, &photographs, today)?;
    if !args.quiet {
        for one in &loaded {
            tell_problems(&one.source, &weakness::remarks(one));
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
