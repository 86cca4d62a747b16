//! The command line: the only part that touches files, clock, terminal and exit codes.

mod appliances;
mod card;
mod check;
mod climate;
mod compare;
mod first_answer;
mod input;
mod lineup;
mod manual;
mod new;
mod now;
mod output;
mod page;
mod place;
mod prove;
mod run;
mod schema;
mod size;
mod years;

use std::process::ExitCode;

use clap::{Args, Parser, Subcommand};

/// Will the kit carry what must stay on?
#[derive(Debug, Parser)]
#[command(name = "tideover", version, about, long_about = None, propagate_version = true, subcommand_required = true, arg_required_else_help = true)]
#[command(after_help = "New here? tideover new --ask asks eight short questions and gives a first answer.")]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Simulate a scenario's outage and say how likely the vital loads stay on
    Run(run::RunArgs),
    /// Keep the battery full, at 80 % or use it daily: wear against readiness over years
    Years(years::YearsArgs),
    /// Read a scenario and say whether its parts fit together
    Check(check::CheckArgs),
    /// Prove a unit by bench tests: is it what its label says, and what does a simulation take from it?
    Prove(prove::ProveArgs),
    /// List the appliances that a load may be like
    Appliances(appliances::AppliancesArgs),
    /// Hold variants of a scenario against each other on the same weather
    Compare(compare::CompareArgs),
    /// Find the smallest kits that ride through often enough
    Size(size::SizeArgs),
    /// Hold every kit of a catalogue against every case, in several places
    Lineup(lineup::LineupArgs),
    /// The power is out: how long does it last from here, and what should be switched off?
    Now(now::NowArgs),
    /// A one-page plan to hang beside the station: what to switch off when, how long things run
    Card(card::CardArgs),
    /// Put scenarios into the page that holds the engine, for publishing
    Page(page::PageArgs),
    /// Show the climate of a place
    Climate(climate::ClimateArgs),
    /// Look up a place by name, or the nearest town to latitude and longitude
    Place(place::PlaceArgs),
    /// Begin here: ask for your kit, write its file and give a first answer (--ask), or print an example to start from
    New(new::NewArgs),
    /// Print the JSON Schema of a scenario, by which editors complete and check its keys, or of an answer
    Schema(schema::SchemaArgs),
    /// Print what makes a shell complete the commands and options
    Completions(manual::CompletionsArgs),
    /// Print the manual page, or write those of all commands into a folder
    Man(manual::ManArgs),
}

/// A number of trials, as people write it.
fn trials(text: &str) -> Result<u64, String> {
    let plain: String = text.chars().filter(|c| !matches!(c, ',' | '_' | ' ' | '\'')).collect();
    // A number too long to be read is too great.
    tideover::ask::trials(plain.parse().unwrap_or(0))
}

/// Options of every command that simulates.
#[derive(Debug, Args)]
struct TrialArgs {
    /// Number of trials
    #[arg(long, default_value_t = 10_000, value_parser = trials)]
    trials: u64,
    /// Seed of the random numbers: the same seed gives the same answer
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Threads (default: all cores); the answer does not depend on them
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
    /// Stop as soon as chance leaves no more than this on either side, like "1 %"
    #[arg(long, value_name = "POINTS")]
    precision: Option<String>,
    /// Print no progress and no warnings
    #[arg(long, short)]
    quiet: bool,
}

/// Why a command ends without its answer, as exit code and message.
#[derive(Debug)]
enum Failure {
    /// The input is wrong: exit code 2. The text is already drawn.
    Input(String),
    /// A file is wrong: exit code 2. The problems are drawn beside its lines.
    Refused(Box<(tideover::scenario::Source, Vec<tideover::scenario::Problem>)>),
    /// Stopped before there was an answer: exit code 3.
    Interrupted,
    /// Anything else: exit code 1.
    Other(String),
}

/// How a command that answered ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Done {
    /// Exit code 0.
    Answered,
    /// A partial answer: exit code 3.
    Partial,
    /// The answer falls short of what was required: exit code 4.
    Short,
    /// The kit must not be put together like this: exit code 2.
    Stopped,
    /// Some of the files could not be read and were told of: exit code 2.
    Unread,
}

/// A position that begins with a minus is no option: "-26.2 28.0".
fn with_true_minus(argument: std::ffi::OsString) -> std::ffi::OsString {
    let is_position = |text: &str| matches!(tideover::scenario::position(text), Some(Ok(_)));
    match argument.to_str().and_then(|text| text.strip_prefix('-').filter(|_| is_position(text))) {
        Some(figures) => format!("\u{2212}{figures}").into(),
        None => argument,
    }
}

/// Reads the arguments, runs the command, prints errors and picks the exit code.
pub fn main() -> ExitCode {
    let cli = match Cli::try_parse_from(std::env::args_os().map(with_true_minus)) {
        Ok(cli) => cli,
        Err(error) if error.use_stderr() => {
            output::tell(&error.render().to_string());
            return ExitCode::from(2);
        }
        // Help, or the version.
        Err(error) => match error.print() {
            Err(why) if why.kind() != std::io::ErrorKind::BrokenPipe => {
                output::tell(&format!("error: cannot print it: {why}\n"));
                return ExitCode::from(1);
            }
            _ => return ExitCode::SUCCESS,
        },
    };
    output::mind_interrupts();
    let result = match cli.command {
        Command::Run(args) => run::main(&args),
        Command::Years(args) => years::main(&args),
        Command::Check(args) => check::main(&args),
        Command::Prove(args) => prove::main(&args),
        Command::Appliances(args) => appliances::main(&args),
        Command::Compare(args) => compare::main(&args),
        Command::Size(args) => size::main(&args),
        Command::Lineup(args) => lineup::main(&args),
        Command::Card(args) => card::main(&args),
        Command::Now(args) => now::main(&args),
        Command::Page(args) => page::main(&args),
        Command::Climate(args) => climate::main(&args),
        Command::Place(args) => place::main(&args),
        Command::New(args) => new::main(&args),
        Command::Schema(args) => schema::main(&args),
        Command::Completions(args) => manual::completions(&args),
        Command::Man(args) => manual::man(&args),
    };
    match result {
        Ok(Done::Answered) => ExitCode::SUCCESS,
        Ok(Done::Partial) => ExitCode::from(3),
        Ok(Done::Short) => ExitCode::from(4),
        Ok(Done::Stopped | Done::Unread) => ExitCode::from(2),
        Err(failure) => {
            failure.tell();
            failure.code()
        }
    }
}

impl Failure {
    /// Prints what is wrong.
    fn tell(&self) {
        match self {
            Failure::Input(text) => output::tell(&ended(text)),
            Failure::Refused(found) => output::tell_drawn(&ended(&input::drawn(&found.0, &found.1))),
            Failure::Interrupted => output::tell("stopped before the first trials were done: no answer\n"),
            Failure::Other(text) => output::tell(&ended(&format!("error: {text}"))),
        }
    }

    fn code(&self) -> ExitCode {
        match self {
            Failure::Input(_) | Failure::Refused(_) => ExitCode::from(2),
            Failure::Interrupted => ExitCode::from(3),
            Failure::Other(_) => ExitCode::from(1),
        }
    }
}

fn ended(text: &str) -> String {
    if text.ends_with('\n') { text.to_string() } else { format!("{text}\n") }
}
