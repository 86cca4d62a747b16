//! `tideover run`.

use std::path::PathBuf;

use clap::Args;

use super::output::{Bar, OutputArgs, PendingFile};
use super::{Done, Failure, TrialArgs, input};
use tideover::ask::{self, Beside};
use tideover::engine::{TrialSeed, Workspace};
use tideover::report::words::{percent, thousands};
use tideover::report::{pictures, trace};
use tideover::trials::Settings;
use tideover::trials::interval::Z_95;

/// Arguments of `run`.
#[derive(Debug, Args)]
pub struct RunArgs {
    /// The scenario file
    scenario: PathBuf,
    #[command(flatten)]
    trials: TrialArgs,
    #[command(flatten)]
    output: OutputArgs,
    /// Exit with code 4 when the lower end of the range falls short of this, like "95 %"
    #[arg(long, value_name = "PERCENT")]
    require: Option<String>,
    /// Also estimate how rare a failure is, by more trials and by others that lean towards dark weather; done unasked where
    /// fewer than 20 failures were counted in 1,000 trials or more
    #[arg(long, conflicts_with = "trace")]
    rare: bool,
    /// Also look for the charges at which to switch useful and spare loads off
    #[arg(long, conflicts_with = "trace")]
    advise: bool,
    /// Print this trial hour by hour as CSV instead of the answer
    #[arg(long, value_name = "TRIAL", conflicts_with_all = ["json", "html", "figures"])]
    trace: Option<u64>,
    /// Also write the charge by hour, as quantiles over the outages, to a CSV file
    #[arg(long, value_name = "FILE", conflicts_with = "trace")]
    csv: Option<PathBuf>,
    /// Length of a step in minutes, a divisor of 60
    #[arg(long, value_name = "MINUTES", default_value_t = 60, value_parser = parse_step)]
    step: u32,
}

pub fn parse_step(text: &str) -> Result<u32, String> {
    match text.parse() {
        Ok(minutes) if (1..=60).contains(&minutes) && 60 % minutes == 0 => Ok(minutes),
        _ => Err("allowed: 1, 2, 3, 4, 5, 6, 10, 12, 15, 20, 30 or 60".into()),
    }
}

/// A share given on the command line.
pub fn parse_share(option: &'static str, text: &str, least: f64, greatest: f64) -> Result<f64, Failure> {
    Ok(ask::share(option, text, least, greatest)?)
}

/// The precision asked for, if any.
pub fn precision(text: Option<&str>) -> Result<Option<f64>, Failure> {
    text.map(|text| parse_share("precision", text, 0.0001, 0.5)).transpose()
}

/// Refuses a precision where many shares are counted on the same trials, so that no single one can say when to stop.
pub fn no_precision(text: Option<&str>, command: &str) -> Result<(), Failure> {
    match precision(text)? {
        None => Ok(()),
        Some(asked) => Err(Failure::Input(format!(
            "error: --precision cannot be given to {command}, which counts many shares on the same trials; allowed: --trials. \
             {} of them leave {} or less on either side of each",
            thousands((0.25 * (Z_95 / asked) * (Z_95 / asked)).ceil() as u64),
            percent(asked),
        ))),
    }
}

/// Runs the command.
pub fn main(args: &RunArgs) -> Result<Done, Failure> {
    let precision = precision(args.trials.precision.as_deref())?;
    let require = args.require.as_deref().map(|text| parse_share("require", text, 0.0, 1.0)).transpose()?;
    let loaded = input::load(&args.scenario, args.step)?;
    let output = args.output.open()?;
    let csv = args.csv.as_deref().map(PendingFile::open).transpose()?;
    input::tell_remarks(&loaded, args.trials.quiet);

    if let Some(trial) = args.trace {
        output.give_text(&traced(&loaded.plan, TrialSeed { seed: args.trials.seed, trial }))?;
        return Ok(Done::Answered);
    }

    let settings = Settings { seed: args.trials.seed, trials: args.trials.trials, precision };
    ask::within_reach(&loaded, 1, &settings)?;
    let bar = Bar::new(settings.trials, args.trials.quiet);
    let beside = Beside { rare: args.rare, advise: args.advise, alone: false };
    let found = with_threads(args.trials.threads, || ask::outage(&loaded, beside, &settings, &bar))?;
    bar.finish();
    let Some(found) = found else { return Err(Failure::Interrupted) };
    let told = found.told(&loaded);
    output.give_answer(&told, None)?;
    let answer = &found.answer;
    if let Some(file) = csv {
        file.commit(&pictures::charge(&loaded.plan, &answer.tally.fan, 0.0).csv())?;
    }
    if told.partial {
        return Ok(Done::Partial);
    }
    // An outlet that switches off falls short of anything.
    let overloaded = answer.overloads.iter().any(|overload| overload.vital);
    if require.is_some_and(|required| overloaded || answer.survival.interval.low < required) {
        return Ok(Done::Short);
    }
    Ok(Done::Answered)
}

/// Runs work on so many threads.
pub fn with_threads<T: Send>(threads: Option<u16>, work: impl FnOnce() -> T + Send) -> Result<T, Failure> {
    match threads {
        None => Ok(work()),
        Some(threads) => rayon::ThreadPoolBuilder::new()
            .num_threads(usize::from(threads))
            .build()
            .map(|pool| pool.install(work))
            .map_err(|error| Failure::Other(format!("cannot start {threads} threads: {error}"))),
    }
}

fn traced(plan: &tideover::engine::Plan, rng: TrialSeed) -> String {
    let mut workspace = Workspace::new();
    let history = workspace.begin(&plan.season, rng);
    let rig = plan.kit.draw(rng, history.charge_z, &mut Vec::new());
    let weather = workspace.weather();
    let mut trace =
        trace::Trace::new(history.first_day, plan.season.steps_a_day, rig.start_wh, &weather.ghi_w_m2, &weather.air_c);
    workspace.run(plan, rng, &history, &mut trace);
    trace.csv()
}
