//! `tideover now`.

use std::path::PathBuf;

use clap::Args;
use jiff::Timestamp;

use super::output::{Bar, OutputArgs};
use super::run::{no_precision, with_threads};
use super::{Done, Failure, TrialArgs, input};
use tideover::ask::{self, NowOptions, STEP_MINUTES};
use tideover::report::now as report;
use tideover::trials::Settings;

/// Arguments of `now`.
#[derive(Debug, Args)]
pub struct NowArgs {
    /// The scenario file
    #[arg(value_name = "SCENARIO")]
    scenario: Option<PathBuf>,
    /// The charge that the station shows, like 43% or "43 % ± 2 %" (without ± a display is taken to be off by up to 5 %)
    #[arg(long, value_name = "PERCENT")]
    charge: String,
    /// Clock time of the place, like "2027-01-14 20:30", or of today, like 20:30 (default: now, by this machine's clock)
    #[arg(long, value_name = "DATE TIME")]
    at: Option<String>,
    /// The next days' sky in words, "dark,mixed,clear", or in percent from the darkest (0) to the brightest day of the
    /// season: "dark,30%,60-90%"; at most five days (default: as the scenario begins)
    #[arg(long, value_name = "DAY,DAY,…")]
    sky: Option<String>,
    /// By when it is judged: a clock time like 22:00 (the next), a date and clock time, or a length like "2 days" (default:
    /// as long as the scenario's outage lasts)
    #[arg(long, value_name = "WHEN")]
    until: Option<String>,
    /// Go on drawing down to this charge, like 20%, where the battery should keep more; the answer says what it costs
    #[arg(long, value_name = "PERCENT")]
    below_floor: Option<String>,
    /// Fuel left for the generator now, like 4.5 or "4.5 L" (default: as much as the scenario has)
    #[arg(long, value_name = "LITRES")]
    fuel: Option<String>,
    #[command(flatten)]
    trials: TrialArgs,
    #[command(flatten)]
    output: OutputArgs,
}

/// Runs the command.
pub fn main(args: &NowArgs) -> Result<Done, Failure> {
    let options = NowOptions {
        charge: &args.charge,
        at: args.at.as_deref(),
        instant: Some(Timestamp::now()),
        sky: args.sky.as_deref(),
        until: args.until.as_deref(),
        below_floor: args.below_floor.as_deref(),
        fuel: args.fuel.as_deref(),
    };
    options.check()?;
    let Some(scenario) = &args.scenario else {
        return Err(Failure::Input(format!(
            "error: the scenario of your kit is wanted too: tideover now mine.toml --charge {}\n\
             Without one, answer a few questions first: tideover new --ask mine.toml",
            args.charge
        )));
    };
    no_precision(args.trials.precision.as_deref(), "now")?;
    args.output.no_figures("now")?;
    let loaded = input::load(scenario, STEP_MINUTES)?;
    let output = args.output.open()?;
    let settings = Settings { seed: args.trials.seed, trials: args.trials.trials, precision: None };
    ask::within_reach(&loaded, 1, &settings)?;
    let bar = Bar::new(settings.trials, args.trials.quiet);
    let ahead = with_threads(args.trials.threads, || ask::now(&loaded, &options, &settings, &bar))?;
    bar.finish();
    let Some(ahead) = ahead? else { return Err(Failure::Interrupted) };
    output.give_answer(&ahead, Some(report::NARROW))?;
    Ok(if ahead.partial { Done::Partial } else { Done::Answered })
}
